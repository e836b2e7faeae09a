//go:build cgo

package pipeline_test

import (
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest/qc"
)

// The error of salinity that is left beside bottles enters the errors of transports, divided into a part of each cast
// and a common one; the residual of the cruise file enters where there are no bottles; a stated accuracy replaces both.
func TestErrorsOfSalinityFollowFromBottles(t *testing.T) {
	type result struct{ common, stated float64 }
	of := func(replace ...string) (result, string, string) {
		t.Helper()
		files := committed(t, "two-legs", "figures: none\n")
		r := strings.NewReplacer(append(replace, "positive: north", "positive: north, grid: none")...)
		files["cruise.yaml"] = r.Replace(files["cruise.yaml"])
		a := build(t, files)
		var out result
		for _, row := range rowsOf(t, a, "tables/transports.csv") {
			if row["what"] == "pair" && row["kind"] == "salt" { // of volume it cancels along a parallel
				out.common = math.Hypot(out.common, number(t, row["part_common"]))
				out.stated = math.Hypot(out.stated, number(t, row["stated_error"]))
			}
		}
		words := documentOf(t, a, "provenance/history.txt") + documentOf(t, a, "README.txt")
		return out, strings.Join(strings.Fields(words), " "), a
	}
	bottles, said, archive := of()
	fit := ""
	for _, row := range rowsOf(t, archive, "tables/sensor_fits.csv") {
		if row["of"] == "bottle minus downcast" && row["variable"] == "psal" && row["term"] == "offset" {
			fit = row["common"]
		}
	}
	if c := number(t, fit); !(c >= qc.ReferenceSalinity) { // the error of standard seawater is in it
		t.Errorf("common part of the fit: %g", c)
	}
	if want := "differences of bottle minus downcast in 6 casts"; !strings.Contains(said, want) {
		t.Errorf("nothing says %q", want)
	}
	typed, said, _ := of("bottles: [bottles_hy1.csv], ", "")
	if want := "the stated residual 0.001 beside bottles"; !strings.Contains(said, want) {
		t.Errorf("nothing says %q", want)
	}
	const stage = "    salinity: {stage: adjusted"
	stated, _, _ := of(stage, "    accuracy: {salinity: 0.02}\n"+stage)
	if bottles.common == 0 || typed.common == 0 || stated.common != 0 {
		t.Errorf("common parts: %g with bottles, %g with a residual, %g with a stated accuracy", bottles.common,
			typed.common, stated.common)
	}
	if !(bottles.stated < typed.stated && typed.stated < stated.stated) {
		t.Errorf("stated errors: %g with bottles, %g with a residual, %g with a stated accuracy", bottles.stated,
			typed.stated, stated.stated)
	}
}
