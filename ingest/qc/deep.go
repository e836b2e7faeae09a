package qc

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb/geo"
)

// deepRules returns the checks of deep salinity at fixed potential temperature. A cast is compared with its
// neighbours, never with the median of the cruise: along a line, water changes.
func deepRules() []Rule {
	return []Rule{
		{ID: "deep.salinity",
			Does:   "deep salinity at fixed potential temperature differs from that of the casts around",
			Source: ours + "; slope of the neighbours after Sen 1968, J. Am. Stat. Assoc. 63, 1379",
			Thresholds: []Threshold{
				{"cast", 0.003, "", "difference in salinity"},
				{"deep", 1500, "dbar", "deep water begins at this pressure"},
				{"side", 5, "casts", "number of casts compared on each side"},
			}},
		{ID: "deep.step", Does: "deep salinity at fixed potential temperature steps where the system or the leg " +
			"changes",
			Source: repeatTargets + "; " + ours, Thresholds: []Threshold{
				{"step", 0.002, "", "step in salinity"},
				{"side", 6, "casts", "number of casts compared on each side"},
			}},
		{ID: "deep.drift", Does: "deep salinity of repeated stations drifts with time",
			Source: repeatTargets + "; " + ours,
			Thresholds: []Threshold{
				{"drift", 0.002, "", "change in salinity over the longest time between two casts"},
				{"pairs", 3, "", "number of repeated stations at least"},
				{"repeat_km", 10, "km", "distance between casts of a repeated station at most"},
			}},
	}
}

// Numbers of the comparison of deep salinity; ours.
const (
	deepRange    = 0.1   // degC of potential temperature that all casts of a group share
	deepValues   = 5     // potential temperatures at which salinities are compared
	deepWindow   = 0.05  // degC each side for the straight line through salinity
	deepRms      = 0.002 // of that line: more, and salinity is no function of temperature there
	groupGap     = 4     // a distance of more than this many median distances ends a group
	leastAround  = 5     // casts of a group
	leastEachWay = 3     // casts on each side of a step
)

// deepWater is the water of a cast below a pressure, with where the cast lies along its line.
type deepWater struct {
	cast      *section.Cast
	km        float64
	theta, sp []float64
}

// deepSamples is how many levels of deep water of a cast are compared at most: enough to average the noise of the
// sensors.
const deepSamples = 500

// deepWaterOf returns the deep water of a cast; false when it has too little.
func (s *survey) deepWaterOf(c *section.Cast) (deepWater, bool) {
	if d, ok := s.deep[c]; ok {
		return d, len(d.sp) >= deepValues
	}
	d := deepWater{cast: c}
	s.scratch = c.UsableLevels(s.scratch[:0], s.settings(c).NotCalibrated, "temp", "psal")
	from := s.limit("deep.salinity", "deep")
	l := s.scratch[sort.Search(len(s.scratch), func(i int) bool { return c.PressureDbar[s.scratch[i]] > from }):]
	for i := 0; i < len(l); i += 1 + len(l)/deepSamples {
		k := l[i]
		sp, t := c.Column("psal").Values[k], c.Column("temp").Values[k]
		d.theta = append(d.theta, seawater.PotentialTemperature(seawater.ReferenceSalinity(sp), t, c.PressureDbar[k]))
		d.sp = append(d.sp, sp)
	}
	s.deep[c] = d
	return d, len(d.sp) >= deepValues
}

// deepLine returns the deep water of casts in their order, and the indices at which a group of neighbours ends:
// after a distance of more than four times the median, or beside a cast over a sill, which does not reach the deep
// water.
func (s *survey) deepLine(casts []*section.Cast) (deep []deepWater, ends []int) {
	var km float64
	var steps []float64
	sill := false
	for i, c := range casts {
		if i > 0 {
			km += geo.DistanceHaversine(casts[i-1].At, c.At) / 1000
		}
		if s.failed[levelKey{c, "psal"}] {
			continue
		}
		d, ok := s.deepWaterOf(c)
		if !ok {
			sill = sill || c.BottomM < s.limit("deep.salinity", "deep")
			continue
		}
		d.km = km
		if n := len(deep); n > 0 {
			steps = append(steps, km-deep[n-1].km)
			if sill {
				ends = append(ends, n)
			}
		}
		deep, sill = append(deep, d), false
	}
	limit := groupGap * median(slices.Clone(steps))
	for i, x := range steps {
		if x > limit {
			ends = append(ends, i+1)
		}
	}
	slices.Sort(ends)
	return deep, slices.Compact(ends)
}

// salinities returns, for each cast of a group, the mean practical salinity at five potential temperatures that all of
// them reach; false where the casts share too small a range, or salinity is no function of temperature there.
func salinities(group []deepWater) ([]float64, bool) {
	low, high := math.Inf(-1), math.Inf(1)
	for _, d := range group {
		low, high = max(low, slices.Min(d.theta)), min(high, slices.Max(d.theta))
	}
	if high-low < deepRange {
		return nil, false
	}
	out := make([]float64, len(group))
	for i := range group {
		for j := range deepValues {
			sp, ok := group[i].at(low + (high-low)*(float64(j)+0.5)/deepValues)
			if !ok {
				return nil, false
			}
			out[i] += sp / deepValues
		}
	}
	return out, true
}

// at returns practical salinity at a potential temperature, from a straight line through the water around it; false
// where there are fewer than three values or they lie too far off the line.
func (d *deepWater) at(theta float64) (float64, bool) {
	var n, x, y, xx, xy float64
	for k, t := range d.theta {
		if u := t - theta; math.Abs(u) <= deepWindow {
			n++
			x, y, xx, xy = x+u, y+d.sp[k], xx+u*u, xy+u*d.sp[k]
		}
	}
	det := n*xx - x*x
	if n < 3 || det <= 0 {
		return 0, false
	}
	a, b := (y*xx-x*xy)/det, (n*xy-x*y)/det
	sum := 0.0
	for k, t := range d.theta {
		if u := t - theta; math.Abs(u) <= deepWindow {
			r := d.sp[k] - a - b*u
			sum += r * r
		}
	}
	return a, math.Sqrt(sum/n) < deepRms
}

// around returns the indices of up to n casts each side of i, i among them, that belong to its group.
func around(i, n, casts int, ends []int) (from, to int) {
	from, to = max(0, i-n), min(casts, i+n+1)
	for _, e := range ends {
		if e <= i {
			from = max(from, e)
		} else {
			to = min(to, e)
		}
	}
	return from, to
}

// deepSalinity compares deep salinity at fixed potential temperature from cast to cast, across changes of system
// and leg, and at stations that were repeated.
func (s *survey) deepSalinity() {
	deep, ends := s.deepLine(s.line())
	for i := range deep {
		s.deepCast(deep, ends, i)
	}
	deep, ends = s.deepLine(s.line()) // without those that failed
	for i := 1; i < len(deep); i++ {
		a, b := deep[i-1].cast, deep[i].cast
		if a.System != b.System || a.Expocode != b.Expocode || a.SectionID != b.SectionID {
			s.deepStep(deep, ends, i)
		}
	}
	s.deepDrift()
}

// deepCast compares cast i with those around it.
func (s *survey) deepCast(deep []deepWater, ends []int, i int) {
	from, to := around(i, int(s.limit("deep.salinity", "side")), len(deep), ends)
	sp, ok := salinities(deep[from:to])
	if !ok || to-from < leastAround {
		return
	}
	var x, y []float64
	for j := from; j < to; j++ {
		if j != i {
			x, y = append(x, deep[j].km-deep[i].km), append(y, sp[j-from])
		}
	}
	intercept, slope := TheilSen(x, y)
	scatter := make([]float64, len(x))
	for j := range x {
		scatter[j] = math.Abs(y[j] - intercept - slope*x[j])
	}
	r := sp[i-from] - intercept
	limit := s.limit("deep.salinity", "cast")
	if math.Abs(r) <= limit || math.Abs(r) <= standardErrors*madScale*median(scatter) {
		return
	}
	c := deep[i].cast
	s.failed[levelKey{c, "psal"}] = true
	s.find(aboutAll(c, "deep.salinity", "psal",
		fmt.Sprintf("deep salinity at fixed potential temperature is %+.4f off that of the %d casts "+
			"around (limit %g)", r, len(x), limit),
		"compare with bottle salinities and the second sensor; nothing was corrected"))
}

// deepStep compares the casts before a change with those from cast i on.
func (s *survey) deepStep(deep []deepWater, ends []int, i int) {
	side := int(s.limit("deep.step", "side"))
	from, to := around(i, side, len(deep), ends)
	to = min(to, i+side)
	if i-from < leastEachWay || to-i < leastEachWay {
		return
	}
	sp, ok := salinities(deep[from:to])
	if !ok {
		return
	}
	x := make([]float64, to-from)
	for j := range x {
		x[j] = deep[from+j].km - deep[i].km
	}
	step, e := Step(x, sp, i-from)
	if !(math.Abs(step) > s.limit("deep.step", "step") && math.Abs(step) > standardErrors*e) {
		return
	}
	s.find(aboutAll(deep[i].cast, "deep.step", "psal",
		fmt.Sprintf("deep salinity at fixed potential temperature steps by %+.4f ± %.4f between "+
			"station %s and station %s, where the system or the leg changes; a front at this place would look the same",
			step, e,
			deep[i-1].cast.Station, deep[i].cast.Station),
		"the comparison with bottles decides; nothing was corrected"))
}

// deepDrift compares casts at the same place with the first of them. Where bottles were taken, their fit says more.
// Against time along a line a drift cannot be told from a change of the water.
func (s *survey) deepDrift() {
	var at []deepWater
	for _, c := range s.Casts {
		if c.Direction == section.Up || c.Role == section.Test || c.Role == section.Aborted ||
			c.Role == section.Other || c.Time.IsZero() ||
			s.failed[levelKey{c, "psal"}] {
			continue
		}
		if d, ok := s.deepWaterOf(c); ok {
			at = append(at, d)
		}
	}
	var xx, xy, longest float64
	var x, y []float64
	used := map[*section.Cast]bool{}
	for i := range at {
		for j := i + 1; j < len(at); j++ {
			d := math.Abs(days(at[i].cast, at[j].cast))
			if used[at[j].cast] || d < 1 || geo.DistanceHaversine(at[i].cast.At,
				at[j].cast.At)/1000 > s.limit("deep.drift", "repeat_km") {
				continue
			}
			sp, ok := salinities([]deepWater{at[i], at[j]})
			if !ok {
				continue
			}
			d = days(at[i].cast, at[j].cast)
			used[at[j].cast] = true
			x, y = append(x, d), append(y, sp[1]-sp[0])
			xx, xy, longest = xx+d*d, xy+d*(sp[1]-sp[0]), max(longest, math.Abs(d))
		}
	}
	if float64(len(x)) < s.limit("deep.drift", "pairs") {
		return
	}
	slope, sum := xy/xx, 0.0
	for i := range x {
		sum += (y[i] - slope*x[i]) * (y[i] - slope*x[i])
	}
	e := math.Sqrt(sum / float64(len(x)-1) / xx)
	if math.Abs(slope)*longest <= s.limit("deep.drift", "drift") || math.Abs(slope) <= standardErrors*e {
		return
	}
	s.find(metadata.Finding{Severity: metadata.Warning, Check: "deep.drift", Variable: "psal", Count: len(x),
		Message: fmt.Sprintf("deep salinity of %d repeated stations drifts by %+.4f ± %.4f in %.0f days", len(x),
			slope*longest, e*longest, longest),
		Remedy: "compare with bottle salinities; nothing was corrected"})
}
