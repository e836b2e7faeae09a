package verify

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/cmd/internal/rebuild"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// whole makes the archive again from its inputs in a folder of its own and compares file by file, NetCDF variable by
// variable. Unless all is asked for, grids are mapped at some columns and figures are not drawn.
func (a *archive) whole(ctx context.Context) error {
	temp, remove, err := place.Temp("castwright-verify-")
	if err != nil {
		return err
	}
	defer remove()
	remake := a.plan.remake
	if remake == nil {
		remake = a.remake
	}
	made, err := remake(ctx, a.dir, temp, a.plan.Workers, a.compared())
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		var in *metadata.InputError
		for _, e := range metadata.Parts(err) {
			if !errors.As(e, &in) || errors.Is(e, pipeline.ErrWrite) || pipeline.OfThisMachine(e) {
				return err // of this machine: no space, no memory
			}
			a.fault("rebuild", in.File, "", "the archive cannot be made again from its inputs: %v", in.Err)
		}
		return nil
	}
	a.report.Again = "everything, from the inputs"
	if !a.plan.All {
		a.report.Again = fmt.Sprintf("everything from the inputs, grids at %d columns or more each (seed %d); "+
			"not made again: the pictures in figures and the page", sampleColumns, a.plan.Seed)
	}
	return a.compareWhole(ctx, made)
}

// remake makes the archive again below out and returns where it is.
func (a *archive) remake(ctx context.Context, dir, out string, workers int, c *pipeline.Compared) (string, error) {
	r, err := rebuild.Run(ctx, rebuild.Plan{Program: a.plan.Program, Archive: dir, Out: out, Workers: workers,
		Compared: c})
	if err != nil || r.Product.Path != "" {
		return r.Product.Path, err
	}
	for _, f := range r.Product.Findings {
		if f.Severity == metadata.Failure {
			return "", &metadata.InputError{Position: f.Position, Err: errors.New(f.Message)}
		}
	}
	return "", errors.New("the inputs are rejected")
}

// checksumLists differ where files do, and these are reported.
var checksumLists = []string{"manifest-sha256.txt", "manifest-sha512.txt", "tagmanifest-sha256.txt",
	"tagmanifest-sha512.txt"}

// compareWhole compares the archive with the one made again.
func (a *archive) compareWhole(ctx context.Context, made string) error {
	now, err := bag.Sums(ctx, made)
	if err != nil {
		return err
	}
	doc, err := readProvenance(filepath.Join(made, provenanceFile))
	if err != nil {
		return err
	}
	outputs := slices.Collect(maps.Values(doc.outputs()))
	sums := map[string][32]byte{}
	for _, f := range now {
		sums[f.Path] = f.SHA256
		if _, here := a.sums[f.Path]; !here && !a.bad[f.Path] {
			a.fault("rebuild", f.Path, "", "comes out of the inputs and is not in the archive")
		}
	}
	for n, sum := range a.sums {
		again, there := sums[n]
		switch {
		case a.bad[n], there && again == sum, slices.Contains(checksumLists, n):
			// reported already; the same; checked against the files already
		case there:
			a.differentFile(n, filepath.Join(made, filepath.FromSlash(n)))
		case !slices.Contains(outputs, n): // else it is a picture that was not redrawn
			a.fault("rebuild", n, "", "does not come out of the inputs")
		}
	}
	return nil
}

// differentFile reports how a file differs from the one made again. A file that names the version of the program may
// differ where another version made the archive.
func (a *archive) differentFile(n, made string) {
	sameProgram := a.madeBy() == a.plan.Program
	documents := n == "bag-info.txt" || strings.HasPrefix(n, "data/provenance/") && n != cruiseFile
	switch {
	case strings.HasSuffix(n, ".nc") && a.readable(n):
		if !a.compareNetCDF(n, made) && sameProgram {
			a.note("rebuild", n, "the bytes differ from those made of the inputs, and no value or attribute does")
		}
	case sameProgram && n == provenanceFile && a.sameProvenance(made),
		sameProgram && n == "bag-info.txt" && a.sameInfo(filepath.Dir(made)),
		!sameProgram && documents:
	case sameProgram || strings.HasSuffix(n, ".csv") || strings.HasSuffix(n, "_ct1.zip"):
		a.fault("rebuild", n, "", "is not what comes out of the inputs")
	default:
		a.note("rebuild", n,
			"differs from what this version of the program makes of the inputs; the archive was made by %s", a.madeBy())
	}
}

// sameProvenance compares two PROV-JSON documents. The checksums of outputs are left out: they are compared with the
// files themselves.
func (a *archive) sameProvenance(made string) bool {
	var docs [2]provenance
	for i, name := range []string{a.path(provenanceFile), made} {
		doc, err := readProvenance(name)
		if err != nil {
			return false
		}
		for key := range doc.outputs() {
			if e, ok := doc["entity"][key].(map[string]any); ok {
				delete(e, "ex:sha256")
			}
		}
		docs[i] = doc
	}
	return reflect.DeepEqual(docs[0], docs[1])
}

// sameInfo compares the fields of bag-info.txt but for the size of the content.
func (a *archive) sameInfo(made string) bool {
	now, err := bag.ReadInfo(made)
	size := func(f bag.Field) bool { return f.Label == "Payload-Oxum" || f.Label == "Bag-Size" }
	return err == nil && slices.Equal(slices.DeleteFunc(slices.Clone(a.bag.Info), size), slices.DeleteFunc(now, size))
}

// madeBy returns the program that made the archive, by what the archive says.
func (a *archive) madeBy() string {
	program, _ := bag.Value(a.bag.Info, "Bag-Software-Agent")
	return program
}

// compareNetCDF compares two NetCDF files and reports whether they differ in anything but bytes.
func (a *archive) compareNetCDF(rel, made string) bool {
	f := a.open(rel)
	if f == nil {
		return true // reported already
	}
	g, err := nc.OpenFile(made)
	if err != nil {
		a.fault("rebuild", rel, "", "what comes out of the inputs cannot be opened: %v", err)
		return true
	}
	defer g.Close()
	n := len(a.report.Findings)
	say := func(v, format string, args ...any) { a.fault("rebuild", rel, v, format, args...) }
	if len(f.Dims) != len(g.Dims) {
		say("", "%d dimensions, made again %d", len(f.Dims), len(g.Dims))
	}
	a.compareAttrs(say, "", f.Attrs, g.Attrs)
	for i := range g.Vars {
		if f.Var(g.Vars[i].Name) < 0 {
			say(g.Vars[i].Name, "comes out of the inputs and is not in the file")
		}
	}
	for i := range f.Vars {
		v := &f.Vars[i]
		k := g.Var(v.Name)
		if k < 0 {
			say(v.Name, "does not come out of the inputs")
			continue
		}
		w := &g.Vars[k]
		a.compareAttrs(say, v.Name, v.Attrs, w.Attrs)
		if v.Type != w.Type || fmt.Sprint(v.Fill) != fmt.Sprint(w.Fill) || !slices.Equal(f.Shape(i), g.Shape(k)) ||
			!slices.Equal(f.DimNames(i), g.DimNames(k)) {
			say(v.Name, "type, _FillValue or dimensions are not those made again")
			continue
		}
		compareValues(say, f, g, i, k)
	}
	return len(a.report.Findings) > n
}

// A report of a difference: of which variable, and what differs.
type sayer = func(variable, format string, args ...any)

// compareValues reports how many values of a variable differ from those made again, and the first.
func compareValues(say sayer, f, g *nc.File, i, k int) {
	v := &f.Vars[i]
	var d difference
	var err error
	if v.Type.Numeric() {
		err = d.numbers(f, g, i, k)
	} else {
		x, err1 := f.Words(i)
		y, err2 := g.Words(k)
		err = errors.Join(err1, err2)
		differing(&d, 0, x, y, func(p, q string) bool { return p != q })
	}
	if err != nil {
		say(v.Name, "cannot be read: %v", err)
	} else if d.count > 0 {
		say(v.Name, "%d values differ from those made again, the first, %d, is %#v, not %#v", d.count, d.first, d.was,
			d.is)
	}
}

// A difference is how many values of a variable differ from others, and the first with its number.
type difference struct {
	count, first int
	was, is      any
}

// numbers compares two variables of one shape, part by part.
func (d *difference) numbers(f, g *nc.File, i, k int) error {
	parts, err := f.Parts(i)
	if err != nil {
		return err
	}
	var x, y []float64
	for _, p := range parts {
		var err, err2 error
		x, err = f.NumbersIn(i, p, x)
		y, err2 = g.NumbersIn(k, p, y)
		if err := errors.Join(err, err2); err != nil {
			return err
		}
		differing(d, p.First, x, y, func(p, q float64) bool { return differ(f.Vars[i].Name, 0, p, q) })
	}
	return nil
}

// differing counts the values that differ; first is the number of the first of them.
func differing[T any](d *difference, first int, x, y []T, differ func(p, q T) bool) {
	for i := range min(len(x), len(y)) {
		if differ(x[i], y[i]) {
			if d.count++; d.count == 1 {
				d.first, d.was, d.is = first+i, x[i], y[i]
			}
		}
	}
}

// compareAttrs compares attributes in any order. The history names the version of the program, which may be another.
func (a *archive) compareAttrs(say sayer, v string, x, y []nc.Attr) {
	find := func(list []nc.Attr, name string) any {
		if i := slices.IndexFunc(list, func(p nc.Attr) bool { return p.Name == name }); i >= 0 {
			return list[i].Value
		}
		return nil
	}
	for _, p := range x {
		if text, ok := p.Value.(string); ok && p.Name == "history" && v == "" && a.madeBy() != "" {
			p.Value = strings.ReplaceAll(text, a.madeBy(), a.plan.Program)
		}
		switch q := find(y, p.Name); {
		case q == nil:
			say(v, "attribute %s does not come out of the inputs", p.Name)
		case !sameAttr(p.Value, q):
			say(v, "attribute %s is %.80q, made again %.80q", p.Name, fmt.Sprint(p.Value), fmt.Sprint(q))
		}
	}
	for _, q := range y {
		if find(x, q.Name) == nil {
			say(v, "attribute %s comes out of the inputs and is not in the file", q.Name)
		}
	}
}

// sameAttr compares the values of two attributes, numbers to nine digits.
func sameAttr(x, y any) bool {
	p, q := nc.Floats(x), nc.Floats(y)
	if nc.TypeOfValue(x) != nc.TypeOfValue(y) {
		return false
	}
	if p == nil || q == nil {
		return fmt.Sprint(x) == fmt.Sprint(y)
	}
	return slices.EqualFunc(p, q, func(p, q float64) bool {
		return p == q || math.Abs(p-q) <= 1e-9*math.Abs(q) || math.IsNaN(p) && math.IsNaN(q)
	})
}
