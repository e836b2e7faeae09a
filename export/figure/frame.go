package figure

import (
	"math"
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// A frame is one panel: a rectangle of the page with the values at its edges. y0 is the value at the upper edge.
type frame struct {
	l, t, r, b     float64 // page
	x0, x1, y0, y1 float64 // values at left, right, top, bottom
}

func (f *frame) X(x float64) float64 { return f.l + (x-f.x0)/(f.x1-f.x0)*(f.r-f.l) }
func (f *frame) Y(y float64) float64 { return f.t + (y-f.y0)/(f.y1-f.y0)*(f.b-f.t) }
func (f *frame) at(x, y float64) pt  { return pt{f.X(x), f.Y(y)} }

func (f *frame) border(s *scene) { s.outline(rect(f.l, f.t, f.r, f.b), pen{colour: ink, width: thin}) }

const tickLength = 2.6

// leftAxis draws ticks and numbers; it returns the width of the widest number.
func (f *frame) leftAxis(s *scene, at []float64, size float64) float64 {
	d := decimalsOf(at)
	wide := 0.0
	for _, v := range at {
		y := f.Y(v)
		s.line(f.l-tickLength, y, f.l, y, pen{colour: ink, width: thin})
		t := number(v, d)
		l := label{text: t, at: pt{f.l - tickLength - 1.6, y}, size: size, h: right, v: centre}
		if s.tryText(l, 0.5) {
			wide = max(wide, textWidth(regular, t, size))
		}
	}
	return wide
}

// ticksThatFit gives round values of the horizontal axis, at most most of them and so few that their numbers stand well apart. Where an
// even row of them would leave one, the two outermost of a finer row are taken.
func (f *frame) ticksThatFit(most int, size float64) []float64 {
	fit := func(at []float64) bool {
		d := decimalsOf(at)
		for k := 1; k < len(at); k++ {
			wide := (textWidth(regular, number(at[k-1], d), size) + textWidth(regular, number(at[k], d), size)) / 2
			if f.X(at[k])-f.X(at[k-1]) <= wide+size*0.75 {
				return false
			}
		}
		return len(at) > 1
	}
	at := ticksAtMost(f.x0, f.x1, most)
	for len(at) > 1 {
		if fit(at) {
			return at
		}
		most = min(most, len(at)) - 1
		at = ticksAtMost(f.x0, f.x1, most)
	}
	for n := 3; n < 14; n++ {
		row := ticksAtMost(f.x0, f.x1, n)
		if len(row) < 2 {
			continue
		}
		ends := []float64{row[0], row[len(row)-1]}
		if three := []float64{ends[0], 0, ends[1]}; ends[0] == -ends[1] && fit(three) {
			return three
		}
		if fit(ends) {
			return ends
		}
	}
	return at
}

// bottomAxis draws ticks and numbers under the frame.
func (f *frame) bottomAxis(s *scene, at []float64, size float64) {
	d := decimalsOf(at)
	for _, v := range at {
		x := f.X(v)
		s.line(x, f.b, x, f.b+tickLength, pen{colour: ink, width: thin})
		s.tryText(label{text: number(v, d), at: pt{x, f.b + tickLength + 1.6}, size: size, h: middle, v: top}, 1.2)
	}
}

// A stationMark is a station along the top edge of a section.
type stationMark struct {
	x     float64
	name  string
	label string // as it is written
}

// stationsOnTop draws a tick for every station, and the numbers that have room: first and last, then the round ones, then the rest.
// No number stands closer than a gap to another.
func (f *frame) stationsOnTop(s *scene, marks []stationMark, size float64) {
	for _, m := range marks {
		x := f.X(m.x)
		s.line(x, f.t-3.2, x, f.t, pen{colour: ink, width: hair})
	}
	type rank struct{ k, r int }
	order := make([]rank, len(marks))
	for k, m := range marks {
		r := 4
		n, err := strconv.Atoi(m.name)
		if err != nil {
			n = k
		}
		switch {
		case k == 0 || k == len(marks)-1:
			r = 0
		case n%10 == 0:
			r = 1
		case n%5 == 0:
			r = 2
		case n%2 == 0:
			r = 3
		}
		order[k] = rank{k, r}
	}
	sort.SliceStable(order, func(i, j int) bool { return order[i].r < order[j].r })
	for _, o := range order {
		m := marks[o.k]
		l := label{text: m.label, at: pt{f.X(m.x), f.t - 5.2}, size: size, h: middle, v: base}
		s.tryText(l, size*0.32)
	}
}

// Names of stations longer than this are shortened in pictures.
const longName = 8

// stationNames are the names of stations as pictures write them: without leading zeros, and, where they are long, without what all have
// in common.
type stationNames struct {
	before, after string
	cut           bool
}

func namesOfStations(casts []*section.Cast) stationNames {
	var n stationNames
	var names []string
	long := 0
	for _, c := range casts {
		names = append(names, c.Station)
		long = max(long, len([]rune(c.Station)))
	}
	if long <= longName || len(names) == 0 {
		return n
	}
	digit := func(r byte) bool { return r >= '0' && r <= '9' }
	before, after := names[0], names[0]
	for _, s := range names {
		for !strings.HasPrefix(s, before) {
			before = before[:len(before)-1]
		}
		for !strings.HasSuffix(s, after) {
			after = after[1:]
		}
	}
	for before != "" && (digit(before[len(before)-1]) || !utf8.ValidString(before)) { // numbers stay whole
		before = before[:len(before)-1]
	}
	for after != "" && (digit(after[0]) || !utf8.ValidString(after)) {
		after = after[1:]
	}
	for _, s := range names { // of every name something stays
		if len(s) <= len(before)+len(after) {
			before, after = "", ""
		}
	}
	n.before, n.after = before, after
	for _, s := range names {
		n.cut = n.cut || len([]rune(s))-len([]rune(before))-len([]rune(after)) > longName
	}
	return n
}

func (n stationNames) of(c *section.Cast) string {
	s := strings.TrimSuffix(strings.TrimPrefix(c.Station, n.before), n.after)
	if r := []rune(s); n.cut && len(r) > longName {
		return "…" + string(r[len(r)-longName+1:])
	}
	return trimZeros(s)
}

// note says for captions how names are shortened, "" when they are not.
func (n stationNames) note() string {
	var out []string
	if n.before != "" {
		out = append(out, "without "+n.before+" before them")
	}
	if n.after != "" {
		out = append(out, "without "+n.after+" after them")
	}
	if n.cut {
		out = append(out, "long ones by their ends")
	}
	if len(out) == 0 {
		return ""
	}
	return "written " + strings.Join(out, ", ")
}

// trimZeros drops the leading zeros of a station number, which say nothing in a picture.
func trimZeros(name string) string {
	if n, err := strconv.Atoi(name); err == nil && n >= 0 {
		return strconv.Itoa(n)
	}
	return name
}

// A track gives position by distance.
type track struct {
	km       []float64
	lon, lat []float64 // longitude runs on over the antimeridian
}

func newTrack(km []float64, at []orb.Point) *track {
	if len(km) != len(at) || len(km) == 0 {
		return nil
	}
	t := &track{km: km}
	for _, p := range at {
		t.lon = append(t.lon, p[0])
		t.lat = append(t.lat, p[1])
	}
	t.lon = unwrap(t.lon)
	return t
}

// along gives the value of a coordinate at a distance; NaN outside.
func (t *track) along(v []float64, km float64) float64 {
	if km < t.km[0]-1e-9 || km > t.km[len(t.km)-1]+1e-9 {
		return math.NaN()
	}
	k := min(max(sort.SearchFloat64s(t.km, km), 1), len(t.km)-1)
	if len(t.km) == 1 {
		return v[0]
	}
	d := t.km[k] - t.km[k-1]
	if d == 0 {
		return v[k]
	}
	return v[k-1] + (v[k]-v[k-1])*(km-t.km[k-1])/d
}

func spread(v []float64) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, x := range v {
		if !math.IsNaN(x) {
			lo, hi = min(lo, x), max(hi, x)
		}
	}
	return hi - lo
}

// secondAxis draws latitude or longitude under the distance axis, with a tick wherever the track crosses a round value. It returns the
// word used: the one asked for, if it changes along the track at all, else the coordinate that changes more.
func (f *frame) secondAxis(s *scene, t *track, which string, y, size float64) string {
	const still = 1e-3 // of the other's change: an axis of it would have no numbers
	lon, lat := spread(t.lon), spread(t.lat)
	if which != "latitude" && which != "longitude" || which == "longitude" && lon < still*lat || which == "latitude" && lat < still*lon {
		which = "latitude"
		if lon*math.Cos(t.lat[0]*math.Pi/180) > lat {
			which = "longitude"
		}
	}
	v := t.lat
	if which == "longitude" {
		v = t.lon
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, x := range v {
		lo, hi = min(lo, x), max(hi, x)
	}
	s.line(f.l, y, f.r, y, pen{colour: ink, width: thin})
	if !(hi > lo) {
		return which
	}
	most := int(math.Max(2, (f.r-f.l)/(size*5.4)))
	values := ticks(lo, hi, most)
	d := decimalsOf(values)
	for _, val := range values {
		for k := 1; k < len(v); k++ {
			a, b := v[k-1], v[k]
			if a == b || (val-a)*(val-b) > 0 || (val == a && k > 1) {
				continue
			}
			km := t.km[k-1] + (val-a)/(b-a)*(t.km[k]-t.km[k-1])
			if km < f.x0 || km > f.x1 {
				continue
			}
			x := f.X(km)
			s.line(x, y, x, y+tickLength, pen{colour: ink, width: thin})
			txt := latText(val, d)
			if which == "longitude" {
				txt = lonText(val, d)
			}
			s.tryText(label{text: txt, at: pt{x, y + tickLength + 1.6}, size: size, h: middle, v: top}, 3)
		}
	}
	return which
}
