package figure

import (
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// Differences of sensors are thousandths; the axis counts in those and says so, and the caption is a sentence.
func TestDifferencesInThousandths(t *testing.T) {
	s, _ := invent(wideLayout)
	f := &SensorDifferences{Name: "d", Casts: s.Casts}
	for _, w := range []chart.Width{chart.TwoColumns, chart.OneColumn} {
		p, err := f.draw(w)
		if err != nil {
			t.Fatal(err)
		}
		if all := strings.Join(p.Words, "|"); !strings.Contains(all, "Δ temperature (10⁻³ °C)") ||
			!strings.Contains(all, "Δ practical salinity (10⁻³)") {
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
	c, err := captionOf(f, aboutTrial)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(c, "beyond of") || !strings.Contains(c, "× 10⁻³ °C") {
		t.Errorf("caption:\n%s", c)
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
	c.Columns = []section.Column{{Variable: metadata.MustVariable("pres"), Values: p},
		{Variable: metadata.MustVariable("temp"), Values: v}}
	f := &Profiles{Name: "p", Casts: []*section.Cast{c}}
	stacks, y, err := f.prepare()
	if err != nil {
		t.Fatal(err)
	}
	fr := chart.Frame{L: 0, R: 100, T: 0, B: 200, X0: stacks[0].x.Lo, X1: stacks[0].x.Hi, Y0: 0, Y1: y.Hi}
	lines := profilePath(&fr, &stacks[0].curves[0])
	if len(lines) != 2 {
		t.Fatalf("%d pieces", len(lines))
	}
	for _, l := range lines {
		for k := 1; k < len(l); k++ {
			if l[k-1].Y < fr.Y(650) && l[k].Y > fr.Y(1350) {
				t.Error("the line crosses the gap")
			}
		}
	}
	text, err := captionOf(f, aboutTrial)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(text, "but not over gaps") {
		t.Errorf("caption: %s", text)
	}
}

// A cast of which every value is flagged is a line with marks, no heap of marks; a spike keeps its mark.
func TestManyFlaggedValues(t *testing.T) {
	fr := &chart.Frame{L: 0, R: 100, T: 0, B: 200, X0: 0, X1: 100, Y0: 0, Y1: 1000}
	var ms []mark
	for p := 2.0; p < 900; p += 2 {
		ms = append(ms, mark{p, 50, metadata.Bad})
	}
	ms = append(ms, mark{950, 80, metadata.Questionable})
	s := page.New(100, 200)
	var seen marksSeen
	seen.draw(s, fr, ms)
	if !seen.circles || !seen.crosses || seen.edges {
		t.Error(seen)
	}
	if n := len(s.Ops); n < 20 || n > 60 {
		t.Errorf("%d marks and lines in 180 points", n)
	}
}
