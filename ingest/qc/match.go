package qc

import (
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// Numbers of the match of a bottle with a level of the downcast; ours.
const (
	byPressureDbar = 2000 // from here on levels are matched on pressure
	shallowSigma   = 500  // dbar: sigma0 above, sigma2 below
	windowDbar     = 25   // levels searched each side
	windowShare    = 0.02 // of the pressure, when that is more
	weakStability  = 1e-7 // s-2: below, density names no level
	slopeDbar      = 10   // each side, for the slope of a quantity with pressure
)

// A downcast is a cast that bottles or an upcast are matched with.
type downcast struct {
	cast   *section.Cast
	place  seawater.Place
	levels []int // at which pressure, temperature and salinity are usable
}

func (s *survey) downcast(c *section.Cast) *downcast {
	return &downcast{cast: c, place: placeOf(c), levels: s.usable(c, "temp", "psal")}
}

// sigma returns potential density anomaly of water of temperature t and practical salinity sp at p, referred to 0 or
// 2000 dbar.
func (d *downcast) sigma(thousands int, sp, t, p float64) float64 {
	sa := d.place.AbsoluteSalinity(sp, p)
	return seawater.Sigma(thousands, sa, seawater.ConservativeTemperature(sa, t, p))
}

// match returns the pressure of the downcast that corresponds to water of temperature t and practical salinity sp
// at p, and how it was found. Never give it the salinity of the bottle: an offset of the sensor would be found too
// large.
func (d *downcast) match(p, t, sp float64) (pDbar float64, how How) {
	if p >= byPressureDbar {
		return p, ByPressure
	}
	if t != t || sp != sp || len(d.levels) < 2 {
		return math.NaN(), Unmatched
	}
	thousands := 0
	if p >= shallowSigma {
		thousands = 2
	}
	pres, temp, psal := d.cast.PressureDbar, d.cast.Column("temp").Values, d.cast.Column("psal").Values
	half := max(windowDbar, windowShare*p)
	i, _ := slices.BinarySearchFunc(d.levels, p-half, func(k int, v float64) int {
		if pres[k] < v {
			return -1
		}
		return 1
	})
	want := d.sigma(thousands, sp, t, p)
	best, first, last, from, to := math.NaN(), math.NaN(), math.NaN(), 0.0, 0.0
	for ; i < len(d.levels) && pres[d.levels[i]] <= p+half; i++ {
		k := d.levels[i]
		here := d.sigma(thousands, psal[k], temp[k], pres[k])
		if first != first {
			first, from = here, pres[k]
		} else if (last-want)*(here-want) <= 0 && here != last {
			if at := to + (pres[k]-to)*(want-last)/(here-last); !(math.Abs(at-p) >= math.Abs(best-p)) {
				best = at
			}
		}
		last, to = here, pres[k]
	}
	if to > from && last == last {
		if n2 := seawater.Gravity(d.cast.At[1], p) * (last - first) / (1000 + last) / (to - from); n2 < weakStability {
			return p, ByPressure
		}
	}
	if best != best {
		return math.NaN(), Unmatched
	}
	return best, ByDensity
}

// at returns the value of a variable at a pressure, linear between usable bins; NaN outside them.
func (s *survey) at(c *section.Cast, variable string, pDbar float64) float64 {
	col := c.Column(variable)
	l := s.usable(c, variable)
	i, _ := slices.BinarySearchFunc(l, pDbar, func(k int, v float64) int {
		if c.PressureDbar[k] < v {
			return -1
		}
		return 1
	})
	if col == nil || i == len(l) || pDbar != pDbar {
		return math.NaN()
	}
	p, v := c.PressureDbar[l[i]], col.Values[l[i]]
	if p == pDbar {
		return v
	}
	if i == 0 || p-c.PressureDbar[l[i-1]] > 2*windowDbar {
		return math.NaN()
	}
	q, w := c.PressureDbar[l[i-1]], col.Values[l[i-1]]
	return w + (v-w)*(pDbar-q)/(p-q)
}

// slope returns how the variable of a match changes with a dbar of the downcast; NaN where that cannot be said.
func (s *survey) slope(m *Match) float64 {
	p := m.DownDbar
	if p != p {
		p = m.Dbar
	}
	low, high := s.at(m.Cast, m.Variable, p-slopeDbar), s.at(m.Cast, m.Variable, p+slopeDbar)
	if high != high { // near the end of the cast
		high, low = s.at(m.Cast, m.Variable, p), s.at(m.Cast, m.Variable, p-2*slopeDbar)
	}
	return (high - low) / (2 * slopeDbar)
}

// matches returns the matches of one quantity, in the order of the bottle files.
func (s *survey) matches(variable, sample string) []Match {
	type key struct{ expocode, station, cast string }
	casts := map[key]*section.Cast{}
	for _, c := range s.Casts {
		casts[key{c.Expocode, c.Station, c.Number}] = c
	}
	down := map[*section.Cast]*downcast{}
	var out []Match
	for _, b := range s.Bottles {
		col, pres := b.Column(sample), b.Column("pres")
		if col == nil || col.Values == nil || pres == nil {
			continue
		}
		for _, rows := range sameBottle(b) {
			i := rows[0]
			c := casts[key{b.Rows[i].Expocode, b.Rows[i].Station, b.Rows[i].Cast}]
			v, n := sampleOf(b, rows, col)
			if c == nil || n == 0 || math.IsNaN(pres.Values[i]) || c.Column(variable) == nil {
				continue
			}
			if down[c] == nil {
				down[c] = s.downcast(s.downOf(c))
			}
			out = append(out, s.match(down[c], Match{Bottles: b, Row: i, Variable: variable, Sample: v, Samples: n,
				Dbar: pres.Values[i]}))
		}
	}
	return out
}

// downOf returns the downcast of the station of an upcast, where the cruise has it; else the cast.
func (s *survey) downOf(c *section.Cast) *section.Cast {
	if c.Direction != section.Up {
		return c
	}
	for _, d := range s.Casts {
		if d.Expocode == c.Expocode && d.Station == c.Station && d.Direction != section.Up {
			return d
		}
	}
	return c
}

// match completes a match with the values of the CTD.
func (s *survey) match(d *downcast, m Match) Match {
	m.Cast = d.cast
	notCalibrated := s.settings(d.cast).NotCalibrated
	closure := func(variable string) float64 {
		col := m.Bottles.Column(variable)
		if col == nil || col.Values == nil || col.Flags != nil && !col.Flags[m.Row].Usable(notCalibrated) {
			return math.NaN()
		}
		return col.Values[m.Row]
	}
	m.Closure, m.Down, m.Second = closure(m.Variable), math.NaN(), math.NaN()
	m.DownDbar, m.How = d.match(m.Dbar, closure("temp"), closure("psal"))
	if m.How != Unmatched {
		m.Down, m.Second = s.at(d.cast, m.Variable, m.DownDbar), s.at(d.cast, m.Variable+"2", m.DownDbar)
	}
	if m.Down != m.Down {
		m.How = Unmatched
	}
	return m
}

// sameBottle returns the rows of a file by bottle: several samples of one bottle are one group.
func sameBottle(b *section.Bottles) [][]int {
	type key struct{ expocode, station, cast, bottle string }
	at := map[key]int{}
	var out [][]int
	for i := range b.Rows {
		r := &b.Rows[i]
		k := key{r.Expocode, r.Station, r.Cast, r.Bottle}
		if g, ok := at[k]; ok && r.Bottle != "" && samePressure(b, out[g][0], i) {
			out[g] = append(out[g], i)
			continue
		}
		at[k] = len(out)
		out = append(out, []int{i})
	}
	return out
}

// samePressure reports whether two rows are of one closure.
func samePressure(b *section.Bottles, i, j int) bool {
	p := b.Column("pres")
	return p != nil && math.Abs(p.Values[i]-p.Values[j]) < 1
}

// A Duplicates is how well samples of the same bottle repeat.
type Duplicates struct {
	Variable string
	Bottles  int
	Rms      float64 // of the differences, over the square root of 2
}

// duplicates returns how well two samples of the same bottle repeat; false without such bottles.
func (s *survey) duplicates(variable, sample string) (Duplicates, bool) {
	sum, n := 0.0, 0
	for _, b := range s.Bottles {
		col := b.Column(sample)
		if col == nil || col.Values == nil {
			continue
		}
		for _, rows := range sameBottle(b) {
			var v []float64
			for _, i := range rows {
				if col.SampleFlags == nil || col.SampleFlags[i] == metadata.SampleAcceptable {
					if x := col.Values[i]; x == x {
						v = append(v, x)
					}
				}
			}
			if len(v) == 2 {
				sum += (v[0] - v[1]) * (v[0] - v[1])
				n++
			}
		}
	}
	return Duplicates{variable, n, math.Sqrt(sum / float64(n) / 2)}, n > 0
}
