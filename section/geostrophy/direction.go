package geostrophy

import (
	"fmt"
	"math"
)

// turnDeg is how far a pair may turn from the mean direction of a line of which one direction is stated (ours).
const turnDeg = 60

// PositiveBearing returns the true bearing towards which transport is positive, the mean over the length of the pairs
// in degrees, and whether the line turns so much that no one direction is true of all of it. It is NaN when no pair has
// one.
func (r *Result) PositiveBearing() (deg float64, turns bool) {
	var e, n float64
	for k := range r.Pairs {
		q := &r.Pairs[k]
		if math.IsNaN(q.PositiveDeg) || math.IsNaN(q.LengthKm) {
			continue
		}
		s, c := math.Sincos(q.PositiveDeg * math.Pi / 180)
		e += s * q.LengthKm
		n += c * q.LengthKm
	}
	if e == 0 && n == 0 {
		return nan, false
	}
	deg = math.Mod(math.Atan2(e, n)*180/math.Pi+360, 360)
	for k := range r.Pairs {
		turns = turns || math.Abs(math.Remainder(r.Pairs[k].PositiveDeg-deg, 360)) > turnDeg
	}
	return deg, turns
}

// PositiveText says which way transport is positive: "towards north-northeast (21° true)".
func (r *Result) PositiveText() string {
	switch r.Positive {
	case In:
		return "into the area that the line encloses"
	case Out:
		return "out of the area that the line encloses"
	}
	deg, turns := r.PositiveBearing()
	switch side := "to the " + string(r.Positive); {
	case math.IsNaN(deg):
		return side
	case turns:
		return side + " of the line, which turns"
	}
	return "towards " + Compass(deg)
}

var compass = [...]string{"north", "north-northeast", "northeast", "east-northeast", "east", "east-southeast",
	"southeast", "south-southeast", "south", "south-southwest", "southwest", "west-southwest", "west",
	"west-northwest", "northwest", "north-northwest"}

// Compass returns a true bearing in degrees with the nearest of sixteen directions: "north (355° true)".
func Compass(deg float64) string {
	deg = math.Mod(deg+360, 360)
	word := compass[int(math.Floor(math.Mod(deg+11.25, 360)/22.5))%len(compass)]
	return fmt.Sprintf("%s (%.0f° true)", word, math.Mod(math.Round(deg), 360))
}
