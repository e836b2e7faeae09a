// Package delaunay triangulates points of the plane and finds the neighbours of a place among them: the corners of the
// triangle that holds it, or its natural neighbours (Sibson 1981). The same points give the same triangles and weights,
// bit for bit.
package delaunay

import (
	"math"
	"math/bits"
)

// Triangulation is done by adding points one by one (Bowyer 1981 and Watson 1981, Computer J. 24, 162 and 167). Points
// are rounded to whole numbers of 2^-28 of the extent, a power of two, so that the tests of side and circle are exact:
// rows and columns of data, where four points lie on every circle, are the usual case here. Outside the hull stand
// triangles with the vertex beyond.

const (
	extentBits = 28
	beyond     = int32(-1)
)

type triangle struct {
	v  [3]int32 // counter-clockwise
	nb [3]int32 // neighbour opposite each vertex
}

// A Triangulation is the Delaunay triangulation of a set of points. It is not changed by searches.
type Triangulation struct {
	x, y       []int64
	unit       float64 // size of a whole number
	x0, y0     float64
	of         []int32 // vertex of each point
	count      []float64
	tri        []triangle
	free       []int32
	start      []int32 // vertex+1 to new triangle
	mark       []int32
	stack      []int32
	rim        []rimEdge
	last       int32
	flat       bool // all points on one line: no triangle
	generation int32
}

// A rimEdge is one side of a cavity, interior on its left.
type rimEdge struct{ a, b, inside, outside int32 }

// New triangulates points. Points at one place share a vertex. Coordinates must not be NaN.
func New(px, py []float64) *Triangulation {
	t := &Triangulation{of: make([]int32, len(px)), flat: true}
	if len(px) == 0 {
		return t
	}
	lx, hx, ly, hy := px[0], px[0], py[0], py[0]
	for k := range px {
		lx, hx, ly, hy = math.Min(lx, px[k]), math.Max(hx, px[k]), math.Min(ly, py[k]), math.Max(hy, py[k])
	}
	_, e := math.Frexp(math.Max(hx-lx, hy-ly))
	t.unit = math.Ldexp(1, e-extentBits)
	t.x0, t.y0 = lx, ly
	seen := make(map[[2]int64]int32, len(px))
	for k := range px {
		at := [2]int64{int64(math.Round((px[k] - lx) / t.unit)), int64(math.Round((py[k] - ly) / t.unit))}
		v, ok := seen[at]
		if !ok {
			v = int32(len(t.x))
			seen[at] = v
			t.x, t.y, t.count = append(t.x, at[0]), append(t.y, at[1]), append(t.count, 0)
		}
		t.of[k] = v
		t.count[v]++
	}
	t.build()
	return t
}

func (t *Triangulation) build() {
	n := int32(len(t.x))
	third := int32(2)
	for ; third < n && t.side(0, 1, third) == 0; third++ {
	}
	if third >= n {
		return
	}
	t.flat = false
	a, b, c := int32(0), int32(1), third
	if t.side(a, b, c) < 0 {
		a, b = b, a
	}
	t.tri = []triangle{
		{v: [3]int32{a, b, c}, nb: [3]int32{1, 2, 3}},
		{v: [3]int32{c, b, beyond}, nb: [3]int32{3, 2, 0}},
		{v: [3]int32{a, c, beyond}, nb: [3]int32{1, 3, 0}},
		{v: [3]int32{b, a, beyond}, nb: [3]int32{2, 1, 0}},
	}
	t.mark = make([]int32, 4, 3*n)
	t.start = make([]int32, n+1)
	for p := int32(2); p < n; p++ {
		if p != third {
			t.insert(p)
		}
	}
	t.mark, t.start, t.stack, t.rim, t.free = nil, nil, nil, nil, nil
	// The walk of a query starts at a real triangle.
	for k := range t.tri {
		if !t.ghost(int32(k)) {
			t.last = int32(k)
			break
		}
	}
}

// side is the sign of the area of a, b, p: positive when p is left of a to b.
func (t *Triangulation) side(a, b, p int32) int64 {
	return (t.x[b]-t.x[a])*(t.y[p]-t.y[a]) - (t.y[b]-t.y[a])*(t.x[p]-t.x[a])
}

// inCircle is positive when p lies inside the circle through the corners of a counter-clockwise triangle; exact.
func (t *Triangulation) inCircle(a, b, c, p int32) int {
	ax, ay := t.x[a]-t.x[p], t.y[a]-t.y[p]
	bx, by := t.x[b]-t.x[p], t.y[b]-t.y[p]
	cx, cy := t.x[c]-t.x[p], t.y[c]-t.y[p]
	la, lb, lc := ax*ax+ay*ay, bx*bx+by*by, cx*cx+cy*cy
	ma, mb, mc := bx*cy-by*cx, cx*ay-cy*ax, ax*by-ay*bx
	fa, fb, fc := float64(la)*float64(ma), float64(lb)*float64(mb), float64(lc)*float64(mc)
	if det, size := fa+fb+fc, math.Abs(fa)+math.Abs(fb)+math.Abs(fc); math.Abs(det) > 1e-14*size {
		if det > 0 {
			return 1
		}
		return -1
	}
	h1, l1 := product(la, ma)
	h2, l2 := product(lb, mb)
	h3, l3 := product(lc, mc)
	lo, carry := bits.Add64(l1, l2, 0)
	hi, _ := bits.Add64(h1, h2, carry)
	lo, carry = bits.Add64(lo, l3, 0)
	hi, _ = bits.Add64(hi, h3, carry)
	switch {
	case int64(hi) < 0:
		return -1
	case hi == 0 && lo == 0:
		return 0
	}
	return 1
}

// product is the 128-bit product of a non-negative and a signed number, in two's complement.
func product(a, b int64) (hi, lo uint64) {
	if b >= 0 {
		return bits.Mul64(uint64(a), uint64(b))
	}
	hi, lo = bits.Mul64(uint64(a), uint64(-b))
	lo, borrow := bits.Sub64(0, lo, 0)
	hi, _ = bits.Sub64(0, hi, borrow)
	return hi, lo
}

func (t *Triangulation) ghost(k int32) bool {
	v := &t.tri[k].v
	return v[0] == beyond || v[1] == beyond || v[2] == beyond
}

// conflicts reports whether triangle k must go when p is added.
func (t *Triangulation) conflicts(k, p int32) bool {
	v := &t.tri[k].v
	for i := range 3 {
		if v[i] != beyond {
			continue
		}
		a, b := v[(i+1)%3], v[(i+2)%3]
		if s := t.side(a, b, p); s != 0 {
			return s > 0
		}
		// On the line of a hull edge: only between its ends.
		return (t.x[p]-t.x[a])*(t.x[p]-t.x[b])+(t.y[p]-t.y[a])*(t.y[p]-t.y[b]) < 0
	}
	return t.inCircle(v[0], v[1], v[2], p) > 0
}

// find walks from the last triangle made to one that p conflicts with.
func (t *Triangulation) find(p int32) int32 {
	k := t.last
	if t.ghost(k) {
		v := &t.tri[k].v
		for i := range 3 {
			if v[i] == beyond {
				k = t.tri[k].nb[i]
				break
			}
		}
	}
	for !t.ghost(k) {
		v := &t.tri[k].v
		next := int32(-1)
		for i := range 3 {
			if t.side(v[(i+1)%3], v[(i+2)%3], p) < 0 {
				next = t.tri[k].nb[i]
				break
			}
		}
		if next < 0 {
			break
		}
		k = next
	}
	return k
}

func (t *Triangulation) insert(p int32) {
	first := t.find(p)
	t.generation++
	t.stack = append(t.stack[:0], first)
	t.mark[first] = t.generation
	t.rim = t.rim[:0]
	for n := 0; n < len(t.stack); n++ {
		k := t.stack[n]
		tr := t.tri[k]
		for i := range 3 {
			nb := tr.nb[i]
			if t.mark[nb] == t.generation {
				continue
			}
			if t.conflicts(nb, p) {
				t.mark[nb] = t.generation
				t.stack = append(t.stack, nb)
				continue
			}
			t.rim = append(t.rim, rimEdge{a: tr.v[(i+1)%3], b: tr.v[(i+2)%3], inside: k, outside: nb})
		}
	}
	t.free = append(t.free, t.stack...)
	for _, e := range t.rim {
		k := t.take()
		t.tri[k] = triangle{v: [3]int32{e.a, e.b, p}, nb: [3]int32{-1, -1, e.outside}}
		t.start[e.a+1] = k
		out := &t.tri[e.outside]
		for i := range 3 {
			if out.v[(i+1)%3] == e.b && out.v[(i+2)%3] == e.a {
				out.nb[i] = k
			}
		}
		t.last = k
	}
	for _, e := range t.rim {
		k, next := t.start[e.a+1], t.start[e.b+1]
		t.tri[k].nb[0] = next
		t.tri[next].nb[1] = k
	}
}

// take returns the number of an unused triangle.
func (t *Triangulation) take() int32 {
	if n := len(t.free); n > 0 {
		k := t.free[n-1]
		t.free = t.free[:n-1]
		return k
	}
	t.tri = append(t.tri, triangle{})
	t.mark = append(t.mark, 0)
	return int32(len(t.tri) - 1)
}

// Vertex returns the vertex of a point, by which Means and Value number.
func (t *Triangulation) Vertex(point int) int32 { return t.of[point] }

// Means returns the mean of the data of the points at each vertex, of each list of values.
func (t *Triangulation) Means(values [][]float64) [][]float64 {
	out := make([][]float64, len(values))
	for v := range values {
		out[v] = make([]float64, len(t.x))
		for n, at := range t.of {
			out[v][at] += values[v][n] / t.count[at]
		}
	}
	return out
}

// Weights returns the weight of each point, by its number in New, in what Find found last: a vertex shares its weight
// equally among its points.
func (t *Triangulation) Weights(w *Search) []float64 {
	at := make([]float64, len(t.x))
	for i, v := range w.vertex {
		at[v] += w.weight[i]
	}
	out := make([]float64, len(t.of))
	for n, v := range t.of {
		out[n] = at[v] / t.count[v]
	}
	return out
}
