package geostrophy

import (
	"math"

	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

const (
	earthRadiusKm = section.SphereM / 1e3 // for the small effect of position errors on latitude
	sphereRadiusM = section.SphereM
)

// A separation is how two stations lie to each other.
type separation struct {
	lengthM    float64
	mid        orb.Point // geodesic midpoint
	azimuthDeg float64   // true bearing from the first to the second there, 0..360
}

// measure returns the separation of two points; NaN where one has no position. Midpoint and bearing are geodesic
// whatever the rule.
func measure(rule section.Method, a, b orb.Point) separation {
	for _, x := range [...]float64{a[0], a[1], b[0], b[1]} {
		if x != x {
			return separation{nan, orb.Point{nan, nan}, nan}
		}
	}
	how := section.WGS84
	if rule != section.WGS84 {
		how = section.Sphere
	}
	out := separation{lengthM: how.DistanceM(a, b)}
	out.mid, out.azimuthDeg = section.Midpoint(a, b)
	out.azimuthDeg = math.Mod(out.azimuthDeg+360, 360)
	return out
}

// formula names the distance rule with its radius, for the record.
func formula(d section.Method) string {
	switch d {
	case section.Sphere:
		return "haversine, radius 6371 km"
	case section.SphereAtLevel:
		return "haversine, radius 6371 km + z(p)"
	}
	return "WGS84 geodesic, Karney 2013"
}
