//go:build cgo

package pipeline_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/metadata"
)

// TestBuildReplacesOnlyItsOwnArchive builds over an archive that was left as it was, and over folders that were not:
// another program's bag, an archive with a file more, a file less or a file changed, in the content or at the top.
// Those are refused with what to do, and stay as they are.
func TestBuildReplacesOnlyItsOwnArchive(t *testing.T) {
	file := small(t, "first")
	out := filepath.Join(t.TempDir(), "a", "b") // made by the build
	build := func() error {
		_, err := pipeline.Build(t.Context(), pipeline.Plan{CruiseFile: file, Out: out})
		return err
	}
	if err := build(); err != nil {
		t.Fatal(err)
	}
	archive := filepath.Join(out, "small")
	if err := build(); err != nil {
		t.Fatalf("untouched: %v", err)
	}
	edit := func(name, text string) func(t *testing.T) {
		return func(t *testing.T) {
			if err := os.WriteFile(filepath.Join(archive, name), []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	for name, change := range map[string]func(*testing.T){
		"a person's file in the content": edit("data/notes.txt", "mine"),
		"a person's file at the top":     edit("notes.txt", "mine"),
		"a file changed":                 edit("data/README.txt", "edited"),
		"a table changed": edit("data/tables/stations.csv",
			"a,b\n"),
		"a file removed": func(t *testing.T) {
			if err := os.Remove(filepath.Join(archive, "data", "README.txt")); err != nil {
				t.Fatal(err)
			}
		},
		"another program's bag": func(t *testing.T) {
			if err := os.RemoveAll(archive); err != nil {
				t.Fatal(err)
			}
			if err := os.MkdirAll(filepath.Join(archive, "data"), 0o755); err != nil {
				t.Fatal(err)
			}
			edit("data/x.txt", "x")(t)
			info := []bag.Field{{Label: "Bag-Software-Agent", Value: "other 1.0"},
				{Label: "Bagging-Date", Value: "2026-01-01"}}
			if err := bag.Write(t.Context(), archive, info); err != nil {
				t.Fatal(err)
			}
		},
		"a program of a similar name": func(t *testing.T) {
			edit("bag-info.txt", "Bag-Software-Agent: castwrightish 1\n")(t)
		},
		"no bag": func(t *testing.T) {
			if err := os.Remove(filepath.Join(archive, "bagit.txt")); err != nil {
				t.Fatal(err)
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			if err := os.RemoveAll(out); err != nil {
				t.Fatal(err)
			}
			if err := build(); err != nil {
				t.Fatal(err)
			}
			change(t)
			before := sums(t, archive)
			var in *metadata.InputError
			if err := build(); !errors.As(err, &in) || !strings.Contains(in.Advice(), "move it away") {
				t.Fatalf("not refused: %v", err)
			} else if name == "a person's file in the content" && !strings.Contains(in.Error(), "data/notes.txt: ") {
				t.Errorf("the file is not named: %v", in)
			}
			if !same(before, sums(t, archive)) {
				t.Error("it was changed")
			}
		})
	}
}

// A build that fails leaves no folder that it made.
func TestFailedBuildLeavesNoFolder(t *testing.T) {
	top := t.TempDir()
	file := filepath.Join(top, "cruise.yaml")
	if err := os.WriteFile(file, []byte("cruise: {id: a}\ncasts: {sources: [nowhere]}\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if p, err := pipeline.Build(t.Context(), pipeline.Plan{CruiseFile: file, Out: filepath.Join(top, "x", "y")}); err ==
		nil && p.Path != "" {
		t.Fatal("built")
	}
	if entries, err := os.ReadDir(top); err != nil || len(entries) != 1 {
		t.Errorf("%v %v", entries, err)
	}
}
