package chart

import (
	"image/color"
	"math"
	"testing"

	"github.com/castwright/castwright/export/figure/page"
)

// A corner of a mask that a level just cuts leaves no dot of line behind; a line as long as a millimetre stays.
func TestNoSpecks(t *testing.T) {
	f := &Field{X: []float64{0, 1, 2, 3, 4}, Y: []float64{0, 1, 2, 3, 4}}
	for i := range f.Y {
		for j := range f.X {
			f.Data = append(f.Data, f.X[j]+f.Y[i])
		}
	}
	fr := &Frame{L: 0, R: 2.4, T: 0, B: 2.4, X0: 0, X1: 4, Y0: 0, Y1: 4}
	lines := f.Trace(fr, []float64{3.1, 4}) // 2.6 and 3.4 points long
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

// A heavy line that would be two dots beside its label has no label; a thin one of the same length has it.
func TestShortHeavyLinesHaveNoLabel(t *testing.T) {
	line := []page.Point{page.Pt(20, 50), page.Pt(40, 50)}
	ink := func(float64) color.NRGBA { return page.Ink }
	for width, want := range map[float64]int{Hair: 1, Heavy: 0} {
		s := page.New(200, 100)
		LabelLines(s, &Frame{L: 0, R: 200, T: 0, B: 100}, [][][]page.Point{{line}}, []float64{0},
			LineStyle{Size: 6.3, PerPoint: 300, Text: Short, Colour: ink,
				Pen: func(float64) page.Pen { return page.Pen{Colour: page.Ink, Width: width} }})()
		if len(s.Boxes) != want {
			t.Errorf("a line %g wide has %d labels, want %d", width, len(s.Boxes), want)
		}
	}
}

// A closed line around one node, or a bend that spans fewer than three cells both ways, is noise and not drawn, however
// long it is on the page; one that spans three in either direction is drawn.
func TestShortLinesAreNotDrawn(t *testing.T) {
	var axis []float64
	for k := range 12 {
		axis = append(axis, float64(k*k)) // cells, not distances, count
	}
	fr := &Frame{L: 0, R: 600, T: 0, B: 600, X0: 0, X1: 121, Y0: 0, Y1: 121}
	bump := func(i0, j0, di, dj float64) *Field {
		f := &Field{X: axis, Y: axis}
		for i := range axis {
			for j := range axis {
				v := 0.0
				if math.Abs(float64(i)-i0) <= di && math.Abs(float64(j)-j0) <= dj {
					v = 1
				}
				f.Data = append(f.Data, v)
			}
		}
		return f
	}
	for _, c := range []struct {
		f    *Field
		want int
	}{
		{bump(8, 8, 0, 0), 0}, {bump(8, 8.5, 0, 0.5), 0}, {bump(8, 8, 0, 1), 1}, {bump(8, 8, 1, 0), 1},
		{bump(11, 11, 1, 1), 0}, {bump(11, 11, 2, 3), 1},
	} {
		if lines := c.f.Trace(fr, []float64{0.5}); len(lines[0]) != c.want {
			t.Errorf("%d lines, want %d", len(lines[0]), c.want)
		}
	}
}
