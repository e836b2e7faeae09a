package figure

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"slices"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/coast"
	"github.com/paulmach/orb"
)

// StationMap shows where the casts were taken, with sections as lines, graticule, coastline and a scale bar.
// Near a pole it is polar stereographic, elsewhere Mercator.
type StationMap struct {
	Name       string
	Title      string // at the right of the heading, such as the cruise's name
	Casts      []*section.Cast
	Sections   []*section.Section
	Bathymetry *Bathymetry // nil: none
}

// Bathymetry is water depth on longitude and latitude, for contours on the map. The depth at (LonDeg[j],
// LatDeg[i]) is DepthM[i*len(LonDeg)+j], positive down; NaN or negative is land.
type Bathymetry struct {
	LonDeg, LatDeg []float64 // increasing; longitude may run past 180
	DepthM         []float64
	Source         string // for the caption
}

// Stem implements Figure.
func (f *StationMap) Stem() string { return f.Name }

// withPosition returns the casts that have one.
func withPosition(casts []*section.Cast) []*section.Cast {
	var out []*section.Cast
	for _, c := range casts {
		if !math.IsNaN(c.At[0]) && !math.IsNaN(c.At[1]) {
			out = append(out, c)
		}
	}
	return out
}

// positionsOf returns where casts are.
func positionsOf(casts []*section.Cast) []orb.Point {
	out := make([]orb.Point, len(casts))
	for k, c := range casts {
		out[k] = c.At
	}
	return out
}

// A mapData is a map made ready: the casts that have a position, and those of each section.
type mapData struct {
	chart.Map
	casts    []*section.Cast
	names    []string // of the sections
	sections [][]*section.Cast
	below    float64 // how far the locator reaches below the map
	apart    float64 // points between neighbouring stations of the section where it is least
}

func (f *StationMap) prepare() (*mapData, error) {
	d := &mapData{casts: withPosition(f.Casts)}
	if len(d.casts) == 0 {
		return nil, fmt.Errorf("%s: %w: no cast has a position", f.Name, ErrNoValues)
	}
	for _, s := range f.Sections {
		d.names = append(d.names, s.Name)
		d.sections = append(d.sections, withPosition(s.Casts))
	}
	d.Projection = chart.ProjectionFor(positionsOf(d.casts))
	return d, nil
}

// leastKm is the least width of a map, which holds the stations and a margin.
const leastKm = 1.0

// layOut returns the map its place on the page and its region.
func (d *mapData) layOut(p *chart.Sheet) {
	frameAround(p, &d.Map, positionsOf(d.casts), 1.3)
	d.apart = d.crowd()
}

// frameAround returns a map its place on the page and the region of positions with a margin.
func frameAround(p *chart.Sheet, m *chart.Map, at []orb.Point, margin float64) {
	xs, ys := chart.NoExtent(), chart.NoExtent()
	for _, q := range at {
		x, y := m.Forward(chart.Near(q[0], m.Lon0), q[1])
		xs.Add(x)
		ys.Add(y)
		m.Lat0 += q[1] / float64(len(at))
	}
	least := leastKm * m.Scale(m.Lat0)
	dx, dy := max(xs.Span()*margin, least), max(ys.Span()*margin, least)
	width := p.R - p.L
	ratio := max(p.Tall(0.45, 0.8), min(p.Tall(0.95, 1.5), dy/dx))
	if dy > ratio*dx {
		dx = dy / ratio
	} else {
		dy = dx * ratio
	}
	cx, cy := (xs.Lo+xs.Hi)/2, (ys.Lo+ys.Hi)/2
	m.Frame = chart.Frame{L: p.L, R: p.R, T: p.Y, B: p.Y + width*ratio, X0: cx - dx/2, X1: cx + dx/2, Y0: cy + dy/2,
		Y1: cy - dy/2}
}

// at returns the place of a cast on the page.
func (d *mapData) at(c *section.Cast) page.Point { return d.Place(c.At[0], c.At[1]) }

// crowd returns the mean distance of neighbouring stations on the page, in points, of the section where it is least.
func (d *mapData) crowd() float64 {
	least := math.Inf(1)
	for _, casts := range d.sections {
		sum := 0.0
		for k := 1; k < len(casts); k++ {
			sum += d.at(casts[k-1]).Dist(d.at(casts[k]))
		}
		if len(casts) > 1 {
			least = min(least, sum/float64(len(casts)-1))
		}
	}
	return least
}

// detailed reports whether the map is so large in scale that the finer coastline is needed.
func (d *mapData) detailed() bool { return (d.X1-d.X0)/d.Scale(d.Lat0) < 1500 }

// locator draws a small map of the region around, with the place of the map in it, where the map itself has
// no land to be recognized by. It returns its key.
func (d *mapData) locator(p *chart.Sheet) chart.Key {
	side := p.Tall(86, 62)
	in := chart.Map{Projection: d.Projection, Lat0: d.Lat0}
	var hits int
	if in.Frame, hits = d.Corner(p.Scene, side, side*0.8, d.Track); hits > 0 { // no corner is free: below the map
		d.below = side*0.8 + 12
		in.Frame = chart.Frame{L: d.R - side, T: d.B + 12, R: d.R, B: d.B + d.below}
	}
	x, y := (d.X0+d.X1)/2, (d.Y0+d.Y1)/2
	var land, shores page.Path
	for _, km := range []float64{900, 1800, 3600, 7200} {
		half := max(km*d.Scale(d.Lat0), (d.X1-d.X0)*0.8)
		in.X0, in.X1, in.Y0, in.Y1 = x-half, x+half, y+half*0.8, y-half*0.8
		var area float64
		if land, shores, area = landOf(&in, false); area > 0.04*side*side {
			break
		}
	}
	p.Fill(in.Rect(), chart.Water)
	p.Fill(land, landColour)
	p.Stroke(shores, page.Pen{Colour: shore, Width: chart.Hair, Round: true})
	a, b := in.At(d.X0, d.Y0), in.At(d.X1, d.Y1)
	w, h := max(b.X-a.X, 4)/2, max(b.Y-a.Y, 3)/2
	q := in.Mid()
	place := page.Pen{Colour: alarm, Width: chart.Normal}
	p.Outline(page.Rect(q.X-w, q.Y-h, q.X+w, q.Y+h), place)
	in.Border(p.Scene)
	p.Keep = append(p.Keep, page.RectBox(in.L, in.T, in.R, in.B))
	return chart.Key{Draw: func(s *page.Scene, f *chart.Frame) { s.Outline(f.Rect(), place) }, Text: "place of the map"}
}

func (d *mapData) colour(k int) color.NRGBA {
	if len(d.sections) == 1 {
		return chart.Colours("station1").At(0.55)
	}
	return chart.Colours("station1").At(0.25 + 0.7*float64(k)/float64(len(d.sections)-1))
}

func (f *StationMap) draw(w chart.Width) (*page.Scene, error) {
	d, err := f.prepare()
	if err != nil {
		return nil, err
	}
	p := chart.NewSheet(w, 30)
	p.L = 34
	p.Heading("Stations", f.Title)
	if d.Pole != 0 {
		p.Y += p.Size + 2 // meridians are named along the top too
	}
	d.layOut(p)
	for _, c := range d.casts {
		p.Places = append(p.Places, d.at(c))
	}
	p.Fill(d.Rect(), chart.Water)
	f.shadeDepths(p.Scene, &d.Map)
	d.Graticule(p)
	land := drawLand(p.Scene, &d.Map, d.detailed())
	for _, c := range d.casts { // labels of depths stay off the stations
		q := d.at(c)
		p.Keep = append(p.Keep, page.RectBox(q.X-1.9, q.Y-1.9, q.X+1.9, q.Y+1.9))
	}
	depths := f.depths(p, &d.Map)
	lineWidth := chart.Heavy
	if d.apart < 4 { // dots in a row would hide the line
		lineWidth = 2.2
	}
	ks := []chart.Key{{Draw: func(s *page.Scene, f *chart.Frame) { dot(s, f.Mid(), 1.35) }, Text: "station"}}
	ks = append(ks, depths...)
	for k, casts := range d.sections {
		drawn := d.Course(positionsOf(casts))
		for along, total := 0.0, page.Length(drawn); along < total; along += 2 {
			d.Track = append(d.Track, page.Along(drawn, along))
		}
		n := page.Pen{Colour: d.colour(k), Width: lineWidth}
		p.Stroke(d.Clip(drawn), n)
		n.Width = chart.Heavy
		ks = append(ks, chart.LineKey(n, nil, "section "+d.names[k]))
	}
	if d.dots(p.Scene) {
		ks = append(ks, chart.Key{Draw: func(s *page.Scene, f *chart.Frame) {
			s.Outline(page.Path{page.Circle(f.Mid(), 1.5)}, chart.InkThin)
		}, Text: "cast outside the sections (repeat, yo-yo, test)"})
	}
	d.ScaleBar(p.Scene, p.Size, d.Track)
	if land < 0.002*(d.R-d.L)*(d.B-d.T) {
		ks = append(ks, d.locator(p))
	}
	d.writeNames(p, f.Bathymetry.darkest())
	d.Circles(p)
	d.Border(p.Scene)
	p.Y = d.B + chart.TickLength + 5 + p.Size
	if d.below > 0 { // the key keeps to the left of the locator
		p.W -= p.Tall(110, 86)
	}
	p.Keys(ks)
	p.W = w.Points()
	p.Y = max(p.Y, d.B+d.below)
	return p.Done(), nil
}

func dot(s *page.Scene, q page.Point, r float64) { s.Fill(page.Path{page.Circle(q, r)}, page.Ink) }

// dots marks the stations, and reports whether there are casts outside the sections.
func (d *mapData) dots(s *page.Scene) (others bool) {
	r := 1.35
	if len(d.casts) > 60 {
		r = 1
	}
	r = min(r, max(0.5, 0.27*d.apart))
	halo := min(0.4, max(0, (d.apart-2*r)/2-0.3))
	for _, primary := range []bool{false, true} {
		for _, c := range d.casts {
			if (c.Role == section.Primary || c.Role == section.Unstated) != primary {
				continue
			}
			q := d.at(c)
			if primary {
				s.Fill(page.Path{page.Circle(q, r+halo)}, page.Paper)
				dot(s, q, r)
			} else {
				others = true
				s.Fill(page.Path{page.Circle(q, 1.5)}, page.Paper)
				s.Outline(page.Path{page.Circle(q, 1.5)}, chart.InkThin)
			}
		}
	}
	return others
}

// beside writes a label beside a point, reach from it, where there is space: off all lines if that can be,
// else on a patch over lines other than those of the sections, else, if it must be written, over those too.
func (d *mapData) beside(p *chart.Sheet, q page.Point, l page.Label, reach float64, must bool) bool {
	for pass := range 3 {
		if pass == 2 && !must {
			break
		}
		for _, at := range [8]struct {
			dx, dy float64
			h, v   page.Align
		}{
			{1.2, -0.7, page.Left, page.Base}, {1.2, 0.7, page.Left, page.Top},
			{-1.2, -0.7, page.Right, page.Base}, {-1.2, 0.7, page.Right, page.Top},
			{0, -1.2, page.Middle, page.Base}, {0, 1.3, page.Middle, page.Top}, {1.3, 0, page.Left, page.Centre},
			{-1.3, 0, page.Right, page.Centre},
		} {
			l.At, l.H, l.V = page.Pt(q.X+at.dx*reach, q.Y+at.dy*reach), at.h, at.v
			b := l.Box()
			struck := d.OnTrack(b) && pass < 2 || pass == 0 && d.OnLine(b)
			if struck || !d.Holds(b, 1) || !p.Fits(b, 0.8) {
				continue
			}
			if pass > 0 {
				p.Patched(l, 0.4, chart.Water)
			} else {
				p.Text(l)
			}
			return true
		}
	}
	return false
}

// writeNames writes the names of sections and the numbers of stations that have space: the ends of sections,
// the names of sections, then the other stations, round numbers first.
func (d *mapData) writeNames(p *chart.Sheet, ground color.NRGBA) {
	type named struct {
		at    page.Point
		text  string
		order int
	}
	var all []named
	seen := map[string]bool{}
	names := namesOfStations(d.casts)
	add := func(c *section.Cast, order int) {
		if id := c.Expocode + " " + c.Station; !seen[id] {
			seen[id] = true
			all = append(all, named{d.at(c), names.of(c), order})
		}
	}
	for _, casts := range d.sections {
		if n := len(casts); n > 0 {
			add(casts[0], 0)
			add(casts[n-1], 0)
		}
	}
	first := len(all)
	for k, c := range d.casts {
		add(c, chart.RankOf(c.Station, k))
	}
	slices.SortStableFunc(all, func(a, b named) int { return a.order - b.order })
	number := func(n named, reach float64) bool {
		return d.beside(p, n.at, page.Label{Text: n.text, Size: p.Small(0.9)}, reach, n.order == 0)
	}
	for _, n := range all[:first] {
		number(n, 2.3)
	}
	crowded := d.apart < 6 // the places beside a station are the places of the next
	for k, casts := range d.sections {
		n := len(casts)
		places := []int{0, n - 1, n / 2, n / 4, 3 * n / 4}
		if crowded { // where numbers are in a row a name at the end would be one of them
			places = []int{n / 2, n / 4, 3 * n / 4, 0, n - 1}
		}
		l := page.Label{Text: d.names[k], Size: p.Size + 1, Bold: true,
			Colour: chart.Readable(d.colour(k), ground)}
		for _, i := range places {
			if n > 0 && d.beside(p, d.at(casts[i]), l, 4.2, false) {
				p.Keep = append(p.Keep, p.Boxes[len(p.Boxes)-1].Grown(2.5)) // a name among numbers would be read as one
				break
			}
		}
	}
	for _, n := range all[first:] {
		if crowded && n.order > 2 {
			continue
		}
		if !number(n, 2.3) && crowded && n.order == 1 {
			_ = number(n, 4) || number(n, 6)
		}
	}
}

func (f *StationMap) caption(a *About) (caption, error) {
	d, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	c := caption{head: "Station map"}
	must := fmt.Sprintf("%sstations of %s, %s projection.", opened(f.Title), plural(len(d.casts), "cast", "casts"),
		d.Projection.Name())
	if len(d.names) > 0 {
		must += " Lines: sections " + list(d.names) + "."
	}
	depths := ""
	if f.Bathymetry != nil {
		depths = "Blue lines: water depth (m)."
	}
	c.write(upperFirst(must), "Dots are casts, with the numbers of as many stations as there is space for.", depths,
		"Casts were taken "+whenText(f.Casts)+".", a.data(), "Grey: land. Distances are true to the scale bar near "+
			"the stations.",
		"Depths and positions are as logged, not for navigation.")
	south := c.where(d.casts)
	c.ranges = append(c.ranges, "Stations from "+c.lines[0][1])
	c.add("When", whenText(f.Casts))
	text := chart.Number(float64(len(f.Casts)), 0)
	if n := len(f.Casts) - len(d.casts); n > 0 {
		text += fmt.Sprintf(" (%s without a position not shown)", plural(n, "cast", "casts"))
	}
	c.add("Casts", text)
	c.add("Station names", namesOfStations(d.casts).note())
	d.layOut(chart.NewSheet(chart.TwoColumns, 30))
	credit := coast.Credit(d.detailed())
	if south < -60 {
		credit += "; ice shelves and sea ice are not drawn"
	}
	c.add("Coastline", credit)
	if f.Bathymetry != nil {
		c.add("Water depth", cmp.Or(f.Bathymetry.Source, "as given in the cruise file"))
	}
	c.about(a, true)
	return c, nil
}
