package seawater

import "math"

const (
	earthRotation = 7.292115e-5 // rad/s (IOC, SCOR and IAPSO 2010, appendix D)
	gravityByZ    = 2.26e-7     // 1/m, gamma: relative increase of gravity with depth in the sea (same, appendix D)
)

// SurfaceGravity returns the gravity in m/s2 at the sea surface at a latitude in degrees north (Moritz 2000, J. Geodesy
// 74, 128). NaN outside -90..90.
func SurfaceGravity(lat float64) float64 {
	s := sinDeg(lat)
	s2 := s * s
	return 9.780327 * quadratic(s2, 1, 5.2792e-3, 2.32e-5)
}

// Gravity returns the gravity in m/s2 at a latitude in degrees north and a sea pressure p in dbar.
func Gravity(lat, p float64) float64 {
	g0 := SurfaceGravity(lat)
	return gravityAt(g0, heightAt(g0, p))
}

// Coriolis returns the Coriolis parameter f = 2 Omega sin(lat) in 1/s at a latitude in degrees north.
func Coriolis(lat float64) float64 { return 2 * earthRotation * sinDeg(lat) }

// Height returns the height in metres, negative below the surface, at a sea pressure p in dbar and a latitude in
// degrees north, for an ocean of standard salinity at 0 degC; depth is -Height. Source: IOC, SCOR and IAPSO 2010,
// section 3.32, after Saunders 1981, with the 75-term specific volume.
func Height(p, lat float64) float64 { return heightAt(SurfaceGravity(lat), p) }

// Pressure returns the sea pressure in dbar at a height in metres (negative below the surface) and a latitude in
// degrees north: Height inverted, by Newton's rule.
func Pressure(height, lat float64) float64 {
	g0 := SurfaceGravity(lat)
	// The geopotential of the height equals the integral of specific volume over pressure.
	h := float64(-g0 * horner(-0.5*gravityByZ, height, 1) * height)
	z := -height * perZ
	for range 6 {
		step := (standardEnthalpy(z) - h) / (1e8 * standardVolume(z))
		z -= step
		if !(math.Abs(step) > 1e-9) {
			break
		}
	}
	return 1e4 * z
}

// heightAt solves H = -g0 (z - gamma z^2/2) for z, in the form that is exact near 0.
func heightAt(g0, p float64) float64 {
	h := standardEnthalpy(p * perZ)
	return -2 * h / (g0 + math.Sqrt(float64(g0*g0)+float64(2*gravityByZ*g0*h)))
}

func gravityAt(g0, z float64) float64 { return g0 * horner(-gravityByZ, z, 1) }

// Heights fills dst with Height in metres at each sea pressure in dbar.
func Heights(dst, p []float64, lat float64) []float64 {
	sameLength(len(dst), len(p))
	g0 := SurfaceGravity(lat)
	for i := range dst {
		dst[i] = heightAt(g0, p[i])
	}
	return dst
}
