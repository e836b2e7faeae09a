package trace_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	archives "github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/cmd/internal/trace"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/nc"
)

// build builds a section of six casts of the demo cruise; inputs is the folder of the cruise file.
func build(t *testing.T) (archive, inputs string) {
	t.Helper()
	return buildOf(t, `cruise: {id: small}
figures: none
casts:
  sources: ['casts/ZZSM20260504_0000[1-6]_00001_ct1.csv']
  aliases: [{column: CTDTMP2, means: temp2}, {column: CTDSAL2, means: psal2}]
sections: [{name: strait, stations: 1-6, grid: {length_dbar: 100}}]
`)
}

// buildOf builds casts of the demo cruise with a cruise file.
func buildOf(t *testing.T, yaml string) (archive, inputs string) {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "casts"), os.DirFS("../../../testdata/cruise/casts")); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "cruise.yaml")
	if err := os.WriteFile(file, []byte(yaml), 0o644); err != nil {
		t.Fatal(err)
	}
	return built(t, file).Path, dir
}

func built(t *testing.T, file string) pipeline.Product {
	t.Helper()
	p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: file, Out: t.TempDir()})
	if err != nil || p.Path == "" {
		for _, f := range p.Findings {
			t.Log(f.Position, f.Message)
		}
		t.Fatal(err)
	}
	return p
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

// wide builds the demo cruise with the section mapped by every method, and a field.
func wide(t *testing.T) (archive, inputs string) {
	t.Helper()
	yaml := `cruise: {id: wide}
figures: none
casts:
  sources: [casts]
  aliases: [{column: CTDTMP2, means: temp2}, {column: CTDSAL2, means: psal2}]
  leave_out: [{file: casts/ZZSM20260504_00019_00001_ct1.csv, reason: damaged}]
  role: [{test: T1}, {repeat: 6/2}]
sections:
  - {name: strait, stations: 1-10, grid: {length_dbar: 100, step_km: 20}}
  - {name: slope, stations: 11-18, reference: 400, grid: none}
  - {name: ring, stations: "4, 6, 13, 12, 4", positive: in, grid: none}
`
	for _, m := range []gridding.Method{gridding.Linear, gridding.Successive, gridding.Triangles, gridding.Natural,
		gridding.Density} {
		yaml += fmt.Sprintf("  - {name: %s, stations: 1-10, grid: {method: %s, step_km: 20}}\n", m, m)
	}
	return buildOf(t, yaml+"fields: [{name: survey, step: 0.5, levels: [10, 50, 101, 200], "+
		"surfaces: {sigma0: [27.3, 27.6]}, grid: natural}]\n")
}

// pick returns the places of n random values of a variable that are there, and how they lie.
func pick(t *testing.T, r *rand.Rand, f *nc.File, variable string, n int) (values []int, dims []int) {
	t.Helper()
	v := f.NumbersOf(variable)
	for range 1000 * n {
		if k := r.IntN(len(v)); v[k] == v[k] && len(values) < n { //nolint:staticcheck // not NaN
			values = append(values, k)
		}
	}
	if len(values) < n {
		t.Fatalf("%s: %d values", variable, len(values))
	}
	for _, d := range f.Vars[f.Var(variable)].Dims {
		dims = append(dims, f.Dims[d].Len)
	}
	return values, dims
}

// items chooses random values of every product: casts, sections, station pairs, grids, fields and tables.
func items(t *testing.T, archive string) (out []string) {
	t.Helper()
	r := rand.New(rand.NewPCG(7, 11))
	add := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	all, err := ncprofile.ReadCasts(open(t, filepath.Join(archive, "data/casts/wide_ctd.nc")))
	if err != nil {
		t.Fatal(err)
	}
	for range 70 {
		k := all.Casts[r.IntN(len(all.Casts))]
		col := &k.Columns[r.IntN(len(k.Columns))]
		if i := r.IntN(len(col.Values)); col.Values[i] == col.Values[i] &&
			col.Name != "nobs" { //nolint:staticcheck // not NaN
			add("cast:%s:%s:%g", k.ID(), col.Name, k.PressureDbar[i])
		}
	}
	for i, v := range []string{"lat", "lon", "bottom_depth"} {
		add("cast:%s:%s", all.IDs[3*i+1], v)
	}
	for _, name := range []string{"strait", "slope"} {
		f := open(t, filepath.Join(archive, "data/sections", name+"_geostrophy.nc"))
		a, b, pres := f.WordsOf("station_a"), f.WordsOf("station_b"), f.NumbersOf("pres")
		for _, v := range []string{"velocity", "velocity_shear", "dynamic_height_a", "dynamic_height_b", "velocity_err",
			"velocity_err_per_cast"} {
			at, _ := pick(t, r, f, v, 5)
			for _, k := range at {
				add("pair:%s:%s-%s:%s:%g", name, a[k/len(pres)], b[k/len(pres)], v, pres[k%len(pres)])
			}
		}
		for _, v := range []string{"transport", "transport_mass", "transport_above_triangle", "pair_length", "coriolis",
			"deepest_common_level", "transport_err"} {
			at, _ := pick(t, r, f, v, 1)
			add("pair:%s:%s-%s:%s", name, a[at[0]], b[at[0]], v)
		}
		add("pair:%s:%s-%s:transport_triangle:constant_velocity", name, a[1], b[1])
		add("total:%s:transport", name)
		cast := all.Casts[map[string]int{"strait": 4, "slope": 12}[name]]
		add("section:%s:%s:dynamic_height:%g", name, cast.ID(), cast.PressureDbar[20])
	}
	for _, m := range []string{"strait", "linear", "successive", "triangles", "natural", "density"} {
		f := open(t, filepath.Join(archive, "data/sections", m+"_grid.nc"))
		km, pres := f.NumbersOf("distance"), f.NumbersOf("pres")
		variables, n := []string{"ctemp", "asal", "sigma0"}, 2
		if m == "strait" {
			variables, n = append(variables, "ctemp_relerr", "ctemp_err", "asal_err"), 4
		}
		for _, v := range variables {
			at, _ := pick(t, r, f, v, n)
			for _, k := range at {
				add("node:%s:%s:%g:%g", m, v, km[k%len(km)], pres[k/len(km)])
			}
		}
	}
	f := open(t, filepath.Join(archive, "data/fields/survey.nc"))
	lon, lat, pres := f.NumbersOf("lon"), f.NumbersOf("lat"), f.NumbersOf("pres")
	for _, v := range []string{"ctemp", "asal", "sigma0"} {
		at, _ := pick(t, r, f, v, 3)
		for _, k := range at {
			add("field:survey:%s:%g:%g:%g", v, lon[k%len(lon)], lat[k/len(lon)%len(lat)], pres[k/len(lon)/len(lat)])
		}
	}
	f = open(t, filepath.Join(archive, "data/fields/survey_sigma0.nc"))
	sigma := f.NumbersOf("sigma0")
	for _, v := range []string{"pres", "ctemp", "asal"} {
		at, _ := pick(t, r, f, v, 1)
		k := at[0]
		add("field:survey_sigma0:%s:%g:%g:%g", v, lon[k%len(lon)], lat[k/len(lon)%len(lat)], sigma[k/len(lon)/len(lat)])
	}
	for _, v := range []string{"transport", "transport_mass", "transport_salt", "transport_freshwater",
		"transport_heat"} {
		add("total:ring:%s", v)
	}
	return append(out, cells(t, r, archive, 300-len(out))...)
}

// cells chooses random cells with a number of the tables.
func cells(t *testing.T, r *rand.Rand, archive string, n int) (out []string) {
	t.Helper()
	a, err := archives.Open(context.Background(), archive)
	if err != nil {
		t.Fatal(err)
	}
	tables := map[string][]string{"stations": {"latitude_deg", "longitude_deg", "first_pressure_dbar",
		"last_pressure_dbar",
		"levels"}, "cast_numbers": {"value"}, "sensor_pairs": {"deep_median", "deep_levels"},
		"transports": {"transport"}, "budgets": {"net", "stated_error", "beta_term", "net_at_one_coriolis_parameter",
			"sum_of_absolute_transports", "length_km", "enclosed_km2", "pair_area_km2", "closing_velocity_ms",
			"change_per_unit"}}
	names := slices.Sorted(maps.Keys(tables))
	for len(out) < n {
		name := names[len(out)%len(names)]
		table, err := a.Table("tables/" + name + ".csv")
		if err != nil {
			t.Fatal(err)
		}
		k := r.IntN(len(table.Rows))
		row, column := table.Rows[k], tables[name][r.IntN(len(tables[name]))]
		kind := table.Get(row, "kind")
		if name == "cast_numbers" && !strings.HasPrefix(table.Get(row, "name"), "mld_") ||
			name == "transports" && (kind != "volume" && kind != "mass" || table.Get(row, "what") != "pair" &&
				table.Get(row, "what") != "total" || table.Get(row, "section") == "ring") || table.Get(row,
			column) == "" {
			continue
		}
		out = append(out, fmt.Sprintf("table:%s:%d:%s", name, k+2, column))
	}
	return out
}

// From the inputs that the traces of 300 random values name, another program computes the values again; for nodes of
// grids it finds the weights too.
func TestRecomputed(t *testing.T) {
	archive, inputs := wide(t)
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
	if len(traces) != 300 {
		t.Fatalf("%d traces", len(traces))
	}
	data, err := json.Marshal(traces)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-B", "-W", "ignore", "testdata/recompute.py", inputs)
	cmd.Stdin = bytes.NewReader(data)
	out, err := cmd.CombinedOutput()
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if err != nil || len(lines) != 1 || !strings.HasPrefix(lines[0], "compared 300 ") {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, kind := range []string{"optimal=28", "linear=", "successive=8", "triangles=", "natural=", "density="} {
		if !strings.Contains(lines[0], "weights:"+kind) {
			t.Errorf("too few weights were compared: no %s in %s", kind, lines[0])
		}
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
	for item, inputs := range map[string]int{"tables/stations.csv": 6, "table:sensor_pairs:2:deep_median": 1,
		"table:transports:2:transport": 2, "table:tables/stations.csv:3:role": 1, "section:strait:3/1:temp:100": 1,
		"total:strait:transport":    6,
		"pair:strait:2-3:transport": 2, "node:strait:sigma0:50:100": 6, "node:strait:ctemp_err:50:100": 6,
		"cast:3/1:n2:100": 1, "provenance/prov.json": 0} {
		if x := run(t, archive, item); len(x.Inputs) != inputs {
			t.Errorf("%s: %d inputs, want %d", item, len(x.Inputs), inputs)
		}
	}
	if x := run(t, archive, "cast:3/1:lat"); len(x.Parts) != 1 || !strings.HasPrefix(x.Parts[0].Text, "LATITUDE") {
		t.Errorf("%+v", x.Parts)
	}
	for item, hint := range map[string]string{"cast:3/1:temp": "add a pressure", "cast:77/1:temp:10": "there are 1/1",
		"cast:5/1:tmp:100":  "did you mean temp",
		"cast:5/1:temp:101": "100", "cast:5/1:temp:deep": "in dbar", "node:strat:ctemp:0:0": "did you mean strait",
		"node:strait:ctemp:3:100": "the nearest is", "pair:strait:1-3:velocity:100": "1-2",
		"pair:strait:1-2:velocity": "add a pressure", "total:strait:velocity": "name a transport",
		"table:transport:2:transport": "did you mean transports", "table:transports:1:transport": "from 2 to",
		"table:transports:2:transprt": "did you mean transport", "section:strat:3/1:temp:100": "did you mean strait",
		"series:strait:3/1:temp:100": "there are ", "field:survey:ctemp:0:0:0": "there are ",
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
		p := built(t, file)
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

// Two casts of the same numbers in one file: each value has the line of its own cast, and each cast its own lines.
func TestLineOfSecondCast(t *testing.T) {
	dir := t.TempDir()
	var text strings.Builder
	for _, station := range []int{1, 2} {
		fmt.Fprintf(&text, "=== Station %d / Cast 1\n2026/08/14 0%d:30\n54.5 -10.%d\nPres, Temp, Sal\n", station,
			station,
			station)
		for p := 2; p <= 60; p += 2 {
			fmt.Fprintf(&text, "%d, %.4f, %.4f\n", p, 16-float64(p)/10, 34+float64(p)/100)
		}
	}
	yaml := `cruise: {id: same, legs: [{expocode: ZZSD20260812, start: 2026-08-12, end: 2026-08-20}]}
figures: none
casts:
  sources: [both.txt]
  layouts:
    - name: both
      header: ['Station (?P<station>\d+) / Cast (?P<cast>\d+)', '^(?P<date>\d{4}/\d\d/\d\d) (?P<time>\d\d:\d\d)',
               '^(?P<latitude>\d+\.\d+) (?P<longitude>-\d+\.\d+)$']
      columns: [{column: Pres, means: pres}, {column: Temp, means: temp}, {column: Sal, means: psal}]
`
	file := filepath.Join(dir, "cruise.yaml")
	for name, content := range map[string]string{filepath.Join(dir, "both.txt"): text.String(), file: yaml} {
		if err := os.WriteFile(name, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	p := built(t, file)
	for station, want := range map[int][2]any{1: {9, "5-34"}, 2: {43, "39-68"}} {
		x := run(t, p.Path, fmt.Sprintf("cast:%d/1:temp:10", station))
		if x.Parts[0].Line != want[0] || len(x.Inputs) != 1 || x.Inputs[0].Lines != want[1] {
			t.Errorf("station %d: line %d, inputs %+v, want %v", station, x.Parts[0].Line, x.Inputs, want)
		}
		x = run(t, p.Path, fmt.Sprintf("cast:%d/1:lon", station))
		if x.Value == nil || x.Parts[0].Text != fmt.Sprintf("54.5 -10.%d", station) {
			t.Errorf("station %d: %+v", station, x.Parts)
		}
	}
}
