package figure

import (
	"bytes"
	"encoding/xml"
	"image/color"
	"io"
	"math"
	"strconv"
)

// writeSVG writes a scene as SVG 1.1.
func writeSVG(w io.Writer, s *scene) error {
	var b bytes.Buffer
	width, height := num(s.w), num(s.h)
	b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="` + width + `pt" height="` + height + `pt" viewBox="0 0 ` + width + " " + height +
		`" role="img" stroke-linejoin="round" fill-rule="evenodd">` + "\n<title>")
	escape(&b, s.title)
	b.WriteString("</title>\n<desc>")
	escape(&b, s.detail)
	b.WriteString("</desc>\n")
	svgGlyphs(&b, s)
	b.WriteString(`<path fill="#fff" d="M0 0H` + width + "V" + height + `H0Z"/>` + "\n")
	for i := range s.ops {
		o := &s.ops[i]
		switch o.kind {
		case opFill:
			b.WriteString(`<path fill="` + hex(o.colour) + `" d="`)
			svgPath(&b, o.path, true)
			b.WriteString("\"/>\n")
		case opStroke, opLine:
			b.WriteString(`<path fill="none" stroke="` + hex(o.pen.colour) + `" stroke-width="` + num(o.pen.width) + `"`)
			if len(o.pen.dash) > 0 {
				b.WriteString(` stroke-dasharray="`)
				for k, d := range o.pen.dash {
					if k > 0 {
						b.WriteByte(' ')
					}
					b.WriteString(num(d))
				}
				b.WriteString(`"`)
			}
			if o.pen.round {
				b.WriteString(` stroke-linecap="round"`)
			}
			b.WriteString(` d="`)
			svgPath(&b, o.path, o.kind == opLine)
			b.WriteString("\"/>\n")
		case opText:
			svgText(&b, &o.label)
		}
	}
	b.WriteString("</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

// svgGlyphs defines each glyph that the scene uses once, in thousandths of the font size. Text is drawn as outlines because a reader's
// machine may have no font of these widths; the words stand beside them for programs that read aloud or search. The names of glyphs
// are the same in every figure, and so are their shapes, so several figures may stand in one page.
func svgGlyphs(b *bytes.Buffer, s *scene) {
	b.WriteString("<defs>")
	done := map[string]bool{}
	for i := range s.ops {
		if s.ops[i].kind != opText {
			continue
		}
		face := s.ops[i].label.face()
		for _, r := range setRuns(face, s.ops[i].label.text) {
			for _, ch := range r.text {
				id := glyphID(face, ch)
				if done[id] {
					continue
				}
				done[id] = true
				b.WriteString(`<path id="` + id + `" d="`)
				open := false
				for _, g := range face.outline(ch) {
					if g.op == 'M' && open {
						b.WriteByte('z')
					}
					open = true
					b.WriteByte(g.op)
					for k := range g.last {
						if k > 0 {
							b.WriteByte(' ')
						}
						b.WriteString(strconv.Itoa(int(math.Round(g.p[k].x * 1000))))
						b.WriteByte(' ')
						b.WriteString(strconv.Itoa(int(math.Round(g.p[k].y * 1000))))
					}
				}
				if open {
					b.WriteByte('z')
				}
				b.WriteString(`"/>`)
			}
		}
	}
	b.WriteString("</defs>\n")
}

func glyphID(t *typeface, ch rune) string {
	kind := "r"
	if t.bold {
		kind = "b"
	}
	return "glyph-" + kind + strconv.FormatInt(int64(ch), 16)
}

func svgText(b *bytes.Buffer, l *label) {
	face := l.face()
	at := l.start()
	b.WriteString(`<g role="img" aria-label="`)
	escape(b, l.text)
	b.WriteString(`" fill="` + hex(l.colour) + `" fill-rule="nonzero" transform="translate(` + num(at.x) + " " + num(at.y) + ")")
	if l.turn != 0 {
		b.WriteString(" rotate(" + num(-l.turn) + ")")
	}
	b.WriteString(" scale(" + strconv.FormatFloat(l.size/1000, 'f', 5, 64) + `)">`)
	x := 0.0
	for _, r := range setRuns(face, l.text) {
		if r.scale != 1 {
			b.WriteString(`<g transform="translate(` + strconv.Itoa(int(math.Round(x*1000))) + " " + strconv.Itoa(int(math.Round(-r.rise*1000))) +
				") scale(" + num(r.scale) + `)">`)
		}
		at := 0.0
		if r.scale == 1 {
			at = x
		}
		for _, ch := range r.text {
			if ch != ' ' {
				b.WriteString(`<use xlink:href="#` + glyphID(face, ch) + `" x="` + strconv.Itoa(int(math.Round(at*1000))) + `"/>`)
			}
			at += face.width(ch)
		}
		if r.scale != 1 {
			b.WriteString("</g>")
		}
		x += r.width
	}
	b.WriteString("</g>\n")
}

func escape(b *bytes.Buffer, s string) { _ = xml.EscapeText(b, []byte(s)) } // a bytes.Buffer does not fail

// svgPath writes a path in hundredths of a point, each point as its step from the one before, which is shorter.
func svgPath(b *bytes.Buffer, p path, closed bool) {
	for _, line := range p {
		var lx, ly int64
		for k, q := range line {
			x, y := hundredths(q.x), hundredths(q.y)
			switch {
			case k == 0:
				b.WriteByte('M')
				writeHundredths(b, x)
				b.WriteByte(' ')
				writeHundredths(b, y)
				b.WriteByte('l')
			case x == lx && y == ly && k < len(line)-1:
				continue
			default:
				if k > 1 && b.Bytes()[b.Len()-1] != 'l' && x >= lx {
					b.WriteByte(' ')
				}
				writeHundredths(b, x-lx)
				if y >= ly {
					b.WriteByte(' ')
				}
				writeHundredths(b, y-ly)
			}
			lx, ly = x, y
		}
		if bb := b.Bytes(); bb[len(bb)-1] == 'l' {
			b.Truncate(b.Len() - 1)
		}
		if closed {
			b.WriteByte('z')
		}
	}
}

func hundredths(x float64) int64 { return int64(math.Floor(x*100 + 0.5)) }

func writeHundredths(b *bytes.Buffer, v int64) {
	if v < 0 {
		b.WriteByte('-')
		v = -v
	}
	if v >= 100 || v == 0 {
		b.WriteString(strconv.FormatInt(v/100, 10))
	}
	if f := v % 100; f != 0 {
		b.WriteByte('.')
		b.WriteByte(byte('0' + f/10))
		if f%10 != 0 {
			b.WriteByte(byte('0' + f%10))
		}
	}
}

func num(x float64) string {
	var b bytes.Buffer
	writeHundredths(&b, hundredths(x))
	return b.String()
}

func hex(c color.NRGBA) string {
	const digits = "0123456789abcdef"
	return string([]byte{'#', digits[c.R>>4], digits[c.R&15], digits[c.G>>4], digits[c.G&15], digits[c.B>>4], digits[c.B&15]})
}
