package trace

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/section"
)

// sectionNames returns the names of the sections whose files end so.
func (t *tracer) sectionNames(end string) []string {
	var out []string
	for _, f := range t.a.Matching("sections/*" + end) {
		out = append(out, strings.TrimSuffix(strings.TrimPrefix(f, "sections/"), end))
	}
	return out
}

// open opens the file of a section and finds a variable in it.
func (t *tracer) open(name, end, variable string) (*nc.File, *nc.Var, error) {
	rel := "sections/" + name + end
	if !t.a.Has(rel) {
		return nil, nil, t.refuse("names a section without "+rel, nearest(name, t.sectionNames(end)))
	}
	f, err := t.a.NetCDF(rel)
	if err != nil {
		return nil, nil, err
	}
	i := f.Var(variable)
	if i < 0 || !f.Vars[i].Type.Numeric() {
		var names []string
		for k := range f.Vars {
			if len(f.Vars[k].Dims) > 0 && f.Vars[k].Type.Numeric() {
				names = append(names, f.Vars[k].Name)
			}
		}
		f.Close()
		return nil, nil, t.refuse("names a variable that "+rel+" does not hold: "+variable, nearest(variable, names))
	}
	t.out.File, t.out.Variable, t.out.Unit = rel, variable, f.Vars[i].Text("units")
	t.method(&f.Vars[i])
	return f, &f.Vars[i], nil
}

// at returns the place of a number on an axis; the error names the nearest ones.
func (t *tracer) at(f *nc.File, axis string, v float64) (int, error) {
	values := f.NumbersOf(axis)
	best := -1
	for i, x := range values {
		if math.Abs(x-v) <= 1e-6*math.Max(1, math.Abs(v)) {
			return i, nil
		}
		if best < 0 || math.Abs(x-v) < math.Abs(values[best]-v) {
			best = i
		}
	}
	remedy := "the file has no axis " + axis
	if best >= 0 {
		remedy = fmt.Sprintf("the nearest is %s", strconv.FormatFloat(values[best], 'g', -1, 64))
	}
	return 0, t.refuse(fmt.Sprintf("names no place: there is no %s %g", axis, v), remedy)
}

// take notes the value at a place of a variable.
func (t *tracer) take(f *nc.File, variable string, at int) {
	if values := f.NumbersOf(variable); at < len(values) && !math.IsNaN(values[at]) {
		v := values[at]
		t.out.Value = &v
	}
}

// node traces a value of a gridded section.
func (t *tracer) node(name, variable, km, pressure string) error {
	x, err := number(km)
	y, err2 := number(pressure)
	if err = errors.Join(err, err2); err != nil {
		return t.refuse("has no place: "+err.Error(), "write km and dbar, such as node:strait:ctemp:110:104")
	}
	f, v, err := t.open(name, "_grid.nc", variable)
	if err != nil {
		return err
	}
	defer f.Close()
	column, err := t.at(f, "distance", x)
	if err != nil {
		return err
	}
	level, err := t.at(f, "pres", y)
	if err != nil {
		return err
	}
	if len(v.Dims) != 2 {
		return t.refuse("is no value of a node: "+variable+" has other dimensions", "name a mapped variable")
	}
	t.take(f, variable, level*f.Dims[v.Dims[1]].Len+column)
	mapped := []string{variable}
	if _, own := v.Attr("signal_variance").([]float64); !own {
		if of := companionOf(f, variable); of != "" {
			mapped = []string{of}
			t.out.Notes = append(t.out.Notes, variable+" belongs to "+of+", of which the data follow")
		} else {
			mapped = []string{"asal", "ctemp"}
			t.out.Notes = append(t.out.Notes, variable+" was computed from the gridded asal and ctemp of this node")
		}
	}
	return t.explain(name, mapped, column, y)
}

// companionOf returns the mapped variable that an error, a mask or the like belongs to; "" when it is none.
func companionOf(f *nc.File, variable string) string {
	for _, end := range []string{"_err", "_relerr", "_mask", "_extrapolated"} {
		if of, ok := strings.CutSuffix(variable, end); ok && f.Var(of) >= 0 {
			return of
		}
	}
	return ""
}

// explain lists the data of a node with their weights, where optimal interpolation made it; else all casts of the
// section.
func (t *tracer) explain(name string, mapped []string, at int, p float64) error {
	all, sec, err := t.section(name)
	if err != nil {
		return err
	}
	options, err := t.gridOptions(name)
	if err != nil {
		return err
	}
	listed := map[*section.Cast]bool{}
	for _, variable := range mapped {
		e, err := gridding.Explain(sec, options, variable, at, p)
		if err != nil {
			t.out.Notes = append(t.out.Notes, err.Error()+"; all casts of the section are listed")
			for i, k := range sec.Casts {
				if k.Column(variable) != nil {
					t.out.Parts = append(t.out.Parts, column(all.IDs[i], k, variable, t.castInput(all.IDs[i])))
				}
			}
			continue
		}
		if len(mapped) == 1 {
			t.out.Mapping = &Mapping{e.Background, e.Noise, e.LengthKm, e.ErrorVariance, e.Value}
		}
		for i := range e.Data {
			d := &e.Data[i]
			listed[d.Cast] = true
			id := all.IDs[slices.Index(sec.Casts, d.Cast)]
			t.out.Parts = append(t.out.Parts, Part{Cast: id, Variable: variable, First: d.PressureDbar,
				Last: d.PressureDbar, Levels: 1, Value: &d.Value, Weight: &d.Weight, Base: &d.Background,
				Km: &d.DistanceKm, File: t.castInput(id).File})
		}
		var others []string
		for i, k := range sec.Casts {
			if !listed[k] {
				others = append(others, all.IDs[i])
				t.castInput(all.IDs[i])
			}
		}
		if len(others) > 0 {
			t.out.Notes = append(t.out.Notes, "only in the background, the mean of casts around: "+
				strings.Join(others, ", "))
		}
	}
	return nil
}

// section reads the casts of a section with their distances.
func (t *tracer) section(name string) (*ncprofile.Collection, *section.Section, error) {
	all, f, err := collection(t.a, "sections/"+name+"_section.nc")
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	return all, &section.Section{Name: name, Casts: all.Casts, DistanceKm: f.NumbersOf("distance")}, nil
}

// gridOptions returns the settings of the grid of a section, from the cruise file in the archive.
func (t *tracer) gridOptions(name string) (gridding.Options, error) {
	c, err := t.a.Cruise()
	if err != nil {
		return gridding.Options{}, err
	}
	for i := range c.Sections {
		if c.Sections[i].Name == name {
			return c.Sections[i].Grid.Options, nil
		}
	}
	return gridding.Options{}, t.refuse("names a section that the cruise file does not: "+name,
		nearest(name, t.sectionNames("_grid.nc")))
}

// pair traces a value between two stations: both casts with all their levels.
func (t *tracer) pair(words []string) error {
	name, stations, variable := words[0], words[1], words[2]
	f, v, err := t.open(name, "_geostrophy.nc", variable)
	if err != nil {
		return err
	}
	defer f.Close()
	a, b := f.WordsOf("station_a"), f.WordsOf("station_b")
	at, names := -1, []string{}
	for i := range a {
		names = append(names, a[i]+"-"+b[i])
		if a[i]+"-"+b[i] == stations {
			at = i
		}
	}
	if at < 0 {
		return t.refuse("names no pair of the section: "+stations, nearest(stations, names))
	}
	switch {
	case len(v.Dims) == 1 && len(words) == 3:
		t.take(f, variable, at)
	case len(v.Dims) == 2 && len(words) == 4:
		p, err := number(words[3])
		if err != nil {
			return t.refuse("has no pressure: "+err.Error(), "write it in dbar, such as pair:strait:4-5:velocity:100")
		}
		level, err := t.at(f, "pres", p)
		if err != nil {
			return err
		}
		t.take(f, variable, at*f.Dims[v.Dims[1]].Len+level)
	default:
		return t.refuse(fmt.Sprintf("does not fit %s, which has %d dimensions", variable, len(v.Dims)),
			"add a pressure to a value at a level, none to one of the whole pair")
	}
	t.castsOfPairs(f, at, at+1)
	return nil
}

// total traces a transport of a whole section.
func (t *tracer) total(name, variable string) error {
	f, v, err := t.open(name, "_geostrophy.nc", variable)
	if err != nil {
		return err
	}
	defer f.Close()
	total := v.Floats("total")
	if len(total) == 0 {
		return t.refuse("has no total", "name a transport, such as transport")
	}
	t.out.Value = &total[0]
	t.castsOfPairs(f, 0, len(f.WordsOf("cast_a")))
	return nil
}

// castsOfPairs lists the casts of pairs with the levels that dynamic height was computed from.
func (t *tracer) castsOfPairs(f *nc.File, from, to int) {
	a, b := f.WordsOf("cast_a"), f.WordsOf("cast_b")
	name, _ := strings.CutSuffix(strings.TrimPrefix(t.out.File, "sections/"), "_geostrophy.nc")
	all, _, err := t.section(name)
	if err != nil {
		t.out.Notes = append(t.out.Notes, err.Error())
		return
	}
	var done []string
	for i := from; i < to; i++ {
		for _, id := range []string{a[i], b[i]} {
			if slices.Contains(done, id) {
				continue
			}
			done = append(done, id)
			source := t.castInput(id)
			k := all.Cast(id)
			if k == nil {
				continue
			}
			for _, variable := range []string{"pres", "temp", "psal"} {
				if k.Column(variable) != nil {
					t.out.Parts = append(t.out.Parts, column(id, k, variable, source))
				}
			}
			t.out.Notes = append(t.out.Notes, fmt.Sprintf("%s lies at %.6f degrees north, %.6f degrees east", id,
				k.At.Lat(), k.At.Lon()))
		}
	}
}
