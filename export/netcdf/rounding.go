package netcdf

import (
	"fmt"
	"math"
	"strings"

	"github.com/castwright/castwright/internal/nc"
)

// keptBits is the attribute that says how many bits of the mantissa the values of a variable have, those after the
// first, which is always 1. The attributes of CF for this came with CF-1.12, and our files are of CF-1.11.
const keptBits = "mantissa_bits_kept"

// bitsOf returns how many bits of the mantissa are kept of a derived variable: 23 change a value by at most 6e-8 of
// itself, 2e-6 g/kg of salinity, less than a hundredth of the resolution of what it is computed from. Density itself
// keeps 29, since it changes little in proportion to its value; errors keep 15, since none is accurate to 2e-5 of
// itself.
func bitsOf(name string) int {
	switch {
	case name == "dens":
		return 29
	case strings.Contains(name, "_err") || strings.HasSuffix(name, "_relerr"):
		return 15
	}
	return 23
}

// roundingText says in words how the values of a variable are rounded; "" for 0 bits, when they are not.
func roundingText(bits int) string {
	if bits == 0 {
		return ""
	}
	most := strings.Replace(fmt.Sprintf("%.0e", math.Ldexp(1, -bits-1)), "e-0", "e-", 1)
	return fmt.Sprintf("rounded for storage to %d bits of the mantissa, by at most %s of the value", bits, most)
}

// bits adds the number of bits kept; nothing for 0.
func (a *attrs) bits(n int) {
	if n > 0 {
		a.add(keptBits, int32(n))
	}
}

// Kept returns how many bits of the mantissa the values of a variable of a file have; 0 when they are not rounded.
func Kept(v *nc.Var) int {
	if n := v.Floats(keptBits); len(n) == 1 && n[0] >= 1 && n[0] < 52 {
		return int(n[0])
	}
	return 0
}

// Round returns x with the given number of bits of its mantissa, rounded half to even (Klöwer et al. 2021, Nature
// Computational Science 1, 713); x itself for 0 bits. NaN and infinity stay.
func Round(x float64, bits int) float64 {
	if bits <= 0 || bits >= 52 || math.IsNaN(x) || math.IsInf(x, 0) {
		return x
	}
	u, drop := math.Float64bits(x), uint(52-bits)
	u += 1<<(drop-1) - 1 + u>>drop&1
	return math.Float64frombits(u &^ (1<<drop - 1))
}

// rounding returns fill, followed by rounding where the variable says that its values are rounded. A fill value has few
// bits and stays.
func rounding(v *nc.Var, fill func(*nc.Chunk)) func(*nc.Chunk) {
	bits := Kept(v)
	if bits == 0 {
		return fill
	}
	return func(c *nc.Chunk) {
		fill(c)
		values := nc.Values[float64](c)
		for i, x := range values {
			values[i] = Round(x, bits)
		}
	}
}
