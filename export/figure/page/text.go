package page

import (
	"image/color"
	"math"
	"strings"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// An Align says on which side of its point a text is.
type Align uint8

// Level anchors of a text.
const (
	Left Align = iota
	Middle
	Right
)

// Upright anchors of a text: its base line, the middle of its capitals, their top, and below what hangs.
const (
	Base Align = iota
	Centre
	Top
	Bottom
)

// A Label is a text with its place.
type Label struct {
	Text   string
	At     Point
	Size   float64
	H, V   Align
	Turn   float64 // degrees, counter-clockwise
	Bold   bool
	Colour color.NRGBA // Ink when not given
}

func (l *Label) face() *typeface {
	if l.Bold {
		return strong
	}
	return regular
}

// Width returns the length of the text in points.
func (l *Label) Width() float64 { return runsWidth(setRuns(l.face(), l.Text)) * l.Size }

// origin returns the beginning of the base line from the anchor, before turning.
func (l *Label) origin() (x, y float64) {
	return -l.Width() / 2 * float64(l.H), [...]float64{Base: 0, Centre: CapHeight / 2, Top: CapHeight,
		Bottom: -descent}[l.V] * l.Size
}

// turned returns the point of the page that lies x and y from the anchor before turning.
func (l *Label) turned(x, y float64) Point {
	s, c := math.Sincos(-l.Turn * math.Pi / 180)
	return Point{l.At.X + x*c - y*s, l.At.Y + x*s + y*c}
}

// Box returns the rectangle that the text takes up.
func (l *Label) Box() Box {
	x, y := l.origin()
	above := CapHeight * l.Size
	if strings.ContainsFunc(l.Text, func(r rune) bool { return raised[r] != 0 }) { // exponents reach above capitals
		above = (raise + smallScale*CapHeight) * l.Size
	}
	b := RectBox(x, y-above, x+l.Width(), y+descent*l.Size)
	for k, p := range b {
		b[k] = l.turned(p.X, p.Y)
	}
	return b
}

// start returns the beginning of the base line on the page.
func (l *Label) start() Point { return l.turned(l.origin()) }

// A typeface is one embedded font with its advances, in units of the font size. No kerning is applied, so
// that all formats set a line alike.
type typeface struct {
	ttf   []byte
	font  *sfnt.Font
	perEm float64

	mu       sync.Mutex
	advance  map[rune]float64
	outlines map[rune][]segment
}

// A segment is one piece of a glyph's outline: 'M', 'L', 'Q' or 'C', with points in units of the font size, y
// downward.
type segment struct {
	op   byte
	p    [3]Point
	last int // number of points
}

var (
	regular = loadFace(liberationsansregular.TTF)
	strong  = loadFace(liberationsansbold.TTF)
)

func loadFace(ttf []byte) *typeface {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		panic("page: embedded font: " + err.Error())
	}
	return &typeface{ttf: ttf, font: f, perEm: float64(f.UnitsPerEm()), advance: map[rune]float64{},
		outlines: map[rune][]segment{}}
}

func (t *typeface) width(r rune) float64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	w, ok := t.advance[r]
	if ok {
		return w
	}
	w = 0.5
	var buf sfnt.Buffer
	if g, err := t.font.GlyphIndex(&buf, r); err == nil {
		if a, err := t.font.GlyphAdvance(&buf, g, fixed.I(int(t.perEm)), font.HintingNone); err == nil {
			w = float64(a) / 64 / t.perEm
		}
	}
	t.advance[r] = w
	return w
}

func (t *typeface) outline(r rune) []segment {
	t.mu.Lock()
	defer t.mu.Unlock()
	if o, ok := t.outlines[r]; ok {
		return o
	}
	var buf sfnt.Buffer
	var out []segment
	if g, err := t.font.GlyphIndex(&buf, r); err == nil {
		if segs, err := t.font.LoadGlyph(&buf, g, fixed.I(int(t.perEm)), nil); err == nil {
			for _, s := range segs {
				o := segment{op: "MLQC"[s.Op], last: [...]int{1, 1, 2, 3}[s.Op]}
				for k := range o.last {
					o.p[k] = Point{float64(s.Args[k].X) / 64 / t.perEm, float64(s.Args[k].Y) / 64 / t.perEm}
				}
				out = append(out, o)
			}
		}
	}
	t.outlines[r] = out
	return out
}

// Heights of the face as parts of the font size: capitals, and what hangs below the line.
const (
	CapHeight = 0.73
	descent   = 0.21
)

// A run is a stretch of text on one line of one size. Raised and lowered digits of Unicode (10⁻¹, σ₀) become
// smaller digits moved up or down, since not every font has them.
type run struct {
	text  string
	scale float64 // of the font size
	rise  float64 // upward, in font sizes
	width float64 // in font sizes (of the whole text, not of the run)
}

const (
	smallScale = 0.70
	raise      = 0.34
	lower      = -0.16
)

var raised, lowered = pairs("⁰0¹1²2³3⁴4⁵5⁶6⁷7⁸8⁹9⁻−⁺+"), pairs("₀0₁1₂2₃3₄4₅5₆6₇7₈8₉9")

// pairs returns the second of each two letters by the first.
func pairs(letters string) map[rune]rune {
	m := map[rune]rune{}
	all := []rune(letters)
	for k := 0; k < len(all); k += 2 {
		m[all[k]] = all[k+1]
	}
	return m
}

func setRuns(t *typeface, s string) []run {
	var out []run
	add := func(r rune, scale, rise float64) {
		n := len(out) - 1
		if n < 0 || out[n].scale != scale || out[n].rise != rise {
			out = append(out, run{scale: scale, rise: rise})
			n++
		}
		out[n].text += string(r)
		out[n].width += t.width(r) * scale
	}
	for _, r := range s {
		if d, ok := raised[r]; ok {
			add(d, smallScale, raise)
		} else if d, ok := lowered[r]; ok {
			add(d, smallScale, lower)
		} else {
			add(r, 1, 0)
		}
	}
	return out
}

func runsWidth(runs []run) float64 {
	w := 0.0
	for _, r := range runs {
		w += r.width
	}
	return w
}

// TextWidth returns the width of a line of regular text in points.
func TextWidth(s string, size float64) float64 { return (&Label{Text: s, Size: size}).Width() }

// Wrap returns the text of l broken into lines no wider than width.
func (l *Label) Wrap(width float64) []string {
	var out []string
	line := *l
	line.Text = ""
	for _, w := range strings.FieldsFunc(l.Text, func(r rune) bool { return r == ' ' }) {
		before := line.Text
		if before != "" {
			line.Text += " "
		}
		if line.Text += w; before != "" && line.Width() > width {
			out = append(out, before)
			line.Text = w
		}
	}
	if line.Text != "" {
		out = append(out, line.Text)
	}
	return out
}
