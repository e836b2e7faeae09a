package figure

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/section/geostrophy"
)

// A transportPanel shows the transport of each pair, or their running sum.
type transportPanel struct {
	chart.Frame
	d       *velocityData
	sum     bool
	partial bool           // a pair is withheld
	line    [][]page.Point // of the sum
	dashed  [][]page.Point // where it is partial
	band    page.Path      // its error
	covered []page.Box     // by bars and their errors
}

// value returns the transport of a pair and its error, 0 when not known.
func (t *transportPanel) value(k int) (v, e float64) {
	q := t.d.pairs[k].Transport[geostrophy.Volume]
	if t.sum {
		q = t.d.pairs[k].Cumulative[geostrophy.Volume]
	}
	if !math.IsNaN(q.Stated) {
		e = q.Stated / megatransport
	}
	return q.Value / megatransport, e
}

// transports draws a panel of transports.
func (d *velocityData) transports(p *chart.Sheet, x0, x1 float64, sum bool) chart.Frame {
	s := p.Scene
	t := &transportPanel{Frame: chart.Frame{L: p.L, R: p.R, T: p.Y, B: p.Y + p.Tall(46, 36), X0: x0, X1: x1}, d: d,
		sum: sum}
	span := chart.Extent{}
	for k := range d.pairs {
		if d.pairs[k].Status.HasVelocity() {
			v, e := t.value(k)
			span.Add(v - e)
			span.Add(v + e)
		}
	}
	if span.Span() == 0 {
		span = chart.Extent{Lo: -1, Hi: 1}
	}
	span = span.Padded(0.08)
	t.Y0, t.Y1 = span.Hi, span.Lo
	t.pairs(s)
	s.Fill(t.band, errorBand)
	s.Line(t.L, t.Y(0), t.R, t.Y(0), page.Pen{Colour: page.Ink, Width: chart.Normal})
	s.Stroke(page.Join(t.line), page.Pen{Colour: page.Ink, Width: chart.Heavy})
	s.Stroke(page.Join(t.dashed), page.Pen{Colour: page.Ink, Width: chart.Heavy, Dash: []float64{3, 2}})
	t.Border(s)
	t.LeftAxis(s, chart.Ticks(t.Y1, t.Y0, 4), p.Size)
	text := "each pair"
	if sum {
		text = "sum from the left, grey: its error"
		if t.partial {
			text += "; dashed: partial"
		}
	}
	s.Patched(t.place(page.Label{Text: text, Size: p.Small(0.4), Colour: chart.SoftInk}), 0.8, page.Paper)
	p.Y = t.B + 4
	return t.Frame
}

// errorBand is the colour of the error of a sum.
var errorBand = color.NRGBA{222, 224, 228, 255}

// pairs draws the bars, or collects the lines of the sum.
func (t *transportPanel) pairs(s *page.Scene) {
	at, before := t.At(t.X0, 0), 0.0 // the sum and its error so far
	clamp := func(v float64) float64 { return t.Y(max(t.Y1, min(t.Y0, v))) }
	for k := range t.d.pairs {
		q := &t.d.pairs[k]
		l, r := t.X(q.FromKm), t.X(q.ToKm)
		has := q.Status.HasVelocity()
		if !has {
			chart.Hatch(s, page.Rect(l, t.T, r, t.B), chart.NoValueAngle, chart.DoubtAngle)
			t.partial = true
		}
		v, e := t.value(k)
		if q.Status == geostrophy.Questionable {
			chart.Hatch(s, page.Rect(l, t.T, r, t.B), chart.DoubtAngle)
		}
		if t.sum { // broken where a pair is withheld
			next, error := page.Pt(r, at.Y), before
			if has {
				next, error = t.At(q.ToKm, v), e
				piece := []page.Point{at, next}
				if t.partial || q.CumulativePartial {
					t.dashed = append(t.dashed, piece)
				} else {
					t.line = append(t.line, piece)
				}
				up, down := t.Y(0)-t.Y(before), t.Y(0)-t.Y(error)
				t.band = append(t.band, []page.Point{page.Pt(l, at.Y-up), page.Pt(r, next.Y-down),
					page.Pt(r, next.Y+down),
					page.Pt(l, at.Y+up)})
			}
			at, before = next, error
		}
		if !has || t.sum {
			continue
		}
		inset := min(0.5, (r-l)*0.12)
		bar := page.Rect(l+inset, t.Y(0), r-inset, t.Y(v))
		if v < 0 { // pale and hatched, so that signs are seen without colour
			chart.Hatched(s, bar, chart.Colours("velocity1").At(0.36), chart.DoubtAngle)
			s.Outline(bar, chart.InkHair)
		} else {
			s.Fill(bar, chart.Colours("velocity1").At(0.86))
		}
		if e > 0 {
			mid := (l + r) / 2
			s.Line(mid, clamp(v-e), mid, clamp(v+e), page.Pen{Colour: page.Ink, Width: min(chart.Thin, (r-l)*0.2)})
		}
		t.covered = append(t.covered, page.RectBox(l, clamp(max(0, v+e)), r, clamp(min(0, v-e))))
	}
}

// place puts a label in the corner that lines and bars leave free, else where they leave most.
func (t *transportPanel) place(l page.Label) page.Label {
	var places []page.Label
	add := func(x, y float64, h, v page.Align) {
		l.At, l.H, l.V = page.Pt(x, y), h, v
		places = append(places, l)
	}
	add(t.R-3, t.T+2.5, page.Right, page.Top)
	add(t.L+3, t.T+2.5, page.Left, page.Top)
	add(t.R-3, t.B-1.5, page.Right, page.Bottom)
	add(t.L+3, t.B-1.5, page.Left, page.Bottom)
	for _, y := range []float64{0.5, 0.35, 0.65, 0.2, 0.8} {
		for n := range 8 {
			add(t.R-3-float64(n)*(t.R-t.L)/9, t.T+(t.B-t.T)*y, page.Right, page.Centre)
		}
	}
	lines := slices.Concat([][]page.Point{{page.Pt(t.L, t.Y(0)), page.Pt(t.R, t.Y(0))}}, t.line, t.dashed)
	best, fewest := page.Label{}, math.MaxInt
	for _, c := range places {
		b := c.Box()
		if b[0].X < t.L+1 {
			continue
		}
		hits := 0
		for _, o := range t.covered {
			if b.Overlaps(o, 0) {
				hits += 5
			}
		}
		for _, piece := range lines {
			for n := range 41 {
				q := page.Along(piece, page.Length(piece)*float64(n)/40)
				if b.Overlaps(page.RectBox(q.X-1, q.Y-1, q.X+1, q.Y+1), 0) {
					hits++
				}
			}
		}
		if hits < fewest {
			best, fewest = c, hits
		}
	}
	return best
}

// spelled writes units as print has them.
var spelled = strings.NewReplacer("km2", "km²")

// totalText returns the sum of the section, never without what it leaves out.
func (f *Velocity) totalText() string {
	t := f.Result.Total[geostrophy.Volume]
	if math.IsNaN(t.Value) {
		return ""
	}
	return "Total " + chart.WithError(t.Value/megatransport, t.Stated/megatransport) + " × 10⁶ m³ s⁻¹, " +
		spelled.Replace(f.Result.Partial.Statement) + "."
}

// extremes says how large velocities are and where.
func (d *velocityData) extremes() string {
	var out []string
	for _, sign := range []float64{1, -1} {
		best, where := 0.0, ""
		for k := range d.pairs {
			q := &d.pairs[k]
			if !q.Status.HasVelocity() {
				continue
			}
			for i, v := range q.Velocity {
				if v*sign > best*sign && d.floor.above((q.FromKm+q.ToKm)/2, q.PressureDbar[i]) {
					best = v
					where = fmt.Sprintf("%s m s⁻¹ at %s between stations %s and %s", chart.Significant(v, 2),
						d.down.text(q.PressureDbar[i]), trimZeros(d.section.Casts[q.A].Station),
						trimZeros(d.section.Casts[q.B].Station))
				}
			}
		}
		if where != "" {
			out = append(out, where)
		}
	}
	return strings.Join(out, "; ")
}

func (f *Velocity) caption(a *About) (caption, error) {
	d, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	c := caption{head: "Geostrophic velocity, " + sectionTitle(d.section, f.Title)}
	reference := ""
	if d.reference > 0 {
		reference = fmt.Sprintf("Long dashes: no motion at %s dbar.", chart.Short(chart.Round(d.reference)))
	}
	extremes := d.extremes()
	greatest, _, _ := strings.Cut(extremes, ";")
	c.write(sectionTitle(d.section, f.Title)+": geostrophic velocity (m s⁻¹) normal to the "+
		"section, "+stationSpan(d.section)+
		", with the volume transport (10⁶ m³ s⁻¹) of each pair and its sum from the left. "+f.direction(),
		"Extreme: "+greatest+".", "Dashed lines: below zero.", reference,
		"Heavy line: zero, where velocities exceed their error.", a.data(), "Each pair gives one profile.")
	km := d.section.DistanceKm
	c.span("distance", chart.Extent{Lo: km[0], Hi: km[len(km)-1]}, "km")
	d.down.span(&c, chart.Extent{Hi: d.yMax})
	velocity := chart.NoExtent()
	for _, run := range d.runs {
		for _, v := range run.Data {
			velocity.Add(v)
		}
	}
	c.span("velocity", velocity, "m s⁻¹")
	c.along(d.section)
	c.add("Extremes", extremes)
	c.add("Drawn", "each pair as one profile at its middle, joined linearly; the zero line where velocities beside "+
		"it exceed "+
		"their per-cast error")
	c.add("Transport", f.totalText())
	c.add("Computed", settings(f.Result.Params))
	c.add("Contour interval", chart.IntervalText(d.levels)+" (m s⁻¹)"+prefixed("; ", f.Scale.text()))
	var held []string
	for k := range d.pairs {
		if q := &d.pairs[k]; q.Status != geostrophy.Computed {
			word := "withheld"
			if q.Status.HasVelocity() {
				word = "questionable"
			}
			a, b := d.section.Casts[q.A].Station, d.section.Casts[q.B].Station
			held = append(held, fmt.Sprintf("%s–%s %s (%s)", trimZeros(a), trimZeros(b), word, q.Reason))
		}
	}
	c.add("Pairs to review", strings.Join(held, "; "))
	for _, n := range f.Result.Notes {
		c.add("Note", n)
	}
	c.bottom(&d.floor)
	if d.floor.charted {
		c.add("Transport near the bottom", "down to straight lines between the water depths of the stations; velocity "+
			"that lies under the drawn bottom is not shown")
	}
	c.about(a, !d.floor.none())
	return c, nil
}
