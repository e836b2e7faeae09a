package figure

import (
	"cmp"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/derived"
)

// The text for the page has 40 to 60 words; settings and methods follow it as a second text. A title begins
// the text and is no part of a sentence.
func TestCaptionsFitThePage(t *testing.T) {
	about := aboutTrial
	for _, f := range gallery() {
		text, err := captionOf(f, about)
		if err != nil {
			t.Fatal(err)
		}
		short, rest, ok := strings.Cut(text, "\n\nMethods and data\n")
		if n := len(strings.Fields(short)); n < 40 || n > 60 {
			t.Errorf("%s has %d words: %s", f.Stem(), n, short)
		}
		if !ok || strings.Contains(short, "method ") || strings.Contains(short, "interval") ||
			!strings.Contains(rest, "Casts: ") {
			t.Errorf("%s: methods are not apart:\n%s", f.Stem(), text)
		}
		places := []string{"Section A: ", "INVENTED-2026: ", "Tide at the sill: ", "Time series tide: "}
		if !slices.ContainsFunc(places, func(s string) bool { return strings.HasPrefix(short, s) }) {
			t.Errorf("%s does not begin with its place: %s", f.Stem(), short)
		}
	}
	s, g := invent(wideLayout)
	const title = "Slope south of the strait, to the deep sea"
	for _, f := range []Figure{&Section{Name: "a", Title: title, Section: s, Grid: g, Field: "ctemp"},
		&Velocity{Name: "v", Title: title, Result: currents(s)},
		&PropertyPlot{Name: "ts", Title: title, Kind: KindTemperatureSalinity, Casts: s.Casts}} {
		text, err := captionOf(f, about)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(text, title+": ") || strings.Count(text, title) != 1 {
			t.Errorf("%s: the title is in a sentence: %s", f.Stem(), text)
		}
	}
}

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
