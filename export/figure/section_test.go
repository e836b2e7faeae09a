package figure

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/paulmach/orb"
)

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
		t.Errorf("bathymetry knows the bottom: %v", p.Words)
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

// Numbers too small for nine decimals are told in powers of ten; a field of one value has that value beside
// its colour.
func TestColourBarsAlwaysHaveNumbers(t *testing.T) {
	s, g := invent(layout{stations: 8, lengthKm: 100, depthM: 900, from: orb.Point{4, 60}, to: orb.Point{5, 60},
		stepKm: 5, stepDbar: 10, first: 1})
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
	for _, w := range []chart.Width{chart.TwoColumns, chart.OneColumn} {
		p, err := f.draw(w)
		if err != nil {
			t.Fatal(err)
		}
		if !p.Has("250") {
			t.Errorf("%v: the value of a field of one value is not told: %v", w, p.Words)
		}
	}
	for _, e := range []int{-6, -7, -8} {
		fill(func(v float64) float64 { return v * math.Pow10(e) })
		p, err := f.draw(chart.TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		zeros := 0
		for _, w := range p.Words {
			if w == "0" {
				zeros++
			}
		}
		if zeros > 2 { // of the two axes
			t.Errorf("1e%d: %d numbers are 0: %v", e, zeros, p.Words)
		}
		c, err := captionOf(f, aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(c, "interval: 0") && !strings.Contains(c, "interval: 0.") {
			t.Errorf("1e%d: %s", e, c)
		}
	}
	if got := chart.Significant(7.6045e-9, 2); got != "7.6 × 10⁻⁹" {
		t.Errorf("%q", got)
	}
	if got := chart.TenPower([]float64{3e-9}); got != -9 {
		t.Errorf("power of 3e-9: %d", got)
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
	d.look(0.3)
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

// TestFieldsThatAreHardToContour: all values equal, holes, one value only, an outlier.
func TestFieldsThatAreHardToContour(t *testing.T) {
	s, g := invent(layout{stations: 8, lengthKm: 100, depthM: 900, from: orb.Point{4, 60}, to: orb.Point{5, 60},
		stepKm: 5, stepDbar: 10, first: 1})
	original := append([]float64(nil), findField(g, "ctemp").Data...)
	for name, change := range map[string]func(k int, v float64) float64{
		"all equal":  func(_ int, _ float64) float64 { return 4 },
		"all zero":   func(_ int, _ float64) float64 { return 0 },
		"two values": func(k int, _ float64) float64 { return float64(k % 2) },
		"holes": func(k int, v float64) float64 {
			return map[bool]float64{true: math.NaN(), false: v}[k%7 == 0 || k%11 == 0]
		},
		"one value":   func(k int, v float64) float64 { return map[bool]float64{true: v, false: math.NaN()}[k == 25] },
		"an outlier":  func(k int, v float64) float64 { return map[bool]float64{true: 9999, false: v}[k == 30] },
		"tiny values": func(_ int, v float64) float64 { return v * 1e-9 },
		"large":       func(_ int, v float64) float64 { return v*1e-4 + 101325 },
	} {
		d := findField(g, "ctemp").Data
		for k, v := range original {
			d[k] = v
			if !math.IsNaN(v) {
				d[k] = change(k, v)
			}
		}
		both(t, &Section{Name: name, Section: s, Grid: g, Field: "ctemp"})
	}
	for k := range original {
		findField(g, "ctemp").Data[k] = math.NaN()
	}
	f := &Section{Name: "nothing", Section: s, Grid: g, Field: "ctemp"}
	if _, err := f.draw(chart.TwoColumns); !errors.Is(err, ErrNoValues) {
		t.Errorf("a field without values: %v", err)
	}
	f.Field = "none"
	if _, err := f.draw(chart.TwoColumns); !errors.Is(err, ErrNoField) {
		t.Errorf("a field that is not there: %v", err)
	}
	f.Field, f.Overlay = "asal", "none"
	if _, err := f.draw(chart.TwoColumns); !errors.Is(err, ErrNoField) {
		t.Errorf("an overlay that is not there: %v", err)
	}
	g.Fields[0].Data = g.Fields[0].Data[:5]
	f.Field, f.Overlay = "ctemp", ""
	if _, err := f.draw(chart.TwoColumns); !errors.Is(err, ErrNoField) {
		t.Errorf("a field of the wrong length: %v", err)
	}
}

func TestOneStationIsRefused(t *testing.T) {
	s, g := invent(layout{stations: 4, lengthKm: 100, depthM: 900, from: orb.Point{4, 60}, to: orb.Point{5, 60},
		stepKm: 5, stepDbar: 10, first: 1})
	one := &section.Section{Name: "B", Casts: s.Casts[:1], DistanceKm: []float64{0}}
	for _, f := range []Figure{
		&Section{Name: "b_ctemp", Section: one, Grid: g, Field: "ctemp"},
		&LeaveOneOut{Name: "b_left_out", Section: one},
	} {
		_, err := f.draw(chart.TwoColumns)
		if !errors.Is(err, ErrTooFewStations) {
			t.Fatalf("%s: %v", f.Stem(), err)
		}
		if want := f.Stem() + `: section "B" has 1 station: a section figure needs at least two stations`; err.Error() != want {
			t.Errorf("message is %q, not %q", err, want)
		}
		var in *metadata.InputError
		if !errors.As(err, &in) || in.Remedy == "" {
			t.Errorf("no remedy: %v", err)
		}
	}
	heap := &section.Section{Name: "C", Casts: s.Casts[:2], DistanceKm: []float64{0, 0}}
	if _, err := (&Section{Name: "c", Section: heap, Grid: g, Field: "ctemp"}).draw(chart.TwoColumns); !errors.Is(err,
		ErrNoExtent) {
		t.Errorf("two stations in one place: %v", err)
	}
	if _, err := (&Section{Name: "c", Grid: g, Field: "ctemp"}).draw(chart.TwoColumns); !errors.Is(err,
		ErrTooFewStations) {
		t.Errorf("no section: %v", err)
	}
}

func TestReasonsAreNamed(t *testing.T) {
	s, g := invent(wideLayout)
	reasons := make([]float64, len(findField(g, "ctemp").Data))
	for k, v := range findField(g, "ctemp").Data {
		if math.IsNaN(v) {
			reasons[k] = gridding.BelowBottom
			if findField(g, "ctemp_relerr").Data[k] > 0.5 {
				reasons[k] = gridding.ErrorTooBig
			}
		}
	}
	g.Fields = append(g.Fields, gridding.Field{Variable: metadata.Variable{Name: "ctemp_mask"}, Data: reasons,
		Of: "ctemp", Kind: gridding.MaskReason})
	p, err := (&Section{Name: "a", Section: s, Grid: g, Field: "ctemp"}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(p.Words, "|"); !strings.Contains(all, "no value (mapping error too large)") {
		t.Errorf("the key does not say why there is no value: %s", all)
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
		if above {
			inWater++
			longest = max(longest, east-west)
		}
	}
	if inWater != 1 || longest < 95 {
		t.Errorf("the line is in %d pieces, of which the longest spans %.1f of 100 km", inWater, longest)
	}
}

// A row of lines half a point apart keeps the round ones, and no two of what is left run together.
func TestLinesThatRunTogether(t *testing.T) {
	var lines [][][]page.Point
	var levels []float64
	for k := range 11 {
		levels = append(levels, 30+float64(k))
		y := 10 + 0.5*float64(k)
		lines = append(lines, [][]page.Point{{page.Pt(0, y), page.Pt(100, y)}})
	}
	got := chart.PartTogether(lines, levels, 1.4)
	last := math.Inf(-1)
	for k, l := range got {
		if len(l) == 0 {
			continue
		}
		if y := l[0][0].Y; y-last < 1.4 {
			t.Errorf("lines of %g and the one before are %.1f points apart", levels[k], y-last)
		}
		last = l[0][0].Y
	}
	for _, k := range []int{0, 5, 10} { // 30, 35, 40
		if len(got[k]) != 1 {
			t.Errorf("the line of %g is left out", levels[k])
		}
	}
	if far := chart.PartTogether(lines, levels, 0.4); len(far[3]) != 1 || len(far[7]) != 1 {
		t.Error("lines that stand apart are left out")
	}
}

// TestValuesDrawnAreValuesStored looks up, at the nodes of the grid, the colour in the PNG and the band of
// the stored value.
func TestValuesDrawnAreValuesStored(t *testing.T) {
	s, g := invent(wideLayout)
	f := &Section{Name: "a", Section: s, Grid: g, Field: "ctemp"}
	d, err := f.prepare()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	drawn, err := f.draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if err := drawn.Write(&b, page.PNG, time.Time{}); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	// Where the panels are is found in the picture's own list: the two outlines that its borders are.
	var frames []chart.Frame
	for _, o := range drawn.Ops {
		if o.Kind == page.OutlineOp && o.Pen.Colour == page.Ink && o.Pen.Width == chart.Thin && len(o.Path) == 1 &&
			len(o.Path[0]) == 4 && o.Path[0][1].X-o.Path[0][0].X > 200 {
			q := o.Path[0]
			frames = append(frames, chart.Frame{L: q[0].X, T: q[0].Y, R: q[2].X, B: q[2].Y, X0: d.x0, X1: d.x1})
		}
	}
	if len(frames) != 2 {
		t.Fatalf("%d panels found", len(frames))
	}
	frames[0].Y0, frames[0].Y1 = 0, d.upper
	frames[1].Y0, frames[1].Y1 = d.upper, d.yMax
	same := func(a color.Color, b color.NRGBA) bool {
		r, g, bl, _ := a.RGBA()
		return uint8(r>>8) == b.R && uint8(g>>8) == b.G && uint8(bl>>8) == b.B
	}
	const dots = page.DotsPerInch / 72.0
	pixel := func(p page.Point) (int, int) { return int(p.X * dots), int(p.Y * dots) }
	field := findField(g, "ctemp")
	x, y := g.Axes[1].Values, g.Axes[0].Values
	compared, wrong := 0, 0
	for _, fr := range frames {
		for i := range y {
			for j := range x {
				v := field.Data[i*len(x)+j]
				if math.IsNaN(v) || y[i] <= fr.Y0 || y[i] >= fr.Y1 || i < 3 || j < 1 || j > len(x)-2 || i > len(y)-3 {
					continue
				}
				// Inside a band: the neighbours, between which the picture is linear, are in it too.
				band := d.f.BandOf(v)
				inside := true
				for _, n := range []int{-2, -1, 1, 2} {
					for _, m := range []int{-1, 0, 1} {
						q := field.Data[(i+n)*len(x)+j+m]
						inside = inside && !math.IsNaN(q) && d.f.BandOf(q) == band
					}
				}
				if !inside || findField(g, "ctemp_relerr").Data[i*len(x)+j] > 0.2 {
					continue
				}
				px, py := pixel(fr.At(x[j], y[i]))
				if !clean(img, px, py) { // a line or a label passes
					continue
				}
				compared++
				if !same(img.At(px, py), d.f.Colours[band]) {
					wrong++
					if wrong < 5 {
						t.Errorf("%.0f km, %.0f dbar: stored %.3f, band %d %v, painted %v", x[j], y[i], v, band,
							d.f.Colours[band], img.At(px, py))
					}
				}
			}
		}
	}
	if compared < 5000 {
		t.Errorf("only %d nodes could be compared", compared)
	}
	if wrong > 0 {
		t.Errorf("%d of %d nodes are painted in another band's colour", wrong, compared)
	}
}

// clean reports whether the pixels around are all of one colour.
func clean(img image.Image, x, y int) bool {
	for dx := -2; dx <= 2; dx++ {
		for dy := -2; dy <= 2; dy++ {
			if img.At(x+dx, y+dy) != img.At(x, y) {
				return false
			}
		}
	}
	return true
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

// Lines of density over a section are thinner than those that matter and not black; in the deep panel they are referred to a
// pressure near it, and there are several where those of the surface would be one or none.
func TestOverlayIsQuietAndDenserAtDepth(t *testing.T) {
	s, g := invent(layout{stations: 20, lengthKm: 900, depthM: 5200, from: orb.Point{-60, 24}, to: orb.Point{-51, 24.5},
		stepKm: 10, stepDbar: 20, first: 1})
	p, err := (&Section{Name: "a", Section: s, Grid: g, Field: "ctemp", Overlay: "sigma0"}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(p.Words, "|"); !strings.Contains(all, "|σ₀, below σ") {
		t.Errorf("the key does not say which density: %v", p.Words)
	}
	var lower float64 // where the second panel begins
	for _, o := range p.Ops {
		if o.Kind == page.FillOp && o.Pen.Colour == chart.NoValue && o.Path[0][1].X-o.Path[0][0].X > 200 {
			lower = o.Path[0][0].Y
		}
	}
	deep := 0
	for _, o := range p.Ops {
		if o.Kind == page.StrokeOp && o.Pen.Colour == overlayPen.Colour {
			if o.Pen.Width > 0.7 {
				t.Errorf("a line of density is %g points wide", o.Pen.Width)
			}
			if o.Path[0][0].Y > lower {
				deep++
			}
		}
	}
	if deep < 3 {
		t.Errorf("%d lines of density in the deep panel", deep)
	}
}
