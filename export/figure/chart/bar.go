package chart

import (
	"image/color"
	"math"
	"strings"

	"github.com/castwright/castwright/export/figure/page"
)

// StepTick is how far a tick sticks out at the left of a colour bar where the step between levels changes.
const StepTick = 3.0

// stepChanges reports whether the step above a level is another than that below it.
func stepChanges(levels []float64, k int) bool {
	if k == 0 || k == len(levels)-1 {
		return false
	}
	below, above := levels[k]-levels[k-1], levels[k+1]-levels[k]
	return math.Abs(above-below) > 1e-6*max(above, below)
}

// ColourBar draws the bands one above the other with their levels, those below zero dashed as their lines are, a tick
// at the left where the step changes, and the unit on top. It returns the places of the lowest and the highest band.
func ColourBar(p *Sheet, t, b float64, levels []float64, colours []color.NRGBA, units string) (lowest, highest Frame) {
	s := p.Scene
	l := p.R + 8
	r := l + 8
	power := TenPower(levels)
	if u := strings.TrimSpace(PowerText(power) + " " + units); u != "" {
		p.Label(u, min(l, s.W-3-page.TextWidth(u, p.Size)), t, page.Left, page.Top)
		t += p.Size * 1.45
	}
	n := float64(len(colours))
	h := (b - t) / n
	for k, c := range colours {
		y1 := b - float64(k)*h
		s.Fill(page.Rect(l, y1-h, r, y1), c)
	}
	s.Outline(page.Rect(l, t, r, b), InkThin)
	each := 1
	for float64(each)*h < p.Size*1.08 {
		each++
	}
	from := 0
	if colourOfZero(levels) {
		from = (len(levels) / 2) % each
	}
	for k, v := range levels {
		y := b - float64(k+1)*h
		n := InkHair
		if v < 0 && colourOfZero(levels) {
			n.Dash = negativeDash
		}
		s.Line(l, y, r, y, n)
		if stepChanges(levels, k) {
			s.Line(l-StepTick, y, l, y, page.Pen{Colour: page.Ink, Width: Normal})
		}
		if (k-from)%each != 0 {
			continue
		}
		s.Line(r, y, r+1.8, y, InkThin)
		p.Label(Scaled(power)(v), r+3, y, page.Left, page.Centre)
	}
	return Frame{L: l, T: b - h, R: r, B: b}, Frame{L: l, T: t, R: r, B: t + h}
}
