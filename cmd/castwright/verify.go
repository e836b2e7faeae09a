package main

import (
	"fmt"

	"github.com/castwright/castwright/export/bag"
	"github.com/urfave/cli/v2"
)

func verifyCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "verify", Usage: "check an archive: complete and unchanged", ArgsUsage: "[OPTIONS] ARCHIVE",
		Description: `Reads every byte of the archive and reports every fault, not the first.

EXAMPLE
   castwright verify demo/saltmarten-2026-05`,
		Flags: []cli.Flag{jsonFlag()},
		Action: func(c *cli.Context) error {
			args, err := arguments(c, 1, "one archive")
			if err != nil {
				return err
			}
			r, err := bag.Check(c.Context, args[0])
			if err != nil {
				return err
			}
			for _, f := range r.Faults {
				fmt.Fprintln(u.out, f)
			}
			if len(r.Faults) > 0 {
				u.note("%s: %s", args[0], plural(len(r.Faults), "fault"))
				return errDifference
			}
			u.note("%s: complete and unchanged", args[0])
			return nil
		},
	}
}
