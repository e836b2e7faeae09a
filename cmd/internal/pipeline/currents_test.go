package pipeline_test

import (
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/internal/nc"
)

// demo returns the files of the demo cruise with other text in its cruise file: pairs of old and new, each of which
// must occur.
func demo(t *testing.T, replace ...string) map[string]string {
	t.Helper()
	root := filepath.Join("..", "..", "..", "testdata", "cruise")
	files := map[string]string{"cruise.yaml": contents(t, root, "cruise.yaml")}
	for i := 0; i < len(replace); i += 2 {
		if !strings.Contains(files["cruise.yaml"], replace[i]) {
			t.Fatalf("the demo cruise file has no %q", replace[i])
		}
		files["cruise.yaml"] = strings.ReplaceAll(files["cruise.yaml"], replace[i], replace[i+1])
	}
	casts, err := os.ReadDir(filepath.Join(root, "casts"))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range casts {
		files["casts/"+e.Name()] = contents(t, root, "casts", e.Name())
	}
	return files
}

// rowsOf reads a CSV of an archive with a head line.
func rowsOf(t *testing.T, archive, rel string) (out []map[string]string) {
	t.Helper()
	recs, err := csv.NewReader(strings.NewReader(contents(t, archive, "data", filepath.FromSlash(rel)))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range recs[1:] {
		m := map[string]string{}
		for i, h := range recs[0] {
			m[h] = r[i]
		}
		out = append(out, m)
	}
	return out
}

// attribute returns a numeric attribute of a variable; NaN when it has none.
func attribute(t *testing.T, path, name, attr string) (value float64) {
	t.Helper()
	value = math.NaN()
	inFile(t, path, func(_ nc.Reader, s *nc.Schema) {
		i := s.Var(name)
		if i < 0 {
			t.Fatalf("%s has no variable %s", path, name)
		}
		switch x := s.Vars[i].Attr(attr).(type) {
		case nil:
		case float64:
			value = x
		case []float64:
			value = x[0]
		default:
			t.Fatalf("%s of %s is %T", attr, name, x)
		}
	})
	return value
}

// The propagated error and 2000 members (seed 1, no known velocity) agree within 10 % on the sections of
// the demo: every kind of transport of every pair, running sum and section, and velocity. The formula is of first order
// in each error, and so leaves out what two errors make together: an error of the velocity times one of what the water
// carries. That counts only where the first order all but vanishes, that is where the water of a pair carries no
// temperature on the whole (0 degC is the middle of it): there the two are compared in absolute terms, with that
// product, and with pressure ten times as exact the agreement is within 10 % again.
func TestMembersAgreeOnDemo(t *testing.T) {
	const asked = "uncertainty: 2000, reference_temperature: 2, grid: none, layers: [0, 100, 250], classes: {sigma0: [27.5, 27.8]}}"
	files := demo(t, "reference: deepest}", "reference: deepest, "+asked, "reference: 800}", "reference: 800, "+asked+
		"\nfigures: none\n")
	vanishing := agreement(t, build(t, files), 3)
	if want := []string{"strait 2-3 transport_temperature"}; !slices.Equal(vanishing, want) {
		t.Errorf("first order vanishes in %q, want %q", vanishing, want)
	}
	files = demo(t, "bin: {width: 2, label: centre}", "bin: {width: 2, label: centre}\n    accuracy: {pressure: 0.3}",
		"stations: 1-10, reference: deepest}", "stations: 2-3, reference: deepest, "+asked,
		"  - {name: slope, title: Slope south of the strait, stations: 11-18, planned: 11-19, reference: 800}",
		"figures: none\n")
	if vanishing = agreement(t, build(t, files), 0.3); len(vanishing) > 0 {
		t.Errorf("first order vanishes in %q with pressure to 0.3 dbar", vanishing)
	}
}

// agreement compares members and formula in every file of station pairs, and names the transports whose first order
// vanishes. pressureDbar is the accuracy of pressure.
func agreement(t *testing.T, archive string, pressureDbar float64) (vanishing []string) {
	t.Helper()
	all, err := filepath.Glob(filepath.Join(archive, "data/sections/*_geostrophy.nc"))
	if err != nil || len(all) == 0 {
		t.Fatalf("no files of station pairs: %v", err)
	}
	kinds := []string{"transport", "transport_mass", "transport_temperature", "transport_salt", "transport_freshwater",
		"transport_heat"}
	worst, compared, near := 0.0, 0, 0
	for _, file := range all {
		name := strings.TrimSuffix(filepath.Base(file), "_geostrophy.nc")
		off := func(members, formula float64) float64 {
			compared++
			return math.Abs(members/formula - 1)
		}
		mass, _ := read(t, file, "transport_mass_err")
		for _, k := range kinds {
			formula, _ := read(t, file, k+"_err")
			members, _ := read(t, file, k+"_err_members")
			for i := range formula {
				d := off(members[i], formula[i])
				// The product of the two errors, of the temperature that a slip in pressure brings along at 0.02 K/dbar
				// (the steepest of the demo has 0.03).
				product := mass[i] * 3991.86795711963 * pressureDbar * 0.02 // cp0: IOC, SCOR and IAPSO 2010
				switch {
				case d <= 0.10:
					worst = math.Max(worst, d)
				case strings.HasSuffix(k, "temperature") && formula[i] < product &&
					math.Abs(members[i]-formula[i]) < product:
					vanishing = append(vanishing, fmt.Sprintf("%s %d-%d %s", name, i+1, i+2, k))
				default:
					t.Errorf("%s pair %d %s: members %.4g, formula %.4g", name, i+1, k, members[i], formula[i])
				}
			}
			formula, _ = read(t, file, k+"_cumulative_err")
			members, _ = read(t, file, k+"_cumulative_err_members")
			for i := range formula {
				if d := off(members[i], formula[i]); !(d <= 0.10) {
					t.Errorf("%s up to pair %d %s: members %.4g, formula %.4g", name, i+1, k, members[i], formula[i])
				}
			}
			for _, band := range []string{"_layer", "_class"} {
				if strings.HasSuffix(k, "temperature") || strings.HasSuffix(k, "heat") {
					break // first order vanishes in more of them
				}
				formula, _ = read(t, file, k+band+"_err")
				members, _ = read(t, file, k+band+"_err_members")
				for i := range formula {
					if formula[i] == 0 && members[i] == 0 || math.IsNaN(formula[i]) && math.IsNaN(members[i]) {
						continue // the band holds no water of the pair
					}
					if d := off(members[i], formula[i]); !(d <= 0.10) {
						t.Errorf("%s %s%s %d: members %.4g, formula %.4g", name, k, band, i, members[i], formula[i])
					}
				}
			}
			m, f := attribute(t, file, k, "total_standard_error_members"), attribute(t, file, k, "total_standard_error")
			d := off(m, f)
			if worst = math.Max(worst, d); !(d <= 0.10) {
				t.Errorf("%s total %s: members %.4g, formula %.4g", name, k, m, f)
			}
		}
		formula, shape := read(t, file, "velocity_err")
		members, _ := read(t, file, "velocity_err_members")
		for i := range formula {
			switch d := off(members[i], formula[i]); {
			case math.IsNaN(formula[i]) && math.IsNaN(members[i]):
			case d <= 0.10:
				worst = math.Max(worst, d)
			// Next to the level of no motion, where all errors are zero by definition, the slip of pressure is larger
			// than the distance to it: m/s.
			case formula[i] < 2e-4 && math.Abs(members[i]-formula[i]) < 1.2e-4:
				near++
			default:
				t.Errorf("%s velocity %d of %v: members %.4g, formula %.4g", name, i, shape, members[i], formula[i])
			}
		}
	}
	if near > compared/100 {
		t.Errorf("%d velocities next to the level of no motion compared in absolute terms", near)
	}
	t.Logf("pressure to %g dbar: %d compared, largest difference %.3f, %d velocities in absolute terms", pressureDbar,
		compared, worst, near)
	return vanishing
}

// A sounding is one exchange file to plant: water by pressure (dbar): in-situ temperature (degC, ITS-90) and Practical
// Salinity.
type sounding struct {
	station, lat, lon string
	depth             string // m; "" not stated
	pressures         []float64
	water             func(p float64) (temperature, salinity float64)
	flag              string // of salinity; "" is 2
}

func (s sounding) text(hour int) string {
	heads := []string{"EXPOCODE = " + code, "STNNBR = " + s.station, "CASTNO = 1",
		fmt.Sprintf("DATE = 202605%02d", 2+hour/24), fmt.Sprintf("TIME = %02d00", hour%24),
		"LATITUDE = " + s.lat, "LONGITUDE = " + s.lon}
	if s.depth != "" {
		heads = append(heads, "DEPTH = "+s.depth)
	}
	flag := s.flag
	if flag == "" {
		flag = "2"
	}
	var b strings.Builder
	fmt.Fprintf(&b,
		"CTD,20260510ZZTEST\nNUMBER_HEADERS = %d\n%s\nCTDPRS,CTDPRS_FLAG_W,CTDTMP,CTDTMP_FLAG_W,CTDSAL,CTDSAL_FLAG_W\nDBAR,,ITS-90,,PSS-78,\n",
		len(heads)+1, strings.Join(heads, "\n"))
	for _, p := range s.pressures {
		temperature, salinity := s.water(p)
		fmt.Fprintf(&b, "%.1f,2,%.8f,2,%.8f,%s\n", p, temperature, salinity, flag)
	}
	b.WriteString("END_DATA\n")
	return b.String()
}

// plant returns the files of a cruise: the cruise file, and casts an hour apart in the order given.
func plant(cruise string, casts ...sounding) map[string]string {
	files := map[string]string{"cruise.yaml": "cruise: {id: planted}\nfigures: none\ncasts: {sources: [casts]}\n" +
		cruise}
	for i, c := range casts {
		files["casts/"+c.station+"_ct1.csv"] = c.text(i)
	}
	return files
}

// bins returns pressures from one to another.
func bins(from, to, step float64) (p []float64) {
	for x := from; x <= to; x += step {
		p = append(p, x)
	}
	return p
}

// ocean is water whose thermocline is the deeper the larger warm is, in K at the surface.
func ocean(warm float64) func(float64) (float64, float64) {
	return func(p float64) (float64, float64) { return 4 + (10+warm)*math.Exp(-p/300), 35 - 0.3*math.Exp(-p/300) }
}

// Whatever keeps a pair from having a velocity, or from having all of it, is said in the NetCDF file, in
// the table and among the findings, and a pair without velocity has no number in either beyond what its positions give.
// Rules: science section 8.
func TestPlantedPairs(t *testing.T) {
	full := bins(10, 600, 10)
	casts := []sounding{
		{station: "E1", lat: "5.2", lon: "-20", pressures: full, water: ocean(0)},
		{station: "E2", lat: "4.2", lon: "-20", pressures: full, water: ocean(0.5)},
		{station: "E3", lat: "3.2", lon: "-20", pressures: full, water: ocean(1)},
		{station: "E4", lat: "2.2", lon: "-20", pressures: full, water: ocean(1.2)},
		{station: "E5", lat: "0.2", lon: "-20", pressures: full, water: ocean(1.4)},
		{station: "E6", lat: "-0.4", lon: "-20", pressures: full, water: ocean(1.3)},
		{station: "E7", lat: "-6", lon: "-20", pressures: full, water: ocean(1)},
		{station: "O1", lat: "40", lon: "-20", pressures: full, water: ocean(0), depth: "605"},
		// 1.7 km on: the deeper of the two is taken for both
		{station: "O2", lat: "40", lon: "-19.98", pressures: bins(10, 700, 10), water: ocean(0), depth: "705"},
		// 0.85 km from that, 2.6 km from O1
		{station: "O3", lat: "40", lon: "-19.97", pressures: full, water: ocean(0.1), depth: "610"},
		{station: "O4", lat: "40", lon: "-19.5", pressures: bins(10, 90, 10), water: ocean(0.3), depth: "650"},
		{station: "O5", lat: "40", lon: "-19", pressures: bins(100, 600, 10), water: ocean(0.5), depth: "640"},
		{station: "O6", lat: "40", lon: "-18.5", pressures: full, water: ocean(0.7), flag: "4", depth: "630"},
		{station: "O7", lat: "40", lon: "-18", pressures: full, water: ocean(0.9), depth: "1500"},
		{station: "O8", lat: "40", lon: "-17.5", pressures: full, water: ocean(1.1), depth: "1400"},
		{station: "O9", lat: "40", lon: "-17", pressures: append(bins(10, 200, 10), bins(400, 600, 10)...),
			water: ocean(1.3), depth: "620"},
		{station: "K1", lat: "45", lon: "-20", pressures: full, water: ocean(0), depth: "610"},
		{station: "K2", lat: "45", lon: "-19.5", pressures: full, water: ocean(0.3), depth: "610"},
		{station: "K3", lat: "45", lon: "-19", pressures: full, water: ocean(0.6), depth: "610"},
	}
	files := plant("sections:\n"+
		"  - {name: equator, stations: \"E1, E2, E3, E4, E5, E6, E7\", reference: 500, grid: none, equatorial_estimate: yes, ",
		casts...)
	files["cruise.yaml"] = strings.TrimSuffix(files["cruise.yaml"], ", ") + "}\n" +
		"  - {name: odd, stations: \"O1, O2, O3, O4, O5, O6, O7, O8, O9\", reference: {sigma0: 27.65}, grid: none, layers: [0, 200], classes: {sigma0: [26.5, 27]}}\n" +
		"  - {name: known, stations: \"K1, K2, K3\", reference: {velocities: known.csv}, grid: none}\n" +
		"  - {name: none, stations: \"E3, E4, E5, E6\", grid: none, layers: [0, 100], classes: {sigma0: [26, 27]}, uncertainty: {members: 20, seed: 0}}\n"
	files["known.csv"] = "station_a,station_b,pressure_dbar,velocity_ms,standard_error_ms\nK1,K2,100,0.1,0.01\n"
	a := build(t, files)
	findings, transports := rowsOf(t, a, "tables/findings.csv"), rowsOf(t, a, "tables/transports.csv")
	stated := map[string][]statedPair{}
	for _, x := range []struct {
		section, from, to, status string
		says                      string // in file, table and findings; "" nothing to say
	}{
		{"equator", "E1", "E2", "questionable_near_equator",
			"a station lies 4.20 degrees from the equator, less than 5"},
		{"equator", "E2", "E3", "questionable_near_equator",
			"a station lies 3.20 degrees from the equator, less than 5"},
		{"equator", "E3", "E4", "withheld_at_equator", "a station lies 2.20 degrees from the equator, less than 3"},
		{"equator", "E4", "E5", "withheld_at_equator", "a station lies 0.20 degrees from the equator, less than 3"},
		{"equator", "E5", "E6", "withheld_at_equator", "the pair crosses the equator"},
		{"equator", "E6", "E7", "withheld_at_equator", "a station lies 0.40 degrees from the equator, less than 3"},
		{"odd", "O2", "O4", "computed", "unsampled below the deepest common level: " +
			"the casts end 561 m or more above the bottom"},
		{"odd", "O2", "O4", "computed",
			"the density 27.65 kg/m3 (referred to 0 dbar) is not crossed: the deepest common level is used"},
		{"odd", "O4", "O5", "withheld_no_common_levels", "the stations have no common usable level, two are needed"},
		{"odd", "O5", "O6", "withheld_no_usable_data",
			"station O6 has no usable level of temperature and salinity, two are needed"},
		{"odd", "O6", "O7", "withheld_no_usable_data",
			"station O6 has no usable level of temperature and salinity, two are needed"},
		{"odd", "O7", "O8", "computed", "unsampled below the deepest common level: " +
			"the casts end 805 m or more above the bottom"},
		{"odd", "O8", "O9", "computed",
			"a gap from 200 to 400 dbar: the levels above it are not joined to the reference"},
		{"odd", "O8", "O9", "computed",
			"the first common level, 400 dbar, is deeper than 20 dbar: the water above it is not sampled"},
		{"known", "K1", "K2", "computed", ""},
		{"known", "K2", "K3", "withheld_no_reference_given", "no known velocity was given for stations K2 and K3"},
	} {
		what := x.section + " " + x.from + "-" + x.to
		f := filepath.Join(a, "data/sections", x.section+"_geostrophy.nc")
		if stated[x.section] == nil {
			stated[x.section] = pairsIn(t, f)
		}
		i := slices.IndexFunc(stated[x.section], func(p statedPair) bool { return p.from == x.from && p.to == x.to })
		if i < 0 {
			t.Errorf("%s is no pair of %s", what, f)
			continue
		}
		if word := stated[x.section][i].status; word != x.status {
			t.Errorf("%s: pair_status %s, want %s", what, word, x.status)
		}
		in := strings.Join(stated[x.section][i].says, "; ")
		if !strings.Contains(in, x.says) || x.says == "" && in != "" {
			t.Errorf("%s: the file says %q, want %q", what, in, x.says)
		}
		n := 0
		for _, r := range transports {
			if r["section"] != x.section || r["station_a"] != x.from || r["station_b"] != x.to {
				continue
			}
			n++
			if r["status"] != x.status || !strings.Contains(r["remark"], x.says) {
				t.Errorf("%s: the table says %s, %q", what, r["status"], r["remark"])
			}
			for h, v := range r {
				if !slices.Contains([]string{"section", "what", "station_a", "station_b", "bound_unit", "kind", "unit",
					"positive_towards_deg", "distance_km", "status", "remark"}, h) && v != "" &&
					strings.HasPrefix(x.status, "withheld") {
					t.Errorf("%s: the table has %s %s", what, h, v)
				}
			}
		}
		if want := 5; strings.HasPrefix(x.status, "withheld") && n != 1 || !strings.HasPrefix(x.status, "withheld") &&
			n != want {
			t.Errorf("%s: %d lines of the table", what, n)
		}
		if x.says != "" && !slices.ContainsFunc(findings, func(r map[string]string) bool {
			return ofPair(r, x.section, x.from, x.to, x.says)
		}) {
			t.Errorf("%s: no finding says %q", what, x.says)
		}
		if strings.HasPrefix(x.status, "withheld") {
			noNumbers(t, f, what, i)
		}
	}
	for _, x := range []struct{ section, says string }{
		{"equator",
			"partial: 2 of 6 pairs, 221.2 of 1238.5 km; withheld 4: at equator; positive to the left of the line"},
		{"odd",
			"partial: 3 of 6 pairs, 126.4 of 254.5 km; withheld 1: no common levels, 2: no usable data; unsampled below the deepest common level in 2 pairs, 60.64 km2; unsampled near the surface in 1 pair, 16.93 km2"},
		// duplicates make no pair
		{"odd", "left out: station O1, cast 1 (within 2 km of station O2, cast 1 (repeats: deepest)), station O3"},
		{"known", "partial: 1 of 2 pairs, 39.4 of 78.8 km; withheld 1: no reference given"},
	} {
		n := 0
		for _, r := range transports {
			if r["section"] == x.section && r["what"] == "section" {
				n++
				if !strings.Contains(r["remark"], x.says) || r["status"] != "partial" || r["transport"] == "" ||
					r["stated_error"] == "" {
					t.Errorf("total of %s: %v", x.section, r)
				}
			}
		}
		if n != 5 {
			t.Errorf("%d totals of %s", n, x.section)
		}
	}
	// A section of which no pair has a velocity has lines, and no number in them, nor in the file.
	n := 0
	for _, r := range transports {
		if r["section"] != "none" || r["what"] == "pair" {
			continue
		}
		n++
		for h, v := range r {
			if !slices.Contains([]string{"section", "what", "station_a", "station_b", "lower", "upper", "bound_unit",
				"kind", "unit", "distance_km", "unsampled_below_km2", "status", "remark"}, h) && v != "" {
				t.Errorf("%s of a section without velocity: %s %s", r["what"], h, v)
			}
		}
		if r["status"] != "partial" || !strings.HasPrefix(r["remark"], "partial: 0 of 3 pairs, 0.0 of ") {
			t.Errorf("%s of a section without velocity: %s, %q", r["what"], r["status"], r["remark"])
		}
	}
	without := filepath.Join(a, "data/sections/none_geostrophy.nc")
	if v, _ := read(t, without, "velocity"); n != 5*(2+3+1) || len(v) != 3*60 ||
		slices.ContainsFunc(v, func(x float64) bool { return x == x }) {
		t.Errorf("%d lines, %d velocities of a section without any", n, len(v))
	}
	if s := text(t, without, "", "geostrophy_settings_json"); !strings.Contains(s,
		`"monte_carlo_members":20,"monte_carlo_seed":"0"`) {
		t.Errorf("settings: %s", s)
	}
	if x := attribute(t, without, "transport", "total"); x == x {
		t.Errorf("total of a section without velocity: %g", x)
	}

	// Layers and classes are totals too; a running sum past a withheld pair says what it is.
	bands, running := 0, 0
	for _, r := range transports {
		if r["section"] == "odd" && (r["what"] == "layer" || r["what"] == "density class") {
			bands++
			if r["status"] != "partial" || !strings.HasPrefix(r["remark"], "partial: 3 of 6 pairs") ||
				!strings.HasSuffix(r["remark"], "positive to the left of the line") {
				t.Errorf("%s of %s: %s, %q", r["what"], r["section"], r["status"], r["remark"])
			}
		}
		if strings.Contains(r["remark"], "cumulative is partial") {
			running++
			if r["station_a"] != "O7" && r["station_a"] != "O8" || r["cumulative"] == "" {
				t.Errorf("running sum of %s %s-%s: %q", r["section"], r["station_a"], r["station_b"], r["remark"])
			}
		}
	}
	if bands != 5*(2+3) || running != 2*5 {
		t.Errorf("%d lines of layers and classes, %d partial running sums", bands, running)
	}
	if c := text(t, filepath.Join(a, "data/sections/odd_geostrophy.nc"), "transport_cumulative",
		"comment"); !strings.Contains(c, "partial from the first pair without numbers on") {
		t.Errorf("comment of the running sum: %q", c)
	}
	if !slices.ContainsFunc(findings, func(r map[string]string) bool {
		return r["check"] == "section.repeats" && strings.Contains(r["message"], "O2/1 (deepest) and leaves O1/1, O3/1")
	}) {
		t.Error("no finding of the duplicates")
	}
	if left := text(t, filepath.Join(a, "data/sections/odd_geostrophy.nc"), "",
		"geostrophy_left_out"); !strings.Contains(left, "O1_00001: within 2 km of station O2, cast 1") ||
		!strings.Contains(left, "O3_00001: ") {
		t.Errorf("the file leaves out %q", left)
	}
	// The estimate at the equator: u = -(1/beta) d2Psi/dy2 (Picaut and Tournier 1991), zero at its reference, at the
	// stations that have no pair.
	estimates := map[string]int{}
	for _, r := range rowsOf(t, a, "tables/equatorial_equator.csv") {
		estimates[r["station"]]++
		if v := number(t, r["eastward_velocity_ms"]); r["pressure_dbar"] == "500" && v != 0 || math.Abs(v) > 2 ||
			r["reference_dbar"] != "500" {
			t.Errorf("estimate %v", r)
		}
	}
	if len(estimates) != 3 || estimates["E4"] != 60 || estimates["E5"] != 60 || estimates["E6"] != 60 {
		t.Errorf("levels with an estimate: %v", estimates)
	}
	if !strings.Contains(contents(t, a, "data/README.txt"), "tables/equatorial_equator.csv") ||
		!strings.Contains(contents(t, a, "data/provenance/prov.json"), "equatorial_equator.csv") {
		t.Error("the estimate is in neither README nor record")
	}
}

// ofPair reports whether a finding says something of a pair: of it first of all, or of another pair and likewise of it.
func ofPair(r map[string]string, section, from, to, says string) bool {
	first, rest, likewise := strings.Cut(r["message"], "; likewise in ")
	if strings.HasPrefix(first, fmt.Sprintf("section %s, stations %s and %s: ", section, from, to)) {
		return strings.Contains(first, says)
	}
	if !likewise || !strings.HasPrefix(first, "section "+section+", stations ") ||
		!strings.Contains(rest, from+" and "+to) {
		return false
	}
	digits := regexp.MustCompile(`[0-9.]+`) // numbers are those of the first pair
	return strings.Contains(digits.ReplaceAllString(first, "0"), digits.ReplaceAllString(says, "0")) ||
		strings.HasPrefix(r["check"], "geostrophy.withheld")
}

// Every pair of the demo has a status, and one with a note or reason says it in the table and the findings too.
func TestPairsOfDemo(t *testing.T) {
	a := build(t, demo(t, "reference: deepest}", "reference: deepest, grid: none}", "reference: 800}",
		"reference: 800, grid: none}\nfigures: none\n"))
	rows, findings := rowsOf(t, a, "tables/transports.csv"), rowsOf(t, a, "tables/findings.csv")
	said := 0
	for _, name := range []string{"strait", "slope"} {
		f := filepath.Join(a, "data/sections", name+"_geostrophy.nc")
		for i, p := range pairsIn(t, f) {
			if strings.HasPrefix(p.status, "withheld") {
				noNumbers(t, f, name+" "+p.from, i)
			}
			for _, words := range p.says {
				said++
				if !slices.ContainsFunc(rows, func(r map[string]string) bool {
					return r["section"] == name && r["station_a"] == p.from && strings.Contains(r["remark"], words)
				}) {
					t.Errorf("%s %s: the table does not say %q", name, p.from, words)
				}
				if !slices.ContainsFunc(findings, func(r map[string]string) bool {
					return ofPair(r, name, p.from, p.to, words)
				}) {
					t.Errorf("%s %s: no finding says %q", name, p.from, words)
				}
			}
		}
	}
	if said != 2 { // the two deepest pairs of the slope are not sampled to the bottom
		t.Errorf("%d things said of the pairs of the demo", said)
	}
}

// A statedPair is what a file says of a pair in words.
type statedPair struct {
	from, to, status string
	says             []string
}

func pairsIn(t *testing.T, path string) (out []statedPair) {
	t.Helper()
	status, _ := read(t, path, "pair_status")
	meanings := strings.Fields(text(t, path, "pair_status", "flag_meanings"))
	from, to := texts(t, path, "station_a"), texts(t, path, "station_b")
	for i := range status {
		out = append(out, statedPair{from: from[i], to: to[i], status: meanings[int(status[i])]})
	}
	for _, v := range []string{"pair_reason", "pair_note", "reference_fallback"} {
		if !has(t, path, v) {
			continue
		}
		for i, words := range texts(t, path, v) {
			if words != "" {
				out[i].says = append(out[i].says, strings.Split(words, "; ")...)
			}
		}
	}
	return out
}

// noNumbers demands that pair i of a file has nothing but what its positions give.
func noNumbers(t *testing.T, path, what string, i int) {
	t.Helper()
	inFile(t, path, func(r nc.Reader, s *nc.Schema) {
		seen := 0
		for v := range s.Vars {
			d := s.Vars[v].Dims
			if s.Vars[v].Type != nc.Double || len(d) == 0 || s.Dims[d[0]].Name != "pair" ||
				slices.Contains([]string{"time", "lat", "lon", "distance", "distance_bnds",
					"pair_length", "azimuth", "positive_direction", "coriolis"}, s.Vars[v].Name) {
				continue
			}
			seen++
			start, count := make([]int, len(d)), s.Shape(v)
			start[0], count[0] = i, 1
			x := make([]float64, s.Len(v)/s.Shape(v)[0])
			if err := r.ReadFloat64(v, start, count, x); err != nil {
				t.Fatal(err)
			}
			for _, y := range x {
				if y != -9999 && y == y {
					t.Errorf("%s: %s is %g", what, s.Vars[v].Name, y)
				}
			}
		}
		if seen < 50 {
			t.Errorf("only %d variables of %s looked at", seen, path)
		}
	})
}

// The casts of the section are those of its velocities: a repeat that the list names by number, as the finding about
// its role advises, and two stations that stand nearer than 2 km after the choice among repeats, whose pair is withheld
// (science section 8).
func TestSectionAndPairsHoldTheSameCasts(t *testing.T) {
	p := bins(2, 400, 2)
	casts := []sounding{
		{station: "1", lat: "40", lon: "-30", pressures: p, water: ocean(0)},
		{station: "2", lat: "40", lon: "-29.8", pressures: p, water: ocean(1)},
		{station: "3", lat: "40", lon: "-29.6", pressures: p, water: ocean(2)},
		{station: "4", lat: "40", lon: "-29.571", pressures: p, water: ocean(3)}, // 2.5 km on
		// back, within 2 km of both
		{station: "5", lat: "40", lon: "-29.58", pressures: bins(2, 500, 2), water: ocean(2.5)},
	}
	files := plant("sections:\n  - {name: s, stations: \"1, 2/1, 3, 4, 5\", grid: none}\n", casts...)
	files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], "sources: [casts]",
		"sources: [casts], role: [{repeat: 2/1}]", 1)
	a := build(t, files)
	var got []string
	for _, x := range pairsIn(t, filepath.Join(a, "data/sections/s_geostrophy.nc")) {
		got = append(got, x.from+"-"+x.to+" "+x.status)
	}
	if want := []string{"1-2 computed", "2-3 computed", "3-5 withheld_stations_too_close"}; !slices.Equal(got, want) {
		t.Errorf("pairs %q, want %q", got, want)
	}
}

// What cannot be used of a section's settings is found by check and build alike: a compass word that means nothing on
// the line (or on one that closes on itself) stops the build and names the legal words; a line of a table for stations
// that are no pair, and a section of one station, are warnings.
func TestSettingsJudgedByCheck(t *testing.T) {
	p := bins(2, 100, 2)
	casts := []sounding{
		{station: "1", lat: "40", lon: "-30", pressures: p, water: ocean(0)},
		{station: "2", lat: "40.5", lon: "-30", pressures: p, water: ocean(1)},
		{station: "3", lat: "41", lon: "-30", pressures: p, water: ocean(2)},
		{station: "4", lat: "40.5", lon: "-29.5", pressures: p, water: ocean(1)},
		{station: "5", lat: "40.001", lon: "-30.001", pressures: p, water: ocean(0)},
	}
	for _, x := range []struct{ settings, check, says string }{
		{"stations: 1-3, positive: north", "section.positive",
			`"north" on a line that runs towards 0 degrees; use one of left, right, east`},
		{"stations: 1-5, positive: east", "section.positive",
			`"east" on a line whose ends are 0.1 km apart; use left or right`},
		{`stations: "1, 2, 4, 2"`, "section.stations", "section s: cast 2/1 is listed twice"},
		{`stations: "1, 2, 4, 2, 3, 1"`, "section.stations", "section s: cast 2/1 is listed twice"},
		{`stations: "1, 2, 1"`, "section.stations",
			"section s: the line returns to station 1 after 2 stations: a closed line needs at least 3 places"},
		{`stations: "1, 2, 4, 1", positive: north`, "section.positive",
			`"north" on a closed line; use in, out, left or right`},
		{"stations: 1-3, positive: in", "section.positive", `"in" on a line that is not closed`},
		{`stations: "1, 5"`, "section.pairs",
			"section s has one station, so that no velocity and no grid are made of it: its 2 casts count as one place, each less than 2 km"},
		{`stations: "1"`, "section.pairs", "section s has one station, so that no velocity and no grid are made of it"},
		{"stations: 1-3, reference: {levels: known.csv}", "geostrophy.known",
			"stations 1 and 3 do not follow each other in section s"},
	} {
		files := plant("sections:\n  - {name: s, grid: none, "+x.settings+"}\n", casts...)
		files["known.csv"] = "station_a,station_b,depth_m\n1,3,50\n"
		dir := t.TempDir()
		for name, text := range files {
			path := filepath.Join(dir, filepath.FromSlash(name))
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		plan := pipeline.Plan{CruiseFile: filepath.Join(dir, "cruise.yaml"), Out: t.TempDir()}
		for name, run := range map[string]func(context.Context, pipeline.Plan) (pipeline.Product, error){
			"check": pipeline.Check, "build": pipeline.Build} {
			made, err := run(context.Background(), plan)
			if err != nil {
				t.Fatal(err)
			}
			n := 0
			for _, f := range made.Findings {
				if f.Check == x.check && strings.Contains(f.Message, x.says) && f.Line > 0 && f.Advice() != "" {
					n++
				}
			}
			if n != 1 {
				t.Errorf("%s with %s: said %d times: %v", name, x.settings, n, made.Findings)
			}
			if stops := x.check != "geostrophy.known" && x.check != "section.pairs"; name == "build" &&
				stops == (made.Path != "") {
				t.Errorf("build with %s made %q", x.settings, made.Path)
			}
		}
	}
}
