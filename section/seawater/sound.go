package seawater

import "math"

// SoundSpeed returns the speed of sound in m/s of Absolute Salinity sa (g/kg), in-situ temperature t (degC, ITS-90) and
// sea pressure p (dbar), from the Gibbs function: c = g_p sqrt(g_tt/(g_tp^2 - g_tt g_pp)). Valid for 0 to 42 g/kg, -2
// to 40 degC, 0 to 1e4 dbar. Source: IOC, SCOR and IAPSO 2010, equation 2.17.1. This is the one to publish. A negative
// salinity is NaN.
func SoundSpeed(sa, t, p float64) float64 {
	var g gibbs
	var v, d, h powersOfY
	x, x2 := saltRoot(sa)
	g.setSurface(x, x2)
	g.setDeep(x, x2)
	g.atWithSlopes(p*perZ, &v, &d, &h)
	return soundSpeed(&v, &d, &h, t*perY)
}

// soundSpeed takes g, its derivative by z and half the second one, as polynomials in y. The scales of y and z cancel.
func soundSpeed(v, d, h *powersOfY, y float64) float64 {
	gtt, gtp, gpp := v.curvature(y), d.slope(y), 2*h.value(y)
	return d.value(y) * math.Sqrt(gtt/(float64(gtp*gtp)-float64(gtt*gpp)))
}
