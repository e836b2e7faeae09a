package figure

import (
	"fmt"
	"image/color"
	"math"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/gridding/contour"
)

// overlayApart is how far apart, in points, lines of density must run for all of them to be drawn.
const overlayApart = 4.5

// Lines of density are thin and grey, to be read under the lines of the field; their labels are on white patches.
var (
	overlayPen   = page.Pen{Colour: color.NRGBA{70, 73, 80, 255}, Width: 0.6, Round: true}
	overlayUnder = page.Pen{Colour: color.NRGBA{245, 245, 243, 255}, Width: 0.5}
)

// An overlay is density on the grid, referred to a pressure near a panel, and its levels there.
type overlay struct {
	name   string // sigma0 ...
	field  *chart.Field
	levels []float64
}

// overlayFor returns the lines of density of a panel: as asked for in the upper one, in the lower one referred to the
// pressure nearest to its middle, with levels of its own, since at the surface deep waters are all but alike.
func (d *sectionData) overlayFor(f *Section, fr *chart.Frame, lower bool) *overlay {
	o := &overlay{name: f.Overlay, field: d.lines}
	if lower {
		name := fmt.Sprintf("sigma%d", int(max(1, min(4, math.Round((fr.Y0+fr.Y1)/2000)))))
		if data := overlayOf(f.Grid, name); data != nil {
			o.name, o.field = name, d.padded(data)
		}
	}
	var errors []gridding.ErrorBand
	if f.quietOverlay {
		errors = f.Grid.ErrorBands(o.name)
	}
	var vs []chart.Weighed
	for k, v := range o.field.Data[:len(d.raw)] {
		if p := o.field.Y[k/len(o.field.X)]; !math.IsNaN(v) && !math.IsNaN(d.raw[k]) && p >= fr.Y0 && p <= fr.Y1 {
			vs = append(vs, chart.Weighed{Value: v, Weight: 1, Floor: floorAt(errors, p)})
		}
	}
	o.levels = chart.ChooseLevels(vs, 9).At
	return o
}

func (f *Section) draw(w chart.Width) (*page.Scene, error) {
	d, err := f.prepare()
	if err != nil {
		return nil, err
	}
	limit := f.limit()
	p := chart.NewSheet(w, 45)
	p.Heading(titleOfField(d.field, f.Grid), sectionTitle(f.Section, f.Title))
	p.StationRow()
	frames := d.drawPanels(f, p, limit)
	p.Stations(&frames[0], d.marks)
	p.DistanceAxes(&frames[len(frames)-1], d.track, f.Axis)
	p.Keys(d.explain(f, limit))
	return p.Done(), nil
}

// drawPanels draws the field in its panels, with the vertical axis and the colour bar.
func (d *sectionData) drawPanels(f *Section, p *chart.Sheet, limit float64) []chart.Frame {
	d.colour()
	frames := d.panels(p)
	d.drawFrames(f, p, frames, limit)
	last := &frames[len(frames)-1]
	p.VerticalAxes(frames, p.Tall(20, 16), d.vertical.axis())
	chart.ColourBar(p, frames[0].T, last.B, d.f.Levels, d.f.Colours, d.unit())
	if e := chart.ExtentOf(d.raw); len(d.f.Levels) == 0 && e.Span() == 0 { // one colour for one value
		p.Label(chart.Short(chart.Round(e.Lo)), p.R+19, (frames[0].T+last.B)/2, page.Left, page.Centre)
	}
	return frames
}

// panels returns the frames of the picture.
func (d *sectionData) panels(p *chart.Sheet) []chart.Frame {
	h, top := p.Tall(178, 130), d.top()
	if d.upper > 0 {
		h, top = p.Tall(238, 168), 0
	}
	return p.Panels(h, d.x0, d.x1, top, d.upper, d.yMax)
}

// cut returns the part of a field that a frame shows, as fine as it is seen.
func cut(p *chart.Sheet, g *chart.Field, fr *chart.Frame) *chart.Field {
	return g.Window(fr.Y0, fr.Y1).Thin(int((p.R-p.L)*1.1), int((fr.B-fr.T)*1.5))
}

// open says where the field is seen in a frame: above the bottom, and at densities that there are.
func (d *sectionData) open(f *Section, fr *chart.Frame) func(page.Point) bool {
	return func(q page.Point) bool {
		x, y := fr.Value(q)
		return d.floor.above(x, y) && (f.edges == nil || f.edges.holds(x, y))
	}
}

// hatchDoubt hatches where the error of the field g of a frame is large, and reports whether that is seen.
func (d *sectionData) hatchDoubt(f *Section, p *chart.Sheet, fr *chart.Frame, g *chart.Field, limit float64) bool {
	if d.error == nil {
		return false
	}
	e := cut(p, d.error, fr)
	e.FillBelow(d.below(e), d.rows+1)
	e.MaskAs(g) // no hatching for doubt where there is no value
	if len(e.X) < 2 || len(e.Y) < 2 {
		return false
	}
	region := chart.OnPage(contour.Above(e.X, e.Y, e.Data, []float64{limit})[0], fr)
	return chart.HatchSeen(p.Scene, region, chart.DoubtAngle, d.open(f, fr))
}

// drawFrames paints the field into the panels.
func (d *sectionData) drawFrames(f *Section, p *chart.Sheet, frames []chart.Frame, limit float64) {
	for k := range frames {
		fr := &frames[k]
		s := p.Scene
		chart.Hatched(s, fr.Rect(), chart.NoValue, chart.NoValueAngle)
		g := cut(p, d.f, fr)
		under := d.below(g)
		for i := range g.Data {
			if math.IsNaN(g.Data[i]) && !under[i] {
				d.masked = true
				d.beneath = d.beneath || g.Y[i/len(g.X)] > d.last
			}
		}
		g.FillBelow(under, d.rows+1)
		g.Paint(s, fr)
		d.doubtful = d.hatchDoubt(f, p, fr, g, limit) || d.doubtful
		free := d.open(f, fr)
		var overlay func()
		if d.lines != nil {
			lines := d.overlayFor(f, fr, k > 0)
			d.overlays = append(d.overlays, lines.name)
			o, oLevels := cut(p, lines.field, fr), lines.levels
			o.MaskAs(g)
			o.FillBelow(d.below(o), d.rows+1)
			traced := chart.PartTogether(o.Trace(fr, oLevels), oLevels, overlayApart)
			overlay = chart.LabelLines(s, fr, traced, oLevels, chart.LineStyle{
				Pen: func(float64) page.Pen { return overlayPen }, Under: &overlayUnder, Size: p.Small(0.9),
				Text: chart.Short, Colour: func(float64) color.NRGBA { return overlayPen.Colour },
				PerPoint: 360, Free: free, Patch: true,
			})
			onTop := free
			free = func(q page.Point) bool { return onTop(q) && page.Clear(q, traced, 2.2) }
		}
		g.LevelLines(p, fr, free, d.field.Kind != gridding.Value)
		if overlay != nil {
			overlay()
		}
		if f.Dots {
			d.dots(f, s, fr)
		}
		d.floor.paint(s, fr)
		if f.edges != nil {
			f.edges.paint(s, fr)
		}
	}
}

// dots marks where casts have values of the field, as many as are seen apart.
func (d *sectionData) dots(f *Section, s *page.Scene, fr *chart.Frame) {
	const apart, half = 2.0, 0.32
	var all page.Path
	for k, c := range f.Section.Casts {
		value := columnOf(c, d.parent())
		if value == nil {
			continue
		}
		x, last := fr.X(f.Section.DistanceKm[k]), math.Inf(-1)
		for i, p := range c.PressureDbar {
			if y := fr.Y(p); p >= fr.Y0 && p <= fr.Y1 && y-last >= apart && !math.IsNaN(value(i)) {
				all = append(all, page.Rect(x-half, y-half, x+half, y+half)[0])
				last = y
			}
		}
	}
	s.Fill(all, dotColour)
}

// dotColour is seen on light and on dark bands.
var dotColour = color.NRGBA{112, 116, 124, 255}
