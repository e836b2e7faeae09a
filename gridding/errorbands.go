package gridding

import (
	"math"
	"slices"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// An ErrorBand is the error of a field in a band of pressure.
type ErrorBand struct {
	TopDbar, BottomDbar float64
	// Error is the larger of the median mapping error and the rms of what leaving each station out misses; 0: neither
	// is known
	Error float64
}

// ErrorBands returns the error of a field in the bands of pressure of the signal variance. A band with few
// residuals has those of the band above too. Potential density, which is computed from other fields, has their errors.
// A grid on surfaces of density has one band, which is of all of them.
func (g *Grid) ErrorBands(name string) []ErrorBand {
	if _, ok := sigmaOf(g.Axes[0].Name); ok {
		known := slices.DeleteFunc(slices.Clone(g.mappingErrors(name)), math.IsNaN)
		if len(known) == 0 {
			return nil
		}
		return []ErrorBand{{TopDbar: math.Inf(-1), BottomDbar: math.Inf(1), Error: median(known)}}
	}
	mapped, residuals := g.mappingErrors(name), g.residualsOf(name)
	perLevel := 1
	for _, a := range g.Axes[1:] {
		perLevel *= len(a.Values)
	}
	var out []ErrorBand
	sum, n := 0.0, 0.0
	for b := 0; b+1 < len(bandEdges); b++ {
		band := ErrorBand{TopDbar: bandEdges[b], BottomDbar: bandEdges[b+1]}
		if n >= fewest {
			sum, n = 0, 0
		}
		own := 0
		for _, r := range residuals {
			if r.p >= band.TopDbar && r.p < band.BottomDbar && !math.IsNaN(r.residual) {
				sum += r.residual * r.residual
				n++
				own++
			}
		}
		var errors []float64
		for k, e := range mapped {
			if p := g.Axes[0].Values[k/perLevel]; p >= band.TopDbar && p < band.BottomDbar && !math.IsNaN(e) {
				errors = append(errors, e)
			}
		}
		if len(errors) > 0 {
			slices.Sort(errors)
			band.Error = errors[len(errors)/2]
		}
		if n > 0 {
			band.Error = max(band.Error, math.Sqrt(sum/n))
		}
		if len(out) > 0 && own < fewest && len(errors) == 0 {
			band.Error = out[len(out)-1].Error
		}
		out = append(out, band)
	}
	return out
}

// mappingErrors returns the standard error at each node; nil when there is none.
func (g *Grid) mappingErrors(name string) []float64 {
	for _, f := range g.Fields {
		if f.Of == name && f.Kind == StandardError {
			return f.Data
		}
	}
	thousands, ok := sigmaOf(name)
	salt, heat := g.field("asal"), g.field("ctemp")
	if !ok || salt == nil || heat == nil {
		return nil
	}
	es, et := g.mappingErrors("asal"), g.mappingErrors("ctemp")
	if es == nil || et == nil {
		return nil
	}
	out := make([]float64, len(salt.Data))
	for k := range out {
		bySalt, byHeat := sigmaChange(thousands, salt.Data[k], heat.Data[k], es[k], 0),
			sigmaChange(thousands, salt.Data[k], heat.Data[k], 0, et[k])
		out[k] = math.Hypot(bySalt, byHeat)
	}
	return out
}

// residualsOf returns the residuals of inner stations that were left out.
func (g *Grid) residualsOf(name string) []leftOut {
	var out []leftOut
	for _, d := range g.LeftOut {
		if d.Variable == name && d.Inner {
			out = append(out, leftOut{p: d.PressureDbar, residual: d.Residual})
		}
	}
	thousands, ok := sigmaOf(name)
	if len(out) > 0 || !ok {
		return out
	}
	type place struct {
		cast *section.Cast
		p    float64
	}
	heat := map[place]float64{}
	for _, d := range g.LeftOut {
		if d.Variable == "ctemp" && d.Inner {
			heat[place{d.Cast, d.PressureDbar}] = d.Residual
		}
	}
	for _, d := range g.LeftOut {
		r, both := heat[place{d.Cast, d.PressureDbar}]
		if d.Variable != "asal" || !both {
			continue
		}
		sa, ct := d.Cast.Column("asal"), d.Cast.Column("ctemp")
		k, _ := slices.BinarySearch(d.Cast.PressureDbar, d.PressureDbar)
		if k = min(k, d.Cast.Levels()-1); sa != nil && ct != nil && k >= 0 {
			change := sigmaChange(thousands, sa.Values[k], ct.Values[k], d.Residual, r)
			out = append(out, leftOut{p: d.PressureDbar, residual: change})
		}
	}
	return out
}

// sigmaChange returns by how much potential density changes with salinity and temperature.
func sigmaChange(thousands int, sa, ct, bySalt, byHeat float64) float64 {
	return seawater.Sigma(thousands, sa+bySalt, ct+byHeat) - seawater.Sigma(thousands, sa, ct)
}

// sigmaOf returns the reference pressure, in thousands of dbar, of a potential density.
func sigmaOf(name string) (thousands int, ok bool) {
	if len(name) != 6 || name[:5] != "sigma" || name[5] < '0' || name[5] > '4' {
		return 0, false
	}
	return int(name[5] - '0'), true
}
