package qc

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/section"
)

// pairRules returns the checks that compare the two sensors of a pair from cast to cast.
func pairRules() []Rule {
	rules := slices.DeleteFunc(termRules("pair", "the difference of two sensors", commonPractice+
		"; limits are those of dual",
		[]Threshold{
			{"deep", 1500, "dbar", "deep water begins at this pressure"},
			{"upper", 200, "dbar", "the upper water between this pressure and the deep water is compared too"},
			{"levels", 25, "", "number of levels at least"},
		}),
		func(r Rule) bool { return r.ID == "pair.oxygen" })
	return append(rules,
		Rule{ID: "pair.step", Does: "the difference of two sensors steps from one cast to the next: a sensor changed",
			Source: ours, Thresholds: []Threshold{
				{"times", 3, "", "step over the usual step from cast to cast"},
				{"part", 0.5, "", "step over the limit of the difference"},
			}})
}

// A Pair is the difference of two sensors in one cast, second minus first.
type Pair struct {
	Cast     *section.Cast
	Variable string // of the first sensor
	Units    string
	Deep     PairPart // below 1500 dbar, or of the deepest third of a shallower cast
	Upper    PairPart // from 200 dbar to where Deep begins
	Weak     bool     // the cast is shallower than 1500 dbar
	LimitOf  float64  // of the median of Deep
}

// A PairPart is the difference over a range of pressure.
type PairPart struct {
	Levels              int // 0: the difference cannot be said
	FirstDbar, LastDbar float64
	Median              float64
	Spread              float64 // 1.4826 times the median absolute deviation
	Err                 float64 // standard error of the median, for bins that are alike over about 25
}

// alikeBins is over how many bins the difference of two sensors is alike; ours.
const alikeBins = 25

// sensorPairs compares the two sensors of each pair within casts, from cast to cast and over the cruise.
func (s *survey) sensorPairs() {
	station := s.stationNumbers()
	for _, q := range pairedQuantities {
		var pairs []Pair
		var data []datum
		for _, c := range s.Casts {
			p, ok := s.pairOf(c, q)
			if !ok {
				continue
			}
			pairs = append(pairs, p)
			for _, part := range []PairPart{p.Deep, p.Upper} {
				if part.Levels > 0 {
					data = append(data, datum{y: sensorSign(c, q) * part.Median,
						pDbar: (part.FirstDbar + part.LastDbar) / 2, cast: c, station: station[c]})
				}
			}
		}
		if len(pairs) == 0 {
			continue
		}
		fits := s.fitSystems(data, "sensor pair", q, s.limit("dual", q), 1e-4, 0)
		s.judge("pair", fits, pairs[0].Units,
			"compare with bottles which sensor is right; nothing was corrected")
		s.pairSteps(pairs)
		s.result.Pairs, s.result.Fits = append(s.result.Pairs, pairs...), append(s.result.Fits, fits...)
	}
}

// pairOf returns the difference of the two sensors of a quantity in a cast; false where there is none.
func (s *survey) pairOf(c *section.Cast, q string) (Pair, bool) {
	s.scratch = c.UsableLevels(s.scratch[:0], s.settings(c).NotCalibrated, q, q+"2")
	l := s.scratch
	if len(l) == 0 {
		return Pair{}, false
	}
	p := Pair{Cast: c, Variable: q, Units: c.Column(q).Units, LimitOf: s.limit("dual", q)}
	deep := s.limit("pair.offset", "deep")
	if last := c.PressureDbar[l[len(l)-1]]; last < deep {
		p.Weak, deep = true, last*2/3
		p.LimitOf *= s.limit("dual", "upper_factor")
	}
	part := func(from, to float64) (out PairPart) {
		var d []float64
		for _, k := range l {
			if v := c.PressureDbar[k]; v > from && v <= to {
				if len(d) == 0 {
					out.FirstDbar = v
				}
				d, out.LastDbar = append(d, c.Column(q + "2").Values[k]-c.Column(q).Values[k]), v
			}
		}
		if float64(len(d)) < s.limit("pair.offset", "levels") {
			return PairPart{}
		}
		out.Levels, out.Median = len(d), median(slices.Clone(d))
		_, variance := meanVariance(d)
		out.Err = medianErr * math.Sqrt(variance/(float64(len(d))/alikeBins))
		for i := range d {
			d[i] = math.Abs(d[i] - out.Median)
		}
		out.Spread = madScale * median(d)
		return out
	}
	p.Deep, p.Upper = part(deep, math.Inf(1)), part(s.limit("pair.offset", "upper"), deep)
	return p, p.Deep.Levels > 0 || p.Upper.Levels > 0
}

// medianErr is the standard error of a median of normal values over that of their mean.
const medianErr = 1.2533

// sensorSign returns -1 for a cast in which the second sensor of a quantity is reported as the first, else 1: over
// several casts the same two sensors are compared.
func sensorSign(c *section.Cast, q string) float64 {
	if col := c.Column(q); col != nil && col.Sensor != "" {
		return -1
	}
	return 1
}

// pairSteps finds neighbouring casts of one system between which the difference of a pair steps.
func (s *survey) pairSteps(pairs []Pair) {
	pairs = slices.DeleteFunc(slices.Clone(pairs), func(p Pair) bool { return p.Deep.Levels == 0 })
	if len(pairs) < 4 {
		return
	}
	for i := range pairs {
		pairs[i].Deep.Median *= sensorSign(pairs[i].Cast, pairs[i].Variable)
	}
	steps := make([]float64, len(pairs)-1)
	for i := range steps {
		steps[i] = math.Abs(pairs[i+1].Deep.Median - pairs[i].Deep.Median)
	}
	usual := median(slices.Clone(steps))
	for i, d := range steps {
		a, b := &pairs[i], &pairs[i+1]
		limit := s.limit("pair.step", "part") * max(a.LimitOf, b.LimitOf)
		if a.Cast.System != b.Cast.System || d <= limit || d <= s.limit("pair.step", "times")*usual {
			continue
		}
		f := about(b.Cast, "pair.step", b.Variable,
			fmt.Sprintf("the second sensor of %s minus the first steps from %s to %s%s between %s "+
				"and %s: a sensor changed", b.Variable, signed(a.Deep.Median), signed(b.Deep.Median), spaced(b.Units),
				name(a.Cast), name(b.Cast)),
			"look at the log for a change of sensor, which is a new system in the cruise file; nothing was corrected")
		atLevels(&f, b.Cast, b.Deep.FirstDbar, b.Deep.LastDbar)
		f.Count = b.Deep.Levels
		s.find(f)
	}
}

// An Agreement says which sensor of a pair agrees better with the bottles of the same casts.
type Agreement struct {
	Variable      string
	System        string
	First, Second Term   // the offset of each sensor from the bottles
	Better        string // variable of the sensor that agrees better; "" when it is undecided
}

// agreement compares the offsets of two sensors from the same bottles.
func agreement(variable, system string, first, second Term) Agreement {
	a := Agreement{Variable: variable, System: system, First: first, Second: second}
	d := math.Abs(first.Value) - math.Abs(second.Value)
	if math.Abs(d) > 2*math.Sqrt(first.Error*first.Error+second.Error*second.Error) {
		a.Better = variable
		if d > 0 {
			a.Better = variable + "2"
		}
	}
	return a
}
