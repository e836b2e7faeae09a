package export

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
)

// The fast way of writing numbers is strconv's for every number: random bits, decimal numbers as files hold them, and
// halves.
func TestAppendFixedIsStrconv(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	check := func(v float64, decimals, width int) {
		t.Helper()
		want := strconv.FormatFloat(v, 'f', decimals, 64)
		if math.IsNaN(v) || math.IsInf(v, 0) {
			want = "-999"
		}
		want = strings.Repeat(" ", max(0, width-len(want))) + want
		if got := string(appendFixed(nil, v, decimals, width)); got != want {
			t.Fatalf("%b with %d decimals in %d: %q, want %q", v, decimals, width, got, want)
		}
	}
	for range 300000 {
		decimals, width := r.IntN(8), r.IntN(12)
		m := r.Int64N(1e12) - 5e11
		check(float64(m>>r.IntN(40))/powers[r.IntN(8)], decimals, width)
		check(r.NormFloat64()*100, decimals, width)
		check((float64(r.IntN(2000000))+0.5)/powers[decimals], decimals, width) // at a half, as near as a float64 comes
		check(math.Nextafter((float64(r.IntN(2000000))+0.5)/powers[decimals], -1), decimals, width)
		check(float64(r.IntN(4096))/1024-2, decimals, width) // exact halves
	}
	for range 100000 {
		check(math.Float64frombits(r.Uint64()&^(1<<62)), r.IntN(20), r.IntN(40)) // |v| < 2
	}
	for _, v := range []float64{0, math.Copysign(0, -1), -0.04, 0.05, 0.15, 0.25, 999.95, 1e15, 1e16, 123456789012345,
		math.NaN(), math.Inf(1), 1e300, 5e-324} {
		for decimals := range 17 {
			check(v, decimals, 9)
		}
	}
}
