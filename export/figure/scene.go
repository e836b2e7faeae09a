package figure

import (
	"image/color"
	"math"
)

// pt is a point of the page, in points (1/72 inch) from its upper left corner, y downward.
type pt struct{ x, y float64 }

// A path is lines; filled by the even-odd rule, so rings inside rings are holes.
type path [][]pt

type align uint8

const (
	left align = iota
	middle
	right
)

// vertical anchors of a text: its base line, the middle of its capitals, their top, and below what hangs.
const (
	base align = iota
	centre
	top
	bottom
)

// A pen draws lines.
type pen struct {
	colour color.NRGBA
	width  float64 // points
	dash   []float64
	round  bool // round ends and corners
}

// A label is a text and how it stands.
type label struct {
	text   string
	at     pt
	size   float64
	h, v   align
	turn   float64 // degrees, counter-clockwise
	bold   bool
	colour color.NRGBA
}

func (l *label) face() *typeface {
	if l.bold {
		return strong
	}
	return regular
}

// box gives the rectangle that the text takes up.
func (l *label) box() box {
	w := textWidth(l.face(), l.text, l.size)
	x0 := 0.0
	switch l.h {
	case middle:
		x0 = -w / 2
	case right:
		x0 = -w
	}
	y := l.baseline()
	y0, y1 := y-capHeight*l.size, y+descent*l.size
	for _, r := range l.text {
		if _, ok := raised[r]; ok { // exponents stand higher than capitals
			y0 = y - (raise+smallScale*capHeight)*l.size
			break
		}
	}
	var b box
	s, c := math.Sincos(-l.turn * math.Pi / 180)
	for k, p := range rectBox(x0, y0, x0+w, y1) {
		b[k] = pt{l.at.x + p.x*c - p.y*s, l.at.y + p.x*s + p.y*c}
	}
	return b
}

// baseline is where the base line is below the anchor, before turning.
func (l *label) baseline() float64 {
	switch l.v {
	case centre:
		return capHeight * l.size / 2
	case top:
		return capHeight * l.size
	case bottom:
		return -descent * l.size
	}
	return 0
}

// start gives the beginning of the base line on the page.
func (l *label) start() pt {
	x := 0.0
	switch l.h {
	case middle:
		x = -textWidth(l.face(), l.text, l.size) / 2
	case right:
		x = -textWidth(l.face(), l.text, l.size)
	}
	y := l.baseline()
	s, c := math.Sincos(-l.turn * math.Pi / 180)
	return pt{l.at.x + x*c - y*s, l.at.y + x*s + y*c}
}

type opKind uint8

const (
	opFill opKind = iota
	opStroke
	opLine // stroke of closed paths
	opText
)

type op struct {
	kind   opKind
	path   path
	colour color.NRGBA
	pen    pen
	label  label
}

// A scene is a page as a list of what to draw, made once and written in every format. It knows where its words stand.
type scene struct {
	w, h   float64
	ops    []op
	boxes  []box    // of the labels
	words  []string // their texts
	keep   []box    // places that labels drawn later stay away from
	title  string
	detail string
}

func newScene(w, h float64) *scene { return &scene{w: w, h: h} }

func (s *scene) fill(p path, c color.NRGBA) {
	if len(p) > 0 {
		s.ops = append(s.ops, op{kind: opFill, path: p, colour: c})
	}
}

func (s *scene) stroke(p path, n pen) {
	if len(p) > 0 {
		s.ops = append(s.ops, op{kind: opStroke, path: p, pen: n})
	}
}

// outline strokes closed rings.
func (s *scene) outline(p path, n pen) {
	if len(p) > 0 {
		s.ops = append(s.ops, op{kind: opLine, path: p, pen: n})
	}
}

func (s *scene) line(x0, y0, x1, y1 float64, n pen) { s.stroke(path{{{x0, y0}, {x1, y1}}}, n) }

func rect(x0, y0, x1, y1 float64) path { return path{{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}} }

// text sets a label and remembers its box.
func (s *scene) text(l label) {
	if l.text == "" {
		return
	}
	if l.colour == (color.NRGBA{}) {
		l.colour = ink
	}
	s.ops = append(s.ops, op{kind: opText, label: l})
	s.boxes = append(s.boxes, l.box())
	s.words = append(s.words, l.text)
}

// fits says whether a box with margin lies on the page and touches no label and no kept place.
func (s *scene) fits(b box, margin float64) bool {
	g := b.grown(margin)
	for _, p := range b {
		if p.x < 0 || p.y < 0 || p.x > s.w || p.y > s.h {
			return false
		}
	}
	for _, o := range s.boxes {
		if g.overlaps(o, 0) {
			return false
		}
	}
	for _, o := range s.keep {
		if g.overlaps(o, 0) {
			return false
		}
	}
	return true
}

// tryText sets a label when there is room for it.
func (s *scene) tryText(l label, margin float64) bool {
	if !s.fits(l.box(), margin) {
		return false
	}
	s.text(l)
	return true
}

// Colours that are not data.
var (
	ink       = color.NRGBA{26, 28, 32, 255}
	paper     = color.NRGBA{255, 255, 255, 255}
	softInk   = color.NRGBA{92, 96, 104, 255}
	faint     = color.NRGBA{190, 193, 198, 255}
	seabed    = color.NRGBA{128, 120, 112, 255}
	unsounded = color.NRGBA{206, 201, 195, 255} // below casts where nobody knows the depth
	water     = color.NRGBA{246, 249, 251, 255}
	land      = color.NRGBA{214, 209, 200, 255}
	coast     = color.NRGBA{122, 116, 108, 255}
	noValue   = color.NRGBA{240, 240, 238, 255}
	hatchInk  = color.NRGBA{120, 122, 128, 255}
	alarm     = color.NRGBA{176, 32, 40, 255}
)

// Widths of lines and sizes of type, in points.
const (
	hair     = 0.35
	thin     = 0.5
	normal   = 0.8
	heavy    = 1.4
	mainType = 7.0
	smallTyp = 6.0
	tinyType = 5.4
)
