package pipeline

import (
	"context"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// surveyed returns the casts of a cruise file, by station without zeros in front. What is worse than a note fails the
// test.
func surveyed(t *testing.T, file string) (map[string]*section.Cast, *survey) {
	t.Helper()
	r := &run{plan: &Plan{CruiseFile: file, Workers: 2}}
	in, err := readInputs(context.Background(), r)
	if err != nil {
		t.Fatal(err)
	}
	w, err := in.survey(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range w.findings {
		if f.Severity != metadata.Note {
			t.Errorf("%s: %v: %s", f.Position, f.Severity, f.Message)
		}
	}
	out := map[string]*section.Cast{}
	for _, c := range w.casts {
		out[strings.TrimLeft(c.Station, "0")] = c
	}
	return out, w
}

// Cruise files that describe the text of testdata/layouts give the casts of the exchange files there: the same times,
// places, depths and numbers, within what ingest.TestDialects derives for computed quantities. How the text was read is
// recorded.
func TestLayoutsOfCruiseFile(t *testing.T) {
	want, _ := surveyed(t, "../../../testdata/layouts/exchange.yaml")
	files, err := filepath.Glob("../../../testdata/layouts/*.yaml")
	if err != nil || len(files) < 11 {
		t.Fatalf("%v, %d cruise files", err, len(files))
	}
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".yaml")
		if name == "exchange" {
			continue
		}
		t.Run(name, func(t *testing.T) {
			got, w := surveyed(t, file)
			if len(got) != len(want) {
				t.Fatalf("%d casts", len(got))
			}
			for station, a := range want {
				b := got[station]
				if b == nil || !b.Time.Equal(a.Time) || b.BottomM != a.BottomM || math.Abs(b.At[0]-a.At[0]) > 1e-5 ||
					math.Abs(b.At[1]-a.At[1]) > 1e-5 ||
					b.Layout != name || b.Expocode != a.Expocode || (b.Direction == section.Up) != (name == "upcasts") {
					t.Errorf("station %s: %+v", station, b)
					continue
				}
				for variable, within := range map[string]float64{"pres": 0.0056, "temp": 0.56e-4, "psal": 1.1e-4,
					"oxy": 0.027} {
					x, y := a.Column(variable).Values, b.Column(variable).Values
					for i := range x {
						if math.Abs(x[i]-y[i]) > within || math.IsNaN(x[i]) != math.IsNaN(y[i]) {
							t.Errorf("station %s, level %d: %s is %v, want %v", station, i, variable, y[i], x[i])
							break
						}
					}
				}
			}
			recorded := false
			for _, r := range w.records {
				if r.Step == "layout" {
					recorded = true
					if len(r.Inputs) != len(w.castDigests(w.casts)) ||
						!strings.Contains(r.Text, "4 casts read as layout "+name) {
						t.Errorf("%+v", r)
					}
				}
			}
			if !recorded {
				t.Error("no record of the layout")
			}
		})
	}
}
