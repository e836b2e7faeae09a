package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/metadata"
	"github.com/urfave/cli/v2"
)

func checkCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "check", Usage: "read every input and print what was found; change nothing",
		ArgsUsage: "[OPTIONS] [CRUISE.YAML | FOLDER]",
		Description: `Reads the cruise file and every input that it names, runs every check (castwright help checks), and prints the
findings for a person to look at, errors first: one line for each finding, with file, line and column, and below it
what to do. A finding that occurs in several places is printed once with their number. When there are more than 40
lines for each hundred casts, only one line is printed for each check; --all prints every finding. Nothing is
written, except inputs.sha256 with --record and FILE with --propose. The argument is a cruise file, or a folder with
a cruise.yaml; without one, cruise.yaml in the working folder is read.

EXAMPLE
   castwright check testdata/cruise/cruise.yaml
   castwright check --id spike.bin --csv testdata/cruise/cruise.yaml`,
		Flags: []cli.Flag{workersFlag(), jsonFlag(u),
			&cli.BoolFlag{Name: "csv",
				Usage: "print the findings as CSV, like tables/findings.csv of an archive"},
			&cli.StringFlag{Name: "cast", Usage: "only findings of cast `STATION/CAST`, or of all casts of a station"},
			&cli.StringFlag{Name: "id",
				Usage: "only findings of check `ID`, or of all whose names begin with ID and a dot"},
			&cli.BoolFlag{Name: "all", Usage: "print every finding, however many there are"},
			&cli.StringFlag{Name: "propose",
				Usage: "write open proposals to `FILE` as flag edits, for a person to add initials and reason"},
			&cli.BoolFlag{Name: "casts",
				Usage: "also list the casts: station/cast, role, system, pressures and file"},
			&cli.BoolFlag{Name: "record",
				Usage: "write inputs.sha256 beside the cruise file: later checks and builds name each input that " +
					"has changed since"}},
		Action: func(c *cli.Context) error { return check(c, u) },
	}
}

func check(c *cli.Context, u *ui) error {
	file, err := cruiseFile(c)
	if err != nil {
		return err
	}
	plan, err := commonPlan(c, u, file, "checking")
	if err != nil {
		return err
	}
	if c.Bool("csv") && c.Bool("json") {
		return &usageError{msg: "--csv and --json are both given", hint: "give one of them"}
	}
	plan.Record = c.Bool("record")
	plan.Now = time.Now()
	product, err := pipeline.Check(c.Context, plan)
	if err != nil {
		return err
	}
	shown := product.Findings
	if cast, id := c.String("cast"), c.String("id"); cast != "" || id != "" {
		shown = metadata.JoinFindings(only(product, cast, id))
	}
	if err := u.checked(c, &product, shown); err != nil {
		return err
	}
	if name := c.String("propose"); name != "" {
		if err := u.propose(c.Context, name, &product.Open); err != nil {
			return err
		}
	}
	if failures(product.Findings) {
		return errRejected
	}
	return nil
}

// only returns the findings of a cast and of a check; "" is all.
func only(p pipeline.Product, cast, id string) []metadata.Finding {
	ids := map[string]bool{}
	for _, k := range p.List {
		for _, name := range []string{k.Station, k.Station + "/" + k.Number} {
			if cast == name || cast == k.Expocode+":"+name {
				ids[k.ID] = true
			}
		}
		ids[k.ID] = ids[k.ID] || cast == k.ID
	}
	return slices.DeleteFunc(slices.Clone(p.Found), func(f metadata.Finding) bool {
		return cast != "" && !ids[f.Cast] || id != "" && f.Check != id && !strings.HasPrefix(f.Check, id+".")
	})
}

// checked prints what check found.
func (u *ui) checked(c *cli.Context, product *pipeline.Product, shown []metadata.Finding) error {
	switch {
	case c.Bool("csv"):
		return export.WriteFindings(u.out, shown)
	case c.Bool("json"):
		v := map[string]any{"cruise": product.Cruise, "casts": product.Casts, "left_out": product.LeftOut,
			"findings": toJSON(shown), "ledger": ledgerJSON(product.Ledger)}
		if c.Bool("casts") {
			v["list"] = product.List
		}
		return u.json(v)
	}
	if c.Bool("casts") {
		u.casts(product.List)
	}
	if c.Bool("all") || c.IsSet("cast") || c.IsSet("id") {
		u.findings(shown)
	} else {
		u.screen(shown, product.Casts+product.LeftOut)
	}
	if agrees := !slices.ContainsFunc(product.Ledger, pipeline.NotSimplyKept); !agrees {
		u.note("ledger: %s", oneLine(pipeline.LedgerText(product.Ledger)))
	}
	u.note("%s, %s left out: %s", plural(product.Casts, "cast"), plural(product.LeftOut, "cast"),
		summary(product.Findings))
	return nil
}

// propose writes the open proposals to a new file, and prints the entries that accept the other open findings.
func (u *ui) propose(ctx context.Context, name string, p *pipeline.Proposals) error {
	if _, err := os.Lstat(name); err == nil {
		return &metadata.InputError{Position: metadata.Position{File: name},
			Err:    errors.New("the file is there already; it is not replaced"),
			Remedy: "give the name of a new file, or move this one away"}
	}
	if err := place.WriteFile(ctx, name, p.Write); err != nil {
		return err
	}
	u.note("%s written to %s: add initials and a reason to those that you accept, and name the file under casts: "+
		"edits", plural(len(p.Edits), "proposal"), name)
	if p.Skipped > 0 {
		u.note("%s left out, whose pressures occur twice in a cast: take the lines out of the cast, or let the "+
			"check set the flags with quality: apply",
			plural(p.Skipped, "proposal"))
	}
	if len(p.Accept) > 0 && !u.quiet {
		fmt.Fprintln(u.err, "  hint: other findings are accepted with initials and reason in the cruise file:\n  "+
			"      quality:\n          accept:")
		for _, text := range p.Accept {
			fmt.Fprintln(u.err, "            - "+strings.TrimSuffix(oneLine(text), "}")+`, initials: "", reason: ""}`)
		}
	}
	return nil
}

// ledgerJSON returns the rows of the ledger that are not simply kept, for --json.
func ledgerJSON(rows []export.LedgerRow) []map[string]any {
	out := []map[string]any{}
	for _, r := range rows {
		if !pipeline.NotSimplyKept(r) {
			continue
		}
		m := map[string]any{"state": r.State.String()}
		for key, text := range map[string]string{"expocode": r.Expocode, "station": r.Station, "cast": r.Cast,
			"file": r.File, "section": r.Section, "why": r.Why} {
			if text != "" {
				m[key] = text
			}
		}
		if r.HasLog {
			m["in_log"] = r.Log.Line > 0
		}
		if r.Log.Line > 0 {
			m["log_line"] = r.Log.Line
		}
		out = append(out, m)
	}
	return out
}

func failures(fs []metadata.Finding) bool {
	for i := range fs {
		if fs[i].Severity == metadata.Failure {
			return true
		}
	}
	return false
}
