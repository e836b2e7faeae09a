package gridding

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/seawater"
)

// ErrNoDensity is returned for a grid without the density that is asked for, and without asal and ctemp to compute it.
var ErrNoDensity = errors.New("the grid has neither this density nor both asal and ctemp")

// OnDensity returns a grid with surfaces of equal potential density (name: sigma0 ... sigma4; kg/m3, increasing) in
// place of pressure. In each column a surface lies at the pressure at which the density of the grid crosses its value,
// straight between levels; where density falls with pressure, the densities of the column are sorted downward first.
// Values and errors of the fields are taken at that pressure, straight between levels; pres is the pressure itself, its
// error to first order that of the density over its gradient. Where a surface has no value the reason is AboveFirst
// (it is lighter than the lightest water of the column), that of the grid below its deepest value, or InGap.
func OnDensity(g *Grid, name string, surfaces []float64) (*Grid, error) {
	sigma := g.density(name)
	thousands, ok := sigmaOf(name)
	if sigma == nil || !ok {
		return nil, fmt.Errorf("grid %s on %s: %w", g.Name, name, ErrNoDensity)
	}
	for k := 1; k < len(surfaces); k++ {
		if !(surfaces[k] > surfaces[k-1]) {
			return nil, fmt.Errorf("grid %s on %s: %w: surfaces do not increase", g.Name, name, ErrUnknown)
		}
	}
	nl, columns := len(g.Axes[0].Values), len(sigma)/len(g.Axes[0].Values)
	c := &crossings{g: g, nl: nl, columns: columns, sigma: sigma, errors: g.mappingErrors(name),
		mask: g.maskOf(name), at: make([]crossing, len(surfaces)*columns)}
	for k := range columns {
		c.column(k, surfaces)
	}
	out := &Grid{Name: g.Name + "_" + name, Track: g.Track, BottomM: g.BottomM, Bottom: g.Bottom,
		Axes: append([]Axis{{Variable: variable(name), Values: surfaces}}, g.Axes[1:]...)}
	out.Params = append(slices.Clone(g.Params), words("surfaces", fmt.Sprintf("pressures at which %s of the grid "+
		"crosses each value, densities of a column sorted downward; values straight in pressure between levels", name)))
	out.Results = slices.DeleteFunc(slices.Clone(g.Results), func(p metadata.Param) bool {
		return p.Name != "chosen" // the others count nodes of the grid
	})
	out.Fields = append(out.Fields, c.pressures(thousands)...)
	for i := range g.Fields {
		f := &g.Fields[i]
		of := f.Name
		if f.Kind != Value {
			of = f.Of
		}
		if of != name && f.Kind != CountField && f.Kind != Extrapolated {
			out.Fields = append(out.Fields, c.field(f))
		}
	}
	return out, nil
}

// density returns a potential density at each node: a field of the grid, or computed from its salinity and temperature;
// nil when it has neither.
func (g *Grid) density(name string) []float64 {
	if f := g.field(name); f != nil {
		return f.Data
	}
	thousands, ok := sigmaOf(name)
	salt, heat := g.field("asal"), g.field("ctemp")
	if !ok || salt == nil || heat == nil {
		return nil
	}
	return seawater.Sigmas(make([]float64, len(salt.Data)), thousands, salt.Data, heat.Data)
}

// maskOf returns the reasons of a field, or of the salinity that a density is computed from; nil without any.
func (g *Grid) maskOf(name string) []float64 {
	for _, of := range []string{name, "asal"} {
		for _, f := range g.Fields {
			if f.Kind == MaskReason && f.Of == of {
				return f.Data
			}
		}
	}
	return nil
}

// A crossing is where a surface lies in a column: between a level and the next, a share of the way down.
type crossing struct {
	level  int // -1: nowhere
	share  float64
	dbar   float64
	slope  float64 // density per dbar
	reason float64
}

// crossings are where surfaces lie in the columns of a grid.
type crossings struct {
	g           *Grid
	nl, columns int
	sigma       []float64
	errors      []float64 // of the density; nil: not known
	mask        []float64 // reasons; nil: not known
	at          []crossing
	sorted      []float64
}

// column finds the surfaces in one column, run by run of levels with a density.
func (c *crossings) column(k int, surfaces []float64) {
	for n := range surfaces {
		c.at[n*c.columns+k] = crossing{level: -1, reason: c.reasonAt(0, k)}
	}
	held := false
	for from := 0; from < c.nl; {
		to := from
		for to < c.nl && !math.IsNaN(c.sigma[to*c.columns+k]) {
			to++
		}
		if to == from {
			from++
			continue
		}
		c.sorted = c.sorted[:0]
		for i := from; i < to; i++ {
			c.sorted = append(c.sorted, c.sigma[i*c.columns+k])
		}
		slices.Sort(c.sorted)
		for n, s := range surfaces {
			q := &c.at[n*c.columns+k]
			last := len(c.sorted) - 1
			switch {
			case q.level >= 0:
			case s < c.sorted[0]:
				if !held {
					q.reason = AboveFirst
				} else if q.reason != AboveFirst {
					q.reason = InGap
				}
			case s > c.sorted[last]:
				q.reason = c.reasonAt(to, k)
			default:
				c.cross(q, from, s)
			}
		}
		held = true
		from = to
	}
}

// cross notes where a surface lies in the run of sorted densities that begins at a level.
func (c *crossings) cross(q *crossing, from int, s float64) {
	p := c.g.Axes[0].Values
	i, _ := slices.BinarySearch(c.sorted, s) // the first that is not lighter
	if i > 0 {
		i--
	}
	q.level, q.reason = from+i, NotMasked
	if i+1 == len(c.sorted) { // a run of one level
		q.dbar = p[from+i]
		return
	}
	step := c.sorted[i+1] - c.sorted[i]
	if step > 0 {
		q.share = (s - c.sorted[i]) / step
	}
	depth := p[from+i+1] - p[from+i]
	q.dbar, q.slope = p[from+i]+float64(q.share*depth), step/depth
}

// reasonAt returns why a level of a column has no value: NoData beyond the last level, and where no reason is known.
func (c *crossings) reasonAt(level, k int) float64 {
	if level < c.nl && c.mask != nil && c.mask[level*c.columns+k] != NotMasked {
		return c.mask[level*c.columns+k]
	}
	return NoData
}

// pressures returns the pressure of the surfaces with its error, where that of the density is known, and the reasons.
func (c *crossings) pressures(thousands int) []Field {
	v := variable("pres")
	v.LongName = fmt.Sprintf("pressure of the surface of potential density referred to %d dbar", 1000*thousands)
	v.Comment = "where the density of the grid crosses the value of the surface"
	dbar, reasons := make([]float64, len(c.at)), make([]float64, len(c.at))
	for i, q := range c.at {
		if reasons[i], dbar[i] = q.reason, math.NaN(); q.level >= 0 {
			dbar[i] = q.dbar
		}
	}
	out := []Field{{Variable: v, Data: dbar}}
	if c.errors != nil {
		e := companion(v, "_err", "error of the pressure of the surface, one standard error", v.Units)
		e.Comment = "to first order: mapping error of the density over its gradient in pressure"
		data := c.between(c.errors)
		for i, q := range c.at {
			data[i] /= q.slope
			if math.IsInf(data[i], 0) {
				data[i] = math.NaN()
			}
		}
		out = append(out, Field{Variable: e, Data: data, Of: v.Name, Kind: StandardError})
	}
	return append(out, Field{Variable: companion(v, "_mask", "reason why the surface is not there", "1"), Data: reasons,
		Of: v.Name, Kind: MaskReason})
}

// field returns a field of the grid on the surfaces.
func (c *crossings) field(f *Field) Field {
	out := Field{Variable: f.Variable, Of: f.Of, Kind: f.Kind}
	if f.Kind != MaskReason {
		out.Data = c.between(f.Data)
		if f.Kind != Value {
			out.Comment = "that of the grid at the pressure of the surface"
		}
		return out
	}
	out.Data = make([]float64, len(c.at))
	for i, q := range c.at {
		out.Data[i] = q.reason
		for l := q.level; q.level >= 0 && l < min(q.level+2, c.nl) && (l == q.level || q.share > 0); l++ {
			out.Data[i] = max(out.Data[i], f.Data[l*c.columns+i%c.columns])
		}
	}
	return out
}

// between returns data of the grid at the surfaces, straight between the two levels around each; NaN where one has
// none.
func (c *crossings) between(data []float64) []float64 {
	out := make([]float64, len(c.at))
	for i, q := range c.at {
		if out[i] = math.NaN(); q.level < 0 {
			continue
		}
		k := q.level*c.columns + i%c.columns
		if out[i] = data[k]; q.share > 0 {
			out[i] += float64(q.share * (data[k+c.columns] - data[k]))
		}
	}
	return out
}
