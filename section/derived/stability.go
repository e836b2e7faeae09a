package derived

import (
	"fmt"
	"math"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// defaultWindowDbar is the span of the fits of the squared buoyancy frequency: within the 20 to 50 dbar that are common
// practice, since differences of neighbouring bins of 1 or 2 dbar are mostly noise.
const defaultWindowDbar = 40

func (d *deriver) windowComment() string {
	return fmt.Sprintf(
		"slopes of Absolute Salinity and Conservative Temperature fitted by least squares over %g dbar around each level "+
			"(over three neighbouring levels where these lie further apart; the part of the span that is there at the ends and beside gaps)",
		d.opts.N2WindowDbar)
}

// buoyancyFrequencySquared computes n2 at the usable, increasing levels.
func (w *waters) buoyancyFrequencySquared(dst []float64) {
	p, sa, ct := w.pres(), w.sa(), w.ct()
	index := grow(&w.scratch.index, len(dst))[:0]
	last := math.Inf(-1)
	for i := range p {
		dst[i] = math.NaN()
		if p[i] > last && sa[i] == sa[i] && ct[i] == ct[i] {
			index = append(index, i)
			last = p[i]
		}
	}
	m := len(index)
	buf := make([]float64, 4*m)
	x, s, t, out := buf[:m], buf[m:2*m], buf[2*m:3*m], buf[3*m:]
	for k, i := range index {
		x[k], s[k], t[k] = p[i], sa[i], ct[i]
	}
	BuoyancyFrequenciesSquared(out, s, t, x, w.windowDbar, &w.at)
	for k, i := range index {
		dst[i] = out[k]
	}
}

// BuoyancyFrequenciesSquared fills dst with N2 in 1/s2 at each level, from slopes of SA (g/kg) and CT (degC) against
// pressure p (dbar, strictly increasing) fitted over windowDbar around the level: over the level and its two neighbours
// where fewer than three levels lie in the window, NaN where even these are not there. No fit reaches across a gap
// (section.Gaps). Source: IOC, SCOR and IAPSO 2010, section 3.10, with fitted slopes in the place of differences; the
// window is common practice.
func BuoyancyFrequenciesSquared(dst, sa, ct, p []float64, windowDbar float64, at *seawater.Place) []float64 {
	from := 0
	gaps := section.Gaps(p, nil)
	for k := 0; k <= len(gaps); k++ {
		to := len(p)
		if k < len(gaps) {
			to = gaps[k].Above + 1
		}
		fitted(dst[from:to], sa[from:to], ct[from:to], p[from:to], windowDbar, at)
		from = to
	}
	return dst
}

// fitted is BuoyancyFrequenciesSquared between gaps.
func fitted(dst, sa, ct, p []float64, windowDbar float64, at *seawater.Place) {
	n := len(p)
	half := 0.5 * windowDbar
	lo, hi := 0, 0
	for i := range dst {
		dst[i] = math.NaN()
		for lo < n && p[lo] < p[i]-half {
			lo++
		}
		for hi < n && p[hi] <= p[i]+half {
			hi++
		}
		a, b := lo, hi
		if b-a < 3 {
			a, b = i-1, i+2
			if a < 0 || b > n {
				continue
			}
		}
		slopeS, slopeT, meanS, meanT, meanP := slopes(sa[a:b], ct[a:b], p[a:b], sa[i], ct[i], p[i])
		// Two levels half a dbar above and below the middle of the fit, on its line: their means and differences are
		// the fit's.
		upper := seawater.Level{SA: meanS - 0.5*slopeS, CT: meanT - 0.5*slopeT, P: meanP - 0.5}
		lower := seawater.Level{SA: meanS + 0.5*slopeS, CT: meanT + 0.5*slopeT, P: meanP + 0.5}
		dst[i] = seawater.BuoyancyFrequencySquared(upper, lower, stabilityGravity(at, meanP))
	}
}

func stabilityGravity(at *seawater.Place, p float64) float64 {
	if g := at.Gravity(p); g == g {
		return g
	}
	return seawater.StandardGravity
}

// slopes fits straight lines against p; values are taken relative to those of the level at hand, so that nothing
// cancels.
func slopes(sa, ct, p []float64, s0, t0, p0 float64) (slopeS, slopeT, meanS, meanT, meanP float64) {
	var x, y, z, xx, xy, xz float64
	for i := range p {
		dp, ds, dt := p[i]-p0, sa[i]-s0, ct[i]-t0
		x += dp
		y += ds
		z += dt
		xx += float64(dp * dp)
		xy += float64(dp * ds)
		xz += float64(dp * dt)
	}
	n := float64(len(p))
	den := xx - float64(x*x)/n
	slopeS, slopeT = (xy-float64(x*y)/n)/den, (xz-float64(x*z)/n)/den
	return slopeS, slopeT, s0 + y/n, t0 + z/n, p0 + x/n
}
