// Package browser holds tests of the page of an archive in a browser: Debian's chromium without a window, and without a
// network. It has no code of its own.
package browser

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// The test binary is its own child: NetCDF is read in a process of its own.
func TestMain(m *testing.M) {
	if code, is := pipeline.ServeChild(os.Args, os.Stdin, os.Stdout); is {
		os.Exit(code)
	}
	code := m.Run()
	if demoFolder != "" {
		os.RemoveAll(demoFolder)
	}
	os.Exit(code)
}

// A tab is a page in a browser, and what it did.
type tab struct {
	context.Context
	t *testing.T

	mu       sync.Mutex
	requests []string
	messages []string // of the console, and exceptions
	dialogs  []string // kinds of the dialogs that opened
	stay     bool     // dialogs that ask whether to leave the page are answered with no
}

// open opens a page of this machine. Whatever it asks for and whatever it says on the console is kept.
func open(t *testing.T, file string, width, height int64) *tab {
	t.Helper()
	return openAt(t, (&url.URL{Scheme: "file", Path: filepath.ToSlash(file)}).String(), width, height)
}

func openAt(t *testing.T, address string, width, height int64) *tab {
	t.Helper()
	program, err := exec.LookPath("chromium")
	if err != nil {
		t.Fatalf("%v: install the Debian package chromium (make test-packages does)", err)
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox,
		chromedp.UserDataDir(t.TempDir()), chromedp.WSURLReadTimeout(2*time.Minute), chromedp.Env("HOME="+t.TempDir()))
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel := chromedp.NewContext(allocator)
	x := &tab{Context: ctx, t: t}
	t.Cleanup(func() { cancel(); stop() })
	if err := chromedp.Listen(ctx, x.listen); err != nil {
		t.Fatal(err)
	}
	call(x, network.Enable, network.EnableParams{})
	call(x, log.Enable, cdp.Empty{})
	x.do(chromedp.EmulateViewport(width, height),
		chromedp.Navigate(address))
	return x
}

// call sends a command to the page.
func call[P, R any](x *tab, command cdp.Command[P, R], params P) R {
	x.t.Helper()
	r, err := chromedp.Call(x, command, params)
	if err != nil {
		x.t.Fatal(err)
	}
	return r
}

// listen keeps what the page asks for and says.
func (x *tab) listen(event any) {
	x.mu.Lock()
	defer x.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		x.requests = append(x.requests, e.Request.URL)
	case *runtime.EventConsoleAPICalled:
		var words []string
		for _, a := range e.Args {
			words = append(words, string(a.Value))
		}
		x.messages = append(x.messages, string(e.Type)+" "+strings.Join(words, " "))
	case *runtime.EventExceptionThrown:
		x.messages = append(x.messages, "exception "+e.ExceptionDetails.Text)
	case *log.EventEntryAdded:
		x.messages = append(x.messages, string(e.Entry.Level)+" "+e.Entry.Text)
	case *page.EventJavascriptDialogOpening:
		x.dialogs = append(x.dialogs, string(e.Type))
		answer := page.HandleJavaScriptDialogParams{Accept: !x.stay}
		go chromedp.Call(x, page.HandleJavaScriptDialog, answer) //nolint:errcheck // the page may be gone
	}
}

func (x *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	x.t.Helper()
	if err := chromedp.Do(x, steps...); err != nil {
		x.t.Fatal(err)
	}
}

// quiet fails when the page said anything on the console or asked for anything but itself.
func (x *tab) quiet() {
	x.t.Helper()
	x.mu.Lock()
	defer x.mu.Unlock()
	for _, m := range x.messages {
		x.t.Errorf("the page says on the console: %s", m)
	}
	asked := slices.DeleteFunc(slices.Clone(x.requests), func(r string) bool {
		return strings.HasPrefix(r, "data:") // the browser's own signs, such as that of a calendar
	})
	asked = slices.Compact(asked) // of one that was loaded again
	if len(asked) != 1 || !strings.HasPrefix(asked[0], "file:///") {
		x.t.Errorf("the page asked for %q; want only itself", asked)
	}
}

// eval evaluates an expression in the page, with values for its verbs %s; a promise is awaited.
func eval[T any](x *tab, expression string, a ...any) T {
	x.t.Helper()
	for i, v := range a {
		b, err := json.Marshal(v)
		if err != nil {
			x.t.Fatal(err)
		}
		a[i] = string(b)
	}
	if len(a) > 0 {
		expression = fmt.Sprintf(expression, a...)
	}
	out, err := chromedp.Run(x, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		x.t.Fatalf("%v in %s", err, expression)
	}
	return out
}

// run evaluates statements in the page.
func run(x *tab, statements string, a ...any) {
	x.t.Helper()
	eval[bool](x, "(() => {"+statements+"; return true})()", a...)
}

// point moves the mouse to a part of the width and height of an element; press presses the button too.
func (x *tab) point(selector string, across, down float64, press bool) {
	x.t.Helper()
	at := eval[[2]float64](x, `(async () => { const e = document.querySelector(%s);
		for (let i = 0; i < 3; i++) { // pictures that come into sight are drawn
			e.scrollIntoView({block: "center"});
			await new Promise((done) => requestAnimationFrame(() => setTimeout(done, 30)));
		}
		const r = e.getBoundingClientRect(); return [r.left + %s * r.width, r.top + %s * r.height]; })()`,
		selector, across, down)
	x.do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, at[0], at[1]))
	if press {
		x.do(chromedp.MouseClickXY(at[0], at[1]))
	}
}

// key presses a key.
func (x *tab) key(name string) {
	x.t.Helper()
	x.do(chromedp.KeyEvent(map[string]string{"Tab": kb.Tab, "ArrowRight": kb.ArrowRight, "Space": " "}[name]))
}

// build builds the archive of a cruise file and returns its data folder.
func build(t *testing.T, cruiseFile, out string) string {
	t.Helper()
	p, err := pipeline.Build(context.Background(), pipeline.Plan{CruiseFile: cruiseFile, Out: out})
	if err != nil {
		t.Fatal(err)
	}
	if p.Path == "" {
		t.Fatalf("%s: no archive: %v", cruiseFile, p.Findings)
	}
	return filepath.Join(p.Path, "data")
}

// demoFolder holds the archive of the demo cruise, which several tests read.
var demoFolder string

var demoOnce sync.Once

// demo returns the data folder of the archive of the demo cruise, built once.
func demo(t *testing.T) string {
	t.Helper()
	demoOnce.Do(func() {
		dir, err := os.MkdirTemp("", "castwright-browser-")
		if err != nil {
			t.Fatal(err)
		}
		demoFolder = dir
		build(t, filepath.Join("..", "..", "..", "testdata", "cruise", "cruise.yaml"), dir)
	})
	return filepath.Join(demoFolder, "saltmarten-2026-05", "data")
}
