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
// Slices are shared with the cast, and with the profile samePlace of another variable (nil: none), where they are
// alike.
func usableProfile(c *section.Cast, name string, uncalibrated bool, maxGapDbar *float64, samePlace *profile) profile {
	col := c.Column(name)
	if col == nil || col.Values == nil {
		return profile{}
	}
	pres := c.Column("pres")
	var q profile
	usable := func(i int, before float64) bool {
		p, v := c.PressureDbar[i], col.Values[i]
		return !math.IsNaN(v) && !math.IsInf(v, 0) && !math.IsInf(p, 0) && p > before &&
			(col.Flags == nil || col.Flags[i].Usable(uncalibrated)) && (pres == nil || pres.Flags == nil ||
			pres.Flags[i].Usable(uncalibrated))
	}
	n, before := 0, math.Inf(-1)
	for i, p := range c.PressureDbar {
		if usable(i, before) {
			n, before = n+1, p
		}
	}
	switch {
	case n == len(c.PressureDbar): // the usual case needs no copy
		q.p, q.v = c.PressureDbar, col.Values
	case samePlace != nil && n == len(samePlace.p) && sameUsable(c.PressureDbar, samePlace.p, usable):
		// nor do pressures that another variable has
		q.p, q.v = samePlace.p, make([]float64, 0, n)
		before = math.Inf(-1)
		for i, p := range c.PressureDbar {
			if usable(i, before) {
				q.v, before = append(q.v, col.Values[i]), p
			}
		}
	default:
		q.p, q.v = make([]float64, 0, n), make([]float64, 0, n)
		before = math.Inf(-1)
		for i, p := range c.PressureDbar {
			if usable(i, before) {
				q.p, q.v, before = append(q.p, p), append(q.v, col.Values[i]), p
			}
		}
	}
	q.cut(maxGapDbar)
	return q
}

// sameUsable says whether the usable pressures are those given.
func sameUsable(all, given []float64, usable func(i int, before float64) bool) bool {
	k, before := 0, math.Inf(-1)
	for i, p := range all {
		if usable(i, before) {
			if k == len(given) || given[k] != p {
				return false
			}
			k, before = k+1, p
		}
	}
	return k == len(given)
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

// run gives the bounds of run k.
func (q *profile) run(k int) (from, to int) {
	if k+1 < len(q.starts) {
		return q.starts[k], q.starts[k+1]
	}
	return q.starts[k], len(q.p)
}

// inGap says whether a pressure lies inside a gap.
func (q *profile) inGap(p float64) bool {
	for k := 1; k < len(q.starts); k++ {
		i := q.starts[k]
		if p > q.p[i-1] && p < q.p[i] {
			return true
		}
	}
	return false
}

// at fills dst with the profile on levels (increasing), NaN outside it and inside gaps. Up to carryDbar above the first
// bin its value is carried.
func (q *profile) at(dst, levels []float64, m interpolate.Method, w *interpolate.Workspace) []float64 {
	for i := range dst {
		dst[i] = math.NaN()
	}
	for k := range q.starts {
		from, to := q.run(k)
		i := lowerBound(levels, q.p[from])
		j := i
		for j < len(levels) && levels[j] <= q.p[to-1] {
			j++
		}
		if m == interpolate.Rotated {
			m = interpolate.Pchip
		}
		w.Values(dst[i:j], m, q.p[from:to], q.v[from:to], levels[i:j])
	}
	q.carry(dst, levels)
	return dst
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
	for i := range dstSA {
		dstSA[i], dstCT[i] = math.NaN(), math.NaN()
	}
	for k := range sa.starts {
		from, to := sa.run(k)
		i := lowerBound(levels, sa.p[from])
		j := i
		for j < len(levels) && levels[j] <= sa.p[to-1] {
			j++
		}
		w.Pair(dstSA[i:j], dstCT[i:j], interpolate.Rotated, sa.p[from:to], sa.v[from:to], ct.v[from:to], levels[i:j])
	}
	sa.carry(dstSA, levels)
	ct.carry(dstCT, levels)
	return true
}

const wrongLength = "gridding: slices of different length"

// Rebin fills means with the mean of the values v at pressures p (dbar, increasing; NaN values are left out) inside [c
// - widthDbar/2, c + widthDbar/2) of each centre c (increasing), NaN where there is none, and counts with their number.
// Nothing is interpolated. means and counts are as long as centres; counts may be nil.
func Rebin(means []float64, counts []int, p, v, centres []float64, widthDbar float64) []float64 {
	if len(p) != len(v) || len(means) != len(centres) || counts != nil && len(counts) != len(centres) {
		panic(wrongLength)
	}
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
		if counts != nil {
			counts[k] = n
		}
	}
	return means
}
