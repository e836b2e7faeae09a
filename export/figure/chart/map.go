package chart

import (
	"math"
	"slices"

	"github.com/castwright/castwright/export/figure/page"
	"github.com/paulmach/orb"
)

// A Map is a frame with a projection; the values at its edges are km in the plane.
type Map struct {
	Frame
	Projection
	Lat0  float64      // mean latitude of the stations
	Track []page.Point // along the drawn sections, so that numbers can keep off them
	Lines []page.Point // along the other lines: graticule, coast, depths
}

// Sampled adds points along lines to others.
func Sampled(to []page.Point, lines ...[]page.Point) []page.Point {
	const every = 1.5
	for _, l := range lines {
		for k := 1; k < len(l); k++ {
			n := math.Ceil(l[k-1].Dist(l[k]) / every)
			for i := range int(n) {
				t := float64(i) / n
				to = append(to, page.Pt(l[k-1].X+t*(l[k].X-l[k-1].X), l[k-1].Y+t*(l[k].Y-l[k-1].Y)))
			}
		}
	}
	return to
}

// Place returns the place of a position on the page.
func (m *Map) Place(lon, lat float64) page.Point { return m.At(m.Forward(Near(lon, m.Lon0), lat)) }

// Line returns a line through positions (X longitude, Y latitude) on the page, in steps of so many degrees,
// since it may be curved.
func (m *Map) Line(points []page.Point, step float64) []page.Point {
	var out []page.Point
	for k, q := range points {
		if k > 0 {
			a := points[k-1]
			n := math.Ceil(math.Max(math.Abs(q.X-a.X), math.Abs(q.Y-a.Y)) / step)
			for i := 1.0; i < n; i++ {
				out = append(out, m.At(m.Forward(a.X+i/n*(q.X-a.X), a.Y+i/n*(q.Y-a.Y))))
			}
		}
		out = append(out, m.At(m.Forward(q.X, q.Y)))
	}
	return out
}

// Course returns a line from position to position on the page, straight between them, and the short way over the far
// meridian of the map.
func (m *Map) Course(at []orb.Point) []page.Point {
	pts := make([]page.Point, len(at))
	for k, q := range at {
		pts[k] = page.Pt(Near(q[0], m.Lon0), q[1])
		if k > 0 {
			pts[k].X = Near(pts[k].X, pts[k-1].X)
		}
	}
	return m.Line(pts, 360)
}

// degreeSteps are round parts of a degree for graticules.
var degreeSteps = []float64{0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 20, 30}

// degreeStep returns the step of lines over a range of degrees: at most most of them, but two where that can be.
func degreeStep(e Extent, most int) float64 {
	lines := func(d float64) float64 { return math.Floor(e.Hi/d+1e-9) - math.Ceil(e.Lo/d-1e-9) + 1 }
	for k, d := range degreeSteps {
		if e.Span()/d > float64(most) {
			continue
		}
		for k > 0 && lines(degreeSteps[k]) < 2 {
			k--
		}
		return degreeSteps[k]
	}
	return 30
}

// Reach returns the range of longitude (about Lon0) and latitude inside the frame.
func (m *Map) Reach() (lon, lat Extent) {
	lon, lat = NoExtent(), NoExtent()
	const steps = 60
	for i := range steps + 1 {
		for j := range steps + 1 {
			a, b := m.Inverse(m.X0+(m.X1-m.X0)*float64(i)/steps, m.Y1+(m.Y0-m.Y1)*float64(j)/steps)
			lon.Add(a)
			lat.Add(b)
		}
	}
	return lon, lat
}

// parallels returns the latitudes of the graticule, their step, and how they are printed.
func (m *Map) parallels(lat Extent, size float64) (at []float64, step float64, text func(v float64) string) {
	step = degreeStep(lat, max(3, int((m.B-m.T)/(size*6))))
	n := Decimals([]float64{step})
	for k := math.Ceil(lat.Lo/step - 1e-9); k*step <= lat.Hi+1e-9; k++ {
		if v := Round(k * step); math.Abs(v) <= 89.99 {
			at = append(at, v)
		}
	}
	return at, step, func(v float64) string { return LatText(v, n) }
}

// A lineEnd is an end of a line of the graticule.
type lineEnd struct {
	text string
	at   page.Point
	lat  bool
}

// Graticule draws meridians and parallels and names them at the edges.
func (m *Map) Graticule(p *Sheet) {
	lon, lat := m.Reach()
	dLon := degreeStep(lon, max(3, int((m.R-m.L)/(p.Size*6.5))))
	parallels, dLat, latText := m.parallels(lat, p.Size)
	if m.Pole != 0 && lon.Span() > 300 { // the pole is inside
		dLon = 30
		lon = Extent{m.Lon0 - 180, m.Lon0 + 180 - 1e-6}
	}
	var ends []lineEnd
	draw := func(text string, isLat bool, from, to page.Point, step float64) {
		pieces := m.Clip(m.Line([]page.Point{from, to}, step))
		p.Stroke(pieces, page.Pen{Colour: Faint, Width: Hair})
		m.Lines = Sampled(m.Lines, pieces...)
		for _, q := range pieces {
			ends = append(ends, lineEnd{text, q[0], isLat}, lineEnd{text, q[len(q)-1], isLat})
		}
	}
	step, lonStep := 0.5, lon.Span()
	if lat.Span() < 5 {
		step = lat.Span() / 10
	}
	span := lat
	if m.Pole != 0 { // meridians stop short of the pole, where they would meet
		lonStep = 1
		if lat.Hi > 89 {
			span.Hi = 90 - dLat/5
		}
		if lat.Lo < -89 {
			span.Lo = -90 + dLat/5
		}
	}
	nLon := Decimals([]float64{dLon})
	for k := math.Ceil(lon.Lo/dLon - 1e-9); k*dLon <= lon.Hi+1e-9; k++ {
		v := Round(k * dLon)
		draw(LonText(v, nLon), false, page.Pt(v, span.Lo), page.Pt(v, span.Hi), step)
	}
	for _, v := range parallels {
		draw(latText(v), true, page.Pt(lon.Lo, v), page.Pt(lon.Hi, v), lonStep)
	}
	m.nameEnds(p, ends)
}

// nameEnds writes latitudes at the left and right, longitudes at the bottom and top; on a polar map also
// where there is space.
func (m *Map) nameEnds(p *Sheet, ends []lineEnd) {
	const gap = 2.2
	polar := m.Pole != 0
	for pass := range 2 {
		if pass == 1 && !polar {
			return
		}
		for _, q := range ends {
			l := page.Label{Text: q.text, Size: p.Small(0.3)}
			switch x, y := q.at.X, q.at.Y; {
			case y > m.B-0.01 && (!q.lat || pass == 1):
				l.At, l.H, l.V = page.Pt(x, m.B+gap), page.Middle, page.Top
			case x < m.L+0.01 && (q.lat || pass == 1):
				l.At, l.H, l.V = page.Pt(m.L-gap, y), page.Right, page.Centre
			case y < m.T+0.01 && !q.lat && polar && pass == 0:
				l.At, l.H, l.V = page.Pt(x, m.T-gap), page.Middle, page.Base
			case x > m.R-0.01 && polar:
				l.At, l.H, l.V = page.Pt(m.R+gap, y), page.Left, page.Centre
			default:
				continue
			}
			if !polar || !p.Has(q.text) {
				p.TryText(l, 1.5)
			}
		}
	}
}

// Circles names the parallels of a polar map that have no name at a side, beside the middle meridian, where
// there is space.
func (m *Map) Circles(p *Sheet) {
	if m.Pole == 0 {
		return
	}
	_, lat := m.Reach()
	parallels, _, text := m.parallels(lat, p.Size)
	for _, v := range parallels {
		if p.Has(text(v)) {
			continue
		}
		for _, off := range []float64{6, -6, 12, -12, 25, -25} {
			l := page.Label{Text: text(v), At: m.Place(m.Lon0+off, v), Size: p.Small(0.9), H: page.Middle,
				V: page.Centre, Colour: SoftInk}
			if b := l.Box().Grown(0.8); m.Holds(b, 2) && !m.OnTrack(b) && p.Fits(l.Box(), 1) {
				p.Patched(l, 0.8, Water)
				break
			}
		}
	}
}

// OnTrack reports whether the line of a section passes through a level box.
func (m *Map) OnTrack(b page.Box) bool { return passes(m.Track, b) }

// OnLine reports whether another line does.
func (m *Map) OnLine(b page.Box) bool { return passes(m.Lines, b) }

func passes(points []page.Point, b page.Box) bool {
	return slices.ContainsFunc(points, func(k page.Point) bool {
		return k.X > b[0].X-0.8 && k.X < b[1].X+0.8 && k.Y > b[0].Y-0.8 && k.Y < b[2].Y+0.8
	})
}

// Corner returns a place of a size in the corner of the frame where fewest labels, stations and points are,
// and how many.
func (f *Frame) Corner(s *page.Scene, w, h float64, points []page.Point) (best Frame, fewest int) {
	fewest = math.MaxInt
	for k := range 4 { // lower left, lower right, upper left, upper right
		b := Frame{L: f.L + 4, T: f.T + 4}
		if k%2 == 1 {
			b.L = f.R - 4 - w
		}
		if k < 2 {
			b.T = f.B - 4 - h
		}
		b.R, b.B = b.L+w, b.T+h
		hits := 0
		for _, o := range slices.Concat(s.Keep, s.Boxes) {
			if o.Overlaps(page.RectBox(b.L, b.T, b.R, b.B), 0) {
				hits++
			}
		}
		for _, q := range points {
			if q.X > b.L && q.X < b.R && q.Y > b.T && q.Y < b.B {
				hits++
			}
		}
		if hits < fewest {
			fewest, best = hits, b
		}
	}
	return best, fewest
}

// ScaleBar draws a bar of a round length, true at the mean latitude of the stations, in the corner with the fewest
// stations.
func (m *Map) ScaleBar(s *page.Scene, size float64, points []page.Point) {
	width := m.R - m.L
	perKm := width / (m.X1 - m.X0) * m.Scale(m.Lat0)
	km := NiceStep(width / perKm * 0.12)
	if km*perKm > width*0.26 {
		km = NiceStep(width / perKm * 0.07)
	}
	w := km * perKm
	text := Short(km) + " km"
	if km < 1 {
		text = Short(Round(km*1000)) + " m"
	}
	// A bar is true at one latitude only; where that is seen it says at which.
	if _, lat := m.Reach(); lat.Span() > 8 || math.Abs(m.Scale(lat.Hi)/m.Scale(lat.Lo)-1) > 0.04 {
		text += " at " + LatText(math.Round(m.Lat0), 0)
	}
	boxW, boxH := max(w, page.TextWidth(text, max(SmallType, size-0.5)))+8, size+8
	box, _ := m.Corner(s, boxW, boxH, points)
	s.Fill(box.Rect(), page.Paper)
	s.Outline(box.Rect(), page.Pen{Colour: Faint, Width: Hair})
	mid := box.L + boxW/2
	x, y := mid-w/2, box.B-3.5
	s.Line(x, y, x+w, y, page.Pen{Colour: page.Ink, Width: Heavy})
	s.Line(x, y-2, x, y+1.2, InkThin)
	s.Line(x+w, y-2, x+w, y+1.2, InkThin)
	s.Text(page.Label{Text: text, At: page.Pt(mid, box.T+2), Size: max(SmallType, size-0.5), H: page.Middle,
		V: page.Top})
	s.Keep = append(s.Keep, page.RectBox(box.L, box.T, box.R, box.B))
}
