package chart

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// Levels about zero: three to six on each side before they are cut finer near it.
func TestLevelsAboutZero(t *testing.T) {
	for most := 1e-7; most < 1e3; most *= 1.07 {
		s := zeroStep(most)
		if n := math.Floor(most/s + 1e-9); n < 3 || n > 6 {
			t.Errorf("%g: step %g, %g levels", most, s, n)
		}
		if d := Decimals([]float64{s / math.Pow10(int(math.Floor(math.Log10(s)+1e-9)))}); d > 1 {
			t.Errorf("%g: step %g is not round", most, s)
		}
	}
}

func TestLevelsAreRound(t *testing.T) {
	var vs []Weighed
	for k := range 1000 {
		vs = append(vs, Weighed{1.1 + 22*math.Pow(float64(k)/999, 4), 1, 0})
	}
	l := ChooseLevels(vs, MostLevels).At
	if len(l) < 8 || len(l) > MostLevels {
		t.Errorf("%d levels: %v", len(l), l)
	}
	for k := 1; k < len(l); k++ {
		if l[k] <= l[k-1] {
			t.Errorf("levels do not increase: %v", l)
		}
	}
	if Decimals(l) > 2 {
		t.Errorf("levels are not round: %v", l)
	}
	z := ZeroLevels([]Weighed{{-0.3, 1, 0}, {0.02, 5, 0}, {0.1, 2, 0}, {0.5, 1, 0}})
	for k := range z {
		if z[k] != -z[len(z)-1-k] {
			t.Errorf("levels are not alike on both sides of zero: %v", z)
		}
	}
}

// stepsOf returns the steps between levels, and the values between each two.
func stepsOf(vs []Weighed, levels []float64) (steps []float64, inside [][]Weighed) {
	for k := 1; k < len(levels); k++ {
		steps = append(steps, Round(levels[k]-levels[k-1]))
		var in []Weighed
		for _, v := range vs {
			if v.Value >= levels[k-1] && v.Value < levels[k] {
				in = append(in, v)
			}
		}
		inside = append(inside, in)
	}
	return steps, inside
}

// Whatever the values are: no band but at its floor or at the limit of levels holds more than a third, steps beside
// each other are alike or differ by 2 or 5, coarse levels stay levels, and no step is below the floor of its values.
func TestLevelsNestAndKeepTheirFloor(t *testing.T) {
	rng := rand.New(rand.NewPCG(22, 13))
	divided, floored, limited, smallest := 0, 0, 0, 0
	for n := range 400 {
		var vs []Weighed
		scale, power := math.Pow(10, 3*rng.Float64()-2), 1+9*rng.Float64()
		base := 50 * rng.Float64()
		floors := [2]float64{scale * math.Pow(10, -1-3*rng.Float64()), scale * math.Pow(10, -1-3*rng.Float64())}
		for k := range 3000 {
			u := rng.Float64()
			v := Weighed{base + scale*math.Pow(u, power), 1, floors[0]}
			if k%2 == 0 && n%8 == 0 { // half of the values are one
				v.Value = base + 0.31*scale
			}
			if u > 0.6 {
				v.Floor, v.Weight = floors[1], 3
			}
			if k%7 == 0 {
				v.Weight = 0.5
			}
			vs = append(vs, v)
		}
		l := ChooseLevels(vs, MostLevels)
		if len(l.At) > MostLevels || len(l.At) == 0 {
			t.Fatalf("%d levels: %v", len(l.At), l.At)
		}
		steps, inside := stepsOf(vs, l.At)
		least := math.Inf(1)
		for k, s := range steps {
			least = min(least, s)
			if k > 0 {
				if r := max(s/steps[k-1], steps[k-1]/s); !slices.ContainsFunc([]float64{1, 2, 5},
					func(want float64) bool {
						return math.Abs(r-want) < 1e-6
					}) {
					t.Errorf("steps of %g and %g are side by side: %v", steps[k-1], s, l.At)
				}
			}
			if q := l.At[k] / s; math.Abs(q-math.Round(q)) > 0.05 {
				t.Errorf("%g is no multiple of its step %g", l.At[k], s)
			}
			below := 0
			for _, v := range inside[k] {
				if s < v.Floor*(1-1e-9) {
					below++
				}
			}
			if 2*below > len(inside[k]) && len(inside[k]) > len(vs)/20 {
				t.Errorf("step %g: %d of %d values have a larger floor", s, below, len(inside[k]))
			}
		}
		all, area := float64(len(vs)), 0.0
		for _, v := range vs {
			area += v.Weight
		}
		full := 0.0
		for k := range len(l.At) + 1 {
			n, weight := 0.0, 0.0
			for _, v := range vs {
				if (k == 0 || v.Value >= l.At[k-1]) && (k == len(l.At) || v.Value < l.At[k]) {
					n, weight = n+1, weight+v.Weight
				}
			}
			full = max(full, n/all, weight/area)
		}
		if math.Abs(full-l.Fullest) > 1e-9 {
			t.Errorf("the fullest band holds %.3f, not %.3f", full, l.Fullest)
		}
		switch {
		case full <= 1.0/3:
			divided++
		case l.Bound == ByNumber && len(l.At) < MostLevels-4:
			t.Errorf("%d levels are said to be too many to add to", len(l.At))
		case l.Bound == ByNumber:
			limited++
		case l.Bound == ByStep:
			smallest++
		case least/10 > max(floors[0], floors[1]):
			t.Errorf("a band holds %.0f %%, the least step is %g and floors are %v", 100*full, least, floors)
		default:
			floored++
		}
	}
	if divided < 50 || floored < 20 || limited+smallest < 20 {
		t.Errorf("%d divided, %d at the floor, %d at the limit, %d at the smallest step: the cases say too little",
			divided, floored, limited, smallest)
	}
	flat := make([]Weighed, 50)
	for k := range flat {
		flat[k] = Weighed{5, 1, 0}
	}
	if l := ChooseLevels(flat, MostLevels); l.At != nil {
		t.Errorf("levels of one value: %v", l.At)
	}
}
