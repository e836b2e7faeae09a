package main

import (
	"github.com/castwright/castwright/cmd/internal/compare"
	"github.com/castwright/castwright/export/figure"
	"github.com/urfave/cli/v2"
)

func compareCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "compare", Usage: "list the differences between two archives",
		ArgsUsage: "[OPTIONS] OLD NEW",
		Description: `Lists casts that were added, removed or renumbered, positions, flags, values of every variable and product (how many differ, the
largest difference and where, the root mean square), metadata, processing steps and their settings, inputs and files. Values are
compared at the same cast, station pair or grid node; a cast is recognised by its file and checksum, else by its name, else by time
and position. Nothing is rounded before it is compared. Both archives must be complete and unchanged.

With --line NAME it compares two occupations of one section, the newer minus the older by the dates of their casts. It prints the change
of temperature, salinity and each other variable that was mapped and that both have, such as oxygen, at constant pressure and its parts
on surfaces of density and by heave of these surfaces (Bindoff and McDougall 1994), each with its standard error where that is known, as
CSV. --other NAME is for a section with another name in NEW. --out DIR writes the new
folder NAME_change in DIR: the same as CF NetCDF, as figures with captions and as CSV. An existing folder is not replaced.

EXAMPLE
   castwright compare demo/saltmarten-2026-05 again/saltmarten-2026-05
   castwright compare --line strait earlier/saltmarten-2016-05 demo/saltmarten-2026-05 > change.csv`,
		Flags: []cli.Flag{&cli.StringFlag{Name: "line", Usage: "compare two occupations of the section `NAME`"},
			&cli.StringFlag{Name: "other", Usage: "`NAME` of that section in NEW", DefaultText: "the same"},
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, DefaultText: "CSV to the terminal",
				Usage: "with --line: write NetCDF, figure and CSV in `DIR`"},
			jsonFlag(u)},
		Action: func(c *cli.Context) error {
			args, err := arguments(c, 2, "two archives")
			if err != nil {
				return err
			}
			if c.IsSet("line") {
				return compareLine(c, u, args)
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
				if err = r.Write(u.lines()); err == nil {
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

func compareLine(c *cli.Context, u *ui, args []string) error {
	l, err := compare.CompareLine(c.Context, compare.LinePlan{Old: args[0], New: args[1], Section: c.String("line"),
		NewSection: c.String("other")})
	if err != nil {
		return err
	}
	switch {
	case c.IsSet("out"):
		var path string
		var refused []figure.Refusal
		if path, refused, err = l.Save(c.Context, c.String("out"), thisProgram()); err == nil {
			u.note("wrote %s", path)
		}
		for _, r := range refused {
			u.note("figure %s is not drawn: %v", r.Stem, r.Err)
		}
	case c.Bool("json"):
		err = u.json(l.Rows())
	default:
		err = l.Write(u.out)
	}
	if err != nil {
		return err
	}
	u.note("section %s: %s compared, %s less %s", l.Section, plural(len(l.Changed.Places), "station"), l.New, l.Old)
	for _, text := range l.Cautions() {
		u.note("caution: %s", text)
	}
	return nil
}
