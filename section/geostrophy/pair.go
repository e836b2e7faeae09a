package geostrophy

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

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
	modesA, modesB   [waterModes][]float64 // relative to the reference
	// modes of error that this pair has: all but the spread where no station is a mean
	water            int
	factors          *factors
	sigma            []float64 // pair-mean potential density anomaly of the classes; nil without classes
	whole            weights
	carry            float64
	shearFrom        int
	shear            []float64 // weights of the shear at the bottom
	triangle         bool
	bottomA, bottomB float64       // heights below the DCL
	bands            []bandWeights // of the members' layers and classes
}

// openPair decides whether a pair has a velocity, and sets its common levels and its reference. It returns nil when the
// pair is withheld.
func (r *Result) openPair(i int, stations []*stationWork, sign float64, opts *Options) *pairWork {
	a, b := stations[i], stations[i+1]
	pr := &r.Pairs[i]
	*pr = Pair{ID: pairID(r.Section, a.cast, b.cast), A: i, B: i + 1, FromKm: r.Stations[i].DistanceKm,
		ToKm:              r.Stations[i+1].DistanceKm,
		DeepestCommonDbar: nan, ReferenceDbar: nan, SecondReference: nan, Transport: noSums(), Cumulative: noSums(),
		KnownVelocity: nan, KnownVelocityErr: nan, SurfaceCarriedM: nan, TopUnsampledM: nan, BottomAM: nan,
		BottomBM: nan, UnsampledAreaM2: nan}
	for k := range Kinds { // a withheld pair has no number
		pr.AboveTriangle[k], pr.SecondTransport[k] = nan, nan
		for t := range Treatments {
			pr.Triangle[t][k] = nan
		}
	}
	if !a.cast.Time.IsZero() && !b.cast.Time.IsZero() {
		pr.Time = a.cast.Time.Add(b.cast.Time.Sub(a.cast.Time) / 2)
	}
	g := &pairWork{index: i, a: i, b: i + 1, sign: sign, atLevel: opts.Distance == section.SphereAtLevel}
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
		return withhold(WithheldEquator, "a station lies %.2f degrees from the equator, less than %d", nearest,
			withheldLatDeg)
	case nearest < doubtfulLatDeg:
		pr.Status, pr.Reason = Questionable, fmt.Sprintf("a station lies %.2f degrees from the equator, less than %d",
			nearest, doubtfulLatDeg)
	}
	for _, s := range []*stationWork{a, b} {
		if s.err != nil {
			return withhold(WithheldNoData, "%v", s.err)
		}
		if n := len(s.profile.PressureDbar); n < 2 {
			return withhold(WithheldNoData,
				"station %s has %s usable level of temperature and salinity, two are needed", s.cast.Station,
				noOrOne[n])
		}
	}
	if s, why := g.setLevels(pr, a, b, opts); s != Computed {
		return withhold(s, "%s", why)
	}
	return g
}

// setLevels sets the common levels of a pair, its reference and the levels that are joined to it, or returns why there
// are none.
func (g *pairWork) setLevels(pr *Pair, a, b *stationWork, opts *Options) (Status, string) {
	memory := levelMemories.Get().(*[]level)
	defer levelMemories.Put(memory)
	var levels []level
	levels, g.union = commonLevels((*memory)[:0], a.profile, b.profile, a.spans, b.spans)
	if levels != nil {
		*memory = levels
	}
	g.common = pressuresOf(levels, a.profile.PressureDbar)
	g.water = ofSpread
	if a.profile.spread != nil || b.profile.spread != nil {
		g.water = waterModes
	}
	runs := slices.DeleteFunc(runsOf(levels), func(x run) bool { return x.to-x.from < 2 })
	if len(runs) == 0 {
		gap := ""
		if len(a.spans) > 1 || len(b.spans) > 1 {
			gap, pr.bridgeDbar = " that no gap divides", math.Inf(1)
		}
		return WithheldNoLevels, fmt.Sprintf("the stations have %s%s, two are needed", howMany(len(g.common)), gap)
	}
	pr.LevelRule = "common bins"
	if g.union {
		pr.LevelRule = "union of bins"
	}
	pr.DeepestCommonDbar = g.common[runs[len(runs)-1].to-1]
	if s, why := g.setReference(pr, runs, a, b, opts); s != Computed {
		return s, why
	}
	pr.ReferenceDbar, pr.KnownVelocity, pr.KnownVelocityErr = g.reference, g.known, g.knownErr
	g.noteGaps(pr)
	g.p = g.common[g.run.from:g.run.to:g.run.to]
	pr.PressureDbar = g.p
	return Computed, ""
}

// noteGaps notes which common levels are not joined to the reference.
func (g *pairWork) noteGaps(pr *Pair) {
	if n := len(g.common); g.run.from > 0 {
		pr.noteGap(g.common[g.run.from-1], g.common[g.run.from], "above")
	} else if g.run.to < n {
		pr.noteGap(g.common[g.run.to-1], g.common[g.run.to], "below")
	}
}

func (p *Pair) noteGap(from, to float64, beyond string) {
	p.Notes = append(p.Notes,
		Note{NoteGap, fmt.Sprintf("a gap from %g to %g dbar: the levels %s it are not joined to the reference", from,
			to, beyond), to - from})
}

// ask asks both stations for the points that the pair needs.
func (g *pairWork) ask(stations []*stationWork) {
	for side, s := range [...]*stationWork{stations[g.a], stations[g.b]} {
		k := g.run.spanA
		if side == 1 {
			k = g.run.spanB
		}
		slot := s.slot(k, g.reference)
		s.need(slot, g.reference)
		x, i := s.profile.PressureDbar, s.spans[k].from
		for _, p := range g.p {
			for i < len(x) && x[i] < p {
				i++
			}
			if i == len(x) || x[i] != p {
				s.need(slot, p)
			}
		}
	}
}

// setVelocity fills dynamic heights and velocity.
func (r *Result) setVelocity(g *pairWork, stations []*stationWork) {
	pr := &r.Pairs[g.index]
	a0, b0 := stations[g.a], stations[g.b]
	g.colA, g.colB = a0.columns[a0.slot(g.run.spanA, g.reference)], b0.columns[b0.slot(g.run.spanB, g.reference)]
	n := len(g.p)
	buf := make([]float64, 3*n)
	g.heightA, g.heightB, pr.Velocity = buf[:n:n], buf[n:2*n:2*n], buf[2*n:]
	pr.HeightA, pr.HeightB = g.heightA, g.heightB
	atA, atB := g.colA.sumAt(g.reference), g.colB.sumAt(g.reference)
	a, b := g.colA, g.colB
	scale := g.sign / (g.f * g.length)
	for l, i, j := 0, 0, 0; l < n; l, i, j = l+1, i+1, j+1 {
		p := g.p[l]
		if a.p[i] != p {
			i = a.find(p, i)
		}
		if b.p[j] != p {
			j = b.find(p, j)
		}
		g.heightA[l], g.heightB[l] = atA-a.sum[i], atB-b.sum[j]
		pr.Velocity[l] = float64(scale*(g.heightB[l]-g.heightA[l])) + g.known
	}
}

var noOrOne = [...]string{"no", "one"} // of levels that are too few

func howMany(n int) string {
	if n < 2 {
		return noOrOne[n] + " common usable level"
	}
	return fmt.Sprintf("%d common usable levels", n)
}
