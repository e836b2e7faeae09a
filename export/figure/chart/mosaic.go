package chart

import (
	"math"

	"github.com/castwright/castwright/export/figure/page"
)

// A Mosaic gathers points into small cells, so that a million points make a small file; a point marks the
// four cells nearest to it.
type Mosaic struct {
	fr     *Frame
	nx, ny int
	set    []bool
	Any    bool
	Large  bool // a point marks nine cells, for pictures of few points
}

const cellSize = 0.42 // points: 0.15 mm

// NewMosaic returns an empty mosaic over a frame.
func NewMosaic(fr *Frame) *Mosaic {
	m := &Mosaic{fr: fr, nx: int((fr.R-fr.L)/cellSize) + 1, ny: int((fr.B-fr.T)/cellSize) + 1}
	m.set = make([]bool, m.nx*m.ny)
	return m
}

// Mark marks a point.
func (m *Mosaic) Mark(q page.Point) {
	x, y := int(math.Floor((q.X-m.fr.L)/cellSize-0.5)), int(math.Floor((q.Y-m.fr.T)/cellSize-0.5))
	more := 1
	if m.Large {
		more = 2
	}
	for i := y; i <= y+more; i++ {
		for j := x; j <= x+more; j++ {
			if i >= 0 && j >= 0 && i < m.ny && j < m.nx {
				m.set[i*m.nx+j] = true
				m.Any = true
			}
		}
	}
}

// Path returns the marked cells, row by row, neighbours in one piece.
func (m *Mosaic) Path() page.Path {
	var out page.Path
	for i := range m.ny {
		for j := 0; j < m.nx; j++ {
			if !m.set[i*m.nx+j] {
				continue
			}
			from := j
			for j < m.nx && m.set[i*m.nx+j] {
				j++
			}
			x0, y0 := m.fr.L+float64(from)*cellSize, m.fr.T+float64(i)*cellSize
			out = append(out, page.Rect(x0, y0, min(m.fr.L+float64(j)*cellSize, m.fr.R), min(y0+cellSize, m.fr.B))[0])
		}
	}
	return out
}
