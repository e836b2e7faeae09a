package gridding

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// TestAboveIsTheBandsFromThere compares areas: what lies above a level is the sum of the bands above it.
func TestAboveIsTheBandsFromThere(t *testing.T) {
	x, y := []float64{0, 1, 2, 4, 5}, []float64{0, 2, 3, 5}
	data := make([]float64, len(x)*len(y))
	for i := range y {
		for j := range x {
			data[i*len(x)+j] = math.Sin(1.3*x[j])*math.Cos(0.9*y[i]) + 0.1*x[j]
		}
	}
	data[1*len(x)+1] = math.NaN()
	levels := []float64{-0.5, 0, 0.25, 0.5}
	area := func(ps orb.MultiPolygon) float64 {
		sum := 0.0
		for _, p := range ps {
			for _, r := range p {
				sum += ringArea(r)
			}
		}
		return sum
	}
	bands := Bands(x, y, data, levels)
	above := Above(x, y, data, append([]float64{math.Inf(-1)}, levels...))
	sum := 0.0
	for k := len(bands) - 1; k >= 0; k-- {
		sum += area(bands[k].Polygons)
		if got := area(above[k]); math.Abs(got-sum) > 1e-12*sum {
			t.Errorf("above level %d: area %v, bands give %v", k, got, sum)
		}
	}
	if c := CoveredArea(x, y, data); math.Abs(sum-c) > 1e-12*c {
		t.Errorf("all bands cover %v of %v", sum, c)
	}
}
