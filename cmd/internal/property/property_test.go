// Package property holds a test of what any cruise may look like: generated cruises are built, verified, and made
// again. It has no code of its own.
package property

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/cmd/internal/rebuild"
	"github.com/castwright/castwright/cmd/internal/verify"
	"github.com/castwright/castwright/metadata"
)

var (
	count = flag.Int("cruises", 30, "how many generated cruises TestGeneratedCruises tries")
	first = flag.Uint64("seed", 1, "seed of the first of them")
	keep  = flag.String("keep", "", "folder in which the files of cruises with a fault are left")
)

// The test binary is its own child: NetCDF is read in a process of its own.
func TestMain(m *testing.M) {
	if code, is := verify.ServeChild(os.Args, os.Stdin, os.Stdout); is {
		os.Exit(code)
	}
	os.Exit(m.Run())
}

// An outcome is what happened to one cruise.
type outcome struct {
	seed    uint64
	refused []string // reasons; empty when an archive was made
	faults  []string
	took    time.Duration
}

// try builds the cruise in the folder dir and asks everything of its archive.
func try(t *testing.T, c *cruise, dir string) (o outcome) {
	t.Helper()
	o.seed = c.seed
	began := time.Now()
	fault := func(format string, a ...any) { o.faults = append(o.faults, fmt.Sprintf(format, a...)) }
	defer func() {
		o.took = time.Since(began)
		if r := recover(); r != nil {
			fault("panic: %v\n%s", r, debug.Stack())
		}
	}()
	for name, b := range c.files {
		path := filepath.Join(dir, "in", filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	p, err := pipeline.Build(t.Context(), pipeline.Plan{CruiseFile: filepath.Join(dir, "in", "cruise.yaml"),
		Out: filepath.Join(dir, "out"), Workers: 1})
	if err != nil {
		for _, e := range metadata.Parts(err) {
			var in *metadata.InputError
			if !errors.As(e, &in) {
				fault("build: %v", e)
				continue
			}
			o.refuse(in.Position, "", in.Err.Error())
		}
		return o
	}
	o.checked(t, filepath.Join(dir, "in", "cruise.yaml"), &p)
	if p.Path == "" {
		for _, f := range p.Findings {
			if f.Severity == metadata.Failure {
				o.refuse(f.Position, f.Check, f.Message)
			}
		}
		if len(o.refused) == 0 {
			fault("nothing was made and no finding says why")
		}
		return o
	}
	for _, all := range []bool{false, true} {
		r, err := verify.Archive(t.Context(), verify.Plan{Path: p.Path, All: all, Workers: 1})
		if err != nil {
			fault("verify, all %v: %v", all, err)
			continue
		}
		for _, f := range r.Findings {
			if f.Severity == metadata.Failure {
				fault("verify, all %v: %s %s %s: %s", all, f.Position, f.Check, f.Variable, f.Message)
			}
		}
	}
	singleFiles(t, p.Path, fault)
	if strings.Contains(string(c.files["cruise.yaml"]), "inputs: omit") {
		return o
	}
	again, err := rebuild.Run(t.Context(), rebuild.Plan{Archive: p.Path, Out: filepath.Join(dir, "again"), Workers: 2})
	if err != nil {
		fault("rebuild: %v", err)
	}
	for _, d := range again.Differences {
		fault("rebuild: %s", d)
	}
	return o
}

// checked makes a fault of every finding of a build that check does not have.
func (o *outcome) checked(t *testing.T, file string, built *pipeline.Product) {
	c, err := pipeline.Check(t.Context(), pipeline.Plan{CruiseFile: file, Workers: 1})
	if err != nil {
		o.faults = append(o.faults, fmt.Sprintf("check: %v, and build has no error", err))
		return
	}
	for _, f := range onlyIn(built.Found, c.Found) {
		o.faults = append(o.faults, fmt.Sprintf("build says, and check does not: %s %s [%s] %s", f.Severity, f.Position,
			f.Check, f.Message))
	}
}

// refuse notes a reason with its place; a reason without a file and a line is a fault.
func (o *outcome) refuse(p metadata.Position, check, message string) {
	o.refused = append(o.refused, fmt.Sprintf("%s [%s] %s", p, check, message))
	if p.File == "" || p.Line == 0 {
		o.faults = append(o.faults, "refused without a place: "+message)
	}
}

// singleFiles gives each data file of the archive to verify on its own.
func singleFiles(t *testing.T, archive string, fault func(string, ...any)) {
	var names []string
	for _, pattern := range []string{"data/*/*.nc", "data/casts/*_ct1.zip", "data/casts/*_hy1.csv"} {
		found, err := filepath.Glob(filepath.Join(archive, pattern))
		if err != nil {
			t.Fatal(err)
		}
		names = append(names, found...)
	}
	for _, name := range names {
		r, err := verify.File(t.Context(), verify.Plan{Path: name, Workers: 1})
		if err != nil {
			fault("verify %s: %v", filepath.Base(name), err)
			continue
		}
		lines := 0
		for _, f := range r.Findings {
			if f.Severity == metadata.Failure {
				fault("verify %s: %s %s %s: %s", filepath.Base(name), f.Position, f.Check, f.Variable, f.Message)
			}
			lines++
		}
		if lines > 100 { // 8 casts, each with what is odd of its own
			fault("verify %s: %d findings", filepath.Base(name), lines)
		}
	}
}

// Every generated cruise is refused with a reason, or its archive is good: verify reports no fault, whether a sample or
// all is computed again, every data file alone is accepted, and rebuild gives the same bytes.
func TestGeneratedCruises(t *testing.T) {
	var seeds []uint64
	for i := range *count {
		seeds = append(seeds, *first+uint64(i))
	}
	report(t, run(t, seeds))
}

// run tries the cruises of the seeds, a few at a time, and opens the NetCDF files of every tenth archive in xarray.
func run(t *testing.T, seeds []uint64) []outcome {
	t.Helper()
	out := make([]outcome, len(seeds))
	sample := t.TempDir()
	var mu sync.Mutex
	var opened []string
	var wg sync.WaitGroup
	slots := make(chan bool, 3)
	for i, seed := range seeds {
		wg.Add(1)
		slots <- true
		go func() {
			defer func() { <-slots; wg.Done() }()
			dir, err := os.MkdirTemp(t.TempDir(), fmt.Sprintf("seed-%d-", seed)) // it stays when the program crashes
			if err != nil {
				t.Error(err)
				return
			}
			out[i] = try(t, generate(seed), dir)
			if archive := filepath.Join(dir, "out", fmt.Sprint("p", seed)); i%10 == 0 && len(out[i].refused) == 0 {
				names := sampleNetCDF(t, archive, sample)
				mu.Lock()
				opened = append(opened, names...)
				mu.Unlock()
			}
			if len(out[i].faults) > 0 && *keep != "" {
				if err := os.CopyFS(filepath.Join(*keep, fmt.Sprint(seed)), os.DirFS(dir)); err != nil {
					t.Log(err)
				}
			}
			os.RemoveAll(dir)
		}()
	}
	wg.Wait()
	xarrayOpens(t, opened)
	return out
}

// report fails for every fault, for a refusal without its place, and when more than a third of the cruises are refused.
func report(t *testing.T, outcomes []outcome) {
	t.Helper()
	refused := 0
	var slowest outcome
	for _, o := range outcomes {
		if o.took > slowest.took {
			slowest = o
		}
		if len(o.faults) > 0 {
			t.Errorf("seed %d:\n  %s", o.seed, strings.Join(o.faults[:min(len(o.faults), 12)], "\n  "))
		}
		if len(o.refused) > 0 {
			refused++
			t.Logf("seed %d refused: %s", o.seed, strings.Join(o.refused[:min(3, len(o.refused))], "\n    "))
		}
	}
	t.Logf("%d cruises, %d refused, slowest seed %d %v", len(outcomes), refused, slowest.seed, slowest.took)
	if 3*refused > len(outcomes) && len(outcomes) >= 10 {
		t.Errorf("%d of %d cruises are refused, more than a third", refused, len(outcomes))
	}
}
