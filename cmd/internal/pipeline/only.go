package pipeline

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// scratchNote is the file that says that a folder is no archive; only a folder that holds it is replaced.
const (
	scratchNote = "SCRATCH.txt"
	scratchText = "Made by castwright build --only: one section or time series, for a look. It is no archive, and the next build --only of it replaces it.\n"
)

// buildOnly makes the files of one section or time series in a folder plan.Out/ID-only-NAME, which is no archive.
func (c *survey) buildOnly(ctx context.Context, out string) (Product, error) {
	if err := c.chooseOnly(); err != nil {
		return Product{}, err
	}
	found := len(c.findings)
	if err := c.assembleSections(ctx); err != nil {
		return Product{}, err
	}
	if c.failed() {
		return c.product(), nil
	}
	c.findings = c.findings[:found] // they are found again below
	c.casts = slices.DeleteFunc(slices.Clone(c.casts), func(k *section.Cast) bool {
		return !slices.ContainsFunc(c.sections, func(s sectionWork) bool { return s.holds(k) }) &&
			!slices.ContainsFunc(c.series, func(s seriesWork) bool { return s.holds(k) })
	})
	if err := c.compute(ctx); err != nil {
		return Product{}, err
	}
	unmake, err := makeFolder(out)
	if err != nil {
		return Product{}, err
	}
	name := c.cruise.ID + "-only-" + c.plan.Only
	folder, err := place.Begin(ctx, out, name, ownScratch)
	if err != nil {
		unmake()
		return Product{}, err
	}
	defer folder.Abort() //nolint:errcheck // after Commit there is nothing to abort; before it the first error is told
	if err := c.writeOnly(ctx, folder.Path()); err != nil {
		return Product{}, c.writeFault(err)
	}
	size, err := sizeOf(folder.Path())
	if err != nil {
		return Product{}, err
	}
	if err := folder.Commit(ctx); err != nil {
		return Product{}, err
	}
	p := c.product()
	p.Path, p.Files, p.Bytes = filepath.Join(out, name), size.files, size.bytes
	return p, nil
}

// holds reports whether a cast is of a section, or competed for a place in it.
func (s *sectionWork) holds(k *section.Cast) bool {
	return slices.ContainsFunc(s.section.Places, func(p section.Place) bool {
		return p.Chosen == k ||
			slices.Contains(p.Others, k)
	})
}

// chooseOnly takes all sections and time series but one, and all fields, out of the cruise.
func (c *survey) chooseOnly() error {
	var names []string
	for i := range c.cruise.Sections {
		names = append(names, c.cruise.Sections[i].Name)
	}
	series := c.seriesAsked()
	for i := range series {
		names = append(names, series[i].Name)
	}
	i := slices.Index(names, c.plan.Only)
	if i < 0 {
		remedy := "its sections and time series are " + strings.Join(names, ", ")
		if near, ok := metadata.Nearest(c.plan.Only, names); ok {
			remedy = "did you mean: --only " + near
		}
		return &metadata.InputError{Position: c.cruise.File, Remedy: remedy,
			Err: fmt.Errorf("no section and no time series is called %s", c.plan.Only)}
	}
	c.cruise.Fields, c.cruise.TimeSeries = nil, []cruisefile.TimeSeries{}
	if k := i - len(c.cruise.Sections); k >= 0 {
		c.cruise.Sections, c.cruise.TimeSeries = nil, series[k:k+1]
	} else {
		c.cruise.Sections = c.cruise.Sections[i : i+1]
	}
	return nil
}

// writeOnly writes the files of the section, its figures and the note that it is no archive.
func (c *survey) writeOnly(ctx context.Context, dir string) error {
	w := &archive{survey: c, data: dir, ids: c.castIDs()}
	x := &netcdf.Common{Cruise: &c.cruise.Cruise, Created: c.stamp, Program: c.plan.Program, History: c.records,
		Workers: workers(c.plan.Workers), ID: func(k *section.Cast) string { return w.ids[k] }}
	for _, do := range []func() error{func() error { return w.writeSections(ctx, x) },
		func() error { return w.writeSeries(ctx, x) },
		func() error { return w.writeGrids(ctx, x) },
		func() error { return w.writeAnomalies(ctx, x) },
		func() error { return w.writeFigures(ctx) }} {
		if err := do(); err != nil {
			return err
		}
	}
	return os.WriteFile(filepath.Join(dir, scratchNote), []byte(scratchText), 0o644)
}

// ownScratch returns an error unless a folder holds the note of a scratch folder.
func ownScratch(path string) error {
	text, err := regular.ReadFile(filepath.Join(path, scratchNote))
	if err == nil && string(text) == scratchText {
		return nil
	}
	return &metadata.InputError{Position: metadata.Position{File: path},
		Err:    errors.New("a folder of this name is there and is none of build --only"),
		Remedy: "move it away, or give another place with --out; nothing was changed"}
}
