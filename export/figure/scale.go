package figure

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/section"
)

// A Scale says which level lines a variable has. The zero value has them chosen from the values and their errors.
type Scale struct {
	Values []float64 // the levels; nil: not given
	Step   float64   // between levels; 0: not given
	Lo, Hi float64   // values that levels and colours are for; both 0: all
}

// ErrLevels is returned for a step that gives too many levels.
var ErrLevels = errors.New("too many levels")

// mostGiven is the most levels of a step that is given.
const mostGiven = 60

// bounded reports whether the scale has a range.
func (s *Scale) bounded() bool { return s.Hi > s.Lo }

// given returns the levels that the scale asks for, for values within a range; nil when it leaves them to be chosen.
func (s *Scale) given(values chart.Extent) ([]float64, error) {
	if s.bounded() {
		values = chart.Extent{Lo: s.Lo, Hi: s.Hi}
	}
	if s.Values != nil || s.Step == 0 || values.Empty() {
		return s.Values, nil
	}
	first, last := math.Ceil(values.Lo/s.Step-1e-9), math.Floor(values.Hi/s.Step+1e-9)
	if n := last - first + 1; n > mostGiven {
		return nil, fmt.Errorf("%w: a step of %g gives %.0f of them for values from %s to %s, and %d is the most",
			ErrLevels, s.Step, n,
			chart.Significant(values.Lo, 3), chart.Significant(values.Hi, 3), mostGiven)
	}
	out := []float64{}
	for k := first; k <= last; k++ {
		out = append(out, chart.Round(k*s.Step))
	}
	return out, nil
}

// within returns the values that colours are for.
func (s *Scale) within(vs []chart.Weighed) []chart.Weighed {
	if !s.bounded() {
		return vs
	}
	var out []chart.Weighed
	for _, v := range vs {
		if v.Value >= s.Lo && v.Value <= s.Hi {
			out = append(out, v)
		}
	}
	return out
}

// text says for captions what was asked for; "" when nothing was.
func (s *Scale) text() string {
	text := ""
	switch {
	case s.Values != nil:
		text = "as given"
	case s.Step > 0:
		text = "a step of " + chart.Short(s.Step) + ", as given"
	}
	if s.bounded() {
		if text != "" {
			text += "; "
		}
		text += "for values from " + chart.Short(s.Lo) + " to " + chart.Short(s.Hi) +
			", as given: those beyond have the colour of the end"
	}
	return text
}

// bands are the levels and colours of a figure.
type bands struct {
	levels  []float64
	colours *chart.ColourMap // they are chosen when the figure is drawn: a caption needs none
	chosen  chart.Levels     // where they were chosen by how full bands are
	shared  int              // sections that have them
}

// share gives sections of one variable the same levels, and velocities too.
func share(figs []Figure) {
	byField := map[string][]*Section{}
	var flows []*Velocity
	var all []chart.Weighed
	for _, f := range slices.Clone(figs) {
		if o, ok := f.(*Overview); ok {
			for _, s := range o.Sections {
				figs = append(figs, s)
			}
			if o.Velocity != nil {
				figs = append(figs, o.Velocity)
			}
		}
	}
	for _, f := range figs {
		switch f := f.(type) {
		case *Section:
			byField[f.Field] = append(byField[f.Field], f)
		case *Velocity:
			if d, err := f.prepare(); err == nil {
				flows, all = append(flows, f), append(all, d.values()...)
			}
		}
	}
	for _, sections := range byField {
		shareBands(sections)
	}
	if len(flows) > 1 {
		for _, f := range flows {
			f.levels = chart.ZeroLevels(f.Scale.within(all))
		}
	}
}

// lazyBands are bands that several figures of one field may have, chosen when the first of them is drawn.
type lazyBands struct {
	once sync.Once
	made *bands
	err  error
}

func (l *lazyBands) get(choose func() (*bands, error)) (*bands, error) {
	l.once.Do(func() { l.made, l.err = choose() })
	return l.made, l.err
}

// shareBands gives sections of one variable the same levels and colours, chosen from the values of all. A section that
// cannot be drawn is left alone.
func shareBands(figs []*Section) {
	var all []chart.Weighed
	var of *Section
	var data *sectionData
	sections := map[*section.Section]bool{}
	for _, f := range figs {
		d, err := f.prepare()
		if err == nil && !sections[f.Section] {
			all = append(all, d.values(f.Grid)...)
			of, data, sections[f.Section] = f, d, true
		}
	}
	if len(sections) < 2 {
		return
	}
	b, err := of.chooseBands(data, all)
	if err != nil {
		return
	}
	b.shared = len(sections)
	shared := &lazyBands{}
	_, _ = shared.get(func() (*bands, error) { return b, nil })
	for _, f := range figs {
		f.bands = shared
	}
}

// chooseBands returns levels and colours from what the picture will show.
func (f *Section) chooseBands(d *sectionData, shown []chart.Weighed) (*bands, error) {
	b := &bands{}
	m := chart.ColourMapOf(d.field.Name)
	given, err := f.Scale.given(extentOf(shown))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.Name, err)
	}
	shown = f.Scale.within(shown)
	switch {
	case d.field.Kind == gridding.StandardError || d.field.Kind == gridding.RelativeError:
		m = chart.Colours("error1")
		b.levels = chart.SequenceLevels(shown)
	case given != nil:
		b.levels = given
	case m.Diverging:
		b.levels = chart.ZeroLevels(shown)
	}
	if len(b.levels) == 0 && given == nil {
		b.chosen = chart.ChooseLevels(shown, chart.MostLevels)
		b.levels = b.chosen.At
	}
	b.colours = m
	return b, nil
}

// extentOf returns the range of weighed values.
func extentOf(vs []chart.Weighed) chart.Extent {
	e := chart.NoExtent()
	for _, v := range vs {
		e.Add(v.Value)
	}
	return e
}
