package gridding

import (
	"errors"
	"math"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// layered is a grid of one section of given densities, column by column, with ctemp = 20 - p/100 and an error of it.
func layered(p []float64, sigma ...[]float64) *Grid {
	n := len(sigma)
	g := &Grid{Name: "line", Axes: []Axis{{Variable: variable("pres"), Values: p}, {Variable: variable("distance")}},
		BottomM: make([]float64, n), Track: make([]orb.Point, n)}
	density, heat := make([]float64, len(p)*n), make([]float64, len(p)*n)
	fault, why := make([]float64, len(p)*n), make([]float64, len(p)*n)
	for k, column := range sigma {
		g.Axes[1].Values = append(g.Axes[1].Values, float64(k))
		for i := range p {
			density[i*n+k], heat[i*n+k], fault[i*n+k] = column[i], 20-p[i]/100, p[i]/1000
			if math.IsNaN(column[i]) {
				heat[i*n+k], fault[i*n+k], why[i*n+k] = math.NaN(), math.NaN(), InGap
				if i > 0 && math.IsNaN(column[len(p)-1]) {
					why[i*n+k] = BelowBottom
				}
			}
		}
	}
	v := variable("ctemp")
	g.Results = []metadata.Param{words("chosen", "linear"), quantity("held_to_data", 3), quantity("inversions", 1)}
	g.Fields = []Field{{Variable: variable("sigma0"), Data: density},
		{Variable: companion(variable("sigma0"), "_err", "", "kg m-3"), Data: fault, Of: "sigma0", Kind: StandardError},
		{Variable: v, Data: heat}, {Variable: companion(v, "_err", "", v.Units), Data: fault, Of: v.Name,
			Kind: StandardError}, {Variable: companion(v, "_mask", "", "1"), Data: why, Of: v.Name, Kind: MaskReason},
		{Variable: companion(variable("sigma0"), "_mask", "", "1"), Data: why, Of: "sigma0", Kind: MaskReason}}
	return g
}

// Where density is linear in pressure, and temperature too, a surface lies where the straight line has it.
func TestOnDensity(t *testing.T) {
	nan := math.NaN()
	g := layered([]float64{0, 100, 200, 300, 400}, []float64{25, 25.5, 26, 26.5, 27},
		[]float64{26.2, 26.3, 26.4, nan, nan},
		[]float64{25, 26, 25.4, 26.4, 26.8}, []float64{25, 25.4, nan, 26, 26.4}, []float64{nan, nan, nan, nan, nan})
	out, err := OnDensity(g, "sigma0", []float64{25.25, 25.6, 26.35})
	if err != nil || out.Name != "line_sigma0" || out.field("sigma0") != nil {
		t.Fatal(out, err)
	}
	pres, heat := out.field("pres").Data, out.field("ctemp").Data
	why := out.maskOf("ctemp")
	// third column, sorted: 25, 25.4, 26, 26.4, 26.8
	want := [3][5]float64{{50, nan, 62.5, 62.5, nan}, {120, nan, 400. / 3, nan, nan}, {270, 150, 287.5, 387.5, nan}}
	reasons := [3][5]float64{{0, AboveFirst, 0, 0, BelowBottom}, {0, AboveFirst, 0, InGap, BelowBottom},
		{0, 0, 0, 0, BelowBottom}}
	reasons[0][4], reasons[1][4], reasons[2][4] = InGap, InGap, InGap // the reason of the first level of that column
	for n := range want {
		for k, p := range want[n] {
			i := n*5 + k
			if math.Abs(pres[i]-p) > 1e-9 || math.IsNaN(pres[i]) != math.IsNaN(p) ||
				math.Abs(heat[i]-(20-p/100)) > 1e-9 || math.IsNaN(heat[i]) != math.IsNaN(p) {
				t.Errorf("surface %d, column %d: %g dbar, %g degC, want %g", n, k, pres[i], heat[i], p)
			}
			if why[i] != reasons[n][k] || out.maskOf("pres")[i] != reasons[n][k] {
				t.Errorf("surface %d, column %d: reason %g, want %g", n, k, why[i], reasons[n][k])
			}
		}
	}
	if len(out.Results) != 1 ||
		out.Results[0].Name != "chosen" { // what counts nodes of the grid is not of the surfaces
		t.Errorf("results %v", out.Results)
	}
	// A variable that one of the two levels around a surface lacks has no value there, for the reason of that level.
	g.field("ctemp").Data[2*5], g.maskOf("ctemp")[2*5] = nan, InGap
	if out, err = OnDensity(g, "sigma0", []float64{25.5, 25.6}); err != nil {
		t.Fatal(err)
	}
	heat, why = out.field("ctemp").Data, out.maskOf("ctemp")
	if heat[0] != 19 || why[0] != NotMasked || !math.IsNaN(heat[5]) || why[5] != InGap || out.maskOf("pres")[5] != 0 {
		t.Errorf("beside a missing value: %g degC for reason %g, %g for %g", heat[0], why[0], heat[5], why[5])
	}
	if out, err = OnDensity(g, "sigma0", []float64{26.35}); err != nil {
		t.Fatal(err)
	}
	// At 270 dbar the error of ctemp is 0.27; that of the density, the same, over 0.005 kg/m3 per dbar, is 54 dbar.
	if e := out.mappingErrors("ctemp")[0]; math.Abs(e-0.27) > 1e-12 {
		t.Errorf("error of ctemp %g", e)
	}
	if e := out.mappingErrors("pres")[0]; math.Abs(e-54) > 1e-9 {
		t.Errorf("error of pressure %g", e)
	}
	if b := out.ErrorBands("ctemp"); len(b) != 1 || !(b[0].Error > 0) {
		t.Errorf("error bands %v", b)
	}
	if _, err := OnDensity(g, "sigma2", []float64{36}); !errors.Is(err, ErrNoDensity) {
		t.Errorf("without salinity: %v", err)
	}
	if _, err := OnDensity(g, "sigma0", []float64{26, 26}); !errors.Is(err, ErrUnknown) {
		t.Errorf("surfaces that do not increase: %v", err)
	}
}

// On the surfaces of a mapped section the density of its salinity and temperature is that of the surface, to what
// straight lines between levels leave.
func TestDensityOnSurfaces(t *testing.T) {
	o := newOcean(5, true)
	g, _, err := Map(o.sample(5, 9, true), Options{Method: Linear, StepKm: 10, StepDbar: 5})
	if err != nil {
		t.Fatal(err)
	}
	values := []float64{26, 26.5, 27}
	out, err := OnDensity(g, "sigma0", values)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	salt, heat := out.field("asal").Data, out.field("ctemp").Data
	columns := len(out.Axes[1].Values)
	for i := range salt {
		if !math.IsNaN(salt[i]) {
			n++
			if d := seawater.Sigma0(salt[i], heat[i]) - values[i/columns]; math.Abs(d) > 0.002 {
				t.Errorf("surface %g: density off by %g", values[i/columns], d)
			}
		}
	}
	if n < columns {
		t.Errorf("%d values on the surfaces of %d columns", n, columns)
	}
}
