package chart

import (
	"math"
	"math/bits"

	"github.com/castwright/castwright/export/figure/page"
)

// A Mosaic gathers points into small cells, so that a million points make a small file; a point marks the
// four cells nearest to it. It has layers, one for each colour. Where several layers mark a cell it is given
// to one of them as if by lot, the same in every run, so that none hides the others.
type Mosaic struct {
	fr     *Frame
	nx, ny int
	layers []uint16 // of each cell, a bit for each layer
	Large  bool     // a point marks nine cells, for pictures of few points
}

const cellSize = 0.42 // points: 0.15 mm

// NewMosaic returns an empty mosaic over a frame.
func NewMosaic(fr *Frame) *Mosaic {
	m := &Mosaic{fr: fr, nx: int((fr.R-fr.L)/cellSize) + 1, ny: int((fr.B-fr.T)/cellSize) + 1}
	m.layers = make([]uint16, m.nx*m.ny)
	return m
}

// Mark marks a point in a layer, 0 to 15.
func (m *Mosaic) Mark(layer int, q page.Point) {
	x, y := int(math.Floor((q.X-m.fr.L)/cellSize-0.5)), int(math.Floor((q.Y-m.fr.T)/cellSize-0.5))
	more := 1
	if m.Large {
		more = 2
	}
	for i := max(0, y); i <= min(y+more, m.ny-1); i++ {
		for j := max(0, x); j <= min(x+more, m.nx-1); j++ {
			m.layers[i*m.nx+j] |= 1 << layer
		}
	}
}

// owner returns the layer of a cell; -1 for none.
func (m *Mosaic) owner(i, j int) int {
	set := m.layers[i*m.nx+j]
	n := bits.OnesCount16(set)
	if n == 0 {
		return -1
	}
	lot := uint32(i/3)*2654435761 ^ uint32(j/3)*2246822519 // cells of a point mostly fall to one layer
	for skip := (lot ^ lot>>15) % uint32(n); skip > 0; skip-- {
		set &= set - 1
	}
	return bits.TrailingZeros16(set)
}

// Path returns the cells of a layer, row by row, neighbours in one piece.
func (m *Mosaic) Path(layer int) page.Path {
	var out page.Path
	for i := range m.ny {
		for j := 0; j < m.nx; j++ {
			from := j
			for j < m.nx && m.owner(i, j) == layer {
				j++
			}
			if j > from {
				x0, y0 := m.fr.L+float64(from)*cellSize, m.fr.T+float64(i)*cellSize
				x1, y1 := min(m.fr.L+float64(j)*cellSize, m.fr.R), min(y0+cellSize, m.fr.B)
				out = append(out, page.Rect(x0, y0, x1, y1)[0])
			}
		}
	}
	return out
}
