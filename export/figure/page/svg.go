package page

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/color"
	"io"
	"math"
	"strconv"
)

// writeSVG writes a scene as SVG 1.1.
func writeSVG(w io.Writer, s *Scene) error {
	var b bytes.Buffer
	width, height := num(s.W), num(s.H)
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" `+
		`width="%[1]spt" height="%[2]spt" viewBox="0 0 %[1]s %[2]s" role="img" xml:lang="en" stroke-linejoin="round" `+
		`fill-rule="evenodd">`+
		"\n<title>%[3]s</title>\n<desc>%[4]s</desc>\n", width, height, escape(s.Title), escape(s.Detail))
	svgGlyphs(&b, s)
	fmt.Fprintf(&b, `<path fill="#fff" d="M0 0H%sV%sH0Z"/>`+"\n", width, height)
	for i := range s.Ops {
		o := &s.Ops[i]
		switch o.Kind {
		case FillOp:
			fmt.Fprintf(&b, `<path fill="%s" d="`, hex(o.Pen.Colour))
			svgPath(&b, o.Path, true)
		case StrokeOp, OutlineOp:
			fmt.Fprintf(&b, `<path fill="none" stroke="%s" stroke-width="%s"`, hex(o.Pen.Colour), num(o.Pen.Width))
			for k, d := range o.Pen.Dash {
				b.WriteString([]string{` stroke-dasharray="`, " "}[min(k, 1)] + num(d))
			}
			if len(o.Pen.Dash) > 0 {
				b.WriteByte('"')
			}
			if o.Pen.Round {
				b.WriteString(` stroke-linecap="round"`)
			}
			b.WriteString(` d="`)
			svgPath(&b, o.Path, o.Kind == OutlineOp)
		case TextOp:
			svgText(&b, &o.Label)
			continue
		}
		b.WriteString("\"/>\n")
	}
	b.WriteString("</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

// svgGlyphs defines each glyph that the scene uses once, in thousandths of the font size. Text is drawn as
// outlines because a reader's machine may have no font of these widths; the words are written beside them for
// programs that read aloud or search. The names of glyphs are the same in every figure, and so are their
// shapes, so several figures may share a page.
func svgGlyphs(b *bytes.Buffer, s *Scene) {
	b.WriteString("<defs>")
	done := map[string]bool{}
	for i := range s.Ops {
		l := &s.Ops[i].Label
		for _, r := range setRuns(l.face(), l.Text) {
			for _, ch := range r.text {
				id := glyphID(l, ch)
				if done[id] {
					continue
				}
				done[id] = true
				fmt.Fprintf(b, `<path id="%s" d="`, id)
				closing := ""
				for _, g := range l.face().outline(ch) {
					if g.op == 'M' {
						b.WriteString(closing)
					}
					closing = "z"
					b.WriteByte(g.op)
					for k, p := range g.p[:g.last] {
						fmt.Fprintf(b, "%s%d %d", []string{"", " "}[min(k, 1)], thousandths(p.X), thousandths(p.Y))
					}
				}
				b.WriteString(closing + `"/>`)
			}
		}
	}
	b.WriteString("</defs>\n")
}

func glyphID(l *Label, ch rune) string {
	if l.Bold {
		return fmt.Sprintf("glyph-b%x", ch)
	}
	return fmt.Sprintf("glyph-r%x", ch)
}

func thousandths(x float64) int { return int(math.Round(x * 1000)) }

func svgText(b *bytes.Buffer, l *Label) {
	at := l.start()
	fmt.Fprintf(b, `<g role="img" aria-label="%s" fill="%s" fill-rule="nonzero" transform="translate(%s %s)`,
		escape(l.Text), hex(l.Colour), num(at.X), num(at.Y))
	if l.Turn != 0 {
		fmt.Fprintf(b, " rotate(%s)", num(-l.Turn))
	}
	fmt.Fprintf(b, ` scale(%.5f)">`, l.Size/1000)
	x := 0.0
	for _, r := range setRuns(l.face(), l.Text) {
		at, closing := x, ""
		if r.scale != 1 {
			fmt.Fprintf(b, `<g transform="translate(%d %d) scale(%s)">`, thousandths(x), thousandths(-r.rise),
				num(r.scale))
			at, closing = 0, "</g>"
		}
		for _, ch := range r.text {
			if ch != ' ' {
				fmt.Fprintf(b, `<use xlink:href="#%s" x="%d"/>`, glyphID(l, ch), thousandths(at))
			}
			at += l.face().width(ch)
		}
		b.WriteString(closing)
		x += r.width
	}
	b.WriteString("</g>\n")
}

func escape(s string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(s)) // a bytes.Buffer does not fail
	return b.String()
}

// svgPath writes a path in hundredths of a point, each point as its step from the one before, which is shorter.
func svgPath(b *bytes.Buffer, p Path, closed bool) {
	for _, line := range p {
		var lx, ly int64
		for k, q := range line {
			x, y := hundredths(q.X), hundredths(q.Y)
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

func hex(c color.NRGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
