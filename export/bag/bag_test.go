package bag

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/castwright/castwright/internal/golden"
)

// info is invented.
var info = []Field{{"Source-Organization", "Institute of Invented Seas"}, {"Bagging-Date", "2024-05-02"},
	{"External-Identifier", "demo"}}

// makeBag writes files (path to content) into a new folder and makes it a bag.
func makeBag(t testing.TB, files map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	fill(t, dir, files)
	if err := Write(context.Background(), dir, info); err != nil {
		t.Fatal(err)
	}
	return dir
}

func fill(t testing.TB, dir string, files map[string]string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Join(dir, "data"), 0o755); err != nil {
		t.Fatal(err)
	}
	for path, content := range files {
		p := filepath.Join(dir, filepath.FromSlash(path))
		if err := errors.Join(os.MkdirAll(filepath.Dir(p), 0o755),
			os.WriteFile(p, []byte(content), 0o644)); err != nil {
			t.Fatal(err)
		}
	}
}

var demo = map[string]string{
	"data/casts/one.csv": "1,2\n", "data/casts/two.csv": "", "data/index.html": "<p>abc</p>",
	"data/100%/a b.txt": "blank and percent", "data/line\nfeed": "x", "data/return\r": "y", "data/ärger": "z",
	"data/%0A":          "w",
	"notes/read me.txt": "a tag file",
}

func checkBag(t testing.TB, dir string) *Report {
	t.Helper()
	r, err := Check(context.Background(), dir)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func show(faults []Fault) string {
	var b strings.Builder
	for _, f := range faults {
		fmt.Fprintln(&b, f)
	}
	return b.String()
}

// The goldens hold checksums: that of nothing (data/casts/two.csv) is the vector of length 0 of NIST's short-message
// vectors for SHA; for the others TestSystemPrograms asks sha256sum and sha512sum.
func TestWriteGolden(t *testing.T) {
	dir := makeBag(t, demo)
	for _, name := range []string{"bagit.txt", "bag-info.txt", "manifest-sha256.txt", "manifest-sha512.txt",
		"tagmanifest-sha256.txt",
		"tagmanifest-sha512.txt"} {
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		golden.Check(t, "demo/"+name, b)
	}
	r := checkBag(t, dir)
	if len(r.Faults) != 0 {
		t.Errorf("an untouched bag is accused:\n%s", show(r.Faults))
	}
	if r.Payload != 8 || r.Bytes != 35 || len(r.Files) != 15 {
		t.Errorf("payload of %d files, %d bytes; %d files", r.Payload, r.Bytes, len(r.Files))
	}
	if v, ok := Value(r.Info, "payload-oxum"); !ok || v != "35.8" {
		t.Errorf("Payload-Oxum %q", v)
	}
	if v, ok := Value(r.Info, "Bag-Count"); ok {
		t.Errorf("a value %q that is not there", v)
	}
	got, err := ReadInfo(dir)
	if err != nil || !slices.Equal(got, append(slices.Clone(info), Field{"Payload-Oxum", "35.8"})) {
		t.Errorf("ReadInfo: %v, %v", got, err)
	}
}

// SHA-256 of "abc": FIPS 180-4, example of SHA-256, one block message.
func TestReportHasChecksums(t *testing.T) {
	r := checkBag(t, makeBag(t, map[string]string{"data/abc": "abc"}))
	for _, f := range r.Files {
		if f.Path == "data/abc" {
			if s := fmt.Sprintf("%x",
				f.SHA256); s != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" || f.Bytes != 3 {
				t.Errorf("SHA-256 %s of %d bytes", s, f.Bytes)
			}
			return
		}
	}
	t.Error("data/abc is not in the report")
}

// One worker or eight, in whatever order the files were made: the same bytes.
func TestSameBytes(t *testing.T) {
	files := map[string]string{}
	for i := range 200 {
		files[fmt.Sprintf("data/%d/%d", i%7, i)] = strings.Repeat("x", i*37)
	}
	tree := func(dir string) string {
		var b strings.Builder
		err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			text, err := os.ReadFile(p)
			rel, _ := filepath.Rel(dir, p)
			fmt.Fprintf(&b, "%s\n%s\n", rel, text)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	var first string
	for _, n := range []int{1, 8, 8} {
		was := runtime.GOMAXPROCS(n)
		dir := makeBag(t, files)
		runtime.GOMAXPROCS(was)
		if got := tree(dir); first == "" {
			first = got
		} else if got != first {
			t.Errorf("%d workers: other bytes", n)
		}
	}
}

// Anyone can check the bag without us.
func TestSystemPrograms(t *testing.T) {
	files := map[string]string{}
	for path, content := range demo {
		if !strings.ContainsAny(path, "%\r\n") { // sha256sum does not decode these
			files[path] = content
		}
	}
	files[`data/back\slash "quoted" 'x'`] = "odd"
	files["data/-"] = "odd"
	dir := makeBag(t, files)
	for _, sum := range []string{"sha256", "sha512"} {
		for _, list := range []string{"manifest-", "tagmanifest-"} {
			cmd := exec.Command(sum+"sum", "--strict", "--check", "--quiet", list+sum+".txt")
			cmd.Dir = dir
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Errorf("%s: %v\n%s", cmd, err, out)
			}
		}
	}
}

func TestWriteRefuses(t *testing.T) {
	date := Field{"Bagging-Date", "2024-05-02"}
	for _, c := range []struct {
		name  string
		files map[string]string
		info  []Field
		want  error
		says  string
	}{
		{"a bag already", map[string]string{"bagit.txt": ""}, info, ErrNotBaggable, "bagit.txt"},
		{"a manifest", map[string]string{"manifest-md5.txt": ""}, info, ErrNotBaggable, "manifest-md5.txt"},
		{"a fetch list", map[string]string{"fetch.txt": ""}, info, ErrNotBaggable, "fetch.txt"},
		{"no UTF-8", map[string]string{"data/\xff": ""}, info, ErrNotBaggable, "UTF-8"},
		{"tilde", map[string]string{"~x": ""}, info, ErrNotBaggable, "~"},
		{"leading blank", map[string]string{" x": ""}, info, ErrNotBaggable, "blank"},
		{"no date", nil, nil, ErrInfo, "0 Bagging-Date"},
		{"two dates", nil, []Field{date, date}, ErrInfo, "2 Bagging-Date"},
		{"no such date", nil, []Field{{"Bagging-Date", "2024-02-30"}}, ErrInfo, "2024-02-30"},
		{"size given", nil, []Field{date, {"payload-oxum", "1.1"}}, ErrInfo, "counted"},
		{"colon in label", nil, []Field{date, {"a:b", "x"}}, ErrInfo, "a:b"},
		{"no label", nil, []Field{date, {"", "x"}}, ErrInfo, "label"},
		{"no value", nil, []Field{date, {"a", ""}}, ErrInfo, "empty"},
		{"line feed in value", nil, []Field{date, {"a", "x\ny"}}, ErrInfo, "line break"},
		{"blank before value", nil, []Field{date, {"a", " x"}}, ErrInfo, "blanks"},
		{"value not UTF-8", nil, []Field{date, {"a", "\xff"}}, ErrInfo, "UTF-8"},
	} {
		dir := t.TempDir()
		fill(t, dir, c.files)
		if err := Write(t.Context(), dir, c.info); !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	if err := Write(t.Context(), t.TempDir(), info); !errors.Is(err, ErrNotBaggable) {
		t.Errorf("no data folder: %v", err)
	}
	dir := t.TempDir()
	fill(t, dir, nil)
	if err := os.Symlink("/etc/hostname", filepath.Join(dir, "data", "link")); err != nil {
		t.Fatal(err)
	}
	if err := Write(t.Context(), dir, info); !errors.Is(err, ErrNotBaggable) ||
		!strings.Contains(err.Error(), "data/link: special: a symbolic link") {
		t.Errorf("link: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	dir = t.TempDir()
	fill(t, dir, demo)
	if err := Write(ctx, dir, info); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	if _, err := Check(ctx, makeBag(t, demo)); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// edit replaces the first old in a file of the bag by new.
func edit(t *testing.T, dir, file, old, new string) {
	t.Helper()
	p := filepath.Join(dir, file)
	b, err := os.ReadFile(p)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(b, []byte(old)) {
		t.Fatalf("%s has no %q", file, old)
	}
	if err := os.WriteFile(p, bytes.Replace(b, []byte(old), []byte(new), 1), 0o644); err != nil {
		t.Fatal(err)
	}
}

// seal writes the tag manifests of a bag anew, so that a case shows its own fault alone.
func seal(t *testing.T, dir string) {
	t.Helper()
	for _, a := range written {
		if err := os.Remove(filepath.Join(dir, "tagmanifest-"+a.name+".txt")); err != nil {
			t.Fatal(err)
		}
	}
	files, _, err := scan(dir)
	if err != nil {
		t.Fatal(err)
	}
	files = slices.DeleteFunc(files, func(f File) bool { return f.payload() })
	if err := writeManifests(t.Context(), dir, "tagmanifest-", files); err != nil {
		t.Fatal(err)
	}
}

const (
	zeros256 = "0000000000000000000000000000000000000000000000000000000000000000"
)

// Each case is one harm done to a bag; the golden holds all the faults that Check finds.
func TestFaults(t *testing.T) {
	must := func(t *testing.T, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		name string
		harm func(t *testing.T, dir string)
		seal bool
	}{
		{"payload changed", func(t *testing.T, d string) { edit(t, d, "data/index.html", "abc", "abd") }, true},
		{"payload missing", func(t *testing.T, d string) { must(t, os.Remove(filepath.Join(d, "data/index.html"))) },
			true},
		{"payload extra", func(t *testing.T, d string) { fill(t, d, map[string]string{"data/new": "n"}) }, true},
		{"payload emptied", func(t *testing.T, d string) { must(t, os.RemoveAll(filepath.Join(d, "data"))) }, true},
		{"data is a file", func(t *testing.T, d string) {
			must(t, os.RemoveAll(filepath.Join(d, "data")))
			must(t, os.WriteFile(filepath.Join(d, "data"), nil, 0o644))
		}, true},
		{"data is a link", func(t *testing.T, d string) {
			away := filepath.Join(t.TempDir(), "data")
			must(t, os.Rename(filepath.Join(d, "data"), away))
			must(t, os.Symlink(away, filepath.Join(d, "data")))
		}, true},
		{"tag file changed", func(t *testing.T, d string) { edit(t, d, "notes/read me.txt", "tag", "TAG") }, false},
		{"tag file extra", func(t *testing.T, d string) { fill(t, d, map[string]string{"lock": ""}) }, false},
		{"tag file missing", func(t *testing.T, d string) { must(t, os.RemoveAll(filepath.Join(d, "notes"))) }, false},
		{"one manifest wrong", func(t *testing.T, d string) {
			p := filepath.Join(d, "manifest-sha256.txt")
			b, err := os.ReadFile(p)
			must(t, err)
			must(t, os.WriteFile(p, append([]byte(zeros256), b[64:]...), 0o644))
		}, true},
		{"one manifest gone", func(t *testing.T, d string) {
			must(t, os.Remove(filepath.Join(d, "manifest-sha512.txt")))
		}, false},
		{"one manifest and its tag manifest gone", func(t *testing.T, d string) {
			must(t, os.Remove(filepath.Join(d, "manifest-sha512.txt")))
			must(t, os.Remove(filepath.Join(d, "tagmanifest-sha512.txt")))
		}, false},
		{"one tag manifest gone", func(t *testing.T, d string) {
			must(t, os.Remove(filepath.Join(d, "tagmanifest-sha256.txt")))
		}, false},
		{"all lists gone", func(t *testing.T, d string) {
			for _, n := range []string{"manifest-sha256.txt", "manifest-sha512.txt", "tagmanifest-sha256.txt",
				"tagmanifest-sha512.txt"} {
				must(t, os.Remove(filepath.Join(d, n)))
			}
		}, false},
		{"line missing", func(t *testing.T, d string) {
			b, err := os.ReadFile(filepath.Join(d, "manifest-sha256.txt"))
			must(t, err)
			_, rest, _ := bytes.Cut(b, []byte("\n"))
			must(t, os.WriteFile(filepath.Join(d, "manifest-sha256.txt"), rest, 0o644))
		}, true},
		{"unknown algorithm", func(t *testing.T, d string) {
			fill(t, d, map[string]string{"manifest-crc32.txt": "x", "tagmanifest-SHA256.txt": ""})
		}, true},
		{"lines malformed", func(t *testing.T, d string) {
			b, err := os.ReadFile(filepath.Join(d, "manifest-sha256.txt"))
			must(t, err)
			for _, line := range []string{"", "nonsense", "abc  data/x", zeros256[1:] + "g  data/x", zeros256 + "  ",
				zeros256, zeros256 + "  data/50%",
				zeros256 + "  data/%41", zeros256 + "  data/\xff", zeros256 + "  data/\x00", zeros256 + "  other",
				zeros256 + "  ./data/x",
				zeros256 + "  data//x", zeros256 + " *data/x", zeros256 + "  " + strings.Repeat("x", 300)} {
				b = append(b, line+"\n"...)
			}
			must(t, os.WriteFile(filepath.Join(d, "manifest-sha256.txt"), b, 0o644))
		}, true},
		{"paths escape", func(t *testing.T, d string) {
			edit(t, d, "manifest-sha256.txt", "data/index.html", "data/../../index.html\n"+zeros256+"  /etc/passwd\n"+
				zeros256+"  ~root/x\n"+
				zeros256+"  data/..")
		}, true},
		{"line twice", func(t *testing.T, d string) {
			b, err := os.ReadFile(filepath.Join(d, "manifest-sha512.txt"))
			must(t, err)
			line, _, _ := bytes.Cut(b, []byte("\n"))
			must(t, os.WriteFile(filepath.Join(d, "manifest-sha512.txt"), append(b, append(line, '\n')...), 0o644))
		}, true},
		{"tag manifest lists payload and itself", func(t *testing.T, d string) {
			edit(t, d, "tagmanifest-sha256.txt", "\n", "\n"+zeros256+"  data/index.html\n"+zeros256+
				"  tagmanifest-sha256.txt\n")
		}, false},
		{"other form", func(t *testing.T, d string) {
			for n, change := range map[string]func(string) string{
				"tagmanifest-sha256.txt": func(s string) string { return strings.ToUpper(s[:64]) + s[64:] },
				"tagmanifest-sha512.txt": func(s string) string { return strings.ReplaceAll(s, "  ", "\t") },
				"manifest-sha256.txt":    func(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") },
				"manifest-sha512.txt":    func(s string) string { return strings.TrimSuffix(s, "\n") },
			} {
				b, err := os.ReadFile(filepath.Join(d, n))
				must(t, err)
				must(t, os.WriteFile(filepath.Join(d, n), []byte(change(string(b))), 0o644))
			}
		}, false},
		{"not sorted", func(t *testing.T, d string) {
			b, err := os.ReadFile(filepath.Join(d, "tagmanifest-sha512.txt"))
			must(t, err)
			l := strings.SplitAfter(string(b), "\n")
			slices.Reverse(l)
			must(t, os.WriteFile(filepath.Join(d, "tagmanifest-sha512.txt"), []byte(strings.Join(l, "")), 0o644))
		}, false},
		{"size stated wrongly", func(t *testing.T, d string) { edit(t, d, "bag-info.txt", "35.8", "36.8") }, true},
		{"bag-info malformed", func(t *testing.T, d string) {
			edit(t, d, "bag-info.txt", "Source-Organization: ",
				"  continued\nno colon\n: no label\nTight:x\n\xff: x\nEmpty:\n  more\n\t\n\tand more\nSource-Organization: ")
			edit(t, d, "bag-info.txt", "2024-05-02", "2 May 2024")
			edit(t, d, "bag-info.txt", "Payload-Oxum", "payload-oxum: 35.8\nPayload-Oxum")
		}, true},
		{"bagit.txt missing", func(t *testing.T, d string) { must(t, os.Remove(filepath.Join(d, "bagit.txt"))) }, true},
		{"old version", func(t *testing.T, d string) { edit(t, d, "bagit.txt", "1.0", "0.97") }, true},
		{"other encoding", func(t *testing.T, d string) { edit(t, d, "bagit.txt", "UTF-8", "ISO-8859-1") }, true},
		{"declaration with mark and more", func(t *testing.T, d string) {
			edit(t, d, "bagit.txt", declaration, "\xEF\xBB\xBF"+declaration+"More: x\n")
		}, true},
		{"declaration nonsense", func(t *testing.T, d string) { edit(t, d, "bagit.txt", declaration, "x\n") }, true},
		{"declaration with CRLF", func(t *testing.T, d string) { edit(t, d, "bagit.txt", "1.0\n", "1.0\r\n") }, true},
		{"links and pipes", func(t *testing.T, d string) {
			must(t, os.Symlink("index.html", filepath.Join(d, "data", "link")))
			must(t, os.Remove(filepath.Join(d, "data/casts/one.csv")))
			must(t, os.Symlink("two.csv", filepath.Join(d, "data/casts/one.csv")))
			must(t, syscall.Mkfifo(filepath.Join(d, "pipe"), 0o644))
		}, true},
		{"many at once", func(t *testing.T, d string) {
			edit(t, d, "data/index.html", "abc", "abcd")
			must(t, os.Remove(filepath.Join(d, "data/ärger")))
			fill(t, d, map[string]string{"data/bad\xffname": "n", "data/two\nlines": "n"})
			edit(t, d, "manifest-sha512.txt", "data/casts/two.csv", "data/casts/three.csv")
			edit(t, d, "bagit.txt", "1.0", "1.1")
		}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := makeBag(t, demo)
			c.harm(t, dir)
			if c.seal {
				seal(t, dir)
			}
			r := checkBag(t, dir)
			if len(r.Faults) == 0 {
				t.Error("nothing found")
			}
			golden.Check(t, "faults/"+strings.ReplaceAll(c.name, " ", "-")+".txt", []byte(show(r.Faults)))
		})
	}
}

func TestCheckIsNoBag(t *testing.T) {
	dir := t.TempDir()
	if _, err := Check(t.Context(), filepath.Join(dir, "none")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("missing folder: %v", err)
	}
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Check(t.Context(), file); err == nil {
		t.Error("a file is accepted as a folder")
	}
	for _, f := range checkBag(t, t.TempDir()).Faults {
		if f.Kind != Missing {
			t.Errorf("an empty folder: %s", f)
		}
	}
	if _, err := ReadInfo(dir); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("ReadInfo: %v", err)
	}
	bag := makeBag(t, demo)
	link := filepath.Join(dir, "link")
	if err := os.Symlink(bag, link); err != nil {
		t.Fatal(err)
	}
	if r := checkBag(t, link); len(r.Faults) != 0 || len(r.Files) == 0 {
		t.Errorf("by a link: %v", r)
	}
	edit(t, bag, "bag-info.txt", "Source-Organization:", "Source-Organization")
	if _, err := ReadInfo(bag); err == nil {
		t.Error("ReadInfo accepts a malformed file")
	}
	edit(t, bag, "bagit.txt", "1.0", "9.9")
	if _, err := ReadInfo(bag); err == nil {
		t.Error("ReadInfo accepts a bag of version 9.9")
	}
}

// A list larger than any honest one is not taken into memory.
func TestHugeList(t *testing.T) {
	dir := makeBag(t, map[string]string{"data/a": "a"})
	if err := os.Truncate(filepath.Join(dir, "tagmanifest-sha512.txt"), largest+1); err != nil {
		t.Fatal(err)
	}
	if r := checkBag(t, dir); len(r.Faults) != 1 || r.Faults[0].Kind != Malformed {
		t.Errorf("%s", show(r.Faults))
	}
}

// Bags of other makers: one manifest of an old algorithm is read, and tag files that no tag manifest lists are
// our only complaint. The MD5 of "abc" is from RFC 1321 section A.5, the SHA-1 from RFC 3174 section 7.3 (FIPS 180-4
// examples).
func TestOldAlgorithms(t *testing.T) {
	dir := t.TempDir()
	fill(t, dir, map[string]string{
		"bagit.txt": declaration, "data/abc": "abc",
		"manifest-md5.txt":  "900150983cd24fb0d6963f7d28e17f72  data/abc\n",
		"manifest-sha1.txt": "a9993e364706816aba3e25717850c26c9cd0d89d  data/abc\n",
	})
	got := show(checkBag(t, dir).Faults)
	if strings.Count(got, "\n") != 2 || strings.Count(got, "no checksum covers") != 2 {
		t.Errorf("faults:\n%s", got)
	}
	edit(t, dir, "data/abc", "c", "d")
	if got := show(checkBag(t, dir).Faults); !strings.Contains(got,
		"data/abc: changed: differs from the checksum in manifest-md5.txt:1, manifest-sha1.txt:1") {
		t.Errorf("faults:\n%s", got)
	}
}

// A random bag is never accused, and a random harm to it is always found.
func TestRandomHarm(t *testing.T) {
	const bags = 100
	for seed := range uint64(bags) {
		r := rand.New(rand.NewPCG(seed, 8493))
		files := map[string]string{}
		letters := []rune("ab%\n\r é\t'\"\\*~.-_漢")
		for range 1 + r.IntN(8) {
			name := "data/"
			for range r.IntN(3) {
				name += fmt.Sprintf("d%d/", r.IntN(2))
			}
			name += "f" // no random name is "." or ".." or a folder's
			for range 1 + r.IntN(6) {
				name += string(letters[r.IntN(len(letters))])
			}
			content := make([]byte, r.IntN(300))
			for i := range content {
				content[i] = byte(r.Uint32())
			}
			files[name] = string(content)
		}
		if r.IntN(2) == 0 {
			files["tags/note.txt"] = "note"
		}
		dir := makeBag(t, files)
		if rep := checkBag(t, dir); len(rep.Faults) != 0 {
			t.Fatalf("seed %d: an untouched bag is accused:\n%s", seed, show(rep.Faults))
		}
		what := harm(t, dir, r)
		if rep := checkBag(t, dir); len(rep.Faults) == 0 {
			t.Errorf("seed %d: not found: %s", seed, what)
		}
	}
}

// harm does one random harm to the bag and says which.
func harm(t *testing.T, dir string, r *rand.Rand) string {
	t.Helper()
	files, _, err := scan(dir)
	if err != nil {
		t.Fatal(err)
	}
	f := files[r.IntN(len(files))]
	p := filepath.Join(dir, filepath.FromSlash(f.Path))
	b, err := os.ReadFile(p)
	if err != nil {
		t.Fatal(err)
	}
	was := string(b)
	what := ""
	switch r.IntN(7) {
	case 0:
		what, err = "removed", os.Remove(p)
	case 1:
		what, err = "renamed", os.Rename(p, p+"x")
	case 2:
		what, err = "copied", os.WriteFile(filepath.Join(filepath.Dir(p), "copy"), b, 0o644)
	case 3:
		what, err = "replaced by a link", errors.Join(os.Rename(p, filepath.Join(t.TempDir(), "x")), os.Symlink("x", p))
	case 4:
		b = append(b, byte(r.Uint32()))
		what, err = "grown", os.WriteFile(p, b, 0o644)
	case 5:
		if len(b) > 0 {
			b = b[:r.IntN(len(b))]
			what, err = "cut", os.WriteFile(p, b, 0o644)
			break
		}
		fallthrough
	default:
		if len(b) == 0 {
			b = []byte{0}
		} else {
			b[r.IntN(len(b))] ^= byte(1 << r.IntN(8))
		}
		what, err = "one bit", os.WriteFile(p, b, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%s: %s: %q then %q", f.Path, what, was, b)
}

func TestKindWords(t *testing.T) {
	seen := map[string]bool{}
	for k := Missing; k <= Unlisted; k++ {
		b, err := k.MarshalText()
		if err != nil || string(b) == "unknown" || seen[string(b)] {
			t.Errorf("kind %d is %q", k, b)
		}
		seen[string(b)] = true
	}
	if (Unlisted + 1).String() != "unknown" {
		t.Error("a word for no kind")
	}
}
