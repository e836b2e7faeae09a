package figure

import (
	"bytes"
	"errors"
	"image/color"
	"image/png"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/section/seawater"
)

// framesOf finds the panels of a picture of sections: each begins with a hatched ground.
func framesOf(p *page.Scene) (out []chart.Frame) {
	for _, o := range p.Ops {
		if o.Kind == page.FillOp && o.Pen.Colour == chart.NoValue && len(o.Path) == 1 && len(o.Path[0]) == 4 &&
			o.Path[0][1].X-o.Path[0][0].X > 150 {
			q := o.Path[0]
			out = append(out, chart.Frame{L: q[0].X, T: q[0].Y, R: q[2].X, B: q[2].Y})
		}
	}
	return out
}

// Levels and ranges that are asked for are those of the picture and of its caption; values beyond a range have the
// colour of the end; a step that gives too many levels is refused.
func TestGivenLevels(t *testing.T) {
	s, g := invent(wideLayout)
	f := func(scale Scale) *Section {
		return &Section{Name: "a", Section: s, Grid: g, Field: "ctemp", Scale: scale}
	}
	for _, k := range []struct {
		scale  Scale
		levels []float64
		says   string
	}{
		{Scale{Values: []float64{2, 3, 10}}, []float64{2, 3, 10}, "Levels: 2, 3, 10; as given"},
		{Scale{Step: 5}, []float64{5, 10, 15}, "Levels: 5, 10, 15; a step of 5, as given"},
		{Scale{Step: 1, Lo: 3, Hi: 6}, []float64{3, 4, 5, 6}, "for values from 3 to 6, as given"},
	} {
		d, err := f(k.scale).prepare()
		if err != nil {
			t.Fatal(err)
		}
		d.colour()
		if !slices.Equal(d.f.Levels, k.levels) || len(d.f.Colours) != len(k.levels)+1 {
			t.Errorf("%v: levels %v", k.scale, d.f.Levels)
		}
		text, err := captionOf(f(k.scale), aboutTrial)
		if err != nil || !strings.Contains(text, k.says) {
			t.Errorf("%v: %v\n%s", k.scale, err, text)
		}
	}
	d, err := f(Scale{Lo: 4, Hi: 8}).prepare()
	if err != nil || d.f.Levels[0] < 4 || d.f.Levels[len(d.f.Levels)-1] > 8 || len(d.f.Levels) < 6 {
		t.Errorf("levels of a range: %v %v", d.f.Levels, err)
	}
	if _, err := f(Scale{Step: 0.01}).prepare(); !errors.Is(err, ErrLevels) {
		t.Errorf("1800 levels: %v", err)
	}
	v := &Velocity{Name: "v", Result: currents(s), Scale: Scale{Values: []float64{-0.1, 0, 0.1}}}
	if d, err := v.prepare(); err != nil || !slices.Equal(d.levels, []float64{-0.1, 0, 0.1}) {
		t.Errorf("levels of velocity: %v", err)
	}
}

// With share, a warm and a cold section have the same levels and colours, and say so; without it they have their own.
func TestSharedLevels(t *testing.T) {
	warm, warmGrid := invent(wideLayout)
	cold, coldGrid := invent(layout{stations: 12, lengthKm: 200, depthM: 900, from: [2]float64{4, 60},
		to:     [2]float64{4, 61},
		stepKm: 5, stepDbar: 10, first: 1})
	for k := range findField(coldGrid, "ctemp").Data {
		findField(coldGrid, "ctemp").Data[k] -= 15
	}
	cold.Name = "B"
	m := Material{Sections: []SectionMaterial{{Section: warm, Grid: warmGrid}, {Section: cold, Grid: coldGrid}}}
	levels := func(shared bool) (out [][]float64) {
		for _, f := range Choose(m, Choice{Kinds: []string{KindSection, KindOverview}, Share: shared}) {
			q, ok := f.(*Section)
			if !ok || q.Field != "ctemp" {
				continue
			}
			d, err := q.prepare()
			if err != nil {
				t.Fatal(err)
			}
			text, err := captionOf(f, aboutTrial)
			if says := strings.Contains(text, "the same in 2 sections"); err != nil || says != shared {
				t.Errorf("%s, shared %v: %s", f.Stem(), shared, text)
			}
			out = append(out, d.f.Levels)
		}
		return out
	}
	if own := levels(false); len(own) != 2 || slices.Equal(own[0], own[1]) {
		t.Errorf("of its own: %v", own)
	}
	both := levels(true)
	if len(both) != 2 || !slices.Equal(both[0], both[1]) || both[0][0] > -5 || both[0][len(both[0])-1] < 10 {
		t.Errorf("shared: %v", both)
	}
}

// With depth the numbers of the axis lie at the pressures of round depths at the mean latitude of the section; the
// bottom and the values lie where they lay.
func TestDepthOnTheVerticalAxis(t *testing.T) {
	s, g := invent(wideLayout)
	lat := 0.0
	for _, c := range s.Casts {
		lat += c.At[1] / float64(len(s.Casts))
	}
	for _, f := range []Figure{&Section{Name: "a", Section: s, Grid: g, Field: "ctemp", Depth: true},
		&Velocity{Name: "v", Result: currents(s), Depth: true}} {
		p, err := f.draw(chart.TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		frames := framesOf(p)
		low := &frames[1]
		var upper, yMax float64
		switch f := f.(type) {
		case *Section:
			d, _ := f.prepare()
			upper, yMax = d.upper, d.yMax
		case *Velocity:
			d, _ := f.prepare()
			upper, yMax = d.upper, d.yMax
		}
		low.Y0, low.Y1 = upper, yMax
		at := map[string]float64{}
		for k, w := range p.Words {
			if box := p.Boxes[k]; box[2].X < low.L {
				at[w] = (box[0].Y + box[2].Y) / 2
			}
		}
		want := low.Y(seawater.Pressure(-3000, lat)) - low.Y(seawater.Pressure(-2000, lat))
		if got := at["3000"] - at["2000"]; math.Abs(got-want) > 0.01 ||
			math.Abs(at["2000"]-low.Y(seawater.Pressure(-2000, lat))) > 1 {
			t.Errorf("%s: 2000 and 3000 m are %.3f points apart, want %.3f", f.Stem(), got, want)
		}
		text, err := captionOf(f, aboutTrial)
		if err != nil || !p.Has("Depth (m)") || !strings.Contains(text, "Depth: from pressure (TEOS-10") ||
			strings.Contains(text, "Sea pressure") {
			t.Errorf("%s: %v, %v\n%s", f.Stem(), p.Words, err, text)
		}
	}
}

// On request each usable value of the casts has a dot, as many as are seen apart, and flagged values have none.
func TestDotsWhereDataAre(t *testing.T) {
	s, g := invent(wideLayout)
	count := func(dots bool) int {
		p, err := (&Section{Name: "a", Section: s, Grid: g, Field: "asal", Dots: dots}).draw(chart.TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, o := range p.Ops {
			if o.Kind == page.FillOp && o.Pen.Colour == dotColour {
				n += len(o.Path)
				for _, q := range o.Path {
					x := (q[0].X + q[2].X) / 2
					if !slices.ContainsFunc(s.DistanceKm, func(km float64) bool {
						fr := framesOf(p)[0]
						return math.Abs(fr.L+(fr.R-fr.L)*km/s.DistanceKm[len(s.Casts)-1]-x) < 0.1
					}) {
						t.Fatalf("a dot at %g points is at no station", x)
					}
				}
			}
		}
		return n
	}
	all := count(true)
	if none := count(false); none != 0 || all < 20*len(s.Casts) {
		t.Errorf("%d dots, without being asked %d", all, none)
	}
	for k, c := range s.Casts {
		if col := c.Column("asal"); k < 10 {
			for i := range col.Flags {
				col.Flags[i] = 4
			}
		}
	}
	if fewer := count(true); fewer >= all-100 {
		t.Errorf("%d dots, with ten casts flagged bad %d", all, fewer)
	}
}

// PNG files have the resolution that is asked for, and say so.
func TestResolution(t *testing.T) {
	p := page.New(144, 72)
	p.Line(0, 36, 144, 36, page.Pen{Colour: page.Ink, Width: 1})
	for dots, want := range map[int][2]int{0: {600, 300}, 600: {1200, 600}} {
		p.Dots = dots
		var b bytes.Buffer
		if err := p.Write(&b, page.PNG, time.Time{}); err != nil {
			t.Fatal(err)
		}
		k := bytes.Index(b.Bytes(), []byte("pHYs"))
		perMetre := 0
		for _, c := range b.Bytes()[k+4 : k+8] {
			perMetre = perMetre<<8 | int(c)
		}
		img, err := png.Decode(&b)
		if err != nil || img.Bounds().Dx() != want[0] || img.Bounds().Dy() != want[1] {
			t.Errorf("%d: %v %v", dots, img.Bounds(), err)
		}
		if dpi := float64(perMetre) * 0.0254; math.Abs(dpi-float64(want[0])/2) > 0.1 {
			t.Errorf("%d: the file says %.1f dots per inch", dots, dpi)
		}
	}
}

// The panels of an overview have the same edges and axes, temperature first and velocity last, under a map of the
// track.
func TestOverview(t *testing.T) {
	s, g := invent(wideLayout)
	m := Material{Sections: []SectionMaterial{{Title: "Line along the slope", Section: s, Grid: g,
		Velocity: currents(s)}}}
	figs := Choose(m, Choice{Kinds: []string{KindOverview}})
	if len(figs) != 1 || figs[0].Stem() != "A_overview" {
		t.Fatalf("%d figures", len(figs))
	}
	p, err := figs[0].draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	frames := framesOf(p)
	if len(frames) != 8 { // temperature, salinity, oxygen, velocity, each in two panels
		t.Fatalf("%d panels", len(frames))
	}
	for k := 2; k < len(frames); k++ {
		a, b := frames[k-2], frames[k]
		if a.L != b.L || a.R != b.R || math.Abs((a.B-a.T)-(b.B-b.T)) > 1e-9 {
			t.Errorf("panels differ: %v %v", a, b)
		}
	}
	all := strings.Join(p.Words, "|")
	if !strings.Contains(all, "Line along the slope") || !p.Has("Conservative Temperature (°C)") ||
		!p.Has("Geostrophic velocity (m s⁻¹)") || !p.Has("28 stations, 2026-05-03 to 2026-05-08 (UTC)") {
		t.Errorf("words: %s", all)
	}
	track := 0
	for _, o := range p.Ops {
		if o.Kind == page.StrokeOp && o.Pen.Colour == alarm && o.Pen.Width == chart.Heavy {
			track++
		}
	}
	if track != 1 {
		t.Errorf("%d tracks on the map", track)
	}
	if n := len(Choose(Material{Sections: []SectionMaterial{{Section: s}}},
		Choice{Kinds: []string{KindOverview}})); n != 0 {
		t.Errorf("%d overviews of nothing", n)
	}
}

// One variable against another has the colour of its pressure, and a circle for each good value of water samples where
// the water says.
func TestVariablesAgainstEachOther(t *testing.T) {
	s, _ := invent(wideLayout)
	bottles := sampledAt(s)
	bottles[0].Values["oxy_bottle"] = 400 // far from the casts: the axis must hold it
	f := &Against{Name: "p", X: "asal", Y: "oxy", Casts: s.Casts, Bottles: bottles}
	p, err := f.draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	d, err := f.prepare()
	if err != nil || d.y.Hi < 400 {
		t.Errorf("the axis ends at %g: %v", d.y.Hi, err)
	}
	circles := 0
	fills := map[color.NRGBA]bool{}
	for _, o := range p.Ops {
		if o.Kind == page.OutlineOp && len(o.Path) == 1 && len(o.Path[0]) > 6 {
			circles++
		}
		if o.Kind == page.FillOp {
			fills[o.Pen.Colour] = true
		}
	}
	if circles != len(bottles)+1 { // and one in the key
		t.Errorf("%d circles for %d bottles", circles, len(bottles))
	}
	if len(fills) < len(d.edges)-1 || len(d.edges) < 6 {
		t.Errorf("%d colours for classes %v", len(fills), d.edges)
	}
	if _, err := (&Against{Name: "p", X: "asal", Y: "chl", Casts: s.Casts}).draw(chart.OneColumn); !errors.Is(err,
		ErrNoValues) {
		t.Errorf("a variable that no cast has: %v", err)
	}
}

// A map of a field has at each node the colour of the band of its value, grey where the bottom lies above the level.
func TestFieldMapShowsItsValues(t *testing.T) {
	f := &FieldMap{Name: "f", Grid: inventField(), Field: "ctemp", Level: 90}
	d, err := f.prepare()
	if err != nil || d.level != 100 {
		t.Fatalf("level %g: %v", d.level, err)
	}
	p, err := f.draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	sheet := chart.NewSheet(chart.TwoColumns, 45)
	for _, o := range p.Ops { // the frame is the first thing painted
		if o.Kind == page.FillOp && o.Pen.Colour == chart.Water {
			sheet.L, sheet.R, sheet.Y = o.Path[0][0].X, o.Path[0][2].X, o.Path[0][0].Y
			break
		}
	}
	frameAround(sheet, &d.Map, d.corners, 1.08)
	var b bytes.Buffer
	if err := p.Write(&b, page.PNG, time.Time{}); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	seen, wrong, grey := 0, 0, 0
	for k, v := range d.f.Data {
		q := d.Place(d.f.X[k%31], d.f.Y[k/31])
		x, y := int(q.X*page.DotsPerInch/72), int(q.Y*page.DotsPerInch/72)
		if k%31 == 0 || k%31 == 30 || k/31 == 0 || k/31 == 20 || !clean(img, x, y) {
			continue
		}
		want := seabed
		if !math.IsNaN(v) {
			want = d.f.Colours[d.f.BandOf(v)]
		} else if d.f.X[k%31] < -14.5 {
			continue // beside the edge of the bottom
		}
		seen++
		got := color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)
		if got != want && got != chart.Faint && got != page.Paper { // graticule and scale bar
			wrong++
		}
		if want == seabed {
			grey++
		}
	}
	if seen < 250 || wrong > 0 || grey < 20 {
		t.Errorf("%d nodes compared, %d wrong, %d below the bottom", seen, wrong, grey)
	}
}

// No line of the graticule runs through the label of a level line.
func TestNoGraticuleThroughFieldLabels(t *testing.T) {
	f := &FieldMap{Name: "f", Grid: inventField(), Field: "ctemp", Level: 90}
	d, err := f.prepare()
	if err != nil {
		t.Fatal(err)
	}
	p := chart.NewSheet(chart.TwoColumns, 45)
	frameAround(p, &d.Map, d.corners, 1.08)
	d.Graticule(p)
	named := len(p.Boxes)
	d.lines(p)
	if len(p.Boxes) == named {
		t.Fatal("no line is labelled")
	}
	for k, b := range p.Boxes[named:] {
		for _, q := range d.Lines {
			inside := true
			for i := range 4 {
				a, c := b[i], b[(i+1)%4]
				inside = inside && (c.X-a.X)*(q.Y-a.Y)-(c.Y-a.Y)*(q.X-a.X) > 0
			}
			if inside {
				t.Fatalf("a line runs through %s at %v", p.Words[named+k], q)
			}
		}
	}
}
