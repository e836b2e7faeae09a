package bag

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Whatever a manifest holds: no panic, no path outside the bag, and what was understood reads back equal from what we
// write.
func FuzzManifest(f *testing.F) {
	sum := strings.Repeat("0a", 32)
	for _, s := range []string{"", sum + "  data/a\n", sum + " data/a\r\n" + sum + "\tdata/%0Ab", sum + "  ../x\n",
		sum + "  data/%25%\n",
		sum + "  data/../../x\n" + sum + "  /x\n~", sum + " *data/x\n\n\r\r", strings.ToUpper(sum) + "  data/a\n" +
			sum + "  data/a\n"} {
		f.Add([]byte(s), false)
		f.Add([]byte(s), true)
	}
	f.Fuzz(func(t *testing.T, text []byte, tag bool) {
		entries, faults := parseManifest("m", 32, tag, text)
		if n := len(entries) + len(faults); n != len(lines(text)) {
			t.Errorf("%d lines, %d entries, %d faults", len(lines(text)), len(entries), len(faults))
		}
		for _, e := range entries {
			if !filepath.IsLocal(e.path) || filepath.Clean(e.path) != e.path ||
				tag == strings.HasPrefix(e.path, "data/") {
				t.Errorf("path %q accepted", e.path)
			}
		}
		again, faults := parseManifest("m", 32, tag, formatManifest(entries))
		same := func(a, b entry) bool { return a.path == b.path && a.sum == b.sum }
		if len(faults) > 0 || !slices.EqualFunc(entries, again, same) {
			t.Errorf("read back %v, %v; first %v", again, faults, entries)
		}
	})
}

// Whatever bag-info.txt holds: no panic, and the fields that we could write read back equal.
func FuzzInfo(f *testing.F) {
	for _, s := range []string{"", "A: b\n", "A: b\r\n  c\n\td\n", "A:\n b\n", ": x", " x", "A: b: c\rB: d",
		"Ä: ö\n\xff: x\nA:b\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		info, faults := parseInfo(text)
		if len(info)+len(faults) > len(lines(text)) {
			t.Errorf("%d lines, %d fields, %d faults", len(lines(text)), len(info), len(faults))
		}
		info = slices.DeleteFunc(info, func(f Field) bool { return f.Value == "" }) // readable, but never written
		b, err := formatInfo(info)
		if err != nil {
			t.Fatalf("what was read cannot be written: %v", err)
		}
		again, faults := parseInfo(b)
		if len(faults) > 0 || !slices.Equal(info, again) {
			t.Errorf("read back %v, %v; first %v", again, faults, info)
		}
		checkDeclaration(text)
	})
}
