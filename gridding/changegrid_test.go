package gridding

import (
	"math"
	"testing"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// The two occupations of the ocean in closed form, as sections and as the fields that are written and drawn: change on
// density and heave to 1e-4 K where the surfaces are those of sigma2, the errors by their formulas to 1 %, and the
// relative error that hatches what is less than twice its error.
func TestChangeOfAnalyticOcean(t *testing.T) {
	before, after := analytic(2)
	const eS, eT = 0.002, 0.001
	accuracy := func(*section.Cast) (float64, float64) { return eS, eT }
	at := []orb.Point{{-20, 45}, {-19, 45}, {-18, 45}}
	occupation := func(p *Profile) Occupation {
		s := &section.Section{Name: "line", DistanceKm: section.TrackKm(at, section.WGS84)}
		for k := range at {
			s.Casts = append(s.Casts, castOf(p, string(rune('1'+k)), at[k]))
		}
		return Occupation{Section: s, Accuracy: accuracy}
	}
	var levels []float64
	for p := 550.0; p <= 1950; p += 50 {
		levels = append(levels, p)
	}
	old := occupation(before)
	c, err := Change(&old, occupation(after), levels)
	if err != nil {
		t.Fatal(err)
	}
	g := c.Grid("line")
	value := func(name string, i int) float64 { return g.field(name).Data[i*len(at)+1] }
	for i, p := range levels {
		x := &c.Places[1].Levels[i]
		d := 0.1 * math.Exp(-x.OldDbar/600)
		total := 2 + 16*math.Exp(-p/800) // of the older at p
		if got := value("ctemp_change_on_density", i); math.Abs(got-d) > 1e-4 {
			t.Errorf("%g dbar: change on density %.6f, put in %.6f", p, got, d)
		}
		// what came to p is water of q, warmed; so the change at constant pressure less that on density is the heave
		q := waterAt(p)
		heave := 2 + 16*math.Exp(-q/800) + 0.1*math.Exp(-q/600) - total - d
		if got := value("ctemp_heave", i); math.Abs(got-heave) > 1e-4 {
			t.Errorf("%g dbar: heave %.6f, put in %.6f", p, got, heave)
		}
		// R = alpha CT_p / (beta SA_p) of the mean of both on the surface, by differences over 2 dbar
		slope := func(w *Profile, v []float64, at float64) float64 {
			k := int(math.Round((at - 100) / 2))
			return (v[k+1] - v[k-1]) / 4
		}
		ctp := (slope(before, before.CT, x.OldDbar) + slope(after, after.CT, x.NewDbar)) / 2
		sap := (slope(before, before.SA, x.OldDbar) + slope(after, after.SA, x.NewDbar)) / 2
		k := int(math.Round((x.OldDbar - 100) / 2))
		_, beta, alpha := seawater.SpecificVolumeSlopes(before.SA[k], before.CT[k], 2000)
		ratio := alpha / -beta * ctp / sap
		shared, one := math.Abs(ratio/(ratio-1)), math.Abs(ratio-1)
		wantErr := math.Hypot(eS*math.Sqrt2*-beta/alpha*shared, eT*math.Sqrt2/one)
		if got := value("ctemp_change_on_density_err", i); math.Abs(got/wantErr-1) > 0.01 {
			t.Errorf("%g dbar: error of the change on density %.5f, by the formula %.5f", p, got, wantErr)
		}
		if got, want := value("ctemp_heave_err", i), math.Hypot(eT*math.Sqrt2, wantErr); math.Abs(got/want-1) > 0.01 {
			t.Errorf("%g dbar: error of the heave %.5f, by the formula %.5f", p, got, want)
		}
		// Salinity and displacement: the change is newer less older, in parts that sum to it, and the surface moved as
		// the water did.
		at := func(q *Profile, v []float64) float64 { return v[int(math.Round((p-100)/2))] }
		if got, want := value("asal_change", i), at(after, after.SA)-at(before, before.SA); math.Abs(got-want) > 1e-9 ||
			math.Abs(value("asal_change_on_density", i)+value("asal_heave", i)-want) > 1e-9 {
			t.Errorf("%g dbar: change of salinity %.6f, put in %.6f", p, got, want)
		}
		// on density, where sigma2 is the same: beta dSA = alpha dCT
		if got := value("asal_change_on_density", i); math.Abs(got-alpha/-beta*d) > 2e-4 {
			t.Errorf("%g dbar: change of salinity on density %.6f, that of temperature gives %.6f", p, got,
				alpha/-beta*d)
		}
		wantSalt := math.Hypot(eS*math.Sqrt2*shared, eT*math.Sqrt2*alpha/-beta/one)
		for name, want := range map[string]float64{"asal_change_err": eS * math.Sqrt2,
			"ctemp_change_err":           eT * math.Sqrt2,
			"asal_change_on_density_err": wantSalt, "asal_heave_err": math.Hypot(eS*math.Sqrt2, wantSalt)} {
			if got := value(name, i); math.Abs(got/want-1) > 0.01 {
				t.Errorf("%g dbar: %s %.5f, by the formula %.5f", p, name, got, want)
			}
		}
		moved := 12*math.Exp(-(x.OldDbar-700)*(x.OldDbar-700)/250000) + 8
		if got := value("displacement", i); math.Abs(got-moved) > 1e-2 {
			t.Errorf("%g dbar: displacement %.3f, put in %.3f", p, got, moved)
		}
		r := 2 * value("ctemp_heave_err", i) / value("ctemp_heave", i)
		if got := value("ctemp_heave_relerr", i); math.Abs(got-r*r) > 1e-9 {
			t.Errorf("relative error %g, want %g", got, r*r)
		}
		if got := value("ctemp_change_on_density_code", i); got != float64(Defined) {
			t.Errorf("%g dbar: code %g", p, got)
		}
	}
	// The same water 600 dbar deeper: straight slopes give a heave that is off by (600/800)^2/12, 5 %.
	deeper := *before
	deeper.PressureDbar = nil
	for _, p := range before.PressureDbar {
		deeper.PressureDbar = append(deeper.PressureDbar, p+600)
	}
	if c, err = Change(&old, occupation(&deeper), []float64{1200}); err != nil {
		t.Fatal(err)
	}
	if g = c.Grid("line"); value("ctemp_change_on_density_code", 0) != 6 || !(value("ctemp_heave", 0) > 1) {
		t.Errorf("heave of 600 dbar: %g, code %g", value("ctemp_heave", 0), value("ctemp_change_on_density_code", 0))
	}
	if c, err = Change(&old, occupation(after), []float64{50, 700}); err != nil { // casts begin at 100 dbar
		t.Fatal(err)
	}
	if g = c.Grid("line"); value("ctemp_change_on_density_code", 0) != float64(OutsideProfile) ||
		!math.IsNaN(value("ctemp_change", 0)) || value("ctemp_change_on_density_code", 1) != 0 {
		t.Errorf("above the casts: code %g, change %g", value("ctemp_change_on_density_code", 0),
			value("ctemp_change", 0))
	}
}

// waterAt returns the pressure from which the water at a pressure of the newer occupation of analytic came.
func waterAt(p float64) float64 {
	lo, hi := p-25, p
	for range 100 {
		if q := (lo + hi) / 2; q+12*math.Exp(-(q-700)*(q-700)/250000)+8 < p {
			lo = q
		} else {
			hi = q
		}
	}
	return (lo + hi) / 2
}

// A climatology gives what is straight between its four nodes and levels, across the seam of longitudes too; nothing
// outside its latitudes, beside a missing node or below its levels.
func TestClimatology(t *testing.T) {
	c := &Climatology{LonDeg: []float64{0, 90, 180, 270}, LatDeg: []float64{40, 41}, Around: true}
	plane := func(lon, lat, p float64) float64 { return 10 + lon/100 + (lat - 40) - p/500 }
	for k := range 4 {
		for range c.LatDeg {
			c.PressureDbar = append(c.PressureDbar, 100*float64(k))
		}
		for _, lat := range c.LatDeg {
			for _, lon := range c.LonDeg {
				c.CT = append(c.CT, plane(lon, lat, 100*float64(k)))
				c.SA = append(c.SA, 35+0.001*float64(k))
			}
		}
	}
	c.CTErr = make([]float64, len(c.CT))
	for i := range c.CTErr {
		c.CTErr[i] = 0.3
	}
	p := c.At(orb.Point{120, 40.25})
	if p == nil || !p.Straight || len(p.PressureDbar) != 4 || math.Abs(p.CT[2]-plane(120, 40.25, 200)) > 1e-12 ||
		p.CTLevelErr[0] != 0.3 || p.SALevelErr[0] != 0 {
		t.Fatalf("%+v", p)
	}
	for k := range c.PressureDbar { // a depth has another pressure at each latitude
		c.PressureDbar[k] += float64(k % 2 * 8)
	}
	if q := c.At(orb.Point{120, 40.25}); math.Abs(q.PressureDbar[2]-202) > 1e-12 {
		t.Errorf("level of 200 and 208 dbar, a quarter of the way: %g dbar", q.PressureDbar[2])
	}
	for k := range c.PressureDbar {
		c.PressureDbar[k] -= float64(k % 2 * 8)
	}
	if x := Compare(p, p, []float64{250}, nil)[0]; math.Abs(x.CT) > 1e-15 || math.Abs(x.CTErr-0.3*math.Sqrt2) > 1e-12 {
		t.Errorf("%+v", x)
	}
	if q := c.At(orb.Point{-45, 40}); q == nil || math.Abs(q.CT[0]-(10+(2.7+0)/2)) > 1e-12 {
		t.Errorf("across the seam: %+v", q)
	}
	if c.At(orb.Point{0, 41.5}) != nil {
		t.Error("a value north of the grid")
	}
	c.CT[0], c.CT[8] = math.NaN(), math.NaN() // longitude 0, latitude 40, of two levels
	if q := c.At(orb.Point{45, 40.5}); q == nil || len(q.PressureDbar) != 2 {
		t.Errorf("beside a missing node: %+v", q)
	}
	if c.Around = false; c.At(orb.Point{-45, 40.5}) != nil {
		t.Error("a value beyond the last longitude")
	}
}
