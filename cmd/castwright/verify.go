package main

import (
	"math/rand/v2"
	"os"

	"github.com/castwright/castwright/cmd/internal/verify"
	"github.com/urfave/cli/v2"
)

func verifyCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name:      "verify",
		Usage:     "check an archive against its own inputs, or one NetCDF or exchange file against its standard",
		ArgsUsage: "[OPTIONS] ARCHIVE | FILE",
		Description: `For an archive it checks that the bag is complete and unchanged, that every NetCDF file follows the numbered rules of
CF and every exchange file those of the exchange format, and that values, attributes, tables, captions and documents
are the same when they are made again from the inputs in the archive. Grids are mapped again at some columns, chosen
at random (--seed repeats a choice); pictures and the page are not made again. --all makes all of them again. An
archive without inputs, or made by another version, is checked against numbers computed from its own values. Every
fault is reported with file, variable and rule (cf.21, exchange.1.8, bag.changed, rebuild).

For a single file (.nc, _ct1.csv, _ct1.zip, _hy1.csv), whoever wrote it, violated requirements are errors; violated
recommendations, and faults in spite of which a file can be read, are warnings. The rules of this program apply to files with the
global attributes release_status and expocode, which all its files have.

NetCDF files are read in a child process with limits on time and memory.

EXAMPLE
   castwright verify demo/saltmarten-2026-05
   castwright verify --all demo/saltmarten-2026-05
   castwright verify testdata/example_ct1.csv`,
		Flags: []cli.Flag{
			&cli.BoolFlag{Name: "all", Usage: "map every column of the grids again and redraw every picture"},
			&cli.Uint64Flag{Name: "seed",
				Usage:       "map the same columns of the grids again as an earlier run, which printed its seed",
				DefaultText: "random"},
			&cli.BoolFlag{Name: "checksums", Usage: "check only the checksums; read no file otherwise"},
			workersFlag(), jsonFlag(u)},
		Action: func(c *cli.Context) error {
			args, err := arguments(c, 1, "one archive or file")
			if err != nil {
				return err
			}
			if c.Bool("all") && c.Bool("checksums") {
				return &usageError{msg: "--all and --checksums exclude each other", hint: "leave one out"}
			}
			plan := verify.Plan{Program: thisProgram(), Path: args[0], All: c.Bool("all"),
				Checksums: c.Bool("checksums"), Workers: c.Int("workers"), Progress: u.progress("verifying"),
				File: u.file(), Seed: c.Uint64("seed")}
			if !c.IsSet("seed") {
				plan.Seed = rand.Uint64N(1_000_000)
			}
			do := verify.File
			if info, err := os.Stat(args[0]); err == nil && info.IsDir() {
				do = verify.Archive
			}
			r, err := do(c.Context, plan)
			if err != nil {
				return err
			}
			return reportVerify(c, u, r)
		},
	}
}

// reportVerify prints what was found and gives errDifference when there are faults.
func reportVerify(c *cli.Context, u *ui, r *verify.Report) error {
	faults := r.Faults()
	if c.Bool("json") {
		if err := u.json(map[string]any{"path": r.Path, "kind": r.Kind, "files": r.Files, "faults": faults,
			"computed_again": r.Again,
			"findings":       toJSON(r.Findings)}); err != nil {
			return err
		}
	} else {
		u.findings(r.Findings)
		words := summary(r.Findings)
		switch {
		case r.Kind != "archive":
			u.note("%s: %s; %s", r.Path, r.Kind, words)
		case c.Bool("checksums") && faults == 0:
			u.note("%s: complete and unchanged (%s); nothing else was looked at", r.Path, plural(r.Files, "file"))
		case faults == 0:
			u.note("%s: complete, unchanged and without a fault (%s); computed again: %s", r.Path,
				plural(r.Files, "file"), r.Again)
		default:
			u.note("%s: %s in %s", r.Path, words, plural(r.Files, "file"))
			if !c.Bool("checksums") {
				u.note("computed again: %s", orNothing(r.Again))
			}
		}
	}
	if faults > 0 {
		return errDifference
	}
	return nil
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}
