package compare_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/cf"
	"github.com/castwright/castwright/cmd/internal/compare"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/internal/nc"
)

// The same line ten years later, 0.05 degC warmer at the same salinity: the change on pressure is that, positive
// whatever the order in which the archives are named, and heave and change on density sum to it.
func TestLine(t *testing.T) {
	dir := t.TempDir()
	put(t, filepath.Join(dir, "edits.csv"), []byte(edits))
	file := cruise(t, dir, strings.Replace(plain, "  edits: edits.csv\n", "", 1))
	old := build(t, file)
	names, err := filepath.Glob(filepath.Join(dir, "casts", "*"))
	if err != nil || len(names) != 6 {
		t.Fatal(err, names)
	}
	temperature := regexp.MustCompile(`(?m)^( *[0-9.]+,2, *)(-?[0-9.]+)(,)`)
	for _, name := range names {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		text := strings.NewReplacer("20260504", "20360504", "20260505", "20360505").Replace(string(data))
		text = temperature.ReplaceAllStringFunc(text, func(s string) string {
			m := temperature.FindStringSubmatch(s)
			v, err := strconv.ParseFloat(m[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			return m[1] + strconv.FormatFloat(v+0.05, 'f', 4, 64) + m[3]
		})
		put(t, filepath.Join(filepath.Dir(name), strings.Replace(filepath.Base(name), "2026", "2036", 1)), []byte(text))
		if err := os.Remove(name); err != nil {
			t.Fatal(err)
		}
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	put(t, file, append(data, "systems: [{label: main, salinity: {stage: adjusted to bottles, residual: 0.004}}]\n"...))
	now := build(t, file)
	// the assumed 0.002 g/kg of the older, the residual beside bottles and the 0.001 of the laboratory of the newer
	salinity := math.Hypot(0.002, math.Hypot(0.004, qc.ReferenceSalinity)*35.16504/35)
	for _, order := range [][2]string{{old, now}, {now, old}} {
		l, err := compare.CompareLine(context.Background(), compare.LinePlan{Old: order[0], New: order[1],
			Section: "west"})
		if err != nil {
			t.Fatal(err)
		}
		rows := l.Rows()
		if l.Old != old || len(l.Changed.Places) != 4 || len(rows) < 100 {
			t.Fatalf("%s %d %d", l.Old, len(l.Changed.Places), len(rows))
		}
		defined, oxygen := 0, 0
		for _, r := range rows {
			change, err := strconv.ParseFloat(r["ctemp_change"], 64)
			if err != nil || change < 0.0495 || change > 0.0506 { // Conservative Temperature changes by a little more
				t.Errorf("%v", r)
			}
			if e, err := strconv.ParseFloat(r["asal_change_err"], 64); err != nil || math.Abs(e-salinity) > 1e-6 {
				t.Errorf("error of salinity %s, want %.6f", r["asal_change_err"], salinity)
			}
			if o, err := strconv.ParseFloat(r["oxy_change"], 64); err == nil {
				if oxygen++; math.Abs(o) > 1e-6 || r["oxy_change_err"] != "" {
					t.Errorf("oxygen did not change and its error is not stated: %s, %s", r["oxy_change"],
						r["oxy_change_err"])
				}
			}
			if !strings.HasPrefix(r["on_density"], "defined") {
				continue
			}
			defined++
			d, err := strconv.ParseFloat(r["ctemp_change_on_density"], 64)
			h, err2 := strconv.ParseFloat(r["ctemp_heave"], 64)
			if err != nil || err2 != nil || d+h-change > 2e-6 || d+h-change < -2e-6 {
				t.Errorf("%v", r)
			}
		}
		if defined < 50 || oxygen < 50 {
			t.Errorf("%d of %d on density, %d with oxygen", defined, len(rows), oxygen)
		}
		saved(t, l)
		if len(l.Cautions()) != 1 {
			t.Errorf("%q", l.Cautions())
		}
	}
	for _, bad := range []compare.LinePlan{{Old: old, New: now, Section: "north"},
		{Old: old, New: old, Section: "west"}} {
		if _, err := compare.CompareLine(context.Background(), bad); err == nil {
			t.Errorf("%+v was compared", bad)
		}
	}
}

// saved writes the change and holds the NetCDF file to the rows of the table and to the rules of CF.
func saved(t *testing.T, l *compare.Line) {
	t.Helper()
	path, refused, err := l.Save(t.Context(), t.TempDir(), "castwright test")
	if err != nil || len(refused) > 0 {
		t.Fatal(err, refused)
	}
	for _, name := range []string{"west_change.nc", "west_change.csv", "west_change.svg", "west_change.pdf",
		"west_change.png", "west_change.txt"} {
		if info, err := os.Stat(filepath.Join(path, name)); err != nil || info.Size() < 1000 {
			t.Errorf("%s: %v", name, err)
		}
	}
	f, err := nc.OpenFile(filepath.Join(path, "west_change.nc"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if faults := cf.Check(f, "west_change.nc", true); len(faults) > 0 {
		t.Errorf("%v", faults)
	}
	values, p := map[string][]float64{}, f.NumbersOf("pres")
	for _, name := range []string{"ctemp_change", "ctemp_change_on_density", "ctemp_heave", "asal_change",
		"asal_change_on_density", "asal_heave"} {
		values[name], values[name+"_err"] = f.NumbersOf(name), f.NumbersOf(name+"_err")
	}
	stations := len(l.Changed.Places)
	for _, r := range l.Rows() {
		level, err := strconv.ParseFloat(r["pressure_dbar"], 64)
		at := slices.Index(p, level)*stations + slices.IndexFunc(l.Changed.Places, func(x gridding.Place) bool {
			return x.Cast.Station == r["station"]
		})
		if err != nil || at < 0 {
			t.Fatalf("%v %v", err, r)
		}
		for name, v := range values {
			want, err := strconv.ParseFloat(r[name], 64)
			if r[name] == "" {
				want, err = math.NaN(), nil
			}
			if err != nil || math.IsNaN(want) != math.IsNaN(v[at]) || math.Abs(want-v[at]) > 1e-6 {
				t.Fatalf("%s at %g dbar: %g, in the table %q", name, level, v[at], r[name])
			}
		}
	}
}
