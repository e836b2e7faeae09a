package figure

import (
	"fmt"
	"image/color"
	"math"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// Shade says what the colour of a cast means.
type Shade uint8

// Meanings of colour.
const (
	ByStation  Shade = iota // order of the casts
	ByLatitude              // position
)

// TemperatureSalinity is Conservative Temperature against Absolute Salinity, over lines of equal potential density anomaly, with the
// freezing line where it is in range. Only usable values are drawn.
type TemperatureSalinity struct {
	Name      string
	Title     string // of the section or cruise
	Casts     []*section.Cast
	SigmaDbar float64 // reference pressure of the density lines: 0, 1000 .. 4000
	Shade     Shade
}

// OxygenDensity is dissolved oxygen against potential density anomaly. Only usable values are drawn.
type OxygenDensity struct {
	Name      string
	Title     string
	Casts     []*section.Cast
	SigmaDbar float64 // 0, 1000 .. 4000
	Shade     Shade
}

// Stem implements Figure.
func (f *TemperatureSalinity) Stem() string { return f.Name }

// Stem implements Figure.
func (f *OxygenDensity) Stem() string { return f.Name }

// most bins of colour of a scatter picture.
const mostShades = 12

// shading spreads casts over bins of colour.
type shading struct {
	bin   []int // of each cast; -1 not shown
	n     int
	what  string
	edges []float64 // values at the edges of the bins, by latitude
	names []string  // of the first cast of each bin, by station
}

func shade(casts []*section.Cast, by Shade) shading {
	sh := shading{bin: make([]int, len(casts)), what: "Station"}
	if by == ByLatitude {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, c := range casts {
			if !math.IsNaN(c.At[1]) {
				lo, hi = min(lo, c.At[1]), max(hi, c.At[1])
			}
		}
		if hi > lo {
			sh.what = "Latitude"
			step := niceStep((hi - lo) / mostShades)
			first := math.Floor(lo/step + 1e-9)
			last := math.Ceil(hi/step - 1e-9)
			sh.n = int(last - first)
			for k := 0; k <= sh.n; k++ {
				sh.edges = append(sh.edges, round((first+float64(k))*step))
			}
			for k, c := range casts {
				sh.bin[k] = -1
				if !math.IsNaN(c.At[1]) {
					sh.bin[k] = max(0, min(sh.n-1, int(math.Floor((c.At[1]-sh.edges[0])/step))))
				}
			}
			return sh
		}
	}
	sh.n = min(len(casts), mostShades)
	names := namesOfStations(casts)
	for k, c := range casts {
		sh.bin[k] = k * sh.n / len(casts)
		if len(sh.names) == sh.bin[k] {
			sh.names = append(sh.names, names.of(c))
		}
	}
	return sh
}

func (sh *shading) colour(bin int) color.NRGBA {
	if sh.n < 2 {
		return mustMap("station1").At(0.55)
	}
	return mustMap("station1").At(float64(bin) / float64(sh.n-1))
}

// room gives the width of the margin that holds the bar and its words, at least least.
func (sh *shading) room(least float64, w Width) float64 {
	d := decimalsOf(sh.edges)
	for _, v := range sh.edges {
		least = max(least, 8+7+3+textWidth(regular, latText(v, d), newSheet(w, 0).size)+4)
	}
	return least
}

// bar explains the colours at the right of a frame.
func (sh *shading) bar(p *sheet, t, b float64) {
	s := p.s
	l := p.r + 8
	r := l + 7
	s.text(label{text: sh.what, at: pt{min(l, s.w-3-textWidth(regular, sh.what, p.size)), t - 4.6}, size: p.size, v: base})
	h := min((b-t)/float64(sh.n), 16)
	for k := range sh.n {
		y := t + float64(k)*h
		s.fill(rect(l, y, r, y+h), sh.colour(k))
		if sh.names != nil {
			text := sh.names[k]
			s.tryText(label{text: text, at: pt{r + 3, y + h/2}, size: p.size, v: centre}, 0.6)
		}
	}
	s.outline(rect(l, t, r, t+h*float64(sh.n)), pen{colour: ink, width: thin})
	d := decimalsOf(sh.edges)
	for k, v := range sh.edges {
		y := t + float64(k)*h
		s.line(r, y, r+1.8, y, pen{colour: ink, width: thin})
		s.tryText(label{text: latText(v, d), at: pt{r + 3, y}, size: p.size, v: centre}, 0.6)
	}
}

// explain says what the names beside the bar are.
func (sh *shading) caption() string {
	if sh.names != nil {
		return "colour: order of the stations; a number names the first station of its colour"
	}
	return "colour: latitude"
}

// A mosaic gathers points into small cells, so that a million points make a small file; a point marks the four cells nearest to it.
type mosaic struct {
	fr     *frame
	nx, ny int
	set    []bool
	any    bool
	large  bool // a point marks nine cells, for pictures of few points
}

const cellSize = 0.42 // points: 0.15 mm

func newMosaic(fr *frame) *mosaic {
	m := &mosaic{fr: fr, nx: int((fr.r-fr.l)/cellSize) + 1, ny: int((fr.b-fr.t)/cellSize) + 1}
	m.set = make([]bool, m.nx*m.ny)
	return m
}

func (m *mosaic) mark(q pt) {
	x, y := int(math.Floor((q.x-m.fr.l)/cellSize-0.5)), int(math.Floor((q.y-m.fr.t)/cellSize-0.5))
	more := 1
	if m.large {
		more = 2
	}
	for i := y; i <= y+more; i++ {
		for j := x; j <= x+more; j++ {
			if i >= 0 && j >= 0 && i < m.ny && j < m.nx {
				m.set[i*m.nx+j] = true
				m.any = true
			}
		}
	}
}

// path gives the marked cells, row by row, neighbours in one piece.
func (m *mosaic) path() path {
	var out path
	for i := range m.ny {
		for j := 0; j < m.nx; j++ {
			if !m.set[i*m.nx+j] {
				continue
			}
			from := j
			for j < m.nx && m.set[i*m.nx+j] {
				j++
			}
			x0, y0 := m.fr.l+float64(from)*cellSize, m.fr.t+float64(i)*cellSize
			out = append(out, rect(x0, y0, min(m.fr.l+float64(j)*cellSize, m.fr.r), min(y0+cellSize, m.fr.b))[0])
		}
	}
	return out
}

// usable gives a column's value at a level when it may enter derived fields, else NaN.
func usable(c *section.Column, k int) float64 {
	if c.Values == nil || (c.Flags != nil && !c.Flags[k].Usable(true)) {
		return math.NaN()
	}
	return c.Values[k]
}

// pairs calls do for each level of each cast that has both quantities.
func pairsOf(casts []*section.Cast, get func(c *section.Cast) (x, y func(k int) float64), do func(cast int, x, y float64)) {
	for n, c := range casts {
		x, y := get(c)
		if x == nil || y == nil {
			continue
		}
		for k := range c.PressureDbar {
			a, b := x(k), y(k)
			if !math.IsNaN(a) && !math.IsNaN(b) {
				do(n, a, b)
			}
		}
	}
}

func columnOf(c *section.Cast, name string) func(k int) float64 {
	col := c.Column(name)
	if col == nil || col.Values == nil {
		return nil
	}
	return func(k int) float64 { return usable(col, k) }
}

// sigmaOf gives potential density anomaly of a cast at its levels.
func sigmaOf(c *section.Cast, dbar float64) func(k int) float64 {
	sa, ct := columnOf(c, "asal"), columnOf(c, "ctemp")
	if sa == nil || ct == nil {
		return nil
	}
	return func(k int) float64 { return seawater.Sigma(int(dbar/1000), sa(k), ct(k)) }
}

// extent gives the range of values with a margin; a single value gets room around it.
type extent struct{ lo, hi float64 }

func noExtent() extent { return extent{math.Inf(1), math.Inf(-1)} }

func (e *extent) add(v float64) {
	if !math.IsNaN(v) {
		e.lo, e.hi = min(e.lo, v), max(e.hi, v)
	}
}

func (e extent) empty() bool { return e.lo > e.hi }

func (e extent) padded(part float64) extent {
	d := (e.hi - e.lo) * part
	if e.hi-e.lo < 1e-9*math.Max(1, math.Abs(e.hi)) {
		d = math.Max(1e-3, math.Abs(e.hi)*1e-3)
	}
	return extent{e.lo - d, e.hi + d}
}

// scatterPage draws the frame, axes and points that both pictures share.
type scatterPage struct {
	p  *sheet
	fr frame
	sh shading
}

func newScatter(w Width, heading, place string, ex, ey extent, flip bool, sh shading) *scatterPage {
	p := newSheet(w, sh.room(map[Width]float64{TwoColumns: 40, OneColumn: 36}[w], w))
	p.heading(heading, place)
	p.y += 10
	side := p.tall(290, 190)
	fr := frame{l: p.l, r: p.r, t: p.y, b: p.y + side, x0: ex.lo, x1: ex.hi, y0: ey.hi, y1: ey.lo}
	if w == TwoColumns { // near square: a wide one would flatten the curves
		fr.r = fr.l + side*1.35
		p.r = fr.r
	}
	if flip {
		fr.y0, fr.y1 = ey.lo, ey.hi
	}
	return &scatterPage{p: p, fr: fr, sh: sh}
}

func (g *scatterPage) points(n int, do func(mark func(cast int, x, y float64))) {
	bins := make([]*mosaic, g.sh.n)
	for k := range bins {
		bins[k] = newMosaic(&g.fr)
		bins[k].large = n < 10000
	}
	do(func(cast int, x, y float64) {
		if b := g.sh.bin[cast]; b >= 0 {
			bins[b].mark(g.fr.at(x, y))
		}
	})
	for k, b := range bins {
		if b.any {
			g.p.s.fill(b.path(), g.sh.colour(k))
		}
	}
}

func (g *scatterPage) axes(xName, yName string) {
	s, fr, p := g.p.s, &g.fr, g.p
	fr.border(s)
	fr.leftAxis(s, ticks(min(fr.y0, fr.y1), max(fr.y0, fr.y1), 8), p.size)
	fr.bottomAxis(s, fr.ticksThatFit(int((fr.r-fr.l)/(p.size*5)), p.size), p.size)
	p.y = fr.b + tickLength + 2 + p.size
	s.text(label{text: xName, at: pt{(fr.l + fr.r) / 2, p.y + 1.5}, size: p.size, h: middle, v: top})
	p.y += 1.5 + p.size*1.3
	p.sideTitle(yName, (fr.t+fr.b)/2)
	g.sh.bar(p, fr.t, fr.b)
	p.y += 3
}

func (f *TemperatureSalinity) prepare() (ex, ey extent, n int, err error) {
	ex, ey = noExtent(), noExtent()
	pairsOf(f.Casts, tempSalt, func(_ int, x, y float64) {
		ex.add(x)
		ey.add(y)
		n++
	})
	if n == 0 {
		return ex, ey, 0, fmt.Errorf("%s: %w: no usable Absolute Salinity and Conservative Temperature", f.Name, ErrNoValues)
	}
	return ex.padded(0.05), ey.padded(0.05), n, nil
}

func tempSalt(c *section.Cast) (x, y func(int) float64) {
	return columnOf(c, "asal"), columnOf(c, "ctemp")
}

func (f *TemperatureSalinity) draw(w Width) (*scene, error) {
	ex, ey, n, err := f.prepare()
	if err != nil {
		return nil, err
	}
	sa, ct := metadata.MustVariable("asal"), metadata.MustVariable("ctemp")
	g := newScatter(w, "Temperature and salinity", f.Title, ex, ey, false, shade(f.Casts, f.Shade))
	s, p := g.p.s, g.p
	sigma := f.density(ex, ey)
	var vs []weighed
	for _, v := range sigma.data {
		vs = append(vs, weighed{v, 1, 0})
	}
	levels := roundLevels(vs, 12, 1)
	grey := color.NRGBA{140, 144, 150, 255}
	g.points(n, func(mark func(int, float64, float64)) { pairsOf(f.Casts, tempSalt, mark) })
	const cell = 5.0 // points: labels go where the data are not, if they can
	taken := map[[2]int]bool{}
	pairsOf(f.Casts, tempSalt, func(_ int, x, y float64) {
		q := g.fr.at(x, y)
		taken[[2]int{int(q.x / cell), int(q.y / cell)}] = true
	})
	covers := func(q pt) bool { return taken[[2]int{int(q.x / cell), int(q.y / cell)}] }
	sigma.drawLines(s, &g.fr, levels, lineStyle{
		pen: func(float64) pen { return pen{colour: grey, width: hair} }, size: p.size - 0.8, text: short, patch: true,
		colour: func(float64) color.NRGBA { return softInk }, perPoint: 600, covers: covers, steep: true,
	})
	ks := []key{lineKey(pen{colour: grey, width: thin}, nil, sigmaSign(f.SigmaDbar)+" (kg m⁻³)")}
	var freeze []pt
	const steps = 60
	for k := range steps + 1 {
		x := max(0, ex.lo+(ex.hi-ex.lo)*float64(k)/steps)
		freeze = append(freeze, g.fr.at(x, seawater.FreezingConservative(x, 0, seawater.AirSaturated)))
	}
	cold := pen{colour: mustMap("velocity1").At(0.08), width: normal, dash: []float64{4, 2}}
	if pieces := clipLine(freeze, g.fr.l, g.fr.t, g.fr.r, g.fr.b); len(pieces) > 0 {
		s.stroke(pieces, cold)
		ks = append(ks, lineKey(cold, nil, "freezing, 0 dbar"))
	}
	g.axes(titleText(&sa), titleText(&ct))
	p.keys(ks)
	return p.done(), nil
}

func sigmaSign(dbar float64) string { return signOf(fmt.Sprintf("sigma%d", int(dbar/1000))) }

// density gives potential density anomaly over the picture.
func (f *TemperatureSalinity) density(ex, ey extent) *field {
	const n = 80
	g := &field{}
	for k := range n + 1 {
		g.x = append(g.x, ex.lo+(ex.hi-ex.lo)*float64(k)/n)
		g.y = append(g.y, ey.lo+(ey.hi-ey.lo)*float64(k)/n)
	}
	for _, t := range g.y {
		for _, s := range g.x {
			v := math.NaN()
			if s >= 0 {
				v = seawater.Sigma(int(f.SigmaDbar/1000), s, t)
			}
			g.data = append(g.data, v)
		}
	}
	return g
}

func (f *TemperatureSalinity) caption(a *About) (caption, error) {
	_, _, n, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	sh := shade(f.Casts, f.Shade)
	var c caption
	c.head = strings.TrimSuffix("Temperature and salinity, "+f.Title, ", ")
	c.what = fmt.Sprintf("Conservative Temperature (°C) against Absolute Salinity (g kg⁻¹) of all usable values%s. Grey lines: %s (kg m⁻³); dashed, where in range: freezing "+
		"at the surface in air-saturated water; %s.", placed(f.Title), sigmaSign(f.SigmaDbar), sh.caption())
	castLines(&c, f.Casts, n)
	c.about(a, false)
	return c, nil
}

func placed(title string) string {
	if title == "" {
		return ""
	}
	return ", " + title
}

// castLines adds where, when and how many.
func castLines(c *caption, casts []*section.Cast, values int) {
	var lons, lats []float64
	for _, k := range casts {
		if !math.IsNaN(k.At[0]) && !math.IsNaN(k.At[1]) {
			lons, lats = append(lons, k.At[0]), append(lats, k.At[1])
		}
	}
	if len(lons) > 0 {
		mid, arc := middleLon(lons)
		e := noExtent()
		for _, v := range lats {
			e.add(v)
		}
		c.add("Where", fmt.Sprintf("%s to %s, %s to %s", latText(e.lo, 3), latText(e.hi, 3), lonText(mid-arc/2, 3), lonText(mid+arc/2, 3)))
	}
	c.add("Station names", namesOfStations(casts).note())
	c.add("When", whenText(casts))
	c.add("Casts", number(float64(len(casts)), 0))
	if values > 0 {
		c.add("Values drawn", number(float64(values), 0))
	}
	c.add("Gridded", "no: values of the casts as they are")
}

func (f *OxygenDensity) get(c *section.Cast) (x, y func(int) float64) {
	return columnOf(c, "oxy"), sigmaOf(c, f.SigmaDbar)
}

func (f *OxygenDensity) prepare() (ex, ey extent, n int, err error) {
	ex, ey = noExtent(), noExtent()
	pairsOf(f.Casts, f.get, func(_ int, x, y float64) {
		ex.add(x)
		ey.add(y)
		n++
	})
	if n == 0 {
		return ex, ey, 0, fmt.Errorf("%s: %w: no usable oxygen with salinity and temperature", f.Name, ErrNoValues)
	}
	return ex.padded(0.04), ey.padded(0.04), n, nil
}

func (f *OxygenDensity) draw(w Width) (*scene, error) {
	ex, ey, n, err := f.prepare()
	if err != nil {
		return nil, err
	}
	oxy := metadata.MustVariable("oxy")
	g := newScatter(w, "Oxygen and density", f.Title, ex, ey, true, shade(f.Casts, f.Shade))
	g.points(n, func(mark func(int, float64, float64)) { pairsOf(f.Casts, f.get, mark) })
	g.axes(titleText(&oxy), "Potential density anomaly "+sigmaSign(f.SigmaDbar)+" (kg m⁻³)")
	return g.p.done(), nil
}

func (f *OxygenDensity) caption(a *About) (caption, error) {
	_, _, n, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	sh := shade(f.Casts, f.Shade)
	var c caption
	c.head = strings.TrimSuffix("Oxygen and density, "+f.Title, ", ")
	c.what = fmt.Sprintf("Dissolved oxygen (µmol kg⁻¹) against potential density anomaly %s (kg m⁻³) of all usable values%s; %s.", sigmaSign(f.SigmaDbar), placed(f.Title), sh.caption())
	castLines(&c, f.Casts, n)
	c.about(a, false)
	return c, nil
}
