package geostrophy

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/section/interpolate"
	"github.com/castwright/castwright/section/seawater"
)

const pascal = 1e4 // in one dbar

// standard holds the specific volume of the standard ocean (SSO, 0 degC) at whole pressures, which the casts of a
// section share.
type standard struct{ v []float64 }

func newStandard(deepestDbar float64) *standard {
	s := &standard{v: make([]float64, max(0, int(deepestDbar))+1)}
	for i := range s.v {
		s.v[i] = seawater.SpecificVolume(seawater.StandardSalinity, 0, float64(i))
	}
	return s
}

func (s *standard) at(p float64) float64 {
	if n := int(p); n >= 0 && float64(n) == p && n < len(s.v) {
		return s.v[n]
	}
	return seawater.SpecificVolume(seawater.StandardSalinity, 0, p)
}

// A column is one span of a profile on its integration grid.
type column struct {
	p, sa, ct []float64
	v         []float64 // specific volume, m3/kg
	sum       []float64 // integral of the specific volume anomaly from p[0], m2/s2
	top       []float64 // references above p[0], to which its water is carried up
	topSum    []float64 // the integral there
	ofPair    bool      // a pair uses it
	modes     *modes    // error integrals of those; else nil
}

// newColumn puts a span of a profile (strictly increasing p) on its integration grid and sums the anomaly. Pressures of
// extra (increasing; none below the span) become points of the grid. Where no step exceeds 1 dbar and all of extra are
// bins, the grid is the bins; otherwise it is the union of the bins, the first bin + n dbar, and extra, with salinity
// and temperature interpolated. Above the first bin its values are carried up in steps of 1 dbar from the shallowest of
// extra, a mixed layer that the interpolation sees. TEOS-10 manual 3.27; the grid is that of the published check
// values.
func newColumn(p, sa, ct, extra []float64, how interpolate.Method, std *standard, w *interpolate.Workspace) *column {
	c := &column{p: p, sa: sa, ct: ct}
	n := 0
	for n < len(extra) && extra[n] < p[0] {
		n++
	}
	if !fineEnough(p) || !contains(p, extra[n:]) {
		if n > 0 {
			p, sa, ct = carryUp(p, sa, ct, extra[:n])
			n = 0
		}
		c.p = unionGrid(p, extra)
		c.sa, c.ct = make([]float64, len(c.p)), make([]float64, len(c.p))
		if how == interpolate.Rotated && len(p) < 2 {
			how = interpolate.Linear
		}
		w.Pair(c.sa, c.ct, how, p, sa, ct, c.p)
	}
	c.v, c.sum = make([]float64, len(c.p)), make([]float64, len(c.p))
	c.integrate(std)
	c.top = extra[:n]
	for _, x := range c.top {
		c.topSum = append(c.topSum, above(x, c.p[0], c.sa[0], c.ct[0], std))
	}
	return c
}

// integrate sums the specific volume anomaly by the trapezoid rule.
func (c *column) integrate(std *standard) {
	before := 0.0
	for i, p := range c.p {
		v := seawater.SpecificVolume(c.sa[i], c.ct[i], p)
		c.v[i] = v
		d := v - std.at(p)
		if i > 0 {
			c.sum[i] = c.sum[i-1] + float64(0.5*pascal*(p-c.p[i-1])*(d+before))
		}
		before = d
	}
}

// fineEnough reports whether no step exceeds 1 dbar (to the rounding of decimal bins).
func fineEnough(p []float64) bool {
	for i := 1; i < len(p); i++ {
		if p[i]-p[i-1] > 1+1e-9 {
			return false
		}
	}
	return true
}

// contains reports whether all of some (increasing) are among p (increasing).
func contains(p, some []float64) bool {
	i := 0
	for _, x := range some {
		for i < len(p) && p[i] < x {
			i++
		}
		if i == len(p) || p[i] != x {
			return false
		}
	}
	return true
}

// nearDbar: a point of the regular grid this near to a bin is left out, as in the published check values.
const nearDbar = 1e-3

// unionGrid merges the bins, the first bin + n dbar, and extra points between the first and the last bin.
func unionGrid(p, extra []float64) []float64 {
	first, last := p[0], p[len(p)-1]
	out := make([]float64, 0, len(p)+len(extra)+int(last-first)+2)
	i, j := 0, 0
	for n := 0; ; n++ {
		x := first + float64(n)
		// Bins and extra points up to x; one very near to x replaces it.
		for i < len(p) && p[i] <= x+nearDbar || j < len(extra) && extra[j] <= x+nearDbar {
			if j >= len(extra) || i < len(p) && p[i] <= extra[j] {
				if j < len(extra) && p[i] == extra[j] {
					j++
				}
				out = append(out, p[i])
				i++
				continue
			}
			if extra[j] > last {
				j++
				continue
			}
			out = append(out, extra[j])
			j++
		}
		if x >= last {
			return out
		}
		if len(out) == 0 || out[len(out)-1] < x-nearDbar {
			out = append(out, x)
		}
	}
}

// carryUp puts levels above the first bin, with its values: from the shallowest of extra in steps of 1 dbar.
func carryUp(p, sa, ct, extra []float64) (outP, outSA, outCT []float64) {
	for x := extra[0]; x < p[0]; x++ {
		outP, outSA, outCT = append(outP, x), append(outSA, sa[0]), append(outCT, ct[0])
	}
	return append(outP, p...), append(outSA, sa...), append(outCT, ct...)
}

// above returns the integral of the specific volume anomaly from the first bin up to pressure x above it (negative
// where the water is light), with the first bin's values carried up in steps of 1 dbar counted from x.
func above(x, first, sa, ct float64, std *standard) float64 {
	sum, p := 0.0, x
	before := seawater.SpecificVolume(sa, ct, p) - std.at(p)
	for p < first {
		next := math.Min(p+1, first)
		d := seawater.SpecificVolume(sa, ct, next) - std.at(next)
		sum -= float64(0.5 * pascal * (next - p) * (d + before))
		before, p = d, next
	}
	return sum
}

// sumAt is the integral from the first bin to pressure p, which is on the grid or one of the points above it.
func (c *column) sumAt(p float64) float64 {
	if i := slices.Index(c.top, p); i >= 0 {
		return c.topSum[i]
	}
	return c.sum[c.find(p, 0)]
}

// find returns the index of pressure p, which is on the grid, searching upwards from i.
func (c *column) find(p float64, i int) int {
	if i < len(c.p) && c.p[i] <= p {
		for c.p[i] < p {
			i++
		}
		return i
	}
	i, _ = slices.BinarySearch(c.p, p)
	return i
}

// DynamicHeight fills dst with the dynamic height anomaly in m2/s2 at each level, the integral of specific volume
// anomaly from the level to referenceDbar: positive above it in water lighter than the standard ocean. sa is Absolute
// Salinity in g/kg, ct Conservative Temperature in degC, p sea pressure in dbar. Levels with NaN, and those not deeper
// than one before them, are passed over and NaN in dst. Interpolation is Linear, Pchip or Rotated. A reference above
// the first level takes that level's water up to it.
//
// The error is ErrTooFewLevels, or ErrNoReference when the reference is below the last usable level; dst is NaN then.
// Source: IOC, SCOR and IAPSO 2010, section 3.27. No gap rule is applied.
func DynamicHeight(dst, sa, ct, p []float64, referenceDbar float64, how interpolate.Method) ([]float64, error) {
	if len(dst) != len(p) || len(sa) != len(p) || len(ct) != len(p) {
		panic("geostrophy: slices of different length")
	}
	var x, s, t []float64
	last := negInf
	for i := range p {
		dst[i] = nan
		if p[i] > last && sa[i] >= 0 && ct[i] == ct[i] {
			last = p[i]
			x, s, t = append(x, p[i]), append(s, sa[i]), append(t, ct[i])
		}
	}
	if len(x) < 2 {
		return dst, fmt.Errorf("%w: %d", ErrTooFewLevels, len(x))
	}
	if !(referenceDbar <= last) {
		return dst, fmt.Errorf("%w: %g dbar, the last usable level is %g", ErrNoReference, referenceDbar, last)
	}
	c := newColumn(x, s, t, []float64{referenceDbar}, how, newStandard(math.Ceil(last)), new(interpolate.Workspace))
	at := c.sumAt(referenceDbar)
	j, k := 0, 0
	for i := range p {
		if k < len(x) && p[i] == x[k] && sa[i] >= 0 && ct[i] == ct[i] {
			k++
			j = c.find(p[i], j)
			dst[i] = at - c.sum[j]
		}
	}
	return dst, nil
}
