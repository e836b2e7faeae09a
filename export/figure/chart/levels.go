package chart

import (
	"cmp"
	"math"
	"slices"
)

// A Weighed value counts as much as the area it takes up in the picture. Floor is the smallest step between levels
// that its error allows, 0 when not known.
type Weighed struct{ Value, Weight, Floor float64 }

// finite returns the values without those that are no numbers, as damaged casts that nobody has flagged have.
func finite(vs []Weighed) []Weighed {
	return slices.DeleteFunc(vs, func(w Weighed) bool { return math.IsNaN(w.Value) || math.IsInf(w.Value, 0) })
}

func byValue(a, b Weighed) int { return cmp.Compare(a.Value, b.Value) }

// quantiles returns the values below which the parts q of the weight lie. Values must be sorted.
func quantiles(vs []Weighed, qs ...float64) []float64 {
	total := 0.0
	for _, v := range vs {
		total += v.Weight
	}
	out := make([]float64, len(qs))
	for k, q := range qs {
		sum := 0.0
		out[k] = vs[len(vs)-1].Value
		for _, v := range vs {
			sum += v.Weight
			if sum >= q*total {
				out[k] = v.Value
				break
			}
		}
	}
	return out
}

// splits says into how many round parts a step is cut: 1 and 2 into two, 5 and 2.5 into five.
func splits(step float64) int {
	m := step / math.Pow10(int(math.Floor(math.Log10(step)+1e-9)))
	if math.Abs(m-2.5) < 1e-6 || math.Abs(m-5) < 1e-6 {
		return 5
	}
	return 2
}

// mostSigned is the most levels on both sides of zero together.
const mostSigned = 15

// ZeroLevels returns levels alike on both sides of zero, zero among them, finer near it when most of the
// picture lies there.
func ZeroLevels(vs []Weighed) []float64 {
	if vs = finite(vs); len(vs) == 0 {
		return nil
	}
	abs := make([]Weighed, len(vs))
	for k, v := range vs {
		abs[k] = Weighed{math.Abs(v.Value), v.Weight, 0}
	}
	slices.SortFunc(abs, byValue)
	q := quantiles(abs, 0.3, 0.6, 0.99)
	most := q[2]
	if most == 0 {
		most = abs[len(abs)-1].Value
	}
	if most == 0 {
		return []float64{0}
	}
	step := zeroStep(most)
	var up []float64
	for k := 1.0; k*step <= most; k++ {
		up = append(up, Round(k*step))
	}
	if len(up) == 0 {
		up = []float64{Round(step)}
	}
	for range 2 { // most of it within the first level: cut there
		if q[1] > up[0]*0.8 || len(up) > 6 {
			break
		}
		m := up[0] / math.Pow10(int(math.Floor(math.Log10(up[0])+1e-9)))
		if math.Abs(m-5) < 1e-6 || math.Abs(m-2.5) < 1e-6 { // 2 of 5, 1 of 2.5
			up = append([]float64{Round(up[0] / 5 * 2)}, up...)
		} else {
			up = append([]float64{Round(up[0] / 2)}, up...)
		}
	}
	// Few values may lie far beyond the others, as a jet does: wider steps until the last band does not hide them.
	greatest := abs[len(abs)-1].Value
	for top := up[len(up)-1]; greatest > 1.5*top && len(up) < mostSigned/2; top = up[len(up)-1] {
		up = append(up, Round(top+max(2*step, NiceStep((greatest-top)/3))))
	}
	for len(up) > 1 && up[len(up)-1] >= greatest {
		up = up[:len(up)-1]
	}
	out := []float64{0}
	for _, v := range up {
		out = append(append([]float64{-v}, out...), v)
	}
	return out
}

// zeroStep returns the smallest step of 1, 2, 2.5 or 5 times a power of ten of which no more than six reach
// most: three to six levels on each side. With 1, 2 and 5 alone it would be two where most is a little more
// than twice a round number.
func zeroStep(most float64) float64 {
	e := int(math.Floor(math.Log10(most))) - 1
	for _, m := range []float64{1, 2, 2.5, 5, 10, 20, 25} {
		if s := times10(m, e); most < 7*s*(1-1e-9) {
			return s
		}
	}
	return times10(50, e)
}

// SequenceLevels returns 1, 2, 5, 10 ... over the range: for errors, which differ by factors.
func SequenceLevels(vs []Weighed) []float64 {
	if vs = finite(vs); len(vs) == 0 {
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
				if v := Round(times10(m, e)); v > lo && v < hi {
					out = append(out, v)
				}
			}
		}
		if len(out) <= mostSigned-3 || len(steps) == 3 {
			return out
		}
	}
	return nil
}

// IntervalText says how far apart levels are: "0.5", or "0.25 to 2 (uneven; as on the colour bar)".
func IntervalText(levels []float64) string {
	if len(levels) < 2 {
		return "none"
	}
	e := NoExtent()
	for k := 1; k < len(levels); k++ {
		e.Add(Round(levels[k] - levels[k-1]))
	}
	power := TenPower([]float64{e.Lo, e.Hi})
	print := Scaled(power)
	unit := ""
	if power != 0 {
		unit = " × " + PowerText(power)
	}
	if e.Span() < 1e-9*e.Hi {
		return print(e.Lo) + unit
	}
	return print(e.Lo) + " to " + print(e.Hi) + unit + ", ticks at the left of the colour bar where it changes"
}

// colourOfZero reports whether levels run over zero with zero among them, alike on both sides.
func colourOfZero(levels []float64) bool {
	n := len(levels)
	return n > 2 && levels[n/2] == 0 && levels[0] == -levels[n-1]
}
