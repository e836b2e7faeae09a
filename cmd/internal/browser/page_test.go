package browser

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
)

// A click on the map chooses the station that is nearest, and its profile is drawn.
func TestStationsClick(t *testing.T) {
	x := open(t, filepath.Join(demo(t), "index.html"), 1200, 900)
	type place struct {
		Name         string
		Across, Down float64
	}
	places := eval[[]place](x, `(() => { const d = JSON.parse(document.getElementById("data").textContent);
		return d.map.casts.map((n, i) => ({Name: d.casts[n].name, Across: d.map.places[i][0] / d.map.size[0],
			Down: d.map.places[i][1] / d.map.size[1]})); })()`)
	if len(places) < 18 {
		t.Fatalf("%d casts on the map", len(places))
	}
	for _, i := range []int{3, 7, 15} {
		p := places[i]
		x.point("#map > svg", p.Across, p.Down, true)
		if said := eval[string](x, `document.getElementById("map-readout").textContent`); !strings.HasPrefix(said,
			"Cast "+p.Name+" (") || !strings.HasSuffix(said, "its profile is drawn below.") {
			t.Errorf("a click on station %s: %q", p.Name, said)
		}
		if drawn := eval[string](x, `document.getElementById("profile-chart").textContent`); !strings.Contains(drawn,
			p.Name) {
			t.Errorf("the profile of %s is not drawn: %q", p.Name, drawn)
		}
		if !eval[bool](x, `document.querySelector('input[aria-label="Profile of cast ' + %s + '"]').checked`, p.Name) {
			t.Errorf("cast %s is not marked in the list", p.Name)
		}
	}
	x.quiet()
}

// column returns what a column of a table shows, row by row.
func column(x *tab, table string, n int) []string {
	return eval[[]string](x, `[...document.querySelectorAll(%s)].filter((r) => !r.hidden).map((r) =>
		r.cells[%s].textContent)`, table+" tbody tr", n)
}

// Tables sort by number or word, empty cells last, and filter by words.
func TestTablesSortAndFilter(t *testing.T) {
	x := open(t, filepath.Join(demo(t), "index.html"), 1200, 900)
	const table = "#table-tables-transports-csv"
	n := eval[int](x, `[...document.querySelectorAll(%s)].findIndex((h) => h.textContent === "Transport")`,
		table+" thead th")
	sort := func() {
		run(x, `document.querySelectorAll(%s)[%s].click()`, table+" thead th button", n)
	}
	for _, up := range []bool{true, false} {
		sort()
		var got []float64
		empty := false
		for _, c := range column(x, table, n) {
			if c == "" {
				empty = true
				continue
			}
			v, err := strconv.ParseFloat(c, 64)
			if err != nil || empty {
				t.Fatalf("%q after an empty cell, or no number: %v", c, err)
			}
			got = append(got, v)
		}
		sorted := slices.Clone(got)
		slices.Sort(sorted)
		if !up {
			slices.Reverse(sorted)
		}
		if len(got) < 10 || !slices.Equal(got, sorted) {
			t.Errorf("upward %v: %v", up, got)
		}
	}
	run(x, `const i = document.querySelector(%s); i.value = "slope pair"; i.dispatchEvent(new Event("input"))`,
		table+" .filter input")
	rows := column(x, table, 0)
	if len(rows) != 8 { // the remark of its total names pairs too
		t.Errorf("%d rows for the words slope and pair; the section has 7 pairs and a total", len(rows))
	}
	for _, r := range rows {
		if r != "slope" {
			t.Errorf("a row of section %s after filtering", r)
		}
	}
	if said := eval[string](x, `document.querySelector(%s).textContent`, table+" .filter span"); !strings.HasPrefix(
		said,
		"8 of ") {
		t.Errorf("the number of rows reads %q", said)
	}
	x.quiet()
}

// The policy of the page refuses every request, whatever asks for it.
func TestPolicyForbidsRequests(t *testing.T) {
	x := open(t, filepath.Join(demo(t), "index.html"), 1200, 900)
	x.quiet()
	refused := eval[[]string](x, `(async () => {
		const refused = [];
		document.addEventListener("securitypolicyviolation", (e) => refused.push(e.effectiveDirective));
		const place = "http://127.0.0.1:9/x";
		try { await fetch(place); } catch (e) {}
		const add = (name, attribute) => { const e = document.createElement(name); e[attribute] = place; document.body.append(e); };
		add("img", "src"); add("script", "src"); add("iframe", "src");
		const link = document.createElement("link"); link.rel = "stylesheet"; link.href = place; document.head.append(link);
		const inline = document.createElement("script"); inline.textContent = "window.ran = true"; document.body.append(inline);
		await new Promise((r) => setTimeout(r, 500));
		return window.ran ? ["ran"] : refused;
	})()`)
	for _, want := range []string{"connect-src", "img-src", "script-src-elem", "style-src-elem", "frame-src"} {
		if !slices.Contains(refused, want) {
			t.Errorf("the policy did not refuse %s; it refused %q", want, refused)
		}
	}
}

// Every control is reached with the Tab key, in the order of the page, and is seen while it has the focus: the bar at
// the lower edge, which is there while decisions are not saved, hides none.
func TestKeyboardReach(t *testing.T) {
	x := open(t, filepath.Join(demo(t), "index.html"), 1200, 900)
	x.decide(1, "accept", "")
	run(x, `document.activeElement.blur(); scrollTo(0, 0)`)
	total := eval[int](x, `(() => {
		const all = [...document.querySelectorAll("a[href], button, input, select, summary, [tabindex]")]
			.filter((e) => e.tabIndex >= 0 && e.checkVisibility());
		const groups = new Set();
		window.order = all.filter((e) => {
			if (e.type !== "radio") return true;
			if (groups.has(e.name)) return false;
			groups.add(e.name);
			return true;
		}).map((e) => e.type === "radio" ? document.querySelector('input[name="' + e.name + '"]:checked') : e);
		window.bad = [];
		return window.order.length; })()`)
	if total < 50 {
		t.Fatalf("%d controls", total)
	}
	for i := range total {
		x.key("Tab")
		for eval[bool](x, `document.activeElement.type === "date" && window.order[%s].type !== "date"`, i) {
			x.key("Tab") // day, month and year of a date are fields of the browser
		}
		said := eval[string](x, `(() => { const e = document.activeElement, want = window.order[%s];
			if (e !== want) return "focus is on " + e.outerHTML.slice(0, 120) + ", want " + want.outerHTML.slice(0, 120);
			const r = e.getBoundingClientRect();
			const bar = document.querySelector(".bar");
			if (r.bottom < 0 || r.top > innerHeight || !bar.checkVisibility() ||
				!bar.contains(e) && r.top > bar.getBoundingClientRect().top - 10) return "out of sight: " + e.outerHTML.slice(0, 120);
			const style = getComputedStyle(e);
			if (style.outlineStyle === "none" && e.matches(":focus-visible")) return "no outline: " + e.outerHTML.slice(0, 120);
			return ""; })()`, i)
		if said != "" {
			t.Fatalf("after %d times Tab: %s", i+1, said)
		}
	}
	x.quiet()
}

// The page prints with every variable of every section, and nothing is asked for.
func TestPrint(t *testing.T) {
	x := open(t, filepath.Join(demo(t), "index.html"), 1200, 900)
	pdf, err := chromedp.Run(x, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4)))
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "page.pdf")
	if err := os.WriteFile(file, pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", file, "-").Output()
	if err != nil {
		t.Fatalf("pdftotext: %v (Debian package poppler-utils)", err)
	}
	text := strings.Join(strings.Fields(string(out)), " ")
	for _, want := range []string{"Summary", "Stations", "shelf: Conservative Temperature (°C), station 1 to",
		"shelf: geostrophic velocity",
		"Settings: stations 1-10", "Transports", "Findings", "Origin of each product", "not for navigation"} {
		if !strings.Contains(text, want) {
			t.Errorf("the printed page does not have %q", want)
		}
	}
	for _, not := range []string{"Filter", "Point at", "proposals decided"} {
		if strings.Contains(text, not) {
			t.Errorf("the printed page has %q, which is of no use on paper", not)
		}
	}
	x.quiet()
}

// Figures that are not of a section are under headings of their own or with their table, each with its files.
func TestOtherFigures(t *testing.T) {
	yoyo := build(t, filepath.Join("..", "..", "..", "testdata", "cruises", "yoyo", "cruise.yaml"), t.TempDir())
	const repeats = "Time series and repeated casts"
	cruise := copyDemo(t)
	text, err := os.ReadFile(cruise)
	if err != nil {
		t.Fatal(err)
	}
	earlier, err := os.ReadFile(filepath.Join(demo(t), "sections", "strait_grid.nc"))
	if err != nil {
		t.Fatal(err)
	}
	text = bytes.Replace(text, []byte("\n  - {name: strait,"), []byte("\n  - {name: strait, anomaly: earlier.nc,"), 1)
	for name, b := range map[string][]byte{"earlier.nc": earlier, "cruise.yaml": text} {
		if err := os.WriteFile(filepath.Join(filepath.Dir(cruise), name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	compared := build(t, cruise, t.TempDir())
	for data, want := range map[string][]string{yoyo: {repeats}, demo(t): {repeats, "Sensor pairs"},
		compared: {"Anomalies", repeats, "Sensor pairs"}} {
		x := open(t, filepath.Join(data, "index.html"), 1200, 900)
		for _, heading := range want {
			links := eval[[]string](x, `[...document.querySelectorAll("main > section")]
				.filter((s) => s.querySelector("h2").textContent === %s)
				.flatMap((s) => [...s.querySelectorAll("figure")].filter((f) => f.querySelector(".plot svg")))
				.flatMap((f) => [...f.querySelectorAll("figcaption a")].map((a) => a.getAttribute("href")))`, heading)
			if len(links) < 3 {
				t.Errorf("%s: %d links to files of figures", heading, len(links))
			}
			for _, l := range links {
				if _, err := os.Stat(filepath.Join(data, filepath.FromSlash(l))); err != nil {
					t.Errorf("%s: %v", heading, err)
				}
			}
		}
		x.quiet()
	}
}

// Without a script the page has every figure, table and proposal to read, and says what is not there.
func TestWithoutScript(t *testing.T) {
	x := openAt(t, "about:blank", 1200, 900)
	call(x, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	x.do(chromedp.Navigate("file://" + filepath.ToSlash(filepath.Join(demo(t), "index.html"))))
	if eval[bool](x, `document.documentElement.classList.contains("scripted")`) {
		t.Fatal("a script ran")
	}
	for selector, least := range map[string]int{".field .plot > svg": 10, "#map > svg": 1, "#stations tbody tr": 20,
		".table tbody tr": 50, ".proposals > li": 2, "details": 10, "dl.files dt": 20, ".without": 1} {
		if n := eval[int](x, `[...document.querySelectorAll(%s)].filter((e) => e.checkVisibility()).length`,
			selector); n < least {
			t.Errorf("%d of %s are seen; want %d", n, selector, least)
		}
	}
	if n := eval[int](x, `[...document.querySelectorAll("button, input, select")].length`); n > 0 {
		t.Errorf("%d controls that do nothing", n)
	}
}
