package gridding

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
)

// ErrNotExplained is the error for a mapped value whose data cannot be listed with weights.
var ErrNotExplained = errors.New("not explained")

// A Datum is one datum that a mapped value was made of: the value of a cast at a data level, or of one of its bins.
type Datum struct {
	Cast         *section.Cast
	DistanceKm   float64 // along the section; NaN in a field
	AwayKm       float64 // from the node, level ground
	PressureDbar float64
	Value        float64
	Background   float64 // at the datum
	Weight       float64 // of the datum less its background
	// pressures of the bins of the cast that the value was interpolated between, or is the mean of
	BinsDbar []float64
}

// An Explanation says what one mapped value was made of: Value is Background, that at the node, and the sum over the
// data of Weight times (their value less their background). Backgrounds are 0 for methods without one.
type Explanation struct {
	Method            Method
	Value, Background float64
	Data              []Datum
	// of optimal interpolation, else 0
	Noise         float64 // noise variance over signal variance, on the diagonal
	LengthKm      float64 // horizontal length at the node
	ErrorVariance float64 // over the signal variance
}

// An explainer is a mapper that can list what it makes one value of: the data with their weights, and the background
// at the node. v numbers the variable among those of its cloud.
type explainer interface {
	mapper
	made(w *work, col *column, v int, p float64) (data []Datum, background float64)
}

// Explain returns what the value of a variable at one node of Map was made of. The column is a place on the distance
// axis of the grid, from 0.
func Explain(sec *section.Section, o Options, variable string, columnAt int, pDbar float64) (*Explanation, error) {
	s, err := surveyToExplain(sec.Casts, sec.DistanceKm, &o)
	if err != nil {
		return nil, fmt.Errorf("section %s: %w", sec.Name, err)
	}
	return s.explain(s.sectionColumns(&Grid{}), variable, columnAt, pDbar)
}

// ExplainField returns what the value of a variable at one node of MapField was made of; the node is a place on the
// latitude and one on the longitude axis of the grid, from 0.
func ExplainField(casts []*section.Cast, area Area, o Options, variable string, latAt, lonAt int, pDbar float64) (
	*Explanation, error) {
	s, err := surveyToExplain(casts, nil, &o)
	if err != nil {
		return nil, err
	}
	lon, lat, err := s.fieldAxes(area)
	if err != nil {
		return nil, err
	}
	lons := len(lon.Values)
	if lonAt < 0 || lonAt >= lons {
		return nil, fmt.Errorf("%w: the grid has %d longitudes", ErrNotExplained, lons)
	}
	return s.explain(s.fieldColumns(&lon, &lat), variable, latAt*lons+lonAt, pDbar)
}

func surveyToExplain(casts []*section.Cast, xKm []float64, o *Options) (*survey, error) {
	if err := o.fill(); err != nil {
		return nil, err
	}
	vars, _ := variablesOf(casts, o)
	s := newSurvey(casts, xKm, vars, o)
	if len(s.sites) < 2 || len(vars) == 0 {
		return nil, ErrTooFewCasts
	}
	return s, s.places()
}

// explain maps one variable at one node and lists what that was made of.
func (s *survey) explain(cols []column, variable string, columnAt int, pDbar float64) (*Explanation, error) {
	if columnAt < 0 || columnAt >= len(cols) {
		return nil, fmt.Errorf("%w: the grid has %d columns", ErrNotExplained, len(cols))
	}
	at := -1
	for v := range s.vars {
		if s.vars[v].Name == variable {
			at = v
		}
	}
	if at < 0 {
		return nil, fmt.Errorf("%w: %s was not mapped", ErrNotExplained, variable)
	}
	r, cell := s.recipeOf(at), 0.0
	tables := s.levelTables()
	if r.method == Linear && !s.isField {
		cell = s.stepDbar()
		tables = []table{s.cellTable([]float64{pDbar}, cell)}
	}
	e := s.newEngine(r.method, r.factor, r.cov, tables, r.vars)
	col := &cols[columnAt]
	e.place(col, s.spacingOf(), nil)
	for i, m := range e.mappers(nil) {
		if k := slices.Index(e.clouds[i].vars, at); k >= 0 {
			x := &Explanation{Method: r.method}
			if err := x.fill(m.(explainer), col, k, len(e.clouds[i].vars), pDbar); err != nil {
				return nil, err
			}
			for n := range x.Data {
				s.locate(&x.Data[n], col, at, cell, r.method)
			}
			return x, nil
		}
	}
	return nil, fmt.Errorf("%w: %s was not mapped", ErrNotExplained, variable)
}

// recipeOf returns how a variable is mapped, with the variables that are mapped together with it.
func (s *survey) recipeOf(v int) recipe {
	all := make([]int, len(s.vars))
	for k := range all {
		all[k] = k
	}
	switch s.opt.Method {
	case Optimal:
		cov := s.settle()
		return recipe{Optimal, cov.factor, cov, all}
	case Choose:
		recipes, _, _ := s.choose(s.levelTables())
		return recipes[slices.IndexFunc(recipes, func(r recipe) bool { return slices.Contains(r.vars, v) })]
	}
	return recipe{s.opt.Method, s.opt.LengthFactor, s.prior(), all}
}

// fill maps one value and takes what it was made of.
func (x *Explanation) fill(m explainer, col *column, v, variables int, pDbar float64) error {
	var w work
	est, rel := newEstimates(variables, 1), make([]float64, 1)
	m.predict(&w, col, []float64{pDbar}, est, rel)
	if x.Value = est[v][0]; math.IsNaN(x.Value) {
		return fmt.Errorf("%w: there is no datum in reach", ErrNotExplained)
	}
	x.Data, x.Background = m.made(&w, col, v, pDbar)
	if o, ok := m.(*optimalMap); ok {
		x.Noise, x.LengthKm, x.ErrorVariance = o.set.noise, col.covarianceKm, rel[0]
	}
	return nil
}

// locate fills in where a datum lies and which bins its value was made of.
func (s *survey) locate(d *Datum, col *column, v int, cellDbar float64, method Method) {
	k := slices.IndexFunc(s.sites, func(t site) bool { return t.cast == d.Cast })
	t := &s.sites[k]
	if d.DistanceKm, d.AwayKm = t.xKm, col.h[k]; s.isField {
		d.DistanceKm = math.NaN()
	}
	if method == Density { // its data are bins
		d.BinsDbar = []float64{d.PressureDbar}
		return
	}
	d.BinsDbar = s.bins(t, v, d.PressureDbar, cellDbar)
}

// bins returns the pressures of the bins that the value of a profile at a pressure was made of: those in its cell; else
// the bin at that pressure; the first bin, where its value is carried upwards; or the nearest on each side, as many as
// the interpolation uses.
func (s *survey) bins(t *site, v int, pDbar, cellDbar float64) []float64 {
	q := &t.profiles[v]
	if from, to := lowerBound(q.p, pDbar-cellDbar/2), lowerBound(q.p, pDbar+cellDbar/2); from < to {
		return q.p[from:to]
	}
	i, exact := slices.BinarySearch(q.p, pDbar)
	switch {
	case exact:
		return q.p[i : i+1]
	case i == 0:
		return q.p[:1]
	}
	side := map[interpolate.Method]int{interpolate.Linear: 1, interpolate.Akima: 3}[s.opt.Vertical]
	if side == 0 {
		side = 2
	}
	from, to := max(i-side, 0), min(i+side, len(q.p))
	for _, start := range q.starts { // nothing is interpolated across a gap
		if start <= i-1 {
			from = max(from, start)
		} else {
			to = min(to, start)
		}
	}
	return q.p[from:to]
}

// datum returns a datum of a cloud.
func (c *cloud) datum(n int32, v int, background, weight float64) Datum {
	return Datum{Cast: c.s.sites[c.site[n]].cast, PressureDbar: c.levels[c.level[n]], Value: c.values[v][n],
		Background: background, Weight: weight}
}
