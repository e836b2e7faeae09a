package chart

import (
	"math"
	"slices"
	"sort"
)

// Levels are the level lines of a field, and how well they part it.
type Levels struct {
	At      []float64
	Fullest float64 // part of the values, or of the area of the picture, in the fullest band
	Bound   Bound   // why it is not divided, where it holds more than a third
}

// A Bound is why a band is not divided.
type Bound uint8

// The bounds of levels.
const (
	ByError  Bound = iota // a smaller step would be below the floor
	ByNumber              // there would be too many levels
	ByStep                // its values are alike: nine tenths to a thousandth of the step of about ten even levels
)

// MostLevels of a filled section: with more, bands beside each other would differ by less than 4 in CAM02-UCS for
// readers with a deficiency of colour vision.
const MostLevels = 16

// fullBand is the part of the values, or of the area, that a band may hold before it is divided.
const fullBand = 1.0 / 3

// A band lies between two levels that are one step of the ladder apart.
type band struct {
	from, to float64
	rung     int
	done     bool // cannot be divided
	bound    Bound
}

// A ladder is a division of a range into bands. Each rung is a step, the next rung's twice or five times.
type ladder struct {
	vs     []Weighed // by value
	weight []float64 // of the values before each
	floors []float64 // of the bands of pressure, increasing
	floor  []uint8   // of each value, by index
	even   int       // rung of about ten even levels
	steps  []float64
	bands  []band
	lo, hi float64
	most   int
}

// slight is the part of the values that an interval may hold without being held to their floor: water that is passed
// on the way to other water, in a few values.
const slight = 0.05

// ChooseLevels returns round levels for a field, at most most of them. Each step is parted into two or five where a
// band holds more than a third of the values or of the picture, as deep water does, and until there are about ten even
// levels. Steps beside each other differ by one division. No step is smaller than the median of the floors of its
// values, nor of those of the step that it is part of. Levels lie inside the range; there are none when all values are
// equal.
func ChooseLevels(vs []Weighed, most int) Levels {
	l := newLadder(vs, most)
	if l == nil {
		return Levels{}
	}
	for k := l.fullest(len(l.steps)); k >= 0 && l.share(k) > fullBand; k = l.fullest(len(l.steps)) {
		l.divide(k, false)
	}
	for k := range l.bands {
		l.bands[k].done = false
	}
	for rung := range l.even {
		for k := l.fullest(rung + 1); k >= 0; k = l.fullest(rung + 1) {
			l.divide(k, false)
		}
	}
	var out Levels
	for k, b := range l.bands {
		if k > 0 {
			out.At = append(out.At, b.from)
		}
		if s := l.share(k); s > out.Fullest {
			out.Fullest, out.Bound = s, b.bound
		}
	}
	return out
}

// fullest returns the fullest band above a rung that may be divided; -1 when there is none.
func (l *ladder) fullest(rung int) int {
	at, most := -1, -1.0
	for k, b := range l.bands {
		if s := l.share(k); b.rung < rung && !b.done && s > most {
			at, most = k, s
		}
	}
	return at
}

// newLadder returns bands as wide as the range; nil when there is none.
func newLadder(vs []Weighed, most int) *ladder {
	if vs = finite(vs); len(vs) == 0 {
		return nil
	}
	slices.SortFunc(vs, byValue)
	q := quantiles(vs, 0.002, 0.998)
	l := &ladder{vs: vs, lo: q[0], hi: q[1], most: most, weight: make([]float64, len(vs)+1)}
	if l.hi-l.lo <= 1e-9*math.Max(1, math.Abs(l.hi)) {
		l.lo, l.hi = vs[0].Value, vs[len(vs)-1].Value
		if l.hi-l.lo <= 1e-9*math.Max(1, math.Abs(l.hi)) {
			return nil
		}
	}
	for k, v := range vs {
		l.weight[k+1] = l.weight[k] + v.Weight
	}
	l.countFloors()
	l.steps = []float64{roundBelow((l.hi - l.lo) / 6)}
	for l.steps[0] < l.hi-l.lo {
		l.steps = slices.Insert(l.steps, 0, coarser(l.steps[0]))
	}
	l.even = len(l.steps) - 1
	for range 6 {
		last := l.steps[len(l.steps)-1]
		l.steps = append(l.steps, Round(last/float64(splits(last))))
	}
	step := l.steps[0]
	for k := math.Floor(l.lo/step + 1e-9); k*step < l.hi; k++ {
		l.bands = append(l.bands, band{from: Round(k * step), to: Round((k + 1) * step)})
	}
	return l
}

// countFloors lists the different floors: they belong to bands of pressure, of which there are few.
func (l *ladder) countFloors() {
	l.floor = make([]uint8, len(l.vs))
	for _, v := range l.vs {
		if k, there := slices.BinarySearch(l.floors, v.Floor); !there && len(l.floors) < math.MaxUint8 {
			l.floors = slices.Insert(l.floors, k, v.Floor)
		}
	}
	for i, v := range l.vs {
		k, _ := slices.BinarySearch(l.floors, v.Floor)
		l.floor[i] = uint8(min(k, len(l.floors)-1))
	}
}

// roundBelow returns the largest step of 1, 2 or 5 times a power of ten that is at most x.
func roundBelow(x float64) float64 {
	e := int(math.Floor(math.Log10(x) + 1e-9))
	for _, m := range []float64{5, 2} {
		if s := times10(m, e); s <= x*(1+1e-9) {
			return s
		}
	}
	return times10(1, e)
}

// coarser returns the step that parts into a given one: 1 is half of 2, 2 a fifth of 10, 5 half of 10.
func coarser(step float64) float64 {
	switch m := math.Round(step / math.Pow10(int(math.Floor(math.Log10(step)+1e-9)))); m {
	case 2:
		return Round(step * 5)
	default:
		return Round(step * 2)
	}
}

// find returns the band that holds a value.
func (l *ladder) find(v float64) int {
	return max(0, sort.Search(len(l.bands), func(k int) bool { return l.bands[k].from > v })-1)
}

// within returns the values from one to another, by index.
func (l *ladder) within(from, to float64) (a, b int) {
	a = sort.Search(len(l.vs), func(i int) bool { return l.vs[i].Value >= from })
	return a, a + sort.Search(len(l.vs)-a, func(i int) bool { return l.vs[a+i].Value >= to })
}

// share returns the part of the values in a band, or of the area of the picture, whichever is larger. The first and the
// last band are open.
func (l *ladder) share(k int) float64 {
	from, to := l.bands[k].from, l.bands[k].to
	if k == 0 {
		from = math.Inf(-1)
	}
	if k == len(l.bands)-1 {
		to = math.Inf(1)
	}
	a, b := l.within(from, to)
	n := len(l.vs)
	return max(float64(b-a)/float64(n), (l.weight[b]-l.weight[a])/l.weight[n])
}

// allows reports whether the values between two allow a step: the median of their floors is not above it. There must be
// values enough to ask.
func (l *ladder) allows(step, from, to, enough float64) bool {
	a, b := l.within(from, to)
	if float64(b-a) <= enough*float64(len(l.vs)) {
		return true
	}
	count := make([]int, len(l.floors))
	for _, k := range l.floor[a:b] {
		count[k]++
	}
	before := 0
	for k, f := range l.floors {
		if before += count[k]; 2*before >= b-a {
			return step >= f*(1-1e-9)
		}
	}
	return true
}

// alike reports whether nine tenths of the values between two are all but equal.
func (l *ladder) alike(from, to float64) bool {
	a, b := l.within(from, to)
	few := (b - a) / 20
	return b-a > 20 && l.vs[b-1-few].Value-l.vs[a+few].Value < l.steps[l.even]/1000
}

// divide parts a band, and before it the bands beside it whose steps are coarser; it reports whether it could. A band
// that is divided for the sake of the one beside it may hold few values whose floor is above the step.
func (l *ladder) divide(k int, forced bool) bool {
	b := l.bands[k]
	fail := func(why Bound) bool {
		at := &l.bands[l.find(b.from)]
		at.done, at.bound = true, why
		return false
	}
	if b.rung+1 >= len(l.steps) || l.alike(b.from, b.to) {
		return fail(ByStep)
	}
	step, enough := l.steps[b.rung+1], 0.0
	if forced {
		enough = slight
	}
	if !l.allows(step, b.from, b.to, enough) {
		return fail(ByError)
	}
	var parts []band
	for from := b.from; from < b.to-step/2; from = Round(from + step) {
		part := band{from: from, to: Round(from + step), rung: b.rung + 1}
		if part.to <= l.lo || part.from >= l.hi {
			continue // no level there
		}
		if !l.allows(step, part.from, part.to, slight) {
			return fail(ByError)
		}
		parts = append(parts, part)
	}
	for _, beside := range []float64{b.from - step/2, b.to + step/2} {
		n := l.find(beside)
		if n != l.find(b.from) && l.bands[n].rung < b.rung && !l.divide(n, true) {
			return fail(l.bands[l.find(beside)].bound)
		}
	}
	k = l.find(b.from)
	if len(l.bands)+len(parts)-2 > l.most {
		return fail(ByNumber)
	}
	l.bands = slices.Replace(l.bands, k, k+1, parts...)
	return true
}

// EvenLevels returns round levels a step apart, about a dozen.
func EvenLevels(vs []Weighed) []float64 {
	if vs = finite(vs); len(vs) == 0 {
		return nil
	}
	slices.SortFunc(vs, byValue)
	q := quantiles(vs, 0.002, 0.998)
	step := NiceStep((q[1] - q[0]) / 11)
	var out []float64
	for k := math.Floor(q[0]/step) + 1; k*step < q[1]; k++ {
		out = append(out, Round(k*step))
	}
	return out
}
