//go:build cgo

package verify

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/cmd/internal/cf"
	"github.com/castwright/castwright/cmd/internal/child"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// compile makes a NetCDF file of CDL text.
func compile(t *testing.T, cdl, name string) string {
	t.Helper()
	dir := t.TempDir()
	src, out := filepath.Join(dir, "x.cdl"), filepath.Join(dir, name)
	if err := os.WriteFile(src, []byte(cdl), 0o644); err != nil {
		t.Fatal(err)
	}
	if b, err := exec.Command("ncgen", "-o", out, "-k", "nc4", src).CombinedOutput(); err != nil {
		t.Fatalf("ncgen (package netcdf-bin): %v\n%s", err, b)
	}
	return out
}

func example(t *testing.T, name string) []byte {
	t.Helper()
	text, err := os.ReadFile("../cf/testdata/examples/" + name + ".cdl")
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(compile(t, string(text), name+".nc"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// A file checked in a child gets the same findings as one checked here.
func TestChildFindsTheSame(t *testing.T) {
	text, err := os.ReadFile("../cf/testdata/examples/profiles_ragged.cdl")
	if err != nil {
		t.Fatal(err)
	}
	file := compile(t, strings.ReplaceAll(string(text), `"time lat lon pres station"`, `"time lat lon depth"`), "x.nc")
	f, err := nc.OpenFile(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want := cf.Check(f, "x.nc", true)
	all, err := checkInChild(t.Context(), "",
		childRequest{Files: []childFile{{file, "x.nc", true}, {file, "y.nc", false}}})
	if err != nil || len(all) != 2 {
		t.Fatal(all, err)
	}
	got := all[0]
	if len(want) == 0 || len(got) != len(want) {
		t.Fatalf("%d findings, want %d: %v", len(got), len(want), got)
	}
	for i := range got {
		if !reflect.DeepEqual(got[i], want[i]) {
			t.Errorf("%v, want %v", got[i], want[i])
		}
	}
}

// Damaged files come back as faults that name them, whatever the library does.
func TestDamagedNetCDFIsAFault(t *testing.T) {
	whole := example(t, "profiles_orthogonal")
	damaged := map[string][]byte{
		"empty.nc": {}, "words.nc": []byte("not NetCDF"), "head-only.nc": whole[:8], "half.nc": whole[:len(whole)/2],
		"signature.nc":   []byte("\x89HDF\r\n\x1a\n"),
		"classic-cut.nc": []byte("CDF\x01\x00\x00\x00\x00\x00\x00\x00\x0a\xff\xff\xff\xff"),
	}
	zeroed := append([]byte(nil), whole...)
	clear(zeroed[64:1024])
	damaged["zeroed.nc"] = zeroed
	dir := t.TempDir()
	for name, b := range damaged {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, b, 0o644); err != nil {
			t.Fatal(err)
		}
		r, err := File(t.Context(), Plan{Path: file})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if r.Faults() == 0 || r.Findings[0].Check != "netcdf.read" || !strings.HasSuffix(r.Findings[0].File, name) {
			t.Errorf("%s: %v", name, r.Findings)
		}
	}
}

// pretend returns a program that runs a shell script in the place of the child.
func pretend(t *testing.T, script string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "child")
	if err := os.WriteFile(file, []byte("#!/bin/sh\n"+script+"\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	return file
}

// A file that ends the child is a fault; the others that the same child was given are checked, each in a child of its
// own.
func TestCrashIsTheFaultOfOneFile(t *testing.T) {
	dir := t.TempDir()
	var q childRequest
	for _, name := range []string{"a.nc", "b.nc", "c.nc"} {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, example(t, "profiles_ragged"), 0o644); err != nil {
			t.Fatal(err)
		}
		q.Files = append(q.Files, childFile{Path: file, Name: name})
	}
	// The child crashes whenever b.nc is among its files, after an answer about a.nc.
	self := pretend(t, "cat >"+dir+"/request\ngrep -q a.nc "+dir+"/request && grep -q b.nc "+dir+
		"/request && { echo '{}'; kill -SEGV $$; }\n"+
		"grep -q b.nc "+dir+"/request && kill -SEGV $$\nexec "+os.Args[0]+" $1 <"+dir+"/request")
	found, err := checkInChild(t.Context(), self, q)
	if err != nil || len(found) != 3 {
		t.Fatal(found, err)
	}
	if len(found[0]) != 0 || len(found[1]) != 1 || found[1][0].Check != "netcdf.read" || found[1][0].File != "b.nc" ||
		len(found[2]) != 0 {
		t.Errorf("%v, want a fault of b.nc alone", found)
	}
}

func TestCrashOfTheChildIsAFault(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x.nc")
	if err := os.WriteFile(file, example(t, "profiles_ragged"), 0o644); err != nil {
		t.Fatal(err)
	}
	for script, want := range map[string]string{
		"kill -SEGV $$": "segmentation fault", "kill -KILL $$": "killed", "echo no JSON": "gave no answer",
		"echo oh dear >&2; exit 7": "exit status 7: oh dear",
	} {
		r, err := File(t.Context(), Plan{Path: file, Self: pretend(t, script)})
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Findings) != 1 || r.Findings[0].Severity != metadata.Failure || r.Findings[0].File != file ||
			!strings.Contains(r.Findings[0].Message, want) {
			t.Errorf("%s: %v, want %q", script, r.Findings, want)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := File(ctx, Plan{Path: file}); err == nil {
		t.Error("an interrupted run gives no error")
	}
}

// The child takes no more memory and time than it may: with little it ends, and that is a fault.
func TestLimitsOfTheChildHold(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x.nc")
	if err := os.WriteFile(file, example(t, "profiles_ragged"), 0o644); err != nil {
		t.Fatal(err)
	}
	all, err := checkInChild(t.Context(), "", childRequest{Files: []childFile{{Path: file, Name: "x.nc"}},
		Memory: 64 << 20})
	if err != nil {
		t.Fatal(err)
	}
	found := all[0]
	if len(found) != 1 || found[0].Check != "netcdf.read" || !strings.Contains(found[0].Message, "ended by") {
		t.Errorf("with 64 MiB: %v", found)
	}
	if os.Getenv("CASTWRIGHT_TEST_TURN") == "1" {
		if err := child.Limit(child.Memory, 1); err != nil {
			t.Fatal(err)
		}
		for n := 0; ; n++ { // turns until the limit ends it
			runtime.KeepAlive(n)
		}
	}
	cmd := exec.Command(os.Args[0], "-test.run=^TestLimitsOfTheChildHold$")
	cmd.Env = append(os.Environ(), "CASTWRIGHT_TEST_TURN=1")
	if out, err := cmd.CombinedOutput(); err == nil || !strings.Contains(err.Error(), "killed") &&
		!strings.Contains(err.Error(), "CPU") {
		t.Errorf("a child that turns for ever ended with %v\n%s", err, out)
	}
}

// The child never opens a name that is not the absolute path of a regular file.
func TestChildOpensRegularFilesOnly(t *testing.T) {
	for _, name := range []string{"http://127.0.0.1:9/n.nc", "x.nc", "/dev/zero", t.TempDir()} {
		q, err := json.Marshal(childRequest{Files: []childFile{{Path: name, Name: name}}})
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(os.Args[0], childArgument)
		cmd.Stdin = strings.NewReader(string(q))
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		var a childReply
		if err := json.Unmarshal(out, &a); err != nil || !strings.Contains(a.Error, "not the cleaned absolute path") &&
			!strings.Contains(a.Error, "no such file") {
			t.Errorf("%s: %q %v", name, a.Error, err)
		}
	}
}

// No NetCDF file of an archive is opened by this process, whether its checksum holds or not.
func TestChangedNetCDFIsLookedAtInAChild(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "saltmarten-2026-05")
	if err := copyOf(demoArchive(t), dir); err != nil {
		t.Fatal(err)
	}
	const rel = "data/sections/slope_grid.nc"
	b, err := os.ReadFile(filepath.Join(dir, rel))
	if err != nil {
		t.Fatal(err)
	}
	b = append([]byte(nil), b...)
	b[len(b)/2] ^= 1
	if err := rewrite(filepath.Join(dir, rel), b); err != nil {
		t.Fatal(err)
	}
	r, err := Archive(t.Context(), Plan{Path: dir, Self: pretend(t, "kill -SEGV $$"), remake: remakeOnce(t)})
	if err != nil {
		t.Fatal(err)
	}
	changed, crashed := false, 0
	for _, f := range r.Findings {
		switch {
		case f.File == rel && f.Check == "bag.changed":
			changed = true
		case f.Check == "netcdf.read" && strings.Contains(f.Message, "segmentation fault"):
			crashed++
		}
	}
	if want := len(netCDFFiles(dir)); !changed || crashed != want || want < 5 {
		t.Errorf("changed %v, %d of %d files opened in a child: %v", changed, crashed, want, r.Findings)
	}
}

// The child that computes again is ended by one file, whatever the manifest says of it: that file is a fault, and the
// rest is computed.
func TestFileThatEndsTheRecomputation(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "saltmarten-2026-05")
	if err := copyOf(demoArchive(t), dir); err != nil {
		t.Fatal(err)
	}
	const rel = "data/sections/slope_grid.nc"
	script := fmt.Sprintf("case $1 in %s) exec %s $1;; esac\ncat >%s/request\n"+
		"if [ -e %s/again ]; then exec %s $1 <%s/request; fi\ntouch %s/again\necho '\"%s\"'\nkill -SEGV $$",
		childArgument, os.Args[0],
		filepath.Dir(dir), filepath.Dir(dir), os.Args[0], filepath.Dir(dir), filepath.Dir(dir), rel)
	r, err := Archive(t.Context(), Plan{Path: dir, Self: pretend(t, script)})
	if err != nil {
		t.Fatal(err)
	}
	crashed, others := 0, 0
	for _, f := range r.Findings {
		switch {
		case f.File == rel && f.Check == "netcdf.read" && strings.Contains(f.Message, "segmentation fault"):
			crashed++
		case f.File != rel && f.Severity == metadata.Failure:
			others++
		}
	}
	if crashed != 1 || others > 0 || r.Again == "" {
		t.Errorf("%d crashes, %d other faults, computed again %q: %v", crashed, others, r.Again, r.Findings)
	}
}

func netCDFFiles(dir string) []string {
	return slices.DeleteFunc(files(dir), func(n string) bool { return !strings.HasSuffix(n, ".nc") })
}

// A file whose checksums hold and that is no NetCDF is a fault of the archive, not the end of verify.
func TestUnreadableNetCDFWithChecksums(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "a")
	if err := copyOf(demoArchive(t), dir); err != nil {
		t.Fatal(err)
	}
	const rel = "data/sections/strait_section.nc"
	if err := rewrite(filepath.Join(dir, rel), []byte("hello")); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "data/fields.nc"), []byte("hello"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := repair(dir); err != nil {
		t.Fatal(err)
	}
	r, err := Archive(t.Context(), Plan{Path: dir})
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]bool{}
	for _, f := range r.Findings {
		if f.Check == "netcdf.read" {
			found[f.File] = true
		}
	}
	if !found[rel] || !found["data/fields.nc"] {
		t.Errorf("faults of reading: %v", found)
	}
}
