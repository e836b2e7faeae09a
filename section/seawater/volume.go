package seawater

import "math"

// The polynomial of Roquet et al. 2015 in x = sqrt((SA+24)/(40 u_PS)), y = CT/40 and z = p/1e4, in four forms that
// share the order of their operations, so that each gives the same bits for what they have in common. Powers of z are
// summed first, then y, then x.

// volumeRoot returns x; NaN for a negative salinity, which the polynomial itself would accept.
func volumeRoot(sa float64) float64 {
	if !(sa >= 0) {
		return math.NaN()
	}
	return math.Sqrt(horner(sa, perUnitX2, offsetX2))
}

// volume is v in m3/kg.
func volume(x, y, z float64) float64 {
	a00 := cubic(z, v000, v001, v002, cubic(z, v003, v004, v005, v006))
	a01 := quartic(z, v010, v011, v012, v013, v014)
	a02 := cubic(z, v020, v021, v022, v023)
	a03 := quadratic(z, v030, v031, v032)
	a04 := quadratic(z, v040, v041, v042)
	a05 := horner(v051, z, v050)
	a10 := quartic(z, v100, v101, v102, v103, v104)
	a11 := cubic(z, v110, v111, v112, v113)
	a12 := quadratic(z, v120, v121, v122)
	a13 := quadratic(z, v130, v131, v132)
	a14 := horner(v141, z, v140)
	a20 := cubic(z, v200, v201, v202, v203)
	a21 := quadratic(z, v210, v211, v212)
	a22 := quadratic(z, v220, v221, v222)
	a23 := horner(v231, z, v230)
	a30 := quadratic(z, v300, v301, v302)
	a31 := quadratic(z, v310, v311, v312)
	a32 := horner(v321, z, v320)
	a40 := quadratic(z, v400, v401, v402)
	a41 := horner(v411, z, v410)
	a50 := horner(v501, z, v500)
	r0 := cubic(y, a00, a01, a02, cubic(y, a03, a04, a05, v060))
	r1 := cubic(y, a10, a11, a12, quadratic(y, a13, a14, v150))
	r2 := quartic(y, a20, a21, a22, a23, v240)
	r3 := cubic(y, a30, a31, a32, v330)
	r4 := quadratic(y, a40, a41, v420)
	r5 := horner(v510, y, a50)
	const r6 = v600
	return cubic(x, r0, r1, r2, cubic(x, r3, r4, r5, r6))
}

// surfaceVolume is volume at z = 0.
func surfaceVolume(x, y float64) float64 {
	r0 := cubic(y, v000, v010, v020, cubic(y, v030, v040, v050, v060))
	r1 := cubic(y, v100, v110, v120, quadratic(y, v130, v140, v150))
	r2 := quartic(y, v200, v210, v220, v230, v240)
	r3 := cubic(y, v300, v310, v320, v330)
	r4 := quadratic(y, v400, v410, v420)
	r5 := horner(v510, y, v500)
	const r6 = v600
	return cubic(x, r0, r1, r2, cubic(x, r3, r4, r5, r6))
}

// volumeSlopes is volume with its derivatives by x and by y.
func volumeSlopes(x, y, z float64) (v, vx, vy float64) {
	a00 := cubic(z, v000, v001, v002, cubic(z, v003, v004, v005, v006))
	a01 := quartic(z, v010, v011, v012, v013, v014)
	a02 := cubic(z, v020, v021, v022, v023)
	a03 := quadratic(z, v030, v031, v032)
	a04 := quadratic(z, v040, v041, v042)
	a05 := horner(v051, z, v050)
	a10 := quartic(z, v100, v101, v102, v103, v104)
	a11 := cubic(z, v110, v111, v112, v113)
	a12 := quadratic(z, v120, v121, v122)
	a13 := quadratic(z, v130, v131, v132)
	a14 := horner(v141, z, v140)
	a20 := cubic(z, v200, v201, v202, v203)
	a21 := quadratic(z, v210, v211, v212)
	a22 := quadratic(z, v220, v221, v222)
	a23 := horner(v231, z, v230)
	a30 := quadratic(z, v300, v301, v302)
	a31 := quadratic(z, v310, v311, v312)
	a32 := horner(v321, z, v320)
	a40 := quadratic(z, v400, v401, v402)
	a41 := horner(v411, z, v410)
	a50 := horner(v501, z, v500)
	r0 := cubic(y, a00, a01, a02, cubic(y, a03, a04, a05, v060))
	r1 := cubic(y, a10, a11, a12, quadratic(y, a13, a14, v150))
	r2 := quartic(y, a20, a21, a22, a23, v240)
	r3 := cubic(y, a30, a31, a32, v330)
	r4 := quadratic(y, a40, a41, v420)
	r5 := horner(v510, y, a50)
	const r6 = v600
	d0 := cubic(y, a01, 2*a02, 3*a03, quadratic(y, 4*a04, 5*a05, 6*v060))
	d1 := quartic(y, a11, 2*a12, 3*a13, 4*a14, 5*v150)
	d2 := cubic(y, a21, 2*a22, 3*a23, 4*v240)
	d3 := quadratic(y, a31, 2*a32, 3*v330)
	d4 := horner(2*v420, y, a41)
	d5 := v510
	v = cubic(x, r0, r1, r2, cubic(x, r3, r4, r5, r6))
	vx = cubic(x, r1, 2*r2, 3*r3, quadratic(x, 4*r4, 5*r5, 6*r6))
	vy = cubic(x, d0, d1, d2, quadratic(x, d3, d4, d5))
	return v, vx, vy
}

// standardColumn: powers of z of volume at SA = SSO, CT = 0 degC, lowest first.
var standardColumn = standardPowers()

func standardPowers() [7]float64 {
	x := volumeRoot(StandardSalinity)
	return [7]float64{
		cubic(x, v000, v100, v200, cubic(x, v300, v400, v500, v600)),
		cubic(x, v001, v101, v201, quadratic(x, v301, v401, v501)),
		quartic(x, v002, v102, v202, v302, v402),
		quadratic(x, v003, v103, v203),
		horner(v104, x, v004), v005, v006,
	}
}

// standardVolume is volume of the standard ocean, SA = SSO and CT = 0 degC, in m3/kg.
func standardVolume(z float64) float64 {
	c := &standardColumn
	return cubic(z, c[0], c[1], c[2], cubic(z, c[3], c[4], c[5], c[6]))
}

// standardEnthalpy is the integral of standardVolume from 0 to z over pressure, in m2/s2 (Pa m3/kg).
func standardEnthalpy(z float64) float64 {
	c := &standardColumn
	s := cubic(z, c[3]/4, c[4]/5, c[5]/6, c[6]/7)
	s = cubic(z, c[0], c[1]/2, c[2]/3, s)
	return float64(1e8 * s * z)
}
