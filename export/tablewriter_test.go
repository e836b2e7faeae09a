package export

import (
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
)

func TestTextCell(t *testing.T) {
	for cell, want := range map[string]string{
		"": "", "strait": "strait", "-1.5": "-1.5", "+3": "+3", "-1e-5": "-1e-5", "=1+1": "'=1+1",
		"+1+cmd|' /C x'!A0": "'+1+cmd|' /C x'!A0", "-2+3": "'-2+3",
		"@SUM(A1)": "'@SUM(A1)", " =1": "' =1", "\t=1": "'\t=1", "\r@x": "'\r@x", "-": "'-", "a=b": "a=b",
		"'quoted": "'quoted", "-12A": "'-12A",
	} {
		if got := TextCell(cell); got != want || CellText(got) != cell {
			t.Errorf("%q: %q, back %q", cell, got, CellText(got))
		}
	}
}

// Every table of the archive goes through the same writer: no cell of text begins with what a spreadsheet computes.
func TestTablesHoldNoFormula(t *testing.T) {
	var b strings.Builder
	evil := "=HYPERLINK(\"x\")"
	err := WriteFindings(&b, []metadata.Finding{{Position: metadata.Position{File: evil}, Cast: "@c", Variable: "+v",
		Message: "-m", Remedy: "\t=r", Check: evil}})
	if err != nil {
		t.Fatal(err)
	}
	if err := WriteStations(&b, []StationRow{{ID: evil, File: "-f", LeftOut: "@why", Remark: "=1"}}); err != nil {
		t.Fatal(err)
	}
	for _, cell := range strings.FieldsFunc(b.String(), func(r rune) bool {
		return r == ',' || r == '\n' ||
			r == '"'
	}) {
		if formula(cell) {
			t.Errorf("cell %q", cell)
		}
	}
}
