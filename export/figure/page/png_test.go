package page

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math/rand/v2"
	"testing"
)

// What encode writes must be read back, dot by dot, by another reader of PNG.
func TestEncode(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	for _, size := range []image.Point{{1, 1}, {7, 3}, {300, 200}} {
		whole := image.NewRGBA(image.Rect(0, 0, size.X, size.Y))
		for y := range size.Y {
			for x := range size.X {
				whole.SetRGBA(x, y, color.RGBA{uint8(x), uint8(y), uint8(rng.Uint32()), 255})
			}
		}
		var b bytes.Buffer
		if err := encode(&b, whole); err != nil {
			t.Fatal(err)
		}
		got, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		if got.Bounds() != whole.Rect {
			t.Fatalf("%v becomes %v", whole.Rect, got.Bounds())
		}
		for y := range size.Y {
			for x := range size.X {
				if c := color.RGBAModel.Convert(got.At(x, y)); c != whole.RGBAAt(x, y) {
					t.Fatalf("dot %d, %d is %v, not %v", x, y, c, whole.RGBAAt(x, y))
				}
			}
		}
	}
}
