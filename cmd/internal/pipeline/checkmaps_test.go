package pipeline_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/metadata"
)

// longLine writes casts with bins of 1 dbar along 30 N.
func longLine(casts int, deepest float64) (out []sounding) {
	for k := range casts {
		s := sounding{station: strconv.Itoa(k + 1), lat: "30", lon: fmt.Sprintf("%.2f", -40+0.2*float64(k)),
			depth: fmt.Sprint(deepest),
			water: func(p float64) (float64, float64) {
				q := p + 15*math.Sin(float64(k*k))*math.Sin(math.Pi*p/deepest)
				return 2 + 16*math.Exp(-q/700) + 0.002*math.Sin(q*q), 34.7 + 1.2*math.Exp(-q/600)
			}}
		s.pressures = bins(1, deepest, 1)
		out = append(out, s)
	}
	return out
}

// Of a cruise too large to be mapped, check finds what build finds, but for the checks that its note names: those of
// maps, and of the sections and fields whose work is more than it does.
func TestCheckOfLargeCruises(t *testing.T) {
	for _, x := range []struct {
		name    string
		casts   int
		deepest float64
		named   string
	}{
		{"all predicted", 11, 4000, ""},
		{"one is too much work", 340, 125, "how well left-out stations are predicted in section line (grid.skill, "},
	} {
		t.Run(x.name, func(t *testing.T) {
			dir, file := t.TempDir(), ""
			for name, text := range plant("sections:\n"+
				"  - {name: line, stations: all, grid: {step_km: 100}}\n"+
				"  - {name: other, stations: 1-6, grid: {method: linear, variables: [ctemp, chl]}}\n"+
				"fields:\n  - {name: area, stations: 1-11, levels: [10, 100]}\n", longLine(x.casts, x.deepest)...) {
				file = filepath.Join(dir, name)
				if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			plan := pipeline.Plan{CruiseFile: filepath.Join(dir, "cruise.yaml"), Out: t.TempDir()}
			checked, err := pipeline.Check(t.Context(), plan)
			if err != nil {
				t.Fatal(err)
			}
			at := slices.IndexFunc(checked.Found, func(f metadata.Finding) bool { return f.Check == "check.maps" })
			if at < 0 {
				t.Fatal("no note that nothing was mapped")
			}
			note := checked.Found[at].Message
			if strings.Contains(note, "predicted in") != (x.named != "") || !strings.Contains(note, x.named) {
				t.Errorf("%s", note)
			}
			built, err := pipeline.Build(t.Context(), plan)
			if err != nil || built.Path == "" {
				t.Fatal(err, built.Findings)
			}
			said := map[string]bool{}
			for _, f := range checked.Found {
				said[fmt.Sprint(f.Severity, f.Position, f.Check, f.Variable, f.Message)] = true
			}
			skill := 0
			for _, f := range built.Found {
				if f.Check == "grid.skill" {
					skill++
				}
				if !said[fmt.Sprint(f.Severity, f.Position, f.Check, f.Variable, f.Message)] &&
					!strings.Contains(note, f.Check) {
					t.Errorf("only build says %s %s [%s] %s", f.Severity, f.Position, f.Check, f.Message)
				}
			}
			if skill < 5 {
				t.Errorf("%d findings of grid.skill", skill)
			}
		})
	}
}

// That a reference cannot be read stops a build, so check says it of large cruises too.
func TestCheckOfLargeCruisesReadsReferences(t *testing.T) {
	dir := t.TempDir()
	const line = "sections:\n  - {name: line, stations: 1-11, grid: none, anomaly: {with: absent.nc}}\n"
	for name, text := range plant(line, longLine(11, 4000)...) {
		file := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	p, err := pipeline.Check(t.Context(), pipeline.Plan{CruiseFile: filepath.Join(dir, "cruise.yaml")})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(p.Found, func(f metadata.Finding) bool {
		return f.Check == "section.anomaly" && f.Severity == metadata.Failure
	}) {
		t.Errorf("%v", p.Found)
	}
}
