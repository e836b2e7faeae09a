//go:build cgo

package verify

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// withoutInputs builds a committed cruise without figures and without its inputs, after its cruise file is changed.
func withoutInputs(t *testing.T, name string, change func(string) string) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../../testdata/cruises/"+name)); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "cruise.yaml")
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	text := change(string(b)) + "figures: none\ninputs: omit\n"
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	p, err := pipeline.Build(t.Context(), pipeline.Plan{CruiseFile: file, Out: dir})
	if err != nil || p.Path == "" {
		t.Fatal(p.Findings, err)
	}
	return p.Path
}

// eachChanged changes variables of a file of an archive, one at a time, makes its checksums right and asks that the
// change is found.
func eachChanged(t *testing.T, archive, rel string, variables ...string) {
	t.Helper()
	e := startEditor(t)
	for _, variable := range variables {
		dir := filepath.Join(t.TempDir(), filepath.Base(archive))
		if err := copyOf(archive, dir); err != nil {
			t.Fatal(err)
		}
		_, err := e.edit(filepath.Join(dir, rel), 1, "variable "+variable)
		if err == nil {
			err = repair(dir)
		}
		if err != nil {
			t.Fatal(variable, err)
		}
		if r, err := Archive(t.Context(), Plan{Path: dir}); err != nil || r.Faults() == 0 {
			t.Errorf("a change of %s is not found: %v", variable, err)
		}
	}
}

// A time series of an archive without inputs is compared with the file of all casts, and its casts are chosen again:
// every change of it is found when its checksum is made right.
func TestSeriesWithoutInputs(t *testing.T) {
	archive := withoutInputs(t, "yoyo", func(s string) string { return s })
	r, err := Archive(t.Context(), Plan{Path: archive})
	if err != nil || r.Faults() > 0 || !strings.Contains(r.Again, "1 of 1 time series") {
		t.Fatalf("untouched: %v %v %s", r.Findings, err, r.Again)
	}
	eachChanged(t, archive, "data/sections/tide_time_series.nc", "temp", "sigma0", "temp_flag_woce", "time",
		"cast_lat", "lat", "pres", "profile_id", "cast_role", "series_id")
}

// Fields on surfaces of density are found again in the stored field.
func TestSurfacesWithoutInputs(t *testing.T) {
	archive := withoutInputs(t, "shelf", func(s string) string {
		return strings.Replace(s, "{name: survey, grid: {variables: [ctemp, asal]}",
			"{name: survey, grid: {variables: [ctemp, asal]}, surfaces: {sigma0: [26.2, 26.4, 26.6]}", 1)
	})
	r, err := Archive(t.Context(), Plan{Path: archive})
	if err != nil || r.Faults() > 0 || !strings.Contains(r.Again, "fields on surfaces of density: 1") {
		t.Fatalf("untouched: %v %v %s", r.Findings, err, r.Again)
	}
	eachChanged(t, archive, "data/fields/survey_sigma0.nc", "pres", "pres_err", "ctemp", "asal_err", "ctemp_mask")
}
