package main

import (
	"fmt"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/metadata"
	"github.com/urfave/cli/v2"
)

func buildCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "build", Usage: "make the archive of a cruise",
		ArgsUsage: "[OPTIONS] [CRUISE.YAML | FOLDER]",
		Description: `Makes the folder named after the cruise: a BagIt bag with CF NetCDF, exchange files, sections, dynamic height, geostrophic velocity and
transport, gridded sections, tables, provenance and the inputs. The same inputs, settings and program give the same bytes,
on every machine. An existing archive of this name that castwright made, and that nobody changed, is replaced in one step at the very end; any other
folder of this name is left as it is and nothing is made. A failed or interrupted build leaves everything as it was. The argument is a cruise
file, or a folder with a cruise.yaml; without one, cruise.yaml in the working folder is read.

EXAMPLE
   castwright build --out demo testdata/cruise/cruise.yaml`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "out", Aliases: []string{"o"}, Value: ".",
				Usage: "make the archive in `FOLDER`, which is made if it does not exist"},
			workersFlag(), jsonFlag(u),
			&cli.StringFlag{Name: "only",
				Usage: "make only the files and figures of the section or time series `NAME`, in the folder ID-only-NAME, which is not an archive"},
			&cli.BoolFlag{Name: "timing", Usage: "print the wall time of each stage"}},
		Action: func(c *cli.Context) error {
			file, err := cruiseFile(c)
			if err != nil {
				return err
			}
			plan, err := commonPlan(c, u, file, "building")
			if err != nil {
				return err
			}
			plan.Out, plan.Only = c.String("out"), c.String("only")
			var times stageTimes
			if c.Bool("timing") {
				told := plan.Stage
				plan.Stage = func(name string, took time.Duration) {
					times.add(name, took)
					if told != nil {
						told(name, took)
					}
				}
			}
			product, err := pipeline.Build(c.Context, plan)
			if err != nil {
				return err
			}
			return reportBuild(c, u, product, &times)
		},
	}
}

// reportBuild prints what a build or rebuild made, or why it made nothing.
func reportBuild(c *cli.Context, u *ui, product pipeline.Product, times *stageTimes) error {
	rejected := failures(product.Findings)
	if c.Bool("json") {
		v := map[string]any{"cruise": product.Cruise, "archive": product.Path, "casts": product.Casts,
			"left_out": product.LeftOut,
			"files":    product.Files, "bytes": product.Bytes, "sections": product.Sections,
			"findings": toJSON(product.Findings)}
		if len(times.names) > 0 {
			v["seconds"] = times.seconds()
		}
		if err := u.json(v); err != nil {
			return err
		}
	} else {
		var shown []metadata.Finding
		for _, f := range product.Findings {
			if f.Severity == metadata.Failure || !rejected && f.Severity == metadata.Warning {
				shown = append(shown, f)
			}
		}
		u.findings(shown)
		for _, s := range product.Sections {
			fmt.Fprintf(u.lines(), "section  %s: %d stations over %.1f km, %s", s.Name, s.Stations, s.LengthKm,
				plural(s.Pairs, "pair"))
			if s.Withheld > 0 {
				fmt.Fprintf(u.lines(), " (%d withheld)", s.Withheld)
			}
			fmt.Fprintf(u.lines(), "; %s\n", orNone(s.Total))
		}
		for i, n := range times.names {
			fmt.Fprintf(u.lines(), "time     %-24s %8.3f s\n", n, times.wall[i].Seconds())
		}
		if !rejected {
			u.note("made %s: %s, %s left out, %s, %.1f MB; %s", shortPath(product.Path), plural(product.Casts, "cast"),
				plural(product.LeftOut, "cast"), plural(product.Files, "file"), float64(product.Bytes)/1e6,
				summary(product.Findings))
		} else {
			u.note("nothing was made: %s", summary(product.Findings))
		}
	}
	if rejected {
		return errRejected
	}
	return nil
}

func orNone(total string) string {
	if total == "" {
		return "no velocity"
	}
	return total
}
