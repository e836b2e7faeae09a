package qc

import (
	"math"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/seawater"
)

// surface proposes the first bins questionable when salinity there jumps against the bins below: the plumbing was
// not yet purged.
func surface() Rule {
	return Rule{ID: "surface", Proposes: true,
		Does: "salinity jumps between the first bins and those below: there may still have been air in the tubing " +
			"of the sensors, which a soak of 40 to 60 s at about 10 m removes",
		Source: commonPractice, Thresholds: []Threshold{
			{"pressure", 3, "dbar", "salinity and temperature are checked above this pressure"},
			{"oxygen_pressure", 10, "dbar", "where they jump, oxygen above this pressure is questionable too"},
			{"jump", 0.05, "", "difference in salinity from the bins below"},
			{"bins", 5, "", "number of bins below that are compared"},
		},
		cast: func(p *profile) {
			n := int(p.limit("bins"))
			for i, name := range quantities[1].sensors {
				v, l := p.values(name), p.usable(name)
				for j := 0; j+n < len(l) && p.cast.PressureDbar[l[j]] < p.limit("pressure"); j++ {
					low, high := v[l[j+1]], v[l[j+1]]
					for _, k := range l[j+2 : j+1+n] {
						low, high = min(low, v[k]), max(high, v[k])
					}
					// A halocline that reaches the surface is no jump: the bins below it differ as much.
					if jump := max(low-v[l[j]], v[l[j]]-high); jump > p.limit("jump") && jump > high-low {
						p.unpurged(i, l[j])
					}
				}
			}
		}}
}

// unpurged proposes against what one set of sensors measured at a level, and its oxygen in the first bins.
func (p *profile) unpurged(set, level int) {
	p.propose(quantities[1].sensors[set], level, metadata.Questionable)
	p.propose(quantities[0].sensors[set], level, metadata.Questionable)
	oxygen := quantities[2].sensors[set]
	for _, k := range p.usable(oxygen) {
		if p.cast.PressureDbar[k] < p.limit("oxygen_pressure") {
			p.propose(oxygen, k, metadata.Questionable)
		}
	}
}

// scansPerDbar is how many scans a bin of 1 dbar holds at 24 Hz and 1 m/s.
const scansPerDbar = 24

// counts proposes the sensors of a bin questionable that holds far fewer scans than its width gives.
func counts() Rule {
	return Rule{ID: "counts", Proposes: true, Does: "the bin is the mean of far fewer scans than its width and the " +
		"usual speed give",
		Source: commonPractice + ": about 24 scans per dbar at 24 Hz and 1 m/s",
		Thresholds: []Threshold{
			{"fraction", 0.3, "", "number of scans over that expected of the width of the bin"},
		},
		cast: func(p *profile) {
			n := p.values("nobs")
			if n == nil {
				return
			}
			per, width := p.settings.ScansPerDbar, p.settings.BinDbar
			if per == 0 {
				per = scansPerDbar
			}
			if width == 0 {
				width = usualStep(pressures(p.cast))
			}
			least := p.limit("fraction") * per * width
			for i, k := range p.usable("nobs") {
				if i == 0 || !(n[k] < least) { // the first bin is often a part of one
					continue
				}
				for _, q := range quantities {
					for _, name := range q.sensors {
						p.propose(name, k, metadata.Questionable)
					}
				}
			}
		}}
}

// dual proposes levels questionable where the two sensors of a pair differ, in a running median, by more than they
// should.
func dual() Rule {
	return Rule{ID: "dual", Proposes: true, Does: "the two sensors differ (running median of the difference over " +
		"100 dbar)",
		Source: commonPractice,
		Thresholds: []Threshold{
			{"temp", 0.002, "degC", "difference in temperature"},
			{"cond", 0.0002, "S/m", "difference in conductivity"},
			{"psal", 0.003, "", "difference in salinity"},
			{"oxy", 4, "umol/kg", "difference in oxygen"},
			{"deep", 1500, "dbar", "the differences apply from this pressure on"},
			{"upper_factor", 3, "", "above that pressure they are so many times as large"},
			{"window", 100, "dbar", "pressure range of the running median"},
		},
		cast: func(p *profile) {
			for _, q := range pairedQuantities {
				if p.cast.Column(q) != nil && p.cast.Column(q+"2") != nil {
					p.pairOf(q, q+"2")
				}
			}
		}}
}

// pairedQuantities are those of which a second sensor has a variable of its own, named with a 2.
var pairedQuantities = [...]string{"temp", "cond", "psal", "oxy"}

// minPair is how many levels a running median of a sensor pair needs.
const minPair = 5

func (p *profile) pairOf(first, second string) {
	l := p.cast.UsableLevels(p.empty(first), p.settings.NotCalibrated, first, second)
	a, b, pres := p.values(first), p.values(second), p.cast.PressureDbar
	half, deep, limit, factor := p.limit("window")/2, p.limit("deep"), p.limit(first), p.limit("upper_factor")
	window := make([]float64, 0, 256)
	from, to := 0, 0
	for _, k := range l {
		for to < len(l) && pres[l[to]] <= pres[k]+half {
			to++
		}
		for pres[l[from]] < pres[k]-half {
			from++
		}
		most := limit
		if pres[k] < deep {
			most *= factor
		}
		if to-from < minPair || math.Abs(b[k]-a[k]) <= most/2 { // far within the limit: not part of a run outside it
			continue
		}
		window = window[:0]
		for _, m := range l[from:to] {
			window = append(window, b[m]-a[m])
		}
		if math.Abs(median(window)) > most {
			p.propose(first, k, metadata.Questionable)
			p.propose(second, k, metadata.Questionable)
		}
	}
}

// inversion proposes pairs of bins whose density falls downward: bad beyond a limit, questionable below the upper
// ocean beyond a smaller one.
func inversion() Rule {
	return Rule{ID: "inversion", Proposes: true, Does: "density decreases downward",
		Source: argoManual + ", test 14 (limit from memory); the deep limit is " + oceanDatabase + " (from memory)",
		Thresholds: []Threshold{
			{"bad", 0.03, "kg/m3", "fall of density from one bin to the next for flag 4"},
			{"questionable", 0.01, "kg/m3", "fall of density for flag 3, in deep water"},
			{"deep", 400, "dbar", "deep water is below this pressure"},
		},
		cast: func(p *profile) {
			for i := range quantities[1].sensors {
				p.inversionOf(quantities[0].sensors[i], quantities[1].sensors[i])
			}
		}}
}

func (p *profile) inversionOf(temp, psal string) {
	if p.cast.Column(temp) == nil || p.cast.Column(psal) == nil {
		return
	}
	t, s, pres := p.values(temp), p.values(psal), p.cast.PressureDbar
	bad, questionable, deep := p.limit("bad"), p.limit("questionable"), p.limit("deep")
	last := -1
	var saLast, ctLast float64
	for _, k := range p.cast.UsableLevels(p.empty(temp), p.settings.NotCalibrated, temp, psal) {
		if p.proposed(temp, k) || p.proposed(psal, k) || p.proposed("pres", k) {
			continue
		}
		sa := p.place.AbsoluteSalinity(s[k], pres[k])
		ct := seawater.ConservativeTemperature(sa, t[k], pres[k])
		if last >= 0 {
			mid := (pres[last] + pres[k]) / 2
			fall := seawater.Density(saLast, ctLast, mid) - seawater.Density(sa, ct, mid)
			flag := metadata.NotEvaluated
			switch {
			case fall > bad:
				flag = metadata.Bad
			case fall > questionable && pres[k] > deep:
				flag = metadata.Questionable
			}
			if flag != metadata.NotEvaluated {
				for _, name := range []string{temp, psal} {
					p.propose(name, last, flag)
					p.propose(name, k, flag)
				}
			}
		}
		last, saLast, ctLast = k, sa, ct
	}
}
