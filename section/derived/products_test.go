package derived

import (
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/checkvalues"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/seawater"
)

func within(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g within %g", what, got, want, tol)
	}
}

// Source: rossby_checks.csv (scipy); tolerance 1e-9 relative (science section 13).
func TestBaroclinicMode(t *testing.T) {
	casts := checkvalues.Table(t, "teos10_check_casts.csv")
	for _, row := range checkvalues.Table(t, "rossby_checks.csv") {
		lat := parse(t, row["lat"])
		var d, n2 []float64
		bottom := 4000.0
		if name, ok := strings.CutPrefix(row["profile"], "teos10_check_mid.csv cast "); ok {
			for _, mid := range checkvalues.Table(t, "teos10_check_mid.csv") {
				if mid["cast"] == name {
					d = append(d, -seawater.Height(parse(t, mid["p_mid"]), lat))
					n2 = append(n2, parse(t, mid["N2"]))
				}
			}
			for _, c := range casts {
				if c["cast"] == name {
					bottom = -seawater.Height(parse(t, c["p"]), lat)
				}
			}
		} else {
			k := 40
			if strings.HasPrefix(row["levels"], "400") {
				k = 400
			}
			for i := range k {
				x := (float64(i) + 0.5) * bottom / float64(k)
				d = append(d, x)
				if row["profile"] == "N2 = 4e-6" {
					n2 = append(n2, 4e-6)
				} else {
					n2 = append(n2, math.Pow(5.2e-3*math.Exp(-x/1300), 2))
				}
			}
		}
		eigen, wkb, radius := parse(t, row["c1_eigen_ms"]), parse(t, row["c1_wkb_ms"]),
			parse(t, row["rossby_radius_eigen_m"])
		c := FirstBaroclinicSpeed(d, n2, bottom)
		within(t, row["profile"]+" eigenvalue", c, eigen, 1e-9*eigen)
		within(t, row["profile"]+" WKB", FirstBaroclinicSpeedWKB(d, n2, bottom), wkb, 1e-9*wkb)
		within(t, row["profile"]+" radius", RossbyRadius(c, lat), radius, 1e-9*radius)
	}
	// Within 5 degrees: sqrt(c/(2 beta)), beta 2.28e-11 1/(m s) (science section 8 and 12).
	within(t, "equatorial radius", RossbyRadius(2.5, -3), math.Sqrt(2.5/4.56e-11), 1e-6)
	for _, x := range [][2]float64{{FirstBaroclinicSpeed([]float64{5}, []float64{1e-6}, 10), 0},
		{FirstBaroclinicSpeedWKB(nil, nil, 10), 0}, {FirstBaroclinicSpeed([]float64{5, 20}, []float64{1e-6, 1e-6}, 10),
			0}} {
		if !math.IsNaN(x[0]) {
			t.Errorf("%g from too few levels", x[0])
		}
	}
}

// Profiles with a layer mixed by construction: the limits are crossed on straight lines whose place is known.
func TestMixedLayer(t *testing.T) {
	var p, sa, ct []float64
	for x := 2.0; x <= 300; x += 2 {
		p, sa = append(p, x), append(sa, 35)
		ct = append(ct, 20-0.1*math.Max(0, x-50)) // 0.2 degC below at 52 dbar
	}
	byT, byD := MixedLayer(sa, ct, p)
	within(t, "temperature", byT, 52, 1e-9)
	// 0.03 kg/m3 at the slope of sigma0 (alpha rho).
	s0 := seawater.Sigma0(35, 20)
	per := (seawater.Sigma0(35, 19.8) - s0) / 2
	within(t, "density", byD, 50+0.03/per, 0.01)
	// Warming downward counts by temperature.
	for i := range ct {
		ct[i] = 40 - ct[i] - 10
	}
	byT, byD = MixedLayer(sa, ct, p)
	within(t, "warmer below", byT, 52, 1e-9)
	if !math.IsNaN(byD) {
		t.Errorf("density is not reached, got %g", byD)
	}
	// The first level, at 12 dbar, is taken for 10; at 16 there is none.
	byT, _ = MixedLayer(sa[5:], ct[5:], p[5:])
	within(t, "from 12 dbar", byT, 52, 1e-9)
	if byT, byD := MixedLayer(sa[7:], ct[7:], p[7:]); !math.IsNaN(byT) || !math.IsNaN(byD) {
		t.Errorf("without a level near 10 dbar: %g %g", byT, byD)
	}
	// Stratified from the first level: linear in the value at 10 dbar.
	byT, _ = MixedLayer([]float64{35, 35, 35}, []float64{20, 19, 18}, []float64{5, 15, 25})
	within(t, "between levels", byT, 12, 1e-9)
	if byT, _ := MixedLayer([]float64{35, 35}, []float64{20, 19}, []float64{5, 9}); !math.IsNaN(byT) {
		t.Errorf("short cast: %g", byT)
	}
}

// Water of one temperature: cp0 CT times its mass; the depth of 700 m lies between levels.
func TestHeatContent(t *testing.T) {
	var p, sa, ct []float64
	for x := 5.0; x <= 1000; x += 5 {
		p, sa, ct = append(p, x), append(sa, 35), append(ct, 10)
	}
	mass := 0.0
	for z := 0.0; z < 700; z++ {
		mass += seawater.Density(35, 10, seawater.Pressure(-(z+0.5), 40))
	}
	want := 3991.86795711963 * 10 * mass // cp0 (TEOS-10)
	within(t, "700 m", HeatContent(sa, ct, p, 40, 700), want, 2e-6*want)
	within(t, "above the first level", HeatContent(sa, ct, p, 40, 2), 3991.86795711963*10*2*seawater.Density(35, 10, 5),
		1)
	for _, x := range []float64{HeatContent(sa, ct, p, 40, 1200), HeatContent(sa[5:], ct[5:], p[5:], 40, 700),
		HeatContent(sa[:1], ct[:1], p[:1], 40, 700)} {
		if !math.IsNaN(x) {
			t.Errorf("heat content %g of a profile that does not hold it", x)
		}
	}
}

// Source: teos10_check_casts.csv, dynamic height of the check casts (pchip, re 0 dbar), over 9.7963 m/s2.
func TestStericHeight(t *testing.T) {
	var p, sa, ct, psi []float64
	for _, row := range checkvalues.Table(t, "teos10_check_casts.csv") {
		if row["cast"] == "1" {
			p, sa, ct = append(p, parse(t, row["p"])), append(sa, parse(t, row["SA_from_SP"])),
				append(ct, parse(t, row["CT_from_t"]))
			psi = append(psi, parse(t, row["dyn_height_pchip"]))
		}
	}
	k := 30
	total, thermo, halo := StericHeight(sa, ct, p, p[k])
	within(t, "steric", total, -psi[k]/9.7963, 1e-9)
	within(t, "parts", thermo+halo, total, 0.03*total)
	if a, b, c := StericHeight(sa, ct, p, 9000); !math.IsNaN(a) || !math.IsNaN(b) || !math.IsNaN(c) {
		t.Error("a value below the last level")
	}
	// Carried up from 10 dbar.
	cut, _, _ := StericHeight(sa[1:], ct[1:], p[1:], p[k])
	within(t, "carried up", cut, total, 1e-3)
	if x, _, _ := StericHeight(nil, nil, nil, 100); !math.IsNaN(x) {
		t.Error("a value from nothing")
	}
}

func TestSummary(t *testing.T) {
	c := syntheticCast(2100, 1)
	c.BottomM = 2105
	names := ""
	for _, q := range Summary(c, DefaultSummary()) {
		names += q.Name + " "
		if math.IsNaN(q.Value) || q.Reason != "" || q.Units == "" || q.Comment == "" || q.References == "" {
			t.Errorf("%s: %g, %q", q.Name, q.Value, q.Reason)
		}
	}
	if want := "mld_t mld_d heat_300 heat_700 heat_2000 steric steric_t steric_s c1 c1_wkb rossby1 "; names != want {
		t.Errorf("quantities %q, want %q", names, want)
	}
	reasons := func(change func(), want map[string]string) {
		t.Helper()
		change()
		for _, q := range Summary(c, DefaultSummary()) {
			if part, ok := want[q.Name]; ok && (!math.IsNaN(q.Value) || !strings.Contains(q.Reason, part)) {
				t.Errorf("%s: %g, reason %q, want %q", q.Name, q.Value, q.Reason, part)
			}
		}
	}
	reasons(func() { c.BottomM = 3000 }, map[string]string{"c1": "above the bottom"})
	reasons(func() { c.BottomM = math.NaN() }, map[string]string{"rossby1": "water depth is not known"})
	// Full depth: within 10 % of the water depth (science section 12).
	deepest := -seawater.Height(2100, c.At[1])
	for _, x := range []struct {
		part float64
		full bool
	}{{0.91, true}, {0.89, false}} {
		c.BottomM = deepest / x.part
		for _, q := range Summary(c, DefaultSummary()) {
			if q.Name == "c1" && math.IsNaN(q.Value) == x.full {
				t.Errorf("a cast to %g of the water depth: c1 %g", x.part, q.Value)
			}
		}
	}
	reasons(func() { c = syntheticCast(500, 2); c.BottomM = 505 }, map[string]string{"heat_700": "does not hold",
		"steric": "does not hold"})
	reasons(func() {
		c = syntheticCast(2100, 2)
		c.BottomM = 2105
		flags := c.Column("temp").Flags
		for i := 400; i < 520; i++ {
			flags[i] = metadata.Bad
		}
	}, map[string]string{"heat_700": "a gap begins at 400 dbar", "c1": "the cast has a gap"})
	reasons(func() { c = newCast(0, 40, measured("pres", []float64{0, 1})) }, map[string]string{"mld_t": "no column",
		"c1": "no column"})
	reasons(func() { c = syntheticCast(1, 1) }, map[string]string{"mld_t": "one usable level"})
	reasons(func() { c = syntheticCast(2, 1); c.BottomM = 3 }, map[string]string{"c1": "fewer than three"})
	reasons(func() { c = syntheticCast(20, 1); c.At[1] = math.NaN() }, map[string]string{"mld_t": "position"})
}

// On either side of 5 degrees (Chelton et al. 1998): sqrt(c/(2 beta)) with beta 2.28e-11, and c/|f| with Omega
// 7.292115e-5 (TEOS-10).
func TestRossbyRadiusNearEquator(t *testing.T) {
	const c = 2.5
	for _, lat := range []float64{-4.9, 0, 4.9} {
		within(t, "equatorial", RossbyRadius(c, lat), math.Sqrt(c/(2*2.28e-11)), 1e-6)
	}
	for _, lat := range []float64{-5.1, 5.1} {
		within(t, "beyond", RossbyRadius(c, lat), c/(2*7.292115e-5*math.Sin(5.1*math.Pi/180)), 1e-6)
	}
}
