package geostrophy

import (
	"math"
	"testing"
)

// The direction is the mean of the pairs over their length; where the line turns, and on a closed line, it is the side.
func TestPositiveText(t *testing.T) {
	for _, x := range []struct {
		positive Direction
		bearings []float64 // of pairs of 10 km, the last of 30 km
		want     string
		known    bool
	}{
		{Left, []float64{350, 20}, "towards north-northeast (13° true)", true}, // atan2 of the sums: 12.6
		{Left, []float64{90}, "towards east (90° true)", true},
		{Right, []float64{359.8}, "towards north (0° true)", true},
		{East, []float64{101.2}, "towards east (101° true)", true},
		{East, []float64{101.3}, "towards east-southeast (101° true)", true},
		{Right, []float64{0, 180}, "to the right of the line, which turns", true},
		{Left, []float64{math.NaN()}, "to the left", false},
		{In, []float64{0, 90, 180}, "into the area that the line encloses", true},
		{Out, []float64{0, 90, 180}, "out of the area that the line encloses", true},
	} {
		r := &Result{Positive: x.positive}
		for _, b := range x.bearings {
			r.Pairs = append(r.Pairs, Pair{PositiveDeg: b, LengthKm: 10})
		}
		r.Pairs[len(r.Pairs)-1].LengthKm = 30
		if got := r.PositiveText(); got != x.want {
			t.Errorf("%s %g: %q, want %q", x.positive, x.bearings, got, x.want)
		}
		if deg, _ := r.PositiveBearing(); math.IsNaN(deg) == x.known {
			t.Errorf("%s %g: bearing %g", x.positive, x.bearings, deg)
		}
	}
}
