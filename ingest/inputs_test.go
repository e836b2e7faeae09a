package ingest

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/castwright/castwright/internal/golden"
	"github.com/castwright/castwright/metadata"
)

// bundle packs name and text pairs into a zip archive.
func bundle(t *testing.T, pairs ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(pairs); i += 2 {
		w, err := z.Create(pairs[i])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(pairs[i+1])); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func write(t *testing.T, dir string, files map[string]string) {
	t.Helper()
	for name, text := range files {
		p := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func listed(l *Listing) string {
	var s []string
	for _, in := range l.Inputs {
		s = append(s, in.Name)
	}
	return strings.Join(s, " ")
}

// In a folder, a file of any name counts when the first line that is neither blank nor a comment says that it is one:
// what the reader tolerates in front of that line must not hide a cast. A file in UTF-16 counts too, so that its error
// is told.
func TestFolderByFirstLine(t *testing.T) {
	ex := example(t)
	dir := t.TempDir()
	wide := "\xff\xfe"
	for _, c := range ex {
		wide += string([]byte{byte(c), 0})
	}
	write(t, dir, map[string]string{"a.csv": "# history\n\n \n#\n" + ex, "b.csv": wide, "c.csv": "ctd 20130709\n",
		"d.csv": "\"CTD,20130709\"\n", "e.csv": "# a\rCTD,20130709ODF\r",
		"f.csv": "#CTD,20130709\n#x\nname,CTD\n", "g.csv": "CTDPRS,CTDTMP\n", "h.csv": "# BOTTLE\n\nBOTTLE,20130709\n",
		"i.csv": "", "j.csv": "#"})
	for kind, want := range map[Kind]string{CTD: "./a.csv ./b.csv ./c.csv ./d.csv ./e.csv", Bottles: "./h.csv"} {
		l, err := List(dir, []Source{{Path: "."}}, kind, nil)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, in := range l.Inputs {
			names = append(names, "./"+in.Name)
		}
		if got := strings.Join(names, " "); got != want {
			t.Errorf("kind %d: %s, want %s", kind, got, want)
		}
	}
	var r Reader
	if _, _, err := r.Casts(&Input{Name: "b.csv", path: filepath.Join(dir, "b.csv")}); err == nil ||
		!strings.Contains(err.Error(), "UTF-16") {
		t.Errorf("%v", err)
	}
}

// Sources are files, folders, globs and bundles; inputs come in one order whatever the file system gives.
func TestList(t *testing.T) {
	ex := example(t)
	dir := filepath.Join(t.TempDir(), "a [strange] name")
	write(t, dir, map[string]string{
		"leg1/b_ct1.csv": ex, "leg1/a_CT1.CSV": ex, "leg1/c.csv": "\xef\xbb\xbf\n" + ex, "leg1/notes.txt": "x",
		"leg1/table.csv":      "a,b\n1,2\n",
		"leg1/deep/z_ct1.csv": ex, "leg1/samples_hy1.csv": "BOTTLE,20150327\n", "single.dat": ex, "leg2/x_ct1.csv": ex,
		"many/1.txt": "", "many/2.txt": "",
		"many/3.txt": "", "many/4.txt": "", "many/5.txt": "", "many/6.txt": "", "many/7_ct1.csv": ex, "[x]_ct1.csv": ex,
		"two_ct1.zip": string(bundle(t, "b_ct1.csv", ex, "a_ct1.csv", ex)),
	})
	for _, c := range []struct{ sources, want string }{
		{"leg1", "leg1/a_CT1.CSV leg1/b_ct1.csv leg1/c.csv"},
		{"./leg1/", "leg1/a_CT1.CSV leg1/b_ct1.csv leg1/c.csv"},
		{"single.dat leg2/*.csv", "single.dat leg2/x_ct1.csv"},
		{"leg?/?_ct1.csv leg1", "leg1/b_ct1.csv leg2/x_ct1.csv leg1/a_CT1.CSV leg1/c.csv"},
		{"two_ct1.zip", "two_ct1.zip/b_ct1.csv two_ct1.zip/a_ct1.csv"},
		{"[x]_ct1.csv", "[x]_ct1.csv"},
		{"leg2/../leg2/x_ct1.csv leg2/x_ct1.csv", "leg2/x_ct1.csv"},
		{filepath.ToSlash(dir) + "/leg2/x_ct1.csv", filepath.ToSlash(dir) + "/leg2/x_ct1.csv"},
	} {
		var sources []Source
		for _, p := range strings.Split(strings.ReplaceAll(c.sources, "a [strange] name", "a%[strange]%name"), " ") {
			sources = append(sources, Source{Path: strings.ReplaceAll(p, "%", " ")})
		}
		l, err := List(dir, sources, CTD, nil)
		if err != nil {
			t.Errorf("%s: %v", c.sources, err)
			continue
		}
		if got := listed(l); got != c.want {
			t.Errorf("%s: got %s, want %s", c.sources, got, c.want)
		}
		for i := range l.Inputs {
			var r Reader
			if casts, _, err := r.Casts(&l.Inputs[i]); err != nil ||
				casts[0].Source.SHA256 != sha256.Sum256([]byte(ex)) && !strings.HasSuffix(l.Inputs[i].Name, "c.csv") {
				t.Errorf("%s: %v", l.Inputs[i].Name, err)
			}
		}
	}
	l, err := List(dir, []Source{{Path: "leg1"}, {Path: "many"}, {Path: "two_ct1.zip"}}, CTD, nil)
	if err != nil {
		t.Fatal(err)
	}
	const hint = "  hint: if they hold casts, describe them under casts: layouts (castwright draft FOLDER proposes how); else name the files or a pattern under sources instead of the folder\n"
	want := "note: leg1: [exchange.other_files] 2 other entries in the folder are not read: deep samples_hy1.csv\n" +
		"warning: leg1: [exchange.other_files] 1 file that ends in .csv was not read, since the first line is not that of an exchange file (CTD): table.csv\n" +
		hint +
		"warning: leg1: [exchange.other_files] 1 file that ends in .txt was not read, since the first line is not that of an exchange file (CTD): notes.txt\n" +
		hint +
		"warning: many: [exchange.other_files] 6 files that end in .txt were not read, since the first line is not that of an exchange file (CTD): 1.txt 2.txt 3.txt 4.txt 5.txt ...\n" +
		hint
	if got := describe(l.Findings, nil); got != want {
		t.Errorf("got %s", got)
	}
	if f := l.Files[len(l.Files)-1]; f.Name != "two_ct1.zip" || f.Digest.Bytes == 0 || len(l.Files) != 5 {
		t.Errorf("files %+v", l.Files)
	}
	if l, err = List(dir, []Source{{Path: "leg1"}}, Bottles, nil); err != nil || listed(l) != "leg1/samples_hy1.csv" {
		t.Errorf("%v %v", l, err)
	}
	var r Reader
	if _, _, err := r.Bottles(&l.Inputs[0]); err == nil ||
		!strings.HasPrefix(err.Error(), "leg1/samples_hy1.csv:1: no parameter line") {
		t.Error(err)
	}
}

// What a source cannot be is said with its place in the cruise file.
func TestListErrors(t *testing.T) {
	dir := t.TempDir()
	write(t, dir, map[string]string{"empty/readme.txt": "x"})
	if err := syscall.Mkfifo(filepath.Join(dir, "pipe_ct1.csv"), 0o644); err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, p := range []string{"nowhere", "leg*/x.csv", "empty", "", "**/x.csv", "x[", "pipe_ct1.csv"} {
		_, err := List(dir, []Source{{Path: p, At: metadata.Position{File: "cruise.yaml", Line: 7, Column: 5}}}, CTD,
			nil)
		b.WriteString(describe(nil, err))
	}
	golden.Check(t, "sources.txt", []byte(b.String()))
}

// A bundle with surprises: each is said, and the casts are read (exchange.md section 7 row 27).
func TestZipSurprises(t *testing.T) {
	ex := example(t)
	two := strings.Replace(ex, "STNNBR = 1", "STNNBR = 2", 1)
	three := strings.Replace(ex, "STNNBR = 1", "STNNBR = 3", 1)
	data := bundle(t, "318M/", "", "318M/a_ct1.csv", ex, "../../etc/b_CT1.CSV", two, "C:\\casts\\c_ct1.csv", three,
		"__MACOSX/._a_ct1.csv", "junk", "readme.txt", "hello", "table.csv", "1,2\n")
	casts, found, err := ReadZip(data, "leg1_ct1.zip", Options{})
	if err != nil || len(casts) != 3 {
		t.Fatalf("%d casts, %v", len(casts), err)
	}
	for i, want := range []string{"leg1_ct1.zip/a_ct1.csv", "leg1_ct1.zip/b_CT1.CSV", "leg1_ct1.zip/c_ct1.csv"} {
		if casts[i].Source.Name != want || casts[i].Station != fmt.Sprint(i+1) {
			t.Errorf("cast %d: %s station %s", i, casts[i].Source.Name, casts[i].Station)
		}
	}
	golden.Check(t, "zip_surprises.txt", []byte(describe(found, nil)))
}

// The limits of a bundle hold before memory is taken for it.
func TestZipLimits(t *testing.T) {
	ex := example(t)
	// An end record that claims more entries than the limit allows. 65 535 is the most it can say, so the limit for it
	// is checked apart.
	if n, ok := entries(bundle(t, "a_ct1.csv", ex)); !ok || n != 1 {
		t.Errorf("%d entries", n)
	}
	if _, ok := entries([]byte("PK\x05\x06")); ok {
		t.Error("a cut end record is read")
	}
	// A member that claims 1 GiB.
	data := bundle(t, "a_ct1.csv", ex)
	i := bytes.Index(data, []byte("PK\x01\x02"))
	binary.LittleEndian.PutUint32(data[i+24:], 1<<30)
	binary.LittleEndian.PutUint32(data[i+20:], 1<<29) // and packed bytes to match: past the end
	_, _, err := ReadZip(data, "x_ct1.zip", Options{})
	if err == nil || !strings.Contains(err.Error(), "1073741824") {
		t.Error(err)
	}
	// The extra field of zip64.
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.CreateHeader(&zip.FileHeader{Name: "a_ct1.csv", Method: zip.Deflate,
		Extra: []byte{9, 0, 1, 0, 7, 1, 0, 0, 0}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.Write([]byte(ex)); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	casts, found, err := ReadZip(b.Bytes(), "x_ct1.zip", Options{})
	if err != nil || len(casts) != 1 || !strings.Contains(describe(found, nil), "[exchange.zip64]") {
		t.Errorf("%d casts, %v, %s", len(casts), err, describe(found, nil))
	}
}

// A broken archive, member or file is one input with its error: the others are read, and it can be left out by its
// name.
func TestOneBadInputLeavesTheOthers(t *testing.T) {
	ex := example(t)
	dir := t.TempDir()
	write(t, dir, map[string]string{"a_ct1.csv": ex, "b_ct1.zip": "PK\x03\x04 nothing", "c_ct1.csv": "",
		"gone_ct1.csv": ex, "large_ct1.csv": ""})
	if err := os.Truncate(filepath.Join(dir, "large_ct1.csv"), maxFile+1); err != nil {
		t.Fatal(err)
	}
	l, err := List(dir, []Source{{Path: "."}}, CTD, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(filepath.Join(dir, "gone_ct1.csv")); err != nil {
		t.Fatal(err)
	}
	var r Reader
	var b strings.Builder
	for i := range l.Inputs {
		casts, found, err := r.Casts(&l.Inputs[i])
		fmt.Fprintf(&b, "== %s: %d\n%s", l.Inputs[i].Name, len(casts), describe(found, err))
	}
	golden.Check(t, "bad_inputs.txt", []byte(b.String()))
}

// Reading a second file leaves what was read from the first alone.
func TestReaderReusesItsMemory(t *testing.T) {
	dir := t.TempDir()
	ex := example(t)
	write(t, dir, map[string]string{"a_ct1.csv": ex, "b_ct1.csv": strings.Replace(ex, "19.1840", "18.1840", 1)})
	l, err := List(dir, []Source{{Path: "*.csv"}}, CTD, nil)
	if err != nil {
		t.Fatal(err)
	}
	var r Reader
	a, _, err := r.Casts(&l.Inputs[0])
	if err != nil {
		t.Fatal(err)
	}
	was := &r.buf[0]
	if _, _, err = r.Casts(&l.Inputs[1]); err != nil || &r.buf[0] != was {
		t.Errorf("the second file is read into other memory: %v", err)
	}
	if v := a[0].Column("temp").Values[0]; v != 19.184 || a[0].Comments[0].Text[:10] != "# REPORTED" ||
		a[0].Stamp != "20130709ODF" {
		t.Error("the first cast changed with the second file")
	}
}

// A pattern that leads out of the folder gives names that do too, as a folder there does.
func TestPatternOutOfTheFolder(t *testing.T) {
	dir := t.TempDir()
	for _, d := range []string{"casts", "cruise"} {
		if err := os.Mkdir(filepath.Join(dir, d), 0o700); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "casts", "a_ct1.csv"), []byte("CTD,20260101ZZZ\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"../casts", "../casts/*_ct1.csv", "../ca*/a_ct1.csv"} {
		l, err := List(filepath.Join(dir, "cruise"), []Source{{Path: path}}, CTD, nil)
		if err != nil || len(l.Inputs) != 1 || l.Inputs[0].Name != "../casts/a_ct1.csv" {
			t.Errorf("%s: %+v, %v", path, l, err)
		}
	}
}
