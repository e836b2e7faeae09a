package main

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/cmd/internal/bundle"
	"github.com/urfave/cli/v2"
)

func bundleCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "bundle", Usage: "pack a small parcel of an archive to send over a slow link",
		ArgsUsage: "[OPTIONS] ARCHIVE",
		Description: `Packs a parcel to look at: a page that opens without a network, with documents, tables and figures. To fit into --max, figures are
made narrower, then figures and tables are left out, then the page of the archive is replaced by a plain one; the page in the parcel
lists what was left out. With --since OLD it packs the inputs that changed since the archive OLD instead: a receiver with OLD and
this program makes the new archive from them with unbundle, with the same bytes. With --since OLD --look, for a receiver without
this program, it packs the page, the documents, tables and figures that changed, and a list of the changes. --part divides the
parcel into files, each with its checksum; the same archive gives the same parts, so that a lost part can be packed and sent again.
Data under an embargo are packed only with --to, which names the receiver.

EXAMPLE
   castwright bundle --max 2MB --out parcel demo/saltmarten-2026-05`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "max", Usage: "greatest size of a parcel to look at, such as `2MB`",
				DefaultText: "no limit"},
			&cli.StringFlag{Name: "part", Usage: "greatest size of a part, such as `500kB`", DefaultText: "one part"},
			&cli.StringFlag{Name: "since", Usage: "pack the changes since the archive `OLD`"},
			&cli.BoolFlag{Name: "look", Usage: "with --since: make a page of the changes"},
			&cli.StringFlag{Name: "to", Usage: "name of the receiver, `WHO`, printed in the parcel"},
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: ".",
				Usage: "write the parts into `FOLDER`, which is made if it does not exist"},
			jsonFlag(u)},
		Action: func(c *cli.Context) error {
			args, err := arguments(c, 1, "one archive")
			if err != nil {
				return err
			}
			plan := bundle.Plan{Archive: args[0], Since: c.String("since"), Look: c.Bool("look"),
				Out: c.String("out"), To: c.String("to"), Now: time.Now()}
			if plan.Max, err = byteCount(c, "max"); err != nil {
				return err
			}
			if plan.Part, err = byteCount(c, "part"); err != nil {
				return err
			}
			if plan.Look && plan.Since == "" {
				return &usageError{msg: "--look says what a parcel of changes since an archive is for",
					hint: "add --since OLD, or leave out --look: without --since every parcel is one to look at"}
			}
			if plan.Since != "" && plan.Max > 0 && !plan.Look {
				return &usageError{msg: "--max is for a parcel to look at; one of changes is as large as the changes",
					hint: "add --look, or leave out --max or --since"}
			}
			r, err := bundle.Run(c.Context, plan)
			if err != nil {
				return err
			}
			if c.Bool("json") {
				return u.json(r)
			}
			for _, p := range r.Parts {
				fmt.Fprintln(u.lines(), shortPath(p))
			}
			for _, x := range r.LeftOut {
				if x.Width > 0 {
					u.note("%s: %s", x.File, x.Why)
				}
			}
			u.note("packed a parcel of kind %s, %d bytes in %s; %s left out or made smaller", r.Kind, r.Bytes,
				plural(len(r.Parts), "part"), plural(len(r.LeftOut), "file"))
			return nil
		},
	}
}

func unbundleCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "unbundle", Usage: "open a parcel that bundle packed",
		ArgsUsage: "[OPTIONS] PART...",
		Description: `Joins the parts, named in any order, and lists those that are missing or damaged. A parcel to look at becomes a folder with
index.html. A parcel of changes needs --base: the new archive is built from it and the base, and compared with that of the sender.

EXAMPLE
   castwright unbundle --out seen parcel/*.parcel`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "base", Usage: "the `ARCHIVE` that --since named when the parcel was packed"},
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: ".",
				Usage: "make the folder or archive in `FOLDER`"},
			workersFlag(), jsonFlag(u)},
		Action: func(c *cli.Context) error {
			if c.NArg() == 0 {
				return &usageError{msg: "unbundle takes the parts of a parcel; got none",
					hint: "castwright help unbundle shows an example"}
			}
			o, err := bundle.Open(c.Context, bundle.OpenPlan{Program: thisProgram(), Parts: c.Args().Slice(),
				Base: c.String("base"), Out: c.String("out"), Workers: c.Int("workers"),
				Progress: u.progress("building"), File: u.file()})
			if err != nil {
				return err
			}
			switch {
			case c.Bool("json"):
				err = u.json(o)
			case o.Label.Kind == bundle.Look:
				u.note("made %s: open index.html in it", shortPath(o.Path))
			case o.Same:
				u.note("made %s: the same bytes as the sender's", shortPath(o.Path))
			default:
				u.say("", "made %s: its bytes differ from those of the sender's archive", shortPath(o.Path))
				u.advise("the sender used " + o.Label.Program + ", this is " + thisProgram() + ": use the same version")
			}
			if err == nil && !o.Same {
				err = errDifference
			}
			return err
		},
	}
}

// byteCount returns a number of bytes with a unit: 500kB, 2MB, 1.5 GB, or bytes alone. A unit is a power of 1000.
func byteCount(c *cli.Context, name string) (int64, error) {
	text := strings.TrimSpace(c.String(name))
	if text == "" {
		return 0, nil
	}
	digits := strings.TrimRight(text, "kMGBb ")
	units := map[string]float64{"": 1, "B": 1, "kB": 1e3, "MB": 1e6, "GB": 1e9}
	factor, ok := units[strings.TrimSpace(text[len(digits):])]
	v, err := strconv.ParseFloat(digits, 64)
	if err != nil || !ok || !(v*factor >= 1 && v*factor < 1e15) {
		return 0, &usageError{msg: fmt.Sprintf("--%s is %q", name, text),
			hint: "write a number of bytes such as 500kB or 2MB"}
	}
	return int64(v * factor), nil
}
