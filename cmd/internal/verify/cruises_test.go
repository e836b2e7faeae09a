//go:build cgo

package verify

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// TestCommittedCruises builds each cruise of testdata/cruises, without a warning where the defaults suit it, and
// verifies its archive.
func TestCommittedCruises(t *testing.T) {
	files, err := filepath.Glob("../../../testdata/cruises/*/cruise.yaml")
	if err != nil || len(files) != 6 {
		t.Fatal(files, err)
	}
	for _, file := range files {
		t.Run(filepath.Base(filepath.Dir(file)), func(t *testing.T) {
			t.Parallel()
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir()
			if err := os.CopyFS(dir, os.DirFS(filepath.Dir(file))); err != nil {
				t.Fatal(err)
			}
			file := filepath.Join(dir, "cruise.yaml")
			if err := os.WriteFile(file, append(b, "figures: none\n"...), 0o644); err != nil {
				t.Fatal(err)
			}
			p, err := pipeline.Build(t.Context(), pipeline.Plan{CruiseFile: file, Out: t.TempDir()})
			if err != nil || p.Path == "" {
				t.Fatal(p.Findings, err)
			}
			r, err := Archive(t.Context(), Plan{Path: p.Path})
			if err != nil || r.Faults() > 0 {
				t.Errorf("%v %v", r.Findings, err)
			}
		})
	}
}

// TestCommittedCruisesAreGenerated compares the committed casts with what their generator writes.
func TestCommittedCruisesAreGenerated(t *testing.T) {
	dir := t.TempDir()
	c := exec.Command("go", "run", "./testdata/cruises/generate", "-out", dir)
	c.Dir = "../../.."
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	names, err := filepath.Glob("../../../testdata/cruises/*/casts/*.csv")
	if err != nil || len(names) != 57 {
		t.Fatal(len(names), err)
	}
	for _, name := range names {
		rel, err := filepath.Rel("../../../testdata/cruises", name)
		if err != nil {
			t.Fatal(err)
		}
		want, err := os.ReadFile(filepath.Join(dir, rel))
		if err != nil {
			t.Error(err)
			continue
		}
		if got, err := os.ReadFile(name); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s differs from what the generator writes: %v", rel, err)
		}
	}
}
