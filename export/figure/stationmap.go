package figure

import (
	"fmt"
	"image/color"
	"math"
	"sort"
	"strconv"
	"strings"

	"github.com/castwright/castwright/gridding/contour"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// StationMap shows where the casts were taken, with sections as lines, graticule, coastline and a scale bar. Near a pole it is polar
// stereographic, elsewhere Mercator.
type StationMap struct {
	Name       string
	Title      string // at the right of the heading, such as the cruise's name
	Casts      []*section.Cast
	Sections   []*section.Section
	Bathymetry *Bathymetry // nil: none
}

// Bathymetry is water depth on longitude and latitude, for contours on the map. The depth at (LonDeg[j], LatDeg[i]) is
// DepthM[i*len(LonDeg)+j], positive down; NaN or negative is land.
type Bathymetry struct {
	LonDeg, LatDeg []float64 // increasing; longitude may run past 180
	DepthM         []float64
	Source         string // for the caption
}

// Stem implements Figure.
func (f *StationMap) Stem() string { return f.Name }

type mapping struct {
	frame
	pr    projection
	lon0  float64
	lat0  float64
	track []pt // along the drawn sections, so that numbers can keep off them
}

func (m *mapping) page(lon, lat float64) pt {
	x, y := m.pr.forward(near(lon, m.lon0), lat)
	return m.at(x, y)
}

// line gives a line of constant longitude or latitude, or between stations, in small steps, since it may be curved.
func (m *mapping) line(points [][2]float64, step float64) []pt {
	var out []pt
	for k, q := range points {
		if k > 0 {
			a := points[k-1]
			n := int(math.Ceil(math.Max(math.Abs(q[0]-a[0]), math.Abs(q[1]-a[1])) / step))
			for i := 1; i < n; i++ {
				u := float64(i) / float64(n)
				x, y := m.pr.forward(a[0]+u*(q[0]-a[0]), a[1]+u*(q[1]-a[1]))
				out = append(out, m.at(x, y))
			}
		}
		x, y := m.pr.forward(q[0], q[1])
		out = append(out, m.at(x, y))
	}
	return out
}

func (f *StationMap) positions() ([]orb.Point, error) {
	var at []orb.Point
	for _, c := range f.Casts {
		if !math.IsNaN(c.At[0]) && !math.IsNaN(c.At[1]) {
			at = append(at, c.At)
		}
	}
	if len(at) == 0 {
		return nil, fmt.Errorf("%s: %w: no cast has a position", f.Name, ErrNoValues)
	}
	return at, nil
}

// The region of a map: stations and a margin, at least so many km wide.
const leastKm = 1.0

func (f *StationMap) draw(w Width) (*scene, error) {
	at, err := f.positions()
	if err != nil {
		return nil, err
	}
	p := newSheet(w, 30)
	p.l = 34
	p.heading("Stations", f.Title)
	s := p.s
	m := &mapping{}
	m.pr, m.lon0 = projectionFor(at)
	if _, ok := m.pr.(stereographic); ok {
		p.y += p.size + 2 // meridians are named along the top too
	}
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, q := range at {
		x, y := m.pr.forward(near(q[0], m.lon0), q[1])
		x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
		m.lat0 += q[1] / float64(len(at))
	}
	least := leastKm * m.pr.scale(m.lat0)
	dx, dy := max((x1-x0)*1.3, least), max((y1-y0)*1.3, least)
	width := p.r - p.l
	lowest, highest := p.tall(0.45, 0.8), p.tall(0.95, 1.5)
	ratio := max(lowest, min(highest, dy/dx))
	if dy > ratio*dx {
		dx = dy / ratio
	} else {
		dy = dx * ratio
	}
	cx, cy := (x0+x1)/2, (y0+y1)/2
	m.frame = frame{l: p.l, r: p.r, t: p.y, b: p.y + width*ratio, x0: cx - dx/2, x1: cx + dx/2, y0: cy + dy/2, y1: cy - dy/2}
	s.fill(rect(m.l, m.t, m.r, m.b), water)

	m.graticule(p)
	m.land(s)
	for _, c := range f.Casts { // labels of depths stay off the stations
		if !math.IsNaN(c.At[0]) && !math.IsNaN(c.At[1]) {
			q := m.page(c.At[0], c.At[1])
			s.keep = append(s.keep, rectBox(q.x-1.9, q.y-1.9, q.x+1.9, q.y+1.9))
		}
	}
	ks := f.depths(p, m)
	crowd := m.crowd(f.Sections)
	lineWidth := heavy
	if crowd < 4 { // dots in a row would hide the line
		lineWidth = 2.2
	}
	for k, sec := range f.Sections {
		var pts [][2]float64
		for _, c := range sec.Casts {
			if math.IsNaN(c.At[0]) || math.IsNaN(c.At[1]) {
				continue
			}
			pts = append(pts, [2]float64{near(c.At[0], m.lon0), c.At[1]})
			if n := len(pts); n > 1 { // over the far meridian of the map the short way
				pts[n-1][0] = pts[n-2][0] + wrap180(pts[n-1][0]-pts[n-2][0])
			}
		}
		drawn := m.line(pts, 360) // straight from station to station
		for along, total := 0.0, length(drawn); along < total; along += 2 {
			m.track = append(m.track, pointAt(drawn, along))
		}
		s.stroke(clipLine(drawn, m.l, m.t, m.r, m.b), pen{colour: sectionColour(k, len(f.Sections)), width: lineWidth})
	}
	others := false
	r := 1.35
	if len(f.Casts) > 60 {
		r = 1
	}
	r = min(r, max(0.5, 0.27*crowd))
	halo := min(0.4, max(0, (crowd-2*r)/2-0.3))
	for _, primary := range []bool{false, true} {
		for _, c := range f.Casts {
			if (c.Role == section.Primary || c.Role == section.Unstated) != primary || math.IsNaN(c.At[0]) || math.IsNaN(c.At[1]) {
				continue
			}
			q := m.page(c.At[0], c.At[1])
			if primary {
				s.fill(path{circle(q, r+halo)}, paper)
				s.fill(path{circle(q, r)}, ink)
			} else {
				others = true
				s.fill(path{circle(q, 1.5)}, paper)
				s.outline(path{circle(q, 1.5)}, pen{colour: ink, width: thin})
			}
		}
	}
	m.scaleBar(s, p.size)
	f.names(p, m)
	m.circles(p)
	m.border(s)
	p.y = m.b + tickLength + 5 + p.size
	ks = append([]key{{func(s *scene, a, b, c, d float64) {
		s.fill(path{circle(pt{(a + c) / 2, (b + d) / 2}, 1.35)}, ink)
	}, "station"}}, ks...)
	for k, sec := range f.Sections {
		ks = append(ks, lineKey(pen{colour: sectionColour(k, len(f.Sections)), width: heavy}, nil, "section "+sec.Name))
	}
	if others {
		ks = append(ks, key{func(s *scene, a, b, c, d float64) {
			s.outline(path{circle(pt{(a + c) / 2, (b + d) / 2}, 1.5)}, pen{colour: ink, width: thin})
		}, "cast outside the sections (repeat, yo-yo, test)"})
	}
	p.keys(ks)
	return p.done(), nil
}

// crowd gives the mean distance of neighbouring stations on the page, in points, of the section where it is least.
func (m *mapping) crowd(sections []*section.Section) float64 {
	least := math.Inf(1)
	for _, sec := range sections {
		sum, n := 0.0, 0
		for k := 1; k < len(sec.Casts); k++ {
			a, b := m.page(sec.Casts[k-1].At[0], sec.Casts[k-1].At[1]), m.page(sec.Casts[k].At[0], sec.Casts[k].At[1])
			if d := math.Hypot(b.x-a.x, b.y-a.y); !math.IsNaN(d) {
				sum += d
				n++
			}
		}
		if n > 0 {
			least = min(least, sum/float64(n))
		}
	}
	return least
}

func circle(c pt, r float64) []pt {
	const n = 20
	out := make([]pt, n)
	for k := range out {
		s, q := math.Sincos(2 * math.Pi * float64(k) / n)
		out[k] = pt{c.x + r*q, c.y + r*s}
	}
	return out
}

func sectionColour(k, n int) color.NRGBA {
	if n == 1 {
		return mustMap("station1").At(0.55)
	}
	return mustMap("station1").At(0.25 + 0.7*float64(k)/float64(n-1))
}

// degreeSteps are round parts of a degree for graticules.
var degreeSteps = []float64{0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 20, 30}

// degreeStep gives the step of lines between two coordinates: at most most of them, but two where that can be.
func degreeStep(lo, hi float64, most int) float64 {
	lines := func(d float64) float64 { return math.Floor(hi/d+1e-9) - math.Ceil(lo/d-1e-9) + 1 }
	for k, d := range degreeSteps {
		if (hi-lo)/d > float64(most) {
			continue
		}
		for k > 0 && lines(degreeSteps[k]) < 2 {
			k--
		}
		return degreeSteps[k]
	}
	return 30
}

// reach gives the range of longitude (about lon0) and latitude inside the frame.
func (m *mapping) reach() (w, e, s, n float64) {
	w, e, s, n = math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	const steps = 60
	for i := 0; i <= steps; i++ {
		for j := 0; j <= steps; j++ {
			x := m.x0 + (m.x1-m.x0)*float64(i)/steps
			y := m.y1 + (m.y0-m.y1)*float64(j)/steps
			lon, lat := inverse(m.pr, x, y)
			w, e, s, n = min(w, lon), max(e, lon), min(s, lat), max(n, lat)
		}
	}
	return w, e, s, n
}

func inverse(p projection, x, y float64) (lon, lat float64) {
	switch p := p.(type) {
	case mercator:
		return p.lon0 + x/earthKm*180/math.Pi, (2*math.Atan(math.Exp(y/earthKm)) - math.Pi/2) * 180 / math.Pi
	case stereographic:
		r := math.Hypot(x, y)
		return p.lon0 + math.Atan2(x, -p.sign*y)*180/math.Pi, p.sign * (90 - 2*math.Atan(r/(2*earthKm))*180/math.Pi)
	}
	panic("figure: unknown projection")
}

func (m *mapping) graticule(p *sheet) {
	s := p.s
	w, e, so, no := m.reach()
	most := int((m.r - m.l) / (p.size * 6.5))
	dLat := degreeStep(so, no, max(3, int((m.b-m.t)/(p.size*6))))
	polar := false
	dLon := degreeStep(w, e, max(3, most))
	if _, ok := m.pr.(stereographic); ok {
		polar = true
		if e-w > 300 { // the pole is inside
			dLon = 30
			w, e = m.lon0-180, m.lon0+180-1e-6
		}
	}
	line := pen{colour: faint, width: hair}
	type end struct {
		text string
		at   pt
		lat  bool
	}
	var ends []end
	step := 0.5
	if no-so < 5 {
		step = (no - so) / 10
	}
	from, to := so, no
	if polar { // meridians stop short of the pole, where they would meet
		if no > 89 {
			to = 90 - dLat/5
		}
		if so < -89 {
			from = -90 + dLat/5
		}
	}
	nLon := decimalsOf([]float64{dLon})
	nLat := decimalsOf([]float64{dLat})
	for k := math.Ceil(w/dLon - 1e-9); k*dLon <= e+1e-9; k++ {
		lon := round(k * dLon)
		pieces := clipLine(m.line([][2]float64{{lon, from}, {lon, to}}, step), m.l, m.t, m.r, m.b)
		s.stroke(pieces, line)
		for _, q := range pieces {
			ends = append(ends, end{lonText(lon, nLon), q[0], false}, end{lonText(lon, nLon), q[len(q)-1], false})
		}
	}
	for k := math.Ceil(so/dLat - 1e-9); k*dLat <= no+1e-9; k++ {
		lat := round(k * dLat)
		if math.Abs(lat) > 89.99 {
			continue
		}
		lonStep := max(0.2, min(2, (e-w)/40))
		if polar {
			lonStep = 1
		}
		if !polar {
			lonStep = e - w
		}
		pieces := clipLine(m.line([][2]float64{{w, lat}, {e, lat}}, lonStep), m.l, m.t, m.r, m.b)
		s.stroke(pieces, line)
		for _, q := range pieces {
			ends = append(ends, end{latText(lat, nLat), q[0], true}, end{latText(lat, nLat), q[len(q)-1], true})
		}
	}
	// Latitude is read at the left and right, longitude at the bottom and top; on a polar map also where there is room.
	const gap = 2.2
	for _, pass := range []int{0, 1} {
		for _, q := range ends {
			onL, onR := q.at.x < m.l+0.01, q.at.x > m.r-0.01
			onT, onB := q.at.y < m.t+0.01, q.at.y > m.b-0.01
			l := label{text: q.text, size: p.size - 0.3}
			switch {
			case onB && (!q.lat || pass == 1):
				l.at, l.h, l.v = pt{q.at.x, m.b + gap}, middle, top
			case onL && (q.lat || pass == 1):
				l.at, l.h, l.v = pt{m.l - gap, q.at.y}, right, centre
			case onT && !q.lat && (polar && pass == 0):
				l.at, l.h, l.v = pt{q.at.x, m.t - gap}, middle, base
			case onR && polar:
				l.at, l.h, l.v = pt{m.r + gap, q.at.y}, left, centre
			default:
				continue
			}
			if pass == 1 && !polar {
				continue
			}
			if !polar || !s.has(q.text) {
				s.tryText(l, 1.5)
			}
		}
	}
}

// circles names the parallels of a polar map that have no name at a side, beside the middle meridian, where there is room.
func (m *mapping) circles(p *sheet) {
	if _, ok := m.pr.(stereographic); !ok {
		return
	}
	_, _, so, no := m.reach()
	dLat := degreeStep(so, no, max(3, int((m.b-m.t)/(p.size*6))))
	nLat := decimalsOf([]float64{dLat})
	for k := math.Ceil(so/dLat - 1e-9); k*dLat <= no+1e-9; k++ {
		lat := round(k * dLat)
		text := latText(lat, nLat)
		if math.Abs(lat) > 89.99 || p.s.has(text) {
			continue
		}
		for _, off := range []float64{6, -6, 12, -12, 25, -25} {
			q := m.page(m.lon0+off, lat)
			l := label{text: text, at: q, size: p.size - 0.9, h: middle, v: centre, colour: softInk}
			b := l.box().grown(0.8)
			if b[0].x < m.l+2 || b[1].x > m.r-2 || b[0].y < m.t+2 || b[2].y > m.b-2 || m.onTrack(b) || !p.s.fits(l.box(), 1) {
				continue
			}
			p.s.fill(path{b[:]}, water)
			p.s.text(l)
			break
		}
	}
}

// onTrack says whether the line of a section passes through a level box.
func (m *mapping) onTrack(b box) bool {
	for _, k := range m.track {
		if k.x > b[0].x-0.8 && k.x < b[1].x+0.8 && k.y > b[0].y-0.8 && k.y < b[2].y+0.8 {
			return true
		}
	}
	return false
}

// has says whether a text stands on the page already.
func (s *scene) has(text string) bool {
	for _, w := range s.words {
		if w == text {
			return true
		}
	}
	return false
}

// land paints the coastline.
func (m *mapping) land(s *scene) {
	w, e, so, no := m.reach()
	sign, polar := 0.0, false
	if q, ok := m.pr.(stereographic); ok {
		sign, polar = q.sign, true
	}
	var areas, lines path
	for _, r := range coastRings() {
		if r.nor < so || r.south > no {
			continue
		}
		shifts := []float64{-360, 0, 360}
		if polar {
			shifts = shifts[1:2]
		}
		for _, shift := range shifts {
			if !polar && (r.east+shift < w || r.west+shift > e) {
				continue
			}
			q := make([][2]float64, len(r.p))
			for k, v := range r.p {
				q[k] = [2]float64{v[0] + shift, v[1]}
			}
			edge := q
			if polar {
				limit := so - 1
				if sign < 0 {
					limit = no + 1
				}
				q = cutAtLat(q, limit, sign)
				if len(q) < 3 {
					continue
				}
				q = append(q, q[0])
			}
			step := 360.0
			if polar {
				step = 2
			}
			page := clipRing(m.line(q, step), m.l, m.t, m.r, m.b)
			if page = simplifyRing(page); len(page) > 2 {
				areas = append(areas, page)
			}
			var run [][2]float64
			flush := func() {
				if len(run) > 1 {
					for _, piece := range clipLine(m.line(run, 360), m.l, m.t, m.r, m.b) {
						lines = append(lines, simplify(piece))
					}
				}
				run = run[:0]
			}
			for k := 0; k <= len(edge); k++ {
				a := edge[k%len(edge)]
				if a[1] < -89.9 || (polar && (sign > 0 && a[1] < so-1 || sign < 0 && a[1] > no+1)) {
					flush()
					continue
				}
				run = append(run, a)
			}
			flush()
		}
	}
	s.fill(areas, land)
	s.stroke(lines, pen{colour: coast, width: hair, round: true})
}

// cutAtLat keeps the part of a ring poleward of a latitude.
func cutAtLat(q [][2]float64, limit, sign float64) [][2]float64 {
	var out [][2]float64
	for k := range q {
		a, b := q[(k+len(q)-1)%len(q)], q[k]
		ia, ib := sign*a[1] >= sign*limit, sign*b[1] >= sign*limit
		if ia != ib {
			t := (limit - a[1]) / (b[1] - a[1])
			out = append(out, [2]float64{a[0] + t*(b[0]-a[0]), limit})
		}
		if ib {
			out = append(out, b)
		}
	}
	return out
}

// depths draws depth contours and returns their key.
func (f *StationMap) depths(p *sheet, m *mapping) []key {
	b := f.Bathymetry
	if b == nil || len(b.DepthM) != len(b.LonDeg)*len(b.LatDeg) || len(b.LonDeg) < 2 || len(b.LatDeg) < 2 {
		return nil
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range b.DepthM {
		if !math.IsNaN(v) {
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	var levels []float64
	for _, l := range []float64{50, 100, 200, 500, 1000, 2000, 3000, 4000, 5000, 6000, 7000, 8000, 9000, 10000} {
		if l > lo && l < hi && (l >= 200 || hi < 2000) {
			levels = append(levels, l)
		}
	}
	lines := make([][][]pt, len(levels))
	for k, c := range contour.Lines(b.LonDeg, b.LatDeg, b.DepthM, levels) {
		for _, l := range c.Lines {
			pts := make([][2]float64, len(l))
			for i, q := range l {
				pts[i] = [2]float64{near(q[0], m.lon0), q[1]}
				if i > 0 {
					pts[i][0] = pts[i-1][0] + wrap180(pts[i][0]-pts[i-1][0])
				}
			}
			for _, piece := range clipLine(m.line(pts, 360), m.l, m.t, m.r, m.b) {
				lines[k] = append(lines[k], simplify(piece))
			}
		}
	}
	tint := mustMap("depth1")
	labelLines(p.s, &m.frame, lines, levels, lineStyle{
		pen:  func(l float64) pen { return pen{colour: tint.At(0.35 + 0.6*l/6000), width: thin} },
		size: p.size - 1, text: short, colour: func(float64) color.NRGBA { return tint.At(1) }, perPoint: 300,
	})()
	if len(levels) == 0 {
		return nil
	}
	return []key{lineKey(pen{colour: tint.At(0.7), width: thin}, nil, "water depth (m)")}
}

// names writes the names of sections and the numbers of stations that have room.
func (f *StationMap) names(p *sheet, m *mapping) {
	s := p.s
	around := func(q pt, text string, size float64, bold bool, c color.NRGBA, reach float64) bool {
		places := [8]struct {
			dx, dy float64
			h, v   align
		}{{1, -0.7, left, base}, {1, 0.7, left, top}, {-1, -0.7, right, base}, {-1, 0.7, right, top}, {0, -1.2, middle, base}, {0, 1.3, middle, top}, {1.3, 0, left, centre}, {-1.3, 0, right, centre}}
		for _, clear := range []bool{true, false} { // off the lines of the sections if that can be
			for _, d := range places {
				l := label{text: text, at: pt{q.x + d.dx*reach, q.y + d.dy*reach}, size: size, h: d.h, v: d.v, bold: bold, colour: c}
				b := l.box()
				ok := true
				for _, k := range b {
					ok = ok && k.x > m.l+1 && k.x < m.r-1 && k.y > m.t+1 && k.y < m.b-1
				}
				ok = ok && !(clear && m.onTrack(b))
				if ok && s.tryText(l, 0.8) {
					return true
				}
			}
		}
		return false
	}
	type named struct {
		at    pt
		text  string
		order int
	}
	var all []named
	seen := map[string]bool{}
	names := namesOfStations(f.Casts)
	add := func(c *section.Cast, order int) {
		id := c.Expocode + " " + c.Station
		if seen[id] || math.IsNaN(c.At[0]) || math.IsNaN(c.At[1]) {
			return
		}
		seen[id] = true
		all = append(all, named{m.page(c.At[0], c.At[1]), names.of(c), order})
	}
	for _, sec := range f.Sections {
		if n := len(sec.Casts); n > 0 {
			add(sec.Casts[0], 0)
			add(sec.Casts[n-1], 0)
		}
	}
	for k, c := range f.Casts {
		order := 4
		n, err := strconv.Atoi(c.Station)
		if err != nil {
			n = k
		}
		switch {
		case n%10 == 0:
			order = 1
		case n%5 == 0:
			order = 2
		case n%2 == 0:
			order = 3
		}
		add(c, order)
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].order < all[j].order })
	first := sort.Search(len(all), func(k int) bool { return all[k].order > 0 })
	for _, n := range all[:first] {
		around(n.at, n.text, p.size-0.9, false, ink, 2.3)
	}
	for k, sec := range f.Sections {
		n := len(sec.Casts)
		c := sectionColour(k, len(f.Sections))
		places := []int{0, n - 1, n / 2, n / 4, 3 * n / 4}
		if m.crowd(f.Sections) < 6 { // where numbers stand in a row a name at the end would be one of them
			places = []int{n / 2, n / 4, 3 * n / 4, 0, n - 1}
		}
		for _, i := range places {
			if n == 0 || math.IsNaN(sec.Casts[i].At[0]) || math.IsNaN(sec.Casts[i].At[1]) {
				continue
			}
			if around(m.page(sec.Casts[i].At[0], sec.Casts[i].At[1]), sec.Name, p.size+1, true, c, 4.2) {
				s.keep = append(s.keep, s.boxes[len(s.boxes)-1].grown(2.5)) // a name among numbers would be read as one
				break
			}
		}
	}
	crowded := m.crowd(f.Sections) < 6 // then the places beside a station are the places of the next
	for _, n := range all[first:] {
		if crowded && n.order > 2 {
			continue
		}
		if !around(n.at, n.text, p.size-0.9, false, ink, 2.3) && crowded && n.order == 1 {
			_ = around(n.at, n.text, p.size-0.9, false, ink, 4) || around(n.at, n.text, p.size-0.9, false, ink, 6)
		}
	}
}

// scaleBar draws a bar of a round length, true at the mean latitude of the stations, in the corner with the fewest stations.
func (m *mapping) scaleBar(s *scene, size float64) {
	lat := m.lat0
	perKm := (m.r - m.l) / (m.x1 - m.x0) * m.pr.scale(lat)
	km := niceStep((m.r - m.l) / perKm * 0.12)
	if km*perKm > (m.r-m.l)*0.26 {
		km = niceStep((m.r - m.l) / perKm * 0.07)
	}
	w := km * perKm
	text := short(km) + " km"
	if km < 1 {
		text = short(round(km*1000)) + " m"
	}
	// A bar is true at one latitude only; where that is seen it says at which.
	if no, so := m.latRange(); no-so > 8 || math.Abs(m.pr.scale(no)/m.pr.scale(so)-1) > 0.04 {
		text += " at " + latText(math.Round(lat), 0)
	}
	tw := max(w, textWidth(regular, text, size-0.5))
	boxW, boxH := tw+8, size+8
	best, at := math.MaxInt, pt{}
	for _, c := range []pt{{m.l + 4, m.b - 4 - boxH}, {m.r - 4 - boxW, m.b - 4 - boxH}, {m.l + 4, m.t + 4}, {m.r - 4 - boxW, m.t + 4}} {
		hits := 0
		b := rectBox(c.x, c.y, c.x+boxW, c.y+boxH)
		for _, k := range append(append([]box(nil), s.keep...), s.boxes...) {
			if b.overlaps(k, 0) {
				hits++
			}
		}
		if hits < best {
			best, at = hits, c
		}
	}
	s.fill(rect(at.x, at.y, at.x+boxW, at.y+boxH), paper)
	s.outline(rect(at.x, at.y, at.x+boxW, at.y+boxH), pen{colour: faint, width: hair})
	x := at.x + boxW/2 - w/2
	y := at.y + boxH - 3.5
	s.line(x, y, x+w, y, pen{colour: ink, width: heavy})
	s.line(x, y-2, x, y+1.2, pen{colour: ink, width: thin})
	s.line(x+w, y-2, x+w, y+1.2, pen{colour: ink, width: thin})
	s.text(label{text: text, at: pt{at.x + boxW/2, at.y + 2}, size: size - 0.5, h: middle, v: top})
	s.keep = append(s.keep, rectBox(at.x, at.y, at.x+boxW, at.y+boxH))
}

func (m *mapping) latRange() (north, south float64) {
	_, _, s, n := m.reach()
	return n, s
}

func (f *StationMap) caption(a *About) (caption, error) {
	at, err := f.positions()
	if err != nil {
		return caption{}, err
	}
	pr, _ := projectionFor(at)
	var c caption
	c.head = "Station map"
	c.what = "Station map (" + pr.name() + "). Dots are casts"
	if len(f.Sections) > 0 {
		var names []string
		for _, s := range f.Sections {
			names = append(names, s.Name)
		}
		c.what += "; lines are sections " + strings.Join(names, ", ")
	}
	c.what += "; numbers are stations, as many as fit."
	var lons, lats []float64
	for _, p := range at {
		lons, lats = append(lons, p[0]), append(lats, p[1])
	}
	sort.Float64s(lats)
	mid, arc := middleLon(lons)
	c.add("Where", fmt.Sprintf("%s to %s, %s to %s", latText(lats[0], 3), latText(lats[len(lats)-1], 3), lonText(mid-arc/2, 3), lonText(mid+arc/2, 3)))
	c.add("When", whenText(f.Casts))
	text := number(float64(len(f.Casts)), 0)
	if n := len(f.Casts) - len(at); n > 0 {
		text += fmt.Sprintf(" (%s without a position not shown)", plural(n, "cast", "casts"))
	}
	c.add("Casts", text)
	c.add("Station names", namesOfStations(f.Casts).note())
	credit := coastCredit
	if lats[0] < -60 {
		credit += "; ice shelves and sea ice are not drawn"
	}
	c.add("Coastline", credit)
	if f.Bathymetry != nil {
		source := f.Bathymetry.Source
		if source == "" {
			source = "as given in the cruise file"
		}
		c.add("Water depth", source)
	}
	c.about(a, true)
	return c, nil
}
