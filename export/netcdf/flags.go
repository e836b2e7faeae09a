package netcdf

import (
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
	metadata.NotCalibrated, metadata.Acceptable, metadata.Questionable, metadata.Bad, metadata.NotReported, metadata.Interpolated,
	metadata.Despiked, metadata.NotSampled,
}

// attrs gives flag_values and flag_meanings: the WOCE CTD set, with not_evaluated in front where it is asked for or occurs, and 8 only
// where it occurs, since each stored value must be among them.
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

// row puts the flags of n levels from level on into dst. In force: 9 where there is neither a value nor a judgement. Proposed: 9 where
// there is no value, 0 where no check was run.
func (y layer) row(dst []int8, col *section.Column, level, n int) {
	dst = dst[:n]
	flags := col.Flags
	if y == proposed {
		flags = col.Proposed
	}
	if flags == nil {
		clear(dst) // not evaluated
	} else {
		for k, f := range flags[level : level+n] {
			dst[k] = int8(f)
		}
	}
	for k, x := range col.Values[level : level+n] {
		if x != x && (y == proposed || dst[k] == int8(metadata.NotEvaluated)) { // NaN
			dst[k] = int8(metadata.NotSampled)
		}
	}
}

// occurring collects the flags of all levels written. evaluated says whether a value that is there has one.
func occurring(l *layout, columns []*section.Column, y layer) (set flagSet, evaluated bool) {
	var scratch []int8
	for _, r := range l.runs {
		col := columns[r.cast]
		if col == nil {
			set[metadata.NotSampled] = true
			continue
		}
		scratch = slices.Grow(scratch[:0], r.n)[:r.n]
		y.row(scratch, col, r.level, r.n)
		for _, f := range scratch {
			set[uint8(f)] = true
		}
	}
	if !l.ragged && l.obs < len(l.rows)*len(l.pressures) {
		set[metadata.NotSampled] = true // padding
	}
	for f := range set {
		if set[f] && metadata.Flag(f) != metadata.NotEvaluated && metadata.Flag(f) != metadata.NotSampled {
			evaluated = true
		}
	}
	return set, evaluated
}

// fillFlags gives the filler of a flag variable.
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
