package compare_test

import (
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/compare"
	"github.com/castwright/castwright/cmd/internal/pipeline"
)

const casts = "../../../testdata/cruise/casts"

// cruise copies casts 1 to 6 of the demo cruise and writes a cruise file.
func cruise(t *testing.T, dir, yaml string) string {
	t.Helper()
	for _, n := range []string{"1_00001", "2_00001", "3_00001", "4_00001", "5_00001", "6_00001"} {
		name := "ZZSM20260504_0000" + n + "_ct1.csv"
		data, err := os.ReadFile(filepath.Join(casts, name))
		if err != nil {
			t.Fatal(err)
		}
		put(t, filepath.Join(dir, "casts", name), data)
	}
	file := filepath.Join(dir, "cruise.yaml")
	put(t, file, []byte(yaml))
	return file
}

func put(t *testing.T, name string, data []byte) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, data, 0o644); err != nil {
		t.Fatal(err)
	}
}

const plain = `cruise: {id: small}
figures: none
casts:
  sources: [casts]
  aliases: [{column: CTDTMP2, means: temp2}, {column: CTDSAL2, means: psal2}]
  edits: edits.csv
sections:
  - {name: east, stations: 1-3}
  - {name: west, stations: 3-6}
`

const edits = "station,cast,variable,from_dbar,to_dbar,flag,initials,reason,date\n"

func build(t *testing.T, file string) string {
	t.Helper()
	p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: file, Out: t.TempDir()})
	if err != nil || p.Path == "" {
		for _, f := range p.Findings {
			t.Log(f.Position, f.Message)
		}
		t.Fatal(err)
	}
	return p.Path
}

func run(t *testing.T, a, b string) *compare.Report {
	t.Helper()
	r, err := compare.Run(context.Background(), compare.Plan{Old: a, New: b})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// differing lists file and variable of all values that differ between two archives, read by another library.
const differing = `
import sys, pathlib, netCDF4, numpy
a, b = map(pathlib.Path, sys.argv[1:])
for p in sorted(a.glob('data/**/*.nc')):
    rel = p.relative_to(a / 'data')
    x, y = netCDF4.Dataset(p), netCDF4.Dataset(b / 'data' / rel)
    x.set_auto_mask(False); y.set_auto_mask(False)
    for v in x.variables:
        if not numpy.array_equal(x[v][...], y[v][...], equal_nan=x[v].dtype.kind == 'f'):
            print(f'{rel}:{v}')
`

// Two builds that differ in one flag edit differ in exactly the variables in which another library finds other values,
// and nowhere outside the section of the cast; the report names the edit.
func TestFlagEdit(t *testing.T) {
	dir := t.TempDir()
	file := cruise(t, dir, plain)
	put(t, filepath.Join(dir, "edits.csv"), []byte(edits))
	old := build(t, file)
	put(t, filepath.Join(dir, "edits.csv"), []byte(edits+"5,1,psal,100,110,4,RH,bubble,2026-05-16\n"))
	now := build(t, file)
	r := run(t, old, now)
	if r.Same {
		t.Fatal("the archives are said to be the same")
	}
	out, err := exec.Command("/usr/bin/python3", "-c", differing, old, now).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	want := strings.Fields(string(out))
	var got []string
	for _, f := range r.Flags {
		if f.Cast != "ZZSM20260504_00005_00001" || f.From != "2 acceptable" || f.To != "4 bad" || f.Count != 6 ||
			f.First != "100 dbar" || f.Last != "110 dbar" {
			t.Errorf("%+v", f)
		}
		got = append(got, f.File+":"+f.Variable)
	}
	for _, c := range r.Values {
		if strings.HasSuffix(c.File, ".nc") {
			got = append(got, c.File+":"+c.Variable)
		}
		if strings.Contains(c.File, "east") {
			t.Errorf("section east does not hold the cast: %+v", c)
		}
		if c.Variable == "velocity" && !slices.Equal(c.Places.Casts, []string{"west_4_5", "west_5_6"}) {
			t.Errorf("velocity differs at %v", c.Places.Casts)
		}
	}
	slices.Sort(got)
	slices.Sort(want)
	if len(want) < 40 || !slices.Equal(got, want) {
		t.Errorf("got %d variables\n%s\nwant %d\n%s", len(got), strings.Join(got, "\n"), len(want),
			strings.Join(want, "\n"))
	}
	if len(r.Steps) != 1 || r.Steps[0].Step != "flag" || r.Steps[0].What != compare.Added ||
		!strings.Contains(r.Steps[0].Text, "psal of cast ZZSM20260504_00005_00001, 100 to 110 dbar") {
		t.Errorf("%+v", r.Steps)
	}
	if len(r.Settings) != 0 || len(r.Inputs) != 1 || r.Inputs[0] != (compare.FileChange{File: "edits.csv",
		What: compare.Differs}) || len(r.Positions)+len(r.Ledger)+len(r.Casts.Added)+len(r.Casts.Removed) != 0 {
		t.Errorf("%+v %+v %+v %+v", r.Settings, r.Inputs, r.Positions, r.Casts)
	}
	for _, f := range r.Files {
		if strings.HasPrefix(f.File, "sections/east") && f.What != compare.History {
			t.Errorf("%+v", f)
		}
	}
	if again := run(t, old, old); !again.Same || len(again.Values)+len(again.Metadata)+len(again.Files) != 0 {
		t.Errorf("an archive differs from itself: %+v", again)
	}
}

// Largest difference, root mean square and place are those of a bias that is known.
func TestValues(t *testing.T) {
	dir := t.TempDir()
	file := cruise(t, dir, plain)
	put(t, filepath.Join(dir, "edits.csv"), []byte(edits))
	old := build(t, file)
	// one value of oxygen in cast 3, 3 umol/kg higher
	name := filepath.Join(dir, "casts", "ZZSM20260504_00003_00001_ct1.csv")
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	const was = "33.9612,2,    322.2,2,"
	if strings.Count(string(data), was) != 1 {
		t.Fatalf("%q is there %d times", was, strings.Count(string(data), was))
	}
	text := strings.Replace(string(data), was, "33.9612,2,    325.2,2,", 1)
	put(t, name, []byte(text))
	r := run(t, old, build(t, file))
	i := slices.IndexFunc(r.Values, func(c compare.Change) bool {
		return c.Variable == "oxy" && strings.HasPrefix(c.File, "casts/")
	})
	if i < 0 {
		t.Fatalf("%+v", r.Values)
	}
	c := r.Values[i]
	if c.Changed != 1 || c.Max < 2.99 || c.Max > 3.01 || c.Where != "ZZSM20260504_00003_00001, pres 42 dbar" ||
		c.Unit != "umol kg-1" || c.RMS*c.RMS*float64(c.Compared) < 8.9 || c.RMS*c.RMS*float64(c.Compared) > 9.1 {
		t.Errorf("%+v", c)
	}
}

// Casts that were added, removed, renumbered, moved and left out are named; so are settings and metadata.
func TestCasts(t *testing.T) {
	dir := t.TempDir()
	plain := strings.Replace(plain, "  - {name: east, stations: 1-3}\n", "", 1)
	put(t, filepath.Join(dir, "edits.csv"), []byte(edits))
	old := build(t, cruise(t, dir, strings.Replace(plain, "  edits: edits.csv\n",
		"  edits: edits.csv\n  leave_out: [{cast: 1, reason: trial}]\n", 1)))
	name := filepath.Join(dir, "casts", "ZZSM20260504_00004_00001_ct1.csv")
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	file := cruise(t, dir, strings.NewReplacer("  edits: edits.csv\n",
		"  edits: edits.csv\n  leave_out: [{cast: 2, reason: winch}]\n  renumber: [{from: 5, to: 55, why: log}]\n",
		"stations: 3-6", "stations: '3, 4, 55, 6', reference: 100", "{id: small}", "{id: small, title: Another title}").
		Replace(plain))
	put(t, name, []byte(strings.Replace(string(data), "LATITUDE = 66.7833", "LATITUDE = 66.7933", 1)))
	r := run(t, old, build(t, file))
	c := r.Casts
	if len(c.Added) != 1 || c.Added[0].Cast != "ZZSM20260504_00001_00001" ||
		len(c.Removed) != 1 || c.Removed[0].Cast != "ZZSM20260504_00002_00001" ||
		len(c.Renumbered) != 1 || c.Renumbered[0] != (compare.Renumbered{Old: "ZZSM20260504_00005_00001",
		New: "ZZSM20260504_00055_00001", By: "file and checksum"}) || len(c.LeftOut) != 2 {
		t.Errorf("%+v", c)
	}
	// 0.01 degrees of latitude at 66.8 degrees are 1.115 km (WGS84: meridian radius of 6388 km there)
	if len(r.Positions) != 1 || r.Positions[0].Cast != "ZZSM20260504_00004_00001" || r.Positions[0].Km < 1.114 ||
		r.Positions[0].Km > 1.116 {
		t.Errorf("%+v", r.Positions)
	}
	for _, s := range []string{"reference", "stations"} {
		if !slices.ContainsFunc(r.Settings, func(x compare.Setting) bool { return x.Name == s }) {
			t.Errorf("setting %s is not named: %+v", s, r.Settings)
		}
	}
	if !slices.ContainsFunc(r.Metadata, func(m compare.Metadata) bool {
		return m.Attribute == "citation" && len(m.Files) == 4 && m.New == "2026: Another title"
	}) {
		t.Errorf("the title is not named: %+v", r.Metadata)
	}
	// values of a renumbered cast are compared under its new name, and none of its measured values differs
	for _, v := range r.Values {
		if strings.HasSuffix(v.File, "_ctd.nc") && v.Variable == "temp" &&
			slices.Contains(v.Places.Casts, "ZZSM20260504_00055_00001") {
			t.Errorf("%+v", v)
		}
	}
	if _, err := json.Marshal(r); err != nil {
		t.Error(err)
	}
}

// An archive that was changed after it was made is refused.
func TestChanged(t *testing.T) {
	dir := t.TempDir()
	put(t, filepath.Join(dir, "edits.csv"), []byte(edits))
	a := build(t, cruise(t, dir, plain))
	put(t, filepath.Join(a, "data", "README.txt"), []byte("changed\n"))
	for _, name := range []string{a, dir} {
		if _, err := compare.Run(context.Background(), compare.Plan{Old: name, New: a}); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
}
