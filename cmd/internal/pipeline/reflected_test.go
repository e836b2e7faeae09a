package pipeline_test

import (
	"archive/zip"
	"context"
	"encoding/csv"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// What the cruise file says of casts is where a reader looks for it: the table of stations lists a section at each cast
// of a mean, an exchange file says what its TIME and DEPTH are and that it is an upcast (exchange.md section 5), and a
// finding names a renumbered cast as the archive does.
func TestCruiseFileIsReflected(t *testing.T) {
	const code = "ZZTE20260501"
	files := map[string]string{
		"casts/1_ct1.csv":  ctd(code, "1", "1", "20260502", "0100", "60.0000", "-20.0000", "500", 30),
		"casts/2_ct1.csv":  ctd(code, "2", "1", "20260502", "0500", "60.2000", "-20.0000", "500", 30),
		"casts/2b_ct1.csv": ctd(code, "2", "2", "20260502", "0600", "60.2000", "-20.0000", "500", 30),
		"casts/9_ct1.csv":  ctd(code, "9", "1", "20260502", "0900", "60.4000", "-20.0000", "500", 30),
		"cruise.yaml": "cruise: {id: r}\nfigures: none\ncasts:\n  sources: [casts]\n" +
			"  time: bottom\n  depth: echo sounder\n  up: \"3\"\n" +
			"  renumber: [{from: 9/1, to: 3/1, why: typing error}]\nsections:\n  - {name: line, stations: 1-3, repeats: mean, grid: none}\n",
	}
	dir := lay(t, files)
	p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: filepath.Join(dir, "cruise.yaml"),
		Out: dir})
	if err != nil || p.Path == "" {
		t.Fatal(err, p.Findings)
	}
	f, err := os.Open(filepath.Join(p.Path, "data/tables/stations.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 5 || rows[0][7] != "sections" {
		t.Fatalf("stations.csv: %v", rows)
	}
	for _, r := range rows[1:] {
		if r[7] != "line" {
			t.Errorf("cast %s is in the sections %q", r[0], r[7])
		}
	}
	for _, f := range p.Findings {
		if f.Check == "cruise.renumber" && f.Cast != code+"_00003_00001" {
			t.Errorf("the renumbered cast is called %s", f.Cast)
		}
	}
	z, err := zip.OpenReader(filepath.Join(p.Path, "data/casts", code+"_ct1.zip"))
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	for _, m := range z.File {
		r, err := m.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		text := string(b)
		for _, want := range []string{"\n# TIME is that of the bottom of the cast\n", "\n# DEPTH: echo sounder\n"} {
			if strings.Count(text, want) != 1 {
				t.Errorf("%s: want once: %q", m.Name, want)
			}
		}
		if up := strings.Contains(text, "\n# upcast\n"); up != strings.Contains(m.Name, "_00003_") {
			t.Errorf("%s: upcast %v", m.Name, up)
		}
	}
}
