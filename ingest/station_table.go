package ingest

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// A StationEntry is one line of a station table: what the log says of a cast. What the line does not say is zero, NaN
// or "".
type StationEntry struct {
	Expocode       string // "" any
	Station, Cast  string
	Time           time.Time // in UTC when Zoned; else as the log's clock shows it
	Zoned          bool      // the line says its zone
	DateOnly       bool      // a date without a time of day
	Seconds        bool      // Time is known to the second
	At             orb.Point // longitude, latitude in degrees
	HasAt          bool
	AtDecimals     [2]int // digits after the point of longitude and latitude
	BottomM        float64
	BottomDecimals int
	Direction      section.Direction
	Role           section.Role
	System, Remark string
	Bottom, End    time.Time // of the cast, in the clock of Time
	HeightM        float64   // closest to the bottom; NaN when not said
	HeightDecimals int
	Bottles        string // their number or their numbers, in words
	Parameters     string // measured or sampled, in words
	Event          string // number of the event in the ship's log
	ahead          time.Duration
	Row
}

const stationColumns = "station,cast,time,latitude,longitude,depth,direction,role,system,remark"

// ReadStationTable reads a station table: CSV whose first line names its columns in any order (castwright help
// cruise-file describes them), or a log that a mapping explains. Lines that start with # are comments. A cast that
// occurs twice is a fault. Columns that are not known are named in a finding. On error there are no entries; it joins
// every fault, up to 20, as *metadata.InputError. The name is only for positions.
func ReadStationTable(data []byte, name string, m *LogMapping) ([]StationEntry, []metadata.Finding, error) {
	var out []StationEntry
	var extra []string
	form := csvForm{legal: LogMeanings(), need: []string{"station", "cast"}, head: stationColumns, log: m,
		extra: &extra}
	if m.foreign() {
		form.need = []string{"station"}
		for _, c := range m.Columns {
			form.need = append(form.need, c.Means)
		}
	}
	first := map[[3]string]int{}
	err := readCSV(data, name, &form, func(r *Row) {
		if m.foreign() && r.text("station") == "" { // other work of the ship
			return
		}
		e := StationEntry{Row: *r, Expocode: r.text("expocode"), Station: r.name("station"), Cast: "1",
			System: r.text("system"),
			Remark: r.words("remark", 1000), BottomM: math.NaN()}
		if _, ok := r.at["cast"]; ok {
			e.Cast = r.name("cast")
		}
		if comment := r.words("comment", 1000); comment != "" {
			e.Remark = strings.TrimPrefix(e.Remark+"; "+comment, "; ")
		}
		key := [3]string{e.Expocode, e.Station, e.Cast}
		if line, twice := first[key]; twice {
			r.fail("station", "keep one of the two lines", "station %s cast %s is on line %d too", e.Station, e.Cast,
				line)
		} else {
			first[key] = r.Place("station").Line
		}
		if m.foreign() {
			r.logWhen(&e)
			r.logWhere(&e)
		} else {
			r.when(&e)
			r.where(&e)
		}
		r.more(&e)
		if v, d := r.number("depth", 0, maxDbar); v > 0 {
			e.BottomM, e.BottomDecimals = v, d
		}
		e.Direction = section.Direction(r.word("direction", section.DirectionUnknown.String(), section.Down.String(),
			section.Up.String()))
		e.Role = section.Role(r.word("role", section.Unstated.String(), section.Primary.String(),
			section.Repeat.String(), section.Yoyo.String(),
			section.Test.String(), section.Aborted.String(), section.Calibration.String(), section.Other.String()))
		e.Row.rec, e.Row.errs = nil, nil
		out = append(out, e)
	})
	if err != nil {
		return nil, nil, err
	}
	var found []metadata.Finding
	if len(extra) > 0 {
		found = append(found, metadata.Finding{Position: metadata.Position{File: name, Line: 1},
			Severity: metadata.Note,
			Check:    "station_table.column",
			Count:    len(extra), Message: fmt.Sprintf("columns of the table that are not known are not read: %s",
				strings.Join(extra, ", "))})
	}
	if inWholeDegrees(out) {
		found = append(found, metadata.Finding{Position: out[0].Place("latitude"), Severity: metadata.Warning,
			Check: "station_table.position", Message: "every position of the table is in whole degrees",
			Remedy: "where minutes are in columns of their own, name these latitude_minutes and longitude_minutes " +
				"(casts: station_table: columns)"})
	}
	return out, found, nil
}

// inWholeDegrees reports whether there are positions, three or more, and none has a fraction of a degree.
func inWholeDegrees(entries []StationEntry) bool {
	n := 0
	for i := range entries {
		if e := &entries[i]; e.HasAt {
			if e.At[0] != math.Trunc(e.At[0]) || e.At[1] != math.Trunc(e.At[1]) {
				return false
			}
			n++
		}
	}
	return n >= 3
}

// word returns the place of a word among those that are legal, 0 for an empty field.
func (r *Row) word(column string, legal ...string) int {
	s := r.text(column)
	if s == "" {
		return 0
	}
	if i := slices.Index(legal, strings.ToLower(s)); i >= 0 {
		return i
	}
	remedy := "write " + strings.Join(legal[1:], ", ") + ", or leave the field empty"
	if near, ok := metadata.Nearest(s, legal[1:]); ok {
		remedy = "did you mean " + near
	}
	r.fail(column, remedy, "%s is %q", column, s)
	return 0
}

// where reads the position; latitude and longitude go together.
func (r *Row) where(e *StationEntry) {
	lat, lon := r.text("latitude"), r.text("longitude")
	if lat == "" && lon == "" {
		return
	}
	if lat == "" || lon == "" {
		column := "latitude"
		if lon == "" {
			column = "longitude"
		}
		r.fail(column, "give both or neither", "latitude is %q and longitude %q", lat, lon)
		return
	}
	const remedy = "write decimal degrees, north and east positive"
	y, yd, _, err := readDegrees(lat, 'N', 'S', 90)
	if err != nil {
		r.fail("latitude", remedy, "%w", err)
		return
	}
	x, xd, _, err := readDegrees(lon, 'E', 'W', 360)
	if err != nil {
		r.fail("longitude", remedy, "%w", err)
		return
	}
	if x > 180 || x < -180 {
		x = east(x, xd)
	}
	e.At, e.AtDecimals, e.HasAt = orb.Point{x, y}, [2]int{xd, yd}, true
}

// when reads date and time, in one column or two, and the zone.
func (r *Row) when(e *StationEntry) {
	date, clock := r.text("date"), r.text("time")
	if date == "" && clock == "" {
		return
	}
	const remedy = "write YYYY-MM-DD HH:MM, or date and time in two columns"
	if _, two := r.at["date"]; !two {
		fields := strings.FieldsFunc(clock, func(c rune) bool { return c == ' ' || c == 'T' || c == 't' })
		if len(fields) == 0 || len(fields) > 3 {
			r.fail("time", remedy, "time is %q", clock)
			return
		}
		date, clock = fields[0], strings.Join(fields[1:], "")
		if len(fields) == 1 && !strings.Contains(date, "-") {
			r.fail("time", remedy, "time is %q: no date, or no time", r.text("time"))
			return
		}
	}
	column := "date"
	if _, two := r.at["date"]; !two {
		column = "time"
	}
	day, note, err := readDate(date)
	if err != nil || note == "has a point" {
		r.fail(column, remedy, "%s is %q", column, r.text(column))
		return
	}
	e.Time, e.DateOnly = day, true
	zone := r.text("zone")
	zoneColumn := "zone"
	if i := strings.IndexAny(clock, "Zz+-"); i >= 0 {
		if zone != "" {
			r.fail("zone", "keep one of the two", "the time says %s, the column zone says %s", clock[i:], zone)
			return
		}
		clock, zone, zoneColumn = clock[:i], clock[i:], "time"
	}
	if clock == "" {
		return
	}
	since, known, _, err := readTime(clock)
	if err != nil || !known {
		r.fail("time", remedy, "time is %q", r.text("time"))
		return
	}
	e.Time, e.DateOnly, e.Seconds = day.Add(since), false, strings.Count(clock, ":") == 2
	if zone == "" {
		return
	}
	ahead, err := readZone(zone)
	if err != nil {
		r.fail(zoneColumn, "write a zone such as +02:00, or UTC", "%w", err)
		return
	}
	e.Time, e.Zoned, e.ahead = e.Time.Add(-ahead), true, ahead
}

// readZone reads Z, UTC, +02, +0200 or +02:00 as the time that it is ahead of UTC.
func readZone(s string) (time.Duration, error) {
	bad := fmt.Errorf("zone is %q", s)
	switch strings.ToUpper(s) {
	case "Z", "UTC":
		return 0, nil
	}
	if s[0] != '+' && s[0] != '-' {
		return 0, bad
	}
	digits := strings.Replace(s[1:], ":", "", 1)
	if len(digits) != 2 && len(digits) != 4 || !allDigits([]byte(digits)) || strings.Contains(s, ":") &&
		(len(s) != 6 || s[3] != ':') {
		return 0, bad
	}
	h, _ := strconv.Atoi(digits[:2])
	m := 0
	if len(digits) == 4 {
		m, _ = strconv.Atoi(digits[2:])
	}
	if h > 14 || m > 59 {
		return 0, bad
	}
	d := time.Duration(h)*time.Hour + time.Duration(m)*time.Minute
	if s[0] == '-' {
		d = -d
	}
	return d, nil
}

var plannedForm = csvForm{
	legal: []string{"station", "latitude", "longitude", "depth", "remark", "cast", "date", "time", "section", "name"},
	need:  []string{"station", "latitude", "longitude"},
	head:  "station,latitude,longitude",
}

// ReadPlanned reads a table of planned stations in the order of the plan: CSV with the columns station, latitude and
// longitude; depth and others are not used. On error there are no entries.
func ReadPlanned(data []byte, name string) ([]StationEntry, error) {
	var out []StationEntry
	err := readCSV(data, name, &plannedForm, func(r *Row) {
		e := StationEntry{Row: *r, Station: r.name("station"), BottomM: math.NaN()}
		r.where(&e)
		if !e.HasAt && r.text("latitude") == "" && r.text("longitude") == "" {
			r.fail("latitude", "write decimal degrees, north and east positive", "station %s has no position",
				e.Station)
		}
		e.Row.rec, e.Row.errs = nil, nil
		out = append(out, e)
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}
