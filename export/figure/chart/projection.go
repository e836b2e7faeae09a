package chart

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// A Projection turns longitude and latitude into a plane, y upward, in km at the place where it is true: on
// the equator of the Mercator projection, at the pole of the polar stereographic one. Both are conformal.
type Projection struct {
	Lon0 float64 // the middle meridian; it points down from the north pole and up from the south pole
	Pole float64 // 1 about the north pole, -1 about the south pole, 0 for Mercator
}

const earthKm = 6371.0088 // mean radius (GRS 80); the scale of a map needs no better

// Name returns the name for captions.
func (p Projection) Name() string {
	if p.Pole == 0 {
		return "Mercator"
	}
	return "polar stereographic"
}

// Forward returns the place in the plane.
func (p Projection) Forward(lon, lat float64) (x, y float64) {
	if p.Pole == 0 {
		lat = max(-88, min(88, lat))
		return earthKm * (lon - p.Lon0) * math.Pi / 180, earthKm * math.Log(math.Tan(math.Pi/4+lat*math.Pi/360))
	}
	r := 2 * earthKm * math.Tan((90-p.Pole*lat)*math.Pi/360)
	s, c := math.Sincos((lon - p.Lon0) * math.Pi / 180)
	return r * s, -p.Pole * r * c
}

// Inverse returns the position of a place in the plane.
func (p Projection) Inverse(x, y float64) (lon, lat float64) {
	if p.Pole == 0 {
		return p.Lon0 + x/earthKm*180/math.Pi, (2*math.Atan(math.Exp(y/earthKm)) - math.Pi/2) * 180 / math.Pi
	}
	polar := 2 * math.Atan(math.Hypot(x, y)/(2*earthKm)) * 180 / math.Pi
	return p.Lon0 + math.Atan2(x, -p.Pole*y)*180/math.Pi, p.Pole * (90 - polar)
}

// Scale returns length in the plane over length on the ground.
func (p Projection) Scale(lat float64) float64 {
	if p.Pole == 0 {
		return 1 / math.Cos(lat*math.Pi/180)
	}
	return 2 / (1 + math.Sin(p.Pole*lat*math.Pi/180))
}

// MiddleLon returns the longitude in the middle of the shortest arc that holds all, and the length of that arc.
func MiddleLon(lons []float64) (mid, arc float64) {
	s := make([]float64, len(lons))
	for k, l := range lons {
		s[k] = Wrap180(l)
	}
	slices.Sort(s)
	gap, at := s[0]+360-s[len(s)-1], 0
	for k := 1; k < len(s); k++ {
		if d := s[k] - s[k-1]; d > gap {
			gap, at = d, k
		}
	}
	return Wrap180(s[at] + (360-gap)/2), 360 - gap
}

// ProjectionFor chooses by region: about the pole when the middle is poleward of 62 degrees or the stations
// lie around the pole.
func ProjectionFor(at []orb.Point) Projection {
	var lons []float64
	lat := NoExtent()
	for _, p := range at {
		lons = append(lons, p[0])
		lat.Add(p[1])
	}
	lon0, arc := MiddleLon(lons)
	mid := (lat.Lo + lat.Hi) / 2
	if math.Abs(mid) > 62 || lat.Hi > 82 || lat.Lo < -82 || (arc > 150 && (lat.Lo > 45 || lat.Hi < -45)) {
		return Projection{lon0, math.Copysign(1, mid)}
	}
	return Projection{Lon0: lon0}
}

// Near brings a longitude within 180 degrees of lon0.
func Near(lon, lon0 float64) float64 { return lon0 + Wrap180(lon-lon0) }
