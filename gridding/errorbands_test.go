package gridding

import (
	"math"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// The error of a band is the larger of the median mapping error and the rms of inner residuals; a band with few
// residuals has those above too; density has the errors of salinity and temperature. The numbers are worked out by
// hand.
func TestErrorBands(t *testing.T) {
	nan := math.NaN()
	g := &Grid{Axes: []Axis{{Values: []float64{100, 500, 3000}}, {Values: []float64{0, 10, 20}}}}
	add := func(name, of string, kind FieldKind, data ...float64) {
		g.Fields = append(g.Fields, Field{Variable: metadata.Variable{Name: name}, Of: of, Kind: kind, Data: data})
	}
	add("ctemp", "", Value, 15, 15, 15, 8, 8, 8, 2, 2, 2)
	add("asal", "", Value, 35, 35, 35, 35, 35, 35, 35, 35, 35)
	add("ctemp_err", "ctemp", StandardError, 0.1, 0.3, 0.2, 0.5, nan, 0.7, 0.01, 0.01, nan)
	add("asal_err", "asal", StandardError, 0.02, 0.02, 0.02, 0.01, 0.01, 0.01, 0.001, 0.001, 0.001)
	cast := &section.Cast{PressureDbar: []float64{100, 500, 3000},
		Columns: []section.Column{{Variable: metadata.Variable{Name: "asal"}, Values: []float64{35, 35, 35}},
			{Variable: metadata.Variable{Name: "ctemp"}, Values: []float64{15, 8, 2}}}}
	left := func(name string, p, residual float64, inner bool, n int) {
		for range n {
			g.LeftOut = append(g.LeftOut, LeftOut{Variable: name, Cast: cast, PressureDbar: p,
				Residual: residual, Inner: inner})
		}
	}
	left("ctemp", 100, 0.4, true, 40)
	left("ctemp", 100, 9, false, 40) // end stations do not count
	left("ctemp", 500, -0.3, true, 40)
	left("ctemp", 3000, 0.02, true, 40)
	left("asal", 100, 0, true, 1)
	want := []float64{0.4, 0.7, 0, 0.02} // no residual and no node between 1000 and 2000: below it begins anew
	for b, got := range g.ErrorBands("ctemp") {
		if b != 2 && math.Abs(got.Error-want[b]) > 1e-12 {
			t.Errorf("band from %g dbar: %g, want %g", got.TopDbar, got.Error, want[b])
		}
	}
	dense := g.ErrorBands("sigma0")
	fromHeat := math.Abs(seawater.Sigma(0, 35, 15.4) - seawater.Sigma(0, 35, 15)) // the one residual with both
	fromError := math.Hypot(seawater.Sigma(0, 35.02, 15)-seawater.Sigma(0, 35, 15),
		seawater.Sigma(0, 35, 15.2)-seawater.Sigma(0, 35, 15))
	if math.Abs(dense[0].Error-max(fromHeat, fromError)) > 1e-12 || fromHeat < 0.05 {
		t.Errorf("density: %g, want %g", dense[0].Error, max(fromHeat, fromError))
	}
	if len(g.ErrorBands("oxy")) != 4 || g.ErrorBands("oxy")[0].Error != 0 {
		t.Errorf("a field without errors: %v", g.ErrorBands("oxy"))
	}
}
