package main

import (
	"github.com/castwright/castwright/cmd/internal/compare"
	"github.com/urfave/cli/v2"
)

func compareCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "compare", Usage: "list what differs between two archives",
		ArgsUsage: "[OPTIONS] OLD NEW",
		Description: `Lists casts that were added, removed or renumbered, positions, flags, values of every variable and product (how many differ, the
largest difference and where, the root mean square), metadata, processing steps and their settings, inputs and files. Values are
compared at the same cast, station pair or grid node; a cast is recognised by its file and checksum, else by its name, else by time
and position. Nothing is rounded before it is compared. Both archives must be complete and unchanged.

EXAMPLE
   castwright compare demo/saltmarten-2026-05 again/saltmarten-2026-05`,
		Flags: []cli.Flag{jsonFlag(u)},
		Action: func(c *cli.Context) error {
			args, err := arguments(c, 2, "two archives")
			if err != nil {
				return err
			}
			r, err := compare.Run(c.Context, compare.Plan{Old: args[0], New: args[1]})
			if err != nil {
				return err
			}
			switch {
			case c.Bool("json"):
				err = u.json(r)
			case r.Same:
				u.note("%s and %s hold the same %s", args[0], args[1], plural(r.New.Casts, "cast")+" and files")
			default:
				if err = r.Write(u.out); err == nil {
					u.note("%s differ", plural(len(r.Files), "file"))
				}
			}
			if err == nil && !r.Same {
				err = errDifference
			}
			return err
		},
	}
}
