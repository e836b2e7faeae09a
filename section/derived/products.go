package derived

import (
	"math"

	"github.com/castwright/castwright/section/geostrophy"
	"github.com/castwright/castwright/section/interpolate"
	"github.com/castwright/castwright/section/seawater"
)

// Products of one profile: sa in g/kg, ct in degC, p in dbar, strictly increasing and without NaN. NaN means that there
// is no value.

// Mixed layer of de Boyer Montegut et al. 2004 (JGR 109, C12003), with Conservative in the place of potential
// temperature.
const (
	mixedFromDbar  = 10   // the value to compare with
	mixedNearDbar  = 5    // a usable level must lie within this of it
	mixedByKelvin  = 0.2  // degC
	mixedByDensity = 0.03 // kg/m3
)

// MixedLayer returns the pressures in dbar where, going down from 10 dbar, Conservative Temperature first differs by
// 0.2 degC from its value there, and where sigma0 first exceeds its value there by 0.03 kg/m3; linear between levels.
// NaN where that is not reached, and for both without a level within 5 dbar of 10 dbar. Source: de Boyer Montegut et
// al. 2004; the paper uses potential temperature, which moves the depth by 0.03 dbar in the open ocean and by 1 dbar
// under fresh tropical water.
func MixedLayer(sa, ct, p []float64) (byTemperatureDbar, byDensityDbar float64) {
	byTemperatureDbar, byDensityDbar = math.NaN(), math.NaN()
	from := 0 // first level below 10 dbar
	near := false
	for i, x := range p {
		near = near || math.Abs(x-mixedFromDbar) <= mixedNearDbar
		if x <= mixedFromDbar {
			from = i + 1
		}
	}
	if !near {
		return byTemperatureDbar, byDensityDbar
	}
	var s0, t0 float64
	switch {
	case from == 0: // the first level lies a little deeper
		s0, t0 = sa[0], ct[0]
	case from == len(p) || p[from-1] == mixedFromDbar:
		s0, t0 = sa[from-1], ct[from-1]
	default:
		w := (mixedFromDbar - p[from-1]) / (p[from] - p[from-1])
		s0, t0 = sa[from-1]+float64(w*(sa[from]-sa[from-1])), ct[from-1]+float64(w*(ct[from]-ct[from-1]))
	}
	d0 := seawater.Sigma0(s0, t0)
	byTemperatureDbar = firstCrossing(p, from, mixedByKelvin, func(i int) float64 { return math.Abs(ct[i] - t0) })
	byDensityDbar = firstCrossing(p, from, mixedByDensity,
		func(i int) float64 { return seawater.Sigma0(sa[i], ct[i]) - d0 })
	return byTemperatureDbar, byDensityDbar
}

// firstCrossing is the first pressure, from 10 dbar or level from down, where the excess reaches a limit.
func firstCrossing(p []float64, from int, limit float64, excess func(int) float64) float64 {
	above, e0 := float64(mixedFromDbar), 0.0
	for i := from; i < len(p); i++ {
		e := excess(i)
		if e >= limit {
			return above + float64((p[i]-above)*((limit-e0)/(e-e0)))
		}
		above, e0 = p[i], e
	}
	return math.NaN()
}

// surfaceCarryDbar: the first level's water is carried to the surface from no deeper than this (ours).
const surfaceCarryDbar = 20

// HeatContent returns cp0 times the integral of density times Conservative Temperature from the surface to a depth in
// m, in J/m2, relative to 0 degC: trapezoid over depth, the first level carried to the surface when it is within 20
// dbar of it. NaN when the profile begins deeper or does not reach the depth. Source: IOC, SCOR and IAPSO 2010, section
// 3.3 (potential enthalpy is cp0 CT).
func HeatContent(sa, ct, p []float64, latDeg, toM float64) float64 {
	if len(p) < 2 || p[0] > surfaceCarryDbar {
		return math.NaN()
	}
	content := func(i int) float64 { return seawater.Density(sa[i], ct[i], p[i]) * ct[i] }
	before, above := -seawater.Height(p[0], latDeg), content(0)
	if before >= toM {
		return seawater.HeatCapacity * toM * above
	}
	sum := before * above
	for i := 1; i < len(p); i++ {
		z, c := -seawater.Height(p[i], latDeg), content(i)
		if z >= toM {
			c = above + float64((c-above)*((toM-before)/(z-before)))
			return seawater.HeatCapacity * (sum + float64(0.5*(toM-before)*(c+above)))
		}
		sum += float64(0.5 * (z - before) * (c + above))
		before, above = z, c
	}
	return math.NaN()
}

// StericHeight returns the dynamic height anomaly at the surface relative to a pressure, divided by 9.7963 m/s2, in m:
// of the water as it is, and with salinity and temperature in turn held at that of the standard ocean (35.16504 g/kg, 0
// degC), which leaves the parts of temperature and of salinity. They do not sum exactly. NaN when the profile does not
// reach the pressure. Source: IOC, SCOR and IAPSO 2010, section 3.27 (steric height 9.7963 m/s2: mean gravity of the
// ocean's surface).
func StericHeight(sa, ct, p []float64, referenceDbar float64) (total, thermosteric, halosteric float64) {
	n := len(p)
	if n < 2 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	held := make([]float64, 3*n)
	salt, cold, dst := held[:n], held[n:2*n], held[2*n:]
	for i := range salt {
		salt[i] = seawater.StandardSalinity
	}
	at := func(s, t []float64) float64 {
		h, err := geostrophy.DynamicHeight(dst, s, t, p, referenceDbar, interpolate.Pchip)
		if err != nil {
			return math.NaN()
		}
		top := h[0]
		// The first level's water up to the surface.
		if p[0] > 0 {
			for x := 0.0; x < p[0]; x++ {
				y := math.Min(x+1, p[0])
				top += 0.5 * 1e4 * (y - x) * (seawater.SpecificVolumeAnomaly(s[0], t[0],
					x) + seawater.SpecificVolumeAnomaly(s[0], t[0], y))
			}
		}
		return top / seawater.StandardGravity
	}
	return at(sa, ct), at(salt, ct), at(sa, cold)
}

// FirstBaroclinicSpeed returns the speed in m/s of the first baroclinic mode over a flat bottom from N2 in 1/s2 at
// increasing depths in m (0 < depth < bottom): w” + (N2/c2) w = 0 with w = 0 at the surface and the bottom, by second
// differences on the nodes 0, depths, bottom, and the smallest eigenvalue by inverse iteration. N2 below 1e-8 counts as
// that. NaN for fewer than two depths. Source: Chelton et al. 1998, JPO 28, 433.
func FirstBaroclinicSpeed(depthM, n2 []float64, bottomM float64) float64 {
	n := len(depthM)
	if n < 2 || !(bottomM > depthM[n-1]) || !(depthM[0] > 0) {
		return math.NaN()
	}
	const floor = 1e-8
	buf := make([]float64, 5*n)
	mass, diag, off, x, y := buf[:n], buf[n:2*n], buf[2*n:3*n], buf[3*n:4*n], buf[4*n:]
	above := 0.0
	for i, d := range depthM {
		below := bottomM
		if i+1 < n {
			below = depthM[i+1]
		}
		mass[i] = math.Max(n2[i], floor) * (below - above) / 2
		diag[i] = 1/(d-above) + 1/(below-d)
		off[i] = -1 / (below - d)
		above = d
		x[i] = math.Min(d, bottomM-d)
	}
	// K = L D L^T once, then K y = M x again and again.
	for i := 1; i < n; i++ {
		diag[i] -= off[i-1] * off[i-1] / diag[i-1]
	}
	lambda := math.NaN()
	for range 200 {
		for i := range y {
			y[i] = mass[i] * x[i]
			if i > 0 {
				y[i] -= off[i-1] / diag[i-1] * y[i-1]
			}
		}
		for i := n - 1; i >= 0; i-- {
			y[i] /= diag[i]
			if i < n-1 {
				y[i] -= off[i] / diag[i] * y[i+1]
			}
		}
		// Rayleigh quotient of y: y K y = y M x.
		var up, down float64
		for i := range y {
			up += float64(y[i] * mass[i] * x[i])
			down += float64(y[i] * mass[i] * y[i])
		}
		before := lambda
		lambda = up / down
		scale := 1 / math.Sqrt(down)
		for i := range x {
			x[i] = y[i] * scale
		}
		if math.Abs(lambda-before) <= 1e-14*lambda {
			break
		}
	}
	return 1 / math.Sqrt(lambda)
}

// FirstBaroclinicSpeedWKB is the estimate (1/pi) times the integral of N over depth, in m/s: trapezoid over the depths,
// the end values carried to the surface and the bottom, N2 below 0 counted as 0. Source: Chelton et al. 1998.
func FirstBaroclinicSpeedWKB(depthM, n2 []float64, bottomM float64) float64 {
	n := len(depthM)
	if n < 2 || !(bottomM >= depthM[n-1]) {
		return math.NaN()
	}
	root := func(i int) float64 { return math.Sqrt(math.Max(n2[i], 0)) }
	sum := float64(root(0)*depthM[0]) + float64(root(n-1)*(bottomM-depthM[n-1]))
	for i := 1; i < n; i++ {
		sum += float64(0.5 * (root(i) + root(i-1)) * (depthM[i] - depthM[i-1]))
	}
	return sum / math.Pi
}

// betaEquator is the change of the Coriolis parameter with distance northward at the equator, 1/(m s).
const betaEquator = 2.28e-11

// RossbyRadius returns the first baroclinic Rossby radius in m of a mode of speed c in m/s: c/|f|, or the equatorial
// radius sqrt(c/(2 beta)) within 5 degrees of the equator. Source: Chelton et al. 1998.
func RossbyRadius(c, latDeg float64) float64 {
	if math.Abs(latDeg) < 5 {
		return math.Sqrt(c / (2 * betaEquator))
	}
	return c / math.Abs(seawater.Coriolis(latDeg))
}
