package figure

import (
	"fmt"
	"math"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/section"
)

// Against shows one variable of casts against another, usable values only, coloured by pressure, with the values of
// water samples over them.
type Against struct {
	Name    string
	Title   string
	X, Y    string // variables
	Casts   []*section.Cast
	Bottles []Bottle
	Depth   bool // colours are by depth instead of pressure
}

// A Bottle is what was measured in the water of one bottle, good values only, by variable.
type Bottle struct {
	Cast         *section.Cast
	PressureDbar float64
	Values       map[string]float64
}

// sampled names the variable of water samples that measures the same as one of the casts.
var sampled = map[string]string{"psal": "salt_bottle", "oxy": "oxy_bottle"}

// Stem implements Figure.
func (f *Against) Stem() string { return f.Name }

// againstData is an Against made ready.
type againstData struct {
	x, y    chart.Extent
	points  []againstPoint
	bottles [][2]float64
	edges   []float64 // dbar, of the colours
	down    vertical
}

type againstPoint struct{ x, y, dbar float64 }

func (f *Against) prepare() (*againstData, error) {
	d := &againstData{x: chart.NoExtent(), y: chart.NoExtent(), down: verticalOf(f.Depth, f.Casts)}
	deepest := 0.0
	shown := map[*section.Cast]bool{}
	for _, c := range f.Casts {
		x, y := columnOf(c, f.X), columnOf(c, f.Y)
		if x == nil || y == nil {
			continue
		}
		shown[c] = true
		for k, p := range c.PressureDbar {
			if a, b := x(k), y(k); !math.IsNaN(a) && !math.IsNaN(b) && !math.IsNaN(p) {
				d.points = append(d.points, againstPoint{a, b, p})
				d.x.Add(a)
				d.y.Add(b)
				deepest = max(deepest, p)
			}
		}
	}
	if len(d.points) == 0 {
		return nil, fmt.Errorf("%s: %w: no cast has usable values of both %s and %s", f.Name, ErrNoValues, f.X, f.Y)
	}
	for i := range f.Bottles {
		b := &f.Bottles[i]
		x, fromX := b.value(f.X)
		y, fromY := b.value(f.Y)
		if shown[b.Cast] && (fromX || fromY) && !math.IsNaN(x) && !math.IsNaN(y) {
			d.bottles = append(d.bottles, [2]float64{x, y})
			d.x.Add(x)
			d.y.Add(y)
		}
	}
	d.x, d.y = d.x.Padded(0.04), d.y.Padded(0.04)
	for _, e := range classesOf(d.down.number(deepest)) {
		d.edges = append(d.edges, d.down.pressure(e))
	}
	return d, nil
}

// value returns a variable at a bottle: what was measured in its water, else what the cast has at its pressure. water
// says which.
func (b *Bottle) value(name string) (v float64, water bool) {
	for _, n := range []string{sampled[name], name} {
		if v, ok := b.Values[n]; ok && n != "" {
			return v, true
		}
	}
	column := columnOf(b.Cast, name)
	if column == nil {
		return math.NaN(), false
	}
	for k := 1; k < len(b.Cast.PressureDbar); k++ {
		from, to := b.Cast.PressureDbar[k-1], b.Cast.PressureDbar[k]
		if b.PressureDbar >= from && b.PressureDbar <= to && to > from {
			t := (b.PressureDbar - from) / (to - from)
			return column(k-1) + t*(column(k)-column(k-1)), false
		}
	}
	return math.NaN(), false
}

// classesOf returns the pressures or depths at which colours change, from 0 down to the deepest value.
func classesOf(deepest float64) []float64 {
	scale := math.Pow10(int(math.Floor(math.Log10(max(deepest, 10)))))
	edges := []float64{0}
	for _, e := range []float64{scale / 20, scale / 10, scale / 5, scale / 2, scale, 2 * scale, 3 * scale, 4 * scale,
		6 * scale} {
		if e < 0.9*deepest {
			edges = append(edges, chart.Round(e))
		}
	}
	return append(edges, deepest)
}

// class returns the class of a pressure.
func (d *againstData) class(dbar float64) int {
	k := 0
	for k < len(d.edges)-2 && dbar >= d.edges[k+1] {
		k++
	}
	return k
}

func (f *Against) titles() (x, y, head string) {
	a, b := variable(f.X), variable(f.Y)
	return titleText(&a), titleText(&b), nameText(&b) + " and " + lowerName(nameText(&a))
}

func (f *Against) draw(w chart.Width) (*page.Scene, error) {
	d, err := f.prepare()
	if err != nil {
		return nil, err
	}
	p := chart.NewSheet(w, [...]float64{46, 42}[w])
	titleX, titleY, head := f.titles()
	p.Heading(head, f.Title)
	p.Y += 10
	side := p.Tall(290, 190)
	fr := &chart.Frame{L: p.L, R: p.R, T: p.Y, B: p.Y + side, X0: d.x.Lo, X1: d.x.Hi, Y0: d.y.Hi, Y1: d.y.Lo}
	if w == chart.TwoColumns { // near square: a wide one would flatten the curves
		fr.R = fr.L + side*1.35
		p.R = fr.R
	}
	cells := chart.NewMosaic(fr)
	cells.Large = len(d.points) < 10000
	for _, q := range d.points {
		cells.Mark(d.class(q.dbar), fr.At(q.x, q.y))
	}
	colours := chart.Colours("station1")
	n := len(d.edges) - 1
	colour := func(k int) float64 { return (float64(k) + 0.5) / float64(n) }
	for k := range n {
		p.Fill(cells.Path(k), colours.At(colour(k)))
	}
	for _, b := range d.bottles {
		bottleMark(p.Scene, fr.At(b[0], b[1]))
	}
	fr.Border(p.Scene)
	fr.LeftAxis(p.Scene, chart.Ticks(d.y.Lo, d.y.Hi, 8), p.Size)
	fr.BottomAxis(p.Scene, fr.TicksThatFit(int((fr.R-fr.L)/(p.Size*5)), p.Size), p.Size)
	p.AxisTitle(fr, fr.B, titleX)
	p.Y += p.Size * 1.3
	p.SideTitle(titleY, fr.Mid().Y)
	l, h := p.R+8, min(20, (fr.B-fr.T-14)/float64(n))
	unit := d.down.variable()
	p.Label(unitOf(&unit), l, fr.T, page.Left, page.Top)
	top := fr.T + p.Size*1.45
	for k := range n {
		p.Fill(page.Rect(l, top+float64(k)*h, l+8, top+float64(k+1)*h), colours.At(colour(k)))
	}
	p.Outline(page.Rect(l, top, l+8, top+float64(n)*h), chart.InkThin)
	for k, e := range d.edges {
		y := top + float64(k)*h
		p.Line(l+8, y, l+9.8, y, chart.InkThin)
		p.Label(chart.Short(math.Round(d.down.number(e))), l+11, y, page.Left, page.Centre)
	}
	p.Y += 3
	if len(d.bottles) > 0 {
		p.Keys([]chart.Key{{Draw: func(s *page.Scene, f *chart.Frame) { bottleMark(s, f.Mid()) },
			Text: "water sample"}})
	}
	return p.Done(), nil
}

func bottleMark(s *page.Scene, q page.Point) {
	s.Fill(page.Path{page.Circle(q, 1.5)}, page.Paper)
	s.Outline(page.Path{page.Circle(q, 1.5)}, page.Pen{Colour: page.Ink, Width: chart.Thin})
}

func (f *Against) caption(a *About) (caption, error) {
	d, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	titleX, titleY, head := f.titles()
	c := caption{head: head + placed(f.Title)}
	bottles := ""
	if n := len(d.bottles); n > 0 {
		bottles = fmt.Sprintf("Circles: %s, good values only.", plural(n, "water sample", "water samples"))
	}
	c.write(fmt.Sprintf("%s%s against %s of all usable values of the casts, coloured by %s.", opened(f.Title), titleY,
		lowerName(titleX), lowerFirst(d.down.axis().Title)), bottles, fmt.Sprintf("%s of %s are drawn.",
		upperFirst(plural(len(d.points), "value", "values")), plural(len(f.Casts), "cast", "casts")), manyColours,
		a.data(),
		"Both axes are wide enough to hold every value that is drawn.")
	c.span(titleX, d.x, "")
	c.span(titleY, d.y, "")
	if len(d.bottles) > 0 {
		c.add("Water samples",
			"where only one of the two was measured in the water, the other is that of the cast at the "+
				"pressure of the bottle")
	}
	d.down.span(&c, chart.Extent{Hi: d.edges[len(d.edges)-1]})
	castLines(&c, f.Casts, len(d.points))
	c.about(a, false)
	return c, nil
}

// manyColours says how pressures share the picture.
const manyColours = "Where values of several pressures overlap, cells are shared between their colours."

// bottlesOf returns the bottles of some casts.
func bottlesOf(all []Bottle, casts []*section.Cast) []Bottle {
	in := map[*section.Cast]bool{}
	for _, c := range casts {
		in[c] = true
	}
	var out []Bottle
	for _, b := range all {
		if in[b.Cast] {
			out = append(out, b)
		}
	}
	return out
}
