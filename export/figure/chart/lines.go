package chart

import (
	"cmp"
	"image/color"
	"math"
	"slices"
	"sort"

	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding/contour"
)

// A LineStyle is how level lines of one field look.
type LineStyle struct {
	Pen        func(level float64) page.Pen
	Under      *page.Pen // drawn wider beneath, so that the line is seen; nil for none
	Size       float64
	Bold       bool
	Text       func(level float64) string
	Colour     func(level float64) color.NRGBA
	PerPoint   float64                         // a label for each so many points of line
	Patch      bool                            // a light patch under the label
	Ground     func(level float64) color.NRGBA // colour of a patch under it, transparent for none; nil: none
	Free       func(p page.Point) bool         // whether a label may lie here
	Covers     func(p page.Point) bool         // whether a label would hide something here; nil: no
	Steep      bool                            // labels may be upright, where most lines do
	Unlabelled bool
}

// DrawLines draws the level lines of a field, each broken at its label.
func (f *Field) DrawLines(s *page.Scene, fr *Frame, levels []float64, st LineStyle) {
	LabelLines(s, fr, f.Trace(fr, levels), levels, st)()
}

// labelGap is how far, in points, a line stays off its label: nearer, a minus is read as part of the line.
const labelGap = 5.0

// leastRest is the least length in points that is left of a heavy line on each side of its label.
const leastRest = 6

// speck is a length in points, 1 mm: what is shorter looks like dirt, in corners of a mask above all.
const speck = 2.8

// leastCells is how many cells of the grid a level line must span across or down: a shorter one is noise.
const leastCells = 3

// Trace returns the level lines on the page, by level, without specks and noise.
func (f *Field) Trace(fr *Frame, levels []float64) [][][]page.Point {
	lines := make([][][]page.Point, len(levels))
	if len(f.X) < 2 || len(f.Y) < 2 || len(levels) == 0 {
		return lines
	}
	for k, c := range contour.Lines(f.X, f.Y, f.Data, levels) {
		for _, l := range c.Lines {
			across, down := NoExtent(), NoExtent()
			for _, p := range l {
				across.Add(cellOf(f.X, p[0]))
				down.Add(cellOf(f.Y, p[1]))
			}
			if across.Span() < leastCells && down.Span() < leastCells {
				continue
			}
			q := make([]page.Point, len(l))
			for i, p := range l {
				q[i] = fr.At(p[0], p[1])
			}
			if q = page.Simplify(q); page.Length(q) >= speck {
				lines[k] = append(lines[k], q)
			}
		}
	}
	return lines
}

// cellOf returns where a value lies among increasing ones, in cells from the first.
func cellOf(axis []float64, v float64) float64 {
	k := min(max(sort.SearchFloat64s(axis, v), 1), len(axis)-1)
	return float64(k) - (axis[k]-v)/(axis[k]-axis[k-1])
}

// A placed label lies at a length along a line.
type placed struct {
	line, level int
	at          float64
	label       page.Label
	rest        float64 // least length of line on each side
}

// inOrder returns 0 .. n-1 sorted by a rank, equal ones as they were.
func inOrder[R cmp.Ordered](n int, rank func(k int) R) []int {
	order := make([]int, n)
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(rank(a), rank(b)) })
	return order
}

// LabelLines finds places for the labels of lines, by level, and keeps them free; it returns what draws lines
// and labels.
func LabelLines(s *page.Scene, fr *Frame, lines [][][]page.Point, levels []float64, st LineStyle) func() {
	var labels []placed
	if !st.Unlabelled {
		labels = placeLabels(s, fr, lines, levels, &st)
	}
	return func() {
		for k, level := range levels {
			var p page.Path
			for i, line := range lines[k] {
				var gaps [][2]float64
				for _, l := range labels {
					if l.level == k && l.line == i {
						half := l.label.Width()/2 + labelGap
						gaps = append(gaps, [2]float64{l.at - half, l.at + half})
					}
				}
				p = append(p, page.CutOut(line, gaps)...)
			}
			strokeOver(s, p, st.Pen(level), st.Under)
		}
		for _, l := range labels {
			ground := color.NRGBA{}
			if st.Patch {
				ground = page.Paper
			} else if st.Ground != nil {
				ground = st.Ground(levels[l.level])
			}
			if ground.A > 0 {
				s.Patched(l.label, 0.5, ground)
			} else {
				s.Text(l.label)
			}
		}
	}
}

// placeLabels finds the places. Every other level comes first, so that when space is short the labels left out
// are those between two that are there.
func placeLabels(s *page.Scene, fr *Frame, lines [][][]page.Point, levels []float64, st *LineStyle) []placed {
	const again = 42.0 // points between labels of one level on different lines: islands of noise need no name each
	var labels []placed
	for _, k := range inOrder(len(levels), func(k int) int { return k % 2 }) {
		l := page.Label{Text: st.Text(levels[k]), Size: st.Size, Bold: st.Bold, Colour: st.Colour(levels[k]),
			H: page.Middle, V: page.Centre}
		w, rest := l.Width(), 2.0
		if st.Pen(levels[k]).Width > Thin {
			rest = labelGap + leastRest
		}
		byLength := inOrder(len(lines[k]), func(i int) float64 { return -page.Length(lines[k][i]) })
		sameLevel := len(labels)
		for rank, i := range byLength {
			line := lines[k][i]
			total := page.Length(line)
			if total < 2.2*w+8 || rank > 6 || rank > 1 && total < 0.2*page.Length(lines[k][byLength[0]]) {
				break
			}
			want := max(1, int(total/st.PerPoint))
			for n := range want {
				lo, hi := total*float64(n)/float64(want), total*float64(n+1)/float64(want)
				q := placed{i, k, math.NaN(), l, rest}
				q.bestPlace(s, fr, line, [3]float64{lo, hi, total}, st, others(lines, k))
				if math.IsNaN(q.at) || slices.ContainsFunc(labels[sameLevel:], func(o placed) bool {
					return o.line != i && o.label.At.Dist(q.label.At) < again
				}) {
					continue
				}
				s.Keep = append(s.Keep, q.label.Box())
				labels = append(labels, q)
			}
		}
	}
	return labels
}

// PartTogether leaves out lines that for most of their way run closer than apart to a line that is there
// already, the roundest levels first: where lines run into one another the bands between them are hidden, and
// a line for every other band says more.
func PartTogether(lines [][][]page.Point, levels []float64, apart float64) [][][]page.Point {
	step := math.Inf(1)
	for k := 1; k < len(levels); k++ {
		step = min(step, levels[k]-levels[k-1])
	}
	roundness := func(v float64) int {
		if v == 0 {
			return 0
		}
		for n, m := range []float64{100, 50, 20, 10, 5, 2} {
			if q := v / (m * step); math.Abs(q-math.Round(q)) < 1e-6 {
				return n + 1
			}
		}
		return 7
	}
	out := make([][][]page.Point, len(lines))
	var there [][][]page.Point // of the levels before
	for _, k := range inOrder(len(levels), func(k int) int { return roundness(levels[k]) }) {
		for _, line := range lines[k] {
			const every = 4.0
			near, all := 0, 0
			total := page.Length(line)
			for at := every / 2; at < total; at += every {
				all++
				if !page.Clear(page.Along(line, at), there, apart) {
					near++
				}
			}
			if all < 3 || float64(near) < 0.6*float64(all) {
				out[k] = append(out[k], line)
			}
		}
		there = append(there, out[k])
	}
	return out
}

// others returns the lines of the neighbouring levels.
func others(lines [][][]page.Point, k int) [][][]page.Point {
	var out [][][]page.Point
	for _, n := range []int{k - 2, k - 1, k + 1, k + 2} {
		if n >= 0 && n < len(lines) {
			out = append(out, lines[n])
		}
	}
	return out
}

// bestPlace looks along a stretch of a line (from, to, and the length of the line) for the straightest and
// most level piece with space for the label.
func (l *placed) bestPlace(s *page.Scene, fr *Frame, line []page.Point, stretch [3]float64, st *LineStyle,
	others [][][]page.Point) {
	const tries = 15
	best := math.Inf(1)
	w := l.label.Width()
	total := stretch[2]
	for n := range tries {
		at := stretch[0] + (stretch[1]-stretch[0])*(float64(n)+0.5)/tries
		if at-w/2-l.rest < 0 || at+w/2+l.rest > total {
			continue
		}
		a, m, b := page.Along(line, at-w/2), page.Along(line, at), page.Along(line, at+w/2)
		from, to := max(0, at-w/2-5), min(total, at+w/2+5)
		// bent, here or beside the label
		if a.Dist(b) < 0.93*w || page.Along(line, from).Dist(page.Along(line, to)) < 0.9*(to-from) {
			continue
		}
		angle := math.Atan2(-(b.Y-a.Y), b.X-a.X) * 180 / math.Pi
		if angle > 90 {
			angle -= 180
		} else if angle < -90 {
			angle += 180
		}
		if angle < -80 { // upright ones are all read upward
			angle += 180
		}
		if !st.Steep && math.Abs(angle) > 72 {
			continue
		}
		upright := min(1, math.Abs(angle)/90)
		if st.Steep {
			upright /= 4
		}
		cost := page.Away(m, a, b)/st.Size*3 + upright + math.Abs(float64(n)-tries/2)/tries*0.6
		if st.Covers != nil {
			for _, q := range []page.Point{a, m, b} {
				if st.Covers(q) {
					cost++
				}
			}
		}
		if cost >= best {
			continue
		}
		q := l.label
		q.At, q.Turn = page.Pt((a.X+b.X+2*m.X)/4, (a.Y+b.Y+2*m.Y)/4), angle
		if hasSpace(q, s, fr, page.Pt((b.X-a.X)/2, (b.Y-a.Y)/2), st, others) {
			best, l.label, l.at = cost, q, at
		}
	}
}

// hasSpace reports whether a label lies in the frame and free, and no line of another level runs through it.
// half is half its length.
func hasSpace(l page.Label, s *page.Scene, fr *Frame, half page.Point, st *LineStyle, others [][][]page.Point) bool {
	box := l.Box()
	if !s.Fits(box, 1.6) || !fr.Holds(box, 1) {
		return false
	}
	for _, q := range append(box[:], l.At) {
		if st.Free != nil && !st.Free(q) {
			return false
		}
	}
	for _, t := range []float64{0, -0.35, 0.35, -0.7, 0.7} {
		q := page.Pt(l.At.X+t*half.X, l.At.Y+t*half.Y)
		if !page.Clear(q, others, st.Size*0.42) || st.Free != nil && !st.Free(q) {
			return false
		}
	}
	return true
}

// levelApart is how far apart, in points, level lines of a field must run for all of them to be drawn.
const levelApart = 1.4

// outOfNoise returns the stretches of zero lines beside which a value is larger than its noise. Shorter
// stretches than five millimetres are left out, and gaps of two are closed.
func (f *Field) outOfNoise(fr *Frame, lines [][]page.Point) [][]page.Point {
	const every, least, close, reach = 1.0, 14.0, 6.0, 8.0
	var out [][]page.Point
	for _, line := range lines {
		total := page.Length(line)
		var noise [][2]float64
		from := math.NaN()
		for at := 0.0; at <= total+every; at += every {
			quiet := at <= total && !f.aboveNoise(fr, page.Along(line, at), reach)
			if quiet && math.IsNaN(from) {
				from = at
			}
			if !quiet && !math.IsNaN(from) {
				if at-from > close || from == 0 || at > total {
					noise = append(noise, [2]float64{from, at})
				}
				from = math.NaN()
			}
		}
		for _, piece := range page.CutOut(line, noise) {
			if page.Length(piece) >= min(least, total) {
				out = append(out, piece)
			}
		}
	}
	return out
}

// negativeDash marks lines below zero, so that signs are seen without colour.
var negativeDash = []float64{2.6, 1.3}

// lightInk is for lines and labels on dark bands.
var lightInk = color.NRGBA{250, 250, 248, 255}

// InkOn returns a colour for a level line and its label that shows on the bands beside it.
func InkOn(f *Field, level float64) color.NRGBA {
	ink, _ := f.inkAndContrast(level)
	return ink
}

// GroundUnder returns the colour of a patch for a label that has too little contrast on the bands beside its line,
// those of middle lightness; transparent where it needs none.
func GroundUnder(f *Field, level float64) color.NRGBA {
	ink, c := f.inkAndContrast(level)
	if c >= enoughContrast {
		return color.NRGBA{}
	}
	k := f.BandOf(level)
	a, b := labOf(f.Colours[k]), labOf(f.Colours[max(0, k-1)])
	ground, step := lab{(a.L + b.L) / 2, (a.A + b.A) / 2, (a.B + b.B) / 2}, 0.01 // no colour of the bar
	if ink == lightInk {
		step = -step
	}
	for contrast(ink, ground.rgb()) < enoughContrast+0.05 {
		ground.L += step
	}
	return ground.rgb()
}

// enoughContrast is what text needs (WCAG 2.1, 1.4.3).
const enoughContrast = 4.5

// inkAndContrast returns dark or light ink, whichever shows better on both bands beside a level, and its contrast.
func (f *Field) inkAndContrast(level float64) (ink color.NRGBA, least float64) {
	k := f.BandOf(level)
	for _, c := range []color.NRGBA{page.Ink, lightInk} {
		if l := min(contrast(c, f.Colours[k]), contrast(c, f.Colours[max(0, k-1)])); l > least {
			ink, least = c, l
		}
	}
	return ink, least
}

// LevelLines draws the lines between the bands, in a colour that shows on them.
func (f *Field) LevelLines(p *Sheet, fr *Frame, free func(page.Point) bool, quiet bool) {
	if len(f.X) < 2 || len(f.Y) < 2 {
		return
	}
	inkFor := func(l float64) color.NRGBA { return InkOn(f, l) }
	zero := colourOfZero(f.Levels)
	onto := free
	free = func(q page.Point) bool { return onto(q) && f.known(fr, q) }
	lines := f.Trace(fr, f.Levels)
	if zero && f.Noise != nil {
		lines[len(f.Levels)/2] = f.outOfNoise(fr, lines[len(f.Levels)/2])
	}
	lines = PartTogether(lines, f.Levels, levelApart)
	zeroWidth := Heavy
	if zero {
		if p.Width == OneColumn {
			zeroWidth = 1
		}
		long := 0.0
		for _, l := range lines[len(f.Levels)/2] {
			long += page.Length(l)
		}
		// Where the zero line is everywhere, a heavy one would be all there is to see.
		if width := f.X[len(f.X)-1] - f.X[0]; long > 0 {
			between := (fr.B - fr.T) * (fr.R - fr.L) * width / (fr.X1 - fr.X0) / long
			zeroWidth = max(1.7*Hair, min(zeroWidth, between/18))
		}
	}
	LabelLines(p.Scene, fr, lines, f.Levels, LineStyle{
		Pen: func(l float64) page.Pen {
			n := page.Pen{Colour: inkFor(l), Width: Hair}
			switch {
			case zero && l == 0:
				n = page.Pen{Colour: page.Ink, Width: zeroWidth}
			case zero && l < 0:
				n.Dash = negativeDash
			}
			return n
		},
		Size: p.Small(0.7), Text: Scaled(TenPower(f.Levels)), Colour: inkFor,
		Ground:   func(l float64) color.NRGBA { return GroundUnder(f, l) },
		PerPoint: 330, Free: free, Unlabelled: quiet, Steep: zero,
	})()
}
