package gridding

import (
	"math"
	"strconv"
	"testing"

	"github.com/castwright/castwright/internal/checkvalues"
	"github.com/castwright/castwright/section/seawater"
)

func sigma2(float64) float64 { return 2000 }

func tableColumn(t *testing.T, rows []map[string]string, name string) []float64 {
	t.Helper()
	out := make([]float64, len(rows))
	for i, r := range rows {
		v, err := strconv.ParseFloat(r[name], 64)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = v
	}
	return out
}

// Profiles of 50-dbar bins against numbers computed apart with the toolbox and pchip (occupations_checks_50dbar.csv):
// values to 1e-4, errors to 1 %.
func TestChangeCheckValues(t *testing.T) {
	rows := checkvalues.Table(t, "occupations_profiles.csv")
	p := tableColumn(t, rows, "p")
	old := &Profile{PressureDbar: p, SA: tableColumn(t, rows, "SA_1"), CT: tableColumn(t, rows, "CT_1"), SAErr: 0.002}
	now := &Profile{PressureDbar: p, SA: tableColumn(t, rows, "SA_2"), CT: tableColumn(t, rows, "CT_2"), SAErr: 0.002}
	checks := checkvalues.Table(t, "occupations_checks_50dbar.csv")
	levels := Compare(old, now, tableColumn(t, checks, "p"), sigma2)
	for i, r := range checks {
		x := &levels[i]
		if x.Reason != Defined {
			t.Fatalf("%g dbar: %s", x.PressureDbar, x.Reason)
		}
		for name, got := range map[string]float64{"p1": x.OldDbar, "p2": x.NewDbar, "dp": x.DisplacementDbar,
			"dCT_pressure": x.CT, "dCT_density": x.CTDensity, "dCT_heave": x.CTHeave, "dSA_pressure": x.SA,
			"dSA_density": x.SADensity, "dSA_heave": x.SAHeave} {
			want, err := strconv.ParseFloat(r[name], 64)
			tol := 1e-4
			if name[0] == 'p' || name == "dp" {
				tol = 5e-3 // dbar; 1e-4 K over the gradient of these profiles
			}
			if err != nil || math.Abs(got-want) > tol {
				t.Errorf("%g dbar: %s is %.8g, want %.8g", x.PressureDbar, name, got, want)
			}
		}
		for name, got := range map[string]float64{"err_dCT_density_S0.002_each": x.CTDensityErr,
			"err_dSA_density_S0.002_each": x.SADensityErr} {
			want, err := strconv.ParseFloat(r[name], 64)
			if err != nil || math.Abs(got/want-1) > 0.01 {
				t.Errorf("%g dbar: %s is %.6g, want %.6g", x.PressureDbar, name, got, want)
			}
		}
		if !x.HeaveSmall && x.PressureDbar < 1500 {
			t.Errorf("%g dbar: heave %g is said not to be small", x.PressureDbar, x.CTHeave)
		}
	}
}

// analytic makes both occupations of the ocean in closed form of science in 2-dbar bins: water of q moves to
// q + 12 exp(-((q-700)/500)^2) + 8 dbar and warms by 0.1 exp(-q/600) at constant sigma2.
func analytic(bin float64) (old, now *Profile) {
	old, now = &Profile{SAErr: 0.002, CTErr: 0.001}, &Profile{SAErr: 0.002, CTErr: 0.001}
	water := func(q float64) (sa, ct float64) { return 34.6 + 1.2*math.Exp(-q/700), 2 + 16*math.Exp(-q/800) }
	for p := 100.0; p <= 2600; p += bin {
		sa, ct := water(p)
		old.PressureDbar, old.SA, old.CT = append(old.PressureDbar, p), append(old.SA, sa), append(old.CT, ct)
		lo, hi := p-25, p
		for range 100 { // which water came here
			if q := (lo + hi) / 2; q+12*math.Exp(-(q-700)*(q-700)/250000)+8 < p {
				lo = q
			} else {
				hi = q
			}
		}
		q := (lo + hi) / 2
		sa, ct = water(q)
		sigma := seawater.Sigma(2, sa, ct)
		ct += 0.1 * math.Exp(-q/600)
		sLo, sHi := sa, sa+0.5
		for range 100 { // salinity that keeps sigma2
			if s := (sLo + sHi) / 2; seawater.Sigma(2, s, ct) < sigma {
				sLo = s
			} else {
				sHi = s
			}
		}
		now.PressureDbar, now.SA, now.CT = append(now.PressureDbar, p), append(now.SA, (sLo+sHi)/2), append(now.CT, ct)
	}
	return old, now
}

// On the ocean in closed form the change on density is the warming that was put in, to 1e-6 K from 2-dbar bins, and the
// heave what remains; the order of both turns every sign.
func TestChangeClosedForm(t *testing.T) {
	old, now := analytic(2)
	var levels []float64
	for p := 200.0; p <= 2400; p += 25 {
		levels = append(levels, p)
	}
	there, back := Compare(old, now, levels, sigma2), Compare(now, old, levels, sigma2)
	for i := range there {
		x := &there[i]
		if x.Reason != Defined {
			t.Fatalf("%g dbar: %s", x.PressureDbar, x.Reason)
		}
		moved := 12*math.Exp(-(x.OldDbar-700)*(x.OldDbar-700)/250000) + 8
		if d := x.CTDensity - 0.1*math.Exp(-x.OldDbar/600); math.Abs(d) > 1e-6 ||
			math.Abs(x.DisplacementDbar-moved) > 1e-3 {
			t.Errorf("%g dbar: change on density is off by %g K, displacement by %g dbar", x.PressureDbar, d,
				x.DisplacementDbar-moved)
		}
		if math.Abs(x.CT-x.CTDensity-x.CTHeave) > 1e-15 || math.Abs(x.CTDensity+back[i].CTDensity) > 1e-12 {
			t.Errorf("%g dbar: %+v", x.PressureDbar, x)
		}
		if math.Abs(x.CTHeaveErr-math.Hypot(x.CTErr, x.CTDensityErr)) > 1e-15 || x.CTErr != math.Hypot(0.001, 0.001) {
			t.Errorf("errors %+v", x)
		}
		if p := x.PressureDbar; p == 700 && (math.Abs(x.CT-0.20088) > 1e-5 || math.Abs(x.CTDensity-0.03167) > 1e-5 ||
			math.Abs(x.CTHeave-0.16921) > 1e-5 || math.Abs(x.OldDbar-689.92) > 0.01) {
			t.Errorf("at 700 dbar %+v", x)
		}
	}
}

// The stated errors are what a salinity or temperature that is off by them does, to 1 %.
func TestChangeErrors(t *testing.T) {
	old, now := analytic(2)
	levels := []float64{300, 700, 1200, 1800}
	base := Compare(old, now, levels, sigma2)
	for _, e := range []struct{ salinity, temperature float64 }{{1e-4, 0}, {0, 1e-4}} {
		off := &Profile{PressureDbar: now.PressureDbar}
		for i := range now.SA {
			off.SA, off.CT = append(off.SA, now.SA[i]+e.salinity), append(off.CT, now.CT[i]+e.temperature)
		}
		a, b := *old, *now
		a.SAErr, a.CTErr, b.SAErr, b.CTErr = 0, 0, e.salinity, e.temperature
		stated, moved := Compare(&a, &b, levels, sigma2), Compare(old, off, levels, sigma2)
		for i := range levels {
			if got, want := math.Abs(moved[i].CTDensity-base[i].CTDensity),
				stated[i].CTDensityErr; math.Abs(got/want-1) > 0.01 {
				t.Errorf("%+v at %g dbar: CT moves by %g, stated %g", e, levels[i], got, want)
			}
			if got, want := math.Abs(moved[i].SADensity-base[i].SADensity),
				stated[i].SADensityErr; math.Abs(got/want-1) > 0.01 {
				t.Errorf("%+v at %g dbar: SA moves by %g, stated %g", e, levels[i], got, want)
			}
		}
	}
}

// Where the surface outcrops, lies in a mixed layer or in weakly stratified water, or compensates, there is no value on
// density and the reason is given; the change on pressure stays.
func TestChangeReasons(t *testing.T) {
	profile := func(ct func(p float64) float64, sa func(p float64) float64) *Profile {
		x := &Profile{}
		for p := 10.0; p <= 1000; p += 10 {
			x.PressureDbar, x.SA, x.CT = append(x.PressureDbar, p), append(x.SA, sa(p)), append(x.CT, ct(p))
		}
		return x
	}
	fresh := func(p float64) float64 { return 34 + 0.5*(1-math.Exp(-math.Max(0, p-60)/300)) }
	warm := func(top float64) func(float64) float64 {
		return func(p float64) float64 { return 4 + top*math.Exp(-math.Max(0, p-60)/300) }
	}
	a, b := profile(warm(10), fresh), profile(warm(12), fresh)
	for _, x := range []struct {
		old, now *Profile
		p        float64
		want     ChangeReason
	}{
		{a, b, 30, InMixedLayer}, {a, b, 2000, OutsideProfile}, {a, b, 400, Defined},
		{a, profile(warm(-1), fresh), 100, Outcrop},
		{profile(func(float64) float64 { return 4 }, func(float64) float64 { return 35 }), a, 500, Outcrop},
	} {
		got := Compare(x.old, x.now, []float64{x.p}, func(float64) float64 { return 0 })[0]
		if got.Reason != x.want || (x.want != Defined) != math.IsNaN(got.CTDensity) ||
			(x.want == OutsideProfile) != math.IsNaN(got.CT) {
			t.Errorf("%g dbar: %s, want %s: %+v", x.p, got.Reason, x.want, got)
		}
	}
}
