//go:build cgo

package verify

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// A time series of an archive without inputs is compared with the file of all casts, and its casts are chosen again:
// every change of it is found when its checksum is made right.
func TestSeriesWithoutInputs(t *testing.T) {
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../../testdata/cruises/yoyo")); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "cruise.yaml")
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, append(b, "figures: none\ninputs: omit\n"...), 0o644); err != nil {
		t.Fatal(err)
	}
	p, err := pipeline.Build(t.Context(), pipeline.Plan{CruiseFile: file, Out: dir})
	if err != nil || p.Path == "" {
		t.Fatal(p.Findings, err)
	}
	r, err := Archive(t.Context(), Plan{Path: p.Path})
	if err != nil || r.Faults() > 0 || !strings.Contains(r.Again, "1 of 1 time series") {
		t.Fatalf("untouched: %v %v %s", r.Findings, err, r.Again)
	}
	e := startEditor(t)
	for _, variable := range []string{"temp", "sigma0", "temp_flag_woce", "time", "cast_lat", "lat", "pres",
		"profile_id", "cast_role", "series_id"} {
		dir := filepath.Join(t.TempDir(), filepath.Base(p.Path))
		if err := copyOf(p.Path, dir); err != nil {
			t.Fatal(err)
		}
		_, err := e.edit(filepath.Join(dir, "data/sections/tide_time_series.nc"), 1, "variable "+variable)
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
