package pipeline_test

import (
	"math"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
)

// What the cruise file takes under derived is what can be derived, neither more nor less: nothing that check accepts may stop a build.
func TestDerivedOfCruiseFile(t *testing.T) {
	cast := func() *section.Cast {
		col := func(name string, v float64) section.Column {
			return section.Column{Variable: metadata.MustVariable(name), Values: []float64{v}}
		}
		return &section.Cast{At: [2]float64{-20, 60}, BottomM: math.NaN(), PressureDbar: []float64{10},
			Columns: []section.Column{col("pres", 10), col("temp", 5), col("psal", 35), col("oxy_ml", 6)}}
	}
	taken := 0
	for _, v := range metadata.Variables() {
		c, _, err := cruisefile.Read([]byte("cruise: {id: a}\ncasts: {sources: casts}\nderived: ["+v.Name+"]\n"), "cruise.yaml")
		if can := slices.Contains(slices.Concat(derived.Extras(), derived.Default()), v.Name); (err == nil) != can {
			t.Errorf("%s can be derived: %v; the cruise file says: %v", v.Name, can, err)
		}
		if err != nil {
			if !strings.HasPrefix(err.Error(), "cruise.yaml:3:11: derived is ") {
				t.Errorf("%s: %v", v.Name, err)
			}
			continue
		}
		taken++
		k := cast()
		if _, err := derived.Columns(k, derived.Options{Extra: c.Derived}, nil); err != nil {
			t.Errorf("%s: %v", v.Name, err)
		}
		if x := k.Column(v.Name); v.Name != "n2" && (x == nil || math.IsNaN(x.Values[0])) { // n2 needs more than one level
			t.Errorf("%s was asked for and has no value", v.Name)
		}
	}
	if taken != 17 {
		t.Errorf("%d names taken", taken)
	}
}

// Density that is asked for beside salinity and temperature is the one computed from the mapped two, once.
func TestGridWithItsDensity(t *testing.T) {
	files := demo(t, "stations: 1-10, reference: deepest", "stations: 1-3, grid: {method: linear, variables: [sigma0, ctemp, asal]}")
	files["cruise.yaml"] += "figures: none\n"
	got := header(t, filepath.Join(build(t, files), "data/sections/strait_grid.nc"))
	if n := strings.Count(got, "double sigma0("); n != 1 || !strings.Contains(got, "computed from gridded Absolute Salinity") {
		t.Errorf("%d fields of sigma0 in\n%s", n, got)
	}
}

// header gives the header of a NetCDF file as ncdump prints it.
func header(t *testing.T, path string) string {
	t.Helper()
	out, err := exec.Command("ncdump", "-h", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	return string(out)
}
