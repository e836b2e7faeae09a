package browser

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/export/report"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// hostile are texts that would do something if they were not text.
var hostile = []string{`<script>window.ran = 1</script>`, `"><img src=x onerror="window.ran=2">`,
	`</script><script>window.ran=3</script>`, `<!--<script>`, `' onmouseover='window.ran=4`,
	`]]></style><style>*{display:none}`,
	`javascript:window.ran=5`, `{{.Program}}`, "\u2028\u2029\x00`${window.ran=6}"}

// Whatever the inputs say of stations, files and findings stays text: nothing of it runs and nothing changes the page.
func TestHostileNamesStayText(t *testing.T) {
	file := filepath.Join(t.TempDir(), "hostile #1 %41.html")
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := report.Write(f, hostileMaterial()); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	x := open(t, file, 1200, 900)
	if eval[bool](x, `"ran" in window`) {
		t.Errorf("a text of the inputs ran: %v", eval[int](x, `window.ran`))
	}
	counts := eval[[]int](x, `["script", "img", "style", "iframe", "[onmouseover], [onerror]"]
		.map((s) => document.querySelectorAll(s).length)`)
	if want := []int{2, 0, 1, 0, 0}; counts[0] != want[0] || counts[1] != 0 || counts[2] != 1 || counts[3] != 0 ||
		counts[4] != 0 {
		t.Errorf("scripts, images, styles, frames, handlers: %v; want %v", counts, want)
	}
	for _, a := range eval[[]string](x, `[...document.querySelectorAll("a")].map((a) => a.getAttribute("href"))`) {
		if !strings.HasPrefix(a, "#") && !strings.HasPrefix(a, "./") {
			t.Errorf("a link leads to %q", a)
		}
	}
	run(x, `document.querySelectorAll("#stations table input").forEach((i) => i.click());
		document.querySelectorAll("th button").forEach((b) => b.click());
		document.querySelectorAll(".proposals input[type=radio]").forEach((b) => b.click())`)
	text := eval[string](x, `document.body.innerText.replaceAll(/\s+/g, " ")`)
	for _, h := range hostile[:7] {
		if !strings.Contains(text, h) {
			t.Errorf("%q is not on the page as text", h)
		}
	}
	if eval[bool](x, `"ran" in window`) {
		t.Errorf("a text of the inputs ran after clicks")
	}
	x.quiet()
}

// hostileMaterial is a small cruise, every text of which is hostile.
func hostileMaterial() *report.Material {
	c := &metadata.Cruise{ID: hostile[0], Title: hostile[1], Release: metadata.Release{Status: metadata.Preliminary,
		Licence: hostile[2], Contact: hostile[4], Citation: hostile[3]}}
	m := &report.Material{Cruise: c, Program: hostile[5], Stamp: time.Unix(0, 0), Signed: hostile[6],
		About: [][2]string{{hostile[0], hostile[2]}}, Notes: hostile}
	s := &section.Section{Name: "a"}
	for i, h := range hostile {
		temp := section.Column{Variable: metadata.MustVariable("ctemp"), Values: []float64{9, 8.5, 8},
			Flags: []metadata.Flag{2, 2, 3}}
		k := &section.Cast{Expocode: h, Station: h, Number: h, Role: section.Primary, At: orb.Point{float64(i), 50},
			BottomM: math.NaN(), PressureDbar: []float64{1, 2, 3}, Columns: []section.Column{
				{Variable: metadata.MustVariable("pres"), Values: []float64{1, 2, 3}}, temp}}
		m.Stations = append(m.Stations, export.StationRow{ID: h, Cast: k, File: h, Remark: h, Sections: []string{h}})
		m.Proposals = append(m.Proposals, report.Proposal{Cast: k, Variable: "ctemp", FromDbar: 2, ToDbar: 3, Flag: 4,
			Check: h, Message: h})
		m.Files = append(m.Files, export.FileNote{Path: h, What: h})
		m.Records = append(m.Records, metadata.Record{Step: h, Text: h, Outputs: []string{h},
			Inputs: []metadata.Digest{{Name: h}}, Params: []metadata.Param{{Name: h, Value: h}}})
		s.Casts, s.DistanceKm = append(s.Casts, k), append(s.DistanceKm, float64(i)*70)
	}
	m.Map = &figure.StationMap{Name: "map", Title: hostile[1], Sections: []*section.Section{s}, Casts: s.Casts}
	m.Sections = []report.Section{{Name: hostile[0], Title: hostile[1], Summary: hostile[2], Section: s}}
	m.Tables = []report.Table{{Name: hostile[0], What: hostile[1], Path: hostile[4],
		CSV: []byte("a,b\n<script>window.ran=7</script>,\"<img src=x onerror=window.ran=8>\"\n")}}
	return m
}
