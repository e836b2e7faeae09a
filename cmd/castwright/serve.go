package main

import (
	"github.com/castwright/castwright/cmd/internal/serve"
	"github.com/urfave/cli/v2"
)

func serveCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "serve", Usage: "show an archive, or a cruise while its casts arrive, to browsers on this machine",
		ArgsUsage: "[OPTIONS] ARCHIVE | CRUISE.YAML",
		Description: `Prints an address and shows the page of the archive and its files there, until it is interrupted. Only browsers on this machine can
read them: an address that other machines can reach is refused, and so are requests that name another host. Nothing is written and
nothing outside the archive is shown.

With a cruise file it builds the cruise in a folder for temporary files (TMPDIR), and builds it again when an input changes. Sections
whose inputs did not change are not mapped and drawn again. The findings are at findings.html as soon as the inputs are read, and are
updated there. A planned station without a cast is not an error here, and a file that cannot be read, such as one that is still being
written, is left out and named; castwright check prints what castwright build would report. While the cruise cannot be built, the last
archive is shown. The page says when there is a newer one, and keeps unsaved decisions. Nothing is written to the folder of the cruise.

The page of an archive does not need a server: it can also be opened from a disk or a memory stick.

EXAMPLE
   castwright serve demo/saltmarten-2026-05
   castwright serve --address 127.0.0.1:8080 testdata/cruise/cruise.yaml`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "address", DefaultText: "a free port of 127.0.0.1",
				Usage: "listen on `HOST:PORT`, a loopback address"},
			workersFlag()},
		Action: func(c *cli.Context) error {
			args, err := arguments(c, 1, "one archive or cruise file")
			if err != nil {
				return err
			}
			plan, err := commonPlan(c, u, args[0], "")
			if err != nil {
				return err
			}
			return serve.Run(c.Context, serve.Plan{Path: args[0], Address: c.String("address"), Build: plan,
				Ready: func(url string) { u.note("showing %s at %s; interrupt to end", args[0], url) },
				Note:  func(text string) { u.note("%s", text) }})
		},
	}
}
