package figure

import (
	"image/color"
	"math"
	"sort"

	"github.com/castwright/castwright/gridding/contour"
	"github.com/paulmach/orb"
)

// A field is one layer of numbers to be drawn as filled bands with level lines: value at (x[j], y[i]) is data[i*len(x)+j].
type field struct {
	x, y    []float64
	data    []float64
	levels  []float64
	colours []color.NRGBA // one more than levels
}

// bandColours spreads a map over bands; a diverging map keeps its middle at zero.
func bandColours(m *ColourMap, levels []float64) []color.NRGBA {
	n := len(levels) + 1
	out := make([]color.NRGBA, n)
	if m.Diverging {
		zero := sort.SearchFloat64s(levels, 0) // bands up to this one are below zero
		down, up := zero+1, n-zero-1
		if zero == len(levels) || levels[zero] != 0 {
			down = zero
			up = n - zero
		}
		side := float64(max(down, up))
		for k := range out {
			if k < down {
				out[k] = m.At(0.5 - (float64(down-k)-0.35)/side*0.5)
			} else {
				out[k] = m.At(0.5 + (float64(k-down)+0.65)/side*0.5)
			}
		}
		return out
	}
	for k := range out {
		t := 0.5
		if n > 1 {
			t = float64(k) / float64(n-1)
		}
		out[k] = m.At(0.04 + 0.96*t)
	}
	return out
}

// bandOf gives the band that holds a value: From <= v < To.
func (f *field) bandOf(v float64) int {
	return sort.Search(len(f.levels), func(k int) bool { return f.levels[k] > v })
}

// window gives the rows between two values of y, both ends included; y must hold them or the range is what lies inside.
func (f *field) window(y0, y1 float64) *field {
	a := sort.SearchFloat64s(f.y, y0)
	b := sort.Search(len(f.y), func(i int) bool { return f.y[i] > y1 })
	g := *f
	g.y = f.y[a:b]
	g.data = f.data[a*len(f.x) : b*len(f.x)]
	return &g
}

// thin keeps at most nx by ny nodes, evenly, with the first and the last, and the rows in always.
func (f *field) thin(nx, ny int, always ...float64) *field {
	cols, rows := pick(len(f.x), nx), pick(len(f.y), ny)
	for _, v := range always {
		i := sort.SearchFloat64s(f.y, v)
		if i < len(f.y) && f.y[i] == v {
			at := sort.SearchInts(rows, i)
			if at == len(rows) || rows[at] != i {
				rows = append(rows[:at:at], append([]int{i}, rows[at:]...)...)
			}
		}
	}
	g := *f
	g.x, g.y, g.data = make([]float64, len(cols)), make([]float64, len(rows)), make([]float64, 0, len(cols)*len(rows))
	for k, j := range cols {
		g.x[k] = f.x[j]
	}
	for k, i := range rows {
		g.y[k] = f.y[i]
		for _, j := range cols {
			g.data = append(g.data, f.data[i*len(f.x)+j])
		}
	}
	return &g
}

// known says whether the node nearest to a point of the page has a value.
func (f *field) known(fr *frame, q pt) bool {
	nearest := func(v []float64, at float64) int {
		k := sort.SearchFloat64s(v, at)
		if k == len(v) || k > 0 && at-v[k-1] < v[k]-at {
			k--
		}
		return k
	}
	j := nearest(f.x, fr.x0+(q.x-fr.l)/(fr.r-fr.l)*(fr.x1-fr.x0))
	i := nearest(f.y, fr.y0+(q.y-fr.t)/(fr.b-fr.t)*(fr.y1-fr.y0))
	return !math.IsNaN(f.data[i*len(f.x)+j])
}

func pick(n, most int) []int {
	step := max(1, (n-1+most-1)/max(1, most))
	var out []int
	for k := 0; k < n; k += step {
		out = append(out, k)
	}
	if out[len(out)-1] != n-1 {
		out = append(out, n-1)
	}
	return out
}

// fillBelow gives nodes under the bottom the nearest value, so that the bands run up to the bottom, which is then painted over them.
// It is a matter of drawing: no value above the bottom changes. below says which nodes lie under the bottom; a value is carried down by at most down rows.
func (f *field) fillBelow(below []bool, down int) {
	const reach = 3
	nx := len(f.x)
	src := append([]float64(nil), f.data...)
	lastAbove := make([]int, nx) // row of the last value of a column above the row at hand, -1 when none
	for j := range lastAbove {
		lastAbove[j] = -1
	}
	beside := func(i, j int) bool {
		for _, n := range []int{j - 1, j + 1} {
			for d := 0; d <= reach && n >= 0 && n < nx && i-d >= 0; d++ {
				if !math.IsNaN(src[(i-d)*nx+n]) {
					return true
				}
			}
		}
		return false
	}
	for i := range f.y {
		for j := range f.x {
			k := i*nx + j
			if !math.IsNaN(src[k]) {
				lastAbove[j] = i
			}
			if !math.IsNaN(src[k]) || !below[k] {
				continue
			}
			// Beside a deeper column the shallower one keeps its own last value, so that lines run straight on to a sloping bottom; with
			// the neighbour's values they would come down it in steps.
			if up := lastAbove[j]; up >= 0 && beside(i, j) {
				f.data[k] = src[up*nx+j]
				continue
			}
			for d := 1; d <= reach && math.IsNaN(f.data[k]); d++ {
				if j-d >= 0 && !math.IsNaN(src[k-d]) {
					f.data[k] = src[k-d]
				} else if j+d < nx && !math.IsNaN(src[k+d]) {
					f.data[k] = src[k+d]
				}
			}
			for d := 1; d <= max(reach, down) && math.IsNaN(f.data[k]) && i-d >= 0; d++ {
				if !math.IsNaN(src[k-d*nx]) {
					f.data[k] = src[k-d*nx]
				}
			}
		}
	}
}

// paint draws the bands in a frame, lowest first, each over all that is above its level.
func (f *field) paint(s *scene, fr *frame) {
	if len(f.x) < 2 || len(f.y) < 2 {
		return
	}
	from := append([]float64{math.Inf(-1)}, f.levels...)
	for k, region := range contour.Above(f.x, f.y, f.data, from) {
		s.fill(onPage(region, fr), f.colours[k])
	}
}

func onPage(region orb.MultiPolygon, fr *frame) path {
	var p path
	for _, poly := range region {
		for _, ring := range poly {
			q := make([]pt, 0, len(ring))
			for _, c := range ring[:len(ring)-1] {
				q = append(q, fr.at(c[0], c[1]))
			}
			if q = simplifyRing(q); len(q) > 2 {
				p = append(p, q)
			}
		}
	}
	return p
}

// How far, in points, a drawn line may lie from the traced one: a fiftieth of a millimetre.
const drawnWithin = 0.055

// simplify drops points of a line that lie within drawnWithin of what is left (Douglas and Peucker 1973).
func simplify(line []pt) []pt {
	if len(line) < 3 {
		return line
	}
	keep := make([]bool, len(line))
	keep[0], keep[len(line)-1] = true, true
	stack := [][2]int{{0, len(line) - 1}}
	for len(stack) > 0 {
		r := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		a, b := line[r[0]], line[r[1]]
		worst, at := drawnWithin, -1
		for k := r[0] + 1; k < r[1]; k++ {
			if d := awayFrom(line[k], a, b); d > worst {
				worst, at = d, k
			}
		}
		if at >= 0 {
			keep[at] = true
			stack = append(stack, [2]int{r[0], at}, [2]int{at, r[1]})
		}
	}
	out := make([]pt, 0, len(line))
	for k, p := range line {
		if keep[k] {
			out = append(out, p)
		}
	}
	return out
}

func simplifyRing(ring []pt) []pt {
	if len(ring) < 4 {
		return ring
	}
	far, at := 0.0, 0
	for k, p := range ring {
		if d := math.Hypot(p.x-ring[0].x, p.y-ring[0].y); d > far {
			far, at = d, k
		}
	}
	if at == 0 {
		return ring
	}
	first := simplify(ring[:at+1])
	second := simplify(append(append([]pt(nil), ring[at:]...), ring[0]))
	return append(append([]pt(nil), first...), second[1:len(second)-1]...)
}

// awayFrom is the distance of p from the straight piece a to b.
func awayFrom(p, a, b pt) float64 {
	dx, dy := b.x-a.x, b.y-a.y
	n := dx*dx + dy*dy
	if n == 0 {
		return math.Hypot(p.x-a.x, p.y-a.y)
	}
	t := max(0, min(1, ((p.x-a.x)*dx+(p.y-a.y)*dy)/n))
	return math.Hypot(p.x-a.x-t*dx, p.y-a.y-t*dy)
}

// A lineStyle is how level lines of one field look.
type lineStyle struct {
	pen      func(level float64) pen
	under    *pen // drawn wider beneath, so that the line stands out; nil for none
	size     float64
	bold     bool
	text     func(level float64) string
	colour   func(level float64) color.NRGBA
	perPoint float64                  // a label for each so many points of line
	patch    bool                     // a light patch under the label
	free     func(p pt) bool          // may a label stand here
	covers   func(p pt) bool          // would a label hide something here; nil: no
	skip     func(level float64) bool // levels that get no label
	steep    bool                     // labels may stand upright, where most lines do
}

// drawLines draws the level lines of a field, each broken where its label stands.
func (f *field) drawLines(s *scene, fr *frame, levels []float64, st lineStyle) {
	labelLines(s, fr, f.trace(fr, levels), levels, st)()
}

// speck is a length in points, 1 mm: what is shorter looks like dirt, in corners of a mask above all.
const speck = 2.8

// trace gives the level lines on the page, by level, without specks.
func (f *field) trace(fr *frame, levels []float64) [][][]pt {
	lines := make([][][]pt, len(levels))
	if len(f.x) < 2 || len(f.y) < 2 || len(levels) == 0 {
		return lines
	}
	for k, c := range contour.Lines(f.x, f.y, f.data, levels) {
		for _, l := range c.Lines {
			q := make([]pt, len(l))
			for i, p := range l {
				q[i] = fr.at(p[0], p[1])
			}
			if q = simplify(q); length(q) >= speck {
				lines[k] = append(lines[k], q)
			}
		}
	}
	return lines
}

// labelLines finds places for the labels of lines, by level, and keeps them free; it returns what draws lines and labels.
func labelLines(s *scene, fr *frame, lines [][][]pt, levels []float64, st lineStyle) func() {
	order := make([]int, len(levels))
	for k := range order {
		order[k] = k
	}
	// Every other level first, so that when room is short the labels left out are those between two that are there.
	sort.SliceStable(order, func(i, j int) bool { return order[i]%2 < order[j]%2 })
	type placed struct {
		line, level int
		at          float64
		half        float64
	}
	var labels []placed
	var texts []label
	for _, k := range order {
		if st.skip != nil && st.skip(levels[k]) {
			continue
		}
		txt := st.text(levels[k])
		w := textWidth(map[bool]*typeface{false: regular, true: strong}[st.bold], txt, st.size)
		byLength := make([]int, len(lines[k]))
		for i := range byLength {
			byLength[i] = i
		}
		sameLevel := len(texts)
		const again = 42.0 // points between labels of one level on different lines: islands of noise need no name each
		sort.SliceStable(byLength, func(a, b int) bool { return length(lines[k][byLength[a]]) > length(lines[k][byLength[b]]) })
		for rank, i := range byLength {
			line := lines[k][i]
			total := length(line)
			if total < 2.2*w+8 || rank > 6 || rank > 1 && total < 0.2*length(lines[k][byLength[0]]) {
				break
			}
			want := max(1, int(total/st.perPoint))
			for n := range want {
				lo, hi := total*float64(n)/float64(want), total*float64(n+1)/float64(want)
				if l, at, ok := bestPlace(s, fr, line, lo, hi, total, w, txt, st, others(lines, k)); ok {
					close := false
					for q := sameLevel; q < len(texts); q++ {
						close = close || labels[q].line != i && math.Hypot(texts[q].at.x-l.at.x, texts[q].at.y-l.at.y) < again
					}
					if close {
						continue
					}
					l.colour = st.colour(levels[k])
					s.keep = append(s.keep, l.box())
					labels = append(labels, placed{i, k, at, w/2 + 1.2})
					texts = append(texts, l)
				}
			}
		}
	}
	return func() {
		for k := range levels {
			var p path
			for i, line := range lines[k] {
				var gaps [][2]float64
				for _, l := range labels {
					if l.level == k && l.line == i {
						gaps = append(gaps, [2]float64{l.at - l.half, l.at + l.half})
					}
				}
				p = append(p, cutOut(line, gaps)...)
			}
			n := st.pen(levels[k])
			if st.under != nil {
				u := *st.under
				u.width += n.width
				s.stroke(p, u)
			}
			s.stroke(p, n)
		}
		for _, l := range texts {
			if st.patch {
				b := l.box().grown(0.5)
				s.fill(path{b[:]}, paper)
			}
			s.text(l)
		}
	}
}

// partTogether leaves out lines that for most of their way run closer than apart to a line that is there already, the roundest levels
// first: where lines run into one another the bands between them are hidden, and a line for every other band tells more.
func partTogether(lines [][][]pt, levels []float64, apart float64) [][][]pt {
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
	order := make([]int, len(levels))
	for k := range order {
		order[k] = k
	}
	sort.SliceStable(order, func(i, j int) bool { return roundness(levels[order[i]]) < roundness(levels[order[j]]) })
	out := make([][][]pt, len(lines))
	var there [][][]pt // of the levels before
	for _, k := range order {
		for _, line := range lines[k] {
			const every = 4.0
			near, all := 0, 0
			total := length(line)
			for at := every / 2; at < total; at += every {
				all++
				if !awayFromAll(pointAt(line, at), there, apart) {
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

// others gives the lines of the neighbouring levels.
func others(lines [][][]pt, k int) [][][]pt {
	var out [][][]pt
	for _, n := range []int{k - 2, k - 1, k + 1, k + 2} {
		if n >= 0 && n < len(lines) {
			out = append(out, lines[n])
		}
	}
	return out
}

func length(line []pt) float64 {
	sum := 0.0
	for k := 1; k < len(line); k++ {
		sum += math.Hypot(line[k].x-line[k-1].x, line[k].y-line[k-1].y)
	}
	return sum
}

// pointAt gives the point at a length along a line.
func pointAt(line []pt, at float64) pt {
	for k := 1; k < len(line); k++ {
		d := math.Hypot(line[k].x-line[k-1].x, line[k].y-line[k-1].y)
		if at <= d && d > 0 {
			t := at / d
			return pt{line[k-1].x + t*(line[k].x-line[k-1].x), line[k-1].y + t*(line[k].y-line[k-1].y)}
		}
		at -= d
	}
	return line[len(line)-1]
}

// bestPlace looks along lo..hi of a line for the straightest and most level stretch with room for a label.
func bestPlace(s *scene, fr *frame, line []pt, lo, hi, total, w float64, txt string, st lineStyle, others [][][]pt) (label, float64, bool) {
	best, found := 0.0, false
	var out label
	var where float64
	const tries = 15
	for n := range tries {
		at := lo + (hi-lo)*(float64(n)+0.5)/tries
		if at-w/2-2 < 0 || at+w/2+2 > total {
			continue
		}
		a, m, b := pointAt(line, at-w/2), pointAt(line, at), pointAt(line, at+w/2)
		chord := math.Hypot(b.x-a.x, b.y-a.y)
		if chord < 0.93*w {
			continue
		}
		c0, c1 := pointAt(line, max(0, at-w/2-5)), pointAt(line, min(total, at+w/2+5))
		if math.Hypot(c1.x-c0.x, c1.y-c0.y) < 0.9*(min(total, at+w/2+5)-max(0, at-w/2-5)) { // wriggles beside the label
			continue
		}
		angle := math.Atan2(-(b.y-a.y), b.x-a.x) * 180 / math.Pi
		if angle > 90 {
			angle -= 180
		} else if angle < -90 {
			angle += 180
		}
		if angle < -80 { // upright ones are all read upward
			angle += 180
		}
		if !st.steep && (angle > 72 || angle < -72) {
			continue
		}
		bow := awayFrom(m, a, b)
		upright := min(1, math.Abs(angle)/90)
		if st.steep {
			upright /= 4
		}
		cost := bow/st.size*3 + upright + math.Abs(float64(n)-tries/2)/tries*0.6
		if st.covers != nil {
			for _, q := range []pt{a, m, b} {
				if st.covers(q) {
					cost++
				}
			}
		}
		if found && cost >= best {
			continue
		}
		c := pt{(a.x + b.x + 2*m.x) / 4, (a.y + b.y + 2*m.y) / 4}
		l := label{text: txt, at: c, size: st.size, h: middle, v: centre, turn: angle, bold: st.bold}
		box := l.box()
		ok := s.fits(box, 1.6)
		for _, p := range append(box[:], c) {
			ok = ok && p.x > fr.l+1 && p.x < fr.r-1 && p.y > fr.t+1 && p.y < fr.b-1 && (st.free == nil || st.free(p))
		}
		// Not where lines of other levels run through it.
		if ok {
			u := pt{(b.x - a.x) / 2, (b.y - a.y) / 2}
			for _, q := range []pt{c, {c.x - 0.7*u.x, c.y - 0.7*u.y}, {c.x + 0.7*u.x, c.y + 0.7*u.y}} {
				ok = ok && awayFromAll(q, others, st.size*0.42)
			}
		}
		if !ok {
			continue
		}
		best, found, out, where = cost, true, l, at
	}
	return out, where, found
}

// cutOut gives what is left of a line without the given stretches of its length.
func cutOut(line []pt, gaps [][2]float64) path {
	if len(gaps) == 0 {
		return path{line}
	}
	sort.Slice(gaps, func(i, j int) bool { return gaps[i][0] < gaps[j][0] })
	var out path
	total := length(line)
	from := 0.0
	for _, g := range append(gaps, [2]float64{total, total}) {
		if g[0] > from+0.01 {
			out = append(out, between(line, from, g[0]))
		}
		from = max(from, g[1])
	}
	return out
}

func between(line []pt, from, to float64) []pt {
	out := []pt{pointAt(line, from)}
	sum := 0.0
	for k := 1; k < len(line); k++ {
		sum += math.Hypot(line[k].x-line[k-1].x, line[k].y-line[k-1].y)
		if sum > from+1e-9 && sum < to-1e-9 {
			out = append(out, line[k])
		}
	}
	return append(out, pointAt(line, to))
}

// hatch gives parallel lines, every spacing points at an angle (degrees), clipped to a filled path (even-odd).
func hatch(p path, spacing, angle float64) path {
	s, c := math.Sincos(angle * math.Pi / 180)
	turn := func(q pt) pt { return pt{q.x*c + q.y*s, -q.x*s + q.y*c} }
	back := func(q pt) pt { return pt{q.x*c - q.y*s, q.x*s + q.y*c} }
	cross := map[int][]float64{}
	lo, hi := math.MaxInt, math.MinInt
	for _, ring := range p {
		for k := range ring {
			a, b := turn(ring[k]), turn(ring[(k+1)%len(ring)])
			if a.y > b.y {
				a, b = b, a
			}
			for n := int(math.Ceil(a.y / spacing)); float64(n)*spacing < b.y; n++ {
				y := float64(n) * spacing
				cross[n] = append(cross[n], a.x+(y-a.y)/(b.y-a.y)*(b.x-a.x))
				lo, hi = min(lo, n), max(hi, n)
			}
		}
	}
	var out path
	for n := lo; n <= hi && lo != math.MaxInt; n++ {
		xs := cross[n]
		sort.Float64s(xs)
		for k := 0; k+1 < len(xs); k += 2 {
			if xs[k+1]-xs[k] > 0.3 {
				y := float64(n) * spacing
				out = append(out, []pt{back(pt{xs[k], y}), back(pt{xs[k+1], y})})
			}
		}
	}
	return out
}
