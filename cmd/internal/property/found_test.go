package property

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// plain returns the file of a cast with columns, units and data lines, at a place of the northern slope.
func plain(station, number string, lat float64, columns, units string, lines ...string) string {
	return fmt.Sprintf(
		"CTD,20260601ZZTEST\nNUMBER_HEADERS = 8\nEXPOCODE = ZZXX20260501\nSTNNBR = %s\nCASTNO = %s\nDATE = 20260502\nTIME = 0%.0f00\nLATITUDE = %.4f\nLONGITUDE = -30\n%s\n%s\n%s\nEND_DATA\n",
		station, number, 10*(lat-60), lat, columns, units, strings.Join(lines, "\n"))
}

const (
	measured = "CTDPRS,CTDTMP,CTDSAL"
	inUnits  = "DBAR,ITS-90,PSS-78"
)

var water = []string{"10,9.1,35.1", "20,8.9,35.12", "30,8.2,35.14"}

// with adds a field to each line of water.
func with(fields ...string) []string {
	out := slices.Clone(water)
	for i := range out {
		out[i] += "," + fields[i%len(fields)]
	}
	return out
}

// Cruises that once gave an archive that verify accused, or none at all, one for each kind of fault that generated
// cruises found.
var found = []struct {
	name, cruise string
	casts        []string
}{
	{"names of stations and casts with other characters", "sections: [{name: s, stations: '\"T-1\", 1.5', grid: none}]",
		[]string{plain("T-1", "A", 60, measured, inUnits, water...), plain("1.5", "1", 60.2, measured, inUnits,
			water...)}},
	{"flag 8", "", []string{plain("1", "1", 60, measured+",CTDSAL_FLAG_W", inUnits+",", with("8", "2")...)}},
	{"flags without their column", "",
		[]string{plain("1", "1", 60, measured+",OXYGEN_FLAG_W", inUnits+",", with("2", "0")...)}},
	{"flags of a column that is text", "",
		[]string{plain("1", "1", 60, measured+",WEATHER,WEATHER_FLAG_W", inUnits+",,", with("fog,0", "sun,2")...)}},
	{"a parameter of the published list", "",
		[]string{plain("1", "1", 60, measured+",NITRAT,NITRAT_FLAG_W", inUnits+",UMOL/KG,",
			with("12.34,8", "13.1,2")...)}},
	{"a listed parameter in another unit, with text", "",
		[]string{plain("1", "1", 60, measured+",CTDXMISS", inUnits+",0-5VDC", with("+3.5", "NaN", "\"4\"")...)}},
	{"values of other decimals, up to 17", "sections: [{name: s, stations: all, grid: none}]",
		[]string{plain("1", "1", 60, measured+",CTDOXY", inUnits+",UMOL/KG", with("201.12345678901234567", "200",
			"199.5")...),
			plain("2", "1", 60.2, measured, inUnits, "10,9.12345678901234567,35.1", "20,8.12345678901234567,35.2",
				"30,7.1,35")}},
	{"a first column with the unit 1", "", []string{plain("1", "1", 60, "Q,"+measured, "1,"+inUnits, "5,10,9.1,35.1",
		"6,20,8.9,35.12")}},
	{"a repeated pressure, without inputs", "inputs: omit\nsections: [{name: s, stations: all, grid: none}]",
		[]string{plain("1", "1", 60, measured, inUnits, "10,9,35", "20,8,35.1", "20,7.5,35.2", "30,7,35.3"),
			plain("2", "1", 60.2, measured, inUnits, water...)}},
	{"a column of numbers in one cast and text in another, without inputs",
		"inputs: omit\nsections: [{name: s, stations: '2, 1', grid: none}]",
		[]string{plain("1", "1", 60, measured+",LEVEL", inUnits+",1", with("1.5")...),
			plain("2", "1", 60.2, measured+",LEVEL", inUnits+",1", with("low")...)}},
	{"two columns of names that become one, without inputs",
		"inputs: omit\nsections: [{name: s, stations: '2, 1', grid: none}]",
		[]string{plain("1", "1", 60, measured+",X-1", inUnits+",A", with("1.5")...),
			plain("2", "1", 60.2, measured+",X_1", inUnits+",B", with("7")...)}},
	{"a column called as the flags of another", "sections: [{name: s, stations: '2, 1', grid: none}]",
		[]string{plain("1", "1", 60, "CTDPRS,TEMP_FLAG_WOCE", "DBAR,", "10,4", "20,5"),
			plain("2", "1", 60.2, measured+",CTDTMP_FLAG_W", inUnits+",", with("3", "2")...)}},
	{"no temperature but salinity, without inputs", "inputs: omit",
		[]string{plain("1", "1", 60, measured, inUnits, "10,-999,35.1", "20,-999,35.2")}},
	{"a measured variable that is derived elsewhere, without a value, without inputs", "inputs: omit",
		[]string{plain("1", "1", 60, measured+",THETA", inUnits+",ITS-90", with("-999")...)}},
	{"a variable measured in one cast, without a value, and derived in others, without inputs", "inputs: omit",
		[]string{plain("1", "1", 60, measured+",THETA", inUnits+",ITS-90", with("-999")...),
			plain("2", "1", 60.2, measured, inUnits, water...)}},
	{"a value that is the fill value of NetCDF", "inputs: omit",
		[]string{plain("1", "1", 60, measured+",FOO", inUnits+",BAR", with("-9999", "-999", "3")...)}},
	{"a choice among a cast with and one without temperature, without inputs",
		"inputs: omit\nsections: [{name: s, stations: all, repeats: deepest, grid: none}]",
		[]string{plain("1", "1", 60, "CTDPRS,CTDTMP", "DBAR,ITS-90", "10,9", "20,8"),
			plain("1", "2", 60, "CTDPRS,CTDSAL", "DBAR,PSS-78", "10,35", "30,35"),
			plain("2", "1", 60.2, measured, inUnits, water...)}},
	{"values that no water has",
		"figures: {only: [velocity, temperature_salinity], formats: [svg]}\nderived: [dens, sigma4]\nsections: [{name: s, stations: all, reference: 20, grid: {step_km: 10, step_dbar: 10}}]",
		[]string{plain("1", "1", 60, measured+",CTDOXY", inUnits+",ML/L", "10,12345678901234567,35,6",
			"20,9,12345678901234567,5", "30,8,35.1,4"),
			plain("2", "1", 60.2, measured+",CTDOXY", inUnits+",ML/L", with("6")...),
			plain("3", "1", 60.4, measured, inUnits, water...)}},
}

// Faults that generated cruises found stay away.
func TestFaultsThatWereFound(t *testing.T) {
	for _, k := range found {
		t.Run(k.name, func(t *testing.T) {
			c := &cruise{files: map[string][]byte{}}
			figures := "figures: none\n"
			if strings.Contains(k.cruise, "figures:") {
				figures = ""
			}
			c.files["cruise.yaml"] = fmt.Appendf(nil, "cruise: {id: found}\n%scasts: {sources: [casts]}\n%s\n", figures,
				k.cruise)
			for i, text := range k.casts {
				c.files[fmt.Sprintf("casts/%d_ct1.csv", i+1)] = []byte(text)
			}
			o := try(t, c, t.TempDir())
			for _, f := range append(o.faults, o.refused...) {
				t.Error(f)
			}
		})
	}
}

// A pressure deeper than any sea is refused with its line.
func TestPressureBeyondTheSeaIsRefused(t *testing.T) {
	c := &cruise{files: map[string][]byte{}}
	c.files["cruise.yaml"] = []byte("cruise: {id: found}\ncasts: {sources: [casts]}\n")
	c.files["casts/1_ct1.csv"] = []byte(plain("1", "1", 60, measured, inUnits, "10,9,35", "12345678901234567,8,35"))
	o := try(t, c, t.TempDir())
	if len(o.faults) > 0 || len(o.refused) != 1 || !strings.HasPrefix(o.refused[0], "casts/1_ct1.csv:13 ") {
		t.Errorf("faults %q, refused %q", o.faults, o.refused)
	}
}

// xarrayOpens opens NetCDF files in a reader that is not ours, with every warning an error.
func xarrayOpens(t *testing.T, names []string) {
	t.Helper()
	const program = `
import sys, warnings
warnings.simplefilter("error")
import numpy as np, xarray as xr
for name in sys.argv[1:]:
    with xr.open_dataset(name) as d:
        d.load()
        for v in d.variables.values():
            assert v.dtype.kind != "f" or not np.isinf(v.values).any(), (name, v)
`
	cmd := exec.Command("/usr/bin/python3", append([]string{"-c", program}, names...)...)
	if out, err := cmd.CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("xarray (packages python3-xarray, python3-netcdf4): %v\n%s", err, out)
	}
}

// sampleNetCDF copies the NetCDF files of an archive into a folder, for xarrayOpens.
func sampleNetCDF(t *testing.T, archive, to string) (names []string) {
	files, err := filepath.Glob(filepath.Join(archive, "data", "*", "*.nc"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		copied := filepath.Join(to, filepath.Base(archive)+"_"+filepath.Base(name))
		if err == nil {
			err = os.WriteFile(copied, b, 0o644)
		}
		if err != nil {
			t.Error(err)
		}
		names = append(names, copied)
	}
	return names
}
