package figure

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// Numbers too small for nine decimals are written in powers of ten; a field of one value has that value beside
// its colour.
func TestColourBarsAlwaysHaveNumbers(t *testing.T) {
	s, g := invent(layout{stations: 8, lengthKm: 100, depthM: 900, from: orb.Point{4, 60}, to: orb.Point{5, 60},
		stepKm: 5, stepDbar: 10, first: 1})
	d := findField(g, "ctemp").Data
	original, errors := append([]float64(nil), d...), findField(g, "ctemp_err").Data
	fill := func(f func(v float64) float64) {
		for k, v := range original {
			d[k] = v
			if !math.IsNaN(v) {
				d[k] = f(v)
			}
		}
	}
	f := func() *Section { return &Section{Name: "a", Section: s, Grid: g, Field: "ctemp"} }
	fill(func(float64) float64 { return 250 })
	for _, w := range []chart.Width{chart.TwoColumns, chart.OneColumn} {
		p, err := f().draw(w)
		if err != nil {
			t.Fatal(err)
		}
		if !p.Has("250") {
			t.Errorf("%v: the value of a field of one value is not written: %v", w, p.Words)
		}
	}
	for _, e := range []int{-6, -7, -8} {
		fill(func(v float64) float64 { return v * math.Pow10(e) })
		for k := range errors { // an error far below the values: with a larger one there is nothing to draw
			errors[k] = 1e-3 * math.Pow10(e)
		}
		p, err := f().draw(chart.TwoColumns)
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
		c, err := captionOf(f(), aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(c, "interval: 0") && !strings.Contains(c, "interval: 0.") {
			t.Errorf("1e%d: %s", e, c)
		}
	}
	for k := range errors {
		errors[k] = 1
	}
	p, err := f().draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(p.Words, "|"); !strings.Contains(all, "closer than twice their error") {
		t.Errorf("a field uniform to its error: %s", all)
	}
	if got := chart.Significant(7.6045e-9, 2); got != "7.6 × 10⁻⁹" {
		t.Errorf("%q", got)
	}
	if got := chart.TenPower([]float64{3e-9}); got != -9 {
		t.Errorf("power of 3e-9: %d", got)
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
		want := f.Stem() + `: section "B" has 1 station: a section figure needs at least two stations`
		if err.Error() != want {
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
	d.colour()
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
				at := page.RectBox(fr.X(x[j]), fr.Y(y[i]), fr.X(x[j]), fr.Y(y[i])).Grown(1)
				if !clean(img, px, py) || slices.ContainsFunc(drawn.Boxes, func(b page.Box) bool {
					// a line or a label passes
					return b.Overlaps(at, 0)
				}) {
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

// Lines of density over a section are thinner than those that matter and not black; in the deep panel they
// are referred to a pressure near it, and there are several where those of the surface would be one or none.
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
