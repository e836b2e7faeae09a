package seawater

// Spiciness0 returns spiciness in kg/m3 referred to 0 dbar of Absolute Salinity sa (g/kg) and Conservative Temperature
// ct (degC): a label of water masses whose isolines cross those of density at 0 dbar. Valid for the ocean's range.
// Source: McDougall and Krzysik 2015, J. Mar. Res. 73, 141. A negative salinity is NaN.
func Spiciness0(sa, ct float64) float64 { return spice(volumeRoot(sa), ct*perY) }

func spice(x, y float64) float64 {
	r0 := horner(horner(horner(horner(horner(horner(s06, y, s05), y, s04), y, s03), y, s02), y, s01), y, s00)
	r1 := horner(horner(horner(horner(horner(horner(s16, y, s15), y, s14), y, s13), y, s12), y, s11), y, s10)
	r2 := horner(horner(horner(horner(horner(horner(s26, y, s25), y, s24), y, s23), y, s22), y, s21), y, s20)
	r3 := horner(horner(horner(horner(horner(horner(s36, y, s35), y, s34), y, s33), y, s32), y, s31), y, s30)
	r4 := horner(horner(horner(horner(horner(horner(s46, y, s45), y, s44), y, s43), y, s42), y, s41), y, s40)
	r5 := horner(horner(horner(horner(horner(horner(s56, y, s55), y, s54), y, s53), y, s52), y, s51), y, s50)
	r6 := horner(horner(horner(horner(horner(horner(s66, y, s65), y, s64), y, s63), y, s62), y, s61), y, s60)
	return horner(horner(horner(horner(horner(horner(r6, x, r5), x, r4), x, r3), x, r2), x, r1), x, r0)
}

// Spicinesses0 fills dst with Spiciness0 of each level.
func Spicinesses0(dst, sa, ct []float64) []float64 {
	sameLength(len(dst), len(sa), len(ct))
	for i := range dst {
		dst[i] = Spiciness0(sa[i], ct[i])
	}
	return dst
}
