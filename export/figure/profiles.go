package figure

import (
	"fmt"
	"image/color"
	"math"
	"sort"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// Profiles shows the profiles of all casts of a section over each other, a panel for each variable. Lines join usable values; values
// flagged questionable or bad are marked where they are, or at the edge of the panel when they lie beyond it.
type Profiles struct {
	Name      string
	Title     string
	Casts     []*section.Cast
	Variables []string // empty: temp, psal and oxy, and chl or fluor, as far as the casts have them
	Shade     Shade
}

// SensorDifferences shows second sensor minus first against pressure, a panel for each pair of sensors.
type SensorDifferences struct {
	Name  string
	Title string
	Casts []*section.Cast
	Shade Shade
}

// Stem implements Figure.
func (f *Profiles) Stem() string { return f.Name }

// Stem implements Figure.
func (f *SensorDifferences) Stem() string { return f.Name }

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
	x      extent
	zero   bool
	note   string       // written in the panel
	cloud  [][2]float64 // value and pressure of all data, drawn in grey behind the curves
	slice  float64      // dbar over which the curves are medians; 0: they are the data
}

// HasSecondSensors says whether any cast carries a pair of sensors whose difference can be drawn.
func HasSecondSensors(casts []*section.Cast) bool {
	for _, s := range secondSensors {
		for _, c := range casts {
			if columnOf(c, s[0]) != nil && columnOf(c, s[1]) != nil {
				return true
			}
		}
	}
	return false
}

var secondSensors = [][2]string{{"temp", "temp2"}, {"psal", "psal2"}, {"oxy", "oxy2"}, {"cond", "cond2"}}

func (f *Profiles) variables() []string {
	if len(f.Variables) > 0 {
		return f.Variables
	}
	var out []string
	for _, name := range []string{"temp", "psal", "oxy", "chl", "fluor"} {
		for _, c := range f.Casts {
			if columnOf(c, name) != nil {
				out = append(out, name)
				break
			}
		}
	}
	return out[:min(4, len(out))]
}

func (f *Profiles) prepare() ([]stack, extent, error) {
	var out []stack
	y := noExtent()
	for _, name := range f.variables() {
		v, ok := metadata.ByName(name)
		if !ok {
			v = metadata.Variable{Name: name}
		}
		st := stack{title: titleText(&v), x: noExtent()}
		for n, c := range f.Casts {
			col := c.Column(name)
			if col == nil || col.Values == nil {
				continue
			}
			k := curve{cast: n}
			for i, p := range c.PressureDbar {
				u := usable(col, i)
				if math.IsNaN(p) {
					continue
				}
				k.p, k.v = append(k.p, p), append(k.v, u)
				if !math.IsNaN(u) {
					st.x.add(u)
					y.add(p)
				} else if col.Flags != nil && !math.IsNaN(col.Values[i]) && (col.Flags[i] == metadata.Questionable || col.Flags[i] == metadata.Bad) {
					k.marks = append(k.marks, mark{p, col.Values[i], col.Flags[i]})
				}
			}
			st.gaps = k.breakAtGaps() || st.gaps
			st.curves = append(st.curves, k)
		}
		if st.x.empty() { // nothing usable: the flagged values give the range
			for _, k := range st.curves {
				for _, m := range k.marks {
					st.x.add(m.v)
					y.add(m.p)
				}
			}
		}
		if st.x.empty() {
			continue
		}
		near := st.x.padded(0.25)
		wide := st.x
		for _, k := range st.curves {
			for _, m := range k.marks {
				if m.v >= near.lo && m.v <= near.hi {
					wide.add(m.v)
				}
			}
		}
		st.x = wide.padded(0.04)
		out = append(out, st)
	}
	if len(out) == 0 {
		return nil, y, fmt.Errorf("%s: %w: none of %s in any cast", f.Name, ErrNoValues, strings.Join(f.variables(), ", "))
	}
	return out, y, nil
}

func (f *Profiles) draw(w Width) (*scene, error) {
	stacks, y, err := f.prepare()
	if err != nil {
		return nil, err
	}
	return drawStacks(w, "Profiles", f.Title, stacks, y, shade(f.Casts, f.Shade)), nil
}

func (f *Profiles) caption(a *About) (caption, error) {
	stacks, _, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	var names []string
	bad, questionable := 0, 0
	gaps := ""
	for _, s := range stacks {
		if s.gaps {
			gaps = ", but not over gaps of more than 50 dbar (200 below 1500) and three times the steps around"
		}
		names = append(names, s.title)
		for _, k := range s.curves {
			for _, m := range k.marks {
				if m.flag == metadata.Bad {
					bad++
				} else {
					questionable++
				}
			}
		}
	}
	sh := shade(f.Casts, f.Shade)
	var c caption
	c.head = strings.TrimSuffix("Profiles, "+f.Title, ", ")
	c.what = fmt.Sprintf("Profiles of %s against sea pressure (dbar)%s; %s. Lines join usable values%s.", list(names), placed(f.Title), sh.caption(), gaps)
	if bad+questionable > 0 {
		c.what += fmt.Sprintf(" Marked where they are: %s questionable (circles), %s bad (crosses), joined by a line where they follow each other; triangles at the edge stand for marked values beyond it.",
			plural(questionable, "value", "values"), plural(bad, "value", "values"))
	}
	castLines(&c, f.Casts, 0)
	c.about(a, false)
	return c, nil
}

func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

func (f *SensorDifferences) prepare() ([]stack, extent, error) {
	var out []stack
	y := noExtent()
	for _, pair := range secondSensors {
		v := metadata.MustVariable(pair[0])
		st := stack{name: nameText(&v), units: v.Units, zero: true}
		var all []float64
		for n, c := range f.Casts {
			first, second := columnOf(c, pair[0]), columnOf(c, pair[1])
			if first == nil || second == nil {
				continue
			}
			k := curve{cast: n}
			for i, p := range c.PressureDbar {
				d := second(i) - first(i)
				if math.IsNaN(p) || math.IsNaN(d) {
					continue
				}
				k.p, k.v = append(k.p, p), append(k.v, d)
				st.cloud = append(st.cloud, [2]float64{d, p})
				all = append(all, d)
				y.add(p)
			}
			st.curves = append(st.curves, k)
		}
		if len(all) == 0 {
			continue
		}
		sort.Float64s(all)
		median := all[len(all)/2]
		far := make([]float64, len(all))
		for k, d := range all {
			far[k] = math.Abs(d)
		}
		sort.Float64s(far)
		// Spikes in the gradients would squeeze everything else: the axis holds 99.5 % of the values, the rest is cut and counted.
		limit := far[min(len(far)-1, int(float64(len(far))*0.995))] * 1.15
		if limit == 0 {
			limit = 1e-3
		}
		for _, d := range far {
			if d > limit {
				st.beyond += 100 / float64(len(far))
			}
		}
		// Differences of good sensors are thousandths: in those the axis has numbers that are read.
		power := 0
		for power > -9 && limit < 0.02*math.Pow10(power) {
			power -= 3
		}
		st.scale(math.Pow10(-power))
		limit *= math.Pow10(-power)
		st.x = extent{-limit, limit}
		st.units = strings.TrimSpace(powerText(power) + " " + unitText(v.Units))
		st.title = "Δ " + lowerFirst(st.name)
		if st.units != "" {
			st.title += " (" + st.units + ")"
		}
		st.median = significant(median*math.Pow10(-power), 2)
		st.note = "median " + st.median
		if st.beyond > 0 {
			st.note += fmt.Sprintf("; %s %% beyond", significant(st.beyond, 1))
		}
		out = append(out, st)
	}
	if len(out) == 0 {
		return nil, y, fmt.Errorf("%s: %w: no cast has a second sensor", f.Name, ErrNoValues)
	}
	for k := range out {
		out[k].slice = niceStep(y.hi / 50)
		for i := range out[k].curves {
			out[k].curves[i].medians(out[k].slice)
			out[k].curves[i].breakAtGaps()
		}
	}
	return out, y, nil
}

func (f *SensorDifferences) draw(w Width) (*scene, error) {
	stacks, y, err := f.prepare()
	if err != nil {
		return nil, err
	}
	return drawStacks(w, "Second sensor minus first", f.Title, stacks, y, shade(f.Casts, f.Shade)), nil
}

func (f *SensorDifferences) caption(a *About) (caption, error) {
	stacks, _, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	sh := shade(f.Casts, f.Shade)
	var c caption
	c.head = strings.TrimSuffix("Second sensor minus first, "+f.Title, ", ")
	c.what = fmt.Sprintf("Second sensor minus first against sea pressure (dbar), usable values of both%s. Grey: all values; lines: median of each cast over slices of %s dbar; %s.", placed(f.Title), short(stacks[0].slice), sh.caption())
	for _, s := range stacks {
		text := "median " + strings.TrimSpace(s.median+" "+s.units)
		if strings.HasPrefix(s.units, "10") {
			text = "median " + s.median + " × " + s.units
		}
		if s.beyond > 0 {
			text += fmt.Sprintf("; %s %% of the values lie beyond the axis", significant(s.beyond, 1))
		}
		c.add(s.name, text)
	}
	castLines(&c, f.Casts, 0)
	c.about(a, false)
	return c, nil
}

// scale multiplies the values of a stack.
func (s *stack) scale(by float64) {
	for i := range s.curves {
		for k := range s.curves[i].v {
			s.curves[i].v[k] *= by
		}
	}
	for k := range s.cloud {
		s.cloud[k][0] *= by
	}
}

// breakAtGaps puts a break where the levels of a cast stop and go on further down: a line across would show values that nobody measured.
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

// medians puts the median of each slice of pressure in place of the values, at the middle of the slice.
func (c *curve) medians(slice float64) {
	var p, v, in []float64
	for k := 0; k < len(c.p); {
		n := math.Floor(c.p[k] / slice)
		in = in[:0]
		for k < len(c.p) && math.Floor(c.p[k]/slice) == n {
			in = append(in, c.v[k])
			k++
		}
		sort.Float64s(in)
		p, v = append(p, (n+0.5)*slice), append(v, in[len(in)/2])
	}
	c.p, c.v = p, v
}

// drawStacks lays the panels out in rows.
func drawStacks(w Width, heading, place string, stacks []stack, y extent, sh shading) *scene {
	p := newSheet(w, sh.room(36, w))
	p.heading(heading, place)
	p.y += 10
	perRow := 4
	height := 250.0
	if w == OneColumn {
		perRow, height = 2, 165
	}
	if perRow > len(stacks) {
		perRow = len(stacks)
	}
	const gap = 13.0
	width := (p.r - p.l - gap*float64(perRow-1)) / float64(perRow)
	width = min(width, height*0.9)
	first := p.y
	var ks []key
	var circles, crosses, edges bool
	for from := 0; from < len(stacks); from += perRow {
		if from > 0 {
			p.y += 6
		}
		head := p.y
		below := 0.0
		for k := from; k < min(len(stacks), from+perRow); k++ {
			st := &stacks[k]
			l := p.l + float64(k-from)*(width+gap)
			fr := frame{l: l, r: l + width, t: head, b: head + height, x0: st.x.lo, x1: st.x.hi, y0: min(0, y.lo), y1: y.hi + (y.hi-min(0, y.lo))*0.02}
			if len(st.cloud) > 0 {
				m := newMosaic(&fr)
				for _, q := range st.cloud {
					m.mark(fr.at(q[0], q[1]))
				}
				p.s.fill(m.path(), color.NRGBA{222, 224, 228, 255})
			}
			if st.zero {
				p.s.line(fr.X(0), fr.t, fr.X(0), fr.b, pen{colour: ink, width: thin})
			}
			for _, c := range st.curves {
				if b := sh.bin[c.cast]; b >= 0 {
					p.s.stroke(fr.profile(&c), pen{colour: sh.colour(b), width: thin})
				}
			}
			for _, c := range st.curves {
				o, x, e := fr.marks(p.s, c.marks)
				circles, crosses, edges = circles || o, crosses || x, edges || e
			}
			fr.border(p.s)
			if k == from {
				fr.leftAxis(p.s, ticks(fr.y0, fr.y1, int(height/(p.size*3))), p.size)
			} else {
				for _, v := range ticks(fr.y0, fr.y1, int(height/(p.size*3))) {
					p.s.line(fr.l-tickLength, fr.Y(v), fr.l, fr.Y(v), pen{colour: ink, width: thin})
				}
			}
			fr.bottomAxis(p.s, fr.ticksThatFit(max(2, int(width/(p.size*2.6))), p.size), p.size)
			yy := fr.b + tickLength + 3.5 + p.size
			for _, line := range wrap(regular, st.title, p.size, width+gap-4) {
				p.s.text(label{text: line, at: pt{(fr.l + fr.r) / 2, yy}, size: p.size, h: middle, v: top})
				yy += p.size * 1.3
			}
			if st.note != "" {
				b := label{text: st.note, at: pt{fr.l + 3, fr.b - 3}, size: p.size - 0.8, v: bottom, colour: softInk}
				q := b.box().grown(0.6)
				p.s.fill(path{q[:]}, paper)
				p.s.text(b)
			}
			below = max(below, yy)
		}
		pres := metadata.MustVariable("pres")
		p.sideTitle(titleText(&pres), head+height/2)
		p.y = below
	}
	edge := p.r
	p.r = p.l + float64(perRow)*width + gap*float64(perRow-1)
	sh.bar(p, first, first+height)
	p.r = edge
	p.y += 2
	if circles {
		ks = append(ks, key{func(s *scene, a, b, c, d float64) { questionableMark(s, pt{(a + c) / 2, (b + d) / 2}) }, "flagged questionable"})
	}
	if crosses {
		ks = append(ks, key{func(s *scene, a, b, c, d float64) { badMark(s, pt{(a + c) / 2, (b + d) / 2}) }, "flagged bad"})
	}
	if edges {
		ks = append(ks, key{func(s *scene, a, b, c, d float64) { edgeMark(s, pt{(a+c)/2 - 1.5, (b + d) / 2}, 1) }, "flagged, beyond the axis"})
	}
	p.keys(ks)
	return p.done()
}

// profile gives the line of a curve in the frame. In each point of height, two widths of the line, only the first, least, greatest and
// last values are kept: what lies between could not be seen.
func (f *frame) profile(c *curve) path {
	const slice = 1.0
	var out path
	var run []pt
	var bucket []pt
	at := math.NaN()
	flushBucket := func() {
		if len(bucket) == 0 {
			return
		}
		lo, hi := 0, 0
		for k, q := range bucket {
			if q.x < bucket[lo].x {
				lo = k
			}
			if q.x > bucket[hi].x {
				hi = k
			}
		}
		keep := []int{0, lo, hi, len(bucket) - 1}
		sort.Ints(keep)
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
			out = append(out, clipLine(simplify(run), f.l, f.t, f.r, f.b)...)
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
		q := f.at(c.v[k], c.p[k])
		if s := math.Floor(q.y / slice); s != at {
			flushBucket()
			at = s
		}
		bucket = append(bucket, q)
	}
	flush()
	return out
}

// marks draws flagged values: where they are, or at the edge when they are beyond it.
func (f *frame) marks(s *scene, ms []mark) (circles, crosses, edges bool) {
	// Where flagged values follow each other closely, a line joins them and only some are marked: marks on marks would hide all else.
	const apart = 4.0
	var run path
	var at pt       // of the last mark
	var last mark   // before the one at hand
	inside := false // whether it is in the frame
	for k, m := range ms {
		q := f.at(m.v, m.p)
		if q.y < f.t || q.y > f.b {
			continue
		}
		in := q.x >= f.l && q.x <= f.r
		near := k > 0 && in && inside && m.flag == last.flag && math.Hypot(q.x-f.X(last.v), q.y-f.Y(last.p)) < apart
		if near {
			run = append(run, []pt{f.at(last.v, last.p), q})
		}
		last, inside = m, in
		if near && math.Hypot(q.x-at.x, q.y-at.y) < apart {
			continue
		}
		if in {
			at = q
		} else if edges && math.Abs(q.y-at.y) < 1.5 {
			continue
		} else {
			at = pt{max(f.l, min(f.r, q.x)), q.y}
		}
		switch {
		case q.x < f.l:
			edgeMark(s, pt{f.l, q.y}, -1)
			edges = true
		case q.x > f.r:
			edgeMark(s, pt{f.r, q.y}, 1)
			edges = true
		case m.flag == metadata.Bad:
			badMark(s, q)
			crosses = true
		default:
			questionableMark(s, q)
			circles = true
		}
	}
	s.stroke(join(run), pen{colour: alarm, width: hair})
	return circles, crosses, edges
}

func questionableMark(s *scene, q pt) {
	s.outline(path{circle(q, 1.3)}, pen{colour: alarm, width: hair})
}

func badMark(s *scene, q pt) {
	const r = 1.4
	s.stroke(path{{{q.x - r, q.y - r}, {q.x + r, q.y + r}}, {{q.x - r, q.y + r}, {q.x + r, q.y - r}}}, pen{colour: alarm, width: thin})
}

// edgeMark points out of the frame, from just inside it.
func edgeMark(s *scene, q pt, way float64) {
	s.fill(path{{{q.x, q.y}, {q.x - way*3, q.y - 1.8}, {q.x - way*3, q.y + 1.8}}}, alarm)
}
