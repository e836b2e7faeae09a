package geostrophy

import (
	"math"
	"slices"
)

// sameBinDbar is how far apart two bins may lie and still be one level of two casts (ours).
const sameBinDbar = 0.05

// A level is a common level of two casts, with the span of each cast that holds it.
type level struct {
	p            float64
	spanA, spanB int
}

// commonLevels returns the levels on which two casts are compared, and by which rule. Where at least 90 % of the
// coarser cast's bins in the shared range are bins of the other (flags aside, within 0.05 dbar), these are the bins
// usable in both; else the union of the usable bins of both, from the deeper first to the shallower last one. A level
// inside a gap of either cast is none. The rule is ours. Levels are appended to dst.
func commonLevels(dst []level, a, b *Profile, spansA, spansB []span) (levels []level, union bool) {
	if len(a.PressureDbar) == 0 || len(b.PressureDbar) == 0 {
		return nil, false
	}
	if sameBins(a.Bins, b.Bins) {
		if m := min(len(a.PressureDbar), len(b.PressureDbar)); len(spansA) == 1 && len(spansB) == 1 &&
			slices.Equal(a.PressureDbar[:m], b.PressureDbar[:m]) {
			for _, p := range a.PressureDbar[:m] {
				dst = append(dst, level{p, 0, 0})
			}
			return dst, false
		}
		return sharedLevels(dst, a, b, spansA, spansB), false
	}
	return unionLevels(dst, a, b, spansA, spansB), true
}

// sameBins reports whether 90 % of the coarser list's bins in the shared range are bins of the other.
func sameBins(a, b []float64) bool {
	if n := min(len(a), len(b)); slices.Equal(a[:n], b[:n]) {
		return true
	}
	from := math.Max(a[0], b[0]) - sameBinDbar
	to := math.Min(a[len(a)-1], b[len(b)-1]) + sameBinDbar
	within := func(bins []float64) (n int) {
		for _, p := range bins {
			if p >= from && p <= to {
				n++
			}
		}
		return n
	}
	shared := 0
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch d := a[i] - b[j]; {
		case d > sameBinDbar:
			j++
		case d < -sameBinDbar:
			i++
		default:
			shared++
			i++
			j++
		}
	}
	coarser := min(within(a), within(b))
	return coarser > 0 && float64(shared) >= 0.9*float64(coarser)
}

// sharedLevels returns the bins usable in both casts. Where the two pressures differ it takes the shallower one, or the
// deeper one where a cast would have to reach beyond its span: the choice is the same from either side.
func sharedLevels(levels []level, a, b *Profile, spansA, spansB []span) []level {
	pa, pb := a.PressureDbar, b.PressureDbar
	ia, ib := 0, 0 // spans
	for i, j := 0, 0; i < len(pa) && j < len(pb); {
		d := pa[i] - pb[j]
		if d > sameBinDbar {
			j++
			continue
		}
		if d < -sameBinDbar {
			i++
			continue
		}
		for i >= spansA[ia].to {
			ia++
		}
		for j >= spansB[ib].to {
			ib++
		}
		p := math.Min(pa[i], pb[j])
		if p < pa[spansA[ia].from] || p < pb[spansB[ib].from] {
			p = math.Max(pa[i], pb[j])
		}
		if p <= pa[spansA[ia].to-1] && p <= pb[spansB[ib].to-1] {
			levels = append(levels, level{p, ia, ib})
		}
		i++
		j++
	}
	return levels
}

// unionLevels returns the usable bins of both casts, from the deeper first to the shallower last, without those in a
// gap of the other.
func unionLevels(levels []level, a, b *Profile, spansA, spansB []span) []level {
	pa, pb := a.PressureDbar, b.PressureDbar
	from := math.Max(pa[0], pb[0])
	to := math.Min(pa[len(pa)-1], pb[len(pb)-1])
	ia, ib := 0, 0
	for i, j := 0, 0; i < len(pa) || j < len(pb); {
		var p float64
		switch {
		case i >= len(pa):
			p = pb[j]
			j++
		case j >= len(pb) || pa[i] < pb[j]:
			p = pa[i]
			i++
		default:
			if pa[i] == pb[j] {
				i++
			}
			p = pb[j]
			j++
		}
		if p < from || p > to {
			continue
		}
		for ia < len(spansA) && p > pa[spansA[ia].to-1] {
			ia++
		}
		for ib < len(spansB) && p > pb[spansB[ib].to-1] {
			ib++
		}
		if ia == len(spansA) || ib == len(spansB) {
			break
		}
		if p < pa[spansA[ia].from] || p < pb[spansB[ib].from] {
			continue
		}
		levels = append(levels, level{p, ia, ib})
	}
	return levels
}

// A run is a stretch [from, to) of common levels that no gap of either cast divides, with the spans of the casts that
// hold it.
type run struct{ from, to, spanA, spanB int }

func runsOf(levels []level) []run {
	var out []run
	for i := range levels {
		if i == 0 || levels[i].spanA != levels[i-1].spanA || levels[i].spanB != levels[i-1].spanB {
			out = append(out, run{i, i, levels[i].spanA, levels[i].spanB})
		}
		out[len(out)-1].to = i + 1
	}
	return out
}

// pressuresOf returns the pressures of levels: a part of bins where they are a part of it, so that nothing is copied.
func pressuresOf(levels []level, bins []float64) []float64 {
	if len(levels) == 0 {
		return nil
	}
	if i, ok := slices.BinarySearch(bins, levels[0].p); ok && i+len(levels) <= len(bins) &&
		bins[i+len(levels)-1] == levels[len(levels)-1].p {
		part := bins[i : i+len(levels) : i+len(levels)]
		if slices.EqualFunc(part, levels, func(p float64, l level) bool { return p == l.p }) {
			return part
		}
	}
	out := make([]float64, len(levels))
	for i := range levels {
		out[i] = levels[i].p
	}
	return out
}
