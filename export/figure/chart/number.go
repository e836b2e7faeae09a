package chart

import (
	"math"
	"strconv"
	"strings"
	"unicode"
)

// NiceStep returns the smallest step of 1, 2 or 5 times a power of ten that is at least x.
func NiceStep(x float64) float64 {
	if !(x > 0) || math.IsInf(x, 0) {
		return 1
	}
	e := math.Floor(math.Log10(x))
	for _, m := range []float64{1, 2, 5, 10} {
		if s := times10(m, int(e)); s >= x*(1-1e-9) {
			return s
		}
	}
	return times10(1, int(e)+1)
}

// times10 returns m times 10^e, exact for e >= 0 and the nearest number below.
func times10(m float64, e int) float64 {
	if e >= 0 {
		return m * math.Pow10(e)
	}
	return m / math.Pow10(-e)
}

// Ticks returns round values in lo..hi, at most most of them, but two where that can be: one alone says
// nothing of the scale.
func Ticks(lo, hi float64, most int) []float64 {
	at := ticksAtMost(lo, hi, most)
	for more := most + 1; len(at) < 2 && hi > lo && more < most+4; more++ {
		at = ticksAtMost(lo, hi, more)
	}
	return at
}

// ticksAtMost returns round values in lo..hi, at most most of them; it may be one only, or none.
func ticksAtMost(lo, hi float64, most int) []float64 {
	if !(hi > lo) || math.IsInf(hi-lo, 0) {
		return []float64{lo}
	}
	step := NiceStep((hi - lo) / float64(most))
	for {
		first, last := math.Ceil(lo/step-1e-9), math.Floor(hi/step+1e-9)
		if n := int(last-first) + 1; n <= most || most < 2 {
			var out []float64
			for k := range n { // first + 1 may be first
				out = append(out, Round((first+float64(k))*step))
			}
			return out
		}
		step = NiceStep(step * 1.01)
	}
}

// Round drops the noise of binary arithmetic: twelve digits stay.
func Round(x float64) float64 {
	if x == 0 {
		return 0
	}
	v, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 12, 64), 64) // reads what it wrote
	return v
}

// Decimals returns the digits after the point that all values need.
func Decimals(values []float64) int {
	d := 0
	for _, v := range values {
		for d < 9 {
			s := math.Abs(v) * math.Pow10(d)
			if math.Abs(s-math.Round(s)) < 1e-6*math.Max(1, s) {
				break
			}
			d++
		}
	}
	return d
}

// Number prints a value with a minus sign that is one.
func Number(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.HasPrefix(s, "-") {
		if strings.Trim(s, "-0.") == "" {
			return s[1:]
		}
		return "−" + s[1:]
	}
	return s
}

// Short prints a value with the digits it needs.
func Short(v float64) string { return Number(v, Decimals([]float64{v})) }

// Significant prints a value with n digits that count; a very small one as 7.6 × 10⁻⁹.
func Significant(v float64, n int) string {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return Number(v, 0)
	}
	e := int(math.Floor(math.Log10(math.Abs(v))))
	if e < -6 {
		return Number(times10(v, -e), n-1) + " × " + PowerText(e)
	}
	return Number(v, max(0, n-1-e))
}

// WithError prints a value and its error as "3.540 ± 0.034": two digits of the error count, and the value
// ends where they do.
func WithError(v, e float64) string {
	if math.IsNaN(e) || e <= 0 {
		return Significant(v, 3)
	}
	d := max(0, 1-int(math.Floor(math.Log10(e)+1e-9)))
	return "(" + Number(v, d) + " ± " + Number(e, d) + ")"
}

// PlainSpaces replaces the spaces at which no line is broken.
func PlainSpaces(s string) string { return strings.ReplaceAll(s, noBreak, " ") }

// TenPower returns the power of ten that is taken out of numbers too long to be read, 0 mostly.
func TenPower(levels []float64) int {
	most, long := 0.0, 0
	for _, v := range levels {
		most = max(most, math.Abs(v))
		long = max(long, len([]rune(Short(v))))
	}
	if most == 0 || long <= 7 && most > 1e-6 || most > 0.01 && most < 1e5 {
		return 0
	}
	return 3 * int(math.Floor(math.Floor(math.Log10(most)+1e-9)/3))
}

// Scaled prints a level without the power of ten.
func Scaled(e int) func(v float64) string {
	return func(v float64) string { return Short(Round(v / math.Pow10(e))) }
}

// PowerText prints a power of ten, 10⁻³; "" for 0.
func PowerText(e int) string {
	if e == 0 {
		return ""
	}
	return "10" + raised.Replace(strconv.Itoa(e))
}

var raised = strings.NewReplacer("0", "⁰", "1", "¹", "2", "²", "3", "³", "4", "⁴", "5", "⁵", "6", "⁶", "7", "⁷",
	"8", "⁸", "9", "⁹", "-", "⁻")

// signs of units that are not set by the rule.
var signs = map[string]string{"1": "", "": "", "degC": "°C", "percent": "%", "degrees_north": "°N",
	"degrees_east": "°E"}

// UnitText sets UDUNITS as one prints them: "umol kg-1" is µmol kg⁻¹. A dimensionless quantity has none.
func UnitText(units string) string {
	if t, ok := signs[units]; ok {
		return t
	}
	var out []string
	for _, f := range strings.Fields(units) {
		cut := strings.IndexFunc(f, func(r rune) bool { return r == '-' || unicode.IsDigit(r) })
		if cut > 0 {
			f = f[:cut] + raised.Replace(f[cut:])
		}
		if strings.HasPrefix(f, "umol") {
			f = "µ" + f[1:]
		}
		out = append(out, f)
	}
	return strings.Join(out, noBreak)
}

// noBreak is the space inside a unit, at which no line is broken.
const noBreak = "\u00a0"
