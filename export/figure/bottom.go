package figure

import (
	"image/color"
	"math"
	"slices"
	"sort"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// Colours that are not data.
var (
	seabed     = color.NRGBA{128, 120, 112, 255}
	unsounded  = color.NRGBA{206, 201, 195, 255} // below casts of unknown depth
	landColour = color.NRGBA{214, 209, 200, 255}
	shore      = color.NRGBA{122, 116, 108, 255}
	alarm      = color.NRGBA{176, 32, 40, 255}
)

// A floorShape is the bottom as pressure (dbar) by distance (km).
type floorShape struct {
	x, p    []float64
	assumed [][2]float64 // km from and to where the depth is not known, and the deepest value is taken for the bottom
	deepest bool         // the deepest bin is the bottom because the cruise file says so
	charted bool         // between the stations it is from a grid of water depth
	painted [2]bool      // a panel shows the bottom, and what lies below the deepest values
}

func (b *floorShape) none() bool { return len(b.x) == 0 }

// known reports whether the depth is known anywhere.
func (b *floorShape) known() bool {
	return !b.none() && !(len(b.assumed) == 1 && b.assumed[0][0] <= b.x[0] && b.assumed[0][1] >= b.x[len(b.x)-1])
}

// assume notes that the depth is not known between two distances.
func (b *floorShape) assume(from, to float64) {
	if n := len(b.assumed); n > 0 && b.assumed[n-1][1] >= from {
		b.assumed[n-1][1] = max(b.assumed[n-1][1], to)
		return
	}
	b.assumed = append(b.assumed, [2]float64{from, to})
}

// assumeAround notes the stations whose depth is not known: what is drawn between neighbours is the straight
// line from one to the other.
func (b *floorShape) assumeAround(km []float64, known func(k int) bool) {
	for k := range km {
		if !known(k) {
			b.assume(km[max(0, k-1)], km[min(len(km)-1, k+1)])
		}
	}
}

// keys explains what has been painted.
func (b *floorShape) keys() []chart.Key {
	var ks []chart.Key
	if b.known() && b.painted[0] {
		k := chart.AreaKey(seabed, "bottom")
		k.Plain = !b.deepest
		if b.deepest {
			k.Text = "bottom, taken at the deepest values"
		}
		ks = append(ks, k)
	}
	if b.painted[1] {
		ks = append(ks, chart.AreaKey(unsounded, "below the deepest values; water depth not known"))
	}
	return ks
}

// solid says for captions what the solid shape is.
func (b *floorShape) solid() string {
	switch {
	case b.none():
		return ""
	case !b.known():
		return "; the solid shape lies below the deepest values, the bottom is not known"
	case b.deepest:
		return "; the solid shape is the bottom, taken at the deepest values"
	case len(b.assumed) > 0:
		return "; the solid shape is the bottom, in its lighter part what lies below the deepest values " +
			"where the bottom is not known"
	}
	return "; the solid shape is the bottom"
}

// bottomOf returns the bottom by distance: from the grid, else from the casts. A grid has a bottom
// everywhere, as its method takes the deepest value of a cast whose water depth is not known; where that is
// so it is noted.
func bottomOf(s *section.Section, g *gridding.Grid) (b floorShape) {
	add := func(km, depth, lat float64) {
		if !math.IsNaN(depth) && depth > 0 && !math.IsNaN(lat) {
			b.x = append(b.x, km)
			b.p = append(b.p, seawater.Pressure(-depth, lat))
		}
	}
	if g != nil && len(g.Axes) == 2 && len(g.BottomM) == len(g.Axes[1].Values) {
		t := trackOf(s, g)
		for j, km := range g.Axes[1].Values {
			add(km, g.BottomM[j], t.Along(t.Lat, km))
		}
		switch g.Bottom {
		case gridding.Bathymetry:
			b.charted = true
		case gridding.DeepestBins:
			b.deepest = true
		case gridding.StatedDepth:
			b.assumeAround(s.DistanceKm, func(k int) bool { return s.Casts[k].BottomM > 0 })
		}
	}
	if !b.none() {
		return b
	}
	known := func(k int) bool { return s.Casts[k].BottomM > 0 }
	some := false
	for k, c := range s.Casts {
		some = some || known(k) && !math.IsNaN(c.At[1])
	}
	if !some {
		return b
	}
	for k, c := range s.Casts { // where a depth is not known the deepest value is taken for it, as in a grid
		if n := len(c.PressureDbar); !known(k) && n > 0 {
			b.x, b.p = append(b.x, s.DistanceKm[k]), append(b.p, c.PressureDbar[n-1])
			continue
		}
		add(s.DistanceKm[k], c.BottomM, c.At[1])
	}
	b.assumeAround(s.DistanceKm, known)
	return b
}

// bottomAlong returns a grid without fields that holds the bottom of a section from a grid of water depth: what figures
// of a section without gridded fields draw.
func bottomAlong(s *section.Section, depth func(at orb.Point) float64) *gridding.Grid {
	const steps = 400
	n := len(s.DistanceKm)
	if depth == nil || n < 2 {
		return nil
	}
	g := &gridding.Grid{Axes: make([]gridding.Axis, 2), Bottom: gridding.Bathymetry}
	t := trackOf(s, nil)
	at := slices.Clone(s.DistanceKm)
	for k := range steps {
		at = append(at, s.DistanceKm[0]+(s.DistanceKm[n-1]-s.DistanceKm[0])*float64(k)/steps)
	}
	slices.Sort(at)
	for _, km := range slices.Compact(at) {
		place := orb.Point{chart.Wrap180(t.Along(t.Lon, km)), t.Along(t.Lat, km)}
		g.Axes[1].Values, g.Track = append(g.Axes[1].Values, km), append(g.Track, place)
		g.BottomM = append(g.BottomM, depth(place))
	}
	return g
}

// depthOfPicture is the greatest pressure drawn: down to the bottom, but not far below the deepest value.
func depthOfPicture(deepest float64, bottomP []float64) float64 {
	return min(max(deepest, chart.ExtentOf(bottomP).Hi)*1.02, deepest*1.2)
}

// at returns the pressure at the bottom, linear between the points, with the end values beyond the ends.
func (b *floorShape) at(km float64) float64 {
	k := sort.SearchFloat64s(b.x, km)
	if k == 0 {
		return b.p[0]
	}
	if k == len(b.x) {
		return b.p[k-1]
	}
	return b.p[k-1] + (b.p[k]-b.p[k-1])*(km-b.x[k-1])/(b.x[k]-b.x[k-1])
}

// above reports whether a place of the section is not known to lie under the bottom.
func (b *floorShape) above(km, dbar float64) bool { return b.none() || dbar < b.at(km) }

// paint paints the bottom over a panel.
func (b *floorShape) paint(s *page.Scene, fr *chart.Frame) {
	if b.none() {
		return
	}
	line := b.shape(s, fr, fr.X0, fr.X1, seabed)
	b.painted[0] = b.painted[0] || line != nil
	for _, r := range b.assumed {
		from, to := r[0], r[1]
		if from <= b.x[0] { // beyond the first and the last station it goes on
			from = fr.X0
		}
		if to >= b.x[len(b.x)-1] {
			to = fr.X1
		}
		b.painted[1] = b.shape(s, fr, from, to, unsounded) != nil || b.painted[1]
	}
	// In grey the bottom can be as dark as the water above it: a line parts them.
	var pieces page.Path
	for k := 1; k < len(line); k++ {
		a, c := line[k-1].Y, line[k].Y
		if max(a, c) > fr.T+1e-9 && min(a, c) < fr.B-1e-9 { // not along the edge of the panel
			pieces = append(pieces, []page.Point{line[k-1], line[k]})
		}
	}
	s.Stroke(page.Join(pieces), page.Pen{Colour: page.Ink, Width: chart.Thin, Round: true})
}

// shape fills what lies below the bottom between two distances and gives its upper side; nil when none of it
// is in the panel.
func (b *floorShape) shape(s *page.Scene, fr *chart.Frame, from, to float64, c color.NRGBA) []page.Point {
	var line []page.Point
	lastX, lastP := from, b.at(from)
	add := func(x, p float64) { line = append(line, fr.At(x, max(fr.Y0, min(fr.Y1, p)))) }
	next := func(x, p float64) {
		edges := [2]float64{fr.Y0, fr.Y1} // the bottom passes the edges of the panel in this order
		if p < lastP {
			edges = [2]float64{fr.Y1, fr.Y0}
		}
		for _, edge := range edges {
			if (lastP-edge)*(p-edge) < 0 {
				add(lastX+(edge-lastP)/(p-lastP)*(x-lastX), edge)
			}
		}
		add(x, p)
		lastX, lastP = x, p
	}
	add(lastX, lastP)
	for k, x := range b.x {
		if x > from && x < to {
			next(x, b.p[k])
		}
	}
	next(to, b.at(to))
	if !slices.ContainsFunc(line, func(q page.Point) bool { return q.Y < fr.B-1e-9 }) {
		return nil
	}
	line = page.Simplify(line)
	ring := append(slices.Clone(line), page.Pt(fr.X(to), fr.B), page.Pt(fr.X(from), fr.B))
	s.Fill(page.Path{ring}, c)
	return line
}
