package figure

import (
	"math"
	"testing"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// columnCast is a cast of temperature and salinity down to a pressure.
func columnCast(deepest float64, t func(p float64) float64) *section.Cast {
	c := &section.Cast{Station: "1", BottomM: math.NaN()}
	var temp, salt []float64
	for p := 2.0; p <= deepest; p += 2 {
		c.PressureDbar = append(c.PressureDbar, p)
		temp, salt = append(temp, t(p)), append(salt, 35+t(p)/40)
	}
	c.Columns = []section.Column{{Variable: metadata.MustVariable("temp"), Values: temp},
		{Variable: metadata.MustVariable("psal"), Values: salt}}
	return c
}

// The upper panel ends where temperature and salinity have changed, and shows a shelf that a good part of the
// track crosses.
func TestSplitFollowsTheWater(t *testing.T) {
	thermocline := func(scale float64) func(float64) float64 {
		return func(p float64) float64 { return 20 * math.Exp(-p/scale) }
	}
	deep := func(n int, f func(float64) float64) []*section.Cast {
		var out []*section.Cast
		for range n {
			out = append(out, columnCast(5000, f))
		}
		return out
	}
	if got := splitOf(deep(5, thermocline(60)), nil, 5000); got < 75 || got > 200 {
		t.Errorf("a thermocline of 60 dbar: %g", got)
	}
	if got := splitOf(deep(5, thermocline(500)), nil, 5000); got < 750 || got > 1500 {
		t.Errorf("a thermocline of 500 dbar: %g", got)
	}
	if got := splitOf(deep(5, func(p float64) float64 { return 5 - p/1000 }), nil, 5000); got != 0 {
		t.Errorf("even change needs no second panel: %g", got)
	}
	if got := splitOf(deep(3, func(float64) float64 { return 4 }), nil, 5000); got != 0 {
		t.Errorf("no change at all: %g", got)
	}
	bottom := []float64{22, 22, 22, 23, 5100, 5100, 5100, 5100, 5100}
	casts := append(deep(5, thermocline(300)), columnCast(20, thermocline(300)), columnCast(20, thermocline(300)))
	without, with := splitOf(casts, []float64{5100, 5100}, 5100), splitOf(casts, bottom, 5100)
	if with >= without || 22/with < 0.08 {
		t.Errorf("a shelf of 22 dbar is shown in an upper panel of %g dbar (%g without it)", with, without)
	}
}

// Profiles have an expanded upper panel too.
func TestProfilesAreSplit(t *testing.T) {
	casts := []*section.Cast{columnCast(4000, func(p float64) float64 { return 20 * math.Exp(-p/60) })}
	for _, w := range []chart.Width{chart.TwoColumns, chart.OneColumn} {
		p, err := (&Profiles{Name: "p", Casts: casts}).draw(w)
		if err != nil {
			t.Fatal(err)
		}
		textIsApart(t, "split profiles "+w.String(), p)
		if !p.Has("100") && !p.Has("50") || !p.Has("2000") {
			t.Errorf("%v: no numbers of an upper panel: %v", w, p.Words)
		}
	}
}

// A section whose only pressure is the surface has no depth to divide.
func TestNoSplitWithoutDepth(t *testing.T) {
	for _, yMax := range []float64{0, math.NaN(), math.Inf(1)} {
		got := binned([]float64{0, 0, -1, 5}, func(int) float64 { return 7 }, yMax)
		for k, x := range got[1:] {
			if x == x {
				t.Errorf("yMax %g: part %d holds %g", yMax, k+1, x)
			}
		}
	}
}
