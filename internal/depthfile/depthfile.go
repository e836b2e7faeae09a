// Package depthfile writes grids of water depth for tests.
package depthfile

import (
	"path/filepath"
	"testing"

	"github.com/castwright/castwright/internal/nc"
)

// Write writes a NetCDF file of a variable v over latitude and longitude (degrees), in a folder of the test, and gives
// its path. values are as they lie in the file, in the Go type of v, latitude by latitude.
func Write(t testing.TB, lon, lat []float64, values any, v nc.Var) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "g.nc")
	s := &nc.Schema{Dims: []nc.Dim{{Name: "lat", Len: len(lat)}, {Name: "lon", Len: len(lon)}}, Vars: []nc.Var{
		{Name: "lat", Type: nc.Double, Dims: []int{0}, Attrs: []nc.Attr{{Name: "units", Value: "degrees_north"}}},
		{Name: "lon", Type: nc.Double, Dims: []int{1}, Attrs: []nc.Attr{{Name: "units", Value: "degrees_east"}}}, v}}
	w, err := nc.Create(path, s)
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range []any{lat, lon, values} {
		if err := w.Write(i, x); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}
