package trace

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
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
	return t.openFile(rel, variable)
}

// openFile opens a file of the archive and finds a variable in it.
func (t *tracer) openFile(rel, variable string) (*nc.File, *nc.Var, error) {
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
	all, sec, err := t.section(name)
	if err != nil {
		return err
	}
	c, err := t.a.Cruise()
	if err != nil {
		return err
	}
	i := slices.IndexFunc(c.Sections, func(s cruisefile.Section) bool { return s.Name == name })
	if i < 0 {
		return t.refuse("names a section that the cruise file does not: "+name, nearest(name,
			t.sectionNames("_grid.nc")))
	}
	own := companionOf(f, variable) != "" // an error is that of the node itself
	from := map[string]int{}
	t.explain(&gridded{casts: all, mapped: t.mapped(f, variable), of: func(variable string) (*gridding.Explanation,
		error) {
		if from[variable] = column; !own {
			from[variable] = t.mappedColumn(f, variable, level, column)
		}
		return gridding.Explain(sec, c.Sections[i].Grid.Options, variable, from[variable], y)
	}})
	for k := range t.out.Mapping {
		if m := &t.out.Mapping[k]; from[m.Variable] != column {
			m.FromKm = &f.NumbersOf("distance")[from[m.Variable]]
		}
	}
	t.signal(f, y)
	t.held(f, func(variable string) int { return level*f.Dims[v.Dims[1]].Len + from[variable] })
	return nil
}

// mappedColumn returns the column of which a node has the value: its own, or for a node below the deepest data the
// nearest one with data at the same level, which it notes.
func (t *tracer) mappedColumn(f *nc.File, variable string, level, column int) int {
	codes, values, km := f.NumbersOf(variable+"_extrapolated"), f.NumbersOf(variable), f.NumbersOf("distance")
	row, from := level*len(km), -1
	if row+column >= len(codes) || len(codes) != len(values) || int(codes[row+column]) != gridding.Extended {
		return column
	}
	for j := range km {
		if !math.IsNaN(values[row+j]) && int(codes[row+j]) != gridding.Extended &&
			(from < 0 || math.Abs(km[j]-km[column]) < math.Abs(km[from]-km[column])) {
			from = j
		}
	}
	if from < 0 {
		return column
	}
	t.out.Notes = append(t.out.Notes, fmt.Sprintf("the node lies below the deepest data and has the value of %s "+
		"at %g km, whose data follow", variable, km[from]))
	return from
}

// held notes where a value of a grid is not what was mapped but the end of the range of the data nearby; at returns the
// place of the value of a variable.
func (t *tracer) held(f *nc.File, at func(variable string) int) { t.heldFrom(0, f, at) }

// signal takes from a grid the signal variance of the band of pressure that the node lies in.
func (t *tracer) signal(f *nc.File, pDbar float64) {
	for k := range t.out.Mapping {
		i := f.Var(t.out.Mapping[k].Variable)
		if i < 0 || t.out.Mapping[k].Method != string(gridding.Optimal) {
			continue
		}
		variance, top := f.Vars[i].Floats("signal_variance"), f.Vars[i].Floats("signal_variance_top_dbar")
		for b := range min(len(variance), len(top)) {
			if top[b] <= pDbar {
				t.out.Mapping[k].SignalVariance = variance[b]
			}
		}
	}
}

// heldFrom is held for the mapped values from a number on.
func (t *tracer) heldFrom(from int, f *nc.File, at func(variable string) int) {
	for k := from; k < len(t.out.Mapping); k++ {
		m := &t.out.Mapping[k]
		codes, values := f.NumbersOf(m.Variable+"_extrapolated"), f.NumbersOf(m.Variable)
		if i := at(m.Variable); i < len(codes) && i < len(values) && int(codes[i]) == gridding.HeldToData {
			m.HeldTo = &values[i]
			t.out.Notes = append(t.out.Notes, "what was mapped of "+m.Variable+
				" lay outside the range of the data nearby, and the grid has the end of that range")
		}
	}
}

// mapped returns the variables that were mapped to give one of a grid: itself, the one that it is the error or the mask
// of, or those that it was computed from on the grid.
func (t *tracer) mapped(f *nc.File, variable string) []string {
	if f.Var(variable+"_mask") >= 0 {
		return []string{variable}
	}
	if of := companionOf(f, variable); of != "" {
		t.out.Notes = append(t.out.Notes, variable+" belongs to "+of+", of which the data follow")
		return []string{of}
	}
	t.out.Notes = append(t.out.Notes, variable+" was computed from the gridded asal and ctemp of this node")
	return []string{"asal", "ctemp"}
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

// gridded is what a node is explained with.
type gridded struct {
	casts  *ncprofile.Collection
	mapped []string
	of     func(variable string) (*gridding.Explanation, error)
}

// explain lists the data of a node with their weights and the bins that each was made of.
func (t *tracer) explain(g *gridded) {
	for _, variable := range g.mapped {
		e, err := g.of(variable)
		if err != nil {
			t.out.Notes = append(t.out.Notes, err.Error()+"; all casts are listed")
			for i, k := range g.casts.Casts {
				if k.Column(variable) != nil {
					t.out.Parts = append(t.out.Parts, column(g.casts.IDs[i], k, variable, t.castInput(g.casts.IDs[i])))
				}
			}
			continue
		}
		t.out.Mapping = append(t.out.Mapping, Mapping{Variable: variable, Method: string(e.Method),
			Background: e.Background, Computed: e.Value, Noise: e.Noise, LengthKm: e.LengthKm,
			ErrorVariance: e.ErrorVariance})
		listed := map[*section.Cast]bool{}
		for i := range e.Data {
			listed[e.Data[i].Cast] = true
			t.out.Parts = append(t.out.Parts, t.datum(g.casts.IDs[slices.Index(g.casts.Casts, e.Data[i].Cast)],
				variable, &e.Data[i]))
		}
		if e.Method != gridding.Optimal && e.Method != gridding.Successive {
			continue // without a background
		}
		var others []string
		for i, k := range g.casts.Casts {
			if !listed[k] && k.Column(variable) != nil {
				others = append(others, g.casts.IDs[i])
				t.castInput(g.casts.IDs[i])
			}
		}
		if len(others) > 0 {
			t.out.Notes = append(t.out.Notes, "only in the background, the mean of casts around: "+
				strings.Join(others, ", "))
		}
	}
}

// datum is one datum of a mapped value.
func (t *tracer) datum(id, variable string, d *gridding.Datum) Part {
	source := t.castInput(id)
	x := Part{Cast: id, Variable: variable, First: d.PressureDbar, Last: d.PressureDbar, Levels: 1, Value: &d.Value,
		Weight: &d.Weight, Base: &d.Background, Away: &d.AwayKm, Bins: d.BinsDbar, File: source.File}
	if !math.IsNaN(d.DistanceKm) {
		x.Km = &d.DistanceKm
	}
	for _, p := range d.BinsDbar {
		n, _ := t.line(id, source, d.Cast, variable, slices.Index(d.Cast.PressureDbar, p))
		x.BinLines = append(x.BinLines, n)
	}
	return x
}

// section reads the casts of a section with their distances.
func (t *tracer) section(name string) (*ncprofile.Collection, *section.Section, error) {
	all, f, err := collection(t.a, "sections/"+name+"_section.nc")
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	return all, ncprofile.SectionOf(f, name, all), nil
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
	case len(v.Dims) == 2 && len(words) == 4 && f.Dims[v.Dims[1]].Name == "treatment":
		treatments := f.WordsOf("treatment_name")
		i := slices.Index(treatments, words[3])
		if i < 0 {
			return t.refuse("names no treatment of the bottom triangle: "+words[3], nearest(words[3], treatments))
		}
		t.take(f, variable, at*len(treatments)+i)
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
	if beta := v.Floats("total_beta_term"); len(beta) == 1 {
		t.out.Notes = append(t.out.Notes, fmt.Sprintf("the section is a closed line: the total is its net, of which "+
			"%.6g %s is the beta term; not in it are %s", beta[0], v.Text("units"), f.Text("budget_left_out")))
	}
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
