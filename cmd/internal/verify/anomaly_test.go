//go:build cgo

package verify

import (
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/section/seawater"
)

// climatology writes temperature and salinity of twelve months: in May linear in longitude, latitude and depth, in
// every other month missing. Latitudes run southward and longitudes from 0 to 359, as some files have them.
const climatology = `
import sys
import numpy as np
from netCDF4 import Dataset
f = Dataset(sys.argv[1], "w")
lon, lat, depth = np.arange(0, 360, 1.0), np.arange(70, 50, -1.0), np.arange(0, 1600, 100.0)
for name, v, unit in (("lon", lon, "degrees_east"), ("lat", lat, "degrees_north"), ("depth", depth, "m")):
    f.createDimension(name, len(v))
    f.createVariable(name, "f8", (name,))[:] = v
    f[name].units = unit
f["depth"].positive = "down"
f.createDimension("month", 12)
for name, standard, unit in (("t", "sea_water_potential_temperature", "degC"),
                             ("s", "sea_water_practical_salinity", "1")):
    x = f.createVariable(name, "f4", ("month", "depth", "lat", "lon"), fill_value=-99)
    x.standard_name, x.units = standard, unit
    x[:] = -99
e = np.where(lon > 180, lon - 360, lon)
z, y, x = np.meshgrid(depth, lat, e, indexing="ij")
for name in "t", "s":
    error = f.createVariable(name + "e", "f4", ("month", "depth", "lat", "lon"), fill_value=-99)
    error.standard_name = f[name].standard_name + " standard_error"
    error[:] = {"t": 0.3, "s": 0.05}[name]
f["t"][4] = 9 - z / 400 + 0.02 * (y - 60) + 0.01 * x
f["s"][4] = 35 + z / 20000
for name, standard in (("o", "moles_of_oxygen_per_unit_mass_in_sea_water"),
                       ("oe", "moles_of_oxygen_per_unit_mass_in_sea_water standard_error")):
    o = f.createVariable(name, "f8", ("month", "depth", "lat", "lon"), fill_value=-99)
    o.standard_name, o.units = standard, "mmol kg-1"
    o[:] = -99
f["o"][4] = 0.3 - z / 1e4
f["oe"][4] = 0.004
f.close()
`

// python runs a program with the name of the file that it writes.
func python(t *testing.T, program, name string) {
	t.Helper()
	if out, err := exec.Command("/usr/bin/python3", "-c", program, name).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
}

// anomalous is a cruise whose section is compared with a reference.
func anomalous(t *testing.T, with string, prepare func(dir string)) (*pipeline.Product, string) {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../../testdata/cruise")); err != nil {
		t.Fatal(err)
	}
	if prepare != nil {
		prepare(dir)
	}
	yaml := `cruise: {id: compared}
figures: {only: [anomaly], formats: [svg]}
systems: [{label: main, oxygen: {stage: adjusted to bottles, residual: 0.8}}]
casts: {sources: [casts], leave_out: [{file: casts/ZZSM20260504_00019_00001_ct1.csv, reason: damaged}]}
sections: [{name: strait, stations: 1-10` + with + "}]\n"
	file := filepath.Join(dir, "cruise.yaml")
	if err := os.WriteFile(file, []byte(yaml), 0o644); err != nil {
		t.Fatal(err)
	}
	p, err := pipeline.Build(t.Context(), pipeline.Plan{CruiseFile: file, Out: dir})
	if err != nil {
		t.Fatal(err)
	}
	return &p, dir
}

// anomalyOf opens the file of the anomaly of an archive, which must have been made.
func anomalyOf(t *testing.T, p *pipeline.Product) *nc.File {
	t.Helper()
	if p.Path == "" {
		t.Fatal(p.Findings)
	}
	f, err := nc.OpenFile(filepath.Join(p.Path, "data/sections/strait_anomaly.nc"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// A section less a climatology, and less the grid of an earlier archive: verify finds no fault, and one when a value is
// changed; the reference is among the inputs, the figure is drawn and the documents name it.
func TestAnomaly(t *testing.T) {
	prepare := func(dir string) {
		python(t, climatology, filepath.Join(dir, "climate.nc"))
	}
	p, _ := anomalous(t, ", anomaly: {with: climate.nc, month: 5, called: a climatology}", prepare)
	f := anomalyOf(t, p)
	checkOxygen(t, f)
	// The errors of the reference, in practical salinity and potential temperature, are nearly all of the errors.
	for name, want := range map[string]float64{"ctemp_change_err": 0.3, "asal_change_err": 0.05} {
		for _, v := range f.NumbersOf(name) {
			if v == v && math.Abs(v/want-1) > 0.01 {
				t.Fatalf("%s is %g, the reference has %g", name, v, want)
			}
		}
	}
	text := f.Text("grid_settings_json")
	if !strings.Contains(text, `"reference_errors":"standard errors of its file"`) {
		t.Errorf("settings: %s", text)
	}
	if text := f.Vars[f.Var("ctemp_change")].Text("units_metadata"); text != "temperature: difference" {
		t.Errorf("a difference of temperatures is %q", text)
	}
	for _, name := range []string{"ctemp_change", "ctemp_change_on_density", "asal_change_on_density", "asal_heave",
		"displacement"} {
		code := slices.Contains(strings.Fields(f.Vars[f.Var(name)].Text("ancillary_variables")),
			"ctemp_change_on_density_code")
		if code == (name == "ctemp_change") {
			t.Errorf("ancillary variables of %s: %s", name, f.Vars[f.Var(name)].Text("ancillary_variables"))
		}
	}
	total, heave := f.NumbersOf("ctemp_change"), f.NumbersOf("ctemp_heave")
	density := f.NumbersOf("ctemp_change_on_density")
	n := 0
	for i := range total {
		if !math.IsNaN(density[i]) {
			if n++; math.Abs(density[i]+heave[i]-total[i]) > 1e-12 {
				t.Errorf("parts %g and %g of %g", density[i], heave[i], total[i])
			}
		}
	}
	if n < 100 {
		t.Errorf("%d values on density of %d", n, len(total))
	}
	casts, err := nc.OpenFile(filepath.Join(p.Path, "data/sections/strait_section.nc"))
	if err != nil {
		t.Fatal(err)
	}
	defer casts.Close()
	all, err := ncprofile.ReadCasts(casts)
	if err != nil {
		t.Fatal(err)
	}
	lat, lon, levels, checked := f.NumbersOf("lat"), f.NumbersOf("lon"), f.NumbersOf("pres"), 0
	oxygen, withOxygen := f.NumbersOf("oxy_change"), 0
	for _, k := range all.Casts {
		for j := range lat {
			i, at := slices.Index(levels, 100), slices.Index(k.PressureDbar, 100)
			if math.Abs(lat[j]-k.At[1])+math.Abs(lon[j]-k.At[0]) > 1e-6 || at < 0 || math.IsNaN(total[i*len(lat)+j]) {
				continue
			}
			// as put in, at the depth of 100 dbar; between the nodes of a level the reference is straight
			z := -seawater.Height(100, lat[j])
			pl := seawater.PlaceOf(lon[j], lat[j])
			want := seawater.ConservativeTemperature(pl.AbsoluteSalinity(35+z/20000, 100),
				9-z/400+0.02*(lat[j]-60)+0.01*lon[j], 0)
			if checked++; math.Abs(k.Column("ctemp").Values[at]-want-total[i*len(lat)+j]) > 1e-3 {
				t.Errorf("station %s: %.5f less %.5f is given as %.5f", k.Station, k.Column("ctemp").Values[at], want,
					total[i*len(lat)+j])
			}
			if got := oxygen[i*len(lat)+j]; got == got {
				withOxygen++
				if want := k.Column("oxy").Values[at] - (300 - z/10); math.Abs(got-want) > 1e-3 {
					t.Errorf("station %s: oxygen differs by %.4f, given as %.4f", k.Station, want, got)
				}
			}
		}
	}
	if checked < 5 || withOxygen < 5 {
		t.Errorf("%d stations checked, %d with oxygen", checked, withOxygen)
	}
	read := func(rel string) string {
		b, err := os.ReadFile(filepath.Join(p.Path, rel))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	for rel, want := range map[string]string{"data/README.txt": "a climatology, month 5",
		"data/documents/processing_statement.md": "a climatology, month 5",
		"data/figures/strait_anomaly.txt":        "less a climatology",
		"data/provenance/history.txt":            "anomaly: section strait less a climatology",
		"data/figures/strait_anomaly_oxy.txt":    "dissolved oxygen: its change",
		"data/figures/strait_anomaly_oxy.svg":    "<svg", "data/figures/strait_anomaly.svg": "<svg"} {
		if !strings.Contains(read(rel), want) {
			t.Errorf("%s does not have %q", rel, want)
		}
	}
	r, err := Archive(t.Context(), Plan{Path: p.Path, All: true})
	if err != nil || r.Faults() > 0 {
		t.Fatal(err, r.Findings)
	}
	e := startEditor(t)
	name := filepath.Join(p.Path, "data/sections/strait_anomaly.nc")
	if _, err = e.edit(name, 1, "variable ctemp_heave"); err == nil {
		err = repair(p.Path)
	}
	if err != nil {
		t.Fatal(err)
	}
	if r, err = Archive(t.Context(), Plan{Path: p.Path}); err != nil || r.Faults() == 0 {
		t.Errorf("a change is not found: %v", err)
	}
}

// checkOxygen holds the error of oxygen to what both state: 4 umol/kg of the reference, the residual 0.8 and 0.5 % of
// the
// value of the casts, which lies between 4 and 5 umol/kg in all. The parts sum to the change, on most levels.
func checkOxygen(t *testing.T, f *nc.File) {
	t.Helper()
	change, heave := f.NumbersOf("oxy_change"), f.NumbersOf("oxy_heave")
	density := f.NumbersOf("oxy_change_on_density")
	errs, n, parts := f.NumbersOf("oxy_change_err"), 0, 0
	for i, v := range change {
		if v == v {
			if n++; errs[i] < math.Hypot(4, 0.8) || errs[i] > 5 {
				t.Fatalf("error of oxygen %g", errs[i])
			}
		}
		if d := density[i]; d == d {
			if parts++; math.Abs(d+heave[i]-v) > 1e-9 {
				t.Fatalf("parts %g and %g of %g", d, heave[i], v)
			}
		}
	}
	if n < 200 || parts < 100 || f.Vars[f.Var("oxy_change")].Text("units") != "umol kg-1" {
		t.Errorf("oxygen: %d changes, %d on density", n, parts)
	}
}

// The grid of an archive as reference: its own section differs from it by what the map misses of the casts.
func TestAnomalyFromEarlierSection(t *testing.T) {
	old, _ := anomalous(t, "", nil)
	p, _ := anomalous(t, ", anomaly: earlier.nc", func(dir string) {
		b, err := os.ReadFile(filepath.Join(old.Path, "data/sections/strait_grid.nc"))
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, "earlier.nc"), b, 0o644)
		}
		if err != nil {
			t.Fatal(err)
		}
	})
	f := anomalyOf(t, p)
	if f.Var("oxy_change") < 0 || f.Var("oxy_change_err") < 0 {
		t.Error("the grid of the earlier archive has oxygen, the difference has none")
	}
	near, all := 0, 0
	change, errors := f.NumbersOf("ctemp_change"), f.NumbersOf("ctemp_change_err")
	for i, v := range change {
		if !math.IsNaN(v) {
			if all++; math.Abs(v) <= 3*errors[i] {
				near++
			}
		}
	}
	if all < 300 || float64(near) < 0.9*float64(all) {
		t.Errorf("%d of %d within three errors of nothing", near, all)
	}
	if r, err := Archive(t.Context(), Plan{Path: p.Path}); err != nil || r.Faults() > 0 {
		t.Fatal(err, r.Findings)
	}
}

// What cannot be compared is refused, with what was found and what to do.
func TestAnomalyRefused(t *testing.T) {
	prepare := func(dir string) {
		python(t, climatology+`
f = Dataset(sys.argv[1], "a")
f["s"].standard_name = "sea_water_salinity"
f.close()
`, filepath.Join(dir, "unsaid.nc"))
		python(t, climatology, filepath.Join(dir, "climate.nc"))
	}
	for with, want := range map[string]string{
		"climate.nc":                   "twelve months along month: choose one",
		"{with: unsaid.nc, month: 5}":  "needs a salinity (standard_name",
		"{with: climate.nc, month: 6}": "no place in common", "none.nc": "does not exist, or is not a regular file",
		"cruise.yaml": "anomaly of section strait: cruise.yaml"} {
		p, _ := anomalous(t, ", anomaly: "+with, prepare)
		found := false
		for _, x := range p.Findings {
			found = found || x.Check == "section.anomaly" && strings.Contains(x.Message, want) && x.Remedy != "" &&
				x.Line == 5
		}
		if p.Path != "" || !found {
			t.Errorf("%s: %q %+v", with, p.Path, p.Findings)
		}
	}
}
