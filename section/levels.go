package section

import (
	"math"
	"slices"
)

// UsableLevels appends to dst the indices of the levels at which pressure and each named column hold a usable value,
// pressure strictly increasing. A value is usable when it is not missing and its flag is (metadata.Flag.Usable; no flag
// column: not evaluated); withOne says that flag 1 (not calibrated) counts too. A level whose pressure is not above the
// largest usable pressure before it is left out, as check pressure.order proposes. The result is empty when a column is
// missing.
func (c *Cast) UsableLevels(dst []int, withOne bool, names ...string) []int {
	pres := c.Column("pres")
	if pres == nil {
		return dst
	}
	columns := make([]*Column, len(names))
	for i, name := range names {
		if columns[i] = c.Column(name); columns[i] == nil || columns[i].Values == nil {
			return dst
		}
	}
	deepest := math.Inf(-1)
levels:
	for k := range c.PressureDbar {
		if p := c.PressureDbar[k]; !pres.UsableAt(k, withOne) || p <= deepest {
			continue
		} else {
			deepest = p
		}
		for _, col := range columns {
			if !col.UsableAt(k, withOne) {
				continue levels
			}
		}
		dst = append(dst, k)
	}
	return dst
}

// UsableAt reports whether the value at level k is there and its flag lets it into derived fields.
func (c *Column) UsableAt(k int, withOne bool) bool {
	return !math.IsNaN(c.Values[k]) && (c.Flags == nil || c.Flags[k].Usable(withOne))
}

// HasValue reports whether the column has a number at any level.
func (c *Column) HasValue() bool {
	return slices.ContainsFunc(c.Values, func(x float64) bool { return !math.IsNaN(x) })
}

// Take appends to dst the values at the given levels.
func Take(dst, values []float64, levels []int) []float64 {
	for _, k := range levels {
		dst = append(dst, values[k])
	}
	return dst
}

// A Gap is a step between usable levels that nothing is interpolated across.
type Gap struct {
	Above            int // index of the level above the gap; the next one is below it
	FromDbar, ToDbar float64
}

// Limits of the gap rule.
const (
	gapUpperDbar  = 50   // a step above gapDeepDbar is never a gap up to this
	gapLowerDbar  = 200  // a step that starts at or below it
	gapDeepDbar   = 1500 // dbar
	gapRatio      = 3    // times the median of the neighbouring steps
	gapNeighbours = 5    // steps on each side
)

// Gaps finds the gaps in increasing usable pressures (dbar). A step is a gap when it is longer than 50 dbar (200 dbar
// where it starts at or below 1500 dbar) and longer than three times the median of the five steps on each side of it
// (fewer at the ends; a step without neighbours is no gap). maxGapDbar, when not nil, replaces both conditions;
// infinity finds none. The rule is ours; testdata/checkvalues has its list.
func Gaps(pDbar []float64, maxGapDbar *float64) []Gap {
	var gaps []Gap
	var around [2 * gapNeighbours]float64
	for i := 0; i+1 < len(pDbar); i++ {
		step := pDbar[i+1] - pDbar[i]
		if maxGapDbar != nil {
			if step > *maxGapDbar {
				gaps = append(gaps, Gap{i, pDbar[i], pDbar[i+1]})
			}
			continue
		}
		limit := float64(gapUpperDbar)
		if pDbar[i] >= gapDeepDbar {
			limit = gapLowerDbar
		}
		if step <= limit {
			continue
		}
		near := around[:0]
		for j := max(0, i-gapNeighbours); j <= min(i+gapNeighbours, len(pDbar)-2); j++ {
			if j != i {
				near = append(near, pDbar[j+1]-pDbar[j])
			}
		}
		if len(near) > 0 && step > gapRatio*median(near) {
			gaps = append(gaps, Gap{i, pDbar[i], pDbar[i+1]})
		}
	}
	return gaps
}

// median sorts x and gives its middle, the mean of the two for an even number.
func median(x []float64) float64 {
	slices.Sort(x)
	if n := len(x); n%2 == 0 {
		return (x[n/2-1] + x[n/2]) / 2
	}
	return x[len(x)/2]
}
