package seawater

// Specific volume by the 75-term polynomial and what follows from it. sa is Absolute Salinity in g/kg, ct Conservative
// Temperature in degC, p sea pressure in dbar. Valid in the "oceanographic funnel" of Roquet et al. 2015 (Ocean
// Modelling 90, 29): 0 to 42 g/kg and freezing to 40 degC at the surface, narrowing to 30 to 40 g/kg and -2 to 12 degC
// below 5500 dbar; its density lies within 6e-4 kg/m3 of the Gibbs function there. A negative salinity is NaN.

// SpecificVolume returns the specific volume in m3/kg.
func SpecificVolume(sa, ct, p float64) float64 { return volume(volumeRoot(sa), ct*perY, p*perZ) }

// Density returns the density in kg/m3.
func Density(sa, ct, p float64) float64 { return 1 / SpecificVolume(sa, ct, p) }

// SpecificVolumeAnomaly returns the specific volume in m3/kg less that of the standard ocean (SSO, 0 degC) at the same
// pressure (IOC, SCOR and IAPSO 2010, section 3.7).
func SpecificVolumeAnomaly(sa, ct, p float64) float64 {
	z := p * perZ
	return volume(volumeRoot(sa), ct*perY, z) - standardVolume(z)
}

// Sigma0 returns potential density in kg/m3 referred to 0 dbar, less 1000 kg/m3.
func Sigma0(sa, ct float64) float64 { return 1/surfaceVolume(volumeRoot(sa), ct*perY) - 1000 }

// Sigma returns potential density in kg/m3 referred to thousands times 1000 dbar, less 1000 kg/m3; thousands is 0 to 4.
func Sigma(thousands int, sa, ct float64) float64 {
	if thousands < 0 || thousands > 4 {
		panic(noSuchReference)
	}
	return 1/volume(volumeRoot(sa), ct*perY, float64(thousands)/10) - 1000
}

// SpecificVolumeSlopes returns the specific volume v in m3/kg and its derivatives by Absolute Salinity, in m3/kg per
// g/kg, and by Conservative Temperature, in m3/kg per K.
func SpecificVolumeSlopes(sa, ct, p float64) (v, bySalinity, byTemperature float64) {
	x := volumeRoot(sa)
	v, vx, vy := volumeSlopes(x, ct*perY, p*perZ)
	return v, vx * (0.5 * perUnitX2) / x, vy * perY
}

// SpecificVolumeAnomalies fills dst with SpecificVolumeAnomaly of each level.
func SpecificVolumeAnomalies(dst, sa, ct, p []float64) []float64 {
	sameLength(len(dst), len(sa), len(ct), len(p))
	for i := range dst {
		dst[i] = SpecificVolumeAnomaly(sa[i], ct[i], p[i])
	}
	return dst
}

// Densities fills dst with Density of each level.
func Densities(dst, sa, ct, p []float64) []float64 {
	sameLength(len(dst), len(sa), len(ct), len(p))
	for i := range dst {
		dst[i] = Density(sa[i], ct[i], p[i])
	}
	return dst
}

// Sigmas fills dst with Sigma of each level.
func Sigmas(dst []float64, thousands int, sa, ct []float64) []float64 {
	sameLength(len(dst), len(sa), len(ct))
	for i := range dst {
		dst[i] = Sigma(thousands, sa[i], ct[i])
	}
	return dst
}
