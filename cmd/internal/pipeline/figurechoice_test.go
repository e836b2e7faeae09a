package pipeline_test

import (
	"context"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// Every key of figures has its effect in the archive of a cruise with bottles, and is in its record; levels of a
// variable that no figure shows are named.
func TestSettingsOfFigures(t *testing.T) {
	root := filepath.Join("..", "..", "..", "testdata", "cruises", "two-legs")
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(root)); err != nil {
		t.Fatal(err)
	}
	cruise := filepath.Join(dir, "cruise.yaml")
	text := contents(t, cruise) + `
figures:
  only: [overview, section, velocity, profiles]
  formats: [svg, png]
  levels: {ctemp: 2, velocity: [-0.1, 0, 0.1], chl: 1}
  range: {asal: [34.9, 35.4]}
  share: yes
  vertical: depth
  dots: yes
  plots: [{y: oxy, x: psal}]
  resolution: 150
`
	if err := os.WriteFile(cruise, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	made, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: cruise, Out: filepath.Join(dir, "out")})
	if err != nil || made.Path == "" {
		t.Fatalf("%v %v", err, made.Findings)
	}
	figures := filepath.Join(made.Path, "data", "figures")
	for name, want := range map[string][]string{
		"south_ctemp.txt": {"a step of 2, as given", "Dots: usable values", "Depth: from pressure",
			"the same in 2 sections"},
		"north_asal.txt":     {"for values from 34.9 to 35.4, as given", "the same in 2 sections"},
		"south_velocity.txt": {"as given", "Depth: from pressure"},
		"south_profiles.txt": {"against depth (m)", "Depth: from pressure"},
		"south_overview.txt": {"geostrophic velocity (m s⁻¹), station", "The map shows the track."},
		"south_oxy_by_psal.txt": {"Dissolved oxygen (µmol kg⁻¹) against practical salinity", "coloured by depth (m)",
			"water samples"},
	} {
		text := contents(t, figures, name)
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s lacks %q:\n%s", name, w, text)
			}
		}
	}
	f, err := os.Open(filepath.Join(figures, "south_ctemp.png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if img, err := png.DecodeConfig(f); err != nil || img.Width != 1033 { // 175 mm at 150 dots per inch
		t.Errorf("width %d: %v", img.Width, err)
	}
	unused := 0
	for _, f := range made.Findings {
		if f.Check == "figure.levels" && strings.Contains(f.Message, "chl") {
			unused++
		}
	}
	if unused != 1 {
		t.Errorf("levels that no figure shows are named %d times", unused)
	}
	record := contents(t, made.Path, "data", "provenance", "history.txt")
	for _, w := range []string{"levels of ctemp", "a step of 2", "range of asal", "34.9 to 35.4", "vertical", "depth",
		"oxy by psal",
		"150"} {
		if !strings.Contains(record, w) {
			t.Errorf("the record lacks %q", w)
		}
	}
}
