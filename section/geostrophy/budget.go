package geostrophy

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// A Budget is what the pairs of a closed line carry into the area that it encloses, or out of it. The net transports
// are Result.Total with their errors. They are not zero by theory: geostrophic flow v diverges by -beta v/f where it
// crosses latitudes, so that a flow with one reference leaves the integral of beta v/f over the area as its net volume.
type Budget struct {
	Enclosed section.Enclosure
	Land     float64 // part of the enclosed area that is land, 0 to 1; NaN when not asked
	LengthKm float64
	Towards  Direction // In or Out: which way the net counts as positive
	Reason   string    // why there is no budget; "" where there is one

	OneReference   bool    // every pair refers to the level asked for, or all to one pressure
	ShallowestDbar float64 // of the reference levels of the pairs
	DeepestDbar    float64
	ReachDbar      float64 // the deepest level that every pair has
	Days           float64 // between the first and the last of the casts; NaN where one has no time

	// Net transports split by the Coriolis parameter: what would be left if it were the same on all pairs (of the mean
	// of 1/f over the length of the line), and the rest, the beta term.
	OneCoriolis, Beta [Kinds]float64
	Absolute          [Kinds]float64 // sum over the pairs of the absolute transports

	PairAreaM2      float64 // through which the pairs carry water, bottom triangles included
	ClosingVelocity float64 // m/s through all of it with which the net volume would be zero; it is not applied
	// MeanTemperature says that heat is relative to the mean Conservative Temperature of the line over its area, since
	// no reference temperature is stated.
	MeanTemperature bool
	// change of the net with the reference that the kind is relative to: heat, W per K; freshwater, kg/s per g/kg
	PerReference [Kinds]float64
}

// newBudget returns the budget of a closed section before any pair is computed.
func newBudget(sec *section.Section, sign float64, opts *Options) *Budget {
	positive := opts.Positive
	b := &Budget{Enclosed: sec.Enclosed(), Land: nan, LengthKm: sec.DistanceKm[len(sec.DistanceKm)-1],
		Towards: positive, ShallowestDbar: nan, DeepestDbar: nan, ReachDbar: nan, PairAreaM2: nan, ClosingVelocity: nan}
	for k := range Kinds {
		b.OneCoriolis[k], b.Beta[k], b.Absolute[k], b.PerReference[k] = nan, nan, nan, nan
	}
	if positive == Left || positive == Right {
		b.Towards = Out
		if (sign > 0) == b.Enclosed.Left {
			b.Towards = In
		}
	}
	if opts.Land != nil {
		b.Land = sec.Share(opts.Land)
	}
	var first, last time.Time
	b.Days = nan
	for _, c := range sec.Casts {
		if c.Time.IsZero() {
			return b
		}
		if first.IsZero() || c.Time.Before(first) {
			first = c.Time
		}
		if c.Time.After(last) {
			last = c.Time
		}
	}
	b.Days = last.Sub(first).Hours() / 24
	return b
}

// setMeans sets the salinity and, for the budget of a closed line, the temperature that freshwater and heat are
// relative to, where none is stated: the mean of the pairs over their area above the bottom triangles.
func (r *Result) setMeans(all []*pairParts, scale *errorScale, opts *Options) {
	var area, salt, heat float64
	every := true
	for _, p := range all {
		if p == nil {
			every = false
			continue
		}
		area += p.water[0]
		salt += p.water[1]
		heat += p.water[2]
	}
	scale.sm = opts.ReferenceSalinity
	if scale.sm != scale.sm {
		scale.sm = salt / area
	}
	r.ReferenceSalinity = scale.sm
	if r.Budget != nil && every && scale.tref != scale.tref {
		scale.tref = heat / area
		r.ReferenceTemperature, r.Budget.MeanTemperature = scale.tref, true
	}
}

// setBudget fills the budget from the transports of the pairs.
func (r *Result) setBudget(all []*pairParts) {
	b := r.Budget
	if c := b.Enclosed.Crosses; c != [2]int{} {
		b.Reason = fmt.Sprintf("the line crosses itself, from station %s to %s and from %s to %s",
			r.Stations[c[0]].Cast.Station, r.Stations[c[0]+1].Cast.Station, r.Stations[c[1]].Cast.Station,
			r.Stations[c[1]+1].Cast.Station)
		return
	}
	var without []string
	for i := range r.Pairs {
		if p := &r.Pairs[i]; all[i] == nil {
			without = append(without, fmt.Sprintf("stations %s (%s)", r.names(p), p.Reason))
		}
	}
	if n := len(without); n > 0 {
		b.Reason = fmt.Sprintf("%d of %s without velocity: %s", n, pairsOf(len(r.Pairs)),
			strings.Join(without[:min(n, listed)], ", "))
		if n > listed {
			b.Reason += fmt.Sprintf(" and %d more", n-listed)
		}
		return
	}
	r.splitByCoriolis(all)
	b.OneReference = true
	for i := range r.Pairs {
		p := &r.Pairs[i]
		if i == 0 {
			b.ShallowestDbar, b.DeepestDbar, b.ReachDbar = p.ReferenceDbar, p.ReferenceDbar, p.DeepestCommonDbar
		}
		b.ShallowestDbar, b.DeepestDbar = math.Min(b.ShallowestDbar, p.ReferenceDbar), math.Max(b.DeepestDbar,
			p.ReferenceDbar)
		b.ReachDbar = math.Min(b.ReachDbar, p.DeepestCommonDbar)
		b.OneReference = b.OneReference && p.ReferenceFallback == ""
	}
	if !r.commonReference {
		b.OneReference = b.DeepestDbar-b.ShallowestDbar <= sameBinDbar
	}
}

// splitByCoriolis splits the net transports by the Coriolis parameter: a transport relative to a level goes as 1/f.
func (r *Result) splitByCoriolis(all []*pairParts) {
	b := r.Budget
	length, inverse := 0.0, 0.0
	for i := range r.Pairs {
		length += r.Pairs[i].LengthKm
		inverse += r.Pairs[i].LengthKm / r.Pairs[i].CoriolisPerSec
	}
	inverse /= length
	b.PairAreaM2 = 0
	for k := range Kinds {
		b.OneCoriolis[k], b.Absolute[k] = 0, 0
	}
	for i, p := range all {
		b.PairAreaM2 += p.whole.byKnown[baseVolume]
		for k := range Kinds {
			t := r.Pairs[i].Transport[k].Value
			b.Absolute[k] += math.Abs(t)
			b.OneCoriolis[k] += float64(t * r.Pairs[i].CoriolisPerSec * inverse)
		}
	}
	for k := range Kinds {
		b.Beta[k] = r.Total[k].Value - b.OneCoriolis[k]
	}
	b.ClosingVelocity = -r.Total[Volume].Value / b.PairAreaM2
	b.PerReference[Heat] = -seawater.HeatCapacity * r.Total[Mass].Value
	b.PerReference[Freshwater] = 1e3 * r.Total[Salt].Value / (r.ReferenceSalinity * r.ReferenceSalinity)
}

// netIsWithinErrors reports whether the net volume is no larger than twice its error and the beta term.
func (r *Result) netIsWithinErrors() bool {
	t := r.Total[Volume]
	return math.Abs(t.Value) <= 2*t.Stated+math.Abs(r.Budget.Beta[Volume])
}

// LeftOut is what a budget does not hold, in words.
func (b *Budget) LeftOut() string {
	text := "wind-driven (Ekman) transport (no wind is read), flow that is not geostrophic or does not depend on " +
		"depth, ice, " +
		"rivers, precipitation and evaporation, and what changed between the first and the last cast"
	if b.Days == b.Days {
		text += fmt.Sprintf(" (%.1f days)", b.Days)
	}
	return text
}

// holds says, after the given words, that a pole or land is inside; "" where neither is.
func (b *Budget) holds(begin string) string {
	var inside []string
	if b.Enclosed.Pole != "" {
		inside = append(inside, "the "+b.Enclosed.Pole+" pole")
	}
	if b.Land > 0 {
		inside = append(inside, fmt.Sprintf("land (%.2g %% of it)", 100*b.Land))
	}
	if len(inside) == 0 {
		return ""
	}
	return begin + strings.Join(inside, " and ")
}

// Inside says what is inside the line beside water; "" for nothing.
func (b *Budget) Inside() string { return b.holds("inside: ") }

// budgetSentences say, for a reader of the numbers, what the net volume of the closed line means.
func (r *Result) budgetSentences() []string {
	b := r.Budget
	where := fmt.Sprintf("closed line of %.1f km round an area of %.0f km2 on its %s", b.LengthKm,
		b.Enclosed.AreaKm2, map[bool]string{true: "left", false: "right"}[b.Enclosed.Left])
	where += b.holds(", with ")
	if b.Reason != "" {
		return []string{where + ": no budget, " + b.Reason}
	}
	t := &r.Total[Volume]
	verdict := "larger"
	if r.netIsWithinErrors() {
		verdict = "no larger"
	}
	side := "into"
	if b.Towards == Out {
		side = "out of"
	}
	out := []string{where, fmt.Sprintf(
		"the net volume transport %s the area is %.4f Sv, its error %.4f Sv, its beta term %.4f Sv: it is %s than "+
			"twice the "+
			"error and the beta term; a uniform velocity of %.2g m/s would make it zero and was not applied",
		side, t.Value/1e6, t.Stated/1e6, b.Beta[Volume]/1e6, verdict, b.ClosingVelocity),
		fmt.Sprintf("the net volume transport is a geostrophic imbalance, which does not include %s", b.LeftOut())}
	if !r.Partial.Complete() {
		out = append(out, "the budget is partial: "+r.Partial.Statement)
	}
	if !b.OneReference {
		out = append(out, fmt.Sprintf("mixed reference: the reference levels of the pairs are from %g to %g dbar, "+
			"which adds to "+
			"the net", b.ShallowestDbar, b.DeepestDbar))
	}
	return out
}

// findBudget adds the findings of a closed line.
func (r *Result) findBudget() {
	b := r.Budget
	f := metadata.Finding{Check: "geostrophy.budget", Count: 1}
	switch {
	case b.Reason != "":
		f.Severity, f.Message = metadata.Warning, fmt.Sprintf("section %s is a closed line without a budget: %s",
			r.Section, b.Reason)
		f.Remedy = "remove the station whose pairs have no velocity, or use another one; the transports of the other " +
			"pairs were computed"
	case !b.OneReference:
		f.Severity, f.Message = metadata.Note, fmt.Sprintf(
			"section %s: the budget has a mixed reference: the reference levels of the pairs are from %g to %g dbar",
			r.Section,
			b.ShallowestDbar, b.DeepestDbar)
		f.Remedy = fmt.Sprintf("write reference: %g, which every pair of the section reaches", b.ReachDbar)
	default:
		return
	}
	r.Findings = append(r.Findings, Finding{Finding: f})
}
