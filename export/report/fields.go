package report

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// allNodes is how many nodes of one variable the page carries in all sections together, and mostNodes and mostRows how
// many of one section.
const (
	allNodes  = 24000
	mostNodes = 6000
	mostRows  = 80
)

// addSections adds the fields of all sections and returns what the template writes of them.
func (d *data) addSections(m *Material, a *album) []sectionView {
	var out []sectionView
	nodes := min(mostNodes, allNodes/max(1, len(m.Sections)))
	for i := range m.Sections {
		s := &m.Sections[i]
		v := sectionView{ID: fmt.Sprintf("section-%d", i+1), Name: s.Name, Title: s.Title, Summary: s.Summary}
		grid, flow := -1, -1
		for _, f := range s.Figures {
			x, p := a.put(f)
			if p == nil {
				continue
			}
			if x.SVG == "" {
				v.Elsewhere = append(v.Elsewhere, x.Links...)
				continue
			}
			fd := fieldData{Figure: x.ID, Size: [2]float64{page2(p.scene.W), page2(p.scene.H)}}
			for _, q := range p.scene.Panels {
				q.L, q.T, q.R, q.B = page2(q.L), page2(q.T), page2(q.R), page2(q.B)
				fd.Panels = append(fd.Panels, q)
			}
			switch f := f.(type) {
			case *figure.Section:
				if grid < 0 {
					grid = d.addGrid(m, s, nodes)
				}
				fd.Grid = grid
				d.fillField(&fd, s, f.Field)
			case *figure.Velocity:
				if flow < 0 {
					flow = d.addPairs(s, nodes)
				}
				fd.Grid = flow
				d.fillVelocity(&fd, s.Flow)
			default:
				continue
			}
			x.Short = d.Variables[fd.Variable].Title
			d.Fields = append(d.Fields, fd)
			v.Figures = append(v.Figures, x)
		}
		v.Thinned = d.thinned(grid, flow)
		out = append(out, v)
	}
	return out
}

// thinned says which nodes of the grid and of the pairs of a section the page carries; -1 is none.
func (d *data) thinned(grid, flow int) string {
	var parts []string
	for _, i := range []int{grid, flow} {
		if i < 0 {
			continue
		}
		g := &d.Grids[i]
		along := ordinal(g.Every[1]) + " " + map[string]string{"distance": "column",
			"pair": "pair of stations"}[g.Along]
		if g.Every == [2]int{1, 1} {
			parts = append(parts, "every node of "+g.File)
		} else {
			parts = append(parts, fmt.Sprintf("every %s level and every %s of %s",
				strings.TrimSpace(ordinal(g.Every[0])), strings.TrimSpace(along), g.File))
		}
	}
	if parts == nil {
		return ""
	}
	return "Values below the figure are those of " + strings.Join(parts, ", and of ") +
		". The figures are drawn from all nodes."
}

func ordinal(n int) string {
	switch {
	case n == 1:
		return ""
	case n%10 == 1 && n%100 != 11:
		return fmt.Sprintf("%dst", n)
	case n%10 == 2 && n%100 != 12:
		return fmt.Sprintf("%dnd", n)
	case n%10 == 3 && n%100 != 13:
		return fmt.Sprintf("%drd", n)
	}
	return fmt.Sprintf("%dth", n)
}

// steps returns every how many rows and columns of a grid the page carries.
func steps(rows, columns, nodes int) [2]int {
	down := every(rows, mostRows)
	return [2]int{down, every(columns, max(2, nodes/((rows+down-1)/down)))}
}

// addGrid adds the nodes of a section's grid.
func (d *data) addGrid(m *Material, s *Section, nodes int) int {
	g := s.Grid
	y, x := &g.Axes[0], &g.Axes[1]
	e := gridData{File: "sections/" + s.Name + "_grid.nc", Down: y.Name, Unit: figure.UnitText(&y.Variable),
		Along: "distance", Every: steps(len(y.Values), len(x.Values), nodes)}
	for i := 0; i < len(y.Values); i += e.Every[0] {
		e.Y = append(e.Y, number(y.Values[i], 3))
	}
	if y.Name == "pres" {
		e.Depth = d.depths(y.Values, e.Every[0], s.Section.Casts)
	}
	for j := 0; j < len(x.Values); j += e.Every[1] {
		e.X = append(e.X, number(x.Values[j], 2))
		at := "position unknown"
		if j < len(g.Track) {
			at = where(g.Track[j][1], g.Track[j][0])
		}
		e.Where = append(e.Where, at)
		d.near(&e, s.Section, x.Values[j], m)
	}
	d.Grids = append(d.Grids, e)
	return len(d.Grids) - 1
}

// near adds the cast of a section that is nearest to a distance along it.
func (d *data) near(e *gridData, s *section.Section, km float64, m *Material) {
	best := 0
	for i := range s.Casts {
		if math.Abs(s.DistanceKm[i]-km) < math.Abs(s.DistanceKm[best]-km) {
			best = i
		}
	}
	k := s.Casts[best]
	if _, ok := d.cast[k]; !ok { // the mean of several casts of a station
		d.addCast(k, shownNames(m))
	}
	e.Near = append(e.Near, d.cast[k])
	e.AwayKm = append(e.AwayKm, number(math.Abs(s.DistanceKm[best]-km), 1))
}

// fillField adds the values of a field at the nodes, its errors, and the flags of the nearest casts.
func (d *data) fillField(fd *fieldData, s *Section, name string) {
	e := &d.Grids[fd.Grid]
	var value, errs, reason, below []float64
	for i := range s.Grid.Fields {
		switch f := &s.Grid.Fields[i]; {
		case f.Kind == gridding.Value && f.Name == name:
			value = f.Data
			fd.Variable = d.variableOf(&f.Variable, decimalsOf(f.Data))
		case f.Of == name && f.Kind == gridding.StandardError:
			errs = f.Data
		case f.Of == name && f.Kind == gridding.MaskReason:
			reason = f.Data
		case f.Of == name && f.Kind == gridding.Extrapolated:
			below = f.Data
		}
	}
	decimals := d.Variables[fd.Variable].Decimals
	y, columns := s.Grid.Axes[0].Values, len(s.Grid.Axes[1].Values)
	for i := 0; i < len(y); i += e.Every[0] {
		for j := 0; j < columns; j += e.Every[1] {
			n := i*columns + j
			v := whole(value[n], decimals)
			if v == nothing {
				r := 0
				if reason != nil && reason[n] > 0 && int(reason[n]) < len(gridding.MaskReasons()) {
					r = int(reason[n])
				}
				v = because(r)
			} else if below != nil && int(below[n]) == gridding.Extended {
				fd.Below = append(fd.Below, len(fd.Values))
			}
			fd.Values = append(fd.Values, v)
			fd.Errors = append(fd.Errors, errorAt(errs, n, decimals))
		}
	}
	d.flagsNear(fd, e, y, name)
}

// because is a reason among data.Reasons.
func because(reason int) numeral { return numeral(fmt.Sprintf(`"%d"`, reason)) }

func errorAt(errs []float64, n, decimals int) numeral {
	if errs == nil {
		return nothing
	}
	return whole(errs[n], decimals)
}

func decimalsOf(values []float64) int {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if !math.IsNaN(v) {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	return decimalsFor(lo, hi)
}

// flagsNear adds the flag that the nearest cast of each node has at its pressure.
func (d *data) flagsNear(fd *fieldData, e *gridData, y []float64, name string) {
	fd.Flags = map[int]string{}
	if e.Down != "pres" {
		return
	}
	for _, n := range e.Near {
		if _, done := fd.Flags[n]; done {
			continue
		}
		k := d.list[n]
		col := k.Column(name)
		var b strings.Builder
		for i := 0; i < len(y); i += e.Every[0] {
			step := 2.0
			if len(y) > 1 {
				step = max(step, y[min(i+1, len(y)-1)]-y[min(i+1, len(y)-1)-1])
			}
			b.WriteByte(flagAt(k, col, y[i], step))
		}
		fd.Flags[n] = b.String()
	}
}

// flagAt returns the digit of the flag of a value of the cast that is at most within dbar from a pressure; '-' where
// there is none.
func flagAt(k *section.Cast, col *section.Column, dbar, within float64) byte {
	best := -1
	for i, p := range k.PressureDbar {
		if off := math.Abs(p - dbar); col != nil && off <= within && !math.IsNaN(col.Values[i]) &&
			(best < 0 || off < math.Abs(k.PressureDbar[best]-dbar)) {
			best = i
		}
	}
	if best < 0 {
		return '-'
	}
	return flagDigit(col, best)
}

// pairAxis returns the pressures of the velocities of a section: the common ones, else those of all pairs.
func pairAxis(r *geostrophy.Result) []float64 {
	if r.PressureDbar != nil {
		return r.PressureDbar
	}
	var all []float64
	for i := range r.Pairs {
		all = append(all, r.Pairs[i].PressureDbar...)
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// addPairs adds the nodes of a section's velocities: pairs of stations by pressure.
func (d *data) addPairs(s *Section, nodes int) int {
	r := s.Flow
	axis := pairAxis(r)
	e := gridData{File: "sections/" + s.Name + "_geostrophy.nc", Down: "pres", Unit: "dbar", Along: "pair",
		Every: steps(len(axis), len(r.Pairs), nodes), Y: []json.Number{}}
	for i := 0; i < len(axis); i += e.Every[0] {
		e.Y = append(e.Y, number(axis[i], 3))
	}
	e.Depth = d.depths(axis, e.Every[0], s.Section.Casts)
	for j := 0; j < len(r.Pairs); j += e.Every[1] {
		p := &r.Pairs[j]
		a, b := r.Stations[p.A].Cast, r.Stations[p.B].Cast
		e.X = append(e.X, number((p.FromKm+p.ToKm)/2, 2))
		e.Where = append(e.Where, where(p.Midpoint[1], p.Midpoint[0]))
		e.Pairs = append(e.Pairs, "stations "+a.Station+" and "+b.Station)
		e.Near = append(e.Near, d.cast[a])
		e.AwayKm = append(e.AwayKm, number(p.LengthKm/2, 1))
	}
	d.Grids = append(d.Grids, e)
	return len(d.Grids) - 1
}

// fillVelocity adds the velocities at the nodes and their errors.
func (d *data) fillVelocity(fd *fieldData, r *geostrophy.Result) {
	e := &d.Grids[fd.Grid]
	v := metadata.MustVariable("velocity")
	fd.Variable = d.variableOf(&v, 4)
	decimals := d.Variables[fd.Variable].Decimals
	axis := pairAxis(r)
	var columns, errs [][]float64
	for j := 0; j < len(r.Pairs); j += e.Every[1] {
		p := &r.Pairs[j]
		columns = append(columns, geostrophy.Spread(make([]float64, len(axis)), axis, p.PressureDbar, p.Velocity))
		errs = append(errs, geostrophy.Spread(make([]float64, len(axis)), axis, p.PressureDbar, p.VelocityErr))
	}
	for i := 0; i < len(axis); i += e.Every[0] {
		for j := range columns {
			x := whole(columns[j][i], decimals)
			if x == nothing {
				x = because(len(gridding.MaskReasons()))
			}
			fd.Values = append(fd.Values, x)
			fd.Errors = append(fd.Errors, whole(errs[j][i], decimals))
		}
	}
	fd.Flags = map[int]string{}
}

// A product is a file of the archive and the steps that made it, in words.
type product struct {
	Path, Href string
	Steps      []step
}

type step struct {
	What     string
	Settings string
	Inputs   string
}

// products says of each file in the archive what it was made from.
func products(records []metadata.Record) []product {
	var out []product
	at := map[string]int{}
	for i := range records {
		r := &records[i]
		s := step{What: strings.TrimSuffix(r.Step+": "+r.Text, ": "), Settings: settingsText(r.Params),
			Inputs: inputsText(r.Inputs)}
		for _, rel := range r.Outputs {
			k, ok := at[rel]
			if !ok {
				k = len(out)
				at[rel] = k
				out = append(out, product{Path: rel, Href: linkTo(rel)})
			}
			out[k].Steps = append(out[k].Steps, s)
		}
	}
	return joinPictures(out)
}

// joinPictures says once of all pictures how they were made.
func joinPictures(all []product) []product {
	var out []product
	pictures := -1
	for _, p := range all {
		if !strings.HasPrefix(p.Path, "figures/") {
			out = append(out, p)
			continue
		}
		if pictures < 0 {
			pictures = len(out)
			out = append(out, product{Path: "figures/", Href: "./figures/", Steps: p.Steps})
		}
	}
	return out
}

func settingsText(ps []metadata.Param) string {
	var out []string
	for i := range ps {
		if ps[i].Value != "" {
			out = append(out, strings.ReplaceAll(ps[i].Label(), "_", " ")+" "+clip(ps[i].Value, 200))
		}
	}
	return strings.Join(out, "; ")
}

// clip shortens a long list of numbers.
func clip(s string, most int) string {
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return string(r[:most]) + " … (whole in provenance/prov.json)"
}

// inputsText names the inputs of a step, or says how many they are.
func inputsText(in []metadata.Digest) string {
	const most = 4
	var names []string
	for _, x := range in {
		if len(names) == most {
			return fmt.Sprintf("%s and %d more", strings.Join(names, ", "), len(in)-most)
		}
		names = append(names, x.Name)
	}
	return strings.Join(names, ", ")
}
