package main

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/urfave/cli/v2"
)

// version is set by the linker when the Makefile builds.
var version = "0.1.0"

// thisProgram returns this program and its version as archives name it.
func thisProgram() string { return "castwright " + version }

func commands(u *ui) []*cli.Command {
	return []*cli.Command{draftCommand(u), checkCommand(u), buildCommand(u), verifyCommand(u), rebuildCommand(u),
		compareCommand(u), handoverCommand(u), traceCommand(u), bundleCommand(u), unbundleCommand(u),
		serveCommand(u), completionCommand(u), manCommand(u), versionCommand(u), helpCommand(u)}
}

func versionCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name: "version", Usage: "print the version", ArgsUsage: " ", Description: "EXAMPLE\n   castwright version",
		Action: func(c *cli.Context) error {
			if _, err := arguments(c, 0, "no argument"); err != nil {
				return err
			}
			u.version()
			return nil
		},
	}
}

func (u *ui) version() {
	fmt.Fprintf(u.out, "%s (%s, %s/%s)\n", thisProgram(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
}

func helpCommand(u *ui) *cli.Command {
	return &cli.Command{
		Name:        "help",
		Usage:       "list the commands, or explain one, the cruise file or one of its keys, or list the checks",
		ArgsUsage:   "[COMMAND | cruise-file | KEY | checks]",
		Description: "EXAMPLE\n   castwright help cruise-file | less\n   castwright help station_table",
		Action: func(c *cli.Context) error {
			switch {
			case c.NArg() == 0:
				return cli.ShowAppHelp(c)
			case c.Args().First() == "cruise-file":
				fmt.Fprint(u.out, cruisefile.Documentation())
				return nil
			case c.Args().First() == "checks":
				fmt.Fprint(u.out, pipeline.HelpOnChecks())
				return nil
			case c.App.Command(c.Args().First()) == nil:
				text, keys := cruisefile.Explain(c.Args().First())
				if text == "" {
					return unknownWord(c, keys)
				}
				fmt.Fprint(u.out, text)
				return nil
			}
			return cli.ShowCommandHelp(c, c.Args().First())
		},
	}
}

// commonPlan fills what check and build share.
func commonPlan(c *cli.Context, u *ui, file, what string) (pipeline.Plan, error) {
	epoch, err := pipeline.EpochFromEnvironment(os.Getenv("SOURCE_DATE_EPOCH"))
	if err != nil {
		return pipeline.Plan{},
			&usageError{msg: err.Error(), hint: "unset SOURCE_DATE_EPOCH, or set it to seconds since 1970"}
	}
	return pipeline.Plan{Program: thisProgram(), CruiseFile: file, Workers: c.Int("workers"), Epoch: epoch,
		Progress: u.progress(what), File: u.file(), Stage: u.stage()}, nil
}

func workersFlag() cli.Flag {
	return &cli.IntFlag{Name: "workers",
		Usage: "work on `N` casts at once; 0: one for each processor; the result is the same",
		Action: func(_ *cli.Context, n int) error {
			if n < 0 {
				return &usageError{msg: fmt.Sprintf("--workers is %d", n),
					hint: "give 0 (one for each processor) or more"}
			}
			return nil
		}}
}

// jsonFlag has errors printed as JSON too.
func jsonFlag(u *ui) cli.Flag {
	return &cli.BoolFlag{Name: "json", Usage: "print JSON instead of lines",
		Action: func(_ *cli.Context, on bool) error {
			u.asJSON = on
			return nil
		}}
}

// stageTimes collects wall times of stages for --timing.
type stageTimes struct {
	names []string
	wall  []time.Duration
}

func (s *stageTimes) add(name string, d time.Duration) {
	s.names = append(s.names, name)
	s.wall = append(s.wall, d)
}

func (s *stageTimes) seconds() map[string]float64 {
	m := map[string]float64{}
	for i, n := range s.names {
		m[n] += s.wall[i].Seconds()
	}
	return m
}

// shortPath returns a path relative to the working folder when that is shorter to read.
func shortPath(p string) string {
	wd, err := os.Getwd()
	if err != nil {
		return p
	}
	if r, err := filepath.Rel(wd, p); err == nil && len(r) < len(p) {
		return r
	}
	return p
}
