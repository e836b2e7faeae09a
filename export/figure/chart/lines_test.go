package chart

import (
	"image/color"
	"math"
	"testing"

	"github.com/castwright/castwright/export/figure/page"
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

// A line ends so far from its label that a minus is not read as part of the line: further than the minus is long.
func TestMinusIsSeen(t *testing.T) {
	line := []page.Point{page.Pt(20, 50), page.Pt(180, 50)}
	s := page.New(200, 100)
	ink := func(float64) color.NRGBA { return page.Ink }
	LabelLines(s, &Frame{L: 0, R: 200, T: 0, B: 100}, [][][]page.Point{{line}}, []float64{-0.01},
		LineStyle{Size: 6.3, PerPoint: 300,
			Text: Short, Colour: ink, Pen: func(float64) page.Pen { return InkHair }})()
	if len(s.Boxes) != 1 {
		t.Fatalf("%d labels", len(s.Boxes))
	}
	minus := page.TextWidth("−", 6.3) * 0.6 // the sign has space around it
	for _, piece := range s.Ops[0].Path {
		for _, q := range piece {
			if d := min(math.Abs(q.X-s.Boxes[0][0].X), math.Abs(q.X-s.Boxes[0][1].X)); d < minus {
				t.Errorf("a line ends %.1f points from its label; a minus is %.1f long", d, minus)
			}
		}
	}
}
