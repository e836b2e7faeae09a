package pipeline_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/nc"
)

// square is five stations round a rectangle of 36 to 38 N with water of different warmth.
func square(change func([]sounding)) []sounding {
	p := bins(10, 600, 10)
	casts := []sounding{
		{station: "1", lat: "36", lon: "-30", depth: "606", pressures: p, water: ocean(0)},
		{station: "2", lat: "36", lon: "-29", depth: "606", pressures: p, water: ocean(1)},
		{station: "3", lat: "38", lon: "-29", depth: "606", pressures: p, water: ocean(2)},
		{station: "4", lat: "38", lon: "-30", depth: "606", pressures: p, water: ocean(1)},
		{station: "5", lat: "37", lon: "-30.2", depth: "606", pressures: p, water: ocean(0.5)},
	}
	if change != nil {
		change(casts)
	}
	return casts
}

// budgetsOf reads the table of budgets by kind of transport.
func budgetsOf(t *testing.T, archive string) map[string]map[string]string {
	t.Helper()
	text := contents(t, filepath.Join(archive, "data/tables/budgets.csv"))
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]map[string]string{}
	for _, row := range rows[1:] {
		line := map[string]string{}
		for i, head := range rows[0] {
			line[head] = row[i]
		}
		out[line["kind"]] = line
	}
	return out
}

// sameBudget compares the table of budgets with the attributes in SI units, and what follows from the net with it.
func sameBudget(t *testing.T, file string, net map[string]map[string]string) {
	t.Helper()
	same := func(what string, got, want, tol float64) {
		t.Helper()
		if !(math.Abs(got-want) <= tol) || want == 0 {
			t.Errorf("%s: %g, want %g within %g", what, got, want, tol)
		}
	}
	for kind, of := range map[string]struct {
		name         string
		factor, half float64 // SI units in one of the table, half of its last digit
	}{"volume": {"transport", 1e6, 5e-5}, "mass": {"transport_mass", 1e9, 5e-5}, "salt": {"transport_salt", 1e6, 5e-4},
		"freshwater": {"transport_freshwater", 1e9, 5e-7}, "heat": {"transport_heat", 1e15, 5e-7}} {
		for column, attr := range map[string]string{"net": "total", "stated_error": "total_standard_error",
			"beta_term": "total_beta_term", "net_at_one_coriolis_parameter": "total_at_one_coriolis_parameter",
			"sum_of_absolute_transports": "total_of_absolute_values", "second_reference": "total_second_reference"} {
			same(kind+" "+column, number(t, net[kind][column]), attribute(t, file, of.name, attr)/of.factor,
				1.01*of.half)
		}
	}
	volume, heat := net["volume"], net["heat"]
	area := number(t, volume["pair_area_km2"])
	same("closing velocity", number(t, volume["closing_velocity_ms"]), -number(t, volume["net"])/area, 1e-4/area)
	inFile(t, file, func(_ nc.Reader, s *nc.Schema) {
		for attr, want := range map[string]float64{"budget_pair_area_m2": area * 1e6,
			"budget_closing_velocity_m_s": number(t, volume["closing_velocity_ms"]),
			"budget_length_km":            number(t, volume["length_km"]),
			"budget_enclosed_km2":         number(t, volume["enclosed_km2"]),
			"budget_duration_days":        number(t, volume["duration_days"])} {
			same(attr, nc.Floats(s.Attr(attr))[0], want, math.Max(1e-3*math.Abs(want), 5e-3))
		}
	})
	// heat relative to a degree more is less by the heat capacity (IOC, SCOR and IAPSO 2010) times the net mass
	same("change of heat", number(t, heat["change_per_unit"]), -3991.86795711963*number(t, net["mass"]["net"])/1e6,
		1e-6)
	salinity := number(t, strings.TrimSuffix(net["freshwater"]["relative_to"], " g/kg"))
	same("change of freshwater", number(t, net["freshwater"]["change_per_unit"]),
		number(t, net["salt"]["net"])/salinity/salinity, 1e-5)
	if k := number(t, strings.TrimSuffix(heat["relative_to"], " degC")); !(k > 4 && k < 16) { // of the water of ocean
		t.Errorf("heat is relative to %g degC", k)
	}
}

// A section that ends with its first station has that cast once in its file, each pair in the file of pairs, and a
// budget with the reason where there is none. Which way it runs does not change what flows in.
func TestClosedSections(t *testing.T) {
	closed := "sections: [{name: s, grid: none, stations: '1-5, 1'%s}]\n"
	with := func(keys string) string { return strings.Replace(closed, "%s", keys, 1) }
	whole := build(t, plant(with(", reference: 600"), square(nil)...))
	inFile(t, filepath.Join(whole, "data/sections/s_section.nc"), func(_ nc.Reader, s *nc.Schema) {
		if n := s.Dims[s.Dim("profile")].Len; n != 5 || nc.Floats(s.Attr("closing_distance"))[0] < 600 {
			t.Errorf("%d casts, closing distance %v", n, s.Attr("closing_distance"))
		}
	})
	if got := len(pairsIn(t, filepath.Join(whole, "data/sections/s_geostrophy.nc"))); got != 5 {
		t.Errorf("%d pairs", got)
	}
	net := budgetsOf(t, whole)
	for kind, row := range net {
		if row["status"] != "complete" || row["positive_towards"] != "in" || row["reference_deepest_dbar"] != "600.0" ||
			!strings.Contains(row["left_out"], "Ekman") || !strings.Contains(row["left_out"], "0.2 days") {
			t.Errorf("%s: %v", kind, row)
		}
	}
	sameBudget(t, filepath.Join(whole, "data/sections/s_geostrophy.nc"), net)
	for _, text := range []string{"README.txt", "documents/processing_statement.md", "tables/transports.csv"} {
		if !strings.Contains(contents(t, filepath.Join(whole, "data", text)), "closed line") {
			t.Errorf("%s does not say that the line is closed", text)
		}
	}
	for _, x := range []struct {
		keys           string
		change         func([]sounding)
		status, remark string // of the volume, or of all where there is no budget
		same           int    // +1, -1: the net volume is that of the whole line, with this sign; 0: it is another
	}{
		{", reference: 600, positive: out", nil, "complete", "", -1},
		{", reference: 600, positive: left", nil, "complete", "", 1},
		{"", nil, "complete", "", 1}, // each pair's deepest common level is 600 dbar
		{", reference: 500", func(c []sounding) { c[2].pressures, c[2].depth = bins(10, 400, 10), "404" }, "complete",
			"mixed reference", 0},
		{", reference: 600", func(c []sounding) { c[2].pressures = bins(10, 10, 10) }, "none",
			"2 of 5 pairs without velocity: stations 2 and 3", 0},
		{", reference: 600", func(c []sounding) { c[2].depth = "900" }, "complete", "", 1}, // a triangle at rest
		{", reference: 200", func(c []sounding) {
			c[2].pressures = append(bins(10, 300, 10), bins(450, 600, 10)...)
		}, "partial", "unsampled", 0},
		{", reference: 600", func(c []sounding) {
			c[1].lat, c[1].lon, c[3].lat, c[3].lon = "38", "-30", "36", "-29"
		}, "none", "the line crosses itself", 0},
	} {
		got := budgetsOf(t, build(t, plant(with(x.keys), square(x.change)...)))
		row := got["volume"]
		if row == nil {
			row = got["all"]
		}
		if row["status"] != x.status || !strings.Contains(row["remark"], x.remark) {
			t.Errorf("%s: %v", x.keys, row)
		}
		if x.same != 0 {
			a, _ := strconv.ParseFloat(net["volume"]["net"], 64)
			if b, _ := strconv.ParseFloat(row["net"], 64); a != float64(x.same)*b || a == 0 {
				t.Errorf("%s: net %v, of the whole line %v", x.keys, b, a)
			}
		}
	}
	open := build(t, plant("sections: [{name: s, grid: none, stations: 1-5}]\n", square(nil)...))
	if _, err := os.Stat(filepath.Join(open, "data/tables/budgets.csv")); err == nil {
		t.Error("a table of budgets without a closed line")
	}
	underway := plant("release: {status: underway}\n"+with(", positive: in"), square(nil)...)
	delete(underway, "casts/5_ct1.csv")
	taken := build(t, underway)
	if got := len(pairsIn(t, filepath.Join(taken, "data/sections/s_geostrophy.nc"))); got != 3 {
		t.Errorf("%d pairs while station 5 is still to come", got)
	}
}
