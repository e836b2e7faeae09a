package geostrophy

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
)

const (
	tooCloseKm     = section.TooCloseKm // pairs and repeats (ours)
	withheldLatDeg = 3                  // no velocity within this of the equator (ours)
	doubtfulLatDeg = 5                  // questionable within this (ours)
	// casts that end higher above the bottom than this, and than 3 % of the water depth, give no triangle (ours)
	unsampledM    = 50
	unsampledPart = 0.03
)

// stationWork is a station with what its pairs share.
type stationWork struct {
	cast    *section.Cast
	profile *Profile
	spans   []span
	columns []*column   // by slot; nil where no pair and no dynamic height needs it
	extra   [][]float64 // by slot: pressures that must be points of the column
	built   []*column   // each column once
	err     error       // no usable profile
}

// Compute turns a section into dynamic height, velocity and transport. sec.Casts are in drawing order; casts that do
// not take part are listed in Result.LeftOut. The error is ErrTooFew, ErrSetting or ErrDirection; all trouble of single
// casts and pairs is in the result.
func Compute(sec *section.Section, opts Options) (*Result, error) {
	if err := opts.validate(); err != nil {
		return nil, err
	}
	positive, sign, err := lineSign(sec, opts.Positive)
	if err != nil {
		return nil, err
	}
	opts.Positive = positive
	r := &Result{Section: sec.Name, Positive: positive, Distance: opts.Distance,
		ClassSigmaDbar:       opts.ClassSigmaDbar,
		commonReference:      opts.Reference.Kind == AtPressure || opts.Reference.Kind == AtDensity,
		DeepestBinIsBottom:   opts.DeepestBinIsBottom,
		ReferenceTemperature: opts.ReferenceTemperature}
	stations, err := takeStations(r, sec, &opts)
	if err != nil {
		return nil, err
	}
	if opts.Each == nil {
		opts.Each = func(n int, do func(int)) error {
			for i := range n {
				do(i)
			}
			return nil
		}
	}
	if opts.Stage == nil {
		opts.Stage = func(string) {}
	}
	scale, std := r.errorScales(stations, &opts), newStandard(deepest(stations))
	opts.Stage("velocity")
	pairs, err := r.setVelocities(stations, sign, std, &opts)
	if err != nil {
		return nil, err
	}
	r.setAxis()
	opts.Stage("transport")
	if sec.Closed() {
		scale.ring, r.Budget = len(stations)-1, newBudget(sec, sign, &opts)
	}
	if err := r.setTransports(pairs, stations, scale, &opts); err != nil {
		return nil, err
	}
	if opts.EquatorialEstimate {
		r.Equatorial = equatorialEstimates(r, stations, &opts)
	}
	if opts.Members > 0 {
		opts.Stage("monte carlo")
		if err := r.monteCarlo(pairs, stations, scale, std, &opts); err != nil {
			return nil, err
		}
	}
	r.describe(&opts)
	return r, nil
}

// setVelocities sets the levels of the pairs, and computes the dynamic height of the stations and the velocity of
// the pairs.
func (r *Result) setVelocities(stations []*stationWork, sign float64, std *standard, opts *Options) ([]*pairWork,
	error) {
	pairs := make([]*pairWork, len(stations)-1)
	r.Pairs = make([]Pair, len(pairs))
	err := opts.Each(len(stations), func(i int) {
		s := stations[i]
		s.spans = spans(s.profile.PressureDbar, opts.MaxGapDbar)
		s.columns = make([]*column, 2*len(s.spans))
		s.extra = make([][]float64, 2*len(s.spans))
	})
	if err == nil {
		err = opts.Each(len(pairs), func(i int) { pairs[i] = r.openPair(i, stations, sign, opts) })
	}
	if err != nil {
		return nil, err
	}
	r.renamePairs()
	r.askHeights(stations, opts)
	for _, g := range pairs {
		if g != nil {
			g.ask(stations)
		}
	}
	if err := opts.Each(len(stations), func(i int) {
		stations[i].build(opts, std)
		r.setHeight(i, stations[i], opts)
	}); err != nil {
		return nil, err
	}
	return pairs, opts.Each(len(pairs), func(i int) {
		if g := pairs[i]; g != nil {
			r.setVelocity(g, stations)
		}
	})
}

func deepest(stations []*stationWork) float64 {
	d := 0.0
	for _, s := range stations {
		if n := len(s.profile.PressureDbar); n > 0 {
			d = math.Max(d, s.profile.PressureDbar[n-1])
		}
	}
	return math.Ceil(d)
}

// slot returns which column of a span serves a reference: the span as it is, or, for a reference above its first level,
// the one whose first level's water is carried up to it. The interpolation sees the carried water, so that what another
// pair, or the station's own dynamic height, refers to must not move the velocity of a pair.
func (s *stationWork) slot(span int, reference float64) int {
	if reference < s.profile.PressureDbar[s.spans[span].from] {
		return len(s.spans) + span
	}
	return span
}

// need asks for pressure p to be a point of the column in the given slot.
func (s *stationWork) need(slot int, p ...float64) { s.extra[slot] = append(s.extra[slot], p...) }

// spanOf returns the span that holds p; a pressure above the first usable level belongs to the first span. -1: none.
func (s *stationWork) spanOf(p float64) int {
	x := s.profile.PressureDbar
	for i, sp := range s.spans {
		if p <= x[sp.to-1] && (p >= x[sp.from] || i == 0) {
			return i
		}
	}
	return -1
}

// build makes the columns that are needed.
func (s *stationWork) build(opts *Options, std *standard) {
	var w interpolate.Workspace
	pr := s.profile
	for i, sp := range s.spans {
		p := pr.PressureDbar[sp.from:sp.to]
		n := len(s.spans) + i
		column := func(points []float64) *column {
			slices.Sort(points)
			c := newColumn(p, pr.SA[sp.from:sp.to], pr.CT[sp.from:sp.to], slices.Compact(points), opts.Interpolation,
				std, &w)
			s.built = append(s.built, c)
			return c
		}
		if s.extra[i] != nil && s.extra[n] != nil {
			both := append(slices.Clone(s.extra[i]), s.extra[n]...)
			if asTheyAre(p, both) { // nothing is interpolated: one column serves both
				s.columns[i] = column(both)
				s.columns[n] = s.columns[i]
				continue
			}
		}
		for _, k := range [...]int{i, n} {
			if s.extra[k] != nil {
				s.columns[k] = column(s.extra[k])
			}
		}
	}
}

// asTheyAre reports whether the bins p serve as the integration grid with these points (in any order), those above the
// first bin aside.
func asTheyAre(p, points []float64) bool {
	for _, x := range points {
		if _, ok := slices.BinarySearch(p, x); !ok && x >= p[0] {
			return false
		}
	}
	return fineEnough(p)
}

// askHeights sets the reference of the stations' own dynamic height.
func (r *Result) askHeights(stations []*stationWork, opts *Options) {
	ref := opts.HeightReferenceDbar
	if ref != ref {
		ref = 0
		if opts.Reference.Kind == AtPressure {
			ref = opts.Reference.PressureDbar
		}
	}
	for i, s := range stations {
		st := &r.Stations[i]
		st.ReferenceDbar = ref
		st.PressureDbar = s.profile.PressureDbar
		x := st.PressureDbar
		switch k := s.spanOf(ref); {
		case s.err != nil:
			st.Reason = s.err.Error()
		case len(x) < 2:
			st.Reason = noOrOne[len(x)] + " usable level of temperature and salinity, two are needed"
		case k < 0 && ref > x[len(x)-1]:
			st.Reason = fmt.Sprintf("the reference %g dbar is below the deepest usable level, %g dbar", ref,
				x[len(x)-1])
		case k < 0:
			st.Reason = fmt.Sprintf("the reference %g dbar lies in a gap", ref)
		default:
			s.need(s.slot(k, ref), ref)
		}
	}
}

// setHeight fills the station's dynamic height from the span that is joined to the reference.
func (r *Result) setHeight(i int, s *stationWork, opts *Options) {
	st := &r.Stations[i]
	st.DynamicHeight = make([]float64, len(st.PressureDbar))
	for l := range st.DynamicHeight {
		st.DynamicHeight[l] = nan
	}
	if st.Reason != "" {
		return
	}
	k := s.spanOf(st.ReferenceDbar)
	c, sp := s.columns[s.slot(k, st.ReferenceDbar)], s.spans[k]
	at := c.sumAt(st.ReferenceDbar)
	for l, j := sp.from, 0; l < sp.to; l, j = l+1, j+1 {
		if c.p[j] != st.PressureDbar[l] { // the grid holds more than the bins
			j = c.find(st.PressureDbar[l], j)
		}
		st.DynamicHeight[l] = at - c.sum[j]
	}
	x := st.PressureDbar
	switch {
	case k+1 < len(s.spans):
		st.Reason = fmt.Sprintf("a gap from %g to %g dbar: nothing below it is joined to the reference", x[sp.to-1],
			x[sp.to])
	case k > 0:
		st.Reason = fmt.Sprintf("a gap from %g to %g dbar: nothing above it is joined to the reference", x[sp.from-1],
			x[sp.from])
	case st.ReferenceDbar < x[0]-opts.SurfaceCarryDbar:
		st.Reason = fmt.Sprintf("the first usable level is %g dbar: its water was carried up to the reference", x[0])
	}
}

func noSums() Sums {
	var s Sums
	for k := range s {
		s[k] = Sum{Value: nan, PerCast: nan, Common: nan, IfCommon: nan, Position: nan, KnownVelocity: nan, Stated: nan,
			MonteCarlo: nan, Low: nan, High: nan}
	}
	return s
}

// renamePairs returns pairs of equal names names that differ: those of their casts.
func (r *Result) renamePairs() {
	seen := map[string]int{}
	for i := range r.Pairs {
		seen[r.Pairs[i].ID]++
	}
	for i := range r.Pairs {
		if pr := &r.Pairs[i]; seen[pr.ID] > 1 {
			pr.ID = r.Section + "_" + r.Stations[pr.A].Cast.ID() + "_" + r.Stations[pr.B].Cast.ID()
		}
	}
}

func pairID(name string, a, b *section.Cast) string { return name + "_" + a.Station + "_" + b.Station }
