package layout

import (
	"go/ast"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// figurative are words that are figures of speech where this project would use them; each has a plainer word.
var figurative = regexp.MustCompile(
	`(?i)\b(vouch|vouches|mend|mended|stranger|strangers|stands|tells|knows|room|rooms)\b`)

// TestPlainWords fails where a text that a person reads has one of these words: string literals of the program, which
// are its help, messages and attributes, comments, and the documents.
func TestPlainWords(t *testing.T) {
	texts := 0
	read := func(file string, line int, text string) {
		texts++
		if w := figurative.FindString(text); w != "" {
			t.Errorf("%s:%d: %q: use a plain word", file, line, w)
		}
	}
	for _, s := range sources(t, 0) {
		if s.test {
			continue
		}
		ast.Inspect(s.syntax, func(n ast.Node) bool {
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
				read(s.file, s.fset.Position(lit.Pos()).Line, lit.Value)
			}
			return true
		})
		for _, g := range s.syntax.Comments {
			for _, c := range g.List {
				read(s.file, s.fset.Position(c.Pos()).Line, c.Text)
			}
		}
	}
	for _, name := range []string{"README.md", "DEVELOPERS.md", "CHANGELOG.md", "NOTICE", "CITATION.cff", "Makefile",
		"testdata/README.md"} {
		b, err := os.ReadFile(filepath.Join(root(t), filepath.FromSlash(name)))
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(string(b), "\n") {
			read(name, i+1, line)
		}
	}
	if texts < 20000 {
		t.Errorf("only %d texts read", texts)
	}
}
