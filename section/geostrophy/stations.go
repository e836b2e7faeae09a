package geostrophy

import (
	"fmt"
	"math"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// chooseStations keeps the casts of the section that take part, one for each place, and lists the others. A section that section.Build made
// (it has Places) is settled: what it holds takes part, a repeat that its list names by number too. Of other sections only primary
// casts (and those of unstated role) do; with Options.Repeats casts of role repeat compete with them. Among neighbours in drawing order
// that lie within 2 km of the first of them Options.Repeats chooses one. The rule is ours.
func chooseStations(r *Result, sec *section.Section, opts *Options) ([]*stationWork, error) {
	var all []*stationWork
	var km []float64
	settled := len(sec.Places) == len(sec.Casts)
	for i, c := range sec.Casts {
		if !settled && c.Role > section.Primary && (c.Role != section.Repeat || opts.Repeats == "") {
			r.LeftOut = append(r.LeftOut, LeftOut{c, "role " + c.Role.String()})
			continue
		}
		pr, err := ProfileOf(c, opts.NotCalibratedUsable)
		if i < len(sec.Places) && sec.Places[i].Mean != nil {
			r.setSpread(pr, c, sec.Places[i].Others, opts)
		}
		all = append(all, &stationWork{cast: c, profile: pr, err: err})
		d := nan
		if i < len(sec.DistanceKm) {
			d = sec.DistanceKm[i]
		}
		km = append(km, d)
	}
	for _, p := range sec.Places { // what section.Build has left out already
		for _, c := range p.Others {
			if p.Mean != nil {
				r.LeftOut = append(r.LeftOut, LeftOut{c, "averaged into station " + p.Chosen.Station + ", cast " + p.Chosen.Number})
				continue
			}
			r.LeftOut = append(r.LeftOut, LeftOut{c, fmt.Sprintf("within %d km of station %s, cast %s (repeats: %s)", tooCloseKm, p.Chosen.Station, p.Chosen.Number, p.Rule)})
		}
	}
	groups := groupByPlace(all, opts.Distance, settled)
	var chosen []*stationWork
	for gi, group := range groups {
		pick := group.from
		if group.to-group.from > 1 {
			pick = choose(all, groups, gi, opts.Repeats)
		}
		s := all[pick]
		if opts.Repeats == "mean" && group.to-group.from > 1 {
			s = meanStation(r, all[group.from:group.to], s)
		}
		for i := group.from; i < group.to; i++ {
			if i != pick && opts.Repeats == "mean" {
				r.LeftOut = append(r.LeftOut, LeftOut{all[i].cast, "averaged into station " + s.cast.Station + ", cast " + s.cast.Number})
			} else if i != pick {
				r.LeftOut = append(r.LeftOut, LeftOut{all[i].cast, fmt.Sprintf("within %d km of station %s, cast %s (repeats: %s)", tooCloseKm, s.cast.Station, s.cast.Number, orDefault(string(opts.Repeats)))})
			}
		}
		chosen = append(chosen, s)
		r.Stations = append(r.Stations, Station{Cast: s.cast, DistanceKm: km[pick]})
	}
	if len(chosen) < 2 {
		return nil, fmt.Errorf("section %s: %w: %d of its casts take part", sec.Name, ErrTooFew, len(chosen))
	}
	for i := range r.Stations {
		r.setBottom(i, chosen[i], opts)
	}
	return chosen, nil
}

func orDefault(repeats string) string {
	if repeats == "" {
		return "deepest"
	}
	return repeats
}

func groupByPlace(all []*stationWork, rule section.Method, settled bool) []span {
	var out []span
	for i, s := range all {
		if n := len(out); !settled && n > 0 && measure(rule, all[out[n-1].from].cast.At, s.cast.At).lengthM < tooCloseKm*1e3 {
			out[n-1].to = i + 1
			continue
		}
		out = append(out, span{i, i + 1})
	}
	return out
}

// choose gives the index of the cast that stands for a group.
func choose(all []*stationWork, groups []span, gi int, how section.Repeats) int {
	g := groups[gi]
	best := g.from
	better := func(i int) bool { return depthOf(all[i]) > depthOf(all[best]) }
	switch how {
	case "first":
		better = func(i int) bool { return all[i].cast.Time.Before(all[best].cast.Time) }
	case "last":
		better = func(i int) bool { return all[i].cast.Time.After(all[best].cast.Time) }
	case "nearest_in_time":
		var near []time.Time
		if gi > 0 {
			near = append(near, all[groups[gi-1].to-1].cast.Time)
		}
		if gi+1 < len(groups) {
			near = append(near, all[groups[gi+1].from].cast.Time)
		}
		// The sum of the differences; it is the same for all casts between the neighbours, and then the larger difference counts.
		away := func(i int) (sum, most time.Duration) {
			for _, t := range near {
				d := all[i].cast.Time.Sub(t).Abs()
				sum += d
				most = max(most, d)
			}
			return sum, most
		}
		better = func(i int) bool {
			s, m := away(i)
			s0, m0 := away(best)
			return s < s0 || s == s0 && m < m0
		}
	}
	for i := g.from + 1; i < g.to; i++ {
		if better(i) {
			best = i
		}
	}
	return best
}

func depthOf(s *stationWork) float64 {
	if n := len(s.profile.PressureDbar); n > 0 {
		return s.profile.PressureDbar[n-1]
	}
	return negInf
}

// setSpread gives the profile of a mean cast the standard error that the casts it was made of leave in it.
func (r *Result) setSpread(pr *Profile, mean *section.Cast, of []*section.Cast, opts *Options) {
	group := make([]*stationWork, len(of))
	for i, c := range of {
		p, _ := ProfileOf(c, opts.NotCalibratedUsable) // a cast without usable levels gave nothing to the mean
		group[i] = &stationWork{cast: c, profile: p}
	}
	m := meanStation(r, group, &stationWork{cast: mean, profile: pr}).profile
	if len(m.PressureDbar) == 0 {
		return
	}
	pr.spread = make([]float64, len(pr.PressureDbar))
	for l, p := range pr.PressureDbar {
		pr.spread[l] = between(m.PressureDbar, func(k int) float64 { return m.spread[k] }, p)
	}
}

// meanStation averages salinity and temperature bin by bin over the casts that hold the bin; it stands at the deepest cast's place.
// The standard error of the mean specific volume is kept, as an error of the same sign at every level (the careful side).
func meanStation(r *Result, group []*stationWork, deepest *stationWork) *stationWork {
	out := &stationWork{cast: deepest.cast, profile: &Profile{Bins: deepest.profile.Bins}}
	at := make([]int, len(group))
	least, most, spread, count := len(group), 0, 0.0, 0
	lastError := 0.0 // standard error of the mean specific volume; where one cast is alone, that of the level above
	for {
		p := math.Inf(1)
		for k, s := range group {
			if x := s.profile.PressureDbar; at[k] < len(x) {
				p = math.Min(p, x[at[k]])
			}
		}
		if math.IsInf(p, 1) {
			break
		}
		var n, sa, ct, ct2, v, v2 float64
		for k, s := range group {
			if x := s.profile.PressureDbar; at[k] < len(x) && x[at[k]] <= p+sameBinDbar {
				n++
				sa += s.profile.SA[at[k]]
				ct += s.profile.CT[at[k]]
				ct2 += float64(s.profile.CT[at[k]] * s.profile.CT[at[k]])
				x := seawater.SpecificVolumeAnomaly(s.profile.SA[at[k]], s.profile.CT[at[k]], p)
				v += x
				v2 += float64(x * x)
				at[k]++
			}
		}
		least, most = min(least, int(n)), max(most, int(n))
		if n > 1 {
			spread += math.Max(0, ct2-float64(ct*ct)/n) / (n - 1)
			count++
			lastError = math.Sqrt(math.Max(0, v2-float64(v*v)/n) / ((n - 1) * n))
		}
		out.profile.PressureDbar = append(out.profile.PressureDbar, p)
		out.profile.SA = append(out.profile.SA, sa/n)
		out.profile.CT = append(out.profile.CT, ct/n)
		out.profile.spread = append(out.profile.spread, lastError)
	}
	out.profile.Bins = out.profile.PressureDbar
	note := fmt.Sprintf("station %s is the mean of %d casts (%d to %d in a bin)", out.cast.Station, len(group), least, most)
	if count > 0 {
		note += fmt.Sprintf("; spread of Conservative Temperature between them %.4f K", math.Sqrt(spread/float64(count)))
	}
	r.Notes = append(r.Notes, note)
	return out
}

// setBottom settles where the bottom of a station is: the water depth when known, never above the deepest usable bin; else the deepest
// bin and its height above the sea floor; else the deepest bin.
func (r *Result) setBottom(i int, s *stationWork, opts *Options) {
	st := &r.Stations[i]
	st.BottomM, st.BottomFrom = nan, "unknown"
	p := depthOf(s)
	if math.IsInf(p, -1) {
		return
	}
	deepestBin := -seawater.Height(p, s.cast.At[1])
	st.BottomM, st.BottomFrom = deepestBin, "deepest bin"
	if opts.DeepestBinIsBottom {
		return
	}
	switch above := heightAboveBottom(s, p); {
	case s.cast.BottomM > 0 && s.cast.BottomM >= deepestBin:
		st.BottomM, st.BottomFrom = s.cast.BottomM, "water depth"
	case s.cast.BottomM > 0:
		r.Findings = append(r.Findings, Finding{Finding: metadata.Finding{
			Position: metadata.Position{File: s.cast.Source.Name}, Severity: metadata.Warning, Check: "geostrophy.bottom", Cast: s.cast.ID(),
			Message: fmt.Sprintf("section %s, station %s: the water depth %g m is above the deepest usable bin, %g dbar (%.1f m): the bin is taken for the bottom",
				r.Section, s.cast.Station, s.cast.BottomM, p, deepestBin),
			Remedy: "check the depth of the station", First: p, Last: p, Count: 1}})
	case above >= 0:
		st.BottomM, st.BottomFrom = deepestBin+above, "altimeter"
	}
}

// heightAboveBottom is the altimeter's height at the deepest usable level; NaN without one.
func heightAboveBottom(s *stationWork, p float64) float64 {
	c := s.cast.Column("hab")
	if c == nil || c.Values == nil {
		return nan
	}
	for i, x := range s.cast.PressureDbar {
		if x == p && flagUsable(c, i, false) {
			return c.Values[i]
		}
	}
	return nan
}

// errorScales settles the standard error of each mode at each station.
func (r *Result) errorScales(stations []*stationWork, opts *Options) *errorScale {
	n := len(stations)
	s := &errorScale{perCast: make([][modeCount]float64, n), common: make([][modeCount]float64, n), system: make([]int, n),
		tref: opts.ReferenceTemperature}
	var labels []string
	for i, st := range stations {
		k := 0
		for k < len(labels) && labels[k] != st.cast.System {
			k++
		}
		acc := opts.accuracy(st.cast.System)
		if k == len(labels) {
			labels = append(labels, st.cast.System)
			s.split = append(s.split, acc.CommonFraction == acc.CommonFraction)
		}
		s.system[i] = k
		single, common := 1.0, 1.0
		if f := acc.CommonFraction; f == f {
			single, common = math.Sqrt(1-f), math.Sqrt(f)
		}
		for q, e := range [...]float64{acc.Salinity, acc.TemperatureK, acc.PressureDbar} {
			s.perCast[i][q], s.common[i][q] = single*e, common*e
		}
		s.perCast[i][ofSpread] = 1 // the integral is of the standard error itself
		s.perCast[i][ofNorth], s.perCast[i][ofEast] = opts.PositionErrKm, opts.PositionErrKm
	}
	s.systems = len(labels)
	s.labels = labels
	// Salinity that has not been adjusted to bottles carries the errors of its temperature and pressure.
	for _, st := range stations {
		s.stages = append(s.stages, opts.accuracy(st.cast.System).Stage)
	}
	return s
}

// accuracy is what is stated of a system, defaults filled in.
func (o *Options) accuracy(system string) Accuracy {
	out := DefaultAccuracy()
	for _, label := range [...]string{"", system} {
		for _, a := range o.Accuracies {
			if a.System != label {
				continue
			}
			out.CommonFraction, out.Stage = a.CommonFraction, a.Stage
			for _, x := range [...]struct {
				to   *float64
				from float64
			}{{&out.Salinity, a.Salinity}, {&out.TemperatureK, a.TemperatureK}, {&out.PressureDbar, a.PressureDbar}} {
				if x.from == x.from {
					*x.to = x.from
				}
			}
		}
	}
	out.System = system
	return out
}
