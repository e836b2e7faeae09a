package figure

import (
	"math"
	"sort"

	"github.com/paulmach/orb"
)

// A projection turns longitude and latitude into a plane, y upward, in km at the place where it is true.
type projection interface {
	forward(lon, lat float64) (x, y float64)
	scale(lat float64) float64 // length in the plane over length on the ground
	name() string
}

const earthKm = 6371.0088 // mean radius (GRS 80); the scale of a map needs no better

// mercator is the conformal cylinder about the equator, its middle meridian lon0.
type mercator struct{ lon0 float64 }

func (m mercator) forward(lon, lat float64) (float64, float64) {
	lat = max(-88, min(88, lat))
	return earthKm * (lon - m.lon0) * math.Pi / 180, earthKm * math.Log(math.Tan(math.Pi/4+lat*math.Pi/360))
}
func (m mercator) scale(lat float64) float64 { return 1 / math.Cos(lat*math.Pi/180) }
func (m mercator) name() string              { return "Mercator" }

// stereographic is the conformal azimuthal projection about a pole (sign 1 north, -1 south), meridian lon0 pointing down in the north
// and up in the south.
type stereographic struct{ lon0, sign float64 }

func (p stereographic) forward(lon, lat float64) (float64, float64) {
	r := 2 * earthKm * math.Tan((90-p.sign*lat)*math.Pi/360)
	s, c := math.Sincos((lon - p.lon0) * math.Pi / 180)
	return r * s, -p.sign * r * c
}
func (p stereographic) scale(lat float64) float64 {
	return 2 / (1 + math.Sin(p.sign*lat*math.Pi/180))
}
func (p stereographic) name() string { return "polar stereographic" }

// middleLon gives the longitude in the middle of the shortest arc that holds all, and the length of that arc.
func middleLon(lons []float64) (mid, arc float64) {
	s := make([]float64, len(lons))
	for k, l := range lons {
		s[k] = wrap180(l)
	}
	sort.Float64s(s)
	gap, at := s[0]+360-s[len(s)-1], 0
	for k := 1; k < len(s); k++ {
		if d := s[k] - s[k-1]; d > gap {
			gap, at = d, k
		}
	}
	arc = 360 - gap
	return wrap180(s[at] + arc/2), arc
}

// projectionFor chooses by region: about the pole when the middle is poleward of 62 degrees or the stations lie around the pole.
func projectionFor(at []orb.Point) (projection, float64) {
	var lons []float64
	south, north := math.Inf(1), math.Inf(-1)
	for _, p := range at {
		lons = append(lons, p[0])
		south, north = min(south, p[1]), max(north, p[1])
	}
	lon0, arc := middleLon(lons)
	mid := (south + north) / 2
	if math.Abs(mid) > 62 || north > 82 || south < -82 || (arc > 150 && (south > 45 || north < -45)) {
		return stereographic{lon0, math.Copysign(1, mid)}, lon0
	}
	return mercator{lon0}, lon0
}

// near brings a longitude within 180 degrees of lon0.
func near(lon, lon0 float64) float64 { return lon0 + wrap180(lon-lon0) }

// clipRing cuts a ring to a rectangle (Sutherland and Hodgman 1974).
func clipRing(p []pt, l, t, r, b float64) []pt {
	cut := func(p []pt, inside func(pt) bool, meet func(a, b pt) pt) []pt {
		var out []pt
		for k := range p {
			a, c := p[(k+len(p)-1)%len(p)], p[k]
			switch ia, ic := inside(a), inside(c); {
			case ia && ic:
				out = append(out, c)
			case ia:
				out = append(out, meet(a, c))
			case ic:
				out = append(out, meet(a, c), c)
			}
		}
		return out
	}
	atX := func(x float64) func(a, c pt) pt {
		return func(a, c pt) pt { return pt{x, a.y + (x-a.x)/(c.x-a.x)*(c.y-a.y)} }
	}
	atY := func(y float64) func(a, c pt) pt {
		return func(a, c pt) pt { return pt{a.x + (y-a.y)/(c.y-a.y)*(c.x-a.x), y} }
	}
	p = cut(p, func(q pt) bool { return q.x >= l }, atX(l))
	p = cut(p, func(q pt) bool { return q.x <= r }, atX(r))
	p = cut(p, func(q pt) bool { return q.y >= t }, atY(t))
	return cut(p, func(q pt) bool { return q.y <= b }, atY(b))
}

// clipLine gives the pieces of a line inside a rectangle (Liang and Barsky 1984, piece by piece).
func clipLine(line []pt, l, t, r, b float64) path {
	var out path
	open := false
	for k := 1; k < len(line); k++ {
		a, c := line[k-1], line[k]
		t0, t1 := 0.0, 1.0
		ok := true
		for _, e := range [4][2]float64{{a.x - c.x, a.x - l}, {c.x - a.x, r - a.x}, {a.y - c.y, a.y - t}, {c.y - a.y, b - a.y}} {
			if e[0] == 0 {
				ok = ok && e[1] >= 0
				continue
			}
			if q := e[1] / e[0]; e[0] < 0 {
				t0 = max(t0, q)
			} else {
				t1 = min(t1, q)
			}
		}
		if !ok || t0 > t1 {
			open = false
			continue
		}
		from := pt{a.x + t0*(c.x-a.x), a.y + t0*(c.y-a.y)}
		to := pt{a.x + t1*(c.x-a.x), a.y + t1*(c.y-a.y)}
		if !open || t0 > 0 {
			out = append(out, []pt{from})
		}
		out[len(out)-1] = append(out[len(out)-1], to)
		open = t1 == 1
	}
	return out
}
