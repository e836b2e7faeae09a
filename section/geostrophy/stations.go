package geostrophy

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// takeStations makes a station of every cast of the section: section.Build has chosen among repeats, and what it left
// out is listed. The last station of a closed line is the first again.
func takeStations(r *Result, sec *section.Section, opts *Options) ([]*stationWork, error) {
	var stations []*stationWork
	once := sec.Once()
	for i, c := range once.Casts {
		pr, err := ProfileOf(c, opts.NotCalibratedUsable)
		if i < len(sec.Places) && sec.Places[i].Mean != nil {
			r.setSpread(pr, c, sec.Places[i].Others, opts)
		}
		stations = append(stations, &stationWork{cast: c, profile: pr, err: err})
		km := nan
		if i < len(sec.DistanceKm) {
			km = sec.DistanceKm[i]
		}
		r.Stations = append(r.Stations, Station{Cast: c, DistanceKm: km})
	}
	for _, p := range once.Places {
		for _, c := range p.Others {
			reason := fmt.Sprintf("within %d km of station %s, cast %s (repeats: %s)", tooCloseKm, p.Chosen.Station,
				p.Chosen.Number, p.Rule)
			if p.Mean != nil {
				reason = "averaged into station " + p.Chosen.Station + ", cast " + p.Chosen.Number
			}
			r.LeftOut = append(r.LeftOut, LeftOut{c, reason})
		}
	}
	if len(stations) < 2 {
		return nil, fmt.Errorf("section %s: %w: %d of its casts take part", sec.Name, ErrTooFew, len(stations))
	}
	for i := range r.Stations {
		r.setBottom(i, stations[i], opts)
	}
	if sec.Closed() {
		again, first := r.Stations[0], *stations[0]
		again.DistanceKm = sec.DistanceKm[len(sec.DistanceKm)-1]
		r.Stations, stations = append(r.Stations, again), append(stations, &first)
	}
	return stations, nil
}

func depthOf(s *stationWork) float64 {
	if n := len(s.profile.PressureDbar); n > 0 {
		return s.profile.PressureDbar[n-1]
	}
	return negInf
}

// setSpread returns the profile of a mean cast the standard error of its specific volume that the casts it was made of
// leave in it, as an error of the same sign at every level (the careful side). Where one cast is alone it is that of
// the level above.
func (r *Result) setSpread(pr *Profile, mean *section.Cast, of []*section.Cast, opts *Options) {
	group := make([]*Profile, len(of))
	for i, c := range of {
		group[i], _ = ProfileOf(c, opts.NotCalibratedUsable) // a cast without usable levels gave nothing to the mean
	}
	var pressures, errs []float64
	at := make([]int, len(group))
	least, most, spread, count, last := len(group), 0, 0.0, 0, 0.0
	for {
		p := math.Inf(1)
		for k, g := range group {
			if at[k] < len(g.PressureDbar) {
				p = math.Min(p, g.PressureDbar[at[k]])
			}
		}
		if math.IsInf(p, 1) {
			break
		}
		var n, ct, ct2, v, v2 float64
		for k, g := range group {
			if i := at[k]; i < len(g.PressureDbar) && g.PressureDbar[i] <= p+sameBinDbar {
				n++
				ct += g.CT[i]
				ct2 += float64(g.CT[i] * g.CT[i])
				x := seawater.SpecificVolumeAnomaly(g.SA[i], g.CT[i], p)
				v += x
				v2 += float64(x * x)
				at[k]++
			}
		}
		least, most = min(least, int(n)), max(most, int(n))
		if n > 1 {
			spread += math.Max(0, ct2-float64(ct*ct)/n) / (n - 1)
			count++
			last = math.Sqrt(math.Max(0, v2-float64(v*v)/n) / ((n - 1) * n))
		}
		pressures, errs = append(pressures, p), append(errs, last)
	}
	note := fmt.Sprintf("station %s is the mean of %d casts (%d to %d in a bin)", mean.Station, len(group), least, most)
	if count > 0 {
		note += fmt.Sprintf("; spread of Conservative Temperature between them %.4f K",
			math.Sqrt(spread/float64(count)))
	}
	r.Notes = append(r.Notes, note)
	if len(pressures) == 0 {
		return
	}
	pr.spread = make([]float64, len(pr.PressureDbar))
	for l, p := range pr.PressureDbar {
		pr.spread[l] = between(pressures, func(k int) float64 { return errs[k] }, p)
	}
}

// setBottom sets where the bottom of a station is: the water depth when known, never above the deepest usable bin;
// else the deepest bin and its height above the sea floor; else the deepest bin.
func (r *Result) setBottom(i int, s *stationWork, opts *Options) {
	st := &r.Stations[i]
	st.BottomM, st.BottomFrom = nan, FromNothing
	p := depthOf(s)
	if math.IsInf(p, -1) {
		return
	}
	deepestBin := -seawater.Height(p, s.cast.At[1])
	st.BottomM, st.BottomFrom = deepestBin, FromDeepestBin
	if opts.DeepestBinIsBottom {
		return
	}
	switch above := heightAboveBottom(s, p); {
	case s.cast.BottomM > 0 && s.cast.BottomM >= deepestBin:
		st.BottomM, st.BottomFrom = s.cast.BottomM, FromWaterDepth
	case s.cast.BottomM > 0:
		r.Findings = append(r.Findings, Finding{Finding: metadata.Finding{
			Position: metadata.Position{File: s.cast.Source.Name}, Severity: metadata.Warning,
			Check: "geostrophy.bottom", Cast: s.cast.ID(),
			Message: fmt.Sprintf(
				"section %s, station %s: the water depth %g m is above the deepest usable bin, %g dbar (%.1f m): the bin is taken for the bottom",
				r.Section, s.cast.Station, s.cast.BottomM, p, deepestBin),
			Remedy: "check the depth of the station", First: p, Last: p, Count: 1}})
	case above >= 0:
		st.BottomM, st.BottomFrom = deepestBin+above, FromAltimeter
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

// errorScales returns the standard error of each mode at each station.
func (r *Result) errorScales(stations []*stationWork, opts *Options) *errorScale {
	n := len(stations)
	s := &errorScale{perCast: make([][modeCount]float64, n), common: make([][modeCount]float64, n),
		system: make([]int, n),
		tref:   opts.ReferenceTemperature}
	var labels []string
	for i, st := range stations {
		acc := opts.accuracy(st.cast.System)
		k := slices.Index(labels, st.cast.System)
		if k < 0 {
			k = len(labels)
			labels = append(labels, st.cast.System)
			f := acc.CommonFraction == acc.CommonFraction
			s.split = append(s.split, [3]bool{f || acc.Residual != nil, f, f})
		}
		s.system[i] = k
		single, common := 1.0, 1.0
		if f := acc.CommonFraction; f == f {
			single, common = math.Sqrt(1-f), math.Sqrt(f)
		}
		for q, e := range [...]float64{acc.Salinity, acc.TemperatureK, acc.PressureDbar} {
			s.perCast[i][q], s.common[i][q] = single*e, common*e
		}
		if r := acc.Residual; r != nil {
			s.perCast[i][ofSalinity], s.common[i][ofSalinity] = r.PerCast, r.Common
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
			out.CommonFraction, out.Stage, out.Residual = a.CommonFraction, a.Stage, a.Residual
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

// CastAccuracy returns the standard errors of Absolute Salinity, in g/kg, and of temperature, in K, of one cast; what
// casts have in common is in them.
func (o *Options) CastAccuracy(k *section.Cast) (saGKg, ctK float64) {
	a := o.accuracy(k.System)
	if r := a.Residual; r != nil {
		return math.Hypot(r.PerCast, r.Common), a.TemperatureK
	}
	return a.Salinity, a.TemperatureK
}
