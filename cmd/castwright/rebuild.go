package main

import (
	"fmt"

	"github.com/castwright/castwright/cmd/internal/rebuild"
	"github.com/urfave/cli/v2"
)

func rebuildCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "rebuild", Usage: "make an archive again from its own inputs, and compare the two",
		ArgsUsage: "[OPTIONS] --out FOLDER ARCHIVE",
		Description: `Takes the inputs out of the archive, builds it again in another folder and compares the two file by file: the same program gives the same
bytes. If an input has changed since the archive was made, it is named and nothing is made.

EXAMPLE
   castwright rebuild --out again demo/saltmarten-2026-05`,
		Flags: []cli.Flag{&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: ".",
			Usage: "make the new archive in `FOLDER`"},
			workersFlag(), jsonFlag(u)},
		Action: func(c *cli.Context) error {
			args, err := arguments(c, 1, "one archive")
			if err != nil {
				return err
			}
			res, err := rebuild.Run(c.Context, rebuild.Plan{Program: thisProgram(), Archive: args[0],
				Out: c.String("out"), Workers: c.Int("workers"), Progress: u.progress("building"),
				File: u.file(), Stage: u.stage()})
			if err != nil {
				return err
			}
			if res.Product.Path == "" {
				return reportBuild(c, u, res.Product, &stageTimes{})
			}
			if c.Bool("json") {
				err := u.json(map[string]any{"archive": res.Product.Path, "same": len(res.Differences) == 0,
					"differences": res.Differences,
					"made_by":     res.Made, "rebuilt_by": thisProgram()})
				if err != nil {
					return err
				}
			} else {
				for _, d := range res.Differences {
					fmt.Fprintln(u.out, d)
				}
				if len(res.Differences) == 0 {
					u.note("made %s: the same bytes as %s", shortPath(res.Product.Path), args[0])
				} else {
					u.note("made %s: %s", shortPath(res.Product.Path), plural(len(res.Differences), "difference"))
					if res.Made != thisProgram() {
						u.advise("the archive was made by " + res.Made + ", this is " + thisProgram())
					}
				}
			}
			if len(res.Differences) > 0 {
				return errDifference
			}
			return nil
		},
	}
}
