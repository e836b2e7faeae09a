package gridding

import (
	"math"
	"slices"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
)

// carryDbar is how far above its first usable bin a cast's first value is carried (ours).
const carryDbar = 10.0

// A profile is the usable values of one variable of one cast on strictly increasing pressures, cut at gaps.
type profile struct {
	p, v   []float64
	starts []int // index of the first bin of each run without a gap
}

// usableProfile takes the values with usable flags; a bin whose pressure does not increase is left out.
// Slices are shared with the cast, and with the profile samePlace of another variable, where they are alike.
func usableProfile(c *section.Cast, name string, uncalibrated bool, maxGapDbar *float64, samePlace *profile) profile {
	col := c.Column(name)
	if col == nil || col.Values == nil {
		return profile{}
	}
	pres := c.Column("pres")
	levels := make([]int, 0, len(c.PressureDbar))
	before := math.Inf(-1)
	for i, p := range c.PressureDbar {
		v := col.Values[i]
		if !math.IsNaN(v) && !math.IsInf(v, 0) && !math.IsInf(p, 0) && p > before &&
			(col.Flags == nil || col.Flags[i].Usable(uncalibrated)) &&
			(pres == nil || pres.Flags == nil || pres.Flags[i].Usable(uncalibrated)) {
			levels, before = append(levels, i), p
		}
	}
	q := profile{p: c.PressureDbar, v: col.Values} // the usual case needs no copy
	if n := len(levels); n < len(q.p) {
		q.p = section.Take(make([]float64, 0, n), q.p, levels)
		q.v = section.Take(make([]float64, 0, n), q.v, levels)
		if samePlace != nil && slices.Equal(q.p, samePlace.p) {
			q.p = samePlace.p
		}
	}
	q.cut(maxGapDbar)
	return q
}

// cut finds the runs without a gap.
func (q *profile) cut(maxGapDbar *float64) {
	q.starts = q.starts[:0]
	if len(q.p) == 0 {
		return
	}
	q.starts = append(q.starts, 0)
	for _, g := range section.Gaps(q.p, maxGapDbar) {
		q.starts = append(q.starts, g.Above+1)
	}
}

// median of a slice, which it sorts; NaN for an empty one.
func median(v []float64) float64 {
	n := len(v)
	if n == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}

func (q *profile) first() float64 {
	if len(q.p) == 0 {
		return math.NaN()
	}
	return q.p[0]
}

func (q *profile) last() float64 {
	if len(q.p) == 0 {
		return math.NaN()
	}
	return q.p[len(q.p)-1]
}

// inGap reports whether a pressure lies inside a gap.
func (q *profile) inGap(p float64) bool {
	for k := 1; k < len(q.starts); k++ {
		i := q.starts[k]
		if p > q.p[i-1] && p < q.p[i] {
			return true
		}
	}
	return false
}

// runs calls f for each run of the profile: its bins from..to, and the levels i..j (increasing) that lie in it.
func (q *profile) runs(levels []float64, f func(from, to, i, j int)) {
	for k, from := range q.starts {
		to := len(q.p)
		if k+1 < len(q.starts) {
			to = q.starts[k+1]
		}
		i := lowerBound(levels, q.p[from])
		j := i
		for j < len(levels) && levels[j] <= q.p[to-1] {
			j++
		}
		f(from, to, i, j)
	}
}

// at fills dst with the profile on levels (increasing), NaN outside it and inside gaps. Up to carryDbar above the first
// bin its value is carried.
func (q *profile) at(dst, levels []float64, m interpolate.Method, w *interpolate.Workspace) []float64 {
	fillNaN(dst)
	if m == interpolate.Rotated {
		m = interpolate.Pchip
	}
	q.runs(levels, func(from, to, i, j int) { w.Values(dst[i:j], m, q.p[from:to], q.v[from:to], levels[i:j]) })
	q.carry(dst, levels)
	return dst
}

func fillNaN(dst []float64) {
	for i := range dst {
		dst[i] = math.NaN()
	}
}

// carry puts the first value on the levels up to carryDbar above the first bin.
func (q *profile) carry(dst, levels []float64) {
	if len(q.p) == 0 {
		return
	}
	for i := lowerBound(levels, q.p[0]) - 1; i >= 0 && q.p[0]-levels[i] <= carryDbar; i-- {
		dst[i] = q.v[0]
	}
}

// lowerBound is the number of elements below v in an increasing slice.
func lowerBound(a []float64, v float64) int {
	i, _ := slices.BinarySearch(a, v)
	return i
}

// pairAt is at for salinity and temperature interpolated together, where both have the same bins; ok is false where
// they do not.
func pairAt(dstSA, dstCT, levels []float64, sa, ct *profile, w *interpolate.Workspace) bool {
	if !slices.Equal(sa.p, ct.p) {
		return false
	}
	fillNaN(dstSA)
	fillNaN(dstCT)
	sa.runs(levels, func(from, to, i, j int) {
		w.Pair(dstSA[i:j], dstCT[i:j], interpolate.Rotated, sa.p[from:to], sa.v[from:to], ct.v[from:to], levels[i:j])
	})
	sa.carry(dstSA, levels)
	ct.carry(dstCT, levels)
	return true
}

// rebin fills means with the mean of the values v at pressures p (dbar, increasing; NaN values are left out) inside [c
// - widthDbar/2, c + widthDbar/2) of each centre c (increasing), NaN where there is none. Nothing is interpolated.
func rebin(means, p, v, centres []float64, widthDbar float64) {
	i := 0
	for k, c := range centres {
		top, bottom := c-widthDbar/2, c+widthDbar/2
		for i > 0 && p[i-1] >= top { // cells may overlap
			i--
		}
		for i < len(p) && p[i] < top {
			i++
		}
		sum, n := 0.0, 0
		for ; i < len(p) && p[i] < bottom; i++ {
			if !math.IsNaN(v[i]) {
				sum += v[i]
				n++
			}
		}
		means[k] = math.NaN()
		if n > 0 {
			means[k] = sum / float64(n)
		}
	}
}
