package handover_test

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/handover"
)

// What is computed from the casts, a difference from a reference too, is in the set of a repository only; the README of
// the other sets names what they leave out.
func TestProductsAreForRepositories(t *testing.T) {
	const line = "sections: [{name: strait, stations: 1-2"
	old := build(t, full+line+"}]\n")
	grid, err := os.ReadFile(filepath.Join(old, "data/sections/strait_grid.nc"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "casts"), os.DirFS(casts)); err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(dir, "earlier.nc"), string(grid))
	archive := buildIn(t, dir, strings.Replace(full, "sources: [casts]",
		"sources: [casts/ZZSM20260504_00001_00001_ct1.csv, casts/ZZSM20260504_00002_00001_ct1.csv]", 1)+line+
		", anomaly: earlier.nc}]\n")
	for _, to := range handover.Recipients() {
		r, _ := run(t, archive, to, true)
		readme, err := os.ReadFile(filepath.Join(r.Path, "README.txt"))
		if err != nil {
			t.Fatal(err)
		}
		whole := to == handover.Repository
		if slices.ContainsFunc(r.Files, func(f string) bool {
			return strings.HasSuffix(f, "strait_anomaly.nc")
		}) != whole {
			t.Errorf("%s: files %q", to, r.Files)
		}
		if strings.Contains(string(readme), "Not in this set, since they are computed from the casts: mapped "+
			"sections, velocities and transports, differences of sections from a reference. The archive full has "+
			"them.") == whole {
			t.Errorf("%s: %s", to, readme)
		}
	}
}
