//go:build cgo

package netcdf

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

var nan = math.NaN()

// common is an invented cruise.
func common() *Common {
	return &Common{
		Cruise: &metadata.Cruise{
			ID: "fulmar-2024", Title: "CTD casts of RV Fulmar in an invented sea",
			Summary: "Invented casts, made for tests",
			Ships:   []metadata.Ship{{Name: "RV Fulmar", Code: "ZZFU"}},
			Legs: []metadata.Leg{{Expocode: "ZZFU20240501", ChiefScientist: metadata.Person{Name: "Søren Łuków, jr",
				ORCID:       "https://orcid.org/0000-0000-0000-0001",
				Institution: "Åland Invented Institute"}}, {Expocode: "ZZFU20240512"}},
			// e + combining acute: must come out as one letter.
			People:  []metadata.Person{{Name: "Ame\u0301lie 山田", Role: "CTD processing"}, {Name: "Bo", Role: "watch"}},
			Funding: []metadata.Grant{{Name: "grant 1"}}, Projects: []string{"Test"},
			References: []metadata.Reference{{Link: "cruise report 1"}, {Link: "https://example.org/2"}},
			Release: metadata.Release{Licence: "CC0-1.0", Contact: "data@example.org",
				PerVariable: map[string]metadata.Status{"oxy": "underway"}},
			Systems: []metadata.System{
				{Label: "main set", Bin: metadata.Bin{WidthDbar: 2, Label: "centre"}, Package: "frame of 24 bottles",
					Sensors: []metadata.Sensor{{Variables: []string{"temp"}, Model: "thermometer ⅠⅠ", Serial: "0042",
						Calibrated: "2024-02-11"},
						{Variables: []string{"cond", "psal"}, Model: "cell", Serial: "7"},
						{Variables: []string{"oxy"}}},
					Salinity: metadata.Calibration{Stage: metadata.StageAdjusted, By: "Bo", Date: "2024-05-20",
						Residual: 0.0012},
					Oxygen: metadata.Calibration{Residual: nan}, Deck: metadata.Deck{OffsetDbar: 0.4, Applied: true},
					Upstream: []string{"cell thermal mass"}},
				{Label: "spare", Bin: metadata.Bin{WidthDbar: 2, Label: "centre"}, Deck: metadata.Deck{OffsetDbar: nan},
					Sensors:  []metadata.Sensor{{Variables: []string{"temp", "psal"}, Serial: "0101"}},
					Salinity: metadata.Calibration{Residual: nan}, Oxygen: metadata.Calibration{Residual: nan}},
			},
			DepthFound: "echo sounder",
		},
		Created: time.Date(2024, 6, 1, 12, 0, 0, 0, time.UTC), Program: "castwright test", Workers: 2,
		History: []metadata.Record{{Step: "read", Text: "casts from exchange files",
			Params: []metadata.Param{{Name: "files", Value: "5"}},
			Tool:   "castwright test", At: time.Date(2024, 6, 1, 12, 0, 0, 0, time.UTC)}},
	}
}

// makeCast returns an invented cast with n levels from first dbar on in steps.
func makeCast(expocode, station, number string, i int, first, step float64, n int) *section.Cast {
	c := &section.Cast{
		Expocode: expocode, Station: station, Number: number, Direction: section.Down, Role: section.Primary,
		System: "main set",
		At:     orb.Point{-45 + 0.5*float64(i), 30.1234}, AtDecimals: [2]int{4, 4}, Time: time.Date(2024, 5, 2+i, 3, 15,
			20,
			5e8, time.UTC), TimeIs: section.AtBottom,
		BottomM: 5432.5 - float64(i), BottomDecimals: 1,
	}
	p, temp, psal, oxy, nobs, sigma, odd := make([]float64, n), make([]float64, n), make([]float64, n),
		make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	flags, proposals, words := make([]metadata.Flag, n), make([]metadata.Flag, n), make([]string, n)
	for k := range n {
		p[k] = first + step*float64(k)
		temp[k] = math.Round((20*math.Exp(-p[k]/800)+0.01*math.Sin(float64(k*i)))*1e4) / 1e4
		psal[k] = math.Round((35+0.5*math.Cos(p[k]/500))*1e4) / 1e4
		oxy[k] = 200 + 0.1*float64(k%7)
		nobs[k] = float64(20 + k%9)
		sigma[k] = 25 + p[k]/1000/3
		odd[k] = 0.1 * float64(k+i)
		flags[k], proposals[k] = metadata.Acceptable, metadata.Acceptable
		words[k] = fmt.Sprintf("n%d°", k%12)
	}
	temp[n-1], flags[n-1], nobs[n-1] = nan, metadata.NotSampled, nan
	flags[1], proposals[2] = metadata.Interpolated, metadata.Questionable
	c.PressureDbar = p
	number2 := func(name string, values []float64, decimals int) section.Column {
		return section.Column{Variable: metadata.MustVariable(name), Decimals: decimals, Values: values}
	}
	c.Columns = []section.Column{number2("pres", p, 1), number2("temp", temp, 4), number2("psal", psal, 4),
		number2("nobs", nobs, 0),
		number2("sigma0", sigma, -1),
		{Variable: metadata.Variable{Name: "CTD-ODD %", LongName: "unlisted column", ExchangeUnit: "FURLONG"},
			Decimals: 1, Values: odd},
		{Variable: metadata.Variable{Name: "notes", LongName: "remarks by level"}, Decimals: -1, Text: words}}
	c.Columns[1].Flags, c.Columns[1].Proposed = flags, proposals
	c.Columns[4].Derived = true
	c.Columns[4].Comment, c.Columns[4].References = "from asal and ctemp", "IOC, SCOR and IAPSO 2010"
	if i%2 == 0 {
		oxy[0] = nan
		c.Columns = append(c.Columns, number2("oxy", oxy, 1))
	}
	return c
}

func fiveCasts() []*section.Cast {
	cs := []*section.Cast{
		makeCast("ZZFU20240501", "1", "1", 0, 2, 2, 700), makeCast("ZZFU20240501", "2", "1", 1, 4, 2, 500),
		makeCast("ZZFU20240501", "3A", "2", 2, 2, 2, 610),
		makeCast("ZZFU20240512", "004", "1", 3, 2, 2, 12), makeCast("ZZFU20240512", "Nörd", "1", 4, 2, 2, 700),
	}
	cs[4].System = "spare"
	cs[2].Direction, cs[2].Role, cs[2].SectionID, cs[2].TimeIs = section.Up, section.Repeat, "P 12", section.AtStart
	cs[3].DateOnly, cs[3].BottomM = true, nan
	return cs
}

// server is one Python that opens files for all tests: importing xarray takes longer than most of them.
var server = sync.OnceValues(func() (func(script string, paths []string) (string, error), error) {
	cmd := exec.Command("/usr/bin/python3", "-W", "error", "-u", "-c", `
import sys, json, traceback, warnings
warnings.simplefilter("error")
import numpy as np, xarray as xr, netCDF4
def common(paths):
    ds = [xr.open_dataset(p).load() for p in paths]
    for d in ds:
        assert d.time.dtype.kind == "M", d.time.dtype
        assert "lat" in d.coords and "lon" in d.coords and "time" in d.coords, d.coords
        for n, v in d.variables.items():
            if not n.endswith("_bnds"):
                assert v.attrs.get("long_name"), n
        d.close()
    for p in paths:
        netCDF4.Dataset(p).close()
    return ds
for line in sys.stdin:
    job = json.loads(line)
    try:
        ds = common(job["paths"])
        exec(job["script"], {"ds": ds, "np": np, "xr": xr})
        print(json.dumps(""))
    except BaseException:
        print(json.dumps(traceback.format_exc()))
`)
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	to, from := json.NewEncoder(in), json.NewDecoder(out)
	return func(script string, paths []string) (trouble string, err error) {
		if err := to.Encode(map[string]any{"script": script, "paths": paths}); err != nil {
			return "", err
		}
		err = from.Decode(&trouble)
		return trouble, err
	}, nil
})

// opened asks xarray, netCDF4 and ncdump to open the files, any warning being an error, and runs more checks in Python
// on them; ds is the list. It fails where one of them is missing.
func opened(t *testing.T, script string, paths ...string) {
	t.Helper()
	ask, err := server()
	if err != nil {
		t.Fatalf("python3: %v", err)
	}
	if trouble, err := ask(script, paths); err != nil || trouble != "" {
		t.Fatalf("xarray: %v\n%s", err, trouble)
	}
	for _, p := range paths {
		if out, err := exec.Command("ncdump", "-h", p).CombinedOutput(); err != nil {
			t.Fatalf("ncdump: %v\n%.2000s", err, out)
		}
	}
}

// sameBytes writes with 1 and with 8 workers and wants the same file.
func sameBytes(t *testing.T, name string, write func(path string, workers int) error) string {
	t.Helper()
	var first []byte
	var path string
	for _, workers := range []int{1, 8} {
		path = filepath.Join(t.TempDir(), name)
		if err := write(path, workers); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = b
		} else if !bytes.Equal(first, b) {
			t.Errorf("%s: %d workers give other bytes than 1", name, workers)
		}
	}
	return path
}

func writeCasts(t *testing.T, x *Common, casts []*section.Cast) string {
	t.Helper()
	return sameBytes(t, "x_ctd.nc", func(path string, workers int) error {
		x.Workers = workers
		return WriteCasts(context.Background(), path, x, casts)
	})
}

// valuesBack compares a variable, row for row, with the columns of the casts.
func valuesBack(t *testing.T, r *read, casts []*section.Cast, variable, column string) {
	t.Helper()
	got := r.number[variable]
	pres, at := r.number["pres"], 0
	ragged := r.s.Var("row_size") >= 0
	aligned := !ragged && r.s.Dim("level") >= 0
	for i, c := range casts {
		col := c.Column(column)
		row, pres := got, pres
		switch {
		case aligned:
			n := r.s.Dims[r.s.Dim("level")].Len
			row, pres = got[i*n:(i+1)*n], pres[i*n:(i+1)*n]
		case !ragged:
			row = got[i*len(pres) : (i+1)*len(pres)]
		}
		written, last := 0, -1
		for k, p := range c.PressureDbar {
			if math.IsNaN(p) {
				continue
			}
			j := at
			if ragged {
				at++
			} else {
				if j = slices.Index(pres[last+1:], p); j >= 0 {
					j += last + 1
				}
				last = j
			}
			if j < 0 || (ragged && pres[j] != p) {
				t.Fatalf("%s: cast %d level %d: no place for %g dbar", variable, i, k, p)
			}
			want := fillValue
			if col != nil && !math.IsNaN(col.Values[k]) {
				if want = col.Values[k]; col.Derived {
					want = Round(want, 23)
				}
				written++
			}
			if math.Float64bits(row[j]) != math.Float64bits(want) {
				t.Fatalf("%s: cast %d level %d: %v, want %v", variable, i, k, row[j], want)
			}
		}
		if !ragged {
			for _, x := range row {
				if x != fillValue {
					written--
				}
			}
			if written != 0 {
				t.Errorf("%s: cast %d: %d values too few or many", variable, i, written)
			}
		}
	}
}

func TestWriteCastsOrthogonal(t *testing.T) {
	casts := fiveCasts()
	path := writeCasts(t, common(), casts)
	r := conform(t, path)
	if r.s.Var("row_size") >= 0 || r.s.Dims[r.s.Dim("pres")].Len != 700 {
		t.Fatalf("not orthogonal: %v", r.s.Dims)
	}
	for _, n := range []string{"temp", "psal", "sigma0", "oxy"} {
		valuesBack(t, r, casts, n, n)
	}
	valuesBack(t, r, casts, "CTD_ODD__", "CTD-ODD %")
	if got, want := r.words["profile_id"], []string{"ZZFU20240501_00001_00001", "ZZFU20240501_00002_00001",
		"ZZFU20240501_0003A_00002", "ZZFU20240512_00004_00001", "ZZFU20240512_Nörd_00001"}; !slices.Equal(got[:4],
		want[:4]) {
		t.Errorf("profile_id %q", got)
	}
	if got := r.words["station"]; !slices.Equal(got, []string{"1", "2", "3A", "004", "Nörd"}) {
		t.Errorf("station %q", got)
	}
	if got := r.words["system_label"]; !slices.Equal(got, []string{"main set", "spare"}) ||
		!slices.Equal(r.number["system"], []float64{0, 0, 0, 0, 1}) {
		t.Errorf("systems %q %v", got, r.number["system"])
	}
	if got := r.words["sensor_variable"]; !slices.Equal(got, []string{"temp", "psal", "oxy", "temp psal"}) {
		// cond is not in the file
		t.Errorf("sensor_variable %q", got)
	}
	if got := r.words["sensor_stage"]; !slices.Equal(got, []string{"laboratory", "adjusted to bottles", "", ""}) {
		t.Errorf("sensor_stage %q", got)
	}
	if got, want := r.words["system_note"][0],
		"frame of 24 bottles; 2 dbar bins labelled at the centre; deck pressure +0.4 dbar removed; "+
			"salinity: adjusted to bottles by Bo on 2024-05-20, residual 0.0012; upstream: cell thermal mass"; got !=
		want {
		t.Errorf("system_note %q", got)
	}
	temp := r.v(t, "temp")
	for name, want := range map[string]any{"decimals": []int32{4}, "instrument": "system",
		"cell_methods":        "pres: mean (bin average)",
		"ancillary_variables": "temp_flag_woce temp_flag_auto nobs", "coordinates": "time lat lon station cast",
		"_FillValue": fillValue} {
		if got := temp.Attr(name); !reflect.DeepEqual(got, want) {
			t.Errorf("temp:%s = %v, want %v", name, got, want)
		}
	}
	if s := r.v(t, "sigma0"); s.Attr("decimals") != nil || s.Attr("sdn_parameter_urn") != nil ||
		s.Text("coordinates") != "time lat lon station cast ref_pres_0" || s.Text("references") == "" {
		t.Errorf("sigma0: %v", s.Attrs)
	}
	if s := r.v(t, "oxy"); s.Text("release_status") != "underway" || r.s.Var("oxy_flag_woce") >= 0 {
		t.Errorf("oxy: %v", s.Attrs)
	}
	if s := r.v(t, "bottom_depth"); !reflect.DeepEqual(s.Attr("decimals"), []int32{1}) ||
		r.number["bottom_depth"][0] != 5432.5 || r.number["bottom_depth"][3] != fillValue {
		t.Errorf("bottom_depth: %v %v", s.Attrs, r.number["bottom_depth"])
	}
	// Flags: 2 where measured, 6 where interpolated, 9 for the missing value and for padding; proposals beside them.
	flag, auto := r.number["temp_flag_woce"], r.number["temp_flag_auto"]
	if flag[0] != 2 || flag[1] != 6 || flag[699] != 9 || flag[700] != 9 || flag[701] != 2 || auto[2] != 3 ||
		auto[0] != 2 || auto[699] != 9 || auto[700] != 9 {
		t.Errorf("flags %v %v %v %v %v; proposals %v %v", flag[0], flag[1], flag[699], flag[700], flag[701], auto[2],
			auto[0])
	}
	if n := r.number["nobs"]; n[0] != 20 || n[699] != -999 || n[700] != -999 {
		t.Errorf("nobs %v %v %v", n[0], n[699], n[700])
	}
	if got := r.words["notes"]; got[0] != "n0°" || got[11] != "n11°" || got[700] != "" {
		t.Errorf("text column %q %q %q", got[0], got[11], got[700])
	}
	if s := r.s; s.Text("contributor_name") != "Amélie 山田, Bo" || s.Text("creator_name") != "Søren Łuków, jr" ||
		s.Text("institution") != "Åland Invented Institute" ||
		s.Text("expocode") != "ZZFU20240501, ZZFU20240512" || s.Text("time_coverage_duration") != "P4DT0H0M0S" ||
		s.Text("references") != "cruise report 1; https://example.org/2" {
		t.Errorf("globals: %v", s.Attrs)
	}
	if r.number["time"][0] != 1714619720.5 { // 2024-05-02T03:15:20.5Z, from date -u
		t.Errorf("time %v", r.number["time"][0])
	}
	opened(t, `
d = ds[0]
assert d.temp.dims == ("profile", "pres") and d.temp.dtype == np.float64
assert np.isnan(d.temp.values[1, 0]) and d.temp_flag_woce.dtype == np.int8
assert set(d.temp.coords) == {"time", "lat", "lon", "station", "cast", "pres", "ref_pres_0"}, d.temp.coords # xarray gives scalar coordinates to all
assert d.station.values.tolist() == ["1", "2", "3A", "004", "Nörd"], d.station
assert str(d.time.values[0]) == "2024-05-02T03:15:20.500000000", d.time
`, path)
}

// A cast of no known system has a row of its own, and nothing is said of bins that are known for the others only.
func TestUnknownSystem(t *testing.T) {
	casts := fiveCasts()
	casts[3].System = ""
	r := conform(t, writeCasts(t, common(), casts))
	if got := r.words["system_label"]; !slices.Equal(got, []string{"main set", "spare", "unknown"}) ||
		!slices.Equal(r.number["system"], []float64{0, 0, 0, 2, 1}) {
		t.Errorf("systems %q %v", got, r.number["system"])
	}
	if r.s.Var("pres_bnds") >= 0 || r.v(t, "temp").Text("cell_methods") != "" {
		t.Error("bins of an unknown system were declared")
	}
}

func TestWriteCastsRagged(t *testing.T) {
	casts := fiveCasts()
	// Mean pressures of their own, two levels without pressure, a cast of one level, an upcast as it came.
	for k := range casts[1].PressureDbar {
		casts[1].PressureDbar[k] += 0.1 * float64(k%3)
	}
	casts[2].PressureDbar[5], casts[2].PressureDbar[300] = nan, nan
	casts[3] = makeCast("ZZFU20240512", "004", "1", 3, 2, 2, 3)
	slices.Reverse(casts[4].PressureDbar)
	for i := range casts {
		casts[i].Columns[0].Flags = slices.Repeat([]metadata.Flag{metadata.Acceptable}, casts[i].Levels())
	}
	x := common()
	path := writeCasts(t, x, casts)
	r := conform(t, path)
	if got := r.number["row_size"]; !slices.Equal(got, []float64{700, 500, 608, 3, 700}) {
		t.Fatalf("row_size %v", got)
	}
	for _, n := range []string{"temp", "psal", "sigma0", "oxy", "pres"} {
		valuesBack(t, r, casts, n, n)
	}
	if got := r.v(t, "row_size").Text("comment"); got != "2 levels without a pressure left out" {
		t.Errorf("comment %q", got)
	}
	if v := r.v(t, "temp"); v.Text("cell_methods") != "sea_water_pressure: mean (bin average)" ||
		v.Text("coordinates") != "time lat lon pres station cast" {
		t.Errorf("temp: %v", v.Attrs)
	}
	if got := r.words["notes"]; got[4] != "n4°" || got[1205] != "n6°" { // level 5 of the third cast, 1200 on, is gone
		t.Errorf("text column %q %q", got[4], got[1205])
	}
	if v := r.v(t, "pres"); v.Text("ancillary_variables") != "pres_flag_woce" {
		t.Errorf("pres: %v", v.Attrs)
	}
	opened(t, `
d = ds[0]
assert d.temp.dims == ("obs",) and int(d.row_size.sum()) == d.sizes["obs"]
assert "pres" in d.temp.coords
`, path)
}

func TestOneCastAndLittleKnown(t *testing.T) {
	c := makeCast("ZZFU20240501", "Boje-7", "1b", 0, 1, 1, 3)
	c.Columns = c.Columns[:2]
	c.Columns[1].Flags = make([]metadata.Flag, 3) // nobody judged them
	c.Columns[1].Proposed = nil
	c.BottomM, c.System, c.Direction, c.TimeIs = nan, "", section.DirectionUnknown, section.TimeUnstated
	x := common()
	*x.Cruise = metadata.Cruise{ID: "one"}
	path := writeCasts(t, x, []*section.Cast{c})
	r := conform(t, path)
	for _, n := range []string{"temp_flag_woce", "temp_flag_auto", "system", "bottom_depth", "sensor_model",
		"pres_bnds"} {
		if r.s.Var(n) >= 0 {
			t.Errorf("%s is in the file", n)
		}
	}
	if r.words["cast"][0] != "1b" || r.words["station"][0] != "Boje-7" || r.v(t, "temp").Text("cell_methods") != "" {
		t.Errorf("cast %q, station %q", r.words["cast"], r.words["station"])
	}
	opened(t, `assert ds[0].sizes["profile"] == 1`, path)
}

// Flags that say "not evaluated" among others keep their 0; 8, which is no flag for CTD data, is kept where a source
// has it.
func TestMixedFlags(t *testing.T) {
	a, b := makeCast("ZZFU20240501", "1", "1", 0, 2, 2, 6), makeCast("ZZFU20240501", "2", "1", 1, 2, 2, 6)
	a.Columns[1].Flags = []metadata.Flag{0, 1, 2, 8, 7, 0}
	b.Columns[1].Flags = nil
	r := conform(t, writeCasts(t, common(), []*section.Cast{a, b}))
	v := r.v(t, "temp_flag_woce")
	if got := v.Attr("flag_values"); !reflect.DeepEqual(got, []int8{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}) {
		t.Errorf("flag_values %v", got)
	}
	if want := []float64{0, 1, 2, 8, 7, 9, 0, 0, 0, 0, 0, 9}; !slices.Equal(r.number[v.Name], want) {
		t.Errorf("flags %v, want %v", r.number[v.Name], want)
	}
}

// A value that is there with flag 9 keeps it, though all other values have none.
func TestNotSampledWithValue(t *testing.T) {
	c := makeCast("ZZFU20240501", "1", "1", 0, 2, 2, 6)
	c.Columns[1].Flags = []metadata.Flag{0, 9, 0, 0, 0, 9}
	r := conform(t, writeCasts(t, common(), []*section.Cast{c}))
	if got, want := r.number["temp_flag_woce"], []float64{0, 9, 0, 0, 0, 9}; !slices.Equal(got, want) {
		t.Errorf("flags %v, want %v", got, want)
	}
}

// A quantity that one cast measured and another derived is two variables: what is said of measured values is not true
// of the others, and each value as read must be found under its exchange name, with the decimals by which it prints
// back.
func TestMeasuredAndDerived(t *testing.T) {
	for _, derived := range []int{0, 2} { // the first, then the last
		casts := []*section.Cast{makeCast("ZZFU20240501", "1", "1", 0, 2, 2, 6), makeCast("ZZFU20240501", "2", "1", 1,
			2, 2, 6), makeCast("ZZFU20240501", "3", "1", 2, 2, 2, 6)}
		psal := casts[derived].Column("psal")
		psal.Derived, psal.Decimals, psal.Comment, psal.References = true, -1, "from conductivity", "UNESCO 44"
		r := conform(t, writeCasts(t, common(), casts))
		v := r.v(t, "psal")
		if v.Text("exchange_name") != "CTDSAL" || !reflect.DeepEqual(v.Attr("decimals"), []int32{4}) ||
			v.Text("comment") != "" || v.Text("instrument") != "system" {
			t.Errorf("cast %d derived: %+v", derived, v.Attrs)
		}
		w := r.v(t, "psal_derived")
		if w.Text("exchange_name") != "" || w.Attr("decimals") != nil || w.Text("comment") != "from conductivity; "+
			""+roundingText(23) ||
			w.Text("references") != "UNESCO 44" ||
			w.Text("instrument") != "" || w.Text("source_name") != "psal" ||
			w.Text("standard_name") != v.Text("standard_name") {
			t.Errorf("cast %d derived: %+v", derived, w.Attrs)
		}
		for k, x := range r.number["psal"] {
			if there := k/6 != derived; there != (x != fillValue) ||
				there == (r.number["psal_derived"][k] != fillValue) {
				t.Errorf("cast %d derived: %v, %v", derived, r.number["psal"], r.number["psal_derived"])
				break
			}
		}
	}
}

// A column name that another variable, a flag of one, or another case of the same letters has taken gets a name of its
// own; columns that only share a name do not share a variable.
func TestColumnNames(t *testing.T) {
	c, d := makeCast("ZZFU20240501", "1", "1", 0, 2, 2, 6), makeCast("ZZFU20240501", "2", "1", 1, 2, 2, 6)
	add := func(c *section.Cast, name, units string) {
		c.Columns = append(c.Columns,
			section.Column{Variable: metadata.Variable{Name: name, Units: units, LongName: name},
				Values: []float64{1, 2, 3, 4, 5, 6}})
	}
	for _, n := range []string{"TIME", "Temp", "temp_flag_woce", "2nd", "é", "station", "len_id", "n_system",
		"ref_pres_0", "pres_flag_woce", "late_flag_woce", "late"} {
		add(c, n, "1")
	}
	// in late_flag_woce, if that were free
	c.Columns[len(c.Columns)-1].Flags = slices.Repeat([]metadata.Flag{metadata.Acceptable}, 6)
	for _, n := range []string{"note", "id", "section"} {
		// whose lengths would be called as those of texts of ours are
		c.Columns = append(c.Columns, section.Column{Variable: metadata.Variable{Name: n, LongName: n}, Decimals: -1,
			Text: []string{"a long text", "b", "", "", "", n}})
	}
	add(c, "twice", "m")
	add(d, "twice", "s")
	r := conform(t, writeCasts(t, common(), []*section.Cast{c, d}))
	for _, n := range []string{"TIME_2", "Temp_2", "temp_flag_woce_2", "column_2nd", "column___", "station_2",
		"column_len_id", "n_system_2",
		"ref_pres_0", "ref_pres_0_2", "pres_flag_woce_2", "late_flag_woce", "late_2", "late_2_flag_woce", "note", "id",
		"section", "twice", "twice_2"} {
		r.v(t, n)
	}
	if got := r.v(t, "TIME_2").Text("source_name"); got != "TIME" {
		t.Errorf("source_name %q", got)
	}
}

func TestCastsThatCannotBeWritten(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(cs []*section.Cast) []*section.Cast
		want  error
	}{
		"none":     {func(cs []*section.Cast) []*section.Cast { return nil }, ErrNoCasts},
		"time":     {func(cs []*section.Cast) []*section.Cast { cs[1].Time = time.Time{}; return cs }, ErrNoTime},
		"position": {func(cs []*section.Cast) []*section.Cast { cs[1].At[0] = nan; return cs }, ErrNoPosition},
		"expocode": {func(cs []*section.Cast) []*section.Cast { cs[1].Expocode = ""; return cs }, ErrNoExpocode},
		"same":     {func(cs []*section.Cast) []*section.Cast { cs[1].Station = "001"; return cs }, ErrSameID},
		"system":   {func(cs []*section.Cast) []*section.Cast { cs[1].System = "third"; return cs }, ErrSystem},
		"levels": {func(cs []*section.Cast) []*section.Cast {
			cs[0].PressureDbar, cs[0].Columns = nil, nil
			return cs[:1]
		}, ErrNoLevels},
	} {
		path := filepath.Join(t.TempDir(), "x.nc")
		err := WriteCasts(context.Background(), path, common(), c.spoil(fiveCasts()))
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
		if _, err := os.Lstat(path); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%s: a file is there", name)
		}
	}
	x := common()
	x.ID = func(c *section.Cast) string { return c.Expocode + "_" + c.Station + "_" + c.Number }
	casts := fiveCasts()
	casts[1].Station = "001" // beside 1: an identity as given, not padded, keeps them apart
	if err := WriteCasts(context.Background(), filepath.Join(t.TempDir(), "x.nc"), x, casts); err != nil {
		t.Errorf("identities as given: %v", err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := WriteCasts(ctx, filepath.Join(t.TempDir(), "x.nc"), x, fiveCasts()); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	if err := WriteCasts(context.Background(), "relative.nc", x, fiveCasts()); !errors.Is(err, nc.ErrPath) {
		t.Errorf("relative path: %v", err)
	}
}

func TestWriteSection(t *testing.T) {
	casts := fiveCasts()
	lons := []float64{178.5, 179.25, 179.99, -179.5, -178.75} // across the antimeridian
	s := &section.Section{Name: "A13½", Casts: casts}
	for i, c := range casts {
		c.At[0] = lons[i]
		s.DistanceKm = append(s.DistanceKm, 72.123456789*float64(i))
	}
	x := common()
	path := sameBytes(t, "a_section.nc", func(path string, workers int) error {
		x.Workers = workers
		return WriteSection(context.Background(), path, x, s, "Strait")
	})
	r := conform(t, path)
	for _, n := range []string{"temp", "psal", "sigma0"} {
		valuesBack(t, r, casts, n, n)
	}
	if r.words["section_id"][0] != "A13½" || !slices.Equal(r.number["distance"], s.DistanceKm) ||
		r.s.Var("system") >= 0 || r.s.Var("temp_flag_auto") >= 0 {
		t.Errorf("section_id %q, distance %v", r.words["section_id"], r.number["distance"])
	}
	if v := r.v(t, "temp"); v.Text("coordinates") != "time lat lon distance station cast section_id" ||
		v.Text("instrument") != "" {
		t.Errorf("temp: %v", v.Attrs)
	}
	if w, e := r.s.Attr("geospatial_lon_min"), r.s.Attr("geospatial_lon_max"); !reflect.DeepEqual(w,
		[]float64{178.5}) || !reflect.DeepEqual(e, []float64{-178.75}) {
		t.Errorf("longitudes from %v to %v", w, e)
	}
	opened(t, `
d = ds[0]
assert str(d.section_id.values) == "A13½" and "distance" in d.temp.coords
`, path)
	s.Method = section.Sphere
	other := filepath.Join(t.TempDir(), "b.nc")
	if err := WriteSection(context.Background(), other, x, s, "Strait"); err != nil {
		t.Fatal(err)
	}
	if got := readBack(t, other).v(t, "distance").Text("comment"); !strings.Contains(got, "6371 km") {
		t.Errorf("distance on the sphere: %q", got)
	}
}

func TestBinsShareEdges(t *testing.T) {
	p := make([]float64, 1000)
	for i := range p {
		p[i] = 0.1 * float64(i+1) // does not divide evenly
	}
	for _, label := range []string{"centre", "top", "bottom"} {
		before := 0.0
		for i := range p {
			upper, lower := edges(p, i, 0.1, label)
			if upper > p[i] || lower < p[i] || (i > 0 && upper != before) {
				t.Fatalf("%s: bin %d at %v: [%v, %v] after %v", label, i, p[i], upper, lower, before)
			}
			before = lower
		}
	}
	// Where a bin is missing two edges stay apart; the surface cuts the first bin.
	for i, want := range [][2]float64{{0, 1}, {1, 3}, {5, 7}} {
		if upper, lower := edges([]float64{0, 2, 6}, i, 2, "centre"); upper != want[0] || lower != want[1] {
			t.Errorf("bin %d: [%v, %v], want %v", i, upper, lower, want)
		}
	}
}
