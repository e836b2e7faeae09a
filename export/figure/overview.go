package figure

import (
	"cmp"
	"fmt"
	"math"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/section"
)

// Overview is a page of a section: its properties and its velocity below each other on the same axes, with a map of
// where it lies.
type Overview struct {
	Name     string
	Title    string // of the section; "" for "Section NAME"
	Sections []*Section
	Velocity *Velocity // nil: none

	heading string // "" for "Overview"
}

// Stem implements Figure.
func (f *Overview) Stem() string { return f.Name }

// overviewFields are the properties of an overview, in its order; of a group the first that the grid has.
var overviewFields = [][]string{{"ctemp", "ptemp", "temp"}, {"asal", "psal"}, {"oxy", "oxy_ml"}, {"sigma0"}}

// overviewData is an Overview made ready.
type overviewData struct {
	section  *section.Section
	panels   []*sectionData
	of       []*Section
	velocity *velocityData
	upper    float64
	yMax     float64
}

// prepare readies what can be drawn; panels that have nothing to draw are left out.
func (f *Overview) prepare() (*overviewData, error) {
	d := &overviewData{}
	var first error
	for _, s := range f.Sections {
		p, err := s.prepare()
		if err != nil {
			if first == nil {
				first = err
			}
			continue
		}
		d.section = s.Section
		d.panels, d.of = append(d.panels, p), append(d.of, s)
		d.yMax = max(d.yMax, p.yMax)
		if d.upper == 0 {
			d.upper = p.upper
		}
	}
	if f.Velocity != nil {
		v := *f.Velocity
		if v.split = d.upper; len(d.panels) == 0 {
			v.split = 0
		}
		p, err := v.prepare()
		if err == nil {
			d.section, d.velocity = p.section, p
			d.yMax = max(d.yMax, p.yMax)
		} else if first == nil {
			first = err
		}
	}
	if d.section == nil {
		if first == nil {
			first = fmt.Errorf("%s: %w", f.Name, ErrNoValues)
		}
		return nil, first
	}
	for _, p := range d.panels {
		p.yMax, p.upper = d.yMax, d.upper
	}
	return d, nil
}

// explain returns the key of the properties; what is hatched in several has the reasons of all.
func (d *overviewData) explain() []chart.Key {
	all := sectionData{}
	for _, p := range d.panels {
		for k, r := range p.reasons {
			all.reasons[k] = all.reasons[k] || r
		}
		all.beneath = all.beneath || p.beneath
	}
	var ks []chart.Key
	for k, p := range d.panels {
		p.reasons, p.beneath = all.reasons, all.beneath
		ks = chart.Add(ks, p.explain(d.of[k], d.of[k].limit())...)
	}
	return ks
}

func (f *Overview) draw(w chart.Width) (*page.Scene, error) {
	d, err := f.prepare()
	if err != nil {
		return nil, err
	}
	p := chart.NewSheet(w, 45)
	p.Heading(cmp.Or(f.heading, "Overview"), sectionTitle(d.section, f.Title))
	insetOf(p, d.section.Casts)
	x0, x1 := d.section.DistanceKm[0], d.section.DistanceKm[len(d.section.DistanceKm)-1]
	for _, q := range d.panels {
		x0, x1 = min(x0, q.x0), max(x1, q.x1)
	}
	marks := marksOf(d.section)
	panel := func(title string) []chart.Frame {
		p.Y += 3
		p.Text(page.Label{Text: title, At: page.Pt(p.L, p.Y), Size: p.Size, V: page.Top, Bold: true})
		p.Y += p.Size * 1.45
		if marks != nil {
			p.StationRow()
		}
		frames := p.Panels(p.Tall(88, 70), x0, x1, 0, d.upper, d.yMax)
		if marks != nil {
			p.Stations(&frames[0], marks)
			marks = nil // stations are at the first panel only
		}
		return frames
	}
	down := verticalOf(false, nil)
	var last chart.Frame
	end := func(frames []chart.Frame) {
		last = frames[len(frames)-1]
		p.VerticalAxes(frames, p.Tall(18, 16), down.axis())
		p.Y = last.B + 4
	}
	for k, q := range d.panels {
		s := d.of[k]
		q.colour()
		frames := panel(titleOfField(q.field, s.Grid))
		q.drawFrames(s, p, frames, s.limit())
		down = q.vertical
		chart.ColourBar(p, frames[0].T, frames[len(frames)-1].B, q.f.Levels, q.f.Colours, q.unit())
		end(frames)
	}
	ks := d.explain()
	if d.velocity != nil {
		d.velocity.colour()
		frames := panel("Geostrophic velocity (m s⁻¹)")
		for k := range frames {
			d.velocity.paint(p, &frames[k])
		}
		down = d.velocity.down
		lowest, highest := chart.ColourBar(p, frames[0].T, frames[len(frames)-1].B, d.velocity.levels,
			d.velocity.colours,
			"m s⁻¹")
		if into, ok := f.Velocity.intoPage(); ok {
			pageSign(into)(p.Scene, &highest)
			pageSign(!into)(p.Scene, &lowest)
		}
		ks = chart.Add(chart.Add(ks, d.velocity.explain()...), f.Velocity.signKeys()...)
		end(frames)
	}
	var axis string
	if len(d.of) > 0 {
		axis = d.of[0].Axis
	} else {
		axis = f.Velocity.Axis
	}
	p.DistanceAxes(&last, trackOf(d.section, nil), axis)
	p.Keys(ks)
	return p.Done(), nil
}

// insetOf draws a small map with the track of a section at the right, and what is known of it at the left.
func insetOf(p *chart.Sheet, casts []*section.Cast) {
	at := withPosition(casts)
	height := p.Tall(74, 58)
	in := chart.Map{Projection: chart.ProjectionFor(positionsOf(at))}
	in.Frame = chart.Frame{L: p.R - height*1.5, T: p.Y, R: p.R, B: p.Y + height}
	xs, ys := chart.NoExtent(), chart.NoExtent()
	for _, c := range at {
		x, y := in.Forward(chart.Near(c.At[0], in.Lon0), c.At[1])
		xs.Add(x)
		ys.Add(y)
		in.Lat0 += c.At[1] / float64(len(at))
	}
	x, y := (xs.Lo+xs.Hi)/2, (ys.Lo+ys.Hi)/2
	least := max(xs.Span()/2.2, ys.Span()*1.5/2.2) // half the width
	var land, shores page.Path
	for _, km := range []float64{300, 900, 1800, 3600, 7200} {
		half := max(km*in.Scale(in.Lat0), least*1.25)
		in.X0, in.X1, in.Y0, in.Y1 = x-half, x+half, y+half/1.5, y-half/1.5
		var area float64
		if land, shores, area = landOf(&in, km < 900); area > 0.03*height*height*1.5 {
			break
		}
	}
	p.Fill(in.Rect(), chart.Water)
	p.Fill(land, landColour)
	p.Stroke(shores, page.Pen{Colour: shore, Width: chart.Hair, Round: true})
	p.Stroke(in.Clip(in.Course(positionsOf(at))), page.Pen{Colour: alarm, Width: chart.Heavy, Round: true})
	in.Border(p.Scene)
	p.Keep = append(p.Keep, page.RectBox(in.L, in.T, in.R, in.B))
	closed := (&section.Section{Casts: casts}).Closed()
	n := len(casts)
	if closed {
		n--
	}
	lines := []string{plural(n, "station", "stations") + ", " + whenText(casts)}
	if len(at) > 1 {
		a, b := at[0], at[len(at)-1]
		lines = append(lines, fmt.Sprintf("station %s: %s, %s", trimZeros(a.Station), chart.LatText(a.At[1], 2),
			chart.LonText(a.At[0], 2)), fmt.Sprintf("station %s: %s, %s", trimZeros(b.Station),
			chart.LatText(b.At[1], 2),
			chart.LonText(b.At[0], 2)))
		if closed {
			lines[2] = "closed line"
		}
	}
	row := p.Y + 2
	for _, l := range lines {
		row = p.Paragraph(page.Label{Text: l, At: page.Pt(p.L, row), Size: p.Size, V: page.Top}, in.L-p.L-8, 1.4)
	}
	p.Y = math.Max(in.B, row) + 4
}

func (f *Overview) caption(a *About) (caption, error) {
	d, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	c := caption{head: "Overview, " + sectionTitle(d.section, f.Title)}
	var names []string
	for _, q := range d.panels {
		name := lowerName(nameText(&q.field.Variable))
		names = append(names, name+bracketed(q.unit()))
		c.span(name, chart.ExtentOf(q.raw), q.unit())
		c.add("Levels of "+name, levelList(q.f.Levels))
	}
	down, floor := verticalOf(false, nil), (*floorShape)(nil)
	if d.velocity != nil {
		names = append(names, "geostrophic velocity (m s⁻¹)")
		c.add("Levels of velocity", levelList(d.velocity.levels))
		down, floor = d.velocity.down, &d.velocity.floor
	}
	if len(d.panels) > 0 {
		down, floor = d.panels[0].vertical, &d.panels[0].floor
	}
	upper := ""
	if d.upper > 0 {
		upper = fmt.Sprintf("The upper %s are drawn at a larger scale.", down.text(d.upper))
	}
	c.write(fmt.Sprintf("%s: %s, %s, on the same axes.", sectionTitle(d.section, f.Title), list(names),
		stationSpan(d.section)), "The map shows the track.", upper, "Shaded bands and lines show the gridded fields"+
		floor.solid()+".",
		a.data(), "Each panel has a figure of its own, with its methods.")
	c.along(d.section)
	down.span(&c, chart.Extent{Hi: d.yMax})
	c.bottom(floor)
	c.about(a, !floor.none())
	return c, nil
}
