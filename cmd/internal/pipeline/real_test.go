package pipeline_test

import (
	"archive/zip"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/internal/checkvalues"
	"github.com/castwright/castwright/internal/nc"
)

// cruise writes files into a new folder and builds the archive of its cruise.yaml.
func build(t *testing.T, files map[string]string) (archive string) {
	t.Helper()
	dir, out := t.TempDir(), t.TempDir()
	for name, text := range files {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: filepath.Join(dir, "cruise.yaml"),
		Out: out})
	if err != nil {
		t.Fatal(err)
	}
	if p.Path == "" {
		t.Fatalf("nothing was made: %+v", p.Findings)
	}
	return p.Path
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// A netCDF variable read whole, with the fill value turned into NaN.
func read(t *testing.T, path, name string) (values []float64, shape []int) {
	t.Helper()
	r, err := nc.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	s := r.Schema()
	i := s.Var(name)
	if i < 0 {
		t.Fatalf("%s has no variable %s", path, name)
	}
	shape = s.Shape(i)
	values = make([]float64, s.Len(i))
	if err := r.ReadFloat64(i, make([]int, len(shape)), shape, values); err != nil {
		t.Fatal(err)
	}
	for k, v := range values {
		if v == -9999 {
			values[k] = math.NaN()
		}
	}
	return values, shape
}

const printedExample = `CTD,20130709ODF
# REPORTED CAST DEPTH IS CTD_DEPTH + DISTANCE_ABOVE_BOTTOM AT MAX PRESSURE
NUMBER_HEADERS = 10
EXPOCODE = 318M20130321
SECT_ID = P02W
STNNBR = 1
CASTNO = 2
DATE = 20130322
TIME = 2205
LATITUDE =  32.5068
LONGITUDE =  133.0297
DEPTH =   166
CTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W,CTDOXY,CTDOXY_FLAG_W
DBAR,,ITS-90,,PSS-78,,UMOL/KG,
      2.0,2,  19.1840,2,  34.6935,2,    220.8,2
      4.0,2,  19.1992,2,  34.6924,2,    220.7,2
      6.0,2,  19.2002,2,  34.6922,2,    220.5,2
      8.0,2,  19.2022,2,  34.6919,2,    220.5,2
     10.0,2,  19.2033,2,  34.6918,2,    220.6,2
     12.0,2,  19.2039,2,  34.6919,2,    220.8,2
     14.0,2,  19.2033,2,  34.6919,2,    220.9,2
     16.0,2,  19.2029,2,  34.6916,2,    220.6,2
END_DATA
`

// The example that the exchange-format description prints (version 1.2.1, doi:10.5281/zenodo.10858845) goes through a
// whole build, and comes out of the bundle byte for byte.
func TestPrintedExample(t *testing.T) {
	a := build(t, map[string]string{"cruise.yaml": "cruise: {id: p02}\nfigures: none\ncasts: {sources: [a_ct1.csv]}\n",
		"a_ct1.csv": printedExample})
	temp, shape := read(t, filepath.Join(a, "data/casts/p02_ctd.nc"), "temp")
	if !slices.Equal(shape, []int{1, 8}) || temp[0] != 19.1840 || temp[7] != 19.2029 {
		t.Errorf("temp %v %v", shape, temp)
	}
	z, err := zip.OpenReader(filepath.Join(a, "data/casts/318M20130321_ct1.zip"))
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	if len(z.File) != 1 || z.File[0].Name != "318M20130321_00001_00002_ct1.csv" {
		t.Fatalf("members %v", z.File)
	}
	f, err := z.File[0].Open()
	if err != nil {
		t.Fatal(err)
	}
	got, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	if string(got) != printedExample {
		t.Errorf("written:\n%s", got)
	}
}

// checkCasts writes the three published check casts of TEOS-10 as exchange files, every digit kept.
func checkCasts(t *testing.T) map[string]string {
	files := map[string]string{}
	for _, r := range checkvalues.Table(t, "teos10_check_casts.csv") {
		name := "cast" + r["cast"] + "_ct1.csv"
		if files[name] == "" {
			files[name] = fmt.Sprintf(
				"CTD,20110101TEOSCCW\nNUMBER_HEADERS = 8\nEXPOCODE = ZZCC20110101\nSTNNBR = %s\nCASTNO = 1\nDATE = 2011010%s\nTIME = 0000\n"+
					"LATITUDE = %s\nLONGITUDE = %s\nCTDPRS,CTDTMP,CTDSAL\nDBAR,ITS-90,PSS-78\n", r["cast"], r["cast"],
				r["lat"], wrapped(t, r["lon"]))
		}
		files[name] += r["p"] + "," + r["t"] + "," + r["SP"] + "\n"
	}
	for name := range files {
		files[name] += "END_DATA\n"
	}
	return files
}

func wrapped(t *testing.T, lon string) string {
	if v := number(t, lon); v > 180 {
		return strconv.FormatFloat(v-360, 'f', -1, 64)
	}
	return lon
}

// The published check values of TEOS-10 (IOC, SCOR and IAPSO 2010; version 3 check casts) for dynamic height re 0 dbar
// and geostrophic velocity, read back from the NetCDF of a whole build: linear, pchip and multiply-rotated pchip (the
// published column). Tolerances are those of the table of published tolerances: geo_strf_dyn_height 5.5e-7,
// geo_strf_velocity 3.0e-9.
func TestPublishedCheckCasts(t *testing.T) {
	const rounded = 6e-8 // of the value: 23 bits of the mantissa are kept
	const tolHeight, tolVelocity = 5.525e-7, 3.015e-9
	for _, c := range []struct{ interpolation, distance, height, velocity string }{
		{"linear", "sphere", "dyn_height_linear", "v_linear_distance_p0"},
		{"pchip", "sphere", "dyn_height_pchip", "v_pchip_distance_p0"},
		{"rotated", "sphere_at_level", "dyn_height_mrst", "v_mrst_distance_at_p"},
	} {
		t.Run(c.interpolation, func(t *testing.T) {
			files := checkCasts(t)
			files["cruise.yaml"] = "cruise: {id: check}\nfigures: none\ncasts: {sources: [.]}\nsections:\n" +
				"  - {name: first, stations: 1-2, reference: 0, interpolation: " + c.interpolation + ", distance: " +
				c.distance + ", grid: none, max_gap: none}\n" +
				"  - {name: second, stations: 2-3, reference: 0, interpolation: " + c.interpolation + ", distance: " +
				c.distance + ", grid: none, max_gap: none}\n"
			a := build(t, files)
			largest, levels := 0.0, 0
			for _, s := range []struct {
				section, cast string
				row           int
			}{{"first", "1", 0}, {"first", "2", 1}, {"second", "3", 1}} {
				file := filepath.Join(a, "data/sections", s.section+"_section.nc")
				heights, where := atPressures(t, file, "dynamic_height", s.row)
				for _, r := range checkvalues.Table(t, "teos10_check_casts.csv") {
					if r["cast"] != s.cast {
						continue
					}
					levels++
					got, ok := where(number(t, r["p"]), heights)
					d := math.Abs(got - number(t, r[c.height]))
					largest = math.Max(largest, d)
					if !ok || !(d <= tolHeight+rounded*math.Abs(got)) {
						t.Errorf("cast %s, %s dbar: %v, published %s", s.cast, r["p"], got, r[c.height])
					}
				}
			}
			if levels != 98 {
				t.Errorf("%d levels compared, want all 98", levels)
			}
			largestV, n := 0.0, 0
			for _, r := range checkvalues.Table(t, "teos10_check_velocity.csv") {
				section := map[string]string{"1": "first", "2": "second"}[r["cast_a"]]
				v, where := atPressures(t, filepath.Join(a, "data/sections", section+"_geostrophy.nc"), "velocity", 0)
				got, ok := where(number(t, r["p"]), v)
				d := math.Abs(got - number(t, r[c.velocity]))
				n++
				largestV = math.Max(largestV, d)
				if !ok || !(d <= tolVelocity) {
					t.Errorf("casts %s-%s, %s dbar: %v, published %s", r["cast_a"], r["cast_b"], r["p"], got,
						r[c.velocity])
				}
			}
			if n != 53 {
				t.Errorf("%d velocities compared, want all 53", n)
			}
			t.Logf("largest difference: dynamic height %.2g m2/s2, velocity %.2g m/s over %d levels", largest, largestV,
				n)
		})
	}
}

// atPressures reads one row of a variable on a pressure axis, orthogonal or ragged.
func atPressures(t *testing.T, file, name string, row int) ([]float64, func(p float64, v []float64) (float64, bool)) {
	t.Helper()
	v, shape := read(t, file, name)
	pres, _ := read(t, file, "pres")
	if len(shape) == 2 {
		v = v[row*shape[1] : (row+1)*shape[1]]
	} else {
		size, _ := read(t, file, "row_size")
		from := 0
		for _, n := range size[:row] {
			from += int(n)
		}
		v, pres = v[from:from+int(size[row])], pres[from:from+int(size[row])]
	}
	return v, func(p float64, v []float64) (float64, bool) {
		i := slices.Index(pres, p)
		if i < 0 || math.IsNaN(v[i]) {
			return math.NaN(), false
		}
		return v[i], true
	}
}

// Two stations across the Gulf Stream (JPOTS editorial panel, UNESCO 1991; printed again in Stewart 2008, tables 10.2
// to 10.4): from exchange files on IPTS-68 to the velocity in the NetCDF. Printed velocities are positive to the right
// of the line, ours to the left; 0.010 m/s is what the printed digits and the difference between EOS-80 and TEOS-10
// allow, 1e-6 m/s what the same method must reach.
func TestGulfStreamStations(t *testing.T) {
	files := map[string]string{}
	for _, s := range []struct{ name, lat, lon, when, depth string }{
		{"61", "36.667167", "-70.993167", "DATE = 19820823\nTIME = 1102", "4260"},
		{"64", "37.665500", "-71.000000", "DATE = 19820824\nTIME = 0203", "3892"},
	} {
		text := "CTD,19820901EXMPLECW\nNUMBER_HEADERS = 9\nEXPOCODE = ZZGS19820801\nSTNNBR = " + s.name +
			"\nCASTNO = 1\n" + s.when +
			"\nLATITUDE = " + s.lat + "\nLONGITUDE = " + s.lon + "\nDEPTH = " + s.depth +
			"\nCTDPRS,CTDTMP,CTDSAL\nDBAR,IPTS-68,PSS-78\n"
		for _, r := range checkvalues.Table(t, "dynamic_height_worked_example.csv") {
			if r["station"] == s.name {
				text += r["p_dbar"] + "," + r["t68_used"] + "," + r["S_used"] + "\n"
			}
		}
		files[s.name+"_ct1.csv"] = text + "END_DATA\n"
	}
	files["cruise.yaml"] = "cruise: {id: stream}\nfigures: none\ncasts: {sources: [.]}\nsections:\n" +
		"  - {name: pchip, stations: '61, 64', reference: 2000, grid: none}\n" +
		"  - {name: linear, stations: '61, 64', reference: 2000, interpolation: linear, grid: none, positive: right}\n"
	a := build(t, files)
	for _, c := range []struct {
		section, column string
		sign            float64
	}{{"pchip", "v_left_positive_teos10_pchip_wgs84_fmid", 1}, {"linear", "v_left_positive_teos10_linear_wgs84_fmid",
		-1}} {
		v, at := atPressures(t, filepath.Join(a, "data/sections", c.section+"_geostrophy.nc"), "velocity", 0)
		n, same, printed := 0, 0.0, 0.0
		for _, r := range checkvalues.Table(t, "dynamic_height_worked_example_velocity.csv") {
			got, ok := at(number(t, r["p_dbar"]), v)
			if !ok {
				t.Errorf("%s: no velocity at %s dbar", c.section, r["p_dbar"])
				continue
			}
			n++
			same = math.Max(same, math.Abs(c.sign*got-number(t, r[c.column])))
			printed = math.Max(printed, math.Abs(-c.sign*got-number(t, r["V_printed_ms"])))
		}
		t.Logf("%s: %d levels, largest difference %.2g m/s from the same method, %.4f m/s from the printed table",
			c.section, n, same, printed)
		if n < 25 || !(same <= 1e-6) || !(printed <= 0.010) {
			t.Errorf("%s: out of tolerance", c.section)
		}
	}
}
