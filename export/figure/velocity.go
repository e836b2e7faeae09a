package figure

import (
	"fmt"
	"image/color"
	"math"
	"sort"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/castwright/castwright/section/seawater"
)

// Velocity is the geostrophic velocity normal to a section, with the transport of each pair and their running sum beneath. Between the
// middles of neighbouring pairs the picture is linear in distance; pairs that are withheld stay empty and say so.
type Velocity struct {
	Name      string
	Title     string // of the section; "" for "Section NAME"
	Result    *geostrophy.Result
	UpperDbar float64 // as in Section
	Axis      string  // as in Section
}

// Stem implements Figure.
func (f *Velocity) Stem() string { return f.Name }

type velocityData struct {
	runs    []*field // one for each run of pairs with numbers
	levels  []float64
	colours []color.NRGBA
	floor   floorShape
	yMax    float64
	upper   float64
	section *section.Section
	pairs   []geostrophy.Pair
	marks   []stationMark
	track   *track
	holes   bool // parts without velocity that are not withheld pairs
}

func (f *Velocity) prepare() (*velocityData, error) {
	r := f.Result
	if r == nil {
		return nil, fmt.Errorf("%s: %w: no result", f.Name, ErrNoValues)
	}
	d := &velocityData{section: &section.Section{Name: r.Section}, pairs: r.Pairs}
	for k := range r.Stations {
		d.section.Casts = append(d.section.Casts, r.Stations[k].Cast)
		d.section.DistanceKm = append(d.section.DistanceKm, r.Stations[k].DistanceKm)
	}
	if err := checkSection(d.section, f.Name); err != nil {
		return nil, err
	}
	d.marks, d.track = marksOf(d.section), trackOf(d.section, nil)
	deepest := 0.0
	for k := range r.Pairs {
		p := &r.Pairs[k]
		if p.Status.HasVelocity() && len(p.PressureDbar) > 1 {
			deepest = max(deepest, p.PressureDbar[len(p.PressureDbar)-1])
		}
	}
	if deepest == 0 {
		return nil, fmt.Errorf("%s: %w: all %s withheld (%s)", f.Name, ErrNoValues, plural(len(r.Pairs), "pair is", "pairs are"), firstReason(r.Pairs))
	}
	d.floor.deepest = strings.HasPrefix(paramOf(r.Params, "bottom"), "deepest")
	known := map[int]bool{}
	for k := range r.Stations {
		st := &r.Stations[k]
		if !math.IsNaN(st.BottomM) && st.BottomM > 0 && !math.IsNaN(st.Cast.At[1]) {
			d.floor.x = append(d.floor.x, st.DistanceKm)
			d.floor.p = append(d.floor.p, seawater.Pressure(-st.BottomM, st.Cast.At[1]))
			known[k] = st.BottomFrom != deepestBin || st.Cast.BottomM > 0 || d.floor.deepest
		}
	}
	d.floor.assumeAround(d.section.DistanceKm, func(k int) bool { return known[k] })
	d.yMax = depthOfPicture(deepest, d.floor.p)
	step := niceStep(deepest / 400)
	var y []float64
	for k := 0; float64(k)*step <= deepest+step/2; k++ {
		y = append(y, float64(k)*step)
	}
	d.upper = upperOf(f.UpperDbar, d.yMax, y)
	d.spread(y)
	d.holes = d.reach()
	return d, nil
}

// deepestBin is what package geostrophy says of a bottom that it took from the values, for want of a depth.
const deepestBin = "deepest bin"

func firstReason(ps []geostrophy.Pair) string {
	for k := range ps {
		if ps[k].Reason != "" {
			return ps[k].Reason
		}
	}
	return "no reason given"
}

// spread puts the pairs on the levels y and links neighbours into fields.
func (d *velocityData) spread(y []float64) {
	for from := 0; from < len(d.pairs); {
		if !d.pairs[from].Status.HasVelocity() {
			from++
			continue
		}
		to := from
		for to+1 < len(d.pairs) && d.pairs[to+1].Status.HasVelocity() {
			to++
		}
		f := &field{y: y}
		var columns []int
		add := func(km float64, pair int) {
			if n := len(f.x); n > 0 && km <= f.x[n-1] {
				return
			}
			f.x = append(f.x, km)
			columns = append(columns, pair)
		}
		add(d.pairs[from].FromKm, from)
		for k := from; k <= to; k++ {
			add((d.pairs[k].FromKm+d.pairs[k].ToKm)/2, k)
		}
		add(d.pairs[to].ToKm, to)
		f.data = make([]float64, len(f.x)*len(y))
		for j, k := range columns {
			p := &d.pairs[k]
			for i, v := range y {
				f.data[i*len(f.x)+j] = pairAt(p, v)
			}
			f.signAtEnd(j)
		}
		d.runs = append(d.runs, f)
		from = to + 1
	}
}

// reach says whether part of the picture lies below the last values and above the bottom, far enough to be seen.
func (d *velocityData) reach() bool {
	const seen = 0.003 // of the height
	for _, f := range d.runs {
		for j, x := range f.x {
			last := 0.0
			for i, y := range f.y {
				if !math.IsNaN(f.data[i*len(f.x)+j]) {
					last = y
				}
			}
			end := d.yMax
			if !d.floor.none() {
				end = min(end, interpolate(d.floor.x, d.floor.p, x))
			}
			if end-last > seen*d.yMax {
				return true
			}
		}
	}
	return false
}

// signAtEnd gives the zero at the lower end of a column, where the reference level is, the sign of what is above it, at a thousandth of
// its size: a zero line along the lower edge would say no more than that the reference is there.
func (f *field) signAtEnd(j int) {
	nx := len(f.x)
	for i := len(f.y) - 1; i > 0; i-- {
		v := f.data[i*nx+j]
		if math.IsNaN(v) {
			continue
		}
		if above := f.data[(i-1)*nx+j]; v == 0 && !math.IsNaN(above) {
			f.data[i*nx+j] = above / 1000
		}
		return
	}
}

// pairAt gives the velocity of a pair at a pressure: linear between its levels, the first level's up to the surface where it was carried,
// NaN elsewhere.
func pairAt(p *geostrophy.Pair, at float64) float64 {
	n := len(p.PressureDbar)
	if n == 0 || at > p.PressureDbar[n-1] {
		return math.NaN()
	}
	if at < p.PressureDbar[0] {
		if p.SurfaceCarriedM > 0 && p.TopUnsampledM == 0 {
			return p.Velocity[0]
		}
		return math.NaN()
	}
	k := sort.SearchFloat64s(p.PressureDbar, at)
	if p.PressureDbar[k] == at || k == 0 {
		return p.Velocity[k]
	}
	t := (at - p.PressureDbar[k-1]) / (p.PressureDbar[k] - p.PressureDbar[k-1])
	return p.Velocity[k-1] + t*(p.Velocity[k]-p.Velocity[k-1])
}

func (d *velocityData) chooseLevels() {
	var vs []weighed
	for _, f := range d.runs {
		for i, y := range f.y {
			w := 1.0
			if d.upper > 0 && y <= d.upper {
				w = (d.yMax - d.upper) / d.upper * upperShare / (1 - upperShare)
			}
			for j := range f.x {
				if v := f.data[i*len(f.x)+j]; !math.IsNaN(v) {
					width := 0.0
					if j > 0 {
						width += f.x[j] - f.x[j-1]
					}
					if j+1 < len(f.x) {
						width += f.x[j+1] - f.x[j]
					}
					vs = append(vs, weighed{v, w * width, 0})
				}
			}
		}
	}
	d.levels = zeroLevels(vs)
	d.colours = bandColours(mustMap("velocity1"), d.levels)
}

const megatransport = 1e6 // m3/s in one unit of the transport axes

func (f *Velocity) draw(w Width) (*scene, error) {
	d, err := f.prepare()
	if err != nil {
		return nil, err
	}
	d.chooseLevels()
	p := newSheet(w, 45)
	velocity := metadata.MustVariable("velocity")
	p.heading("Geostrophic velocity ("+unitText(velocity.Units)+")", sectionTitle(d.section, f.Title))
	p.stationRow()
	head := p.y
	x0, x1 := d.section.DistanceKm[0], d.section.DistanceKm[len(d.section.DistanceKm)-1]
	var frames []frame
	if d.upper > 0 {
		h := p.tall(222, 150)
		cut := head + h*upperShare
		frames = []frame{
			{l: p.l, r: p.r, t: head, b: cut, x0: x0, x1: x1, y0: 0, y1: d.upper},
			{l: p.l, r: p.r, t: cut + 5, b: head + h + 5, x0: x0, x1: x1, y0: d.upper, y1: d.yMax},
		}
	} else {
		h := p.tall(170, 120)
		frames = []frame{{l: p.l, r: p.r, t: head, b: head + h, x0: x0, x1: x1, y0: 0, y1: d.yMax}}
	}
	p.stations(&frames[0], d.marks)
	for k := range frames {
		d.paint(p, &frames[k])
	}
	last := &frames[len(frames)-1]
	for k := range frames {
		fr := &frames[k]
		fr.border(p.s)
		fr.leftAxis(p.s, axisTicks(fr.y0, fr.y1, int(max(2, (fr.b-fr.t)/(p.size*2.8))), k > 0), p.size)
	}
	pres := metadata.MustVariable("pres")
	p.sideTitle(titleText(&pres), (head+last.b)/2)
	colourBar(p, frames[0].t, last.b, d.levels, d.colours, velocity.Units)
	p.y = last.b + 7
	each := d.transports(p, x0, x1, false)
	sum := d.transports(p, x0, x1, true)
	p.s.text(label{text: "Volume transport (10⁶ m³ s⁻¹)", at: pt{2 + capHeight*p.size, (each.t + sum.b) / 2}, size: p.size - 0.3, h: middle, v: base, turn: 90})
	p.distanceAxes(&sum, d.track, f.Axis)
	p.keys(d.explain())
	p.y += 1
	for _, line := range []string{f.direction(), f.totalText()} {
		for _, l := range wrap(regular, line, p.size, p.s.w-4-p.l) {
			p.s.text(label{text: l, at: pt{p.l, p.y}, size: p.size, v: top})
			p.y += p.size * 1.32
		}
	}
	return p.done(), nil
}

// paint draws velocity into one panel.
func (d *velocityData) paint(p *sheet, fr *frame) {
	s := p.s
	s.fill(rect(fr.l, fr.t, fr.r, fr.b), noValue)
	s.stroke(hatch(rect(fr.l, fr.t, fr.r, fr.b), hatchSpacing, noValueAngle), pen{colour: hatchInk, width: hair})
	for k := range d.pairs {
		if q := &d.pairs[k]; !q.Status.HasVelocity() {
			l, right := widen(fr.X(q.FromKm), fr.X(q.ToKm))
			r := rect(l, fr.t, right, fr.b)
			s.fill(r, noValue)
			s.stroke(hatch(r, hatchSpacing, noValueAngle), pen{colour: hatchInk, width: hair})
			s.stroke(hatch(r, hatchSpacing, doubtAngle), pen{colour: hatchInk, width: hair})
		}
	}
	free := func(q pt) bool {
		x := fr.x0 + (q.x-fr.l)/(fr.r-fr.l)*(fr.x1-fr.x0)
		y := fr.y0 + (q.y-fr.t)/(fr.b-fr.t)*(fr.y1-fr.y0)
		return d.floor.none() || y < interpolate(d.floor.x, d.floor.p, x)
	}
	for _, run := range d.runs {
		g := run.window(fr.y0, fr.y1).thin(4*len(run.x), int((fr.b-fr.t)*1.5))
		g.levels, g.colours = d.levels, d.colours
		g.paint(s, fr)
		for i, y := range g.y {
			for j, x := range g.x {
				if math.IsNaN(g.data[i*len(g.x)+j]) && (d.floor.none() || y < interpolate(d.floor.x, d.floor.p, x)) {
					d.holes = true
				}
			}
		}
		g.levelLines(s, fr, p, free, false)
	}
	d.floor.paint(s, fr)
}

// widen gives a withheld pair of very close stations a width that is seen.
func widen(l, r float64) (float64, float64) {
	const least = 1.6
	if r-l < least {
		return (l+r)/2 - least/2, (l+r)/2 + least/2
	}
	return l, r
}

// transports draws the panel of transports by pair, or of their running sum.
func (d *velocityData) transports(p *sheet, x0, x1 float64, sum bool) frame {
	s := p.s
	fr := frame{l: p.l, r: p.r, t: p.y, b: p.y + p.tall(46, 36), x0: x0, x1: x1}
	value := func(k int) (v, e float64) {
		t := d.pairs[k].Transport[geostrophy.Volume]
		if sum {
			t = d.pairs[k].Cumulative[geostrophy.Volume]
		}
		return t.Value / megatransport, t.Stated / megatransport
	}
	lo, hi := 0.0, 0.0
	for k := range d.pairs {
		if d.pairs[k].Status.HasVelocity() {
			v, e := value(k)
			if math.IsNaN(e) {
				e = 0
			}
			lo, hi = min(lo, v-e), max(hi, v+e)
		}
	}
	if lo == hi {
		lo, hi = -1, 1
	}
	pad := (hi - lo) * 0.08
	fr.y0, fr.y1 = hi+pad, lo-pad
	m := mustMap("velocity1")
	clamp := func(v float64) float64 { return max(fr.y1, min(fr.y0, v)) }
	var line, dashed [][]pt
	at := fr.at(x0, 0)
	partial := false
	for k := range d.pairs {
		q := &d.pairs[k]
		l, r := fr.X(q.FromKm), fr.X(q.ToKm)
		if !q.Status.HasVelocity() {
			s.stroke(hatch(rect(l, fr.t, r, fr.b), hatchSpacing, noValueAngle), pen{colour: hatchInk, width: hair})
			s.stroke(hatch(rect(l, fr.t, r, fr.b), hatchSpacing, doubtAngle), pen{colour: hatchInk, width: hair})
			partial = true
			if sum {
				next := pt{r, at.y}
				dashed = append(dashed, []pt{at, next})
				at = next
			}
			continue
		}
		v, e := value(k)
		if sum {
			next := fr.at(q.ToKm, v)
			if partial || q.CumulativePartial {
				dashed = append(dashed, []pt{at, next})
			} else {
				line = append(line, []pt{at, next})
			}
			at = next
			continue
		}
		c := m.At(0.82)
		if v < 0 {
			c = m.At(0.18)
		}
		inset := min(0.5, (r-l)*0.12)
		s.fill(rect(l+inset, fr.Y(0), r-inset, fr.Y(v)), c)
		if !math.IsNaN(e) && e > 0 {
			mid := (l + r) / 2
			s.line(mid, fr.Y(clamp(v-e)), mid, fr.Y(clamp(v+e)), pen{colour: ink, width: min(thin, (r-l)*0.2)})
		}
	}
	s.line(fr.l, fr.Y(0), fr.r, fr.Y(0), pen{colour: ink, width: normal})
	s.stroke(join(line), pen{colour: ink, width: heavy})
	s.stroke(join(dashed), pen{colour: ink, width: heavy, dash: []float64{3, 2}})
	fr.border(s)
	fr.leftAxis(s, ticks(fr.y1, fr.y0, 4), p.size)
	text := "each pair"
	if sum {
		text = "sum from the left"
		if partial {
			text += " (dashed: partial)"
		}
	}
	// In the corner that the lines leave free, else anywhere that they do.
	corners := []label{{at: pt{fr.r - 3, fr.t + 2.5}, h: right, v: top}, {at: pt{fr.l + 3, fr.t + 2.5}, h: left, v: top},
		{at: pt{fr.r - 3, fr.b - 1.5}, h: right, v: bottom}, {at: pt{fr.l + 3, fr.b - 1.5}, h: left, v: bottom}}
	for _, y := range []float64{0.5, 0.35, 0.65, 0.2, 0.8} {
		for n := range 8 {
			corners = append(corners, label{at: pt{fr.r - 3 - float64(n)*(fr.r-fr.l)/9, fr.t + (fr.b-fr.t)*y}, h: right, v: centre})
		}
	}
	l, fewest := label{}, math.MaxInt
	for _, c := range corners {
		c.text, c.size, c.colour = text, p.size-0.4, softInk
		b := c.box()
		hits := 0
		if b[0].x < fr.l+1 {
			continue
		}
		if !sum { // bars and their errors
			for k := range d.pairs {
				v, e := value(k)
				if math.IsNaN(e) {
					e = 0
				}
				if d.pairs[k].Status.HasVelocity() && b.overlaps(rectBox(fr.X(d.pairs[k].FromKm), fr.Y(clamp(max(0, v+e))), fr.X(d.pairs[k].ToKm), fr.Y(clamp(min(0, v-e)))), 0) {
					hits += 5
				}
			}
		}
		for _, piece := range append(append([][]pt{{{fr.l, fr.Y(0)}, {fr.r, fr.Y(0)}}}, line...), dashed...) {
			for n := range 41 {
				q := pointAt(piece, length(piece)*float64(n)/40)
				if b.overlaps(rectBox(q.x-1, q.y-1, q.x+1, q.y+1), 0) {
					hits++
				}
			}
		}
		if hits < fewest {
			l, fewest = c, hits
		}
	}
	b := l.box().grown(0.8)
	s.fill(path{b[:]}, paper)
	s.text(l)
	p.y = fr.b + 4
	return fr
}

// join links pieces that continue each other.
func join(pieces [][]pt) path {
	var out path
	for _, q := range pieces {
		if n := len(out); n > 0 && out[n-1][len(out[n-1])-1] == q[0] {
			out[n-1] = append(out[n-1], q[1:]...)
			continue
		}
		out = append(out, append([]pt(nil), q...))
	}
	return out
}

func (d *velocityData) explain() []key {
	ks := d.floor.keys()
	if d.holes {
		ks = append(ks, hatchKey(noValue, noValueAngle, "no common levels"))
	}
	for k := range d.pairs {
		if !d.pairs[k].Status.HasVelocity() {
			ks = append(ks, key{func(s *scene, x0, y0, x1, y1 float64) {
				s.fill(rect(x0, y0, x1, y1), noValue)
				s.stroke(hatch(rect(x0, y0, x1, y1), hatchSpacing, noValueAngle), pen{colour: hatchInk, width: hair})
				s.stroke(hatch(rect(x0, y0, x1, y1), hatchSpacing, doubtAngle), pen{colour: hatchInk, width: hair})
				s.outline(rect(x0, y0, x1, y1), pen{colour: ink, width: hair})
			}, "pair withheld"})
			break
		}
	}
	return ks
}

var compass = [...]string{"north", "north-northeast", "northeast", "east-northeast", "east", "east-southeast", "southeast", "south-southeast", "south",
	"south-southwest", "southwest", "west-southwest", "west", "west-northwest", "northwest", "north-northwest"}

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
		return fmt.Sprintf("%s (%s° true)", compassWord(deg), number(math.Mod(math.Round(deg), 360), 0))
	}
	if turns { // no one direction is true of all of it
		return fmt.Sprintf("Positive: %s; the section turns: towards %s at its first pair, towards %s at its last.", sideWord(f.Result.Positive), towards(first), towards(last))
	}
	return fmt.Sprintf("Positive: towards %s%s.", towards(deg), sideText(f.Result.Positive))
}

func sideWord(word string) string {
	if word == "left" || word == "right" {
		return "to the " + word + " of the direction of the section"
	}
	return word
}

func sideText(word string) string {
	if word == "left" || word == "right" {
		return ", to the " + word + " of the direction of the section"
	}
	return ""
}

// spelled writes units as print has them.
var spelled = strings.NewReplacer("km2", "km²")

// totalText gives the sum of the section, never without what it leaves out.
func (f *Velocity) totalText() string {
	t := f.Result.Total[geostrophy.Volume]
	if math.IsNaN(t.Value) {
		return ""
	}
	return "Total " + withError(t.Value/megatransport, t.Stated/megatransport) + " × 10⁶ m³ s⁻¹, " + spelled.Replace(f.Result.Partial.Statement) + "."
}

func (f *Velocity) caption(a *About) (caption, error) {
	d, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	d.chooseLevels()
	var c caption
	c.head = "Geostrophic velocity, " + sectionTitle(d.section, f.Title)
	c.what = fmt.Sprintf("Geostrophic velocity (m s⁻¹) normal to %s, from %s, and volume transport (10⁶ m³ s⁻¹) of each pair and summed from the left. %s "+
		"The heavy line is zero; each pair of stations gives one profile, drawn at its middle and joined linearly.",
		lowerSection(d.section, f.Title), stationSpan(d.section), f.direction())
	c.add("Where", whereText(d.section))
	c.add("Station names", namesOfStations(d.section.Casts).note())
	c.add("When", whenText(d.section.Casts))
	c.add("Casts", number(float64(len(d.section.Casts)), 0))
	c.add("Transport", f.totalText())
	c.add("Computed", settings(f.Result.Params))
	c.add("Contour interval", withUnit(intervalText(d.levels), "m s-1"))
	var held []string
	for k := range d.pairs {
		if q := &d.pairs[k]; q.Status != geostrophy.Computed {
			word := "withheld"
			if q.Status.HasVelocity() {
				word = "questionable"
			}
			held = append(held, fmt.Sprintf("%s–%s %s (%s)", trimZeros(d.section.Casts[q.A].Station), trimZeros(d.section.Casts[q.B].Station), word, q.Reason))
		}
	}
	c.add("Pairs to review", strings.Join(held, "; "))
	for _, n := range f.Result.Notes {
		c.add("Note", n)
	}
	switch {
	case d.floor.none():
		c.add("Bottom", "not known, not drawn")
	case len(d.floor.assumed) > 0 || d.floor.deepest:
		c.add("Bottom", strings.TrimPrefix(d.floor.solid(), "; "))
	}
	c.about(a, !d.floor.none())
	return c, nil
}
