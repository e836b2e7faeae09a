package pipeline_test

import (
	"encoding/json"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/geostrophy"
)

// longest is the greatest number of characters of an attribute that a person reads, other than those that are lists by
// nature.
const longest = 420

// The attributes of every NetCDF file of an archive with sections and maps under several methods: sentences are short,
// settings are JSON with explained keys, history has every step that made the file, and what was mapped is a model
// result.
func TestAttributesOfEveryFile(t *testing.T) {
	files := demo(t)
	files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], "reference: deepest}",
		"reference: deepest, grid: choose}", 1)
	files["cruise.yaml"] += "fields: [{name: survey, grid: linear}, {name: other, grid: successive}]\nfigures: none\n"
	archive := build(t, files)
	explained := map[string]bool{}
	for _, s := range gridding.Settings() {
		explained[s.Name] = true
	}
	steps := map[string][]string{"_ctd.nc": {": read: ", ": derive: ", ": write: "},
		"_section.nc": {": read: ", ": derive: ", ": section: ",
			": derive: dynamic height of the stations of section ", ": write: "},
		"_geostrophy.nc": {": section: ", ": geostrophy: ", ": write: "}, "_grid.nc": {": section: ", ": grid: ",
			": write: "}, "survey.nc": {": derive: ", ": grid: ", ": write: "}}
	n := 0
	err := filepath.WalkDir(filepath.Join(archive, "data"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || filepath.Ext(path) != ".nc" {
			return err
		}
		n++
		name := filepath.Base(path)
		inFile(t, path, func(_ nc.Reader, s *nc.Schema) {
			for suffix, want := range steps {
				if strings.HasSuffix(name, suffix) {
					from := 0
					for _, w := range want {
						at := strings.Index(s.Text("history")[from:], w)
						if at < 0 {
							t.Errorf("%s: history has no %q in its place:\n%s", name, w, s.Text("history"))
							break
						}
						from += at
					}
				}
			}
			for _, a := range s.Attrs {
				short(t, name, a)
			}
			if text := s.Text("geostrophy_settings_json"); text != "" {
				var settings map[string]any
				if err := json.Unmarshal([]byte(text), &settings); err != nil || len(settings) < 20 {
					t.Errorf("%s: geostrophy_settings_json: %d keys, %v", name, len(settings), err)
				}
				for key := range settings {
					if !slices.ContainsFunc(geostrophy.Settings(), func(s geostrophy.Setting) bool {
						return s.Name == key
					}) {
						t.Errorf("%s: %s is not explained", name, key)
					}
				}
			}
			mapped := s.Attr("grid_settings") != nil
			if mapped {
				record(t, name, s, explained)
			}
			for i := range s.Vars {
				v := &s.Vars[i]
				for _, a := range v.Attrs {
					short(t, name+" "+v.Name, a)
				}
				if content := v.Text("coverage_content_type"); mapped && content == "physicalMeasurement" || !mapped &&
					content == "modelResult" && !strings.Contains(name, "geostrophy") {
					t.Errorf("%s: %s is %s", name, v.Name, content)
				}
				for _, text := range []string{v.Text("comment"), v.Text("skill_method")} {
					if strings.HasPrefix(name, "survey") && (strings.Contains(text, "straight") ||
						strings.Contains(text, "along the section") ||
						strings.Contains(text, "first and the last station")) {
						t.Errorf("%s: %s speaks of a section: %s", name, v.Name, text)
					}
				}
			}
		})
		return nil
	})
	if err != nil || n != 9 {
		t.Fatalf("%d files: %v", n, err)
	}
	for _, s := range geostrophy.Settings() {
		explained[s.Name] = true
	}
	readme := contents(t, archive, "data/README.txt")
	for name := range explained {
		if !strings.Contains(readme, "\n  "+name+" ") {
			t.Errorf("the README does not explain %s", name)
		}
	}
}

func short(t *testing.T, where string, a nc.Attr) {
	t.Helper()
	text, ok := a.Value.(string)
	switch a.Name {
	case "history", "keywords", "grid_settings_json", "grid_results_json", "geostrophy_settings_json", "flag_meanings":
		return
	}
	if ok && len(text) > longest {
		t.Errorf("%s: %s has %d characters: %s", where, a.Name, len(text), text)
	}
}

// record checks the settings and results of one mapped file.
func record(t *testing.T, name string, s *nc.Schema, explained map[string]bool) {
	t.Helper()
	var settings, results map[string]any
	for attr, into := range map[string]*map[string]any{"grid_settings_json": &settings, "grid_results_json": &results} {
		if err := json.Unmarshal([]byte(s.Text(attr)), into); err != nil {
			t.Errorf("%s: %s: %v", name, attr, err)
			return
		}
		for key := range *into {
			result := slices.Contains([]string{"chosen", "inversions", "held_to_data", "extended"}, key)
			if !explained[key] ||
				result == (attr == "grid_settings_json") {
				t.Errorf("%s: %s in %s", name, key, attr)
			}
		}
	}
	if len(settings) < 8 {
		t.Errorf("%s: %d settings", name, len(settings))
	}
	if _, ok := settings["stations"].(float64); !ok {
		t.Errorf("%s: stations is %v", name, settings["stations"])
	}
	if _, choose := results["chosen"]; choose != (settings["method"] == "choose") {
		t.Errorf("%s: chosen %v of method %v", name, results["chosen"], settings["method"])
	}
}

// The README says which values were converted when they were read, and says "as read" of all only where none was.
func TestReadmeSaysWhatWasConverted(t *testing.T) {
	files := demo(t)
	files["cruise.yaml"] += "figures: none\n"
	if text := oneLine(contents(t, build(t, files), "data/README.txt")); !strings.Contains(text,
		"Measured values are as they were read: in-situ temperature on ITS-90") {
		t.Errorf("nothing converted:\n%s", text)
	}
	for name, text := range files {
		if strings.HasPrefix(name, "casts/") && strings.Contains(name, "_00003_") {
			files[name] = strings.Replace(text, "ITS-90", "IPTS-68", 1)
			if files[name] == text {
				t.Fatal("no temperature scale in the cast")
			}
		}
	}
	archive := build(t, files)
	text := oneLine(contents(t, archive, "data/README.txt"))
	if strings.Contains(text, "as they were read: in-situ") ||
		!strings.Contains(text,
			"temp of 1 cast from IPTS-68 to ITS-90 (t90 = t68 / 1.00024). All others are as they were read.") {
		t.Errorf("one cast converted:\n%s", text)
	}
	if history := contents(t, archive, "data/provenance/history.txt"); !strings.Contains(history,
		": convert: temp of 1 cast from IPTS-68 to ITS-90 (formula t90 = t68 / 1.00024)") {
		t.Errorf("history:\n%s", history)
	}
}

// A pressure that one cast has twice is named, by check and by build, with what it does to the file of all casts.
func TestRepeatedPressureIsNamed(t *testing.T) {
	files := demo(t)
	files["cruise.yaml"] += "figures: none\n"
	for name, text := range files {
		if strings.HasPrefix(name, "casts/") && strings.Contains(name, "_00003_") {
			lines := strings.Split(text, "\n")
			at := len(lines) - 20
			files[name] = strings.Join(slices.Insert(lines, at, lines[at]), "\n")
		}
	}
	dir := lay(t, files)
	p, err := pipeline.Check(t.Context(), pipeline.Plan{CruiseFile: filepath.Join(dir, "cruise.yaml")})
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(p.Findings, func(f metadata.Finding) bool { return f.Check == "netcdf.layout" })
	if i < 0 || !strings.Contains(p.Findings[i].Message, "cast 3/1 (") || !strings.Contains(p.Findings[i].File,
		"_00003_") {
		t.Errorf("check says %v", p.Findings)
	}
	archive := build(t, files)
	if !strings.Contains(contents(t, archive, "data/tables/findings.csv"), "netcdf.layout") {
		t.Error("build does not say so")
	}
	written, err := filepath.Glob(filepath.Join(archive, "data", "casts", "*.nc"))
	if err != nil || len(written) != 1 {
		t.Fatal(written, err)
	}
	inFile(t, written[0], func(_ nc.Reader, s *nc.Schema) {
		if s.Dim("level") < 0 || s.Dim("obs") >= 0 {
			t.Errorf("dimensions %v", s.Dims)
		}
	})
}

// oneLine puts text on one line with one blank between words.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
