package ingest

import (
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
)

// TestLinesAfterEnd moves END_DATA up in the example: what comes after it and looks like data is named with its
// number and range; words, comments and numbers in words are not. Pressures that go backwards are a finding with
// their range and the flag proposed for them.
func TestLinesAfterEnd(t *testing.T) {
	read := func(text string) []metadata.Finding {
		_, found, err := Parse([]byte(text), "a_ct1.csv", Options{})
		if err != nil {
			t.Fatal(err)
		}
		return found
	}
	good := string(example(t))
	lines := strings.SplitAfter(strings.TrimSuffix(good, "END_DATA\n"), "\n")
	lines = lines[:len(lines)-1]
	for n := 1; n <= 5; n++ {
		k := len(lines) - n
		moved := strings.Join(lines[:k], "") + "END_DATA\n" + strings.Join(lines[k:], "")
		for what, text := range map[string]string{"moved": moved, "doubled": moved + "END_DATA\n",
			"after words": strings.Replace(moved, "END_DATA\n", "END_DATA\nmade by hand, 2013\n", 1),
			"with other flags": strings.Join(lines[:k],
				"") + "END_DATA\n" + strings.ReplaceAll(strings.Join(lines[k:], ""), ",2,", ",,")} {
			found := read(text)
			if len(found) != 1 || found[0].Check != "exchange.after_end" || found[0].Count != n ||
				found[0].Line == 0 || !(found[0].First > 0) || found[0].Last < found[0].First {
				t.Errorf("%s, %d lines: %+v", what, n, found)
			}
		}
	}
	if found := read(good + "made by hand, 2013\n# 1, 2, 3\n\n,,\n20130322\n"); len(found) > 0 {
		t.Errorf("words after the end: %+v", found)
	}
	k := len(lines) - 1
	swapped := strings.Join(lines[:k-1], "") + lines[k] + lines[k-1] + "END_DATA\n"
	if found := read(swapped); len(found) != 1 || found[0].Check != "exchange.pressure_order" ||
		!(found[0].First > 0) || found[0].Last != found[0].First ||
		found[0].Proposed != metadata.Bad || found[0].Count != 1 {
		t.Errorf("two lines swapped: %+v", found)
	}
	// DEPTH and TIME that say nothing are taken as unknown, and that is said; -999 is the word of the format for it.
	depth, clock := strings.Index(good, "DEPTH = "), strings.Index(good, "TIME = ")
	of := func(at int) string { return good[at : at+strings.Index(good[at:], "\n")] }
	for old, says := range map[string]string{of(depth): "exchange.depth", of(clock): "exchange.time"} {
		name, _, _ := strings.Cut(old, " =")
		for _, value := range map[string][]string{"DEPTH": {"NaN", "", "0", "nan"}, "TIME": {"", " "}}[name] {
			if found := read(strings.Replace(good, old, name+" = "+value, 1)); len(found) != 1 ||
				found[0].Check != says || found[0].Severity != metadata.Warning {
				t.Errorf("%s = %s: %+v", name, value, found)
			}
		}
		if found := read(strings.Replace(good, old, name+" = -999", 1)); len(found) > 0 {
			t.Errorf("%s = -999: %+v", name, found)
		}
	}
}
