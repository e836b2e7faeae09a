package gridding

import (
	"math"

	"github.com/castwright/castwright/metadata"
)

// Codes in an Extrapolated field.
const (
	AsMapped   = 0
	HeldToData = 1                          // the mapped value lay outside the range of the data nearby
	Extended   = int(metadata.Interpolated) // below the deepest data: the value at that pressure where data end
)

// ExtrapolatedCodes returns the codes of an Extrapolated field and their meanings as single words, for flag_meanings.
func ExtrapolatedCodes() (codes []int8, words []string) {
	return []int8{AsMapped, HeldToData, int8(Extended)},
		[]string{"as_mapped", "held_to_range_of_data_nearby", "extended_below_deepest_data"}
}

// nearbyLengths is the part of a vertical length above and below a point in which data count as nearby (ours).
const nearbyLengths = 0.5

// sideLengths and downLengths are how far, in lengths, values go on below the deepest data: at their pressure, and
// downward (ours).
const sideLengths, downLengths = 0.5, 1.0

// hold moves the values of variable v that lie outside the range of the data nearby to the end of that range and marks
// them: the bins within half a vertical length in the two neighbouring casts and in all casts within a horizontal
// length; of those that end above, the deepest bin, so that the range makes no step where a cast ends. Optimal
// interpolation and successive correction can give less than the least of their data, and triangles of distance and
// pressure span levels that are far apart. Straight lines and triangles on a level stay within their data; mapping
// along density follows surfaces that may be steep, and is left as it is.
func (a *assembly) hold(v int, data, codes []float64) {
	onLevels := a.isField && (a.method == Triangles || a.method == Natural)
	if a.method == Density || a.method == Linear || onLevels {
		return
	}
	c, _ := a.mapping.cloudOf(v)
	lo, hi := make([][]float64, len(a.sites)), make([][]float64, len(a.sites))
	ends := make([]int, len(a.sites)) // the last level with bins nearby
	for k := range a.sites {
		lo[k], hi[k] = a.sites[k].profiles[v].ranges(a.levels, c.down)
		for i := range a.levels {
			if lo[k][i] <= hi[k][i] {
				ends[k] = i
			}
		}
	}
	nc, spacing := len(a.cols), a.spacingOf()
	parallel(nc, a.opt.Workers, func(_ *work, k int) {
		col := &a.cols[k]
		reach := a.reachKm(col, spacing)
		for i := range a.levels {
			at := i*nc + k
			if math.IsNaN(data[at]) {
				continue
			}
			least, most := math.Inf(1), math.Inf(-1)
			for s := range a.sites {
				if col.h[s] <= reach || s == col.near[0] || s == col.near[1] {
					j := min(i, ends[s])
					least, most = math.Min(least, lo[s][j]), math.Max(most, hi[s][j])
				}
			}
			if held := math.Min(math.Max(data[at], least), most); least <= most && held != data[at] {
				data[at] = held
				if codes[at] == AsMapped {
					codes[at] = HeldToData
				}
			}
		}
	})
}

// ranges returns the least and the greatest value of a profile within part of a vertical length of each level; +Inf and
// -Inf where it has none there.
func (q *profile) ranges(levels []float64, down *verticalScale) (lo, hi []float64) {
	lo, hi = make([]float64, len(levels)), make([]float64, len(levels))
	var least, most []int // bins in the window whose value no later bin undercuts, or exceeds
	next := 0
	for i, p := range levels {
		for ; next < len(q.p) && down.apart(q.p[next], p) <= nearbyLengths; next++ {
			for len(least) > 0 && q.v[least[len(least)-1]] >= q.v[next] {
				least = least[:len(least)-1]
			}
			for len(most) > 0 && q.v[most[len(most)-1]] <= q.v[next] {
				most = most[:len(most)-1]
			}
			least, most = append(least, next), append(most, next)
		}
		for len(least) > 0 && down.apart(p, q.p[least[0]]) > nearbyLengths {
			least = least[1:]
		}
		for len(most) > 0 && down.apart(p, q.p[most[0]]) > nearbyLengths {
			most = most[1:]
		}
		lo[i], hi[i] = math.Inf(1), math.Inf(-1)
		if len(least) > 0 {
			lo[i], hi[i] = q.v[least[0]], q.v[most[0]]
		}
	}
	return lo, hi
}

// extend settles what lies below the deepest data of a section, the straight line between the deepest bins of the
// neighbouring casts. Where columns on both sides have data at the pressure, a point lies between casts and stays as
// mapped. Else it has what is nearer in lengths: the value at its pressure of the nearest column that has data, so that
// level lines meet a slope level, from half a length at most; or what was mapped from the data above it, down to a
// vertical length. Beyond both it is empty. Columns that the options do not ask to map are left as they are.
func (a *assembly) extend(v int, data, reasons, codes []float64, companions []Field) {
	if a.isField {
		return
	}
	nc, picked, spacing := len(a.cols), a.picked(), a.spacingOf()
	c, _ := a.mapping.cloudOf(v)
	ends := make([]float64, nc)
	for k := range a.cols {
		ends[k] = a.deepest(v, &a.cols[k])
	}
	for i, p := range a.levels {
		source := func(k, way int) int { // the column on one side that has data at this pressure; -1: none
			for k += way; k >= 0 && k < nc && !(p > a.cols[k].bottomDbar); k += way {
				if p <= ends[k] && !math.IsNaN(data[i*nc+k]) {
					return k
				}
			}
			return -1
		}
		for k := range a.cols {
			at := i*nc + k
			if p <= ends[k] || math.IsNaN(data[at]) || !picked[k] {
				continue
			}
			left, right := source(k, -1), source(k, 1)
			if left >= 0 && right >= 0 {
				continue
			}
			aside, above := math.Inf(1), c.down.apart(p, ends[k])
			if from := max(left, right); from >= 0 {
				aside = math.Abs(a.cols[from].xKm-a.cols[k].xKm) / a.reachKm(&a.cols[k], spacing)
			}
			switch {
			case aside <= sideLengths && aside <= above:
				data[at], codes[at] = data[i*nc+max(left, right)], float64(Extended)
			case !(above <= downLengths):
				reasons[at], codes[at], data[at] = NoData, AsMapped, math.NaN()
				for n := range companions {
					companions[n].Data[at] = math.NaN()
				}
			}
		}
	}
}

// reachKm returns the horizontal length by the rule at a column, whatever the method took for it.
func (s *survey) reachKm(c *column, spacing []float64) float64 {
	if positive(s.opt.LengthKm) {
		return s.opt.LengthKm
	}
	return ruleFactor * s.spacingAt(c.xKm, c.h, spacing, nil)
}

// deepest returns the pressure down to which the casts around a column have data of a variable.
func (s *survey) deepest(v int, c *column) float64 {
	a, b := s.sites[c.near[0]].profiles[v].last(), s.sites[c.near[1]].profiles[v].last()
	if math.IsNaN(a) || math.IsNaN(b) {
		return greatest(a, b)
	}
	return a + float64(c.share*(b-a))
}

// count lists how many values of a variable were held to the range of the data and how many were extended.
func (a *assembly) count(v int, codes []float64) {
	held, extended := 0.0, 0.0
	for _, c := range codes {
		switch c {
		case HeldToData:
			held++
		case float64(Extended):
			extended++
		}
	}
	for _, p := range []metadata.Param{quantity("held_to_data", held), quantity("extended", extended)} {
		p.Of = a.vars[v].Name
		a.grid.Results = append(a.grid.Results, p)
	}
}
