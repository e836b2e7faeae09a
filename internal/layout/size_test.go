package layout

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/scanner"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"
)

const (
	fileLines     = 500 // of non-test Go
	functionLines = 80  // of non-test Go
	lineColumns   = 120 // of all Go; a tab counts 4
)

// tables are files that hold little but a table of published coefficients or names; their length is that of the table.
var tables = regexp.MustCompile(`(^|/)(coef_[a-z0-9_]+|variable_table|parameter_table)\.go$`)

// generated matches the first line of a generated file, as the go command does.
var generated = regexp.MustCompile(`(?m)^// Code generated .* DO NOT EDIT\.$`)

// TestSize fails on a file above 500 lines, a function above 80 lines or a line above 120 columns.
func TestSize(t *testing.T) {
	top := root(t)
	files := 0
	err := filepath.WalkDir(top, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(top, p)
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == ".git" || slices.Contains(built, filepath.ToSlash(rel))) {
			return filepath.SkipDir
		}
		if d.IsDir() || filepath.Ext(p) != ".go" {
			return nil
		}
		b, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		if generated.Match(b) {
			return nil
		}
		files++
		for _, fault := range sizeFaults(filepath.ToSlash(rel), b) {
			t.Error(fault)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 100 {
		t.Errorf("only %d files read", files)
	}
}

// sizeFaults returns what is too long in the Go source b of the file named rel.
func sizeFaults(rel string, b []byte) []string {
	var faults []string
	fault := func(line int, format string, args ...any) {
		faults = append(faults, fmt.Sprintf("%s:%d: ", rel, line)+fmt.Sprintf(format, args...))
	}
	fset := token.NewFileSet()
	f, err := parser.ParseFile(fset, rel, b, parser.ParseComments)
	if err != nil {
		return []string{err.Error()}
	}
	if !strings.HasSuffix(rel, "_test.go") && !tables.MatchString(rel) {
		if n := bytes.Count(b, []byte("\n")); n > fileLines {
			fault(n, "%d lines, more than %d: split the file by subject", n, fileLines)
		}
		for _, decl := range f.Decls {
			fn, ok := decl.(*ast.FuncDecl)
			if !ok {
				continue
			}
			first, last := fset.Position(fn.Pos()).Line, fset.Position(fn.End()).Line
			if n := last - first + 1; n > functionLines {
				fault(first, "%s has %d lines, more than %d: split it", fn.Name.Name, n, functionLines)
			}
		}
	}
	single := singleLiterals(b)
	for i, line := range strings.Split(string(b), "\n") {
		if n := utf8.RuneCountInString(line) + 3*strings.Count(line, "\t"); n > lineColumns && !single[i+1] {
			fault(i+1, "%d columns, more than %d", n, lineColumns)
		}
	}
	return faults
}

// singleLiterals returns the numbers of the lines that cannot be broken: those inside a raw string of several lines,
// and those that hold one string or import path that is too long by itself, with at most a name before it and
// punctuation around it.
func singleLiterals(b []byte) map[int]bool {
	type line struct{ strings, others int }
	lines, out := map[int]*line{}, map[int]bool{}
	fset := token.NewFileSet()
	file := fset.AddFile("", -1, len(b))
	var s scanner.Scanner
	s.Init(file, b, nil, 0)
	for {
		pos, tok, lit := s.Scan()
		if tok == token.EOF {
			break
		}
		n := file.Line(pos)
		if lines[n] == nil {
			lines[n] = &line{}
		}
		switch {
		case tok == token.STRING:
			lines[n].strings++
			for k := range strings.Count(lit, "\n") + 1 {
				if strings.Contains(lit, "\n") {
					out[n+k] = true
				}
			}
		case tok == token.RETURN || tok == token.CONST || tok == token.VAR:
		case tok == token.IDENT || tok.IsLiteral() || tok.IsKeyword():
			lines[n].others++
		}
	}
	for n, l := range lines {
		if l.strings == 1 && l.others <= 2 {
			out[n] = true
		}
	}
	return out
}

func TestSizeFaultsAreFound(t *testing.T) {
	long := strings.Repeat("x", 130)
	for _, c := range []struct {
		name, file, source string
		want               int
	}{
		{"short", "a.go", "package a\n", 0},
		{"long file", "a.go", "package a\n" + strings.Repeat("\n", 500), 1},
		{"long test file", "a_test.go", "package a\n" + strings.Repeat("\n", 500), 0},
		{"long table", "coef_a.go", "package a\n" + strings.Repeat("\n", 500), 0},
		{"file of 500 lines", "a.go", "package a\n" + strings.Repeat("\n", 499), 0},
		{"function of 80 lines", "a.go", "package a\nfunc f() {\n" + strings.Repeat("\n", 78) + "}\n", 0},
		{"function of 81 lines", "a.go", "package a\nfunc f() {\n" + strings.Repeat("\n", 79) + "}\n", 1},
		{"long comment", "a_test.go", "package a\n// " + long + "\n", 1},
		{"tabs", "a.go", "package a\n" + strings.Repeat("\t", 29) + "// 456\n", 1},
		{"single literal", "a.go", "package a\nconst c = \"" + long + "\"\n", 0},
		{"literal among others", "a.go", "package a\nvar c = f(a, b, \"" + long + "\")\n", 1},
		{"raw string", "a.go", "package a\nconst c = `\n" + long + "\n`\n", 0},
	} {
		if got := sizeFaults(c.file, []byte(c.source)); len(got) != c.want {
			t.Errorf("%s: %d faults, want %d: %v", c.name, len(got), c.want, got)
		}
	}
}
