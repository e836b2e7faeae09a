package figure

import (
	"cmp"
	"image/color"
	"math"
	"slices"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A curve is one profile to be drawn: values by pressure, with NaN where the line breaks, and marks.
type curve struct {
	cast  int
	p, v  []float64
	marks []mark
}

type mark struct {
	p, v float64
	flag metadata.Flag
}

// A stack is one panel of profiles.
type stack struct {
	title  string
	name   string // of the variable, and its units, for differences
	units  string
	beyond float64 // per cent of the values that lie beyond the axis
	median string
	gaps   bool // lines are broken where a cast has no levels
	curves []curve
	x      chart.Extent
	zero   bool
	note   string       // written in the panel
	cloud  [][2]float64 // value and pressure of all data, drawn in grey behind the curves
	slice  float64      // dbar over which the curves are medians; 0: they are the data
}

// stacks adds the ranges of panels.
func (c *caption) stacks(stacks []stack, y chart.Extent, down vertical) {
	for _, s := range stacks {
		c.span(s.title, s.x, "")
	}
	down.span(c, y)
}

// breakAtGaps puts a break where the levels of a cast stop and go on further down: a line across would show
// values that nobody measured.
func (c *curve) breakAtGaps() bool {
	var p []float64
	for k := range c.p {
		if !math.IsNaN(c.v[k]) {
			p = append(p, c.p[k])
		}
	}
	gaps := section.Gaps(p, nil)
	if len(gaps) == 0 {
		return false
	}
	var q, v []float64
	for k := range c.p {
		q, v = append(q, c.p[k]), append(v, c.v[k])
		for _, g := range gaps {
			if c.p[k] == g.FromDbar && !math.IsNaN(c.v[k]) {
				q, v = append(q, (g.FromDbar+g.ToDbar)/2), append(v, math.NaN())
			}
		}
	}
	c.p, c.v = q, v
	return true
}

// drawStacks lays the panels out in rows.
func drawStacks(w chart.Width, heading, place string, stacks []stack, y chart.Extent, upper float64,
	casts []*section.Cast, depth bool,
	sh shading) *page.Scene {
	p := chart.NewSheet(w, sh.margin(36, w))
	p.Heading(heading, place)
	p.Y += 10
	perRow := min(int(p.Tall(4, 2)), len(stacks))
	height := p.Tall(250, 165)
	const gap = 13.0
	width := min((p.R-p.L-gap*float64(perRow-1))/float64(perRow), height*0.9)
	if upper = cmp.Or(upper, splitOf(casts, nil, y.Hi)); upper >= 0.85*y.Hi {
		upper = 0
	}
	first := p.Y
	down := verticalOf(depth, casts)
	axis := down.axis()
	var seen marksSeen
	for from := 0; from < len(stacks); from += perRow {
		if from > 0 {
			p.Y += 6
		}
		head, below := p.Y, 0.0
		for k := from; k < min(len(stacks), from+perRow); k++ {
			st := &stacks[k]
			l := p.L + float64(k-from)*(width+gap)
			frames := p.Panels(height, st.x.Lo, st.x.Hi, min(0, y.Lo), upper, y.Hi+y.Span()*0.02)
			for n := range frames {
				frames[n].L, frames[n].R = l, l+width
				st.draw(p, &frames[n], &sh, &axis, [2]bool{k == from, n == len(frames)-1}, &seen)
			}
			fr := &frames[len(frames)-1]
			title := page.Label{Text: st.title, At: page.Pt(fr.Mid().X, fr.B+chart.TickLength+3.5+p.Size),
				Size: p.Size, H: page.Middle, V: page.Top}
			below = max(below, p.Paragraph(title, width+gap-4, 1.3))
			if st.note != "" {
				note := page.Label{Text: st.note, At: page.Pt(fr.L+3, fr.B-3), Size: p.Small(0.8), V: page.Bottom,
					Colour: chart.SoftInk}
				p.Patched(note, 0.6, page.Paper)
			}
		}
		p.SideTitle(axis.Title, head+height/2)
		p.Y = below
	}
	edge := p.R
	p.R = p.L + float64(perRow)*width + gap*float64(perRow-1)
	sh.bar(p, first, first+height)
	p.R = edge
	p.Y += 2
	p.Keys(seen.keys())
	return p.Done()
}

// draw draws the curves, marks and axes of a panel; numbers of pressure are written at the first panel of a
// row only, those of the variable under the lower of two.
func (st *stack) draw(p *chart.Sheet, fr *chart.Frame, sh *shading, axis *chart.Vertical, numbers [2]bool,
	seen *marksSeen) {
	m := chart.NewMosaic(fr)
	for _, q := range st.cloud {
		m.Mark(0, fr.At(q[0], q[1]))
	}
	p.Fill(m.Path(0), color.NRGBA{222, 224, 228, 255})
	if st.zero {
		p.Line(fr.X(0), fr.T, fr.X(0), fr.B, chart.InkThin)
	}
	for _, c := range st.curves {
		if b := sh.bin[c.cast]; b >= 0 {
			p.Stroke(profilePath(fr, &c), page.Pen{Colour: sh.colour(b), Width: chart.Thin})
		}
	}
	for _, c := range st.curves {
		seen.draw(p.Scene, fr, c.marks)
	}
	fr.Border(p.Scene)
	ticks := axis.Ticks(fr, max(2, int((fr.B-fr.T)/(p.Size*3))), fr.Y0 > 0)
	if numbers[0] {
		fr.LeftAxisOf(p.Scene, ticks, p.Size, axis.Value)
	} else {
		for _, v := range ticks {
			y := fr.Y(axis.Value(v))
			p.Line(fr.L-chart.TickLength, y, fr.L, y, chart.InkThin)
		}
	}
	if at := fr.TicksThatFit(max(2, int((fr.R-fr.L)/(p.Size*2.6))), p.Size); numbers[1] {
		fr.BottomAxis(p.Scene, at, p.Size)
	}
}

// profilePath returns the line of a curve in the frame. In each point of height, two widths of the line, only
// the first, least, greatest and last values are kept: what lies between could not be seen.
func profilePath(f *chart.Frame, c *curve) page.Path {
	const slice = 1.0
	var out page.Path
	var run, bucket []page.Point
	at := math.NaN()
	flushBucket := func() {
		if len(bucket) == 0 {
			return
		}
		lo, hi := 0, 0
		for k, q := range bucket {
			if q.X < bucket[lo].X {
				lo = k
			}
			if q.X > bucket[hi].X {
				hi = k
			}
		}
		keep := []int{0, lo, hi, len(bucket) - 1}
		slices.Sort(keep)
		for n, k := range keep {
			if n == 0 || k != keep[n-1] {
				run = append(run, bucket[k])
			}
		}
		bucket = bucket[:0]
	}
	flush := func() {
		flushBucket()
		if len(run) > 1 {
			out = append(out, f.Clip(page.Simplify(run))...)
		}
		run = nil
	}
	last := math.NaN()
	for k := range c.p {
		if math.IsNaN(c.v[k]) || c.p[k] < last {
			flush()
			if math.IsNaN(c.v[k]) {
				continue
			}
		}
		last = c.p[k]
		q := f.At(c.v[k], c.p[k])
		if s := math.Floor(q.Y / slice); s != at {
			flushBucket()
			at = s
		}
		bucket = append(bucket, q)
	}
	flush()
	return out
}

// marksSeen says which marks a figure has.
type marksSeen struct{ circles, crosses, edges bool }

// draw draws flagged values: where they are, or at the edge when they are beyond it. Where flagged values
// follow each other closely, a line joins them and only some are marked: marks on marks would hide all else.
func (seen *marksSeen) draw(s *page.Scene, f *chart.Frame, ms []mark) {
	const apart = 4.0
	var run page.Path
	var at page.Point // of the last mark
	var last mark     // before the one at hand
	inside, edges := false, false
	for k, m := range ms {
		q := f.At(m.v, m.p)
		if q.Y < f.T || q.Y > f.B {
			continue
		}
		in := q.X >= f.L && q.X <= f.R
		near := k > 0 && in && inside && m.flag == last.flag && q.Dist(f.At(last.v, last.p)) < apart
		if near {
			run = append(run, []page.Point{f.At(last.v, last.p), q})
		}
		last, inside = m, in
		if near && q.Dist(at) < apart || !in && edges && math.Abs(q.Y-at.Y) < 1.5 {
			continue
		}
		at = page.Pt(max(f.L, min(f.R, q.X)), q.Y)
		switch {
		case !in:
			edgeMark(s, at, math.Copysign(1, q.X-f.L))
			edges = true
		case m.flag == metadata.Bad:
			badMark(s, q)
			seen.crosses = true
		default:
			questionableMark(s, q)
			seen.circles = true
		}
	}
	seen.edges = seen.edges || edges
	s.Stroke(page.Join(run), page.Pen{Colour: alarm, Width: chart.Hair})
}

// keys explains the marks.
func (seen *marksSeen) keys() []chart.Key {
	var ks []chart.Key
	add := func(is bool, draw func(s *page.Scene, q page.Point), text string) {
		if is {
			ks = append(ks, chart.Key{Draw: func(s *page.Scene, f *chart.Frame) { draw(s, f.Mid()) }, Text: text})
		}
	}
	add(seen.circles, questionableMark, "flagged questionable")
	add(seen.crosses, badMark, "flagged bad")
	add(seen.edges, func(s *page.Scene, q page.Point) { edgeMark(s, page.Pt(q.X-1.5, q.Y), 1) },
		"flagged, beyond the axis")
	return ks
}

func questionableMark(s *page.Scene, q page.Point) {
	s.Outline(page.Path{page.Circle(q, 1.3)}, page.Pen{Colour: alarm, Width: chart.Hair})
}

func badMark(s *page.Scene, q page.Point) {
	r := page.Rect(q.X-1.4, q.Y-1.4, q.X+1.4, q.Y+1.4)[0]
	s.Stroke(page.Path{{r[0], r[2]}, {r[3], r[1]}}, page.Pen{Colour: alarm, Width: chart.Thin})
}

// edgeMark points out of the frame, from just inside it.
func edgeMark(s *page.Scene, q page.Point, way float64) {
	s.Fill(page.Path{{q, page.Pt(q.X-way*3, q.Y-1.8), page.Pt(q.X-way*3, q.Y+1.8)}}, alarm)
}
