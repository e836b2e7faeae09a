package seawater

// MicromolesPerMillilitre is the amount of oxygen in umol of one ml at standard temperature and pressure (Bittig et al.
// 2018, Front. Mar. Sci. 4, 429, recommendation of SCOR working group 142).
const MicromolesPerMillilitre = 44.6596

// OxygenSolubility returns the oxygen in umol/kg that seawater of practical salinity sp and potential temperature pt
// (degC, ITS-90) holds in equilibrium with moist air at 101325 Pa. Valid for sp 0 to 42 and freezing to 40 degC.
// Source: Garcia and Gordon 1992 (Limnol. Oceanogr. 37, 1307), the fit to the data of Benson and Krause 1984, whose
// temperature scale is IPTS-68.
func OxygenSolubility(sp, pt float64) float64 {
	y := scaledTemperature(pt)
	y2 := y * y
	a := quadratic(y2, horner(o2MassA1, y, o2MassA0), horner(o2MassA3, y, o2MassA2), horner(o2MassA5, y, o2MassA4))
	b := horner(horner(o2MassB3, y, o2MassB2), y2, horner(o2MassB1, y, o2MassB0))
	return exp(quadratic(sp, a, b, o2MassC0))
}

// scaledTemperature is Ts = ln((298.15 - t68)/(273.15 + t68)) = 2 artanh((25 - 2 t68)/571.3), summed as a power series:
// the terms left out are below 1e-16 for t68 of -5 to 45 degC.
func scaledTemperature(pt float64) float64 {
	s := horner(-2, ITS90ToIPTS68(pt), 25) * (1 / 571.3)
	q := s * s
	// In pairs, then powers of q^2 and q^4: a shorter chain than Horner's rule, and so in the other sums here.
	q2 := q * q
	q4 := q2 * q2
	low := horner(horner(1.0/9, q, 1.0/7), q2, horner(1.0/5, q, 1.0/3))
	high := horner(horner(1.0/17, q, 1.0/15), q2, horner(1.0/13, q, 1.0/11))
	return 2 * horner(float64(horner(high, q4, low)*q), s, s)
}

// OxygenPerMass converts oxygen in ml(STP) per litre to umol/kg; density is that of the water when its volume was
// measured, in kg/m3: for a CTD sensor the potential density referred to 0 dbar, 1000 + Sigma0.
func OxygenPerMass(mlPerLitre, density float64) float64 {
	return MicromolesPerMillilitre * 1000 * mlPerLitre / density
}
