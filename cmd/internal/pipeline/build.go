package pipeline

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"time"

	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/internal/filebacked"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// Check reads every input and changes nothing, except inputs.sha256 when the plan records. A cruise with faults is no
// error: they are among the findings.
func Check(ctx context.Context, plan Plan) (Product, error) {
	c, err := readCruise(ctx, &plan)
	if err != nil {
		return Product{}, err
	}
	defer c.values.Close()
	maps := false
	if !c.failed() {
		c.explainLayout()
		if maps, err = c.deriveForCheck(ctx); err != nil {
			return Product{}, err
		}
		if err := c.assembleSections(ctx); err != nil {
			return Product{}, err
		}
	}
	if !c.failed() {
		// A section takes as much memory as all casts: what the one before took is used again soon.
		before := debug.SetGCPercent(sectionsPercent)
		err := c.computeFlows(ctx, true, maps)
		if err == nil && !maps {
			err = c.judgeWithoutMaps(ctx)
		}
		debug.SetGCPercent(before)
		if err == nil && maps {
			err = c.mapForCheck(ctx)
		}
		if err != nil {
			return Product{}, err
		}
	}
	c.judged()
	if plan.Record && !c.failed() {
		if err := c.recordInputs(ctx); err != nil {
			return Product{}, err
		}
	}
	return c.product(), nil
}

// sectionsPercent keeps the memory of a check near what lives. Measured on two sections of 75 casts of 5500 levels: a
// tenth less for no time.
const sectionsPercent = 10

// readCruise reads the inputs of a plan and puts the casts in their place.
func readCruise(ctx context.Context, plan *Plan) (*survey, error) {
	plan.Program = cmp.Or(plan.Program, DefaultProgram)
	r := &run{plan: plan}
	if plan.Watched == nil { // which keeps grids for the next build
		r.values = filebacked.New()
	}
	defer r.stage("parse")()
	c, err := r.survey(ctx)
	if err = cmp.Or(err, r.machine); err != nil {
		r.values.Close()
		return nil, err
	}
	return c, nil
}

// survey reads the inputs and puts the casts in their place.
func (w *run) survey(ctx context.Context) (*survey, error) {
	in, err := readInputs(ctx, w)
	if err != nil {
		return nil, err
	}
	return in.survey(ctx)
}

// Build makes the archive plan.Out/ID, whole or not at all. When a finding is of severity error nothing is made and
// Product.Path is empty.
func Build(ctx context.Context, plan Plan) (Product, error) {
	began := time.Now()
	plan.Now = time.Time{} // what is made does not depend on the day
	if !nc.Available() {
		return Product{}, fmt.Errorf("%w; build it with cgo and libnetcdf (make build)", nc.ErrNoCgo)
	}
	out, err := filepath.Abs(plan.Out)
	if err != nil {
		return Product{}, err
	}
	if info, err := os.Stat(out); err == nil && !info.IsDir() {
		return Product{}, &metadata.InputError{Position: metadata.Position{File: plan.Out},
			Err:    errors.New("a file, not a folder for the archive"),
			Remedy: "give a folder with --out"}
	}
	c, err := readCruise(ctx, &plan)
	if err != nil {
		return Product{}, err
	}
	defer c.values.Close()
	if c.failed() {
		return c.product(), nil
	}
	if plan.Only != "" {
		return c.buildOnly(ctx, out)
	}
	c.explainLayout()
	if err := c.compute(ctx); err != nil {
		return Product{}, err
	}
	c.judged()
	if c.failed() {
		return c.product(), nil
	}
	var files folderSize
	if plan.Compared != nil { // read once and removed: nothing to keep whole
		files, err = c.write(ctx, filepath.Join(out, c.cruise.ID))
	} else {
		files, err = c.writeWhole(ctx, out)
	}
	if err != nil {
		return Product{}, c.writeFault(err)
	}
	if plan.Stage != nil {
		plan.Stage("total", time.Since(began))
	}
	p := c.product()
	p.Path, p.Files, p.Bytes = filepath.Join(out, c.cruise.ID), files.files, files.bytes
	if plan.Watched != nil {
		plan.Watched.figures = filepath.Join(p.Path, "data", "figures")
	}
	return p, nil
}

// writeWhole makes the archive in the folder out, whole or not at all.
func (w *survey) writeWhole(ctx context.Context, out string) (size folderSize, err error) {
	unmake, err := makeFolder(out)
	if err != nil {
		return size, err
	}
	defer func() {
		if err != nil {
			unmake()
		}
	}()
	folder, err := place.Begin(ctx, out, w.cruise.ID, ownArchive(ctx, w.plan.Program))
	if err != nil {
		return size, err
	}
	defer folder.Abort() //nolint:errcheck // after Commit there is nothing to abort; before it the first error is told
	if size, err = w.write(ctx, folder.Path()); err != nil {
		return size, err
	}
	done := w.stage("commit")
	if err := folder.Commit(ctx); err != nil {
		return size, err
	}
	done()
	return size, nil
}

// makeFolder makes a folder with those above it. The function it returns takes away again those that it made, if they
// are empty.
func makeFolder(dir string) (unmake func(), err error) {
	var made []string
	for d := dir; ; d = filepath.Dir(d) {
		if _, err := os.Stat(d); !errors.Is(err, fs.ErrNotExist) || d == filepath.Dir(d) {
			break
		}
		made = append(made, d)
	}
	err = os.MkdirAll(dir, 0o755)
	return func() {
		for _, d := range made {
			os.Remove(d) //nolint:errcheck // one that is not empty stays
		}
	}, err
}

// ownArchive returns an error unless the folder is an archive as castwright made it: by this program, with every file
// that the manifests list unchanged and no other file. What a person added or edited is not replaced.
func ownArchive(ctx context.Context, program string) func(path string) error {
	return func(path string) error {
		refuse := func(format string, a ...any) error {
			return &metadata.InputError{Position: metadata.Position{File: path}, Err: fmt.Errorf(format, a...),
				Remedy: "move it away, or give another place with --out; nothing was changed"}
		}
		info, err := bag.ReadInfo(path)
		agent, _ := bag.Value(info, "Bag-Software-Agent")
		program, _, _ := strings.Cut(program, " ")
		if err != nil || agent != program && !strings.HasPrefix(agent, program+" ") {
			return refuse("a folder of this name is there and is no archive of %s", program)
		}
		report, err := bag.Check(ctx, path)
		if err != nil {
			return err
		}
		if len(report.Faults) > 0 {
			f := report.Faults[0]
			for _, other := range report.Faults {
				if f.Kind == bag.Oxum { // a count that follows from another fault
					f = other
				}
			}
			return refuse(
				"the archive of this name was changed after it was made (%s: %s, %d in all); it is not replaced",
				f.File, f.Detail, len(report.Faults))
		}
		return nil
	}
}
