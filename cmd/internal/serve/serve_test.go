package serve

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/cmd/internal/pipeline"
)

// The test binary is its own child: NetCDF is read in a process of its own.
func TestMain(m *testing.M) {
	if code, is := pipeline.ServeChild(os.Args, os.Stdin, os.Stdout); is {
		os.Exit(code)
	}
	os.Exit(m.Run())
}

// archive writes a folder that looks like an archive, with links that lead out of it and in it, and a secret beside it.
func archive(t *testing.T) string {
	t.Helper()
	top := t.TempDir()
	dir := filepath.Join(top, "archive")
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(os.MkdirAll(filepath.Join(dir, "data", "tables"), 0o755))
	must(os.MkdirAll(filepath.Join(top, "outside"), 0o755))
	for name, text := range map[string]string{
		"archive/bagit.txt":       "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
		"archive/bag-info.txt":    "A: b\n",
		"archive/data/index.html": "<p>the page</p>", "archive/data/tables/a b.csv": "x,y\n",
		"archive/data/tables/part.nc": "CDF", "secret.txt": "secret", "outside/s.txt": "secret"} {
		must(os.WriteFile(filepath.Join(top, filepath.FromSlash(name)), []byte(text), 0o644))
	}
	must(os.Symlink(filepath.Join(top, "secret.txt"), filepath.Join(dir, "data", "link.txt")))
	must(os.Symlink("../../../secret.txt", filepath.Join(dir, "data", "tables", "up.txt")))
	must(os.Symlink("index.html", filepath.Join(dir, "data", "inner.html")))
	must(os.Symlink(filepath.Join(top, "outside"), filepath.Join(dir, "data", "folder")))
	return dir
}

// start shows a path and returns its host and port. Run must have ended without an error when the test ends.
func start(t *testing.T, plan Plan) (host string, stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ready, ended := make(chan string, 1), make(chan error, 1)
	plan.Ready = func(url string) { ready <- url }
	go func() { ended <- Run(ctx, plan) }()
	stopped := false
	stop = func() {
		t.Helper()
		if stopped {
			return
		}
		stopped = true
		cancel()
		select {
		case err := <-ended:
			if err != nil {
				t.Errorf("it ended with %v", err)
			}
		case <-time.After(2 * time.Minute):
			t.Error("it did not end")
		}
	}
	t.Cleanup(stop)
	select {
	case url := <-ready:
		return strings.TrimSuffix(strings.TrimPrefix(url, "http://"), "/"), stop
	case err := <-ended:
		stopped = true
		t.Fatalf("it did not begin: %v", err)
	case <-time.After(time.Minute):
		t.Fatal("it did not begin")
	}
	return "", nil
}

// ask sends a request as it is written, so that no library makes it better, and returns status and body.
func ask(t *testing.T, host, method, path, asHost string) (status int, head http.Header, body string) {
	t.Helper()
	c, err := net.Dial("tcp", host)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	fmt.Fprintf(c, "%s %s HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n\r\n", method, path, asHost)
	r, err := http.ReadResponse(bufio.NewReader(c), &http.Request{Method: method})
	if err != nil {
		t.Fatalf("%s %s: %v", method, path, err)
	}
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return r.StatusCode, r.Header, string(b)
}

func TestFiles(t *testing.T) {
	host, _ := start(t, Plan{Path: archive(t)})
	for _, want := range []struct{ path, body, kind string }{{"/", "<p>the page</p>", "text/html; charset=utf-8"},
		{"/index.html", "<p>the page</p>", "text/html; charset=utf-8"},
		{"/tables/a%20b.csv", "x,y\n", "text/csv; charset=utf-8"}, {"/tables/part.nc", "CDF", "application/x-netcdf"}} {
		status, head, body := ask(t, host, "GET", want.path, host)
		if status != 200 || body != want.body || head.Get("Content-Type") != want.kind {
			t.Errorf("%s: %d %s %q", want.path, status, head.Get("Content-Type"), body)
		}
		if status, _, body := ask(t, host, "HEAD", want.path, host); status != 200 || body != "" {
			t.Errorf("HEAD %s: %d %q", want.path, status, body)
		}
	}
	if status, _, body := ask(t, host, "GET", "/tables/", host); status != 200 || !strings.Contains(body,
		`<a href="./a%20b.csv">a b.csv</a>`) || strings.Contains(body, "up.txt") {
		t.Errorf("a folder: %d %q", status, body)
	}
}

// Nothing outside the data of the archive is shown, by whatever name, and no link is followed.
func TestNoEscape(t *testing.T) {
	host, _ := start(t, Plan{Path: archive(t)})
	for _, path := range []string{"/../secret.txt", "/../../secret.txt", "/%2e%2e/%2e%2e/secret.txt",
		"/..%2f..%2fsecret.txt",
		"/tables/../../../secret.txt", "/..\\..\\secret.txt", "/..%5c..%5csecret.txt", "//secret.txt", "/./index.html",
		"/link.txt", "/tables/up.txt", "/inner.html", "/folder/", "/folder/s.txt", "/../bagit.txt", "/bagit.txt",
		"/index.html%00.txt", "/etc/passwd", "//etc/passwd", "/index.html/", "/tables", "/nothing"} {
		status, _, body := ask(t, host, "GET", path, host)
		if status == 200 || strings.Contains(body, "secret") || strings.Contains(body, "BagIt") ||
			strings.Contains(body,
				"root:") {
			t.Errorf("%s: %d %q", path, status, body)
		}
	}
}

func TestMethods(t *testing.T) {
	host, _ := start(t, Plan{Path: archive(t)})
	for _, method := range []string{"POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND",
		"get"} {
		if status, head, _ := ask(t, host, method, "/", host); status != 405 || head.Get("Allow") != "GET, HEAD" {
			t.Errorf("%s: %d, Allow %q", method, status, head.Get("Allow"))
		}
	}
}

// A page elsewhere whose name was made to mean this machine asks with its own name.
func TestHost(t *testing.T) {
	host, _ := start(t, Plan{Path: archive(t)})
	_, port, err := net.SplitHostPort(host)
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]int{host: 200, "localhost:" + port: 200, "[::1]:" + port: 200,
		"example.org":         421,
		"example.org:" + port: 421, "127.0.0.1": 421, "127.0.0.1:1": 421, "localhost.example.org:" + port: 421,
		"192.0.2.1:" + port: 421, "0.0.0.0:" + port: 421} {
		if status, _, body := ask(t, host, "GET", "/", name); status != want || status != 200 && strings.Contains(body,
			"the page") {
			t.Errorf("Host %s: %d; want %d", name, status, want)
		}
	}
}

// Addresses that other machines reach are refused before anything listens.
func TestAddresses(t *testing.T) {
	dir := archive(t)
	for _, address := range []string{"0.0.0.0:0", ":0", "[::]:0", "192.0.2.1:0", "example.org:0", "127.0.0.1",
		"10.0.0.1:80",
		"[fe80::1%25lo]:0", "127.0.0.1.example.org:0"} {
		ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
		err := Run(ctx,
			Plan{Path: dir, Address: address, Ready: func(string) { t.Errorf("%s was listened to", address) }})
		cancel()
		if err == nil {
			t.Errorf("%s is not refused", address)
		}
	}
	if err := Run(context.Background(), Plan{Path: dir, Address: "0.0.0.0:0"}); !errors.Is(err, ErrAddress) {
		t.Errorf("0.0.0.0: %v", err)
	}
	for _, path := range []string{t.TempDir(), filepath.Join(dir, "nothing")} {
		if err := Run(context.Background(), Plan{Path: path}); err == nil {
			t.Errorf("%s is shown, which is no archive", path)
		}
	}
}

// While a file is being sent, an interruption ends the server soon, without an error.
func TestStopWhileServing(t *testing.T) {
	dir := archive(t)
	big := filepath.Join(dir, "data", "big.nc")
	if err := os.WriteFile(big, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(big, 4<<30); err != nil {
		t.Fatal(err)
	}
	host, stop := start(t, Plan{Path: dir})
	c, err := net.Dial("tcp", host)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	fmt.Fprintf(c, "GET /big.nc HTTP/1.1\r\nHost: %s\r\n\r\n", host)
	if _, err := io.ReadFull(c, make([]byte, 1<<16)); err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	stop()
	if took := time.Since(began); took > 10*time.Second {
		t.Errorf("it ended after %v", took)
	}
	if _, err := net.DialTimeout("tcp", host, time.Second); err == nil {
		t.Error("the port is still open")
	}
}

// An arriving is a cruise of the demo whose casts arrive, and the notes of the server that shows it.
type arriving struct {
	t     *testing.T
	dir   string
	notes chan string
	host  string
}

// write writes a file of the cruise.
func (c *arriving) write(name, text string) {
	c.t.Helper()
	if err := os.WriteFile(filepath.Join(c.dir, filepath.FromSlash(name)), []byte(text), 0o644); err != nil {
		c.t.Fatal(err)
	}
}

// demoCast returns the text of the file of a cast of the demo, and where it goes.
func demoCast(t *testing.T, station int) (name, text string) {
	t.Helper()
	name = fmt.Sprintf("ZZSM20260504_%05d_00001_ct1.csv", station)
	b, err := os.ReadFile(filepath.Join("..", "..", "..", "testdata", "cruise", "casts", name))
	if err != nil {
		t.Fatal(err)
	}
	return "casts/" + name, string(b)
}

// until returns the notes up to the first that begins with a text.
func (c *arriving) until(begin string) (all []string) {
	c.t.Helper()
	for {
		select {
		case n := <-c.notes:
			all = append(all, n)
			if strings.HasPrefix(n, begin) {
				return all
			}
		case <-time.After(2 * time.Minute):
			c.t.Fatalf("no note begins with %q; there were %q", begin, all)
		}
	}
}

// get returns the body of a file that is there.
func (c *arriving) get(path string) string {
	c.t.Helper()
	status, _, body := ask(c.t, c.host, "GET", path, c.host)
	if status != 200 {
		c.t.Fatalf("%s: %d", path, status)
	}
	return body
}

// A cruise whose casts arrive is built again when its inputs changed and not otherwise. Findings are shown before the
// page is made, and a file that cannot be read yet holds up nothing. The folder of the cruise is only read.
func TestCruiseWhileCastsArrive(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	c := &arriving{t: t, dir: t.TempDir(), notes: make(chan string, 100)}
	if err := os.Mkdir(filepath.Join(c.dir, "casts"), 0o755); err != nil {
		t.Fatal(err)
	}
	outside := t.TempDir()
	c.write("cruise.yaml", "cruise: {id: arriving}\ncasts: {sources: [casts, "+outside+"]}\n"+
		"figures: {formats: [svg]}\n"+
		"sections:\n  - {name: strait, stations: 1-3}\n  - {name: slope, stations: 11-13}\n")
	for _, n := range []int{1, 2, 3, 11, 12} {
		c.write(demoCast(t, n))
	}
	host, stop := start(t, Plan{Path: filepath.Join(c.dir, "cruise.yaml"), Every: 50 * time.Millisecond,
		Note: func(s string) { c.notes <- s }})
	c.host = host
	if said := c.until("built with 5 casts"); len(said) != 2 || !strings.HasPrefix(said[0], "5 casts read") {
		t.Errorf("the first build says %q", said)
	}
	state := c.get("/state.json")
	drawn := c.get("/figures/strait_ctemp.svg")

	// The first lines of a cast: the page is of the others, and the findings have the fault.
	name, text := demoCast(t, 13)
	c.write(name, text[:200])
	c.until("built with 5 casts")
	if f := c.get("/findings.html"); !strings.Contains(f, "00013_00001_ct1.csv") ||
		!strings.Contains(f, "leaves the file out") {
		t.Errorf("the findings do not have the broken file: %s", f)
	}
	if p := c.get("/"); !strings.Contains(p, "cannot be read at present") ||
		!strings.Contains(p, "<dt>Casts</dt><dd>5</dd>") {
		t.Error("the ledger does not have the broken file")
	}
	// The whole cast: its section is made again; the figures of the other section are those of before.
	c.write(name, text)
	c.until("built with 6 casts")
	if c.get("/state.json") == state {
		t.Error("the state is as it was")
	}
	if !strings.Contains(c.get("/tables/stations.csv"), "00013_00001") {
		t.Error("the new cast is not in the ledger")
	}
	if c.get("/figures/strait_ctemp.svg") != drawn {
		t.Error("the figure of a section without a new cast changed")
	}
	// A cast in another place that the cruise file names.
	_, text = demoCast(t, 14)
	late := filepath.Join(outside, "ZZSM20260504_00014_00001_ct1.csv")
	if err := os.WriteFile(late, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	c.until("built with 7 casts")

	// What is no input, and a file that is written again as it was, make no build; a fault of the cruise file leaves
	// the page as it is.
	c.write("notes.txt", "lunch at noon")
	c.write(demoCast(t, 1))
	time.Sleep(time.Second)
	c.write("cruise.yaml", "cruise: {id: <b>arriving\n")
	if said := c.until("not built"); len(said) != 1 {
		t.Errorf("files that change nothing made builds: %q", said)
	}
	if f := c.get("/findings.html"); !strings.Contains(f, "cruise.yaml:1") || strings.Contains(f, "<b>") {
		t.Errorf("findings: %q", f)
	}
	if !strings.Contains(c.get("/"), "<dt>Casts</dt><dd>7</dd>") {
		t.Error("the last good page is gone")
	}
	stop()
	left, err := os.ReadDir(os.Getenv("TMPDIR"))
	if err != nil || len(left) > 0 {
		t.Errorf("left in TMPDIR: %v %v", left, err)
	}
	if here, err := os.ReadDir(c.dir); err != nil || len(here) != 3 {
		t.Errorf("the folder of the cruise has %v %v", here, err)
	}
}

// An archive that a build replaced while it is shown is shown as it is now.
func TestReplacedArchive(t *testing.T) {
	dir := archive(t)
	host, _ := start(t, Plan{Path: dir})
	if err := os.Rename(dir, dir+".old"); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(dir, "data"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "data", "index.html"), []byte("newer"), 0o644); err != nil {
		t.Fatal(err)
	}
	if status, _, body := ask(t, host, "GET", "/", host); status != 200 || body != "newer" {
		t.Errorf("%d %q", status, body)
	}
}

// An interruption while a cruise is being built ends the server soon and leaves nothing.
func TestStopWhileBuilding(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	read := make(chan string, 10)
	_, stop := start(t, Plan{Path: filepath.Join("..", "..", "..", "testdata", "cruise", "cruise.yaml"),
		Note: func(s string) { read <- s }})
	select {
	case said := <-read:
		if !strings.Contains(said, "the page is being made") {
			t.Errorf("the first note is %q", said)
		}
	case <-time.After(time.Minute):
		t.Fatal("the inputs are not read")
	}
	began := time.Now()
	stop()
	if took := time.Since(began); took > 20*time.Second {
		t.Errorf("it ended after %v", took)
	}
	if left, err := os.ReadDir(os.Getenv("TMPDIR")); err != nil || len(left) > 0 {
		t.Errorf("left in TMPDIR: %v %v", left, err)
	}
}
