package qc

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// pressureOrder proposes pressures bad that are not above the largest before them.
func pressureOrder() Rule {
	return Rule{ID: "pressure.order", Proposes: true,
		Does:   "pressure is not above the largest before it; kept as read and left out of computations",
		Source: argoManual + "; the treatment is ours",
		cast: func(p *profile) {
			deepest := math.Inf(-1)
			for k, v := range p.cast.PressureDbar {
				switch {
				case v <= deepest:
					p.propose("pres", k, metadata.Bad)
				case v > deepest:
					deepest = v
				}
			}
		}}
}

// Limits of pressureStep; ours.
const (
	regularPart = 0.5 // least part of the steps of a cast that are as wide as most, for the others to differ from them
	mostGaps    = 3   // so many gaps of a cast are named one by one
)

// pressureStep finds steps wider than the bins, and bins of another width than declared.
func pressureStep() Rule {
	return Rule{ID: "pressure.step", Does: "bins are missing, or of another width than declared", Source: ours,
		Thresholds: []Threshold{
			{"wide", 1.5, "bins", "step between levels from which on a bin is missing"},
			{"differs", 0.05, "bins", "difference of the width from that declared"},
		},
		cast: func(p *profile) {
			pres := pressures(p.cast)
			decimals := 0
			if col := p.cast.Column("pres"); col != nil {
				decimals = max(0, min(col.MostDecimals(), 6))
			}
			bin, how, wide := roundTo(usualStep(pres), decimals), "most steps are %g dbar", p.limit("wide")
			if declared := p.settings.BinDbar; declared > 0 {
				if bin > 0 && math.Abs(bin-declared) > p.limit("differs")*declared { // everywhere: one finding
					f := p.about("pres", "levels are %g dbar apart, the system declares bins of %g dbar", bin, declared)
					f.First, f.Last, f.Count = pres[0], pres[len(pres)-1], len(pres)
					f.Remedy = "correct the width of the bins in the cruise file, or look for the missing bins"
					p.found = append(p.found, f)
				}
				if bin <= wide*declared {
					bin, how = declared, "the system declares bins of %g dbar"
				}
			}
			if bin > 0 {
				p.gaps(pres, bin, wide, decimals, fmt.Sprintf(how, bin))
			}
		}}
}

// gaps finds the steps that are more than wide times as wide as a bin.
func (p *profile) gaps(pres []float64, bin, wide float64, decimals int, why string) {
	var gaps []metadata.Finding
	total, widest := 0, 0.0
	for i := 1; i < len(pres); i++ {
		step := pres[i] - pres[i-1]
		if step <= wide*bin {
			continue
		}
		n := max(1, int(math.Round(step/bin))-1)
		total, widest = total+n, max(widest, step)
		missing := "bins are"
		if n == 1 {
			missing = "bin is"
		}
		f := p.about("pres", "%d %s missing between %.*f and %.*f dbar: %s", n, missing, decimals, pres[i-1],
			decimals, pres[i], why)
		f.First, f.Last, f.Count = roundTo(pres[i-1]+bin, decimals), roundTo(pres[i]-bin, decimals), n
		f.Line = lineOf(p.cast, max(0, slices.Index(p.cast.PressureDbar, pres[i])))
		gaps = append(gaps, f)
	}
	if len(gaps) > mostGaps {
		f := gaps[0]
		f.Last, f.Count = gaps[len(gaps)-1].Last, total
		f.Message = fmt.Sprintf("%d bins are missing in %d places between %.*f and %.*f dbar, the widest step is "+
			"%.*f dbar: %s",
			total, len(gaps), decimals, f.First, decimals, f.Last, decimals, widest, why)
		gaps = []metadata.Finding{f}
	}
	for i := range gaps {
		gaps[i].Remedy = "compare the file with the one it was copied from; where no bin was ever there nothing " +
			"is to be done"
	}
	p.found = append(p.found, gaps...)
}

// pressures returns the pressures of a cast that are there, in order and each once.
func pressures(c *section.Cast) []float64 {
	p := slices.DeleteFunc(slices.Clone(c.PressureDbar), math.IsNaN)
	slices.Sort(p)
	return slices.Compact(p)
}

// usualStep returns the median step between pressures in order; 0 when there are too few, or too few of one width.
func usualStep(p []float64) float64 {
	if len(p) < 4 {
		return 0
	}
	steps := make([]float64, len(p)-1)
	for i := range steps {
		steps[i] = p[i+1] - p[i]
	}
	slices.Sort(steps)
	usual, same := steps[len(steps)/2], 0
	for _, s := range steps {
		if math.Abs(s-usual) <= usual/4 {
			same++
		}
	}
	if float64(same) < regularPart*float64(len(steps)) {
		return 0
	}
	return usual
}

func roundTo(v float64, decimals int) float64 {
	scale := math.Pow(10, float64(decimals))
	return math.Round(v*scale) / scale
}

// levelRules returns the checks that compare the levels of casts.
func levelRules() []Rule {
	return []Rule{
		{ID: "bin.label",
			Does: "levels lie between those of the other casts of the same sensors: the pressure written for a bin " +
				"may be that " +
				"of another part of it",
			Source: ours, Thresholds: []Threshold{
				{"part", 0.25, "bins", "how far the levels are from those of another cast"},
				{"share", 0.75, "", "part of the casts of the same sensors that are so far away"},
			}}, startRule()}
}

// startRule returns the check of first levels.
func startRule() Rule {
	return Rule{ID: "pressure.start", Does: "the cast begins far below most others: its first lines may be lost",
		Source: ours,
		Thresholds: []Threshold{
			{"deep", 10, "dbar", "how far below the usual first pressure"},
			{"alike", 0.75, "", "part of the casts with one first pressure, from which on any deeper start is found"},
		}}
}

// startsDeep finds casts that begin far below most others, or below all when most begin at one pressure.
func (s *survey) startsDeep() {
	var first []float64
	var those []*section.Cast
	for _, c := range s.Casts {
		least, n := math.Inf(1), 0
		for _, p := range c.PressureDbar {
			if p == p {
				least, n = math.Min(least, p), n+1
			}
		}
		if n > 1 {
			first, those = append(first, least), append(those, c)
		}
	}
	if len(first) < 4 {
		return
	}
	sorted := slices.Sorted(slices.Values(first))
	usual, same := sorted[(len(sorted)-1)/2], 0
	for _, p := range first {
		if p == usual {
			same++
		}
	}
	margin := s.limit("pressure.start", "deep")
	if float64(same) >= s.limit("pressure.start", "alike")*float64(len(first)) {
		margin = 0
	}
	for i, c := range those {
		if first[i] <= usual+margin {
			continue
		}
		f := about(c, "pressure.start", "pres",
			fmt.Sprintf("the cast begins at %g dbar, most begin at %g dbar or above", first[i], usual),
			"compare the file with the one it was copied from; when the cast was begun there nothing is to be done")
		atLevels(&f, c, first[i], first[i])
		f.Severity, f.First = metadata.Note, usual
		s.find(f)
	}
}

// labelledBins is how many bins of a cast show where they lie.
const labelledBins = 200

// binLabels finds casts whose levels lie between those of most other casts of their system, such as 1, 3, 5 among 2, 4,
// 6 dbar.
func (s *survey) binLabels() {
	type kind struct {
		system string
		step   float64
	}
	phases, casts := map[kind][]float64{}, map[kind][]*section.Cast{}
	var order []kind
	for _, c := range s.Casts {
		p := pressures(c)
		p = p[:min(len(p), labelledBins)]
		step := roundTo(usualStep(p), 2)
		if step <= 0 {
			continue
		}
		k := kind{c.System, step}
		if phases[k] == nil {
			order = append(order, k)
		}
		turns := make([]float64, len(p)) // how far each level is from a multiple of the step
		for i, v := range p {
			turns[i] = math.Mod(v, step) / step
		}
		phases[k], casts[k] = append(phases[k], median(turns)), append(casts[k], c)
	}
	for _, k := range order {
		apart := func(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 1)) }
		for i, c := range casts[k] {
			far, usual := 0, 0.0
			for j := range casts[k] {
				if apart(phases[k][i], phases[k][j]) >= s.limit("bin.label", "part") {
					far, usual = far+1, casts[k][j].PressureDbar[0]
				}
			}
			if float64(far) < s.limit("bin.label", "share")*float64(len(casts[k])) || far < 2 {
				continue
			}
			f := aboutAll(c, "bin.label", "pres",
				fmt.Sprintf("levels begin at %g dbar in steps of %g dbar, those of %d other casts of the same "+
					"sensors at %g dbar: the pressure written for a bin may be that of another part of it (centre, "+
					"top or bottom); no bin was moved", c.PressureDbar[0], k.step, far, usual),
				"ask how the bins were made; give the casts a system of their own with its bin label")
			s.find(f)
		}
	}
}
