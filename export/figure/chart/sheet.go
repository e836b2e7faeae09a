package chart

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/figure/page"
)

// Width is how wide a figure is printed.
type Width uint8

// Widths: the whole type area of a page, and one of two columns.
const (
	TwoColumns Width = iota // 175 mm
	OneColumn               // 85 mm
)

// Points returns the width of the page in points.
func (w Width) Points() float64 { return [...]float64{175 / 25.4 * 72, 85 / 25.4 * 72}[w] }

// String returns the word of the cruise file.
func (w Width) String() string { return [...]string{"two_columns", "one_column"}[w] }

// Quiet colours that are not data.
var (
	SoftInk = color.NRGBA{92, 96, 104, 255}
	Faint   = color.NRGBA{190, 193, 198, 255}
	Water   = color.NRGBA{246, 249, 251, 255}
	NoValue = color.NRGBA{240, 240, 238, 255}
)

// Widths of lines and sizes of type, in points.
const (
	Hair      = 0.35
	Thin      = 0.5
	Normal    = 0.8
	Heavy     = 1.4
	MainType  = 7.0
	SmallType = 6.0
)

// Pens of frames and hatching.
var (
	InkHair  = page.Pen{Colour: page.Ink, Width: Hair}
	InkThin  = page.Pen{Colour: page.Ink, Width: Thin}
	hatchPen = page.Pen{Colour: color.NRGBA{120, 122, 128, 255}, Width: Hair}
)

// A Sheet is a page with its margins: what every section picture shares.
type Sheet struct {
	*page.Scene
	Width Width
	Size  float64 // of numbers
	L, R  float64 // of the frames
	Y     float64 // how far down the page is used
}

// NewSheet begins a page; the height is set when the page is done.
func NewSheet(w Width, rightMargin float64) *Sheet {
	return &Sheet{Scene: page.New(w.Points(), 2000), Width: w, Size: w.Type(), L: 33, R: w.Points() - rightMargin, Y: 3}
}

// Type returns the size of numbers.
func (w Width) Type() float64 { return [...]float64{MainType, SmallType}[w] }

// Small returns the size of numbers less by points, but no less than is read in print.
func (p *Sheet) Small(by float64) float64 { return max(SmallType, p.Size-by) }

// Tall returns the length for two columns or for one.
func (p *Sheet) Tall(two, one float64) float64 { return [...]float64{two, one}[p.Width] }

// Label writes a text in the size of numbers.
func (p *Sheet) Label(text string, x, y float64, h, v page.Align) {
	p.Text(page.Label{Text: text, At: page.Pt(x, y), Size: p.Size, H: h, V: v})
}

// Heading writes the subject at the left, and the place at the right when there is space, else below it.
func (p *Sheet) Heading(subject, place string) {
	l := page.Label{Text: subject, At: page.Pt(p.L, p.Y), Size: p.Size + 0.6, V: page.Top, Bold: true}
	width := p.W - p.L - 4
	p.Y = p.Paragraph(l, width, 1.3)
	l = page.Label{Text: place, At: page.Pt(p.W-4, p.Y-l.Size*1.3), Size: l.Size, H: page.Right, V: page.Top,
		Colour: SoftInk}
	if !p.TryText(l, 6) {
		l.At, l.H = page.Pt(p.L, p.Y), page.Left
		p.Y = p.Paragraph(l, width, 1.3)
	}
	p.Y += 2
}

// Note writes a paragraph over the width of the page.
func (p *Sheet) Note(text string) {
	p.Y = p.Paragraph(page.Label{Text: text, At: page.Pt(p.L, p.Y), Size: p.Size, V: page.Top}, p.W-4-p.L, 1.32)
}

// StationRow leaves space for the numbers of stations.
func (p *Sheet) StationRow() { p.Y += p.Size + 6 }

// Stations writes them along the top of a frame, and the word before them when there is space.
func (p *Sheet) Stations(fr *Frame, marks []Mark) { p.Marks(fr, marks, "Station") }

// Marks writes marks along the top of a frame, and before them what they are when there is space.
func (p *Sheet) Marks(fr *Frame, marks []Mark, what string) {
	fr.stationsOnTop(p.Scene, marks, p.Size)
	word := page.Label{Text: what, At: page.Pt(p.L-8.5, fr.T-5.2), Size: p.Size, H: page.Right, Colour: SoftInk}
	p.TryText(word, 1)
}

// SideTitle writes the name of a vertical axis along the left edge of the page.
func (p *Sheet) SideTitle(text string, y float64) {
	p.Text(page.Label{Text: text, At: page.Pt(2+page.CapHeight*p.Size, y), Size: p.Size, H: page.Middle, Turn: 90})
}

// UpperShare is the part of the height that an expanded upper panel takes.
const UpperShare = 0.46

// Panels returns the frames of a picture of a height: one from y0 to y1, or, when upper is above 0, one down
// to upper at a larger scale and one from there.
func (p *Sheet) Panels(height, x0, x1, y0, upper, y1 float64) []Frame {
	fr := Frame{L: p.L, R: p.R, T: p.Y, B: p.Y + height, X0: x0, X1: x1, Y0: y0, Y1: y1}
	frames := []Frame{fr}
	if upper > 0 {
		low := fr
		fr.B, fr.Y1 = fr.T+height*UpperShare, upper
		low.T, low.B, low.Y0 = fr.B+5, low.B+5, upper
		frames = []Frame{fr, low}
	}
	for _, f := range frames {
		p.Scene.Panels = append(p.Scene.Panels, page.Panel(f))
	}
	return frames
}

// VerticalAxes draws the borders of panels, ticks at the left, about every points apart, and the title.
func (p *Sheet) VerticalAxes(frames []Frame, every float64, v Vertical) {
	for k := range frames {
		fr := &frames[k]
		fr.Border(p.Scene)
		fr.LeftAxisOf(p.Scene, v.Ticks(fr, int(max(2, (fr.B-fr.T)/every)), k > 0), p.Size, v.Value)
	}
	p.SideTitle(v.Title, (frames[0].T+frames[len(frames)-1].B)/2)
}

// AxisTitle writes the name of a horizontal axis, its numbers being between y and the title.
func (p *Sheet) AxisTitle(fr *Frame, y float64, text string) {
	p.Y = y + TickLength + 2 + p.Size + 1.5
	p.Label(text, (fr.L+fr.R)/2, p.Y, page.Middle, page.Top)
}

// DistanceAxes draws distance and position under the last frame.
func (p *Sheet) DistanceAxes(fr *Frame, t *Track, which string) {
	most := int(max(3, (fr.R-fr.L)/(p.Size*5.2)))
	fr.BottomAxis(p.Scene, fr.TicksThatFit(most, p.Size), p.Size)
	p.AxisTitle(fr, fr.B, "Distance (km)")
	p.Y += p.Size * 1.05
	if t != nil {
		p.Y += 3.5
		word := fr.secondAxis(p.Scene, t, which, p.Y, p.Size)
		p.AxisTitle(fr, p.Y, strings.ToUpper(word[:1])+word[1:])
		p.Y += p.Size * 1.05
	}
	p.Y += 3
}

// A Key is one entry of the explanation below a picture: a swatch drawn in a small box, and words.
type Key struct {
	Draw  func(s *page.Scene, f *Frame)
	Text  string
	Plain bool // not worth a legend when it is the only one

	look string // of an area: entries that look alike become one
}

// Add appends entries, each text once; what looks like an entry that is there is explained beside it.
func Add(ks []Key, more ...Key) []Key {
	for _, k := range more {
		at := slices.IndexFunc(ks, func(o Key) bool { return o.Text == k.Text || k.look != "" && o.look == k.look })
		switch {
		case at < 0:
			ks = append(ks, k)
		case !slices.Contains(strings.Split(ks[at].Text, "; "), k.Text):
			ks[at].Text += "; " + k.Text
		}
	}
	return ks
}

// Keys writes the explanation in rows.
func (p *Sheet) Keys(ks []Key) {
	if len(ks) == 1 && ks[0].Plain {
		return
	}
	const swatch = 13.0
	x := p.L
	size := p.Small(0.4)
	row := size * 1.65
	for _, k := range ks {
		lines := (&page.Label{Text: k.Text, Size: size}).Wrap(p.W - 4 - p.L - swatch - 3)
		w := 0.0
		for _, l := range lines {
			w = max(w, page.TextWidth(l, size))
		}
		if x > p.L && x+swatch+3+w > p.W-4 {
			x = p.L
			p.Y += row
		}
		for n, l := range lines {
			if n > 0 {
				p.Y += size * 1.25
			}
			mid := p.Y + row/2
			if n == 0 {
				k.Draw(p.Scene, &Frame{L: x, T: mid - size*0.42, R: x + swatch, B: mid + size*0.42})
			}
			p.Text(page.Label{Text: l, At: page.Pt(x+swatch+3, mid), Size: size, V: page.Centre})
		}
		x += swatch + 3 + w + 9
	}
	if len(ks) > 0 {
		p.Y += row + 1
	}
}

// Done sets the height of the page and returns it.
func (p *Sheet) Done() *page.Scene {
	p.H = math.Ceil(p.Y + 3)
	return p.Scene
}

// AreaKey explains a colour, hatched at the angles.
func AreaKey(c color.NRGBA, text string, angles ...float64) Key {
	return Key{Draw: func(s *page.Scene, f *Frame) {
		Hatched(s, f.Rect(), c, angles...)
		s.Outline(f.Rect(), InkHair)
	}, Text: text, look: fmt.Sprint(c, angles)}
}

// LineKey explains a line.
func LineKey(n page.Pen, under *page.Pen, text string) Key {
	return Key{Draw: func(s *page.Scene, f *Frame) {
		strokeOver(s, page.Path{{page.Pt(f.L, f.Mid().Y), page.Pt(f.R, f.Mid().Y)}}, n, under)
	}, Text: text}
}

// strokeOver draws lines over wider ones of another pen.
func strokeOver(s *page.Scene, p page.Path, n page.Pen, under *page.Pen) {
	if under != nil {
		u := *under
		u.Width += n.Width
		s.Stroke(p, u)
	}
	s.Stroke(p, n)
}

// Angles of hatching.
const (
	NoValueAngle = 45  // where there is no value
	DoubtAngle   = -45 // where the error is large
)

// Hatched paints an area in a colour, with lines at the angles.
func Hatched(s *page.Scene, p page.Path, ground color.NRGBA, angles ...float64) {
	s.Fill(p, ground)
	Hatch(s, p, angles...)
}

// HatchSeen draws the lines alone where they are seen: longer than their distance, since shorter ones look like dirt,
// and open in the middle. It reports whether any is.
func HatchSeen(s *page.Scene, p page.Path, angle float64, open func(page.Point) bool) bool {
	lines := slices.DeleteFunc(page.Hatch(p, hatchApart, angle), func(l []page.Point) bool {
		length := page.Length(l)
		return length < hatchApart || !open(page.Along(l, length/2))
	})
	s.Stroke(lines, hatchPen)
	return len(lines) > 0
}

// hatchApart is the distance of lines of hatching in points.
const hatchApart = 3

// Hatch draws the lines alone.
func Hatch(s *page.Scene, p page.Path, angles ...float64) {
	for _, a := range angles {
		s.Stroke(page.Hatch(p, hatchApart, a), hatchPen)
	}
}
