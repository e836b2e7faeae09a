//go:build cgo

package pipeline_test

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/castwright/castwright/section/seawater"
)

// A field on surfaces of density has, where it has values, salinity and temperature of the density of the surface, to
// what straight lines between the levels of the field leave; each variable and surface has a map.
func TestFieldOnSurfaces(t *testing.T) {
	files := demo(t)
	files["cruise.yaml"] += "fields: [{name: survey, levels: [0, 50, 100, 150, 200, 250, 300, 350, 400], " +
		"surfaces: {sigma0: [27.2, 27.4]}}]\nfigures: {only: [field], formats: [svg]}\n"
	archive := build(t, files)
	file := filepath.Join(archive, "data/fields/survey_sigma0.nc")
	salt, shape := read(t, file, "asal")
	heat, _ := read(t, file, "ctemp")
	pres, _ := read(t, file, "pres")
	if len(shape) != 3 || shape[0] != 2 {
		t.Fatalf("asal has the shape %v", shape)
	}
	n := 0
	for i := range salt {
		if math.IsNaN(salt[i]) {
			continue
		}
		n++
		want := []float64{27.2, 27.4}[i/(len(salt)/2)]
		if d := seawater.Sigma0(salt[i], heat[i]) - want; math.Abs(d) > 0.01 || !(pres[i] >= 0 && pres[i] <= 400) {
			t.Errorf("node %d: %g kg/m3 from the density of the surface, at %g dbar", i, d, pres[i])
		}
	}
	maps, err := filepath.Glob(filepath.Join(archive, "data/figures/survey_*sigma0.svg"))
	if err != nil || n == 0 || len(maps) < 4 {
		t.Errorf("%d values, maps %v, %v", n, maps, err)
	}
}
