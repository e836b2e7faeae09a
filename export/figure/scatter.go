package figure

import (
	"fmt"
	"image/color"
	"math"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// PropertyPlot shows one property of casts against another, usable values only. Of kind
// KindTemperatureSalinity it is Conservative Temperature against Absolute Salinity, over lines of equal
// potential density anomaly, with the freezing line where it is in range; of kind KindOxygenDensity,
// dissolved oxygen against potential density anomaly.
type PropertyPlot struct {
	Name      string
	Title     string // of the section or cruise
	Kind      string
	Casts     []*section.Cast
	SigmaDbar float64 // reference pressure of density: 0, 1000 .. 4000
	Shade     Shade
}

// Stem implements Figure.
func (f *PropertyPlot) Stem() string { return f.Name }

// usable returns a column's value at a level when it may enter derived fields, else NaN.
func usable(c *section.Column, k int) float64 {
	if c.Values == nil || (c.Flags != nil && !c.Flags[k].Usable(true)) {
		return math.NaN()
	}
	return c.Values[k]
}

// columnOf returns the usable values of a cast by level; nil when it has no such column.
func columnOf(c *section.Cast, name string) func(k int) float64 {
	col := c.Column(name)
	if col == nil || col.Values == nil {
		return nil
	}
	return func(k int) float64 { return usable(col, k) }
}

// A property is an axis of a PropertyPlot.
type property struct {
	title string
	of    func(c *section.Cast) func(k int) float64
	chart.Extent
}

func (f *PropertyPlot) column(name string) property {
	v := metadata.MustVariable(name)
	of := func(c *section.Cast) func(int) float64 { return columnOf(c, name) }
	return property{titleText(&v), of, chart.NoExtent()}
}

// density returns potential density anomaly of the casts.
func (f *PropertyPlot) density() property {
	of := func(c *section.Cast) func(int) float64 {
		sa, ct := columnOf(c, "asal"), columnOf(c, "ctemp")
		if sa == nil || ct == nil {
			return nil
		}
		return func(k int) float64 { return seawater.Sigma(int(f.SigmaDbar/1000), sa(k), ct(k)) }
	}
	return property{"Potential density anomaly " + f.sigma() + " (kg m⁻³)", of, chart.NoExtent()}
}

// sigma is the sign of density at the reference pressure.
func (f *PropertyPlot) sigma() string { return signOf(fmt.Sprintf("sigma%d", int(f.SigmaDbar/1000))) }

// propertyData is a PropertyPlot made ready.
type propertyData struct {
	x, y   property
	head   string
	points []propertyPoint
}

type propertyPoint struct {
	cast int
	x, y float64
}

func (f *PropertyPlot) prepare() (*propertyData, error) {
	d := &propertyData{x: f.column("asal"), y: f.column("ctemp"), head: "Temperature and salinity"}
	margin, none := 0.05, "no usable Absolute Salinity and Conservative Temperature"
	if f.Kind == KindOxygenDensity {
		d.x, d.y, d.head = f.column("oxy"), f.density(), "Oxygen and density"
		margin, none = 0.04, "no usable oxygen with salinity and temperature"
	}
	for n, c := range f.Casts {
		x, y := d.x.of(c), d.y.of(c)
		if x == nil || y == nil {
			continue
		}
		for k := range c.PressureDbar {
			if a, b := x(k), y(k); !math.IsNaN(a) && !math.IsNaN(b) {
				d.points = append(d.points, propertyPoint{n, a, b})
				d.x.Add(a)
				d.y.Add(b)
			}
		}
	}
	if len(d.points) == 0 {
		return nil, fmt.Errorf("%s: %w: %s", f.Name, ErrNoValues, none)
	}
	d.x.Extent, d.y.Extent = d.x.Padded(margin), d.y.Padded(margin)
	return d, nil
}

func (f *PropertyPlot) draw(w chart.Width) (*page.Scene, error) {
	d, err := f.prepare()
	if err != nil {
		return nil, err
	}
	sh := shade(f.Casts, f.Shade)
	p := chart.NewSheet(w, sh.margin([...]float64{40, 36}[w], w))
	p.Heading(d.head, f.Title)
	p.Y += 10
	side := p.Tall(290, 190)
	fr := &chart.Frame{L: p.L, R: p.R, T: p.Y, B: p.Y + side, X0: d.x.Lo, X1: d.x.Hi, Y0: d.y.Hi, Y1: d.y.Lo}
	if w == chart.TwoColumns { // near square: a wide one would flatten the curves
		fr.R = fr.L + side*1.35
		p.R = fr.R
	}
	if f.Kind == KindOxygenDensity { // density increases downward
		fr.Y0, fr.Y1 = fr.Y1, fr.Y0
	}
	cells := chart.NewMosaic(fr)
	cells.Large = len(d.points) < 10000
	for _, q := range d.points {
		if b := sh.bin[q.cast]; b >= 0 {
			cells.Mark(b, fr.At(q.x, q.y))
		}
	}
	for k := range sh.n {
		p.Fill(cells.Path(k), sh.colour(k))
	}
	var ks []chart.Key
	if f.Kind != KindOxygenDensity {
		ks = f.waterLines(p, fr, d)
	}
	fr.Border(p.Scene)
	fr.LeftAxis(p.Scene, chart.Ticks(d.y.Lo, d.y.Hi, 8), p.Size)
	fr.BottomAxis(p.Scene, fr.TicksThatFit(int((fr.R-fr.L)/(p.Size*5)), p.Size), p.Size)
	p.AxisTitle(fr, fr.B, d.x.title)
	p.Y += p.Size * 1.3
	p.SideTitle(d.y.title, fr.Mid().Y)
	sh.bar(p, fr.T, fr.B)
	p.Y += 3
	p.Keys(ks)
	return p.Done(), nil
}

// waterLines draws lines of equal density and the freezing line, and returns their keys.
func (f *PropertyPlot) waterLines(p *chart.Sheet, fr *chart.Frame, d *propertyData) []chart.Key {
	sigma := f.lattice(d)
	var vs []chart.Weighed
	for _, v := range sigma.Data {
		vs = append(vs, chart.Weighed{Value: v, Weight: 1})
	}
	const cell = 4.0 // points, half a label high: labels go where the data are not, if they can
	at := func(q page.Point) [2]int { return [2]int{int(q.X / cell), int(q.Y / cell)} }
	taken := map[[2]int]bool{}
	for _, q := range d.points {
		on := at(fr.At(q.x, q.y))
		for k := range 9 { // a dot beside the middle of a label lies in it too
			taken[[2]int{on[0] + k%3 - 1, on[1] + k/3 - 1}] = true
		}
	}
	grey := page.Pen{Colour: color.NRGBA{140, 144, 150, 255}, Width: chart.Hair}
	sigma.DrawLines(p.Scene, fr, chart.EvenLevels(vs), chart.LineStyle{
		Pen: func(float64) page.Pen { return grey }, Size: p.Small(0.8), Text: chart.Short, Patch: true,
		Colour: func(float64) color.NRGBA { return chart.SoftInk }, PerPoint: 600, Steep: true,
		Covers: func(q page.Point) bool { return taken[at(q)] },
	})
	grey.Width = chart.Thin
	ks := []chart.Key{chart.LineKey(grey, nil, f.sigma()+" (kg m⁻³)")}
	var freezing []page.Point
	const steps = 60
	for k := range steps + 1 {
		x := max(0, d.x.Lo+d.x.Span()*float64(k)/steps)
		freezing = append(freezing, fr.At(x, seawater.FreezingConservative(x, 0, seawater.AirSaturated)))
	}
	cold := page.Pen{Colour: chart.Colours("velocity1").At(0.08), Width: chart.Normal, Dash: []float64{4, 2}}
	if pieces := fr.Clip(freezing); len(pieces) > 0 {
		p.Stroke(pieces, cold)
		ks = append(ks, chart.LineKey(cold, nil, "freezing, 0 dbar"))
	}
	return ks
}

// lattice returns potential density anomaly over the picture.
func (f *PropertyPlot) lattice(d *propertyData) *chart.Field {
	const n = 80
	g := &chart.Field{}
	for k := range n + 1 {
		g.X = append(g.X, d.x.Lo+d.x.Span()*float64(k)/n)
		g.Y = append(g.Y, d.y.Lo+d.y.Span()*float64(k)/n)
	}
	for _, t := range g.Y {
		for _, s := range g.X {
			v := math.NaN()
			if s >= 0 {
				v = seawater.Sigma(int(f.SigmaDbar/1000), s, t)
			}
			g.Data = append(g.Data, v)
		}
	}
	return g
}

// manyCasts says how casts share the picture.
const manyCasts = "Where casts overlap, cells are shared between their colours."

// extent says how much is drawn.
func (f *PropertyPlot) extent(values int) string {
	return fmt.Sprintf("%s of %s are drawn.", upperFirst(plural(values, "value", "values")),
		plural(len(f.Casts), "cast", "casts"))
}

func (f *PropertyPlot) caption(a *About) (caption, error) {
	d, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	sh := shade(f.Casts, f.Shade)
	c := caption{head: d.head + placed(f.Title)}
	if f.Kind == KindOxygenDensity {
		c.write(fmt.Sprintf("%sDissolved oxygen (µmol kg⁻¹) against potential density anomaly %s (kg m⁻³) of all "+
			"usable values. %s.",
			opened(f.Title), f.sigma(), sh.caption()), "Density increases "+
			"downward.", f.extent(len(d.points)), manyCasts, a.data())
	} else {
		c.write(fmt.Sprintf("%sConservative Temperature (°C) against Absolute Salinity (g kg⁻¹) of all usable "+
			"values. Grey lines: "+
			"%s (kg m⁻³). %s.", opened(f.Title), f.sigma(), sh.caption()),
			"Dashed, where in range: freezing at the surface in air-saturated "+
				"water.", f.extent(len(d.points)), a.data(), manyCasts)
	}
	c.span(d.x.title, d.x.Extent, "")
	c.span(d.y.title, d.y.Extent, "")
	castLines(&c, f.Casts, len(d.points))
	c.about(a, false)
	return c, nil
}
