package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// tidal returns casts of one place of the invented ocean at hours after the first, while its layers move with the tide.
func tidal(hours ...float64) *section.Series {
	o := ocean{wideLayout.lengthKm, wideLayout.depthM}
	s := &section.Series{Name: "tide", At: orb.Point{-30.5, 39.1}}
	start := time.Date(2026, 5, 3, 21, 40, 0, 0, time.UTC)
	for k, h := range hours {
		c := &section.Cast{Expocode: "99XX20260501", Station: "7", Number: fmt.Sprint(k + 1), Role: section.Yoyo,
			At: s.At, Time: start.Add(time.Duration(h * float64(time.Hour))), BottomM: 760}
		x := 170 + 9*math.Sin(2*math.Pi*h/12.42)
		cols := map[string][]float64{}
		for p := 4.0; p <= 750; p += 2 {
			t, sp := o.temp(x, p)+0.01*math.Sin(p*0.7+float64(k)), o.salt(x, p)+0.002*math.Sin(p*0.9+float64(2*k))
			for name, v := range map[string]float64{"pres": p, "temp": t, "psal": sp, "asal": sp * 35.16504 / 35,
				"oxy":   o.oxy(x, p) + 0.4*math.Sin(p*0.31+float64(k)),
				"ctemp": seawater.ConservativeTemperature(sp*35.16504/35, t, p)} {
				cols[name] = append(cols[name], v)
			}
		}
		for _, name := range []string{"pres", "temp", "psal", "oxy", "asal", "ctemp"} {
			c.Columns = append(c.Columns, section.Column{Variable: metadata.MustVariable(name), Decimals: -1,
				Values: cols[name]})
		}
		c.PressureDbar = c.Columns[0].Values
		s.Casts = append(s.Casts, c)
	}
	return s
}

// withGap are the hours of a series that was broken off for a day.
var withGap = []float64{0, 1.2, 2.5, 3.6, 4.9, 6, 7.2, 8.5, 33, 34.2, 35.4, 36.7}

// A series is drawn from the values of its casts, and a gap in time is left empty but for half a spacing beside it.
func TestSeriesOfCasts(t *testing.T) {
	f := &TimeSeries{Name: "tide", Series: tidal(withGap...), Field: "ctemp", Overlay: "sigma0"}
	_, d, err := f.prepare()
	if err != nil {
		t.Fatal(err)
	}
	if len(d.gaps) != 1 || math.Abs(d.gaps[0][0]-9.1) > 0.06 || math.Abs(d.gaps[0][1]-32.4) > 0.06 {
		t.Errorf("gaps %v, want one from 9.1 to 32.4 hours: half the median spacing of 1.2 hours beside the casts",
			d.gaps)
	}
	for j, h := range d.f.X {
		k := slices.Index(withGap, h)
		for i, p := range d.f.Y[:len(d.f.Y)-d.rows] {
			v := d.f.Data[i*len(d.f.X)+j]
			switch {
			case inGap(h, d.gaps):
				if !math.IsNaN(v) {
					t.Fatalf("%g h, %g dbar: %g in the gap", h, p, v)
				}
			case k >= 0:
				c := f.Series.Casts[k]
				want := c.Column("ctemp").Values[max(0, slices.Index(c.PressureDbar, p))] // the first is carried up
				if v != want {
					t.Fatalf("cast %d, %g dbar: %g, not %g", k+1, p, v, want)
				}
			case math.IsNaN(v):
				t.Fatalf("%g h, %g dbar: nothing beside the gap", h, p)
			}
		}
	}
	c, err := captionOf(f, aboutTrial)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Time series tide: Conservative Temperature (°C), 12 casts, 2026-05-03 21:40 " +
		"to 2026-05-05 10:22 UTC",
		"Gaps: intervals between casts longer than 5 times the median", "gap in time"} {
		if !strings.Contains(c, want) {
			t.Errorf("caption lacks %q:\n%s", want, c)
		}
	}
	// Casts of two places in level are drawn on common levels.
	own := tidal(0, 1, 2)
	for k, c := range own.Casts {
		for i := range c.PressureDbar {
			c.PressureDbar[i] += 0.3 * float64(k)
		}
	}
	if levels := commonLevels(own.Casts); len(levels) != 374 || levels[1]-levels[0] != 2 {
		t.Errorf("%d common levels from %g, want 374 of 2 dbar", len(levels), levels[0])
	}
}

// A profile is straight between its levels, ends with them, and is not drawn across a gap.
func TestOnLevels(t *testing.T) {
	c := &section.Cast{Columns: []section.Column{{Variable: metadata.MustVariable("pres"),
		Values: []float64{2, 4, 6, 8, 10, 200, 202, 204, 206}}, {Variable: metadata.MustVariable("temp"),
		Values: []float64{20, 18, math.NaN(), 14, 12, 5, 4, 3, 2},
		Flags:  []metadata.Flag{2, 2, 9, 2, 2, 2, 4, 2, 2}}}}
	c.PressureDbar = c.Columns[0].Values
	got := onLevels(c, "temp", []float64{0, 2, 3, 6, 10, 100, 200, 202, 300})
	want := []float64{math.NaN(), 20, 19, 16, 12, math.NaN(), 5, 4, math.NaN()}
	for i := range want {
		if got[i] != want[i] && !(math.IsNaN(got[i]) && math.IsNaN(want[i])) {
			t.Errorf("level %d: %g, want %g", i, got[i], want[i])
		}
	}
}

// A repeated cast that has no key of colours is named above the picture.
func TestDifferencesNameTheirCasts(t *testing.T) {
	set := tidal(0, 1).Casts
	set[0].Station, set[0].Number, set[1].Station, set[1].Number = "006", "01", "006", "02"
	for _, c := range []struct {
		sets [][]*section.Cast
		want string
	}{
		{[][]*section.Cast{set}, "Station 6: cast 2 minus cast 1"},
		{[][]*section.Cast{append(slices.Clone(set), tidal(3).Casts...)}, "Repeated casts of station 6 minus cast 1"},
		{[][]*section.Cast{set, tidal(2, 5).Casts}, "Repeated casts minus the first"},
	} {
		p, err := (&Differences{Name: "repeats", Sets: c.sets, FromFirst: true}).draw(chart.TwoColumns)
		if err != nil || !p.Has(c.want) {
			t.Errorf("%q is not there: %v", c.want, err)
		}
	}
}

// Differences from the mean add up to nothing at every level; differences from the first are those of the values.
func TestDifferencesOfRepeats(t *testing.T) {
	s := tidal(0, 3, 6, 9)
	f := &Differences{Name: "tide", Sets: [][]*section.Cast{s.Casts}}
	stacks, _, err := f.prepare()
	if err != nil || len(stacks) != 3 {
		t.Fatal(len(stacks), err)
	}
	for _, st := range stacks {
		for i := range st.curves[0].v {
			sum := 0.0
			for _, c := range st.curves {
				sum += c.v[i]
			}
			if math.Abs(sum) > 1e-9*st.x.Hi*float64(len(st.curves)) {
				t.Fatalf("%s: differences at level %d add up to %g", st.name, i, sum)
			}
		}
	}
	f.FromFirst = true
	stacks, _, err = f.prepare()
	if err != nil {
		t.Fatal(err)
	}
	a, b := s.Casts[0].Column("temp").Values, s.Casts[2].Column("temp").Values
	if n := len(stacks[0].curves); n != 3 || stacks[0].curves[1].v[100] != b[100]-a[100] {
		t.Errorf("%d curves; third cast minus first %g, want %g", n, stacks[0].curves[1].v[100], b[100]-a[100])
	}
	one := tidal(0, 1).Casts
	for i := range one[1].PressureDbar {
		one[1].PressureDbar[i] += 2000
	}
	if _, _, err := (&Differences{Sets: [][]*section.Cast{one}}).prepare(); err == nil {
		t.Error("casts without a common level have a difference")
	}
}

// Repeats are compared with the first cast of their station; casts of a series, and stations of one cast, are not.
func TestRepeatsOf(t *testing.T) {
	s := tidal(0, 1, 2, 3, 4, 5, 6)
	c := s.Casts
	for k, of := range []string{"1", "1", "2", "2", "3", "4", "4"} {
		c[k].Station, c[k].Role = of, section.Primary
	}
	c[0].Role, c[6].Role = section.Repeat, section.Repeat
	series := []SeriesMaterial{{Series: &section.Series{Casts: c[5:]}}}
	got := repeatsOf([]*section.Cast{c[1], c[0], c[2], c[3], c[4], c[5], c[6]}, series)
	if len(got) != 1 || len(got[0]) != 2 || got[0][0] != c[0] {
		t.Errorf("%d sets %v", len(got), got)
	}
}
