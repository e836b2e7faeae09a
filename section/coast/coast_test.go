package coast

import (
	"math"
	"slices"
	"testing"
)

// Positions far from any shore, as any atlas has them.
func TestContains(t *testing.T) {
	for _, c := range []struct {
		where    string
		lon, lat float64
		land     bool
	}{
		{"central Asia", 85, 45, true}, {"the Sahara", 10, 25, true}, {"central Australia", 134, -25, true},
		{"the same a turn further", 494, -25, true}, {"the same a turn back", -226, -25, true},
		{"central Pacific", -150, 10, false}, {"the same a turn further", 210, 10, false}, {"the Atlantic", -30, 0,
			false},
		{"the Arctic Ocean", 0, 88, false}, {"the North Pole", 0, 90, false}, {"Antarctica", 90, -80, true},
		{"Antarctica west", -100, -85, true}, {"near the South Pole", 12, -89.9, true}, {"Chukotka, east of 180",
			-175, 66.8, true},
		{"the same as 185 east", 185, 66.8, true}, {"the Caspian Sea", 51, 40.5, false}, {"Iceland", -18.5, 65, true},
		{"the Faroe Islands, Streymoy", -7.05, 62.15, true},
		{"the sea south of them", -7.0, 61.2, false},
		{"the Southern Ocean at 180", 180, -55, false},
	} {
		if got := Contains(c.lon, c.lat); got != c.land {
			t.Errorf("%s (%g, %g): on land: %v", c.where, c.lon, c.lat, got)
		}
	}
	if Contains(math.NaN(), 10) || Contains(10, math.NaN()) {
		t.Error("a missing position is on land")
	}
}

func TestLines(t *testing.T) {
	if n, m := len(Lines(false)), len(Lines(true)); n < 1000 || m < 2*n {
		t.Fatalf("%d outlines, %d detailed ones", n, m)
	}
	if n := len(coarse) + len(fine); n > 1e6 {
		t.Errorf("%d bytes of coastline", n)
	}
	for k, r := range append(slices.Clone(Lines(false)), Lines(true)...) {
		if len(r.Points) < 3 || r.West > r.East || r.South > r.North || r.South < -90 || r.North > 90 {
			t.Errorf("outline %d: %d points, %g to %g, %g to %g", k, len(r.Points), r.West, r.East, r.South, r.North)
		}
		for i := 1; i < len(r.Points); i++ {
			if math.Abs(r.Points[i][0]-r.Points[i-1][0]) > 180 && r.Points[i][1] > -89.9 {
				t.Errorf("outline %d jumps from %v to %v", k, r.Points[i-1], r.Points[i])
			}
		}
	}
}
