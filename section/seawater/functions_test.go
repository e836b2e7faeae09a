package seawater

import "math"

// Equations that follow from those of the package and that only its tests use.

func AbsoluteSalinity(sp, p, lon, lat float64) float64 {
	at := PlaceOf(lon, lat)
	return at.AbsoluteSalinity(sp, p)
}

// anomalyRatio is the Absolute Salinity Anomaly Ratio at sea pressure p in dbar.
func anomalyRatio(at *Place, p float64) float64 {
	ratio, _ := at.anomalyRatio(p, 0)
	return ratio
}

// ThermalExpansion is alpha in 1/K, HalineContraction beta in kg/g (IOC, SCOR and IAPSO 2010, sections 2.18 and 2.19).
func ThermalExpansion(sa, ct, p float64) float64 {
	v, _, byTemperature := SpecificVolumeSlopes(sa, ct, p)
	return byTemperature / v
}

func HalineContraction(sa, ct, p float64) float64 {
	v, bySalinity, _ := SpecificVolumeSlopes(sa, ct, p)
	return -bySalinity / v
}

func ConservativeFromPotential(sa, pt float64) float64 {
	var g gibbs
	g.setSurface(saltRoot(sa))
	return conservative(&g.surface, pt)
}

// each returns the n values of f.
func each(n int, f func(i int) float64) []float64 {
	dst := make([]float64, n)
	for i := range dst {
		dst[i] = f(i)
	}
	return dst
}

// PotentialFromConservative returns potential temperature in degC (ITS-90, referred to 0 dbar) from Absolute Salinity
// sa (g/kg) and Conservative Temperature ct (degC).
func PotentialFromConservative(sa, ct float64) float64 {
	var g gibbs
	x, x2 := saltRoot(sa)
	g.setSurface(x, x2)
	return g.potentialOfConservative(x2, ct)
}

// PracticalSalinity returns practical salinity from Absolute Salinity sa in g/kg and sea pressure p in dbar:
// AbsoluteSalinity inverted. NaN for a negative result.
func (pl *Place) PracticalSalinity(sa, p float64) float64 {
	ratio, _ := pl.anomalyRatio(p, 0)
	sp := sa / (ReferenceFactor * (1 + ratio))
	if pl.Composition == FromBaltic && ratio == ratio {
		sp = (sa - balticOffset) / balticSlope
	}
	if sp < 0 {
		return math.NaN()
	}
	return sp
}
