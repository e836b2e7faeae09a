package ingest

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// brokenLayout is the layout of the files of testdata/broken that end in _layout.txt.
func brokenLayout(name string) *Layout {
	encoding := UTF8
	if strings.HasPrefix(name, "utf-16") {
		encoding = UTF16
	}
	return &Layout{Name: "broken", Encoding: encoding,
		Header: patterns(`^Station: (?P<station>.*)`, `^Date: (?P<date>.*)`, `^Time: (?P<time>.*)`,
			`^Lat: (?P<latitude>.*)`, `^Lon: (?P<longitude>.*)`, `^Depth: (?P<depth>.*)`),
		Columns: flagged(named("P", "pres", "T", "temp", "S", "psal"),
			map[string]FlagPlace{"temp": {Place: Place{Column: "Q"}, Digit: 1}, "psal": {Place: Place{Column: "Q"},
				Digit: 2}})}
}

const layoutHead = "Station: 7\nDate: 2026-08-14\nTime: 06:30\nLat: 54.5000 N\nLon: 10.2500 W\nDepth: 84\n"

func readLayout(t *testing.T, text string, l Layout, o Options) ([]section.Cast, []metadata.Finding) {
	t.Helper()
	if o.Legs == nil {
		o.Legs = []Leg{{Expocode: "ZZSD20260812"}}
	}
	if l.Header == nil {
		l.Header = brokenLayout("").Header
	}
	casts, found, err := ParseLayout([]byte(text), "x.txt", &l, o)
	if err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	return casts, found
}

// What may differ between files beside the dialects of testdata/layouts: each case changes one thing, and the values of
// a column follow.
func TestLayoutWays(t *testing.T) {
	three := named("P", "pres", "T", "temp", "S", "psal")
	for _, c := range []struct {
		name   string
		text   string
		layout Layout
		column string
		want   []float64
		flags  string
	}{
		{"quoted fields", layoutHead + "\"P\",\"T\",\"S\"\n\"2.0\",\"16.11\",\"34.1\"\n", Layout{Columns: three},
			"temp", []float64{16.11}, ""},
		{"an empty field at the end of each line", layoutHead + "P;T;S;\n2.0;16.11;34.1;\n4.0;16.12;34.1;\n",
			Layout{Columns: three}, "temp", []float64{16.11, 16.12}, ""},
		{"an exponent of Fortran", layoutHead + "P T S\n2.0D+00 1.611D+01 34.1\n",
			Layout{Format: Space, Columns: three}, "temp", []float64{16.11}, ""},
		{"plus signs", layoutHead + "P,T,S\n+2.0,+16.11,34.1\n", Layout{Columns: three}, "temp", []float64{16.11}, ""},
		{"a minus sign of typography", layoutHead + "P,T,S\n2.0,\u22121.11,34.1\n", Layout{Columns: three}, "temp",
			[]float64{-1.11}, ""},
		{"degrees Fahrenheit in brackets", layoutHead + "P [dbar],T [degF],S\n2.0,50.0,34.1\n", Layout{Columns: three},
			"temp", []float64{10}, ""},
		{"units in a line of their own", layoutHead + "P,T,S\nkPa,degC,\n20.0,16.11,34.1\n", Layout{Columns: three},
			"pres", []float64{2}, ""},
		{"pressure in bar", layoutHead + "P,T,S\n0.2,16.11,34.1\n",
			Layout{Columns: named("P", "pres in bar", "T", "temp", "S", "psal")}, "pres", []float64{2}, ""},
		{"kelvin", layoutHead + "P,T,S\n2.0,283.15,34.1\n",
			Layout{Columns: named("P", "pres", "T", "temp in K", "S", "psal")}, "temp", []float64{10}, ""},
		// PSS-78: a ratio of 1 at 15 degC on IPTS-68 and 0 dbar is a salinity of 35 (Unesco technical papers in marine
		// science 37).
		{"a conductivity ratio", layoutHead + "P,T,C\n0.0,15.0000,1.00000\n",
			Layout{Columns: named("P", "pres", "T", "temp in IPTS-68", "C", "cond in ratio")}, "psal", []float64{35},
			""},
		{"conductivity in S/m", layoutHead + "P,T,C\n0.0,15.0000,4.29140\n",
			Layout{Columns: named("P", "pres", "T", "temp in IPTS-68", "C", "cond in S/m")}, "psal", []float64{35}, ""},
		{"missing codes of a column", layoutHead + "P,T,S\n2.0,9.9,99\n4.0,16.1,99.0\n",
			Layout{Columns: []LayoutColumn{three[0], three[1], {Place: Place{Column: "S"}, Means: "psal",
				Missing: []string{"99"}}}},
			"psal", []float64{math.NaN(), math.NaN()}, ""},
		{"names after a comment sign", layoutHead + "# P T S\n2.0 16.11 34.1\n",
			Layout{Format: Space, Skip: skipping(regexp.MustCompile(`^#`)), Columns: three}, "temp", []float64{16.11},
			""},
		{"names with blanks between tabs", layoutHead + "Pres. raw\tWater temp\tS\n2.0\t16.11\t34.1\n",
			Layout{Columns: named("Pres. raw", "pres", "Water temp", "temp", "S", "psal")}, "temp", []float64{16.11},
			""},
		{"names in capitals", layoutHead + "p,t,s\n2.0,16.11,34.1\n", Layout{Columns: three}, "temp", []float64{16.11},
			""},
		{"flags in letters", layoutHead + "P,T,F,S\n2.0,16.11,G,34.1\n4.0,16.11,B,34.1\n6.0,16.2,,34.1\n",
			Layout{Columns: flagged(named("P", "pres", "T", "temp", "S", "psal"),
				map[string]FlagPlace{"temp": {Place: Place{Column: "F"}, Codes: map[string]byte{"G": 2, "B": 4}}})},
			"temp",
			[]float64{16.11, 16.11, 16.2}, "240"},
		{"flags of the IODE set", layoutHead + "P,T,F,S\n2.0,16.11,1,34.1\n4.0,16.11,4,34.1\n6.0,16.2,2,34.1\n",
			Layout{Columns: flagged(named("P", "pres", "T", "temp", "S", "psal"),
				map[string]FlagPlace{"temp": {Place: Place{Number: 3}, Scheme: SchemeL34}})}, "temp",
			[]float64{16.11, 16.11, 16.2}, "240"},
		{"lines divided by old ends", strings.ReplaceAll(layoutHead+"P,T,S\n2.0,16.11,34.1\n", "\n", "\r"),
			Layout{Columns: three}, "temp", []float64{16.11}, ""},
		{"a byte-order mark", "\xef\xbb\xbf" + layoutHead + "P,T,S\n2.0,16.11,34.1\n", Layout{Columns: three}, "temp",
			[]float64{16.11}, ""},
		{"UTF-16 without a mark", "P\x00,\x00T\x00,\x00S\x00\n\x002\x00,\x001\x006\x00,\x003\x004\x00\n\x00",
			Layout{Columns: three, Given: given("station", "7", "date", "2026-08-14", "latitude", "54", "longitude",
				"-10")},
			"temp", []float64{16}, ""},
		{"mg/l of oxygen", layoutHead + "P,T,S,O\n0.0,10.0,35.0,8.000\n",
			Layout{Columns: named("P", "pres", "T", "temp", "S", "psal", "O", "oxy in mg/l")}, "oxy",
			// 8 mg/l / 31.998 g/mol = 250.016 umol/l; sigma-theta of S 35, 10 degC is 26.95 kg/m3 (Unesco 44 gives
			// 26.952): 243.45 umol/kg.
			[]float64{243.45}, ""},
	} {
		casts, found := readLayout(t, c.text, c.layout, Options{})
		if len(casts) != 1 {
			t.Errorf("%s: %d casts", c.name, len(casts))
			continue
		}
		for _, f := range found {
			if f.Severity != metadata.Note {
				t.Errorf("%s: %s", c.name, f.Message)
			}
		}
		col := casts[0].Column(c.column)
		if col == nil || len(col.Values) != len(c.want) {
			t.Errorf("%s: column %s is %+v", c.name, c.column, col)
			continue
		}
		for i, w := range c.want {
			if v := col.Values[i]; math.IsNaN(v) != math.IsNaN(w) || math.Abs(v-w) > 0.006 || c.column != "oxy" &&
				math.Abs(v-w) > 1e-9 {
				t.Errorf("%s: %s is %v, want %v", c.name, c.column, v, w)
			}
		}
		got := ""
		for _, f := range col.Flags {
			got += string('0' + rune(f))
		}
		if c.flags != "" && got != c.flags {
			t.Errorf("%s: flags %s, want %s", c.name, got, c.flags)
		}
	}
}

func given(pairs ...string) (out []GivenFact) {
	for i := 0; i < len(pairs); i += 2 {
		out = append(out, GivenFact{Fact: pairs[i], Text: pairs[i+1]})
	}
	return out
}

// A last line that is cut short is left out with a warning; of a depth that is no number the message says depth.
func TestLayoutFaults(t *testing.T) {
	l := *brokenLayout("")
	casts, found, err := ParseLayout([]byte(layoutHead+"P,T,S,Q\n2.0,16.11,34.1,22\n4.0,16."), "x.txt", &l,
		Options{Legs: []Leg{{Expocode: "ZZSD20260812"}}})
	if err != nil || casts[0].Levels() != 1 || len(found) != 1 || found[0].Severity != metadata.Warning ||
		found[0].Line != 9 {
		t.Errorf("%v %v", found, err)
	}
	l.Columns = named("Z", "depth", "T", "temp")
	for text, want := range map[string]string{
		"Z,T\n2,16\n-999,15\n": "depth is missing", "Z,T\n2,16\n15000,15\n": "15000 m is no depth in the sea",
		"Z,T\n2,16\n,15\n": "depth is missing",
	} {
		if _, _, err := ParseLayout([]byte(layoutHead+text), "x.txt", &l,
			Options{Legs: []Leg{{Expocode: "ZZSD20260812"}}}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

// A file that goes down and up is two casts: the lines after the deepest are an upcast, in order of pressure.
func TestDownAndUp(t *testing.T) {
	casts,
		_ := readLayout(t,
		layoutHead+"P,T,S\n2.0,16.11,34.1\n4.0,16.0,34.2\n6.0,15.9,34.3\n5.0,15.8,34.3\n1.0,16.2,34.1\n",
		Layout{Direction: TravelBoth, Columns: named("P", "pres", "T", "temp", "S", "psal")}, Options{})
	if len(casts) != 2 {
		t.Fatal(len(casts))
	}
	down, up := casts[0], casts[1]
	if down.Direction != section.Down || down.Number != "1" || !slices.Equal(down.PressureDbar, []float64{2, 4, 6}) {
		t.Errorf("down: %v %s %v", down.Direction, down.Number, down.PressureDbar)
	}
	if up.Direction != section.Up || up.Number != "1U" || up.Role != section.Repeat ||
		!slices.Equal(up.PressureDbar, []float64{1, 5}) || up.Column("temp").Values[0] != 16.2 {
		t.Errorf("up: %v %s %v", up.Direction, up.Number, up.PressureDbar)
	}
}

// Casts of one file begin where a line says so, or where the columns of station or cast change. What the head of the
// file says holds for all.
func TestSeveralCastsInAFile(t *testing.T) {
	columns := named("P", "pres", "T", "temp", "S", "psal")
	rows := "P,T,S\n2.0,16.11,34.1\n4.0,16.0,34.2\n"
	head := func(station string) string { return strings.Replace(layoutHead, "7", station, 1) }
	for name, c := range map[string]struct {
		text   string
		layout Layout
	}{
		"found from the head": {head("7") + rows + "\n" + head("8") + rows, Layout{Columns: columns}},
		"one line of names for all": {"P,T,S\n" + head("7") + "2.0,16.1,34.1\n4.0,16.0,34.2\n" + head("8") +
			"2.0,16.1,34.1\n4.0,16.0,34.2\n", Layout{Columns: columns}},
		"a line that begins each": {"ship\n@\n" + head("7") + rows + "@\n" + head("8") + rows,
			Layout{Columns: columns, Split: regexp.MustCompile("^@")}},
		"a count of lines after that line": {"@\n" + head("7") + "1 2 3\n2,16.1,34.1\n4,16,34\n@\n" + head("8") +
			"1 2 3\n2,16.1,34.1\n4,16,34\n", Layout{Columns: numbered("pres", "temp", "psal"),
			Split: regexp.MustCompile("^@"), Skip: Skip{Lines: 8}}},
		"a column of stations": {head("1")[11:] + "Stn,P,T,S\n7,2.0,16,34\n7,4.0,16,34\n8,2.0,16,34\n8,4.0,16,34\n",
			Layout{Columns: append(named("Stn", "station"), columns...)}},
	} {
		casts, _ := readLayout(t, c.text, c.layout, Options{})
		if len(casts) != 2 || casts[0].Station != "7" || casts[1].Station != "8" || !slices.Equal(casts[0].PressureDbar,
			[]float64{2, 4}) || !slices.Equal(casts[1].PressureDbar, []float64{2, 4}) {
			t.Errorf("%s: %d casts", name, len(casts))
		}
	}
	// Two casts of one station without a number are numbered in their order.
	casts, _ := readLayout(t, head("7")+rows+head("7")+rows, Layout{Columns: columns}, Options{})
	if len(casts) != 2 || casts[0].Number != "1" || casts[1].Number != "2" {
		t.Errorf("%d casts", len(casts))
	}
}

// The station table gives position and water depth where the file does not; the leg of the day gives the expocode.
func TestLayoutWithLog(t *testing.T) {
	log, _, err := ReadStationTable(
		[]byte("station,cast,time,latitude,longitude,depth\n012,1,2026-08-14 06:30,54.5,-10.25,84\n"), "log.csv", nil)
	if err != nil {
		t.Fatal(err)
	}
	l := Layout{Header: patterns(`file: stn(?P<station>\d+)`), Columns: named("P", "pres", "T", "temp", "S", "psal")}
	casts, _, err := ParseLayout([]byte("P,T,S\n2.0,16.11,34.1\n"), "a/stn12.csv", &l,
		Options{Log: log, Legs: []Leg{{Expocode: "ZZSD20260812"}}})
	if err != nil {
		t.Fatal(err)
	}
	if c := casts[0]; c.Station != "12" || c.At != log[0].At || c.BottomM != 84 || c.AtDecimals != [2]int{2, 1} {
		t.Errorf("%+v", c)
	}
}

func FuzzLayout(f *testing.F) {
	all := dialects()
	names := []string{}
	for name := range all {
		names = append(names, name)
	}
	slices.Sort(names)
	for i, name := range names {
		files, err := filepath.Glob(filepath.Join("../testdata/layouts", name, "*"))
		if err != nil || len(files) == 0 {
			f.Fatal(name)
		}
		data, err := os.ReadFile(files[0])
		if err != nil {
			f.Fatal(err)
		}
		if len(data) > 1500 {
			data = data[:1500]
		}
		f.Add(data, byte(i), false)
		f.Add(data[:len(data)/2], byte(i), true)
	}
	files, err := filepath.Glob("../testdata/broken/*_layout.txt")
	if err != nil || len(files) == 0 {
		f.Fatal(err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data, byte(255), false)
	}
	f.Fuzz(func(t *testing.T, data []byte, which byte, lenient bool) {
		l := *brokenLayout("")
		if int(which) < len(names) {
			l = all[names[which]]
		}
		if which%3 == 0 {
			l.Direction = TravelBoth
		}
		casts, found, err := ParseLayout(data, "f.txt", &l,
			Options{Lenient: lenient, Legs: []Leg{{Expocode: "ZZSD20260812"}}})
		if err != nil {
			if casts != nil {
				t.Error("casts in spite of an error")
			}
			for _, e := range metadata.Parts(err) {
				if in, ok := e.(*metadata.InputError); !ok || in.Err == nil {
					t.Errorf("%T %v", e, e)
				}
			}
		}
		for i := range casts {
			if err := casts[i].Validate(); err != nil {
				t.Error(err)
			}
		}
		for _, x := range found {
			if x.Message == "" || strings.ContainsAny(x.Message, "\n") {
				t.Errorf("%q", x.Message)
			}
		}
	})
}

// A day of the year whose count is not known is refused until the layout says whether 1 January is 0 or 1.
func TestYearday(t *testing.T) {
	head := "7 2026 226.27083 54.5 -10.25\n"
	l := Layout{Format: Space, Skip: Skip{Lines: 1}, Columns: numbered("pres", "temp", "psal"),
		Header: patterns(`^(?P<station>\d+) (?P<year>\d+) (?P<yearday>\S+) (?P<latitude>\S+) (?P<longitude>\S+)`)}
	read := func(days DayCount) (string, error) {
		l.Days = days
		casts, _, err := ParseLayout([]byte(head+"2.0 16.11 34.1\n"), "x.txt", &l,
			Options{Legs: []Leg{{Expocode: "ZZSD20260812"}}})
		if err != nil {
			return "", err
		}
		return casts[0].Time.Format(time.RFC3339), nil
	}
	for days, want := range map[DayCount]string{DaysFromOne: "2026-08-14T06:30:00Z",
		DaysFromZero: "2026-08-15T06:30:00Z"} {
		if got, err := read(days); err != nil || got != want {
			t.Errorf("%v: %s %v, want %s", days, got, err, want)
		}
	}
	if _, err := read(DaysUnstated); err == nil || !strings.Contains(err.Error(), "whether 1 January is 0 or 1") {
		t.Error(err)
	}
}
