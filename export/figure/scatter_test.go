package figure

import (
	"fmt"
	"image/color"
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// numberOf reads a text of the page as a number; NaN when it is none.
func numberOf(text string) float64 {
	var v float64
	if n, err := fmt.Sscanf(strings.ReplaceAll(text, "−", "-")+";", "%g;", &v); n != 1 || err != nil {
		return math.NaN()
	}
	return v
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
	c.Columns = []section.Column{{Variable: metadata.MustVariable("pres"), Values: p},
		{Variable: metadata.MustVariable("asal"), Values: sa}, {Variable: metadata.MustVariable("ctemp"), Values: ct}}
	for _, w := range []chart.Width{chart.TwoColumns, chart.OneColumn} {
		s, err := (&PropertyPlot{Kind: KindTemperatureSalinity, Name: "ts", Casts: []*section.Cast{c}}).draw(w)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, text := range s.Words {
			if v := numberOf(text); v > 27 && v < 28.5 {
				n++
			}
		}
		if n < 3 {
			t.Errorf("%v: %d labels of density lines", w, n)
		}
	}
}

// A label of a density line lies beside the dots, not on them, where a part of the line is free.
func TestDensityLabelsLieBesideDots(t *testing.T) {
	c := &section.Cast{Station: "1", At: orb.Point{0, 60}}
	var sa, ct, p []float64
	for k := range 900 { // a cloud that covers the middle of the picture but for its corners
		p = append(p, float64(k))
		sa, ct = append(sa, 34+float64(k%30)/29), append(ct, 1+5*float64(k/30)/29+2*float64(k%30)/29)
	}
	c.PressureDbar = p
	c.Columns = []section.Column{{Variable: metadata.MustVariable("pres"), Values: p},
		{Variable: metadata.MustVariable("asal"), Values: sa}, {Variable: metadata.MustVariable("ctemp"), Values: ct}}
	s, err := (&PropertyPlot{Kind: KindTemperatureSalinity, Name: "ts",
		Casts: []*section.Cast{c}}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	dots := page.Path{}
	for _, o := range s.Ops {
		if o.Kind == page.FillOp && o.Pen.Colour == (&shading{n: 1}).colour(0) {
			dots = append(dots, o.Path...)
		}
	}
	labels := 0
	for k, text := range s.Words {
		if v := numberOf(text); !(v > 26 && v < 28.6) {
			continue
		}
		labels++
		b := s.Boxes[k]
		for _, d := range dots {
			for _, q := range d {
				if q.Dist(page.Pt((b[0].X+b[2].X)/2, (b[0].Y+b[2].Y)/2)) < 2 {
					t.Fatalf("label %s at %v lies on a dot at %v", text, b, q)
				}
			}
		}
	}
	if labels < 2 || len(dots) == 0 {
		t.Errorf("%d labels, %d areas of dots", labels, len(dots))
	}
}

// Colours by latitude have their latitudes beside them, at both widths.
func TestLatitudesBesideTheColours(t *testing.T) {
	s, _ := invent(layout{stations: 14, lengthKm: 300, depthM: 900, from: orb.Point{4, -63.6},
		to: orb.Point{4, -60.3}, stepKm: 5, stepDbar: 10, first: 1})
	for _, f := range []Figure{&PropertyPlot{Kind: KindTemperatureSalinity, Name: "ts", Casts: s.Casts,
		Shade: ByLatitude}, &Profiles{Name: "p", Casts: s.Casts, Shade: ByLatitude}} {
		both(t, f)
		for _, w := range []chart.Width{chart.TwoColumns, chart.OneColumn} {
			p, err := f.draw(w)
			if err != nil {
				t.Fatal(err)
			}
			n := 0
			for _, text := range p.Words {
				if strings.HasSuffix(text, "°S") {
					n++
				}
			}
			if n < 4 {
				t.Errorf("%s %v: %d latitudes: %v", f.Stem(), w, n, p.Words)
			}
		}
	}
}

// Where casts have the same water the last one does not hide the others.
func TestNoCastHidesAnother(t *testing.T) {
	s, _ := invent(wideLayout)
	casts := []*section.Cast{s.Casts[0], s.Casts[0], s.Casts[0]}
	p, err := (&PropertyPlot{Name: "ts", Kind: KindTemperatureSalinity, Casts: casts}).draw(chart.TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	sh := shade(casts, ByStation)
	area := map[color.NRGBA]int{}
	for _, o := range p.Ops {
		if o.Kind == page.FillOp && len(o.Path) > 20 {
			area[o.Pen.Colour] += len(o.Path)
		}
	}
	for k := range 3 {
		if area[sh.colour(k)] < 50 {
			t.Errorf("cast %d has %d cells: %v", k, area[sh.colour(k)], area)
		}
	}
}
