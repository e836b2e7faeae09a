package verify

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"slices"

	"github.com/castwright/castwright/cmd/internal/child"
	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
)

// ArchiveArgument is the hidden first argument by which the program starts itself to compute the content of an archive again: the NetCDF files of
// an archive are opened in a child process only.
const ArchiveArgument = "--recompute-one-archive"

// recomputeAnswer bounds the child's answer, in bytes, and mostCrashes how often a file may end the child before the rest is given up.
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

// RecomputeChild is the whole of the child process: it reads a request, computes again and answers. It returns the exit code.
func RecomputeChild(in io.Reader, out io.Writer) int {
	var q recomputeRequest
	if err := gob.NewDecoder(in).Decode(&q); err != nil {
		return 2
	}
	a := &archive{plan: &Plan{All: q.All, Workers: q.Workers, Seed: q.Seed}, dir: q.Dir, report: &Report{}, trust: q.Trust, bad: q.Bad, sums: q.Sums,
		bag: &bag.Report{Info: q.Info, Files: q.Files}, nc: map[string]*ncFile{}}
	a.opened = func(rel string) { fmt.Fprintf(out, "%q\n", rel) }
	for _, rel := range q.Crashed {
		a.nc[rel] = nil
	}
	defer a.close()
	var reply recomputeReply
	if err := a.recompute(context.Background()); err != nil {
		reply.Failed = err.Error()
	}
	reply.Findings, reply.Again = a.report.Findings, a.report.Again
	fmt.Fprintln(out, answerMark)
	if err := gob.NewEncoder(out).Encode(&reply); err != nil {
		return 1
	}
	return 0
}

// recomputeInChild computes the content of the archive again in a child process. A file that ends the child is a fault; the rest is then
// computed without it.
func (a *archive) recomputeInChild(ctx context.Context) error {
	if a.plan.remake != nil { // a test that makes archives in its own way
		return a.recompute(ctx)
	}
	temp, err := os.MkdirTemp("", "castwright-verify-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(temp)
	q := recomputeRequest{Dir: a.dir, All: a.plan.All, Workers: a.plan.Workers, Seed: a.plan.Seed, Trust: a.trust, Bad: a.bad, Sums: a.sums, Info: a.bag.Info,
		Files: a.bag.Files}
	for range mostCrashes {
		var request bytes.Buffer
		if err := gob.NewEncoder(&request).Encode(&q); err != nil {
			return err
		}
		answer, trouble, err := child.Run(ctx, child.Job{Self: a.plan.Self, Argument: ArchiveArgument, Request: request.Bytes(), Most: recomputeAnswer,
			Whole: true, Temp: temp})
		if err != nil {
			return err
		}
		opened, rest := splitAnswer(answer)
		var reply recomputeReply
		if trouble == "" {
			if err := gob.NewDecoder(bytes.NewReader(rest)).Decode(&reply); err != nil {
				trouble = "gave no answer"
			}
		}
		if trouble == "" {
			a.report.Findings = append(a.report.Findings, reply.Findings...)
			a.report.Again = reply.Again
			if reply.Failed != "" {
				return errors.New(reply.Failed)
			}
			return nil
		}
		if opened == "" || slices.Contains(q.Crashed, opened) {
			return fmt.Errorf("computing again ended before it was done: %s", trouble)
		}
		a.fault("netcdf.read", opened, "", "%s", trouble)
		q.Crashed = append(q.Crashed, opened)
	}
	a.report.Again = "nothing, since too many files cannot be read"
	return nil
}

// splitAnswer returns the last file that the child opened, and what follows the list of opened files; nil when it has no end.
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

// recompute compares the content of the archive with what comes out of its inputs; where it holds none, or another version of the program made
// it, the files with each other and with what is computed from the stored values.
func (a *archive) recompute(ctx context.Context) error {
	inputs := a.inputs()
	a.provenance(inputs)
	_, held := a.sums["data/inputs/inputs.zip"]
	same := a.madeBy() == pipeline.Tool
	if held && (same || a.plan.All) {
		return a.whole(ctx)
	}
	switch {
	case held:
		a.note("recompute", "bag-info.txt", "the archive was made by %q, another version than this: its files are compared with each other; --all makes it again from its inputs",
			a.madeBy())
	case a.plan.All:
		a.note("recompute", "data/inputs/inputs.csv", "the archive holds no inputs: computed again from the values stored")
	}
	if err := a.bundles(ctx); err != nil {
		return err
	}
	if err := a.tables(ctx, inputs); err != nil {
		return err
	}
	return a.fromStored(ctx)
}

// sampleColumns is how many columns of each grid are mapped again when not all are.
const sampleColumns = 6

// compared says what is taken from the archive when it is made again for a comparison; nil when everything is made.
func (a *archive) compared() *pipeline.Compared {
	if a.plan.All {
		return nil
	}
	return &pipeline.Compared{
		Columns: func(n int) []int {
			r := rand.New(rand.NewPCG(a.plan.Seed, uint64(n)))
			return r.Perm(n)[:min(n, sampleColumns)]
		},
		Has: func(rel string) bool { return a.open("data/"+rel) != nil },
		Grid: func(rel string, f *gridding.Field) []float64 {
			x := a.open("data/" + rel)
			if x == nil {
				return nil
			}
			i := x.s.Var(netcdf.FieldName(f))
			if i < 0 || !numeric(x.s.Vars[i].Type) {
				return nil
			}
			v, err := x.values(i)
			if err != nil {
				return nil
			}
			out := slices.Clone(v)
			for k := range out {
				if x.missing(i, out[k]) {
					out[k] = math.NaN()
				}
			}
			return out
		},
		Figure: func(name string) bool {
			_, there := a.sums["data/figures/"+name]
			return there
		},
	}
}

// whole makes the archive again from its inputs in a folder of its own and compares file by file, NetCDF variable by variable. Unless
// all is asked for, grids are mapped at some columns and figures are not drawn.
func (a *archive) whole(ctx context.Context) error {
	temp, err := os.MkdirTemp("", "castwright-verify-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(temp)
	remake := a.plan.remake
	if remake == nil {
		remake = remakeArchive
	}
	made, err := remake(ctx, a.dir, temp, a.plan.Workers, a.compared())
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		var in *metadata.InputError
		for _, e := range metadata.Parts(err) {
			if !errors.As(e, &in) || errors.Is(e, pipeline.ErrWrite) || pipeline.OfThisMachine(e) {
				return err // of this machine: no room, no memory
			}
			a.fault("rebuild", in.File, "", "the archive cannot be made again from its inputs: %v", in.Err)
		}
		return nil
	}
	a.report.Again = "everything, from the inputs"
	if !a.plan.All {
		a.report.Again = fmt.Sprintf("everything from the inputs, grids at %d columns each (seed %d); not redrawn: the pictures in figures", sampleColumns, a.plan.Seed)
	}
	return a.compareWhole(ctx, made)
}
