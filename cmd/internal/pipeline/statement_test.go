package pipeline_test

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// tableOf returns the rows below a head line of a Markdown document.
func tableOf(t *testing.T, archive, rel, head string) (rows [][]string) {
	t.Helper()
	text := documentOf(t, archive, rel)
	at := strings.Index(text, "\n| "+head)
	if at < 0 {
		t.Fatalf("%s has no table %q:\n%s", rel, head, text)
	}
	for i, line := range strings.Split(text[at+1:], "\n") {
		if line == "" {
			break
		}
		if i >= 2 {
			cells := strings.Split(strings.Trim(line, "| "), " | ")
			rows = append(rows, cells)
		}
	}
	return rows
}

func documentOf(t *testing.T, archive, rel string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(archive, "data", rel))
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// The numbers of the statement and the summaries are those of the tables and files of the archive.
func TestStatement(t *testing.T) {
	files := edited(plant(`quality: {signed: {by: Ragna Holm, date: 2026-06-01}}
systems:
  - {label: one, stations: R1-R4, sensors: [{variables: [temp], model: m1, serial: s1, calibrated: 2026-01-20}],
     salinity: {stage: laboratory, by: Owen Lark, date: 2026-05-16, residual: 0.0012}, upstream: [despiked]}
sections:
  - {name: s, stations: "R1, R2, R4", reference: 40}
`, flat()...), "casts: {sources: [casts]}\n", `casts:
  sources: [casts]
  leave_out: [{cast: R3, reason: "the winch | stopped"}]
  renumber: [{from: R4/1, to: R4/7, why: log sheet}]
  edits: edits.csv
`)
	files["edits.csv"] = "station,cast,variable,from_dbar,to_dbar,flag,initials,reason,date\n" +
		"R1,1,psal,100,110,4,RH,bubble,2026-05-16\n"
	archive := build(t, files)
	const doc = "documents/processing_statement.md"
	text := documentOf(t, archive, doc)
	stations := rowsOf(t, archive, "tables/stations.csv")
	casts, bins := 0, 0
	for _, r := range stations {
		if r["left_out"] != "" {
			continue
		}
		n, err := strconv.Atoi(r["levels"])
		if err != nil {
			t.Fatal(err)
		}
		casts, bins = casts+1, bins+n
	}
	for _, want := range []string{
		strconv.Itoa(casts) + " casts at ", " with " + strconv.Itoa(bins) + " pressure bins between ",
		"Left out of all products: 1 cast.", `the winch \| stopped`, "R4/7", "log sheet",
		"| one | temp | m1 | s1 | 2026-01-20 |",
		"| one | salinity | laboratory | Owen Lark | 2026-05-16 | 0.0012 |", "despiked",
		"psal of cast ", "flag 4 at 2 levels by RH: bubble", "not for navigation", "| s | reference level | 40 dbar |",
		"| section s | method of mapping | optimal interpolation |",
		"signed by Ragna Holm on 2026-06-01.", "| spike | differs much from both"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
	// flags: every level of psal has one, two of them 4
	for _, r := range tableOf(t, archive, doc, "Variable | ") {
		if r[0] != "psal" {
			continue
		}
		sum := 0
		for _, c := range r[1:] {
			n, _ := strconv.Atoi(strings.TrimSpace(c))
			sum += n
		}
		if sum != bins {
			t.Errorf("%d flags of psal, %d bins", sum, bins)
		}
	}
	if rows := tableOf(t, archive, "documents/station_summary.md", "Expocode"); len(rows) != casts {
		t.Errorf("%d rows for %d casts", len(rows), casts)
	}
	// the total is that of the table of transports, rounded
	var total, stated float64
	for _, r := range rowsOf(t, archive, "tables/transports.csv") {
		if r["what"] == "section" && r["kind"] == "volume" {
			total, _ = strconv.ParseFloat(r["transport"], 64)
			stated, _ = strconv.ParseFloat(r["stated_error"], 64)
		}
	}
	row := tableOf(t, archive, "documents/transport_summary.md", "Section")[0]
	if row[0] != "s" || row[1] != strconv.FormatFloat(total, 'f', 2, 64) ||
		row[2] != strconv.FormatFloat(stated, 'f', 2, 64) {
		t.Errorf("%q, want %.2f and %.2f", row, total, stated)
	}
	sheet := documentOf(t, archive, "documents/submission_sheet.md")
	for _, want := range []string{"| CTDPRS | DBAR | pres |", "| DOI | not stated |"} {
		if !strings.Contains(sheet, want) {
			t.Errorf("%q is not in\n%s", want, sheet)
		}
	}
	page := documentOf(t, archive, "documents/processing_statement.html")
	if strings.Contains(page, "<script") || !strings.Contains(page, "<td>the winch | stopped</td>") {
		t.Error(page)
	}
}
