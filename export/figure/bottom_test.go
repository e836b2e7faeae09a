package figure

import (
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/paulmach/orb"
)

// Where the depth is not known no bottom is claimed.
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
		p, err := f.draw(chart.TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		if !p.Has("bottom") || !p.Has(lighter) {
			t.Errorf("%s, some depths known: %v", f.Stem(), p.Words)
		}
		c, err := captionOf(f, aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(c, "in its lighter part") {
			t.Errorf("%s: %s", f.Stem(), c)
		}
	}
	left := &LeaveOneOut{Name: "l", Section: s, Variable: metadata.MustVariable("ctemp"), Residuals: predicted(s)}
	p, err := left.draw(chart.OneColumn)
	if err != nil {
		t.Fatal(err)
	}
	if !p.Has("bottom") || !p.Has(lighter) {
		t.Errorf("left out, some depths known: %v", p.Words)
	}
	if b := bottomOf(s, nil); len(b.assumed) != 1 || b.assumed[0] != [2]float64{s.DistanceKm[20],
		s.DistanceKm[len(s.Casts)-1]} || b.p[22] != s.Casts[22].PressureDbar[len(s.Casts[22].PressureDbar)-1] {
		t.Errorf("no depth from station 21 on, but: %v", b)
	}
	for k, c := range s.Casts {
		c.BottomM = math.NaN()
		r.Stations[k].BottomFrom = "deepest bin"
	}
	for _, f := range figs {
		p, err := f.draw(chart.TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		if p.Has("bottom") || !p.Has(lighter) {
			t.Errorf("%s, no depth known: %v", f.Stem(), p.Words)
		}
		c, err := captionOf(f, aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(c, "the bottom is not known") {
			t.Errorf("%s: %s", f.Stem(), c)
		}
	}
	g.Bottom = gridding.Bathymetry
	p, err = figs[0].draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if !p.Has("bottom") || p.Has(lighter) {
		t.Errorf("with a grid of depth the bottom is known: %v", p.Words)
	}
	whole, _ := invent(wideLayout)
	p, err = (&Velocity{Name: "v", Result: currents(whole)}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if !p.Has("bottom") || p.Has(lighter) {
		t.Errorf("all depths known: %v", p.Words)
	}
}

// A trench between two stations, seen in a panel that shows neither its top nor its foot: the outline of the
// bottom goes from left to right.
func TestBottomOfATrench(t *testing.T) {
	b := floorShape{x: []float64{0, 100, 130, 160, 260}, p: []float64{400, 400, 3800, 400, 400}}
	fr := &chart.Frame{L: 0, R: 260, T: 0, B: 100, X0: 0, X1: 260, Y0: 500, Y1: 2300}
	s := page.New(260, 100)
	b.paint(s, fr)
	ring := s.Ops[0].Path[0]
	for k := 1; k < len(ring)-2; k++ { // the last two are the corners below
		if ring[k].X < ring[k-1].X-1e-9 {
			t.Fatalf("the outline turns back: %v", ring)
		}
	}
	// Half way up the panel the trench is as wide as the straight lines say: 1400 dbar lies 1000/3400 of the
	// way down each side.
	var at []float64
	for k := 1; k < len(ring); k++ {
		a, c := ring[k-1], ring[k]
		if (a.Y-50)*(c.Y-50) < 0 {
			at = append(at, a.X+(50-a.Y)/(c.Y-a.Y)*(c.X-a.X))
		}
	}
	if len(at) < 2 || math.Abs(at[0]-(100+30*1000.0/3400)) > 0.01 || math.Abs(at[1]-(160-30*1000.0/3400)) > 0.01 {
		t.Errorf("the trench is between %v", at)
	}
	// In grey the bottom may be as dark as the water: a line parts them, on both sides of the trench and
	// nowhere along the edges of the panel.
	if n := len(s.Ops); n != 2 || s.Ops[1].Kind != page.StrokeOp || len(s.Ops[1].Path) != 2 {
		t.Errorf("%d things drawn: %v", n, s.Ops[1:])
	}
}

// Single nodes without a value just above a sloping bottom make no row of holes along it.
func TestNoPatternOfHolesAlongTheBottom(t *testing.T) {
	d := &sectionData{yMax: 60, last: 45}
	d.f = &chart.Field{}
	for j := range 30 {
		x := float64(j) * 2
		d.f.X = append(d.f.X, x)
		d.floor.x, d.floor.p = append(d.floor.x, x), append(d.floor.p, 30.4+0.3*x)
	}
	for i := range 46 {
		d.f.Y = append(d.f.Y, float64(i))
	}
	for _, y := range d.f.Y {
		for _, x := range d.f.X {
			v := 10 - y/10
			if y > 29+0.3*x { // masked from 1.4 dbar above the bottom
				v = math.NaN()
			}
			d.f.Data = append(d.f.Data, v)
		}
	}
	d.look(&Section{})
	if d.masked && !d.beneath {
		t.Error("holes are seen above the bottom")
	}
	under := d.below(d.f)
	d.f.FillBelow(under, 3)
	for k, v := range d.f.Data {
		y, x := d.f.Y[k/len(d.f.X)], d.f.X[k%len(d.f.X)]
		if math.IsNaN(v) && y < 30.4+0.3*x-0.5 {
			t.Fatalf("a hole at %g km, %g dbar", x, y)
		}
	}
}

// A line close above a sloping bottom, and along it, is one line: with values from beside a column it was cut
// into a step for each.
func TestLinesAlongTheBottom(t *testing.T) {
	f := &chart.Field{}
	bottomAt := func(x float64) float64 { return 200 + 4*x }
	for j := range 41 {
		f.X = append(f.X, 2.5*float64(j))
	}
	for i := range 401 {
		f.Y = append(f.Y, 2*float64(i))
	}
	below := make([]bool, 0, len(f.X)*len(f.Y))
	for _, y := range f.Y {
		for _, x := range f.X {
			v := y/100 - x/25 // lines slope as the bottom does
			under := y > bottomAt(x)
			if under {
				v = math.NaN()
			}
			f.Data, below = append(f.Data, v), append(below, under)
		}
	}
	f.FillBelow(below, 3)
	fr := &chart.Frame{L: 0, R: 400, T: 0, B: 200, X0: 0, X1: 100, Y0: 0, Y1: 800}
	const level = 1.97 // lies 3 dbar above the bottom
	inWater, longest := 0, 0.0
	for _, line := range f.Trace(fr, []float64{level})[0] {
		west, east, above := math.Inf(1), math.Inf(-1), false
		for _, q := range line {
			x, y := q.X/fr.R*fr.X1, q.Y/fr.B*fr.Y1
			if y < bottomAt(x) {
				above, west, east = true, min(west, x), max(east, x)
			}
		}
		if above && east-west > 2*(f.X[1]-f.X[0]) { // at the deepest column nothing is known beside it
			inWater++
			longest = max(longest, east-west)
		}
	}
	if inWater != 1 || longest < 95 {
		t.Errorf("the line is in %d pieces, of which the longest spans %.1f of 100 km", inWater, longest)
	}
}

// A gap of several times the usual spacing of stations is left empty, in sections and in velocities, and explained.
func TestGapsBetweenStationsAreBreaks(t *testing.T) {
	s, g := invent(wideLayout)
	r := currents(s)
	for k := range r.Pairs {
		r.Pairs[k].Status = geostrophy.Computed
	}
	keep := []int{0, 1, 2, 3, 4, 5, 6, 19, 20, 21, 22, 23, 24, 25, 26, 27}
	few := &section.Section{Name: s.Name}
	for _, k := range keep {
		few.Casts, few.DistanceKm = append(few.Casts, s.Casts[k]), append(few.DistanceKm, s.DistanceKm[k])
	}
	if gaps := gapsOf(few); len(gaps) != 1 || gaps[0][0] < s.DistanceKm[6] || gaps[0][1] > s.DistanceKm[19] {
		t.Fatalf("gaps: %v", gaps)
	}
	if gaps := gapsOf(s); gaps != nil {
		t.Errorf("gaps of an even section: %v", gaps)
	}
	r.Stations = nil
	for k, c := range few.Casts {
		r.Stations = append(r.Stations, geostrophy.Station{Cast: c, DistanceKm: few.DistanceKm[k], BottomM: c.BottomM})
	}
	wide := r.Pairs[10]
	wide.A, wide.B, wide.FromKm, wide.ToKm = 6, 7, s.DistanceKm[6], s.DistanceKm[19]
	r.Pairs = append(append(append([]geostrophy.Pair{}, r.Pairs[:6]...), wide), r.Pairs[19:]...)
	for k := 7; k < len(r.Pairs); k++ {
		r.Pairs[k].A, r.Pairs[k].B = k, k+1
	}
	for _, f := range []Figure{&Section{Name: "a", Section: few, Grid: g, Field: "ctemp"},
		&Velocity{Name: "v", Result: r}} {
		p, err := f.draw(chart.TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		if all := strings.Join(p.Words, "|"); !strings.Contains(all, "gap between stations") {
			t.Errorf("%s: not explained: %s", f.Stem(), all)
		}
		var fr *chart.Frame
		for _, o := range p.Ops {
			if o.Kind == page.FillOp && o.Pen.Colour == chart.NoValue && len(o.Path) == 1 && fr == nil {
				q := o.Path[0]
				fr = &chart.Frame{L: q[0].X, R: q[2].X, T: q[0].Y, B: q[2].Y, X0: 0, X1: s.DistanceKm[len(s.Casts)-1]}
			}
		}
		l, right := fr.X(s.DistanceKm[6])+10, fr.X(s.DistanceKm[19])-10
		for _, o := range p.Ops {
			if o.Kind != page.FillOp || o.Pen.Colour == chart.NoValue || o.Pen.Colour == seabed || len(o.Path) == 0 {
				continue
			}
			for _, ring := range o.Path {
				for k, q := range ring {
					next := ring[(k+1)%len(ring)]
					if q.Y < fr.B && min(q.X, next.X) < l && max(q.X, next.X) > right && q.Y > fr.T+1 {
						t.Errorf("%s: painted over the gap from %v to %v", f.Stem(), q, next)
					}
				}
			}
		}
	}
}

// A ridge between two stations, which only a grid of water depth shows, is one ridge in every figure of a section: in
// sections, in velocities, whose extreme is not looked for inside it, and where stations are left out; with a grid
// of fields and without.
func TestOneBottomInEveryFigure(t *testing.T) {
	s, g := invent(wideLayout)
	middle := (s.DistanceKm[20] + s.DistanceKm[21]) / 2
	tr := trackOf(s, g)
	depth := func(at orb.Point) float64 {
		km := 0.0
		for k, x := range tr.Km {
			if math.Abs(tr.Lon[k]-at[0]) < math.Abs(tr.Along(tr.Lon, km)-at[0]) {
				km = x
			}
		}
		return 4300 - 2600*math.Exp(-sq((km-middle)/4))
	}
	for j := range g.BottomM {
		g.BottomM[j] = depth(g.Track[j])
	}
	g.Bottom = gridding.Bathymetry
	r := currents(s)
	fast := &r.Pairs[20] // at its middle lies the ridge; its greatest velocity lies inside it
	fast.Velocity[len(fast.Velocity)-5] = 9
	m := Material{Sections: []SectionMaterial{{Section: s, Grid: g, Velocity: r,
		Residuals: map[string][]Residual{"ctemp": predicted(s)}}}}
	kinds := []string{KindSection, KindVelocity, KindSkill}
	figs := Choose(m, Choice{Kinds: kinds})
	m.Sections[0].Grid, m.WaterDepthM = nil, depth
	figs = append(figs, Choose(m, Choice{Kinds: kinds})...)
	seen := map[string]int{}
	for _, f := range figs {
		p, err := f.draw(chart.TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		crest := math.Inf(1) // the highest place of the bottom near the ridge, from the foot of the picture
		for _, o := range p.Ops {
			if o.Kind != page.FillOp || o.Pen.Colour != seabed || len(o.Path) != 1 {
				continue
			}
			ring := o.Path[0]
			l, right := math.Inf(1), math.Inf(-1)
			for _, q := range ring {
				l, right = min(l, q.X), max(right, q.X)
			}
			x := l + (right-l)*middle/s.DistanceKm[len(s.Casts)-1]
			for _, q := range ring {
				if math.Abs(q.X-x) < 4 && right-l > 300 {
					crest = min(crest, q.Y-ring[len(ring)-1].Y)
				}
			}
		}
		if crest > -60 { // 2600 of some 4300 m, in a panel of some 125 points that begins below 500 dbar
			t.Errorf("%s: the ridge is %.0f points high", f.Stem(), -crest)
		}
		seen[strings.TrimPrefix(f.Stem(), "A_")]++
		text, err := captionOf(f, aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(text, "Bottom: the grid of water depth along the track") {
			t.Errorf("%s does not say where its bottom is from: %s", f.Stem(), text)
		}
		if strings.Contains(text, "9.0 m s") {
			t.Errorf("%s has its extreme inside the ridge: %s", f.Stem(), text)
		}
	}
	if seen["ctemp"] != 1 || seen["velocity"] != 2 || seen["ctemp_skill"] != 1 {
		t.Errorf("figures: %v", seen)
	}
}

func sq(x float64) float64 { return x * x }

// Level lines meet a slope level: the last column, between the last value and the bottom, has no hook down the slope.
func TestLinesMeetTheSlopeWithoutHooks(t *testing.T) {
	f := &chart.Field{}
	bottomAt := func(x float64) float64 { return 150 + 6*x }
	for j := range 31 {
		f.X = append(f.X, 5*float64(j))
	}
	for i := range 501 {
		f.Y = append(f.Y, 2*float64(i))
	}
	var below []bool
	for _, y := range f.Y {
		for _, x := range f.X {
			v := 20 - y/50
			if y > bottomAt(x) {
				v = math.NaN()
			}
			f.Data, below = append(f.Data, v), append(below, y > bottomAt(x))
		}
	}
	f.FillBelow(below, 3)
	fr := &chart.Frame{L: 0, R: 300, T: 0, B: 200, X0: 0, X1: 150, Y0: 0, Y1: 1000}
	seen := 0
	for _, level := range []float64{15.3, 12.7, 9.1, 5.5} {
		for _, line := range f.Trace(fr, []float64{level})[0] {
			for at := 0.0; at < page.Length(line); at += 2 {
				x, y := fr.Value(page.Along(line, at))
				if y > bottomAt(x) { // painted over
					continue
				}
				seen++
				if want := 50 * (20 - level); math.Abs(y-want) > 1 {
					t.Errorf("the line of %g lies at %.0f dbar at %.1f km, %.0f dbar above the bottom, not at %.0f",
						level, y, x,
						bottomAt(x)-y, want)
				}
			}
		}
	}
	if seen < 100 {
		t.Errorf("%d points of lines seen", seen)
	}
}
