package geostrophy

import (
	"math"
	"testing"
)

// An error that contains another is never the smaller: the stated error of every velocity, pair, layer, class, cumulative sum and total is the root of the sum
// of squares of its parts, with and without a split of the accuracies.
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
			if sum := math.Sqrt(s.PerCast*s.PerCast + s.Common*s.Common + s.Position*s.Position + s.KnownVelocity*s.KnownVelocity); !(math.Abs(s.Stated-sum) <= 1e-9*sum) {
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
					t.Errorf("split %v, velocity at %g dbar: stated %g, parts %g %g", split, p.PressureDbar[l], p.VelocityErr[l], p.PerCastErr[l], p.CommonErr[l])
				}
			}
		}
		if n < 100 {
			t.Errorf("%d sums", n)
		}
	}
}
