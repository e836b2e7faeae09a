package figure

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/paulmach/orb"
)

// The tests of this file hold what was changed after reading pictures of invented hard cruises as the editor of a journal would: shallow,
// polar, without depths, with holes, of tiny ranges, with long names.

// numberOf reads a text of the page as a number; NaN when it is none.
func numberOf(text string) float64 {
	var v float64
	if n, err := fmt.Sscanf(strings.ReplaceAll(text, "−", "-")+";", "%g;", &v); n != 1 || err != nil {
		return math.NaN()
	}
	return v
}

// One number at an axis says nothing of its scale.
func TestAxesHaveTwoNumbers(t *testing.T) {
	for _, fr := range []frame{
		{l: 0, r: 75, x0: -0.0029, x1: 0.0029}, // differences of sensors in one column
		{l: 0, r: 88, x0: 34.69007, x1: 34.69093},
		{l: 0, r: 60, x0: 0.0991, x1: 0.1013},
	} {
		at := fr.ticksThatFit(6, smallTyp)
		if len(at) < 2 {
			t.Errorf("%g to %g has the numbers %v", fr.x0, fr.x1, at)
			continue
		}
		d := decimalsOf(at)
		for k := 1; k < len(at); k++ {
			if room := fr.X(at[k]) - fr.X(at[k-1]) - (textWidth(regular, number(at[k], d), smallTyp)+textWidth(regular, number(at[k-1], d), smallTyp))/2; room < 0.7*smallTyp {
				t.Errorf("%g and %g are %.1f points apart", at[k-1], at[k], room)
			}
		}
	}
	for _, r := range [][2]float64{{-0.4, 0.45}, {-0.93, 0.1}, {3.1, 3.9}, {0, 0.019}} {
		for most := 2; most < 9; most++ {
			if at := ticks(r[0], r[1], most); len(at) < 2 {
				t.Errorf("%v, at most %d: %v", r, most, at)
			}
		}
	}
	for _, r := range [][2]float64{{57.1955, 57.2045}, {50.72, 51.21}, {-0.4, 0.4}, {178.6, 181.2}} {
		d := degreeStep(r[0], r[1], 4)
		if n := math.Floor(r[1]/d) - math.Ceil(r[0]/d) + 1; n < 2 {
			t.Errorf("%v: a step of %g gives %g lines", r, d, n)
		}
	}
}

// Differences of sensors are thousandths; the axis counts in those and says so, and the caption is a sentence.
func TestDifferencesInThousandths(t *testing.T) {
	s, _ := invent(wideLayout)
	f := &SensorDifferences{Name: "d", Casts: s.Casts}
	for _, w := range []Width{TwoColumns, OneColumn} {
		p, err := f.draw(w)
		if err != nil {
			t.Fatal(err)
		}
		if all := strings.Join(p.words, "|"); !strings.Contains(all, "Δ temperature (10⁻³ °C)") || !strings.Contains(all, "Δ practical salinity (10⁻³)") {
			t.Errorf("%v: %s", w, all)
		}
	}
	stacks, _, err := f.prepare()
	if err != nil {
		t.Fatal(err)
	}
	var all []float64
	for _, c := range s.Casts {
		a, b := c.Column("temp").Values, c.Column("temp2").Values
		for k := range a {
			all = append(all, math.Abs(b[k]-a[k]))
		}
	}
	most := 0.0
	for _, v := range all {
		most = math.Max(most, v)
	}
	drawn := 0.0
	for _, q := range stacks[0].cloud {
		drawn = math.Max(drawn, math.Abs(q[0]))
	}
	if math.Abs(drawn-1000*most) > 1e-9 {
		t.Errorf("the largest difference is %g, drawn as %g thousandths", most, drawn)
	}
	c, err := Caption(f, aboutTrial)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(c, "beyond of") || !strings.Contains(c, "× 10⁻³ °C") {
		t.Errorf("caption:\n%s", c)
	}
}

// Lines of density are labelled where they stand upright too, as in cold water.
func TestUprightDensityLinesAreLabelled(t *testing.T) {
	c := &section.Cast{Station: "1", At: orb.Point{0, 85}}
	var sa, ct, p []float64
	for k := range 200 {
		p = append(p, float64(10*k))
		sa = append(sa, 34.05+0.8*float64(k)/200)
		ct = append(ct, -1.8+2.5*float64(k)/200)
	}
	c.PressureDbar = p
	c.Columns = []section.Column{{Variable: metadata.MustVariable("pres"), Values: p}, {Variable: metadata.MustVariable("asal"), Values: sa}, {Variable: metadata.MustVariable("ctemp"), Values: ct}}
	for _, w := range []Width{TwoColumns, OneColumn} {
		s, err := (&TemperatureSalinity{Name: "ts", Casts: []*section.Cast{c}}).draw(w)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, text := range s.words {
			if v := numberOf(text); v > 27 && v < 28.5 {
				n++
			}
		}
		if n < 3 {
			t.Errorf("%v: %d labels of density lines", w, n)
		}
	}
}

// Hatching below the last common levels of a flat-bottomed section is explained.
func TestHatchingBelowCommonLevelsIsExplained(t *testing.T) {
	s, _ := invent(wideLayout)
	r := currents(s)
	for k := range r.Stations { // all casts end 90 m above a flat bottom
		r.Stations[k].BottomM = 1200
	}
	for k := range r.Pairs {
		q := &r.Pairs[k]
		q.Status, q.Reason = geostrophy.Computed, ""
		q.PressureDbar, q.Velocity = nil, nil
		for p := 2.0; p <= 1110; p += 2 {
			q.PressureDbar, q.Velocity = append(q.PressureDbar, p), append(q.Velocity, 0.1*math.Exp(-p/500))
		}
	}
	p, err := (&Velocity{Name: "v", Result: r}).draw(TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if !p.has("no common levels") {
		t.Errorf("not explained: %v", p.words)
	}
}

// Where nobody knows the depth no bottom is claimed.
func TestUnknownDepthIsNoBottom(t *testing.T) {
	s, g := invent(wideLayout)
	r := currents(s)
	for k, c := range s.Casts {
		if k > 20 {
			c.BottomM = math.NaN()
			r.Stations[k].BottomFrom = "deepest bin"
		}
	}
	const lighter = "below the deepest values; water depth not known"
	figs := []Figure{&Section{Name: "a", Section: s, Grid: g, Field: "ctemp"}, &Velocity{Name: "v", Result: r}}
	for _, f := range figs {
		p, err := f.draw(TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		if !p.has("bottom") || !p.has(lighter) {
			t.Errorf("%s, some depths known: %v", f.Stem(), p.words)
		}
		c, err := Caption(f, aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(c, "in its lighter part") {
			t.Errorf("%s: %s", f.Stem(), c)
		}
	}
	left := &LeaveOneOut{Name: "l", Section: s, Variable: metadata.MustVariable("ctemp"), Residuals: predicted(s)}
	p, err := left.draw(OneColumn)
	if err != nil {
		t.Fatal(err)
	}
	if !p.has("bottom") || !p.has(lighter) {
		t.Errorf("left out, some depths known: %v", p.words)
	}
	if b := bottomOf(s, nil); len(b.assumed) != 1 || b.assumed[0] != [2]float64{s.DistanceKm[20], s.DistanceKm[len(s.Casts)-1]} || b.p[22] != s.Casts[22].PressureDbar[len(s.Casts[22].PressureDbar)-1] {
		t.Errorf("no depth from station 21 on, but: %v", b)
	}
	for k, c := range s.Casts {
		c.BottomM = math.NaN()
		r.Stations[k].BottomFrom = "deepest bin"
	}
	for _, f := range figs {
		p, err := f.draw(TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		if p.has("bottom") || !p.has(lighter) {
			t.Errorf("%s, no depth known: %v", f.Stem(), p.words)
		}
		c, err := Caption(f, aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(c, "the bottom is not known") {
			t.Errorf("%s: %s", f.Stem(), c)
		}
	}
	g.Bottom = gridding.Bathymetry
	p, err = figs[0].draw(TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if !p.has("bottom") || p.has(lighter) {
		t.Errorf("bathymetry knows the bottom: %v", p.words)
	}
	whole, _ := invent(wideLayout)
	p, err = (&Velocity{Name: "v", Result: currents(whole)}).draw(TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if !p.has("bottom") || p.has(lighter) {
		t.Errorf("all depths known: %v", p.words)
	}
}

// A trench between two stations, seen in a panel that shows neither its top nor its foot: the outline of the bottom goes from left to right.
func TestBottomOfATrench(t *testing.T) {
	b := floorShape{x: []float64{0, 100, 130, 160, 260}, p: []float64{400, 400, 3800, 400, 400}}
	fr := &frame{l: 0, r: 260, t: 0, b: 100, x0: 0, x1: 260, y0: 500, y1: 2300}
	s := newScene(260, 100)
	b.paint(s, fr)
	ring := s.ops[0].path[0]
	for k := 1; k < len(ring)-2; k++ { // the last two are the corners below
		if ring[k].x < ring[k-1].x-1e-9 {
			t.Fatalf("the outline turns back: %v", ring)
		}
	}
	// Half way up the panel the trench is as wide as the straight lines say: 1400 dbar lies 1000/3400 of the way down each side.
	var at []float64
	for k := 1; k < len(ring); k++ {
		a, c := ring[k-1], ring[k]
		if (a.y-50)*(c.y-50) < 0 {
			at = append(at, a.x+(50-a.y)/(c.y-a.y)*(c.x-a.x))
		}
	}
	if len(at) < 2 || math.Abs(at[0]-(100+30*1000.0/3400)) > 0.01 || math.Abs(at[1]-(160-30*1000.0/3400)) > 0.01 {
		t.Errorf("the trench is between %v", at)
	}
	// In grey the bottom may be as dark as the water: a line parts them, on both sides of the trench and nowhere along the edges of the panel.
	if n := len(s.ops); n != 2 || s.ops[1].kind != opStroke || len(s.ops[1].path) != 2 {
		t.Errorf("%d things drawn: %v", n, s.ops[1:])
	}
}

// Numbers too small for nine decimals are told in powers of ten; a field of one value has that value beside its colour.
func TestColourBarsAlwaysHaveNumbers(t *testing.T) {
	s, g := invent(layout{stations: 8, lengthKm: 100, depthM: 900, from: orb.Point{4, 60}, to: orb.Point{5, 60}, stepKm: 5, stepDbar: 10, first: 1})
	d := findField(g, "ctemp").Data
	original := append([]float64(nil), d...)
	fill := func(f func(v float64) float64) {
		for k, v := range original {
			d[k] = v
			if !math.IsNaN(v) {
				d[k] = f(v)
			}
		}
	}
	f := &Section{Name: "a", Section: s, Grid: g, Field: "ctemp"}
	fill(func(float64) float64 { return 250 })
	for _, w := range []Width{TwoColumns, OneColumn} {
		p, err := f.draw(w)
		if err != nil {
			t.Fatal(err)
		}
		if !p.has("250") {
			t.Errorf("%v: the value of a field of one value is not told: %v", w, p.words)
		}
	}
	for _, e := range []int{-6, -7, -8} {
		fill(func(v float64) float64 { return v * math.Pow10(e) })
		p, err := f.draw(TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		zeros := 0
		for _, w := range p.words {
			if w == "0" {
				zeros++
			}
		}
		if zeros > 2 { // of the two axes
			t.Errorf("1e%d: %d numbers are 0: %v", e, zeros, p.words)
		}
		c, err := Caption(f, aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(c, "interval: 0") && !strings.Contains(c, "interval: 0.") {
			t.Errorf("1e%d: %s", e, c)
		}
	}
	if got := significant(7.6045e-9, 2); got != "7.6 × 10⁻⁹" {
		t.Errorf("%q", got)
	}
	if got := tenPower([]float64{3e-9}); got != -9 {
		t.Errorf("power of 3e-9: %d", got)
	}
}

// Where a cast has no levels for a long way the line of its profile is broken.
func TestProfilesBreakAtGaps(t *testing.T) {
	c := &section.Cast{Station: "1", At: orb.Point{0, 40}, BottomM: math.NaN()}
	var p, v []float64
	for q := 2.0; q < 2000; q += 2 {
		if q < 600 || q > 1400 {
			p, v = append(p, q), append(v, 20-q/100)
		}
	}
	c.PressureDbar = p
	c.Columns = []section.Column{{Variable: metadata.MustVariable("pres"), Values: p}, {Variable: metadata.MustVariable("temp"), Values: v}}
	f := &Profiles{Name: "p", Casts: []*section.Cast{c}}
	stacks, y, err := f.prepare()
	if err != nil {
		t.Fatal(err)
	}
	fr := frame{l: 0, r: 100, t: 0, b: 200, x0: stacks[0].x.lo, x1: stacks[0].x.hi, y0: 0, y1: y.hi}
	lines := fr.profile(&stacks[0].curves[0])
	if len(lines) != 2 {
		t.Fatalf("%d pieces", len(lines))
	}
	for _, l := range lines {
		for k := 1; k < len(l); k++ {
			if l[k-1].y < fr.Y(650) && l[k].y > fr.Y(1350) {
				t.Error("the line crosses the gap")
			}
		}
	}
	text, err := Caption(f, aboutTrial)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(text, "but not over gaps") {
		t.Errorf("caption: %s", text)
	}
}

// Captions speak of what is in the picture.
func TestCaptionsAreTrue(t *testing.T) {
	s, g := invent(layout{stations: 8, lengthKm: 100, depthM: 900, from: orb.Point{4, 60}, to: orb.Point{5, 60}, stepKm: 5, stepDbar: 10, first: 1})
	levels := make([]float64, 43)
	for k := range levels {
		levels[k] = float64(16 * k)
	}
	g.Params = append(g.Params, metadata.Param{Name: "data_levels", Value: "0 to 672 by 16", Typed: levels})
	e := findField(g, "ctemp_relerr").Data
	for k := range e {
		if !math.IsNaN(e[k]) {
			e[k] = 0.1
		}
	}
	has := func(f Figure, want bool, text string) {
		t.Helper()
		c, err := Caption(f, aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(c, text) != want {
			t.Errorf("%s: %q: %v is not %v:\n%s", f.Stem(), text, !want, want, c)
		}
	}
	f := &Section{Name: "value", Section: s, Grid: g, Field: "ctemp"}
	has(f, false, "signal variance (//)")
	has(f, true, "labelled lines")
	has(f, true, "data_levels 43 from 0 to 672 dbar")
	has(&Section{Name: "error", Section: s, Grid: g, Field: "ctemp_err"}, false, "labelled lines")
	e[len(g.Axes[1].Values)*20+3] = 0.45
	has(f, true, "signal variance (//)")
	findField(g, "ctemp").Data[len(g.Axes[1].Values)*30+9] = math.NaN()
	has(f, true, "no value (\\\\)")
}

// Levels about zero: three to six on each side before they are cut finer near it.
func TestLevelsAboutZero(t *testing.T) {
	for most := 1e-7; most < 1e3; most *= 1.07 {
		s := zeroStep(most)
		if n := math.Floor(most/s + 1e-9); n < 3 || n > 6 {
			t.Errorf("%g: step %g, %g levels", most, s, n)
		}
		if d := decimalsOf([]float64{s / math.Pow10(int(math.Floor(math.Log10(s)+1e-9)))}); d > 1 {
			t.Errorf("%g: step %g is not round", most, s)
		}
	}
}

func TestValueWithError(t *testing.T) {
	for want, q := range map[string][2]float64{"(1290 ± 23)": {1290.01, 22.6}, "(−0.0129 ± 0.0020)": {-0.01289, 0.00199}, "(3.540 ± 0.034)": {3.5401, 0.0337}, "(37 ± 120)": {36.66, 120}} {
		if got := withError(q[0], q[1]); got != want {
			t.Errorf("%v is %s, not %s", q, got, want)
		}
	}
	if got := withError(36.661, math.NaN()); got != "36.7" {
		t.Errorf("without an error: %s", got)
	}
}

func TestNamesOfStations(t *testing.T) {
	cases := []struct {
		in, out string
		note    string
	}{
		{"001 012 T1", "1 12 T1", ""},
		{"NORTH_LINE_08_REPEATED NORTH_LINE_10_REPEATED NORTH_LINE_11_REPEATED", "8 10 11", "written without NORTH_LINE_ before them, without _REPEATED after them"},
		{"STATION_100 STATION_101", "100 101", "written without STATION_ before them"},
		{"A_VERY_LONG_NAME another-long-name", "…NG_NAME …ng-name", "written long ones by their ends"},
		{"WESTERN_1 WESTERN_", "WESTERN_1 WESTERN_", ""},
	}
	for _, c := range cases {
		var casts []*section.Cast
		for _, s := range strings.Fields(c.in) {
			casts = append(casts, &section.Cast{Station: s})
		}
		n := namesOfStations(casts)
		var got []string
		for _, k := range casts {
			got = append(got, n.of(k))
		}
		if c.in == "WESTERN_1 WESTERN_" { // nothing would be left of the second: both keep their ends
			if got[0] == "" || got[1] == "" {
				t.Errorf("%q", got)
			}
			continue
		}
		if strings.Join(got, " ") != c.out || n.note() != c.note {
			t.Errorf("%s: %q, %q", c.in, got, n.note())
		}
	}
	s, g := invent(layout{stations: 12, lengthKm: 200, depthM: 1200, from: orb.Point{-30, 40}, to: orb.Point{-27, 39.8}, stepKm: 5, stepDbar: 10, first: 1})
	for k, c := range s.Casts {
		c.Station = fmt.Sprintf("NORTH_LINE_STATION_%02d_REPEATED", k)
	}
	for _, f := range []Figure{&Section{Name: "long names section", Section: s, Grid: g, Field: "ctemp"}, &StationMap{Name: "long names map", Casts: s.Casts, Sections: []*section.Section{s}},
		&Profiles{Name: "long names profiles", Casts: s.Casts}, &Velocity{Name: "long names velocity", Result: currents(s)}} {
		both(t, f)
		for _, w := range []Width{TwoColumns, OneColumn} {
			p, err := f.draw(w)
			if err != nil {
				t.Fatal(err)
			}
			for _, name := range []string{"0", "4", "11"} {
				if !p.has(name) {
					t.Errorf("%s %v: station %s has no name: %v", f.Stem(), w, name, p.words)
				}
			}
		}
	}
}

// A section that turns has no one direction in which velocity is positive.
func TestDirectionOfATurningSection(t *testing.T) {
	s, _ := invent(wideLayout)
	r := currents(s)
	n := len(r.Pairs)
	for k := range r.Pairs {
		r.Pairs[k].PositiveDeg = math.Mod(100+200*float64(k)/float64(n-1), 360)
	}
	got := (&Velocity{Name: "v", Result: r}).direction()
	if want := "Positive: to the left of the direction of the section; the section turns: towards east (100° true) at its first pair, towards west-northwest (300° true) at its last."; got != want {
		t.Errorf("%s", got)
	}
	for k := range r.Pairs {
		r.Pairs[k].PositiveDeg = []float64{350, 20}[k%2] // about north
	}
	if got := (&Velocity{Name: "v", Result: r}).direction(); !strings.HasPrefix(got, "Positive: towards north (") {
		t.Errorf("%s", got)
	}
}

// Single nodes without a value just above a sloping bottom make no row of holes along it.
func TestNoPatternOfHolesAlongTheBottom(t *testing.T) {
	d := &sectionData{yMax: 60, last: 45}
	d.f = &field{}
	for j := range 30 {
		x := float64(j) * 2
		d.f.x = append(d.f.x, x)
		d.floor.x, d.floor.p = append(d.floor.x, x), append(d.floor.p, 30.4+0.3*x)
	}
	for i := range 46 {
		d.f.y = append(d.f.y, float64(i))
	}
	for _, y := range d.f.y {
		for _, x := range d.f.x {
			v := 10 - y/10
			if y > 29+0.3*x { // masked from 1.4 dbar above the bottom
				v = math.NaN()
			}
			d.f.data = append(d.f.data, v)
		}
	}
	d.look(0.3)
	if d.masked && !d.beneath {
		t.Error("holes are seen above the bottom")
	}
	under := d.below(d.f)
	d.f.fillBelow(under, 3)
	for k, v := range d.f.data {
		y, x := d.f.y[k/len(d.f.x)], d.f.x[k%len(d.f.x)]
		if math.IsNaN(v) && y < 30.4+0.3*x-0.5 {
			t.Fatalf("a hole at %g km, %g dbar", x, y)
		}
	}
}

// On a crowded sloping line numbers stand all along it.
func TestNumbersAlongACrowdedLine(t *testing.T) {
	s := &section.Section{Name: "line"}
	for k := range 150 {
		u := float64(k) / 149
		s.Casts = append(s.Casts, &section.Cast{Station: fmt.Sprint(k + 1), Role: section.Primary, At: orb.Point{-60 + 28*u, 24 - 1.8*u*u}, BottomM: math.NaN()})
		s.DistanceKm = append(s.DistanceKm, 2900*u)
	}
	f := &StationMap{Name: "crowded map", Casts: s.Casts, Sections: []*section.Section{s}}
	both(t, f)
	for _, w := range []Width{TwoColumns, OneColumn} {
		p, err := f.draw(w)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, text := range p.words {
			if v := numberOf(text); v > 75 && v < 150 {
				n++
			}
		}
		if n < 3 {
			t.Errorf("%v: %d numbers in the second half: %v", w, n, p.words)
		}
	}
}

// A cast of which every value is flagged is a line with marks, no heap of marks; a spike keeps its mark.
func TestManyFlaggedValues(t *testing.T) {
	fr := &frame{l: 0, r: 100, t: 0, b: 200, x0: 0, x1: 100, y0: 0, y1: 1000}
	var ms []mark
	for p := 2.0; p < 900; p += 2 {
		ms = append(ms, mark{p, 50, metadata.Bad})
	}
	ms = append(ms, mark{950, 80, metadata.Questionable})
	s := newScene(100, 200)
	circles, crosses, edges := fr.marks(s, ms)
	if !circles || !crosses || edges {
		t.Error(circles, crosses, edges)
	}
	if n := len(s.ops); n < 20 || n > 60 {
		t.Errorf("%d marks and lines in 180 points", n)
	}
}

// Maps of the far south say what the coastline leaves out.
func TestCoastlineCredit(t *testing.T) {
	for lat, want := range map[float64]bool{-77: true, 77: false, -50: false} {
		c, err := Caption(&StationMap{Name: "m", Casts: []*section.Cast{{Station: "1", At: orb.Point{0, lat}}}}, aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(c, "ice shelves") != want {
			t.Errorf("%g: %s", lat, c)
		}
	}
}

// The tests of overlaps are as good as the boxes: those of turned and level texts hold all ink and are no larger than the line of type, and
// boxes that cross are found.
func TestBoxesHoldTheInk(t *testing.T) {
	for _, l := range []label{
		{text: "Sea pressure (dbar)", size: 7},
		{text: "−0.25 µmol kg⁻¹ σ₀", size: 9, bold: true},
		{text: "Sea pressure (dbar)", size: 7, turn: 90, h: middle, v: base},
		{text: "34.6905", size: 6, turn: 37, h: middle, v: centre},
		{text: "gQjy_|", size: 8, turn: -61, h: right, v: top},
	} {
		l.at, l.colour = pt{100, 100}, ink
		s := newScene(200, 200)
		s.text(l)
		img := raster(s)
		b := l.box().grown(0.5) // for the smoothing of edges, and a stroke that reaches a little further
		inked, outside := 0, 0
		lo, hi := math.Inf(1), math.Inf(-1)
		along := pt{math.Cos(l.turn * math.Pi / 180), -math.Sin(l.turn * math.Pi / 180)}
		for y := range img.Bounds().Dy() {
			for x := range img.Bounds().Dx() {
				if c := img.RGBAAt(x, y); c.R > 128 {
					continue
				}
				inked++
				q := pt{(float64(x) + 0.5) / dotsPerPoint, (float64(y) + 0.5) / dotsPerPoint}
				a := q.x*along.x + q.y*along.y
				lo, hi = math.Min(lo, a), math.Max(hi, a)
				if !b.overlaps(rectBox(q.x, q.y, q.x+1e-9, q.y+1e-9), 0) {
					outside++
				}
			}
		}
		if inked < 50 || outside > 0 {
			t.Errorf("%q: %d of %d points of ink lie outside the box", l.text, outside, inked)
		}
		box := l.box()
		if w := math.Hypot(box[1].x-box[0].x, box[1].y-box[0].y); w > hi-lo+1.5 {
			t.Errorf("%q: the box is %.1f points long, the text %.1f", l.text, w, hi-lo)
		}
	}
	a := rectBox(10, 10, 30, 20)
	for _, c := range []struct {
		b    box
		want bool
	}{
		{rectBox(29, 19, 40, 40), true}, {rectBox(31, 10, 40, 20), false}, {rectBox(10, 21, 30, 30), false}, {rectBox(15, 12, 20, 15), true},
		{box{{35, 5}, {38, 8}, {23, 23}, {20, 20}}, true}, {box{{40, 10}, {43, 13}, {28, 28}, {25, 25}}, false}, // turned by 45 degrees; the second touches none though level boxes around both would
	} {
		if a.overlaps(c.b, 0) != c.want || c.b.overlaps(a, 0) != c.want {
			t.Errorf("%v over %v: not %v", c.b, a, c.want)
		}
	}
}

// A scale bar is as long as it says: between stations near the middle latitude the page has the geodesic distance.
func TestScaleBarIsTrue(t *testing.T) {
	for _, c := range []struct {
		from, to orb.Point
		says     bool // at which latitude
	}{
		{orb.Point{176, -17}, orb.Point{-172, -19}, false}, {orb.Point{-16, 42}, orb.Point{-4, 49}, true}, {orb.Point{30, 85}, orb.Point{80, 88}, false},
		{orb.Point{-170, -78.5}, orb.Point{-165, -78.6}, false}, {orb.Point{5, 54}, orb.Point{5.4, 54.6}, false}, {orb.Point{150, 30}, orb.Point{150, 16}, true},
	} {
		var casts []*section.Cast
		for k := range 21 {
			u := float64(k) / 20
			casts = append(casts, &section.Cast{Station: fmt.Sprint(k), Role: section.Primary, At: orb.Point{wrap180(c.from[0] + u*wrap180(c.to[0]-c.from[0])), c.from[1] + u*(c.to[1]-c.from[1])}, BottomM: math.NaN()})
		}
		p, err := (&StationMap{Name: "m", Casts: casts}).draw(TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		var dots []pt
		bar := math.NaN()
		for _, o := range p.ops {
			switch {
			case o.kind == opFill && o.colour == ink && len(o.path) == 1 && len(o.path[0]) == 20:
				q := pt{}
				for _, v := range o.path[0] {
					q.x, q.y = q.x+v.x/20, q.y+v.y/20
				}
				dots = append(dots, q)
			case o.kind == opStroke && o.pen.width == heavy && math.IsNaN(bar):
				bar = o.path[0][1].x - o.path[0][0].x
			}
		}
		km, says := math.NaN(), false
		for _, w := range p.words {
			var v float64
			if n, _ := fmt.Sscanf(w, "%g km", &v); n == 1 && strings.Contains(w, " km") {
				km, says = v, strings.Contains(w, " at ")
			}
		}
		if len(dots) < 21 || math.IsNaN(km) || math.IsNaN(bar) {
			t.Fatalf("%v: %d dots, bar of %g km and %g points", c, len(dots), km, bar)
		}
		ground, _, _ := section.Geodesic(casts[9].At, casts[11].At)
		page := math.Hypot(dots[11].x-dots[9].x, dots[11].y-dots[9].y)
		if r := page / (ground / 1000) / (bar / km); math.Abs(r-1) > 0.015 { // a sphere for the ellipsoid is 0.5 % by itself
			t.Errorf("%v: the page is %.3f of what the bar says", c, r)
		}
		if says != c.says {
			t.Errorf("%v: whether the bar says its latitude: %v", c, says)
		}
	}
}

// Chlorophyll is shown where it is: in the light.
func TestChlorophyllIsShownInTheLight(t *testing.T) {
	s, g := invent(wideLayout)
	v := metadata.MustVariable("chl")
	g.Fields[0].Variable = v
	for _, c := range []struct{ asked, want float64 }{{0, 250}, {700, 700}} {
		d, err := (&Section{Name: "a", Section: s, Grid: g, Field: "chl", UpperDbar: c.asked}).prepare()
		if err != nil {
			t.Fatal(err)
		}
		if d.upper != c.want {
			t.Errorf("asked for %g: the upper panel ends at %g dbar", c.asked, d.upper)
		}
	}
}

// Colours by latitude have their latitudes beside them, at both widths.
func TestLatitudesBesideTheColours(t *testing.T) {
	s, _ := invent(layout{stations: 14, lengthKm: 300, depthM: 900, from: orb.Point{4, -63.6}, to: orb.Point{4, -60.3}, stepKm: 5, stepDbar: 10, first: 1})
	for _, f := range []Figure{&TemperatureSalinity{Name: "ts", Casts: s.Casts, Shade: ByLatitude}, &Profiles{Name: "p", Casts: s.Casts, Shade: ByLatitude}} {
		both(t, f)
		for _, w := range []Width{TwoColumns, OneColumn} {
			p, err := f.draw(w)
			if err != nil {
				t.Fatal(err)
			}
			n := 0
			for _, text := range p.words {
				if strings.HasSuffix(text, "°S") {
					n++
				}
			}
			if n < 4 {
				t.Errorf("%s %v: %d latitudes: %v", f.Stem(), w, n, p.words)
			}
		}
	}
}

// Longitude along a meridian would be an axis without numbers.
func TestSecondAxisHasNumbers(t *testing.T) {
	for _, c := range []struct {
		lon, lat    [2]float64
		asked, want string
	}{
		{[2]float64{4, 4}, [2]float64{60, 61}, "longitude", "latitude"}, {[2]float64{4, 6}, [2]float64{0, 0}, "latitude", "longitude"},
		{[2]float64{4, 4.2}, [2]float64{60, 61}, "longitude", "longitude"}, {[2]float64{4, 6}, [2]float64{60, 60.5}, "", "longitude"},
	} {
		fr := frame{l: 20, r: 220, t: 0, b: 50, x0: 0, x1: 100}
		s := newScene(240, 100)
		got := fr.secondAxis(s, &track{km: []float64{0, 100}, lon: c.lon[:], lat: c.lat[:]}, c.asked, 60, smallTyp)
		if got != c.want || len(s.words) < 2 {
			t.Errorf("%v: %s with %v", c, got, s.words)
		}
	}
}
