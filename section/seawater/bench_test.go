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
	cond := Conductivities(make([]float64, len(p)), sp, t, p)
	dst := make([]float64, len(p))
	for _, c := range []struct {
		name string
		run  func()
	}{
		{"AbsoluteSalinities", func() { at.AbsoluteSalinities(dst, sp, p) }},
		{"ConservativeTemperatures", func() { ConservativeTemperatures(dst, sa, t, p) }},
		{"PotentialTemperatures", func() { PotentialTemperatures(dst, sa, t, p) }},
		{"PotentialsFromConservative", func() { PotentialsFromConservative(dst, sa, ct) }},
		{"SpecificVolumeAnomalies", func() { SpecificVolumeAnomalies(dst, sa, ct, p) }},
		{"Sigmas", func() { Sigmas(dst, 2, sa, ct) }},
		{"ThermalExpansions", func() { ThermalExpansions(dst, sa, ct, p) }},
		{"SoundSpeeds", func() { SoundSpeeds(dst, sa, t, p) }},
		{"Spicinesses0", func() { Spicinesses0(dst, sa, ct) }},
		{"Heights", func() { Heights(dst, p, 35) }},
		{"OxygenSolubilities", func() { OxygenSolubilities(dst, sp, pt) }},
		{"BuoyancyFrequenciesSquared", func() { BuoyancyFrequenciesSquared(dst[1:], sa, ct, p, &at) }},
		{"FreezingTemperatures", func() { FreezingTemperatures(dst, sa, p, AirSaturated) }},
		{"PracticalSalinities", func() { PracticalSalinities(dst, cond, t, p) }},
		{"Conductivities", func() { Conductivities(dst, sp, t, p) }},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c.run()
			}
			perBin(b, len(p))
		})
	}
}
