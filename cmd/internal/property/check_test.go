package property

import (
	"path/filepath"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/metadata"
)

// onlyIn returns the findings of a that b does not have.
func onlyIn(a, b []metadata.Finding) []metadata.Finding {
	type said struct {
		severity                       metadata.Severity
		at                             metadata.Position
		check, cast, variable, message string
	}
	of := func(f *metadata.Finding) said {
		s := said{f.Severity, f.Position, f.Check, f.Cast, f.Variable, f.Message}
		if f.Check == "quality.open" { // how many are open differs by what only check judges: dates in the future
			s.message = ""
		}
		return s
	}
	have := map[said]bool{}
	for i := range b {
		have[of(&b[i])] = true
	}
	var out []metadata.Finding
	for _, f := range a {
		if !have[of(&f)] {
			out = append(out, f)
		}
	}
	return out
}

// What a build finds, check finds too, on every committed cruise.
func TestCheckSaysWhatBuildSays(t *testing.T) {
	var files []string
	for _, pattern := range []string{"cruise", "cruises/*", "hard/*"} {
		names, err := filepath.Glob("../../../testdata/" + pattern + "/cruise.yaml")
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, names...)
	}
	if len(files) < 5 {
		t.Fatalf("%d cruises", len(files))
	}
	found := 0
	for _, file := range files {
		built, err := pipeline.Build(t.Context(), pipeline.Plan{CruiseFile: file, Out: t.TempDir(), Workers: 2})
		if err != nil {
			t.Fatal(err)
		}
		checked, err := pipeline.Check(t.Context(), pipeline.Plan{CruiseFile: file, Workers: 2})
		if err != nil {
			t.Fatal(err)
		}
		found += len(built.Found)
		for _, f := range onlyIn(built.Found, checked.Found) {
			t.Errorf("%s: only build says %s %s [%s] %s", filepath.Base(filepath.Dir(file)), f.Severity, f.Position,
				f.Check, f.Message)
		}
	}
	if found < 20 {
		t.Errorf("%d findings", found)
	}
}
