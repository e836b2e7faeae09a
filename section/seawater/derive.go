package seawater

// Derived names the destinations of Derive, each as long as the cast or nil when it is not wanted; those at mid pressures are
// one shorter. Units are those of the single functions.
type Derived struct {
	AbsoluteSalinity        []float64 // g/kg
	ConservativeTemperature []float64 // degC
	PotentialTemperature    []float64 // degC, referred to 0 dbar
	Sigma0                  []float64 // kg/m3
	Height                  []float64 // m, negative below the surface
	SoundSpeed              []float64 // m/s, exact
	Spiciness0              []float64 // kg/m3
	OxygenSolubility        []float64 // umol/kg
	OxygenSaturation        []float64 // %, needs oxygen

	MidPressure              []float64 // dbar, between neighbouring levels
	BuoyancyFrequencySquared []float64 // 1/s2, at MidPressure
}

// Derive fills the destinations of one cast from practical salinity sp, in-situ temperature t (degC, ITS-90), sea pressure p
// (dbar) and oxygen o2 (umol/kg; may be nil when OxygenSaturation is). Each result has the bits of the single function; what
// they have in common is computed once. Neighbours are bins i and i+1 as they stand: leave out missing bins first where
// BuoyancyFrequencySquared should reach across them.
func Derive(dst *Derived, sp, t, p, o2 []float64, at *Place) {
	dst.check(len(p), len(sp), len(t), len(o2))
	var g gibbs
	var v, d, half powersOfY
	var upper Level
	var gUpper float64
	needOxygen := dst.OxygenSolubility != nil || dst.OxygenSaturation != nil
	needPotential := needOxygen || dst.PotentialTemperature != nil
	needN2 := dst.BuoyancyFrequencySquared != nil
	needCT := dst.ConservativeTemperature != nil || dst.Sigma0 != nil || dst.Spiciness0 != nil || needN2
	needGibbs := needPotential || needCT || dst.SoundSpeed != nil
	needHeight := dst.Height != nil || needN2
	level := 0
	for i := range p {
		ratio, k := at.anomalyRatio(p[i], level)
		level = k
		sa := at.absolute(sp[i], ratio)
		put(dst.AbsoluteSalinity, i, sa)
		y, z := t[i]*perY, p[i]*perZ
		var pt, ct float64
		if needGibbs {
			x, x2 := saltRoot(sa)
			g.setSurface(x, x2)
			g.setDeep(x, x2)
			if dst.SoundSpeed != nil {
				g.atWithSlopes(z, &v, &d, &half)
				dst.SoundSpeed[i] = soundSpeed(&v, &d, &half, y)
			} else {
				g.at(z, &v)
			}
			if needPotential || needCT {
				pt = 40 * g.surface.sameEntropy(v.slope(y), y+guessPotential(x2, y, z))
				put(dst.PotentialTemperature, i, pt)
			}
		}
		if needCT {
			ct = g.conservative(pt)
			put(dst.ConservativeTemperature, i, ct)
			x := volumeRoot(sa)
			if dst.Sigma0 != nil {
				dst.Sigma0[i] = 1/surfaceVolume(x, ct*perY) - 1000
			}
			if dst.Spiciness0 != nil {
				dst.Spiciness0[i] = spice(x, ct*perY)
			}
		}
		if needOxygen {
			solubility := OxygenSolubility(sp[i], pt)
			put(dst.OxygenSolubility, i, solubility)
			if dst.OxygenSaturation != nil {
				dst.OxygenSaturation[i] = 100 * o2[i] / solubility
			}
		}
		var height float64
		if needHeight {
			height = heightAt(at.gravity, p[i], 0)
			put(dst.Height, i, height)
		}
		if needN2 {
			lower, gLower := Level{sa, ct, p[i]}, StandardGravity
			if at.gravity == at.gravity {
				gLower = gravityAt(at.gravity, height)
			}
			if i > 0 {
				dst.BuoyancyFrequencySquared[i-1] = BuoyancyFrequencySquared(upper, lower, 0.5*(gUpper+gLower))
			}
			upper, gUpper = lower, gLower
		}
	}
	if dst.MidPressure != nil {
		MidPressures(dst.MidPressure, p)
	}
}

func put(dst []float64, i int, value float64) {
	if dst != nil {
		dst[i] = value
	}
}

func (d *Derived) check(n, sp, t, o2 int) {
	sameLength(n, sp, t)
	if d.OxygenSaturation != nil {
		sameLength(n, o2)
	}
	for _, s := range [...][]float64{d.AbsoluteSalinity, d.ConservativeTemperature, d.PotentialTemperature, d.Sigma0, d.Height,
		d.SoundSpeed, d.Spiciness0, d.OxygenSolubility, d.OxygenSaturation} {
		if s != nil {
			sameLength(n, len(s))
		}
	}
	for _, s := range [...][]float64{d.MidPressure, d.BuoyancyFrequencySquared} {
		if s != nil {
			midLengths(len(s), n)
		}
	}
}
