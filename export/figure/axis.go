package figure

import (
	"cmp"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// niceStep gives the smallest step of 1, 2 or 5 times a power of ten that is at least x.
func niceStep(x float64) float64 {
	if !(x > 0) || math.IsInf(x, 0) {
		return 1
	}
	e := math.Floor(math.Log10(x))
	for _, m := range []float64{1, 2, 5, 10} {
		if s := times10(m, int(e)); s >= x*(1-1e-9) {
			return s
		}
	}
	return times10(1, int(e)+1)
}

// times10 gives m times 10^e, exact for e >= 0 and the nearest number below.
func times10(m float64, e int) float64 {
	if e >= 0 {
		return m * math.Pow10(e)
	}
	return m / math.Pow10(-e)
}

// ticks gives round values in lo..hi, at most most of them, but two where that can be: one alone says nothing of the scale.
func ticks(lo, hi float64, most int) []float64 {
	at := ticksAtMost(lo, hi, most)
	for more := most + 1; len(at) < 2 && hi > lo && more < most+4; more++ {
		at = ticksAtMost(lo, hi, more)
	}
	return at
}

// ticksAtMost gives round values in lo..hi, at most most of them; it may be one only, or none.
func ticksAtMost(lo, hi float64, most int) []float64 {
	if !(hi > lo) || math.IsInf(hi-lo, 0) {
		return []float64{lo}
	}
	step := niceStep((hi - lo) / float64(most))
	for {
		first, last := math.Ceil(lo/step-1e-9), math.Floor(hi/step+1e-9)
		if n := int(last-first) + 1; n <= most || most < 2 {
			var out []float64
			for k := range n { // first + 1 may be first
				out = append(out, round((first+float64(k))*step))
			}
			return out
		}
		step = niceStep(step * 1.01)
	}
}

// round drops the noise of binary arithmetic: twelve digits stay.
func round(x float64) float64 {
	if x == 0 {
		return 0
	}
	v, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 12, 64), 64)
	if err != nil {
		return x
	}
	return v
}

// decimalsOf gives the digits after the point that all values need.
func decimalsOf(values []float64) int {
	d := 0
	for _, v := range values {
		for d < 9 {
			s := math.Abs(v) * math.Pow10(d)
			if math.Abs(s-math.Round(s)) < 1e-6*math.Max(1, s) {
				break
			}
			d++
		}
	}
	return d
}

// number prints a value with a minus sign that is one.
func number(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.HasPrefix(s, "-") {
		if strings.Trim(s, "-0.") == "" {
			return s[1:]
		}
		return "−" + s[1:]
	}
	return s
}

// short prints a value with the digits it needs.
func short(v float64) string { return number(v, decimalsOf([]float64{v})) }

// significant prints a value with n digits that count; a very small one as 7.6 × 10⁻⁹.
func significant(v float64, n int) string {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return number(v, 0)
	}
	e := int(math.Floor(math.Log10(math.Abs(v))))
	if e < -6 {
		return number(times10(v, -e), n-1) + " × " + powerText(e)
	}
	return number(v, max(0, n-1-e))
}

// withError prints a value and its error as "3.540 ± 0.034": two digits of the error count, and the value ends where they do.
func withError(v, e float64) string {
	if math.IsNaN(e) || e <= 0 {
		return significant(v, 3)
	}
	d := max(0, 1-int(math.Floor(math.Log10(e)+1e-9)))
	return "(" + number(v, d) + " ± " + number(e, d) + ")"
}

// A weighed value counts as much as the area it takes up in the picture; e is its standard error, 0 when not known.
type weighed struct{ v, w, e float64 }

// finite returns the values without those that are no numbers: damaged casts, which nobody has flagged, give such.
func finite(vs []weighed) []weighed {
	return slices.DeleteFunc(vs, func(w weighed) bool { return math.IsNaN(w.v) || math.IsInf(w.v, 0) })
}

func byValue(a, b weighed) int { return cmp.Compare(a.v, b.v) }

// quantiles gives the values below which the parts q of the weight lie. Values must be sorted.
func quantiles(vs []weighed, qs ...float64) []float64 {
	total := 0.0
	for _, v := range vs {
		total += v.w
	}
	out := make([]float64, len(qs))
	for k, q := range qs {
		sum := 0.0
		out[k] = vs[len(vs)-1].v
		for _, v := range vs {
			sum += v.w
			if sum >= q*total {
				out[k] = v.v
				break
			}
		}
	}
	return out
}

// Most levels of a filled section: more are not told apart.
const mostLevels = 15

// chooseLevels gives round levels for a field: an even round step over the range, cut finer by round parts where much of the picture
// would otherwise be one colour (the deep ocean), but never finer than twice the median standard error of the values there. Levels are strictly inside the range; none when all values are equal.
func chooseLevels(vs []weighed, most int) []float64 { return roundLevels(vs, most, 10) }

// roundLevels is chooseLevels with the largest ratio of steps; 1 gives even levels.
func roundLevels(vs []weighed, most int, ratio float64) []float64 {
	vs = finite(vs)
	if len(vs) == 0 {
		return nil
	}
	slices.SortFunc(vs, byValue)
	q := quantiles(vs, 0.002, 0.998)
	lo, hi := q[0], q[1]
	if hi-lo <= 1e-9*math.Max(1, math.Abs(hi)) {
		lo, hi = vs[0].v, vs[len(vs)-1].v
	}
	if hi-lo <= 1e-9*math.Max(1, math.Abs(hi)) {
		return nil
	}
	step := niceStep((hi - lo) / 10)
	type gap struct{ from, to, step float64 }
	var gaps []gap
	for k := math.Floor(lo / step); k*step < hi; k++ {
		gaps = append(gaps, gap{round(k * step), round((k + 1) * step), step})
	}
	total := 0.0
	for _, v := range vs {
		total += v.w
	}
	part := func(g gap) float64 {
		a := sort.Search(len(vs), func(i int) bool { return vs[i].v >= g.from })
		sum := 0.0
		for ; a < len(vs) && vs[a].v < g.to; a++ {
			sum += vs[a].w
		}
		return sum / total
	}
	if ratio <= 1 {
		gaps, step = gaps[:0], niceStep((hi-lo)/11)
		for k := math.Floor(lo / step); k*step < hi; k++ {
			gaps = append(gaps, gap{round(k * step), round((k + 1) * step), step})
		}
	}
	done := map[float64]bool{}
	for range 3 * most {
		worst, at := 0.0, -1
		for k, g := range gaps {
			if p := part(g); p > worst && !done[g.from] {
				worst, at = p, k
			}
		}
		if worst < 0.11 || ratio <= 1 || at < 0 {
			break
		}
		g := gaps[at]
		n := splits(g.step)
		if len(gaps)-1+n > most || g.step/float64(n)*ratio < step*0.99 || g.step/float64(n) < 2*medianError(vs, g.from, g.to) {
			done[g.from] = true
			continue
		}
		var finer []gap
		for k := range n {
			s := g.step / float64(n)
			finer = append(finer, gap{round(g.from + float64(k)*s), round(g.from + float64(k+1)*s), round(s)})
		}
		gaps = append(gaps[:at:at], append(finer, gaps[at+1:]...)...)
	}
	var out []float64
	for _, g := range gaps {
		if g.from > lo && g.from < hi && g.from > vs[0].v {
			out = append(out, g.from)
		}
	}
	if len(out) == 0 {
		out = append(out, round(gaps[len(gaps)/2].from))
	}
	return out
}

// medianError is the median of the known standard errors of values from..to; 0 when none is known. Values must be sorted.
func medianError(vs []weighed, from, to float64) float64 {
	var es []float64
	for k := sort.Search(len(vs), func(i int) bool { return vs[i].v >= from }); k < len(vs) && vs[k].v < to; k++ {
		if vs[k].e > 0 {
			es = append(es, vs[k].e)
		}
	}
	if len(es) == 0 {
		return 0
	}
	sort.Float64s(es)
	return es[len(es)/2]
}

// splits says into how many round parts a step is cut: 1 and 2 into two, 5 and 2.5 into five.
func splits(step float64) int {
	m := step / math.Pow10(int(math.Floor(math.Log10(step)+1e-9)))
	if math.Abs(m-2.5) < 1e-6 || math.Abs(m-5) < 1e-6 {
		return 5
	}
	return 2
}

// zeroLevels gives levels alike on both sides of zero, zero among them, finer near it when most of the picture lies there.
func zeroLevels(vs []weighed) []float64 {
	vs = finite(vs)
	if len(vs) == 0 {
		return nil
	}
	abs := make([]weighed, len(vs))
	for k, v := range vs {
		abs[k] = weighed{math.Abs(v.v), v.w, 0}
	}
	slices.SortFunc(abs, byValue)
	q := quantiles(abs, 0.3, 0.6, 0.99)
	most := q[2]
	if most == 0 {
		most = abs[len(abs)-1].v
	}
	if most == 0 {
		return []float64{0}
	}
	step := zeroStep(most)
	var up []float64
	for k := 1.0; k*step <= most; k++ {
		up = append(up, round(k*step))
	}
	if len(up) == 0 {
		up = []float64{round(step)}
	}
	for range 2 { // most of it within the first level: cut there
		if q[1] > up[0]*0.8 || len(up) > 6 {
			break
		}
		m := up[0] / math.Pow10(int(math.Floor(math.Log10(up[0])+1e-9)))
		if math.Abs(m-5) < 1e-6 || math.Abs(m-2.5) < 1e-6 { // 2 of 5, 1 of 2.5
			up = append([]float64{round(up[0] / 5 * 2)}, up...)
		} else {
			up = append([]float64{round(up[0] / 2)}, up...)
		}
	}
	var out []float64
	for k := len(up) - 1; k >= 0; k-- {
		out = append(out, -up[k])
	}
	out = append(out, 0)
	return append(out, up...)
}

// zeroStep gives the smallest step of 1, 2, 2.5 or 5 times a power of ten of which no more than six reach most: three to six levels on each
// side. With 1, 2 and 5 alone it would be two where most is a little more than twice a round number.
func zeroStep(most float64) float64 {
	e := int(math.Floor(math.Log10(most))) - 1
	for _, m := range []float64{1, 2, 2.5, 5, 10, 20, 25} {
		if s := times10(m, e); most < 7*s*(1-1e-9) {
			return s
		}
	}
	return times10(50, e)
}

// sequenceLevels gives 1, 2, 5, 10 ... over the range: for errors, which differ by factors.
func sequenceLevels(vs []weighed) []float64 {
	vs = finite(vs)
	if len(vs) == 0 {
		return nil
	}
	slices.SortFunc(vs, byValue)
	q := quantiles(vs, 0.002, 0.998)
	lo, hi := max(q[0], q[1]*1e-3), q[1]
	if !(hi > lo) {
		return nil
	}
	for _, steps := range [][]float64{{1, 1.5, 2, 3, 5, 7}, {1, 2, 5}} {
		var out []float64
		for e := int(math.Floor(math.Log10(lo))); e <= int(math.Floor(math.Log10(hi))); e++ {
			for _, m := range steps {
				if v := round(times10(m, e)); v > lo && v < hi {
					out = append(out, v)
				}
			}
		}
		if len(out) <= mostLevels-3 || len(steps) == 3 {
			return out
		}
	}
	return nil
}

// intervalText says how far apart levels are: "0.5", or "0.25 to 2 (uneven; as on the colour bar)".
func intervalText(levels []float64) string {
	if len(levels) < 2 {
		return "none"
	}
	lo, hi := math.Inf(1), 0.0
	for k := 1; k < len(levels); k++ {
		d := round(levels[k] - levels[k-1])
		lo, hi = min(lo, d), max(hi, d)
	}
	power := tenPower([]float64{lo, hi})
	print := scaled(power)
	unit := ""
	if power != 0 {
		unit = " × " + powerText(power)
	}
	if hi-lo < 1e-9*hi {
		return print(lo) + unit
	}
	return print(lo) + " to " + print(hi) + unit + ", uneven, as on the colour bar"
}
