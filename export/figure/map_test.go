package figure

import (
	"errors"
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// On a crowded sloping line numbers stand all along it.
func TestNumbersAlongACrowdedLine(t *testing.T) {
	s := &section.Section{Name: "line"}
	for k := range 150 {
		u := float64(k) / 149
		s.Casts = append(s.Casts, &section.Cast{Station: fmt.Sprint(k + 1), Role: section.Primary,
			At: orb.Point{-60 + 28*u, 24 - 1.8*u*u}, BottomM: math.NaN()})
		s.DistanceKm = append(s.DistanceKm, 2900*u)
	}
	f := &StationMap{Name: "crowded map", Casts: s.Casts, Sections: []*section.Section{s}}
	both(t, f)
	for _, w := range []chart.Width{chart.TwoColumns, chart.OneColumn} {
		p, err := f.draw(w)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, text := range p.Words {
			if v := numberOf(text); v > 75 && v < 150 {
				n++
			}
		}
		if n < 3 {
			t.Errorf("%v: %d numbers in the second half: %v", w, n, p.Words)
		}
	}
}

// Maps of the far south say what the coastline leaves out.
func TestCoastlineCredit(t *testing.T) {
	for lat, want := range map[float64]bool{-77: true, 77: false, -50: false} {
		c, err := captionOf(&StationMap{Name: "m", Casts: []*section.Cast{{Station: "1", At: orb.Point{0, lat}}}},
			aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(c, "ice shelves") != want {
			t.Errorf("%g: %s", lat, c)
		}
	}
}

// A scale bar is as long as it says: between stations near the middle latitude the page has the geodesic distance.
func TestScaleBarIsTrue(t *testing.T) {
	for _, c := range []struct {
		from, to orb.Point
		says     bool // at which latitude
	}{
		{orb.Point{176, -17}, orb.Point{-172, -19}, false}, {orb.Point{-16, 42}, orb.Point{-4, 49},
			true}, {orb.Point{30, 85}, orb.Point{80, 88}, false},
		{orb.Point{-170, -78.5}, orb.Point{-165, -78.6}, false}, {orb.Point{5, 54}, orb.Point{5.4, 54.6},
			false}, {orb.Point{150, 30}, orb.Point{150, 16}, true},
	} {
		var casts []*section.Cast
		for k := range 21 {
			u := float64(k) / 20
			casts = append(casts, &section.Cast{Station: fmt.Sprint(k), Role: section.Primary,
				At: orb.Point{chart.Wrap180(c.from[0] + u*chart.Wrap180(c.to[0]-c.from[0])),
					c.from[1] + u*(c.to[1]-c.from[1])}, BottomM: math.NaN()})
		}
		p, err := (&StationMap{Name: "m", Casts: casts}).draw(chart.TwoColumns)
		if err != nil {
			t.Fatal(err)
		}
		var dots []page.Point
		bar := math.NaN()
		for _, o := range p.Ops {
			switch {
			case o.Kind == page.FillOp && o.Pen.Colour == page.Ink && len(o.Path) == 1 && len(o.Path[0]) == 20:
				q := page.Point{}
				for _, v := range o.Path[0] {
					q.X, q.Y = q.X+v.X/20, q.Y+v.Y/20
				}
				dots = append(dots, q)
			case o.Kind == page.StrokeOp && o.Pen.Width == chart.Heavy && math.IsNaN(bar):
				bar = o.Path[0][1].X - o.Path[0][0].X
			}
		}
		km, says := math.NaN(), false
		for _, w := range p.Words {
			var v float64
			if n, _ := fmt.Sscanf(w, "%g km", &v); n == 1 && strings.Contains(w, " km") {
				km, says = v, strings.Contains(w, " at ")
			}
		}
		if len(dots) < 21 || math.IsNaN(km) || math.IsNaN(bar) {
			t.Fatalf("%v: %d dots, bar of %g km and %g points", c, len(dots), km, bar)
		}
		ground, _, _ := section.Geodesic(casts[9].At, casts[11].At)
		onPage := math.Hypot(dots[11].X-dots[9].X, dots[11].Y-dots[9].Y)
		// a sphere for the ellipsoid is 0.5 % by itself
		if r := onPage / (ground / 1000) / (bar / km); math.Abs(r-1) > 0.015 {
			t.Errorf("%v: the page is %.3f of what the bar says", c, r)
		}
		if says != c.says {
			t.Errorf("%v: whether the bar says its latitude: %v", c, says)
		}
	}
}

// TestMapsOfLittle: one station, stations without positions, all at one place.
func TestMapsOfLittle(t *testing.T) {
	cast := func(lon, lat float64) *section.Cast {
		return &section.Cast{Station: "1", Number: "1", At: orb.Point{lon, lat}, BottomM: math.NaN(),
			Role: section.Primary}
	}
	both(t, &StationMap{Name: "one", Title: "x", Casts: []*section.Cast{cast(12, -40)}})
	both(t, &StationMap{Name: "one at the pole", Title: "x", Casts: []*section.Cast{cast(12, -90)}})
	both(t, &StationMap{Name: "same place", Title: "x", Casts: []*section.Cast{cast(180, 10), cast(-180, 10)}})
	nowhere := cast(math.NaN(), math.NaN())
	both(t, &StationMap{Name: "one without", Title: "x", Casts: []*section.Cast{cast(12, 40), nowhere}})
	if _, err := (&StationMap{Name: "none", Casts: []*section.Cast{nowhere}}).draw(chart.TwoColumns); !errors.Is(err,
		ErrNoValues) {
		t.Errorf("no position at all: %v", err)
	}
	var ring []*section.Cast
	for k := range 36 {
		ring = append(ring, cast(float64(k*10-180), -66+float64(k%3)))
		ring[k].Station = fmt.Sprint(k + 1)
		if k%4 == 0 {
			ring[k].Role = section.Repeat
		}
	}
	both(t, &StationMap{Name: "around the pole", Title: "x", Casts: ring,
		Sections: []*section.Section{{Name: "R", Casts: ring}}})
}

// No line strikes through a label of a map: the parts of lines that reach into a label's box are painted over
// by its patch.
func TestNoLineThroughMapLabels(t *testing.T) {
	s, _ := invent(wideLayout)
	for _, f := range []*StationMap{{Name: "depths", Casts: s.Casts, Sections: []*section.Section{s},
		Bathymetry: seafloor()},
		{Name: "plain", Casts: s.Casts}} {
		for _, w := range []chart.Width{chart.TwoColumns, chart.OneColumn} {
			p, err := f.draw(w)
			if err != nil {
				t.Fatal(err)
			}
			var lines []page.Point // drawn so far; a patch removes what lies below it
			for _, o := range p.Ops {
				switch o.Kind {
				case page.StrokeOp:
					lines = chart.Sampled(lines, o.Path...)
				case page.FillOp:
					if len(o.Path) == 1 && len(o.Path[0]) == 4 {
						b := page.Box(o.Path[0])
						lines = slices.DeleteFunc(lines,
							func(q page.Point) bool {
								return b.Overlaps(page.RectBox(q.X, q.Y, q.X+1e-6, q.Y+1e-6),
									0)
							})
					}
				case page.TextOp:
					b := o.Label.Box()
					for _, q := range lines {
						if b.Overlaps(page.RectBox(q.X, q.Y, q.X+1e-6, q.Y+1e-6), 0.3) {
							t.Errorf("%s %v: a line runs through %q at %v", f.Name, w, o.Label.Text, q)
							break
						}
					}
				}
			}
		}
	}
}

// A map without land has a locator with its place, which covers no station; a map with land has none.
func TestLocatorWhereNoLandIsNear(t *testing.T) {
	line := func(lon, lat, step float64) []*section.Cast {
		var out []*section.Cast
		for k := range 12 {
			out = append(out, &section.Cast{Station: fmt.Sprint(k + 1),
				At:   orb.Point{lon + step*float64(k), lat + step*float64(k%5)},
				Role: section.Primary, BottomM: math.NaN()})
		}
		return out
	}
	for _, c := range []struct {
		casts []*section.Cast
		want  bool
	}{{line(-150, 10, 0.5), true}, {line(-30, -40, 1), true}, {line(-16.2, 58.9, 0.1), true}, {line(2, 52, 0.3),
		false}} {
		for _, w := range []chart.Width{chart.TwoColumns, chart.OneColumn} {
			f := &StationMap{Name: "m", Casts: c.casts}
			p, err := f.draw(w)
			if err != nil {
				t.Fatal(err)
			}
			textIsApart(t, "locator", p)
			if p.Has("place of the map") != c.want {
				t.Errorf("%v: locator: %v", c.casts[0].At, !c.want)
			}
			var dots []page.Point
			for _, o := range p.Ops {
				if o.Kind == page.FillOp && o.Pen.Colour == page.Ink && len(o.Path[0]) == 20 {
					dots = append(dots, page.Pt(o.Path[0][0].X, o.Path[0][5].Y))
				}
				if o.Kind == page.FillOp && o.Pen.Colour == chart.Water && len(o.Path[0]) == 4 && len(dots) > 5 {
					b := o.Path[0]
					for _, q := range dots {
						if q.X > b[0].X && q.X < b[2].X && q.Y > b[0].Y && q.Y < b[2].Y {
							t.Errorf("%v: a station lies under %v", c.casts[0].At, b)
						}
					}
				}
			}
		}
	}
}

// Depths are shaded over the whole frame that the grid covers, and every level of some length is labelled.
func TestDepthsAreShadedAndLabelled(t *testing.T) {
	s, _ := invent(wideLayout)
	f := &StationMap{Name: "m", Casts: s.Casts, Bathymetry: seafloor()}
	p, err := f.draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	levels := f.Bathymetry.depthLevels()
	shades := map[color.NRGBA]bool{}
	tint := chart.Colours("depth1")
	for k := range levels {
		shades[tint.At(0.08+0.4*float64(k+1)/float64(len(levels)))] = false
	}
	for _, o := range p.Ops {
		if _, ok := shades[o.Pen.Colour]; ok && o.Kind == page.FillOp {
			shades[o.Pen.Colour] = true
		}
	}
	for c, seen := range shades {
		if !seen {
			t.Errorf("no area is shaded %v", c)
		}
	}
	labelled := 0
	for _, l := range levels {
		if p.Has(chart.Short(l)) {
			labelled++
		}
	}
	if labelled < len(levels)-1 {
		t.Errorf("%d of %d levels are labelled: %v", labelled, len(levels), p.Words)
	}
}

// Names of sections have the contrast of text.
func TestSectionNamesAreReadable(t *testing.T) {
	light := func(u uint8) float64 { // IEC 61966-2-1
		if x := float64(u) / 255; x > 0.04045 {
			return math.Pow((x+0.055)/1.055, 2.4)
		}
		return float64(u) / 255 / 12.92
	}
	luminance := func(c color.NRGBA) float64 { return 0.2126*light(c.R) + 0.7152*light(c.G) + 0.0722*light(c.B) }
	for k := range 20 {
		c := chart.Readable(chart.Colours("station1").At(float64(k)/19), chart.Water)
		if r := (luminance(chart.Water) + 0.05) / (luminance(c) + 0.05); r < 4.5 {
			t.Errorf("%v: contrast %.2f", c, r)
		}
	}
	s, _ := invent(wideLayout) // on the colour of the deepest water too
	f := &StationMap{Name: "m", Casts: s.Casts, Bathymetry: seafloor(), Sections: []*section.Section{s}}
	p, err := f.draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	seen, deepest := 0, luminance(chart.Colours("depth1").At(0.48))
	for _, o := range p.Ops {
		if o.Kind == page.TextOp && o.Label.Bold && o.Label.Text == s.Name {
			seen++
			if r := (deepest + 0.05) / (luminance(o.Label.Colour) + 0.05); r < 4.5 {
				t.Errorf("%v on deep water: contrast %.2f", o.Label.Colour, r)
			}
		}
	}
	if seen != 1 {
		t.Errorf("the section is named %d times", seen)
	}
}
