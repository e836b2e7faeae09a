package gridding

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/castwright/castwright/section/seawater"
)

// Turbidity near 0.05 with a layer at the bottom of some stations: whatever the method, no node of the grid lies
// outside the range of the bins within half a vertical length, in the casts beside it and within a horizontal length;
// of casts that end above, the range at their deepest level counts.
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
	for n, method := range slices.Repeat(Methods(), 2) {
		if method == Density {
			continue // needs temperature and salinity
		}
		reach := []float64{12, 4}[n/len(Methods())] // of more casts than the two neighbours, and of fewer
		g, _, err := Map(sec, Options{Method: method, Variables: []string{"oxy"}, LengthKm: reach, LengthDbar: 10})
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
				if !beside && math.Abs(km[k]-x) > reach {
					continue
				}
				deepest := 0.0 // level of the grid with data of the cast nearby
				for _, level := range g.Axes[0].Values {
					if level <= c.PressureDbar[len(c.PressureDbar)-1]+5 {
						deepest = level
					}
				}
				for j, q := range c.PressureDbar {
					if math.Abs(q-math.Min(p, deepest)) <= 5 {
						lo, hi = math.Min(lo, c.Columns[1].Values[j]), math.Max(hi, c.Columns[1].Values[j])
					}
				}
			}
			if lo <= hi && (v < lo-1e-12 || v > hi+1e-12) {
				t.Fatalf("%s: %g at %g km and %g dbar, where the data are between %g and %g", method, v, x, p, lo, hi)
			}
			if codes.Data[i] == HeldToData {
				held++
				if lo <= hi && v != lo && v != hi && !slices.Contains(km, x) { // there two of three count
					t.Fatalf("%s: held to %g at %g km and %g dbar, where the data end at %g and %g", method, v, x, p,
						lo, hi)
				}
			}
		}
	}
	if held == 0 {
		t.Error("no method left the range of the data: the test shows nothing")
	}
}

// On a slope, under water that grows colder downward and toward the shallow end, values change from level to level by
// little more than the water does, also where a cast beside them ends and its bins are no longer near.
func TestNoStepWhereCastsEnd(t *testing.T) {
	water := func(x, p float64) float64 { return x/20 - p/400 }
	sec := line([]float64{0, 28, 56, 84, 112}, []float64{230, 290, 340, 480, 610}, 2, water)
	for k, c := range sec.Casts {
		c.BottomM = -seawater.Height([]float64{236, 296, 346, 486, 616}[k], 40)
	}
	for _, method := range []Method{Optimal, Successive} {
		g, _, err := Map(sec, Options{Method: method, StepKm: 4, StepDbar: 2, Variables: []string{"oxy"}, MaxError: 1})
		if err != nil {
			t.Fatal(err)
		}
		x, p, v := g.Axes[1].Values, g.Axes[0].Values, g.field("oxy").Data
		seen := 0
		for i := range v {
			if i < len(x) || p[i/len(x)] <= 340 || math.IsNaN(v[i]) || math.IsNaN(v[i-len(x)]) {
				continue
			}
			if seen++; math.Abs(v[i]-v[i-len(x)]) > 0.1 {
				t.Errorf("%s: at %g km %.2f at %g dbar and %.2f at %g", method, x[i%len(x)], v[i-len(x)],
					p[i/len(x)-1], v[i], p[i/len(x)])
			}
		}
		if seen < 500 {
			t.Errorf("%s: %d nodes seen", method, seen)
		}
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

// Casts that end far above the bottom: below them a node has the value at its pressure of the nearest column with data,
// at most half a length (20 km) away and no farther in lengths than the data above are (100 dbar); else what was mapped
// down to a length below the data; else nothing, with the reason. The results count what was held and extended.
func TestBelowDeepestData(t *testing.T) {
	sec := line([]float64{0, 40, 80}, []float64{300, 900, 940}, 5, bilinear)
	for _, c := range sec.Casts {
		c.BottomM = -seawater.Height(1500, 40)
	}
	g, _, err := Map(sec, Options{StepKm: 2, StepDbar: 10, Variables: []string{"oxy"}, MaxError: 9, LengthKm: 40,
		LengthDbar: 100})
	if err != nil {
		t.Fatal(err)
	}
	x, p := g.Axes[1].Values, g.Axes[0].Values
	f, fault, why, codes := g.field("oxy"), g.mappingErrors("oxy"), g.maskOf("oxy"), g.field("oxy_flag")
	end := func(km float64) float64 { return math.Min(300+15*km, 900+math.Max(0, km-40)) }
	var n [3]int
	for i, v := range f.Data {
		row, col := i/len(x), i%len(x)
		above := (p[row] - end(x[col])) / 100
		if above <= 0 || p[row] > 1490 {
			continue
		}
		from := col
		for from < len(x) && p[row] > end(x[from]) {
			from++
		}
		aside := math.Inf(1)
		if from < len(x) {
			aside = (x[from] - x[col]) / 40
		}
		switch {
		case aside <= 0.5 && aside <= above:
			n[0]++
			if v != f.Data[row*len(x)+from] || codes.Data[i] != float64(Extended) || why[i] != NotMasked {
				t.Errorf("%g km, %g dbar: %g, code %g; at %g km %g", x[col], p[row], v, codes.Data[i], x[from],
					f.Data[row*len(x)+from])
			}
		case above <= 1:
			n[1]++
			if math.IsNaN(v) || codes.Data[i] == float64(Extended) {
				t.Errorf("%g km, %g dbar, %g lengths below the data: %g, code %g", x[col], p[row], above, v,
					codes.Data[i])
			}
		default:
			n[2]++
			if !math.IsNaN(v) || !math.IsNaN(fault[i]) || why[i] != NoData || codes.Data[i] != AsMapped {
				t.Errorf("%g km, %g dbar, far below the data: %g, error %g, reason %g", x[col], p[row], v, fault[i],
					why[i])
			}
		}
	}
	if min(n[0], n[1], n[2]) < 20 {
		t.Errorf("%v nodes extended, as mapped, empty", n)
	}
	count := map[string]float64{}
	for _, c := range codes.Data {
		switch c {
		case HeldToData:
			count["held_to_data"]++
		case float64(Extended):
			count["extended"]++
		}
	}
	for _, r := range g.Results {
		if want, ok := count[r.Name]; ok && r.Typed != want {
			t.Errorf("%s: %v, counted %g", r.Name, r.Typed, want)
		}
	}
}
