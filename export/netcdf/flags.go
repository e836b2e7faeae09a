package netcdf

import (
	"math"
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

// flagAt gives the flag to write for a level: 9 where there is neither a value nor a judgement.
func flagAt(flags []metadata.Flag, values []float64, k int) metadata.Flag {
	f := metadata.NotEvaluated
	if k < len(flags) {
		f = flags[k]
	}
	if f == metadata.NotEvaluated && k < len(values) && math.IsNaN(values[k]) {
		return metadata.NotSampled
	}
	return f
}

// proposalAt gives the proposal to write: 9 where there is no value, 0 where no check was run.
func proposalAt(proposed []metadata.Flag, values []float64, k int) metadata.Flag {
	switch {
	case k < len(values) && math.IsNaN(values[k]):
		return metadata.NotSampled
	case k < len(proposed):
		return proposed[k]
	}
	return metadata.NotEvaluated
}

// occurring collects the flags that at gives over all levels written. evaluated says whether a value that is there has one.
func occurring(l *layout, columns []*section.Column, layer func(*section.Column) []metadata.Flag, at func([]metadata.Flag, []float64, int) metadata.Flag) (set flagSet, evaluated bool) {
	for _, r := range l.runs {
		col := columns[r.cast]
		if col == nil {
			set[metadata.NotSampled] = true
			continue
		}
		flags := layer(col)
		for k := r.level; k < r.level+r.n; k++ {
			set[at(flags, col.Values, k)] = true
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
func fillFlags(l *layout, columns []*section.Column, layer func(*section.Column) []metadata.Flag, at func([]metadata.Flag, []float64, int) metadata.Flag) func(*nc.Chunk) {
	return func(c *nc.Chunk) {
		dst := nc.Values[int8](c)
		for i := range dst {
			dst[i] = int8(metadata.NotSampled)
		}
		l.each(c, func(cast, level, n, place int) {
			col := columns[cast]
			if col == nil {
				return
			}
			flags := layer(col)
			for k := range n {
				dst[place+k] = int8(at(flags, col.Values, level+k))
			}
		})
	}
}

func inForce(c *section.Column) []metadata.Flag  { return c.Flags }
func proposed(c *section.Column) []metadata.Flag { return c.Proposed }
