package page

import (
	"math"
	"testing"

	"golang.org/x/image/font/sfnt"
)

// The font has the signs that figures use.
func TestFontHasTheSigns(t *testing.T) {
	for _, r := range "σΔΘ°µ−×–±½" {
		var b sfnt.Buffer
		if g, err := regular.font.GlyphIndex(&b, r); err != nil || g == 0 {
			t.Errorf("the font has no %c", r)
		}
	}
}

// The tests of overlaps are as good as the boxes: those of turned and level texts hold all ink and are no
// larger than the line of type, and boxes that cross are found.
func TestBoxesHoldTheInk(t *testing.T) {
	for _, l := range []Label{
		{Text: "Sea pressure (dbar)", Size: 7},
		{Text: "−0.25 µmol kg⁻¹ σ₀", Size: 9, Bold: true},
		{Text: "Sea pressure (dbar)", Size: 7, Turn: 90, H: Middle, V: Base},
		{Text: "34.6905", Size: 6, Turn: 37, H: Middle, V: Centre},
		{Text: "gQjy_|", Size: 8, Turn: -61, H: Right, V: Top},
	} {
		l.At, l.Colour = Point{100, 100}, Ink
		s := New(200, 200)
		s.Text(l)
		img := raster(s)
		b := l.Box().Grown(0.5) // for the smoothing of edges, and a stroke that reaches a little further
		inked, outside := 0, 0
		lo, hi := math.Inf(1), math.Inf(-1)
		along := Point{math.Cos(l.Turn * math.Pi / 180), -math.Sin(l.Turn * math.Pi / 180)}
		for y := range img.Bounds().Dy() {
			for x := range img.Bounds().Dx() {
				if c := img.RGBAAt(x, y); c.R > 128 {
					continue
				}
				inked++
				q := Point{(float64(x) + 0.5) * 72 / DotsPerInch, (float64(y) + 0.5) * 72 / DotsPerInch}
				a := q.X*along.X + q.Y*along.Y
				lo, hi = math.Min(lo, a), math.Max(hi, a)
				if !b.Overlaps(RectBox(q.X, q.Y, q.X+1e-9, q.Y+1e-9), 0) {
					outside++
				}
			}
		}
		if inked < 50 || outside > 0 {
			t.Errorf("%q: %d of %d points of ink lie outside the box", l.Text, outside, inked)
		}
		box := l.Box()
		if w := math.Hypot(box[1].X-box[0].X, box[1].Y-box[0].Y); w > hi-lo+1.5 {
			t.Errorf("%q: the box is %.1f points long, the text %.1f", l.Text, w, hi-lo)
		}
	}
	a := RectBox(10, 10, 30, 20)
	for _, c := range []struct {
		b    Box
		want bool
	}{
		{RectBox(29, 19, 40, 40), true}, {RectBox(31, 10, 40, 20), false}, {RectBox(10, 21, 30, 30),
			false}, {RectBox(15, 12, 20, 15), true},
		// turned by 45 degrees; the second touches none though level boxes around both would
		{Box{{35, 5}, {38, 8}, {23, 23}, {20, 20}}, true}, {Box{{40, 10}, {43, 13}, {28, 28}, {25, 25}}, false},
	} {
		if a.Overlaps(c.b, 0) != c.want || c.b.Overlaps(a, 0) != c.want {
			t.Errorf("%v over %v: not %v", c.b, a, c.want)
		}
	}
}
