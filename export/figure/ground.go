package figure

import (
	"image/color"
	"math"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding/contour"
	"github.com/castwright/castwright/section/coast"
)

// drawLand paints the coastline.
func drawLand(s *page.Scene, m *chart.Map) {
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
	var areas, lines page.Path
	for _, r := range coast.Lines() {
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
	s.Fill(areas, land)
	s.Stroke(lines, page.Pen{Colour: shore, Width: chart.Hair, Round: true})
}

// depths draws depth contours and returns their key.
func (f *StationMap) depths(p *chart.Sheet, m *chart.Map) []chart.Key {
	b := f.Bathymetry
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
	if len(levels) == 0 {
		return nil
	}
	lines := make([][][]page.Point, len(levels))
	for k, c := range contour.Lines(b.LonDeg, b.LatDeg, b.DepthM, levels) {
		for _, l := range c.Lines {
			for _, piece := range m.Clip(m.Course(l)) {
				lines[k] = append(lines[k], page.Simplify(piece))
			}
		}
	}
	tint := chart.Colours("depth1")
	chart.LabelLines(p.Scene, &m.Frame, lines, levels, chart.LineStyle{
		Pen:  func(l float64) page.Pen { return page.Pen{Colour: tint.At(0.35 + 0.6*l/6000), Width: chart.Thin} },
		Size: p.Small(1), Text: chart.Short, Colour: func(float64) color.NRGBA { return tint.At(1) }, PerPoint: 300,
	})()
	return []chart.Key{chart.LineKey(page.Pen{Colour: tint.At(0.7), Width: chart.Thin}, nil, "water depth (m)")}
}
