package main

import (
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/metadata"
	"github.com/urfave/cli/v2"
)

func checkCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "check", Usage: "read every input and print what was found; change nothing",
		ArgsUsage: "[OPTIONS] [CRUISE.YAML | FOLDER]",
		Description: `Reads the cruise file and every input that it names, and lists what a person should look at or correct: a line for each finding, with file,
line and column, and under it what to do. A finding of several files is one with their number. Nothing is written, except
inputs.sha256 with --record. Without an argument the cruise
file is cruise.yaml in the working folder, with a folder the one in it.

EXAMPLE
   castwright check testdata/cruise/cruise.yaml`,
		Flags: []cli.Flag{workersFlag(), jsonFlag(u),
			&cli.BoolFlag{Name: "casts",
				Usage: "list the casts as well: station/cast, role, system, pressures and file"},
			&cli.BoolFlag{Name: "record",
				Usage: "write inputs.sha256 beside the cruise file: later checks and builds name any input that changed since"}},
		Action: func(c *cli.Context) error {
			file, err := cruiseFile(c)
			if err != nil {
				return err
			}
			plan, err := commonPlan(c, u, file, "checking")
			if err != nil {
				return err
			}
			plan.Record = c.Bool("record")
			plan.Now = time.Now()
			product, err := pipeline.Check(c.Context, plan)
			if err != nil {
				return err
			}
			rejected := failures(product.Findings)
			if c.Bool("json") {
				v := map[string]any{"cruise": product.Cruise, "casts": product.Casts, "left_out": product.LeftOut,
					"findings": toJSON(product.Findings)}
				if c.Bool("casts") {
					v["list"] = product.List
				}
				if err := u.json(v); err != nil {
					return err
				}
			} else {
				if c.Bool("casts") {
					u.casts(product.List)
				}
				u.findings(product.Findings)
				u.note("%s, %s left out: %s", plural(product.Casts, "cast"), plural(product.LeftOut, "cast"),
					summary(product.Findings))
			}
			if rejected {
				return errRejected
			}
			return nil
		},
	}
}

func failures(fs []metadata.Finding) bool {
	for i := range fs {
		if fs[i].Severity == metadata.Failure {
			return true
		}
	}
	return false
}
