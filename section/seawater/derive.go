package seawater

// Derived names the destinations of Derive, each as long as the cast or nil when it is not wanted; those at mid
// pressures are one shorter. Units are those of the single functions.
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

// Derive fills the destinations of one cast from practical salinity sp, in-situ temperature t (degC, ITS-90), sea
// pressure p (dbar) and oxygen o2 (umol/kg; may be nil when OxygenSaturation is). Each result has the bits of the
// single function; what they have in common is computed once. Neighbours are bins i and i+1 as they stand: leave out
// missing bins first where BuoyancyFrequencySquared should reach across them.
func Derive(dst *Derived, sp, t, p, o2 []float64, at *Place) {
	dst.check(len(p), len(sp), len(t), len(o2))
	needOxygen := dst.OxygenSolubility != nil || dst.OxygenSaturation != nil
	needN2 := dst.BuoyancyFrequencySquared != nil
	needCT := dst.ConservativeTemperature != nil || dst.Sigma0 != nil || dst.Spiciness0 != nil || needN2
	needPotential := needOxygen || needCT || dst.PotentialTemperature != nil
	var b stretch
	for b.from = 0; b.from < len(p); b.from += stretchLen {
		to := min(b.from+stretchLen, len(p))
		b.sp, b.t, b.p = sp[b.from:to], t[b.from:to], p[b.from:to]
		b.salinity(dst.AbsoluteSalinity, at)
		if dst.SoundSpeed != nil || needPotential {
			b.gibbs(dst.SoundSpeed)
		}
		if needPotential {
			b.potential(dst.PotentialTemperature)
		}
		if needCT {
			b.conservative(dst.ConservativeTemperature)
		}
		if dst.Sigma0 != nil || dst.Spiciness0 != nil {
			b.surfaceProperties(dst.Sigma0, dst.Spiciness0)
		}
		if needOxygen {
			b.oxygen(dst.OxygenSolubility, dst.OxygenSaturation, o2)
		}
		if dst.Height != nil || needN2 {
			b.heights(dst.Height, at)
		}
		if needN2 {
			b.stability(dst.BuoyancyFrequencySquared, at)
		}
	}
	if dst.MidPressure != nil {
		MidPressures(dst.MidPressure, p)
	}
}

// stretchLen levels are worked on together, step by step: the processor then overlaps the long chains of operations of
// several levels, which it cannot when each level is finished before the next is begun. Results do not depend on it.
const stretchLen = 32

// A stretch is up to stretchLen neighbouring levels on their way through Derive, beginning at level from of the cast.
type stretch struct {
	from       int
	sp, t, p   []float64
	level      int // interval of the atlas that held the last pressure
	sa, pt, ct [stretchLen]float64
	entropy    [stretchLen]float64   // of the level, as a slope of g by y
	surface    [stretchLen]powersOfY // g at 0 dbar
	height     [stretchLen]float64
	above      Level // the last level of the stretch before, and its gravity
	aboveG     float64
}

func (b *stretch) salinity(dst []float64, at *Place) {
	var ratio float64
	for i, p := range b.p {
		ratio, b.level = at.anomalyRatio(p, b.level)
		b.sa[i] = at.absolute(b.sp[i], ratio)
	}
	b.put(dst, &b.sa)
}

func (b *stretch) gibbs(soundSpeeds []float64) {
	var g gibbs
	var v, d, half powersOfY
	for i, p := range b.p {
		x, x2 := saltRoot(b.sa[i])
		g.setSurface(x, x2)
		g.setDeep(x, x2)
		y := float64(b.t[i] * perY)
		if soundSpeeds != nil {
			g.atWithSlopes(p*perZ, &v, &d, &half)
			soundSpeeds[b.from+i] = soundSpeed(&v, &d, &half, y)
		} else {
			g.at(p*perZ, &v)
		}
		b.entropy[i] = v.slope(y)
		b.surface[i] = g.surface
	}
}

func (b *stretch) potential(dst []float64) {
	for i, p := range b.p {
		y := float64(b.t[i] * perY)
		b.pt[i] = 40 * b.surface[i].sameEntropy(b.entropy[i], y+guessPotential(b.sa[i]*perUnitX2, y, p*perZ))
	}
	b.put(dst, &b.pt)
}

func (b *stretch) conservative(dst []float64) {
	for i := range b.p {
		b.ct[i] = conservative(&b.surface[i], b.pt[i])
	}
	b.put(dst, &b.ct)
}

func (b *stretch) surfaceProperties(sigma0, spiciness []float64) {
	for i := range b.p {
		x, y := volumeRoot(b.sa[i]), b.ct[i]*perY
		if sigma0 != nil {
			sigma0[b.from+i] = 1/surfaceVolume(x, y) - 1000
		}
		if spiciness != nil {
			spiciness[b.from+i] = spice(x, y)
		}
	}
}

func (b *stretch) oxygen(solubilities, saturations, o2 []float64) {
	for i := range b.p {
		solubility := OxygenSolubility(b.sp[i], b.pt[i])
		if solubilities != nil {
			solubilities[b.from+i] = solubility
		}
		if saturations != nil {
			saturations[b.from+i] = 100 * o2[b.from+i] / solubility
		}
	}
}

func (b *stretch) heights(dst []float64, at *Place) {
	for i, p := range b.p {
		b.height[i] = heightAt(at.gravity, p)
	}
	b.put(dst, &b.height)
}

func (b *stretch) stability(dst []float64, at *Place) {
	for i, p := range b.p {
		here, g := Level{b.sa[i], b.ct[i], p}, StandardGravity
		if at.gravity == at.gravity {
			g = gravityAt(at.gravity, b.height[i])
		}
		if b.from+i > 0 {
			dst[b.from+i-1] = BuoyancyFrequencySquared(b.above, here, 0.5*(b.aboveG+g))
		}
		b.above, b.aboveG = here, g
	}
}

func (b *stretch) put(dst []float64, values *[stretchLen]float64) {
	if dst != nil {
		copy(dst[b.from:], values[:len(b.p)])
	}
}

func (d *Derived) check(n, sp, t, o2 int) {
	sameLength(n, sp, t)
	if d.OxygenSaturation != nil {
		sameLength(n, o2)
	}
	for _, s := range [...][]float64{d.AbsoluteSalinity, d.ConservativeTemperature, d.PotentialTemperature, d.Sigma0,
		d.Height,
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
