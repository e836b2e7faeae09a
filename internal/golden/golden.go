// Package golden compares what a test made with a file that a person has read and accepted.
// It is imported by tests only: it adds the flag -update, which rewrites the files. Read the rewritten files as a diff
// before committing.
//
//	golden.Check(t, "broken/no-end-data.txt", []byte(err.Error()+"\n"))
package golden

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"
)

var update = flag.Bool("update", false, "rewrite the golden files under testdata with what the tests made")

// Check compares got with testdata/name of the package under test, byte for byte, and reports the difference as an
// error of t. name uses slashes and stays inside testdata. With -update it writes the file instead; a file that is
// already right is not touched.
func Check(t testing.TB, name string, got []byte) {
	t.Helper()
	if !fs.ValidPath(name) || name == "." {
		t.Fatalf("golden: %q does not name a file inside testdata", name)
	}
	file := filepath.Join("testdata", filepath.FromSlash(name))
	want, err := os.ReadFile(file)
	if err == nil && bytes.Equal(want, got) {
		return
	}
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
		t.Logf("golden: wrote %s", file)
		return
	}
	if errors.Is(err, fs.ErrNotExist) {
		t.Errorf("golden: %s does not exist; run the test with -update and read what it writes", file)
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Errorf("golden: %s differs (- file, + this run; -update rewrites it)\n%s", file, diff(want, got))
}

const (
	shownLines = 60      // a longer diff is cut
	lcsCells   = 4000000 // largest table of the line comparison
	context    = 2       // equal lines shown around a change
)

// diff describes how got differs from want: line by line for text, else by the first byte that differs.
func diff(want, got []byte) string {
	if !utf8.Valid(want) || !utf8.Valid(got) {
		i := 0
		for i < len(want) && i < len(got) && want[i] == got[i] {
			i++
		}
		return fmt.Sprintf("not text: %d bytes in the file, %d bytes now; first difference at byte %d\n- % x\n+ % x\n",
			len(want), len(got), i, window(want, i), window(got, i))
	}
	a, b := splitLines(want), splitLines(got)
	var out []string
	// Equal ends are set aside first, which leaves the table below small for the usual change of a few lines.
	head := 0
	for head < len(a) && head < len(b) && a[head] == b[head] {
		head++
	}
	tail := 0
	for tail < len(a)-head && tail < len(b)-head && a[len(a)-1-tail] == b[len(b)-1-tail] {
		tail++
	}
	from := max(0, head-context)
	out = append(out, fmt.Sprintf("@@ line %d @@", from+1))
	for _, s := range a[from:head] {
		out = append(out, "  "+show(s))
	}
	out = append(out, changes(a[head:len(a)-tail], b[head:len(b)-tail])...)
	for _, s := range a[len(a)-tail : min(len(a), len(a)-tail+context)] {
		out = append(out, "  "+show(s))
	}
	if n := len(out); n > shownLines {
		out = append(out[:shownLines], fmt.Sprintf("... %d more lines", n-shownLines))
	}
	return strings.Join(out, "\n") + "\n"
}

// changes lists the lines of a and b in a longest common order: "- " only in a, "+ " only in b, "  " in both.
func changes(a, b []string) []string {
	var out []string
	if len(a)*len(b) > lcsCells {
		for i := 0; i < max(len(a), len(b)) && len(out) <= shownLines; i++ {
			if i < len(a) {
				out = append(out, "- "+show(a[i]))
			}
			if i < len(b) {
				out = append(out, "+ "+show(b[i]))
			}
		}
		return out
	}
	w := len(b) + 1
	lcs := make([]int32, (len(a)+1)*w) // lcs[i*w+j]: common lines of a[i:] and b[j:]
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			if a[i] == b[j] {
				lcs[i*w+j] = lcs[(i+1)*w+j+1] + 1
			} else {
				lcs[i*w+j] = max(lcs[(i+1)*w+j], lcs[i*w+j+1])
			}
		}
	}
	i, j := 0, 0
	for i < len(a) || j < len(b) {
		switch {
		case i < len(a) && j < len(b) && a[i] == b[j]:
			out = append(out, "  "+show(a[i]))
			i++
			j++
		case j == len(b) || i < len(a) && lcs[(i+1)*w+j] >= lcs[i*w+j+1]:
			out = append(out, "- "+show(a[i]))
			i++
		default:
			out = append(out, "+ "+show(b[j]))
			j++
		}
	}
	return out
}

// splitLines cuts text after each line feed; the line feeds stay, so that a missing last one is a difference.
func splitLines(text []byte) []string {
	s := strings.SplitAfter(string(text), "\n")
	if s[len(s)-1] == "" {
		s = s[:len(s)-1]
	}
	return s
}

// show makes visible what a terminal hides: blanks at the end, carriage returns, a missing last line feed.
func show(line string) string {
	body, ended := strings.CutSuffix(line, "\n")
	trimmed := strings.TrimRight(body, " \t\r")
	if hidden := body[len(trimmed):]; hidden != "" {
		body = trimmed + strings.NewReplacer(" ", "·", "\t", "→", "\r", "␍").Replace(hidden)
	}
	if !ended {
		body += " (no line feed at the end)"
	}
	return body
}

// window returns up to 16 bytes of b from position i on.
func window(b []byte, i int) []byte {
	return b[min(i, len(b)):min(i+16, len(b))]
}
