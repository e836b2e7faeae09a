package pipeline_test

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// Builds of a cruise whose casts arrive take from the build before the sections that are as they were, and no others;
// what they make is what a build makes that has nothing to take.
func TestWatchedBuilds(t *testing.T) {
	files := demo(t, "\n  - {name: strait,", "\n  - {name: strait, grid: {step_km: 20},", "\n  - {name: slope,",
		"\n  - {name: slope, grid: {step_km: 40},", "\nsections:",
		"\nfigures: {formats: [svg], only: [section, overview, velocity]}\nsections:")
	const late = "casts/ZZSM20260504_00015_00001_ct1.csv"
	text := files[late]
	delete(files, late)
	dir := t.TempDir()
	write := func(name, text string) {
		t.Helper()
		file := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for name, text := range files {
		write(name, text)
	}
	build := func(w *pipeline.Watched) map[string]string {
		t.Helper()
		w.Read = func(pipeline.Product, string) bool { return true }
		out := t.TempDir()
		p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: filepath.Join(dir, "cruise.yaml"),
			Out: out, Watched: w})
		if err != nil || p.Path == "" {
			t.Fatalf("made %q: %v %v", p.Path, err, p.Findings)
		}
		return sums(t, out)
	}
	watched := &pipeline.Watched{}
	build(watched)
	for _, step := range []struct {
		what string
		do   func()
		kept []string
	}{
		{"nothing changed", func() {}, []string{"strait", "slope"}},
		{"a cast of the slope came", func() { write(late, text) }, []string{"strait"}},
		{"a value of the strait changed", func() {
			const name = "casts/ZZSM20260504_00004_00001_ct1.csv"
			was := "\n   100.0,2,   2.2198,2,"
			if !strings.Contains(files[name], was) {
				t.Fatalf("the cast has no line that begins %q", was)
			}
			write(name, strings.Replace(files[name], was, "\n   100.0,2,   2.2198,4,", 1))
		}, []string{"slope"}},
		{"the cruise file changed", func() { write("cruise.yaml", files["cruise.yaml"]+"\n# as before\n") }, nil},
	} {
		step.do()
		got := build(watched)
		if !slices.Equal(watched.Kept, step.kept) {
			t.Errorf("%s: kept %q; want %q", step.what, watched.Kept, step.kept)
		}
		if !same(got, build(&pipeline.Watched{})) {
			t.Errorf("%s: the archive is not that of a build that keeps nothing", step.what)
		}
	}
}
