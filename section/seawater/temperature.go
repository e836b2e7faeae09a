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

// ConservativeFromPotential returns Conservative Temperature in degC, potential enthalpy over cp0, from Absolute
// Salinity sa (g/kg) and potential temperature pt (degC, ITS-90, referred to 0 dbar).
func ConservativeFromPotential(sa, pt float64) float64 {
	var g gibbs
	g.setSurface(saltRoot(sa))
	return conservative(&g.surface, pt)
}

// PotentialFromConservative returns potential temperature in degC (ITS-90, referred to 0 dbar) from Absolute Salinity
// sa (g/kg) and Conservative Temperature ct (degC).
func PotentialFromConservative(sa, ct float64) float64 {
	var g gibbs
	x, x2 := saltRoot(sa)
	g.setSurface(x, x2)
	return g.potentialOfConservative(x2, ct)
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

// InSituFromPotential returns the in-situ temperature in degC (ITS-90) at sea pressure p (dbar) of water of Absolute
// Salinity sa (g/kg) and potential temperature pt (degC, ITS-90, referred to 0 dbar).
func InSituFromPotential(sa, pt, p float64) float64 {
	var g gibbs
	x, x2 := saltRoot(sa)
	g.setSurface(x, x2)
	g.setDeep(x, x2)
	return g.inSitu(x2, pt, p)
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
	a := horner(horner(horner(-1.1758, y, 2.1782), y, -4.6053), y, 0.42254)
	b := horner(horner(-0.46837, y, 1.2677), y, -0.8814)
	c := horner(horner(-1.0708, y, 2.5931), y, -1.3202)
	d := horner(-1.4847, y, 0.45309)
	return float64(perY * z * (horner(b, x2, a) + float64(z*(horner(d, x2, c)+float64(0.17838*z)))))
}

func guessInSitu(x2, y, z float64) float64 {
	a := horner(horner(horner(1.2312, y, -2.2445), y, 4.6371), y, -0.43001)
	b := horner(horner(0.43071, y, -1.2573), y, 0.89151)
	c := horner(horner(1.183, y, -2.4866), y, 1.3365)
	d := horner(1.4429, y, -0.43468)
	return float64(perY * z * (horner(b, x2, a) + float64(z*(horner(d, x2, c)-float64(0.14007*z)))))
}

func guessFromConservative(x2, y float64) float64 {
	a := horner(horner(horner(-0.1948, y, 0.44593), y, -2.1378), y, -0.011767)
	b := horner(horner(horner(0.21283, y, -0.66195), y, 2.6246), y, -0.1417)
	c := horner(horner(0.048633, y, -0.13648), y, 0.17708)
	return float64(perY * horner(horner(c, x2, b), x2, a))
}

// PotentialTemperatures fills dst with PotentialTemperature of each level.
func PotentialTemperatures(dst, sa, t, p []float64) []float64 {
	sameLength(len(dst), len(sa), len(t), len(p))
	for i := range dst {
		dst[i] = PotentialTemperature(sa[i], t[i], p[i])
	}
	return dst
}

// ConservativeTemperatures fills dst with ConservativeTemperature of each level.
func ConservativeTemperatures(dst, sa, t, p []float64) []float64 {
	sameLength(len(dst), len(sa), len(t), len(p))
	for i := range dst {
		dst[i] = ConservativeTemperature(sa[i], t[i], p[i])
	}
	return dst
}

// PotentialsFromConservative fills dst with PotentialFromConservative of each level.
func PotentialsFromConservative(dst, sa, ct []float64) []float64 {
	sameLength(len(dst), len(sa), len(ct))
	for i := range dst {
		dst[i] = PotentialFromConservative(sa[i], ct[i])
	}
	return dst
}

// InSituTemperatures fills dst with InSituTemperature of each level.
func InSituTemperatures(dst, sa, ct, p []float64) []float64 {
	sameLength(len(dst), len(sa), len(ct), len(p))
	for i := range dst {
		dst[i] = InSituTemperature(sa[i], ct[i], p[i])
	}
	return dst
}
