package report_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/export/report"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// aSize says how large an invented cruise is.
type aSize struct{ sections, stations, levels, tableRows, proposals int }

// cruise invents a cruise of lines 100 km between stations with 10 dbar between levels, with a linear map of each.
func cruise(t *testing.T, n aSize) *report.Material {
	t.Helper()
	m := &report.Material{Cruise: &metadata.Cruise{ID: "invented", Title: "title"}, Program: "program",
		Stamp: time.Unix(0, 0), Signed: "signed", About: [][2]string{{"Ship", "none"}}, Notes: []string{"note"},
		Files: []export.FileNote{{Path: "a.csv", What: "what"}}, Written: map[string][]string{},
		Records: []metadata.Record{{Step: "step", Text: "text", Outputs: []string{"out"},
			Inputs: []metadata.Digest{{Name: "in"}}, Params: []metadata.Param{{Name: "p", Value: "v"}}}}}
	var all []*section.Section
	for i := range n.sections {
		s := &section.Section{Name: fmt.Sprintf("line%d", i+1)}
		for k := range n.stations {
			at := orb.Point{-30 + float64(k), 40 - 2*float64(i)}
			c := cast(fmt.Sprint(i*n.stations+k+1), at, n.levels, float64(k))
			s.Casts, s.DistanceKm = append(s.Casts, c), append(s.DistanceKm, 100*float64(k))
			m.Stations = append(m.Stations, export.StationRow{ID: c.Station, Cast: c, File: "file", Remark: "remark",
				Sections: []string{"in"}})
		}
		g, _, err := gridding.Map(s, gridding.Options{Variables: []string{"ctemp"}, Method: gridding.Linear, StepKm: 4,
			StepDbar: 10})
		if err != nil {
			t.Fatal(err)
		}
		m.Sections = append(m.Sections, report.Section{Name: s.Name, Title: "title", Summary: "summary", Section: s,
			Grid: g, Figures: []figure.Figure{&figure.Section{Name: s.Name + "_ctemp", Title: "title", Section: s,
				Grid: g, Field: "ctemp"}}})
		m.Written[s.Name+"_ctemp"] = []string{"svg"}
		all = append(all, s)
	}
	if len(all) > 0 {
		m.Map = &figure.StationMap{Name: "map", Title: "title", Sections: all, Casts: all[0].Casts}
	}
	for i := range n.proposals {
		k := m.Stations[i%len(m.Stations)].Cast
		p := k.PressureDbar[i%k.Levels()]
		m.Proposals = append(m.Proposals, report.Proposal{Cast: k, Variable: "ctemp", FromDbar: p, ToDbar: p + 20,
			Flag: 4, Check: "check", Message: "message"})
	}
	if n.tableRows > 0 {
		m.Tables = []report.Table{{Name: "name", What: "what", Path: "tables/t.csv", CSV: table("cell", n.tableRows)}}
	}
	return m
}

func cast(station string, at orb.Point, levels int, along float64) *section.Cast {
	c := &section.Cast{Expocode: "ZZXX20260101", Station: station, Number: "1", Role: section.Primary, At: at,
		BottomM: 10*float64(levels) + 20}
	temp := section.Column{Variable: metadata.MustVariable("ctemp")}
	for i := range levels {
		p := 10 * float64(i+1)
		c.PressureDbar = append(c.PressureDbar, p)
		temp.Values = append(temp.Values, 2+15*math.Exp(-p/700)+math.Sin(p/300+along/3))
		temp.Flags = append(temp.Flags, metadata.Acceptable)
	}
	c.Columns = []section.Column{{Variable: metadata.MustVariable("pres"), Values: c.PressureDbar}, temp}
	return c
}

func table(cell string, rows int) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.Write([]string{"a_m", "b"}) //nolint:errcheck // a bytes.Buffer does not fail
	for i := range rows {
		w.Write([]string{strconv.Itoa(i), cell}) //nolint:errcheck // as above
	}
	w.Flush()
	return b.Bytes()
}

func write(t *testing.T, m *report.Material) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := report.Write(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// pageData is what the tests read of the data of a page.
type pageData struct {
	Variables []struct {
		Name     string
		Decimals int
	}
	Casts []struct {
		Station, Expocode, Cast string
		P, Depth                []float64
	}
	Grids []struct {
		Every    [2]int
		Y, X     []float64
		Depth    []float64
		File     string
		Down     string
		AwayKm   []float64 `json:"away"`
		NearCast []int     `json:"near"`
	}
	Fields []struct {
		Grid, Variable int
		Values, Errors []any
	}
	Proposals []struct {
		Station, Check string
		Profiles       []any
	}
}

func dataOf(t *testing.T, page []byte) (d pageData) {
	t.Helper()
	_, rest, found := bytes.Cut(page, []byte(`<script type="application/json" id="data">`))
	text, _, found2 := bytes.Cut(rest, []byte("</script>"))
	if err := json.Unmarshal(text, &d); err != nil || !found || !found2 {
		t.Fatalf("the data of the page: %v", err)
	}
	return d
}

// fill sets every text of a value to one that text returns. Names of variables and of fields mean something to the
// page; what lies in an interface, such as a figure, is not changed.
func fill(v reflect.Value, seen map[any]bool, text func() string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() && !seen[v.Interface()] {
			seen[v.Interface()] = true
			fill(v.Elem(), seen, text)
		}
	case reflect.Struct:
		switch v.Interface().(type) {
		case metadata.Variable, gridding.Grid:
			return
		}
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() && (f.Name != "Variable" || f.Type.Kind() != reflect.String) {
				fill(v.Field(i), seen, text)
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i), seen, text)
		}
	case reflect.String:
		v.SetString(text())
	}
}

// hostile are texts that would do something if they were not text.
var hostile = []string{`<script>alert(1)</script>`, `</script><script>alert(2)</script>`,
	`"><img src=x onerror=alert(3)>`, `<!--<script>`, `' onmouseover='alert(4)`, `</svg></style><b>`,
	`]]></style><style>*{display:none}`, `javascript:alert(5)`, `&lt;b&gt;`, `{{.Program}}`, "\u2028\u2029"}

var (
	scripts = regexp.MustCompile(`(?s)<(script|style)([^>]*)>.*?</(script|style)>`)
	svgs    = regexp.MustCompile(`(?s)<svg.*?</svg>`)
)

// elements lists the elements of a page with the names of their attributes, but for what figures are drawn of.
func elements(t *testing.T, page []byte) (out []string) {
	t.Helper()
	page = svgs.ReplaceAll(scripts.ReplaceAll(page, []byte("<$1$2></$3>")), []byte("<svg></svg>"))
	d := xml.NewDecoder(bytes.NewReader(page))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for {
		token, err := d.RawToken()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatalf("the page after %d elements: %v", len(out), err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			text := e.Name.Local
			for _, a := range e.Attr {
				text += " " + a.Name.Local
				if a.Name.Local == "href" && !strings.HasPrefix(a.Value, "#") && !strings.HasPrefix(a.Value, "./") {
					t.Errorf("a link leads to %q", a.Value)
				}
			}
			out = append(out, text)
		case xml.Comment, xml.ProcInst:
			t.Errorf("the page has %v", e)
		}
	}
}

// Whatever text a page is given, wherever, it has the elements and attributes that it has with harmless text, and its
// data hold the text as it is.
func TestEveryTextStaysText(t *testing.T) {
	make := func(text func() string) (*report.Material, []byte) {
		m := cruise(t, aSize{sections: 2, stations: 4, levels: 30, tableRows: 3, proposals: 5})
		fill(reflect.ValueOf(m), map[any]bool{}, text)
		m.Map.Title = text()
		for i := range m.Sections {
			f := m.Sections[i].Figures[0].(*figure.Section)
			f.Name, f.Title = text(), text()
			m.Written[f.Name] = []string{text()}
		}
		m.Tables[0].CSV = table(text(), 3)
		return m, write(t, m)
	}
	_, page := make(func() string { return "harmless" })
	want := elements(t, page)
	if len(want) < 200 {
		t.Fatalf("%d elements", len(want))
	}
	n := 0
	for first := range hostile { // each text in each place
		n = first
		m, page := make(func() string { n++; return hostile[n%len(hostile)] })
		if got := elements(t, page); !slices.Equal(got, want) {
			for i := range min(len(got), len(want)) {
				if got[i] != want[i] {
					t.Fatalf("element %d is %s with hostile texts, %s with harmless ones", i, got[i], want[i])
				}
			}
			t.Fatalf("%d elements with hostile texts, %d with harmless ones", len(got), len(want))
		}
		for _, h := range hostile {
			if strings.Contains(h, "<") && bytes.Contains(page, []byte(h)) {
				t.Errorf("the page has %s as it is", h)
			}
		}
		for i, c := range dataOf(t, page).Casts {
			if k := m.Stations[i].Cast; c.Station != k.Station || c.Expocode != k.Expocode || c.Cast != k.Number {
				t.Errorf("cast %d of the data is %q; want %q", i, c.Station, k.Station)
			}
		}
	}
}

// The page of a large cruise is below 5 MB: grids, casts, tables and pictures of proposals are thinned, which it says,
// and the nodes that it carries have the values of the grid to the digits shown.
func TestLargeCruiseIsThinned(t *testing.T) {
	m := cruise(t, aSize{sections: 4, stations: 40, levels: 550, tableRows: 5000, proposals: 600})
	m.Workers = 2
	page := write(t, m)
	t.Logf("%d bytes", len(page))
	if len(page) > 5_000_000 {
		t.Errorf("%d bytes; the limit is 5000000", len(page))
	}
	d := dataOf(t, page)
	nodes, pictured := 0, 0
	for i, f := range d.Fields {
		g, grid := d.Grids[f.Grid], m.Sections[i].Grid
		nodes += len(f.Values)
		rows, columns := len(grid.Axes[0].Values), len(grid.Axes[1].Values)
		if rows*columns < 100_000 || g.Every[0] < 2 || g.Every[1] < 2 || len(f.Values) != len(g.Y)*len(g.X) {
			t.Fatalf("%d values of %d x %d nodes, every %v", len(f.Values), rows, columns, g.Every)
		}
		at := slices.IndexFunc(grid.Fields, func(f gridding.Field) bool { return f.Name == "ctemp" })
		decimals := d.Variables[f.Variable].Decimals
		for n, v := range f.Values {
			row, column := n/len(g.X)*g.Every[0], n%len(g.X)*g.Every[1]
			x, isNumber := v.(float64)
			truth := grid.Fields[at].Data[row*columns+column]
			if isNumber == math.IsNaN(truth) || isNumber && math.Abs(x/math.Pow(10, float64(decimals))-truth) >
				0.5001*math.Pow(10, float64(-decimals)) {
				t.Fatalf("node %d, %d of %s is %v; the grid has %v", row, column, g.File, v, truth)
			}
		}
	}
	for _, p := range d.Proposals {
		if p.Profiles != nil {
			pictured++
		}
	}
	if len(d.Fields) != 4 || nodes > 30_000 || len(d.Casts[0].P) > 150 || len(d.Proposals) != 600 || pictured > 450 {
		t.Errorf("%d fields, %d nodes, %d levels of a cast, %d proposals, %d with a picture", len(d.Fields), nodes,
			len(d.Casts[0].P), len(d.Proposals), pictured)
	}
	for _, said := range []string{"every 7th level", "The figures are drawn from all nodes.", "1000 of its 5000 rows"} {
		if !bytes.Contains(page, []byte(said)) {
			t.Errorf("the page does not say %q", said)
		}
	}
	m.MostFigureBytes = 1
	small := write(t, m)
	if !bytes.Contains(small, []byte(`Not on the page, so that it stays small: <a href="./figures/line1_ctemp.svg"`)) ||
		len(dataOf(t, small).Fields) != 0 {
		t.Error("figures beyond the limit are not named with links, or their values are on the page")
	}
}

// With depth on vertical axes casts and nodes have depths at their latitudes (that of the casts of a section on the
// mean), beside the pressures that name a node of a file.
func TestDepth(t *testing.T) {
	m := cruise(t, aSize{sections: 1, stations: 3, levels: 100})
	if d := dataOf(t, write(t, m)); d.Grids[0].Depth != nil || d.Casts[0].Depth != nil {
		t.Error("there are depths beside pressures that nobody asked for")
	}
	m.Depth = true
	m.Sections[0].Figures[0].(*figure.Section).Depth = true
	page := write(t, m)
	d := dataOf(t, page)
	for _, of := range []struct{ p, depth []float64 }{{d.Grids[0].Y, d.Grids[0].Depth},
		{d.Casts[1].P, d.Casts[1].Depth}} {
		if len(of.depth) != len(of.p) || len(of.p) == 0 {
			t.Fatalf("%d depths of %d levels", len(of.depth), len(of.p))
		}
		for i, p := range of.p {
			if want := -seawater.Height(p, 40); math.Abs(of.depth[i]-want) > 0.051 {
				t.Errorf("%v dbar is %v m; want %v", p, of.depth[i], want)
			}
		}
	}
	if !bytes.Contains(page, []byte("Depth 0 to")) {
		t.Error("the caption of the figure does not have its depths")
	}
}

// The bytes of a page depend on its material alone, and a cruise without casts has a page.
func TestSameBytes(t *testing.T) {
	m := cruise(t, aSize{sections: 2, stations: 3, levels: 40, tableRows: 2, proposals: 2})
	first := write(t, m)
	m.Workers = 8
	if !bytes.Equal(first, write(t, m)) {
		t.Error("the bytes differ for 8 workers")
	}
	if page := write(t, cruise(t, aSize{})); !bytes.Contains(page, []byte("No proposal is open.")) {
		t.Error("a cruise without casts has no page")
	}
}

// The page of an archive may ask for nothing; that of a cruise whose casts arrive may ask its own server only.
func TestPolicy(t *testing.T) {
	m := cruise(t, aSize{sections: 1, stations: 2, levels: 20})
	for live, want := range map[string]bool{"": false, "state": true} {
		m.Live = live
		page := string(write(t, m))
		_, rest, _ := strings.Cut(page, `http-equiv="Content-Security-Policy" content="`)
		policy, _, _ := strings.Cut(rest, `"`)
		asks := strings.Contains(policy, "connect-src &#39;self&#39;")
		if !strings.HasPrefix(policy, "default-src &#39;none&#39;; script-src &#39;sha256-") ||
			asks != want || strings.Contains(page, "fetch(") != want ||
			strings.Contains(policy, "unsafe") || strings.Contains(policy, "http") {
			t.Errorf("live %q: the policy is %s", live, policy)
		}
	}
}
