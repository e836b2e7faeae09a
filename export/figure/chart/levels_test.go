package chart

import (
	"math"
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
	l := ChooseLevels(vs, MostLevels)
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
