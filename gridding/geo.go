package gridding

import (
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// distanceKm is the geodesic distance on WGS84.
func distanceKm(a, b orb.Point) float64 {
	m, _, _ := section.Geodesic(a, b)
	return m / 1000
}

// between returns the place a share of the way along the geodesic from a to b.
func between(a, b orb.Point, share float64) orb.Point {
	m, azimuth, _ := section.Geodesic(a, b)
	to, _ := section.Along(a, azimuth, share*m)
	return to
}

func distanceText(isField bool) string {
	if isField {
		return "geodesic on WGS84"
	}
	return "along the track of the section"
}
