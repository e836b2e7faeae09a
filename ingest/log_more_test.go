package ingest

import (
	"strings"
	"testing"
	"time"
)

// What logs say beside time, position and depth is read in the form of the station table and in that of a foreign log:
// times with and without their date, over midnight, with a zone.
func TestLogSaysMore(t *testing.T) {
	columns := []LogColumn{{Column: "Stn", Means: "station"}, {Column: "Datum", Means: "date"},
		{Column: "Beginn", Means: "time"}, {Column: "Tiefpunkt", Means: "time_bottom"}, {Column: "Ende",
			Means: "time_end"},
		{Column: "Flaschen", Means: "bottles"}, {Column: "Abstand", Means: "height_above_bottom"},
		{Column: "Proben", Means: "parameters"}, {Column: "Nr", Means: "event"}}
	for name, c := range map[string]struct {
		text string
		m    *LogMapping
	}{
		"table": {"station,cast,time,zone,time_bottom,time_end,bottles,height_above_bottom,parameters,event\n" +
			"1,1,2026-08-14 23:10,+02:00,23:50,00:40,12,9.5,salt oxygen,EV-7\n2,1,2026-08-15 10:00,,,,,,,\n", nil},
		"foreign": {"Stn;Datum;Beginn;Tiefpunkt;Ende;Flaschen;Abstand;Proben;Nr\n" +
			"1;14.08.2026;2310+02:00;14.08.2026 23:50;15.8.2026 0:40;12;9,5 m;salt oxygen;EV-7\n" +
			"2;15.08.2026;10:00;-;;;n/a;;\n",
			&LogMapping{Columns: columns, Date: DayMonthYear, Comma: true}},
	} {
		got, _, err := ReadStationTable([]byte(c.text), "log.csv", c.m)
		if err != nil || len(got) != 2 {
			t.Errorf("%s: %d entries, %v", name, len(got), err)
			continue
		}
		e := &got[0]
		at := func(t time.Time) string { return t.Format("2006-01-02 15:04") }
		if at(e.Time) != "2026-08-14 21:10" || at(e.Bottom) != "2026-08-14 21:50" || at(e.End) != "2026-08-14 22:40" ||
			e.Bottles != "12" || e.HeightM != 9.5 || e.HeightDecimals != 1 || e.Parameters != "salt oxygen" ||
			e.Event != "EV-7" {
			t.Errorf("%s: %s %s %s, %+v", name, at(e.Time), at(e.Bottom), at(e.End), e)
		}
		if e := &got[1]; !e.Bottom.IsZero() || !e.End.IsZero() || e.Bottles != "" || e.HeightM == e.HeightM {
			t.Errorf("%s: second line %+v", name, e)
		}
	}
	got, _, err := ReadStationTable([]byte("station,cast,time_bottom\n1,1,23:50\n"), "log.csv", nil)
	if err != nil || len(got) != 1 {
		t.Fatal(err)
	}
	if of, without := OfNoDay(got[0].Bottom); !without || of != 23*time.Hour+50*time.Minute {
		t.Errorf("time of day %v, %v", of, without)
	}
	if _, _, err := ReadStationTable([]byte("station,cast,time_bottom\n1,1,soon\n"), "log.csv", nil); err == nil ||
		!strings.Contains(err.Error(), "log.csv:2:5: time_bottom: date \"soon\" cannot be read") {
		t.Error(err)
	}
}
