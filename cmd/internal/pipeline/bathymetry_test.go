package pipeline_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/depthfile"
	"github.com/castwright/castwright/internal/nc"
)

// A grid of depth masks sections below the sea floor between the casts, names casts on land, and goes into the
// archive. A file that is none, or damaged, is an error of the cruise file, whatever it does to the library.
func TestBathymetry(t *testing.T) {
	// A ridge of 60 m between two casts, one node above the sea, and land of four nodes in the north.
	values := []float64{150, 150, 90, 60, 150, 150, -5, 150, 150, -5, -5, 150, -5, -5, 150}
	lons, lats := []float64{-21, -20, -19}, []float64{60, 60.1, 60.2, 60.3, 60.4}
	path := depthfile.Write(t, lons, lats, values, nc.Var{Name: "depth", Type: nc.Double, Dims: []int{0, 1},
		Attrs: []nc.Attr{{Name: "units", Value: "m"}}})
	grid, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]string{
		"cruise.yaml": "cruise: {id: y}\nfigures: none\ncasts: {sources: [casts], bathymetry: deep/grid.nc}\n" +
			"sections: [{name: line, stations: 1-2, grid: {method: linear, step_km: 2, variables: [ctemp]}}]\n",
		"deep/grid.nc":    string(grid),
		"casts/1_ct1.csv": ctd(code, "1", "1", "20260502", "0100", "60.0", "-21.0", "150", 15),
		"casts/2_ct1.csv": ctd(code, "2", "1", "20260502", "0300", "60.2", "-20.9", "150", 15),
		"casts/3_ct1.csv": ctd(code, "3", "1", "20260502", "0500", "60.2", "-21.0", "150", 15),
		"casts/4_ct1.csv": ctd(code, "4", "1", "20260502", "0900", "60.35", "-20.5", "150", 15),
	}
	p := check(t, files)
	expect(t, told(p, "position"), []string{"warning casts/4_ct1.csv: latitude 60.3500, longitude -20.5000 is on land" +
		" [position] > compare the position with the log"})
	masked := func(a string) int {
		v, shape := read(t, filepath.Join(a, "data/sections/line_grid.nc"), "ctemp")
		n := 0
		for _, x := range v {
			if math.IsNaN(x) {
				n++
			}
		}
		if len(v) == 0 {
			t.Fatal(shape)
		}
		return n
	}
	a := build(t, files)
	with := masked(a)
	if !strings.Contains(contents(t, a, "data/inputs/inputs.csv"), "deep/grid.nc") ||
		len(activities(t, a, "bathymetry")) != 1 {
		t.Error("the grid is not among the inputs or records")
	}
	files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], ", bathymetry: deep/grid.nc", "", 1)
	if without := masked(build(t, files)); with <= without {
		t.Errorf("%d values masked with the ridge, %d without", with, without)
	}
	files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], "[casts]", "[casts], bathymetry: deep/grid.nc", 1)
	for name, c := range map[string]struct{ text, want string }{
		"missing":      {"", "not there"},
		"no NetCDF":    {"hello", "bathymetry deep/grid.nc: "},
		"cut short":    {string(grid[:len(grid)/2]), "bathymetry deep/grid.nc: "},
		"zeros inside": {string(grid[:600]) + strings.Repeat("\x00", 900) + string(grid[1500:]), ""},
	} {
		files["deep/grid.nc"] = c.text
		if c.text == "" {
			delete(files, "deep/grid.nc")
		}
		got := told(check(t, files), "input.bathymetry")
		if c.want == "" { // whatever the damage did, the program is still there
			continue
		}
		if len(got) != 1 || !strings.HasPrefix(got[0], "error cruise.yaml:3:") || !strings.Contains(got[0], c.want) ||
			!strings.Contains(got[0], "take the key bathymetry out") {
			t.Errorf("%s: %v", name, got)
		}
	}
}
