package interpolate

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/checkvalues"
)

func TestMethodNames(t *testing.T) {
	for m, name := range methodNames {
		if got := Method(m).String(); got != name {
			t.Errorf("method %d is %s, want %s", m, got, name)
		}
	}
	if got := Method(9).String(); got != "Method(9)" {
		t.Errorf("Method(9) is %s", got)
	}
}

func numbers(t *testing.T, s string) []float64 {
	t.Helper()
	var out []float64
	for _, f := range strings.Fields(s) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

// TestTable: testdata/checkvalues/interp_checks.csv; linear from numpy, pchip and akima from scipy, Reiniger-Ross from
// its formula without the bound, the rotated pair from scipy's pchip (agrees with the dynamic height published for the
// cast).
func TestTable(t *testing.T) {
	const tol = 1e-13 // relative; the table has 15 digits
	var p, sa, ct []float64
	for _, r := range checkvalues.Table(t, "teos10_check_casts.csv") {
		if r["cast"] == "1" {
			p, sa, ct = append(p, numbers(t, r["p"])...), append(sa, numbers(t, r["SA_from_SP"])...),
				append(ct, numbers(t, r["CT_from_t"])...)
		}
	}
	var w Workspace
	seen := map[string]int{}
	for _, r := range checkvalues.Table(t, "interp_checks.csv") {
		at, want := numbers(t, r["x"]), numbers(t, r["y"])[0]
		got := make([]float64, 1)
		name := r["method"]
		seen[name]++
		switch name {
		case "mrst_SA", "mrst_CT":
			other := make([]float64, 1)
			w.Pair(got, other, Rotated, p, sa, ct, at)
			if name == "mrst_CT" {
				got = other
			}
		case "reiniger_ross":
			x, y := numbers(t, r["nodes_x"]), numbers(t, r["nodes_y"])
			k, _ := walk(x, at[0], 0)
			got[0] = y[k]
			if at[0] != x[k] {
				got[0] = blendedParabolas(x[k-1:k+3], y[k-1:k+3], at[0])
			}
		default:
			m := slices.Index(methodNames[:], name)
			if m < 0 {
				t.Fatalf("no method %q", name)
			}
			w.Values(got, Method(m), numbers(t, r["nodes_x"]), numbers(t, r["nodes_y"]), at)
		}
		if !(math.Abs(got[0]-want) <= tol*max(1, math.Abs(want))) {
			t.Errorf("%s %s at %g: got %.15g, want %.15g (%s)", r["set"], name, at[0], got[0], want, r["origin"])
		}
	}
	for _, name := range []string{"linear", "pchip", "akima", "reiniger_ross", "mrst_SA", "mrst_CT"} {
		if seen[name] < 10 {
			t.Errorf("%s: %d rows", name, seen[name])
		}
	}
}

// profile makes a random cast: some of the steps flat, some of the values on a straight line.
func profile(rng *rand.Rand, n int) (x, y, y2 []float64) {
	x, y, y2 = make([]float64, n), make([]float64, n), make([]float64, n)
	at := 10 * rng.Float64()
	for i := range n {
		at += 0.5 + 20*rng.Float64()*rng.Float64()
		x[i] = at
		y[i], y2[i] = 34+2*rng.Float64(), 5+20*rng.Float64()
		if i > 0 && rng.IntN(5) == 0 {
			y[i] = y[i-1]
		}
	}
	return x, y, y2
}

// TestLiveAgainstScipy compares with Debian's python3-scipy at more than 1e5 random points for each method.
func TestLiveAgainstScipy(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	const profiles, points = 420, 250
	type cast struct{ x, y, y2, at []float64 }
	var casts []cast
	var in bytes.Buffer
	for range profiles {
		var c cast
		c.x, c.y, c.y2 = profile(rng, 3+rng.IntN(120))
		c.at = make([]float64, points)
		first, last := c.x[0], c.x[len(c.x)-1]
		for i := range c.at {
			c.at[i] = first + (last-first)*rng.Float64()
		}
		slices.Sort(c.at)
		for _, v := range [][]float64{{float64(len(c.x)), points}, c.x, c.y, c.y2, c.at} {
			if err := binary.Write(&in, binary.LittleEndian, v); err != nil {
				t.Fatal(err)
			}
		}
		casts = append(casts, c)
	}
	dir := t.TempDir()
	from, to := filepath.Join(dir, "in"), filepath.Join(dir, "out")
	if err := os.WriteFile(from, in.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("/usr/bin/python3", filepath.Join("testdata", "reference.py"), from,
		to).CombinedOutput(); err != nil {
		t.Fatalf("reference: %v (needs Debian's python3-scipy)\n%s", err, out)
	}
	raw, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	want := make([]float64, len(raw)/8)
	if _, err := binary.Decode(raw, binary.LittleEndian, want); err != nil {
		t.Fatal(err)
	}
	if len(want) != profiles*points*5 {
		t.Fatalf("%d numbers from the reference", len(want))
	}
	var w Workspace
	got, got2 := make([]float64, points), make([]float64, points)
	names := [5]string{"linear", "pchip", "akima", "rotated, salinity", "rotated, temperature"}
	var largest [5]float64
	compare := func(m int, values []float64) {
		for i, v := range values {
			d := math.Abs(v-want[i]) / math.Abs(want[i])
			if !(d <= 1e-13) { // the working specification's bar, relative
				t.Fatalf("%s: got %.17g, want %.17g", names[m], v, want[i])
			}
			largest[m] = max(largest[m], d)
		}
		want = want[points:]
	}
	for _, c := range casts {
		for m, method := range []Method{Linear, Pchip, Akima} {
			compare(m, w.Values(got, method, c.x, c.y, c.at))
		}
		w.Pair(got, got2, Rotated, c.x, c.y, c.y2, c.at)
		compare(3, got)
		compare(4, got2)
	}
	for m, name := range names {
		t.Logf("%-22s scipy 1.10.1  %d points  largest relative difference %.2g (bar 1e-13)", name, profiles*points,
			largest[m])
	}
}

// TestProperties: what holds for every method whatever the numbers.
func TestProperties(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 13))
	var w Workspace
	for range 200 {
		n := 2 + rng.IntN(40)
		x, y, y2 := profile(rng, n)
		at := make([]float64, 300)
		for i := range at {
			at[i] = x[0] - 5 + (x[n-1]-x[0]+10)*rng.Float64()
		}
		copy(at, x) // the nodes themselves
		sorted := slices.Clone(at)
		slices.Sort(sorted)
		for m := Linear; m <= Rotated; m++ {
			got, got2 := make([]float64, len(at)), make([]float64, len(at))
			w.Pair(got, got2, m, x, y, y2, at)
			for i := range x {
				if i < len(at) && got[i] != y[i] {
					t.Fatalf("%v: node %d gives %g, not %g", m, i, got[i], y[i])
				}
			}
			inOrder, inOrder2 := make([]float64, len(at)), make([]float64, len(at))
			w.Pair(inOrder, inOrder2, m, x, y, y2, sorted)
			for i, v := range at {
				k, _ := slices.BinarySearch(sorted, v)
				if math.Float64bits(got[i]) != math.Float64bits(inOrder[k]) ||
					math.Float64bits(got2[i]) != math.Float64bits(inOrder2[k]) {
					t.Fatalf("%v: at %g the order of the points matters", m, v)
				}
				if outside := v < x[0] || v > x[n-1]; outside != math.IsNaN(got[i]) {
					t.Fatalf("%v: at %g of %g..%g: %g", m, v, x[0], x[n-1], got[i])
				}
				j, found := slices.BinarySearch(x, v)
				if found || math.IsNaN(got[i]) || m == Akima || m == Rotated {
					continue
				}
				low, high := min(y[j-1], y[j]), max(y[j-1], y[j])
				if m == ReinigerRoss {
					low, high = low-overshoot*(high-low), high+overshoot*(high-low)
				}
				if got[i] < low-1e-12 || got[i] > high+1e-12 {
					t.Fatalf("%v: at %g: %g leaves %g..%g", m, v, got[i], low, high)
				}
			}
		}
	}
}

// TestParabola: Reiniger-Ross and Akima reproduce straight lines; Reiniger-Ross also parabolas (both parabolas agree).
func TestParabola(t *testing.T) {
	x := []float64{0, 1, 3, 4, 7, 8, 11}
	line, square := make([]float64, len(x)), make([]float64, len(x))
	for i, v := range x {
		line[i], square[i] = 2-3*v, 1+v*v/4
	}
	at := []float64{1.5, 2, 3.2, 5, 6.9, 7.5}
	var w Workspace
	got := make([]float64, len(at))
	for _, m := range []Method{Linear, Pchip, Akima, ReinigerRoss} {
		w.Values(got, m, x, line, at)
		for i, v := range at {
			if math.Abs(got[i]-(2-3*v)) > 1e-13 {
				t.Errorf("%v of a line at %g: %g", m, v, got[i])
			}
		}
	}
	w.Values(got, ReinigerRoss, x, square, at)
	for i, v := range at {
		if math.Abs(got[i]-(1+v*v/4)) > 1e-13 {
			t.Errorf("parabola at %g: %g", v, got[i])
		}
	}
}

// TestBound: where blended parabolas run away the result is linear.
func TestBound(t *testing.T) {
	x, y := []float64{0, 1, 2, 3}, []float64{0, 5, 5, 0} // the parabolas rise to 5.625 between the equal values
	var w Workspace
	if got := w.Values(make([]float64, 1), ReinigerRoss, x, y, []float64{1.5}); got[0] != 5 {
		t.Errorf("got %g, want 5", got[0])
	}
	if got := blendedParabolas(x, y, 1.5); got != 5.625 {
		t.Errorf("unbounded: %g, want 5.625", got)
	}
}

func TestFewNodes(t *testing.T) {
	var w Workspace
	at := []float64{-1, 1, 1.5, 2, 9, math.NaN()}
	got, got2 := make([]float64, len(at)), make([]float64, len(at))
	for m := Linear; m <= Rotated; m++ {
		w.Pair(got, got2, m, nil, nil, nil, at)
		for _, v := range append(got, got2...) {
			if !math.IsNaN(v) {
				t.Errorf("%v without nodes: %g", m, v)
			}
		}
		w.Pair(got, got2, m, []float64{1}, []float64{35}, []float64{4}, at)
		if got[1] != 35 || got2[1] != 4 || !math.IsNaN(got[0]) || !math.IsNaN(got[2]) || !math.IsNaN(got[5]) {
			t.Errorf("%v with one node: %g %g", m, got, got2)
		}
		w.Pair(got, got2, m, []float64{1, 2}, []float64{35, 36}, []float64{4, 2}, at)
		if math.Abs(got[2]-35.5) > 1e-13 || math.Abs(got2[2]-3) > 1e-13 || got[3] != 36 || !math.IsNaN(got[4]) {
			t.Errorf("%v with two nodes: %g %g", m, got, got2)
		}
	}
	// NaN among the values: NaN beside it, and the far end untouched.
	x := []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}
	y := []float64{0, 1, math.NaN(), 3, 5, 6, 6, 8, 9, 9}
	for m := Linear; m < Rotated; m++ {
		w.Values(got[:3], m, x, y, []float64{1.5, 2.5, 7.5})
		if !math.IsNaN(got[0]) || !math.IsNaN(got[1]) || math.IsNaN(got[2]) {
			t.Errorf("%v beside NaN: %g", m, got[:3])
		}
	}
}

func TestPanics(t *testing.T) {
	var w Workspace
	two, one := []float64{1, 2}, []float64{1}
	for want, f := range map[string]func(){
		differentLengths: func() { w.Values(one, Linear, two, one, one) },
		notIncreasing:    func() { w.Values(one, Linear, []float64{1, 1}, two, one) },
		onlyPairs:        func() { w.Values(one, Rotated, two, two, one) },
		noSuchMethod:     func() { w.Values(one, Method(77), two, two, one) },
	} {
		mustPanic(t, want, f)
	}
	mustPanic(t, notIncreasing, func() { w.Values(one, Pchip, []float64{math.NaN()}, one, one) })
	mustPanic(t, differentLengths, func() { w.Pair(one, two, Rotated, two, two, two, one) })
	mustPanic(t, differentLengths, func() { PchipSlopes(one, two, two) })
	mustPanic(t, differentLengths, func() { AkimaSlopes(two, two, one) })
}

func mustPanic(t *testing.T, want string, f func()) {
	t.Helper()
	defer func() {
		if got := recover(); got != want {
			t.Errorf("panic %v, want %q", got, want)
		}
	}()
	f()
}

func TestNothingAllocated(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	x, y, y2 := profile(rng, 500)
	var w Workspace
	got, got2 := make([]float64, len(x)), make([]float64, len(x))
	for m := Linear; m <= Rotated; m++ {
		w.Pair(got, got2, m, x, y, y2, x)
		if n := testing.AllocsPerRun(10, func() { w.Pair(got, got2, m, x, y, y2, x) }); n != 0 {
			t.Errorf("%v allocates %g times", m, n)
		}
	}
}

func BenchmarkPair(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	x, y, y2 := profile(rng, 2500)
	at := make([]float64, 5000)
	for i := range at {
		at[i] = x[0] + (x[len(x)-1]-x[0])*float64(i)/5000
	}
	got, got2 := make([]float64, len(at)), make([]float64, len(at))
	var w Workspace
	for m := Linear; m <= Rotated; m++ {
		b.Run(m.String(), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				w.Pair(got, got2, m, x, y, y2, at)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/5000, "ns/point")
		})
	}
}
