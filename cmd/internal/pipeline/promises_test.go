package pipeline_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest/cruisefile"
)

// What the help says that a note or finding says is said, with the place in the cruise file.
func TestNotesOfTheHelp(t *testing.T) {
	casts := flat()
	for _, x := range []struct {
		promise        string // in the documentation of the cruise file
		systems, lines string
		check          string
		says           []string // of each finding; none: there is none
	}{
		{"unknown, and a note says so", "", "", "cruise.bin_label", []string{"casts of no named system"}},
		{"unknown, and a note says so", "systems: [{label: one, stations: R1-R2}, {label: two, bin: 10}]\n", "",
			"cruise.bin_label", []string{"system one", "system two"}},
		{"unknown, and a note says so",
			"systems: [{label: one, stations: R1-R2, bin: {label: top}}, {label: two, bin: 10}]\n", "",
			"cruise.bin_label", []string{"system two"}},
		{"unknown, and a note says so", "systems: [{label: one, bin: {width: 10, label: centre}}]\n", "",
			"cruise.bin_label", nil},
		{"stations that were planned; those not taken are notes", "", ", planned: R1-R3", "section.planned", nil},
		{"stations that were planned; those not taken are notes", "", ", planned: 'R1-R4, R9'", "section.planned",
			[]string{"planned and not occupied: R9"}},
		{"what follows except is taken out", "", ", planned: R1-R4 except R2", "section.planned", nil},
		{"runs in natural order", "", ", planned: 1-9000", "section.planned", []string{"1, 2, 3, 4"}},
	} {
		if !strings.Contains(strings.Join(strings.Fields(cruisefile.Documentation()), " "), x.promise) {
			t.Errorf("the help no longer says %q", x.promise)
		}
		a := build(t, plant(x.systems+"sections:\n  - {name: s, stations: R1-R4, grid: none"+x.lines+"}\n", casts...))
		var found []string
		for _, r := range rowsOf(t, a, "tables/findings.csv") {
			if r["check"] == x.check {
				found = append(found, r["message"])
				if r["file"] != "cruise.yaml" || r["severity"] != "note" {
					t.Errorf("%s: %v", x.check, r)
				}
			}
		}
		ok := len(found) == len(x.says)
		for i := range min(len(found), len(x.says)) {
			ok = ok && strings.Contains(found[i], x.says[i])
		}
		if !ok {
			t.Errorf("%s%s: %s, want %q", x.systems, x.lines, fmt.Sprintf("%q", found), x.says)
		}
	}
}
