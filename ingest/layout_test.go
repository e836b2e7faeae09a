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

func patterns(lines ...string) (out []Pattern) {
	for _, l := range lines {
		p := Pattern{}
		if rest, ok := strings.CutPrefix(l, "file: "); ok {
			p.FileName, l = true, rest
		}
		p.Regexp = regexp.MustCompile(l)
		out = append(out, p)
	}
	return out
}

func skipping(p *regexp.Regexp) Skip { return Skip{Patterns: []*regexp.Regexp{p}} }

func named(meanings ...string) (out []LayoutColumn) {
	for i := 0; i < len(meanings); i += 2 {
		means, unit, _ := strings.Cut(meanings[i+1], " in ")
		out = append(out, LayoutColumn{Place: Place{Column: meanings[i]}, Means: means, Unit: unit})
	}
	return out
}

func numbered(means ...string) (out []LayoutColumn) {
	for i, m := range means {
		out = append(out, LayoutColumn{Place: Place{Number: i + 1}, Means: m})
	}
	return out
}

// flagged gives columns flags at places of their own.
func flagged(columns []LayoutColumn, at map[string]FlagPlace) []LayoutColumn {
	for i := range columns {
		if f, ok := at[columns[i].Means]; ok {
			columns[i].Flags = &f
		}
	}
	return columns
}

// dialects are the layouts of the folders of testdata/layouts.
func dialects() map[string]Layout {
	return map[string]Layout{
		"decimal-comma": {Encoding: Latin1, Delimiter: ';', Comma: true, Date: DayMonthYear,
			Header: patterns(`^Station;(?P<station>\d+)`, `^Datum;(?P<date>.*)`, `^Uhrzeit;(?P<time>.*)`,
				`^Breite;(?P<latitude>.*)`, `^Länge;(?P<longitude>.*)`, `^Wassertiefe;(?P<depth>.*)`),
			Columns: named("Druck", "pres", "Temperatur", "temp", "Salzgehalt", "psal", "Sauerstoff [µmol/kg]", "oxy")},
		"utf-16": {Encoding: UTF16, Date: MonthDayYear, Missing: []string{"-99.0"},
			Header: patterns(`^Station\t(?P<station>\w+)`, `^Cast\t(?P<cast>\w+)`, `^Date\t(?P<date>.*)`,
				`^Time\t(?P<time>.*)`, `^Lat\t(?P<latitude>.*)`, `^Lon\t(?P<longitude>.*)`, `^Sounding\t(?P<depth>.*)`),
			Columns: flagged(named("Pressure", "pres", "Temperature", "temp", "Salinity", "psal", "Oxygen", "oxy"),
				map[string]FlagPlace{
					"temp": {Place: Place{Column: "QF_T"}, Scheme: SchemeL20}, "psal": {Place: Place{Column: "QF_S"},
						Scheme: SchemeL20}, "oxy": {Place: Place{Column: "QF_O"}, Scheme: SchemeL20}})},
		"fixed-width": {Format: Fixed, Missing: []string{"999.99"}, Date: YearMonthDay,
			Header: patterns(
				`^STN (?P<station>\d+) CAST (?P<cast>\d+) (?P<date>\d{6}) (?P<time>\d{4}Z) (?P<latitude>[ \d.]+[NS]) (?P<longitude>[ \d.]+[EW]) *(?P<depth>\d+)M`),
			Columns: []LayoutColumn{{Place: Place{From: 1, To: 6}, Means: "pres"},
				{Place: Place{From: 7, To: 14}, Means: "temp"}, {Place: Place{From: 15, To: 22}, Means: "psal"},
				{Place: Place{From: 23, To: 28}, Means: "oxy"}}},
		"minutes": {Format: Space, Missing: []string{"-9.9"}, Skip: skipping(regexp.MustCompile(`^\*`)),
			Header: patterns(`file: ctd(?P<station>\d+)_(?P<cast>\d+)`, `Latitude: +(?P<latitude>.*)`,
				`Longitude: +(?P<longitude>.*)`, `Start: (?P<date>.*)`, `Water depth: (?P<depth>\d+)`),
			Columns: named("press", "pres", "temp", "temp", "salt", "psal", "oxygen", "oxy")},
		"day-of-year": {Format: Space, Missing: []string{"-9.990e-29"}, Skip: Skip{Lines: 1},
			Header: patterns(
				`^ *(?P<station>\d+) (?P<cast>\d+) (?P<year>\d{4}) (?P<day_of_year>[\d.]+) (?P<latitude>\S+) (?P<longitude>\S+) (?P<depth>\d+)$`),
			Columns: numbered("pres", "temp", "psal", "oxy")},
		"packed-flags": {Header: patterns(`file: stn_(?P<station>\d+)_cast_(?P<cast>\d+)`,
			`^Time \(UTC\): (?P<date>.*)`, `^Position: (?P<latitude>[-\d.]+), (?P<longitude>[-\d.]+)`,
			`^Bottom depth .m.: (?P<depth>.*)`),
			Columns: flagged(named("P", "pres", "T90", "temp", "S", "psal", "DO", "oxy"),
				map[string]FlagPlace{"pres": {Place: Place{Column: "QUALITY"}, Digit: 1},
					"temp": {Place: Place{Column: "QUALITY"}, Digit: 2}, "psal": {Place: Place{Column: "QUALITY"},
						Digit: 3}, "oxy": {Place: Place{Column: "QUALITY"}, Digit: 4}})},
		"conductivity": {Missing: []string{"-"}, Skip: skipping(regexp.MustCompile(`^#`)),
			Header: patterns(`station = (?P<station>.*)`, `cast = (?P<cast>.*)`, `datetime = (?P<date>.*)`,
				`latitude = (?P<latitude>.*)`, `longitude = (?P<longitude>.*)`, `bottom = (?P<depth>.*)`),
			Columns: named("pressure_dbar", "pres", "temperature_C", "temp", "conductivity_mS_cm", "cond in mS/cm",
				"oxygen_umol_L", "oxy in umol/l")},
		"depth": {Format: Space, Missing: []string{"-1"}, Skip: skipping(regexp.MustCompile(`^%`)),
			Header: patterns(`STATION (?P<station>\d+) YEAR (?P<year>\d+) DAYS (?P<elapsed_days>\S+)`,
				`LAT (?P<latitude>\S+) LON (?P<longitude>\S+) SOUNDING (?P<depth>\S+)`),
			Columns: named("depth_m", "depth", "t90", "temp", "sp", "psal", "o2_ml_l", "oxy in ml/l")},
		"upcasts": {Format: Space, Missing: []string{"NA"}, Direction: TravelUp,
			Header: patterns(`station (?P<station>\d+), cast (?P<cast>\d+)`,
				`^(?P<date>\d+ \w+ \d{4} \d\d:\d\d) +(?P<latitude>\S+) +(?P<longitude>\S+) +bottom (?P<depth>\d+)`),
			Columns: named("PR", "pres", "T68", "temp", "SAL", "psal", "OX", "oxy")},
		"two-in-a-file": {Header: patterns(`Station (?P<station>\d+) / Cast (?P<cast>\d+)`,
			`^(?P<date>\d{4}/\d\d/\d\d) (?P<time>\d\d:\d\d)`, `^(?P<latitude>\d+\.\d+) (?P<longitude>-\d+\.\d+)$`,
			`^Depth (?P<depth>\d+)`),
			Skip: skipping(regexp.MustCompile(`^End of`)), Columns: named("Pres", "pres", "Temp", "temp", "Sal", "psal",
				"Oxy", "oxy")},
		"table": {Columns: named("Cruise", "expocode", "Station", "station", "Cast", "cast", "yyyy-mm-ddThh:mm", "date",
			"Longitude", "longitude", "Latitude", "latitude", "Bottom depth", "bottom_depth",
			"Pressure", "pres", "Temperature", "temp", "Salinity", "psal", "Oxygen", "oxy")},
	}
}

func readFolder(t *testing.T, dir string, read func(data []byte, name string) ([]section.Cast, []metadata.Finding,
	error)) map[string]*section.Cast {
	t.Helper()
	files, err := filepath.Glob(filepath.Join("../testdata/layouts", dir, "*"))
	if err != nil || len(files) == 0 {
		t.Fatalf("%s: %v, %d files", dir, err, len(files))
	}
	out := map[string]*section.Cast{}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		casts, found, err := read(data, dir+"/"+filepath.Base(f))
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range found {
			if x.Severity != metadata.Note {
				t.Errorf("%s: %v: %s", x.Position, x.Severity, x.Message)
			}
		}
		for i := range casts {
			out[strings.TrimLeft(casts[i].Station, "0")] = &casts[i]
		}
	}
	return out
}

// The same casts in eleven forms have the same numbers, within half a unit of the digits in which each form gives them.
// Where a quantity is computed from another, half a unit of that one is propagated: the limits of the table.
func TestDialects(t *testing.T) {
	want := readFolder(t, "exchange", func(data []byte, name string) ([]section.Cast, []metadata.Finding, error) {
		return Parse(data, name, Options{})
	})
	if len(want) != 4 {
		t.Fatal(len(want))
	}
	legs := []Leg{{Expocode: "ZZSD20260812"}}
	within := map[string]map[string]float64{
		// 0.00005 mS/cm is 0.00005 in salinity (PSS-78: dS/dC is 0.98 to 1.05 per mS/cm here); the column itself has
		//   half a unit of 4 decimals.
		// 0.005 umol/l is 0.005 umol/kg, and the exchange file has half a unit of 1 decimal more.
		"conductivity": {"psal": 1.1e-4, "oxy": 0.005 + 0.0005},
		// 0.005 m of depth is 0.0051 dbar; 0.0005 ml/l is 0.0218 umol/kg (44.66/1.025/1000 per 0.001 ml/l).
		"depth": {"pres": 0.0051 + 0.0005, "oxy": 0.0218 + 0.005},
		// temperature on IPTS-68 to 4 decimals is half a unit of 1e-4; the converted value has one digit more.
		"upcasts": {"temp": 0.5e-4 + 0.5e-5},
	}
	for name, l := range dialects() {
		t.Run(name, func(t *testing.T) {
			l.Name = name
			got := readFolder(t, name, func(data []byte, name string) ([]section.Cast, []metadata.Finding, error) {
				return ParseLayout(data, name, &l, Options{Legs: legs})
			})
			if len(got) != len(want) {
				t.Fatalf("%d casts", len(got))
			}
			for station, w := range want {
				g := got[station]
				if g == nil {
					t.Errorf("no station %s", station)
					continue
				}
				compareCasts(t, g, w, within[name], name == "packed-flags" || name == "utf-16")
			}
		})
	}
	if n := len(dialects()); n < 10 {
		t.Errorf("%d dialects", n)
	}
}

func compareCasts(t *testing.T, g, w *section.Cast, within map[string]float64, flags bool) {
	t.Helper()
	if !g.Time.Equal(w.Time) || g.DateOnly || g.Expocode != w.Expocode || strings.TrimLeft(g.Number, "0") != w.Number ||
		g.BottomM != w.BottomM {
		t.Errorf("station %s: %v %s %s %v, want %v %s %s %v", w.Station, g.Time, g.Expocode, g.Number, g.BottomM,
			w.Time, w.Expocode, w.Number, w.BottomM)
	}
	if math.Abs(g.At[0]-w.At[0]) > 0.5e-5 || math.Abs(g.At[1]-w.At[1]) > 0.5e-5 {
		t.Errorf("station %s: position %v, want %v", w.Station, g.At, w.At)
	}
	for _, name := range []string{"pres", "temp", "psal", "oxy"} {
		a, b := g.Column(name), w.Column(name)
		if a == nil || len(a.Values) != len(b.Values) {
			t.Errorf("station %s: %s has not %d values", w.Station, name, len(b.Values))
			continue
		}
		limit := 1e-9
		if v, ok := within[name]; ok {
			limit = v
		}
		for i := range b.Values {
			if d := math.Abs(a.Values[i] - b.Values[i]); d > limit ||
				math.IsNaN(a.Values[i]) != math.IsNaN(b.Values[i]) {
				t.Errorf("station %s, level %d: %s is %v, want %v within %g", w.Station, i, name, a.Values[i],
					b.Values[i], limit)
				break
			}
		}
		if flags && name != "pres" && !slices.Equal(a.Flags, b.Flags) {
			t.Errorf("station %s: flags of %s are %v, want %v", w.Station, name, a.Flags, b.Flags)
		}
	}
}

// Dates in the forms that logs and heads have. A date that could be read with the day or the month first is refused
// until the order is said.
func TestOrderedDates(t *testing.T) {
	for _, c := range []struct {
		text  string
		order DateOrder
		want  string // YYYY-MM-DD and the rest, "" for an error
	}{
		{"2026-08-14", OrderUnstated, "2026-08-14|"}, {"2026-08-14T06:30:00Z", OrderUnstated, "2026-08-14|T06:30:00Z"},
		{"2026/08/14 06:30", OrderUnstated, "2026-08-14| 06:30"},
		{"20260814", OrderUnstated, "2026-08-14|"}, {"20260814 0630", OrderUnstated, "2026-08-14| 0630"},
		{"14082026", DayMonthYear, "2026-08-14|"}, {"140826", DayMonthYear, "2026-08-14|"},
		{"260814", YearMonthDay, "2026-08-14|"}, {"260814", OrderUnstated, ""},
		{"14.08.2026", OrderUnstated, "2026-08-14|"}, {"04.08.2026", OrderUnstated, ""},
		{"04.08.2026", DayMonthYear, "2026-08-04|"}, {"08/04/2026", MonthDayYear, "2026-08-04|"},
		{"08/14/2026", OrderUnstated, "2026-08-14|"}, {"07/07/2026", OrderUnstated, "2026-07-07|"},
		{"14-Aug-2026", OrderUnstated, "2026-08-14|"}, {"Aug 14 2026 06:30:00", OrderUnstated, "2026-08-14| 06:30:00"},
		{"Fri Aug 14, 2026", OrderUnstated, "2026-08-14|"},
		{"14 September 26", OrderUnstated, "2026-09-14|"}, {"2026 Aug 14", OrderUnstated, "2026-08-14|"},
		{"14.08.26", DayMonthYear, "2026-08-14|"}, {"8/4/98", MonthDayYear, "1998-08-04|"},
		{"31.04.2026", DayMonthYear, ""}, {"2026-13-01", OrderUnstated, ""}, {"", OrderUnstated, ""},
		{"yesterday", OrderUnstated, ""}, {"14 Augustus 2026", OrderUnstated, ""},
		{"1826-08-14", OrderUnstated, ""},
	} {
		day, rest, err := readOrderedDate(c.text, c.order)
		got := ""
		if err == nil {
			got = day.Format("2006-01-02") + "|" + rest
		}
		if got != c.want {
			t.Errorf("%q %v: %q (%v), want %q", c.text, c.order, got, err, c.want)
		}
	}
}

func TestClocks(t *testing.T) {
	for text, want := range map[string]string{
		"06:30": "6h30m0s", "0630": "6h30m0s", "630": "6h30m0s", "06:30:15": "6h30m15s", "063015": "6h30m15s",
		"6:30 PM": "18h30m0s", "12:05 am": "5m0s", "T06:30Z": "6h30m0s zoned",
		" 06:30 UTC": "6h30m0s zoned", "08:30+02:00": "8h30m0s zoned 2h0m0s", "06:30:14.6": "6h30m15s",
		"06h30": "6h30m0s", "": "unknown", "-999": "unknown",
		"25:00": "error", "06:60": "error", "6": "error", "13:00 PM": "error", "noon": "error", "24:00": "24h0m0s",
	} {
		since, ahead, zoned, known, err := readClock(text)
		got := since.String()
		switch {
		case err != nil:
			got = "error"
		case !known:
			got = "unknown"
		case zoned && ahead != 0:
			got += " zoned " + ahead.String()
		case zoned:
			got += " zoned"
		}
		if got != want {
			t.Errorf("%q: %s (%v), want %s", text, got, err, want)
		}
	}
}

func TestDaysOfYear(t *testing.T) {
	for _, c := range []struct {
		text  string
		first float64
		want  string
	}{
		{"1.0000", 1, "2026-01-01T00:00:00Z"}, {"0.0000", 0, "2026-01-01T00:00:00Z"},
		{"226.27083", 1, "2026-08-14T06:30:00Z"}, {"225.27083", 0, "2026-08-14T06:30:00Z"},
		{"226.2708", 1, "2026-08-14T06:30:00Z"},
		{"226", 1, "2026-08-14T00:00:00Z"}, {"0.5", 1, ""}, {"400", 1, ""}, {"x", 0, ""},
	} {
		at, _, err := dayInYear(2026, c.text, c.first)
		got := ""
		if err == nil {
			got = at.Format(time.RFC3339)
		}
		if got != c.want {
			t.Errorf("%s from %g: %s, want %s", c.text, c.first, got, c.want)
		}
	}
}

func TestAngles(t *testing.T) {
	for _, c := range []struct {
		a        angle
		comma    bool
		want     float64
		decimals int
		fails    string
	}{
		{a: angle{degrees: "54.5000"}, want: 54.5, decimals: 4}, {a: angle{degrees: "-54.5"}, want: -54.5, decimals: 1},
		{a: angle{degrees: "54,5000"}, comma: true, want: 54.5, decimals: 4},
		{a: angle{degrees: "54 30.000 S"}, want: -54.5, decimals: 5}, {a: angle{degrees: "S54°30.0'"}, want: -54.5,
			decimals: 3}, {a: angle{degrees: "54-30.0N"}, want: 54.5, decimals: 3},
		{a: angle{degrees: "54 30 36 N"}, want: 54.51, decimals: 4}, {a: angle{degrees: "54°30′36″ South"},
			want: -54.51, decimals: 4}, {a: angle{"54", "30.0", "", "s"}, want: -54.5, decimals: 3},
		{a: angle{degrees: "54 deg 30.6 min N"}, want: 54.51, decimals: 3}, {a: angle{degrees: "-54 30.0"}, want: -54.5,
			decimals: 3}, {a: angle{degrees: "0 30.0 S"}, want: -0.5, decimals: 3},
		{a: angle{degrees: "-54.5 S"}, fails: "both"}, {a: angle{degrees: "54 61.0 N"}, fails: "60 or more"},
		{a: angle{degrees: "54.5 30 N"}, fails: "last part"}, {a: angle{degrees: "94.5"}, fails: "beyond"},
		{a: angle{degrees: "here"}, fails: "cannot be read"}, {a: angle{}, fails: "missing"},
		{a: angle{degrees: "-999"}, fails: "missing"},
	} {
		v, d, err := c.a.read('N', 'S', 90, c.comma)
		switch {
		case c.fails != "":
			if err == nil || !strings.Contains(err.Error(), c.fails) {
				t.Errorf("%v: %v, want %s", c.a, err, c.fails)
			}
		case err != nil || math.Abs(v-c.want) > 1e-12 || d != c.decimals:
			t.Errorf("%v: %v with %d decimals (%v), want %v with %d", c.a, v, d, err, c.want, c.decimals)
		}
	}
}
