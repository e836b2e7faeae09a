package figure

import (
	"math"
	"strings"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// A typeface is one embedded font with its advances, in units of the font size. No kerning is applied, so that all formats set a
// line alike.
type typeface struct {
	family string // as CSS names it
	bold   bool
	ttf    []byte
	font   *sfnt.Font
	perEm  float64

	mu       sync.Mutex
	advance  map[rune]float64
	outlines map[rune][]segment
}

// A segment is one piece of a glyph's outline: 'M', 'L', 'Q' or 'C', with points in units of the font size, y downward.
type segment struct {
	op   byte
	p    [3]pt
	last int // number of points
}

var (
	regular = loadFace("Liberation Sans", false, liberationsansregular.TTF)
	strong  = loadFace("Liberation Sans", true, liberationsansbold.TTF)
)

func loadFace(family string, bold bool, ttf []byte) *typeface {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		panic("figure: embedded font: " + err.Error())
	}
	return &typeface{family: family, bold: bold, ttf: ttf, font: f, perEm: float64(f.UnitsPerEm()),
		advance: map[rune]float64{}, outlines: map[rune][]segment{}}
}

func (t *typeface) width(r rune) float64 {
	t.mu.Lock()
	defer t.mu.Unlock()
	if w, ok := t.advance[r]; ok {
		return w
	}
	var buf sfnt.Buffer
	g, err := t.font.GlyphIndex(&buf, r)
	w := 0.5
	if err == nil {
		if a, err := t.font.GlyphAdvance(&buf, g, fixed.I(int(t.perEm)), font.HintingNone); err == nil {
			w = float64(a) / 64 / t.perEm
		}
	}
	t.advance[r] = w
	return w
}

func (t *typeface) has(r rune) bool {
	var buf sfnt.Buffer
	g, err := t.font.GlyphIndex(&buf, r)
	return err == nil && g != 0
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
					o.p[k] = pt{float64(s.Args[k].X) / 64 / t.perEm, float64(s.Args[k].Y) / 64 / t.perEm}
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
	capHeight = 0.73
	descent   = 0.21
)

// A run is a stretch of text on one line of one size. Raised and lowered digits of Unicode (10⁻¹, σ₀) become smaller digits
// moved up or down, since not every font has them.
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

var raised = map[rune]rune{'⁰': '0', '¹': '1', '²': '2', '³': '3', '⁴': '4', '⁵': '5', '⁶': '6', '⁷': '7', '⁸': '8', '⁹': '9', '⁻': '−', '⁺': '+'}
var lowered = map[rune]rune{'₀': '0', '₁': '1', '₂': '2', '₃': '3', '₄': '4', '₅': '5', '₆': '6', '₇': '7', '₈': '8', '₉': '9'}

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

// textWidth is the width of a line in points.
func textWidth(t *typeface, s string, size float64) float64 { return runsWidth(setRuns(t, s)) * size }

// wrap breaks a text into lines no wider than width.
func wrap(t *typeface, s string, size, width float64) []string {
	var out []string
	line := ""
	for _, w := range strings.FieldsFunc(s, func(r rune) bool { return r == ' ' }) {
		try := w
		if line != "" {
			try = line + " " + w
		}
		if line != "" && textWidth(t, try, size) > width {
			out = append(out, line)
			try = w
		}
		line = try
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}

// A box is a rectangle that may be turned: its four corners in order.
type box [4]pt

// overlaps says whether two boxes share more than slack points of depth (separating axis theorem).
func (a box) overlaps(b box, slack float64) bool {
	for _, q := range [2]box{a, b} {
		for k := range 2 {
			e := pt{q[k+1].x - q[k].x, q[k+1].y - q[k].y}
			n := math.Hypot(e.x, e.y)
			if n == 0 {
				continue
			}
			e.x, e.y = e.x/n, e.y/n
			lo1, hi1 := a.span(e)
			lo2, hi2 := b.span(e)
			if hi1 <= lo2+slack || hi2 <= lo1+slack {
				return false
			}
		}
	}
	return true
}

func (a box) span(axis pt) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, p := range a {
		d := p.x*axis.x + p.y*axis.y
		lo, hi = min(lo, d), max(hi, d)
	}
	return lo, hi
}

func rectBox(x0, y0, x1, y1 float64) box { return box{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}} }

// grown gives the box with a margin on all sides.
func (a box) grown(m float64) box {
	u := pt{a[1].x - a[0].x, a[1].y - a[0].y}
	v := pt{a[3].x - a[0].x, a[3].y - a[0].y}
	lu, lv := math.Hypot(u.x, u.y), math.Hypot(v.x, v.y)
	if lu == 0 || lv == 0 {
		return a
	}
	u.x, u.y, v.x, v.y = u.x/lu*m, u.y/lu*m, v.x/lv*m, v.y/lv*m
	return box{
		{a[0].x - u.x - v.x, a[0].y - u.y - v.y}, {a[1].x + u.x - v.x, a[1].y + u.y - v.y},
		{a[2].x + u.x + v.x, a[2].y + u.y + v.y}, {a[3].x - u.x + v.x, a[3].y - u.y + v.y},
	}
}
