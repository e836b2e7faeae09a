//go:build cgo

package ncprofile_test

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/depthfile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/paulmach/orb"
)

// Depths and heights, downwards and upwards, short integers with a scale, longitudes to 360, missing values: the same
// depth at the same place.
func TestDepthGrid(t *testing.T) {
	text := func(name, value string) nc.Attr { return nc.Attr{Name: name, Value: value} }
	// Depth 1000 + 10 (lon + 20) + 100 (lat - 60): bilinear interpolation is exact.
	want := func(lon, lat float64) float64 { return 1000 + 10*(lon+20) + 100*(lat-60) }
	lons, lats := []float64{-22, -21, -20, -18}, []float64{59, 60, 61}
	fill := func(lon, lat []float64, sign float64) (out []float64) {
		for _, y := range lat {
			for _, x := range lon {
				if x > 180 {
					x -= 360
				}
				out = append(out, sign*want(x, y))
			}
		}
		return out
	}
	turned := []float64{61, 60, 59}
	round := []float64{338, 339, 340, 342}
	shorts := make([]int16, 12)
	for i, v := range fill(lons, lats, -1) {
		shorts[i] = int16(math.Round((v + 100) / 0.5))
	}
	for name, path := range map[string]string{
		"depth": depthfile.Write(t, lons, lats, fill(lons, lats, 1),
			nc.Var{Name: "h", Type: nc.Double, Dims: []int{0, 1}, Attrs: []nc.Attr{text("units", "m"),
				text("standard_name", "sea_floor_depth_below_geoid")}}),
		"height, from the north": depthfile.Write(t, lons, turned, fill(lons, turned, -1),
			nc.Var{Name: "elevation", Type: nc.Double, Dims: []int{0, 1}, Attrs: []nc.Attr{text("units", "m")}}),
		"to 360": depthfile.Write(t, round, lats, fill(round, lats, 1),
			nc.Var{Name: "depth", Type: nc.Double, Dims: []int{0, 1}, Attrs: []nc.Attr{text("units", "m"),
				text("positive", "down")}}),
		"packed": depthfile.Write(t, lons, lats, shorts,
			nc.Var{Name: "z", Type: nc.Short, Dims: []int{0, 1}, Attrs: []nc.Attr{text("units", "m"),
				{Name: "scale_factor", Value: 0.5}, {Name: "add_offset", Value: -100.0}}}),
	} {
		g, err := ncprofile.ReadDepthGrid(path, -20.6, -20.4, 60.2, 60.3)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for _, p := range []orb.Point{{-20.5, 60.25}, {-21, 60}, {-20.01, 60.99}} {
			if got := g.At(p); !(math.Abs(got-want(p[0], p[1])) < 1e-9) {
				t.Errorf("%s: %v at %v, want %v", name, got, p, want(p[0], p[1]))
			}
		}
		if got := g.At(orb.Point{-10, 60}); !math.IsNaN(got) {
			t.Errorf("%s: %v outside", name, got)
		}
	}
}

// Longitude as the slower dimension, kilometres, missing values of each kind, and a box inside one cell.
func TestDepthGridForms(t *testing.T) {
	lons, lats := []float64{-22, -21, -20}, []float64{59, 60}
	values := []int32{1, 2, 3, 4, -99, -32767} // rows of longitude
	path := filepath.Join(t.TempDir(), "g.nc")
	s := &nc.Schema{Dims: []nc.Dim{{Name: "x", Len: 3}, {Name: "y", Len: 2}}, Vars: []nc.Var{
		{Name: "x", Type: nc.Double, Dims: []int{0}, Attrs: []nc.Attr{{Name: "standard_name", Value: "longitude"}}},
		{Name: "y", Type: nc.Double, Dims: []int{1}, Attrs: []nc.Attr{{Name: "standard_name", Value: "latitude"}}},
		{Name: "h", Type: nc.Int, Dims: []int{0, 1}, Fill: int32(-32767), Attrs: []nc.Attr{{Name: "units", Value: "km"},
			{Name: "missing_value", Value: []int32{-99}},
			{Name: "positive", Value: "down"}, {Name: "standard_name", Value: "sea_floor_depth"}}}}}
	w, err := nc.Create(path, s)
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range []any{lons, lats, values} {
		if err := w.Write(i, x); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	g, err := ncprofile.ReadDepthGrid(path, -21.9, -20.1, 59.4, 59.6)
	if err != nil {
		t.Fatal(err)
	}
	if got := g.At(orb.Point{-21.5, 59.5}); got != 2500 {
		t.Errorf("%v m in the middle of four values, want 2500", got)
	}
	for _, p := range []orb.Point{{-20.5, 59.5}, {-20, 59}, {-20, 60}} {
		// beside missing_value and fill value, and on them
		if got := g.At(p); !math.IsNaN(got) {
			t.Errorf("%v m at %v, where values are missing", got, p)
		}
	}
	if g, err = ncprofile.ReadDepthGrid(path, -21.6, -21.5, 59.4, 59.6); err != nil || len(g.Lon) < 2 ||
		len(g.Lat) < 2 {
		t.Errorf("a box inside one cell: %v, %v", g, err)
	}
}

// What is no depth grid is refused in words.
func TestNoDepthGrid(t *testing.T) {
	m := []nc.Attr{{Name: "units", Value: "m"}}
	lons, lats, six := []float64{-22, -21, -20}, []float64{59, 60}, []float64{1, 2, 3, 4, 5, 6}
	for want, path := range map[string]string{
		"does not reach the casts": depthfile.Write(t, []float64{10, 11, 12}, lats, six,
			nc.Var{Name: "depth", Type: nc.Double, Dims: []int{0, 1}, Attrs: m}),
		"says that it is the depth or height": depthfile.Write(t, lons, lats, six,
			nc.Var{Name: "sst", Type: nc.Double, Dims: []int{0, 1}, Attrs: m}),
		"no variable on longitude and latitude": depthfile.Write(t, lons, lats, lats,
			nc.Var{Name: "depth", Type: nc.Double, Dims: []int{0}, Attrs: m}),
		"does not run one way": depthfile.Write(t, []float64{-22, -20, -21}, lats, six,
			nc.Var{Name: "depth", Type: nc.Double, Dims: []int{0, 1}, Attrs: m}),
		"unit": depthfile.Write(t, lons, lats, six,
			nc.Var{Name: "depth", Type: nc.Double, Dims: []int{0, 1},
				Attrs: []nc.Attr{{Name: "units", Value: "fathoms of old"}}}),
		"no longitude (degrees_east) and": lonely(t),
		"has 1 values": depthfile.Write(t, []float64{-21}, lats, lats,
			nc.Var{Name: "depth", Type: nc.Double, Dims: []int{0, 1}, Attrs: m}),
	} {
		g, err := ncprofile.ReadDepthGrid(path, -21.6, -20.4, 59.2, 59.8)
		if err == nil || !strings.Contains(err.Error(), want) || g != nil {
			t.Errorf("error %v, want %q", err, want)
		}
	}
	if _, err := ncprofile.ReadDepthGrid(filepath.Join(t.TempDir(), "none.nc"), 0, 1, 0, 1); err == nil {
		t.Error("a file that is not there is read")
	}
}

// lonely is a NetCDF file without coordinates.
func lonely(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "l.nc")
	w, err := nc.Create(path, &nc.Schema{Dims: []nc.Dim{{Name: "n", Len: 2}},
		Vars: []nc.Var{{Name: "depth", Type: nc.Double, Dims: []int{0}}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Write(0, []float64{1, 2}); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}
