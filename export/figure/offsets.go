package figure

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// SensorPairs shows second sensor minus first of each cast in deep water, in the order of the casts, with the limits.
type SensorPairs struct {
	Name, Title string
	Rows        []export.PairRow
	Better      []string // sentences on which sensor agrees with bottles
}

// BottleComparison shows bottle samples minus the CTD against pressure and in the order of the casts, with robust fits
// and targets.
type BottleComparison struct {
	Name, Title string
	Rows        []export.ComparisonRow
	Fits        []export.FitRow
	Better      []string // as in SensorPairs
}

// Stem implements Figure.
func (f *SensorPairs) Stem() string { return f.Name }

// Stem implements Figure.
func (f *BottleComparison) Stem() string { return f.Name }

// offsets are differences of casts made ready to draw, a row of panels for each quantity.
type offsets struct {
	casts   []*section.Cast
	number  map[*section.Cast]int
	systems []string
	rows    []offsetRow
	deepest float64 // dbar, of the panels against pressure; 0: there are none
}

type offsetRow struct {
	variable metadata.Variable
	points   []offsetPoint
	lines    []offsetLine
	limits   []float64 // dashed on both sides of zero
	half     float64   // of the axis, on both sides of zero
	power    int       // of ten, in which the numbers of the axis are
	beyond   int       // points outside the axis
}

type offsetPoint struct {
	cast, system int // system -1: not in the fit
	dbar, y, err float64
	open         bool // of a cast that does not reach deep water
}

type offsetLine struct {
	system       int
	from, to     float64 // dbar
	yFrom, yTo   float64
	name, values string // for the caption
}

// add gives casts their number, by the order of the archive, and systems theirs.
func (o *offsets) add(casts []*section.Cast) {
	o.number = map[*section.Cast]int{}
	casts = slices.Clone(casts)
	slices.SortStableFunc(casts, section.CompareCasts)
	for _, c := range casts {
		if _, ok := o.number[c]; !ok {
			o.number[c] = len(o.casts)
			o.casts = append(o.casts, c)
		}
		if !slices.Contains(o.systems, c.System) {
			o.systems = append(o.systems, c.System)
		}
	}
}

// row returns the row of a quantity, which it makes when there is none.
func (o *offsets) row(v *metadata.Variable) *offsetRow {
	for i := range o.rows {
		if o.rows[i].variable.Name == v.Name {
			return &o.rows[i]
		}
	}
	o.rows = append(o.rows, offsetRow{variable: *v})
	return &o.rows[len(o.rows)-1]
}

// finish sets the vertical axes: wide enough for the limits, for the fits and for 99 % of the points.
func (o *offsets) finish(name string) error {
	if len(o.rows) == 0 {
		return fmt.Errorf("%s: %w: no difference", name, ErrNoValues)
	}
	for i := range o.rows {
		r := &o.rows[i]
		var far []float64
		for _, p := range r.points {
			if p.system >= 0 {
				far = append(far, math.Abs(p.y)+2*p.err)
			}
		}
		slices.Sort(far)
		if n := len(far); n > 0 {
			r.half = far[min(n-1, int(float64(n)*0.99))] * 1.1
		}
		for _, l := range r.limits {
			r.half = max(r.half, 1.5*l)
		}
		for _, l := range r.lines {
			r.half = max(r.half, 1.1*math.Abs(l.yFrom), 1.1*math.Abs(l.yTo))
		}
		if r.half == 0 {
			r.half = 1e-3
		}
		for r.power > -9 && r.half < 0.02*math.Pow10(r.power) {
			r.power -= 3
		}
		for _, p := range r.points {
			if math.Abs(p.y) > r.half {
				r.beyond++
			}
			o.deepest = max(o.deepest, p.dbar)
		}
	}
	return nil
}

func (f *SensorPairs) prepare() (*offsets, error) {
	o := &offsets{}
	var casts []*section.Cast
	for i := range f.Rows {
		if f.Rows[i].Deep.Levels > 0 {
			casts = append(casts, f.Rows[i].Cast)
		}
	}
	o.add(casts)
	for i := range f.Rows {
		p := &f.Rows[i]
		if p.Deep.Levels == 0 {
			continue
		}
		r := o.row(&p.Variable)
		r.points = append(r.points, offsetPoint{cast: o.number[p.Cast], system: slices.Index(o.systems, p.Cast.System),
			y: p.Deep.Median, err: p.Deep.Error, open: p.Shallow})
		if !slices.Contains(r.limits, p.Limit) {
			r.limits = append(r.limits, p.Limit)
		}
	}
	return o, o.finish(f.Name)
}

func (f *BottleComparison) prepare() (*offsets, error) {
	o := &offsets{}
	var casts []*section.Cast
	down := map[string]bool{} // the downcast is what is shown; where it has no match at all, the closures
	for i := range f.Rows {
		casts = append(casts, f.Rows[i].Cast)
		down[f.Rows[i].Variable.Name] = down[f.Rows[i].Variable.Name] || !math.IsNaN(f.Rows[i].Down)
	}
	o.add(casts)
	for i := range f.Rows {
		q := &f.Rows[i]
		ctd := q.Down
		if !down[q.Variable.Name] {
			ctd = q.Closure
		}
		d := q.Value - ctd
		if math.IsNaN(d) {
			continue
		}
		system := slices.Index(o.systems, q.Cast.System)
		if !q.Fitted {
			system = -1
		}
		r := o.row(&q.Variable)
		r.points = append(r.points, offsetPoint{cast: o.number[q.Cast], system: system, dbar: q.Dbar, y: d})
	}
	for i := range o.rows {
		of := "bottle minus downcast"
		if !down[o.rows[i].variable.Name] {
			of = "bottle minus CTD at closure"
		}
		o.addFits(&o.rows[i], f.Fits, of)
	}
	return o, o.finish(f.Name)
}

// addFits adds the lines of the fits of a row, by system where there are several.
func (o *offsets) addFits(r *offsetRow, fits []export.FitRow, of string) {
	for i := range fits {
		q := &fits[i]
		whole := q.System == "" && len(o.systems) > 1
		if q.Of != of || q.Variable != r.variable.Name || q.Term != "offset" || whole {
			continue
		}
		l := offsetLine{system: max(0, slices.Index(o.systems, q.System)), from: math.Inf(1), to: math.Inf(-1),
			name: q.System, values: fmt.Sprintf("%s at %.0f dbar", withError(q.Value, q.Error), q.MeanDbar)}
		slope := 0.0
		for k := range fits {
			if p := &fits[k]; p.Of == of && p.Variable == q.Variable && p.System == q.System && p.Term == "pressure" {
				slope = p.Value / 1000
				l.values += fmt.Sprintf(", changing by %s per 1000 dbar", withError(p.Value, p.Error))
			}
		}
		for _, p := range r.points {
			if p.system == l.system {
				l.from, l.to = min(l.from, p.dbar), max(l.to, p.dbar)
			}
		}
		if l.from > l.to {
			continue
		}
		l.yFrom, l.yTo = q.Value+slope*(l.from-q.MeanDbar), q.Value+slope*(l.to-q.MeanDbar)
		r.lines = append(r.lines, l)
		if !slices.Contains(r.limits, q.Target) {
			r.limits = append(r.limits, q.Target)
		}
	}
}

// withError writes a value with its standard error, where there is one.
func withError(v, e float64) string {
	if math.IsNaN(e) {
		return chart.Significant(v, 2) + " (too few casts for an error)"
	}
	return chart.WithError(v, e)
}

// colour returns the colour of a system; grey for what is in no fit.
func (o *offsets) colour(system int) color.NRGBA {
	if system < 0 {
		return color.NRGBA{168, 172, 178, 255}
	}
	if len(o.systems) == 1 {
		return chart.Colours("station1").At(0.3)
	}
	return chart.Colours("station1").At(0.1 + 0.8*float64(system)/float64(len(o.systems)-1))
}

// draw draws the rows, each with a panel by pressure where there are pressures, and one by cast.
func (o *offsets) draw(w chart.Width, heading, place string) *page.Scene {
	p := chart.NewSheet(w, 8)
	p.Heading(heading, place)
	height := p.Tall(125, 112)
	for i := range o.rows {
		r := &o.rows[i]
		p.Y += 8
		p.StationRow()
		fr := chart.Frame{L: p.L, R: p.R, T: p.Y, B: p.Y + height, X0: -0.6, X1: float64(len(o.casts)) - 0.4,
			Y0: r.half, Y1: -r.half}
		if o.deepest > 0 {
			left := fr
			const gap = 12
			left.R = fr.L + (fr.R-fr.L-gap)*0.42
			fr.L = left.R + gap
			left.X0, left.X1 = 0, o.deepest*1.03
			o.panel(p, &left, r, func(q *offsetPoint) float64 { return q.dbar })
			for _, l := range r.lines {
				p.Stroke(left.Clip([]page.Point{left.At(l.from, l.yFrom), left.At(l.to, l.yTo)}),
					page.Pen{Colour: o.colour(l.system), Width: chart.Heavy})
			}
			left.BottomAxis(p.Scene, left.TicksThatFit(max(2, int((left.R-left.L)/(p.Size*5))), p.Size), p.Size)
			r.leftAxis(p, &left)
		} else {
			r.leftAxis(p, &fr)
		}
		o.panel(p, &fr, r, func(q *offsetPoint) float64 { return float64(q.cast) })
		o.stations(p, &fr)
		p.SideTitle(r.title(), (fr.T+fr.B)/2)
		p.Y = fr.B
		if o.deepest > 0 {
			left := fr
			left.L, left.R = p.L, fr.L-12
			p.AxisTitle(&left, fr.B, "Sea pressure (dbar)")
			p.Y += p.Size
		}
	}
	p.Y += 5
	p.Keys(o.keys())
	return p.Done()
}

// title names the vertical axis of a row.
func (r *offsetRow) title() string {
	unit := strings.TrimSpace(chart.PowerText(r.power) + " " + chart.UnitText(r.variable.Units))
	return "Δ " + lowerName(nameText(&r.variable)) + bracketed(unit)
}

// leftAxis draws the numbers of a row, in its power of ten.
func (r *offsetRow) leftAxis(p *chart.Sheet, fr *chart.Frame) {
	by := math.Pow10(-r.power)
	at := chart.Ticks(-r.half*by, r.half*by, max(3, int((fr.B-fr.T)/(p.Size*3))))
	fr.LeftAxisOf(p.Scene, at, p.Size, func(v float64) float64 { return v / by })
}

// panel draws points, limits and the border of a panel.
func (o *offsets) panel(p *chart.Sheet, fr *chart.Frame, r *offsetRow, x func(*offsetPoint) float64) {
	p.Line(fr.L, fr.Y(0), fr.R, fr.Y(0), chart.InkHair)
	for _, l := range r.limits {
		for _, v := range []float64{-l, l} {
			p.Stroke(page.Path{{page.Pt(fr.L, fr.Y(v)), page.Pt(fr.R, fr.Y(v))}},
				page.Pen{Colour: chart.SoftInk, Width: chart.Thin, Dash: []float64{3, 2}})
		}
	}
	const mostCircles = 400
	if len(r.points) > mostCircles {
		m := chart.NewMosaic(fr)
		m.Large = len(r.points) < 10000
		const layers = 15 // beside that of points that are in no fit; later systems share the last
		for i := range r.points {
			if q := &r.points[i]; math.Abs(q.y) <= r.half {
				m.Mark(min(q.system+1, layers), fr.At(x(q), q.y))
			}
		}
		for k := range min(len(o.systems), layers) + 1 {
			p.Fill(m.Path(k), o.colour(k-1))
		}
	} else {
		for i := range r.points {
			if q := &r.points[i]; math.Abs(q.y) <= r.half {
				o.circle(p, fr, r, q, x(q))
			}
		}
	}
	fr.Border(p.Scene)
}

// circle draws a point with two standard errors on each side.
func (o *offsets) circle(p *chart.Sheet, fr *chart.Frame, r *offsetRow, q *offsetPoint, x float64) {
	at, colour := fr.At(x, q.y), o.colour(q.system)
	if q.err > 0 {
		p.Line(at.X, fr.Y(min(q.y+2*q.err, r.half)), at.X, fr.Y(max(q.y-2*q.err, -r.half)),
			page.Pen{Colour: colour, Width: chart.Thin})
	}
	ring := page.Path{page.Circle(at, 1.5)}
	if q.open {
		p.Fill(ring, page.Paper)
		p.Outline(ring, page.Pen{Colour: colour, Width: chart.Thin})
		return
	}
	p.Fill(ring, colour)
}

// stations names the stations of a panel along its top.
func (o *offsets) stations(p *chart.Sheet, fr *chart.Frame) {
	names := namesOfStations(o.casts)
	var marks []chart.Mark
	for k, c := range o.casts {
		if k > 0 && c.Station == o.casts[k-1].Station && c.Expocode == o.casts[k-1].Expocode {
			continue
		}
		marks = append(marks, chart.Mark{X: float64(k), Name: c.Station, Label: names.of(c)})
	}
	word := "Station"
	if fr.L > p.L {
		word = ""
	}
	p.Marks(fr, marks, word)
}

// keys explains the colours of systems, and the other marks.
func (o *offsets) keys() []chart.Key {
	var ks []chart.Key
	outside, open := false, false
	for _, r := range o.rows {
		for _, q := range r.points {
			outside, open = outside || q.system < 0, open || q.open
		}
	}
	for k, name := range o.systems {
		if len(o.systems) > 1 {
			ks = append(ks, chart.AreaKey(o.colour(k), "system "+cmp.Or(name, "not stated")))
		}
	}
	if outside {
		ks = append(ks, chart.AreaKey(o.colour(-1), "not in the fit"))
	}
	if open {
		ks = append(ks, chart.Key{Draw: func(s *page.Scene, f *chart.Frame) {
			s.Outline(page.Path{page.Circle(f.Mid(), 1.5)}, page.Pen{Colour: page.Ink, Width: chart.Thin})
		}, Text: "deepest third of a shallow cast"})
	}
	dashed := page.Pen{Colour: chart.SoftInk, Width: chart.Thin, Dash: []float64{3, 2}}
	if slices.ContainsFunc(o.rows, func(r offsetRow) bool { return len(r.limits) > 0 }) {
		ks = append(ks, chart.LineKey(dashed, nil, "limit"))
	}
	if slices.ContainsFunc(o.rows, func(r offsetRow) bool { return len(r.lines) > 0 }) {
		pen := page.Pen{Colour: page.Ink, Width: chart.Heavy}
		if len(o.systems) == 1 {
			pen.Colour = o.colour(0)
		}
		ks = append(ks, chart.LineKey(pen, nil, "robust fit"))
	}
	return ks
}

// about adds what is the same for both figures to a caption.
func (o *offsets) about(c *caption, a *About, better []string) {
	for i := range o.rows {
		r := &o.rows[i]
		name := upperFirst(nameText(&r.variable))
		c.span("difference of "+lowerName(name), chart.Extent{Lo: -r.half, Hi: r.half},
			chart.UnitText(r.variable.Units))
		text := plural(len(r.points), "difference", "differences")
		if r.beyond > 0 {
			text += fmt.Sprintf(", %d of them beyond the axis", r.beyond)
		}
		slices.Sort(r.limits)
		for _, l := range slices.Compact(r.limits) {
			text += "; limit ±" + strings.TrimSpace(chart.Significant(l, 2)+" "+strings.TrimPrefix(
				chart.UnitText(r.variable.Units), "1"))
		}
		for _, l := range r.lines {
			text += "; fit" + prefixed(" of system ", l.name) + " " + l.values
		}
		c.add(name, text)
	}
	c.add("Which sensor agrees with bottles", strings.Join(better, " "))
	castLines(c, o.casts, 0)
	c.about(a, false)
}

func (f *SensorPairs) draw(w chart.Width) (*page.Scene, error) {
	o, err := f.prepare()
	if err != nil {
		return nil, err
	}
	return o.draw(w, "Sensor pairs, second minus first", f.Title), nil
}

func (f *SensorPairs) caption(a *About) (caption, error) {
	o, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	c := caption{head: "Sensor pairs, second minus first" + placed(f.Title)}
	c.write(opened(f.Title)+"Second sensor minus first in the deep water of each cast, in the order of the casts: "+
		"medians with two standard errors on each side. Dashed lines are the limits of the check of paired sensors.",
		"Colours are systems of sensors; open circles are the deepest thirds of casts that reach no deep water.",
		a.data(), "No correction was applied to the data.")
	o.about(&c, a, f.Better)
	return c, nil
}

func (f *BottleComparison) draw(w chart.Width) (*page.Scene, error) {
	o, err := f.prepare()
	if err != nil {
		return nil, err
	}
	return o.draw(w, "Bottle samples minus CTD", f.Title), nil
}

func (f *BottleComparison) caption(a *About) (caption, error) {
	o, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	c := caption{head: "Bottle samples minus CTD" + placed(f.Title)}
	c.write(opened(f.Title)+"Bottle samples minus the CTD at the matching level of the downcast, against pressure "+
		"and in the order of the casts. Dashed lines are the targets of repeat hydrography, thick lines robust fits.",
		"Grey samples are too shallow, or change too fast with pressure, to be in the fit.", a.data(),
		"No correction was applied to the data.", "Colours are systems of sensors.")
	o.about(&c, a, f.Better)
	return c, nil
}
