package ingest

import (
	"bytes"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
)

// A LogMapping says how to read a log that somebody kept in columns of their own as a station table. Its zero value is
// the station table as castwright help cruise-file describes it.
type LogMapping struct {
	Columns   []LogColumn
	Date      DateOrder
	Encoding  Encoding
	Delimiter byte // 0: found
	Comma     bool // decimal comma
}

// A LogColumn says what a column of a log is.
type LogColumn struct {
	Column, Means string
	At            metadata.Position
}

// LogMeanings returns what a column of a log can be, in a fixed order.
func LogMeanings() []string {
	return []string{"expocode", "station", "cast", "date", "time", "zone", "latitude", "latitude_minutes",
		"latitude_hemisphere", "longitude",
		"longitude_minutes", "longitude_hemisphere", "depth", "direction", "role", "system", "remark", "time_bottom",
		"time_end", "bottles",
		"height_above_bottom", "parameters", "event", "comment"}
}

// foreign reports whether a mapping says anything, so that fields are read in the forms of logs.
func (m *LogMapping) foreign() bool { return m != nil && len(m.Columns) > 0 }

// means returns our name of a column of the log.
func (m *LogMapping) means(name string) string {
	if m != nil {
		for _, c := range m.Columns {
			if strings.EqualFold(strings.Join(strings.Fields(c.Column), " "), strings.Join(strings.Fields(name), " ")) {
				return c.Means
			}
		}
	}
	return strings.ToLower(name)
}

// delimiter returns what is between the columns of a log: of the signs that tables use, the one that its first line has
// most often.
func (m *LogMapping) delimiter(data []byte) rune {
	if m.Delimiter != 0 {
		return rune(m.Delimiter)
	}
	first, _, _ := bytes.Cut(data, []byte("\n"))
	best := ','
	for _, d := range ";\t|" {
		if bytes.Count(first, []byte(string(d))) > bytes.Count(first, []byte(string(best))) {
			best = d
		}
	}
	return best
}

// nothing are words of logs for no value.
var nothingWords = []string{"-", "--", "n/a", "na", "nan", "none", "-999", "-9", "-99", "?"}

// logWhere reads a position in any form, in one column for each coordinate or with minutes and hemisphere in columns of
// their own.
func (r *Row) logWhere(e *StationEntry) {
	lat := angle{r.text("latitude"), r.text("latitude_minutes"), "", r.text("latitude_hemisphere")}
	lon := angle{r.text("longitude"), r.text("longitude_minutes"), "", r.text("longitude_hemisphere")}
	if lat.degrees == "" && lon.degrees == "" {
		return
	}
	const remedy = "write degrees, or degrees and minutes, with a sign or N, S, E, W"
	y, yd, err := lat.read('N', 'S', 90, r.log.Comma)
	if err != nil {
		r.fail("latitude", remedy, "latitude: %w", err)
		return
	}
	x, xd, err := lon.read('E', 'W', 360, r.log.Comma)
	if err != nil {
		r.fail("longitude", remedy, "longitude: %w", err)
		return
	}
	if x > 180 || x < -180 {
		x = east(x, xd)
	}
	e.At, e.AtDecimals, e.HasAt = orb.Point{x, y}, [2]int{xd, yd}, true
}

// logWhen reads date and time in any form, in one column or two.
func (r *Row) logWhen(e *StationEntry) {
	date, clock, column := r.text("date"), r.text("time"), "date"
	if _, two := r.at["date"]; !two {
		date, clock, column = clock, "", "time"
	}
	if date == "" {
		return
	}
	day, rest, err := readOrderedDate(date, r.log.Date)
	if err != nil {
		r.fail(column, "declare the order of the date: station_table: {date: dmy}, or ymd or mdy", "%w", err)
		return
	}
	if clock == "" {
		clock, column = rest, "date"
	} else {
		column = "time"
	}
	e.Time, e.DateOnly = day, true
	since, ahead, zoned, known, err := readClock(clock)
	if err != nil {
		r.fail(column, "write the time as HH:MM or HHMM", "%w", err)
		return
	}
	if !known {
		return
	}
	if zone := r.text("zone"); zone != "" && !zoned {
		if ahead, err = readZone(zone); err != nil {
			r.fail("zone", "write a zone such as +02:00, or UTC", "%w", err)
			return
		}
		zoned = true
	}
	e.Time, e.DateOnly, e.Seconds, e.Zoned = day.Add(since-ahead), false, strings.Count(clock, ":") == 2, zoned
	e.ahead = ahead
}
