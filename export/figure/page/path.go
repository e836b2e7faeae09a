package page

import (
	"math"
	"sort"
)

// A Point is a point of the page, in points (1/72 inch) from its upper left corner, y downward.
type Point struct{ X, Y float64 }

// Pt returns the point (x, y).
func Pt(x, y float64) Point { return Point{x, y} }

// Dist returns the distance of two points.
func (p Point) Dist(q Point) float64 { return math.Hypot(q.X-p.X, q.Y-p.Y) }

// towards returns the point that lies the part t of the way to q.
func (p Point) towards(q Point, t float64) Point { return Point{p.X + t*(q.X-p.X), p.Y + t*(q.Y-p.Y)} }

// A Path is lines. It is filled by the even-odd rule, so that rings inside rings are holes.
type Path [][]Point

// Rect returns the outline of a rectangle.
func Rect(x0, y0, x1, y1 float64) Path { return Path{{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}} }

// How far, in points, a drawn line may lie from the traced one: a fiftieth of a millimetre.
const drawnWithin = 0.055

// Simplify drops points of a line that lie within drawnWithin of what is left (Douglas and Peucker 1973).
func Simplify(line []Point) []Point {
	if len(line) < 3 {
		return line
	}
	keep := make([]bool, len(line))
	keep[0], keep[len(line)-1] = true, true
	stack := [][2]int{{0, len(line) - 1}}
	for len(stack) > 0 {
		r := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		a, b := line[r[0]], line[r[1]]
		worst, at := drawnWithin, -1
		for k := r[0] + 1; k < r[1]; k++ {
			if d := Away(line[k], a, b); d > worst {
				worst, at = d, k
			}
		}
		if at >= 0 {
			keep[at] = true
			stack = append(stack, [2]int{r[0], at}, [2]int{at, r[1]})
		}
	}
	out := make([]Point, 0, len(line))
	for k, p := range line {
		if keep[k] {
			out = append(out, p)
		}
	}
	return out
}

// SimplifyRing is Simplify for a closed line.
func SimplifyRing(ring []Point) []Point {
	if len(ring) < 4 {
		return ring
	}
	far, at := 0.0, 0
	for k, p := range ring {
		if d := p.Dist(ring[0]); d > far {
			far, at = d, k
		}
	}
	if at == 0 {
		return ring
	}
	first := Simplify(ring[:at+1])
	second := Simplify(append(append([]Point(nil), ring[at:]...), ring[0]))
	return append(append([]Point(nil), first...), second[1:len(second)-1]...)
}

// Away returns the distance of p from the straight piece a to b.
func Away(p, a, b Point) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	n := dx*dx + dy*dy
	if n == 0 {
		return p.Dist(a)
	}
	t := max(0, min(1, ((p.X-a.X)*dx+(p.Y-a.Y)*dy)/n))
	return math.Hypot(p.X-a.X-t*dx, p.Y-a.Y-t*dy)
}

// Length returns the length of a line.
func Length(line []Point) float64 {
	sum := 0.0
	for k := 1; k < len(line); k++ {
		sum += line[k-1].Dist(line[k])
	}
	return sum
}

// Along returns the point at a length along a line.
func Along(line []Point, at float64) Point {
	for k := 1; k < len(line); k++ {
		d := line[k-1].Dist(line[k])
		if at <= d && d > 0 {
			return line[k-1].towards(line[k], at/d)
		}
		at -= d
	}
	return line[len(line)-1]
}

// CutOut returns what is left of a line without the given stretches of its length.
func CutOut(line []Point, gaps [][2]float64) Path {
	if len(gaps) == 0 {
		return Path{line}
	}
	sort.Slice(gaps, func(i, j int) bool { return gaps[i][0] < gaps[j][0] })
	var out Path
	total := Length(line)
	from := 0.0
	for _, g := range append(gaps, [2]float64{total, total}) {
		if g[0] > from+0.01 {
			out = append(out, between(line, from, g[0]))
		}
		from = max(from, g[1])
	}
	return out
}

// between returns the stretch of a line between two lengths along it.
func between(line []Point, from, to float64) []Point {
	out := []Point{Along(line, from)}
	sum := 0.0
	for k := 1; k < len(line); k++ {
		sum += line[k-1].Dist(line[k])
		if sum > from+1e-9 && sum < to-1e-9 {
			out = append(out, line[k])
		}
	}
	return append(out, Along(line, to))
}

// Hatch returns parallel lines, every spacing points at an angle (degrees), clipped to a filled path (even-odd).
func Hatch(p Path, spacing, angle float64) Path {
	s, c := math.Sincos(angle * math.Pi / 180)
	turn := func(q Point) Point { return Point{q.X*c + q.Y*s, -q.X*s + q.Y*c} }
	back := func(q Point) Point { return Point{q.X*c - q.Y*s, q.X*s + q.Y*c} }
	cross := map[int][]float64{}
	lo, hi := math.MaxInt, math.MinInt
	for _, ring := range p {
		for k := range ring {
			a, b := turn(ring[k]), turn(ring[(k+1)%len(ring)])
			if a.Y > b.Y {
				a, b = b, a
			}
			for n := int(math.Ceil(a.Y / spacing)); float64(n)*spacing < b.Y; n++ {
				y := float64(n) * spacing
				cross[n] = append(cross[n], a.X+(y-a.Y)/(b.Y-a.Y)*(b.X-a.X))
				lo, hi = min(lo, n), max(hi, n)
			}
		}
	}
	var out Path
	for n := lo; n <= hi && lo != math.MaxInt; n++ {
		xs := cross[n]
		sort.Float64s(xs)
		for k := 0; k+1 < len(xs); k += 2 {
			if xs[k+1]-xs[k] > 0.3 {
				y := float64(n) * spacing
				out = append(out, []Point{back(Point{xs[k], y}), back(Point{xs[k+1], y})})
			}
		}
	}
	return out
}

// ClipRing cuts a ring to a rectangle (Sutherland and Hodgman 1974).
func ClipRing(ring []Point, l, t, r, b float64) []Point {
	for side, edge := range [4]float64{l, r, t, b} {
		var out []Point
		for k, q := range ring {
			p := ring[(k+len(ring)-1)%len(ring)]
			from, to := p.X, q.X
			if side > 1 {
				from, to = p.Y, q.Y
			}
			was, is := from >= edge, to >= edge
			if side%2 == 1 {
				was, is = from <= edge, to <= edge
			}
			if was != is {
				meet := p.towards(q, (edge-from)/(to-from))
				if side > 1 {
					meet.Y = edge
				} else {
					meet.X = edge
				}
				out = append(out, meet)
			}
			if is {
				out = append(out, q)
			}
		}
		ring = out
	}
	return ring
}

// ClipLine returns the pieces of a line inside a rectangle (Liang and Barsky 1984, piece by piece).
func ClipLine(line []Point, l, t, r, b float64) Path {
	var out Path
	open := false
	for k := 1; k < len(line); k++ {
		a, c := line[k-1], line[k]
		t0, t1 := 0.0, 1.0
		ok := true
		dx, dy := c.X-a.X, c.Y-a.Y
		for _, e := range [4][2]float64{{-dx, a.X - l}, {dx, r - a.X}, {-dy, a.Y - t}, {dy, b - a.Y}} {
			if e[0] == 0 {
				ok = ok && e[1] >= 0
				continue
			}
			if q := e[1] / e[0]; e[0] < 0 {
				t0 = max(t0, q)
			} else {
				t1 = min(t1, q)
			}
		}
		if !ok || t0 > t1 {
			open = false
			continue
		}
		if !open || t0 > 0 {
			out = append(out, []Point{a.towards(c, t0)})
		}
		out[len(out)-1] = append(out[len(out)-1], a.towards(c, t1))
		open = t1 == 1
	}
	return out
}

// Clear reports whether a point keeps a distance from lines.
func Clear(q Point, lines [][][]Point, far float64) bool {
	for _, level := range lines {
		for _, l := range level {
			for k := 1; k < len(l); k++ {
				a, b := l[k-1], l[k]
				near := min(a.X, b.X)-far <= q.X && max(a.X, b.X)+far >= q.X && min(a.Y, b.Y)-far <= q.Y &&
					max(a.Y, b.Y)+far >= q.Y
				if near && Away(q, a, b) < far {
					return false
				}
			}
		}
	}
	return true
}

// Circle returns a ring of 20 points.
func Circle(c Point, r float64) []Point {
	const n = 20
	out := make([]Point, n)
	for k := range out {
		s, q := math.Sincos(2 * math.Pi * float64(k) / n)
		out[k] = Point{c.X + r*q, c.Y + r*s}
	}
	return out
}

// Join links pieces that continue each other.
func Join(pieces [][]Point) Path {
	var out Path
	for _, q := range pieces {
		if n := len(out); n > 0 && out[n-1][len(out[n-1])-1] == q[0] {
			out[n-1] = append(out[n-1], q[1:]...)
			continue
		}
		out = append(out, append([]Point(nil), q...))
	}
	return out
}
