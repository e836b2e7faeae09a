package figure

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// textIsApart fails when two texts of a page overlap or one runs off it.
func textIsApart(t *testing.T, name string, s *scene) {
	t.Helper()
	for i, a := range s.boxes {
		for _, p := range a {
			if p.x < -0.01 || p.y < -0.01 || p.x > s.w+0.01 || p.y > s.h+0.01 {
				t.Errorf("%s: %q runs off the page: %.1f %.1f", name, s.words[i], p.x, p.y)
				break
			}
		}
		for j := range i {
			if a.overlaps(s.boxes[j], 0.05) {
				t.Errorf("%s: %q lies on %q", name, s.words[i], s.words[j])
			}
		}
	}
	if len(s.boxes) < 5 {
		t.Errorf("%s: %d texts only", name, len(s.boxes))
	}
}

func both(t *testing.T, f Figure) {
	t.Helper()
	if dir := os.Getenv("FIGURE_OUT"); dir != "" { // for a person to look at
		if _, err := Write(context.Background(), dir, []Figure{f}, Options{Widths: []Width{TwoColumns, OneColumn}, Formats: []Format{SVG}, About: aboutTrial}); err != nil {
			t.Error(err)
		}
	}
	for _, w := range []Width{TwoColumns, OneColumn} {
		s, err := f.draw(w)
		if err != nil {
			t.Errorf("%s: %v", f.Stem(), err)
			return
		}
		textIsApart(t, f.Stem()+" "+w.String(), s)
	}
	if _, err := f.caption(&aboutTrial); err != nil {
		t.Errorf("%s: caption: %v", f.Stem(), err)
	}
}

func TestTextIsApart(t *testing.T) {
	for _, f := range gallery() {
		both(t, f)
	}
}

// TestHardCases draws what is awkward.
func TestHardCases(t *testing.T) {
	cases := map[string]layout{
		"150 stations":    {stations: 150, lengthKm: 2400, depthM: 5200, from: orb.Point{-60, 24}, to: orb.Point{-35, 24.5}, stepKm: 10, stepDbar: 20, first: 1},
		"3 stations":      {stations: 3, lengthKm: 90, depthM: 1900, from: orb.Point{4, 60}, to: orb.Point{4, 60.8}, stepKm: 3, stepDbar: 10, first: 7},
		"2 stations":      {stations: 2, lengthKm: 30, depthM: 400, from: orb.Point{4, 60}, to: orb.Point{4.2, 60.1}, stepKm: 2, stepDbar: 5, first: 99999},
		"200 m apart":     {stations: 6, lengthKm: 1, depthM: 900, from: orb.Point{10.001, 57.2}, to: orb.Point{10.0175, 57.2001}, stepKm: 0.05, stepDbar: 1, first: 1200},
		"antimeridian":    {stations: 30, lengthKm: 1500, depthM: 5000, from: orb.Point{173, -30}, to: orb.Point{-172, -31}, stepKm: 10, stepDbar: 20, first: 1},
		"pole":            {stations: 20, lengthKm: 700, depthM: 4100, from: orb.Point{10, 87}, to: orb.Point{10, 89.95}, stepKm: 10, stepDbar: 20, first: 1},
		"across the pole": {stations: 12, lengthKm: 500, depthM: 4000, from: orb.Point{-20, 88}, to: orb.Point{150, 88.5}, stepKm: 10, stepDbar: 20, first: 1},
		"equator":         {stations: 12, lengthKm: 700, depthM: 4000, from: orb.Point{-0.5, -3}, to: orb.Point{0.5, 3}, stepKm: 10, stepDbar: 20, first: 1},
	}
	names := []string{"150 stations", "3 stations", "2 stations", "200 m apart", "antimeridian", "pole", "across the pole", "equator"}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			s, g := invent(cases[name])
			for _, f := range []Figure{
				&Section{Name: name + " temperature", Section: s, Grid: g, Field: "ctemp"},
				&Section{Name: name + " salinity", Title: "A section with a rather long title of its own", Section: s, Grid: g, Field: "asal", Overlay: "sigma0", UpperDbar: 100},
				&StationMap{Name: name + " map", Title: "Invented cruise", Casts: s.Casts, Sections: []*section.Section{s}},
				&TemperatureSalinity{Name: name + " ts", Casts: s.Casts, Shade: ByLatitude},
				&OxygenDensity{Name: name + " oxygen", Casts: s.Casts},
				&Profiles{Name: name + " profiles", Casts: s.Casts},
				&SensorDifferences{Name: name + " sensors", Casts: s.Casts},
				&LeaveOneOut{Name: name + " left out", Section: s, Variable: metadata.MustVariable("ctemp"), Residuals: predicted(s)},
				&Velocity{Name: name + " velocity", Result: currents(s)},
			} {
				both(t, f)
			}
		})
	}
}

// TestFieldsThatAreHardToContour: all values equal, holes, one value only, an outlier.
func TestFieldsThatAreHardToContour(t *testing.T) {
	s, g := invent(layout{stations: 8, lengthKm: 100, depthM: 900, from: orb.Point{4, 60}, to: orb.Point{5, 60}, stepKm: 5, stepDbar: 10, first: 1})
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
	if _, err := f.draw(TwoColumns); !errors.Is(err, ErrNoValues) {
		t.Errorf("a field without values: %v", err)
	}
	f.Field = "none"
	if _, err := f.draw(TwoColumns); !errors.Is(err, ErrNoField) {
		t.Errorf("a field that is not there: %v", err)
	}
	f.Field, f.Overlay = "asal", "none"
	if _, err := f.draw(TwoColumns); !errors.Is(err, ErrNoField) {
		t.Errorf("an overlay that is not there: %v", err)
	}
	g.Fields[0].Data = g.Fields[0].Data[:5]
	f.Field, f.Overlay = "ctemp", ""
	if _, err := f.draw(TwoColumns); !errors.Is(err, ErrNoField) {
		t.Errorf("a field of the wrong length: %v", err)
	}
}

func TestOneStationIsRefused(t *testing.T) {
	s, g := invent(layout{stations: 4, lengthKm: 100, depthM: 900, from: orb.Point{4, 60}, to: orb.Point{5, 60}, stepKm: 5, stepDbar: 10, first: 1})
	one := &section.Section{Name: "B", Casts: s.Casts[:1], DistanceKm: []float64{0}}
	for _, f := range []Figure{
		&Section{Name: "b_ctemp", Section: one, Grid: g, Field: "ctemp"},
		&LeaveOneOut{Name: "b_left_out", Section: one},
	} {
		_, err := f.draw(TwoColumns)
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
	if _, err := (&Section{Name: "c", Section: heap, Grid: g, Field: "ctemp"}).draw(TwoColumns); !errors.Is(err, ErrNoExtent) {
		t.Errorf("two stations in one place: %v", err)
	}
	if _, err := (&Section{Name: "c", Grid: g, Field: "ctemp"}).draw(TwoColumns); !errors.Is(err, ErrTooFewStations) {
		t.Errorf("no section: %v", err)
	}
}

// TestMapsOfLittle: one station, stations without positions, all at one place.
func TestMapsOfLittle(t *testing.T) {
	cast := func(lon, lat float64) *section.Cast {
		return &section.Cast{Station: "1", Number: "1", At: orb.Point{lon, lat}, BottomM: math.NaN(), Role: section.Primary}
	}
	both(t, &StationMap{Name: "one", Title: "x", Casts: []*section.Cast{cast(12, -40)}})
	both(t, &StationMap{Name: "one at the pole", Title: "x", Casts: []*section.Cast{cast(12, -90)}})
	both(t, &StationMap{Name: "same place", Title: "x", Casts: []*section.Cast{cast(180, 10), cast(-180, 10)}})
	nowhere := cast(math.NaN(), math.NaN())
	both(t, &StationMap{Name: "one without", Title: "x", Casts: []*section.Cast{cast(12, 40), nowhere}})
	if _, err := (&StationMap{Name: "none", Casts: []*section.Cast{nowhere}}).draw(TwoColumns); !errors.Is(err, ErrNoValues) {
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
	both(t, &StationMap{Name: "around the pole", Title: "x", Casts: ring, Sections: []*section.Section{{Name: "R", Casts: ring}}})
}

func TestNothingToDraw(t *testing.T) {
	bare := []*section.Cast{{Station: "1", At: orb.Point{1, 2}, PressureDbar: []float64{1, 2}}}
	for _, f := range []Figure{&TemperatureSalinity{Name: "a", Casts: bare}, &OxygenDensity{Name: "b", Casts: bare}, &Profiles{Name: "c", Casts: bare},
		&SensorDifferences{Name: "d", Casts: bare}, &Velocity{Name: "e"}} {
		if _, err := f.draw(TwoColumns); !errors.Is(err, ErrNoValues) {
			t.Errorf("%s: %v", f.Stem(), err)
		}
		if _, err := f.caption(&aboutTrial); !errors.Is(err, ErrNoValues) {
			t.Errorf("%s: caption: %v", f.Stem(), err)
		}
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
	g.Fields = append(g.Fields, gridding.Field{Variable: metadata.Variable{Name: "ctemp_mask"}, Data: reasons, Of: "ctemp", Kind: gridding.MaskReason})
	p, err := (&Section{Name: "a", Section: s, Grid: g, Field: "ctemp"}).draw(TwoColumns)
	if err != nil {
		t.Fatal(err)
	}
	if all := strings.Join(p.words, "|"); !strings.Contains(all, "no value (mapping error too large)") {
		t.Errorf("the key does not say why there is no value: %s", all)
	}
}
