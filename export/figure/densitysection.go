package figure

import (
	"math"
	"slices"
	"sort"
	"strings"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
)

// densitySteps is how many steps a section against density has.
const densitySteps = 200

// onDensity lists the pictures of the grid against potential density.
func (s *SectionMaterial) onDensity(c *Choice) []Figure {
	if c.OnDensity == "" || s.Grid == nil {
		return nil
	}
	density := overlayOf(s.Grid, c.OnDensity)
	all := chart.ExtentOf(density)
	if !(all.Span() > 0) {
		return nil
	}
	var surfaces []float64
	for k := range densitySteps + 1 {
		surfaces = append(surfaces, all.Lo+all.Span()*float64(k)/densitySteps)
	}
	g, err := gridding.OnDensity(s.Grid, c.OnDensity, surfaces)
	if err != nil {
		return nil // without salinity and temperature there is no density
	}
	edges := edgesOf(s.Grid.Axes[1].Values, density)
	var out []Figure
	for _, v := range g.Fields {
		if v.Kind == gridding.Value && !strings.HasPrefix(v.Name, "sigma") {
			out = append(out, &Section{Name: s.Section.Name + "_" + v.Name + "_on_" + c.OnDensity, Title: s.Title,
				Section: s.Section, Grid: g, Field: v.Name, Axis: c.Axis, Scale: c.Scales[v.Name], edges: edges})
		}
	}
	return out
}

// densityEdges are the least and the greatest density in each column of a section; NaN where it has none.
type densityEdges struct{ x, least, greatest []float64 }

// edgesOf returns the edges of densities on a grid with columns at x.
func edgesOf(x, density []float64) *densityEdges {
	e := &densityEdges{x: x}
	for j := range x {
		column := chart.NoExtent()
		for k := j; k < len(density); k += len(x) {
			column.Add(density[k])
		}
		if column.Empty() {
			column.Lo, column.Hi = math.NaN(), math.NaN()
		}
		e.least, e.greatest = append(e.least, column.Lo), append(e.greatest, column.Hi)
	}
	return e
}

// carry goes on with the first and the last value of each column to the edges of the picture, so that bands run up to
// the edges of the densities, beyond which paint covers them.
func (e *densityEdges) carry(f *chart.Field) {
	n := len(f.X)
	for j := range n {
		first, last := -1, -1
		for k := j; k < len(f.Data); k += n {
			if !math.IsNaN(f.Data[k]) {
				if last = k; first < 0 {
					first = k
				}
			}
		}
		for k := j; first >= 0 && k < first; k += n {
			f.Data[k] = f.Data[first]
		}
		for k := last + n; first >= 0 && k < len(f.Data); k += n {
			f.Data[k] = f.Data[last]
		}
	}
}

// holds reports whether the water of a column, or of its neighbours, has a density.
func (e *densityEdges) holds(x, density float64) bool {
	k := min(max(sort.SearchFloat64s(e.x, x), 1), len(e.x)-1)
	t := (x - e.x[k-1]) / (e.x[k] - e.x[k-1])
	return density >= e.least[k-1]+t*(e.least[k]-e.least[k-1]) &&
		density <= e.greatest[k-1]+t*(e.greatest[k]-e.greatest[k-1])
}

// paint covers what lies beyond the edges.
func (e *densityEdges) paint(s *page.Scene, fr *chart.Frame) {
	for _, side := range []struct {
		edge []float64
		y    float64
	}{{e.least, fr.T}, {e.greatest, fr.B}} {
		var run []page.Point
		for k := range e.x {
			if !math.IsNaN(side.edge[k]) {
				run = append(run, page.Pt(fr.X(e.x[k]), max(fr.T, min(fr.B, fr.Y(side.edge[k])))))
			}
			if len(run) > 1 && (k == len(e.x)-1 || math.IsNaN(side.edge[k])) {
				run = page.Simplify(run)
				ring := append(slices.Clone(run), page.Pt(run[len(run)-1].X, side.y), page.Pt(run[0].X, side.y))
				chart.Hatched(s, page.Path{ring}, chart.NoValue, chart.NoValueAngle)
				s.Stroke(page.Path{run}, chart.InkThin)
			}
			if math.IsNaN(side.edge[k]) {
				run = nil
			}
		}
	}
}
