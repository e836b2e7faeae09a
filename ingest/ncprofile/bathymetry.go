// Package ncprofile reads CF NetCDF: the casts of profile files, and grids of water depth.
//
//	f, err := nc.OpenFile("/abs/ID_ctd.nc")
//	casts, err := ncprofile.ReadCasts(f)
//
// A file not covered by a verified checksum is read in a child process (cmd/internal/child).
package ncprofile

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
	"github.com/paulmach/orb"
)

// A DepthGrid is water depth on longitudes and latitudes.
type DepthGrid struct {
	Lon, Lat []float64 // degrees east and north, increasing
	// depth below the sea surface in metres, row by row of Lat; above the water negative, NaN where there is no data
	DepthM []float64
}

// mostDepths bounds what is read of a grid.
const mostDepths = 20_000_000

// Names by which the quantity is known: standard names of the CF table, and the short names that files without one
// use.
var (
	depthNames = []string{"sea_floor_depth_below_sea_surface", "sea_floor_depth_below_mean_sea_level",
		"sea_floor_depth_below_geoid", "sea_floor_depth"}
	heightNames = []string{"height_above_mean_sea_level", "surface_altitude", "bedrock_altitude", "altitude",
		"height_above_geopotential_datum"}
	shortDepth  = []string{"depth", "bathymetry", "water_depth"}
	shortHeight = []string{"elevation", "topo", "z", "altitude", "height"}
)

// ReadDepthGrid reads the part of a CF grid that covers the box from west to east (degrees; east may exceed 180) and
// from south to north, with one grid step more on each side. The file has one-dimensional coordinates in degrees_east
// and degrees_north and a variable on them that is a depth or a height of the sea floor, in metres or another unit of
// length. path is absolute and cleaned.
func ReadDepthGrid(path string, west, east, south, north float64) (*DepthGrid, error) {
	f, err := nc.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	s := f.Schema()
	v, x, y, sign, err := depthVariable(s)
	if err != nil {
		return nil, err
	}
	lons, err := axis(f, x)
	if err != nil {
		return nil, err
	}
	lats, err := axis(f, y)
	if err != nil {
		return nil, err
	}
	x0, x1 := window(lons, func(v float64) bool {
		for k := -360.0; k <= 360; k += 360 {
			if v+k >= west && v+k <= east {
				return true
			}
		}
		return false
	}, west, east, 360)
	y0, y1 := window(lats, func(v float64) bool { return v >= south && v <= north }, south, north, 0)
	if x1 <= x0 || y1 <= y0 {
		return nil, fmt.Errorf("the grid does not reach the casts: it has longitudes %g to %g and latitudes %g to %g",
			lons[0], lons[len(lons)-1], lats[0], lats[len(lats)-1])
	}
	nx, ny := x1-x0, y1-y0
	if nx*ny > mostDepths {
		return nil, fmt.Errorf("%d by %d values around the casts are too many; the limit is %d", nx, ny, mostDepths)
	}
	start, count := []int{y0, x0}, []int{ny, nx}
	across := s.Vars[v].Dims[0] == s.Vars[x].Dims[0] // longitude is the slower dimension
	if across {
		start, count = []int{x0, y0}, []int{nx, ny}
	}
	raw := make([]float64, nx*ny)
	if err := f.ReadFloat64(v, start, count, raw); err != nil {
		return nil, err
	}
	convert, err := meaning(&s.Vars[v])
	if err != nil {
		return nil, err
	}
	g := &DepthGrid{Lon: slices.Clone(lons[x0:x1]), Lat: slices.Clone(lats[y0:y1]), DepthM: make([]float64, nx*ny)}
	for j := range ny {
		for i := range nx {
			k := j*nx + i
			if across {
				k = i*ny + j
			}
			g.DepthM[j*nx+i] = sign * convert(raw[k])
		}
	}
	g.turn()
	return g, nil
}

// depthVariable finds the variable and its coordinates; sign is -1 for heights.
func depthVariable(s *nc.Schema) (v, x, y int, sign float64, err error) {
	find := func(is func(standardName, units string) bool) int {
		return slices.IndexFunc(s.Vars, func(c nc.Var) bool {
			return len(c.Dims) == 1 && c.Type.Numeric() && is(c.Text("standard_name"), c.Text("units"))
		})
	}
	x, y = find(metadata.IsLongitude), find(metadata.IsLatitude)
	if x < 0 || y < 0 || s.Vars[x].Dims[0] == s.Vars[y].Dims[0] {
		return 0, 0, 0, 0, fmt.Errorf("no longitude (degrees_east) and latitude (degrees_north) with a dimension each")
	}
	plane := slices.Sorted(slices.Values([]int{s.Vars[x].Dims[0], s.Vars[y].Dims[0]}))
	on := func(i int) bool {
		d := slices.Sorted(slices.Values(s.Vars[i].Dims))
		return s.Vars[i].Type.Numeric() && slices.Equal(d, plane)
	}
	var seen []string
	for _, by := range []struct {
		names []string
		of    func(*nc.Var) string
		sign  float64
	}{{depthNames, func(v *nc.Var) string { return v.Text("standard_name") }, 1},
		{heightNames, func(v *nc.Var) string { return v.Text("standard_name") }, -1},
		{shortDepth, func(v *nc.Var) string { return strings.ToLower(v.Name) }, 1},
		{shortHeight, func(v *nc.Var) string { return strings.ToLower(v.Name) }, -1}} {
		for i := range s.Vars {
			if !on(i) || !slices.Contains(by.names, by.of(&s.Vars[i])) {
				continue
			}
			switch s.Vars[i].Text("positive") {
			case "down":
				return i, x, y, 1, nil
			case "up":
				return i, x, y, -1, nil
			}
			return i, x, y, by.sign, nil
		}
	}
	for i := range s.Vars {
		if on(i) {
			seen = append(seen, s.Vars[i].Name)
		}
	}
	if len(seen) == 0 {
		return 0, 0, 0, 0, fmt.Errorf("no variable on longitude and latitude")
	}
	return 0, 0, 0, 0,
		fmt.Errorf(
			"none of the variables %s says that it is the depth or height of the sea floor (standard_name %s or %s)",
			strings.Join(seen, ", "), depthNames[0], heightNames[0])
}

// axis reads a coordinate, which must run one way.
func axis(f nc.Reader, v int) ([]float64, error) {
	s := f.Schema()
	name, n := s.Vars[v].Name, s.Len(v)
	if n < 2 || n > 1_000_000 {
		return nil, fmt.Errorf("%s has %d values", name, n)
	}
	out := make([]float64, n)
	if err := f.ReadFloat64(v, nil, nil, out); err != nil {
		return nil, err
	}
	for i := range out {
		if math.IsNaN(out[i]) || math.Abs(out[i]) > 1000 || i > 0 && (out[i] > out[i-1]) != (out[1] > out[0]) ||
			i > 0 && out[i] == out[i-1] {
			return nil, fmt.Errorf("%s does not run one way: %g at place %d", name, out[i], i+1)
		}
	}
	return out, nil
}

// window returns the part of an axis whose values are wanted and one step more on each side. A box inside one cell
// has no value in it: then the cell is taken.
func window(v []float64, wanted func(float64) bool, low, high, period float64) (from, to int) {
	from, to = len(v), 0
	for i := range v {
		if wanted(v[i]) {
			from, to = min(from, i), max(to, i+1)
		}
	}
	if to <= from {
		mid := (low + high) / 2
		for k := -period; k <= period; k += max(period, 1) {
			for i := 1; i < len(v); i++ {
				if a, b := min(v[i-1], v[i]), max(v[i-1], v[i]); mid+k >= a && mid+k <= b {
					return i - 1, i + 1
				}
			}
		}
		return 0, 0
	}
	return max(from-1, 0), min(to+1, len(v))
}

// meaning returns a function that turns a stored number into metres, a missing one into NaN.
func meaning(v *nc.Var) (func(float64) float64, error) {
	unit := v.Text("units")
	if unit == "" {
		unit = "m"
	}
	c, err := units.Convert(unit, "m")
	if err != nil {
		return nil, fmt.Errorf("%s: %w", v.Name, err)
	}
	scale, offset := v.Number("scale_factor", 1), v.Number("add_offset", 0)
	missing := slices.Concat(v.Floats("_FillValue"), v.Floats("missing_value"))
	return func(x float64) float64 {
		if slices.Contains(missing, x) || math.IsInf(x, 0) || math.Abs(x) > 1e30 {
			return math.NaN()
		}
		m := c.Of(float64(x*scale) + offset)
		if math.Abs(m) > 12000 {
			return math.NaN()
		}
		return m
	}, nil
}

// turn makes both axes increase.
func (g *DepthGrid) turn() {
	nx, ny := len(g.Lon), len(g.Lat)
	if g.Lon[0] > g.Lon[nx-1] {
		slices.Reverse(g.Lon)
		for j := range ny {
			slices.Reverse(g.DepthM[j*nx : (j+1)*nx])
		}
	}
	if g.Lat[0] > g.Lat[ny-1] {
		slices.Reverse(g.Lat)
		slices.Reverse(g.DepthM)
		for j := range ny {
			slices.Reverse(g.DepthM[j*nx : (j+1)*nx])
		}
	}
}

// At returns the depth at a position, bilinear between the four values around it; NaN outside the grid and beside
// missing values.
func (g *DepthGrid) At(p orb.Point) float64 {
	d, a, b := g.around(p)
	low := float64((1-a)*d[0]) + float64(a*d[1])
	high := float64((1-a)*d[2]) + float64(a*d[3])
	return float64((1-b)*low) + float64(b*high)
}

// Land reports whether all four nodes around a position are at or above sea level. One node says nothing of the
// places around it.
func (g *DepthGrid) Land(p orb.Point) bool {
	d, _, _ := g.around(p)
	return d[0] <= 0 && d[1] <= 0 && d[2] <= 0 && d[3] <= 0
}

// around returns the depths at the four nodes around a position, south before north and west before east, and how
// far it is from the first node to the east and to the north, as parts of a step; NaN outside the grid.
func (g *DepthGrid) around(p orb.Point) (d [4]float64, east, north float64) {
	lon := p[0]
	for lon < g.Lon[0] {
		lon += 360
	}
	for lon-360 >= g.Lon[0] {
		lon -= 360
	}
	i, a := cell(g.Lon, lon)
	j, b := cell(g.Lat, p[1])
	if i < 0 || j < 0 {
		nan := math.NaN()
		return [4]float64{nan, nan, nan, nan}, nan, nan
	}
	n := len(g.Lon)
	return [4]float64{g.DepthM[j*n+i], g.DepthM[j*n+i+1], g.DepthM[(j+1)*n+i], g.DepthM[(j+1)*n+i+1]}, a, b
}

// cell returns the step of an axis that holds x, and how far x is into it.
func cell(v []float64, x float64) (int, float64) {
	k := sort.SearchFloat64s(v, x)
	if k == 0 && x == v[0] {
		k = 1
	}
	if k < 1 || k >= len(v) {
		return -1, 0
	}
	return k - 1, (x - v[k-1]) / (v[k] - v[k-1])
}
