package pipeline_test

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/metadata"
)

// internals are words that a person at sea can do nothing with.
var internals = regexp.MustCompile(
	`%!|\bnil\b|<nil>|panic|goroutine|runtime error|index out of range|\*?\w+\.\w*Error\b|0x[0-9a-f]{6,}|interface \{|/tmp/|\b(strconv|json|csv|zip|flate|os|io|fs|nc|netcdf|section|metadata|ingest)\.[A-Z]\w+`)

// judge checks each finding: its file is there, as named from the cruise file's folder; what asks for an act says
// which; no message is about the program's insides.
func judge(t *testing.T, dir string, found []metadata.Finding, seen map[string]bool) {
	t.Helper()
	for _, f := range found {
		seen[f.Check] = true
		if f.Check == "" || f.Message == "" {
			t.Errorf("no rule or no message: %+v", f)
		}
		if f.File != "" && f.Check != "inputs.gone" {
			path := filepath.Join(dir, filepath.FromSlash(f.File))
			if i := strings.Index(strings.ToLower(path), ".zip/"); i >= 0 { // a member of an archive
				path = path[:i+4]
			}
			if _, err := os.Stat(path); err != nil {
				t.Errorf("%s: no such file beside the cruise file: %s (%s)", f.Check, f.File, f.Message)
			}
		}
		if f.Severity == metadata.Failure && f.Advice() == "" {
			t.Errorf("%s: %s: nothing to do is said", f.Check, f.Message)
		}
		if f.Severity == metadata.Failure && f.File == "" {
			t.Errorf("%s: %s: no file is named", f.Check, f.Message)
		}
		for _, s := range []string{f.Message, f.Advice()} {
			if m := internals.FindString(s); m != "" {
				t.Errorf("%s: speaks of %q: %s", f.Check, m, s)
			}
			if strings.Contains(s, dir) {
				t.Errorf("%s: names a folder of this machine: %s", f.Check, s)
			}
		}
		if strings.HasSuffix(f.Message, ".") && !strings.HasSuffix(f.Message, "...") ||
			strings.Contains(f.Message, "\n") {
			t.Errorf("%s: not one sentence without a full stop: %q", f.Check, f.Message)
		}
	}
}

// Every message of the demo, of each broken file, and of cruises with every fault that the pipeline itself finds.
func TestMessages(t *testing.T) {
	seen := map[string]bool{}
	run := func(dir string) {
		t.Helper()
		p, err := pipeline.Check(context.Background(), pipeline.Plan{CruiseFile: filepath.Join(dir, "cruise.yaml")})
		if err != nil {
			t.Errorf("%s: %v", dir, err)
			return
		}
		judge(t, dir, p.Findings, seen)
	}
	demo, err := filepath.Abs(filepath.Join("..", "..", "..", "testdata", "cruise"))
	if err != nil {
		t.Fatal(err)
	}
	run(demo)
	broken := filepath.Join(demo, "..", "broken")
	entries, err := os.ReadDir(broken)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.Name() == "README.md" {
			continue
		}
		data, err := os.ReadFile(filepath.Join(broken, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		key := "sources: [" + e.Name() + "]"
		if strings.HasSuffix(e.Name(), "_hy1.csv") {
			key = "sources: [good_ct1.csv], bottles: [" + e.Name() + "]"
		}
		sections := ""
		for _, kind := range []string{"levels", "velocities"} {
			if strings.HasSuffix(e.Name(), "_"+kind+".csv") {
				key, sections = "sources: [good_ct1.csv]", "sections: [{name: s, stations: 1, reference: {"+kind+": "+
					e.Name()+"}}]\n"
			}
		}
		run(lay(t, map[string]string{e.Name(): string(data), "good_ct1.csv": ctd(code, "1", "1", "20260502", "0300",
			"60.0", "-20.0", "120", 5),
			"cruise.yaml": "cruise: {id: m}\nfigures: none\ncasts: {" + key + "}\n" + sections}))
	}
	files := map[string]string{
		"cruise.yaml": `cruise: {id: m, legs: [{expocode: ZZTE20270101}]}
release: {status: final, version: "1", date: 2026-06-01}
quality: {signed: {by: RH, date: 2026-06-01}, accept: [{id: speed, initials: RH, reason: x}]}
systems: [{label: a, stations: 90-99}]
casts:
  sources: [casts, gone, "*_none.csv"]
  bottles: [no_hy1.csv]
  edits: [edits.csv, noedits.csv]
  station_table: log.csv
  leave_out: [{cast: 77/1, reason: x}, {file: casts/77_ct1.csv, reason: x}]
  renumber: [{from: 88/1, to: 89/1, why: x}]
  role: [{test: T9}]
  up: 66
sections:
  - {name: one, stations: "1, 5", reference: {levels: nolevels.csv}}
  - {name: two, stations: 1-2, planned: 1-4, reference: {velocities: edits.csv}}
`,
		"edits.csv":       "station,cast,variable,flag,initials,reason\n01,1,psal,3,RH,x\n1,1,psal,3,,\n",
		"log.csv":         "station,cast,depth,system\n1,1,99,b\n01,1,,\n",
		"casts/1_ct1.csv": ctd(code, "1", "1", "20260502", "0300", "60.0", "-20.0", "120", 5),
		"casts/2_ct1.csv": ctd(code, "2", "1", "20260502", "0500", "61.0", "-20.0", "", 5),
		"casts/3_ct1.csv": ctd(code, "02", "1", "20260502", "0400", "61.0", "-20.0", "", 5),
		"casts/4_ct1.csv": ctd(code, "2", "1", "20260502", "0500", "61.0", "-20.0", "", 5),
		"inputs.sha256": strings.Repeat("00", 32) + "  casts/1_ct1.csv\n" + strings.Repeat("11", 32) +
			"  casts/0_ct1.csv\nnonsense\n",
	}
	run(lay(t, files))
	files["cruise.yaml"] = strings.NewReplacer("casts, gone, \"*_none.csv\"", "casts", "bottles: [no_hy1.csv]",
		"time: start", ", noedits.csv", "").Replace(files["cruise.yaml"])
	run(lay(t, files))
	run(lay(t, map[string]string{"cruise.yaml": "cruise: {id: m}\nfigures: none\ncasts: {sources: " +
		"[casts]}\nsections: [{name: one, stations: '1, 5'}]\n",
		"casts/1_ct1.csv": files["casts/1_ct1.csv"]}))
	for _, want := range []string{"input.cast", "input.source", "input.bottles", "input.edits", "input.levels",
		"inputs.changed", "inputs.new", "inputs.gone", "inputs.record",
		"cruise.leave_out", "cruise.renumber", "cruise.stations", "cruise.system", "section.stations",
		"station_table.depth",
		"station_table.system", "station_table.station", "station_table.cast", "edits.station", "edits.unsigned",
		"speed", "quality.accept", "quality.open", "exchange.expocode_differs", "exchange.expocode_unused",
		"exchange.station_zeros"} {
		if !seen[want] {
			t.Errorf("no message of %s was seen", want)
		}
	}
}

// TestRecordOfManyLines gives a file of checksums with very many lines that are none, or that name inputs which are
// gone: a few findings with counts.
func TestRecordOfManyLines(t *testing.T) {
	for line, want := range map[string]string{"a\n": "300000 lines are not", strings.Repeat("a", 64) +
		"  casts/%d\n": "more inputs are in it"} {
		var record strings.Builder
		for i := range 300_000 {
			record.WriteString(strings.Replace(line, "%d", strconv.Itoa(i), 1))
		}
		dir := lay(t,
			map[string]string{"cruise.yaml": "cruise: {id: p}\nfigures: none\ncasts: {sources: [casts/1_ct1.csv]}\n",
				"inputs.sha256":   record.String(),
				"casts/1_ct1.csv": ctd("ZZTE20260501", "1", "1", "20260501", "0400", "60.0", "-20.0", "400", 40)})
		p, err := pipeline.Check(t.Context(), pipeline.Plan{CruiseFile: filepath.Join(dir, "cruise.yaml")})
		if err != nil {
			t.Fatal(err)
		}
		found := false
		for _, f := range p.Findings {
			found = found || strings.Contains(f.Message, want)
		}
		if !found || len(p.Findings) > 200 {
			t.Errorf("%d findings; one with %q: %v", len(p.Findings), want, found)
		}
	}
}
