package figure

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"slices"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/gridding/contour"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/coast"
	"github.com/paulmach/orb"
)

// FieldMap is a map of a gridded field at one pressure, or on one surface of potential density: filled bands with
// labelled level lines, the stations, the coast, and grey where the bottom lies above it.
type FieldMap struct {
	Name  string
	Title string         // of the field
	Grid  *gridding.Grid // axes: pressure or potential density, latitude, longitude
	Field string
	Level float64 // dbar, or kg/m3 of a surface of density; the nearest of the grid is drawn
	Casts []*section.Cast
	Scale Scale
}

// Stem implements Figure.
func (f *FieldMap) Stem() string { return f.Name }

// fieldMapData is a FieldMap made ready.
type fieldMapData struct {
	chart.Map
	field   *gridding.Field
	f       *chart.Field
	level   float64   // dbar, or the density of a surface
	sunk    []float64 // 1 where the bottom lies above the level, else 0
	empty   bool      // parts without a value that are not below the bottom
	chosen  chart.Levels
	corners []orb.Point
}

// onSurface reports whether the map is on a surface of potential density.
func (f *FieldMap) onSurface() bool { return f.Grid.Axes[0].Name != "pres" }

// where says at which pressure or on which surface of density the map is.
func (f *FieldMap) where(d *fieldMapData) string {
	if f.onSurface() {
		axis := &f.Grid.Axes[0].Variable
		return "on " + cmp.Or(signOf(axis.Name), axis.Name) + " = " + chart.Short(chart.Round(d.level)) +
			bare(unitOf(axis))
	}
	return "at " + chart.Short(chart.Round(d.level)) + " dbar"
}

// layer is the word for what the map is of.
func (f *FieldMap) layer() string {
	if f.onSurface() {
		return "surface"
	}
	return "level"
}

// nothing says in the key what parts without a value are.
func (f *FieldMap) nothing() string {
	if f.onSurface() {
		return noSuchWater + ", or no value"
	}
	return "no value"
}

func (f *FieldMap) prepare() (*fieldMapData, error) {
	g := f.Grid
	if g == nil || len(g.Axes) != 3 {
		return nil, fmt.Errorf("%s: a map needs a grid of pressure or density by latitude by longitude: %w", f.Name,
			ErrNoField)
	}
	d := &fieldMapData{field: findField(g, f.Field)}
	pres, lat, lon := g.Axes[0].Values, g.Axes[1].Values, g.Axes[2].Values
	n := len(lat) * len(lon)
	if d.field == nil || len(d.field.Data) != len(pres)*n || len(lat) < 2 || len(lon) < 2 {
		return nil, fmt.Errorf("%s: %w: %q", f.Name, ErrNoField, f.Field)
	}
	level := 0
	for k, p := range pres {
		if math.Abs(p-f.Level) < math.Abs(pres[level]-f.Level) {
			level = k
		}
	}
	d.level = pres[level]
	d.f = &chart.Field{X: lon, Y: lat, Data: slices.Clone(d.field.Data[level*n : (level+1)*n])}
	if chart.ExtentOf(d.f.Data).Empty() {
		return nil, fmt.Errorf("%s: %w in %q %s", f.Name, ErrNoValues, f.Field, f.where(d))
	}
	d.sunk = make([]float64, n)
	for _, of := range []string{"asal", f.Field} { // density has no mask of its own
		for _, m := range g.Fields {
			for k := 0; m.Kind == gridding.MaskReason && m.Of == of && k < n; k++ {
				d.sunk[k] = 0
				if m.Data[level*n+k] == gridding.BelowBottom && math.IsNaN(d.f.Data[k]) {
					d.sunk[k] = 1
				}
			}
		}
	}
	for k, v := range d.f.Data {
		d.empty = d.empty || math.IsNaN(v) && d.sunk[k] == 0
	}
	for _, x := range []float64{lon[0], (lon[0] + lon[len(lon)-1]) / 2, lon[len(lon)-1]} {
		for _, y := range []float64{lat[0], (lat[0] + lat[len(lat)-1]) / 2, lat[len(lat)-1]} {
			d.corners = append(d.corners, orb.Point{chart.Wrap180(x), y})
		}
	}
	d.Projection = chart.ProjectionFor(d.corners)
	return d, d.chooseLevels(f)
}

// chooseLevels sets levels and colours.
func (d *fieldMapData) chooseLevels(f *FieldMap) error {
	var vs []chart.Weighed
	floor := floorAt(f.Grid.ErrorBands(f.Field), d.level)
	for k, v := range d.f.Data {
		if !math.IsNaN(v) {
			vs = append(vs, chart.Weighed{Value: v, Weight: math.Cos(d.f.Y[k/len(d.f.X)] * math.Pi / 180),
				Floor: floor})
		}
	}
	vs = f.Scale.within(vs)
	given, err := f.Scale.given(extentOf(vs))
	if err != nil {
		return fmt.Errorf("%s: %w", f.Name, err)
	}
	if d.f.Levels = given; given == nil {
		d.chosen = chart.ChooseLevels(vs, chart.MostLevels)
		d.f.Levels = d.chosen.At
	}
	d.f.Colours = chart.BandColours(chart.ColourMapOf(f.Field), d.f.Levels)
	return nil
}

// unit is the unit of the field as figures print it.
func (d *fieldMapData) unit() string { return unitOf(&d.field.Variable) }

// onMap returns the outlines of an area of longitudes and latitudes on the page.
func onMap(region orb.MultiPolygon, m *chart.Map) page.Path {
	var p page.Path
	for _, polygon := range region {
		for _, ring := range polygon {
			if q := page.SimplifyRing(page.ClipRing(m.Course(ring), m.L, m.T, m.R, m.B)); len(q) > 2 {
				p = append(p, q)
			}
		}
	}
	return p
}

func (f *FieldMap) draw(w chart.Width) (*page.Scene, error) {
	d, err := f.prepare()
	if err != nil {
		return nil, err
	}
	p := chart.NewSheet(w, 45)
	p.L = 34
	p.Heading(titleText(&d.field.Variable)+" "+f.where(d), f.Title)
	if d.Pole != 0 {
		p.Y += p.Size + 2 // meridians are named along the top too
	}
	frameAround(p, &d.Map, d.corners, 1.08)
	d.paint(p)
	var ks []chart.Key
	d.Graticule(p)
	drawLand(p.Scene, &d.Map, (d.X1-d.X0)/d.Scale(d.Lat0) < 1500)
	casts := withPosition(f.Casts)
	var at []page.Point
	for _, c := range casts {
		q := d.Place(c.At[0], c.At[1])
		at = append(at, q)
		p.Keep = append(p.Keep, page.RectBox(q.X-1.6, q.Y-1.6, q.X+1.6, q.Y+1.6))
	}
	d.lines(p)
	for _, q := range at {
		p.Fill(page.Path{page.Circle(q, 1.5)}, page.Paper)
		dot(p.Scene, q, 1.1)
	}
	ks = append(ks, chart.Key{Draw: func(s *page.Scene, f *chart.Frame) { dot(s, f.Mid(), 1.1) }, Text: "station"})
	d.ScaleBar(p.Scene, p.Size, at)
	d.Border(p.Scene)
	chart.ColourBar(p, d.T, d.B, d.f.Levels, d.f.Colours, d.unit())
	if slices.Contains(d.sunk, 1) {
		ks = append(ks, chart.AreaKey(seabed, "bottom above this "+f.layer()))
	}
	ks = append(ks, uniformKey(d.f, chart.ExtentOf(d.f.Data), d.unit())...)
	if d.empty {
		ks = append(ks, chart.AreaKey(chart.NoValue, f.nothing(), chart.NoValueAngle))
	}
	p.Y = d.B + chart.TickLength + 5 + p.Size
	p.Keys(ks)
	return p.Done(), nil
}

// paint draws the bands, and hatching where there is no value.
func (d *fieldMapData) paint(p *chart.Sheet) {
	p.Fill(d.Rect(), chart.Water)
	whole := &chart.Field{X: d.f.X, Y: d.f.Y, Data: make([]float64, len(d.f.Data))}
	if d.empty {
		all := contour.Above(whole.X, whole.Y, whole.Data, []float64{-1})[0]
		chart.Hatched(p.Scene, onMap(all, &d.Map), chart.NoValue, chart.NoValueAngle)
	}
	from := append([]float64{math.Inf(-1)}, d.f.Levels...)
	for k, region := range contour.Above(d.f.X, d.f.Y, d.upToBottom(), from) {
		p.Fill(onMap(region, &d.Map), d.f.Colours[k])
	}
	if slices.Contains(d.sunk, 1) {
		p.Fill(onMap(contour.Above(d.f.X, d.f.Y, d.sunk, []float64{0.5})[0], &d.Map), seabed)
	}
}

// upToBottom returns the values with those beside the bottom carried one node into it, so that bands run up to it.
func (d *fieldMapData) upToBottom() []float64 {
	nx, ny := len(d.f.X), len(d.f.Y)
	out := slices.Clone(d.f.Data)
	for k := range out {
		if d.sunk[k] == 0 {
			continue
		}
		sum, n := 0.0, 0.0
		for i := max(0, k/nx-1); i <= min(ny-1, k/nx+1); i++ {
			for j := max(0, k%nx-1); j <= min(nx-1, k%nx+1); j++ {
				if v := d.f.Data[i*nx+j]; !math.IsNaN(v) {
					sum, n = sum+v, n+1
				}
			}
		}
		if n > 0 {
			out[k] = sum / n
		}
	}
	return out
}

// lines draws the level lines with labels.
func (d *fieldMapData) lines(p *chart.Sheet) {
	lines := make([][][]page.Point, len(d.f.Levels))
	for k, c := range contour.Lines(d.f.X, d.f.Y, d.f.Data, d.f.Levels) {
		for _, l := range c.Lines {
			for _, piece := range d.Clip(d.Course(l)) {
				lines[k] = append(lines[k], page.Simplify(piece))
			}
		}
	}
	ink := func(l float64) color.NRGBA { return chart.InkOn(d.f, l) }
	chart.LabelLines(p.Scene, &d.Frame, lines, d.f.Levels, chart.LineStyle{
		Pen:  func(l float64) page.Pen { return page.Pen{Colour: ink(l), Width: chart.Hair} },
		Size: p.Small(0.7), Text: chart.Scaled(chart.TenPower(d.f.Levels)), Colour: ink, PerPoint: 330, Steep: true,
		Ground: func(l float64) color.NRGBA { return chart.GroundUnder(d.f, l) }, Free: clearOf(d.Lines),
	})()
}

func (f *FieldMap) caption(a *About) (caption, error) {
	d, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	title := nameText(&d.field.Variable)
	at := f.where(d)
	c := caption{head: title + " " + at + placed(f.Title)}
	grey := ""
	if slices.Contains(d.sunk, 1) {
		grey = "Grey: the bottom lies above this " + f.layer() + "."
	}
	values := chart.ExtentOf(d.f.Data)
	c.write(fmt.Sprintf("%s%s%s %s, gridded from %s. Shaded bands and labelled lines show the gridded field.",
		opened(f.Title), title, bracketed(d.unit()), at, plural(len(f.Casts), "cast", "casts")), grey,
		fmt.Sprintf("Values are between %s and %s%s.", chart.Significant(values.Lo, 3), chart.Significant(values.Hi, 3),
			bare(d.unit())), "Casts were taken "+whenText(f.Casts)+".", "Dots are stations.", a.data(),
		"Distances are true to the scale bar.")
	c.span(title, values, d.unit())
	c.where(f.Casts)
	c.casts(f.Casts)
	c.add("Gridded", settings(slices.Concat(f.Grid.Params, f.Grid.Results)))
	c.add("Skill", skillText(f.Grid, f.Field, d.field.Units))
	c.add("Contour interval", chart.IntervalText(d.f.Levels)+bracketed(d.unit())+whyLevels(&d.chosen))
	c.add("Levels", levelList(d.f.Levels)+prefixed("; ", f.Scale.text()))
	c.add("Coastline", coast.Credit((d.X1-d.X0)/max(d.Scale(d.Lat0), 1e-9) < 1500))
	c.about(a, true)
	return c, nil
}

// bare returns a unit after a number; "" for none.
func bare(unit string) string {
	if unit == "" || unit == "1" {
		return ""
	}
	return " " + unit
}
