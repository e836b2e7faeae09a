package browser

import (
	"context"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/cmd/internal/serve"
)

// withProposals builds the demo with proposals that are open and a time series, and returns its page.
func withProposals(t *testing.T) (file string) {
	t.Helper()
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
	return filepath.Join(build(t, cruise, filepath.Join(dir, "out")), "index.html")
}

// until waits until an expression is true in the page, and fails when it is not within a minute.
func (x *tab) until(expression string) {
	x.t.Helper()
	for range 600 {
		if eval[bool](x, expression) {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
	x.t.Fatalf("within a minute it is not true that %s", expression)
}

// bar returns what the bar at the lower edge of the window says; "" when it is not there.
func (x *tab) bar() string {
	x.t.Helper()
	return eval[string](x, `(() => { const e = document.querySelector(".bar");
		return e.checkVisibility() ? e.innerText : ""; })()`)
}

// asked returns how many dialogs asked whether to leave the page.
func (x *tab) asked() int {
	x.mu.Lock()
	defer x.mu.Unlock()
	return len(x.dialogs)
}

// reload loads the page again, and waits until it is there or the person stays.
func (x *tab) reload() {
	x.t.Helper()
	before := x.asked()
	run(x, `window.old = true; setTimeout(() => location.reload())`)
	time.Sleep(500 * time.Millisecond)
	if !x.stay || x.asked() == before {
		x.until(`!window.old && document.readyState === "complete"`)
	}
}

// The page says how many decisions are not saved, asks before it is left with some, and has them again when it is
// loaded again.
func TestUnsavedDecisions(t *testing.T) {
	x := open(t, withProposals(t), 1200, 900)
	saved := x.downloads()
	x.point("h1", 0.5, 0.5, true) // a browser asks only a person who did something on the page
	if said := x.bar(); said != "" {
		t.Errorf("nothing is decided, and the bar says %q", said)
	}
	if x.reload(); x.asked() != 0 {
		t.Errorf("nothing is decided, and %v asks", x.dialogs)
	}
	x.point("h1", 0.5, 0.5, true)
	x.decide(1, "accept", "a jelly")
	x.decide(2, "change", "")
	run(x, `const s = document.querySelector("#proposal-2 select"); s.value = "4"; s.dispatchEvent(new Event("change"))`)
	const two = "2 decisions not saved yet, 1 without a reason."
	if said := x.bar(); !strings.HasPrefix(said, two) {
		t.Errorf("the bar says %q, want %q", said, two)
	}
	x.stay = true
	if x.reload(); x.asked() != 1 || x.dialogs[0] != "beforeunload" {
		t.Errorf("leaving with decisions that are not saved: %v", x.dialogs)
	}
	x.stay = false
	x.reload()
	if got := eval[[]string](x, `[1, 2].flatMap((n) => [document.querySelector("#proposal-" + n + " input:checked").value,
		document.querySelector("#proposal-" + n + " .decide > label:last-child input").value])`); strings.Join(got, "|") !=
		"accept|a jelly|change|" || eval[string](x, `document.querySelector("#proposal-2 select").value`) != "4" {
		t.Errorf("after loading again the decisions are %q", got)
	}
	if said := x.bar(); !strings.HasPrefix(said, two) {
		t.Errorf("after loading again the bar says %q", said)
	}
	x.fill("#save input", "RH")
	x.point("#save button", 0.5, 0.5, true)
	saved("flag_edits.csv")
	const one = "1 decision not saved yet, 1 without a reason."
	if said := x.bar(); !strings.HasPrefix(said, one) {
		t.Errorf("after saving the bar says %q, want %q", said, one)
	}
	x.decide(2, "", "")
	if said := x.bar(); said != "" {
		t.Errorf("everything is saved, and the bar says %q", said)
	}
	before := x.asked()
	if x.reload(); x.asked() != before {
		t.Error("everything is saved, and leaving asks")
	}
	if said := x.bar(); said != "" {
		t.Errorf("everything is saved, and after loading again the bar says %q", said)
	}
	x.decide(1, "", "") // what was saved is taken back
	if said := x.bar(); !strings.HasPrefix(said, "1 decision not saved yet.") {
		t.Errorf("a decision that was saved is taken back, and the bar says %q", said)
	}
	x.quiet()
}

// The page of a cruise whose casts arrive says when there is a newer state, and shows it with the decisions kept. It
// asks its own server and nobody else.
func TestNewerState(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	checker := axe(t)
	cruise := copyDemo(t)
	dir := filepath.Dir(cruise)
	late := filepath.Join(dir, "casts", "ZZSM20260504_00018_00001_ct1.csv")
	arrives, err := os.ReadFile(late)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(late); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "proposals.csv"), []byte(proposed), 0o644); err != nil {
		t.Fatal(err)
	}
	withEdits(t, cruise, "[proposals.csv]")
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan string, 1), make(chan error, 1)
	go func() {
		ended <- serve.Run(ctx, serve.Plan{Path: cruise, Every: 100 * time.Millisecond,
			Ready: func(u string) { ready <- u }})
	}()
	address := <-ready
	x := openAt(t, address, 1200, 900)
	x.until(`document.getElementById("decisions") !== null`) // the first page replaces the findings by itself
	x.until(`document.getElementById("present").textContent.startsWith("built with 19 casts")`)
	if said := x.bar(); said != "" {
		t.Errorf("the page is the newest, and the bar says %q", said)
	}
	x.point("h1", 0.5, 0.5, true)
	x.decide(1, "reject", "a front")
	head := eval[string](x, `document.querySelector("#proposal-1 h3").textContent`)
	if err := os.WriteFile(late, arrives, 0o644); err != nil {
		t.Fatal(err)
	}
	x.until(`document.querySelector(".bar").innerText.includes("A newer state of the cruise is there")`)
	run(x, checker)
	x.accessible("a newer state is there")
	run(x, `window.old = true; [...document.querySelectorAll(".bar button")].find((b) => b.checkVisibility()).click()`)
	x.until(`!window.old && document.readyState === "complete" && document.querySelector(".bar") !== null`)
	if x.asked() != 0 {
		t.Error("showing the newer state asks, though decisions are kept")
	}
	if !eval[bool](x, `document.querySelector("#summary").textContent.includes("Casts20")`) {
		t.Error("the newer state does not have the new cast")
	}
	if got := eval[string](x, `(() => { const e = [...document.querySelectorAll(".proposals > li")].find((e) =>
		e.querySelector("h3").textContent === %s);
		return e.querySelector("input:checked").value + "|" + e.querySelector(".decide > label:last-child input").value; })()`,
		head); got != "reject|a front" {
		t.Errorf("the decision is %q in the newer state", got)
	}
	if said := x.bar(); !strings.HasPrefix(said, "1 decision not saved yet.") {
		t.Errorf("the bar says %q", said)
	}
	own, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	x.mu.Lock()
	for _, r := range x.requests {
		if u, err := url.Parse(r); err != nil || u.Host != own.Host && u.Scheme != "data" {
			t.Errorf("the page asked for %s", r)
		}
	}
	for _, m := range x.messages {
		t.Errorf("the page says on the console: %s", m)
	}
	x.mu.Unlock()
	y := openAt(t, address+"findings.html", 360, 800)
	run(y, checker)
	y.accessible("findings while casts arrive")
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	x.until(`document.getElementById("present").textContent.includes("does not answer")`)
}
