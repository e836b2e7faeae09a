package figure

import (
	"fmt"
	"math"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/section/geostrophy"
)

// direction writes out which way is positive.
func (f *Velocity) direction() string {
	deg, turns := f.Result.PositiveBearing()
	side, also := string(f.Result.Positive), ""
	switch p := f.Result.Positive; {
	case math.IsNaN(deg), p == geostrophy.In, p == geostrophy.Out:
		return "Positive: " + f.Result.PositiveText() + "."
	case p == geostrophy.Left, p == geostrophy.Right:
		side = "to the " + side + " of the direction of the section"
		also = ", " + side
	}
	if turns {
		var at []float64
		for k := range f.Result.Pairs {
			if q := f.Result.Pairs[k].PositiveDeg; !math.IsNaN(q) {
				at = append(at, q)
			}
		}
		return fmt.Sprintf("Positive: %s; the section turns: towards %s at its first pair, towards %s at its last.",
			side, geostrophy.Compass(at[0]), geostrophy.Compass(at[len(at)-1]))
	}
	return fmt.Sprintf("Positive: towards %s%s.", geostrophy.Compass(deg), also)
}

// intoPage reports whether positive velocity points into the page, for a reader who has the first station at
// the left: to the left of the direction of the section is into the page. ok is false where it changes along
// the section.
func (f *Velocity) intoPage() (into, ok bool) {
	left, right := false, false
	for k := range f.Result.Pairs {
		q := &f.Result.Pairs[k]
		if math.IsNaN(q.PositiveDeg) || math.IsNaN(q.AzimuthDeg) {
			continue
		}
		if math.Remainder(q.PositiveDeg-q.AzimuthDeg, 360) < 0 {
			left = true
		} else {
			right = true
		}
	}
	return left, left != right
}

// pageSign draws the sign of a current into the page, the feathers of an arrow, or out of it, the point of one.
func pageSign(into bool) func(s *page.Scene, f *chart.Frame) {
	return func(s *page.Scene, f *chart.Frame) {
		q, r := f.Mid(), min(2.7, (f.B-f.T)/2)
		ring := page.Path{page.Circle(q, r)}
		s.Fill(ring, page.Paper)
		s.Outline(ring, chart.InkThin)
		if !into {
			dot(s, q, r*0.36)
			return
		}
		x := page.Rect(q.X-r*0.7, q.Y-r*0.7, q.X+r*0.7, q.Y+r*0.7)[0]
		s.Stroke(page.Path{{x[0], x[2]}, {x[1], x[3]}}, chart.InkThin)
	}
}

// signKeys explains the signs of the velocity: which way is positive and which negative.
func (f *Velocity) signKeys() []chart.Key {
	into, ok := f.intoPage()
	if !ok {
		return nil
	}
	words := map[bool]string{true: "into the page", false: "out of the page"}
	positive, negative := "positive: "+words[into], "negative: "+words[!into]
	if deg, turns := f.Result.PositiveBearing(); !math.IsNaN(deg) && !turns {
		positive += ", towards " + geostrophy.Compass(deg)
		negative += ", towards " + geostrophy.Compass(deg+180)
	}
	return []chart.Key{{Draw: pageSign(into), Text: positive}, {Draw: pageSign(!into), Text: negative}}
}
