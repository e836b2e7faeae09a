package ingest

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// bins returns a cast with the given pressures and water depth.
func bins(station string, bottomM float64, p ...float64) *section.Cast {
	c := cast(station+".csv", "318M20130321", station, "1", "", 10, 60)
	c.BottomM, c.PressureDbar = bottomM, p
	c.Columns = []section.Column{{Variable: metadata.MustVariable("pres"), Values: p}}
	return c
}

// every returns pressures from first to last, step apart, without those given.
func every(first, last, step float64, without ...float64) (p []float64) {
next:
	for v := first; v <= last; v += step {
		for _, w := range without {
			if w == v {
				continue next
			}
		}
		p = append(p, v)
	}
	return p
}

// TestMissingBins loses bins inside casts of several widths: each gap is named with its range and number. The outcome
// says check, first and last pressure and number of each finding.
func TestMissingBins(t *testing.T) {
	nan := math.NaN()
	backwards := append(every(22, 40, 2), every(2, 20, 2)...)
	for _, c := range []struct {
		name     string
		p        []float64
		declared float64
		want     string
	}{
		{"whole", every(2, 100, 2), 2, ""},
		{"whole, no width declared", every(2, 100, 2), 0, ""},
		{"one bin", every(2, 100, 2, 50), 2, "cast.missing_bins 50 50 1"},
		{"one bin, no width declared", every(1, 100, 1, 50), 0, "cast.missing_bins 50 50 1"},
		{"a block", every(5, 500, 5, 20, 25, 30, 35), 0, "cast.missing_bins 20 35 4"},
		{"three places", every(2, 100, 2, 10, 50, 52, 90), 2,
			"cast.missing_bins 10 10 1; cast.missing_bins 50 52 2; cast.missing_bins 90 90 1"},
		{"many places", every(2, 100, 2, 10, 20, 30, 40, 42), 2, "cast.missing_bins 10 42 5"},
		{"every second line, width declared", every(2, 100, 4), 2, "cast.bin_width 2 98 1"},
		{"every second line and a block, width declared", every(2, 100, 4, 50, 54), 2,
			"cast.bin_width 2 98 1; cast.missing_bins 50 54 2"},
		{"two blocks in the wrong order are all there", backwards, 2, ""},
		{"a level without pressure", append(every(2, 20, 2), nan, 22, 24), 2, ""},
		{"chosen levels have no usual step", []float64{0, 10, 20, 30, 50, 75, 100, 125, 150, 200, 250, 300, 400, 500},
			0, ""},
		{"uneven pressures as read", []float64{1.98, 4.03, 5.97, 8.01, 9.99, 12.02, 14}, 0, ""},
		{"two levels", []float64{2, 400}, 0, ""},
	} {
		var got []string
		for _, f := range CheckComplete([]*section.Cast{bins("1", nan, c.p...)},
			func(*section.Cast) float64 { return c.declared }) {
			got = append(got, fmt.Sprintf("%s %g %g %d", f.Check, f.First, f.Last, f.Count))
			if f.Cast == "" || f.File == "" || f.Variable != "pres" || f.Advice() == "" ||
				f.Severity != metadata.Warning {
				t.Errorf("%s: %+v", c.name, f)
			}
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%s: %s, want %s", c.name, s, c.want)
		}
	}
}

// TestDepthAboveDeepestLevel compares DEPTH with the deepest level: 100 dbar is at 99.0 m at 60 degrees north (100 dbar
// / 1.0267e3 kg/m3 / 9.8219 m/s2 = 99.2 m for the mean density of the standard ocean, less with pressure).
func TestDepthAboveDeepestLevel(t *testing.T) {
	for depth, want := range map[float64]bool{math.NaN(): false, 120: false, 99: false, 98: true, 50: true} {
		found := CheckComplete([]*section.Cast{bins("1", depth, every(2, 100, 2)...)},
			func(*section.Cast) float64 { return 2 })
		if got := len(found) == 1 && found[0].Check == "cast.depth_above" && found[0].First == 100; got != want {
			t.Errorf("%g m: %v", depth, found)
		}
	}
}

// TestStartsDeep loses the first lines of one cast of several.
func TestStartsDeep(t *testing.T) {
	casts := []*section.Cast{bins("1", 500, every(2, 400, 2)...), bins("2", 500, every(4, 400, 2)...),
		bins("3", 500, every(2, 400, 2)...),
		bins("4", 500, every(30, 400, 2)...), bins("5", 500, every(10, 400, 2)...)}
	found := CheckComplete(casts, func(*section.Cast) float64 { return 2 })
	if len(found) != 1 || found[0].Check != "cast.starts_deep" || !strings.Contains(found[0].Cast, "_00004_") ||
		found[0].First != 4 || found[0].Last != 30 {
		t.Error(found)
	}
	casts = []*section.Cast{bins("1", 500, every(2, 400, 2)...), bins("2", 500, every(2, 400, 2)...),
		bins("3", 500, every(4, 400, 2)...), bins("4", 500, every(2, 400, 2)...)}
	if found = CheckComplete(casts, func(*section.Cast) float64 { return 2 }); len(found) != 1 ||
		!strings.Contains(found[0].Cast, "_00003_") || found[0].Last != 4 {
		t.Errorf("one line less than all others: %v", found)
	}
}

// TestCutOff ends one cast of a section early: it is a warning when its neighbours reach the bottom, a note when the
// log says why, and nothing when the line is not to the bottom, the cast has another role, or the water is shallow.
func TestCutOff(t *testing.T) {
	line := func(last ...float64) (casts []*section.Cast) {
		for i, p := range last {
			casts = append(casts, bins(fmt.Sprint(i+1), 1000, every(10, p, 10)...))
		}
		return casts
	}
	shallow := func(last ...float64) (casts []*section.Cast) {
		for i, p := range last {
			casts = append(casts, bins(fmt.Sprint(i+1), 21, every(1, p, 1)...))
		}
		return casts
	}
	for _, c := range []struct {
		name   string
		casts  []*section.Cast
		remark string
		want   string
	}{
		{"all to the bottom", line(990, 980, 990, 1000), "", ""},
		{"the lower half of one", line(990, 980, 500, 990, 1000), "", "3 warning 500"},
		{"the lower half of the first", line(500, 980, 990), "", "1 warning 500"},
		{"the lower half of the last of two", line(990, 500), "", "2 warning 500"},
		{"two of six", line(990, 990, 500, 400, 990, 990), "", "3 warning 500; 4 warning 400"},
		{"the log says why", line(990, 980, 500, 990), "winch stopped", "3 note 500"},
		{"none to the bottom", line(600, 500, 600, 600), "", ""},
		{"a few bins less", line(990, 980, 850, 990), "", ""},
		{"in shallow water", shallow(16, 18, 8, 17), "", "3 warning 8"},
		{"in shallow water, all there", shallow(16, 18, 12, 17), "", ""},
	} {
		var got []string
		for _, f := range CutOff("strait", c.casts, func(*section.Cast) string { return c.remark }) {
			got = append(got, fmt.Sprintf("%s %v %g", strings.TrimSuffix(f.File, ".csv"), f.Severity, f.First))
			if f.Check != "cast.cut_off" || !strings.Contains(f.Message, "section strait") ||
				(f.Advice() == "") != (c.remark != "") {
				t.Errorf("%s: %+v", c.name, f)
			}
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%s: %s, want %s", c.name, s, c.want)
		}
	}
	other := line(990, 980, 500, 990)
	other[2].Role = section.Aborted
	unknown := line(990, 980, 500, 990)
	unknown[2].BottomM = math.NaN()
	for _, casts := range [][]*section.Cast{other, unknown} {
		if f := CutOff("strait", casts, func(*section.Cast) string { return "" }); len(f) > 0 {
			t.Error(f)
		}
	}
}

// TestLinesAfterEnd moves END_DATA up in the example: what stands after it and looks like data is named with its number
// and range; words, comments and numbers in words are not. Pressures that go backwards are a finding with their range
// and the flag proposed for them.
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
			"with other flags": strings.Join(lines[:k], "") + "END_DATA\n" +
				strings.ReplaceAll(strings.Join(lines[k:], ""), ",2,", ",,")} {
			found := read(text)
			if len(found) != 1 || found[0].Check != "exchange.after_end" || found[0].Count != n || found[0].Line == 0 ||
				!(found[0].First > 0) || found[0].Last < found[0].First {
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
