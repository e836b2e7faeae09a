package browser

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/chromedp/cdproto/emulation"
)

// axe is the accessibility checker, fetched by make test-page.
func axe(t *testing.T) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "..", "bin", "axe.min.js"))
	if err != nil {
		t.Fatalf("%v: run make test-page, which fetches axe-core", err)
	}
	return string(b)
}

// violation is what the checker objects to.
type violation struct {
	ID, Help string
	Nodes    []struct {
		HTML           string
		FailureSummary string
	}
}

// accessible fails when the checker finds a violation of WCAG 2.2 AA in the present state of the page.
func (x *tab) accessible(state string) {
	x.t.Helper()
	found := eval[[]violation](x, `(async () => { const r = await axe.run(document, {resultTypes: ["violations"],
		runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}});
		return r.violations.map((v) => ({ID: v.id, Help: v.help,
			Nodes: v.nodes.slice(0, 3).map((n) => ({HTML: n.html.slice(0, 200), FailureSummary: n.failureSummary}))})); })()`)
	for _, v := range found {
		x.t.Errorf("%s: %s: %s", state, v.ID, v.Help)
		for _, n := range v.Nodes {
			x.t.Logf("    %s\n    %s", n.HTML, n.FailureSummary)
		}
	}
}

// Every state of the page passes the checker: as opened, every variable shown, tables sorted and filtered, proposals
// decided, dark, and as wide as a phone, where nothing but tables and figures is wider than the window.
func TestAccessible(t *testing.T) {
	checker := axe(t)
	cruise := copyDemo(t)
	dir := filepath.Dir(cruise)
	if err := os.WriteFile(filepath.Join(dir, "proposals.csv"), []byte(proposed), 0o644); err != nil {
		t.Fatal(err)
	}
	withEdits(t, cruise, "[proposals.csv]")
	b, err := os.ReadFile(cruise)
	if err == nil {
		err = os.WriteFile(cruise, append(b, "time_series: [{name: both, stations: 1-2, within: 500}]\n"...), 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(build(t, cruise, filepath.Join(dir, "out")), "index.html")
	for _, dark := range []string{"light", "dark"} {
		for _, width := range []int64{1200, 360} {
			name := dark + map[bool]string{true: ", phone", false: ", desktop"}[width < 500]
			x := open(t, file, width, 800)
			call(x, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
				Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: dark}}})
			run(x, checker)
			if dark == "dark" && width < 500 {
				x.objects()
			}
			x.accessible(name + ", as opened")
			run(x, `document.querySelectorAll('.variables input[value="all"]').forEach((e) => e.click());
				document.querySelectorAll("details").forEach((e) => { e.open = true; });
				document.querySelectorAll("#stations table input").forEach((e, i) => { if (i < 5) e.click(); });
				document.querySelectorAll("table.sortable").forEach((e) => e.querySelector("th button").click());
				document.querySelectorAll(".filter input").forEach((e) => { e.value = "1"; e.dispatchEvent(new Event("input")); });
				document.querySelectorAll('.decide input[value="change"]').forEach((e) => e.click());
				document.querySelectorAll(".reading input").forEach((e) => e.dispatchEvent(new Event("input")));
				document.querySelector("#save button").click()`)
			x.accessible(name + ", everything opened, chosen, sorted and decided")
			if wide := eval[float64](x, `document.documentElement.scrollWidth - innerWidth`); wide > 0 {
				t.Errorf("%s: the page is %v pixels wider than the window: %v", name, wide, eval[[]string](x,
					`[...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1 &&
						!e.closest(".scroll > *")).map((e) => e.outerHTML.slice(0, 100)).slice(0, 5)`))
			}
		}
	}
}

// objects fails when the checker does not see faults that are planted: a field without a label, pale words.
func (x *tab) objects() {
	x.t.Helper()
	run(x, `document.querySelector("main").insertAdjacentHTML("beforeend",
		'<p id="planted"><input> <font color="#222222">pale</font></p>')`)
	ids := eval[[]string](x, `axe.run(document.getElementById("planted")).then((r) => r.violations.map((v) => v.id))`)
	for _, want := range []string{"label", "color-contrast"} {
		if !slices.Contains(ids, want) {
			x.t.Errorf("the checker does not see %s; it sees %q", want, ids)
		}
	}
	run(x, `document.getElementById("planted").remove()`)
}
