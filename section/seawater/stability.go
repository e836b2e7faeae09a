package seawater

import "math"

// Stability between two levels: the values belong to the mid pressure, and expansion, contraction and specific volume
// are taken at the means of SA, CT and p (IOC, SCOR and IAPSO 2010, sections 3.10, 3.15 and 3.16). Differences of
// neighbouring bins of 1 or 2 dbar are mostly noise: fit over 20 to 50 dbar before these are published.

// A Level is one level of a profile: Absolute Salinity in g/kg, Conservative Temperature in degC, sea pressure in dbar.
type Level struct{ SA, CT, P float64 }

// midSlopes gives v, v_X and v_CT at the means of two levels, where v_SA = v_X perUnitX2/(2 x).
func midSlopes(a, b Level) (v, bySalinity, byTemperature float64) {
	x := volumeRoot(0.5 * (a.SA + b.SA))
	v, vx, vy := volumeSlopes(x, (a.CT+b.CT)*(0.5*perY), (a.P+b.P)*(0.5*perZ))
	return v, vx * (0.5 * perUnitX2) / x, vy * perY
}

// BuoyancyFrequencySquared returns N^2 in 1/s2 between two levels, positive where the water is stable, with gravity g
// in m/s2 (the mean of the two levels, or StandardGravity): N^2 = g^2 (beta dSA - alpha dCT)/(v dp).
func BuoyancyFrequencySquared(upper, lower Level, g float64) float64 {
	v, bySalinity, byTemperature := midSlopes(upper, lower)
	dv := -float64(bySalinity*(lower.SA-upper.SA)) - float64(byTemperature*(lower.CT-upper.CT))
	return g * g * dv / (v * v * ((lower.P - upper.P) * perDbar))
}

// TurnerAngle returns atan2(alpha dCT + beta dSA, alpha dCT - beta dSA) in degrees, differences upper less lower:
// within -45..45 stable in both, 45..90 salt fingers, -90..-45 diffusive, beyond unstable. NaN where both differences
// vanish.
func TurnerAngle(upper, lower Level) float64 {
	heat, salt := densityParts(upper, lower)
	if heat == 0 && salt == 0 {
		return math.NaN()
	}
	return math.Atan2(heat+salt, heat-salt) * (180 / math.Pi)
}

// DensityRatio returns R_rho = alpha dCT/(beta dSA), without unit, differences upper less lower. NaN where both vanish.
func DensityRatio(upper, lower Level) float64 {
	heat, salt := densityParts(upper, lower)
	return heat / salt
}

// densityParts gives alpha dCT and beta dSA, upper less lower.
func densityParts(upper, lower Level) (heat, salt float64) {
	v, bySalinity, byTemperature := midSlopes(upper, lower)
	return byTemperature * (upper.CT - lower.CT) / v, -bySalinity * (upper.SA - lower.SA) / v
}

// BuoyancyFrequenciesSquared fills dst, one shorter than the profile, with N^2 in 1/s2 between neighbouring levels, at
// the mid pressures (MidPressures), using the gravity of the place.
func BuoyancyFrequenciesSquared(dst, sa, ct, p []float64, at *Place) []float64 {
	midLengths(len(dst), len(sa), len(ct), len(p))
	if len(dst) == 0 {
		return dst
	}
	upper, g := Level{sa[0], ct[0], p[0]}, at.stabilityGravity(p[0])
	for i := range dst {
		lower, gLower := Level{sa[i+1], ct[i+1], p[i+1]}, at.stabilityGravity(p[i+1])
		dst[i] = BuoyancyFrequencySquared(upper, lower, 0.5*(g+gLower))
		upper, g = lower, gLower
	}
	return dst
}

// MidPressures fills dst, one shorter than p, with the means of neighbouring pressures in dbar.
func MidPressures(dst, p []float64) []float64 {
	midLengths(len(dst), len(p))
	for i := range dst {
		dst[i] = 0.5 * (p[i] + p[i+1])
	}
	return dst
}

// TurnerAngles fills dst, one shorter than the profile, with TurnerAngle in degrees between neighbouring levels.
func TurnerAngles(dst, sa, ct, p []float64) []float64 {
	midLengths(len(dst), len(sa), len(ct), len(p))
	for i := range dst {
		dst[i] = TurnerAngle(Level{sa[i], ct[i], p[i]}, Level{sa[i+1], ct[i+1], p[i+1]})
	}
	return dst
}

// DensityRatios fills dst, one shorter than the profile, with DensityRatio between neighbouring levels.
func DensityRatios(dst, sa, ct, p []float64) []float64 {
	midLengths(len(dst), len(sa), len(ct), len(p))
	for i := range dst {
		dst[i] = DensityRatio(Level{sa[i], ct[i], p[i]}, Level{sa[i+1], ct[i+1], p[i+1]})
	}
	return dst
}

func midLengths(mid int, profile ...int) {
	sameLength(profile[0], profile[1:]...)
	if mid != max(profile[0]-1, 0) {
		panic(midLength)
	}
}
