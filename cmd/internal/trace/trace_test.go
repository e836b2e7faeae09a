package trace_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/cmd/internal/trace"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/nc"
)

// build builds a section of six casts of the demo cruise; inputs is the folder of the cruise file.
func build(t *testing.T) (archive, inputs string) {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "casts"), os.DirFS("../../../testdata/cruise/casts")); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "cruise.yaml")
	yaml := `cruise: {id: small}
figures: none
casts:
  sources: ['casts/ZZSM20260504_0000[1-6]_00001_ct1.csv']
  aliases: [{column: CTDTMP2, means: temp2}, {column: CTDSAL2, means: psal2}]
sections: [{name: strait, stations: 1-6, grid: {length_dbar: 100}}]
`
	if err := os.WriteFile(file, []byte(yaml), 0o644); err != nil {
		t.Fatal(err)
	}
	p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: file, Out: t.TempDir()})
	if err != nil || p.Path == "" {
		for _, f := range p.Findings {
			t.Log(f.Position, f.Message)
		}
		t.Fatal(err)
	}
	return p.Path, dir
}

func run(t *testing.T, archive, item string) *trace.Trace {
	t.Helper()
	x, err := trace.Run(context.Background(), trace.Plan{Archive: archive, Item: item})
	if err != nil {
		t.Fatalf("%s: %v", item, err)
	}
	return x
}

func open(t *testing.T, name string) *nc.File {
	t.Helper()
	f, err := nc.OpenFile(name)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// items chooses random values of every product: casts, pairs and grid nodes.
func items(t *testing.T, archive string) (out []string) {
	t.Helper()
	r := rand.New(rand.NewPCG(7, 11))
	all, err := ncprofile.ReadCasts(open(t, filepath.Join(archive, "data/casts/small_ctd.nc")))
	if err != nil {
		t.Fatal(err)
	}
	names := []string{"temp", "psal", "oxy", "temp2", "psal2", "xmiss", "chl", "pres", "asal", "ctemp", "ptemp",
		"sigma0", "spice0", "sound_speed", "depth"}
	for len(out) < 140 {
		i := r.IntN(len(all.Casts))
		col := all.Casts[i].Column(names[len(out)%len(names)])
		if col == nil {
			t.Fatalf("no %s", names[len(out)%len(names)])
		}
		if k := r.IntN(len(col.Values)); col.Values[k] == col.Values[k] { //nolint:staticcheck // not NaN
			out = append(out, fmt.Sprintf("cast:%s:%s:%g", all.IDs[i], col.Name, all.Casts[i].PressureDbar[k]))
		}
	}
	for _, x := range []struct {
		file, variable, axis string
		n                    int
	}{{"strait_geostrophy.nc", "velocity", "pair", 40}, {"strait_grid.nc", "ctemp", "distance", 10},
		{"strait_grid.nc", "asal", "distance", 10}} {
		f := open(t, filepath.Join(archive, "data/sections", x.file))
		v, pres := f.NumbersOf(x.variable), f.NumbersOf("pres")
		for n := 0; n < x.n; {
			k := r.IntN(len(v))
			if v[k] != v[k] { //nolint:staticcheck // NaN
				continue
			}
			n++
			if x.axis == "pair" {
				a, b := f.WordsOf("station_a"), f.WordsOf("station_b")
				i := k / len(pres)
				out = append(out, fmt.Sprintf("pair:strait:%s-%s:velocity:%g", a[i], b[i], pres[k%len(pres)]))
				continue
			}
			km := f.NumbersOf("distance")
			out = append(out, fmt.Sprintf("node:strait:%s:%g:%g", x.variable, km[k%len(km)], pres[k/len(km)]))
		}
	}
	return out
}

// From the inputs that the traces of 200 random values name, another program computes the values again; for 20 nodes of
// the grid it solves for the weights too.
func TestRecomputed(t *testing.T) {
	archive, inputs := build(t)
	var traces []*trace.Trace
	for _, item := range items(t, archive) {
		x := run(t, archive, item)
		if x.Value == nil {
			t.Fatalf("%s has no value", item)
		}
		for _, s := range x.Inputs {
			sum, err := exec.Command("sha256sum", filepath.Join(inputs, s.File)).Output()
			if err != nil || !strings.HasPrefix(string(sum), s.SHA256) {
				t.Errorf("%s: %s: %v, %s", item, s.File, err, sum)
			}
		}
		traces = append(traces, x)
	}
	if len(traces) != 200 {
		t.Fatalf("%d traces", len(traces))
	}
	data, err := json.Marshal(traces)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-W", "ignore", "testdata/recompute.py", inputs)
	cmd.Stdin = bytes.NewReader(data)
	out, err := cmd.CombinedOutput()
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if err != nil || len(lines) != 1 || !strings.HasPrefix(lines[0], "compared ") ||
		!strings.Contains(lines[0], "weights=20") || !strings.Contains(lines[0], "pair:velocity=40") {
		t.Fatalf("%v\n%s", err, out)
	}
	t.Log(lines[0])
}

// The line of a measured value is the line of the file.
func TestLine(t *testing.T) {
	archive, inputs := build(t)
	x := run(t, archive, "cast:5/1:psal:100")
	if len(x.Parts) != 1 || x.Flag != "2 acceptable" || *x.Value != 34.9704 {
		t.Fatalf("%+v", x)
	}
	data, err := os.ReadFile(filepath.Join(inputs, x.Parts[0].File))
	if err != nil {
		t.Fatal(err)
	}
	if line := strings.Split(string(data), "\n")[x.Parts[0].Line-1]; line != x.Parts[0].Text ||
		!strings.HasPrefix(strings.TrimSpace(line), "100.0,2,") || !strings.Contains(line, "34.9704,2,") {
		t.Errorf("line %d is %q", x.Parts[0].Line, line)
	}
	if len(x.Inputs) != 1 || x.Inputs[0].File != x.Parts[0].File {
		t.Errorf("%+v", x.Inputs)
	}
	var steps []string
	for _, s := range x.Steps {
		steps = append(steps, s.Name)
	}
	for _, want := range []string{"read", "alias", "assign", "write"} {
		if !slices.Contains(steps, want) {
			t.Errorf("no step %s in %q", want, steps)
		}
	}
	var words, graph bytes.Buffer
	if err := x.Write(&words); err != nil {
		t.Fatal(err)
	}
	if err := x.WriteDOT(&graph); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(words.String(), "ct1.csv:66: 100.0,2,") {
		t.Error(words.String())
	}
	if g := graph.String(); !strings.HasPrefix(g, "digraph trace {") || !strings.Contains(g, "i0 -> s1;") ||
		!strings.Contains(g, "-> item;") || strings.Count(g, "{") != strings.Count(g, "}") {
		t.Error(g)
	}
}

// A file, a total and values without a level are traced; items that name nothing say what there is.
func TestItems(t *testing.T) {
	archive, _ := build(t)
	for item, inputs := range map[string]int{"tables/stations.csv": 6, "total:strait:transport": 6,
		"pair:strait:2-3:transport": 2, "node:strait:sigma0:50:100": 6, "node:strait:ctemp_err:50:100": 6,
		"cast:3/1:n2:100": 1, "provenance/prov.json": 0} {
		if x := run(t, archive, item); len(x.Inputs) != inputs {
			t.Errorf("%s: %d inputs, want %d", item, len(x.Inputs), inputs)
		}
	}
	for item, hint := range map[string]string{"cast:77/1:temp:10": "there are 1/1",
		"cast:5/1:tmp:100":  "did you mean temp",
		"cast:5/1:temp:101": "100", "cast:5/1:temp:deep": "in dbar", "node:strat:ctemp:0:0": "did you mean strait",
		"node:strait:ctemp:3:100": "the nearest is", "pair:strait:1-3:velocity:100": "1-2",
		"pair:strait:1-2:velocity": "add a pressure", "total:strait:velocity": "name a transport",
		"tables/station.csv": "did you mean tables/stations.csv", "x:y": "--help"} {
		_, err := trace.Run(context.Background(), trace.Plan{Archive: archive, Item: item})
		var said interface{ Advice() string }
		if err == nil {
			t.Errorf("%s was traced", item)
			continue
		}
		if a, ok := err.(interface{ Advice() string }); ok { //nolint:errorlint // returned as it is
			said = a
		}
		if said == nil || !strings.Contains(said.Advice(), hint) {
			t.Errorf("%s: %v; want a hint with %q", item, err, hint)
		}
	}
}

// The line is found in every form of text that the same casts are kept in, also where several casts are in one file,
// columns run together, or pressure or salinity was computed from what the line holds; its other values are the
// level's.
func TestLineOfEveryLayout(t *testing.T) {
	files, err := filepath.Glob("../../../testdata/layouts/*.yaml")
	if err != nil || len(files) < 10 {
		t.Fatal(err, files)
	}
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".yaml")
		p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: file, Out: t.TempDir()})
		if err != nil || p.Path == "" {
			t.Fatal(name, err)
		}
		all, err := ncprofile.ReadCasts(open(t, filepath.Join(p.Path, "data/casts", p.Cruise+"_ctd.nc")))
		if err != nil {
			t.Fatal(err)
		}
		for _, i := range []int{0, len(all.Casts) - 1} {
			k := all.Casts[i]
			for _, level := range []int{0, k.Levels() / 2, k.Levels() - 1} {
				x := run(t, p.Path, fmt.Sprintf("cast:%s:temp:%g", all.IDs[i], k.PressureDbar[level]))
				if len(x.Parts) != 1 || x.Parts[0].Line == 0 {
					t.Errorf("%s: cast %s, level %d: no line: %+v", name, all.IDs[i], level, x.Parts)
					continue
				}
				line := strings.ReplaceAll(x.Parts[0].Text, ",", ".")
				for _, v := range []string{"temp", "oxy"} {
					col := k.Column(v)
					if col == nil || col.Decimals < 1 || name == "upcasts" && v == "temp" { // of IPTS-68, converted
						continue
					}
					if text := fmt.Sprintf("%.*f", col.DecimalsAt(level), col.Values[level]); !strings.Contains(line,
						text) &&
						name != "depth" && name != "conductivity" {
						t.Errorf("%s: %s = %s is not in line %d: %q", name, v, text, x.Parts[0].Line, line)
					}
				}
			}
		}
	}
}
