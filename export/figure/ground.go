package figure

import (
	"image/color"
	"math"
	"slices"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding/contour"
	"github.com/castwright/castwright/section/coast"
)

// drawLand paints the coastline and returns how much of the page is land, in square points.
func drawLand(s *page.Scene, m *chart.Map, detailed bool) float64 {
	areas, lines, size := landOf(m, detailed)
	s.Fill(areas, landColour)
	s.Stroke(lines, page.Pen{Colour: shore, Width: chart.Hair, Round: true})
	m.Lines = chart.Sampled(m.Lines, lines...)
	return size
}

// landOf returns the land in the frame of a map, its shores, and its size.
func landOf(m *chart.Map, detailed bool) (areas, lines page.Path, size float64) {
	lon, lat := m.Reach()
	polar := m.Pole != 0
	shifts, step := []float64{-360, 0, 360}, 360.0
	if polar {
		shifts, step = []float64{0}, 2
	}
	south, north := math.Inf(-1), math.Inf(1) // of what is drawn of a polar map
	if m.Pole > 0 {
		south = lat.Lo - 1
	} else if polar {
		north = lat.Hi + 1
	}
	for _, r := range coast.Lines(detailed) {
		for _, shift := range shifts {
			if r.North < lat.Lo || r.South > lat.Hi || !polar && (r.East+shift < lon.Lo || r.West+shift > lon.Hi) {
				continue
			}
			edge := make([]page.Point, len(r.Points))
			for k, v := range r.Points {
				edge[k] = page.Pt(v[0]+shift, v[1])
			}
			q := edge
			if polar {
				if q = page.ClipRing(q, math.Inf(-1), south, math.Inf(1), north); len(q) < 3 {
					continue
				}
				q = append(q, q[0])
			}
			if q = page.SimplifyRing(page.ClipRing(m.Line(q, step), m.L, m.T, m.R, m.B)); len(q) > 2 {
				areas = append(areas, q)
			}
			var run []page.Point
			flush := func() {
				for _, piece := range m.Clip(m.Line(run, 360)) {
					lines = append(lines, page.Simplify(piece))
				}
				run = run[:0]
			}
			for k := range len(edge) + 1 {
				a := edge[k%len(edge)]
				if a.Y < -89.9 || a.Y < south || a.Y > north {
					flush()
					continue
				}
				run = append(run, a)
			}
			flush()
		}
	}
	for _, ring := range areas {
		twice := 0.0
		for k, q := range ring {
			next := ring[(k+1)%len(ring)]
			twice += q.X*next.Y - next.X*q.Y
		}
		size += math.Abs(twice) / 2
	}
	return areas, lines, size
}

// depthLevels returns the levels of the depth grid that are drawn; nil when there is none.
func (b *Bathymetry) depthLevels() []float64 {
	if b == nil || len(b.DepthM) != len(b.LonDeg)*len(b.LatDeg) || len(b.LonDeg) < 2 || len(b.LatDeg) < 2 {
		return nil
	}
	depth := chart.ExtentOf(b.DepthM)
	var levels []float64
	for _, l := range []float64{50, 100, 200, 500, 1000, 2000, 3000, 4000, 5000, 6000, 7000, 8000, 9000, 10000} {
		if l > depth.Lo && l < depth.Hi && (l >= 200 || depth.Hi < 2000) {
			levels = append(levels, l)
		}
	}
	return levels
}

// deepTint is where the colour of the deepest water lies in its map.
const deepTint = 0.48

// darkest returns the darkest colour of the sea, on which names must be read.
func (b *Bathymetry) darkest() color.NRGBA {
	if len(b.depthLevels()) == 0 {
		return chart.Water
	}
	return chart.Colours("depth1").At(deepTint)
}

// shadeDepths fills the sea darker by depth, between the levels of the depth grid.
func (f *StationMap) shadeDepths(s *page.Scene, m *chart.Map) {
	levels := f.Bathymetry.depthLevels()
	if len(levels) == 0 {
		return
	}
	tint := chart.Colours("depth1")
	b := f.Bathymetry
	for k, region := range contour.Above(b.LonDeg, b.LatDeg, b.DepthM, levels) {
		s.Fill(onMap(region, m), tint.At(0.08+(deepTint-0.08)*float64(k+1)/float64(len(levels))))
	}
}

// depths draws depth contours and returns their key.
func (f *StationMap) depths(p *chart.Sheet, m *chart.Map) []chart.Key {
	levels := f.Bathymetry.depthLevels()
	if len(levels) == 0 {
		return nil
	}
	b := f.Bathymetry
	free := clearOf(slices.Clone(m.Lines))
	lines := make([][][]page.Point, len(levels))
	for k, c := range contour.Lines(b.LonDeg, b.LatDeg, b.DepthM, levels) {
		for _, l := range c.Lines {
			for _, piece := range m.Clip(m.Course(l)) {
				lines[k] = append(lines[k], page.Simplify(piece))
			}
		}
		m.Lines = chart.Sampled(m.Lines, lines[k]...)
	}
	tint := chart.Colours("depth1")
	ink := chart.Readable(tint.At(1), b.darkest())
	pen := page.Pen{Colour: tint.At(0.85), Width: chart.Hair}
	chart.LabelLines(p.Scene, &m.Frame, lines, levels, chart.LineStyle{
		Pen: func(float64) page.Pen { return pen }, Size: p.Small(1), Text: chart.Short,
		Colour: func(float64) color.NRGBA { return ink }, PerPoint: 300, Steep: true, Free: free,
	})()
	return []chart.Key{chart.LineKey(pen, nil, "water depth (m)")}
}

// clearOf says where no line of the graticule or coast is near, by points along them.
func clearOf(lines []page.Point) func(page.Point) bool {
	return func(q page.Point) bool {
		return !slices.ContainsFunc(lines, func(o page.Point) bool { return o.Dist(q) < 4 })
	}
}
