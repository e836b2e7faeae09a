package metadata_test

import (
	"cmp"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/metadata"
)

func TestPosition(t *testing.T) {
	for _, c := range []struct {
		p    metadata.Position
		want string
	}{
		{metadata.Position{}, ""}, {metadata.Position{File: "a"}, "a"}, {metadata.Position{File: "a", Line: 3}, "a:3"},
		{metadata.Position{File: "a", Line: 3, Column: 7}, "a:3:7"}, {metadata.Position{File: "a", Column: 7}, "a"},
	} {
		if got := c.p.String(); got != c.want {
			t.Errorf("%+v: %q", c.p, got)
		}
	}
	order := []metadata.Position{{}, {"a", 0, 0}, {"a", 1, 9}, {"a", 2, 1}, {"a", 2, 2}, {"b", 1, 1}}
	for i, p := range order {
		for j, q := range order {
			if p.Before(q) != (i < j) {
				t.Errorf("%v before %v: %v", p, q, p.Before(q))
			}
		}
	}
}

func TestInputError(t *testing.T) {
	e := &metadata.InputError{Position: metadata.Position{File: "f", Line: 2, Column: 5},
		Err: fmt.Errorf("cannot read: %w", fs.ErrNotExist), Remedy: "try"}
	if e.Error() != "f:2:5: cannot read: file does not exist" || !errors.Is(e, fs.ErrNotExist) {
		t.Error(e)
	}
	if e = (&metadata.InputError{Err: errors.New("x")}); e.Error() != "x" {
		t.Error(e)
	}
	var found *metadata.InputError
	if !errors.As(fmt.Errorf("reading: %w", errors.Join(errors.New("y"), e)), &found) || found != e {
		t.Error("an InputError inside others is not found")
	}
}

func TestSeverity(t *testing.T) {
	for s, want := range map[metadata.Severity]string{metadata.Note: "note", metadata.Warning: "warning",
		metadata.Failure: "error", 9: "unknown"} {
		if text, err := s.MarshalText(); string(text) != want || err != nil {
			t.Errorf("%d: %s", s, text)
		}
	}
}

// The order of findings is total: whatever order workers find them in, they are listed alike.
func TestFindingOrder(t *testing.T) {
	all := []metadata.Finding{
		{}, {Message: "b"}, {First: 2}, {Variable: "temp"}, {Check: "spike"}, {Position: metadata.Position{Line: 1}},
		{Position: metadata.Position{Line: 1, Column: 2}}, {Cast: "x"}, {Position: metadata.Position{File: "a"}},
		{Position: metadata.Position{File: "a"}, Cast: "x"},
	}
	for i := range all {
		for j := range all {
			if got := all[i].Compare(&all[j]); got != cmp.Compare(i, j) {
				t.Errorf("%d against %d: %d", i, j, got)
			}
		}
	}
	reversed := slices.Clone(all)
	slices.Reverse(reversed)
	metadata.SortFindings(reversed)
	if !reflect.DeepEqual(reversed, all) {
		t.Error("sorted otherwise")
	}
}

// What several files say alike is one finding with a count; errors, and what one file says twice, stay apart.
func TestFindingsOfSeveralFilesAreOne(t *testing.T) {
	at := func(file string) metadata.Position { return metadata.Position{File: file, Line: 3} }
	var all []metadata.Finding
	for _, file := range []string{"c", "a", "b"} {
		all = append(all, metadata.Finding{Position: at(file), Severity: metadata.Warning, Check: "x", Message: "m",
			Count: 2},
			metadata.Finding{Position: at(file), Severity: metadata.Failure, Check: "x", Message: "m"})
	}
	all = append(all, metadata.Finding{Position: metadata.Position{File: "a", Line: 9}, Severity: metadata.Warning,
		Check: "x", Message: "m", Count: 1})
	got := metadata.JoinFindings(all)
	if len(got) != 5 {
		t.Fatalf("%d: %+v", len(got), got)
	}
	if first := got[0]; first.File != "a" && got[1].File != "a" {
		t.Errorf("%+v", first)
	}
	joined := got[slices.IndexFunc(got, func(f metadata.Finding) bool { return len(f.Also) > 0 })]
	if len(joined.Also) != 2 || joined.Count != 6 || joined.File != "a" || joined.Also[0].File != "b" ||
		joined.Also[1].File != "c" {
		t.Errorf("%+v", joined)
	}
}

// SHA-256 of the empty text and of "abc": FIPS 180-4 examples.
func TestDigest(t *testing.T) {
	for text, want := range map[string]string{
		"":    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
	} {
		if got := (metadata.Digest{SHA256: sha256.Sum256([]byte(text))}).Hex(); got != want {
			t.Errorf("%q: %s", text, got)
		}
	}
}

func TestHistoryLine(t *testing.T) {
	r := metadata.Record{Step: "grid", Tool: "castwright 1.2.3", At: time.Date(2026, 5, 4, 5, 6, 7, 0,
		time.FixedZone("", 7200))}
	if got := r.HistoryLine(); got != "2026-05-04T03:06:07Z castwright 1.2.3: grid" {
		t.Error(got)
	}
	r.Text = "mapped 3 variables"
	r.Params = []metadata.Param{{Name: "method", Value: "optimal"}, {Name: "noise", Of: "oxy", Value: "0.02",
		Typed: 0.02}}
	want := "2026-05-04T03:06:07Z castwright 1.2.3: grid: mapped 3 variables (method optimal, noise of oxy 0.02)"
	if got := r.HistoryLine(); got != want {
		t.Error(got)
	}
}

func TestNearest(t *testing.T) {
	keys := []string{"stations", "station_table", "sources", "reference", "reference_salinity", "up", "uncalibrated"}
	numbers := []string{"1", "2", "10", "19", "20", "T1", "T3", "12A", "7.5"}
	for _, c := range []struct {
		word  string
		among []string
		want  string
	}{
		{"stasions", keys, "stations"}, {"Stations", keys, "stations"}, {"sorces", keys, "sources"},
		{"refrence", keys, "reference"},
		{"pu", keys, "up"}, {"sattions", keys, "stations"}, {"reference_salinty", keys, "reference_salinity"},
		{"uncalibarted", keys, "uncalibrated"},
		{"xyz", keys, ""}, {"", keys, ""}, {strings.Repeat("a", 300), keys, ""}, {"up", keys, "up"},
		{"ab", []string{strings.Repeat("b", 300)}, ""},
		{"x", []string{"y"}, ""}, {"xy", []string{"xz"}, ""},
		// Numbers are never near by their text, alone or in a word; other zeros and other case are the same name.
		{"99", numbers, ""}, {"9", numbers, ""}, {"21", numbers, ""}, {"110", numbers, ""}, {"T2", numbers, ""},
		{"sigma5", []string{"sigma0", "sigma1"}, ""},
		{"001", numbers, "1"}, {"t01", numbers, "T1"}, {"012a", numbers, "12A"}, {"12B", numbers, ""},
		{"12", numbers, ""}, {"T-1", numbers, "T1"},
		{"sigmma0", []string{"sigma1", "sigma0"}, "sigma0"},
		{"casts/a_00019_ct1.csv", []string{"casts/a_00018_ct1.csv"}, ""},
		{"cast/a_00018_ct1.csv", []string{"casts/a_00019_ct1.csv", "casts/a_00018_ct1.csv"}, "casts/a_00018_ct1.csv"},
		{"ZZMS20260504", []string{"ZZSM20260505", "ZZSM20260504"}, "ZZSM20260504"},
		{"ZZSM20260540", []string{"ZZSM20260504"}, ""},
		{"0", []string{"00", "1"}, "00"}, {"10", []string{"100"}, ""},
		// Among equals one of the same length, then the first.
		{"stationz", []string{"station", "stationx", "stationy"}, "stationx"},
	} {
		got, ok := metadata.Nearest(c.word, c.among)
		if got != c.want || ok != (c.want != "") {
			t.Errorf("%q: %q, want %q", c.word, got, c.want)
		}
	}
}

func TestLinesToPaste(t *testing.T) {
	for _, c := range [][2]string{
		{metadata.LeaveOutFile("casts/a b_ct1.csv", "cut").Items[0], "- {file: casts/a b_ct1.csv, reason: cut}"},
		{metadata.Alias("CTDTMP2", "", "temp2").Items[0], "- {column: CTDTMP2, means: temp2}"},
		{metadata.Alias("", "%", "xmiss").Items[0], `- {unit: "%", means: xmiss}`},
		{metadata.Renumber("", "21", "1", "20", "2", "typing error").Items[0],
			"- {from: 21/1, to: 20/2, why: typing error}"},
		{metadata.Renumber("", "T-1", "", "all", "1", "no, not this").Items[0],
			`- {from: "\"T-1\"", to: "\"all\"/1", why: "no, not this"}`},
		{metadata.Legs("ZZSM20260504").Items[0], "- {expocode: ZZSM20260504}"},
		{metadata.GapText(100), "100"},
		{metadata.Renumber("ZZSM20260504", "21", "1", "20", "2", "x").Items[0],
			`- {from: "ZZSM20260504:21/1", to: 20/2, why: x}`},
		{metadata.RenumberFile("casts/b_ct1.csv", "20", "2", "x").Items[0],
			"- {file: casts/b_ct1.csv, to: 20/2, why: x}"},
		{metadata.LeaveOutCast("ZZSM20260504", "21", "", "x").Items[0], `- {cast: "ZZSM20260504:21", reason: x}`},
		{metadata.LeaveOutFile("a", "tab\there, line\nthere \x01").Items[0],
			`- {file: a, reason: "tab\there, line\nthere ?"}`},
		{metadata.CastText("", "1"), `""/1`},
	} {
		if c[0] != c[1] {
			t.Errorf("%s, want %s", c[0], c[1])
		}
	}
}

func TestExchangeSpellings(t *testing.T) {
	for _, c := range [][2]string{
		{metadata.ExchangeName("salt", false), "CTDSAL"}, {metadata.ExchangeName("SALT", true), "SALNTY"},
		{metadata.ExchangeName("ctdtmp2", false), "CTDTMP2"},
		{metadata.ExchangeUnit("dbars"), "DBAR"}, {metadata.ExchangeUnit("IT-90"), "ITS-90"},
		{metadata.ExchangeUnit("furlong"), "FURLONG"},
		{metadata.ExchangeHeader("Sect"), "SECT_ID"}, {metadata.ExchangeHeader("castno"), "CASTNO"},
	} {
		if c[0] != c[1] {
			t.Errorf("%s, want %s", c[0], c[1])
		}
	}
}

// The note of flags that were not evaluated is read back as those levels. Source: flags.md, Writing "not evaluated".
func TestNotEvaluatedNote(t *testing.T) {
	p := []float64{100, 200, 300, 400, 410, 420}
	for _, c := range []struct {
		flags string
		p     []float64
		want  string
	}{
		{"222222", p, ""},
		{"022022", p, "(2 levels)"},
		{"000202", p, "(4 levels)"},
		{"000101", p, "at 100-300, 410 dbar"},
		{"100012", p, "at 200-400 dbar"},
		{"100012", nil, "at levels 2-4"},
		{"010101", []float64{5, 5, 5, 5, 5, 5}, "at levels 1, 3, 5"},
		{"01", []float64{-1, 2}, "at -1 dbar"},
		{"001", []float64{-2, -1, 2}, "at -2--1 dbar"},
	} {
		flags, seen := make([]metadata.Flag, len(c.flags)), make([]metadata.Flag, len(c.flags))
		for i, b := range c.flags {
			flags[i] = metadata.Flag(b - '0')
			if seen[i] = flags[i]; seen[i] == metadata.NotEvaluated {
				seen[i] = metadata.NotCalibrated
			}
		}
		note := metadata.NotEvaluatedNote(c.p, 0, flags)
		if note != c.want {
			t.Errorf("%s: %q, want %q", c.flags, note, c.want)
		}
		if note == "" {
			continue
		}
		hit, _ := metadata.NotEvaluatedLevels(note, c.p, seen)
		for i := range hit {
			if hit[i] != (flags[i] == metadata.NotEvaluated) {
				t.Errorf("%s %q: level %d", c.flags, note, i)
			}
		}
	}
	for _, note := range []string{"", "(x levels)", "(3 levels)", "(1 level)", "at 3", "at x dbar", "at levels 1-y",
		"at levels ", "on 3 dbar"} {
		if hit, n := metadata.NotEvaluatedLevels(note, []float64{1, 2}, []metadata.Flag{1, 2}); n != 0 ||
			slices.Contains(hit, true) {
			t.Errorf("%q: %v %d", note, hit, n)
		}
	}
}

func ExampleNearest() {
	word, ok := metadata.Nearest("sorces", []string{"sources", "stations"})
	fmt.Println(word, ok)
	// Output: sources true
}

// Many findings of one check whose messages differ are one, with each message at its place; a few stay apart.
func TestManyFindingsOfACheckAreOne(t *testing.T) {
	for _, c := range []struct{ n, want int }{{10, 10}, {11, 1}, {150, 1}} {
		var all []metadata.Finding
		for i := range c.n {
			all = append(all, metadata.Finding{Position: metadata.Position{File: fmt.Sprintf("%03d", i)},
				Severity: metadata.Warning, Check: "x",
				Cast: fmt.Sprint(i), Message: fmt.Sprint("off by ", i), Count: 1})
		}
		got := metadata.JoinFindings(all)
		if len(got) != c.want {
			t.Fatalf("%d of %d findings", len(got), c.n)
		}
		if c.want == 1 && (got[0].Count != c.n || len(got[0].Also) != c.n-1 || got[0].Also[1].Message != "off by 2" ||
			got[0].Also[1].Cast != "2") {
			t.Errorf("%d places, the second %+v", len(got[0].Also), got[0].Also[1])
		}
	}
}
