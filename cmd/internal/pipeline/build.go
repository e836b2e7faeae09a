package pipeline

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// Check reads and judges everything and changes nothing, but for inputs.sha256 when the plan records. A cruise with faults is no
// error: they are among the findings.
func Check(ctx context.Context, plan Plan) (Product, error) {
	w, err := prepare(ctx, &plan)
	if err != nil {
		return Product{}, err
	}
	if !w.failed() {
		if err := w.assembleSections(ctx); err != nil {
			return Product{}, err
		}
	}
	w.judgeDates(plan.Now)
	if plan.Record && !w.failed() {
		if err := w.recordInputs(ctx); err != nil {
			return Product{}, err
		}
	}
	return w.product(), nil
}

// Build makes the archive plan.Out/ID, whole or not at all. When a finding is of severity error nothing is made and Product.Path is empty.
func Build(ctx context.Context, plan Plan) (Product, error) {
	began := time.Now()
	if !nc.Available() {
		return Product{}, fmt.Errorf("%w; build it with cgo and libnetcdf (make build)", nc.ErrNoCgo)
	}
	out, err := filepath.Abs(plan.Out)
	if err != nil {
		return Product{}, err
	}
	if info, err := os.Stat(out); err != nil || !info.IsDir() {
		return Product{}, &metadata.InputError{Position: metadata.Position{File: plan.Out}, Err: fmt.Errorf("the folder for the archive is not there"),
			Remedy: "make it first: mkdir -p " + plan.Out}
	}
	w, err := prepare(ctx, &plan)
	if err != nil {
		return Product{}, err
	}
	if w.failed() {
		return w.product(), nil
	}
	if err := w.derive(ctx); err != nil {
		return Product{}, err
	}
	if err := w.assembleSections(ctx); err != nil {
		return Product{}, err
	}
	if w.failed() {
		return w.product(), nil
	}
	folder, err := export.Begin(ctx, out, w.cruise.ID, ownArchive)
	if err != nil {
		return Product{}, w.writeFault(err)
	}
	defer folder.Abort() //nolint:errcheck // after Commit there is nothing to abort; before it the first error is told
	if err := w.write(ctx, folder.Path()); err != nil {
		return Product{}, w.writeFault(err)
	}
	done := w.stage("commit")
	if err := folder.Commit(ctx); err != nil {
		return Product{}, w.writeFault(err)
	}
	done()
	w.path = filepath.Join(out, w.cruise.ID)
	if plan.Stage != nil {
		plan.Stage("total", time.Since(began))
	}
	return w.product(), nil
}

// ownArchive lets a build replace what castwright made and nothing else.
func ownArchive(path string) error {
	info, err := bag.ReadInfo(path)
	if err == nil {
		if v, ok := bag.Value(info, "Bag-Software-Agent"); ok && len(v) > 0 {
			return nil
		}
	}
	return &metadata.InputError{Position: metadata.Position{File: path}, Err: fmt.Errorf("a folder of this name is there and is no archive of castwright"),
		Remedy: "move it away, or give another place with --out"}
}

// stage starts a stopwatch; the function it gives stops it and tells the plan.
func (w *work) stage(name string) func() {
	if w.plan.Stage == nil {
		return func() {}
	}
	began := time.Now()
	return func() { w.plan.Stage(name, time.Since(began)) }
}

func (w *work) failed() bool {
	return slices.ContainsFunc(w.findings, func(f metadata.Finding) bool { return f.Severity == metadata.Failure })
}

// product gives what there is so far, findings in their one order.
func (w *work) product() Product {
	metadata.SortFindings(w.findings)
	p := Product{Path: w.path, Cruise: w.cruise.ID, Casts: len(w.casts), LeftOut: len(w.out), Findings: w.findings, Files: w.files, Bytes: w.bytes}
	for i := range w.sections {
		p.Sections = append(p.Sections, w.sections[i].summary())
	}
	for _, k := range w.casts {
		c := CastSummary{Expocode: k.Expocode, Station: k.Station, Number: k.Number, Role: k.Role.String(), System: k.System,
			Levels: len(k.PressureDbar), File: k.Source.Name}
		if c.Levels > 0 {
			c.FirstDbar, c.LastDbar = k.PressureDbar[0], k.PressureDbar[c.Levels-1]
		}
		p.List = append(p.List, c)
	}
	return p
}
