package figure

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/draw"
	"image/png"
	"io"
	"math"

	"git.sr.ht/~sbinet/gg"
)

// DotsPerInch is the resolution of PNG files.
const DotsPerInch = 300

const dotsPerPoint = DotsPerInch / 72.0

// raster paints a scene. Text is painted as outlines, so that turned text is as sharp as level text.
func raster(s *scene) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, int(math.Round(s.w*dotsPerPoint)), int(math.Round(s.h*dotsPerPoint))))
	draw.Draw(img, img.Bounds(), image.NewUniform(paper), image.Point{}, draw.Src)
	c := gg.NewContextForRGBA(img)
	c.SetLineJoinRound()
	trace := func(p path, closed bool) {
		for _, line := range p {
			for k, q := range line {
				if k == 0 {
					c.MoveTo(q.x*dotsPerPoint, q.y*dotsPerPoint)
				} else {
					c.LineTo(q.x*dotsPerPoint, q.y*dotsPerPoint)
				}
			}
			if closed {
				c.ClosePath()
			}
		}
	}
	for i := range s.ops {
		o := &s.ops[i]
		switch o.kind {
		case opFill:
			c.SetFillRule(gg.FillRuleEvenOdd)
			c.SetColor(o.colour)
			trace(o.path, true)
			c.Fill()
		case opStroke, opLine:
			c.SetColor(o.pen.colour)
			c.SetLineWidth(o.pen.width * dotsPerPoint)
			dash := make([]float64, len(o.pen.dash))
			for k, d := range o.pen.dash {
				dash[k] = d * dotsPerPoint
			}
			c.SetDash(dash...)
			c.SetLineCapButt()
			if o.pen.round {
				c.SetLineCapRound()
			}
			trace(o.path, o.kind == opLine)
			c.Stroke()
		case opText:
			paintText(c, &o.label)
		}
	}
	return img
}

func paintText(c *gg.Context, l *label) {
	face := l.face()
	at := l.start()
	sin, cos := math.Sincos(-l.turn * math.Pi / 180)
	c.SetFillRule(gg.FillRuleWinding)
	c.SetColor(l.colour)
	x := 0.0
	for _, r := range setRuns(face, l.text) {
		for _, ch := range r.text {
			place := func(p pt) (float64, float64) {
				px, py := (x+p.x*r.scale)*l.size, (p.y*r.scale-r.rise)*l.size
				return (at.x + px*cos - py*sin) * dotsPerPoint, (at.y + px*sin + py*cos) * dotsPerPoint
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

// writePNG writes a scene at 300 dots per inch, and says so in the file (chunk pHYs: dots per metre).
func writePNG(w io.Writer, s *scene) error {
	var b bytes.Buffer
	if err := png.Encode(&b, raster(s)); err != nil {
		return err
	}
	const headEnd = 8 + 4 + 4 + 13 + 4 // signature; length, name, content and check sum of IHDR
	perMetre := uint32(math.Round(DotsPerInch / 0.0254))
	chunk := binary.BigEndian.AppendUint32(nil, 9)
	chunk = append(chunk, "pHYs"...)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = append(chunk, 1)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	for _, part := range [][]byte{b.Bytes()[:headEnd], chunk, b.Bytes()[headEnd:]} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}
