package section

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
)

// newCast makes a cast with temperature and salinity at the pressures given.
func newCast(station, number string, lon, lat float64, p ...float64) *Cast {
	c := &Cast{Expocode: "ZZBR20260101", Station: station, Number: number, Role: Primary, At: orb.Point{lon, lat},
		BottomM: math.NaN(), PressureDbar: p}
	fill := func(v float64) []float64 {
		out := make([]float64, len(p))
		for i := range out {
			out[i] = v
		}
		return out
	}
	c.Columns = []Column{
		{Variable: metadata.MustVariable("pres"), Values: p},
		{Variable: metadata.MustVariable("temp"), Values: fill(10)},
		{Variable: metadata.MustVariable("psal"), Values: fill(35)},
	}
	return c
}

func at(hour int) time.Time { return time.Date(2026, 1, 1, hour, 0, 0, 0, time.UTC) }

func TestValidate(t *testing.T) {
	good := func() *Cast { return newCast("1", "1", 10, 50, 1, 2, 3) }
	if err := good().Validate(); err != nil {
		t.Error(err)
	}
	for _, c := range []struct {
		break_ func(c *Cast)
		want   string
	}{
		{func(c *Cast) { c.Station = "" }, "no station"},
		{func(c *Cast) { c.Expocode = "A/B" }, `expocode "A/B" cannot be part of a file name`},
		{func(c *Cast) { c.Number = " 1" }, `cast number " 1" cannot be part of a file name`},
		{func(c *Cast) { c.At = orb.Point{181, 50} },
			"longitude 181, latitude 50 is not a position (-180 to 180, -90 to 90)"},
		{func(c *Cast) { c.At[1] = math.NaN() },
			"longitude 10, latitude NaN is not a position (-180 to 180, -90 to 90)"},
		{func(c *Cast) { c.Role = 99 }, "direction 0, role 99 or time meaning 0 is none of ours"},
		{func(c *Cast) { c.BottomM = -5 }, "water depth -5 m"},
		{func(c *Cast) { c.Columns[1].Name = "" }, "column 2 has no name"},
		{func(c *Cast) { c.Columns[2].Name = "temp" }, "column temp a second time"},
		{func(c *Cast) { c.Columns[1].Text = []string{"a", "b", "c"} }, "column temp has both numbers and text"},
		{func(c *Cast) { c.Columns[1].Values = []float64{1} }, "column temp has 1 values on 3 levels"},
		{func(c *Cast) { c.Columns[1].Values, c.Columns[1].Text = nil, []string{"a"} },
			"column temp has 1 values on 3 levels"},
		{func(c *Cast) { c.Columns[1].Flags = []metadata.Flag{2} },
			"column temp has 1 flags and 0 proposed flags on 3 levels"},
		{func(c *Cast) { c.Columns[1].Values[2] = math.Inf(1) }, "column temp: infinite value at level 3"},
		{func(c *Cast) { c.Columns[0].Name = "p" }, "no column pres"},
		{func(c *Cast) { c.Columns[0].Values = []float64{1, 2, 3} },
			"the pressure axis is not the values of the column pres"},
		{func(c *Cast) { *c = *newCast("1", "1", 10, 50) }, "no levels"},
	} {
		k := good()
		c.break_(k)
		err := k.Validate()
		if err == nil || !strings.HasSuffix(strings.Split(err.Error(), "\n")[0], ": "+c.want) {
			t.Errorf("%v, want %s", err, c.want)
		}
	}
	k := good()
	k.Columns[1].Values, k.Columns[1].Text = nil, []string{"a", "b", "c"}
	if err := k.Validate(); err != nil {
		t.Errorf("a column of text: %v", err)
	}
}

// Source: exchange.md section 3: 33RO20131223_00001_00002, and 33RO20131223_001_00001 where 1 and 001 are both there.
func TestIDs(t *testing.T) {
	casts := []*Cast{castOf("33RO20131223", "1", "2"), castOf("33RO20131223", "001", "1"),
		castOf("33RO20131223", "2", "1"),
		castOf("33RO20140101", "1", "1"), castOf("33RO20140101", "T-12345", "1"), castOf("33RO20140101", "3", "01"),
		castOf("33RO20140101", "3", "1")}
	want := []string{"33RO20131223_1_00002", "33RO20131223_001_00001", "33RO20131223_00002_00001",
		"33RO20140101_00001_00001",
		"33RO20140101_T-12345_00001", "33RO20140101_00003_01", "33RO20140101_00003_1"}
	if got := IDs(casts); !slices.Equal(got, want) {
		t.Errorf("%v", got)
	}
	if got := casts[2].ID(); got != want[2] {
		t.Error(got)
	}
}

// Different casts never share an ID, whatever zeros their names have.
func TestIDsDiffer(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		seen := map[string]bool{}
		var casts []*Cast
		for range 12 {
			station, number := "000000"[:r.IntN(6)]+strconv.Itoa(r.IntN(3)),
				"000000"[:r.IntN(5)]+strconv.Itoa(r.IntN(2))
			if !seen[station+"/"+number] {
				seen[station+"/"+number] = true
				casts = append(casts, castOf("X", station, number))
			}
		}
		ids := IDs(casts)
		sorted := slices.Clone(ids)
		slices.Sort(sorted)
		if len(slices.Compact(sorted)) != len(ids) {
			t.Fatalf("%s: %v", named(casts), ids)
		}
	}
}

func TestUsableLevels(t *testing.T) {
	nan := math.NaN()
	c := newCast("1", "1", 0, 0, 1, 2, nan, 4, 3, 5, 5, 6, 7, 8)
	c.Columns[0].Flags = []metadata.Flag{2, 2, 9, 2, 2, 2, 2, 4, 2, 2}
	c.Columns[1].Flags = []metadata.Flag{2, 1, 2, 3, 2, 6, 2, 2, 7, 9}
	c.Columns[2].Values[0] = nan
	for _, k := range []struct {
		one   bool
		names []string
		want  []int
	}{
		{false, nil, []int{0, 1, 3, 5, 8, 9}},
		{false, []string{"temp"}, []int{0, 5, 8}},
		{true, []string{"temp"}, []int{0, 1, 5, 8}},
		{true, []string{"temp", "psal"}, []int{1, 5, 8}},
		{false, []string{"oxy"}, nil},
	} {
		if got := c.UsableLevels(nil, k.one, k.names...); !slices.Equal(got, k.want) {
			t.Errorf("%v %v: %v, want %v", k.one, k.names, got, k.want)
		}
	}
	if got := c.UsableLevels([]int{77}, false, "temp"); got[0] != 77 || len(got) != 4 {
		t.Errorf("appended %v", got)
	}
	if got := Take(nil, c.PressureDbar, []int{0, 8}); !slices.Equal(got, []float64{1, 7}) {
		t.Error(got)
	}
	if got := (&Cast{PressureDbar: []float64{1}}).UsableLevels(nil, false); got != nil {
		t.Error(got)
	}
	if c.Levels() != 10 {
		t.Error(c.Levels())
	}
}

// Source: testdata/checkvalues/gap_checks.csv; the made-up rows are rebuilt from their words, the check casts from
// their table.
func TestGapTable(t *testing.T) {
	two := func(from, to float64) (p []float64) {
		for x := 2.0; x <= 4000; x += 2 {
			if x < from || x > to {
				p = append(p, x)
			}
		}
		return p
	}
	var checkCasts [3][]float64
	for _, row := range checkTable(t, "teos10_check_casts.csv") {
		v := numbers(t, row, "cast", "p")
		checkCasts[int(v[0])-1] = append(checkCasts[int(v[0])-1], v[1])
	}
	known := map[string][]float64{
		"check cast 1": checkCasts[0], "check cast 2": checkCasts[1], "check cast 3": checkCasts[2],
		"2 dbar to 4000, 1500 to 1520 absent": two(1500, 1520), "2 dbar to 4000, 800 to 848 absent": two(800, 848),
		"2 dbar to 4000, 800 to 850 absent": two(800, 850), "2 dbar to 4000, 1800 to 1998 absent": two(1800, 1998),
		"2 dbar to 4000, 1800 to 2000 absent": two(1800, 2000), "0 100 500 only": {0, 100, 500},
		"10 and 400 only": {10, 400},
	}
	for _, row := range checkTable(t, "dynamic_height_worked_example.csv") {
		name := "worked example station " + row["station"]
		known[name] = append(known[name], numbers(t, row, "p_dbar")...)
	}
	for _, row := range checkTable(t, "gap_checks.csv") {
		p, ok := known[row["cast"]]
		if !ok {
			t.Errorf("%s is not rebuilt here", row["cast"])
			continue
		}
		v := numbers(t, row, "levels", "largest_step_dbar")
		largest := 0.0
		for i := 1; i < len(p); i++ {
			largest = max(largest, p[i]-p[i-1])
		}
		if float64(len(p)) != v[0] || math.Abs(largest-v[1]) > 0.51 {
			t.Errorf("%s: %d levels, largest step %v", row["cast"], len(p), largest)
		}
		var words []string
		for _, g := range Gaps(p, nil) {
			words = append(words, fmt.Sprintf("%v-%v", g.FromDbar, g.ToDbar))
			if p[g.Above] != g.FromDbar || p[g.Above+1] != g.ToDbar {
				t.Errorf("%s: index %d", row["cast"], g.Above)
			}
		}
		if got := strings.Join(words, " "); got != row["gaps"] {
			t.Errorf("%s: gaps %q, want %q", row["cast"], got, row["gaps"])
		}
	}
	limit := 10.0
	if g := Gaps([]float64{0, 10, 21}, &limit); len(g) != 1 || g[0] != (Gap{1, 10, 21}) {
		t.Errorf("max_gap 10: %v", g)
	}
	none := math.Inf(1)
	if g := Gaps(two(800, 2000), &none); g != nil {
		t.Errorf("max_gap none: %v", g)
	}
}

func list(t *testing.T, text string) StationList {
	t.Helper()
	l, err := ParseStations(text)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// One degree of longitude on the equator is 111.3195 km on WGS84 (equatorial radius times pi/180).
func TestBuild(t *testing.T) {
	a, b, c := newCast("1", "1", 179.5, 0, 1, 2), newCast("2", "1", -179.5, 0, 1, 2), newCast("3", "1", -178.5, 0, 1, 2)
	yoyo := newCast("2", "2", -179.5, 0, 1, 2, 3)
	yoyo.Role = Yoyo
	s, found, err := Build([]*Cast{c, b, yoyo, a}, BuildOptions{Name: "line", Stations: list(t, "1-3")})
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(s.Casts, []*Cast{a, b, c}) || len(s.Places) != 3 {
		t.Errorf("casts %s", named(s.Casts))
	}
	for i, want := range []float64{0, 111.3195, 222.6390} {
		if math.Abs(s.DistanceKm[i]-want) > 1e-4 {
			t.Errorf("distance %v", s.DistanceKm)
		}
	}
	if len(found) != 1 || found[0].Check != "section.role" || !strings.Contains(found[0].Message, "role yoyo") {
		t.Errorf("findings %v", found)
	}
	p := s.Pairs()
	if len(p) != 2 || p[0].A != 0 || p[0].B != 1 || math.Abs(math.Abs(p[0].Midpoint[0])-180) > 1e-9 ||
		math.Abs(p[1].Midpoint[0]+179) > 1e-9 ||
		math.Abs(p[0].AzimuthDeg-90) > 1e-9 || p[0].TooClose {
		t.Errorf("pairs %+v", p)
	}
	// The same line the other way round, and on the sphere.
	s, _, err = Build([]*Cast{a, b, c}, BuildOptions{Name: "line", Stations: list(t, "3-1"), Distance: Sphere})
	if err != nil || s.Casts[0] != c || math.Abs(s.DistanceKm[2]-2*111.1949266) > 1e-6 ||
		s.Method.String() != "sphere" {
		t.Errorf("%v %v %v", s.DistanceKm, s.Method, err)
	}
	// A cast named by its number enters whatever its role.
	s, found, err = Build([]*Cast{a, b, yoyo, c}, BuildOptions{Name: "line", Stations: list(t, "1, 2/2, 3")})
	if err != nil || s.Casts[1] != yoyo || len(found) != 0 {
		t.Errorf("%s %v %v", named(s.Casts), found, err)
	}
	// A closed line comes back to its first cast.
	if s, _, err = Build([]*Cast{a, b, c}, BuildOptions{Name: "box", Stations: list(t, "1-3, 1")}); err != nil ||
		len(s.Casts) != 4 || s.Casts[3] != a {
		t.Errorf("%v %v", s, err)
	}
	if _, _, err = Build([]*Cast{a}, BuildOptions{Name: "line", Stations: list(t, "1-2")}); err == nil ||
		!strings.Contains(err.Error(), "station 2 not found") {
		t.Error(err)
	}
	if _, _, err = Build([]*Cast{yoyo}, BuildOptions{Name: "line", Stations: list(t, "2")}); err == nil ||
		!strings.Contains(err.Error(), "none of the 1 casts of stations 2 has role primary") {
		t.Error(err)
	}
}

// Rules of science.md section 8, "Repeats".
func TestRepeats(t *testing.T) {
	before, after := newCast("1", "1", 0, 0, 1, 2), newCast("3", "1", 1, 0, 1, 2)
	before.Time, after.Time = at(0), at(20)
	x, y, z := newCast("2", "1", 0.5, 0, 1, 2, 3), newCast("2", "2", 0.51, 0, 1, 2, 3, 4),
		newCast("2", "3", 0.5, 0.01, 1, 2)
	x.Time, y.Time, z.Time = at(6), at(9), at(12)
	z.Role = Repeat
	y.Columns[1].Values[3] = math.NaN() // its deepest usable bin is 3, as that of x
	build := func(rule Repeats, casts ...*Cast) *Section {
		t.Helper()
		s, found, err := Build(append([]*Cast{before, after}, casts...),
			BuildOptions{Name: "line", Stations: list(t, "1-3"), Repeats: rule})
		if err != nil {
			t.Fatal(err)
		}
		if len(s.Casts) != 3 {
			t.Fatalf("%s: %s", rule, named(s.Casts))
		}
		if n := slices.IndexFunc(found, func(f metadata.Finding) bool { return f.Check == "section.repeats" }); n < 0 {
			t.Errorf("%s: the others are not listed: %v", rule, found)
		}
		return s
	}
	for _, c := range []struct {
		rule Repeats
		want *Cast
		left int
	}{
		{"", x, 1},            // deepest of the primary ones; a tie goes to the first in time
		{Deepest, x, 2},       // now z competes
		{First, x, 2},         //
		{Last, z, 2},          // a repeat
		{"", x, 1},            //
		{NearestInTime, x, 2}, // 6 + 14 hours each: a tie
	} {
		s := build(c.rule, z, y, x)
		if s.Casts[1] != c.want || len(s.Places[1].Others) != c.left || s.Places[1].Chosen != c.want {
			t.Errorf("%q: %s, %d left", c.rule, named(s.Casts), len(s.Places[1].Others))
		}
	}
	y.Columns[1].Values[3] = 10
	if s := build("", x, y); s.Casts[1] != y || s.Places[1].Rule != Deepest {
		t.Errorf("deepest: %s", named(s.Casts))
	}
	after.Time = at(9)
	if s := build(NearestInTime, x, y, z); s.Casts[1] != x {
		t.Errorf("nearest: %s", named(s.Casts)) // 6+3, 9+0, 12+3 hours: x and y tie at 9
	}
	before.Time = at(5)
	if s := build(NearestInTime, z, y, x); s.Casts[1] != x { // 1+3, 4+0, 7+3: a tie again
		t.Errorf("nearest: %s", named(s.Casts))
	}
	after.Time = at(12)
	before.Time = time.Time{}
	if s := build(NearestInTime, x, y, z); s.Casts[1] != z {
		t.Errorf("nearest without a time before: %s", named(s.Casts))
	}
	z.Time = time.Time{}
	if s := build(NearestInTime, z, y, x); s.Casts[1] != y {
		t.Errorf("nearest, one cast without time: %s", named(s.Casts))
	}
	for _, rule := range []Repeats{First, Last} {
		if s := build(rule, z, y, x); s.Casts[1] == z {
			t.Errorf("%s took the cast without a time", rule)
		}
	}
}

func TestTooClose(t *testing.T) {
	// 1.5 km apart each, so that one place reaches over 3 km: what follows within 2 km of any belongs to it.
	step := 1.5 / 111.3195
	casts := []*Cast{newCast("1", "1", 0, 0, 1), newCast("2", "1", step, 0, 1), newCast("3", "1", 2*step, 0, 1),
		newCast("4", "1", 2*step+0.1, 0, 1)}
	s, _, err := Build(casts, BuildOptions{Name: "line", Stations: list(t, "1-4")})
	if err != nil || len(s.Casts) != 2 || len(s.Places[0].Others) != 2 {
		t.Fatalf("%v %v", s, err)
	}
	// A line that goes out and comes back in a curl: neighbours of two places may still be near.
	casts = []*Cast{newCast("1", "1", 0, 0, 1, 2), newCast("2", "1", 0.03, 0, 1), newCast("3", "1", 0.015, 0, 1, 2)}
	s, found, err := Build(casts, BuildOptions{Name: "line", Stations: list(t, "1-3")})
	if err != nil || len(s.Casts) != 2 || !s.Pairs()[0].TooClose {
		t.Fatalf("%v %v", s, err)
	}
	if n := slices.IndexFunc(found, func(f metadata.Finding) bool { return f.Check == "section.too_close" }); n < 0 {
		t.Errorf("findings %v", found)
	}
}

func TestMeanCast(t *testing.T) {
	a, b := newCast("2", "1", 179.999, 0, 1, 2, 3), newCast("2", "2", -179.999, 0.002, 2, 3.04, 5)
	a.Time, b.Time = at(6), at(8)
	a.BottomM, b.BottomM = 100, 300 // b reaches deeper
	a.Columns[1].Values = []float64{10, 11, 12}
	b.Columns[1].Values = []float64{13, 16, 14}
	a.Columns[1].Flags = []metadata.Flag{2, 6, 2}
	b.Columns[1].Flags = []metadata.Flag{2, 2, 4}
	b.Columns = append(b.Columns[:2], Column{Variable: metadata.MustVariable("oxy"), Values: []float64{1, 1, 1}})
	a.Columns = append(a.Columns, Column{Variable: metadata.Variable{Name: "remark"}, Text: []string{"x", "y", "z"}})
	m, mean := MeanCast([]*Cast{a, b}, false)
	if err := m.Validate(); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(m.PressureDbar, []float64{1, 2, 3, 5}) || len(m.Columns) != 4 {
		t.Fatalf("%v, %d columns", m.PressureDbar, len(m.Columns))
	}
	same := func(got, want []float64) bool { return fmt.Sprint(got) == fmt.Sprint(want) }
	nan := math.NaN()
	if temp := m.Column("temp"); !same(temp.Values, []float64{10, 12, 14, nan}) ||
		!slices.Equal(temp.Flags, []metadata.Flag{2, 6, 2, 9}) {
		t.Errorf("temp %v %v", temp.Values, temp.Flags)
	}
	of := mean.Columns[0]
	if of.Name != "temp" || !slices.Equal(of.N, []int{1, 2, 2, 0}) ||
		!same(of.Spread, []float64{nan, math.Sqrt2, 2 * math.Sqrt2, nan}) {
		t.Errorf("%+v", of)
	}
	if psal := m.Column("psal"); !same(psal.Values, []float64{35, 35, 35, nan}) || psal.Flags != nil {
		t.Errorf("psal %v %v", psal.Values, psal.Flags)
	}
	if oxy := m.Column("oxy"); !same(oxy.Values, []float64{nan, 1, 1, 1}) { // only the second cast has it
		t.Errorf("oxy %v", oxy.Values)
	}
	if math.Abs(math.Abs(m.At[0])-180) > 1e-12 || math.Abs(m.At[1]-0.001) > 1e-15 || !m.Time.Equal(at(7)) ||
		m.BottomM != 300 {
		t.Errorf("%v %v %v", m.At, m.Time, m.BottomM)
	}
	before := newCast("1", "1", 179, 0, 1, 2)
	s, found, err := Build([]*Cast{before, a, b}, BuildOptions{Name: "line", Stations: list(t, "1-2"), Repeats: MeanOf})
	if err != nil || len(s.Casts) != 2 || s.Places[1].Mean == nil || len(s.Places[1].Others) != 2 ||
		s.Casts[1].Levels() != 4 {
		t.Errorf("%v %v", s, err)
	}
	if !strings.Contains(found[0].Message, "takes the mean of casts 2/1, 2/2") {
		t.Errorf("%v", found)
	}
	b.BottomM = nan
	if m, _ := MeanCast([]*Cast{a, b}, false); m.BottomM != 100 {
		t.Errorf("water depth %v, only one cast has one", m.BottomM)
	}
	if m, _ := MeanCast([]*Cast{before}, false); !m.Time.IsZero() || !math.IsNaN(m.BottomM) {
		t.Errorf("unknown became known: %v %v", m.Time, m.BottomM)
	}
}

func TestTrack(t *testing.T) {
	got := Unwrap([]float64{5}, nil)
	if len(got) != 1 {
		t.Error(got)
	}
	for i, v := range Unwrap(nil, []float64{170, 179, -179, -170, 175, 360 + 176}) {
		if want := []float64{170, 179, 181, 190, 175, 176}[i]; math.Abs(v-want) > 1e-12 {
			t.Errorf("%d: %v, want %v", i, v, want)
		}
	}
	for _, c := range [][2]float64{{0, 0}, {180, 180}, {-180, -180}, {181, -179}, {359.5, -0.5}, {-190, 170},
		{540, 180}} {
		if got := Wrap180(c[0]); math.Abs(math.Remainder(got-c[1], 360)) > 1e-12 || math.Abs(got) > 180 {
			t.Errorf("%v: %v", c[0], got)
		}
	}
	if WGS84.String() != "geodesic" {
		t.Error(WGS84)
	}
	if mid, azimuth := Midpoint(orb.Point{190, 12}, orb.Point{-170, 12}); mid != (orb.Point{-170, 12}) ||
		math.IsNaN(azimuth) {
		t.Errorf("%v %v", mid, azimuth)
	}
}

func TestWords(t *testing.T) {
	if Down.String() != "down" || Yoyo.String() != "yoyo" || AtBottom.String() != "bottom" {
		t.Error(Down, Yoyo, AtBottom)
	}
}

// Half a degree of longitude at 58 N: radius of the prime vertical 6393.5 km times cos(58) times half a degree, 29.57
// km.
func ExampleBuild() {
	casts := []*Cast{newCast("3", "1", 12, 58, 2, 4), newCast("1", "1", 11, 58, 2, 4),
		newCast("2", "1", 11.5, 58, 2, 4)}
	stations, err := ParseStations("1-3")
	if err != nil {
		fmt.Println(err)
		return
	}
	s, _, err := Build(casts, BuildOptions{Name: "strait", Stations: stations})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range s.Pairs() {
		fmt.Printf("%s to %s: %.2f km, towards %.1f degrees\n", s.Casts[p.A].Station, s.Casts[p.B].Station,
			p.DistanceKm, p.AzimuthDeg)
	}
	// Output:
	// 1 to 2: 29.57 km, towards 90.0 degrees
	// 2 to 3: 29.57 km, towards 90.0 degrees
}

func TestLongitudeRange(t *testing.T) {
	for _, c := range []struct {
		lons       []float64
		west, east float64
	}{
		{[]float64{-45}, -45, -45}, {[]float64{10, -10, 0}, -10, 10}, {[]float64{179, -179}, 179, -179},
		{[]float64{170, 175, -175, -100}, 170, -100},
		{[]float64{-90, 90}, -90, 90}, {[]float64{-179, -1, 1, 179}, -1, -179},
	} {
		if w, e := LongitudeRange(c.lons); w != c.west || e != c.east {
			t.Errorf("%v: %g to %g, want %g to %g", c.lons, w, e, c.west, c.east)
		}
	}
}
