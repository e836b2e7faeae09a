package section

import (
	"math"
	"slices"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
)

// Mean says of a mean cast how many casts each value is the mean of, and how far they lie apart.
type Mean struct {
	Columns []MeanColumn // as the columns of the cast, without pres
}

// MeanColumn belongs to one column: N casts at each level, and the standard deviation (n-1; NaN for one cast) of their
// values.
type MeanColumn struct {
	Name   string
	N      []int
	Spread []float64
}

// binTolerance is how far apart in dbar pressures of one bin may be written by two casts.
const binTolerance = 0.05

// MeanCast makes the mean of casts at one place: at each pressure bin that any of them holds (pressures within 0.05
// dbar are one bin), the mean of the usable values of those that hold it, with the worst of their flags. Position and
// time are the means, the water depth is that of the deepest cast that has one (a mean of depths could lie above its
// bins), other texts those of the first cast. Columns are the numeric ones of any cast; so that Absolute Salinity
// and Conservative Temperature are averaged, and not computed from averages, derive them first.
func MeanCast(casts []*Cast, withOne bool) (*Cast, *Mean) {
	first := casts[0]
	m := *first
	m.Source, m.Comments, m.Headers = metadata.Digest{}, nil, nil
	m.At = meanPosition(casts)
	m.Time = meanTime(casts)
	m.BottomM = bottomOf(casts)
	bins, at := binsOf(casts, withOne)
	m.PressureDbar, m.Columns = bins, nil
	mean := &Mean{}
	for _, col := range columnsOf(casts) {
		col.Proposed, col.Flags = nil, nil
		if col.Name == "pres" {
			col.Values = bins
		} else {
			mean.Columns = append(mean.Columns, meanColumn(&col, casts, at, len(bins), withOne))
		}
		m.Columns = append(m.Columns, col)
	}
	return &m, mean
}

// columnsOf returns the columns of numbers that any of the casts has: those of the first, then what others add.
func columnsOf(casts []*Cast) []Column {
	var out []Column
	for _, c := range casts {
		for j := range c.Columns {
			name := c.Columns[j].Name
			if c.Columns[j].Values != nil && !slices.ContainsFunc(out, func(o Column) bool { return o.Name == name }) {
				out = append(out, c.Columns[j])
			}
		}
	}
	return out
}

// binsOf returns the bins that any of the casts holds, and the level of each cast at each of them, -1 for none.
func binsOf(casts []*Cast, withOne bool) (bins []float64, at [][]int) {
	levels := make([][]int, len(casts))
	var all []float64
	for i, c := range casts {
		levels[i] = c.UsableLevels(nil, withOne)
		all = Take(all, c.PressureDbar, levels[i])
	}
	slices.Sort(all)
	for _, p := range all {
		if len(bins) == 0 || p > bins[len(bins)-1]+binTolerance {
			bins = append(bins, p)
		}
	}
	at = make([][]int, len(casts))
	for i, c := range casts {
		at[i] = make([]int, len(bins))
		k := 0
		for b, p := range bins {
			at[i][b] = -1
			for k < len(levels[i]) && c.PressureDbar[levels[i][k]] < p {
				k++
			}
			if k < len(levels[i]) && c.PressureDbar[levels[i][k]] <= p+binTolerance {
				at[i][b] = levels[i][k]
			}
		}
	}
	return bins, at
}

// meanColumn fills a column with the means of n bins and returns how many casts each is of.
func meanColumn(col *Column, casts []*Cast, at [][]int, n int, withOne bool) MeanColumn {
	col.Values = make([]float64, n)
	of := MeanColumn{Name: col.Name, N: make([]int, n), Spread: make([]float64, n)}
	flags, flagged := make([]metadata.Flag, n), false
	var values []float64
	for b := range n {
		values = values[:0]
		flag, any := metadata.NotEvaluated, false
		for i, c := range casts {
			from := c.Column(col.Name)
			k := at[i][b]
			if k < 0 || from == nil || from.Values == nil || !from.UsableAt(k, withOne) {
				continue
			}
			values = append(values, from.Values[k])
			f := metadata.NotEvaluated
			if from.Flags != nil {
				f, flagged = from.Flags[k], true
			}
			if !any {
				flag, any = f, true
			} else {
				flag = metadata.Worse(flag, f)
			}
		}
		if flags[b] = flag; !any {
			flags[b] = metadata.NotSampled
		}
		of.N[b] = len(values)
		col.Values[b], of.Spread[b] = meanSpread(values)
	}
	if flagged {
		col.Flags = flags
	}
	return of
}

func meanSpread(x []float64) (mean, spread float64) {
	if len(x) == 0 {
		return math.NaN(), math.NaN()
	}
	var sum float64
	for _, v := range x {
		sum += v
	}
	mean = sum / float64(len(x))
	if len(x) == 1 {
		return mean, math.NaN()
	}
	var squares float64
	for _, v := range x {
		squares += float64((v - mean) * (v - mean))
	}
	return mean, math.Sqrt(squares / float64(len(x)-1))
}

// meanPosition averages longitudes that do not jump; over 2 km the mean of the degrees is the middle to a few metres,
// save at the poles.
func meanPosition(casts []*Cast) orb.Point {
	lon := make([]float64, len(casts))
	var lat float64
	for i, c := range casts {
		lon[i] = c.At[0]
		lat += c.At[1]
	}
	var sum float64
	for _, l := range Unwrap(nil, lon) {
		sum += l
	}
	n := float64(len(casts))
	return orb.Point{Wrap180(sum / n), lat / n}
}

// meanTime is the mean of the times that are known, to the second; zero when none is.
func meanTime(casts []*Cast) (t time.Time) {
	var sum, n int64
	for _, c := range casts {
		if !c.Time.IsZero() {
			sum += c.Time.Unix()
			n++
		}
	}
	if n == 0 {
		return t
	}
	return time.Unix(sum/n, 0).UTC()
}

// bottomOf is the water depth of the cast that reaches deepest, of those whose water depth is known; NaN when none is.
func bottomOf(casts []*Cast) float64 {
	bottom, reached := math.NaN(), math.Inf(-1)
	for _, c := range casts {
		if n := len(c.PressureDbar); n > 0 && !math.IsNaN(c.BottomM) && c.PressureDbar[n-1] > reached {
			bottom, reached = c.BottomM, c.PressureDbar[n-1]
		}
	}
	return bottom
}
