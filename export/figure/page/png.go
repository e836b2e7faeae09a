package page

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/draw"
	"image/png"
	"io"
	"math"
	"slices"

	"git.sr.ht/~sbinet/gg"
)

// DotsPerInch is the resolution of PNG files where a scene has none.
const DotsPerInch = 300

// dotsPerInch returns the resolution of PNG files.
func (s *Scene) dotsPerInch() float64 { return float64(cmp.Or(s.Dots, DotsPerInch)) }

// raster paints a scene. Text is painted as outlines, so that turned text is as sharp as level text.
func raster(s *Scene) *image.RGBA {
	dotsPerPoint := s.dotsPerInch() / 72
	img := image.NewRGBA(image.Rect(0, 0, int(math.Round(s.W*dotsPerPoint)), int(math.Round(s.H*dotsPerPoint))))
	draw.Draw(img, img.Bounds(), image.NewUniform(Paper), image.Point{}, draw.Src)
	c := gg.NewContextForRGBA(img)
	c.SetLineJoinRound()
	for i := range s.Ops {
		o := &s.Ops[i]
		switch o.Kind {
		case FillOp:
			c.SetFillRule(gg.FillRuleEvenOdd)
			c.SetColor(o.Pen.Colour)
			trace(c, o.Path, true, dotsPerPoint)
			c.Fill()
		case StrokeOp, OutlineOp:
			c.SetColor(o.Pen.Colour)
			c.SetLineWidth(o.Pen.Width * dotsPerPoint)
			dash := make([]float64, len(o.Pen.Dash))
			for k, d := range o.Pen.Dash {
				dash[k] = d * dotsPerPoint
			}
			c.SetDash(dash...)
			c.SetLineCapButt()
			if o.Pen.Round {
				c.SetLineCapRound()
			}
			trace(c, o.Path, o.Kind == OutlineOp, dotsPerPoint)
			c.Stroke()
		case TextOp:
			paintText(c, &o.Label, dotsPerPoint)
		}
	}
	return img
}

func paintText(c *gg.Context, l *Label, dotsPerPoint float64) {
	face := l.face()
	at := l.start()
	sin, cos := math.Sincos(-l.Turn * math.Pi / 180)
	c.SetFillRule(gg.FillRuleWinding)
	c.SetColor(l.Colour)
	x := 0.0
	for _, r := range setRuns(face, l.Text) {
		for _, ch := range r.text {
			place := func(p Point) (float64, float64) {
				px, py := (x+p.X*r.scale)*l.Size, (p.Y*r.scale-r.rise)*l.Size
				return (at.X + px*cos - py*sin) * dotsPerPoint, (at.Y + px*sin + py*cos) * dotsPerPoint
			}
			for _, g := range face.outline(ch) {
				ax, ay := place(g.p[0])
				switch g.op {
				case 'M':
					c.ClosePath()
					c.MoveTo(ax, ay)
				case 'L':
					c.LineTo(ax, ay)
				case 'Q':
					bx, by := place(g.p[1])
					c.QuadraticTo(ax, ay, bx, by)
				case 'C':
					bx, by := place(g.p[1])
					ex, ey := place(g.p[2])
					c.CubicTo(ax, ay, bx, by, ex, ey)
				}
			}
			c.ClosePath()
			x += face.width(ch) * r.scale
		}
	}
	c.Fill()
}

// writePNG writes a scene at its resolution, which the file states (chunk pHYs: dots per metre), with its
// title and description as text (chunks iTXt).
func writePNG(w io.Writer, s *Scene) error {
	var b bytes.Buffer
	if err := png.Encode(&b, raster(s)); err != nil {
		return err
	}
	const headEnd = 8 + 4 + 4 + 13 + 4 // signature; length, name, content and check sum of IHDR
	perMetre := uint32(math.Round(s.dotsPerInch() / 0.0254))
	density := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, perMetre), perMetre)
	out := append(slices.Clone(b.Bytes()[:headEnd]), chunk("pHYs", append(density, 1))...)
	for _, t := range [][2]string{{"Title", s.Title}, {"Description", s.Detail}, {"Software", "castwright"}} {
		// after the keyword: not compressed, no method, the language, no translated keyword
		out = append(out, chunk("iTXt", []byte(t[0]+"\x00\x00\x00en\x00\x00"+t[1]))...)
	}
	_, err := w.Write(append(out, b.Bytes()[headEnd:]...))
	return err
}

// chunk returns a chunk of a PNG file: length, name, content and check sum.
func chunk(name string, content []byte) []byte {
	c := binary.BigEndian.AppendUint32(nil, uint32(len(content)))
	c = append(append(c, name...), content...)
	return binary.BigEndian.AppendUint32(c, crc32.ChecksumIEEE(c[4:]))
}
