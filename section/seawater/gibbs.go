package seawater

import "math"

// The Gibbs function of seawater, g = gW + gS in J/kg, is a polynomial in y = t/40 and z = p/1e4 whose coefficients
// depend on salinity alone (IAPWS-08, IAPWS-09; Feistel 2003, 2008), beside the term x^2 ln(x) (g100 + g110 y). That
// term adds the same to the entropy at any pressure, cancels in Conservative Temperature (g100 = g110 T0/40, to the
// last printed digit), and vanishes in the second derivatives: nothing here needs it.

// gibbs holds g at one salinity: surface[j] multiplies y^j, deep[j][k] multiplies y^j z^k. The coefficients that
// salinity does not change are not kept.
type gibbs struct {
	surface powersOfY
	deep    [5][6]float64
}

// saltRoot returns x = sqrt(SA/(40 u_PS)) and x^2; NaN for a negative salinity.
func saltRoot(sa float64) (x, x2 float64) {
	x2 = sa * perUnitX2
	return math.Sqrt(x2), x2
}

// setSurface sets the coefficients at 0 dbar.
func (g *gibbs) setSurface(x, x2 float64) {
	s := &g.surface
	s[0] = horner(cubic(x, gS200, gS300, gS400, quadratic(x, gS500, gS600, gS700)), x2, gW00)
	s[1] = horner(quartic(x, gS210, gS310, gS410, gS510, gS610), x2, gW10)
	s[2] = horner(quadratic(x, gS220, gS320, gS420), x2, gW20)
	s[3] = horner(quadratic(x, gS230, gS330, gS430), x2, gW30)
	s[4] = horner(quadratic(x, gS240, gS340, gS440), x2, gW40)
	s[5] = quadratic(x2, gW50, gS250, gS450)
	s[6] = horner(gS260, x2, gW60)
	s[7] = gW70
}

// setDeep sets the coefficients with powers of z.
func (g *gibbs) setDeep(x, x2 float64) {
	c := &g.deep
	c[0][1] = horner(cubic(x, gS201, gS301, gS401, gS501), x2, gW01)
	c[0][2] = horner(quadratic(x, gS202, gS302, gS402), x2, gW02)
	c[0][3] = horner(quadratic(x, gS203, gS303, gS403), x2, gW03)
	c[0][4] = horner(horner(gS304, x, gS204), x2, gW04)
	c[0][5] = horner(gS205, x2, gW05)
	c[1][1] = horner(quadratic(x, gS211, gS311, gS411), x2, gW11)
	c[1][2] = horner(horner(gS312, x, gS212), x2, gW12)
	c[1][3] = horner(horner(gS313, x, gS213), x2, gW13)
	c[1][4] = horner(gS214, x2, gW14)
	c[1][5] = horner(gS215, x2, gW15)
	c[2][1] = horner(horner(gS321, x, gS221), x2, gW21)
	c[2][2] = horner(horner(gS322, x, gS222), x2, gW22)
	c[2][3] = horner(horner(gS323, x, gS223), x2, gW23)
	c[2][4] = horner(gS224, x2, gW24)
	c[2][5] = horner(gS225, x2, gW25)
	c[3][1] = horner(horner(gS331, x, gS231), x2, gW31)
	c[3][2] = horner(gS232, x2, gW32)
	c[3][3] = horner(gS233, x2, gW33)
	c[3][4] = horner(gS234, x2, gW34)
	c[4][1] = horner(horner(gS341, x, gS241), x2, gW41)
	c[4][2] = horner(gS242, x2, gW42)
	c[4][3] = horner(gS243, x2, gW43)
}

// powersOfY is a polynomial in y, lowest power first.
type powersOfY [8]float64

// at sets v to g at z.
func (g *gibbs) at(z float64, v *powersOfY) {
	s, c := &g.surface, &g.deep
	v[0] = cubic(z, s[0], c[0][1], c[0][2], cubic(z, c[0][3], c[0][4], c[0][5], gW06))
	v[1] = cubic(z, s[1], c[1][1], c[1][2], quadratic(z, c[1][3], c[1][4], c[1][5]))
	v[2] = cubic(z, s[2], c[2][1], c[2][2], quadratic(z, c[2][3], c[2][4], c[2][5]))
	v[3] = cubic(z, s[3], c[3][1], c[3][2], quadratic(z, c[3][3], c[3][4], gW35))
	v[4] = quartic(z, s[4], c[4][1], c[4][2], c[4][3], gW44)
	v[5] = quartic(z, s[5], gW51, gW52, gW53, gW54)
	v[6] = cubic(z, s[6], gW61, gW62, gW63)
	v[7] = horner(gW71, z, s[7])
}

// atWithSlopes sets v to g at z, d to its derivative by z and h to half its second derivative. v has the bits of at.
func (g *gibbs) atWithSlopes(z float64, v, d, h *powersOfY) {
	s, c := &g.surface, &g.deep
	v[0], d[0], h[0] = withSlopes(z, s[0], c[0][1], c[0][2], c[0][3], c[0][4], c[0][5], gW06)
	v[1], d[1], h[1] = withSlopes(z, s[1], c[1][1], c[1][2], c[1][3], c[1][4], c[1][5])
	v[2], d[2], h[2] = withSlopes(z, s[2], c[2][1], c[2][2], c[2][3], c[2][4], c[2][5])
	v[3], d[3], h[3] = withSlopes(z, s[3], c[3][1], c[3][2], c[3][3], c[3][4], gW35)
	v[4], d[4], h[4] = withSlopes(z, s[4], c[4][1], c[4][2], c[4][3], gW44)
	v[5], d[5], h[5] = withSlopes(z, s[5], gW51, gW52, gW53, gW54)
	v[6], d[6], h[6] = withSlopes(z, s[6], gW61, gW62, gW63)
	v[7], d[7], h[7] = withSlopes(z, s[7], gW71)
}

// withSlopes returns a polynomial, its derivative and half its second derivative at z; c begins with the constant term.
func withSlopes(z float64, c ...float64) (p, q, r float64) {
	for k := len(c) - 1; k >= 0; k-- {
		p, q, r = horner(p, z, c[k]), horner(q, z, p), horner(r, z, q)
	}
	return p, q, r
}

// value is the polynomial at y.
func (v *powersOfY) value(y float64) float64 {
	return quartic(y, v[0], v[1], v[2], v[3], cubic(y, v[4], v[5], v[6], v[7]))
}

// slope is the derivative by y.
func (v *powersOfY) slope(y float64) float64 {
	return cubic(y, v[1], 2*v[2], 3*v[3], cubic(y, 4*v[4], 5*v[5], 6*v[6], 7*v[7]))
}

// curvature is the second derivative by y.
func (v *powersOfY) curvature(y float64) float64 {
	return cubic(y, 2*v[2], 6*v[3], 12*v[4], quadratic(y, 20*v[5], 30*v[6], 42*v[7]))
}

// bend is the third derivative by y.
func (v *powersOfY) bend(y float64) float64 {
	return quartic(y, 6*v[3], 24*v[4], 60*v[5], 120*v[6], 210*v[7])
}

// twist is the fourth derivative by y.
func (v *powersOfY) twist(y float64) float64 {
	return cubic(y, 24*v[4], 120*v[5], 360*v[6], 840*v[7])
}

// sameEntropy solves v.slope(y) = target (entropy is -g_t) from the first guess y.
func (v *powersOfY) sameEntropy(target, y float64) float64 {
	for range maxSteps {
		step := householder(v.slope(y)-target, v.curvature(y), v.bend(y), v.twist(y))
		y -= step
		if !(math.Abs(step) > settled) {
			break
		}
	}
	return y
}

// A step below 30 mK leaves an error near step^4/(2 T)^3, under 1e-14 K: one step is enough from the usual first guess.
const (
	settled  = 30e-3 / 40
	maxSteps = 10
)

// householder is the step of Householder's third-order rule, from a function's value and first three derivatives.
func householder(f, f1, f2, f3 float64) float64 {
	a, b := float64(f1*f1), float64(f*f2)
	return f * (float64(6*a) - float64(3*b)) / (float64(6*f1*(a-b)) + float64(f*f*f3))
}

// heat sets h to the potential enthalpy in J/kg, g - T g_t at 0 dbar, where v is g at 0 dbar.
func (h *powersOfY) heat(v *powersOfY) {
	const t0 = ZeroCelsiusK / 40
	h[0] = v[0] - float64(t0*v[1])
	h[1] = -float64(2 * t0 * v[2])
	h[2] = -v[2] - float64(3*t0*v[3])
	h[3] = -float64(2*v[3]) - float64(4*t0*v[4])
	h[4] = -float64(3*v[4]) - float64(5*t0*v[5])
	h[5] = -float64(4*v[5]) - float64(6*t0*v[6])
	h[6] = -float64(5*v[6]) - float64(7*t0*v[7])
	h[7] = -6 * v[7]
}

// sameHeat solves h.value(y) = target from the first guess y.
func (h *powersOfY) sameHeat(target, y float64) float64 {
	for range maxSteps {
		step := householder(h.value(y)-target, h.slope(y), h.curvature(y), h.bend(y))
		y -= step
		if !(math.Abs(step) > settled) {
			break
		}
	}
	return y
}
