package seawater

import (
	"encoding/binary"
	"hash/fnv"
	"math"
	"testing"
)

// TestBits: the bits of Derive and of the functions beside it do not depend on the processor or on compiler settings
// such as GOAMD64=v3, which would otherwise fuse multiplications and additions. The number was computed by this test;
// it changes with any change of a result, which CHANGELOG then reports.
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
	cond := each(n, func(i int) float64 { return Conductivity(sp[i], temperature[i], p[i]) })
	dilute := each(n, func(i int) float64 { return cond[i] / 30 })
	h := fnv.New64a()
	for _, values := range [][]float64{sa, ct, d.PotentialTemperature, d.Sigma0, d.Height, d.SoundSpeed, d.Spiciness0,
		d.OxygenSolubility,
		d.OxygenSaturation, d.MidPressure, d.BuoyancyFrequencySquared, cond,
		each(n, func(i int) float64 { return PracticalSalinity(cond[i], temperature[i], p[i]) }),
		each(n, func(i int) float64 { return PracticalSalinity(dilute[i], temperature[i], p[i]) }),
		each(n, func(i int) float64 { return Conductivity(dilute[i], temperature[i], p[i]) }),
		each(n, func(i int) float64 { return at.PracticalSalinity(sa[i], p[i]) }),
		each(n, func(i int) float64 { return InSituTemperature(sa[i], ct[i], p[i]) }),
		SpecificVolumeAnomalies(make([]float64, n), sa, ct, p), Densities(make([]float64, n), sa, ct, p),
		Sigmas(make([]float64, n), 4, sa, ct),
		each(n, func(i int) float64 { return ThermalExpansion(sa[i], ct[i], p[i]) }),
		each(n, func(i int) float64 { return HalineContraction(sa[i], ct[i], p[i]) }),
		each(n, func(i int) float64 { return FreezingInSitu(sa[i], p[i], AirSaturated) }),
		each(n, func(i int) float64 { return Gravity(-61.3, p[i]) }),
		each(n, func(i int) float64 { return Pressure(d.Height[i], 35.5) + Coriolis(p[i]/100) })} {
		for _, v := range values {
			var b [8]byte
			binary.LittleEndian.PutUint64(b[:], math.Float64bits(v))
			_, _ = h.Write(b[:]) // a hash never fails
		}
	}
	if got, want := h.Sum64(), uint64(0x50e16071d772bc40); got != want {
		t.Errorf("hash of all results %#x, was %#x", got, want)
	}
}
