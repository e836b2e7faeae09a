package metadata_test

import (
	"bufio"
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
)

var cfWord = regexp.MustCompile(`^[A-Za-z0-9_.+@-]+$`) // CF 3.5

// checkScheme compares a scheme with its table of testdata/flags.txt (the meanings are facts of the published sets).
func checkScheme[F ~uint8](t *testing.T, s metadata.FlagScheme[F], heading string) {
	t.Helper()
	f, err := os.Open("testdata/flags.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	in := false
	n := 0
	for lines := bufio.NewScanner(f); lines.Scan(); {
		line := lines.Text()
		if strings.HasPrefix(line, "## ") {
			in = line == "## "+heading
			continue
		}
		if !in || line == "" {
			continue
		}
		part := strings.Split(line, "|")
		code, ok := s.Code(part[0][0])
		if !ok {
			t.Errorf("%s: no flag %s", s.Name, part[0])
			continue
		}
		n++
		if code.Word != part[1] || code.Meaning != part[2] {
			t.Errorf("%s %s: %q %q, want %q %q", s.Name, part[0], code.Word, code.Meaning, part[1], part[2])
		}
		if got, ok := s.Flag(code.Symbol); !ok || got != code.Flag {
			t.Errorf("%s: flag of %c", s.Name, code.Symbol)
		}
		if got, ok := s.Symbol(code.Flag); !ok || got != code.Symbol {
			t.Errorf("%s: symbol of %v", s.Name, code.Flag)
		}
	}
	if n != len(s.Codes) || n == 0 {
		t.Errorf("%s: %d flags in the list, %d in the scheme", s.Name, n, len(s.Codes))
	}
	if _, ok := s.Flag('x'); ok {
		t.Errorf("%s has a flag x", s.Name)
	}
	if _, ok := s.Symbol(200); ok {
		t.Errorf("%s has a flag 200", s.Name)
	}
	for _, zero := range []bool{false, true} {
		values, meanings := s.CF(zero)
		words := strings.Fields(meanings)
		if len(words) != len(values) {
			t.Errorf("%s: %d values, %d words", s.Name, len(values), len(words))
		}
		seen := map[string]bool{}
		for i, w := range words {
			if !cfWord.MatchString(w) || seen[w] || i > 0 && values[i] <= values[i-1] {
				t.Errorf("%s: %v %s", s.Name, values, meanings)
			}
			seen[w] = true
		}
	}
}

func TestFlagSchemes(t *testing.T) {
	checkScheme(t, metadata.WOCECTD, "WOCE CTD")
	checkScheme(t, metadata.WOCESample, "WOCE sample")
	checkScheme(t, metadata.WOCEBottle, "WOCE bottle")
	checkScheme(t, metadata.SeaDataNet, "L20")
	checkScheme(t, metadata.IODE, "L34")
	for _, c := range []struct {
		values   []int8
		meanings string
		want     string
	}{
		cf(metadata.WOCECTD.CF(false))(
			"[1 2 3 4 5 6 7 9] not_calibrated acceptable questionable bad not_reported interpolated_over_more_than_2_dbar despiked not_sampled"),
		cf(metadata.WOCECTD.CF(true))(
			"[0 1 2 3 4 5 6 7 9] not_evaluated not_calibrated acceptable questionable bad not_reported interpolated_over_more_than_2_dbar despiked not_sampled"),
		cf(metadata.SeaDataNet.CF(true))(
			"[0 1 2 3 4 5 6 7 8 9] no_quality_control good_value probably_good_value probably_bad_value bad_value changed_value value_below_detection value_in_excess interpolated_value missing_value"),
		cf(metadata.IODE.CF(false))(
			"[1 2 3 4 9] good not_evaluated_not_available_or_unknown questionable_or_suspect bad missing_data"),
	} {
		if got := fmt.Sprint(c.values) + " " + c.meanings; got != c.want {
			t.Errorf("%s, want %s", got, c.want)
		}
	}
}

func cf(values []int8, meanings string) func(want string) struct {
	values   []int8
	meanings string
	want     string
} {
	return func(want string) struct {
		values   []int8
		meanings string
		want     string
	} {
		return struct {
			values   []int8
			meanings string
			want     string
		}{values, meanings, want}
	}
}

// Source: flags.md, Mapping WOCE CTD to IODE (our own choice). A * marks what loses something and must say so.
func TestFlagMapping(t *testing.T) {
	for _, c := range []struct {
		flag     metadata.Flag
		present  bool
		l20, l34 string
	}{
		{metadata.NotEvaluated, true, "0", "2"}, {metadata.NotCalibrated, true, "0*", "2*"},
		{metadata.Acceptable, true, "1", "1"},
		{metadata.Questionable, true, "3*", "3"}, {metadata.Bad, true, "4", "4"}, {metadata.NotReported, false, "9*",
			"9*"},
		{metadata.NotReported, true, "0*", "2*"}, {metadata.Interpolated, true, "8*", "1*"},
		{metadata.Despiked, true, "5*", "1*"},
		{metadata.NotUsed, true, "0*", "2*"}, {metadata.NotSampled, false, "9", "9"},
	} {
		l20, note20 := c.flag.L20(c.present)
		l34, note34 := c.flag.L34(c.present, false)
		if got := starred(int(l20), note20); got != c.l20 {
			t.Errorf("%v: L20 %s, want %s", c.flag, got, c.l20)
		}
		if got := starred(int(l34), note34); got != c.l34 {
			t.Errorf("%v: L34 %s, want %s", c.flag, got, c.l34)
		}
	}
	if f, note := metadata.Interpolated.L34(true, true); f != metadata.L34Questionable || note == "" {
		t.Errorf("careful: %v %q", f, note)
	}
	// Water samples: 1 -> 0/2, 2 -> 1/1, 3 -> 3/3, 4 -> 4/4, 5 -> 9/9, 6 -> 1/1, 7 -> 1/1, 8 -> 3/3, 9 -> 9/9.
	for f, want := range []string{"0 2", "0* 2*", "1 1", "3* 3", "4 4", "9* 9*", "1* 1*", "1* 1*", "3* 3*", "9 9",
		"0 2"} {
		l20, note20 := metadata.SampleFlag(f).L20()
		l34, note34 := metadata.SampleFlag(f).L34()
		if got := starred(int(l20), note20) + " " + starred(int(l34), note34); got != want {
			t.Errorf("sample %d: %s, want %s", f, got, want)
		}
	}
	// Back: 0 -> absent, 1 -> 2, 2 -> 2, 3 -> 3, 4 -> 4, 5 -> 7, 6 and 7 -> 3 (or 4), 8 -> 6, 9 -> 9; letters -> 0.
	for _, c := range []struct {
		symbol byte
		want   string
	}{{'0', "0"}, {'1', "2"}, {'2', "2*"}, {'3', "3*"}, {'4', "4"}, {'5', "7*"}, {'6', "3*"}, {'7', "3*"}, {'8', "6*"},
		{'9', "9*"}, {'A', "0*"}, {'Q', "0*"}, {'B', "0*"}} {
		f, ok := metadata.SeaDataNet.Flag(c.symbol)
		back, note := f.CTD(metadata.Questionable)
		if got := starred(int(back), note); !ok || got != c.want {
			t.Errorf("L20 %c: %s, want %s", c.symbol, got, c.want)
		}
	}
	if f, _ := metadata.L20InExcess.CTD(metadata.Bad); f != metadata.Bad {
		t.Errorf("in excess as bad: %v", f)
	}
	for symbol, want := range map[byte]string{'1': "2", '2': "0", '3': "3", '4': "4", '9': "9*"} {
		f, ok := metadata.IODE.Flag(symbol)
		back, note := f.CTD()
		if got := starred(int(back), note); !ok || got != want {
			t.Errorf("L34 %c: %s, want %s", symbol, got, want)
		}
	}
	// There and back keeps what both sets have.
	for _, f := range []metadata.Flag{metadata.NotEvaluated, metadata.Acceptable, metadata.Questionable, metadata.Bad,
		metadata.Interpolated, metadata.Despiked, metadata.NotSampled} {
		l20, _ := f.L20(f != metadata.NotSampled)
		if back, _ := l20.CTD(metadata.Questionable); back != f {
			t.Errorf("%v came back as %v", f, back)
		}
	}
}

func starred(flag int, note string) string {
	s := fmt.Sprint(flag)
	if note != "" {
		s += "*"
	}
	return s
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
	if metadata.Flag(99).String() != "unknown" || metadata.SampleFlag(99).String() != "unknown" ||
		metadata.BottleFlag(99).String() != "unknown" {
		t.Error("a flag that is none has a name")
	}
}
