package ingest

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/internal/golden"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

const editHead = "station,cast,variable,from_dbar,to_dbar,flag,initials,reason,date\n"

// Each broken table of flag edits with all that is said about it: line, column, what was found, what to do.
var brokenEdits = []struct{ name, text string }{
	{"empty", ""},
	{"only a head", ""},
	{"semicolons", "station;cast;variable;flag\n1;1;psal;3\n"},
	{"misspelt column", "station,cast,varible,flag,initials,reason\n"},
	{"column twice", "station,cast,variable,flag,initials,reason,flag\n"},
	{"column without a name", "station,cast,variable,flag,initials,reason,\n"},
	{"columns missing", "station,cast\n1,1\n"},
	{"too few fields", editHead + "1,1,psal,0,10\n1,1,psal,0,10,3,RH,spike,2026-05-04\n"},
	{"comma in a reason", editHead + "1,1,psal,0,10,3,RH,spike, both sensors,2026-05-04\n"},
	{"quote inside", editHead + "1,1,psal,0,10,3,RH,a \"spike\",2026-05-04\n"},
	{"quote that does not close", editHead + "1,1,psal,0,10,3,RH,\"spike,2026-05-04\n"},
	{"no station", editHead + ",1,psal,0,10,3,RH,spike,\n"},
	{"no cast", editHead + "1,,psal,0,10,3,RH,spike,\n"},
	{"station of no cast", editHead + "1/2,1,psal,0,10,3,RH,spike,\n"},
	{"no variable", editHead + "1,1,,0,10,3,RH,spike,\n"},
	{"pressure in words", editHead + "1,1,psal,top,10,3,RH,spike,\n"},
	{"pressure with a decimal comma", editHead + "1,1,psal,\"1,5\",10,3,RH,spike,\n"},
	{"pressure of no sea", editHead + "1,1,psal,0,120000,3,RH,spike,\n"},
	{"pressures turned round", editHead + "1,1,psal,20,10,3,RH,spike,\n"},
	{"flag 0", editHead + "1,1,psal,0,10,0,RH,spike,\n"},
	{"flag 8", editHead + "1,1,psal,0,10,8,RH,spike,\n"},
	{"flag 10", editHead + "1,1,psal,0,10,10,RH,spike,\n"},
	{"flag in words", editHead + "1,1,psal,0,10,bad,RH,spike,\n"},
	{"flag of another scheme", editHead + "1,1,psal,0,10,A,RH,spike,\n"},
	{"no flag", editHead + "1,1,psal,0,10,,RH,spike,\n"},
	{"ambiguous date", editHead + "1,1,psal,0,10,3,RH,spike,04/05/2026\n"},
	{"day that does not exist", editHead + "1,1,psal,0,10,3,RH,spike,2026-02-30\n"},
	{"Latin-1", editHead + "1,1,psal,0,10,3,RH,Stromst\xf6rung,\n"},
	{"UTF-16", "\xff\xfes\x00t\x00"},
	{"zero byte", editHead + "1,1,psal,0,10,3,RH,a\x00b,\n"},
	{"thirty faults", editHead + strings.Repeat("1,1,psal,0,10,8,RH,spike,\n", 30)},
}

func TestBrokenEdits(t *testing.T) {
	var out strings.Builder
	for _, c := range brokenEdits {
		edits, err := ReadEdits([]byte(c.text), "edits.csv")
		if c.name == "only a head" {
			continue
		}
		if err == nil || edits != nil {
			t.Errorf("%s: %d edits, %v", c.name, len(edits), err)
			continue
		}
		fmt.Fprintf(&out, "== %s\n%s", c.name, describe(nil, err))
	}
	golden.Check(t, "broken_edits.txt", []byte(out.String()))
}

func TestReadEdits(t *testing.T) {
	text :=
		"\xef\xbb\xbf# proposed on the fourth\r\nExpocode, Station ,CAST,Variable,From_dbar,To_dbar,Flag,Initials,Reason,Date,Check\r\n" +
			"ZZSM20260504,001,1,CTDSAL, 100,120.5,3,RH,\"spike, both\nsensors\",2026-05-16,spike.bin\r\n,,,,,,,,,,\n,7,2,psal,,,4,,,,\r\n"
	edits, err := ReadEdits([]byte(text), "e.csv")
	if err != nil || len(edits) != 2 {
		t.Fatal(edits, err)
	}
	a, b := &edits[0], &edits[1]
	if a.Expocode != "ZZSM20260504" || a.Station != "001" || a.Cast != "1" || a.Variable != "CTDSAL" ||
		a.FromDbar != 100 || a.ToDbar != 120.5 ||
		a.Flag != metadata.Questionable || a.Initials != "RH" || a.Reason != "spike, both sensors" ||
		a.Check != "spike.bin" || !a.Accepted() ||
		!a.Date.Equal(time.Date(2026, 5, 16, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("%+v", a)
	}
	if at := a.Place("flag"); at != (metadata.Position{File: "e.csv", Line: 3, Column: 38}) {
		t.Errorf("flag at %v", at)
	}
	if b.Accepted() || !math.IsInf(b.FromDbar, -1) || !math.IsInf(b.ToDbar, 1) || b.Flag != metadata.Bad ||
		!b.Date.IsZero() || b.Place("station").Line != 6 {
		t.Errorf("%+v", b)
	}
	if e, err := ReadEdits([]byte(editHead), "e.csv"); err != nil || len(e) != 0 {
		t.Errorf("a head alone, as before the first edit: %v %v", e, err)
	}
	// Old spreadsheets end lines with a carriage return.
	if e, err := ReadEdits([]byte(strings.ReplaceAll(editHead+"1,1,psal,,,7,RH,x,\n", "\n", "\r")),
		"e.csv"); err != nil || len(e) != 1 || e[0].Flag != metadata.Despiked {
		t.Errorf("carriage returns: %v %v", e, err)
	}
	for f := metadata.NotCalibrated; f <= metadata.NotSampled; f++ { // every value of the WOCE CTD set but 8
		e, err := ReadEdits([]byte(editHead+fmt.Sprintf("1,1,psal,,,%d,RH,x,\n", f)), "e.csv")
		if (err == nil) != (f != metadata.NotUsed) || err == nil && e[0].Flag != f {
			t.Errorf("flag %d: %v %v", f, e, err)
		}
	}
}

func FuzzEdits(f *testing.F) {
	for _, c := range brokenEdits {
		f.Add([]byte(c.text))
	}
	f.Add([]byte(editHead + "1,1,psal,0,10,3,RH,spike,2026-05-04\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		edits, err := ReadEdits(data, "e.csv")
		if err != nil {
			placed(t, err)
			if edits != nil {
				t.Error("edits in spite of an error")
			}
		}
		for i := range edits {
			e := &edits[i]
			if e.Flag < 1 || e.Flag > 9 || e.Flag == 8 || e.Station == "" || e.Cast == "" || e.Variable == "" ||
				!(e.FromDbar <= e.ToDbar) ||
				e.Place("flag").Line < 2 || strings.ContainsAny(e.Reason+e.Initials, "\n\x00") {
				t.Errorf("%+v", e)
			}
		}
	})
}

// placed checks that each part of an error is an InputError with a line and something to do.
func placed(t *testing.T, err error) {
	t.Helper()
	n := 0
	for _, e := range metadata.Parts(err) {
		n++
		in, ok := e.(*metadata.InputError)
		if !ok || in.Line < 1 || in.File == "" || in.Advice() == "" {
			t.Errorf("error without place or remedy: %#v", e)
		}
	}
	if n > maxTableErrors {
		t.Errorf("%d errors", n)
	}
}

const stationHead = "station,cast,time,latitude,longitude,depth,direction,role,system,remark\n"

var brokenStations = []struct{ name, text string }{
	{"empty", ""},
	{"comments only", "# nothing\n"},
	{"misspelt column", "station,cast,lattitude\n"},
	{"no station", stationHead + ",1,,,,,,,,\n"},
	{"cast twice", stationHead + "1,1,,,,,,,,\n2,1,,,,,,,,\n1,1,,,,,,,,\n"},
	{"time without a date", stationHead + "1,1,12:30,,,,,,,\n"},
	{"ambiguous date", stationHead + "1,1,04/05/2026 12:30,,,,,,,\n"},
	{"hour 25", stationHead + "1,1,2026-05-04 25:00,,,,,,,\n"},
	{"zone of no place", stationHead + "1,1,2026-05-04 12:30+19:00,,,,,,,\n"},
	{"zone in words", "station,cast,time,zone\n1,1,2026-05-04 12:30,ship's\n"},
	{"zone twice", "station,cast,time,zone\n1,1,2026-05-04 12:30Z,+02:00\n"},
	{"date column in words", "station,cast,date,time\n1,1,May 4,12:30\n"},
	{"latitude alone", stationHead + "1,1,,60.5,,,,,,\n"},
	{"latitude beyond the pole", stationHead + "1,1,,95,10,,,,,\n"},
	{"longitude in words", stationHead + "1,1,,60.5,west,,,,,\n"},
	{"depth in words", stationHead + "1,1,,,,deep,,,,\n"},
	{"depth negative", stationHead + "1,1,,,,-500,,,,\n"},
	{"direction misspelt", stationHead + "1,1,,,,,dwon,,,\n"},
	{"role of no kind", stationHead + "1,1,,,,,,main,,\n"},
	{"Latin-1", stationHead + "1,1,,,,,,,,b\xf6ig\n"},
}

func TestBrokenStationTable(t *testing.T) {
	var out strings.Builder
	for _, c := range brokenStations {
		entries, _, err := ReadStationTable([]byte(c.text), "stations.csv", nil)
		if err == nil || entries != nil {
			t.Errorf("%s: %d entries, %v", c.name, len(entries), err)
			continue
		}
		fmt.Fprintf(&out, "== %s\n%s", c.name, describe(nil, err))
	}
	golden.Check(t, "broken_stations.txt", []byte(out.String()))
}

func TestReadStationTable(t *testing.T) {
	read := func(text string) *StationEntry {
		t.Helper()
		e, _, err := ReadStationTable([]byte(text), "s.csv", nil)
		if err != nil || len(e) != 1 {
			t.Fatalf("%q: %v %v", text, e, err)
		}
		return &e[0]
	}
	e := read(stationHead + "7,1,2026-05-06T13:40:30+02:00,60.125,-29.50,1890.5,up,Yoyo,main,\"swell, rain\"\n")
	if !e.Zoned || !e.Seconds || !e.Time.Equal(time.Date(2026, 5, 6, 11, 40, 30, 0, time.UTC)) || e.At[0] != -29.5 ||
		e.At[1] != 60.125 ||
		e.AtDecimals != [2]int{2, 3} || e.BottomM != 1890.5 || e.BottomDecimals != 1 || e.Direction != section.Up ||
		e.Role != section.Yoyo ||
		e.System != "main" || e.Remark != "swell, rain" {
		t.Errorf("%+v", e)
	}
	e = read("station,cast\n1,1\n")
	if !e.Time.IsZero() || e.HasAt || !math.IsNaN(e.BottomM) || e.Direction != section.DirectionUnknown ||
		e.Role != section.Unstated {
		t.Errorf("%+v", e)
	}
	for text, want := range map[string]string{
		"station,cast,time\n1,1,2026-05-06 13:40\n":                  "2026-05-06T13:40:00 false false",
		"station,cast,time\n1,1,2026-05-06\n":                        "2026-05-06T00:00:00 false true",
		"station,cast,time\n1,1,2026-05-06 13:40Z\n":                 "2026-05-06T13:40:00 true false",
		"station,cast,time\n1,1,2026-05-06 01:40 +0200\n":            "2026-05-05T23:40:00 true false",
		"station,cast,time,zone\n1,1,2026-05-06 22:10,-03:30\n":      "2026-05-07T01:40:00 true false",
		"station,cast,date,time\n1,1,20260506,940\n":                 "2026-05-06T09:40:00 false false",
		"station,cast,date,time,zone\n1,1,2026-05-06,2400,UTC\n":     "2026-05-07T00:00:00 true false",
		"station,cast,date,time\n1,1,2026-05-06,\n":                  "2026-05-06T00:00:00 false true",
		"station,cast,time,latitude\n1,1,2026-05-06 13:40:59.0,60\n": "",
	} {
		es, _, err := ReadStationTable([]byte(text), "s.csv", nil)
		if want == "" {
			if err == nil {
				t.Errorf("%q: accepted", text)
			}
			continue
		}
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		if got := fmt.Sprint(es[0].Time.Format("2006-01-02T15:04:05"), " ", es[0].Zoned, " ",
			es[0].DateOnly); got != want {
			t.Errorf("%q: %s, want %s", text, got, want)
		}
	}
	if e := read("station,cast,latitude,longitude\n1,1,60 30.6 N,330.5\n"); e.At[0] != -29.5 || e.At[1] != 60.51 {
		t.Errorf("%+v", e)
	}
}

func FuzzStationTable(f *testing.F) {
	for _, c := range brokenStations {
		f.Add([]byte(c.text))
	}
	f.Add([]byte(stationHead + "7,1,2026-05-06 13:40+02:00,60.125,-29.5,1890,down,primary,main,swell\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		entries, _, err := ReadStationTable(data, "s.csv", nil)
		if err != nil {
			placed(t, err)
			if entries != nil {
				t.Error("entries in spite of an error")
			}
		}
		for i := range entries {
			e := &entries[i]
			if e.Station == "" || e.Cast == "" || e.BottomM <= 0 || math.Abs(e.At[0]) > 180 || math.Abs(e.At[1]) > 90 ||
				e.Time.Year() > 10000 {
				t.Errorf("%+v", e)
			}
		}
	})
}
