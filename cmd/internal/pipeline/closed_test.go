package pipeline_test

import (
	"encoding/csv"
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
