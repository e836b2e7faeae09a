package netcdf

import (
	"errors"
	"math"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/castwright/castwright/internal/checkvalues"
)

// The rounded bits are published beside the values (bitround_checks.csv).
func TestRound(t *testing.T) {
	for _, r := range checkvalues.Table(t, "bitround_checks.csv") {
		x, err := strconv.ParseFloat(r["value"], 64)
		bits, err2 := strconv.Atoi(r["bits"])
		want, err3 := strconv.ParseUint(r["rounded_hex"], 16, 64)
		if err := errors.Join(err, err2, err3); err != nil {
			t.Fatal(err)
		}
		if got := math.Float64bits(Round(x, bits)); got != want {
			t.Errorf("%v to %d bits is %x, want %x", x, bits, got, want)
		}
	}
	rng := rand.New(rand.NewPCG(11, 12))
	for range 10000 {
		x := rng.NormFloat64() * math.Pow(10, 10*rng.NormFloat64())
		for _, bits := range []int{23, 29, 39} {
			y := Round(x, bits)
			if math.Abs(y-x) > math.Ldexp(math.Abs(x), -bits-1) || Round(y, bits) != y {
				t.Fatalf("%v to %d bits is %v", x, bits, y)
			}
		}
	}
	for _, x := range []float64{0, math.Inf(1), math.Inf(-1), fillValue} {
		if y := Round(x, 23); y != x {
			t.Errorf("%v becomes %v", x, y)
		}
	}
	if !math.IsNaN(Round(math.NaN(), 23)) {
		t.Error("NaN becomes a number")
	}
}
