package layout

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"go/parser"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"sort"
	"strings"
	"testing"
	"unicode/utf8"
)

// What others made and this project carries has an entry in NOTICE: a paragraph of lines "Label: value", continued by
// lines that begin with a blank. Every label below is needed; "Licence-text" (a file beside it) is added when the
// licence asks for its text.
//
//	File: section/seawater/atlas/anomaly.z
//	What: …
//	Made-by: …
//	Published: …
//	Version: … and date
//	Licence: an SPDX identifier, or "public domain" with the source of that statement
//	SHA-256: 64 hexadecimal digits
//	Changed: what we did to it; "nothing"
var labels = []string{"File", "What", "Made-by", "Published", "Version", "Licence", "SHA-256", "Changed"}

// theirs are the names of folders that hold such files; programs that made our form of them stay beside them.
var theirs = []string{"data", "atlas", "coast", "schema", "schemas", "fonts"}

// byUs are endings of what lies beside them and is ours: programs, words, what go test leaves.
var byUs = []string{".go", ".py", ".md", ".test", ".prof"}

// embeddedByUs are the endings of embedded files that we write ourselves; any other embedded file needs an entry.
var embeddedByUs = []string{".html", ".css", ".js", ".tmpl", ".txt", ".md", ".yaml", ".csv"}

type entry map[string]string

// parseNotice reads the entries of NOTICE.
func parseNotice(text string) (map[string]entry, error) {
	out := map[string]entry{}
	for _, paragraph := range strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n\n") {
		lines := strings.Split(strings.Trim(paragraph, "\n"), "\n")
		if !strings.HasPrefix(lines[0], "File: ") {
			continue // words around the entries
		}
		e := entry{}
		last := ""
		for _, line := range lines {
			if strings.HasPrefix(line, " ") {
				e[last] += " " + strings.TrimSpace(line)
				continue
			}
			label, value, ok := strings.Cut(line, ": ")
			if !ok || e[label] != "" {
				return nil, fmt.Errorf("NOTICE: %q is not one \"Label: value\" of its entry", line)
			}
			e[label], last = value, label
		}
		for _, l := range labels {
			if e[l] == "" {
				return nil, fmt.Errorf("NOTICE: the entry of %s has no %s", e["File"], l)
			}
		}
		if out[e["File"]] != nil {
			return nil, fmt.Errorf("NOTICE: two entries for %s", e["File"])
		}
		out[e["File"]] = e
	}
	return out, nil
}

// carried lists the files that others made, from the repository's root.
func carried(t *testing.T) []string {
	t.Helper()
	top := root(t)
	found := map[string]bool{}
	err := filepath.WalkDir(top, func(p string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(top, p)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		if d.IsDir() {
			// testdata holds our own numbers and inputs; hidden folders and what the Makefile makes are no part of the
			// source.
			if d.Name() == "testdata" || rel != "." && strings.HasPrefix(d.Name(), ".") || slices.Contains(built, rel) {
				return filepath.SkipDir
			}
			return nil
		}
		if slices.Contains(byUs, path.Ext(rel)) || slices.Contains(built, rel) || !d.Type().IsRegular() ||
			strings.HasPrefix(d.Name(), ".") {
			return nil
		}
		for _, folder := range strings.Split(path.Dir(rel), "/") {
			if slices.Contains(theirs, folder) {
				found[rel] = true
				return nil
			}
		}
		text, err := isText(p)
		if !text {
			found[rel] = true // a binary file outside testdata is hardly written by hand
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range sources(t, parser.ImportsOnly|parser.ParseComments) {
		b, err := os.ReadFile(filepath.Join(top, filepath.FromSlash(s.file)))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range embedded(t, top, s, string(b)) {
			if !slices.Contains(embeddedByUs, path.Ext(f)) {
				found[f] = true
			}
		}
	}
	var out []string
	for f := range found {
		out = append(out, f)
	}
	sort.Strings(out)
	return out
}

// built are the things in the root that the Makefile makes.
var built = []string{"castwright", "bin", "demo", "coverage.out"}

var embedLine = regexp.MustCompile(`(?m)^//go:embed (.+)$`)

// embedded lists the files that the source embeds.
func embedded(t *testing.T, top string, s source, text string) []string {
	t.Helper()
	if s.test {
		return nil
	}
	var out []string
	for _, m := range embedLine.FindAllStringSubmatch(text, -1) {
		for _, pattern := range strings.Fields(m[1]) {
			pattern = strings.Trim(strings.TrimPrefix(strings.Trim(pattern, "\"`"), "all:"), "\"`")
			names, err := filepath.Glob(filepath.Join(top, filepath.FromSlash(s.folder), filepath.FromSlash(pattern)))
			if err != nil || len(names) == 0 {
				t.Fatalf("%s embeds %s: %v, %d files", s.file, pattern, err, len(names))
			}
			for _, n := range names {
				err := filepath.WalkDir(n, func(p string, d fs.DirEntry, err error) error {
					if err == nil && !d.IsDir() {
						rel, relErr := filepath.Rel(top, p)
						if relErr != nil {
							return relErr
						}
						out = append(out, filepath.ToSlash(rel))
					}
					return err
				})
				if err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	return out
}

func isText(file string) (bool, error) {
	b, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return true, nil
	}
	return utf8.Valid(b) && !bytes.ContainsRune(b, 0), err
}

func TestNotice(t *testing.T) {
	top := root(t)
	b, err := os.ReadFile(filepath.Join(top, "NOTICE"))
	if err != nil {
		t.Fatal(err)
	}
	entries, err := parseNotice(string(b))
	if err != nil {
		t.Fatal(err)
	}
	files := carried(t)
	if len(files) == 0 {
		t.Error("no file of others found: the test looks in the wrong place")
	}
	for _, f := range files {
		if entries[f] == nil {
			b, err := os.ReadFile(filepath.Join(top, filepath.FromSlash(f)))
			if err != nil {
				t.Fatal(err)
			}
			t.Errorf("%s has no entry in NOTICE (SHA-256: %x)", f, sha256.Sum256(b))
		}
	}
	for f, e := range entries {
		b, err := os.ReadFile(filepath.Join(top, filepath.FromSlash(f)))
		if err != nil {
			t.Errorf("NOTICE names a file that cannot be read: %v", err)
			continue
		}
		if is := fmt.Sprintf("%x", sha256.Sum256(b)); is != e["SHA-256"] {
			t.Errorf("%s: NOTICE has SHA-256 %s, the file %s", f, e["SHA-256"], is)
		}
		if text := e["Licence-text"]; text != "" {
			if _, err := os.Stat(filepath.Join(top, filepath.FromSlash(text))); err != nil {
				t.Errorf("NOTICE: licence text of %s: %v", f, err)
			}
		}
	}
}

func TestNoticeParser(t *testing.T) {
	good :=
		"Words before.\n\nFile: a\nWhat: w\n  more\nMade-by: m\nPublished: p\nVersion: v\nLicence: MIT\nSHA-256: 00\nChanged: nothing\n"
	e, err := parseNotice(good)
	if err != nil || len(e) != 1 || e["a"]["What"] != "w more" {
		t.Errorf("%v, %v", e, err)
	}
	for name, text := range map[string]string{
		"no licence":  strings.Replace(good, "Licence: MIT\n", "", 1),
		"twice":       good + "\n" + strings.TrimPrefix(good, "Words before.\n\n"),
		"label twice": strings.Replace(good, "Changed: nothing", "Changed: nothing\nChanged: more", 1),
		"no label":    strings.Replace(good, "What: w", "What w", 1),
	} {
		if _, err := parseNotice(text); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// TestNoMachinePaths fails when a file names the folder of this checkout or the home folder of whoever runs the test:
// such a path is right on one machine only.
func TestNoMachinePaths(t *testing.T) {
	top := root(t)
	places := []string{top}
	if home, err := os.UserHomeDir(); err == nil && len(home) > 1 {
		places = append(places, home+"/")
	}
	n := 0
	err := filepath.WalkDir(top, func(p string, d fs.DirEntry, err error) error {
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
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
		if d.IsDir() || d.Name() == ".git" || // a file in a linked work tree
			slices.Contains(built, filepath.ToSlash(rel)) || !d.Type().IsRegular() || path.Ext(rel) == ".test" ||
			path.Ext(rel) == ".prof" {
			return nil
		}
		b, err := os.ReadFile(p)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		n++
		for i, line := range bytes.Split(b, []byte("\n")) {
			for _, place := range places {
				if bytes.Contains(line, []byte(place)) {
					t.Errorf("%s:%d contains %s, a path of this machine", rel, i+1, place)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if n < 50 {
		t.Errorf("only %d files looked at", n)
	}
}
