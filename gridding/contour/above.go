package contour

import "github.com/paulmach/orb"

// above links the outline of what lies at or above a level into rings and gives each hole to its polygon.
func (m *mesh) above(level float64) orb.MultiPolygon {
	m.reset()
	for c, kind := range m.kind {
		if kind == meshEmpty || m.hi[c] < level {
			continue
		}
		if m.lo[c] < level {
			m.cut(c, level)
		}
		for side := range 5 {
			if m.has(c, side) && m.edge(c, side) {
				m.along(c, side, level)
			}
		}
	}
	m.done = append(m.done[:0], make([]bool, len(m.pieces))...)
	var outer, holes []ringAt
	for k := range m.pieces {
		if m.done[k] {
			continue
		}
		ring := orb.Ring{m.pieces[k].at}
		for n := k; !m.done[n]; n = int(m.slot[m.pieces[n].to]) - 1 {
			m.done[n] = true
			if p := m.pieces[n].end; p != ring[len(ring)-1] {
				ring = append(ring, p)
			}
		}
		r := ringAt{ring: ring, area: ringArea(ring), side: m.side(m.pieces[k].from)}
		switch {
		case r.area > 0:
			outer = append(outer, r)
		case r.area < 0:
			holes = append(holes, r)
		}
	}
	return m.nest(outer, holes, level)
}

// along adds the part of an outline's side that lies at or above the level.
func (m *mesh) along(c, side int, level float64) {
	a, b := m.ends(c, side)
	highA, highB := m.f[a] >= level, m.f[b] >= level
	if !highA && !highB {
		return
	}
	begin, p := m.leaving(c, side), m.node(a)
	if !highA {
		begin, p = m.crossing(c, side), m.point(c, side, level)
	}
	if highB {
		m.add(begin, m.leaving(m.turn(c, side)), p, m.node(b))
	} else {
		m.add(begin, m.crossing(c, side), p, m.point(c, side, level))
	}
}

// ringArea is the signed area of a closed ring, positive when it runs counter-clockwise. Coordinates are taken from its
// first point, so that small rings far from the origin keep their digits.
func ringArea(r orb.Ring) float64 {
	sum := 0.0
	o := r[0]
	for k := 1; k < len(r); k++ {
		ax, ay := r[k-1][0]-o[0], r[k-1][1]-o[1]
		bx, by := r[k][0]-o[0], r[k][1]-o[1]
		sum += float64(ax*by) - float64(bx*ay)
	}
	return sum / 2
}

// nest returns each hole to the outer ring of its own patch: what can be walked from the hole without going below the
// level. No coordinate is asked, so rings that touch, or that lie on each other where nodes equal a level, cannot
// mislead it.
func (m *mesh) nest(outer, holes []ringAt, level float64) orb.MultiPolygon {
	out := make(orb.MultiPolygon, len(outer))
	for k, r := range outer {
		out[k] = orb.Polygon{r.ring}
	}
	if len(holes) == 0 {
		return out
	}
	patch := make([]int32, 3*len(m.f)) // a forest over the sides, each pointing to an earlier one of its patch
	for k := range patch {
		patch[k] = int32(k)
	}
	root := func(k int32) int32 {
		for patch[k] != k {
			patch[k] = patch[patch[k]]
			k = patch[k]
		}
		return k
	}
	join := func(a, b int32) {
		if a, b = root(a), root(b); a < b {
			patch[b] = a
		} else {
			patch[a] = b
		}
	}
	for c, kind := range m.kind {
		if kind == meshEmpty || m.hi[c] < level {
			continue
		}
		for side := range 5 {
			if !m.has(c, side) {
				continue
			}
			if _, end := m.ends(c, side); m.f[end] >= level {
				join(m.crossing(c, side), m.crossing(c, m.after(c, side)))
			}
		}
	}
	for _, p := range m.pieces {
		if n := int32(3 * len(m.f)); p.from < n && p.to < n {
			join(p.from, p.to)
		}
	}
	first := make(map[int32]int, len(outer)) // largest outer ring of each patch
	for k, r := range outer {
		at := root(r.side)
		if old, ok := first[at]; !ok || r.area > outer[old].area {
			first[at] = k
		}
	}
	for _, h := range holes {
		if k, ok := first[root(h.side)]; ok {
			out[k] = append(out[k], h.ring)
		}
	}
	return out
}

// A ringAt is a ring, its signed area and one side of the net that it touches.
type ringAt struct {
	ring orb.Ring
	area float64
	side int32
}

// side returns a side of the net that a place lies on.
func (m *mesh) side(place int32) int32 {
	n := int32(3 * len(m.f))
	if place < n {
		return place
	}
	return m.crossing(int(place-n)/5, int(place-n)%5)
}
