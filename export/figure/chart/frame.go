// Package chart has the parts that figures are made of: numbers as figures print them, round levels, colour maps,
// frames with axes, filled bands, level lines with labels, colour bars, keys, and maps with their projections.
// Whatever is drawn goes onto a page of package page.
package chart

import (
	"math"
	"strconv"

	"github.com/castwright/castwright/export/figure/page"
)

// A Frame is one panel: a rectangle of the page with the values at its edges. y0 is the value at the upper edge.
type Frame struct {
	L, T, R, B     float64 // page
	X0, X1, Y0, Y1 float64 // values at left, right, top, bottom
}

// X returns the place on the page of a value of the horizontal axis.
func (f *Frame) X(x float64) float64 { return f.L + (x-f.X0)/(f.X1-f.X0)*(f.R-f.L) }

// Y returns the place on the page of a value of the vertical axis.
func (f *Frame) Y(y float64) float64 { return f.T + (y-f.Y0)/(f.Y1-f.Y0)*(f.B-f.T) }

// At returns the place of values of both axes.
func (f *Frame) At(x, y float64) page.Point { return page.Pt(f.X(x), f.Y(y)) }

// Value returns the values at a place of the page.
func (f *Frame) Value(q page.Point) (x, y float64) {
	return f.X0 + (q.X-f.L)/(f.R-f.L)*(f.X1-f.X0), f.Y0 + (q.Y-f.T)/(f.B-f.T)*(f.Y1-f.Y0)
}

// Rect returns the outline of the frame.
func (f *Frame) Rect() page.Path { return page.Rect(f.L, f.T, f.R, f.B) }

// Mid returns the middle of the frame.
func (f *Frame) Mid() page.Point { return page.Pt((f.L+f.R)/2, (f.T+f.B)/2) }

// Clip returns the pieces of a line inside the frame.
func (f *Frame) Clip(line []page.Point) page.Path { return page.ClipLine(line, f.L, f.T, f.R, f.B) }

// Holds reports whether a box lies in the frame with a margin.
func (f *Frame) Holds(b page.Box, margin float64) bool {
	return b.Within(f.L+margin, f.T+margin, f.R-margin, f.B-margin)
}

// Border draws the outline.
func (f *Frame) Border(s *page.Scene) { s.Outline(f.Rect(), InkThin) }

// TickLength is the length of ticks in points.
const TickLength = 2.6

// A Vertical axis has the numbers of another quantity than that of its frames: Number returns what it has at a value of
// the frame, and Value the value for a number.
type Vertical struct {
	Title         string
	Number, Value func(float64) float64
}

// Ticks returns round numbers of a frame's axis, at most most of them. In a lower panel the one at the edge shared with
// the panel above is left out.
func (v *Vertical) Ticks(f *Frame, most int, lower bool) []float64 {
	at := Ticks(v.Number(f.Y0), v.Number(f.Y1), most)
	if lower && len(at) > 1 && at[0] == v.Number(f.Y0) {
		at = at[1:]
	}
	return at
}

// LeftAxis draws ticks and numbers at the left edge.
func (f *Frame) LeftAxis(s *page.Scene, at []float64, size float64) {
	f.LeftAxisOf(s, at, size, func(v float64) float64 { return v })
}

// LeftAxisOf draws ticks and numbers at the left edge, at the values that belong to the numbers.
func (f *Frame) LeftAxisOf(s *page.Scene, at []float64, size float64, value func(float64) float64) {
	d := Decimals(at)
	for _, v := range at {
		y := f.Y(value(v))
		s.Line(f.L-TickLength, y, f.L, y, InkThin)
		l := page.Label{Text: Number(v, d), At: page.Pt(f.L-TickLength-1.6, y), Size: size, H: page.Right,
			V: page.Centre}
		s.TryText(l, 0.5)
	}
}

// TicksThatFit returns round values of the horizontal axis, at most most of them and so few that their
// numbers are well apart. Where an even row of them would leave one, the two outermost of a finer row are
// taken.
func (f *Frame) TicksThatFit(most int, size float64) []float64 {
	fit := func(at []float64) bool {
		d := Decimals(at)
		for k := 1; k < len(at); k++ {
			wide := (page.TextWidth(Number(at[k-1], d), size) + page.TextWidth(Number(at[k], d), size)) / 2
			if f.X(at[k])-f.X(at[k-1]) <= wide+size*0.75 {
				return false
			}
		}
		return len(at) > 1
	}
	at := ticksAtMost(f.X0, f.X1, most)
	for len(at) > 1 {
		if fit(at) {
			return at
		}
		most = min(most, len(at)) - 1
		at = ticksAtMost(f.X0, f.X1, most)
	}
	for n := 3; n < 14; n++ {
		row := ticksAtMost(f.X0, f.X1, n)
		if len(row) < 2 {
			continue
		}
		ends := []float64{row[0], row[len(row)-1]}
		if three := []float64{ends[0], 0, ends[1]}; ends[0] == -ends[1] && fit(three) {
			return three
		}
		if fit(ends) {
			return ends
		}
	}
	return at
}

// BottomAxis draws ticks and numbers under the frame.
func (f *Frame) BottomAxis(s *page.Scene, at []float64, size float64) {
	d := Decimals(at)
	for _, v := range at {
		x := f.X(v)
		bottomTick(s, x, f.B, Number(v, d), size, 1.2)
	}
}

// bottomTick draws a tick under an axis and its text where there is space.
func bottomTick(s *page.Scene, x, y float64, text string, size, margin float64) {
	s.Line(x, y, x, y+TickLength, InkThin)
	s.TryText(page.Label{Text: text, At: page.Pt(x, y+TickLength+1.6), Size: size, H: page.Middle, V: page.Top}, margin)
}

// A Mark is a station along the top edge of a section.
type Mark struct {
	X     float64
	Name  string
	Label string // as it is written
}

// stationsOnTop draws a tick for every station, and numbers at a regular choice: first and last, and between
// them every station, or the multiples of 2, 5, 10 ... of which all have space. No number is closer than a
// gap to another.
func (f *Frame) stationsOnTop(s *page.Scene, marks []Mark, size float64) {
	labels := make([]page.Label, len(marks))
	for k, m := range marks {
		x := f.X(m.X)
		s.Line(x, f.T-3.2, x, f.T, InkHair)
		labels[k] = page.Label{Text: m.Label, At: page.Pt(x, f.T-5.2), Size: size, H: page.Middle}
	}
	apart := func(a, b *page.Label) bool { return math.Abs(a.At.X-b.At.X) > (a.Width()+b.Width())/2+size*0.32 }
	first, last := 0, len(marks)-1
	for _, step := range []int{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, math.MaxInt} {
		shown, fits := []int{first}, true
		for k := 1; k < last; k++ {
			n, err := strconv.Atoi(marks[k].Name)
			if err != nil {
				n = k
			}
			if n%step != 0 || step > 1 && (!apart(&labels[k], &labels[first]) || !apart(&labels[k], &labels[last])) {
				continue
			}
			fits = fits && apart(&labels[k], &labels[shown[len(shown)-1]])
			shown = append(shown, k)
		}
		if shown = append(shown, last); !fits || step == 1 && !apart(&labels[last], &labels[shown[len(shown)-2]]) {
			continue
		}
		for _, k := range shown {
			s.TryText(labels[k], size*0.32)
		}
		return
	}
}

// RankOf says how soon a station gets its number where there is no space for all: 1 for multiples of ten, 2 of
// five, 3 of two, 4 for others. A station without a number counts by its place k.
func RankOf(name string, k int) int {
	n, err := strconv.Atoi(name)
	if err != nil {
		n = k
	}
	for r, of := range []int{10, 5, 2} {
		if n%of == 0 {
			return r + 1
		}
	}
	return 4
}
