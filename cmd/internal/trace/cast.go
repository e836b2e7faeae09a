package trace

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/section"
)

// collection reads the casts of a profile file of the archive.
func collection(a *archive.Archive, rel string) (*ncprofile.Collection, *nc.File, error) {
	f, err := a.NetCDF(rel)
	if err != nil {
		return nil, nil, err
	}
	out, err := ncprofile.ReadCasts(f)
	if err != nil {
		f.Close()
		return nil, nil, fmt.Errorf("%s: %w", rel, err)
	}
	return out, f, nil
}

// cast traces a value of a cast: a measured one to its line, a derived one to what it was derived from.
func (t *tracer) cast(name, variable, pressure string) error {
	files := t.a.Matching("casts/*_ctd.nc")
	if len(files) != 1 {
		return t.refuse("cannot be traced: the archive has no file of casts", "castwright verify says what is wrong")
	}
	return t.castIn(files[0], name, variable, pressure)
}

// castOf traces a value of a cast in the file of a section or of a time series, whose names end so.
func (t *tracer) castOf(end string, words []string) error {
	rel := "sections/" + words[0] + end
	if !t.a.Has(rel) {
		return t.refuse("names nothing with a file "+rel, nearest(words[0], t.sectionNames(end)))
	}
	return t.castIn(rel, words[1], words[2], words[3])
}

func (t *tracer) castIn(file, name, variable, pressure string) error {
	p, err := number(pressure)
	if err != nil {
		return t.refuse("has no pressure: "+err.Error(), "write it in dbar, such as cast:5/1:temp:100")
	}
	id, err := t.castID(name)
	if err != nil {
		return err
	}
	t.out.File, t.out.Variable = file, variable
	all, f, err := collection(t.a, file)
	if err != nil {
		return err
	}
	defer f.Close()
	k := all.Cast(id)
	if k == nil {
		return t.refuse("names a cast that "+file+" does not hold", "it holds "+some(all.IDs))
	}
	col := k.Column(variable)
	if col == nil {
		var names []string
		for i := range k.Columns {
			names = append(names, k.Columns[i].Name)
		}
		return t.refuse("names a variable that the cast does not have in "+file+": "+variable, nearest(variable, names))
	}
	level, err := t.level(k.PressureDbar, p)
	if err != nil {
		return err
	}
	t.value(col, level)
	if v := f.Var(variable); v >= 0 {
		t.method(&f.Vars[v])
	}
	source := t.castInput(id)
	if !col.Derived {
		t.out.Parts = append(t.out.Parts, t.part(id, k, variable, level, source))
		return nil
	}
	t.derivedFrom(id, k, variable, level, source)
	return nil
}

// level returns the level of a pressure; the error names the two nearest.
func (t *tracer) level(pDbar []float64, p float64) (int, error) {
	if i := slices.Index(pDbar, p); i >= 0 {
		return i, nil
	}
	var near []string
	below, above := math.Inf(-1), math.Inf(1)
	for _, q := range pDbar {
		if q < p {
			below = max(below, q)
		} else if q > p {
			above = min(above, q)
		}
	}
	for _, q := range []float64{below, above} {
		if !math.IsInf(q, 0) {
			near = append(near, strconv.FormatFloat(q, 'g', -1, 64))
		}
	}
	return 0, t.refuse(fmt.Sprintf("names no level: there is none at %g dbar", p), nearest("", near))
}

// value notes the value and the flag at a level.
func (t *tracer) value(col *section.Column, level int) {
	t.out.Unit = col.Units
	if v := col.Values[level]; !math.IsNaN(v) {
		t.out.Value = &v
	}
	t.out.Flag = flagAt(col, level)
}

func flagAt(col *section.Column, level int) string {
	if col.Flags == nil {
		return ""
	}
	return fmt.Sprintf("%d %s", col.Flags[level], col.Flags[level])
}

// method takes the description of a variable from its file.
func (t *tracer) method(v *nc.Var) {
	for _, name := range []string{"long_name", "comment", "references"} {
		if s := v.Text(name); s != "" {
			if t.out.Method != "" {
				t.out.Method += "; "
			}
			t.out.Method += s
		}
	}
}

// whole are derived variables that rest on all usable levels of a cast, not on one.
var whole = []string{"n2", "dynamic_height"}

// derivedFrom lists what a derived value of a cast was derived from.
func (t *tracer) derivedFrom(id string, k *section.Cast, variable string, level int, source *Source) {
	for _, name := range []string{"pres", "temp", "psal", "cond", "oxy"} {
		col := k.Column(name)
		if col == nil || name == "oxy" && variable != "oxysat" && variable != "aou" {
			continue
		}
		if slices.Contains(whole, variable) {
			t.out.Parts = append(t.out.Parts, column(id, k, name, source))
		} else {
			t.out.Parts = append(t.out.Parts, t.part(id, k, name, level, source))
		}
	}
	t.out.Notes = append(t.out.Notes, fmt.Sprintf("position of the cast: %.6f degrees north, %.6f degrees east",
		k.At.Lat(), k.At.Lon()))
}

// part is one measured value, with its line in the input.
func (t *tracer) part(id string, k *section.Cast, variable string, level int, source *Source) Part {
	col, p := k.Column(variable), k.PressureDbar[level]
	x := Part{Cast: id, Variable: variable, First: p, Last: p, Levels: 1, Flag: flagAt(col, level), File: source.File}
	if v := col.Values[level]; !math.IsNaN(v) {
		x.Value = &v
	}
	x.Line, x.Text = t.line(id, source, k, variable, level)
	return x
}

// column is all levels of a variable of a cast.
func column(id string, k *section.Cast, variable string, source *Source) Part {
	col := k.Column(variable)
	x := Part{Cast: id, Variable: variable, File: source.File, First: math.NaN(), Last: math.NaN()}
	counts := map[string]int{}
	var order []string
	for i, v := range col.Values {
		if math.IsNaN(v) {
			continue
		}
		if p := k.PressureDbar[i]; x.Levels == 0 {
			x.First, x.Last = p, p
		} else {
			x.First, x.Last = min(x.First, p), max(x.Last, p)
		}
		x.Levels++
		if f := flagAt(col, i); f != "" {
			if counts[f] == 0 {
				order = append(order, f)
			}
			counts[f]++
		}
	}
	slices.Sort(order)
	for _, f := range order {
		x.Flags = append(x.Flags, fmt.Sprintf("%s: %d", f, counts[f]))
	}
	if x.Levels == 0 {
		x.First, x.Last = 0, 0
	}
	return x
}
