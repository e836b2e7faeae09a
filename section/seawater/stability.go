package seawater

// Stability between two levels: the values belong to the mid pressure, and expansion, contraction and specific volume
// are taken at the means of SA, CT and p (IOC, SCOR and IAPSO 2010, sections 3.10, 3.15 and 3.16). Differences of
// neighbouring bins of 1 or 2 dbar are mostly noise: fit over 20 to 50 dbar before these are published.

// A Level is one level of a profile: Absolute Salinity in g/kg, Conservative Temperature in degC, sea pressure in dbar.
type Level struct{ SA, CT, P float64 }

// BuoyancyFrequencySquared returns N^2 in 1/s2 between two levels, positive where the water is stable, with gravity g
// in m/s2 (the mean of the two levels, or StandardGravity): N^2 = g^2 (beta dSA - alpha dCT)/(v dp).
func BuoyancyFrequencySquared(upper, lower Level, g float64) float64 {
	v, bySalinity, byTemperature := SpecificVolumeSlopes(0.5*(upper.SA+lower.SA), 0.5*(upper.CT+lower.CT),
		0.5*(upper.P+lower.P))
	dv := -float64(bySalinity*(lower.SA-upper.SA)) - float64(byTemperature*(lower.CT-upper.CT))
	return g * g * dv / (v * v * ((lower.P - upper.P) * perDbar))
}

// MidPressures fills dst, one shorter than p, with the means of neighbouring pressures in dbar.
func MidPressures(dst, p []float64) []float64 {
	midLengths(len(dst), len(p))
	for i := range dst {
		dst[i] = 0.5 * (p[i] + p[i+1])
	}
	return dst
}

func midLengths(mid int, profile ...int) {
	sameLength(profile[0], profile[1:]...)
	if mid != max(profile[0]-1, 0) {
		panic(midLength)
	}
}
