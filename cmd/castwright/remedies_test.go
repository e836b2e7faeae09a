package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/urfave/cli/v2"
)

// A text of the program that asks a person to run castwright names a command that is there, with an option that it
// has.
func TestTextsNameCommandsThatExist(t *testing.T) {
	app := newApp(&ui{in: strings.NewReader(""), out: io.Discard, err: io.Discard})
	command := regexp.MustCompile(`castwright ([a-z]+)(?: (--[a-z]+))?`)
	prose := []string{"made", "says", // "which castwright made" is no command
		"castwright"} // nor is "compdef _castwright castwright"
	seen := 0
	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, path, nil, 0)
		if err != nil {
			return nil // a file that does not parse is the compiler's business
		}
		ast.Inspect(file, func(n ast.Node) bool {
			lit, ok := n.(*ast.BasicLit)
			if !ok || lit.Kind != token.STRING {
				return true
			}
			for _, m := range command.FindAllStringSubmatch(lit.Value, -1) {
				if slices.Contains(prose, m[1]) {
					continue
				}
				seen++
				c := app.Command(m[1])
				switch {
				case c == nil:
					t.Errorf("%s: no command %s: %s", set.Position(lit.Pos()), m[1], lit.Value)
				case m[2] != "" && m[2] != "--help" && // every command has that
					!slices.ContainsFunc(c.Flags,
						func(f cli.Flag) bool { return slices.Contains(f.Names(), m[2][2:]) }):
					t.Errorf("%s: %s has no option %s: %s", set.Position(lit.Pos()), m[1], m[2], lit.Value)
				}
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 20 {
		t.Errorf("%d texts that name a command", seen)
	}
}
