package gridding

import (
	"errors"
	"math"
	"testing"
)

// What Explain lists gives the value of the map again: background and weights times anomalies. The weights sum to 1,
// since the mean of the anomalies is estimated with them (Bretherton, Davis and Fandry 1976).
func TestExplain(t *testing.T) {
	x := []float64{0, 20, 45, 60, 90, 110}
	sec := line(x, []float64{900, 1000, 1100, 1200, 1000, 800}, 10, func(x, p float64) float64 {
		return 3 + 8*math.Exp(-p/300) + 0.4*math.Sin(x/25)*math.Exp(-p/500)
	})
	name := sec.Casts[0].Columns[len(sec.Casts[0].Columns)-1].Name
	o := Options{Variables: []string{name}, StepKm: 10, StepDbar: 20}
	g, _, err := Map(sec, o)
	if err != nil {
		t.Fatal(err)
	}
	f := g.field(name)
	nc, seen := len(g.Axes[1].Values), 0
	for k := range nc {
		for l := 0; l < len(g.Axes[0].Values); l += 5 {
			want := f.Data[l*nc+k]
			if math.IsNaN(want) {
				continue
			}
			p := g.Axes[0].Values[l]
			e, err := Explain(sec, o, name, k, p)
			if err != nil {
				t.Fatal(err)
			}
			sum := e.Background
			for _, d := range e.Data {
				sum += d.Weight * (d.Value - d.Background)
			}
			if math.Abs(sum-want) > 1e-10 || math.Abs(e.Value-want) > 1e-10 {
				t.Fatalf("%g km, %g dbar: %.12g and %.12g, mapped %.12g", g.Axes[1].Values[k], p, sum, e.Value, want)
			}
			total := 0.0
			for _, d := range e.Data {
				total += d.Weight
			}
			if math.Abs(total-1) > 1e-9 { // the mean of the anomalies is estimated with them
				t.Errorf("weights sum to %.12g", total)
			}
			seen++
		}
	}
	if seen < 100 {
		t.Errorf("only %d nodes", seen)
	}
	if _, err := Explain(sec, Options{Method: Linear}, name, 0, 100); !errors.Is(err, ErrNotExplained) {
		t.Error(err)
	}
	if _, err := Explain(sec, o, "other", 0, 100); !errors.Is(err, ErrNotExplained) {
		t.Error(err)
	}
	if _, err := Explain(sec, o, name, nc, 100); !errors.Is(err, ErrNotExplained) {
		t.Error(err)
	}
}
