package geostrophy

import (
	"fmt"
	"math"
	"slices"
	"sync"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
	"github.com/castwright/castwright/section/seawater"
)

const (
	tooCloseKm     = 2  // pairs and repeats (ours)
	withheldLatDeg = 3  // no velocity within this of the equator (ours)
	doubtfulLatDeg = 5  // questionable within this (ours)
	unsampledM     = 50 // casts that end higher above the bottom than this, and than 3 % of the water depth, give no triangle (ours)
	unsampledPart  = 0.03
)

// stationWork is a station with what its pairs share.
type stationWork struct {
	cast    *section.Cast
	profile *Profile
	spans   []span
	columns []*column // by span; nil where no pair and no dynamic height needs it
	extra   [][]float64
	err     error // no usable profile
}

// pairWork is a pair with all that its transports are made of. Slices are by common level.
type pairWork struct {
	index            int
	a, b             int       // stations
	common           []float64 // all common levels, dbar
	union            bool
	run              run
	reference        float64
	known, knownErr  float64
	length           float64 // m
	azimuth          float64 // radians, at the midpoint
	latMid           float64 // mean latitude, degrees
	f                float64 // 1/s
	cotLat           float64
	sign             float64 // +1 left of A to B, -1 right
	p                []float64
	depth            []float64 // m at the mean latitude
	shrink           []float64 // separation at the level over that at the surface; nil for 1
	iA, iB           []int     // points of the columns
	atLevel          bool      // the separation shrinks with depth
	cut              *cutter
	colA, colB       *column
	heightA, heightB []float64
	modesA, modesB   [3][]float64 // relative to the reference
	factors          *factors
	sigma            []float64 // pair-mean potential density anomaly of the classes; nil without classes
	whole            weights
	carry            float64
	shearFrom        int
	shear            []float64 // weights of the shear at the bottom
	triangle         bool
	bottomA, bottomB float64 // heights below the DCL
}

// Compute turns a section into dynamic height, velocity and transport. sec.Casts are in drawing order; casts that do not take part
// are listed in Result.LeftOut. The error is ErrTooFew, ErrSetting or ErrDirection; all trouble of single casts and pairs is in
// the result.
func Compute(sec *section.Section, opts Options) (*Result, error) {
	if err := opts.validate(); err != nil {
		return nil, err
	}
	r := &Result{Section: sec.Name, Positive: opts.Positive, ClassSigmaDbar: opts.ClassSigmaDbar,
		ReferenceTemperature: opts.ReferenceTemperature}
	stations, err := chooseStations(r, sec, &opts)
	if err != nil {
		return nil, err
	}
	each := opts.Each
	if each == nil {
		each = func(n int, do func(int)) {
			for i := range n {
				do(i)
			}
		}
	}
	stage := opts.Stage
	if stage == nil {
		stage = func(string) {}
	}
	stage("velocity")
	sign, err := lineSign(r, &opts)
	if err != nil {
		return nil, err
	}
	each(len(stations), func(i int) {
		s := stations[i]
		s.spans = spans(s.profile.PressureDbar, opts.MaxGapDbar)
		s.columns = make([]*column, len(s.spans))
		s.extra = make([][]float64, len(s.spans))
	})
	pairs := make([]*pairWork, len(stations)-1)
	r.Pairs = make([]Pair, len(pairs))
	each(len(pairs), func(i int) { pairs[i] = r.openPair(i, stations, sign, &opts) })
	r.tellApart()
	scale := r.errorScales(stations, &opts)

	r.askHeights(stations, &opts)
	for _, g := range pairs {
		if g != nil {
			g.ask(stations)
		}
	}
	std := newStandard(deepest(stations))
	each(len(stations), func(i int) { stations[i].build(&opts, std) })
	each(len(stations), func(i int) { r.setHeight(i, stations[i], &opts) })
	each(len(pairs), func(i int) {
		if g := pairs[i]; g != nil {
			r.setVelocity(g, stations)
		}
	})
	r.setAxis()
	stage("transport")
	each(len(stations), func(i int) {
		for _, c := range stations[i].columns {
			if c != nil {
				c.setModes(scale.stages[i] != StageAdjusted)
			}
		}
	})
	r.setTransports(pairs, stations, scale, each, &opts)
	if opts.EquatorialEstimate {
		r.Equatorial = equatorialEstimates(r, stations, &opts)
	}
	if opts.Members > 0 {
		stage("monte carlo")
		if err := r.monteCarlo(pairs, stations, scale, std, each, &opts); err != nil {
			return nil, err
		}
	}
	r.describe(&opts)
	return r, nil
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

// need asks for pressure p to be a point of the station's column in the given span.
func (s *stationWork) need(span int, p ...float64) { s.extra[span] = append(s.extra[span], p...) }

// spanOf gives the span that holds p; a pressure above the first usable level belongs to the first span. -1: none.
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
	for i, sp := range s.spans {
		if s.extra[i] == nil {
			continue
		}
		slices.Sort(s.extra[i])
		extra := slices.Compact(s.extra[i])
		pr := s.profile
		s.columns[i] = newColumn(pr.PressureDbar[sp.from:sp.to], pr.SA[sp.from:sp.to], pr.CT[sp.from:sp.to], extra, opts.Interpolation, std, &w)
	}
}

// askHeights settles the reference of the stations' own dynamic height.
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
			st.Reason = fmt.Sprintf("%d usable levels of temperature and salinity, two are needed", len(x))
		case k < 0 && ref > x[len(x)-1]:
			st.Reason = fmt.Sprintf("the reference %g dbar is below the deepest usable level, %g dbar", ref, x[len(x)-1])
		case k < 0:
			st.Reason = fmt.Sprintf("the reference %g dbar lies in a gap", ref)
		default:
			s.need(k, ref)
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
	c, sp := s.columns[k], s.spans[k]
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
		st.Reason = fmt.Sprintf("a gap from %g to %g dbar: nothing below it is joined to the reference", x[sp.to-1], x[sp.to])
	case k > 0:
		st.Reason = fmt.Sprintf("a gap from %g to %g dbar: nothing above it is joined to the reference", x[sp.from-1], x[sp.from])
	case st.ReferenceDbar < x[0]-opts.SurfaceCarryDbar:
		st.Reason = fmt.Sprintf("the first usable level is %g dbar: its water was carried up to the reference", x[0])
	}
}

// openPair judges a pair and settles its common levels and its reference. Nil when it is withheld.
func (r *Result) openPair(i int, stations []*stationWork, sign float64, opts *Options) *pairWork {
	a, b := stations[i], stations[i+1]
	pr := &r.Pairs[i]
	*pr = Pair{ID: pairID(r.Section, a.cast, b.cast), A: i, B: i + 1, FromKm: r.Stations[i].DistanceKm, ToKm: r.Stations[i+1].DistanceKm,
		DeepestCommonDbar: nan, ReferenceDbar: nan, SecondReference: nan, Transport: noSums(), Cumulative: noSums()}
	if !a.cast.Time.IsZero() && !b.cast.Time.IsZero() {
		pr.Time = a.cast.Time.Add(b.cast.Time.Sub(a.cast.Time) / 2)
	}
	g := &pairWork{index: i, a: i, b: i + 1, sign: sign, atLevel: opts.Distance == SphereAtLevel}
	at := measure(opts.Distance, a.cast.At, b.cast.At)
	pr.LengthKm, pr.Midpoint, pr.AzimuthDeg = at.lengthM/1e3, at.mid, at.azimuthDeg
	pr.PositiveDeg = math.Mod(at.azimuthDeg-90*sign+720, 360)
	g.length, g.azimuth = at.lengthM, at.azimuthDeg*(math.Pi/180)
	latA, latB := a.cast.At[1], b.cast.At[1]
	g.latMid = 0.5 * (latA + latB)
	g.f = seawater.Coriolis(g.latMid)
	pr.CoriolisPerSec = g.f
	g.cotLat = 1 / math.Tan(g.latMid*(math.Pi/180))
	nearest := math.Min(math.Abs(latA), math.Abs(latB))
	withhold := func(s Status, format string, args ...any) *pairWork {
		pr.Status, pr.Reason = s, fmt.Sprintf(format, args...)
		return nil
	}
	switch {
	case at.lengthM != at.lengthM:
		return withhold(WithheldPosition, "a station has no position")
	case at.lengthM < tooCloseKm*1e3:
		return withhold(WithheldClose, "the stations are %.2f km apart, less than %d km", at.lengthM/1e3, tooCloseKm)
	case latA*latB < 0:
		return withhold(WithheldEquator, "the pair crosses the equator")
	case nearest < withheldLatDeg:
		return withhold(WithheldEquator, "a station lies %.2f degrees from the equator, less than %d", nearest, withheldLatDeg)
	case nearest < doubtfulLatDeg:
		pr.Status, pr.Reason = Questionable, fmt.Sprintf("a station lies %.2f degrees from the equator, less than %d", nearest, doubtfulLatDeg)
	}
	for _, s := range []*stationWork{a, b} {
		if s.err != nil {
			return withhold(WithheldNoData, "%v", s.err)
		}
		if n := len(s.profile.PressureDbar); n < 2 {
			return withhold(WithheldNoData, "station %s has %d usable levels of temperature and salinity, two are needed", s.cast.Station, n)
		}
	}
	room := levelRoom.Get().(*[]level)
	defer levelRoom.Put(room)
	var levels []level
	levels, g.union = commonLevels((*room)[:0], a.profile, b.profile, a.spans, b.spans)
	if levels != nil {
		*room = levels
	}
	g.common = pressuresOf(levels, a.profile.PressureDbar)
	pr.LevelRule = "common bins"
	if g.union {
		pr.LevelRule = "union of bins"
	}
	runs := slices.DeleteFunc(runsOf(levels), func(x run) bool { return x.to-x.from < 2 })
	if len(runs) == 0 {
		return withhold(WithheldNoLevels, "the stations have %d common usable levels that no gap divides, two are needed", len(g.common))
	}
	pr.DeepestCommonDbar = g.common[runs[len(runs)-1].to-1]
	if s, why := g.setReference(pr, runs, a, b, opts); s != Computed {
		return withhold(s, "%s", why)
	}
	pr.ReferenceDbar, pr.KnownVelocity, pr.KnownVelocityErr = g.reference, g.known, g.knownErr
	g.noteGaps(pr)
	g.p = g.common[g.run.from:g.run.to:g.run.to]
	pr.PressureDbar = g.p
	return g
}

// noteGaps says which common levels are not joined to the reference.
func (g *pairWork) noteGaps(pr *Pair) {
	if n := len(g.common); g.run.from > 0 {
		pr.Notes = append(pr.Notes, fmt.Sprintf("a gap from %g to %g dbar: the levels above it are not joined to the reference", g.common[g.run.from-1], g.common[g.run.from]))
	} else if g.run.to < n {
		pr.Notes = append(pr.Notes, fmt.Sprintf("a gap from %g to %g dbar: the levels below it are not joined to the reference", g.common[g.run.to-1], g.common[g.run.to]))
	}
}

// ask asks both stations for the points that the pair needs.
func (g *pairWork) ask(stations []*stationWork) {
	for side, s := range [...]*stationWork{stations[g.a], stations[g.b]} {
		k := g.run.spanA
		if side == 1 {
			k = g.run.spanB
		}
		s.need(k, g.reference)
		x, i := s.profile.PressureDbar, s.spans[k].from
		for _, p := range g.p {
			for i < len(x) && x[i] < p {
				i++
			}
			if i == len(x) || x[i] != p {
				s.need(k, p)
			}
		}
	}
}

// setVelocity fills dynamic heights and velocity.
func (r *Result) setVelocity(g *pairWork, stations []*stationWork) {
	pr := &r.Pairs[g.index]
	g.colA, g.colB = stations[g.a].columns[g.run.spanA], stations[g.b].columns[g.run.spanB]
	n := len(g.p)
	buf := make([]float64, 3*n)
	g.heightA, g.heightB, pr.Velocity = buf[:n:n], buf[n:2*n:2*n], buf[2*n:]
	pr.HeightA, pr.HeightB = g.heightA, g.heightB
	atA, atB := g.colA.sumAt(g.reference), g.colB.sumAt(g.reference)
	i, j := 0, 0
	for l, p := range g.p {
		i, j = g.colA.find(p, i), g.colB.find(p, j)
		g.heightA[l] = atA - g.colA.sum[i]
		g.heightB[l] = atB - g.colB.sum[j]
	}
	scale := g.sign / (g.f * g.length)
	for l := range pr.Velocity {
		pr.Velocity[l] = scale*(g.heightB[l]-g.heightA[l]) + g.known
	}
}

// A pairRoom is the memory for the terms of one pair's transports, used again from pair to pair.
type pairRoom struct {
	values []float64
	points []int
	terms  factors
	cut    cutter
}

var (
	levelRoom = sync.Pool{New: func() any { return new([]level) }}
	pairRooms = sync.Pool{New: func() any { return new(pairRoom) }}
)

func grow[T any](s *[]T, n int) []T {
	if cap(*s) < n {
		*s = make([]T, n+n/8)
	}
	return (*s)[:n]
}

// fill computes depths, error integrals, factors and weights at the common levels, in the given room.
func (g *pairWork) fill(room *pairRoom, opts *Options) {
	n := len(g.p)
	buf := grow(&room.values, 14*n)
	take := func() []float64 { s := buf[:n:n]; buf = buf[n:]; return s }
	points := grow(&room.points, 2*n)
	g.iA, g.iB = points[:n], points[n:]
	g.depth = take()
	for q := range g.modesA {
		g.modesA[q], g.modesB[q] = take(), take()
	}
	g.factors, g.cut = &room.terms, &room.cut
	for k := range g.factors {
		g.factors[k] = take()
	}
	g.sigma = nil
	if len(opts.Classes) > 0 {
		g.sigma = take()
	}
	seawater.Heights(g.depth, g.p, g.latMid)
	thousands := int(opts.ClassSigmaDbar / 1000)
	i, j := 0, 0
	for l, p := range g.p {
		i, j = g.colA.find(p, i), g.colB.find(p, j)
		g.iA[l], g.iB[l] = i, j
		g.depth[l] = -g.depth[l]
		g.factors.set(l, g.colA.sa[i], g.colA.ct[i], g.colA.v[i], g.colB.sa[j], g.colB.ct[j], g.colB.v[j])
		if g.sigma != nil {
			g.sigma[l] = 0.5 * (seawater.Sigma(thousands, g.colA.sa[i], g.colA.ct[i]) + seawater.Sigma(thousands, g.colB.sa[j], g.colB.ct[j]))
		}
	}
	g.colA.modes.fill(&g.modesA, g.p, g.reference)
	g.colB.modes.fill(&g.modesB, g.p, g.reference)
	if g.atLevel {
		g.shrink = take()
		for l, d := range g.depth {
			g.shrink[l] = (sphereRadiusM - d) / sphereRadiusM
		}
	}
	g.whole = trapezoid(take(), g.depth)
}

// setErrors fills the shear and the errors of the velocity.
func (r *Result) setErrors(g *pairWork, scale *errorScale, opts *Options) {
	pr := &r.Pairs[g.index]
	n := len(g.p)
	if g.shrink != nil {
		for l := range pr.Velocity {
			pr.Velocity[l] = (pr.Velocity[l]-g.known)/g.shrink[l] + g.known
		}
	}
	buf := make([]float64, 4*n)
	pr.Shear, pr.VelocityErr, pr.PerCastErr, pr.CommonErr = buf[:n:n], buf[n:2*n:2*n], buf[2*n:3*n:3*n], buf[3*n:]
	for l := range n {
		i, j := max(l-1, 0), min(l+1, n-1)
		pr.Shear[l] = -(pr.Velocity[j] - pr.Velocity[i]) / (g.depth[j] - g.depth[i])
	}
	fl := 1 / (math.Abs(g.f) * g.length)
	sameSystem := scale.system[g.a] == scale.system[g.b]
	split := [2]bool{scale.split[scale.system[g.a]], scale.split[scale.system[g.b]]}
	place := opts.PositionErrKm * 1e3
	// Both stations move along and across the line: the separation by sqrt(2), the middle latitude by 1/sqrt(2).
	byLength, byLat := math.Sqrt2*place/g.length, g.cotLat*math.Sqrt(0.5)*place/(earthRadiusKm*1e3)
	moved2 := float64(byLength*byLength) + float64(byLat*byLat)
	known2 := float64(g.knownErr * g.knownErr)
	var ea, eb, ca, cb [3]float64
	for q := range ea {
		ea[q], eb[q] = scale.perCast[g.a][q]*fl, scale.perCast[g.b][q]*fl
		ca[q], cb[q] = scale.common[g.a][q]*fl, scale.common[g.b][q]*fl
	}
	for l := range n {
		var single, common, counted float64
		for q := range ea {
			ia, ib := g.modesA[q][l], g.modesB[q][l]
			x, y := ea[q]*ia, eb[q]*ib
			single += float64(x*x) + float64(y*y)
			x, y = ca[q]*ia, cb[q]*ib
			if sameSystem {
				x, y = y-x, 0
			}
			common += float64(x*x) + float64(y*y)
			if split[0] {
				counted += float64(x * x)
			}
			if split[1] {
				counted += float64(y * y)
			}
		}
		v := pr.Velocity[l] - g.known
		pr.PerCastErr[l], pr.CommonErr[l] = math.Sqrt(single), math.Sqrt(common)
		pr.VelocityErr[l] = math.Sqrt(single + counted + float64(v*v*moved2) + known2)
	}
}

func noSums() Sums {
	var s Sums
	for k := range s {
		s[k] = Sum{Value: nan, PerCast: nan, Common: nan, Position: nan, KnownVelocity: nan, Stated: nan, MonteCarlo: nan, Low: nan, High: nan}
	}
	return s
}

// tellApart gives pairs of equal names names that differ: those of their casts.
func (r *Result) tellApart() {
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
