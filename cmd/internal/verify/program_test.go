//go:build cgo

package verify

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// TestVersions verifies an archive with the version that made it, whose child makes it again, and with another, which
// says so.
func TestVersions(t *testing.T) {
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../../testdata/cruises/lake")); err != nil {
		t.Fatal(err)
	}
	p, err := pipeline.Build(t.Context(), pipeline.Plan{Program: "castwright 9.8.7",
		CruiseFile: filepath.Join(dir, "cruise.yaml"), Out: t.TempDir()})
	if err != nil || p.Path == "" {
		t.Fatal(p.Findings, err)
	}
	for program, same := range map[string]bool{"castwright 9.8.7": true, "castwright 9.8.6": false} {
		r, err := Archive(t.Context(), Plan{Program: program, Path: p.Path})
		if err != nil || r.Faults() > 0 {
			t.Fatalf("%s: %v %v", program, r.Findings, err)
		}
		other := false
		for _, f := range r.Findings {
			other = other || strings.Contains(f.Message, "another version")
		}
		if strings.HasPrefix(r.Again, "everything from the inputs") != same || other == same {
			t.Errorf("%s: computed again: %s; said to be of another version: %v", program, r.Again, other)
		}
	}
}
