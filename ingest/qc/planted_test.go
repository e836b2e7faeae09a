package qc_test

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/internal/planted"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// tables are the tables of planted faults: of values and casts, of what changes with time and along the stations, and
// two more with other noise, sizes near twice the limits, and other casts and pressures.
var tables = []string{"faults", "by_time", "by_station", "near_limits", "other_places"}

func faults(t *testing.T, table string) []planted.Fault {
	t.Helper()
	f, err := os.Open("../../testdata/planted/" + table + ".csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	list, err := planted.Read(f)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// read reads the files of an invented cruise as a cruise file does.
func read(t *testing.T, c *planted.Cruise) *qc.Cruise {
	t.Helper()
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "casts"), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, n := range c.Names() {
		if err := os.WriteFile(filepath.Join(dir, n), c.Files[n], 0o644); err != nil {
			t.Fatal(err)
		}
	}
	r := &ingest.Reader{Options: ingest.Options{Aliases: []ingest.Alias{{Column: "CTDTMP2", Means: "temp2"},
		{Column: "CTDSAL2", Means: "psal2"},
		{Column: "ALTIM", Means: "hab"}}}}
	out := &qc.Cruise{OnLand: func(at orb.Point) bool {
		return at[0] >= c.Island[0][0] && at[0] <= c.Island[1][0] && at[1] >= c.Island[0][1] && at[1] <= c.Island[1][1]
	}}
	l, err := ingest.List(dir, []ingest.Source{{Path: "casts"}}, ingest.CTD, nil)
	if err != nil {
		t.Fatal(err)
	}
	table, err := csv.NewReader(strings.NewReader(string(c.Files["stations.csv"]))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for i := range l.Inputs {
		casts, _, err := r.Casts(&l.Inputs[i])
		if err != nil {
			t.Fatal(err)
		}
		k := &casts[0]
		for _, row := range table {
			if row[0] == k.Station && row[1] == k.Number {
				at, err := time.Parse("2006-01-02T15:04Z", row[2])
				if err != nil {
					t.Fatal(err)
				}
				out.Clocks = append(out.Clocks, qc.Clock{Cast: k, File: k.Time, Log: at})
				k.Direction = map[string]section.Direction{"down": section.Down, "up": section.Up}[row[3]]
				k.Role = map[string]section.Role{"primary": section.Primary, "repeat": section.Repeat}[row[4]]
				k.System = row[5]
			}
		}
		out.Casts = append(out.Casts, k)
	}
	slices.SortStableFunc(out.Casts, section.CompareCasts)
	if l, err = ingest.List(dir, []ingest.Source{{Path: "bottles_hy1.csv"}}, ingest.Bottles, nil); err != nil {
		t.Fatal(err)
	}
	b, _, err := r.Bottles(&l.Inputs[0])
	if err != nil {
		t.Fatal(err)
	}
	out.Bottles = []*section.Bottles{b}
	return out
}

// judge runs every check.
func judge(t *testing.T, c *qc.Cruise) (*qc.Result, []metadata.Finding) {
	t.Helper()
	checks, err := qc.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	var found []metadata.Finding
	for _, k := range c.Casts {
		found = append(found, checks.Cast(k, qc.Settings{})...)
	}
	r := checks.Cruise(c)
	return r, append(found, r.Findings...)
}

func values(c *qc.Cruise) (n int) {
	for _, k := range c.Casts {
		n += k.Levels() * len(k.Columns)
	}
	return n
}

// planted.Fault of a finding; -1 for none.
func faultOf(list []planted.Fault, casts []*section.Cast, f *metadata.Finding) int {
	return slices.IndexFunc(list, func(p planted.Fault) bool { return matches(&p, casts, f) && p.Check == f.Check })
}

// matches reports whether a finding is about the values of a fault; both sensors of a pair see what the plumbing
// brings.
func matches(p *planted.Fault, casts []*section.Cast, f *metadata.Finding) bool {
	if (p.Casts == "" || p.Casts == "*") != (f.Cast == "") {
		return false
	}
	if p.Casts != "" && p.Casts != "*" && !slices.ContainsFunc(casts,
		func(k *section.Cast) bool { return k.ID() == f.Cast && p.Of(k.Station, k.Number) }) {
		return false
	}
	if len(p.Variables) > 0 && !slices.Contains(p.Variables, strings.TrimSuffix(f.Variable, "2")) &&
		!slices.Contains(p.Variables, f.Variable) {
		return false
	}
	const bins = 8 // dbar, on each side
	return !(f.Last < p.From-bins) && !(f.First > p.To+bins)
}

// Every planted fault is found in its cast, variable and range of pressure; at most one proposal in twenty is none
// of them.
func TestPlantedFaults(t *testing.T) {
	for n := range 2 * len(tables) {
		table, sign := tables[n/2], []float64{1, -1}[n%2]
		t.Run(fmt.Sprint(table, " sign ", sign), func(t *testing.T) {
			list := faults(t, table)
			c := read(t, planted.Make(list, sign))
			_, found := judge(t, c)
			hit := make([]bool, len(list))
			proposals, others := 0, 0
			for i := range found {
				f := &found[i]
				k := faultOf(list, c.Casts, f)
				if k >= 0 {
					hit[k] = true
				}
				planted := k >= 0 || slices.ContainsFunc(list, func(p planted.Fault) bool {
					return p.Kind != "" &&
						matches(&p, c.Casts, f)
				})
				if f.Proposed != metadata.NotEvaluated {
					if proposals++; !planted {
						others++
					}
				}
				if !planted && f.Severity >= metadata.Warning {
					t.Logf("not planted: %s %s %s %s %g-%g %s", f.Severity, f.Check, f.Cast, f.Variable, f.First,
						f.Last, f.Message)
				}
			}
			for k, p := range list {
				if p.Check != "" && !hit[k] {
					t.Errorf("not found: %+v", p)
				}
			}
			if 20*others > proposals {
				t.Errorf("%d of %d proposals are not planted", others, proposals)
			}
			t.Logf("%d proposals, %d of them not planted", proposals, others)
		})
	}
}

// The clean twin has no finding of warning, and no proposal.
func TestCleanTwin(t *testing.T) {
	c := read(t, planted.Make(nil, 1))
	r, found := judge(t, c)
	for _, f := range found {
		if f.Severity >= metadata.Warning || f.Proposed != metadata.NotEvaluated {
			t.Errorf("%s %s %s %s %g-%g %s", f.Severity, f.Check, f.Cast, f.Variable, f.First, f.Last, f.Message)
		}
	}
	if n := values(c); n < 500_000 {
		t.Errorf("only %d values were checked", n)
	}
	if len(r.Matches) < 700 || len(r.Pairs) < 100 {
		t.Errorf("%d matches, %d pairs", len(r.Matches), len(r.Pairs))
	}
}

// Every check is planted at least twice. A finding that a cruise has once, or once for each system, is in two cruises,
// or in the two signs of one.
func TestEveryCheckIsPlanted(t *testing.T) {
	n := map[string]int{}
	for _, table := range tables {
		for _, p := range faults(t, table) {
			n[p.Check]++
			if p.Casts == "" {
				n[p.Check]++ // of the whole cruise, with both signs
			}
		}
	}
	once := []string{"bottles.system", "pair.system"} // one of two systems, with both signs
	for _, r := range qc.Rules() {
		if slices.Contains(once, r.ID) {
			n[r.ID] *= 2
		}
		if n[r.ID] < 2 {
			t.Errorf("%s is planted %d times", r.ID, n[r.ID])
		}
	}
}
