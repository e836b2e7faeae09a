package seawater

import "math"

// The standard library's exponential has machine code on some processors and so other last bits; these are portable.

// expTaylor: 1/n!, n = 0..13; the remainder below 0.35^14/14! = 5e-18.
var expTaylor = [...]float64{
	1, 1, 1.0 / 2, 1.0 / 6, 1.0 / 24, 1.0 / 120, 1.0 / 720, 1.0 / 5040, 1.0 / 40320, 1.0 / 362880, 1.0 / 3628800,
	1.0 / 39916800, 1.0 / 479001600, 1.0 / 6227020800,
}

// exp returns e^a, to about one unit in the last place for |a| < 700; beyond it is 0 or +Inf. exp(NaN) is NaN.
func exp(a float64) float64 {
	const (
		ln2High = 6.93147180369123816490e-01 // ln 2 in two parts: the high one has 21 zero bits at its end
		ln2Low  = 1.90821492927058770002e-10
	)
	switch {
	case a != a:
		return a
	case a > 700:
		return math.Inf(1)
	case a < -700:
		return 0
	}
	k := int(math.Floor(horner(a, 1/math.Ln2, 0.5)))
	n := float64(k)
	r := (a - float64(n*ln2High)) - float64(n*ln2Low)
	c := &expTaylor
	// Pairs, then powers of r^2 and r^4: shorter chains than Horner's rule.
	r2 := r * r
	r4 := r2 * r2
	q0 := horner(horner(c[3], r, c[2]), r2, horner(c[1], r, c[0]))
	q1 := horner(horner(c[7], r, c[6]), r2, horner(c[5], r, c[4]))
	q2 := horner(horner(c[11], r, c[10]), r2, horner(c[9], r, c[8]))
	q3 := horner(c[13], r, c[12])
	sum := horner(horner(horner(q3, r4, q2), r4, q1), r4, q0)
	return sum * math.Float64frombits(uint64(k+1023)<<52)
}

// sinDeg returns the sine of a latitude in degrees north; NaN outside -90..90.
func sinDeg(lat float64) float64 {
	a := math.Abs(lat)
	var s float64
	switch {
	case !(a <= 90):
		return math.NaN()
	case a <= 45:
		s = sinSeries(a * (math.Pi / 180))
	default:
		s = cosSeries((90 - a) * (math.Pi / 180))
	}
	return math.Copysign(s, lat)
}

// sinSeries and cosSeries are the power series for 0..pi/4; the first term left out is below 1e-17.
func sinSeries(x float64) float64 {
	q := x * x
	s := horner(-1.0/1307674368000, q, 1.0/6227020800)
	s = horner(horner(s, q, -1.0/39916800), q, 1.0/362880)
	s = horner(horner(s, q, -1.0/5040), q, 1.0/120)
	s = horner(s, q, -1.0/6)
	return horner(float64(s*q), x, x)
}

func cosSeries(x float64) float64 {
	q := x * x
	s := horner(1.0/20922789888000, q, -1.0/87178291200)
	s = horner(horner(s, q, 1.0/479001600), q, -1.0/3628800)
	s = horner(horner(s, q, 1.0/40320), q, -1.0/720)
	s = horner(horner(s, q, 1.0/24), q, -1.0/2)
	return horner(s, q, 1)
}
