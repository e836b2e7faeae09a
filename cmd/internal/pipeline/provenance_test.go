package pipeline_test

import (
	"encoding/json"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Every file below data has a step that made it, with the SHA-256 it has, but for those that tell of the others:
// README.txt and the records themselves. Every step is a line of the history.
func TestEveryFileHasItsStep(t *testing.T) {
	files := demo(t)
	files["cruise.yaml"] += "fields: [{name: survey, grid: linear}]\nfigures: {only: [map], formats: [svg]}\n"
	files["edits.csv"] =
		"station,cast,variable,from_dbar,to_dbar,flag,initials,reason,date\n1,1,psal,2,10,3,RH,spike,2026-05-16\n"
	files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], "sources: [casts]",
		"sources: [casts]\n  edits: edits.csv", 1)
	archive := build(t, files)
	var doc struct {
		Activity       map[string]map[string]any
		Entity         map[string]map[string]any
		WasGeneratedBy map[string]map[string]any
	}
	if err := json.Unmarshal([]byte(contents(t, archive, "data/provenance/prov.json")), &doc); err != nil {
		t.Fatal(err)
	}
	var made []string
	for _, g := range doc.WasGeneratedBy {
		e := doc.Entity[g["prov:entity"].(string)]
		if sum, _ := e["ex:sha256"].(string); len(sum) != 64 {
			t.Errorf("%v has no checksum", e)
		}
		made = append(made, e["prov:location"].(string))
	}
	root := filepath.Join(archive, "data")
	err := filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(root, p)
		rel = filepath.ToSlash(rel)
		told := []string{"README.txt", "provenance/history.txt", "provenance/prov.json"}
		if !slices.Contains(made, rel) && !slices.Contains(told, rel) {
			t.Errorf("no step made %s", rel)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(contents(t, archive, "data/provenance/history.txt"), "\n"); n != len(doc.Activity) {
		t.Errorf("%d lines of history for %d steps", n, len(doc.Activity))
	}
}
