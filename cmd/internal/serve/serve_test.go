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
	if len(os.Args) > 1 && os.Args[1] == pipeline.DepthGridArgument {
		os.Exit(pipeline.ServeDepthGrid(os.Stdin, os.Stdout))
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

// A cruise whose casts arrive is built again, findings are shown, and its folder is only read.
func TestCruiseWhileCastsArrive(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	from := filepath.Join("..", "..", "..", "testdata", "cruise", "casts")
	dir := t.TempDir()
	copyCast := func(name string) {
		t.Helper()
		b, err := os.ReadFile(filepath.Join(from, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "casts", name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(dir, "casts"), 0o755); err != nil {
		t.Fatal(err)
	}
	cruise := filepath.Join(dir, "cruise.yaml")
	text := "cruise: {id: arriving}\ncasts: {sources: [casts]}\nfigures: none\n"
	if err := os.WriteFile(cruise, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	copyCast("ZZSM20260504_00001_00001_ct1.csv")
	notes := make(chan string, 100)
	host, stop := start(t, Plan{Path: cruise, Every: 50 * time.Millisecond, Note: func(s string) { notes <- s }})
	wait := func(begin string) {
		t.Helper()
		for {
			select {
			case n := <-notes:
				if strings.HasPrefix(n, begin) {
					return
				}
				t.Logf("%s", n)
			case <-time.After(2 * time.Minute):
				t.Fatalf("no note begins with %q", begin)
			}
		}
	}
	wait("built with 1 casts")
	copyCast("ZZSM20260504_00002_00001_ct1.csv")
	wait("built with 2 casts")
	if status, _, body := ask(t, host, "GET", "/", host); status != 200 ||
		!strings.Contains(body, "<dt>Casts</dt><dd>2</dd>") {
		t.Errorf("the page of two casts: %d, %d bytes", status, len(body))
	}
	if err := os.WriteFile(filepath.Join(dir, "casts", "ZZSM20260504_00003_00001_ct1.csv"), []byte("CTD,<b>broken\n"),
		0o644); err != nil {
		t.Fatal(err)
	}
	wait("not built")
	status, _, body := ask(t, host, "GET", "/findings.html", host)
	if status != 200 || !strings.Contains(body, "00003_00001_ct1.csv") || strings.Contains(body, "<b>") {
		t.Errorf("findings: %d %q", status, body)
	}
	if _, _, body := ask(t, host, "GET", "/", host); !strings.Contains(body, "<dt>Casts</dt><dd>2</dd>") {
		t.Error("the last good page is gone")
	}
	stop()
	left, err := os.ReadDir(os.Getenv("TMPDIR"))
	if err != nil || len(left) > 0 {
		t.Errorf("left in TMPDIR: %v %v", left, err)
	}
	here, err := os.ReadDir(dir)
	if err != nil || len(here) != 2 {
		t.Errorf("the folder of the cruise has %v %v", here, err)
	}
}
