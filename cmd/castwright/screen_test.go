package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/planted"
)

// What check prints of a very faulty cruise is one screen for each hundred casts, errors first, and says how to see the
// rest: with the planted faults, with many faults in every cast, and where no cast can be read.
func TestFindingsFitOnAScreen(t *testing.T) {
	f, err := os.Open("../../testdata/planted/faults.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	list, err := planted.Read(f)
	if err != nil {
		t.Fatal(err)
	}
	everywhere := append([]planted.Fault(nil), list...)
	for i := range everywhere {
		if k := everywhere[i].Kind; k != "" && k != "drift" && k != "cut" && k != "remove" && k != "flat" {
			everywhere[i].Casts = "*"
		}
	}
	broken := planted.Make(nil, 1)
	for _, name := range broken.Names() {
		if strings.HasPrefix(name, "casts/") {
			broken.Files[name] = bytes.Replace(broken.Files[name], []byte("\nLATITUDE = "), []byte("\nLATITUDE = x"), 1)
		}
	}
	for name, c := range map[string]*planted.Cruise{"planted": planted.Make(list, 1),
		"everywhere": planted.Make(everywhere, 1), "unreadable": broken} {
		dir := t.TempDir()
		for _, n := range c.Names() {
			path := filepath.Join(dir, filepath.FromSlash(n))
			if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, c.Files[n], 0o644); err != nil {
				t.Fatal(err)
			}
		}
		check := func(options ...string) []string {
			var out, errs bytes.Buffer
			args := append(append([]string{"castwright", "check"}, options...), dir)
			run(t.Context(), args, strings.NewReader(""), &out, &errs)
			return strings.Split(strings.TrimSpace(out.String()), "\n")
		}
		short, all := check(), check("--all")
		if n := len(short); n > linesPerHundredCasts || n < 10 {
			t.Errorf("%s: %d lines, want at most %d", name, n, linesPerHundredCasts)
		}
		if last := short[len(short)-1]; len(all) <= len(short) || !strings.Contains(last, "--all") {
			t.Errorf("%s: %d lines with --all, %d without, the last is %q", name, len(all), len(short), last)
		}
		if name == "unreadable" && !strings.Contains(strings.Join(short, "\n"), "leave_out") {
			t.Errorf("nothing says what to do with casts that cannot be read: %v", short)
		}
		rank := map[string]int{"error": 0, "warning": 1, "note": 2}
		before := 0
		for _, line := range short[:len(short)-1] {
			if strings.HasPrefix(line, "  ") { // what to do, or where else
				continue
			}
			if n, ok := rank[strings.Fields(line)[0]]; !ok || n < before {
				t.Errorf("%s: out of order: %s", name, line)
			} else {
				before = n
			}
		}
		t.Logf("%s: %d lines, %d with --all", name, len(short), len(all))
	}
}
