package qc

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// bottleRules returns the checks against bottles. The targets are those of repeat hydrography.
func bottleRules() []Rule {
	return append(termRules("bottles", "the difference of bottles and CTD",
		repeatTargets+"; robust fit after Huber 1964, errors after Liang and Zeger 1986",
		[]Threshold{
			{"psal", 0.002, "", "target of salinity"},
			{"oxy_percent", 1, "%", "target of oxygen"},
			{"deep", 1000, "dbar", "bottles from this pressure on are compared, or the deeper half in shallower water"},
		}),
		Rule{ID: "bottles.profile", Does: "one cast differs from its bottles otherwise than the casts around it",
			Source: repeatTargets + "; " + ours, Thresholds: []Threshold{
				{"matches", 3, "", "number of bottles of the cast at least"},
			}})
}

// A Match is one bottle sample beside the CTD: at the closure of the bottle, and at the matching level of the
// downcast.
type Match struct {
	Bottles  *section.Bottles
	Row      int // of Bottles; the first of duplicates
	Cast     *section.Cast
	Variable string // of the CTD: psal or oxy
	Sample   float64
	Samples  int     // values that Sample is the mean of
	Dbar     float64 // at closure
	Closure  float64 // CTD value at closure; NaN when not usable
	Down     float64 // CTD value of the downcast; NaN without a matching level
	DownDbar float64
	Second   float64 // value of the second sensor at the same level; NaN without one
	How      How
	Steep    bool // the value changes so fast with pressure that the match has an error of its own: not in the fit
	Fitted   bool // in the fit
}

// How says by what a level of the downcast was matched.
type How uint8

// Ways to match a bottle with a level of the downcast.
const (
	Unmatched How = iota
	ByDensity
	ByPressure
)

var howWords = [...]string{"none", "density", "pressure"}

// String returns the word of the tables.
func (h How) String() string { return howWords[h] }

// What is compared with bottles, as tables name it.
const (
	minusClosure  = "bottle minus CTD at closure"
	minusDowncast = "bottle minus downcast"
)

// sampled lists the quantities that both the CTD and bottles measure.
var sampled = [...]struct{ variable, sample string }{{"psal", "salt_bottle"}, {"oxy", "oxy_bottle"}}

// Errors of what bottles are measured against (standard seawater, laboratory); common practice, no source.
const (
	ReferenceSalinity      = 0.001
	ReferenceOxygenPercent = 0.5
)

// bottles compares the casts with their bottles.
func (s *survey) bottles() {
	for _, q := range sampled {
		m := s.matches(q.variable, q.sample)
		if len(m) == 0 {
			continue
		}
		mean := 0.0
		for i := range m {
			mean += m[i].Sample / float64(len(m))
		}
		target, resolution, reference := s.limit("bottles.offset", "psal"), 1e-4, ReferenceSalinity
		if q.variable == "oxy" {
			target, resolution, reference = s.limit("bottles.offset", "oxy_percent")/100*mean, 0.1,
				ReferenceOxygenPercent/100*mean
		}
		if d, ok := s.duplicates(q.variable, q.sample); ok {
			s.result.Duplicates = append(s.result.Duplicates, d)
		}
		s.markForFit(m, target)
		s.fitBottles(m, q.variable, target, resolution, reference)
		s.result.Matches = append(s.result.Matches, m...)
	}
}

// markForFit marks the matches that are deep enough, not steep and of a channel that works.
func (s *survey) markForFit(m []Match, target float64) {
	deepest := 0.0
	for i := range m {
		deepest = max(deepest, m[i].Dbar)
	}
	from := min(s.limit("bottles.offset", "deep"), deepest/2)
	for i := range m {
		m[i].Steep = !(math.Abs(s.slope(&m[i])) < target/2)
		m[i].Fitted = m[i].Dbar >= from && !m[i].Steep && !s.failed[levelKey{m[i].Cast, m[i].Variable}]
	}
}

// differences returns sample minus CTD of the matches in the fit; the CTD value is that of at.
func differences(m []Match, station map[*section.Cast]int, at func(*Match) float64) []datum {
	var out []datum
	for i := range m {
		if y := m[i].Sample - at(&m[i]); m[i].Fitted && y == y {
			out = append(out, datum{y: y, pDbar: m[i].Dbar, oxygen: m[i].Sample, cast: m[i].Cast,
				station: station[m[i].Cast]})
		}
	}
	return out
}

// fitBottles fits the differences of one quantity and makes the findings: of the downcast, which is what is handed
// over, or of the closures where too few levels match.
func (s *survey) fitBottles(m []Match, variable string, target, resolution, reference float64) {
	station := s.stationNumbers()
	units := ""
	if variable == "oxy" {
		units = "umol/kg"
	}
	closure := differences(m, station, func(m *Match) float64 { return m.Closure })
	down := differences(m, station, func(m *Match) float64 { return m.Down })
	ofClosure := s.fitSystems(closure, minusClosure, variable, target, resolution, reference)
	ofDown := s.fitSystems(down, minusDowncast, variable, target, resolution, reference)
	s.result.Fits = append(append(s.result.Fits, ofClosure...), ofDown...)
	const upstream = "number to add in the processing upstream; nothing was corrected"
	var withOxygen Fitting // of the downcast, else of the closures
	if variable == "oxy" {
		for _, k := range []struct {
			of   string
			data []datum
		}{{minusClosure, closure}, {minusDowncast, down}} {
			if f, ok := s.fitOxygen(k.data, k.of, target, resolution, reference); ok {
				s.result.Fits = append(s.result.Fits, f)
				withOxygen = f
			}
		}
	}
	if t := slices.IndexFunc(withOxygen.Terms, func(t Term) bool { return t.Name == "oxygen" }); t >= 0 {
		withOxygen.Terms = withOxygen.Terms[t : t+1]
		s.judge("bottles", []Fitting{withOxygen}, "%", upstream)
	}
	judged := ofDown
	if len(ofDown) == 0 || ofDown[0].Values < leastMatches || ofDown[0].TooFewCasts {
		judged = ofClosure
	}
	s.judge("bottles", judged, units, upstream)
	s.profiles(judged, variable, target)
	if second := differences(m, station, func(m *Match) float64 { return m.Second }); len(second) > 0 {
		s.agree(down, second, variable, target, resolution, reference)
	}
}

// fitOxygen fits differences of oxygen with oxygen itself: a slope in percent.
func (s *survey) fitOxygen(data []datum, of string, target, resolution, reference float64) (Fitting, bool) {
	if len(data) == 0 {
		return Fitting{}, false
	}
	f, ok := fit(data, columns(data, target, false, true), resolution, reference)
	f.Of, f.Variable = of+" with oxygen", "oxy"
	return f, ok
}

// Residuals returns the fit of the bottles of a system, of the downcast or, where too few of its levels match, of
// the closures: its PerCast and Common are the errors of a variable. It is nil where too few bottles are left for an
// error.
func (r *Result) Residuals(variable, system string) *Fitting {
	for _, of := range []string{minusDowncast, minusClosure} {
		for i := range r.Fits {
			f := &r.Fits[i]
			if f.Of != of || f.Variable != variable || f.Values < leastMatches || f.TooFewCasts ||
				f.PerCast != f.PerCast {
				continue
			}
			other := func(d datum) bool { return d.cast.System != system }
			if !slices.ContainsFunc(f.data, other) {
				return f
			}
		}
	}
	return nil
}

// agree says which sensor of a pair agrees better with the bottles of each system.
func (s *survey) agree(first, second []datum, variable string, target, resolution, reference float64) {
	a := s.fitSystems(first, minusDowncast, variable, target, resolution, reference)
	b := s.fitSystems(second, minusDowncast, variable+"2", target, resolution, reference)
	s.result.Fits = append(s.result.Fits, b...)
	for i := range a {
		j := slices.IndexFunc(b, func(f Fitting) bool { return f.System == a[i].System })
		if j >= 0 && !a[i].TooFewCasts && !b[j].TooFewCasts {
			s.result.Agreements = append(s.result.Agreements, agreement(variable, a[i].System, a[i].Terms[0],
				b[j].Terms[0]))
		}
	}
}

// profiles finds casts whose bottles differ otherwise than the fit, by more than the target and three standard errors.
func (s *survey) profiles(fits []Fitting, variable string, target float64) {
	if len(fits) == 0 || fits[0].TooFewCasts {
		return
	}
	f := &fits[0] // of the whole cruise
	byCast := map[*section.Cast][]float64{}
	var order []*section.Cast
	for i := range f.data {
		c := f.data[i].cast
		if byCast[c] == nil {
			order = append(order, c)
		}
		byCast[c] = append(byCast[c], f.residuals[i])
	}
	for _, c := range order {
		r := byCast[c]
		if float64(len(r)) < s.limit("bottles.profile", "matches") {
			continue
		}
		m, e := median(slices.Clone(r)), medianErr*f.Scale/math.Sqrt(float64(len(r)))
		if math.Abs(m) <= target || math.Abs(m) <= standardErrors*e {
			continue
		}
		s.find(aboutAll(c, "bottles.profile", variable,
			fmt.Sprintf("%s of this cast differs by %s from its %d bottles, beyond the difference of all casts; "+
				"the target is %s",
				variable, signed(-m), len(r), inDigits(target)),
			"compare with the casts around it; nothing was corrected"))
		s.failed[levelKey{c, variable}] = true
	}
}

// sampleOf returns the mean of the usable samples of a bottle and their number; 0 for none.
func sampleOf(b *section.Bottles, rows []int, col *section.BottleColumn) (mean float64, n int) {
	for _, i := range rows {
		if b.Flagged && b.Rows[i].Flag != metadata.BottleNoProblem && b.Rows[i].Flag != metadata.BottleNotEvaluated {
			continue
		}
		if col.SampleFlags != nil && col.SampleFlags[i] != metadata.SampleAcceptable &&
			col.SampleFlags[i] != metadata.SampleMean {
			continue
		}
		if v := col.Values[i]; v == v {
			mean += v
			n++
		}
	}
	return mean / float64(n), n
}
