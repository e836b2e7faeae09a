package seawater

import "math"

// AirContent is the fraction of saturation with air that the water has.
type AirContent float64

// The two usual states. Air-saturated water freezes about 2 mK lower.
const (
	AirFree      AirContent = 0
	AirSaturated AirContent = 1
)

// FreezingConservative returns the Conservative Temperature in degC at which water of Absolute Salinity sa (g/kg)
// freezes at sea pressure p (dbar). Valid for 0 to 42 g/kg and 0 to 1e4 dbar, within 8e-4 K of equal chemical
// potentials of water and ice. Source: TEOS-10 freezing polynomial, McDougall et al. 2014, J. Phys. Oceanogr. 44, 1751.
// A negative salinity is NaN.
func FreezingConservative(sa, p float64, air AirContent) float64 {
	x, y := math.Sqrt(sa*1e-2), p*perZ
	r0 := horner(horner(horner(horner(horner(horner(horner(cf70, x, cf60), x, cf50), x, cf40), x, cf30), x, cf20), x,
		0), x, cf00)
	r1 := horner(horner(horner(horner(horner(horner(horner(cf71, x, cf61), x, cf51), x, cf41), x, cf31), x, cf21), x,
		0), x, cf01)
	r2 := horner(horner(horner(horner(horner(cf52, x, cf42), x, cf32), x, cf22), x, 0), x, cf02)
	r3 := horner(horner(horner(horner(cf43, x, cf33), x, cf23), x, 0), x, cf03)
	airFree := horner(horner(horner(r3, y, r2), y, r1), y, r0)
	// Air lowers it by 2.4 mK in fresh water, less in salt water (same source).
	s := sa / StandardSalinity
	return airFree - float64(float64(air)*1e-3*horner(-0.502500117621, s, 2.4)*horner(0.05700064989972, 1-s, 1))
}

// FreezingInSitu is FreezingConservative as an in-situ temperature in degC (ITS-90).
func FreezingInSitu(sa, p float64, air AirContent) float64 {
	return InSituTemperature(sa, FreezingConservative(sa, p, air), p)
}

// FreezingTemperatures fills dst with FreezingInSitu in degC of each level.
func FreezingTemperatures(dst, sa, p []float64, air AirContent) []float64 {
	sameLength(len(dst), len(sa), len(p))
	for i := range dst {
		dst[i] = FreezingInSitu(sa[i], p[i], air)
	}
	return dst
}
