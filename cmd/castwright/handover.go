package main

import (
	"fmt"
	"strings"

	"github.com/castwright/castwright/cmd/internal/handover"
	"github.com/castwright/castwright/metadata"
	"github.com/urfave/cli/v2"
)

func handoverCommand(u *ui) *cli.Command {
	var names []string
	for _, r := range handover.Recipients() {
		names = append(names, string(r))
	}
	return &cli.Command{
		Name: "handover", Usage: "lay out the files that one recipient asks for, and say what is missing",
		ArgsUsage: "[OPTIONS] ARCHIVE " + strings.Join(names, "|"),
		Description: `Makes the folder CRUISE_RECIPIENT with exactly the files that the recipient asks for, a README and a list of checksums:
data-centre        exchange files of casts and bottles, statement (do.txt), station summary (su.txt), submission sheet
repository         the archive itself, DataCite JSON, README, licence
national-archive   NetCDF and exchange files, list of casts, statement, submission sheet, history, flag edits
Only the set for a repository holds what is computed from the casts, such as mapped sections and differences from a reference; the README
of the others says what they leave out.
What the recipient asks for and the archive does not say is listed with the key of the cruise file that says it. An incomplete set is
made only with --incomplete, and its README says so.

EXAMPLE
   castwright handover --incomplete --out sets demo/saltmarten-2026-05 data-centre`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: ".",
				Usage: "make the set in `FOLDER`, which is made when it is not there"},
			&cli.BoolFlag{Name: "incomplete", Usage: "make the set although something is missing"},
			jsonFlag(u)},
		Action: func(c *cli.Context) error {
			args, err := arguments(c, 2, "an archive and a recipient: "+strings.Join(names, ", "))
			if err != nil {
				return err
			}
			to, ok := recipient(args[1], names)
			if !ok {
				hint := "recipients are " + strings.Join(names, ", ")
				if near, ok := metadata.Nearest(args[1], names); ok {
					hint = "did you mean " + near
				}
				return &usageError{msg: fmt.Sprintf("%q is no recipient", args[1]), hint: hint}
			}
			r, err := handover.Run(c.Context, handover.Plan{Archive: args[0], To: to, Out: c.String("out"),
				Incomplete: c.Bool("incomplete")})
			if err != nil {
				return err
			}
			return reportHandover(c, u, r)
		},
	}
}

func recipient(word string, names []string) (handover.Recipient, bool) {
	for _, n := range names {
		if n == word {
			return handover.Recipient(n), true
		}
	}
	return "", false
}

func reportHandover(c *cli.Context, u *ui, r *handover.Result) error {
	if c.Bool("json") {
		if err := u.json(r); err != nil {
			return err
		}
	} else {
		for _, m := range r.Missing {
			fmt.Fprintf(u.out, "missing  %s: %s\n           write %s\n", m.Key, m.What, m.Example)
		}
		switch {
		case r.Path == "":
			u.note("nothing was made for %s: %s missing", r.Recipient, plural(len(r.Missing), "item"))
			u.advise("write these keys in the cruise file and build again, or make the set without them: --incomplete")
		case len(r.Missing) > 0:
			u.note("made %s: %s, incomplete: %s missing", shortPath(r.Path), plural(len(r.Files), "file"),
				plural(len(r.Missing), "item"))
		default:
			u.note("made %s: %s, complete", shortPath(r.Path), plural(len(r.Files), "file"))
		}
	}
	if r.Path == "" {
		return errRejected
	}
	return nil
}
