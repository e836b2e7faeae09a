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
	r0 := quartic(x, cf00, 0, cf20, cf30, cubic(x, cf40, cf50, cf60, cf70))
	r1 := quartic(x, cf01, 0, cf21, cf31, cubic(x, cf41, cf51, cf61, cf71))
	r2 := cubic(x, cf02, 0, cf22, quadratic(x, cf32, cf42, cf52))
	r3 := quartic(x, cf03, 0, cf23, cf33, cf43)
	airFree := cubic(y, r0, r1, r2, r3)
	// Air lowers it by 2.4 mK in fresh water, less in salt water (same source).
	s := sa / StandardSalinity
	return airFree - float64(float64(air)*1e-3*horner(-0.502500117621, s, 2.4)*horner(0.05700064989972, 1-s, 1))
}

// FreezingInSitu is FreezingConservative as an in-situ temperature in degC (ITS-90).
func FreezingInSitu(sa, p float64, air AirContent) float64 {
	return InSituTemperature(sa, FreezingConservative(sa, p, air), p)
}
