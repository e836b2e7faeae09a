package chart

import (
	"math"
	"sort"
	"strings"

	"github.com/castwright/castwright/export/figure/page"
	"github.com/paulmach/orb"
)

// A Track gives position by distance.
type Track struct {
	Km       []float64
	Lon, Lat []float64 // longitude runs on over the antimeridian
	Stations []float64 // km of the stations; nil: Km
}

// NewTrack returns nil when it is given no positions, or not one for each distance.
func NewTrack(km []float64, at []orb.Point) *Track {
	if len(km) != len(at) || len(km) == 0 {
		return nil
	}
	t := &Track{Km: km}
	for _, p := range at {
		t.Lon = append(t.Lon, p[0])
		t.Lat = append(t.Lat, p[1])
	}
	t.Lon = Unwrap(t.Lon)
	return t
}

// Along returns the value of a coordinate at a distance; NaN outside.
func (t *Track) Along(v []float64, km float64) float64 {
	if km < t.Km[0]-1e-9 || km > t.Km[len(t.Km)-1]+1e-9 {
		return math.NaN()
	}
	k := min(max(sort.SearchFloat64s(t.Km, km), 1), len(t.Km)-1)
	if len(t.Km) == 1 {
		return v[0]
	}
	d := t.Km[k] - t.Km[k-1]
	if d == 0 {
		return v[k]
	}
	return v[k-1] + (v[k]-v[k-1])*(km-t.Km[k-1])/d
}

// runsOneWay reports whether a coordinate rises or falls along the track, but for turns of a fiftieth of its range.
func runsOneWay(v []float64) bool {
	e := ExtentOf(v)
	slack := e.Span() / 50
	up, down := true, true
	high, low := v[0], v[0]
	for _, x := range v {
		up, down = up && x >= high-slack, down && x <= low+slack
		high, low = max(high, x), min(low, x)
	}
	return up || down
}

// secondAxis draws latitude or longitude under the distance axis, with a tick wherever the track crosses a
// round value. It returns the title of the axis: the coordinate asked for, if it changes along the track at
// all, else the one that changes more. A coordinate that turns on the way gives way to the other; where both
// turn, as near a pole, the axis has the positions of stations.
func (f *Frame) secondAxis(s *page.Scene, t *Track, which string, y, size float64) string {
	const still = 1e-3 // of the other's change: an axis of it would have no numbers
	lon, lat := ExtentOf(t.Lon).Span(), ExtentOf(t.Lat).Span()
	if which != "latitude" && which != "longitude" || which == "longitude" && lon < still*lat ||
		which == "latitude" && lat < still*lon {
		which = "latitude"
		if lon*math.Cos(t.Lat[0]*math.Pi/180) > lat {
			which = "longitude"
		}
	}
	if lonRuns, latRuns := runsOneWay(t.Lon), runsOneWay(t.Lat); !lonRuns && !latRuns {
		s.Line(f.L, y, f.R, y, InkThin)
		f.positions(s, t, y, size)
		return "latitude and longitude of stations"
	} else if which == "latitude" && !latRuns && lon >= still*lat {
		which = "longitude"
	} else if which == "longitude" && !lonRuns && lat >= still*lon {
		which = "latitude"
	}
	v, text := t.Lat, LatText
	if which == "longitude" {
		v, text = t.Lon, LonText
	}
	s.Line(f.L, y, f.R, y, InkThin)
	e := ExtentOf(v)
	if !(e.Span() > 0) {
		return which
	}
	values := Ticks(e.Lo, e.Hi, int(math.Max(2, (f.R-f.L)/(size*5.4))))
	d := Decimals(values)
	for _, val := range values {
		for k := 1; k < len(v); k++ {
			a, b := v[k-1], v[k]
			if a == b || (val-a)*(val-b) > 0 || (val == a && k > 1) {
				continue
			}
			km := t.Km[k-1] + (val-a)/(b-a)*(t.Km[k]-t.Km[k-1])
			if km < f.X0 || km > f.X1 {
				continue
			}
			bottomTick(s, f.X(km), y, text(val, d), size, 3)
		}
	}
	return which
}

// positions names the positions of as many stations as have space: the first, the last, and the others as they fit.
func (f *Frame) positions(s *page.Scene, t *Track, y, size float64) {
	at := t.Stations
	if len(at) == 0 {
		at = t.Km
	}
	for step := len(at) - 1; step >= 1; step /= 2 { // first and last, the middle one, the quarters ...
		for k := 0; k < len(at); k += step {
			l := page.Label{At: page.Pt(f.X(at[k]), y+TickLength+1.6), Size: size, H: page.Middle, V: page.Top}
			l.Text = LatText(Round(t.Along(t.Lat, at[k])), 1) + " " + LonText(Round(t.Along(t.Lon, at[k])), 0)
			if s.TryText(l, 3) {
				s.Line(l.At.X, y, l.At.X, y+TickLength, InkThin)
			}
		}
	}
}

// LatText prints a latitude.
func LatText(v float64, decimals int) string { return sideText(v, decimals, "°S", "°N") }

// LonText prints a longitude.
func LonText(v float64, decimals int) string {
	if v = Wrap180(v); math.Abs(math.Abs(v)-180) < 1e-9 {
		return "180°"
	}
	return sideText(v, decimals, "°W", "°E")
}

// sideText prints a coordinate with its side of the world.
func sideText(v float64, decimals int, negative, positive string) string {
	s := Number(math.Abs(v), decimals)
	switch {
	case strings.Trim(s, "0.") == "":
		return "0°"
	case v < 0:
		return s + negative
	}
	return s + positive
}

// Wrap180 brings a longitude into -180..180.
func Wrap180(lon float64) float64 {
	lon = math.Mod(lon+180, 360)
	if lon < 0 {
		lon += 360
	}
	return Round(lon - 180)
}

// Unwrap makes longitudes run on over the antimeridian: each is within 180 degrees of the one before.
func Unwrap(lon []float64) []float64 {
	out := append([]float64(nil), lon...)
	last := math.NaN()
	for k := range out {
		if math.IsNaN(out[k]) {
			continue
		}
		if !math.IsNaN(last) {
			out[k] = last + Wrap180(out[k]-last)
		}
		last = out[k]
	}
	return out
}
