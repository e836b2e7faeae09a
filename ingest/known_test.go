package ingest

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
)

// What the two tables may look like, and what is read of them. Columns in any order, comments, blanks, a byte order
// mark.
func TestKnownLevels(t *testing.T) {
	for _, c := range []struct {
		text       string
		velocities bool
		want       string
	}{
		{"station_a,station_b,pressure_dbar\n1,2,2000\n2,3,1500.5\n", false,
			"1 2 2000 NaN 0 0 @2; 2 3 1500.5 NaN 0 0 @3; "},
		{"\xef\xbb\xbf# my levels\ndepth_m, Station_B ,station_a\n\n500, 08B,7/2\n", false, "7/2 08B NaN 500 0 0 @4; "},
		{
			"station_a,station_b,pressure_dbar,velocity_ms,standard_error_ms\n1,2,0,-0.05,0\n# no mooring\n2,3,12000,1e-1,0.02\n",
			true, "1 2 0 NaN -0.05 0 @2; 2 3 12000 NaN 0.1 0.02 @4; "},
		{"station_a,station_b,depth_m\n1,ZZ01:2,500\n,,\n,,\n", false, "1 ZZ01:2 NaN 500 0 0 @2; "},
		{"station_a,station_b,depth_m,velocity_ms,standard_error_ms\r\n\"1\",\"2, north\",500,.05,.01\r\n", true,
			"1 2, north NaN 500 0.05 0.01 @2; "},
	} {
		rows, err := ReadKnownLevels([]byte(c.text), "k.csv", c.velocities)
		if err != nil {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		got := ""
		for _, k := range rows {
			got += fmt.Sprint(k.StationA, " ", k.StationB, " ", k.PressureDbar, " ", k.DepthM, " ", k.Velocity, " ",
				k.StandardError, " @", k.At.Line, "; ")
		}
		if got != c.want {
			t.Errorf("%q: %s, want %s", c.text, got, c.want)
		}
	}
}

var brokenKnown = []struct {
	text       string
	velocities bool
	want       string // messages, joined by " | "
	remedy     string // of the first
}{
	{"", false, "k.csv:1: the table is empty", "write a first line such as station_a,station_b,pressure_dbar"},
	{"# nothing\n", true, "k.csv:1: the table is empty",
		"write a first line such as station_a,station_b,pressure_dbar,velocity_ms,standard_error_ms"},
	{"1,2,2000\n", false,
		`k.csv:1:1: column "1" is not a known column | k.csv:1:3: column "2" is not a known column | ` +
			`k.csv:1:5: column "2000" is not a known column | k.csv:1: no column station_a | k.csv:1: no column station_b | ` +
			"k.csv:1: no column pressure_dbar or depth_m",
		"write a first line such as station_a,station_b,pressure_dbar"},
	{"# c\nstation_a,station_c,pressure_dbar\n1,2,3\n", false,
		`k.csv:2:11: column "station_c" is not a known column | ` +
			"k.csv:2: no column station_b", "did you mean station_a"},
	{"station_a,station_b,depth_m,depth_m\n", false, `k.csv:1:29: column "depth_m" occurs twice`, "take one out"},
	{"station_a,pressure_dbar\n", false, "k.csv:1: no column station_b",
		"write a first line such as station_a,station_b,pressure_dbar"},
	{"station_a,station_b\n", false, "k.csv:1: no column pressure_dbar or depth_m",
		"write a first line such as station_a,station_b,pressure_dbar"},
	{"station_a,station_b,depth_m,pressure_dbar\n", false,
		"k.csv:1: there is more than one column pressure_dbar or depth_m", "keep one of these columns"},
	{"station_a,station_b,depth_m,velocity_ms\n", false, `k.csv:1:29: column "velocity_ms" is not a known column`,
		"write a first line such as station_a,station_b,pressure_dbar"},
	{"station_a,station_b,depth_m,velocity_ms\n", true, "k.csv:1: no column standard_error_ms",
		"write a first line such as station_a,station_b,pressure_dbar,velocity_ms,standard_error_ms"},
	{"station_a,station_b,depth_m\n", false, "k.csv:1: no line but the first",
		"add a line for each pair below station_a,station_b,pressure_dbar"},
	{"station_a,station_b,depth_m\n1,2\n", false, "k.csv:2: line has 2 fields, expected 3",
		"give each line as many fields as the first, and put text with commas in double quotes"},
	{"station_a,station_b,depth_m\n1,2,3,4\n", false, "k.csv:2: line has 4 fields, expected 3",
		"give each line as many fields as the first, and put text with commas in double quotes"},
	{"station_a,station_b,depth_m\n1,,20\n", false, `k.csv:2:1: stations "1" and "" are no pair`,
		"name two stations that follow each other in the section"},
	{"station_a,station_b,depth_m\n1,2,20\n2,1,30\n1,2,30\n", false,
		"k.csv:3:1: stations 2 and 1 are in line 2 already | k.csv:4:1: stations 1 and 2 are in line 2 already",
		"take one of the two lines out"},
	{"station_a,station_b,depth_m\n1,2,12001\n2,3,-1\n3,4,NaN\n4,5,Inf\n5,6,\n6,7,\"1,5\"\n", false,
		`k.csv:2:5: depth_m is 12001 | k.csv:3:5: depth_m is -1 | k.csv:4:5: depth_m is "NaN", which is not a number | ` +
			`k.csv:5:5: depth_m is "Inf", which is not a number | k.csv:6:5: depth_m is "", which is not a number | ` +
			`k.csv:7:5: depth_m is "1,5", which is not a number`, "write a number from 0 to 12000"},
	{"station_a,station_b,pressure_dbar,velocity_ms,standard_error_ms\n1,2,20,50,-1\n", true,
		"k.csv:2:8: velocity_ms is 50 | k.csv:2:11: standard_error_ms is -1",
		"write a number from -10 to 10"},
	{"station_a,station_b,depth_m\n1,2,\"3\n", false, `k.csv:2:8: extraneous or missing " in quoted-field`,
		`put text with commas or quotes in double quotes, and write " inside as ""`},
}

// Each fault has its place, what was found and what to do, word for word.
func TestBrokenKnown(t *testing.T) {
	for _, c := range brokenKnown {
		rows, err := ReadKnownLevels([]byte(c.text), "k.csv", c.velocities)
		if err == nil || rows != nil {
			t.Errorf("%q is read: %v", c.text, rows)
			continue
		}
		var said []string
		for _, e := range metadata.Parts(err) {
			said = append(said, e.Error())
		}
		if got := strings.Join(said, " | "); got != c.want {
			t.Errorf("%q: %s\nwant %s", c.text, got, c.want)
		}
		if lines := strings.SplitAfter(describe(nil, err), "\n"); len(lines) < 2 ||
			strings.TrimSpace(lines[1]) != "hint: "+c.remedy {
			t.Errorf("%q: remedy %q, want %q", c.text, lines, c.remedy)
		}
	}
	// No more than 20 at once.
	many := "station_a,station_b,depth_m\n" + strings.Repeat("1,1,20\n", 50)
	if _, err := ReadKnownLevels([]byte(many), "k.csv", false); len(metadata.Parts(err)) != 20 {
		t.Errorf("%d errors at once", len(metadata.Parts(err)))
	}
}

// No table makes the reader panic; an error has a place and no rows with it; without one every row is a pair in range,
// and what we write of the rows reads back equal.
func FuzzReadKnownLevels(f *testing.F) {
	for _, c := range brokenKnown {
		f.Add([]byte(c.text), c.velocities)
	}
	f.Add([]byte("station_a,station_b,pressure_dbar,velocity_ms,standard_error_ms\n1,2,100,0.1,0.01\n"), true)
	f.Add([]byte("\xef\xbb\xbf# c\ndepth_m,station_b,station_a\n1e2,\" 2\"\"\",\"1\n\"\n"), false)
	f.Fuzz(func(t *testing.T, data []byte, velocities bool) {
		rows, err := ReadKnownLevels(data, "k.csv", velocities)
		if err != nil {
			placed(t, err)
			if rows != nil {
				t.Error("rows in spite of an error")
			}
			return
		}
		quote := func(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }
		byDepth := math.IsNaN(rows[0].PressureDbar)
		text := "station_a,station_b," + map[bool]string{true: "depth_m", false: "pressure_dbar"}[byDepth] +
			map[bool]string{true: ",velocity_ms,standard_error_ms"}[velocities] + "\n"
		for _, k := range rows {
			level := k.PressureDbar
			if byDepth {
				level = k.DepthM
			}
			if !(level >= 0 && level <= 12000) || !(math.Abs(k.Velocity) <= 10) || !(k.StandardError >= 0) ||
				k.StationA == "" || k.StationA == k.StationB || k.At.Line < 2 {
				t.Errorf("%+v", k)
			}
			text += quote(k.StationA) + "," + quote(k.StationB) + "," + fmt.Sprint(level)
			if velocities {
				text += "," + fmt.Sprint(k.Velocity) + "," + fmt.Sprint(k.StandardError)
			}
			text += "\n"
		}
		again, err := ReadKnownLevels([]byte(text), "k.csv", velocities)
		if err != nil || len(again) != len(rows) {
			t.Fatalf("%q: %d rows of %d, %v", text, len(again), len(rows), err)
		}
		for i := range rows {
			a, b := rows[i], again[i]
			a.At = b.At
			if fmt.Sprint(a) != fmt.Sprint(b) {
				t.Errorf("%v reads back %v", a, b)
			}
		}
	})
}
