package verify

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"slices"
	"sync"

	"github.com/castwright/castwright/cmd/internal/child"
	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// archiveArgument is the hidden first argument by which the program starts itself to compute the content of an archive
// again: the NetCDF files of an archive are opened in a child process only.
const archiveArgument = "--recompute-one-archive"

// recomputeAnswer bounds the child's answer, in bytes, and mostCrashes how often a file may end the child before the
// rest is given up.
const (
	recomputeAnswer = 256 << 20
	mostCrashes     = 8
)

// A recomputeRequest is what the parent sends.
type recomputeRequest struct {
	Dir     string
	All     bool
	Workers int
	Seed    uint64
	Program string
	Trust   map[string]bool
	Bad     map[string]bool
	Sums    map[string][32]byte
	Info    []bag.Field
	Files   []bag.File
	Crashed []string // files that ended the child before
}

// A recomputeReply is what comes back after the names of the files that were opened.
type recomputeReply struct {
	Findings []metadata.Finding
	Again    string
	Failed   string // the work could not be done, for a reason that is not the archive's
}

// answerMark ends the list of opened files.
const answerMark = "answer"

// recomputeChild is the whole of the child process: it reads a request, computes again and answers. Before it opens a
// NetCDF file of the archive it reads the second part of the request, the names of those that must not be opened. It
// returns the exit code.
func recomputeChild(in io.Reader, out io.Writer) int {
	var q recomputeRequest
	request := gob.NewDecoder(in)
	if err := request.Decode(&q); err != nil {
		return 2
	}
	a := &archive{plan: &Plan{Program: q.Program, All: q.All, Workers: q.Workers, Seed: q.Seed}, dir: q.Dir,
		report: &Report{}, trust: q.Trust, bad: q.Bad, sums: q.Sums,
		bag: &bag.Report{Info: q.Info, Files: q.Files}, nc: map[string]*nc.File{}}
	a.opened = func(rel string) { fmt.Fprintf(out, "%q\n", rel) }
	for _, rel := range q.Crashed {
		a.nc[rel] = nil
	}
	a.unreadable = sync.OnceValue(func() []string {
		var names []string
		if err := request.Decode(&names); err != nil {
			os.Exit(2) // the parent is gone
		}
		return names
	})
	defer a.close()
	var reply recomputeReply
	if err := a.recompute(context.Background()); err != nil {
		reply.Failed = err.Error()
	}
	a.unreadable() // the parent does not end before it has sent them
	reply.Findings, reply.Again = a.report.Findings, a.report.Again
	fmt.Fprintln(out, answerMark)
	if err := gob.NewEncoder(out).Encode(&reply); err != nil {
		return 1
	}
	return 0
}

// recomputeInChild computes the content of the archive again in a child process. A file that ends the child is a fault;
// the rest is then computed without it. unreadable waits for the names of the NetCDF files that must not be opened.
func (a *archive) recomputeInChild(ctx context.Context, unreadable func() []string) (*recomputeReply, error) {
	if a.plan.remake != nil { // a test that makes archives in its own way
		b := *a
		b.report, b.nc, b.unreadable = &Report{}, map[string]*nc.File{}, unreadable
		defer b.close()
		err := b.recompute(ctx)
		return &recomputeReply{Findings: b.report.Findings, Again: b.report.Again}, err
	}
	temp, remove, err := place.Temp("castwright-verify-")
	if err != nil {
		return nil, err
	}
	defer remove()
	q := recomputeRequest{Dir: a.dir, All: a.plan.All, Workers: a.plan.Workers, Seed: a.plan.Seed,
		Program: a.plan.Program, Trust: a.trust, Bad: a.bad, Sums: a.sums, Info: a.bag.Info,
		Files: a.bag.Files}
	var crashes []metadata.Finding
	for range mostCrashes {
		answer, trouble, err := a.askChild(ctx, &q, unreadable, temp)
		if err != nil {
			return nil, err
		}
		opened, rest := splitAnswer(answer)
		var reply recomputeReply
		if trouble == "" {
			if err := gob.NewDecoder(bytes.NewReader(rest)).Decode(&reply); err != nil {
				trouble = "gave no answer"
			}
		}
		if trouble == "" {
			reply.Findings = append(reply.Findings, crashes...)
			if reply.Failed != "" {
				return nil, errors.New(reply.Failed)
			}
			return &reply, nil
		}
		if opened == "" || slices.Contains(q.Crashed, opened) {
			return nil, fmt.Errorf("computing again ended before it was done: %s", trouble)
		}
		crashes = append(crashes, metadata.Finding{Position: metadata.Position{File: opened},
			Severity: metadata.Failure, Check: "netcdf.read", Message: trouble})
		q.Crashed = append(q.Crashed, opened)
	}
	return &recomputeReply{Findings: crashes, Again: "nothing, since too many files cannot be read"}, nil
}

// askChild sends one request in its two parts and waits for the answer.
func (a *archive) askChild(ctx context.Context, q *recomputeRequest, unreadable func() []string,
	temp string) (answer []byte, trouble string, err error) {
	request, send := io.Pipe()
	defer request.Close()
	go func() {
		e := gob.NewEncoder(send)
		err := e.Encode(q)
		if err == nil {
			err = e.Encode(unreadable())
		}
		send.CloseWithError(err) //nolint:errcheck // always nil
	}()
	return child.Run(ctx, child.Job{Self: a.plan.Self, Argument: archiveArgument, Request: request,
		Most: recomputeAnswer, Whole: true, Temp: temp})
}

// splitAnswer returns the last file that the child opened, and what follows the list of opened files; nil when it has
// no end.
func splitAnswer(b []byte) (last string, rest []byte) {
	for len(b) > 0 {
		line, after, found := bytes.Cut(b, []byte("\n"))
		if !found {
			return last, nil
		}
		if string(line) == answerMark {
			return last, after
		}
		if _, err := fmt.Sscanf(string(line), "%q", &last); err != nil {
			return last, nil
		}
		b = after
	}
	return last, nil
}

// recompute compares the content of the archive with what comes out of its inputs; where it has none, or another
// version of the program made it, the files with each other and with what is computed from the stored values.
func (a *archive) recompute(ctx context.Context) error {
	inputs := a.inputs()
	a.provenance(inputs)
	_, held := a.sums[inputsZip]
	same := a.madeBy() == a.plan.Program
	if held && (same || a.plan.All) {
		return a.whole(ctx)
	}
	switch {
	case held:
		a.note("recompute", "bag-info.txt",
			"the archive was made by %q, another version than this: its files are compared with each other; "+
				"--all makes it again from its inputs", a.madeBy())
	case a.plan.All:
		a.note("recompute", "data/inputs/inputs.csv",
			"the archive has no inputs: computed again from the values stored")
	}
	if err := a.bundles(ctx); err != nil {
		return err
	}
	if err := a.tables(ctx, inputs); err != nil {
		return err
	}
	return a.fromStored(ctx)
}

// sampleColumns is in how many columns each variable of a grid is mapped again that holds data there, when not all
// columns are, and sampleAnywhere how many columns are chosen without looking at data.
const (
	sampleColumns  = 4
	sampleAnywhere = 2
)

// compared says what is taken from the archive when it is made again for a comparison; nil when everything is made.
func (a *archive) compared() *pipeline.Compared {
	if a.plan.All {
		return nil
	}
	_, page := a.sums["data/"+pipeline.PageFile]
	return &pipeline.Compared{Page: page,
		Columns: func(rel string, n int) []int { return a.columns("data/"+rel, n) },
		Has:     func(rel string) bool { return a.open("data/"+rel) != nil },
		Grid:    func(rel string, f *gridding.Field) []float64 { return a.stored("data/"+rel, f) },
		Figure: func(name string) bool {
			_, there := a.sums["data/figures/"+name]
			return there
		},
	}
}

// columns returns the columns of a grid file that are mapped again, of n; they are chosen once.
func (a *archive) columns(rel string, n int) []int {
	if a.picked == nil {
		a.picked = map[string][]int{}
	}
	key := fmt.Sprint(rel, " ", n)
	if _, ok := a.picked[key]; !ok {
		a.picked[key] = a.choose(rel, n)
	}
	return a.picked[key]
}

// choose chooses at random columns of a grid file, of n. A variable may have data in a few columns alone, and a change
// of
// of it is seen only there.
func (a *archive) choose(rel string, n int) []int {
	order := rand.New(rand.NewPCG(a.plan.Seed, uint64(n))).Perm(n)
	picked := slices.Clone(order[:min(n, sampleAnywhere)])
	f := a.open(rel)
	if f == nil {
		return picked
	}
	for i := range f.Vars {
		if len(f.Vars[i].Dims) < 2 || !f.Vars[i].Type.Numeric() {
			continue
		}
		v, err := f.Values(i)
		f.Forget(i)
		if err != nil || len(v) <= n || len(v)%n != 0 {
			continue
		}
		hasData := make([]bool, n)
		for row := 0; row < len(v); row += n {
			for k, x := range v[row : row+n] {
				hasData[k] = hasData[k] || !f.Missing(i, x)
			}
		}
		need := sampleColumns
		for _, k := range picked {
			if hasData[k] {
				need--
			}
		}
		for _, k := range order {
			if need > 0 && hasData[k] && !slices.Contains(picked, k) {
				picked = append(picked, k)
				need--
			}
		}
	}
	return picked
}

// stored returns the values of a field in a grid file of the archive, NaN where missing; nil when it has none.
func (a *archive) stored(rel string, f *gridding.Field) []float64 {
	if x := a.open(rel); x != nil {
		name := netcdf.FieldName(f)
		values := x.NumbersOf(name)
		if i := x.Var(name); i >= 0 {
			x.Forget(i)
		}
		return values
	}
	return nil
}
