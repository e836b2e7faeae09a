package gridding

import (
	"math"
	"slices"

	"github.com/castwright/castwright/section/interpolate"
)

// The shape and the lengths of the covariance of a section are estimated from its temperature and salinity, whatever is
// mapped, so that what else is mapped changes no field. They are found on a fixed grid: both shapes, and multiples of
// the lengths by the rule, which follow stations and data levels. The score of a place on the grid is what the map with
// it predicts of some data: loo, the rms at stations that are left out, where the gap is twice as wide as any in the
// map; and between, the rms at stations half-way between data levels. With the mean of ln over the variables,
//
//	score = -5/2 ln(between^2 + loo^2/2) - ln(Lx/likely Lx)^2/(2 0.4^2) - ln(Lp/likely Lp)^2/(2 0.4^2) - u
//
// u being 1 for the smooth shape and 0 for the rough one, so that few or noisy stations keep what is likely: the rough
// shape with 0.7 times the lengths by the rule, over a shelf with 1.4 times those. The numbers are ours, set on
// invented oceans other than those of the tests. There the restricted likelihood of the anomalies (Patterson and
// Thompson 1971, Biometrika 58, 545), alone or as one more term, took lengths with a larger true error than the score:
// the variance of anomalies changes from level to level, and internal waves displace whole stretches of a cast.
const (
	scoreWeight = 5.0
	looShare    = 0.5
	spread      = 0.4 // of the logarithm of both lengths
	smoothShape = 1.0

	leastStations = 6  // fewer: the rule
	mostStations  = 12 // stations left out for one score
	mostLevels    = 6  // data of one station that are predicted for one score
)

// multiples are the lengths that are tried, over those of the rule.
var multiples = [...]float64{0.5, 0.7, 1, 1.4, 2}

// A likelihood is which multiple of both lengths is likely, and the place among multiples where the search begins.
type likelihood struct {
	multiple float64
	place    int
}

var usual, overShelf = likelihood{0.7, 1}, likelihood{1.4, 3}

// settle returns the covariance of optimal interpolation: as given, else estimated where the section has enough
// stations, else by the rule.
func (s *survey) settle() model {
	rule := s.prior()
	if s.isField || s.opt.ownCovariance {
		return rule
	}
	lead := s.leading()
	stations := lead.innerStations()
	if len(stations)+2 < leastStations {
		return rule
	}
	return lead.search(rule, stations)
}

// fewStations reports whether there are too few stations with temperature or salinity to estimate anything.
func (s *survey) fewStations() bool { return len(s.leading().innerStations())+2 < leastStations }

// innerStations returns the groups of the sites that lie between others, in order.
func (s *survey) innerStations() []int {
	var out []int
	for k := range s.sites {
		if g := s.sites[k].group; slices.Contains(s.sites[k].inner, true) && !slices.Contains(out, g) {
			out = append(out, g)
		}
	}
	slices.Sort(out)
	return out
}

// leading returns the survey of Conservative Temperature and Absolute Salinity alone.
func (s *survey) leading() *survey {
	l := *s
	l.vars, l.sites = nil, slices.Clone(s.sites)
	for k := range l.sites {
		l.sites[k].profiles, l.sites[k].inner = nil, nil
	}
	for _, name := range []string{"ctemp", "asal"} {
		of := func(t *site) *profile {
			if name == "asal" {
				return &t.salt
			}
			return &t.heat
		}
		if !slices.ContainsFunc(s.sites, func(t site) bool { return len(of(&t).p) > 0 }) {
			continue
		}
		l.vars = append(l.vars, variable(name))
		for k := range l.sites {
			l.sites[k].profiles = append(l.sites[k].profiles, *of(&s.sites[k]))
		}
	}
	l.ends()
	return &l
}

// search climbs on the grid by coordinate from the lengths of the rule: shape, then lengths, then shape again.
func (s *survey) search(rule model, stations []int) model {
	if step := (len(stations) + mostStations - 1) / mostStations; step > 1 {
		n := 0
		for i := step / 2; i < len(stations); i += step {
			stations[n] = stations[i]
			n++
		}
		stations = stations[:n]
	}
	tables := s.levelTables()
	form := s.newShape(rule.factor)
	known, forms := map[model]float64{}, map[float64]*shape{}
	of := func(k gridPlace) model {
		return model{shape: Covariances()[k[0]], factor: rule.factor * multiples[k[1]], down: multiples[k[2]],
			noise: rule.noise}
	}
	likely := usual
	if s.pmax <= shelfDbar {
		likely = overShelf
	}
	try := func(m model) float64 {
		if _, done := known[m]; !done {
			if forms[m.factor] == nil {
				forms[m.factor] = form.withLength(s, m.factor)
			}
			across := math.Log(m.factor/rule.factor/likely.multiple) / spread
			down := math.Log(m.down/likely.multiple) / spread
			known[m] = s.score(m, tables, forms[m.factor], stations) - float64(across*across)/2 - float64(down*down)/2
			if m.shape == Gaussian {
				known[m] -= smoothShape
			}
		}
		return known[m]
	}
	at := gridPlace{1, likely.place, likely.place}
	if other := (gridPlace{0, at[1], at[2]}); try(of(other)) > try(of(at)) {
		at = other
	}
	for moved := true; moved; {
		moved = false
		for _, step := range []gridPlace{{0, -1, 0}, {0, 1, 0}, {0, 0, -1}, {0, 0, 1}} {
			next := gridPlace{at[0], at[1] + step[1], at[2] + step[2]}
			if min(next[1], next[2]) >= 0 && max(next[1], next[2]) < len(multiples) && try(of(next)) > try(of(at)) {
				at, moved = next, true
				break
			}
		}
	}
	if other := (gridPlace{1 - at[0], at[1], at[2]}); try(of(other)) > try(of(at)) {
		at = other
	}
	return of(at)
}

// A gridPlace is a place on the grid of the search: numbers of the shape and of the multiples across and down.
type gridPlace [3]int

// A misfit is sums of squared errors of one variable and their numbers.
type misfit struct{ loo, nLoo, between, nBetween float64 }

// score predicts some data of each of the given stations, left out and not.
func (s *survey) score(m model, tables []table, form *shape, stations []int) float64 {
	e := s.newEngineOn(form, Optimal, m.factor, m, tables, nil)
	whole := e.mappers(nil)
	parts := make([][]misfit, len(stations))
	parallel(len(stations), s.opt.Workers, func(w *work, i int) {
		parts[i] = make([]misfit, len(s.vars))
		without := make([]bool, len(s.sites))
		for k := range s.sites {
			without[k] = s.sites[k].group == stations[i]
		}
		left, spacing := e.mappers(without), s.spacing(without)
		for k := range s.sites {
			if without[k] {
				e.predictAt(w, k, whole, nil, s.spacingOf(), parts[i])
				e.predictAt(w, k, left, without, spacing, parts[i])
			}
		}
	})
	sum, n := 0.0, 0.0
	for v := range s.vars {
		var all misfit
		for i := range parts {
			p := &parts[i][v]
			all.loo += p.loo
			all.nLoo += p.nLoo
			all.between += p.between
			all.nBetween += p.nBetween
		}
		if all.nLoo > 0 && all.nBetween > 0 {
			sum += math.Log(all.between/all.nBetween + float64(looShare*all.loo/all.nLoo))
			n++
		}
	}
	if n == 0 || math.IsInf(sum, 0) {
		return 0
	}
	return -scoreWeight / 2 * sum / n
}

// predictAt predicts some data of site k: half-way between its levels with all stations, at its levels without it.
func (e *engine) predictAt(w *work, k int, maps []mapper, without []bool, spacing []float64, out []misfit) {
	s := e.s
	t := &s.sites[k]
	col := column{at: t.cast.At, xKm: t.xKm, plane: t.plane}
	e.place(&col, spacing, without)
	var inside interpolate.Workspace
	for n, c := range e.clouds {
		from, own := int(c.first[k]), c.level[c.first[k]:c.first[k+1]]
		step := max(1, (len(own)+mostLevels-1)/mostLevels)
		var p []float64
		var at []int
		for i := k % step; i < len(own); i += step {
			q := c.levels[own[i]]
			if without == nil {
				if i+1 == len(own) {
					break
				}
				q = (q + c.levels[own[i+1]]) / 2
			}
			p, at = append(p, q), append(at, from+i)
		}
		est, rel := newEstimates(len(c.vars), len(p)), make([]float64, len(p))
		maps[n].predict(w, &col, p, est, rel)
		for j, v := range c.vars {
			if !t.inner[v] {
				continue
			}
			var want []float64
			if without == nil {
				want = s.levelled(t, v, p, &inside)
			}
			for i := range p {
				if without != nil {
					if d := est[j][i] - c.values[j][at[i]]; !math.IsNaN(d) {
						out[v].loo += d * d
						out[v].nLoo++
					}
				} else if d := est[j][i] - want[i]; !math.IsNaN(d) {
					out[v].between += d * d
					out[v].nBetween++
				}
			}
		}
	}
}
