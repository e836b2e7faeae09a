//go:build cgo

package pipeline_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// The ledger accounts for casts, log and plan: in check, in the table of the archive and in the statement.
func TestLedger(t *testing.T) {
	files := quick(t, "sections:\n  - {name: strait, stations: 1-10, planned: [1-8, 10, 99], grid: none}\n")
	files["log.csv"] = "station,cast,remark\n1,1,\n2,1,\n3,1,calm\n4,1,\n70,1,not taken\n"
	delete(files, "casts/ZZSM20260504_00009_00001_ct1.csv")
	files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], "casts:\n", "casts:\n  station_table: log.csv\n", 1)
	p := check(t, files)
	text := pipeline.LedgerText(p.Ledger)
	a := build(t, files)
	rows := rowsOf(t, a, "tables/ledger.csv")
	row := func(state, station string) map[string]string {
		t.Helper()
		i := slices.IndexFunc(rows, func(r map[string]string) bool {
			return r["state"] == state && r["station"] == station
		})
		if i < 0 {
			t.Fatalf("no row %s of station %s: %v", state, station, rows)
		}
		return rows[i]
	}
	if r := row("kept", "3"); r["in_log"] != "yes" || r["log_line"] != "4" {
		t.Errorf("a cast of the log: %v", r)
	}
	if r := row("kept", "10"); r["in_log"] != "no" {
		t.Errorf("a cast without a line of the log: %v", r)
	}
	if r := row("in the log only", "70"); r["log_line"] != "6" || r["file"] != "log.csv" {
		t.Errorf("a line of the log without a cast: %v", r)
	}
	if r := row("planned, no cast", "99"); r["section"] != "strait" {
		t.Errorf("a planned station: %v", r)
	}
	row("number without a cast", "9")
	if !slices.ContainsFunc(rows, func(r map[string]string) bool {
		return r["state"] == "left out" && r["why"] != ""
	}) {
		t.Errorf("no cast is left out: %v", rows)
	}
	said := strings.Join(strings.Fields(documentOf(t, a, "documents/processing_statement.md")), " ")
	for _, want := range []string{"in the log only: 70/1", "planned, no cast: 99", "number without a cast: 9",
		"of them not in the log", "1 left out: "} {
		if !strings.Contains(text, want) || !strings.Contains(said, want) {
			t.Errorf("%q is not said: %s", want, text)
		}
	}
	// Names that differ by zeros are two casts, and one line says so.
	twice := quick(t, "")
	name := "casts/ZZSM20260504_00003_00001_ct1.csv"
	twice["casts/again_ct1.csv"] = strings.Replace(twice[name], "STNNBR = 3", "STNNBR = 03", 1)
	if text := pipeline.LedgerText(check(t, twice).Ledger); !strings.Contains(text, "1 named twice: ") {
		t.Errorf("a name that occurs twice: %s", text)
	}
}
