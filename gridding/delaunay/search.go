package delaunay

import (
	"math"
	"slices"
)

// A Search finds neighbours and holds them: vertices and their weights, which sum to 1. The zero value is ready. One
// for each goroutine.
type Search struct {
	owner  *Triangulation
	at     int32
	mark   []int32
	gen    int32
	stack  []int32
	rim    []rimEdge
	vertex []int32
	weight []float64
}

// Restart begins the next search where the first one began. Each column does: a point on a side belongs to the triangle
// that the walk reaches first, so what a worker has done before must not decide.
func (w *Search) Restart() {
	if w.owner != nil {
		w.at = w.owner.last
	}
}

func (w *Search) use(t *Triangulation) {
	if w.owner == t {
		return
	}
	w.owner, w.at, w.gen = t, t.last, 0
	w.mark = slices.Grow(w.mark[:0], len(t.tri))[:len(t.tri)]
	clear(w.mark)
}

// closeTo is how near to a side, as a part of the longest product of coordinates, counts as on it.
const closeTo = 1e-11

// locate finds the triangle that holds a point (in whole-number units); ok is false outside the hull. on is the index
// of the vertex opposite to a hull side that the point lies on, else -1.
func (t *Triangulation) locate(w *Search, qx, qy float64) (k int32, on int, ok bool) {
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
			// Outside this hull side; but the walk may have come to a side that only seems to be between: try another
			// way round.
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

// otherWay returns a real neighbour across which the point lies; -1 when it lies only beyond hull sides.
func (t *Triangulation) otherWay(k int32, qx, qy float64) int32 {
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

// Find finds the neighbours of a place, natural ones or the corners of its triangle, and reports whether it lies inside
// the hull.
func (t *Triangulation) Find(w *Search, natural bool, x, y float64) bool {
	if natural {
		return t.natural(w, x, y)
	}
	return t.linear(w, x, y)
}

// Value returns the weighted sum of a value of each vertex over the neighbours that Find found.
func (w *Search) Value(d []float64) float64 {
	s := 0.0
	for i, v := range w.vertex {
		s += float64(w.weight[i] * d[v])
	}
	return s
}

// linear fills w.vertex and w.weight with the corners of the triangle around a point and their weights; false outside
// the hull.
func (t *Triangulation) linear(w *Search, px, py float64) bool {
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

// natural fills w.vertex and w.weight with the natural neighbours of a point and their weights (Sibson 1981): the area
// that the point's Voronoi cell would take from each neighbour's, over the area of that cell. On a hull side its two
// ends are weighted linearly; false outside.
func (t *Triangulation) natural(w *Search, px, py float64) bool {
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
func (w *Search) cavity(t *Triangulation, k int32, qx, qy float64) {
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

// holds reports whether the circle of triangle k holds a point.
func (t *Triangulation) holds(k int32, qx, qy float64) bool {
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
func (w *Search) stolen(t *Triangulation, before, after *rimEdge, qx, qy float64) float64 {
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
