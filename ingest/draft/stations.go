package draft

import (
	"math"
	"slices"
	"sort"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// A stop is the casts of one station.
type stop struct {
	expocode, station string
	casts             []*section.Cast
	at                orb.Point
}

// stops returns the stations in the order in which they were first taken.
func (d *drafter) stops() []*stop {
	casts := slices.Clone(d.casts)
	sort.SliceStable(casts, func(i, j int) bool {
		a, b := casts[i], casts[j]
		if !a.Time.Equal(b.Time) && !a.Time.IsZero() && !b.Time.IsZero() {
			return a.Time.Before(b.Time)
		}
		return section.CompareCasts(a, b) < 0
	})
	at := map[[2]string]*stop{}
	var out []*stop
	for _, c := range casts {
		k := [2]string{c.Expocode, c.Station}
		if at[k] == nil {
			at[k] = &stop{expocode: c.Expocode, station: c.Station, at: c.At}
			out = append(out, at[k])
		}
		at[k].casts = append(at[k].casts, c)
	}
	return out
}

// isTest reports whether a station is called as those are where the gear was tried.
func isTest(station string) bool {
	low := strings.ToLower(station)
	return strings.HasPrefix(low, "test") || len(low) > 1 && low[0] == 't' && strings.Trim(low[1:], "0123456789") == ""
}

// Limits of the search for sections. All are ours.
const (
	jump      = 3.5 // a step so many times as long as the median begins another section
	turnDeg   = 70  // a turn of so many degrees does too
	fewest    = 3   // stations of a section
	yoyoCasts = 5   // casts of one station that make a series
)

// lines divides the track into sections: where it jumps, and where it turns.
func lines(stops []*stop) (out [][]*stop) {
	if len(stops) < 2 {
		return nil
	}
	var steps []float64
	for i := 1; i < len(stops); i++ {
		m, _, _ := section.Geodesic(stops[i-1].at, stops[i].at)
		steps = append(steps, m/1000)
	}
	sorted := slices.Clone(steps)
	slices.Sort(sorted)
	median := sorted[len(sorted)/2]
	cur := []*stop{stops[0]}
	for i := 1; i < len(stops); i++ {
		apart := steps[i-1] > jump*median
		if n := len(cur); !apart && n >= 2 && turn(cur[n-2].at, cur[n-1].at, stops[i].at) > turnDeg {
			out = append(out, cur)
			cur = []*stop{cur[n-1]}
			if n >= fewest && steps[i-1] > 1.5*median { // the way to the next line is no part of it
				cur = nil
			}
		} else if apart {
			out = append(out, cur)
			cur = nil
		}
		cur = append(cur, stops[i])
	}
	out = append(out, cur)
	out = slices.DeleteFunc(out, func(l []*stop) bool { return len(l) < fewest })
	if len(out) == 0 && len(stops) <= 60 {
		out = [][]*stop{stops}
	}
	return out
}

// lonely returns the stations that are on no line and farther from every other than a jump, with the distance to the
// nearest in km. There are none where the track has no line of its own: then all stations may belong together.
func lonely(track []*stop) map[*stop]float64 {
	found := lines(track)
	if len(found) == 0 || len(found[0]) == len(track) {
		return nil
	}
	on := map[*stop]bool{}
	var steps []float64
	for _, l := range found {
		for i, s := range l {
			if on[s] = true; i > 0 {
				m, _, _ := section.Geodesic(l[i-1].at, s.at)
				steps = append(steps, m/1000)
			}
		}
	}
	slices.Sort(steps)
	out := map[*stop]float64{}
	for _, s := range track {
		nearest := math.Inf(1)
		for _, other := range track {
			if m, _, _ := section.Geodesic(s.at, other.at); other != s {
				nearest = min(nearest, m/1000)
			}
		}
		if !on[s] && nearest > jump*steps[len(steps)/2] {
			out[s] = nearest
		}
	}
	return out
}

// Limits of a closed track. All are ours.
const (
	fewestClosed = 4   // stations
	closingStep  = 1.5 // times the median step, from the last station to the first at most
	roundness    = 0.4 // 4 pi times the area over the square of the length at least: 1 for a circle, 0.79 for a square
)

// closedTracks returns the parts of the track, between its jumps, that come back to where they began and enclose an
// area.
func closedTracks(stops []*stop) (out [][]*stop) {
	var steps []float64
	for i := 1; i < len(stops); i++ {
		m, _, _ := section.Geodesic(stops[i-1].at, stops[i].at)
		steps = append(steps, m/1000)
	}
	if len(steps) == 0 {
		return nil
	}
	sorted := slices.Clone(steps)
	slices.Sort(sorted)
	median := sorted[len(sorted)/2]
	from := 0
	for i := range stops {
		if i+1 < len(stops) && steps[i] <= jump*median {
			continue
		}
		part := stops[from : i+1]
		from = i + 1
		if len(part) < fewestClosed {
			continue
		}
		points := []orb.Point{}
		for _, s := range part {
			points = append(points, s.at)
		}
		points = append(points, part[0].at)
		km := section.TrackKm(points, section.WGS84)
		n := len(part)
		around := section.Enclosed(points)
		if km[n]-km[n-1] <= closingStep*median && around.Crosses == [2]int{} &&
			4*math.Pi*around.AreaKm2 >= roundness*km[n]*km[n] {
			out = append(out, part)
		}
	}
	return out
}

// turn returns by how many degrees the track a to b to c turns at b.
func turn(a, b, c orb.Point) float64 {
	x := math.Cos(b[1] * math.Pi / 180)
	dir := func(p, q orb.Point) float64 {
		return math.Atan2(q[1]-p[1], math.Remainder(q[0]-p[0], 360)*x) * 180 / math.Pi
	}
	return math.Abs(math.Remainder(dir(b, c)-dir(a, b), 360))
}

// listOf writes stations as a list of the cruise file: runs of numbers that follow each other as 3-7.
func listOf(stops []*stop, legs bool) string {
	var parts []string
	for i := 0; i < len(stops); {
		j := i
		step := 0
		for j+1 < len(stops) && stops[j+1].expocode == stops[i].expocode {
			k := follows(stops[j].station, stops[j+1].station)
			if k == 0 || step != 0 && k != step {
				break
			}
			step = k
			j++
		}
		name := func(s *stop) string {
			text := metadata.CastText(s.station, "")
			return text
		}
		text := name(stops[i])
		if legs {
			text = metadata.LegCastText(stops[i].expocode, stops[i].station, "")
		}
		switch {
		case j-i >= 2:
			text += "-" + name(stops[j])
		default:
			j = i
		}
		parts = append(parts, text)
		i = j + 1
	}
	return strings.Join(parts, ", ")
}

// follows returns 1 or -1 when two stations are whole numbers of which the second is one more or less, without zeros in
// front; else 0.
func follows(a, b string) int {
	x, y := number(a), number(b)
	if x < 0 || y < 0 {
		return 0
	}
	if d := y - x; d == 1 || d == -1 {
		return d
	}
	return 0
}

func number(s string) int {
	n := 0
	if s == "" || len(s) > 6 || s[0] == '0' {
		return -1
	}
	for _, c := range s {
		if c < '0' || c > '9' {
			return -1
		}
		n = 10*n + int(c-'0')
	}
	return n
}

// binWidth returns the commonest step between levels, to two digits; 0 when there is none, or casts differ in it.
func (d *drafter) binWidth() float64 {
	width := 0.0
	for _, c := range d.casts {
		var steps []float64
		for i := 1; i < len(c.PressureDbar); i++ {
			if s := c.PressureDbar[i] - c.PressureDbar[i-1]; s > 0 {
				steps = append(steps, s)
			}
		}
		if len(steps) == 0 {
			continue
		}
		slices.Sort(steps)
		m := steps[len(steps)/2]
		same := 0
		for _, s := range steps {
			if math.Abs(s-m) < m/20 {
				same++
			}
		}
		if 10*same < 7*len(steps) || m > 100 || width > 0 && math.Abs(m-width) > width/20 {
			return 0
		}
		width = m
	}
	if width == 0 {
		return 0
	}
	p := math.Pow(10, math.Floor(math.Log10(width))-1)
	return math.Round(width/p) * p
}
