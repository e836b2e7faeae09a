package seawater

// Temperatures of TEOS-10. Valid for sa of 0 to 42 g/kg, -2 to 40 degC, 0 to 1e4 dbar (IAPWS-08); a negative salinity
// is NaN. Source: IOC, SCOR and IAPSO 2010, sections 3.1 to 3.3; Gibbs function of IAPWS-08 and IAPWS-09.

// PotentialTemperature returns the temperature in degC (ITS-90) that water of Absolute Salinity sa (g/kg) and in-situ
// temperature t (degC, ITS-90) at sea pressure p (dbar) has when it is brought to 0 dbar without gain of heat or salt:
// eta(sa, pt, 0) = eta(sa, t, p).
func PotentialTemperature(sa, t, p float64) float64 {
	var g gibbs
	x, x2 := saltRoot(sa)
	g.setSurface(x, x2)
	g.setDeep(x, x2)
	return g.potential(x2, t, p)
}

// ConservativeTemperature returns Conservative Temperature in degC from Absolute Salinity sa (g/kg), in-situ
// temperature t (degC, ITS-90) and sea pressure p (dbar).
func ConservativeTemperature(sa, t, p float64) float64 {
	var g gibbs
	x, x2 := saltRoot(sa)
	g.setSurface(x, x2)
	g.setDeep(x, x2)
	return conservative(&g.surface, g.potential(x2, t, p))
}

// InSituTemperature returns the in-situ temperature in degC (ITS-90) at sea pressure p (dbar) of water of Absolute
// Salinity sa (g/kg) and Conservative Temperature ct (degC).
func InSituTemperature(sa, ct, p float64) float64 {
	var g gibbs
	x, x2 := saltRoot(sa)
	g.setSurface(x, x2)
	g.setDeep(x, x2)
	return g.inSitu(x2, g.potentialOfConservative(x2, ct), p)
}

// potential is PotentialTemperature where g is set.
func (g *gibbs) potential(x2, t, p float64) float64 {
	var v powersOfY
	y, z := float64(t*perY), p*perZ
	g.at(z, &v)
	return 40 * g.surface.sameEntropy(v.slope(y), y+guessPotential(x2, y, z))
}

// inSitu is InSituFromPotential where g is set.
func (g *gibbs) inSitu(x2, pt, p float64) float64 {
	var v powersOfY
	y, z := float64(pt*perY), p*perZ
	g.at(z, &v)
	return 40 * v.sameEntropy(g.surface.slope(y), y+guessInSitu(x2, y, z))
}

// conservative is ConservativeFromPotential of g at 0 dbar.
func conservative(surface *powersOfY, pt float64) float64 {
	var h powersOfY
	h.heat(surface)
	return h.value(pt*perY) * (1 / HeatCapacity)
}

// potentialOfConservative is PotentialFromConservative where g is set at the surface.
func (g *gibbs) potentialOfConservative(x2, ct float64) float64 {
	var h powersOfY
	h.heat(&g.surface)
	y := float64(ct * perY)
	return 40 * h.sameHeat(ct*HeatCapacity, y+guessFromConservative(x2, y))
}

// First guesses, each as a difference in y = temperature/40: polynomials that we fitted to the solutions over the
// ocean's range of salinity, temperature and pressure, good to 3.5 mK there. A worse guess costs one more step, never
// accuracy.

func guessPotential(x2, y, z float64) float64 {
	a := cubic(y, 0.42254, -4.6053, 2.1782, -1.1758)
	b := quadratic(y, -0.8814, 1.2677, -0.46837)
	c := quadratic(y, -1.3202, 2.5931, -1.0708)
	d := horner(-1.4847, y, 0.45309)
	return float64(perY * z * (horner(b, x2, a) + float64(z*(horner(d, x2, c)+float64(0.17838*z)))))
}

func guessInSitu(x2, y, z float64) float64 {
	a := cubic(y, -0.43001, 4.6371, -2.2445, 1.2312)
	b := quadratic(y, 0.89151, -1.2573, 0.43071)
	c := quadratic(y, 1.3365, -2.4866, 1.183)
	d := horner(1.4429, y, -0.43468)
	return float64(perY * z * (horner(b, x2, a) + float64(z*(horner(d, x2, c)-float64(0.14007*z)))))
}

func guessFromConservative(x2, y float64) float64 {
	a := cubic(y, -0.011767, -2.1378, 0.44593, -0.1948)
	b := cubic(y, -0.1417, 2.6246, -0.66195, 0.21283)
	c := quadratic(y, 0.17708, -0.13648, 0.048633)
	return float64(perY * quadratic(x2, a, b, c))
}
