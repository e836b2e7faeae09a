package gridding

import (
	"math"
	"math/bits"
)

// Delaunay triangulation by adding points one by one (Bowyer 1981 and Watson 1981, Computer J. 24, 162 and 167). Points are rounded to whole numbers of
// 2^-28 of the extent, a power of two, so that the tests of side and circle are exact: rows and columns of data, where four points lie on
// every circle, are the usual case here. Outside the hull stand triangles with the vertex beyond.

const (
	extentBits = 28
	beyond     = int32(-1)
)

type triangle struct {
	v  [3]int32 // counter-clockwise
	nb [3]int32 // neighbour opposite each vertex
}

type triangulation struct {
	x, y       []int64
	unit       float64 // size of a whole number
	x0, y0     float64
	of         []int32 // vertex of each datum: data at one place share a vertex
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

// newTriangulation triangulates points; NaN coordinates are the caller's mistake.
func newTriangulation(px, py []float64) *triangulation {
	t := &triangulation{of: make([]int32, len(px)), flat: true}
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

func (t *triangulation) build() {
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
func (t *triangulation) side(a, b, p int32) int64 {
	return (t.x[b]-t.x[a])*(t.y[p]-t.y[a]) - (t.y[b]-t.y[a])*(t.x[p]-t.x[a])
}

// inCircle is positive when p lies inside the circle through the corners of a counter-clockwise triangle; exact.
func (t *triangulation) inCircle(a, b, c, p int32) int {
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

func (t *triangulation) ghost(k int32) bool {
	v := &t.tri[k].v
	return v[0] == beyond || v[1] == beyond || v[2] == beyond
}

// conflicts says whether triangle k must go when p is added.
func (t *triangulation) conflicts(k, p int32) bool {
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
func (t *triangulation) find(p int32) int32 {
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

func (t *triangulation) insert(p int32) {
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

// take gives the number of an unused triangle.
func (t *triangulation) take() int32 {
	if n := len(t.free); n > 0 {
		k := t.free[n-1]
		t.free = t.free[:n-1]
		return k
	}
	t.tri = append(t.tri, triangle{})
	t.mark = append(t.mark, 0)
	return int32(len(t.tri) - 1)
}

// A triWork is the scratch memory of queries.
type triWork struct {
	owner  *triangulation
	at     int32
	mark   []int32
	gen    int32
	stack  []int32
	rim    []rimEdge
	vertex []int32
	weight []float64
}

// restart begins the next search where the first one began. Each column does: a point on a side belongs to the triangle that the walk reaches first, so what
// a worker has done before must not decide.
func (w *triWork) restart() {
	if w.owner != nil {
		w.at = w.owner.last
	}
}

func (w *triWork) use(t *triangulation) {
	if w.owner == t {
		return
	}
	w.owner, w.at, w.gen = t, t.last, 0
	w.mark = grown(w.mark, len(t.tri))
	clear(w.mark)
}

// closeTo is how near to a side, as a part of the longest product of coordinates, counts as on it.
const closeTo = 1e-11

// locate finds the triangle that holds a point (in whole-number units); ok is false outside the hull. on is the index of the vertex opposite to a
// hull side that the point lies on, else -1.
func (t *triangulation) locate(w *triWork, qx, qy float64) (k int32, on int, ok bool) {
	k = w.at
	for range len(t.tri) + 8 {
		v := &t.tri[k].v
		next := int32(-1)
		on = -1
		for i := range 3 {
			a, b := v[(i+1)%3], v[(i+2)%3]
			ax, ay := float64(t.x[a])-qx, float64(t.y[a])-qy
			bx, by := float64(t.x[b])-qx, float64(t.y[b])-qy
			s := float64(ax*by) - float64(ay*bx)
			lx, ly := bx-ax, by-ay
			tolerance := closeTo * (lx*lx + ly*ly)
			nb := t.tri[k].nb[i]
			if s < -tolerance {
				next = nb
				if !t.ghost(nb) {
					break // a real neighbour first
				}
			} else if s <= tolerance && t.ghost(nb) {
				on = i
			}
		}
		if next < 0 {
			w.at = k
			return k, on, true
		}
		if t.ghost(next) {
			w.at = k
			// Outside this hull side; but the walk may have come to a side that only seems to be between: try another way round.
			if other := t.otherWay(k, qx, qy); other >= 0 {
				k = other
				continue
			}
			return k, -1, false
		}
		k = next
	}
	return k, -1, false
}

// otherWay gives a real neighbour across which the point lies; -1 when it lies only beyond hull sides.
func (t *triangulation) otherWay(k int32, qx, qy float64) int32 {
	v := &t.tri[k].v
	for i := range 3 {
		a, b := v[(i+1)%3], v[(i+2)%3]
		ax, ay := float64(t.x[a])-qx, float64(t.y[a])-qy
		bx, by := float64(t.x[b])-qx, float64(t.y[b])-qy
		nb := t.tri[k].nb[i]
		if !t.ghost(nb) && float64(ax*by)-float64(ay*bx) < -closeTo*((bx-ax)*(bx-ax)+(by-ay)*(by-ay)) {
			return nb
		}
	}
	return -1
}

// linear fills w.vertex and w.weight with the corners of the triangle around a point and their weights; false outside the hull.
func (t *triangulation) linear(w *triWork, px, py float64) bool {
	if t.flat {
		return false
	}
	w.use(t)
	qx, qy := (px-t.x0)/t.unit, (py-t.y0)/t.unit
	k, _, ok := t.locate(w, qx, qy)
	if !ok {
		return false
	}
	w.vertex, w.weight = w.vertex[:0], w.weight[:0]
	v := &t.tri[k].v
	total := 0.0
	for i := range 3 {
		a, b := v[(i+1)%3], v[(i+2)%3]
		ax, ay := float64(t.x[a])-qx, float64(t.y[a])-qy
		bx, by := float64(t.x[b])-qx, float64(t.y[b])-qy
		s := math.Max(0, float64(ax*by)-float64(ay*bx))
		w.vertex, w.weight = append(w.vertex, v[i]), append(w.weight, s)
		total += s
	}
	for i := range w.weight {
		w.weight[i] /= total
	}
	return true
}

// natural fills w.vertex and w.weight with the natural neighbours of a point and their weights (Sibson 1981): the area that the point's
// Voronoi cell would take from each neighbour's, over the area of that cell. On a hull side its two ends are weighted linearly; false outside.
func (t *triangulation) natural(w *triWork, px, py float64) bool {
	if t.flat {
		return false
	}
	w.use(t)
	qx, qy := (px-t.x0)/t.unit, (py-t.y0)/t.unit
	k, on, ok := t.locate(w, qx, qy)
	if !ok {
		return false
	}
	w.vertex, w.weight = w.vertex[:0], w.weight[:0]
	tr := &t.tri[k]
	for i := range 3 {
		if float64(t.x[tr.v[i]]) == qx && float64(t.y[tr.v[i]]) == qy {
			w.vertex, w.weight = append(w.vertex, tr.v[i]), append(w.weight, 1)
			return true
		}
	}
	if on >= 0 {
		a, b := tr.v[(on+1)%3], tr.v[(on+2)%3]
		lx, ly := float64(t.x[b]-t.x[a]), float64(t.y[b]-t.y[a])
		s := ((qx-float64(t.x[a]))*lx + (qy-float64(t.y[a]))*ly) / (lx*lx + ly*ly)
		s = math.Min(1, math.Max(0, s))
		w.vertex, w.weight = append(w.vertex, a, b), append(w.weight, 1-s, s)
		return true
	}
	w.cavity(t, k, qx, qy)
	total := 0.0
	for n := range w.rim {
		e := &w.rim[n]
		before := &w.rim[(n+len(w.rim)-1)%len(w.rim)]
		s := w.stolen(t, before, e, qx, qy)
		w.vertex, w.weight = append(w.vertex, e.a), append(w.weight, s)
		total += s
	}
	if !(total > 0) {
		return t.linear(w, px, py)
	}
	for i := range w.weight {
		w.weight[i] /= total
	}
	return true
}

// cavity gathers the triangles whose circles hold the point and their rim, in order around it.
func (w *triWork) cavity(t *triangulation, k int32, qx, qy float64) {
	w.gen++
	w.stack = append(w.stack[:0], k)
	w.mark[k] = w.gen
	w.rim = w.rim[:0]
	for n := 0; n < len(w.stack); n++ {
		for _, nb := range t.tri[w.stack[n]].nb {
			if w.mark[nb] != w.gen && !t.ghost(nb) && t.holds(nb, qx, qy) {
				w.mark[nb] = w.gen
				w.stack = append(w.stack, nb)
			}
		}
	}
	for _, k := range w.stack {
		tr := &t.tri[k]
		for i, nb := range tr.nb {
			if w.mark[nb] != w.gen {
				w.rim = append(w.rim, rimEdge{a: tr.v[(i+1)%3], b: tr.v[(i+2)%3], inside: k, outside: nb})
			}
		}
	}
	for n := 1; n < len(w.rim); n++ {
		for m := n; m < len(w.rim); m++ {
			if w.rim[m].a == w.rim[n-1].b {
				w.rim[n], w.rim[m] = w.rim[m], w.rim[n]
				break
			}
		}
	}
}

// holds says whether the circle of triangle k holds a point.
func (t *triangulation) holds(k int32, qx, qy float64) bool {
	v := &t.tri[k].v
	ax, ay := float64(t.x[v[0]])-qx, float64(t.y[v[0]])-qy
	bx, by := float64(t.x[v[1]])-qx, float64(t.y[v[1]])-qy
	cx, cy := float64(t.x[v[2]])-qx, float64(t.y[v[2]])-qy
	fa := (ax*ax + ay*ay) * (float64(bx*cy) - float64(by*cx))
	fb := (bx*bx + by*by) * (float64(cx*ay) - float64(cy*ax))
	fc := (cx*cx + cy*cy) * (float64(ax*by) - float64(ay*bx))
	return fa+fb+fc > 1e-14*(math.Abs(fa)+math.Abs(fb)+math.Abs(fc))
}

// centre is the centre of the circle through three points given relative to the query.
func centre(ax, ay, bx, by, cx, cy float64) (x, y float64) {
	bx, by, cx, cy = bx-ax, by-ay, cx-ax, cy-ay
	d := 2 * (float64(bx*cy) - float64(by*cx))
	b2, c2 := float64(bx*bx)+float64(by*by), float64(cx*cx)+float64(cy*cy)
	return ax + (float64(cy*b2)-float64(by*c2))/d, ay + (float64(bx*c2)-float64(cx*b2))/d
}

// stolen is the area between the point's new cell and the old cell of the vertex between two sides of the rim.
func (w *triWork) stolen(t *triangulation, before, after *rimEdge, qx, qy float64) float64 {
	at := func(v int32) (float64, float64) { return float64(t.x[v]) - qx, float64(t.y[v]) - qy }
	vx, vy := at(after.a)
	ux, uy := at(before.a)
	zx, zy := at(after.b)
	startX, startY := centre(0, 0, ux, uy, vx, vy)
	px, py := startX, startY
	area := 0.0
	add := func(x, y float64) {
		area += float64((px-startX)*(y-startY)) - float64((py-startY)*(x-startX))
		px, py = x, y
	}
	k := before.inside
	for range len(w.stack) {
		tr := &t.tri[k]
		ax, ay := at(tr.v[0])
		bx, by := at(tr.v[1])
		cx, cy := at(tr.v[2])
		add(centre(ax, ay, bx, by, cx, cy))
		if k == after.inside {
			break
		}
		i := 0
		for tr.v[i] != after.a {
			i++
		}
		k = tr.nb[(i+2)%3] // across the side from the vertex to the next corner
	}
	add(centre(0, 0, vx, vy, zx, zy))
	return math.Abs(area) / 2
}
