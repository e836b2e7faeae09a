package pipeline

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/export/place"
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
		w.judgeLayout()
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
	if info, err := os.Stat(out); err == nil && !info.IsDir() {
		return Product{}, &metadata.InputError{Position: metadata.Position{File: plan.Out}, Err: errors.New("a file, not a folder for the archive"),
			Remedy: "give a folder with --out"}
	}
	w, err := prepare(ctx, &plan)
	if err != nil {
		return Product{}, err
	}
	if w.failed() {
		return w.product(), nil
	}
	w.judgeLayout()
	if err := w.derive(ctx); err != nil {
		return Product{}, err
	}
	if err := w.assembleSections(ctx); err != nil {
		return Product{}, err
	}
	if w.failed() {
		return w.product(), nil
	}
	if plan.Compared != nil { // read once and removed: nothing to keep whole
		err = w.write(ctx, filepath.Join(out, w.cruise.ID))
	} else {
		err = w.writeWhole(ctx, out)
	}
	if err != nil {
		return Product{}, w.writeFault(err)
	}
	w.path = filepath.Join(out, w.cruise.ID)
	if plan.Stage != nil {
		plan.Stage("total", time.Since(began))
	}
	return w.product(), nil
}

// writeWhole makes the archive in the folder out, whole or not at all.
func (w *work) writeWhole(ctx context.Context, out string) (err error) {
	unmake, err := makeFolder(out)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			unmake()
		}
	}()
	folder, err := place.Begin(ctx, out, w.cruise.ID, ownArchive(ctx, w.plan.Program))
	if err != nil {
		return err
	}
	defer folder.Abort() //nolint:errcheck // after Commit there is nothing to abort; before it the first error is told
	if err := w.write(ctx, folder.Path()); err != nil {
		return err
	}
	done := w.stage("commit")
	if err := folder.Commit(ctx); err != nil {
		return err
	}
	done()
	return nil
}

// makeFolder makes a folder with those above it. The function it returns takes away again those that it made, if they are empty.
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

// ownArchive returns an error unless the folder is an archive as castwright made it: by this program, with every file that the manifests list
// unchanged and no other file. What a person added or edited is not replaced.
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
			return refuse("the archive of this name was changed after it was made (%s: %s, %d in all); it is not replaced", f.File, f.Detail, len(report.Faults))
		}
		return nil
	}
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

// product returns what there is so far, findings in their one order.
func (w *work) product() Product {
	p := Product{Path: w.path, Cruise: w.cruise.ID, Casts: len(w.casts), LeftOut: len(w.out), Findings: metadata.JoinFindings(w.findings), Files: w.files, Bytes: w.bytes}
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
