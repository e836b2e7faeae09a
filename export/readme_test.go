package export_test

import (
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/export"
)

// Someone with only the folder reads from README.txt whose cruise it was, what every flag means, what was left out and
// the cautions, in lines that fit a screen.
func TestReadme(t *testing.T) {
	var b strings.Builder
	err := export.WriteReadme(&b, &export.Readme{Cruise: "fold-2026", Title: "CTD casts", Status: "preliminary",
		Casts: 11, Tool: "castwright 9",
		At: time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC),
		About: [][2]string{{"Ship", "RV Lavinia"}, {"Funding", strings.Repeat("a council that gives ", 12)},
			{"Sea area", ""}},
		LeftOut: []string{"ctd/5_1.csv (cast X_5_1): aborted"},
		Files:   []export.FileNote{{Path: "tables/stations.csv", What: "A line for each cast."}}})
	if err != nil {
		t.Fatal(err)
	}
	got := b.String()
	for _, want := range []string{"fold-2026: CTD casts\n====", "\nShip            RV Lavinia\n",
		"\n                a council", "not for navigation", "11 casts.",
		"Left out: ctd/5_1.csv (cast X_5_1): aborted\n", "  tables/stations.csv\n      A line for each cast.\n",
		"1 not calibrated, 2 acceptable measurement, 3 questionable measurement, 4 bad measurement", "9 not sampled"} {
		if !strings.Contains(got, want) {
			t.Errorf("README lacks %q:\n%s", want, got)
		}
	}
	if strings.Contains(got, "Sea area") {
		t.Error("a heading without text")
	}
	for _, line := range strings.Split(got, "\n") {
		if len(line) > 130 {
			t.Errorf("a line of %d characters: %s", len(line), line)
		}
	}
}
