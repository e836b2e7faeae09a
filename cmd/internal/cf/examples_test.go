//go:build cgo

package cf

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/nc"
)

// compile makes a NetCDF file of CDL text, NetCDF-4 classic model unless kind says otherwise.
func compile(t *testing.T, cdl, name string, kind ...string) string {
	t.Helper()
	dir := t.TempDir()
	src := filepath.Join(dir, "x.cdl")
	if err := os.WriteFile(src, []byte(cdl), 0o644); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, name)
	args := append([]string{"-o", out}, kind...)
	if len(kind) == 0 {
		args = append(args, "-k", "nc4")
	}
	if b, err := exec.Command("ncgen", append(args, src)...).CombinedOutput(); err != nil {
		t.Fatalf("ncgen (package netcdf-bin): %v\n%s", err, b)
	}
	return out
}

func examples(t *testing.T) []string {
	t.Helper()
	names, err := filepath.Glob("testdata/examples/*.cdl")
	if err != nil || len(names) != 8 {
		t.Fatalf("%d examples, want 8: %v", len(names), err)
	}
	return names
}

// The examples are those of the project's working notes on CF, made by hand with synthetic numbers.
func TestExamplesObeyEveryRule(t *testing.T) {
	for _, src := range examples(t) {
		text, err := os.ReadFile(src)
		if err != nil {
			t.Fatal(err)
		}
		for _, format := range []string{"nc4", "classic"} {
			path := compile(t, string(text), strings.TrimSuffix(filepath.Base(src), ".cdl")+".nc", "-k", format)
			f, err := nc.OpenFile(path)
			if err != nil {
				t.Fatal(err)
			}
			for _, x := range Check(f, filepath.Base(path), true) {
				t.Errorf("%s (%s): %s %s: %s", filepath.Base(src), format, x.Check, x.Variable, x.Message)
			}
			f.Close()
		}
	}
}
