package page

import (
	"bytes"
	"fmt"
	"io"
	"time"
	"unicode/utf16"

	"codeberg.org/go-pdf/fpdf"
)

// writePDF writes a scene as one page of its size. Text stays text, in the parts of the embedded fonts that
// are used. The dates inside are those given, never the clock's.
func writePDF(w io.Writer, s *Scene, stamp time.Time) error {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: s.W, Ht: s.H}})
	if stamp.IsZero() {
		stamp = time.Unix(0, 0)
	}
	doc.SetCreationDate(stamp.UTC())
	doc.SetModificationDate(stamp.UTC())
	doc.SetCatalogSort(true)
	doc.SetProducer("castwright", true)
	doc.SetTitle(s.Title, true)
	doc.SetSubject(s.Detail, true)
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	doc.SetLineJoinStyle("round")
	uses := map[bool]bool{}
	for i := range s.Ops {
		if o := &s.Ops[i]; o.Kind == TextOp {
			uses[o.Label.Bold] = true
		}
	}
	for bold, face := range []*typeface{regular, strong} {
		if uses[bold == 1] {
			doc.AddUTF8FontFromBytes(pdfFamilies[bold], "", face.ttf)
		}
	}
	doc.SetLang("en")
	doc.AddPage()
	alternative := "FEFF" // UTF-16, as text strings of PDF are
	for _, u := range utf16.Encode([]rune(s.Title + ". " + s.Detail)) {
		alternative += fmt.Sprintf("%04X", u)
	}
	doc.RawWriteStr("/Figure <</Lang (en) /Alt <" + alternative + ">>> BDC")
	for i := range s.Ops {
		o := &s.Ops[i]
		switch o.Kind {
		case FillOp:
			doc.SetFillColor(int(o.Pen.Colour.R), int(o.Pen.Colour.G), int(o.Pen.Colour.B))
			trace(doc, o.Path, true, 1)
			doc.DrawPath("F*")
		case StrokeOp, OutlineOp:
			doc.SetDrawColor(int(o.Pen.Colour.R), int(o.Pen.Colour.G), int(o.Pen.Colour.B))
			doc.SetLineWidth(o.Pen.Width)
			doc.SetDashPattern(o.Pen.Dash, 0)
			if o.Pen.Round {
				doc.SetLineCapStyle("round")
			} else {
				doc.SetLineCapStyle("butt")
			}
			trace(doc, o.Path, o.Kind == OutlineOp, 1)
			doc.DrawPath("D")
		case TextOp:
			pdfText(doc, &o.Label)
		}
	}
	doc.RawWriteStr("EMC")
	var b bytes.Buffer
	if err := doc.Output(&b); err != nil {
		return err
	}
	out := b.Bytes()
	for k, name := range pdfNames { // of the same length, so that no offset of the file changes
		out = bytes.ReplaceAll(out, []byte("/utf8"+pdfFamilies[k]), []byte("/"+name))
	}
	_, err := w.Write(out)
	return err
}

// pdfNames are the names of the fonts inside the file, regular and bold, as those of subsets are written;
// pdfFamilies are names for the library, which puts utf8 before them.
var (
	pdfNames    = [2]string{"CWFIGS+LiberationSans", "CWFIGS+LiberationSans-Bold"}
	pdfFamilies = [2]string{"liberationregular", "liberationboldtypeface"}
)

func pdfText(doc *fpdf.Fpdf, l *Label) {
	family := pdfFamilies[0]
	if l.Bold {
		family = pdfFamilies[1]
	}
	at := l.start()
	doc.SetTextColor(int(l.Colour.R), int(l.Colour.G), int(l.Colour.B))
	if l.Turn != 0 {
		doc.TransformBegin()
		doc.TransformRotate(l.Turn, at.X, at.Y)
	}
	x := 0.0
	for _, r := range setRuns(l.face(), l.Text) {
		doc.SetFont(family, "", l.Size*r.scale)
		doc.Text(at.X+x*l.Size, at.Y-r.rise*l.Size, r.text)
		x += r.width
	}
	if l.Turn != 0 {
		doc.TransformEnd()
	}
}
