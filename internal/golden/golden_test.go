package golden

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A recorder takes the place of the test that calls Check, so that a failure can be looked at.
type recorder struct {
	testing.TB
	errors, fatal []string
}

func (r *recorder) Helper()                   {}
func (r *recorder) Logf(string, ...any)       {}
func (r *recorder) Errorf(f string, a ...any) { r.errors = append(r.errors, fmt.Sprintf(f, a...)) }
func (r *recorder) Fatal(a ...any)            { r.fatal = append(r.fatal, fmt.Sprint(a...)); panic(r) }
func (r *recorder) Fatalf(f string, a ...any) { r.Fatal(fmt.Sprintf(f, a...)) }
func (r *recorder) check(name string, b string) {
	defer func() { _ = recover() }()
	Check(r, name, []byte(b))
}

// inFolder runs f with -update set to on, in an empty working folder.
func inFolder(t *testing.T, on bool) {
	t.Helper()
	t.Chdir(t.TempDir())
	was := *update
	*update = on
	t.Cleanup(func() { *update = was })
}

func TestUpdateThenCompare(t *testing.T) {
	inFolder(t, true)
	var r recorder
	r.check("deep/er/a.txt", "one\ntwo\n")
	if b, err := os.ReadFile(filepath.Join("testdata", "deep", "er", "a.txt")); err != nil ||
		string(b) != "one\ntwo\n" {
		t.Fatalf("-update wrote %q, %v", b, err)
	}
	*update = false
	r.check("deep/er/a.txt", "one\ntwo\n")
	if len(r.errors)+len(r.fatal) != 0 {
		t.Fatalf("equal bytes reported: %q %q", r.errors, r.fatal)
	}
	r.check("deep/er/a.txt", "one\nTWO\n")
	if len(r.errors) != 1 || !strings.Contains(r.errors[0], "  one\n- two\n+ TWO\n") {
		t.Fatalf("difference reported as %q", r.errors)
	}
}

func TestMissingFileFails(t *testing.T) {
	inFolder(t, false)
	var r recorder
	r.check("none.txt", "x")
	if len(r.errors) != 1 || !strings.Contains(r.errors[0], "-update") {
		t.Fatalf("missing file reported as %q", r.errors)
	}
}

func TestNameOutsideTestdata(t *testing.T) {
	inFolder(t, true)
	for _, name := range []string{"../a", "/a", "a/../../b", "", "."} {
		var r recorder
		r.check(name, "x")
		if len(r.fatal) != 1 {
			t.Errorf("%q: accepted", name)
		}
	}
}

func TestUnreadableFolder(t *testing.T) {
	inFolder(t, false)
	if err := os.MkdirAll(filepath.Join("testdata", "d"), 0o755); err != nil {
		t.Fatal(err)
	}
	var r recorder
	r.check("d", "x") // a folder where the file should be
	if len(r.fatal) != 1 {
		t.Errorf("a folder in the place of the file: %q %q", r.errors, r.fatal)
	}
}

func TestDiff(t *testing.T) {
	long := strings.Repeat("same\n", 3000)
	other := strings.Repeat("other\n", 3000)
	for _, c := range []struct {
		name, want, got, has string
	}{
		{"blank at the end", "a\n", "a \n", "- a\n+ a·\n"},
		{"carriage return", "a\n", "a\r\n", "- a\n+ a␍\n"},
		{"no last line feed", "a\n", "a", "- a\n+ a (no line feed at the end)\n"},
		{"inserted", "a\nb\nc\nd\n", "a\nb\nx\nc\nd\n", "@@ line 1 @@\n  a\n  b\n+ x\n  c\n  d\n"},
		{"removed and changed", "a\nb\nc\nd\ne\n", "a\nc\nD\ne\n", "  a\n- b\n  c\n- d\n+ D\n  e\n"},
		{"line number", long + "a\n", long + "b\n", "@@ line 2999 @@\n  same\n  same\n- a\n+ b\n"},
		{"too many lines", long, other, "more lines"},
		{"emptied", "a\n", "", "- a\n"},
		{"bytes", "ab\xff\x00", "ab\xff\x01", "first difference at byte 3\n- 00\n+ 01\n"},
		{"bytes cut", "\xff\x00", "\xff", "2 bytes in the file, 1 bytes now; first difference at byte 1"},
	} {
		if d := diff([]byte(c.want), []byte(c.got)); !strings.Contains(d, c.has) {
			t.Errorf("%s:\n%s\nlacks\n%s", c.name, d, c.has)
		} else if n := strings.Count(d, "\n"); n > shownLines+2 {
			t.Errorf("%s: diff of %d lines", c.name, n)
		}
	}
}
