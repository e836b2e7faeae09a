package gridding

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/castwright/castwright/section/seawater"
)

// Turbidity near 0.05 with a layer at the bottom of some stations: whatever the method, no node of the grid lies
// outside the range of the bins within half a vertical length, in the casts beside it and within a horizontal length.
func TestGridWithinData(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	km := []float64{0, 5, 9, 16, 20, 26, 31, 36}
	bottoms := []float64{22, 40, 60, 80, 60, 90, 70, 50}
	layer := map[float64]float64{}
	for _, x := range km {
		layer[x] = 1.5 * random.Float64()
	}
	sec := line(km, bottoms, 1, func(x, p float64) float64 {
		k := 0
		for km[k] != x {
			k++
		}
		return 0.05 + layer[x]*math.Exp(-(bottoms[k]-p)/2) + 0.01*random.Float64()
	})
	held := 0
	for _, method := range Methods() {
		if method == Density {
			continue // needs temperature and salinity
		}
		g, _, err := Map(sec, Options{Method: method, Variables: []string{"oxy"}, LengthKm: 12, LengthDbar: 10})
		if err != nil {
			t.Fatal(err)
		}
		f, codes := g.field("oxy"), g.field("oxy_flag")
		nc := len(g.Axes[1].Values)
		for i, v := range f.Data {
			if math.IsNaN(v) || codes.Data[i] == float64(Extended) {
				continue
			}
			x, p := g.Axes[1].Values[i%nc], g.Axes[0].Values[i/nc]
			lo, hi := math.Inf(1), math.Inf(-1)
			for k, c := range sec.Casts {
				beside := k+1 < len(km) && km[k] <= x && x <= km[k+1] || k > 0 && km[k-1] <= x && x <= km[k]
				if !beside && math.Abs(km[k]-x) > 12 {
					continue
				}
				for j, q := range c.PressureDbar {
					if math.Abs(q-p) <= 5 {
						lo, hi = math.Min(lo, c.Columns[1].Values[j]), math.Max(hi, c.Columns[1].Values[j])
					}
				}
			}
			if lo <= hi && (v < lo-1e-12 || v > hi+1e-12) {
				t.Fatalf("%s: %g at %g km and %g dbar, where the data are between %g and %g", method, v, x, p, lo, hi)
			}
			if codes.Data[i] == HeldToData {
				held++
			}
		}
	}
	if held == 0 {
		t.Error("no method left the range of the data: the test shows nothing")
	}
}

// On a slope and beside a ridge what lies below the deepest bins has the value, at its pressure, of the nearest column
// with data; from farther than half a length nothing is taken, and above a flat bottom nothing lies below the casts.
// Between two deep casts a shallow one changes nothing.
func TestExtendedAtPressure(t *testing.T) {
	km := []float64{0, 20, 40, 60, 80, 100}
	sec := line(km, []float64{200, 600, 1000, 1000, 300, 1000}, 5, bilinear)
	for k, c := range sec.Casts { // casts end 30 dbar above the bottom, and one in mid-water
		c.BottomM = -seawater.Height([]float64{230, 630, 1030, 1030, 1030, 1030}[k], 40)
	}
	for _, method := range []Method{Optimal, Successive, Linear, Triangles} {
		g, _, err := Map(sec, Options{Method: method, StepKm: 2, StepDbar: 10, Variables: []string{"oxy"}, MaxError: 1})
		if err != nil {
			t.Fatal(err)
		}
		x, p := g.Axes[1].Values, g.Axes[0].Values
		f, codes := g.field("oxy"), g.field("oxy_flag")
		extended, between := 0, 0
		for i, v := range f.Data {
			col, row := i%len(x), i/len(x)
			end := func(km float64) float64 { // of the data, straight between casts
				switch {
				case km <= 40:
					return 200 + 20*km
				case km <= 60:
					return 1000
				case km <= 80:
					return 1000 - 35*(km-60)
				}
				return 300 + 35*(km-80)
			}
			switch {
			case math.IsNaN(v):
				if codes.Data[i] != AsMapped {
					t.Fatalf("%s: code %g where there is no value", method, codes.Data[i])
				}
			case x[col] > 45 && p[row] > 1000:
				t.Fatalf("%s: a value at %g km, %g dbar, below all casts", method, x[col], p[row])
			case x[col] > 60 && p[row] > end(x[col]):
				if between++; codes.Data[i] == float64(Extended) {
					t.Fatalf("%s: extended at %g km, %g dbar between deep casts", method, x[col], p[row])
				}
			case x[col] < 40 && p[row] > end(x[col]):
				from := col
				for p[row] > end(x[from]) {
					from++
				}
				extended++
				if codes.Data[i] != float64(Extended) || v != f.Data[row*len(x)+from] || x[from]-x[col] > 20 {
					t.Fatalf("%s: %g at %g km, %g dbar, code %g; at %g km %g", method, v, x[col], p[row],
						codes.Data[i], x[from], f.Data[row*len(x)+from])
				}
			}
		}
		if method == Optimal && (extended < 20 || between < 50) {
			t.Errorf("%d extended, %d between deep casts", extended, between)
		}
	}
}
