package figure

import (
	"cmp"
	"testing"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/derived"
)

// Figures take labels, signs and colours of derived variables from their registry.
func TestDerivedVariablesOnFigures(t *testing.T) {
	for _, d := range derived.Variables() {
		v := metadata.MustVariable(d.Name)
		if want := cmp.Or(d.Label, upperFirst(v.LongName)); nameText(&v) != want || signOf(d.Name) != d.Sign {
			t.Errorf("%s: label %q, sign %q, want %q, %q", d.Name, nameText(&v), signOf(d.Name), want, d.Sign)
		}
		if want := cmp.Or(d.Colours, "other1"); chart.ColourMapOf(d.Name).Name != want {
			t.Errorf("%s: colours %s, want %s", d.Name, chart.ColourMapOf(d.Name).Name, want)
		}
		if namesOf[d.Name] != "" {
			t.Errorf("%s has a second label", d.Name)
		}
	}
}
