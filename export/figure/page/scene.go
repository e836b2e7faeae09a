package page

import (
	"image/color"
	"slices"
)

// A Pen draws lines.
type Pen struct {
	Colour color.NRGBA
	Width  float64 // points
	Dash   []float64
	Round  bool // round ends and corners
}

// An OpKind says what an Op draws.
type OpKind uint8

// Kinds of Op.
const (
	FillOp    OpKind = iota // the inside of the path, in the colour of the pen
	StrokeOp                // the lines of the path
	OutlineOp               // the lines of the path, each closed
	TextOp                  // the label
)

// An Op is one thing to draw.
type Op struct {
	Kind  OpKind
	Path  Path
	Pen   Pen
	Label Label
}

// A Scene is a page as a list of what to draw, in points (1/72 inch), made once and written in every format.
type Scene struct {
	W, H   float64
	Ops    []Op
	Boxes  []Box    // of the labels
	Words  []string // their texts
	Keep   []Box    // places that labels drawn later stay away from
	Title  string
	Detail string
	Dots   int     // per inch, of PNG files; 0: 300
	Panels []Panel // the frames of a section, from the top
	Places []Point // of the casts of a map, in their order
}

// A Panel is a frame of the page and the values at its edges: the horizontal axis at left and right, the vertical one
// at top and bottom.
type Panel struct{ L, T, R, B, X0, X1, Y0, Y1 float64 }

// New returns an empty page.
func New(w, h float64) *Scene { return &Scene{W: w, H: h} }

// Colours of the page.
var (
	Ink   = color.NRGBA{26, 28, 32, 255}
	Paper = color.NRGBA{255, 255, 255, 255}
)

func (s *Scene) draw(kind OpKind, p Path, n Pen) {
	if len(p) > 0 {
		s.Ops = append(s.Ops, Op{Kind: kind, Path: p, Pen: n})
	}
}

// Fill paints the inside of a path.
func (s *Scene) Fill(p Path, c color.NRGBA) { s.draw(FillOp, p, Pen{Colour: c}) }

// Stroke draws lines.
func (s *Scene) Stroke(p Path, n Pen) { s.draw(StrokeOp, p, n) }

// Outline draws closed rings.
func (s *Scene) Outline(p Path, n Pen) { s.draw(OutlineOp, p, n) }

// Line draws a straight line.
func (s *Scene) Line(x0, y0, x1, y1 float64, n Pen) { s.Stroke(Path{{{x0, y0}, {x1, y1}}}, n) }

// Text sets a label and remembers its box.
func (s *Scene) Text(l Label) {
	if l.Text == "" {
		return
	}
	if l.Colour == (color.NRGBA{}) {
		l.Colour = Ink
	}
	s.Ops = append(s.Ops, Op{Kind: TextOp, Label: l})
	s.Boxes = append(s.Boxes, l.Box())
	s.Words = append(s.Words, l.Text)
}

// Patched sets a label on a patch of colour that is larger than its box by margin.
func (s *Scene) Patched(l Label, margin float64, c color.NRGBA) {
	b := l.Box().Grown(margin)
	s.Fill(Path{b[:]}, c)
	s.Text(l)
}

// Paragraph sets a label as lines no wider than width, leading times the size of type apart, and returns
// where the next line would be.
func (s *Scene) Paragraph(l Label, width, leading float64) float64 {
	for _, l.Text = range l.Wrap(width) {
		s.Text(l)
		l.At.Y += l.Size * leading
	}
	return l.At.Y
}

// Fits reports whether a box with margin lies on the page and touches no label and no kept place.
func (s *Scene) Fits(b Box, margin float64) bool {
	g := b.Grown(margin)
	touched := func(o Box) bool { return g.Overlaps(o, 0) }
	return b.Within(0, 0, s.W, s.H) && !slices.ContainsFunc(s.Boxes, touched) && !slices.ContainsFunc(s.Keep, touched)
}

// TryText sets a label when there is space for it.
func (s *Scene) TryText(l Label, margin float64) bool {
	ok := s.Fits(l.Box(), margin)
	if ok {
		s.Text(l)
	}
	return ok
}

// Has reports whether a text is on the page.
func (s *Scene) Has(text string) bool { return slices.Contains(s.Words, text) }
