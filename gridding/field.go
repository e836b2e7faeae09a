package gridding

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/gridding/delaunay"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// MapField grids scattered casts on pressure, latitude and longitude with geodesic distances. Longitudes run on past
// 180 where the casts lie across the antimeridian; around a pole they go once round. Methods are those of Map but for
// density; linear means triangles level by level. Errors, masks, skill and findings are those of Map; mapping along
// density fails with ErrSectionOnly.
func MapField(name string, casts []*section.Cast, area Area, o Options) (*Grid, []metadata.Finding, error) {
	if err := o.fill(); err != nil {
		return nil, nil, err
	}
	vars, findings := variablesOf(casts, &o)
	s := newSurvey(casts, nil, vars, &o)
	if len(s.sites) < 2 || len(vars) == 0 {
		return nil, findings, fmt.Errorf("field %s: %w: %d given", name, ErrTooFewCasts, len(s.sites))
	}
	if err := s.places(); err != nil {
		return nil, findings, fmt.Errorf("field %s: %w", name, err)
	}
	g := &Grid{Name: name}
	lon, lat, err := s.fieldAxes(area)
	if err != nil {
		return nil, findings, fmt.Errorf("field %s: %w", name, err)
	}
	g.Axes = []Axis{{}, lat, lon}
	given := area.Levels
	if len(given) == 0 {
		given = s.dataLevels(s.depths(-1))
	}
	for k := 1; k < len(given); k++ {
		if !(given[k] > given[k-1]) {
			return nil, findings, fmt.Errorf("field %s: %w: levels do not increase", name, ErrUnknown)
		}
	}
	levels := s.gridLevels(g, given)
	if n := len(lon.Values) * len(lat.Values); n*len(levels) > mostPoints {
		return nil, findings, fmt.Errorf("field %s: %w: %d columns of %d levels", name, ErrTooLarge, n, len(levels))
	}
	var cols []column
	if o.unmapped {
		levels = nil
	} else {
		cols = s.fieldColumns(&lon, &lat)
	}
	more, err := s.assemble(g, cols, levels)
	if err != nil {
		return nil, findings, fmt.Errorf("field %s: %w", name, err)
	}
	return g, named("field "+name, append(findings, more...)), nil
}

// JudgeField returns those findings of MapField that need no map, as Judge does of a section, and its error.
func JudgeField(name string, casts []*section.Cast, area Area, o Options) ([]metadata.Finding, error) {
	o.unmapped = true
	_, found, err := MapField(name, casts, area, o)
	return found, err
}

// A frame is a plane around the middle of a survey: east and north by geodesic distance and azimuth from the middle, in
// thousands of km. It has no seam.
type frame struct{ middle orb.Point }

func (f frame) place(at orb.Point) [2]float64 {
	m, azimuth, _ := section.Geodesic(f.middle, at)
	sin, cos := math.Sincos(azimuth * math.Pi / 180)
	return [2]float64{m / 1e6 * sin, m / 1e6 * cos}
}

// middleOf is the direction of the mean of the unit vectors to points.
func middleOf(points []orb.Point) orb.Point {
	var x, y, z float64
	for _, p := range points {
		sinLat, cosLat := math.Sincos(p[1] * math.Pi / 180)
		sinLon, cosLon := math.Sincos(p[0] * math.Pi / 180)
		x += float64(cosLat * cosLon)
		y += float64(cosLat * sinLon)
		z += sinLat
	}
	return orb.Point{math.Atan2(y, x) * 180 / math.Pi, math.Atan2(z, math.Hypot(x, y)) * 180 / math.Pi}
}

func (s *survey) frameOf() frame {
	points := make([]orb.Point, len(s.sites))
	for k := range s.sites {
		points[k] = s.sites[k].cast.At
	}
	return frame{middle: middleOf(points)}
}

// frameField sets for the sites their plane coordinates and finds those inside the hull.
func (s *survey) frameField() {
	f := s.frameOf()
	for k := range s.sites {
		s.sites[k].plane = f.place(s.sites[k].cast.At)
	}
	for v := range s.vars {
		onHull := map[[2]float64]bool{}
		for _, p := range s.hull(func(t *site) bool { return t.has(v) }) {
			onHull[p] = true
		}
		for k := range s.sites {
			t := &s.sites[k]
			t.inner = append(t.inner, !onHull[t.plane])
		}
	}
}

// hull returns the corners of the convex hull of the sites that are wanted (nil: all), counter-clockwise (Andrew 1979,
// Inf. Process. Lett. 9, 216).
func (s *survey) hull(wanted func(*site) bool) [][2]float64 {
	points := make([][2]float64, 0, len(s.sites))
	for k := range s.sites {
		if wanted == nil || wanted(&s.sites[k]) {
			points = append(points, s.sites[k].plane)
		}
	}
	slices.SortFunc(points, func(a, b [2]float64) int { return slices.Compare(a[:], b[:]) })
	points = slices.Compact(points)
	if len(points) < 3 {
		return points
	}
	chain := func(list [][2]float64) [][2]float64 {
		var out [][2]float64
		for _, p := range list {
			for len(out) > 1 {
				a, b := out[len(out)-2], out[len(out)-1]
				if float64((b[0]-a[0])*(p[1]-a[1]))-float64((b[1]-a[1])*(p[0]-a[0])) > 0 {
					break
				}
				out = out[:len(out)-1]
			}
			out = append(out, p)
		}
		return out[:len(out)-1]
	}
	lower := chain(points)
	slices.Reverse(points)
	return append(lower, chain(points)...)
}

// beyondHull is how far a place lies outside a hull, in its units; 0 inside.
func beyondHull(hull [][2]float64, p [2]float64) float64 {
	far, inside := math.Inf(1), len(hull) > 2
	for k := range hull {
		a, b := hull[k], hull[(k+1)%len(hull)]
		dx, dy := b[0]-a[0], b[1]-a[1]
		px, py := p[0]-a[0], p[1]-a[1]
		if dx*py-dy*px < 0 {
			inside = false
		}
		t := 0.0
		if l := dx*dx + dy*dy; l > 0 {
			t = math.Min(1, math.Max(0, (px*dx+py*dy)/l))
		}
		far = math.Min(far, math.Hypot(px-t*dx, py-t*dy))
	}
	if inside {
		return 0
	}
	return far
}

// longitudes returns the range of longitude that holds all sites with the widest free sector left out; round is true
// when no sector of at least a sixth of the circle is free.
func (s *survey) longitudes() (from, to float64, round bool) {
	lon := make([]float64, len(s.sites))
	for k := range s.sites {
		lon[k] = math.Mod(s.sites[k].cast.At[0]+720, 360)
	}
	slices.Sort(lon)
	n := len(lon)
	widest, at := lon[0]+360-lon[n-1], 0 // the sector before the first
	for k := 1; k < n; k++ {
		if d := lon[k] - lon[k-1]; d > widest {
			widest, at = d, k
		}
	}
	if widest < 60 {
		return -180, 180, true
	}
	from = lon[at]
	if from >= 180 {
		from -= 360
	}
	return from, from + 360 - widest, false
}

func given(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// fieldColumns lays the columns of a field, longitude fastest.
func (s *survey) fieldColumns(lon, lat *Axis) []column {
	nlon := len(lon.Values)
	cols := make([]column, nlon*len(lat.Values))
	frame, hull := s.frameOf(), s.hull(nil)
	own := s.spacingOf()
	bottoms := s.bottomTriangles()
	parallel(len(cols), s.opt.Workers, func(w *work, k int) {
		c := &cols[k]
		c.at = orb.Point{section.Wrap180(lon.Values[k%nlon]), lat.Values[k/nlon]}
		c.plane = frame.place(c.at)
		s.place(c, own, nil)
		c.near = nearestTwo(c.h)
		a, b := c.h[c.near[0]], c.h[c.near[1]]
		if a+b > 0 {
			c.share = a / (a + b)
		}
		c.outside = beyondHull(hull, c.plane)*1000 > c.lengthKm/2
		c.bottomM, c.bottomDbar = math.NaN(), math.NaN()
		if s.opt.WaterDepthM != nil {
			c.sound(s.opt.WaterDepthM)
		} else {
			bottoms.at(w, c)
		}
	})
	return cols
}

// fieldAxes lays longitudes and latitudes over an area, from the casts where the area does not say.
func (s *survey) fieldAxes(area Area) (lon, lat Axis, err error) {
	lonMin, lonMax, round := s.longitudes()
	latMin, latMax := math.Inf(1), math.Inf(-1)
	for k := range s.sites {
		latMin, latMax = math.Min(latMin, s.sites[k].cast.At[1]), math.Max(latMax, s.sites[k].cast.At[1])
	}
	spacing := s.medianSpacing(s.spacingOf())
	stepLat, stepLon := area.StepLatDeg, area.StepLonDeg
	const kmPerDeg = 111.2
	if !positive(stepLat) {
		stepLat = roundStep(math.Max(spacing/4/kmPerDeg, (latMax-latMin)/200))
	}
	if !positive(stepLon) {
		middle := math.Min(math.Abs(latMin+latMax)/2, 89)
		stepLon = roundStep(math.Max(spacing/4/(kmPerDeg*math.Cos(middle*math.Pi/180)), (lonMax-lonMin)/200))
	}
	frameOf := func(lo, hi, askedLo, askedHi, step float64) (float64, int) {
		lo, hi = math.Floor(lo/step+1e-9)*step, math.Ceil(hi/step-1e-9)*step
		if given(askedLo) {
			lo = askedLo
		}
		if given(askedHi) {
			hi = askedHi
		}
		return lo, int(math.Floor((hi-lo)/step+1e-9)) + 1
	}
	if given(area.LonMin) && given(area.LonMax) && area.LonMax < area.LonMin {
		area.LonMax += 360
	}
	if round {
		stepLon = 360 / math.Round(360/stepLon)
	}
	lon0, nlon := frameOf(lonMin, lonMax, area.LonMin, area.LonMax, stepLon)
	lat0, nlat := frameOf(latMin, latMax, area.LatMin, area.LatMax, stepLat)
	if round && !given(area.LonMin) && !given(area.LonMax) {
		nlon = int(math.Round(360 / stepLon)) // -180 and 180 are one column
	}
	for nlat > 1 && lat0+float64(nlat-1)*stepLat > 90+1e-9 {
		nlat--
	}
	if lat0 < -90 || nlon < 1 || nlat < 1 {
		return lon, lat, fmt.Errorf("%w: the area %g to %g E, %g to %g N holds no grid point", ErrUnknown, area.LonMin,
			area.LonMax, area.LatMin, area.LatMax)
	}
	if float64(nlon)*float64(nlat) > mostPoints {
		return lon, lat, fmt.Errorf("%w: %d x %d columns", ErrTooLarge, nlon, nlat)
	}
	lon, lat = Axis{Variable: variable("lon"), Values: make([]float64, nlon)},
		Axis{Variable: variable("lat"), Values: make([]float64, nlat)}
	for j := range lon.Values {
		lon.Values[j] = lon0 + float64(float64(j)*stepLon)
	}
	for i := range lat.Values {
		lat.Values[i] = lat0 + float64(float64(i)*stepLat)
	}
	lon.Bounds, lat.Bounds = cellBounds(lon.Values), cellBounds(lat.Values)
	for i := range lat.Bounds {
		lat.Bounds[i] = [2]float64{math.Max(lat.Bounds[i][0], -90), math.Min(lat.Bounds[i][1], 90)}
	}
	return lon, lat, nil
}

func nearestTwo(h []float64) [2]int {
	out := [2]int{0, 0}
	for k := range h {
		if h[k] < h[out[0]] {
			out[0] = k
		}
	}
	for k := range h {
		if k != out[0] && (out[1] == out[0] || h[k] < h[out[1]]) {
			out[1] = k
		}
	}
	return out
}

// bottomPlanes interpolates the bottoms of casts on triangles between them; outside, the nearest cast's holds.
type bottomPlanes struct {
	t     *delaunay.Triangulation
	sites []int
	m     []float64
	dbar  []float64
}

func (s *survey) bottomTriangles() *bottomPlanes {
	b := &bottomPlanes{}
	var x, y []float64
	var m, dbar []float64
	for k := range s.sites {
		if t := &s.sites[k]; !math.IsNaN(t.bottomDbar) {
			x, y = append(x, t.plane[0]), append(y, t.plane[1])
			m, dbar = append(m, t.cast.BottomM), append(dbar, t.bottomDbar)
			b.sites = append(b.sites, k)
		}
	}
	b.t = delaunay.New(x, y)
	both := b.t.Means([][]float64{m, dbar})
	b.m, b.dbar = both[0], both[1]
	return b
}

func (b *bottomPlanes) at(w *work, c *column) {
	if len(b.sites) == 0 {
		return
	}
	w.tri.Restart()
	if b.t.Find(&w.tri, false, c.plane[0], c.plane[1]) {
		c.bottomM, c.bottomDbar = w.tri.Value(b.m), w.tri.Value(b.dbar)
		return
	}
	best := 0
	for n, k := range b.sites {
		if c.h[k] < c.h[b.sites[best]] {
			best = n
		}
	}
	v := b.t.Vertex(best)
	c.bottomM, c.bottomDbar = b.m[v], b.dbar[v]
}
