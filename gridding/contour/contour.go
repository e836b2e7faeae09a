// Package contour traces level lines and the areas above levels through a field given at the nodes of two axes, in an
// order that is always the same.
//
// The surface is straight along the sides of each mesh; where a line could join two ways, the mean of the four corners
// decides. A node that holds NaN takes its meshes with it, but a mesh with three good corners keeps their triangle, so
// a mask is cut off along sides and diagonals of meshes. A node that equals a level counts as above it.
package contour

import (
	"math"

	"github.com/paulmach/orb"
)

// A Level is every line of one level. A line that closes ends on its first point. Higher values lie to the left of a
// line, seen with x to the right and y upward.
type Level struct {
	Value float64
	Lines []orb.LineString
}

// Lines returns the lines of each level of a field with the values data[i*len(x)+j] at (x[j], y[i]); points of the
// lines are in the units of x and y. x, y and levels increase strictly. Lines that end at the edge of the field come
// first, in the order of the meshes. Slices of the wrong length, and axes or levels that do not increase, panic.
func Lines(x, y, data, levels []float64) []Level {
	m := newMesh(x, y, data, levels)
	out := make([]Level, len(levels))
	for k, level := range levels {
		out[k] = Level{Value: level, Lines: m.lines(level)}
	}
	return out
}

// Above returns, for each level, the part of the plane where the value is at or above it, as polygons with holes: the
// first ring of a polygon is its outer edge (counter-clockwise, seen with x to the right and y upward), the others are
// holes (clockwise). Rings are closed. A level of -Inf gives all that is covered. A picture painted from the lowest
// level up has no seams between its bands. Arguments are those of Lines.
func Above(x, y, data, levels []float64) []orb.MultiPolygon {
	m := newMesh(x, y, data, levels)
	out := make([]orb.MultiPolygon, len(levels))
	for k, level := range levels {
		out[k] = m.above(level)
	}
	return out
}

const (
	wrongLength   = "contour: slices of different length"
	notIncreasing = "contour: axis or levels do not increase"
)

// Kinds of mesh: 0..3 is a triangle without that corner.
const (
	meshWhole = 4
	meshEmpty = 5
	diagonal  = 4 // number of the side that closes a triangle
)

// A mesh is the net of cells between the nodes. Cell (i, j) has the number i*nx+j; its corners run counter-clockwise
// from (i, j), and side s goes from corner s to corner s+1. The cells of the last row and column are empty, so that
// nodes and cells number alike.
type mesh struct {
	nx, ny  int
	x, y, f []float64
	kind    []uint8
	lo, hi  []float64 // least and greatest corner of each cell
	slot    []int32   // for each place where a piece may begin: 1 + its index; 0 elsewhere
	pieces  []piece
	done    []bool
}

// A piece is one directed straight part of an outline or a line, from one place to another.
type piece struct {
	from, to int32
	at       orb.Point // where it begins
	end      orb.Point
}

func newMesh(x, y, data, levels []float64) *mesh {
	if len(data) != len(x)*len(y) {
		panic(wrongLength)
	}
	for _, s := range [][]float64{x, y, levels} {
		for k := 1; k < len(s); k++ {
			if !(s[k] > s[k-1]) {
				panic(notIncreasing)
			}
		}
	}
	m := &mesh{nx: len(x), ny: len(y), x: x, y: y, f: data, kind: make([]uint8, len(data))}
	m.lo, m.hi = make([]float64, len(data)), make([]float64, len(data))
	for c := range m.kind {
		m.kind[c] = meshEmpty
		i, j := c/m.nx, c%m.nx
		if i == m.ny-1 || j == m.nx-1 {
			continue
		}
		bad, at := 0, uint8(meshWhole)
		lo, hi := math.Inf(1), math.Inf(-1)
		for k := range 4 {
			v := data[m.corner(c, k)]
			if math.IsNaN(v) {
				bad, at = bad+1, uint8(k)
				continue
			}
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
		if bad <= 1 {
			m.kind[c], m.lo[c], m.hi[c] = at, lo, hi
		}
	}
	m.slot = make([]int32, 8*len(data))
	return m
}

// corner returns the node of corner k (0..3, taken modulo 4) of cell c.
func (m *mesh) corner(c, k int) int {
	switch k & 3 {
	case 0:
		return c
	case 1:
		return c + 1
	case 2:
		return c + m.nx + 1
	}
	return c + m.nx
}

// ends returns the two nodes of a side of a cell.
func (m *mesh) ends(c, side int) (a, b int) {
	if side == diagonal {
		k := int(m.kind[c])
		return m.corner(c, k+3), m.corner(c, k+1)
	}
	return m.corner(c, side), m.corner(c, side+1)
}

// has reports whether a cell has a side: whole cells have four, a triangle the two away from its missing corner and the
// diagonal.
func (m *mesh) has(c, side int) bool {
	k := int(m.kind[c])
	switch {
	case k == meshEmpty:
		return false
	case k == meshWhole:
		return side != diagonal
	}
	return side == diagonal || (side != k && side != (k+3)&3)
}

// after returns the side that follows a side counter-clockwise.
func (m *mesh) after(c, side int) int {
	k := int(m.kind[c])
	if k == meshWhole {
		return (side + 1) & 3
	}
	if side == diagonal {
		return (k + 1) & 3
	}
	if next := (side + 1) & 3; m.has(c, next) {
		return next
	}
	return diagonal
}

// across returns the cell on the other side of a side and the number of that side there; ok is false at the edge of the
// field.
func (m *mesh) across(c, side int) (d, s int, ok bool) {
	i, j := c/m.nx, c%m.nx
	switch {
	case side == 0 && i > 0:
		d, s = c-m.nx, 2
	case side == 1 && j+1 < m.nx:
		d, s = c+1, 3
	case side == 2 && i+1 < m.ny:
		d, s = c+m.nx, 0
	case side == 3 && j > 0:
		d, s = c-1, 1
	default:
		return 0, 0, false
	}
	return d, s, m.has(d, s)
}

// edge reports whether a side is on the outline of the field.
func (m *mesh) edge(c, side int) bool {
	_, _, ok := m.across(c, side)
	return !ok
}

// Places: crossings of a side by the level, numbered by the side's node and direction so that both neighbours name it
// alike; and corners of the outline, named by the cell and side that leave from them.
func (m *mesh) crossing(c, side int) int32 {
	n := len(m.f)
	switch side {
	case 0:
		return int32(c)
	case 1:
		return int32(n + c + 1)
	case 2:
		return int32(c + m.nx)
	case 3:
		return int32(n + c)
	}
	return int32(2*n + c)
}

func (m *mesh) leaving(c, side int) int32 { return int32(3*len(m.f) + 5*c + side) }

// turn returns the outline's side that leaves from the end of an outline's side: the cells around that corner are
// walked through, so that two patches which touch in one corner stay apart.
func (m *mesh) turn(c, side int) (int, int) {
	for {
		side = m.after(c, side)
		d, s, ok := m.across(c, side)
		if !ok {
			return c, side
		}
		c, side = d, s
	}
}

func (m *mesh) node(n int) orb.Point { return orb.Point{m.x[n%m.nx], m.y[n/m.nx]} }

// point returns where a level crosses the side of a cell, always reckoned from the lower-numbered node, so that it is
// the same from both sides.
func (m *mesh) point(c, side int, level float64) orb.Point {
	a, b := m.ends(c, side)
	if a > b {
		a, b = b, a
	}
	t := (level - m.f[a]) / (m.f[b] - m.f[a])
	p, q := m.node(a), m.node(b)
	return orb.Point{p[0] + float64(t*(q[0]-p[0])), p[1] + float64(t*(q[1]-p[1]))}
}

func (m *mesh) add(from, to int32, at, end orb.Point) {
	m.pieces = append(m.pieces, piece{from: from, to: to, at: at, end: end})
	m.slot[from] = int32(len(m.pieces))
}

func (m *mesh) reset() {
	for k := range m.pieces {
		m.slot[m.pieces[k].from] = 0
	}
	m.pieces = m.pieces[:0]
}

// cut adds the pieces of one level's line through one cell, higher values on the left.
func (m *mesh) cut(c int, level float64) {
	var out, in [2]int // sides where the outline of the higher part leaves and enters, in order
	nOut, nIn := 0, 0
	firstIsIn := false
	side := 0
	if k := int(m.kind[c]); k != meshWhole {
		side = diagonal
	}
	for start := side; ; {
		a, b := m.ends(c, side)
		ha, hb := m.f[a] >= level, m.f[b] >= level
		if ha && !hb {
			out[nOut] = side
			nOut++
		} else if hb && !ha {
			firstIsIn = firstIsIn || nOut == 0
			in[nIn] = side
			nIn++
		}
		if side = m.after(c, side); side == start {
			break
		}
	}
	if nOut == 0 {
		return
	}
	if nOut == 2 {
		mean := (m.f[c] + m.f[c+1] + m.f[c+m.nx] + m.f[c+m.nx+1]) / 4
		// Pair each exit with the next entry (the low corner between them is cut off) when the middle is high, else
		// with the one before.
		if (mean >= level) == firstIsIn {
			in[0], in[1] = in[1], in[0]
		}
	}
	for k := range nOut {
		m.add(m.crossing(c, out[k]), m.crossing(c, in[k]), m.point(c, out[k], level), m.point(c, in[k], level))
	}
}

// lines links the pieces of one level.
func (m *mesh) lines(level float64) []orb.LineString {
	m.reset()
	for c, kind := range m.kind {
		if kind != meshEmpty && m.lo[c] < level && level <= m.hi[c] {
			m.cut(c, level)
		}
	}
	entered := make([]bool, len(m.pieces))
	for k := range m.pieces {
		if next := m.slot[m.pieces[k].to]; next != 0 {
			entered[next-1] = true
		}
	}
	m.done = append(m.done[:0], make([]bool, len(m.pieces))...)
	var out []orb.LineString
	for _, closed := range []bool{false, true} {
		for k := range m.pieces {
			if m.done[k] || (!closed && entered[k]) {
				continue
			}
			line := orb.LineString{m.pieces[k].at}
			for n := k; n >= 0 && !m.done[n]; n = int(m.slot[m.pieces[n].to]) - 1 {
				m.done[n] = true
				if p := m.pieces[n].end; p != line[len(line)-1] {
					line = append(line, p)
				}
			}
			if len(line) > 1 {
				out = append(out, line)
			}
		}
	}
	return out
}
