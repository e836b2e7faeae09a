package interpolate

import "math"

// Panics of this package: mistakes of the caller, not of the data.
const (
	differentLengths = "interpolate: slices of different length"
	notIncreasing    = "interpolate: x does not increase strictly"
	onlyPairs        = "interpolate: rotated interpolation is for pairs of salinity and temperature"
	noSuchMethod     = "interpolate: no such method"
)

// horner is one step of Horner's rule, r x + c; the conversion keeps a compiler from fusing the two operations, which
// would give other bits on other processors.
func horner(r, x, c float64) float64 { return float64(r*x) + float64(c) }

// A Workspace keeps the scratch memory of interpolation. The zero value is ready; it grows with the longest profile and
// allocates nothing after that. It must not be used by two goroutines at once.
type Workspace struct {
	slope, number, turned1, turned2, slope2 []float64
	place                                   []float64
	interval                                []int
}

// Values fills dst with the values at each of at, from nodes x (strictly increasing) and y, and returns it. dst is as
// long as at and must not overlap x or y. Sorted points of at cost one walk along the nodes; any order is right.
// Outside the nodes and for a NaN point the result is NaN; on a node it is the node's value. Fewer nodes than a method
// needs: linear; a single node: only that point.
func (w *Workspace) Values(dst []float64, m Method, x, y, at []float64) []float64 {
	if len(x) != len(y) || len(dst) != len(at) {
		panic(differentLengths)
	}
	checkNodes(x)
	switch m {
	case Linear:
		return linear(dst, x, y, at)
	case Pchip:
		return cubics(dst, x, y, PchipSlopes(grow(&w.slope, len(x)), x, y), at)
	case Akima:
		return cubics(dst, x, y, AkimaSlopes(grow(&w.slope, len(x)), x, y), at)
	case ReinigerRoss:
		return reinigerRoss(dst, x, y, at)
	case Rotated:
		panic(onlyPairs)
	}
	panic(noSuchMethod)
}

// Pair is Values for Absolute Salinity in g/kg and Conservative Temperature in degC on the same nodes. With Rotated the
// two are interpolated together; with any other method each by itself.
func (w *Workspace) Pair(dstSA, dstCT []float64, m Method, x, sa, ct, at []float64) (outSA, outCT []float64) {
	if m == Rotated {
		return w.rotated(dstSA, dstCT, x, sa, ct, at)
	}
	return w.Values(dstSA, m, x, sa, at), w.Values(dstCT, m, x, ct, at)
}

func checkNodes(x []float64) {
	for i, v := range x {
		if v != v || i > 0 && !(v > x[i-1]) {
			panic(notIncreasing)
		}
	}
}

func grow[T any](s *[]T, n int) []T {
	if cap(*s) < n {
		*s = make([]T, n)
	}
	return (*s)[:n]
}

// walk returns the interval k with x[k] <= v < x[k+1], searching from k; ok is false where v lies outside or is NaN.
// The last node belongs to the interval len(x)-1, which has no end.
func walk(x []float64, v float64, k int) (int, bool) {
	n := len(x)
	if n == 0 || !(v >= x[0] && v <= x[n-1]) {
		return k, false
	}
	for k+1 < n && v >= x[k+1] {
		k++
	}
	for v < x[k] {
		k--
	}
	return k, true
}

func linear(dst, x, y, at []float64) []float64 {
	k, ok := 0, false
	for i, v := range at {
		if k, ok = walk(x, v, k); !ok {
			dst[i] = math.NaN()
			continue
		}
		dst[i] = linearAt(x, y, k, v)
	}
	return dst
}

func linearAt(x, y []float64, k int, v float64) float64 {
	if v == x[k] {
		return y[k]
	}
	return y[k] + float64((v-x[k])/(x[k+1]-x[k])*(y[k+1]-y[k]))
}

// cubics evaluates the piecewise cubic with the given slopes at the nodes.
func cubics(dst, x, y, slope, at []float64) []float64 {
	k, ok := 0, false
	for i, v := range at {
		if k, ok = walk(x, v, k); !ok {
			dst[i] = math.NaN()
			continue
		}
		if v == x[k] {
			dst[i] = y[k]
			continue
		}
		h := x[k+1] - x[k]
		dst[i] = cubic(y[k], (y[k+1]-y[k])/h, slope[k], slope[k+1], h, v-x[k])
	}
	return dst
}

// cubic is the cubic of Hermite at t beyond a node with value y0: m is the slope of the chord, d0 and d1 those at the
// ends of the step h.
func cubic(y0, m, d0, d1, h, t float64) float64 {
	c := (float64(3*m) - 2*d0 - d1) / h
	e := (d0 + d1 - 2*m) / (h * h)
	return horner(horner(horner(e, t, c), t, d0), t, y0)
}

// PchipSlopes fills dst with the slopes at the nodes of the monotone interpolant: weighted harmonic means inside
// (Fritsch and Butland 1984), three-point slopes at the ends, limited so that the end intervals stay monotone. x
// increases strictly.
func PchipSlopes(dst, x, y []float64) []float64 {
	n := len(x)
	if len(y) != n || len(dst) != n {
		panic(differentLengths)
	}
	switch n {
	case 0:
		return dst
	case 1:
		dst[0] = 0
		return dst
	case 2:
		dst[0] = (y[1] - y[0]) / (x[1] - x[0])
		dst[1] = dst[0]
		return dst
	}
	hBefore := x[1] - x[0]
	mBefore := (y[1] - y[0]) / hBefore
	for k := 1; k < n-1; k++ {
		h := x[k+1] - x[k]
		m := (y[k+1] - y[k]) / h
		dst[k] = harmonic(mBefore, m, hBefore, h)
		if k == 1 {
			dst[0] = endSlope(hBefore, h, mBefore, m)
		}
		if k == n-2 {
			dst[n-1] = endSlope(h, hBefore, m, mBefore)
		}
		hBefore, mBefore = h, m
	}
	return dst
}

// harmonic is the slope between steps of h0 and h1 whose chords have slopes m0 and m1; 0 at an extremum.
func harmonic(m0, m1, h0, h1 float64) float64 {
	if m0 == 0 || m1 == 0 || (m0 > 0) != (m1 > 0) {
		if m0 != m0 || m1 != m1 {
			return math.NaN()
		}
		return 0
	}
	w0, w1 := 2*h1+h0, h1+2*h0
	return (w0 + w1) / (w0/m0 + w1/m1)
}

// endSlope is the slope at the outer end of a step h0 with chord m0, whose neighbour is h1 with m1.
func endSlope(h0, h1, m0, m1 float64) float64 {
	d := (float64((2*h0+h1)*m0) - float64(h0*m1)) / (h0 + h1)
	switch {
	case sign(d) != sign(m0):
		return 0
	case sign(m0) != sign(m1) && math.Abs(d) > 3*math.Abs(m0):
		return 3 * m0
	}
	return d
}

func sign(v float64) int {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}

// AkimaSlopes fills dst with the slopes of Akima 1970 at the nodes. Two ghost intervals continue the profile at each
// end. Where the chords change by less than 1e-9 of the largest change the slope is the mean of the chords on both
// sides (in exact arithmetic the case of Akima where all weights vanish). x increases strictly.
func AkimaSlopes(dst, x, y []float64) []float64 {
	n := len(x)
	if len(y) != n || len(dst) != n {
		panic(differentLengths)
	}
	if n < 3 {
		return PchipSlopes(dst, x, y)
	}
	// chord k runs from node k to node k+1; -2, -1, n-1 and n are the ghosts.
	inner := func(k int) float64 { return (y[k+1] - y[k]) / (x[k+1] - x[k]) }
	first, second, last, beforeLast := inner(0), inner(1), inner(n-2), inner(n-3)
	ghost := [4]float64{}
	ghost[1] = 2*first - second
	ghost[0] = 2*ghost[1] - first
	ghost[2] = 2*last - beforeLast
	ghost[3] = 2*ghost[2] - last
	chord := func(k int) float64 {
		switch {
		case k < 0:
			return ghost[k+2]
		case k > n-2:
			return ghost[k-n+3]
		}
		return inner(k)
	}
	largest := 0.0
	m0, m1, m2 := chord(-2), chord(-1), chord(0)
	for k := range n {
		m3 := chord(k + 1)
		if sum := math.Abs(m3-m2) + math.Abs(m1-m0); sum > largest {
			largest = sum
		}
		m0, m1, m2 = m1, m2, m3
	}
	m0, m1, m2 = chord(-2), chord(-1), chord(0)
	for k := range n {
		m3 := chord(k + 1)
		after, before := math.Abs(m3-m2), math.Abs(m1-m0)
		if sum := after + before; sum > 1e-9*largest {
			dst[k] = (float64(after*m1) + float64(before*m2)) / sum
		} else {
			dst[k] = 0.5 * (m0 + m3)
		}
		m0, m1, m2 = m1, m2, m3
	}
	return dst
}
