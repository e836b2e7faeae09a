package figure

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"slices"
	"sort"
	"strings"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/castwright/castwright/section/seawater"
)

// Velocity is the geostrophic velocity normal to a section, with the transport of each pair and their running
// sum beneath. Between the middles of neighbouring pairs the picture is linear in distance; pairs that are
// withheld stay empty and say so.
type Velocity struct {
	Name      string
	Title     string // of the section; "" for "Section NAME"
	Result    *geostrophy.Result
	UpperDbar float64        // as in Section
	Axis      string         // as in Section
	Grid      *gridding.Grid // whose bottom is drawn, as in the other figures of the section; nil: that of the stations
	Depth     bool           // as in Section
	Scale     Scale

	levels []float64 // shared with other sections; nil: chosen
	split  float64   // bottom of the upper panel, as other panels of the page have it; 0: chosen
}

// Stem implements Figure.
func (f *Velocity) Stem() string { return f.Name }

type velocityData struct {
	runs    []*chart.Field // one for each run of pairs with numbers
	levels  []float64
	colours []color.NRGBA
	floor   floorShape
	down    vertical
	yMax    float64
	upper   float64
	section *section.Section
	pairs   []geostrophy.Pair
	marks   []chart.Mark
	track   *chart.Track
	gaps    [][2]float64 // km from and to where stations are far apart
	holes   bool         // parts without velocity that are not withheld pairs
	// reference is the pressure of a level of no motion that most pairs share, above the deepest common
	// level; 0: none.
	reference float64
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
	d.down = verticalOf(f.Depth, d.section.Casts)
	d.marks, d.track, d.gaps = marksOf(d.section), trackOf(d.section, nil), gapsOf(d.section)
	deepest, reason := 0.0, ""
	for k := range r.Pairs {
		p := &r.Pairs[k]
		reason = cmp.Or(reason, p.Reason)
		if n := len(p.PressureDbar); p.Status.HasVelocity() && n > 1 {
			deepest = max(deepest, p.PressureDbar[n-1])
		}
	}
	if deepest == 0 {
		return nil, fmt.Errorf("%s: %w: all %s withheld (%s)", f.Name, ErrNoValues,
			plural(len(r.Pairs), "pair is", "pairs are"),
			cmp.Or(reason, "no reason given"))
	}
	if f.Grid != nil {
		d.floor = bottomOf(d.section, f.Grid)
	}
	if d.floor.none() {
		d.floor = bottomOfStations(r, d.section)
	}
	d.yMax = depthOfPicture(deepest, d.floor.p)
	step := chart.NiceStep(deepest / 400)
	var y []float64
	for k := 0; float64(k)*step <= deepest+step/2; k++ {
		y = append(y, float64(k)*step)
	}
	d.upper = upperOf(cmp.Or(f.UpperDbar, splitOf(d.section.Casts, d.floor.p, d.yMax)), d.yMax, y)
	if f.split > 0 {
		d.upper = f.split
		if k, found := slices.BinarySearch(y, f.split); !found {
			y = slices.Insert(y, k, f.split)
		}
	}
	if d.reference = sharedReference(r.Pairs); d.reference > 0 {
		if k, found := slices.BinarySearch(y, d.reference); !found {
			y = slices.Insert(y, k, d.reference)
		}
	}
	d.spread(y)
	d.holes = d.reach()
	return d, d.chooseLevels(f)
}

// bottomOfStations returns the bottom that velocity was computed with: straight lines between the stations.
func bottomOfStations(r *geostrophy.Result, s *section.Section) (b floorShape) {
	b.deepest = r.DeepestBinIsBottom
	known := map[int]bool{}
	for k := range r.Stations {
		st := &r.Stations[k]
		if !math.IsNaN(st.BottomM) && st.BottomM > 0 && !math.IsNaN(st.Cast.At[1]) {
			b.x = append(b.x, st.DistanceKm)
			b.p = append(b.p, seawater.Pressure(-st.BottomM, st.Cast.At[1]))
			known[k] = st.BottomFrom != geostrophy.FromDeepestBin || st.Cast.BottomM > 0 || b.deepest
		}
	}
	b.assumeAround(s.DistanceKm, func(k int) bool { return known[k] })
	return b
}

// wide reports whether a pair spans a gap between stations, over which its velocity is not drawn.
func (d *velocityData) wide(k int) bool { return inGap((d.pairs[k].FromKm+d.pairs[k].ToKm)/2, d.gaps) }

// sharedReference returns the level of no motion that more than half of the pairs with velocity have, other
// than their deepest common level; 0 when there is none.
func sharedReference(pairs []geostrophy.Pair) float64 {
	count := map[float64]int{}
	all := 0
	for k := range pairs {
		p := &pairs[k]
		if !p.Status.HasVelocity() {
			continue
		}
		all++
		if n := len(p.PressureDbar); n > 0 && p.KnownVelocity == 0 && p.ReferenceDbar < p.PressureDbar[n-1] {
			count[p.ReferenceDbar]++
		}
	}
	for dbar, n := range count {
		if 2*n > all {
			return dbar
		}
	}
	return 0
}

// spread puts the pairs on the levels y and links neighbours into fields.
func (d *velocityData) spread(y []float64) {
	for from := 0; from < len(d.pairs); {
		if !d.pairs[from].Status.HasVelocity() {
			from++
			continue
		}
		to := from
		for to+1 < len(d.pairs) && d.pairs[to+1].Status.HasVelocity() && !d.wide(from) && !d.wide(to+1) {
			to++
		}
		if d.wide(from) {
			from++
			continue
		}
		f := &chart.Field{Y: y}
		var columns []int
		add := func(km float64, pair int) {
			if n := len(f.X); n > 0 && km <= f.X[n-1] {
				return
			}
			f.X = append(f.X, km)
			columns = append(columns, pair)
		}
		add(d.pairs[from].FromKm, from)
		for k := from; k <= to; k++ {
			add((d.pairs[k].FromKm+d.pairs[k].ToKm)/2, k)
		}
		add(d.pairs[to].ToKm, to)
		f.Data = make([]float64, len(f.X)*len(y))
		f.Noise = make([]float64, len(f.Data))
		for j, k := range columns {
			p := &d.pairs[k]
			for i, v := range y {
				f.Data[i*len(f.X)+j] = pairAt(p, p.Velocity, v)
				if len(p.PerCastErr) == len(p.PressureDbar) {
					f.Noise[i*len(f.X)+j] = max(0, pairAt(p, p.PerCastErr, v))
				}
			}
			signAtEnd(f, j)
		}
		d.addRun(f)
		from = to + 1
	}
}

// addRun adds a field, in two parts where a level of no motion divides it: the zero there is no line between
// currents.
func (d *velocityData) addRun(f *chart.Field) {
	k, found := slices.BinarySearch(f.Y, d.reference)
	if d.reference == 0 || !found || k == 0 || k == len(f.Y)-1 {
		d.runs = append(d.runs, f)
		return
	}
	nx := len(f.X)
	above := &chart.Field{X: f.X, Y: f.Y[:k+1], Data: slices.Clone(f.Data[:(k+1)*nx]), Noise: f.Noise[:(k+1)*nx]}
	below := &chart.Field{X: f.X, Y: f.Y[k:], Data: slices.Clone(f.Data[k*nx:]), Noise: f.Noise[k*nx:]}
	for j := range nx {
		if above.Data[k*nx+j] == 0 {
			signAtEnd(above, j)
			below.Data[j] = below.Data[nx+j] / 1000
		}
	}
	d.runs = append(d.runs, above, below)
}

// reach reports whether part of the picture lies below the last values and above the bottom, far enough to be seen.
func (d *velocityData) reach() bool {
	const seen = 0.003 // of the height
	for _, f := range d.runs {
		for j, x := range f.X {
			last := 0.0
			for i, y := range f.Y {
				if !math.IsNaN(f.Data[i*len(f.X)+j]) {
					last = y
				}
			}
			end := d.yMax
			if !d.floor.none() {
				end = min(end, d.floor.at(x))
			}
			if end-last > seen*d.yMax {
				return true
			}
		}
	}
	return false
}

// signAtEnd returns the zero at the lower end of a column, where the reference level is, the sign of what is
// above it, at a thousandth of its size: a zero line along the lower edge would say no more than that the
// reference is there.
func signAtEnd(f *chart.Field, j int) {
	nx := len(f.X)
	for i := len(f.Y) - 1; i > 0; i-- {
		v := f.Data[i*nx+j]
		if math.IsNaN(v) {
			continue
		}
		if above := f.Data[(i-1)*nx+j]; v == 0 && !math.IsNaN(above) {
			f.Data[i*nx+j] = above / 1000
		}
		return
	}
}

// pairAt returns a velocity of a pair, or its error, at a pressure: linear between its levels, the first
// level's up to the surface where it was carried, NaN elsewhere.
func pairAt(p *geostrophy.Pair, v []float64, at float64) float64 {
	n := len(p.PressureDbar)
	if n == 0 || at > p.PressureDbar[n-1] {
		return math.NaN()
	}
	if at < p.PressureDbar[0] {
		if p.SurfaceCarriedM > 0 && p.TopUnsampledM == 0 {
			return v[0]
		}
		return math.NaN()
	}
	k := sort.SearchFloat64s(p.PressureDbar, at)
	if p.PressureDbar[k] == at || k == 0 {
		return v[k]
	}
	t := (at - p.PressureDbar[k-1]) / (p.PressureDbar[k] - p.PressureDbar[k-1])
	return v[k-1] + t*(v[k]-v[k-1])
}

// values weighs each velocity above the bottom by its area in the picture.
func (d *velocityData) values() []chart.Weighed {
	var vs []chart.Weighed
	for _, f := range d.runs {
		for i, y := range f.Y {
			for j := range f.X {
				if v := f.Data[i*len(f.X)+j]; !math.IsNaN(v) && d.floor.above(f.X[j], y) {
					width := f.X[min(j+1, len(f.X)-1)] - f.X[max(j-1, 0)]
					vs = append(vs, chart.Weighed{Value: v, Weight: enlarged(y, d.upper, d.yMax) * width})
				}
			}
		}
	}
	return vs
}

// chooseLevels sets the levels.
func (d *velocityData) chooseLevels(f *Velocity) error {
	vs := f.Scale.within(d.values())
	given, err := f.Scale.given(extentOf(vs))
	if err != nil {
		return fmt.Errorf("%s: %w", f.Name, err)
	}
	switch {
	case given != nil:
		d.levels = given
	case f.levels != nil:
		d.levels = f.levels
	default:
		d.levels = chart.ZeroLevels(vs)
	}
	return nil
}

// colour chooses the colours of the levels.
func (d *velocityData) colour() { d.colours = chart.BandColours(chart.Colours("velocity1"), d.levels) }

const megatransport = 1e6 // m3/s in one unit of the transport axes

func (f *Velocity) draw(w chart.Width) (*page.Scene, error) {
	d, err := f.prepare()
	if err != nil {
		return nil, err
	}
	d.colour()
	p := chart.NewSheet(w, 45)
	velocity := metadata.MustVariable("velocity")
	p.Heading("Geostrophic velocity"+bracketed(unitOf(&velocity)), sectionTitle(d.section, f.Title))
	p.StationRow()
	x0, x1 := d.section.DistanceKm[0], d.section.DistanceKm[len(d.section.DistanceKm)-1]
	h := p.Tall(170, 120)
	if d.upper > 0 {
		h = p.Tall(222, 150)
	}
	frames := p.Panels(h, x0, x1, 0, d.upper, d.yMax)
	p.Stations(&frames[0], d.marks)
	for k := range frames {
		d.paint(p, &frames[k])
	}
	p.VerticalAxes(frames, p.Size*2.8, d.down.axis())
	last := &frames[len(frames)-1]
	lowest, highest := chart.ColourBar(p, frames[0].T, last.B, d.levels, d.colours, unitOf(&velocity))
	if into, ok := f.intoPage(); ok {
		pageSign(into)(p.Scene, &highest)
		pageSign(!into)(p.Scene, &lowest)
	}
	p.Y = last.B + 7
	each := d.transports(p, x0, x1, false)
	sum := d.transports(p, x0, x1, true)
	side := page.Label{Text: "Volume transport (10⁶ m³ s⁻¹)", Size: p.Small(0.3), H: page.Middle, Turn: 90}
	side.At = page.Pt(2+page.CapHeight*p.Size, (each.T+sum.B)/2)
	p.Text(side)
	p.DistanceAxes(&sum, d.track, f.Axis)
	signs := f.signKeys()
	p.Keys(append(d.explain(), signs...))
	p.Y += 1
	if signs == nil {
		p.Note(f.direction())
	}
	p.Note(f.totalText())
	return p.Done(), nil
}

// paint draws velocity into one panel.
func (d *velocityData) paint(p *chart.Sheet, fr *chart.Frame) {
	s := p.Scene
	chart.Hatched(s, fr.Rect(), chart.NoValue, chart.NoValueAngle)
	for k := range d.pairs {
		if q := &d.pairs[k]; !q.Status.HasVelocity() {
			l, r := widen(fr.X(q.FromKm), fr.X(q.ToKm))
			chart.Hatched(s, page.Rect(l, fr.T, r, fr.B), chart.NoValue, chart.NoValueAngle, chart.DoubtAngle)
		}
	}
	free := func(q page.Point) bool { return d.floor.above(fr.Value(q)) }
	for _, run := range d.runs {
		g := run.Window(fr.Y0, fr.Y1)
		if len(g.Y) == 0 {
			continue
		}
		g = g.Thin(4*len(run.X), int((fr.B-fr.T)*1.5))
		g.Levels, g.Colours = d.levels, d.colours
		g.Paint(s, fr)
		for k, v := range g.Data {
			d.holes = d.holes || math.IsNaN(v) && d.floor.above(g.X[k%len(g.X)], g.Y[k/len(g.X)])
		}
		g.LevelLines(p, fr, free, false)
	}
	for k := range d.pairs {
		if q := &d.pairs[k]; q.Status == geostrophy.Questionable {
			chart.Hatch(s, page.Rect(fr.X(q.FromKm), fr.T, fr.X(q.ToKm), fr.B), chart.DoubtAngle)
		}
	}
	d.drawReference(p, fr)
	d.floor.paint(s, fr)
}

// drawReference draws the level of no motion as a dashed line, with its name at the end that is free.
func (d *velocityData) drawReference(p *chart.Sheet, fr *chart.Frame) {
	if !(d.reference >= fr.Y0 && d.reference < fr.Y1) || d.reference == 0 {
		return
	}
	y := fr.Y(d.reference)
	pen := page.Pen{Colour: page.Ink, Width: chart.Thin, Dash: []float64{6, 2.5}}
	for _, run := range d.runs {
		if run.Y[0] != d.reference { // each run has a part that begins at the reference
			continue
		}
		p.Line(fr.X(run.X[0]), y, fr.X(run.X[len(run.X)-1]), y, pen)
	}
	l := page.Label{Text: "reference " + chart.Short(chart.Round(d.reference)) + " dbar", Size: p.Small(0.7),
		H: page.Right, V: page.Centre}
	for at := fr.R - 4; at > fr.L+60; at -= 6 {
		if l.At = page.Pt(at, max(y, fr.T+l.Size)); p.Fits(l.Box(), 1) && d.floor.above(fr.Value(l.Box()[3])) {
			p.Patched(l, 1, page.Paper)
			return
		}
	}
}

// widen returns a withheld pair of very close stations a width that is seen.
func widen(l, r float64) (float64, float64) {
	half := max(r-l, 1.6) / 2
	return (l+r)/2 - half, (l+r)/2 + half
}

func (d *velocityData) explain() []chart.Key {
	ks := d.floor.keys()
	var why []string
	if d.holes {
		why = append(why, "no common levels")
	}
	if len(d.gaps) > 0 {
		why = append(why, "gap between stations")
	}
	if why != nil {
		ks = append(ks, chart.AreaKey(chart.NoValue, strings.Join(why, ", "), chart.NoValueAngle))
	}
	if slices.ContainsFunc(d.pairs, func(q geostrophy.Pair) bool { return !q.Status.HasVelocity() }) {
		ks = append(ks, chart.AreaKey(chart.NoValue, "pair withheld", chart.NoValueAngle, chart.DoubtAngle))
	}
	if slices.ContainsFunc(d.pairs, func(q geostrophy.Pair) bool { return q.Status == geostrophy.Questionable }) {
		ks = append(ks, chart.AreaKey(page.Paper, "pair questionable, near the equator", chart.DoubtAngle))
	}
	return ks
}
