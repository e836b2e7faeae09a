package section

import (
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
)

// A line that ends with its first station begins and ends with the same cast, whichever the choice among repeats is;
// one that goes back over itself, or has a station still to come, does not close.
func TestClosedLine(t *testing.T) {
	a, b, c, d := newCast("1", "1", 0, 40, 1, 2), newCast("2", "1", 1, 40, 1, 2), newCast("3", "1", 1, 41, 1, 2),
		newCast("4", "1", 0, 41, 1, 2)
	later := newCast("1", "2", 0.01, 40, 1, 2, 3) // a deeper cast of station 1
	fifth := newCast("5", "1", 0.005, 40, 1)      // nearer than 2 km to station 1
	far := newCast("1", "3", 0.5, 40.5, 1, 2)
	a.Time, b.Time, d.Time, later.Time = at(0), at(2), at(20), at(21)
	all := []*Cast{a, b, c, d, later, fifth}
	for _, x := range []struct {
		stations string
		repeats  Repeats
		underway bool
		casts    []*Cast
		want     string // stations/casts; a * behind a closed line
		err      string
	}{
		{"1-4, 1", "", false, []*Cast{a, b, c, d}, "1/1 2/1 3/1 4/1 1/1 *", ""},
		{"4-1, 4", "", false, []*Cast{a, b, c, d}, "4/1 3/1 2/1 1/1 4/1 *", ""},
		{"1-4", "", false, []*Cast{a, b, c, d}, "1/1 2/1 3/1 4/1", ""},
		{"1-4, 1", "", false, all, "1/2 2/1 3/1 4/1 1/2 *", ""},
		{"1/1, 2-4, 1/2", First, false, all, "1/1 2/1 3/1 4/1 1/1 *", ""},
		{"1/1, 2-4, 1/1", "", false, all, "1/1 2/1 3/1 4/1 1/1 *", ""},
		{"1-4, 1", NearestInTime, false, all, "1/2 2/1 3/1 4/1 1/2 *", ""}, // 19 + 1 hours from 2 and 4; 1/1: 2 + 20
		{"1-5, 1", "", false, all, "1/2 2/1 3/1 4/1 1/2 *", ""},
		{"1-5", "", false, all, "1/2 2/1 3/1 4/1 5/1", ""},
		{"1/1, 2-4, 1/3", "", false, append(all, far), "1/1 2/1 3/1 4/1 1/3", ""},
		{"1-4, 1", "", true, []*Cast{a, b, c}, "1/1 2/1 3/1", ""},
		{"1-4, 1", "", true, []*Cast{a, b, c, d}, "1/1 2/1 3/1 4/1 1/1 *", ""},
		{"1, 2, 1", "", false, all, "", "returns to station 1 after 2 stations: a closed line needs at least 3 places"},
		{"1, 5, 1", "", false, all, "1/2", ""},
	} {
		s, found, err := Build(x.casts, BuildOptions{Name: "box", Stations: list(t, x.stations), Repeats: x.repeats,
			Underway: x.underway})
		if x.err != "" {
			if err == nil || !strings.Contains(err.Error(), x.err) {
				t.Errorf("%s: %v", x.stations, err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", x.stations, err)
			continue
		}
		got := ""
		for _, k := range s.Casts {
			got += k.Station + "/" + k.Number + " "
		}
		if s.Closed() {
			got += "*"
			if once := s.Once(); len(once.Casts) != len(s.Casts)-1 || len(once.Places) != len(once.Casts) ||
				len(once.DistanceKm) != len(once.Casts) || once.Closed() {
				t.Errorf("%s: each once: %v", x.stations, once)
			}
		}
		if s.StillOpen != (x.underway && !s.Closed()) {
			t.Errorf("%s: still open: %v", x.stations, s.StillOpen)
		}
		if strings.TrimSpace(got) != x.want || len(s.Places) != len(s.Casts) || len(s.DistanceKm) != len(s.Casts) {
			t.Errorf("%s %s: %s, want %s", x.stations, x.repeats, got, x.want)
		}
		near := false
		for _, f := range found {
			near = near || f.Check == "section.closed" && strings.Contains(f.Remedy, "stations: …, 1")
		}
		if near != (x.stations == "1-5") {
			t.Errorf("%s: findings %v", x.stations, found)
		}
	}
	s, _, err := Build(all, BuildOptions{Name: "box", Stations: list(t, "1-4, 1"), Repeats: MeanOf})
	if err != nil || !s.Closed() || s.Places[0].Mean == nil || s.Casts[0] == a {
		t.Errorf("a mean at both ends is one cast: %v %v", s, err)
	}
}

// What a line encloses, in closed form: an octant of the sphere, a cap of 60 degrees, rectangles of meridians and of
// parallels in steps of a quarter of a degree.
func TestEnclosed(t *testing.T) {
	sphere := 4 * math.Pi * authalicKm * authalicKm
	turn := func(points []orb.Point, lon, lat float64) []orb.Point {
		out := make([]orb.Point, len(points))
		for i, p := range points {
			out[i] = orb.Point{Wrap180(p[0] + lon), p[1] * lat}
		}
		return out
	}
	backwards := func(points []orb.Point) []orb.Point {
		out := make([]orb.Point, len(points))
		for i, p := range points {
			out[len(points)-1-i] = p
		}
		return out
	}
	var cap60, box []orb.Point
	for lon := 0.0; lon <= 360; lon += 0.25 {
		cap60 = append(cap60, orb.Point{Wrap180(lon), 60})
	}
	for _, side := range [][4]float64{{10, 30, 0.25, 0}, {14, 30, 0, 0.25}, {14, 34, -0.25, 0}, {10, 34, 0, -0.25}} {
		for i := range 16 {
			box = append(box, orb.Point{side[0] + side[2]*float64(i), side[1] + side[3]*float64(i)})
		}
	}
	box = append(box, box[0])
	rad := math.Pi / 180
	boxArea := authalicKm * authalicKm * 4 * rad * (math.Sin(34*rad) - math.Sin(30*rad))
	octant := []orb.Point{{0, 0}, {90, 0}, {45, 90}, {0, 0}}
	for _, x := range []struct {
		name    string
		points  []orb.Point
		area    float64
		left    bool
		pole    string
		crosses [2]int
	}{
		{"octant", octant, sphere / 8, true, "", [2]int{}},
		{"octant the other way", backwards(octant), sphere / 8, false, "", [2]int{}},
		{"cap eastwards", cap60, sphere / 2 * (1 - math.Sin(60*rad)), true, "north", [2]int{}},
		{"cap westwards", backwards(cap60), sphere / 2 * (1 - math.Sin(60*rad)), false, "north", [2]int{}},
		{"southern cap eastwards", turn(cap60, 0, -1), sphere / 2 * (1 - math.Sin(60*rad)), false, "south", [2]int{}},
		{"southern cap westwards", backwards(turn(cap60, 0, -1)), sphere / 2 * (1 - math.Sin(60*rad)), true, "south",
			[2]int{}},
		{"box", box, boxArea, true, "", [2]int{}},
		{"box across the antimeridian", turn(box, 168, 1), boxArea, true, "", [2]int{}},
		{"box in the south", turn(box, 0, -1), boxArea, false, "", [2]int{}},
		{"line that crosses itself", []orb.Point{{179, 0}, {-179, 2}, {-179, 0}, {179, 2}, {179, 0}}, math.NaN(), false,
			"", [2]int{0, 2}},
		{"line round the Earth that crosses itself", []orb.Point{{0, 60}, {120, 60}, {-120, 60}, {10, 55}, {5, 65},
			{0, 60}}, math.NaN(), true, "north", [2]int{0, 3}},
	} {
		e := Enclosed(x.points)
		if x.area == x.area { // the eastern half of all of it, where that is half of it
			s := &Section{}
			for _, p := range x.points {
				s.Casts = append(s.Casts, &Cast{At: p})
			}
			mid := (x.points[0][0] + x.points[len(x.points)/2][0]) / 2
			half := s.Share(func(p orb.Point) bool { return math.Remainder(p[0]-mid, 360) > 0 })
			if got := s.Share(func(orb.Point) bool { return true }); got != 1 || (strings.HasPrefix(x.name, "box") ||
				x.pole != "") && math.Abs(half-0.5) > 0.03 {
				t.Errorf("%s: all of it is %g, the eastern half %g", x.name, got, half)
			}
		}
		if e.Crosses != x.crosses || e.Pole != x.pole {
			t.Errorf("%s: %+v", x.name, e)
		}
		if x.area == x.area && (math.Abs(e.AreaKm2-x.area) > 2e-3*x.area || e.Left != x.left) {
			t.Errorf("%s: %+v, want %g, left %v", x.name, e, x.area, x.left)
		}
	}
}

// Parts of a triangle in closed form, on either side of the antimeridian, and of a cap round a pole, where a degree of
// latitude has the less area the nearer it is to the pole.
func TestShare(t *testing.T) {
	s := &Section{}
	for _, p := range []orb.Point{{175, 0}, {-175, 0}, {-175, 10}, {175, 0}} {
		s.Casts = append(s.Casts, &Cast{At: p})
	}
	for _, x := range []struct {
		name string
		is   func(orb.Point) bool
		want float64
	}{
		{"beyond the long side", func(p orb.Point) bool { return p[1] > math.Mod(p[0]-175+360, 360)+0.2 }, 0},
		{"the eastern half", func(p orb.Point) bool { return p[0] < 0 }, 0.75},
		{"the upper half", func(p orb.Point) bool { return p[1] > 5 }, 0.25},
	} {
		if got := s.Share(x.is); math.Abs(got-x.want) > 0.02 {
			t.Errorf("%s: %g, want %g", x.name, got, x.want)
		}
	}
	cap60 := &Section{}
	for lon := 0.0; lon <= 360; lon += 10 {
		cap60.Casts = append(cap60.Casts, &Cast{At: orb.Point{Wrap180(lon), 60}})
	}
	sin := func(deg float64) float64 { return math.Sin(deg * math.Pi / 180) }
	want := (1 - sin(75)) / (1 - sin(60))
	if got := cap60.Share(func(p orb.Point) bool { return p[1] > 75 }); math.Abs(got-want) > 0.01 {
		t.Errorf("of the cap north of 60 degrees %g lies north of 75, want %g", got, want)
	}
}
