package metadata_test

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
)

var cfWord = regexp.MustCompile(`^[A-Za-z0-9_.+@-]+$`) // CF 3.5

// The words and meanings are those of testdata/flags.txt (facts of the published set).
func TestFlagWords(t *testing.T) {
	text, err := os.ReadFile("testdata/flags.txt")
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	meanings := metadata.FlagMeanings()
	for i, line := range strings.Split(strings.TrimSpace(string(text)), "\n") {
		word := metadata.Flag(i + 1).String()
		if got := fmt.Sprintf("%d|%s|%s", i+1, word, meanings[i+1]); got != line {
			t.Errorf("%s, want %s", got, line)
		}
		if !cfWord.MatchString(word) || seen[word] {
			t.Errorf("%s is no word of flag_meanings, or occurs twice", word)
		}
		seen[word] = true
	}
	if len(seen) != 9 || len(meanings) != 10 || meanings[0] != "" {
		t.Errorf("%d words, meanings %q", len(seen), meanings)
	}
}

// Flags of other sets become WOCE CTD flags (our own choice, no official table); * marks what loses a part of its
// meaning.
func TestFlagsOfOtherSets(t *testing.T) {
	for name, c := range map[string]struct {
		translate func(byte) (metadata.Flag, string, bool)
		want      string
	}{
		"L20": {metadata.FlagOfL20, "0:0 1:2 2:2* 3:3* 4:4 5:7* 6:3* 7:3* 8:6* 9:9* A:0* B:0* Q:0*"},
		"L34": {metadata.FlagOfL34, "1:2 2:0 3:3 4:4 9:9*"},
	} {
		var got []string
		for symbol := range byte(128) {
			if f, note, ok := c.translate(symbol); ok {
				got = append(got, fmt.Sprintf("%c:%d", symbol, f))
				if note != "" {
					got[len(got)-1] += "*"
				}
			}
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s: %s, want %s", name, s, c.want)
		}
	}
}

// Source: flags.md, Combining flags.
func TestUsableAndWorse(t *testing.T) {
	for f, want := range []string{"both", "one", "both", "", "", "", "both", "both", "", ""} {
		flag := metadata.Flag(f)
		if flag.Usable(false) != (want == "both") || flag.Usable(true) != (want != "") {
			t.Errorf("%v: %v %v", flag, flag.Usable(false), flag.Usable(true))
		}
	}
	order := []metadata.Flag{9, 5, 4, 3, 1, 0, 6, 7, 2}
	for i, a := range order {
		for j, b := range order {
			if got := metadata.Worse(a, b); got != order[min(i, j)] {
				t.Errorf("worse of %d and %d: %d", a, b, got)
			}
		}
	}
	if metadata.Flag(99).String() != "unknown" {
		t.Error("a flag that is none has a name")
	}
}
