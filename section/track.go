package section

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// SphereM is the radius of the sphere of the parity mode, in metres: the mean radius that published check values of
// velocity use (TEOS-10 toolbox). Distances on it differ from the ellipsoid's by -0.5 to +0.6 percent.
const SphereM = 6371000

// TooCloseKm is the distance below which two casts make no pair, and count as repeats of one place (our rule).
const TooCloseKm = 2

// A Method names how distances were computed; it goes into records.
type Method uint8

// Methods.
const (
	WGS84         Method = iota // geodesic on the WGS84 ellipsoid (Karney 2013)
	Sphere                      // great circle on a sphere of 6371 km (haversine): for published check values
	SphereAtLevel               // as Sphere, and the separation of a pair shrinks with pressure: radius 6371 km + z(p)
	Methods       = 3
)

var methodWords = [Methods]string{"geodesic", "sphere", "sphere_at_level"}

// String returns the word of the cruise file.
func (m Method) String() string { return methodWords[m] }

// DistanceM is the distance between two points (longitude, latitude in degrees) in metres.
func (m Method) DistanceM(a, b orb.Point) float64 {
	if m != WGS84 {
		return sphereDistance(a, b)
	}
	s, _, _ := Geodesic(a, b)
	return s
}

// sphereDistance is the haversine formula, Sinnott 1984 (from memory; the formula itself is elementary).
func sphereDistance(a, b orb.Point) float64 {
	const rad = math.Pi / 180
	sinLat, sinLon := math.Sin((b[1]-a[1])*rad/2), math.Sin(math.Remainder(b[0]-a[0], 360)*rad/2)
	h := float64(sinLat*sinLat) + float64(math.Cos(a[1]*rad)*math.Cos(b[1]*rad))*float64(sinLon*sinLon)
	return 2 * SphereM * math.Atan2(math.Sqrt(h), math.Sqrt(max(0, 1-h)))
}

// TrackKm returns the distance along the track from its first point to each, in km: the sum of the legs in order.
func TrackKm(points []orb.Point, m Method) []float64 {
	km := make([]float64, len(points))
	for i := 1; i < len(points); i++ {
		km[i] = km[i-1] + m.DistanceM(points[i-1], points[i])/1000
	}
	return km
}

// Wrap180 brings a longitude into -180..180.
func Wrap180(lon float64) float64 {
	if lon >= -180 && lon <= 180 {
		return lon
	}
	return math.Remainder(lon, 360)
}

// Unwrap appends to dst longitudes that go on without a jump: each is its neighbour's plus the shorter way round, so a
// track across 180 runs on to 181, 182. The first is as given. Never average longitudes that were not unwrapped.
func Unwrap(dst, lon []float64) []float64 {
	for i, l := range lon {
		if i > 0 {
			before := dst[len(dst)-1]
			l = before + math.Remainder(l-before, 360)
		}
		dst = append(dst, l)
	}
	return dst
}

// LongitudeRange returns the west and east end of the shortest arc that holds all longitudes (degrees east, -180..180;
// at least one); west > east across the antimeridian.
func LongitudeRange(lons []float64) (west, east float64) {
	s := slices.Clone(lons)
	slices.Sort(s)
	west, east = s[0], s[len(s)-1]
	gap := 360 - (east - west) // behind the antimeridian
	for i := 1; i < len(s); i++ {
		if d := s[i] - s[i-1]; d > gap {
			gap, west, east = d, s[i], s[i-1]
		}
	}
	return west, east
}

// Midpoint returns the point halfway along the geodesic from a to b and the azimuth (degrees from north, -180..180) of
// the geodesic there.
func Midpoint(a, b orb.Point) (mid orb.Point, azimuthDeg float64) {
	s, azimuth, _ := Geodesic(a, b)
	if s == 0 {
		return orb.Point{Wrap180(a[0]), a[1]}, azimuth
	}
	return Along(a, azimuth, s/2)
}
