package netcdf

import (
	"math"
	"slices"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/section"
)

// latticeShare is the least part of the common levels, within the range of each cast, that casts must fill together to
// be said to share one pressure lattice (ours). Below it, a padded array would mostly hold padding, and casts whose
// bins fall between each other's would look as if half their levels were missing.
const latticeShare = 0.9

// A run is n levels of one cast that lie side by side in the file.
type run struct{ cast, level, n, at int }

// A layout is where each level of each cast lies. Orthogonal: row for the cast, place on the common pressures.
// Aligned: the same, with a place for each repetition of a pressure, so that the pressure belongs to cast and place (an
// incomplete array of CF 9.3.2). Ragged: one cast after the other.
type layout struct {
	ragged    bool
	aligned   bool      // some cast has a pressure more than once
	pressures []float64 // common lattice; nil when ragged
	runs      []run     // by cast, then by place; at is the place in the row (orthogonal) or in the file (ragged)
	first     []int     // index in runs of each cast's first run; one more at the end
	rows      []int     // levels written of each cast
	obs       int       // all of them
	skipped   int       // levels without a pressure, which have no place in a ragged file either
}

// newLayout chooses the layout: orthogonal when all casts increase in pressure and share one lattice, aligned when a
// pressure is repeated in some.
func newLayout(casts []*section.Cast) *layout {
	if l := orthogonal(casts); l != nil {
		return l
	}
	return ragged(casts)
}

func orthogonal(casts []*section.Cast) *layout {
	var union []float64
	levels, aligned := 0, false
	for _, c := range casts {
		for i, p := range c.PressureDbar {
			if math.IsNaN(p) || (i > 0 && p < c.PressureDbar[i-1]) {
				return nil
			}
			aligned = aligned || i > 0 && p == c.PressureDbar[i-1]
		}
		levels += c.Levels()
		union = merge(union, c.PressureDbar)
	}
	if len(union) == 0 {
		return nil
	}
	// Count, over casts, the common levels between the first and the last of each.
	places := 0
	for _, c := range casts {
		if n := c.Levels(); n > 0 {
			from, _ := slices.BinarySearch(union, c.PressureDbar[0])
			to, _ := slices.BinarySearch(union, c.PressureDbar[n-1])
			places += to - from + 1
		}
	}
	if float64(levels) < latticeShare*float64(places) {
		return nil
	}
	l := &layout{pressures: union, aligned: aligned}
	for i, c := range casts {
		l.first = append(l.first, len(l.runs))
		l.rows = append(l.rows, c.Levels())
		l.obs += c.Levels()
		at := 0
		for k, p := range c.PressureDbar {
			from := at
			for union[at] < p {
				at++
			}
			if last := len(l.runs) - 1; k > 0 && at == from {
				l.runs[last].n++
			} else {
				l.runs = append(l.runs, run{cast: i, level: k, n: 1, at: at})
			}
			at++
		}
	}
	l.first = append(l.first, len(l.runs))
	return l
}

// merge returns the union of two lists in order, a pressure as often as the list has it in which it is more often; a
// itself when it holds all of b.
func merge(a, b []float64) []float64 {
	i, missing := 0, 0
	for _, p := range b {
		for i < len(a) && a[i] < p {
			i++
		}
		if i == len(a) || a[i] != p {
			missing++
		} else {
			i++
		}
	}
	if missing == 0 {
		return a
	}
	out := make([]float64, 0, len(a)+missing)
	i = 0
	for _, p := range b {
		for i < len(a) && a[i] < p {
			out = append(out, a[i])
			i++
		}
		if i < len(a) && a[i] == p {
			i++
		}
		out = append(out, p)
	}
	return append(out, a[i:]...)
}

// rectangular returns the layout of a file that has one row for each cast: that of newLayout, but in place of a ragged
// one a row of each cast's own levels, one after another.
func rectangular(casts []*section.Cast) *layout {
	l := newLayout(casts)
	if !l.ragged {
		return l
	}
	l.ragged, l.aligned = false, true
	l.pressures = make([]float64, slices.Max(l.rows)) // as many as the longest row has places
	for i := range casts {
		own := l.runs[l.first[i]:l.first[i+1]]
		if len(own) == 0 {
			continue
		}
		start := own[0].at
		for k := range own {
			own[k].at -= start
		}
	}
	return l
}

func ragged(casts []*section.Cast) *layout {
	l := &layout{ragged: true}
	for i, c := range casts {
		l.first = append(l.first, len(l.runs))
		rows := 0
		for k, p := range c.PressureDbar {
			if math.IsNaN(p) {
				l.skipped++
				continue
			}
			if last := len(l.runs) - 1; rows > 0 && l.runs[last].level+l.runs[last].n == k {
				l.runs[last].n++
			} else {
				l.runs = append(l.runs, run{cast: i, level: k, n: 1, at: l.obs + rows})
			}
			rows++
		}
		l.rows = append(l.rows, rows)
		l.obs += rows
	}
	l.first = append(l.first, len(l.runs))
	return l
}

// each calls do for every run of levels, or part of one, that falls into the chunk; at is its place among the chunk's
// values.
func (l *layout) each(c *nc.Chunk, do func(cast, level, n, at int)) {
	if !l.ragged {
		for row := range c.Count[0] {
			cast := c.Start[0] + row
			for _, r := range l.runs[l.first[cast]:l.first[cast+1]] {
				do(r.cast, r.level, r.n, row*c.Shape[1]+r.at)
			}
		}
		return
	}
	from, to := c.Start[0], c.Start[0]+c.Count[0]
	i, _ := slices.BinarySearchFunc(l.runs, from, func(r run, from int) int {
		if r.at+r.n <= from {
			return -1
		}
		return 1
	})
	for ; i < len(l.runs) && l.runs[i].at < to; i++ {
		r := l.runs[i]
		skip := max(0, from-r.at)
		do(r.cast, r.level+skip, min(r.n, to-r.at)-skip, max(r.at, from)-from)
	}
}

// edges returns the upper and lower edge of the bin of pressures[k], width dbar wide and labelled at its centre, top or
// bottom. Where two bins meet, their common edge is one number to the last bit; a bin at the surface ends there.
func edges(pressures []float64, k int, width float64, label string) (upper, lower float64) {
	p, near := pressures[k], 1e-6*width
	switch label {
	case "top":
		upper, lower = p, p+width
		if k+1 < len(pressures) && math.Abs(pressures[k+1]-lower) < near {
			lower = pressures[k+1]
		}
	case "bottom":
		upper, lower = p-width, p
		if k > 0 && math.Abs(pressures[k-1]-upper) < near {
			upper = pressures[k-1]
		}
	default:
		upper, lower = p-width/2, p+width/2
		if k > 0 && math.Abs(pressures[k-1]+width/2-upper) < near {
			upper = pressures[k-1] + width/2
		}
	}
	if upper < 0 && p >= 0 {
		upper = 0
	}
	return upper, lower
}
