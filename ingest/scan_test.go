package ingest

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// randomNumber returns a number as files write it, or an odder one.
func randomNumber(r *rand.Rand) string {
	digits := func(n int) string {
		b := make([]byte, n)
		for i := range b {
			b[i] = byte('0' + r.IntN(10))
		}
		return string(b)
	}
	s := ""
	if r.IntN(4) == 0 {
		s = "-"
	}
	s += digits(1 + r.IntN(8))
	switch r.IntN(8) {
	case 0:
	case 1:
		s += "." + digits(r.IntN(20))
	default:
		s += "." + digits(1+r.IntN(6))
	}
	return s
}

// within15 reports whether a number keeps a column, of long or of short numbers, within the 15 digits beyond which an
// unknown column is text.
func within15(s string, long bool) bool {
	whole, part, _ := strings.Cut(strings.TrimPrefix(s, "-"), ".")
	if long {
		return len(part) <= 7
	}
	return len(whole) == 1 && len(part) <= 14
}

// Both ways of reading numbers, the one pass over the lines and the tolerant one, give exactly what strconv.ParseFloat
// gives.
func TestNumbersAreThoseOfStrconv(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	const rows, columns = 25000, 40
	var want [rows * columns]float64
	var b strings.Builder
	b.WriteString(
		"CTD,20130709ODF\nNUMBER_HEADERS = 7\nEXPOCODE = 318M20130321\nSTNNBR = 1\nCASTNO = 2\nDATE = 20130322\nLATITUDE = 1\nLONGITUDE = 2\nCTDPRS")
	for i := range columns {
		fmt.Fprintf(&b, ",X%d", i)
	}
	b.WriteString("\nDBAR" + strings.Repeat(",", columns) + "\n")
	i := 0
	for row := range rows {
		fmt.Fprintf(&b, "%.1f", float64(row+1)/10)
		for column := range columns {
			s := randomNumber(r)
			for zeroInFront([]byte(s)) || !within15(s, column%2 == 0) || strings.HasPrefix(s, "-999.") || s == "-999" {
				// text in an unknown column, or missing
				s = randomNumber(r)
			}
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			want[i] = v
			i++
			b.WriteString("," + strings.Repeat(" ", r.IntN(3)) + s + strings.Repeat(" ", r.IntN(8)/7))
		}
		b.WriteByte('\n')
	}
	b.WriteString("END_DATA\n")
	casts, _, err := Parse([]byte(b.String()), "x", Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, w := range want {
		c := &casts[0].Columns[1+i%columns]
		if c.Values == nil {
			t.Fatalf("column %s is text", c.Exchange)
		}
		if got := c.Values[i/columns]; math.Float64bits(got) != math.Float64bits(w) {
			t.Fatalf("row %d column %s: %b, want %b", i/columns+1, c.Exchange, got, w)
		}
	}
	for range 1000000 {
		s := randomNumber(r)
		if r.IntN(20) == 0 {
			s += fmt.Sprintf("e%d", r.IntN(20)-10)
		}
		got, decimals, _, ok := scanNumber([]byte(s))
		w, err := strconv.ParseFloat(s, 64)
		if !ok || err != nil || math.Float64bits(got) != math.Float64bits(w) {
			t.Fatalf("%s: %b %v, want %b %v", s, got, ok, w, err)
		}
		if back := strconv.FormatFloat(got, 'f', decimals, 64); len(strings.Trim(s, "-.")) < 15 {
			if again, _ := strconv.ParseFloat(back, 64); again != got {
				t.Fatalf("%s in %d decimals is %s", s, decimals, back)
			}
		}
	}
}

func TestScanNumberRefuses(t *testing.T) {
	for _, s := range []string{".", "-", "+", "1.2.3", "1e", "1e+", "0x10", "1_000", "inf", "Infinity", "1e999",
		"1e-31", "--1", "1-2", "12 3", "1.", "five",
		"0." + strings.Repeat("0", 31)} {
		_, _, _, ok := scanNumber([]byte(s))
		if want := s == "1."; ok != want { // a point with nothing behind it is a number: -999. is seen
			t.Errorf("%q: %v", s, ok)
		}
	}
}

// Identification, date and time: what is read and what is refused.
func TestDatesTimesAndPositions(t *testing.T) {
	for in, want := range map[string]string{"20130322": "2013-03-22", "2013-03-22": "2013-03-22",
		"20130322.0": "2013-03-22", "20000229": "2000-02-29",
		"19000229": "", "20130229": "", "2013032": "", "2013-3-22": "", "": "", "20130322.5": "", "00000000": ""} {
		d, _, err := readDate(in)
		if got := d.Format("2006-01-02"); (err == nil) != (want != "") || err == nil && got != want {
			t.Errorf("date %q: %s %v, want %q", in, got, err, want)
		}
	}
	for in, want := range map[string]string{"2205": "22h5m0s", "705": "7h5m0s", "7": "7m0s", "0": "0s",
		"2400": "24h0m0s", "7:05": "7h5m0s", "07:05:30": "7h5m30s",
		"2401": "", "2460": "", "99": "", "12345": "", "7:5:5:5": "", "a": "", "-1": "", "7:": "", "24:00:01": "",
		"1230.0": "12h30m0s"} {
		d, known, _, err := readTime(in)
		if got := d.String(); (err == nil) != (want != "") || err == nil && (got != want || !known) {
			t.Errorf("time %q: %s %v, want %q", in, got, err, want)
		}
	}
	type place struct {
		v float64
		d int
	}
	for in, want := range map[string]place{"32.5068": {32.5068, 4}, "-0.0000": {0, 4}, "32 30.41 N": {32.5068, 4},
		"N 32.5": {32.5, 1}, "32.5s": {-32.5, 1},
		"-32 30": {-32.5, 2}, "32°30.0'S": {-32.5, 3}, "90": {90, 0}, "+12.5": {12.5, 1}, "-0 30 ": {-0.5, 2}} {
		v, d, _, err := readDegrees(in, 'N', 'S', 90)
		if err != nil || v != want.v || d != want.d {
			t.Errorf("latitude %q: %v %d %v, want %v", in, v, d, err, want)
		}
	}
	for _, in := range []string{"", "-999", "-999.0000", "91", "32 60.0 N", "32.5 30 N", "-32 S", "32 30 25", "north",
		"NS", "1e5", "NaN", "32,5"} {
		if v, _, _, err := readDegrees(in, 'N', 'S', 90); err == nil {
			t.Errorf("latitude %q is read as %v", in, v)
		}
	}
	if v := east(226.9703, 4); v != -133.0297 {
		t.Errorf("226.9703 is %v", v)
	}
	if v := east(-190.5, 1); v != 169.5 {
		t.Errorf("-190.5 is %v", v)
	}
}

func lenient(t *testing.T, edit func(string) string) (*section.Cast, string) {
	t.Helper()
	casts, found, err := Parse([]byte(edit(example(t))), "x_ct1.csv", Options{Lenient: true})
	if err != nil {
		t.Fatal(err)
	}
	return &casts[0], describe(found, nil)
}

// exchange.md section 8: lenient reading skips lines of wrong length and takes what is no number for missing with flag
// 4.
func TestLenient(t *testing.T) {
	c, said := lenient(t, one("  19.2002,2", "  19.2002"))
	if c.Levels() != 7 ||
		said !=
			"warning: x_ct1.csv:17: [exchange.field_count] line has 7 fields, expected 8; skipped\n  hint: compare the line with its neighbours\n" {
		t.Errorf("%d levels, %s", c.Levels(), said)
	}
	c, said = lenient(t, one("34.6922", "34.69x2"))
	all(value("psal", 2, nan), flagsOf("psal", "22422222"))(t, c)
	if said !=
		"warning: x_ct1.csv:17:27: [exchange.not_a_number] CTDSAL: \"34.69x2\" is not a number; taken as missing, with flag 4\n  hint: write a number, or -999 when there is none\n" {
		t.Error(said)
	}
	c, _ = lenient(t, then(withoutFlags, one("34.6922", "34.69x2")))
	all(value("psal", 2, nan), flagsOf("psal", "00400000"))(t, c)
	c, said = lenient(t, one("      6.0", "      6.x", "      8.0", "   -999.0"))
	if c.Levels() != 6 || !strings.Contains(said, "CTDPRS: \"6.x\" is not a number; line skipped") ||
		!strings.Contains(said, "pressure is missing; line skipped") {
		t.Errorf("%d levels, %s", c.Levels(), said)
	}
}

// Aliases of the cruise file name columns that the reader does not know.
func TestAliases(t *testing.T) {
	edit := replace("CTDOXY", "CTDTMP2", "UMOL/KG", "IPTS-68")
	read := func(a ...Alias) (*section.Cast, error) {
		casts, _, err := Parse([]byte(edit(example(t))), "x", Options{Aliases: a})
		if err != nil {
			return nil, err
		}
		return &casts[0], nil
	}
	c, err := read(Alias{Column: "ctdtmp2", Unit: "IPTS-68", Means: "temp2"})
	if err != nil {
		t.Fatal(err)
	}
	two := 220.8
	all(value("temp2", 0, math.Round(two/1.00024*1e5)/1e5), flagsOf("temp2", "22222222"))(t, c)
	if k := c.Column("temp2"); k.Exchange != "CTDTMP2" || k.ExchangeUnit != "ITS-90" || k.Decimals != 5 {
		t.Errorf("%+v", k.Variable)
	}
	if c, err = read(Alias{Column: "CTDTMP2", Unit: "VOLT", Means: "temp2"}); err != nil || c.Column("ctdtmp2") == nil {
		t.Errorf("an alias for another unit is used: %v", err)
	}
	if c, err = read(Alias{Unit: "IPTS-68", Means: "temp2"}); err != nil || c.Column("temp2") == nil {
		t.Errorf("an alias for any column of a unit is not used: %v", err)
	}
	_, err = read(Alias{Column: "CTDTMP2", Means: "temperature2"})
	if err == nil || !strings.Contains(err.Error(), `alias of column CTDTMP2: no variable is called "temperature2"`) {
		t.Error(err)
	}
	// An alias that cannot be followed is an error at its place: for a variable that another column is by its name or
	// by an alias of its own.
	at := metadata.Position{File: "cruise.yaml", Line: 9, Column: 14}
	for _, a := range [][]Alias{
		{{Column: "CTDTMP2", Means: "temp", At: at}},
		{{Unit: "IPTS-68", Means: "temp", At: at}},
		{{Column: "CTDSAL", Means: "temp2"}, {Column: "CTDTMP2", Means: "temp2", At: at}},
	} {
		_, err = read(a...)
		var in *metadata.InputError
		if !errors.As(err, &in) || in.Position != at || in.Advice() == "" ||
			!strings.Contains(in.Err.Error(), "CTDTMP2 cannot be temp") {
			t.Errorf("%v: %v", a, err)
		}
	}
}

// The comment that means "not evaluated" is read back into flags 0 (flags.md, Writing "not evaluated").
func TestNotEvaluatedComment(t *testing.T) {
	ones := replace("34.6919,2", "34.6919,1", "34.6918,2", "34.6918,1")
	for _, c := range []struct {
		note, flags string
		kept        bool
	}{
		{"(4 levels)", "22200002", false},
		{"at 8-12 dbar", "22200012", false},
		{"at 8, 14 dbar", "22201102", false},
		{"at levels 4-5", "22200112", false},
		{"(3 levels)", "22211112", true}, // an edited file: the careful side
		{"at 100-300 dbar", "22211112", true},
		{"at x dbar", "22211112", true},
		{"somewhere", "22211112", true},
	} {
		data := one("# REPORTED", "# CTDSAL_FLAG_W: 1 = not evaluated "+c.note+"\n# REPORTED")(ones(example(t)))
		casts, found, err := Parse([]byte(data), "x", Options{})
		if err != nil {
			t.Fatal(err)
		}
		flagsOf("psal", c.flags)(t, &casts[0])
		if kept := len(casts[0].Comments) == 2; kept != c.kept || c.kept != (len(found) == 1) {
			t.Errorf("%s: comment kept %v, findings %v", c.note, kept, found)
		}
	}
}

// An alias that cannot take effect, since another column is that variable, is an error at its place in the cruise file.
func TestLostAlias(t *testing.T) {
	at := metadata.Position{File: "cruise.yaml", Line: 7, Column: 5}
	for _, c := range []struct{ name, unit, means, other string }{
		{"CTDSAL2", "PSS-78", "psal", "CTDSAL"}, {"CTDTMP2", "ITS-90", "temp", "CTDTMP"},
		{"PRES2", "DBAR", "pres", "CTDPRS"},
	} {
		data := strings.NewReplacer("CTDOXY", c.name, "UMOL/KG", c.unit).Replace(example(t))
		_, _, err := Parse([]byte(data), "x_ct1.csv",
			Options{Aliases: []Alias{{Column: c.name, Means: c.means, At: at}}})
		var in *metadata.InputError
		if !errors.As(err, &in) || in.Position != at || !strings.Contains(err.Error(), "column "+c.name+" cannot be "+
			c.means+": column "+c.other+" is that already") {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// TestAcceptedAliasesAreNoWarnings says in the cruise file what a column is that is a warning without it: what is left
// is a note at most.
func TestAcceptedAliasesAreNoWarnings(t *testing.T) {
	for _, c := range []struct {
		name, column, unit string
		alias              Alias
	}{
		{"a unit that cannot be converted", "CTDOXY", "UMOL/L", Alias{Column: "CTDOXY", Unit: "UMOL/L", Means: "oxy"}},
		{"a unit that can be converted", "CONDUCTIVITY", "MS/CM", Alias{Column: "CONDUCTIVITY", Means: "cond"}},
		{"a column of water samples", "OXYGEN", "UMOL/KG", Alias{Column: "OXYGEN", Means: "oxy"}},
		{"a column of water samples, which it is", "OXYGEN", "UMOL/KG", Alias{Column: "OXYGEN", Means: "oxy_bottle"}},
		{"a second temperature on IPTS-68", "CTDTMP2", "IPTS-68", Alias{Column: "CTDTMP2", Means: "temp2"}},
		{"an unknown unit", "CTDOXY", "MY UNIT", Alias{Column: "CTDOXY", Means: "oxy"}},
	} {
		if _, ok := metadata.ByName(c.alias.Means); !ok {
			t.Errorf("%s: no variable %s", c.name, c.alias.Means)
			continue
		}
		data := strings.NewReplacer("CTDOXY", c.column, "UMOL/KG", c.unit).Replace(example(t))
		for _, accepted := range []bool{false, true} {
			var o Options
			if accepted {
				o.Aliases = []Alias{c.alias}
			}
			casts, found, err := Parse([]byte(data), "x_ct1.csv", o)
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
				continue
			}
			if !accepted {
				continue
			}
			if casts[0].Column(c.alias.Means) == nil {
				t.Errorf("%s: no column %s", c.name, c.alias.Means)
			}
			for _, f := range found {
				if f.Severity != metadata.Note && f.Check != "exchange.range" {
					t.Errorf("%s: %v: %s", c.name, f.Severity, f.Message)
				}
			}
		}
	}
}
