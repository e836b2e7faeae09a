package qc

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// A profile is a cast prepared for its checks: for each variable the levels at which it is usable.
type profile struct {
	checks   *Checks
	cast     *section.Cast
	settings Settings
	rule     *Rule
	marks    []mark
	found    []metadata.Finding
	place    seawater.Place
	levels   map[string][]int
}

func newProfile(checks *Checks, c *section.Cast, s Settings) *profile {
	return &profile{checks: checks, cast: c, settings: s, place: placeOf(c), levels: map[string][]int{}}
}

// placeOf returns the place of a cast, for Absolute Salinity.
func placeOf(c *section.Cast) seawater.Place {
	at := seawater.PlaceOf(c.At[0], c.At[1])
	if c.Lake {
		return at.AsLake()
	}
	return at
}

// limit returns a threshold of the rule that runs.
func (p *profile) limit(name string) float64 { return p.checks.limit(p.rule.ID, name) }

// usable returns the levels at which the named variable and pressure hold usable values, pressure increasing; nil
// without the column.
func (p *profile) usable(name string) []int {
	l, ok := p.levels[name]
	if !ok {
		l = p.cast.UsableLevels(p.empty(name), p.settings.NotCalibrated, name)
		p.levels[name] = l
	}
	return l
}

// empty returns an empty slice for the levels of a variable; nil without its column.
func (p *profile) empty(name string) []int {
	if p.cast.Column(name) == nil {
		return nil
	}
	return make([]int, 0, p.cast.Levels())
}

// values returns the values of a column; nil without it.
func (p *profile) values(name string) []float64 {
	if c := p.cast.Column(name); c != nil {
		return c.Values
	}
	return nil
}

// proposed reports whether a check that ran before proposes a flag for the value at a level.
func (p *profile) proposed(name string, level int) bool {
	c := p.cast.Column(name)
	return c != nil && c.Proposed != nil && c.Proposed[level] != metadata.NotEvaluated
}

// bad reports whether a check that ran before proposes the value at a level bad.
func (p *profile) bad(name string, level int) bool {
	c := p.cast.Column(name)
	return c != nil && c.Proposed != nil && c.Proposed[level] == metadata.Bad
}

// A mark is a proposal against one level of one column.
type mark struct {
	column *section.Column
	level  int
	flag   metadata.Flag
}

// propose notes a proposal of the rule that runs. Values that are missing or already flagged at least as bad are left
// alone.
func (p *profile) propose(name string, level int, flag metadata.Flag) {
	col := p.cast.Column(name)
	if col == nil || col.Values == nil || math.IsNaN(col.Values[level]) {
		return
	}
	if col.Flags != nil && metadata.Worse(col.Flags[level], flag) == col.Flags[level] {
		return
	}
	p.marks = append(p.marks, mark{col, level, flag})
}

// report turns the marks of the rule that has run into findings, one for each run of neighbouring levels of a column,
// and clears them.
func (p *profile) report() {
	if len(p.marks) == 0 {
		return
	}
	defer func() { p.marks = p.marks[:0] }()
	order := map[*section.Column]int{}
	for i := range p.cast.Columns {
		order[&p.cast.Columns[i]] = i
	}
	slices.SortStableFunc(p.marks, func(a, b mark) int {
		if a.column != b.column {
			return order[a.column] - order[b.column]
		}
		return a.level - b.level
	})
	for i := 0; i < len(p.marks); {
		j := i + 1
		for j < len(p.marks) && p.marks[j].column == p.marks[i].column &&
			p.marks[j].level-p.marks[j-1].level <= 1 {
			j++
		}
		p.finding(p.marks[i:j])
		i = j
	}
}

// reportWhole turns the marks of the rule into one finding of their column, whatever lies between them.
func (p *profile) reportWhole() {
	if len(p.marks) > 0 {
		p.finding(p.marks)
		p.marks = p.marks[:0]
	}
}

// finding sets the proposals of a run of marks and appends their finding.
func (p *profile) finding(run []mark) {
	col := run[0].column
	if col.Proposed == nil {
		col.Proposed = make([]metadata.Flag, len(col.Values))
	}
	n, worst := 0, run[0].flag
	low, high := math.Inf(1), math.Inf(-1)
	for k, m := range run {
		col.Proposed[m.level], worst = worse(col.Proposed[m.level], m.flag), worse(worst, m.flag)
		low, high = math.Min(low, p.cast.PressureDbar[m.level]), math.Max(high, p.cast.PressureDbar[m.level])
		if k == 0 || run[k-1].level != m.level {
			n++
		}
	}
	f := about(p.cast, p.rule.ID, col.Name, p.rule.Does, "")
	f.Line = lineOf(p.cast, run[0].level)
	f.First, f.Last, f.Count, f.Proposed = low, high, n, worst
	f.Remedy = "look at the profile; accept the proposal in the flag edits with initials and a reason, or accept " +
		"the finding"
	p.found = append(p.found, f)
}

// about returns a warning of the rule that runs about a variable of the cast.
func (p *profile) about(variable, format string, a ...any) metadata.Finding {
	return about(p.cast, p.rule.ID, variable, fmt.Sprintf(format, a...), "")
}

// about returns a warning about a cast; Count is 1.
func about(c *section.Cast, check, variable, message, remedy string) metadata.Finding {
	return metadata.Finding{Position: metadata.Position{File: c.Source.Name}, Severity: metadata.Warning, Check: check,
		Cast: c.ID(), Variable: variable, Message: message, Remedy: remedy, Count: 1}
}

// aboutAll returns a warning about all usable values of a variable of a cast.
func aboutAll(c *section.Cast, check, variable, message, remedy string) metadata.Finding {
	f := about(c, check, variable, message, remedy)
	if l := c.UsableLevels(nil, true, variable); len(l) > 0 {
		atLevels(&f, c, c.PressureDbar[l[0]], c.PressureDbar[l[len(l)-1]])
		f.Count = len(l)
	}
	return f
}

// atLevels sets the pressures of a cast that a finding is about, and the line of the first of them in the file.
func atLevels(f *metadata.Finding, c *section.Cast, first, last float64) {
	f.First, f.Last = first, last
	if k := slices.Index(c.PressureDbar, first); k >= 0 {
		f.Line = lineOf(c, k)
	}
}

// lineOf returns the line of its file that a level of a cast was read from; 0 when that cannot be said.
func lineOf(c *section.Cast, level int) int {
	before, all := 0, 0
	for _, m := range c.Comments {
		if m.Place == section.InData && m.Level > 0 && m.Level < c.Levels() {
			if all++; m.Level <= level {
				before++
			}
		}
	}
	if c.Source.First == 0 || c.Source.Last-c.Source.First != c.Levels()-1+all {
		return 0
	}
	return c.Source.First + level + before
}

// worse returns the worse of two proposals; NotEvaluated is none.
func worse(a, b metadata.Flag) metadata.Flag {
	switch {
	case a == metadata.NotEvaluated:
		return b
	case b == metadata.NotEvaluated:
		return a
	}
	return metadata.Worse(a, b)
}

// between returns the value that goes straight with pressure from upper at upperDbar to lower at lowerDbar, and is
// constant outside.
func between(pDbar, upperDbar, lowerDbar, upper, lower float64) float64 {
	u := math.Min(math.Max((pDbar-upperDbar)/(lowerDbar-upperDbar), 0), 1)
	return upper + u*(lower-upper)
}

// median returns the median of v, the mean of the two middle values when their number is even, NaN for none. It
// sorts v.
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

// madScale turns a median absolute deviation into the standard deviation of normal noise.
const madScale = 1.4826
