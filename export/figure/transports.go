package figure

import (
	"fmt"
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
	s.Line(t.L, t.Y(0), t.R, t.Y(0), page.Pen{Colour: page.Ink, Width: chart.Normal})
	s.Stroke(page.Join(t.line), page.Pen{Colour: page.Ink, Width: chart.Heavy})
	s.Stroke(page.Join(t.dashed), page.Pen{Colour: page.Ink, Width: chart.Heavy, Dash: []float64{3, 2}})
	t.Border(s)
	t.LeftAxis(s, chart.Ticks(t.Y1, t.Y0, 4), p.Size)
	text := "each pair"
	if sum {
		text = "sum from the left"
		if t.partial {
			text += " (dashed: partial)"
		}
	}
	s.Patched(t.place(page.Label{Text: text, Size: p.Size - 0.4, Colour: chart.SoftInk}), 0.8, page.Paper)
	p.Y = t.B + 4
	return t.Frame
}

// pairs draws the bars, or collects the lines of the sum.
func (t *transportPanel) pairs(s *page.Scene) {
	at := t.At(t.X0, 0)
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
		if t.sum {
			next := page.Pt(r, at.Y)
			if has {
				next = t.At(q.ToKm, v)
			}
			if t.partial || q.CumulativePartial {
				t.dashed = append(t.dashed, []page.Point{at, next})
			} else {
				t.line = append(t.line, []page.Point{at, next})
			}
			at = next
		}
		if !has || t.sum {
			continue
		}
		colour := 0.82
		if v < 0 {
			colour = 0.18
		}
		inset := min(0.5, (r-l)*0.12)
		s.Fill(page.Rect(l+inset, t.Y(0), r-inset, t.Y(v)), chart.Colours("velocity1").At(colour))
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

var compass = [...]string{"north", "north-northeast", "northeast", "east-northeast", "east", "east-southeast",
	"southeast",
	"south-southeast", "south", "south-southwest", "southwest", "west-southwest", "west", "west-northwest", "northwest",
	"north-northwest"}

// compassWord returns the nearest of sixteen directions.
func compassWord(deg float64) string {
	return compass[int(math.Floor(math.Mod(deg+360+11.25, 360)/22.5))%16]
}

// direction writes out which way is positive: the mean over the length of the pairs.
func (f *Velocity) direction() string {
	var e, n float64
	for k := range f.Result.Pairs {
		q := &f.Result.Pairs[k]
		if math.IsNaN(q.PositiveDeg) || math.IsNaN(q.LengthKm) {
			continue
		}
		s, c := math.Sincos(q.PositiveDeg * math.Pi / 180)
		e += s * q.LengthKm
		n += c * q.LengthKm
	}
	if e == 0 && n == 0 {
		return "Positive: " + f.Result.Positive + "."
	}
	deg := math.Mod(math.Atan2(e, n)*180/math.Pi+360, 360)
	first, last, turns := math.NaN(), math.NaN(), false
	for k := range f.Result.Pairs {
		if q := f.Result.Pairs[k].PositiveDeg; !math.IsNaN(q) {
			if math.IsNaN(first) {
				first = q
			}
			last = q
			turns = turns || math.Abs(math.Remainder(q-deg, 360)) > 60
		}
	}
	towards := func(deg float64) string {
		return fmt.Sprintf("%s (%s° true)", compassWord(deg), chart.Number(math.Mod(math.Round(deg), 360), 0))
	}
	side, also := f.Result.Positive, ""
	if side == "left" || side == "right" {
		side = "to the " + side + " of the direction of the section"
		also = ", " + side
	}
	if turns { // no one direction is true of all of it
		return fmt.Sprintf("Positive: %s; the section turns: towards %s at its first pair, towards %s at its last.",
			side, towards(first), towards(last))
	}
	return fmt.Sprintf("Positive: towards %s%s.", towards(deg), also)
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

func (f *Velocity) caption(a *About) (caption, error) {
	d, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	c := caption{head: "Geostrophic velocity, " + sectionTitle(d.section, f.Title)}
	c.what = fmt.Sprintf("Geostrophic velocity (m s⁻¹) normal to %s, from %s, and volume transport (10⁶ m³ s⁻¹) of each pair "+
		"and summed from the left. %s The heavy line is zero; each pair of stations gives one profile, drawn at its "+
		"middle and joined linearly.",
		lowerSection(d.section, f.Title), stationSpan(d.section), f.direction())
	c.along(d.section)
	c.add("Transport", f.totalText())
	c.add("Computed", settings(f.Result.Params))
	c.add("Contour interval", chart.WithUnit(chart.IntervalText(d.levels), "m s-1"))
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
	c.about(a, !d.floor.none())
	return c, nil
}
