package browser

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/ingest"
	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/chromedp"
)

// proposed are flag edits without initials: proposals.
const proposed = `expocode,station,cast,variable,from_dbar,to_dbar,flag,initials,reason,date,check
ZZSM20260504,2,1,psal,20,24,4,,,,spike.bin
ZZSM20260504,4,1,temp,40,40,3,,,,spike.bin
,5,1,psal,60,66,4,,,,
ZZSM20260504,6,1,temp,10,12,3,,,,spike.bin
`

// copyDemo copies the demo cruise into a folder of the test and adds tables of flag edits to it.
func copyDemo(t *testing.T) (cruiseFile string) {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(filepath.Join("..", "..", "..", "testdata", "cruise"))); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(dir, "cruise.yaml")
}

// withEdits names tables of flag edits in a cruise file.
func withEdits(t *testing.T, cruiseFile, names string) {
	t.Helper()
	b, err := os.ReadFile(cruiseFile)
	if err != nil {
		t.Fatal(err)
	}
	head, tail, ok := bytes.Cut(b, []byte("\n  sources: [casts]"))
	if !ok {
		t.Fatal("the demo cruise file names its sources otherwise")
	}
	if rest, more, found := bytes.Cut(tail, []byte("\n  edits: ")); found && len(rest) == 0 {
		_, tail, _ = bytes.Cut(more, []byte("\n"))
		tail = append([]byte("\n"), tail...)
	}
	out := string(head) + "\n  sources: [casts]\n  edits: " + names + string(tail)
	if err := os.WriteFile(cruiseFile, []byte(out), 0o644); err != nil {
		t.Fatal(err)
	}
}

// A person accepts, rejects and changes proposals on the page, and the next build takes the table that it saves.
func TestDecisionsEnterTheNextBuild(t *testing.T) {
	cruise := copyDemo(t)
	dir := filepath.Dir(cruise)
	if err := os.WriteFile(filepath.Join(dir, "proposals.csv"), []byte(proposed), 0o644); err != nil {
		t.Fatal(err)
	}
	withEdits(t, cruise, "[proposals.csv]")
	before := build(t, cruise, filepath.Join(dir, "first"))
	x := open(t, filepath.Join(before, "index.html"), 1200, 900)
	saved := x.downloads()
	numbers := eval[map[string]int](x, `Object.fromEntries([...document.querySelectorAll(".proposals > li")].map((e, i) =>
		[e.querySelector("h3").textContent, i + 1]))`)
	at := func(head string) int {
		t.Helper()
		if numbers[head] == 0 {
			t.Fatalf("no proposal reads %q: %v", head, numbers)
		}
		return numbers[head]
	}
	x.point("#save button", 0.5, 0.5, true)
	if said := eval[string](x, `document.getElementById("decided").textContent`); !strings.Contains(said, "initials") {
		t.Errorf("saving without initials: %q", said)
	}
	x.fill("#save input", "RH")
	const reason = `salt, "a jelly" # seen in both sensors`
	x.decide(at("Cast 2/1, Practical salinity, 20 to 24 dbar"), "accept", reason)
	x.decide(at("Cast 4/1, Temperature, 40 dbar"), "reject", "a front, seen by the neighbours too")
	x.decide(at("Cast 5/1, Practical salinity, 60 to 66 dbar"), "change", "doubtful only")
	run(x, `const s = document.querySelector(%s); s.value = "3"; s.dispatchEvent(new Event("change"))`,
		"#proposal-"+itoa(at("Cast 5/1, Practical salinity, 60 to 66 dbar"))+" select")
	x.decide(at("Cast 6/1, Temperature, 10 to 12 dbar"), "accept", "") // without a reason: left out
	x.point("#save button", 0.5, 0.5, true)
	file := saved("flag_edits.csv")
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	edits, err := ingest.ReadEdits(data, "flag_edits.csv")
	if err != nil || len(edits) != 3 {
		t.Fatalf("%d edits, want 3: %v in\n%s", len(edits), err, data)
	}
	for _, e := range edits {
		if !e.Accepted() || e.Initials != "RH" || e.Date.IsZero() {
			t.Errorf("not signed: %+v", e)
		}
	}
	if edits[0].Reason != reason || edits[0].Flag != 4 || edits[1].Flag != 2 || edits[2].Flag != 3 {
		t.Errorf("flags and reasons are not those of the page:\n%s", data)
	}
	if err := os.WriteFile(filepath.Join(dir, "decided.csv"), data, 0o644); err != nil {
		t.Fatal(err)
	}
	withEdits(t, cruise, "[proposals.csv, decided.csv]")
	after := build(t, cruise, filepath.Join(dir, "second"))
	for _, want := range []struct {
		variable, cast string
		dbar           float64
		was, is        float64
	}{{"psal", "00002_00001", 22, 2, 4}, {"temp", "00004_00001", 40, 2, 2}, {"psal", "00005_00001", 62, 2, 3},
		{"temp", "00006_00001", 10, 2, 2}} {
		if was := flagIn(t, before, want.variable, want.cast, want.dbar); was != want.was {
			t.Errorf("%+v: the flag was %v", want, was)
		}
		if is := flagIn(t, after, want.variable, want.cast, want.dbar); is != want.is {
			t.Errorf("%+v: the flag is %v", want, is)
		}
	}
	next, err := os.ReadFile(filepath.Join(after, "index.html"))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(next, []byte("by RH: salt, &#34;a jelly&#34;")) {
		t.Error("the next page does not say who decided and why")
	}
	if bytes.Contains(next, []byte("Cast 2/1, Practical salinity, 20 to 24 dbar")) ||
		!bytes.Contains(next, []byte("Cast 6/1, Temperature, 10 to 12 dbar")) {
		t.Error("the next page has proposals that are decided, or has lost an open one")
	}
	x.quiet()
}

// flagIn returns the flag of a value in the file of all casts.
func flagIn(t *testing.T, data, variable, cast string, dbar float64) float64 {
	t.Helper()
	f := netcdf(t, filepath.Join(data, "casts", "saltmarten-2026-05_ctd.nc"))
	ids, pres := f.WordsOf("profile_id"), f.NumbersOf("pres")
	flags := f.NumbersOf(variable + "_flag_woce")
	for i, id := range ids {
		for k := 0; strings.HasSuffix(id, cast) && k < len(pres); k++ {
			if pres[k] == dbar {
				return flags[i*len(pres)+k]
			}
		}
	}
	t.Fatalf("no level %v dbar of cast %s", dbar, cast)
	return 0
}

// decide sets the decision and the reason of a proposal.
func (x *tab) decide(n int, act, reason string) {
	x.t.Helper()
	item := "#proposal-" + itoa(n)
	run(x, `document.querySelector(%s).click()`, item+` input[value="`+act+`"]`)
	if reason != "" {
		x.fill(item+" .decide > label:last-child input", reason)
	}
}

// fill types a text into a field.
func (x *tab) fill(selector, text string) {
	x.t.Helper()
	run(x, `document.querySelector(%s).focus()`, selector)
	x.do(chromedp.KeyEvent(text))
}

// downloads lets the page save files, and returns a function that waits for one of them.
func (x *tab) downloads() func(name string) string {
	x.t.Helper()
	dir := x.t.TempDir()
	if _, err := chromedp.CallBrowser[browser.SetDownloadBehaviorParams, cdp.Empty](x, browser.SetDownloadBehavior,
		browser.SetDownloadBehaviorParams{Behavior: browser.SetDownloadBehaviorBehaviorAllow,
			DownloadPath: dir}); err != nil {
		x.t.Fatal(err)
	}
	return func(name string) string {
		x.t.Helper()
		file := filepath.Join(dir, name)
		for range 300 {
			if info, err := os.Stat(file); err == nil && info.Size() > 0 {
				return file
			}
			time.Sleep(100 * time.Millisecond)
		}
		x.t.Fatalf("%s was not saved within 30 s", name)
		return ""
	}
}
