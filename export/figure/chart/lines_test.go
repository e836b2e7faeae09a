package chart

import (
	"testing"
)

// A corner of a mask that a level just cuts leaves no dot of line behind; a line as long as a millimetre stays.
func TestNoSpecks(t *testing.T) {
	f := &Field{X: []float64{0, 1}, Y: []float64{0, 1}, Data: []float64{0, 1, 1, 1}}
	fr := &Frame{L: 0, R: 100, T: 0, B: 100, X0: 0, X1: 1, Y0: 0, Y1: 1}
	lines := f.Trace(fr, []float64{0.01, 0.5}) // 1.4 and 71 points long
	if len(lines[0]) != 0 || len(lines[1]) != 1 {
		t.Errorf("%d and %d lines, want none and one", len(lines[0]), len(lines[1]))
	}
}
