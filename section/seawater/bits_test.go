package seawater

import (
	"encoding/binary"
	"hash/fnv"
	"math"
	"testing"
)

// TestBits: the bits of Derive and of the functions beside it do not depend on the processor or on compiler settings
// such as GOAMD64=v3, which would otherwise fuse multiplications and additions. The number was computed by this test;
// it changes with any change of a result, which CHANGELOG then has to tell.
func TestBits(t *testing.T) {
	const n = 400
	sp, temperature, p, o2 := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range n { // quotients of whole numbers are the same everywhere
		k := float64(i)
		p[i], temperature[i], sp[i], o2[i] = k*15+0.5, 25/(1+k/20), 34.5+k/400, 150+k/4
	}
	at := PlaceOf(-30.25, 35.5)
	d := newDerived(n)
	Derive(d, sp, temperature, p, o2, &at)
	sa, ct := d.AbsoluteSalinity, d.ConservativeTemperature
	column := func() []float64 { return make([]float64, n) }
	cond := Conductivities(column(), sp, temperature, p)
	dilute := make([]float64, n)
	for i := range dilute {
		dilute[i] = cond[i] / 30
	}
	h := fnv.New64a()
	for _, values := range [][]float64{sa, ct, d.PotentialTemperature, d.Sigma0, d.Height, d.SoundSpeed, d.Spiciness0,
		d.OxygenSolubility,
		d.OxygenSaturation, d.MidPressure, d.BuoyancyFrequencySquared, cond, PracticalSalinities(column(), cond,
			temperature, p),
		PracticalSalinities(column(), dilute, temperature, p), Conductivities(column(), dilute, temperature, p),
		at.PracticalSalinities(column(), sa, p), InSituTemperatures(column(), sa, ct, p),
		SpecificVolumeAnomalies(column(), sa, ct, p),
		Densities(column(), sa, ct, p), Sigmas(column(), 4, sa, ct), ThermalExpansions(column(), sa, ct, p),
		HalineContractions(column(), sa, ct, p), FreezingTemperatures(column(), sa, p, AirSaturated),
		Gravities(column(), p, -61.3),
		DensityRatios(make([]float64, n-1), sa, ct, p)} {
		for _, v := range values {
			var b [8]byte
			binary.LittleEndian.PutUint64(b[:], math.Float64bits(v))
			_, _ = h.Write(b[:]) // a hash never fails
		}
	}
	for i := range n {
		var b [8]byte
		binary.LittleEndian.PutUint64(b[:], math.Float64bits(Pressure(d.Height[i], 35.5)+SoundSpeedPolynomial(sa[i],
			ct[i], p[i])+Coriolis(p[i]/100)))
		_, _ = h.Write(b[:])
	}
	if got, want := h.Sum64(), uint64(0x65dc0928ff323090); got != want {
		t.Errorf("hash of all results %#x, was %#x", got, want)
	}
}
