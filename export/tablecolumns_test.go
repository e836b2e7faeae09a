package export

import (
	"encoding/csv"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/paulmach/orb"
)

// numbered returns casts whose names look like numbers, the last with no usable level, in the order of a section.
func numbered() *section.Section {
	s := &section.Section{Name: "7"}
	var line []orb.Point
	for i, name := range []string{"001", "2", "3", "4"} {
		c := &section.Cast{Expocode: "123420240501", Station: name, Number: "1", At: orb.Point{-30 + 0.5*float64(i),
			40}, BottomM: math.NaN()}
		column := func(name string, get func(p float64) float64) {
			v := make([]float64, 21)
			for l := range v {
				v[l] = get(50 * float64(l))
			}
			c.Columns = append(c.Columns, section.Column{Variable: metadata.MustVariable(name), Decimals: -1, Values: v,
				Derived: name != "pres"})
		}
		column("pres", func(p float64) float64 { return p })
		column("asal", func(p float64) float64 {
			if name == "4" {
				return math.NaN()
			}
			return 35 + 1e-4*p
		})
		column("ctemp", func(p float64) float64 { return 10 + float64(i) - 5e-3*p })
		c.PressureDbar = c.Columns[0].Values
		s.Casts, line = append(s.Casts, c), append(line, c.At)
	}
	s.DistanceKm = section.TrackKm(line, section.WGS84)
	return s
}

// A reader of tables takes a column for numbers when every cell that is not empty is one, and prints station 7 as 7.0
// where others are empty: columns of names have no empty cell. The names of columns are plain words.
func TestColumnsOfTables(t *testing.T) {
	sec := numbered()
	opts := geostrophy.DefaultOptions()
	opts.EquatorialEstimate, opts.Layers, opts.Members = true, []float64{0, 500}, 10
	r, err := geostrophy.Compute(sec, opts)
	if err != nil {
		t.Fatal(err)
	}
	var budgets []*geostrophy.Result // one of a closed line, one that has none: station 4 has no salinity
	for _, n := range []int{3, len(sec.Casts)} {
		ring := numbered()
		ring.Casts = append(ring.Casts[:n], ring.Casts[0])
		ring.Casts[1].At[1]++
		ring.DistanceKm = make([]float64, len(ring.Casts))
		closed, err := geostrophy.Compute(ring, geostrophy.DefaultOptions())
		if err != nil || (closed.Budget.Reason == "") != (n == 3) {
			t.Fatal(err, closed)
		}
		budgets = append(budgets, closed)
	}
	stations := []StationRow{{File: "broken_ct1.csv", LeftOut: "broken"}}
	for i, c := range sec.Casts {
		row := StationRow{ID: c.ID(), Cast: c}
		if i == 0 {
			row.Sections = []string{"7"}
			c.System = "1"
		}
		stations = append(stations, row)
	}
	for _, x := range []struct {
		table string
		write func(io.Writer) error
		names []string
	}{
		{"transports", func(w io.Writer) error { return WriteTransports(w, []*geostrophy.Result{r}) },
			[]string{"section", "what", "station_a", "station_b", "bound_unit", "kind", "unit", "status"}},
		{"budgets", func(w io.Writer) error { return WriteBudgets(w, append(budgets, r)) },
			[]string{"section", "kind", "unit", "positive_towards", "relative_to", "change_unit", "status", "left_out",
				"remark"}},
		{"stations", func(w io.Writer) error { return WriteStations(w, stations) },
			[]string{"expocode", "station", "cast", "system", "sections"}},
		{"equatorial", func(w io.Writer) error { return WriteEquatorial(w, r) },
			[]string{"section", "station", "cast"}},
		{"findings", func(w io.Writer) error {
			return WriteFindings(w, []metadata.Finding{{Check: "a.b", Message: "m"}, r.Findings[0].Finding})
		}, []string{"severity", "check", "message"}},
		{"cast_numbers", func(w io.Writer) error { return WriteCastNumbers(w, []CastNumber{{Cast: "x"}}) },
			[]string{"cast_id"}},
		{"ledger", func(w io.Writer) error {
			return WriteLedger(w, []LedgerRow{{Expocode: "x", Station: "7", Cast: "1"},
				{State: LedgerGap, Station: "8"}, {State: LedgerLeftOut, File: "f", HasLog: true}})
		}, []string{"state", "expocode", "station", "cast", "in_log", "section"}},
	} {
		var b strings.Builder
		if err := x.write(&b); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(strings.NewReader(b.String())).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for i, head := range rows[0] {
			if !regexp.MustCompile(`^[a-z][a-z0-9_]*$`).MatchString(head) {
				t.Errorf("%s: column %q", x.table, head)
			}
			if !slices.Contains(x.names, head) {
				continue
			}
			for n, row := range rows[1:] {
				if row[i] == "" {
					t.Errorf("%s, line %d: no %s", x.table, n+2, head)
				}
			}
		}
		for _, name := range x.names {
			if !slices.Contains(rows[0], name) {
				t.Errorf("%s has no column %s", x.table, name)
			}
		}
		if x.table == "transports" {
			transportColumns(t, rows)
		}
	}
}

// transportColumns holds the stated error of each line, as printed, to its parts.
func transportColumns(t *testing.T, rows [][]string) {
	number := func(row []string, name string) float64 {
		s := row[slices.Index(rows[0], name)]
		if s == "" {
			return math.NaN()
		}
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	seen, withheld, members := 0, 0, 0
	for _, row := range rows[1:] {
		stated := number(row, "stated_error")
		if stated != stated {
			withheld++
			continue
		}
		seen++
		for i, head := range rows[0] {
			if strings.HasPrefix(head, "part_") && !(number(row, head) <= stated) {
				t.Errorf("%s: %s %s is more than the stated error %g", row[1], head, row[i], stated)
			}
		}
		if v := number(row, "monte_carlo_high_95"); v == v && row[1] == "section" {
			members++
			if !(number(row, "monte_carlo_low_95") <= v) {
				t.Errorf("percentiles of %v", row)
			}
		}
		if number(row, "per_cast_if_common") != number(row, "per_cast_if_common") {
			t.Errorf("%s: no alternative", row[1])
		}
	}
	if seen != 5*(2+2+1) || withheld != 1 || members != 5 {
		t.Errorf("%d lines with errors, %d without, %d with members", seen, withheld, members)
	}
}
