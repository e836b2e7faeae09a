package page

import "math"

// A Box is a rectangle that may be turned: its four corners in order.
type Box [4]Point

// RectBox returns a level box.
func RectBox(x0, y0, x1, y1 float64) Box { return Box{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}} }

// Overlaps reports whether two boxes share more than slack points of depth (separating axis theorem).
func (b Box) Overlaps(o Box, slack float64) bool {
	for _, q := range [2]Box{b, o} {
		for k := range 2 {
			n := q[k].Dist(q[k+1])
			if n == 0 {
				continue
			}
			e := Point{(q[k+1].X - q[k].X) / n, (q[k+1].Y - q[k].Y) / n}
			lo1, hi1 := b.span(e)
			lo2, hi2 := o.span(e)
			if hi1 <= lo2+slack || hi2 <= lo1+slack {
				return false
			}
		}
	}
	return true
}

func (b Box) span(axis Point) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, p := range b {
		d := p.X*axis.X + p.Y*axis.Y
		lo, hi = min(lo, d), max(hi, d)
	}
	return lo, hi
}

// Within reports whether a box lies in a level rectangle.
func (b Box) Within(l, t, r, bottom float64) bool {
	for _, p := range b {
		if p.X < l || p.Y < t || p.X > r || p.Y > bottom {
			return false
		}
	}
	return true
}

// Grown returns the box with a margin on all sides.
func (b Box) Grown(m float64) Box {
	lu, lv := b[0].Dist(b[1]), b[0].Dist(b[3])
	if lu == 0 || lv == 0 {
		return b
	}
	u := Point{(b[1].X - b[0].X) / lu * m, (b[1].Y - b[0].Y) / lu * m}
	v := Point{(b[3].X - b[0].X) / lv * m, (b[3].Y - b[0].Y) / lv * m}
	return Box{
		{b[0].X - u.X - v.X, b[0].Y - u.Y - v.Y}, {b[1].X + u.X - v.X, b[1].Y + u.Y - v.Y},
		{b[2].X + u.X + v.X, b[2].Y + u.Y + v.Y}, {b[3].X - u.X + v.X, b[3].Y - u.Y + v.Y},
	}
}
