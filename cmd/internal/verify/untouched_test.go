//go:build cgo

package verify

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// decided accepts the findings of the demo cruise, as a final release needs it.
const decided = `quality:
  signed: {by: RH, date: 2026-06-01}
  accept:
    - {id: exchange.number_headers, file: "casts/ZZSM20260504_00003_00001_ct1.csv:5:18", cast: 3/1, initials: RH, reason: seen}
    - {id: exchange.end_data, file: "casts/ZZSM20260504_00008_00001_ct1.csv:241", cast: 8/1, initials: RH, reason: seen}
    - {id: exchange.longitude, file: "casts/ZZSM20260504_00009_00001_ct1.csv:13:13", cast: 9/1, initials: RH, reason: seen}
    - {id: pressure.step, cast: 7/1, variable: pres, pressure: 182-198, initials: RH, reason: seen}
    - {id: channel.missing, cast: 6/1, variable: oxy, initials: RH, reason: seen}
    - {id: bottom, cast: 17/1, variable: pres, pressure: 2104, initials: RH, reason: seen}
    - {id: spike.bin, cast: 18/1, variable: temp, pressure: 822, initials: RH, reason: seen}
    - {id: spike.bin, cast: 18/1, variable: psal, pressure: 822, initials: RH, reason: seen}
`

// Archives of other settings and casts than the demo's are not accused either, whether a sample or all is computed
// again.
func TestUntouchedArchivesOfManyKinds(t *testing.T) {
	kinds := map[string]struct {
		change []string                        // pairs of old and new text of the cruise file
		casts  func(cast int, b string) string // changes the text of each cast
		tables map[string]string
		all    bool
		coarse bool // a grid of few points, which is soon made
	}{
		"no inputs": {change: []string{"casts:\n", "inputs: omit\ncasts:\n"}, all: true, coarse: true},
		"means of repeats, layers and classes": {change: []string{"reference: deepest",
			"reference: deepest, repeats: mean, positive: right, triangle: linear_to_zero, layers: [0, 100, 300], classes: {sigma0: [26.5, 27.5, 27.8]}"},
			all: true, coarse: true},
		"known velocities": {change: []string{"reference: 800", "reference: {velocities: v.csv}"},
			tables: map[string]string{"v.csv": velocities()}, all: true, coarse: true},
		"no pair with a velocity": {
			change: []string{"reference: 800",
				"reference: {levels: l.csv}, layers: [0, 100], classes: {sigma0: [26, 27]}"},
			tables: map[string]string{"l.csv": "station_a,station_b,pressure_dbar\n1,2,100\n"}, all: true,
			coarse: true},
		"final, more derived": {change: []string{"release: {status: preliminary,",
			"derived: [sigma2, dens, specvol_anom]\n" + decided +
				"release: {status: final, version: '1.0', date: 2026-06-01,",
			"reference: deepest",
			"reference: {sigma0: 27.5}, interpolation: linear, uncertainty: {members: 20, seed: 3}"}, all: true,
			coarse: true},
		"fields that hang together": {
			change: []string{"reference: deepest",
				"reference: deepest, grid: {method: density, step_km: 20, step_dbar: 20}",
				"reference: 800", "reference: 800, grid: {method: choose, step_km: 20, step_dbar: 50}"}},
		"levels of their own": {casts: shifted, all: true},
		"a field, checks": {
			change: []string{"sections:\n", "fields: [{name: survey, grid: {step_dbar: 100}}]\nsections:\n"},
			coarse: true},
		"two legs": {change: []string{"  people:", "    - {expocode: ZZSM20260510}\n  people:"},
			casts: func(k int, b string) string {
				if k < 10 {
					return b
				}
				return strings.Replace(b, "ZZSM20260504", "ZZSM20260510", 1)
			}, coarse: true},
		"columns of one cast alone": {casts: func(k int, b string) string {
			if k != 4 {
				return b
			}
			var out []string
			data := false
			for _, line := range strings.Split(b, "\n") {
				switch {
				case strings.HasPrefix(line, "CTDPRS"):
					line += ",NOTE"
				case strings.HasPrefix(line, "DBAR"):
					line, data = strings.Replace(line, "UMOL/KG", "ML/L", 1)+",", true
				case line == "END_DATA":
					data = false
				case data:
					f := strings.Split(line, ",")
					f[6] = "6.12" + strconv.Itoa(len(out)%10)
					line = strings.Join(f, ",") + []string{",", ",bubbles?", ",\"q\""}[len(out)%3]
				}
				out = append(out, line)
			}
			return strings.Join(out, "\n")
		}, all: true, coarse: true},
		"salinity bad above the bottom": {casts: func(k int, b string) string {
			if k != 4 && k != 8 { // stations 5 and 9
				return b
			}
			lines := strings.Split(strings.TrimRight(b, "\n"), "\n")
			for i := len(lines) - 5; i < len(lines)-1; i++ {
				f := strings.Split(lines[i], ",")
				f[5] = "4"
				lines[i] = strings.Join(f, ",")
			}
			return strings.Join(lines, "\n") + "\n"
		}},
		"a pressure twice in two casts": {casts: func(k int, b string) string {
			if k != 2 && k != 5 {
				return b
			}
			lines := strings.Split(b, "\n")
			at := len(lines) - 20 - k
			return strings.Join(slices.Insert(lines, at, lines[at]), "\n")
		}, all: true, coarse: true},
		"no systems, no grids": {change: []string{"reference: 800", "reference: 800, grid: {method: none}",
			"systems:\n", "#systems:\n", "\n  - label: main", "", "\n    bin: {", "\n#   bin: {",
			"\n    sensors:", "", "\n      - {variables", "\n#      - {variables", "\n    salinity: {",
			"\n#   salinity: {", "\n    oxygen: {", "\n#   oxygen: {"}},
	}
	for name, k := range kinds {
		if testing.Short() && !k.all { // under the race detector, which is slow
			continue
		}
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			file, err := demoCruise(dir, "figures: none")
			if err != nil {
				t.Fatal(err)
			}
			b, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			text := string(b)
			if k.coarse {
				for _, at := range []string{"stations: 1-10,", "stations: 11-18,"} {
					text = strings.Replace(text, at, at+" grid: {step_km: 40, step_dbar: 50},", 1)
				}
			}
			for i := 0; i < len(k.change); i += 2 {
				if !strings.Contains(text, k.change[i]) {
					t.Fatalf("the demo's cruise file has no %q", k.change[i])
				}
				text = strings.ReplaceAll(text, k.change[i], k.change[i+1])
			}
			if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
			for n, s := range k.tables {
				if err := os.WriteFile(filepath.Join(dir, n), []byte(s), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			if k.casts != nil {
				casts, err := filepath.Glob(filepath.Join(dir, "casts", "*.csv"))
				if err != nil {
					t.Fatal(err)
				}
				for i, c := range casts {
					b, err := os.ReadFile(c)
					if err == nil {
						err = os.WriteFile(c, []byte(k.casts(i, string(b))), 0o644)
					}
					if err != nil {
						t.Fatal(err)
					}
				}
			}
			p, err := pipeline.Build(t.Context(), pipeline.Plan{CruiseFile: file, Out: dir})
			if err != nil {
				t.Fatal(err)
			}
			if p.Path == "" {
				t.Fatalf("rejected: %v", p.Findings)
			}
			for _, all := range []bool{false, true} {
				if all && !k.all {
					continue
				}
				r, err := Archive(t.Context(), Plan{Path: p.Path, All: all})
				if err != nil {
					t.Fatal(err)
				}
				if r.Faults() > 0 {
					for _, f := range r.Findings {
						t.Errorf("all %v: %s %s %s: %s", all, f.Position, f.Check, f.Variable, f.Message)
					}
				}
				if r.Again == "" || strings.HasPrefix(r.Again, "nothing") {
					t.Errorf("computed again: %q", r.Again)
				}
			}
		})
	}
}

func velocities() string {
	s := "station_a,station_b,pressure_dbar,velocity_ms,standard_error_ms\n"
	for k := 11; k < 18; k++ {
		s += strconv.Itoa(k) + "," + strconv.Itoa(k+1) + ",200,0.02,0.01\n"
	}
	return s
}

// shifted gives each cast pressures that no other has, so that the file of casts is ragged.
func shifted(k int, text string) string {
	lines := strings.Split(text, "\n")
	data := false
	for i, l := range lines {
		if strings.HasPrefix(l, "DBAR,") {
			data = true
			continue
		}
		p, rest, ok := strings.Cut(l, ",")
		v, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if data && ok && err == nil {
			lines[i] = strconv.FormatFloat(v+0.1*float64(k%17)-0.8, 'f', 1, 64) + "," + rest
		}
	}
	return strings.Join(lines, "\n")
}

// Every NetCDF file of the demo archive opens in two readers that are not ours, without a word of warning, and with
// times decoded.
func TestOtherReadersOpenTheDemo(t *testing.T) {
	var names []string
	for _, n := range files(demoArchive(t)) {
		if strings.HasSuffix(n, ".nc") {
			names = append(names, filepath.Join(demoArchive(t), n))
		}
	}
	if len(names) < 7 {
		t.Fatalf("%d NetCDF files: %v", len(names), names)
	}
	for _, n := range names {
		var out, said bytes.Buffer
		cmd := exec.Command("ncdump", "-h", n)
		cmd.Stdout, cmd.Stderr = &out, &said
		if err := cmd.Run(); err != nil || said.Len() > 0 || !strings.HasPrefix(out.String(), "netcdf ") {
			t.Errorf("ncdump (package netcdf-bin) %s: %v %s", n, err, said.String())
		}
	}
	const program = `
import sys, warnings
warnings.simplefilter("error")
import numpy as np, xarray as xr
for name in sys.argv[1:]:
    with xr.open_dataset(name) as d:
        d.load()
        assert np.issubdtype(d["time"].dtype, np.datetime64), name
        assert "lat" in d.coords and "lon" in d.coords and "time" in d.coords, (name, list(d.coords))
        for v in d.variables.values():
            assert v.dtype.kind != "O" or all(isinstance(x, str) for x in np.ravel(v.values)), (name, v)
`
	cmd := exec.Command("/usr/bin/python3", append([]string{"-c", program}, names...)...)
	if out, err := cmd.CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("xarray (packages python3-xarray, python3-netcdf4): %v\n%s", err, out)
	}
}
