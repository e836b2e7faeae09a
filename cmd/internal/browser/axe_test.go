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
	x.accessibleIn(`document`, state)
}

// sectionsPart is the sections without what their figures are drawn of.
const sectionsPart = `{include: [["#sections"]], exclude: [[".plot > svg"]]}`

// accessibleIn is accessible for a part of the page.
func (x *tab) accessibleIn(part, state string) {
	x.t.Helper()
	found := eval[[]violation](x, `(async () => { const r = await axe.run(`+part+`, {resultTypes: ["violations"],
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

// Every state of the page passes the checker: as opened, each section and variable, all of them, profiles read,
// tables sorted and filtered, proposals decided, dark, and as wide as a phone, where nothing but tables and figures is
// wider than the window.
func TestAccessible(t *testing.T) {
	checker := axe(t)
	file := withProposals(t)
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
			if (dark == "dark") == (width < 500) {
				x.eachChoice(name)
			}
			run(x, `document.querySelectorAll('.variables input[value="all"]').forEach((e) => e.click());
				document.querySelectorAll("details").forEach((e) => { e.open = true; });
				document.querySelectorAll("#stations table input").forEach((e, i) => { if (i < 5) e.click(); });
				document.querySelectorAll("table.sortable").forEach((e) => e.querySelector("th button").click());
				document.querySelectorAll(".filter input").forEach((e) => { e.value = "1"; e.dispatchEvent(new Event("input")); });
				document.querySelectorAll('.decide input[value="change"]').forEach((e) => e.click());
				document.querySelectorAll(".reading input, #profile-level input")
					.forEach((e) => e.dispatchEvent(new Event("input")));
				document.querySelector("#save button").click()`)
			if x.bar() == "" {
				t.Error("decisions are not saved, and the bar is not there")
			}
			x.accessible(name + ", everything opened, chosen, sorted and decided")
			run(x, `document.querySelectorAll(".filter input").forEach((e) => { e.value = "nothing has this";
				e.dispatchEvent(new Event("input")); });
				[...document.querySelectorAll("#profile-choice button")].find((b) => b.textContent === "Clear").click()`)
			x.accessible(name + ", no row and no profile left")
			if wide := eval[float64](x, `document.documentElement.scrollWidth - innerWidth`); wide > 0 {
				t.Errorf("%s: the page is %v pixels wider than the window: %v", name, wide, eval[[]string](x,
					`[...document.querySelectorAll("body *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1 &&
						!e.closest(".scroll > *")).map((e) => e.outerHTML.slice(0, 100)).slice(0, 5)`))
			}
		}
	}
}

// eachChoice checks the sections with each of them and each variable chosen.
func (x *tab) eachChoice(name string) {
	x.t.Helper()
	choices := eval[int](x, `(window.choices = [...document.querySelectorAll("#section-choice input"),
		...document.querySelectorAll(".variables input")]).length`)
	if choices < 10 {
		x.t.Errorf("%d choices of sections and variables", choices)
	}
	for i := range choices {
		run(x, `choices[%s].click()`, i)
		x.accessibleIn(sectionsPart, name+", choice "+itoa(i))
		run(x, `document.querySelector('#section-choice input[value="all"]').click()`)
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
