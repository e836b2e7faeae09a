package ingest

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// The checks here find casts of which lines were lost. All limits are ours.
const (
	wideStep = 1.5 // steps of so many bins lack at least one bin
	// least part of the steps of a cast that are as wide as most, for the others to be told from them
	regularPart = 0.5
	mostGaps    = 3    // so many gaps of a cast are named one by one
	deepStart   = 10   // dbar by which the first level may be below that of most casts
	alike       = 0.75 // least part of the casts that begin at one pressure, for any other beginning to be told from it
	reached     = 0.85 // of the water depth: a cast that comes so far reaches the bottom
	// of the water depth: a cast that does not come so far among such that reach the bottom may be cut off
	cutAt       = 0.75
	nearBottomM = 10 // a cast that comes so near to the bottom reaches it
)

// CheckComplete returns findings for casts of which lines may be lost: steps that are wider than the bins, a first
// level far below that of the other casts, a water depth above the deepest level. binDbar returns the declared width of
// the bins of a cast; 0 where none is declared: the commonest step of the cast is taken for it.
func CheckComplete(casts []*section.Cast, binDbar func(*section.Cast) float64) []metadata.Finding {
	var found []metadata.Finding
	for _, c := range casts {
		found = append(found, missingBins(c, binDbar(c))...)
		found = append(found, aboveDeepest(c)...)
	}
	found = append(found, startsDeep(casts)...)
	metadata.SortFindings(found)
	return found
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

// missingBins finds steps wider than the bins.
func missingBins(c *section.Cast, declared float64) (found []metadata.Finding) {
	p := pressures(c)
	bin, how := usualStep(p), "most steps are %g dbar"
	decimals := max(0, mostDecimals(c.Column("pres")))
	bin = rounded(bin, decimals)
	switch {
	case declared > 0 && bin > wideStep*declared: // everywhere: said once
		w := of(c, "cast.bin_width")
		w.Variable, w.First, w.Last = "pres", p[0], p[len(p)-1]
		w.Message = fmt.Sprintf("levels are %g dbar apart, the system declares bins of %g dbar", bin, declared)
		w.Remedy = "correct the width of the bins in the cruise file, or look for the missing bins"
		found = append(found, w)
	case declared > 0:
		bin, how = declared, "the system declares bins of %g dbar"
	}
	if !(bin > 0) {
		return found
	}
	why := fmt.Sprintf(how, bin)
	var gaps []metadata.Finding
	total, widest := 0, 0.0
	for i := 1; i < len(p); i++ {
		step := p[i] - p[i-1]
		if step <= wideStep*bin {
			continue
		}
		n := max(1, int(math.Round(step/bin))-1)
		total += n
		widest = max(widest, step)
		w := of(c, "cast.missing_bins")
		w.Variable, w.First, w.Last, w.Count = "pres", rounded(p[i-1]+bin, decimals), rounded(p[i]-bin, decimals), n
		w.Message = fmt.Sprintf("%d %s missing between %.*f and %.*f dbar: %s", n, plural(n, "bin is", "bins are"),
			decimals, p[i-1], decimals, p[i], why)
		gaps = append(gaps, w)
	}
	if len(gaps) > mostGaps {
		w := gaps[0]
		w.Last, w.Count = gaps[len(gaps)-1].Last, total
		w.Message = fmt.Sprintf(
			"%d bins are missing in %d places between %.*f and %.*f dbar, the widest step is %.*f dbar: %s", total,
			len(gaps), decimals, w.First,
			decimals, w.Last, decimals, widest, why)
		gaps = []metadata.Finding{w}
	}
	for i := range gaps {
		gaps[i].Remedy =
			"compare the file with the one it was copied from; where no bin was ever there nothing is to be done"
	}
	return append(found, gaps...)
}

func mostDecimals(c *section.Column) int {
	if c == nil {
		return 0
	}
	return min(c.MostDecimals(), 6)
}

func rounded(v float64, decimals int) float64 { return math.Round(v*pow10[decimals]) / pow10[decimals] }

// deepest returns pressure and depth of the deepest level; NaN without one.
func deepest(c *section.Cast) (pDbar, depthM float64) {
	p := pressures(c)
	if len(p) == 0 {
		return math.NaN(), math.NaN()
	}
	pDbar = p[len(p)-1]
	return pDbar, -seawater.Height(pDbar, c.At[1])
}

// aboveDeepest finds a water depth that is above the deepest level.
func aboveDeepest(c *section.Cast) []metadata.Finding {
	p, z := deepest(c)
	if !(z > c.BottomM+0.5*math.Pow(10, -float64(max(c.BottomDecimals, 0)))) {
		return nil
	}
	w := of(c, "cast.depth_above")
	w.Variable, w.First, w.Last = "bottom_depth", p, p
	w.Message = fmt.Sprintf("the water depth of %.*f m is above the deepest level, %g dbar (%.1f m)",
		max(c.BottomDecimals, 0), c.BottomM, p, z)
	w.Remedy = "compare DEPTH and the deepest levels with the log, and correct the one that is wrong"
	return []metadata.Finding{w}
}

// startsDeep finds casts that begin far below most others: their first lines may be lost.
func startsDeep(casts []*section.Cast) (found []metadata.Finding) {
	var first []float64
	var those []*section.Cast
	for _, c := range casts {
		if p := pressures(c); len(p) > 1 {
			first, those = append(first, p[0]), append(those, c)
		}
	}
	if len(first) < 4 {
		return nil
	}
	sorted := slices.Sorted(slices.Values(first))
	usual := sorted[(len(sorted)-1)/2]
	same := 0
	for _, p := range first {
		if p == usual {
			same++
		}
	}
	margin := float64(deepStart)
	if float64(same) >= alike*float64(len(first)) {
		margin = 0
	}
	for i, c := range those {
		if first[i] <= usual+margin {
			continue
		}
		w := of(c, "cast.starts_deep")
		w.Severity, w.Variable, w.First, w.Last = metadata.Note, "pres", usual, first[i]
		w.Message = fmt.Sprintf("the cast begins at %g dbar, most begin at %g dbar or above", first[i], usual)
		w.Remedy =
			"compare the file with the one it was copied from; when the cast was begun there nothing is to be done"
		found = append(found, w)
	}
	return found
}

// CutOff returns findings for casts of a section that end far above the bottom where their neighbours reach it: their
// lower part may be lost. casts are in the order of the line; remark returns what the log says of a cast, "" for
// nothing. Only primary casts are looked at.
func CutOff(name string, casts []*section.Cast, remark func(*section.Cast) string) (found []metadata.Finding) {
	type place struct {
		c                 *section.Cast
		pDbar, zM, belowM float64
		share             float64
	}
	var line []place
	for _, c := range casts {
		p, z := deepest(c)
		if s := z / c.BottomM; s == s {
			line = append(line, place{c, p, z, c.BottomM - z, s})
		}
	}
	for i, here := range line {
		if here.share >= cutAt || here.belowM <= nearBottomM || here.c.Role != section.Primary &&
			here.c.Role != section.Unstated {
			continue
		}
		around, reach := 0, 0
		for _, k := range []int{i - 2, i - 1, i + 1, i + 2} {
			if k < 0 || k >= len(line) {
				continue
			}
			around++
			if line[k].share >= reached || line[k].belowM <= nearBottomM {
				reach++
			}
		}
		if around == 0 || 2*reach <= around {
			continue
		}
		w := of(here.c, "cast.cut_off")
		w.Variable, w.First, w.Last = "pres", here.pDbar, here.pDbar
		w.Message = fmt.Sprintf(
			"the cast ends at %g dbar (%.0f m) in water of %.*f m, and its neighbours in section %s reach the bottom",
			here.pDbar, here.zM,
			max(here.c.BottomDecimals, 0), here.c.BottomM, name)
		w.Remedy =
			"compare the file with the one it was copied from; when the cast was ended there, say so in the remark of the station table"
		if s := remark(here.c); s != "" {
			w.Severity, w.Remedy = metadata.Note, ""
			w.Message += fmt.Sprintf("; the log says: %s", s)
		}
		found = append(found, w)
	}
	return found
}
