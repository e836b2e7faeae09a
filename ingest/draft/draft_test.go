package draft

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// answers are what a person fills in, by the first words of the question.
var answers = map[string]string{
	"short name of the cruise": "drafted-cruise", "name of the ship": "RV Sanderling", "ship code": "ZZSD20260812",
	"who led": "Ragna Holm", "terms of use": "CC-BY-4.0",
	"address": "data@example.org", "pressure that": "centre", "what the time": "start", "how the water": "echo sounder",
	"zone of": "UTC", "which day": "dmy", "is 1 January": "from_1",
	"unit of": "umol/kg",
}

// filled fills the marked lines of a draft.
func filled(t *testing.T, text []byte, own ...string) string {
	t.Helper()
	var out []string
	n := 0
	for _, line := range strings.Split(string(text), "\n") {
		key, question, marked := strings.Cut(line, "  # fill in: ")
		if marked {
			n++
			answer := ""
			for begin, a := range answers {
				if strings.HasPrefix(question, begin) {
					answer = a
				}
			}
			for i := 0; i < len(own); i += 2 {
				if strings.HasPrefix(question, own[i]) {
					answer = own[i+1]
				}
			}
			if answer == "" || !strings.HasSuffix(key, ":") {
				t.Errorf("no answer to %q", line)
			}
			line = key + " " + answer
		}
		out = append(out, line)
	}
	if n > 12 {
		t.Errorf("%d lines to fill in", n)
	}
	return strings.Join(out, "\n")
}

// read reads the casts of a filled draft; what is worse than a note fails the test.
func read(t *testing.T, dir, text string) map[string]*section.Cast {
	t.Helper()
	c, found, err := cruisefile.Read([]byte(text), "cruise.yaml")
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	o := ingest.Options{Layouts: c.Casts.Layouts, Aliases: c.Casts.Aliases}
	for _, l := range c.Legs {
		o.Legs = append(o.Legs, ingest.Leg{Expocode: l.Expocode})
	}
	list, err := ingest.List(dir, c.Casts.Sources, ingest.CTD, c.Casts.Layouts)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	found = append(found, list.Findings...)
	out := map[string]*section.Cast{}
	r := ingest.Reader{Options: o}
	for i := range list.Inputs {
		casts, f, err := r.Casts(&list.Inputs[i])
		if err != nil {
			t.Errorf("%v\n%s", err, text)
		}
		found = append(found, f...)
		for k := range casts {
			if casts[k].Role == section.Repeat { // the way up of a cast that goes both ways
				continue
			}
			out[strings.TrimLeft(casts[k].Station, "0")] = &casts[k]
		}
	}
	for _, f := range found {
		if f.Severity != metadata.Note {
			t.Errorf("%s: %v: %s", f.Position, f.Severity, f.Message)
		}
	}
	return out
}

// A draft of each folder of testdata/layouts, filled in, reads the casts of the exchange files: the same stations,
// times, places, water depths and numbers, within what ingest.TestDialects derives for computed quantities.
func TestDraftOfEachDialect(t *testing.T) {
	entries, err := os.ReadDir("../../testdata/layouts")
	if err != nil {
		t.Fatal(err)
	}
	folders := []string{"../../testdata/layouts/exchange"}
	for _, e := range entries {
		if e.IsDir() {
			folders = append(folders, filepath.Join("../../testdata/layouts", e.Name()))
		}
	}
	if len(folders) < 13 {
		t.Fatalf("%d folders", len(folders))
	}
	want := map[string]*section.Cast{}
	for _, dir := range folders {
		name := filepath.Base(dir)
		if name == "generate" || name == "exchange" && len(want) > 0 {
			continue
		}
		t.Run(name, func(t *testing.T) {
			d, err := Folders(dir, []string{"."}, nil)
			if err != nil {
				t.Fatal(err)
			}
			if testing.Verbose() {
				t.Log(string(d.Text))
			}
			// Six digits do not say which of them are the year, and days of a year not whether they count from 0.
			own := map[string][]string{"fixed-width": {"which day", "ymd"}, "depth": {"is 1 January", "from_0"}}
			got := read(t, dir, filled(t, d.Text, own[name]...))
			if name == "exchange" {
				want = got
			}
			if len(got) != 4 || len(d.Failed) > 0 || len(d.Unread) > 0 {
				t.Fatalf("%d casts, failed %v, unread %v\n%s", len(got), d.Failed, d.Unread, d.Text)
			}
			same(t, name, got, want, string(d.Text))
		})
	}
}

// same compares the casts of a draft with those of the exchange files.
func same(t *testing.T, name string, got, want map[string]*section.Cast, text string) {
	t.Helper()
	for station, a := range want {
		b := got[station]
		if b == nil || !b.Time.Equal(a.Time) || b.DateOnly || b.BottomM != a.BottomM ||
			math.Abs(b.At[0]-a.At[0]) > 1e-5 || math.Abs(b.At[1]-a.At[1]) > 1e-5 ||
			strings.TrimLeft(b.Number, "0") != a.Number {
			t.Errorf("station %s: %+v\n%s", station, b, text)
			return
		}
		for variable, within := range map[string]float64{"pres": 0.0056, "temp": 0.56e-4, "psal": 1.1e-4,
			"oxy": 0.027} {
			x, y := a.Column(variable), b.Column(variable)
			if y == nil || len(x.Values) != len(y.Values) {
				t.Errorf("station %s: %s is missing or of another length\n%s", station, variable, text)
				return
			}
			for i := range x.Values {
				if math.Abs(x.Values[i]-y.Values[i]) > within || math.IsNaN(x.Values[i]) != math.IsNaN(y.Values[i]) {
					t.Errorf("station %s, level %d: %s is %v, want %v", station, i, variable, y.Values[i], x.Values[i])
					break
				}
			}
			if (name == "utf-16" || name == "packed-flags") && variable != "pres" &&
				string(flagDigits(x.Flags)) != string(flagDigits(y.Flags)) {
				t.Errorf("station %s: flags of %s differ\n%s", station, variable, text)
			}
		}
	}
}

func flagDigits(f []metadata.Flag) (out []byte) {
	for _, x := range f {
		out = append(out, '0'+byte(x))
	}
	return out
}

// A marked line that is not filled in is refused.
func TestUnfilledIsRefused(t *testing.T) {
	d, err := Folders("../../testdata/layouts/minutes", []string{"."}, nil)
	if err != nil {
		t.Fatal(err)
	}
	whole := filled(t, d.Text)
	lines := strings.Split(string(d.Text), "\n")
	full := strings.Split(whole, "\n")
	n := 0
	for i, line := range lines {
		if !strings.Contains(line, "# fill in: ") {
			continue
		}
		n++
		one := append([]string(nil), full...)
		one[i] = line
		if _, _, err := cruisefile.Read([]byte(strings.Join(one, "\n")), "cruise.yaml"); err == nil ||
			!strings.Contains(err.Error(), "is not filled in") {
			t.Errorf("%q: %v", line, err)
		}
	}
	if n != len(d.Questions) || n < 5 {
		t.Errorf("%d marked lines, %d questions", n, len(d.Questions))
	}
}

// A log with foreign headers, dates with the day first and columns of its own is proposed as a station table with a
// mapping; it gives the casts the positions, water depths and dates that their files do not have.
func TestDraftOfALog(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for _, s := range []string{"1", "2", "3"} {
		write("ctd_00"+s+".txt", "pres temp sal\n1.0 16.10 34.10\n2.0 16.00 34.12\n3.0 15.90 34.15\n4.0 15.70 34.20\n")
	}
	write("Logbuch.csv",
		"Lfd;Gerät;Station;Datum;Uhrzeit;Breite;Länge;Tiefe;Wind;Bemerkung\n1;CTD;1;13.08.2026;06:30;54 30.0 N;10 "+
			"15.0 W;84;4 Bft;Dünung\n"+
			"2;CTD;2;14.08.2026;09:05;54 33.0 N;10 22.5 W;104;4 Bft;\n3;CTD;3;14.08.2026;11:40;54 36.0 N;10 30.0 "+
			"W;124;5 Bft;\n")
	d, err := Folders(dir, []string{"."}, nil)
	if err != nil {
		t.Fatal(err)
	}
	c, _, err := cruisefile.Read([]byte(filled(t, d.Text)), "cruise.yaml")
	if err != nil {
		t.Fatalf("%v\n%s", err, d.Text)
	}
	data, err := os.ReadFile(filepath.Join(dir, c.Casts.Stations.Path))
	if err != nil {
		t.Fatalf("%v\n%s", err, d.Text)
	}
	entries, found, err := ingest.ReadStationTable(data, "Logbuch.csv", &c.Casts.Stations.LogMapping)
	if err != nil || len(entries) != 3 || len(found) != 1 || found[0].Severity != metadata.Note {
		t.Fatalf("%d entries, %v %v\n%s", len(entries), found, err, d.Text)
	}
	if e := entries[1]; e.Time.Format("2006-01-02 15:04") != "2026-08-14 09:05" || e.At[1] != 54.55 ||
		e.At[0] != -10.375 || e.BottomM != 104 || entries[0].Remark != "Dünung" {
		t.Errorf("%+v\n%s", e, d.Text)
	}
	if d.Casts != 3 || len(d.Unread) > 0 || !strings.Contains(string(d.Text), "stations: '1-3'") {
		t.Errorf("%d casts, unread %v\n%s", d.Casts, d.Unread, d.Text)
	}
}

// Degrees and minutes in columns of their own are recognised however their names say so, and the leg has the days of
// the log when the files of casts have none.
func TestDraftOfALogWithMinutesApart(t *testing.T) {
	for _, names := range []string{"Latitude (deg),Lat (min),Longitude (deg),Lon (min)",
		"Lat deg,Lat min,Lon deg,Lon min", "LAT_D,LAT_M,LON_D,LON_M",
		"Breite [Grad],Breite [Min],Länge [Grad],Länge [Min]",
		"latitude_degrees,latitude_minutes,longitude_degrees,longitude_minutes",
		"Lat°,Lat',Lon°,Lon'"} {
		dir := t.TempDir()
		log := "Station No,Date (dd/mm/yyyy),Time UTC," + names + ",Sounding (m)\n"
		for s := 1; s <= 3; s++ {
			cast := "DEPTH TEMP SALT\n"
			for z := 1; z < 30; z++ {
				cast += fmt.Sprintf("%d.0 %d.10 34.%02d\n", z, 16-z/10, z)
			}
			if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("c%02d.asc", s)), []byte(cast), 0o644); err != nil {
				t.Fatal(err)
			}
			log += fmt.Sprintf("%d,1%d/03/2021,0%d:15,-33,%d.5,15,%d.25,84\n", s, s, s, 30+s, 10+5*s)
		}
		if err := os.WriteFile(filepath.Join(dir, "events.csv"), []byte(log), 0o644); err != nil {
			t.Fatal(err)
		}
		d, err := Folders(dir, []string{"."}, nil)
		if err != nil {
			t.Fatal(err)
		}
		c, _, err := cruisefile.Read([]byte(filled(t, d.Text)), "cruise.yaml")
		if err != nil {
			t.Fatalf("%v\n%s", err, d.Text)
		}
		entries, _, err := ingest.ReadStationTable([]byte(log), "events.csv", &c.Casts.Stations.LogMapping)
		if err != nil || len(entries) != 3 {
			t.Fatalf("%v\n%s", err, d.Text)
		}
		if at := entries[2].At; math.Abs(at[1]+33+33.5/60) > 5e-4 || math.Abs(at[0]-15-25.25/60) > 5e-5 {
			t.Errorf("%s: station 3 at %v\n%s", names, at, d.Text)
		}
		if text := string(d.Text); !strings.Contains(text, "start: 2021-03-11") || !strings.Contains(text,
			"end: 2021-03-13") {
			t.Errorf("%s: no days of the leg\n%s", names, text)
		}
	}
}
