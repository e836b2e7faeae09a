package gridding

import (
	"errors"
	"fmt"
	"math"

	"github.com/castwright/castwright/section"
)

// ErrNotExplained is the error for a mapped value whose data cannot be listed with weights.
var ErrNotExplained = errors.New("not explained")

// A Datum is one datum that a mapped value was made of: the value of a cast at a data level.
type Datum struct {
	Cast         *section.Cast
	DistanceKm   float64
	PressureDbar float64
	Value        float64
	Background   float64 // at the datum
	Weight       float64 // of the datum less its background
}

// An Explanation says what one value of a section was made of by optimal interpolation: Value is Background, that at
// the node, and the sum over the data of Weight times (their value less their background).
type Explanation struct {
	Value, Background float64
	Data              []Datum
	Noise             float64 // noise variance over signal variance, on the diagonal
	LengthKm          float64 // horizontal length at the node
	ErrorVariance     float64 // over the signal variance
}

// Explain returns what the value of a variable at one node of Map was made of. The column is a place on the distance
// axis of the grid, from 0. A grid that was not made by optimal interpolation gives ErrNotExplained.
func Explain(sec *section.Section, o Options, variable string, columnAt int, pDbar float64) (*Explanation, error) {
	if err := o.fill(); err != nil {
		return nil, err
	}
	if o.Method != Optimal {
		return nil, fmt.Errorf("%w: weights are listed for optimal interpolation only", ErrNotExplained)
	}
	vars, _ := variablesOf(sec.Casts, &o)
	s := newSurvey(sec.Casts, sec.DistanceKm, vars, &o)
	if len(s.sites) < 2 || len(vars) == 0 {
		return nil, fmt.Errorf("section %s: %w", sec.Name, ErrTooFewCasts)
	}
	if err := s.places(); err != nil {
		return nil, err
	}
	cols := s.sectionColumns(&Grid{})
	if columnAt < 0 || columnAt >= len(cols) {
		return nil, fmt.Errorf("%w: the grid has %d columns", ErrNotExplained, len(cols))
	}
	all := make([]int, len(s.vars))
	for v := range all {
		all[v] = v
	}
	e := s.newEngine(Optimal, s.defaultFactor(), s.levelTables(), all)
	col := &cols[columnAt]
	e.place(col, s.spacingOf(), nil)
	for i, m := range e.mappers(nil) {
		for k, v := range e.clouds[i].vars {
			if s.vars[v].Name == variable {
				return explain(m.(*optimalMap), col, k, pDbar)
			}
		}
	}
	return nil, fmt.Errorf("%w: %s was not mapped", ErrNotExplained, variable)
}

// explain maps one target and keeps what it was made of.
func explain(m *optimalMap, col *column, v int, pDbar float64) (*Explanation, error) {
	var w work
	est := newEstimates(len(m.c.vars), 1)
	rel := make([]float64, 1)
	m.predict(&w, col, []float64{pDbar}, est, rel)
	if math.IsNaN(est[v][0]) {
		return nil, fmt.Errorf("%w: there is no datum in reach", ErrNotExplained)
	}
	x := &Explanation{Value: est[v][0], Background: m.form.taken(m.back, w.oi.profiles, col, v, pDbar),
		Noise:    m.set.noise,
		LengthKm: col.lengthKm, ErrorVariance: rel[0]}
	for i, d := range w.oi.chosen {
		site := &m.c.s.sites[m.c.site[d]]
		x.Data = append(x.Data, Datum{Cast: site.cast, DistanceKm: site.xKm,
			PressureDbar: m.c.levels[m.c.level[d]], Value: m.c.values[v][d],
			Background: m.c.values[v][d] - m.anomalies[v][d], Weight: w.oi.weights[i]})
	}
	return x, nil
}
