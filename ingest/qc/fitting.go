package qc

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A Fitting is the robust fit of differences between two records of one quantity, with errors clustered by cast.
type Fitting struct {
	Of           string // "sensor pair", "bottle minus CTD at closure", "bottle minus downcast"
	Variable     string
	System       string // of the casts; "" for the whole cruise
	Terms        []Term
	Values       int
	Casts        int
	MeanDbar     float64 // the offset is that at this pressure
	Scale        float64 // of the residuals
	Median       float64
	MedianErr    float64 // NaN with too few casts
	PerCast      float64 // standard deviation of what a whole cast is off, NaN when it cannot be said
	Common       float64 // standard error of what all casts are off
	TooFewCasts  bool    // for errors: no finding is made
	residuals    []float64
	data         []datum
	coefficients []float64
}

// A Term is one coefficient of a Fitting. Target is how much of it the targets allow.
type Term struct {
	Name   string // "offset", "pressure", "station", "time", "oxygen", or "system " and a label
	Value  float64
	Error  float64 // standard error; NaN with too few casts
	Per    string  // what the value is for, such as "1000 dbar"; "" for an offset
	Target float64
}

// Outside reports whether the term is outside its target, and beyond doubt: by more than three standard errors.
func (t *Term) Outside() (outside, beyondDoubt bool) {
	outside = math.Abs(t.Value) > t.Target
	return outside, outside && math.Abs(t.Value) > standardErrors*t.Error
}

// standardErrors is how many of them a finding exceeds.
const standardErrors = 3

// A datum is one difference between two records.
type datum struct {
	y, pDbar float64
	oxygen   float64 // umol/kg, for a term of its own; unused when the fit has none
	cast     *section.Cast
	station  int // in the order of the casts
}

// Ranges that the data must span for a term, and what slopes are given for.
const (
	rangeDbar      = 1000
	rangeStations  = 10
	rangeDays      = 2
	rangeOxygen    = 40 // umol/kg
	systemCasts    = 3
	perDbar        = 1000
	perStations    = 30
	inSeparable    = 0.98 // correlation of station and time above which only time is fitted
	leastMatches   = 12
	oxygenPerScale = 100 // umol/kg for a change in percent
)

// A column is one predictor of a fit.
type column struct {
	name, per string
	value     func(*datum) float64
	scale     float64 // of the coefficient for per
	target    float64 // of the scaled coefficient
}

// columns returns the predictors that the data can separate. Pressure, station and time are counted from their
// means, so that the offset is that of the middle of the data.
func columns(data []datum, target float64, systems, oxygen bool) []column {
	mean := func(f func(*datum) float64) (m, span float64) {
		low, high := math.Inf(1), math.Inf(-1)
		for i := range data {
			v := f(&data[i])
			m, low, high = m+v/float64(len(data)), math.Min(low, v), math.Max(high, v)
		}
		return m, high - low
	}
	out := []column{{"offset", "", func(*datum) float64 { return 1 }, 1, target}}
	pressure := func(d *datum) float64 { return d.pDbar }
	if m, span := mean(pressure); span >= rangeDbar {
		out = append(out, column{"pressure", "1000 dbar", func(d *datum) float64 { return (d.pDbar - m) / perDbar }, 1,
			target / max(1, span/2/perDbar)})
	}
	if oxygen {
		m, span := mean(func(d *datum) float64 { return d.oxygen })
		if span < rangeOxygen { // less is mostly the noise of the samples, which would be fitted against itself
			return out
		}
		out = append(out, column{"oxygen", "100 umol/kg",
			func(d *datum) float64 { return (d.oxygen - m) / oxygenPerScale }, 1, 1})
		return out
	}
	first := data[0].cast
	day := func(d *datum) float64 { return days(first, d.cast) }
	station := func(d *datum) float64 { return float64(d.station) }
	md, daySpan := mean(day)
	ms, stationSpan := mean(station)
	timed := daySpan >= rangeDays
	if stationSpan >= rangeStations && !(timed && correlation(data, day, station) > inSeparable) {
		out = append(out, column{"station", "30 stations",
			func(d *datum) float64 { return (station(d) - ms) / perStations }, 1, target})
	}
	if timed {
		out = append(out, column{"time", fmt.Sprintf("%.0f days", daySpan),
			func(d *datum) float64 { return (day(d) - md) / daySpan }, 1, target})
	}
	if systems {
		out = append(out, systemColumns(data, target)...)
	}
	return out
}

// systemColumns returns an indicator for each system but the first, of those with enough casts.
func systemColumns(data []datum, target float64) (out []column) {
	var order []string
	casts := map[string]map[*section.Cast]bool{}
	for i := range data {
		y := data[i].cast.System
		if casts[y] == nil {
			casts[y] = map[*section.Cast]bool{}
			order = append(order, y)
		}
		casts[y][data[i].cast] = true
	}
	for _, y := range order[1:] {
		if len(casts[y]) >= systemCasts {
			out = append(out, column{"system " + y, "", func(d *datum) float64 {
				if d.cast.System == y {
					return 1
				}
				return 0
			}, 1, target})
		}
	}
	return out
}

// correlation returns the correlation of two properties of the data.
func correlation(data []datum, f, g func(*datum) float64) float64 {
	var n, x, y, xx, yy, xy float64
	for i := range data {
		a, b := f(&data[i]), g(&data[i])
		n, x, y, xx, yy, xy = n+1, x+a, y+b, xx+a*a, yy+b*b, xy+a*b
	}
	return (n*xy - x*y) / math.Sqrt((n*xx-x*x)*(n*yy-y*y))
}

// fit fits differences; false without enough of them. resolution is their last digit, referenceErr the error of
// what they were measured against.
func fit(data []datum, cols []column, resolution, referenceErr float64) (Fitting, bool) {
	x := make([][]float64, len(data))
	y, group := make([]float64, len(data)), make([]int, len(data))
	number := map[*section.Cast]int{}
	byCast := [][]float64{}
	for i := range data {
		d := &data[i]
		for _, c := range cols {
			x[i] = append(x[i], c.value(d))
		}
		g, ok := number[d.cast]
		if !ok {
			g = len(number)
			number[d.cast], byCast = g, append(byCast, nil)
		}
		y[i], group[i] = d.y, g
	}
	h, ok := Huber(x, y, group, resolution)
	if !ok {
		return Fitting{}, false
	}
	f := Fitting{Values: len(data), Casts: h.Groups, Scale: h.Scale, TooFewCasts: h.Errors == nil, data: data,
		coefficients: h.Coefficients,
		residuals:    residualsOf(make([]float64, len(y)), x, y, h.Coefficients)}
	for i := range data {
		f.MeanDbar += data[i].pDbar / float64(len(data))
		byCast[group[i]] = append(byCast[group[i]], f.residuals[i])
	}
	for j, c := range cols {
		t := Term{Name: c.name, Per: c.per, Value: h.Coefficients[j] * c.scale, Error: math.NaN(), Target: c.target}
		if h.Errors != nil {
			t.Error = h.Errors[j] * c.scale
		}
		f.Terms = append(f.Terms, t)
	}
	f.PerCast, f.Common, _ = Split(byCast, referenceErr)
	one := make([][]float64, len(y))
	for i := range one {
		one[i] = []float64{1}
	}
	f.Median, f.MedianErr = median(slices.Clone(y)), math.NaN()
	if m, ok := Huber(one, y, group, resolution); ok && m.Errors != nil {
		f.MedianErr = m.Errors[0]
	}
	return f, true
}

// fitSystems fits the differences of the whole cruise, with an indicator for each system, and those of each system
// when there are several.
func (s *survey) fitSystems(data []datum, of, variable string, target, resolution, referenceErr float64) []Fitting {
	var out []Fitting
	add := func(d []datum, system string, systems bool) {
		if f, ok := fit(d, columns(d, target, systems, false), resolution, referenceErr); ok {
			f.Of, f.Variable, f.System = of, variable, system
			out = append(out, f)
		}
	}
	if len(data) == 0 {
		return nil
	}
	add(data, "", true)
	bySystem := map[string][]datum{}
	var order []string
	for _, d := range data {
		if bySystem[d.cast.System] == nil {
			order = append(order, d.cast.System)
		}
		bySystem[d.cast.System] = append(bySystem[d.cast.System], d)
	}
	if len(order) > 1 {
		for _, y := range order {
			add(bySystem[y], y, false)
		}
	}
	return out
}

// judge makes the findings of fits of one kind of difference, under the name of the check and of the term: a warning
// for each term outside its target by more than three standard errors, a note for one that is outside only. Where each
// system has a fit of its own, offsets and slopes with pressure are those of the systems; the rest is that of the whole
// cruise.
func (s *survey) judge(check string, fits []Fitting, units, remedy string) {
	several := slices.ContainsFunc(fits, func(f Fitting) bool {
		return f.System != "" && !f.TooFewCasts && f.Values >= leastMatches
	})
	for i := range fits {
		f := &fits[i]
		if f.TooFewCasts || f.Values < leastMatches {
			continue
		}
		for _, t := range f.Terms {
			if several && (f.System == "") == (t.Name == "offset" || t.Name == "pressure") {
				continue
			}
			outside, sure := t.Outside()
			if !outside {
				continue
			}
			name, _, _ := strings.Cut(t.Name, " ")
			m := metadata.Finding{Severity: metadata.Note, Check: check + "." + name, Variable: f.Variable,
				Count:  f.Values,
				Remedy: remedy}
			if c := f.firstOf(&t); c != nil {
				m.File, m.Cast = c.Source.Name, c.ID()
			}
			if sure {
				m.Severity = metadata.Warning
			}
			m.First, m.Last = span(f.data)
			m.Message = f.say(&t, units)
			s.find(m)
		}
	}
}

// firstOf returns the first cast of the system that a term is about; nil when it is about the whole cruise.
func (f *Fitting) firstOf(t *Term) *section.Cast {
	system, ok := strings.CutPrefix(t.Name, "system ")
	if !ok {
		if system = f.System; system == "" {
			return nil
		}
	}
	for i := range f.data {
		if c := f.data[i].cast; c.System == system {
			return c
		}
	}
	return nil
}

// termRules returns a rule for each term of the fits of one kind of difference.
func termRules(check, what, source string, thresholds []Threshold) []Rule {
	terms := []struct{ name, does string }{{"offset", "is off by more than the target"},
		{"pressure", "changes with pressure by more than the target"},
		{"station", "changes along the stations by more than the target"},
		{"time", "changes with time by more than the target"}, {"oxygen", "changes with oxygen by more than 1 %"},
		{"system", "differs from system to system by more than the target"}}
	var out []Rule
	for i, t := range terms {
		r := Rule{ID: check + "." + t.name, Does: what + " " + t.does, Source: source}
		if i == 0 {
			r.Thresholds = thresholds
		}
		out = append(out, r)
	}
	return out
}

// say returns a term in words.
func (f *Fitting) say(t *Term, units string) string {
	where := ""
	if f.System != "" {
		where = " in system " + f.System
	}
	what := "is on average"
	switch t.Name {
	case "offset":
		where += fmt.Sprintf(" at %.0f dbar", f.MeanDbar)
	case "pressure", "station", "time", "oxygen":
		what = "changes with " + t.Name + " by"
	default:
		what = "differs in " + t.Name + " from that in the first system by"
	}
	per := ""
	if t.Per != "" {
		per = " per " + t.Per
	}
	return fmt.Sprintf("%s of %s%s %s %s ± %s%s%s, from %d values of %d casts; the target is %s", f.Of, f.Variable,
		where,
		what, signed(t.Value), inDigits(t.Error), spaced(units), per, f.Values, f.Casts, inDigits(t.Target))
}

// spaced returns units behind a number; nothing for a number without units.
func spaced(units string) string {
	if units == "" || units == "1" {
		return ""
	}
	return " " + units
}

// signed and inDigits write a value with four significant decimals of a salinity.
func signed(v float64) string   { return fmt.Sprintf("%+.*f", decimalsFor(v), v) }
func inDigits(v float64) string { return fmt.Sprintf("%.*f", decimalsFor(v), v) }

// decimalsFor returns the decimals that show a value to two or three digits.
func decimalsFor(v float64) int {
	a := math.Abs(v)
	switch {
	case a != a || a == 0 || a >= 10:
		return 1
	case a >= 0.1:
		return 2
	case a >= 0.01:
		return 4
	}
	return 5
}

// span returns the smallest and the largest pressure of the data.
func span(data []datum) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, d := range data {
		low, high = math.Min(low, d.pDbar), math.Max(high, d.pDbar)
	}
	return low, high
}

// stationNumbers returns the number of each cast's station in the order of the casts.
func (s *survey) stationNumbers() map[*section.Cast]int {
	out := map[*section.Cast]int{}
	last, n := [2]string{}, 0
	for _, c := range s.Casts {
		if k := [2]string{c.Expocode, c.Station}; k != last {
			last = k
			n++
		}
		out[c] = n
	}
	return out
}
