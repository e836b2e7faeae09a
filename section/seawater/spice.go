package seawater

// Spiciness0 returns spiciness in kg/m3 referred to 0 dbar of Absolute Salinity sa (g/kg) and Conservative Temperature
// ct (degC): a label of water masses whose isolines cross those of density at 0 dbar. Valid for the ocean's range.
// Source: McDougall and Krzysik 2015, J. Mar. Res. 73, 141. A negative salinity is NaN.
func Spiciness0(sa, ct float64) float64 { return spice(volumeRoot(sa), ct*perY) }

func spice(x, y float64) float64 {
	r0 := cubic(y, s00, s01, s02, cubic(y, s03, s04, s05, s06))
	r1 := cubic(y, s10, s11, s12, cubic(y, s13, s14, s15, s16))
	r2 := cubic(y, s20, s21, s22, cubic(y, s23, s24, s25, s26))
	r3 := cubic(y, s30, s31, s32, cubic(y, s33, s34, s35, s36))
	r4 := cubic(y, s40, s41, s42, cubic(y, s43, s44, s45, s46))
	r5 := cubic(y, s50, s51, s52, cubic(y, s53, s54, s55, s56))
	r6 := cubic(y, s60, s61, s62, cubic(y, s63, s64, s65, s66))
	return cubic(x, r0, r1, r2, cubic(x, r3, r4, r5, r6))
}
