package seawater

import "math"

// StandardConductivity is the conductivity in mS/cm of practical salinity 35 at 15 degC (IPTS-68) and 0 dbar. PSS-78 is
// defined by ratios and leaves it free; this is the value in common use (Culkin and Smith 1980, from memory).
const StandardConductivity = 42.9140

// hillLimit is the practical salinity below which Hill, Dauphinee and Woods 1986 extend PSS-78.
const hillLimit = 2

// PracticalSalinity returns the practical salinity of conductivity c in mS/cm at in-situ temperature t in degC (ITS-90)
// and sea pressure p in dbar. Valid for results of 2 to 42 at -2 to 35 degC (PSS-78; Unesco technical papers in marine
// science 37 and 44). Below 2 it is the extension of Hill, Dauphinee and Woods 1986 (IEEE J. Ocean. Eng. 11, 109),
// scaled so that there is no step at 2. A result below 0 (c under about 0.0015 mS/cm, which is no seawater) is NaN, as
// is a negative conductivity.
func PracticalSalinity(c, t, p float64) float64 {
	t68 := ITS90ToIPTS68(t)
	ratio := c / StandardConductivity
	q := quadratic(p, pssE1, pssE2, pssE3) * p
	d := quadratic(t68, 1, pssD1, pssD2)
	b := horner(pssD4, t68, pssD3)
	rp := 1 + q/horner(b, ratio, d)
	root := math.Sqrt(ratio / (rp * conductivityOfTemperature(t68)))
	h := temperaturePart(t68)
	sp, _ := salinityOfRoot(root, h)
	if sp < hillLimit {
		sp, _ = diluteSalinity(root, h)
		sp *= diluteScale(h)
	}
	if sp < 0 {
		return math.NaN()
	}
	return sp
}

// Conductivity returns the conductivity in mS/cm of practical salinity sp at in-situ temperature t in degC (ITS-90) and
// sea pressure p in dbar: PracticalSalinity inverted, by Newton's rule for the conductivity ratio at 0 dbar and a
// quadratic equation for the effect of pressure. NaN for a negative salinity.
func Conductivity(sp, t, p float64) float64 {
	if !(sp >= 0) {
		return math.NaN()
	}
	t68 := ITS90ToIPTS68(t)
	h := temperaturePart(t68)
	root := rootOfSalinity(sp, h)
	// R = Rt rt (1 + q/(d + b R)), that is b R^2 + (d - a b) R - a (d + q) = 0 with a = Rt rt.
	a := float64(root * root * conductivityOfTemperature(t68))
	q := float64(quadratic(p, pssE1, pssE2, pssE3) * p)
	d := quadratic(t68, 1, pssD1, pssD2)
	b := horner(pssD4, t68, pssD3)
	m := d - float64(a*b)
	ratio := 2 * a * (d + q) / (m + math.Sqrt(horner(m, m, 4*a*b*(d+q))))
	return ratio * StandardConductivity
}

// conductivityOfTemperature is rt = C(35,t68,0)/C(35,15,0) of PSS-78.
func conductivityOfTemperature(t68 float64) float64 {
	return quartic(t68, pssC0, pssC1, pssC2, pssC3, pssC4)
}

// temperaturePart is (t - 15)/(1 + k (t - 15)) of PSS-78.
func temperaturePart(t68 float64) float64 { return (t68 - 15) / horner(pssK0, t68-15, 1) }

// salinityOfRoot is PSS-78 for root = Rt^(1/2) and h of temperaturePart, with its derivative by root.
func salinityOfRoot(root, h float64) (sp, slope float64) {
	c5, c4, c3 := horner(pssB5, h, pssA5), horner(pssB4, h, pssA4), horner(pssB3, h, pssA3)
	c2, c1, c0 := horner(pssB2, h, pssA2), horner(pssB1, h, pssA1), horner(pssB0, h, pssA0)
	sp = cubic(root, c0, c1, c2, quadratic(root, c3, c4, c5))
	slope = quartic(root, c1, 2*c2, 3*c3, 4*c4, 5*c5)
	return sp, slope
}

// diluteSalinity is the form of Hill, Dauphinee and Woods 1986, unscaled, with its derivative by root = Rt^(1/2).
func diluteSalinity(root, h float64) (sp, slope float64) {
	sp, slope = salinityOfRoot(root, h)
	x := float64(400 * root * root)
	u := 10 * root // y^(1/2) with y = 100 Rt
	nx := horner(x, x+1.5, 1)
	ny := horner(horner(u, u, u)+1, u, 1) // 1 + y^(1/2) + y + y^(3/2)
	sp -= pssA0/nx + pssB0*h/ny
	slope += pssA0*(1.5+float64(2*x))*800*root/(nx*nx) + pssB0*h*10*quadratic(u, 1, 2, 3)/(ny*ny)
	return sp, slope
}

// diluteScale is q = 2/S_H at the ratio where PSS-78 gives 2, so that the two forms meet there.
func diluteScale(h float64) float64 {
	sp, _ := diluteSalinity(rootNewton(hillLimit, h, 1, salinityOfRoot), h)
	return hillLimit / sp
}

// rootOfSalinity solves for Rt^(1/2).
func rootOfSalinity(sp, h float64) float64 {
	if sp < hillLimit {
		return rootNewton(sp, h, diluteScale(h), diluteSalinity)
	}
	return rootNewton(sp, h, 1, salinityOfRoot)
}

// rootNewton solves scale form(root) = sp by Newton's rule. The start lies above the root, where both forms rise and
// are convex, so the steps are all downward.
func rootNewton(sp, h, scale float64, form func(root, h float64) (sp, slope float64)) float64 {
	root := math.Sqrt(sp/35) + 0.02
	for range 30 {
		s, slope := form(root, h)
		step := (float64(scale*s) - sp) / (scale * slope)
		root -= step
		if !(math.Abs(step) > 1e-15*root) {
			break
		}
	}
	return root
}
