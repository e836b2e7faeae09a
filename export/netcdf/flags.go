package netcdf

import (
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// flagSet is the flags that occur in a variable.
type flagSet [256]bool

// woceSet is the published set for CTD data; 8 is not in it.
var woceSet = []metadata.Flag{
	metadata.NotCalibrated, metadata.Acceptable, metadata.Questionable, metadata.Bad, metadata.NotReported,
	metadata.Interpolated,
	metadata.Despiked, metadata.NotSampled,
}

// attrs adds flag_values and flag_meanings: the WOCE CTD set, with not_evaluated in front where it is asked for or
// occurs, and 8 only where it occurs, since each stored value must be among them.
func (s *flagSet) attrs(a *attrs, notEvaluated bool) {
	var values []int8
	var words []string
	add := func(f metadata.Flag) {
		values = append(values, int8(f))
		words = append(words, f.String())
	}
	if notEvaluated || s[metadata.NotEvaluated] {
		add(metadata.NotEvaluated)
	}
	for _, f := range woceSet {
		if f == metadata.NotSampled && s[metadata.NotUsed] {
			add(metadata.NotUsed)
		}
		add(f)
	}
	a.add("flag_values", values)
	a.text("flag_meanings", strings.Join(words, " "))
}

// A layer is one of the two sets of flags that a column has.
type layer bool

const (
	inForce  layer = false // the source's, then what a person or the cruise file decided
	proposed layer = true  // what the checks alone would set
)

// of returns the layer of a column; nil when it has none.
func (y layer) of(col *section.Column) []metadata.Flag {
	if y == proposed {
		return col.Proposed
	}
	return col.Flags
}

// row puts the flags of n levels from level on into dst. In force: 9 where there is neither a value nor a flag.
// Proposed: 9 where there is no value, 0 where no check was run.
func (y layer) row(dst []int8, col *section.Column, level, n int) {
	dst = dst[:n]
	values := col.Values[level : level+n]
	flags := y.of(col)
	if flags == nil {
		clear(dst) // not evaluated
	} else {
		for k, f := range flags[level : level+n] {
			dst[k] = int8(f)
		}
	}
	for k, f := range dst {
		if (f == int8(metadata.NotEvaluated) || y == proposed) && math.IsNaN(values[k]) {
			dst[k] = int8(metadata.NotSampled)
		}
	}
}

// occurring collects the flags of all levels written, and 9, which may occur anywhere. evaluated reports whether a
// value that is there has one.
func occurring(l *layout, columns []*section.Column, y layer) (set flagSet, evaluated bool) {
	set[metadata.NotSampled] = true
	for _, r := range l.runs {
		col := columns[r.cast]
		if col == nil {
			continue
		}
		values, flags := col.Values[r.level:r.level+r.n], y.of(col)
		if flags == nil {
			if !set[metadata.NotEvaluated] {
				set[metadata.NotEvaluated] = slices.ContainsFunc(values, func(x float64) bool { return !math.IsNaN(x) })
			}
			continue
		}
		for k, f := range flags[r.level : r.level+r.n] {
			if f != metadata.NotEvaluated || !math.IsNaN(values[k]) {
				set[f] = true
			}
			// "Not sampled" of a value that is there is an evaluation of it, which the reader warned of and kept.
			evaluated = evaluated || f == metadata.NotSampled && !math.IsNaN(values[k])
		}
	}
	for f := range set {
		if set[f] && metadata.Flag(f) != metadata.NotEvaluated && metadata.Flag(f) != metadata.NotSampled {
			evaluated = true
		}
	}
	return set, evaluated
}

// fillFlags returns the filler of a flag variable.
func fillFlags(l *layout, columns []*section.Column, y layer) func(*nc.Chunk) {
	return func(c *nc.Chunk) {
		dst := nc.Values[int8](c)
		for i := range dst {
			dst[i] = int8(metadata.NotSampled)
		}
		l.each(c, func(cast, level, n, at int) {
			if col := columns[cast]; col != nil {
				y.row(dst[at:], col, level, n)
			}
		})
	}
}
