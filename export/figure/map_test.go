package figure

import (
	"errors"
	"fmt"
	"math"
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
