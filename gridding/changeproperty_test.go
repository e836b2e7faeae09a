package gridding

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// oxygenOf returns a profile with oxygen in closed form, a function of the pressure from which its water came.
func oxygenOf(p *Profile, from func(p float64) float64, more, err float64) *Profile {
	q := *p
	o := Property{Name: "oxy", PressureDbar: p.PressureDbar}
	for _, at := range p.PressureDbar {
		o.Values, o.Err = append(o.Values, oxygenAt(from(at))+more), append(o.Err, err)
	}
	q.Others = []Property{o}
	return &q
}

func oxygenAt(p float64) float64 { return 180 + 90*math.Exp(-p/900) }

// Oxygen of the two occupations in closed form: 3 umol/kg were added to the water, which also moved. Change on density
// is what was added, and the parts sum to the change at constant pressure.
func TestChangeOfOxygen(t *testing.T) {
	before, after := analytic(2)
	here := func(p float64) float64 { return p }
	old, now := oxygenOf(before, here, 0, 1), oxygenOf(after, waterAt, 3, 2)
	for i := range old.Others[0].Err {
		old.Others[0].Err[i] = 1
	}
	levels := []float64{600, 800, 1000, 1400, 1800}
	for _, x := range Compare(old, now, levels, nil) {
		o := x.Others[0]
		// analytic warms the water at constant sigma2: the surface moves with the water
		if total := oxygenAt(waterAt(x.PressureDbar)) + 3 - oxygenAt(x.PressureDbar); math.Abs(o.Change-total) > 1e-6 {
			t.Errorf("%g dbar: change %.6f, put in %.6f", x.PressureDbar, o.Change, total)
		}
		if math.Abs(o.Density-3) > 1e-3 || math.Abs(o.Density+o.Heave-o.Change) > 1e-12 {
			t.Errorf("%g dbar: on density %.6f, put in 3; heave %.6f of %.6f", x.PressureDbar, o.Density, o.Heave,
				o.Change)
		}
		if math.Abs(o.ChangeErr-math.Sqrt(5)) > 1e-12 {
			t.Errorf("%g dbar: error %g, want the root of 5", x.PressureDbar, o.ChangeErr)
		}
	}
}

// An error of salinity or of temperature moves the surface, along which oxygen changes: the stated error is what a
// direct change of the newer profile by it brings, to 1 %.
func TestErrorOfOxygenOnDensity(t *testing.T) {
	before, after := analytic(2)
	here := func(p float64) float64 { return p }
	old, now := oxygenOf(before, here, 0, 0), oxygenOf(after, waterAt, 3, 0)
	for name, change := range map[string]func(p *Profile) (with Profile, moved Profile){
		"salinity": func(p *Profile) (Profile, Profile) {
			with, moved := *p, *p
			with.SAErr, moved.SA = 1e-4, slices.Clone(p.SA)
			for i := range moved.SA {
				moved.SA[i] += 1e-4
			}
			return with, moved
		},
		"temperature": func(p *Profile) (Profile, Profile) {
			with, moved := *p, *p
			with.CTErr, moved.CT = 1e-3, slices.Clone(p.CT)
			for i := range moved.CT {
				moved.CT[i] += 1e-3
			}
			return with, moved
		},
	} {
		o, n := *old, *now
		o.SAErr, o.CTErr, n.SAErr, n.CTErr = 0, 0, 0, 0
		with, moved := change(&n)
		p := []float64{700, 1000, 1500}
		stated, plain, shifted := Compare(&o, &with, p, nil), Compare(&o, &n, p, nil), Compare(&o, &moved, p, nil)
		for i := range p {
			want := math.Abs(shifted[i].Others[0].Density - plain[i].Others[0].Density)
			if got := stated[i].Others[0].DensityErr; math.Abs(got/want-1) > 0.01 {
				t.Errorf("%s at %g dbar: error %.6f, by direct change %.6f", name, p[i], got, want)
			}
		}
	}
}

// What one occupation lacks has no value; across a gap of oxygen nothing is interpolated; an error is known only where
// both have one. A variable that the reference has nowhere is named and has no field.
func TestChangeOfFurtherVariables(t *testing.T) {
	before, after := analytic(2)
	at := []orb.Point{{-20, 45}, {-19, 45}, {-18, 45}}
	occupation := func(p *Profile, oxygen func(p float64) float64, known bool) *Occupation {
		s := &section.Section{Name: "line", DistanceKm: section.TrackKm(at, section.WGS84)}
		for k := range at {
			c := castOf(p, fmt.Sprint(k+1), at[k])
			v, _ := metadata.ByName("oxy")
			col := section.Column{Variable: v}
			for _, q := range p.PressureDbar {
				col.Values, col.Flags = append(col.Values, oxygen(q)), append(col.Flags, metadata.Acceptable)
			}
			c.Columns = append(c.Columns, col)
			s.Casts = append(s.Casts, c)
		}
		o := &Occupation{Section: s, Accuracy: func(*section.Cast) (float64, float64) { return 0.002, 0.001 }}
		if known {
			o.OtherAccuracy = func(_ *section.Cast, variable string, value float64) float64 {
				if variable != "oxy" {
					t.Errorf("accuracy of %s", variable)
				}
				return value / 100
			}
		}
		return o
	}
	gap := func(p float64) float64 {
		if p > 900 && p < 1300 {
			return math.NaN()
		}
		return oxygenAt(p) + 3
	}
	oxy, _ := metadata.ByName("oxy")
	chl, _ := metadata.ByName("chl")
	for _, known := range []bool{true, false} {
		now := occupation(after, gap, true)
		now.Others = []metadata.Variable{oxy, chl}
		c, err := Change(occupation(before, oxygenAt, known), *now, []float64{700, 1000, 1500})
		if err != nil {
			t.Fatal(err)
		}
		if len(c.Others) != 1 || len(c.Lacking) != 1 || c.Lacking[0].Name != "chl" {
			t.Fatalf("compared %v, lacking %v", c.Others, c.Lacking)
		}
		g := c.Grid("line")
		v := g.field("oxy_change").Data
		if math.Abs(v[0]-3) > 1e-9 || !math.IsNaN(v[3]) || math.Abs(v[7]-3) > 1e-9 {
			t.Errorf("change of oxygen %v, want 3, nothing in the gap, 3", v)
		}
		if math.IsNaN(g.field("ctemp_change").Data[3]) {
			t.Error("the gap of oxygen took a value of temperature")
		}
		e := g.field("oxy_change_err")
		if known != (e != nil) || known != (g.field("oxy_heave_relerr") != nil) {
			t.Errorf("known %v, errors %v", known, e)
		}
		if known && math.Abs(e.Data[0]-math.Hypot(oxygenAt(700), oxygenAt(700)+3)/100) > 1e-9 {
			t.Errorf("error %g", e.Data[0])
		}
		if g.field("chl_change") != nil || g.field("oxy_change").Units != "umol kg-1" {
			t.Errorf("fields %v", ChangeNames(g))
		}
	}
}
