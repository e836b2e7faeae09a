package seawater

import (
	"math"
	"testing"
)

// benchCast makes one full-depth cast of 1 dbar bins, invented.
func benchCast() (sp, t, p, o2 []float64, at Place) {
	const n = 4954 // 743164 bins over 150 casts, the size of a standard cruise
	sp, t, p, o2 = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n {
		d := float64(i) + 1
		p[i] = d
		t[i] = 1.3 + 25*math.Exp(-d/600) + 0.02*math.Sin(d/3)
		sp[i] = 34.7 + 0.9*math.Exp(-d/400) + 0.003*math.Cos(d/5)
		o2[i] = 200 + 30*math.Sin(d/700)
	}
	return sp, t, p, o2, PlaceOf(-30, 35.5)
}

func newDerived(n int) *Derived {
	column := func() []float64 { return make([]float64, n) }
	return &Derived{
		AbsoluteSalinity: column(), ConservativeTemperature: column(), PotentialTemperature: column(), Sigma0: column(),
		Height:     column(),
		SoundSpeed: column(), Spiciness0: column(), OxygenSolubility: column(), OxygenSaturation: column(),
		MidPressure: column()[:max(n-1, 0)], BuoyancyFrequencySquared: column()[:max(n-1, 0)],
	}
}

func BenchmarkDerive(b *testing.B) {
	sp, t, p, o2, at := benchCast()
	d := newDerived(len(p))
	b.ReportAllocs()
	for b.Loop() {
		Derive(d, sp, t, p, o2, &at)
	}
	perBin(b, len(p))
}

func perBin(b *testing.B, n int) {
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/bin")
}

func BenchmarkPlaceOf(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		PlaceOf(-30, 35.5)
	}
}

func BenchmarkProfiles(b *testing.B) {
	sp, t, p, o2, at := benchCast()
	d := newDerived(len(p))
	Derive(d, sp, t, p, o2, &at)
	sa, ct, pt := d.AbsoluteSalinity, d.ConservativeTemperature, d.PotentialTemperature
	cond := each(len(p), func(i int) float64 { return Conductivity(sp[i], t[i], p[i]) })
	dst := make([]float64, len(p))
	for _, c := range []struct {
		name string
		one  func(i int) float64
	}{
		{"AbsoluteSalinity", func(i int) float64 { return at.AbsoluteSalinity(sp[i], p[i]) }},
		{"ConservativeTemperature", func(i int) float64 { return ConservativeTemperature(sa[i], t[i], p[i]) }},
		{"PotentialTemperature", func(i int) float64 { return PotentialTemperature(sa[i], t[i], p[i]) }},
		{"PotentialFromConservative", func(i int) float64 { return PotentialFromConservative(sa[i], ct[i]) }},
		{"SpecificVolumeAnomaly", func(i int) float64 { return SpecificVolumeAnomaly(sa[i], ct[i], p[i]) }},
		{"Sigma", func(i int) float64 { return Sigma(2, sa[i], ct[i]) }},
		{"ThermalExpansion", func(i int) float64 { return ThermalExpansion(sa[i], ct[i], p[i]) }},
		{"SoundSpeed", func(i int) float64 { return SoundSpeed(sa[i], t[i], p[i]) }},
		{"Spiciness0", func(i int) float64 { return Spiciness0(sa[i], ct[i]) }},
		{"Height", func(i int) float64 { return Height(p[i], at.LatDeg) }},
		{"OxygenSolubility", func(i int) float64 { return OxygenSolubility(sp[i], pt[i]) }},
		{"FreezingInSitu", func(i int) float64 { return FreezingInSitu(sa[i], p[i], AirSaturated) }},
		{"PracticalSalinity", func(i int) float64 { return PracticalSalinity(cond[i], t[i], p[i]) }},
		{"Conductivity", func(i int) float64 { return Conductivity(sp[i], t[i], p[i]) }},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				for i := range dst {
					dst[i] = c.one(i)
				}
			}
			perBin(b, len(p))
		})
	}
}
