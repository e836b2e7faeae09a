package qc

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// channelRules returns the checks of whole channels.
func channelRules() []Rule {
	return []Rule{
		{ID: "channel.missing", Does: "a variable is missing that the other casts of the same sensors have",
			Source: ours,
			Thresholds: []Threshold{
				{"share", 0.8, "", "part of the casts of the same sensors that have the variable"},
				{"casts", 3, "", "number of such casts at least"},
			}},
		{ID: "channel.dead", Proposes: true,
			Does: "oxygen hardly changes while temperature does, or is far off that of the " +
				"nearest casts at the same density",
			Source: ours, Thresholds: []Threshold{
				{"flat", 3, "umol/kg", "oxygen changes by less than this"},
				{"temp", 2, "degC", "while temperature changes by more than this"},
				{"pressure", 200, "dbar", "pressure range that the cast must have"},
				{"low", 0.5, "", "least ratio to the oxygen of the nearest casts"},
				{"high", 1.3, "", "greatest ratio to the oxygen of the nearest casts"},
				{"empty", 0.5, "umol/kg", "flag 4 where all oxygen is below this"},
				{"alive", 20, "umol/kg", "and that of the nearest casts is above this"},
			}},
	}
}

func (s *survey) channels() {
	s.missingChannels()
	s.deadOxygen()
}

// missingChannels names each variable that most casts of a system have and a cast of it lacks.
func (s *survey) missingChannels() {
	bySystem := map[string][]*section.Cast{}
	var systems []string
	for _, c := range s.Casts {
		if bySystem[c.System] == nil {
			systems = append(systems, c.System)
		}
		bySystem[c.System] = append(bySystem[c.System], c)
	}
	for _, system := range systems {
		list := bySystem[system]
		count := map[string]int{}
		var names []string
		for _, c := range list {
			for i := range c.Columns {
				if col := &c.Columns[i]; !col.Derived && hasValues(col) {
					if count[col.Name]++; count[col.Name] == 1 {
						names = append(names, col.Name)
					}
				}
			}
		}
		slices.Sort(names)
		for _, v := range names {
			least := max(s.limit("channel.missing", "casts"), s.limit("channel.missing", "share")*float64(len(list)))
			if float64(count[v]) < least || count[v] == len(list) {
				continue
			}
			for _, c := range list {
				if col := c.Column(v); col == nil || !hasValues(col) {
					s.find(about(c, "channel.missing", v,
						fmt.Sprintf("%s is missing, which %d of %d casts of the same sensors have", v,
							count[v], len(list)), "compare the file with the log of the cast"))
				}
			}
		}
	}
}

func hasValues(c *section.Column) bool {
	return c.Values != nil && slices.ContainsFunc(c.Values, func(v float64) bool { return v == v })
}

// Numbers of deadOxygen; ours.
const (
	oxygenCompare = 4    // nearest casts that oxygen is compared with
	oxygenSamples = 400  // levels of a cast that are compared
	sameSigma     = 0.04 // kg/m3
)

// deadOxygen proposes the whole oxygen channel of a cast questionable when it hardly changes while temperature
// does, or when it is far off its nearest casts at the same density; bad when it is empty while theirs is not.
func (s *survey) deadOxygen() {
	limit := func(name string) float64 { return s.limit("channel.dead", name) }
	all := make([]oxygenCast, len(s.Casts))
	for i, c := range s.Casts {
		all[i] = s.oxygenOf(c)
	}
	for i, c := range s.Casts {
		o := &all[i]
		if len(o.oxy) < minPair || o.last-o.first <= limit("pressure") {
			continue
		}
		ratio, others := o.against(nearestOxygen(all, i))
		flat := percentile(o.oxy, 0.95)-percentile(o.oxy, 0.05) < limit("flat") &&
			percentile(o.temp, 0.95)-percentile(o.temp, 0.05) > limit("temp")
		var why string
		switch {
		case flat && !(percentile(others, 0.95)-percentile(others, 0.05) < 2*limit("flat")):
			why = fmt.Sprintf("oxygen hardly changes (median %.1f umol/kg) while temperature does",
				percentile(o.oxy, 0.5))
		case ratio < limit("low") || ratio > limit("high"):
			why = fmt.Sprintf("oxygen is %.2f times that of the nearest casts at the same density", ratio)
		default:
			continue
		}
		flag := metadata.Questionable
		if slices.Max(o.oxy) < limit("empty") && median(others) > limit("alive") {
			flag = metadata.Bad
		}
		rule := *s.rule("channel.dead")
		rule.Does = why
		p := newProfile(s.Checks, c, s.settings(c))
		p.rule = &rule
		for _, k := range s.usable(c, "oxy") {
			p.propose("oxy", k, flag)
		}
		p.reportWhole()
		s.failed[levelKey{c, "oxy"}] = true
		s.find(p.found...)
	}
}

// oxygenCast is the oxygen of a cast at some of its levels, with temperature and density there.
type oxygenCast struct {
	oxy, temp, sigma []float64
	first, last      float64    // dbar
	at               [3]float64 // direction of the position from the centre of the earth
}

func (s *survey) oxygenOf(c *section.Cast) (o oxygenCast) {
	s.scratch = c.UsableLevels(s.scratch[:0], s.settings(c).NotCalibrated, "oxy", "temp", "psal")
	l := s.scratch
	if len(l) == 0 {
		return o
	}
	at := placeOf(c)
	for i := 0; i < len(l); i += 1 + len(l)/oxygenSamples {
		p, t := c.PressureDbar[l[i]], c.Column("temp").Values[l[i]]
		sa := at.AbsoluteSalinity(c.Column("psal").Values[l[i]], p)
		o.oxy, o.temp = append(o.oxy, c.Column("oxy").Values[l[i]]), append(o.temp, t)
		o.sigma = append(o.sigma, seawater.Sigma0(sa, seawater.ConservativeTemperature(sa, t, p)))
	}
	o.first, o.last = c.PressureDbar[l[0]], c.PressureDbar[l[len(l)-1]]
	sinLat, cosLat := math.Sincos(c.At[1] * math.Pi / 180)
	sinLon, cosLon := math.Sincos(c.At[0] * math.Pi / 180)
	o.at = [3]float64{cosLat * cosLon, cosLat * sinLon, sinLat}
	return o
}

// nearestOxygen returns up to four other casts with oxygen, the nearest in position.
func nearestOxygen(all []oxygenCast, i int) []oxygenCast {
	type near struct {
		away float64 // radii of the earth
		cast int
	}
	var list []near
	for j := range all {
		if j != i && len(all[j].oxy) >= minPair {
			d := math.Hypot(math.Hypot(all[j].at[0]-all[i].at[0], all[j].at[1]-all[i].at[1]), all[j].at[2]-all[i].at[2])
			list = append(list, near{d, j})
		}
	}
	slices.SortStableFunc(list, func(a, b near) int { return cmp.Compare(a.away, b.away) })
	var out []oxygenCast
	for _, n := range list[:min(oxygenCompare, len(list))] {
		out = append(out, all[n.cast])
	}
	return out
}

// against returns the median ratio of this oxygen to that of other casts at the same density, and theirs; 1 and nil
// without others.
func (o *oxygenCast) against(others []oxygenCast) (ratio float64, theirs []float64) {
	var ratios []float64
	for i := 0; i < len(o.sigma); i += 1 + len(o.sigma)/(oxygenSamples/4) {
		var at []float64
		for k := range others {
			if j, ok := nearestSigma(others[k].sigma, o.sigma[i]); ok {
				at = append(at, others[k].oxy[j])
			}
		}
		if len(at) > 0 {
			m := median(at)
			theirs, ratios = append(theirs, m), append(ratios, o.oxy[i]/m)
		}
	}
	if len(ratios) == 0 {
		return 1, nil
	}
	return median(ratios), theirs
}

// nearestSigma returns the index of the density nearest to want; false when none is within sameSigma.
func nearestSigma(sigma []float64, want float64) (int, bool) {
	i, _ := slices.BinarySearch(sigma, want) // increasing but for small inversions
	best, off := -1, sameSigma
	for j := max(0, i-10); j < min(len(sigma), i+10); j++ {
		if d := math.Abs(sigma[j] - want); d <= off {
			best, off = j, d
		}
	}
	return best, best >= 0
}

// percentile returns the q quantile of v, the nearest value; NaN for none.
func percentile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	w := slices.Sorted(slices.Values(v))
	return w[int(math.Round(q*float64(len(w)-1)))]
}
