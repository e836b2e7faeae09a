package geostrophy

import (
	"math"
	"testing"

	"github.com/castwright/castwright/metadata"
)

// An error that contains another is never the smaller: the stated error of every velocity, pair, layer, class,
// cumulative sum and total is the root of the sum of squares of its parts, with and without a split of the accuracies.
func TestStatedErrorHoldsItsParts(t *testing.T) {
	for _, split := range []float64{math.NaN(), 0, 0.4, 1} {
		opts := DefaultOptions()
		nan := math.NaN()
		opts.Accuracies = []Accuracy{{Salinity: nan, TemperatureK: nan, PressureDbar: nan, CommonFraction: split}}
		opts.Layers, opts.Classes = []float64{0, 100, 350}, []float64{26.5, 27}
		r := mustCompute(t, current(8, 38, 0.1, 0.3), opts)
		n := 0
		check := func(what string, s Sum) {
			if s.Value != s.Value { // heat transport without a reference
				return
			}
			n++
			if sum := math.Sqrt(s.PerCast*s.PerCast + s.Common*s.Common + s.Position*s.Position +
				s.KnownVelocity*s.KnownVelocity); !(math.Abs(s.Stated-sum) <= 1e-9*sum) {
				t.Errorf("split %v, %s: stated %g, parts %g", split, what, s.Stated, sum)
			}
			if math.IsNaN(split) != (s.Common == 0 && s.IfCommon == s.IfCommon) && split != 0 {
				t.Errorf("split %v, %s: common %g, alternative %g", split, what, s.Common, s.IfCommon)
			}
		}
		for k := range Kinds {
			check("total", r.Total[k])
			for b := range r.Layers {
				check("layer", r.LayerTotal[b][k])
			}
			for b := range r.Classes {
				check("class", r.ClassTotal[b][k])
			}
			for i := range r.Pairs {
				check("pair", r.Pairs[i].Transport[k])
				check("cumulative", r.Pairs[i].Cumulative[k])
			}
		}
		for i := range r.Pairs {
			p := &r.Pairs[i]
			for l := range p.Velocity {
				if n++; !(p.VelocityErr[l] >= math.Hypot(p.PerCastErr[l], p.CommonErr[l])*(1-1e-12)) {
					t.Errorf("split %v, velocity at %g dbar: stated %g, parts %g %g", split, p.PressureDbar[l],
						p.VelocityErr[l], p.PerCastErr[l], p.CommonErr[l])
				}
			}
		}
		if n < 100 {
			t.Errorf("%d sums", n)
		}
	}
}

// Where only one of two systems divides its accuracy the alternative keeps what the other leaves to the single cast: it
// is what is stated of the sensors when the first system has all of its accuracy in common, less what the second has in
// common anyway.
func TestAlternativeOfMixedSystems(t *testing.T) {
	sec := current(8, 38, 0.1, 0.3)
	var known []Known
	for i, c := range sec.Casts { // systems of neighbours are the same and are not
		c.System = []string{"one", "one", "two"}[i%3]
		if i > 0 {
			known = append(known, Known{StationA: sec.Casts[i-1].Station, StationB: c.Station, PressureDbar: 300,
				Velocity: 0.02, StandardError: 0.01})
		}
	}
	one, two := DefaultAccuracy(), DefaultAccuracy()
	one.System, two.System, two.CommonFraction = "one", "two", 0.4
	opts := DefaultOptions()
	opts.Reference = Reference{Kind: AtVelocities, Known: known}
	opts.Accuracies = []Accuracy{one, two}
	mixed := mustCompute(t, sec, opts)
	one.CommonFraction = 1
	opts.Accuracies = []Accuracy{one, two}
	all := mustCompute(t, sec, opts)
	compare := func(what string, a, b Sum) {
		want := math.Sqrt(b.PerCast*b.PerCast + b.Common*b.Common - a.Common*a.Common)
		within(t, what+" alternative", a.IfCommon, want, 1e-9*want)
		sum := math.Sqrt(a.PerCast*a.PerCast + a.Common*a.Common + a.Position*a.Position +
			a.KnownVelocity*a.KnownVelocity)
		within(t, what+" stated", a.Stated, sum, 1e-9*sum)
		if a.Common == 0 || a.KnownVelocity == 0 {
			t.Errorf("%s: %+v lacks a part", what, a)
		}
	}
	for k := range Heat {
		compare("total", mixed.Total[k], all.Total[k])
	}
	for i := range mixed.Pairs {
		if p, q := &mixed.Pairs[i], &all.Pairs[i]; sec.Casts[i].System != sec.Casts[i+1].System {
			compare("pair "+p.ID, p.Transport[Volume], q.Transport[Volume])
			for l := range p.IfCommonErr {
				want := math.Sqrt(
					q.PerCastErr[l]*q.PerCastErr[l] + q.CommonErr[l]*q.CommonErr[l] - p.CommonErr[l]*p.CommonErr[l])
				within(t, "velocity", p.IfCommonErr[l], want, 1e-9*want+1e-15)
			}
		}
	}
}

// A residual against bottles is the error of salinity, whatever accuracy is stated: alone, it is the same as an
// accuracy of its whole size that is divided alike; beside temperature and pressure their errors stay as they are.
func TestResidualIsTheErrorOfSalinity(t *testing.T) {
	sec := current(8, 38, 0.1, 0.3)
	const perCast, common = 0.0009, 0.0012
	with := func(a Accuracy) *Result {
		opts := DefaultOptions()
		opts.PositionErrKm = 0
		opts.Accuracies = []Accuracy{a}
		return mustCompute(t, sec, opts)
	}
	bottles := &Residual{PerCast: perCast, Common: common}
	alone := with(Accuracy{Salinity: 0.5, CommonFraction: nan, Residual: bottles, Stage: metadata.StageAdjusted})
	whole := math.Hypot(perCast, common)
	divided := with(Accuracy{Salinity: whole, CommonFraction: common * common / (whole * whole),
		Stage: metadata.StageAdjusted})
	rest := with(Accuracy{TemperatureK: 0.001, PressureDbar: 3, CommonFraction: nan, Stage: metadata.StageAdjusted})
	all := with(Accuracy{Salinity: 0.5, TemperatureK: 0.001, PressureDbar: 3, CommonFraction: nan, Residual: bottles,
		Stage: metadata.StageAdjusted})
	compare := func(what string, alone, divided, rest, all Sum) {
		t.Helper()
		within(t, what+" per cast", alone.PerCast, divided.PerCast, 1e-12*divided.PerCast)
		within(t, what+" in common", alone.Common, divided.Common, 1e-12*divided.Common)
		if alone.Common == 0 || alone.PerCast == 0 {
			t.Errorf("%s: no error: %+v", what, alone)
		}
		want := math.Hypot(rest.PerCast, alone.PerCast)
		within(t, what+" beside others, per cast", all.PerCast, want, 1e-12*want)
		within(t, what+" beside others, in common", all.Common, alone.Common, 1e-12*all.Common)
		// temperature and pressure are not divided: the alternative has them in common, and keeps the part per cast
		want = math.Hypot(rest.IfCommon, alone.PerCast)
		within(t, what+" alternative", all.IfCommon, want, 1e-12*want)
	}
	for k := range Heat {
		compare(Kind(k).String(), alone.Total[k], divided.Total[k], rest.Total[k], all.Total[k])
		compare("pair "+Kind(k).String(), alone.Pairs[3].Transport[k], divided.Pairs[3].Transport[k],
			rest.Pairs[3].Transport[k], all.Pairs[3].Transport[k])
	}
	p, q := &alone.Pairs[3], &divided.Pairs[3]
	for l := range p.Velocity {
		within(t, "velocity per cast", p.PerCastErr[l], q.PerCastErr[l], 1e-12*q.PerCastErr[l]+1e-18)
		within(t, "velocity in common", p.CommonErr[l], q.CommonErr[l], 1e-12*q.CommonErr[l]+1e-18)
	}
}
