package figure

import (
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// writePDF writes a scene as one page of its size. Text stays text, in the parts of the embedded fonts that are used. The dates inside are
// those given, never the clock's.
func writePDF(w io.Writer, s *scene, stamp time.Time) error {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: s.w, Ht: s.h}})
	if stamp.IsZero() {
		stamp = time.Unix(0, 0)
	}
	doc.SetCreationDate(stamp.UTC())
	doc.SetModificationDate(stamp.UTC())
	doc.SetCatalogSort(true)
	doc.SetProducer("castwright", true)
	doc.SetTitle(s.title, true)
	doc.SetSubject(s.detail, true)
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.SetLineJoinStyle("round")
	uses := map[bool]bool{}
	for i := range s.ops {
		if o := &s.ops[i]; o.kind == opText {
			uses[o.label.bold] = true
		}
	}
	if uses[false] {
		doc.AddUTF8FontFromBytes("sans", "", regular.ttf)
	}
	if uses[true] {
		doc.AddUTF8FontFromBytes("sans", "B", strong.ttf)
	}
	doc.AddPage()
	trace := func(p path, closed bool) {
		for _, line := range p {
			for k, q := range line {
				if k == 0 {
					doc.MoveTo(q.x, q.y)
				} else {
					doc.LineTo(q.x, q.y)
				}
			}
			if closed {
				doc.ClosePath()
			}
		}
	}
	for i := range s.ops {
		o := &s.ops[i]
		switch o.kind {
		case opFill:
			doc.SetFillColor(int(o.colour.R), int(o.colour.G), int(o.colour.B))
			trace(o.path, true)
			doc.DrawPath("F*")
		case opStroke, opLine:
			doc.SetDrawColor(int(o.pen.colour.R), int(o.pen.colour.G), int(o.pen.colour.B))
			doc.SetLineWidth(o.pen.width)
			doc.SetDashPattern(o.pen.dash, 0)
			if o.pen.round {
				doc.SetLineCapStyle("round")
			} else {
				doc.SetLineCapStyle("butt")
			}
			trace(o.path, o.kind == opLine)
			doc.DrawPath("D")
		case opText:
			pdfText(doc, &o.label)
		}
	}
	if doc.Err() {
		return doc.Error()
	}
	return doc.Output(w)
}

func pdfText(doc *fpdf.Fpdf, l *label) {
	style := ""
	if l.bold {
		style = "B"
	}
	at := l.start()
	doc.SetTextColor(int(l.colour.R), int(l.colour.G), int(l.colour.B))
	if l.turn != 0 {
		doc.TransformBegin()
		doc.TransformRotate(l.turn, at.x, at.y)
	}
	x := 0.0
	for _, r := range setRuns(l.face(), l.text) {
		doc.SetFont("sans", style, l.size*r.scale)
		doc.Text(at.x+x*l.size, at.y-r.rise*l.size, r.text)
		x += r.width
	}
	if l.turn != 0 {
		doc.TransformEnd()
	}
}
