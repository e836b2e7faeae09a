package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/internal/golden"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// example is the CTD file printed in the format description (exchange.md section 2).
func example(t testing.TB) string {
	t.Helper()
	b, err := os.ReadFile("../testdata/example_ct1.csv")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// describe writes what a reader said: errors with their remedies, then findings with theirs.
func describe(found []metadata.Finding, err error) string {
	var b strings.Builder
	for _, e := range metadata.Parts(err) {
		fmt.Fprintf(&b, "error: %v\n", e)
		var in *metadata.InputError
		if errors.As(e, &in) && in.Advice() != "" {
			fmt.Fprintf(&b, "  hint: %s\n", strings.ReplaceAll(in.Advice(), "\n", "\n        "))
		}
	}
	for _, f := range found {
		fmt.Fprintf(&b, "%s: %s: [%s] %s\n", f.Severity, f.Position, f.Check, f.Message)
		if f.Advice() != "" {
			fmt.Fprintf(&b, "  hint: %s\n", strings.ReplaceAll(f.Advice(), "\n", "\n        "))
		}
	}
	return b.String()
}

func TestReadsThePrintedExample(t *testing.T) {
	casts, found, err := Parse([]byte(example(t)), "example_ct1.csv", Options{})
	if err != nil || len(found) > 0 {
		t.Fatal(describe(found, err))
	}
	c := &casts[0]
	if c.Expocode != "318M20130321" || c.SectionID != "P02W" || c.Station != "1" || c.Number != "2" ||
		c.Stamp != "20130709ODF" {
		t.Errorf("identification: %+v", c)
	}
	if c.At != [2]float64{133.0297, 32.5068} || c.AtDecimals != [2]int{4, 4} || c.BottomM != 166 ||
		c.BottomDecimals != 0 {
		t.Errorf("position %v %v, depth %v", c.At, c.AtDecimals, c.BottomM)
	}
	if !c.Time.Equal(time.Date(2013, 3, 22, 22, 5, 0, 0, time.UTC)) || c.DateOnly {
		t.Errorf("time %v", c.Time)
	}
	if len(c.Comments) != 1 ||
		c.Comments[0].Text != "# REPORTED CAST DEPTH IS CTD_DEPTH + DISTANCE_ABOVE_BOTTOM AT MAX PRESSURE" ||
		c.Comments[0].Place != section.InHead {
		t.Errorf("comments %+v", c.Comments)
	}
	names := ""
	for _, k := range c.Columns {
		names += fmt.Sprintf("%s %s %d %d;", k.Name, k.ExchangeUnit, k.Decimals, k.Width)
	}
	if names != "pres DBAR 1 9;temp ITS-90 4 9;psal PSS-78 4 9;oxy UMOL/KG 1 9;" {
		t.Errorf("columns %s", names)
	}
	if c.Levels() != 8 || &c.PressureDbar[0] != &c.Columns[0].Values[0] {
		t.Errorf("%d levels", c.Levels())
	}
	if v := c.Column("temp").Values[7]; v != 19.2029 {
		t.Errorf("last temperature %v", v)
	}
	if f := c.Column("oxy").Flags; !slices.Equal(f, slices.Repeat([]metadata.Flag{metadata.Acceptable}, 8)) {
		t.Errorf("flags %v", f)
	}
}

// replace returns an edit of the example that must find what it replaces.
func replace(pairs ...string) func(string) string {
	return func(s string) string {
		for i := 0; i < len(pairs); i += 2 {
			if !strings.Contains(s, pairs[i]) {
				panic("the example has no " + pairs[i])
			}
			s = strings.ReplaceAll(s, pairs[i], pairs[i+1])
		}
		return s
	}
}

func one(pairs ...string) func(string) string { // the first place only
	return func(s string) string {
		for i := 0; i < len(pairs); i += 2 {
			if !strings.Contains(s, pairs[i]) {
				panic("the example has no " + pairs[i])
			}
			s = strings.Replace(s, pairs[i], pairs[i+1], 1)
		}
		return s
	}
}

// plain rewrites the data of the example without flags and padding, so that edits are easy to read.
func withoutFlags(s string) string {
	var out []string
	data := false
	for _, l := range strings.Split(s, "\n") {
		if strings.HasPrefix(l, "CTDPRS,") || strings.HasPrefix(l, "DBAR,") {
			data = true
			l = strings.NewReplacer("CTDPRS_FLAG_W,", "", "CTDTMP_FLAG_W,", "", "CTDSAL_FLAG_W,", "", ",CTDOXY_FLAG_W",
				"", ",,", ",").Replace(l)
			l = strings.TrimSuffix(l, ",")
		} else if data && strings.Contains(l, ",") {
			f := strings.Split(l, ",")
			l = strings.Join([]string{f[0], f[2], f[4], f[6]}, ",")
		}
		out = append(out, l)
	}
	return strings.Join(out, "\n")
}

func then(fs ...func(string) string) func(string) string {
	return func(s string) string {
		for _, f := range fs {
			s = f(s)
		}
		return s
	}
}

func str(get func(*section.Cast) string, want string) func(*testing.T, *section.Cast) {
	return func(t *testing.T, c *section.Cast) {
		t.Helper()
		if got := get(c); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func station(want string) func(*testing.T, *section.Cast) {
	return str(func(c *section.Cast) string { return c.Station }, want)
}

func levels(want int) func(*testing.T, *section.Cast) {
	return func(t *testing.T, c *section.Cast) {
		t.Helper()
		if c.Levels() != want {
			t.Errorf("%d levels, want %d", c.Levels(), want)
		}
	}
}

func at(want string) func(*testing.T, *section.Cast) {
	return str(func(c *section.Cast) string {
		return fmt.Sprintf("%.*f %.*f", c.AtDecimals[1], c.At[1], c.AtDecimals[0], c.At[0])
	}, want)
}

func clock(want string) func(*testing.T, *section.Cast) {
	return str(func(c *section.Cast) string {
		if c.DateOnly {
			return c.Time.Format("2006-01-02")
		}
		return c.Time.Format("2006-01-02 15:04:05")
	}, want)
}

func value(name string, row int, want float64) func(*testing.T, *section.Cast) {
	return func(t *testing.T, c *section.Cast) {
		t.Helper()
		k := c.Column(name)
		if k == nil || k.Values == nil {
			t.Fatalf("no column %s of numbers", name)
		}
		if got := k.Values[row]; got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("%s at level %d is %v, want %v", name, row+1, got, want)
		}
	}
}

func flagsOf(name, want string) func(*testing.T, *section.Cast) {
	return str(func(c *section.Cast) string {
		if c.Column(name).Flags == nil {
			return "none"
		}
		s := ""
		for _, f := range c.Column(name).Flags {
			s += fmt.Sprint(uint8(f))
		}
		return s
	}, want)
}

func textOf(name, want string) func(*testing.T, *section.Cast) {
	return str(func(c *section.Cast) string { return strings.Join(c.Column(name).Text, "|") }, want)
}

func all(fs ...func(*testing.T, *section.Cast)) func(*testing.T, *section.Cast) {
	return func(t *testing.T, c *section.Cast) {
		t.Helper()
		for _, f := range fs {
			f(t, c)
		}
	}
}

func depthIs(want float64) func(*testing.T, *section.Cast) {
	return func(t *testing.T, c *section.Cast) {
		t.Helper()
		if c.BottomM != want && !(math.IsNaN(want) && math.IsNaN(c.BottomM)) {
			t.Errorf("water depth %v, want %v", c.BottomM, want)
		}
	}
}

func commentsAre(want string) func(*testing.T, *section.Cast) {
	return str(func(c *section.Cast) string {
		var s []string
		for _, k := range c.Comments[1:] { // behind that of the example
			s = append(s, fmt.Sprintf("%d %d %s", k.Place, k.Level, k.Text))
		}
		return strings.Join(s, "|")
	}, want)
}

var (
	nan = math.NaN()
	t68 = 19.184 // a variable, so that the division is not exact
)

// Each row of exchange.md section 7: what is read, and the exact findings in testdata/tolerated.txt. The examples are
// made from the printed file.
var tolerated = []struct {
	row, name string
	edit      func(string) string
	check     func(*testing.T, *section.Cast)
}{
	{"1", "crlf", replace("\n", "\r\n"), all(levels(8), value("oxy", 7, 220.6))},
	{"1", "cr alone", replace("\n", "\r"), all(levels(8), value("oxy", 7, 220.6))},
	{"1", "mixed line ends", one("\n", "\r\n", "\nEXPO", "\rEXPO"), levels(8)},
	{"1", "some lines in CRLF", one("EXPOCODE = 318M20130321\n", "EXPOCODE = 318M20130321\r\n"), levels(8)},
	{"1", "byte-order mark", func(s string) string { return "\xef\xbb\xbf" + s }, levels(8)},
	{"1", "latin-1 in a comment", one("# REPORTED", "# second: Sm\xf8rebr\xf8d\n# REPORTED"),
		str(func(c *section.Cast) string { return c.Comments[0].Text }, "# second: Smørebrød")},
	{"2", "blank lines", then(func(s string) string { return "\n \n" + s + "\n\n" }, one("STNNBR", "\nSTNNBR"),
		one("      6.0", "\n      6.0")), all(station("1"), levels(8))},
	{"2", "trailing blanks and tabs", one("STNNBR = 1\n", "STNNBR\t=\t1  \n", "4.0,2,  19.1992", "4.0 ,\t2,  19.1992 ",
		",2\n", ",2  \n", "      8.0,", "\t8.0,"), all(station("1"), levels(8), value("pres", 3, 8))},
	{"2", "lines of commas, as a spreadsheet saves them",
		then(one("STNNBR = 1\n", ",,,,,,,\nSTNNBR = 1,,,,,,,\n", "CTD,20130709ODF", "CTD,20130709ODF,,,,,,",
			"      6.0", ",,,,,,,\n      6.0", "END_DATA", "END_DATA,,,,,,,")),
		all(station("1"), levels(8), str(func(c *section.Cast) string { return c.Stamp }, "20130709ODF"))},
	{"3", "no END_DATA", one("END_DATA\n", ""), levels(8)},
	{"3", "END DATA", one("END_DATA", "END DATA"), levels(8)},
	{"3", "end_data", one("END_DATA", "end_data"), levels(8)},
	{"4", "text after END_DATA", func(s string) string { return s + "made on a rainy day, says ØØ\n\nthe end\n" },
		commentsAre("3 0 made on a rainy day, says ØØ|3 0 |3 0 the end")},
	{"5", "stamp without comma and date", one("CTD,20130709ODF", "CTD"),
		str(func(c *section.Cast) string { return c.Stamp }, "")},
	{"5", "stamp in lower case", one("CTD,20130709ODF", "ctd,20130709odf"),
		str(func(c *section.Cast) string { return c.Stamp }, "20130709odf")},
	{"5", "stamp with a blank", one("CTD,20130709ODF", "CTD 20130709ODF"),
		str(func(c *section.Cast) string { return c.Stamp }, "20130709ODF")},
	{"6", "comments anywhere", then(func(s string) string { return "# before\n" + s },
		one("STNNBR", "# between headers\nSTNNBR", "DBAR,", "# before units\nDBAR,", "      6.0",
			"# among data\n      6.0")),
		str(func(c *section.Cast) string {
			s := ""
			for _, k := range c.Comments {
				s += fmt.Sprintf("%d %d %.12s|", k.Place, k.Level, k.Text)
			}
			return s
		}, "0 0 # before|0 0 # REPORTED C|1 0 # between he|1 0 # before uni|2 2 # among data|")},
	{"7", "NUMBER_HEADERS one too few", one("HEADERS = 10", "HEADERS = 9"), station("1")},
	{"7", "NUMBER_HEADERS larger than the block", one("HEADERS = 10", "HEADERS = 15"), station("1")},
	{"7", "NUMBER_HEADERS absent", one("NUMBER_HEADERS = 10\n", ""), station("1")},
	{"7", "NUMBER_HEADERS empty", one("HEADERS = 10", "HEADERS ="), station("1")},
	{"7", "NUMBER_HEADERS not first", one("NUMBER_HEADERS = 10\n", "", "STNNBR", "NUMBER_HEADERS = 10\nSTNNBR"),
		station("1")},
	{"8", "old header names", one("SECT_ID", "SECT", "STNNBR", "STATION", "CASTNO", "cast", "LATITUDE", "LAT",
		"LONGITUDE", "LON", "NUMBER_HEADERS", "NUMBER_OF_HEADERS"), all(station("1"), at("32.5068 133.0297"))},
	{"8", "unit in a header name", one("DEPTH =", "DEPTH (M) =", "LATITUDE =", "Latitude [deg] ="),
		all(depthIs(166), at("32.5068 133.0297"))},
	{"9", "commas and quotes in header values", one("STNNBR = 1\n", "STNNBR=1,,\n", "SECT_ID = P02W",
		"SECT_ID = \"P02W\"", "EXPOCODE = 318M20130321\n", "\"EXPOCODE = 318M20130321\"\n"),
		all(station("1"), str(func(c *section.Cast) string { return c.SectionID + c.Expocode }, "P02W318M20130321"))},
	{"10", "user headers", one("\nDEPTH", "\nINSTRUMENT_ID = 0042\nDEPTH", "HEADERS = 10", "HEADERS = 11"),
		str(func(c *section.Cast) string { return fmt.Sprint(c.Headers) }, "[{INSTRUMENT_ID 0042}]")},
	{"10", "user headers that our writer made comments",
		one("# REPORTED", "# HEADER CREW = 12\n# HEADER EMPTY =\n# HEADER NO VALUE\n# HEADER STNNBR = 5\n# REPORTED",
			"\nDEPTH", "\nCREW2 = 13\nDEPTH", "HEADERS = 10", "HEADERS = 11"),
		all(str(func(c *section.Cast) string { return fmt.Sprintf("%q", c.Headers) },
			`[{"CREW2" "13"} {"CREW" "12"} {"EMPTY" ""}]`), station("1"))},
	{"15", "two flag columns for one quantity", replace("CTDOXY_FLAG_W", "SAL_FLAG_W"),
		all(flagsOf("psal", "22222222"), flagsOf("oxy", "none"), textOf("sal_flag_as_read", "2|2|2|2|2|2|2|2"))},
	{"15", "flags without their column", replace("CTDOXY_FLAG_W", "CTDABC_FLAG_W"),
		all(flagsOf("oxy", "none"), textOf("ctdabc_flag_as_read", "2|2|2|2|2|2|2|2"))},
	{"21", "old names of flag columns", replace("CTDSAL_FLAG_W", "SALT_FLAG_W"), flagsOf("psal", "22222222")},
	{"24", "columns with blanks and odd letters", replace("CTDOXY", "9 WIND=M/S"),
		all(value("column_9_wind_m_s", 0, 220.8))},
	{"11", "trailing commas", replace("UMOL/KG,\n", "UMOL/KG,,\n", "CTDOXY_FLAG_W\n", "CTDOXY_FLAG_W,\n", ",2\n",
		",2,\n"), all(levels(8), value("oxy", 7, 220.6))},
	{"11", "unit line one field short", one("UMOL/KG,\n", "UMOL/KG\n"), levels(8)},
	{"11", "unit line absent", one("DBAR,,ITS-90,,PSS-78,,UMOL/KG,\n", ""), all(levels(8), value("psal", 0, 34.6935),
		str(func(c *section.Cast) string { return c.Column("temp").Scale + "|" + c.Columns[3].Name }, "|ctdoxy"))},
	{"12", "blank values", one("34.6935,2,    220.8,2", ",2,,"), all(value("psal", 0, nan), value("oxy", 0, nan),
		flagsOf("psal", "92222222"), flagsOf("oxy", "92222222"))},
	{"13", "fills in any precision", one("  19.1840,2", "-999.0000,9", "34.6935,2", "-999,9", "    220.8,2",
		"   -999.,5", "  19.1992,2", "-999.0,9"),
		all(value("temp", 0, nan), value("psal", 0, nan), value("oxy", 0, nan), value("temp", 1, nan),
			flagsOf("oxy", "52222222"), flagsOf("temp", "99222222"))},
	{"13", "other fills out of range", one("  19.1840,2", "       -9,9", "34.6935,2", "-9.0,9", "    220.8,2",
		"      -99,9", "  19.1992,2", "    -99.9,9", "  19.2002,2", "    -9999,9", "34.6924,2", "NaN,9", "    220.7,2",
		",9"),
		all(value("temp", 0, nan), value("psal", 0, nan), value("oxy", 0, nan), value("temp", 1, nan),
			value("temp", 2, nan), value("psal", 1, nan), value("oxy", 1, nan))},
	{"13", "-9 where it is a value", replace("CTDOXY", "FREEPAR", "220.8", "   -9"), value("freepar", 0, -9)},
	{"14", "no flag columns", withoutFlags, all(levels(8), flagsOf("temp", "none"), value("oxy", 7, 220.6))},
	{"15", "flags 0, blank, -9, -999, 2.0", one("34.6935,2", "34.6935,0", "34.6924,2", "34.6924,", "34.6922,2",
		"34.6922,-9", "34.6919,2", "34.6919,-999", "34.6918,2", "34.6918,2.0"), flagsOf("psal", "00002222")},
	{"15", "nothing but zeros", replace(",2,  34", ",0,  34"), flagsOf("temp", "none")},
	{"15", "other flag schemes", replace("CTDSAL_FLAG_W", "CTDSAL_FLAG_I", "CTDOXY_FLAG_W", "QUALT1"),
		all(flagsOf("psal", "none"), flagsOf("oxy", "none"), textOf("ctdsal_flag_i", "2|2|2|2|2|2|2|2"),
			textOf("qualt1", "2|2|2|2|2|2|2|2"))},
	{"16", "value with flag 9 or 5", one("34.6935,2", "34.6935,9", "34.6924,2", "34.6924,5"),
		all(flagsOf("psal", "95222222"), value("psal", 0, 34.6935))},
	{"16", "no value with flag 2", one("34.6935,2", "-999,2"), flagsOf("psal", "92222222")},
	{"17", "time without zeros", one("TIME = 2205", "TIME = 705"), clock("2013-03-22 07:05:00")},
	{"17", "time of one digit", one("TIME = 2205", "TIME = 7"), clock("2013-03-22 00:07:00")},
	{"17", "time 2400", one("TIME = 2205", "TIME = 2400"), clock("2013-03-23 00:00:00")},
	{"17", "time with colon", one("TIME = 2205", "TIME = 7:05"), clock("2013-03-22 07:05:00")},
	{"17", "time with seconds", one("TIME = 2205", "TIME = 07:05:30"), clock("2013-03-22 07:05:30")},
	{"17", "time -999", one("TIME = 2205", "TIME = -999"), clock("2013-03-22")},
	{"17", "time 0", one("TIME = 2205", "TIME = 0"), clock("2013-03-22 00:00:00")},
	{"17", "time blank", one("TIME = 2205", "TIME ="), clock("2013-03-22")},
	{"17", "time absent", one("TIME = 2205\n", "", "HEADERS = 10", "HEADERS = 9"), clock("2013-03-22")},
	{"18", "date with dashes", one("20130322\n", "2013-03-22\n"), clock("2013-03-22 22:05:00")},
	{"18", "date with a point", one("20130322\n", "20130322.0\n"), clock("2013-03-22 22:05:00")},
	{"19", "longitude 0 to 360", one("133.0297", "226.9703"), at("32.5068 -133.0297")},
	{"19", "degrees, minutes and letter", one(" 32.5068", "32 30.41 S", " 133.0297", "133.0297 W"),
		at("-32.5068 -133.0297")},
	{"20", "units misspelt", one("DBAR,", "dbars,", "ITS-90", "its90", "PSS-78", "PSU", "UMOL/KG", "umol/kg."),
		all(value("pres", 0, 2), value("temp", 0, 19.184), value("psal", 0, 34.6935), value("oxy", 0, 220.8))},
	{"20", "oxygen per litre", one("UMOL/KG", "UMOL/L"), value("ctdoxy", 0, 220.8)},
	{"20", "temperature in DEG-C", one("ITS-90", "DEG-C"),
		all(value("temp", 0, 19.184),
			str(func(c *section.Cast) string { return c.Column("temp").ExchangeUnit + c.Column("temp").Scale },
				"DEG C"))},
	{"20", "units not in ASCII", one("UMOL/KG", "µmol/kg", "ITS-90", "°C", "PSS-78", "PSÜ"),
		all(value("oxy", 0, 220.8), value("temp", 0, 19.184), value("ctdsal", 0, 34.6935))},
	{"20", "units in Latin-1", one("UMOL/KG", "\xb5mol/kg"), value("oxy", 0, 220.8)},
	{"21", "old column names", replace("CTDPRS", "PRES", "CTDTMP", "TEMP", "CTDSAL", "SALT", "CTDOXY", "OXY"),
		all(value("pres", 0, 2), value("temp", 0, 19.184), value("psal", 0, 34.6935), value("oxy", 0, 220.8),
			flagsOf("oxy", "22222222"))},
	{"21", "a column of water samples in a CTD file", replace("CTDOXY", "OXYGEN"), value("oxy_bottle", 0, 220.8)},
	{"21", "a second sensor", replace("CTDOXY", "CTDSAL2", "UMOL/KG", "PSS-78"), value("ctdsal2", 0, 220.8)},
	{"21", "old name beside the right one", replace("CTDOXY", "TEMP", "UMOL/KG", "ITS-90"),
		all(value("temp", 0, 19.184), value("column_temp", 0, 220.8))},
	{"22", "IPTS-68", one("ITS-90", "ITS-68"), all(value("temp", 0, math.Round(t68/1.00024*1e5)/1e5),
		str(func(c *section.Cast) string {
			k := c.Column("temp")
			return fmt.Sprintf("%d %s %s %s", k.Decimals, k.ExchangeUnit, k.Scale, c.Comments[0].Text)
		}, "5 ITS-90 ITS-90 # CTDTMP converted from IPTS-68 to ITS-90: t90 = t68 / 1.00024"))},
	{"23", "depth 0", one("  166", "0"), depthIs(nan)},
	{"23", "depth -999", one("  166", "-999"), depthIs(nan)},
	{"23", "depth with decimals", one("  166", "166.5"), depthIs(166.5)},
	{"23", "depth in words", one("  166", "n/a"), depthIs(nan)},
	{"23", "depth negative", one("  166", "-166"), depthIs(nan)},
	{"24", "columns in lower case", replace("CTDTMP", "ctdtmp"),
		all(value("temp", 0, 19.184), flagsOf("temp", "22222222"))},
	{"25", "pressure repeated and decreasing", one("      6.0", "      4.0", "     10.0", "      7.0"),
		str(func(c *section.Cast) string { return fmt.Sprint(c.PressureDbar) }, "[2 4 4 8 7 12 14 16]")},
	{"25", "first bin 0", one("      2.0", "      0.0"), value("pres", 0, 0)},
	{"26", "exponents and plus signs", one("  34.6935", "3.46935E+01", "  34.6924", " +34.6924"),
		all(value("psal", 0, 34.6935), value("psal", 1, 34.6924))},
	{"26", "numbers in quotes", one("  34.6935", "\"34.6935\""), value("psal", 0, 34.6935)},
	{"10", "an unlisted column of numbers", replace("CTDOXY_FLAG_W", "WINCH_SPEED"),
		all(value("winch_speed", 0, 2), flagsOf("oxy", "none"))},
	{"10", "an unlisted column of text", one("CTDOXY_FLAG_W", "REMARK", "220.8,2", "220.8,calm", "220.6,2\nEND",
		"220.6,007\nEND"), textOf("remark", "calm|2|2|2|2|2|2|007")},
	{"10", "an unlisted column that turns to text late", one("CTDOXY_FLAG_W", "REMARK", "220.6,2\nEND",
		"220.6,swell\nEND"), textOf("remark", "2|2|2|2|2|2|2|swell")},
	{"8.range", "values out of range", one("  34.6935,2", "  54.6935,2", "  34.6924,2", "  54.6924,2", "  34.6922,2",
		"  64.6922,4"), value("psal", 0, 54.6935)},
	{"8.flag", "flags outside the set", one("34.6935,2", "34.6935,x", "34.6924,2", "34.6924,11", "34.6922,2",
		"34.6922,8"), flagsOf("psal", "00822222")},
	{"8.truncated", "last line cut short", func(s string) string { return s[:strings.Index(s, "  34.6916")] },
		levels(7)},
	{"8.truncated", "last line without its end", func(s string) string { return s[:strings.LastIndex(s, "\nEND")] },
		levels(8)},
	{"5.expocode", "expocode with a day that no calendar has", one("318M20130321", "318M20130230"),
		str(func(c *section.Cast) string { return c.Expocode }, "318M20130230")},
	{"5.expocode", "expocode of another pattern", one("318M20130321", "AR_2013"),
		str(func(c *section.Cast) string { return c.Expocode }, "AR_2013")},
	{"5.station", "station as text", one("STNNBR = 1", "STNNBR = 001A"), station("001A")},
	{"5.station", "station with a dash", one("STNNBR = 1", "STNNBR = 12-A", "CASTNO = 2", "CASTNO = 2B"),
		station("12-A")},
	{"5.station", "no-break spaces around a header value", one("STNNBR = 1\n", "STNNBR =\u00a01\u00a0\n"),
		station("1")},
	{"7", "header twice, same value", one("STNNBR = 1\n", "STNNBR = 1\nSTATION = 1\n"), station("1")},
}

func TestTolerated(t *testing.T) {
	var all strings.Builder
	for _, c := range tolerated {
		t.Run(c.row+" "+c.name, func(t *testing.T) {
			data := c.edit(example(t))
			if data == example(t) {
				t.Fatal("the edit changes nothing")
			}
			casts, found, err := Parse([]byte(data), "leg1/012_ct1.csv", Options{})
			if err != nil {
				t.Fatal(describe(nil, err))
			}
			if err := casts[0].Validate(); err != nil {
				t.Error(err)
			}
			c.check(t, &casts[0])
			fmt.Fprintf(&all, "== row %s: %s\n%s", c.row, c.name, describe(found, nil))
		})
	}
	golden.Check(t, "tolerated.txt", []byte(all.String()))
}

// Whatever is wrong with a file, the caller's bytes stay as they were.
func TestParseLeavesItsInputAlone(t *testing.T) {
	for _, c := range tolerated {
		data := []byte(c.edit(example(t)))
		was := bytes.Clone(data)
		_, _, _ = Parse(data[:len(data):len(data)], "x", Options{})
		if !bytes.Equal(data, was) {
			t.Errorf("%s: the input was changed", c.name)
		}
	}
}

// A second sensor in the unit of its variable is named in the line to paste; other columns leave the name to a person.
func TestSecondSensorIsProposed(t *testing.T) {
	for _, c := range []struct{ name, unit, want string }{
		{"CTDTMP2", "ITS-90", "temp2"}, {"CTDSAL2", "pss-78", "psal2"}, {"CTDOXY2", "UMOL/KG", "oxy2"},
		{"CTDTMP2", "DEG C", "..."}, {"CTDPRS2", "DBAR", "..."},
		{"CTDCDOM", "QSU", "..."}, {"CTDCDOM2", "QSU", "..."},
	} {
		if got := secondSensor(c.name, c.unit); got != c.want {
			t.Errorf("%s (%s): %s, want %s", c.name, c.unit, got, c.want)
		}
	}
}
