package seawater

import "math"

// The polynomial of Roquet et al. 2015 in x = sqrt((SA+24)/(40 u_PS)), y = CT/40 and z = p/1e4, in four forms that
// share the order of their operations, so that each gives the same bits for what they have in common. Powers of z are
// summed first, then y, then x.

// volumeRoot gives x; NaN for a negative salinity, which the polynomial itself would accept.
func volumeRoot(sa float64) float64 {
	if !(sa >= 0) {
		return math.NaN()
	}
	return math.Sqrt(horner(sa, perUnitX2, offsetX2))
}

// volume is v in m3/kg.
func volume(x, y, z float64) float64 {
	a00 := horner(horner(horner(horner(horner(horner(v006, z, v005), z, v004), z, v003), z, v002), z, v001), z, v000)
	a01 := horner(horner(horner(horner(v014, z, v013), z, v012), z, v011), z, v010)
	a02 := horner(horner(horner(v023, z, v022), z, v021), z, v020)
	a03 := horner(horner(v032, z, v031), z, v030)
	a04 := horner(horner(v042, z, v041), z, v040)
	a05 := horner(v051, z, v050)
	a10 := horner(horner(horner(horner(v104, z, v103), z, v102), z, v101), z, v100)
	a11 := horner(horner(horner(v113, z, v112), z, v111), z, v110)
	a12 := horner(horner(v122, z, v121), z, v120)
	a13 := horner(horner(v132, z, v131), z, v130)
	a14 := horner(v141, z, v140)
	a20 := horner(horner(horner(v203, z, v202), z, v201), z, v200)
	a21 := horner(horner(v212, z, v211), z, v210)
	a22 := horner(horner(v222, z, v221), z, v220)
	a23 := horner(v231, z, v230)
	a30 := horner(horner(v302, z, v301), z, v300)
	a31 := horner(horner(v312, z, v311), z, v310)
	a32 := horner(v321, z, v320)
	a40 := horner(horner(v402, z, v401), z, v400)
	a41 := horner(v411, z, v410)
	a50 := horner(v501, z, v500)
	r0 := horner(horner(horner(horner(horner(horner(v060, y, a05), y, a04), y, a03), y, a02), y, a01), y, a00)
	r1 := horner(horner(horner(horner(horner(v150, y, a14), y, a13), y, a12), y, a11), y, a10)
	r2 := horner(horner(horner(horner(v240, y, a23), y, a22), y, a21), y, a20)
	r3 := horner(horner(horner(v330, y, a32), y, a31), y, a30)
	r4 := horner(horner(v420, y, a41), y, a40)
	r5 := horner(v510, y, a50)
	const r6 = v600
	return horner(horner(horner(horner(horner(horner(r6, x, r5), x, r4), x, r3), x, r2), x, r1), x, r0)
}

// surfaceVolume is volume at z = 0.
func surfaceVolume(x, y float64) float64 {
	r0 := horner(horner(horner(horner(horner(horner(v060, y, v050), y, v040), y, v030), y, v020), y, v010), y, v000)
	r1 := horner(horner(horner(horner(horner(v150, y, v140), y, v130), y, v120), y, v110), y, v100)
	r2 := horner(horner(horner(horner(v240, y, v230), y, v220), y, v210), y, v200)
	r3 := horner(horner(horner(v330, y, v320), y, v310), y, v300)
	r4 := horner(horner(v420, y, v410), y, v400)
	r5 := horner(v510, y, v500)
	const r6 = v600
	return horner(horner(horner(horner(horner(horner(r6, x, r5), x, r4), x, r3), x, r2), x, r1), x, r0)
}

// volumeSlopes is volume with its derivatives by x and by y.
func volumeSlopes(x, y, z float64) (v, vx, vy float64) {
	a00 := horner(horner(horner(horner(horner(horner(v006, z, v005), z, v004), z, v003), z, v002), z, v001), z, v000)
	a01 := horner(horner(horner(horner(v014, z, v013), z, v012), z, v011), z, v010)
	a02 := horner(horner(horner(v023, z, v022), z, v021), z, v020)
	a03 := horner(horner(v032, z, v031), z, v030)
	a04 := horner(horner(v042, z, v041), z, v040)
	a05 := horner(v051, z, v050)
	a10 := horner(horner(horner(horner(v104, z, v103), z, v102), z, v101), z, v100)
	a11 := horner(horner(horner(v113, z, v112), z, v111), z, v110)
	a12 := horner(horner(v122, z, v121), z, v120)
	a13 := horner(horner(v132, z, v131), z, v130)
	a14 := horner(v141, z, v140)
	a20 := horner(horner(horner(v203, z, v202), z, v201), z, v200)
	a21 := horner(horner(v212, z, v211), z, v210)
	a22 := horner(horner(v222, z, v221), z, v220)
	a23 := horner(v231, z, v230)
	a30 := horner(horner(v302, z, v301), z, v300)
	a31 := horner(horner(v312, z, v311), z, v310)
	a32 := horner(v321, z, v320)
	a40 := horner(horner(v402, z, v401), z, v400)
	a41 := horner(v411, z, v410)
	a50 := horner(v501, z, v500)
	r0 := horner(horner(horner(horner(horner(horner(v060, y, a05), y, a04), y, a03), y, a02), y, a01), y, a00)
	r1 := horner(horner(horner(horner(horner(v150, y, a14), y, a13), y, a12), y, a11), y, a10)
	r2 := horner(horner(horner(horner(v240, y, a23), y, a22), y, a21), y, a20)
	r3 := horner(horner(horner(v330, y, a32), y, a31), y, a30)
	r4 := horner(horner(v420, y, a41), y, a40)
	r5 := horner(v510, y, a50)
	const r6 = v600
	d0 := horner(horner(horner(horner(horner(6*v060, y, 5*a05), y, 4*a04), y, 3*a03), y, 2*a02), y, a01)
	d1 := horner(horner(horner(horner(5*v150, y, 4*a14), y, 3*a13), y, 2*a12), y, a11)
	d2 := horner(horner(horner(4*v240, y, 3*a23), y, 2*a22), y, a21)
	d3 := horner(horner(3*v330, y, 2*a32), y, a31)
	d4 := horner(2*v420, y, a41)
	d5 := v510
	v = horner(horner(horner(horner(horner(horner(r6, x, r5), x, r4), x, r3), x, r2), x, r1), x, r0)
	vx = horner(horner(horner(horner(horner(6*r6, x, 5*r5), x, 4*r4), x, 3*r3), x, 2*r2), x, r1)
	vy = horner(horner(horner(horner(horner(d5, x, d4), x, d3), x, d2), x, d1), x, d0)
	return v, vx, vy
}

// volumeCompression is the derivative of volume by z.
func volumeCompression(x, y, z float64) float64 {
	b00 := horner(horner(horner(horner(horner(6*v006, z, 5*v005), z, 4*v004), z, 3*v003), z, 2*v002), z, v001)
	b01 := horner(horner(horner(4*v014, z, 3*v013), z, 2*v012), z, v011)
	b02 := horner(horner(3*v023, z, 2*v022), z, v021)
	b03 := horner(2*v032, z, v031)
	b04 := horner(2*v042, z, v041)
	b05 := v051
	r0 := horner(horner(horner(horner(horner(b05, y, b04), y, b03), y, b02), y, b01), y, b00)
	b10 := horner(horner(horner(4*v104, z, 3*v103), z, 2*v102), z, v101)
	b11 := horner(horner(3*v113, z, 2*v112), z, v111)
	b12 := horner(2*v122, z, v121)
	b13 := horner(2*v132, z, v131)
	b14 := v141
	r1 := horner(horner(horner(horner(b14, y, b13), y, b12), y, b11), y, b10)
	b20 := horner(horner(3*v203, z, 2*v202), z, v201)
	b21 := horner(2*v212, z, v211)
	b22 := horner(2*v222, z, v221)
	b23 := v231
	r2 := horner(horner(horner(b23, y, b22), y, b21), y, b20)
	b30 := horner(2*v302, z, v301)
	b31 := horner(2*v312, z, v311)
	b32 := v321
	r3 := horner(horner(b32, y, b31), y, b30)
	b40 := horner(2*v402, z, v401)
	b41 := v411
	r4 := horner(b41, y, b40)
	b50 := v501
	r5 := b50
	return horner(horner(horner(horner(horner(r5, x, r4), x, r3), x, r2), x, r1), x, r0)
}

// standardColumn: powers of z of volume at SA = SSO, CT = 0 degC, lowest first.
var standardColumn = standardPowers()

func standardPowers() [7]float64 {
	x := volumeRoot(StandardSalinity)
	return [7]float64{
		horner(horner(horner(horner(horner(horner(v600, x, v500), x, v400), x, v300), x, v200), x, v100), x, v000),
		horner(horner(horner(horner(horner(v501, x, v401), x, v301), x, v201), x, v101), x, v001),
		horner(horner(horner(horner(v402, x, v302), x, v202), x, v102), x, v002),
		horner(horner(v203, x, v103), x, v003),
		horner(v104, x, v004), v005, v006,
	}
}

// standardVolume is volume of the standard ocean, SA = SSO and CT = 0 degC, in m3/kg.
func standardVolume(z float64) float64 {
	c := &standardColumn
	return horner(horner(horner(horner(horner(horner(c[6], z, c[5]), z, c[4]), z, c[3]), z, c[2]), z, c[1]), z, c[0])
}

// standardEnthalpy is the integral of standardVolume from 0 to z over pressure, in m2/s2 (Pa m3/kg).
func standardEnthalpy(z float64) float64 {
	c := &standardColumn
	s := horner(horner(horner(c[6]/7, z, c[5]/6), z, c[4]/5), z, c[3]/4)
	s = horner(horner(horner(s, z, c[2]/3), z, c[1]/2), z, c[0])
	return float64(1e8 * s * z)
}
