package qc

import (
	"iter"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
)

// spike proposes values questionable that stand out of both neighbours by more than any water does.
func spike() Rule {
	return Rule{ID: "spike", Proposes: true, Does: "differs much from both neighbouring bins (a large spike)",
		Source: argoManual + " (made for floats); salinity from memory",
		Thresholds: []Threshold{
			{"temp_upper", 6, "degC", "temperature above the deep water"},
			{"temp_deep", 2, "degC", "temperature in deep water"},
			{"psal_upper", 0.9, "", "salinity above the deep water"},
			{"psal_deep", 0.3, "", "salinity in deep water"},
			{"deep", 500, "dbar", "deep water begins at this pressure"},
		},
		cast: func(p *profile) {
			p.triples(func(a, b, c float64) float64 { return math.Abs(b-(a+c)/2) - math.Abs((a-c)/2) })
		}}
}

// gradient proposes values questionable that differ from the mean of both neighbours by more than any water does.
func gradient() Rule {
	return Rule{ID: "gradient", Proposes: true, Does: "differs much from the mean of both neighbouring bins",
		Source: argoManual + " (test since withdrawn); salinity from memory",
		Thresholds: []Threshold{
			{"temp_upper", 9, "degC", "temperature above the deep water"},
			{"temp_deep", 3, "degC", "temperature in deep water"},
			{"psal_upper", 1.5, "", "salinity above the deep water"},
			{"psal_deep", 0.5, "", "salinity in deep water"},
			{"deep", 500, "dbar", "deep water begins at this pressure"},
		},
		cast: func(p *profile) { p.triples(func(a, b, c float64) float64 { return math.Abs(b - (a+c)/2) }) }}
}

// triples proposes the middle of three adjacent usable bins questionable when measure exceeds the limit of its depth.
func (p *profile) triples(measure func(a, b, c float64) float64) {
	for _, q := range quantities[:2] {
		upper, deep, from := p.limit(q.name+"_upper"), p.limit(q.name+"_deep"), p.limit("deep")
		for _, name := range q.sensors {
			v, l := p.values(name), p.usable(name)
			for i := 1; i+1 < len(l); i++ {
				most := upper
				if p.cast.PressureDbar[l[i]] >= from {
					most = deep
				}
				if measure(v[l[i-1]], v[l[i]], v[l[i+1]]) > most {
					p.propose(name, l[i], metadata.Questionable)
				}
			}
		}
	}
}

// Bins of the rule spike.bin.
const (
	spikeSide   = 3  // bins each side in the median, and around which a spike is the largest
	spikeWindow = 51 // bins whose residuals give the noise
)

// spikeBin proposes values questionable that stand out of the six bins around them by more than a floor and by more
// than several times the noise around, and stand out of the bins on both sides.
func spikeBin() Rule {
	return Rule{ID: "spike.bin", Proposes: true, Does: "differs from the bins around it far " +
		"more than their noise: a spike, as from air or dirt in the tubing of the sensors",
		Source: ours + "; for bins of 1 to 2 dbar",
		Thresholds: []Threshold{
			{"temp_upper", 0.10, "degC", "temperature in the upper water"},
			{"temp_deep", 0.02, "degC", "temperature in deep water"},
			{"psal_upper", 0.02, "", "salinity in the upper water"},
			{"psal_deep", 0.005, "", "salinity in deep water"},
			{"oxy_upper", 5, "umol/kg", "oxygen in the upper water"},
			{"oxy_deep", 2, "umol/kg", "oxygen in deep water"},
			{"noise", 7, "", "difference over the noise of the bins around"},
			{"upper", 500, "dbar", "the upper water ends at this pressure"},
			{"deep", 1500, "dbar", "deep water begins at this pressure (in between, the limits change evenly)"},
		},
		cast: func(p *profile) {
			r := make([]float64, 0, p.cast.Levels())
			noise, from, to := p.limit("noise"), p.limit("upper"), p.limit("deep")
			for _, q := range quantities {
				upper, deep := p.limit(q.name+"_upper"), p.limit(q.name+"_deep")
				for _, name := range q.sensors {
					l := p.usable(name)
					if slices.ContainsFunc(l, func(k int) bool { return p.bad(name, k) }) { // no spike beside them
						l = slices.DeleteFunc(slices.Clone(l), func(k int) bool { return p.bad(name, k) })
					}
					r = residuals(r[:0], p.values(name), l)
					for i := range l {
						a, floor := math.Abs(r[i]), between(p.cast.PressureDbar[l[i]], from, to, upper, deep)
						if a > floor && largest(r, i) && a > noise*madScale*noiseAround(r, i) &&
							standsOut(p.values(name), l, i, floor) {
							p.propose(name, l[i], metadata.Questionable)
						}
					}
				}
			}
		}}
}

// residuals appends to dst each value less the median of the three usable bins on each side of it, itself left out;
// NaN at the three first and last.
func residuals(dst, values []float64, levels []int) []float64 {
	var around [2 * spikeSide]float64
	for i := range levels {
		if i < spikeSide || i+spikeSide >= len(levels) {
			dst = append(dst, math.NaN())
			continue
		}
		for j := range spikeSide {
			around[j], around[spikeSide+j] = values[levels[i-1-j]], values[levels[i+1+j]]
		}
		dst = append(dst, values[levels[i]]-median(around[:]))
	}
	return dst
}

// standsOut reports whether a value lies outside the medians of the three bins on either side by half the floor, or
// outside both next bins by a fifth of it. At the edge of a sharp thermocline it does neither, however far off the
// median of all it is.
func standsOut(values []float64, levels []int, i int, floor float64) bool {
	var above, below [spikeSide]float64
	for j := range spikeSide {
		above[j], below[j] = values[levels[i-1-j]], values[levels[i+1+j]]
	}
	outside := func(a, b, v float64) float64 { return max(v-max(a, b), min(a, b)-v) }
	v := values[levels[i]]
	return outside(above[0], below[0], v) > floor/5 || outside(median(above[:]), median(below[:]), v) > floor/2
}

// largest reports whether |r[i]| is the largest of the bins around it.
func largest(r []float64, i int) bool {
	for j := max(0, i-spikeSide); j <= min(len(r)-1, i+spikeSide); j++ {
		if math.Abs(r[j]) > math.Abs(r[i]) {
			return false
		}
	}
	return true
}

// noiseAround returns the median of |r| over the bins around i.
func noiseAround(r []float64, i int) float64 {
	var window [spikeWindow]float64
	n := 0
	for j := max(0, i-spikeWindow/2); j <= min(len(r)-1, i+spikeWindow/2); j++ {
		if r[j] == r[j] {
			window[n] = math.Abs(r[j])
			n++
		}
	}
	return median(window[:n])
}

// stuck proposes runs of values questionable that do not change; a whole cast of them is bad.
func stuck() Rule {
	return Rule{ID: "stuck", Proposes: true, Does: "does not change from bin to bin",
		Source: argoManual + " (whole profile); the length of a run, and how far it exceeds the next " +
			"longest, are ours",
		Thresholds: []Threshold{
			{"bins", 10, "", "number of bins with one value"},
			{"range", 20, "dbar", "pressure range of half as many bins with one value"},
			{"mixed", 20, "dbar", "one value from the first bin down to this pressure is a mixed layer"},
			{"times", 4, "", "length of the run over the usual length in the cast"},
		},
		cast: func(p *profile) {
			for _, q := range quantities {
				for _, name := range q.sensors {
					p.stuckRuns(name)
				}
			}
		}}
}

// stuckRuns proposes against each run of a column that is longer than allowed and several times as long as runs of the
// cast are: values with few decimals repeat in deep water. A mixed layer that begins at the surface is real.
func (p *profile) stuckRuns(name string) {
	col := p.cast.Column(name)
	if col == nil || col.Values == nil {
		return
	}
	within, least := 1e-4, 4 // decimals of temperature and salinity with which noise distinguishes values
	if name == "oxy" || name == "oxy2" {
		within, least = 1e-3, 2
	}
	if col.Decimals >= 0 {
		within = min(within, 0.5*math.Pow(10, -float64(col.Decimals)))
	}
	coarse := col.Decimals >= 0 && col.Decimals < least
	l, pres := p.usable(name), p.cast.PressureDbar
	runs := runsOf(col.Values, l, within)
	bins := int(p.limit("bins"))
	most := p.limit("times") * float64(usualRun(runs))
	if coarse && least == 2 { // oxygen: its noise exceeds a digit of 0.1
		coarse, most = false, max(most, 2*float64(bins))
	}
	for r := range runs {
		n := r.to - r.from
		whole := n == len(l) && n >= bins
		long := n >= bins || n >= bins/2 && pres[l[r.to-1]]-pres[l[r.from]] >= p.limit("range")
		mixed := r.from == 0 && pres[l[r.to-1]] <= p.limit("mixed")
		if !whole && (!long || coarse || mixed || float64(n) < most) {
			continue
		}
		flag := metadata.Questionable
		if whole {
			flag = metadata.Bad
		}
		for _, k := range l[r.from:r.to] {
			p.propose(name, k, flag)
		}
	}
}

// A run is neighbouring usable levels of equal values, as indices of the usable levels: from up to, not with, to.
type run struct{ from, to int }

// runsOf returns the runs of usable levels whose values differ by less than within, from the top.
func runsOf(values []float64, levels []int, within float64) iter.Seq[run] {
	return func(yield func(run) bool) {
		for i := 0; i < len(levels); {
			low, high := values[levels[i]], values[levels[i]]
			j := i + 1
			for ; j < len(levels); j++ {
				a, b := min(low, values[levels[j]]), max(high, values[levels[j]])
				if b-a >= within {
					break
				}
				low, high = a, b
			}
			if !yield(run{i, j}) {
				return
			}
			i = j
		}
	}
}

// usualRun returns the length that three quarters of the levels are in runs of at most, the longest run left out: it
// may be most of the cast.
func usualRun(runs iter.Seq[run]) int {
	var levels []int // for each length the number of levels in such runs
	all, sum := 0, 0
	for r := range runs {
		n := r.to - r.from
		for len(levels) <= n {
			levels = append(levels, 0)
		}
		levels[n] += n
		all += n
	}
	longest := len(levels) - 1
	if longest < 1 {
		return 1
	}
	levels[longest] -= longest
	all -= longest
	for n, k := range levels {
		if sum += k; 4*sum >= 3*all && n > 0 {
			return n
		}
	}
	return 1
}
