package ingest

import (
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/metadata"
)

// A log with headers, dates and positions of its own is read through a mapping: the entries are those of the station
// table that castwright describes.
func TestForeignLog(t *testing.T) {
	want, _, err := ReadStationTable([]byte("station,cast,time,latitude,longitude,depth,remark\n"+
		"21,1,2026-08-14 06:30,54.5000,-10.2500,84,swell; heavy\n22,1,2026-08-04 09:00,54.5500,-10.3750,104,\n"),
		"w.csv", nil)
	if err != nil {
		t.Fatal(err)
	}
	columns := func(pairs ...string) (out []LogColumn) {
		for i := 0; i < len(pairs); i += 2 {
			out = append(out, LogColumn{Column: pairs[i], Means: pairs[i+1]})
		}
		return out
	}
	for name, c := range map[string]struct {
		text string
		m    LogMapping
	}{
		"separate dates and times, day first": {
			"Stn,Datum,Zeit,Breite,Länge,Tiefe,Wetter,Bemerkung,Kommentar\n21,14.08.2026,06:30,54.5000,-10.2500,84 m,4 Bft,swell,heavy\n\n" +
				",14.08.2026,07:00,,,,,,\n22,04.08.2026,0900,54.5500,-10.3750,104,,,\n",
			LogMapping{Date: DayMonthYear, Columns: columns("Stn", "station", "Datum", "date", "Zeit", "time", "Breite",
				"latitude", "Länge", "longitude", "Tiefe", "depth", "Bemerkung", "remark", "Kommentar", "comment")}},
		"month first, half days, degrees and minutes": {
			"Station No;When;Lat;Lon;Depth;Note\n21;08/14/2026 6:30 AM;54 30.000 N;10 15.000 W;84;swell; heavy\n22;08/04/2026 9:00 AM;54 33.000 N;10 22.500 W;104;\n",
			LogMapping{Date: MonthDayYear, Columns: columns("Station No", "station", "When", "time", "Lat", "latitude",
				"Lon", "longitude")}},
		"minutes and hemispheres in columns of their own, decimal comma, tabs": {
			"St\tDate\tUTC\tLatD\tLatM\tNS\tLonD\tLonM\tEW\tZ\n21\t2026-08-14\t06:30\t54\t30,000\tN\t10\t15,000\tW\t84,0\n22\t2026-08-04\t09:00\t54\t33,000\tN\t10\t22,500\tW\t104\n",
			LogMapping{Comma: true, Columns: columns("St", "station", "UTC", "time", "LatD", "latitude", "LatM",
				"latitude_minutes", "NS", "latitude_hemisphere", "LonD", "longitude", "LonM", "longitude_minutes",
				"EW", "longitude_hemisphere", "Z", "depth")}},
	} {
		if strings.Contains(name, "month first") { // the note has a semicolon: its line has a field more
			c.text = strings.Replace(c.text, "swell; heavy", "\"swell; heavy\"", 1)
		}
		got, found, err := ReadStationTable([]byte(c.text), "log.csv", &c.m)
		if err != nil || len(got) != 2 {
			t.Errorf("%s: %d entries, %v", name, len(got), err)
			continue
		}
		for i := range want {
			g, w := got[i], want[i]
			if g.Station != w.Station || g.Cast != w.Cast || !g.Time.Equal(w.Time) || g.DateOnly || g.At != w.At ||
				g.BottomM != w.BottomM {
				t.Errorf("%s: %+v, want %+v", name, g, w)
			}
		}
		if strings.Contains(c.text, "Bemerkung") && got[0].Remark != "swell; heavy" {
			t.Errorf("%s: remark %q", name, got[0].Remark)
		}
		if strings.Contains(c.text, "Wetter") && (len(found) != 1 || found[0].Severity != metadata.Note ||
			!strings.Contains(found[0].Message, "Wetter")) {
			t.Errorf("%s: %v", name, found)
		}
	}
	// A date that could be read two ways, and a column that is not there, are errors with their place.
	m := LogMapping{Columns: columns("Stn", "station", "Datum", "date")}
	if _, _, err := ReadStationTable([]byte("Stn,Datum\n21,04.08.2026\n"), "log.csv", &m); err == nil ||
		!strings.Contains(err.Error(), "log.csv:2:4: date \"04.08.2026\" could be read") {
		t.Error(err)
	}
	if _, _, err := ReadStationTable([]byte("Stn,Date\n21,2026-08-04\n"), "log.csv", &m); err != nil {
		t.Errorf("a column of our name is taken: %v", err)
	}
	m.Columns = columns("Stn", "station", "Tag", "date")
	if _, _, err := ReadStationTable([]byte("Stn,Day\n21,2026-08-04\n"), "log.csv", &m); err == nil ||
		!strings.Contains(err.Error(), "no column date") {
		t.Error(err)
	}
	// A column that is called nearly as a known one is still an error where no mapping says what the columns are.
	if _, _, err := ReadStationTable([]byte("station,cast,lattitude\n"), "log.csv", nil); err == nil ||
		!strings.Contains(err.Error(), "lattitude") {
		t.Error(err)
	}
	if got, found, err := ReadStationTable([]byte("station,cast,wind,date,time\n1,1,5 Bft,2026-08-04,06:30\n"),
		"log.csv", nil); err != nil || len(found) != 1 || got[0].Time != time.Date(2026, 8, 4, 6, 30, 0, 0, time.UTC) {
		t.Errorf("%v %v", found, err)
	}
}

func FuzzLog(f *testing.F) {
	f.Add([]byte("Stn,Datum,Zeit,Lat,Lon\n21,14.08.2026,06:30,54 30.0 N,10 15.0 W\n"), byte(2), false)
	f.Add([]byte("Stn;Datum;Lat;Lon\n21;2026-08-14 6:30 PM;54,5;-10,25\n;;;\n"), byte(0), true)
	f.Fuzz(func(t *testing.T, data []byte, order byte, comma bool) {
		m := LogMapping{Date: DateOrder(order % 4), Comma: comma,
			Columns: []LogColumn{{Column: "Stn", Means: "station"}, {Column: "Datum", Means: "date"},
				{Column: "Lat", Means: "latitude"}, {Column: "Lon", Means: "longitude"}}}
		entries, _, err := ReadStationTable(data, "log.csv", &m)
		if err != nil {
			placed(t, err)
			if entries != nil {
				t.Error("entries in spite of an error")
			}
		}
		for i := range entries {
			e := &entries[i]
			if e.Station == "" || e.HasAt && !(e.At[0] >= -180 && e.At[0] <= 180 && e.At[1] >= -90 && e.At[1] <= 90) ||
				e.Place("station").Line < 2 {
				t.Errorf("%+v", e)
			}
		}
	})
}

// Positions of a table that are all whole degrees lack the minutes, which may be in columns that are not read.
func TestPositionsInWholeDegrees(t *testing.T) {
	for _, x := range []struct {
		rows string
		want bool
	}{
		{"1,54,-10\n2,55,-10\n3,56,-11\n", true},
		{"1,54,-10\n2,55,-10\n3,56.5,-11\n", false},
		{"1,54,-10\n2,55,-10\n", false}, // of two stations both may lie on a whole degree
	} {
		_, found, err := ReadStationTable([]byte("station,latitude,longitude\n"+x.rows), "log.csv", &LogMapping{
			Columns: []LogColumn{{Column: "station", Means: "station"}, {Column: "latitude", Means: "latitude"},
				{Column: "longitude", Means: "longitude"}}})
		if err != nil {
			t.Fatal(err)
		}
		if got := len(found) == 1 && found[0].Check == "station_table.position" &&
			found[0].Severity == metadata.Warning && found[0].Position.Line == 2; got != x.want {
			t.Errorf("%q: %v", x.rows, found)
		}
	}
}
