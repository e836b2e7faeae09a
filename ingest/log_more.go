package ingest

import (
	"errors"
	"strings"
	"time"
)

// more reads what a log says of a cast beside where and when it began: the times at the bottom and at the end, bottles,
// height above the bottom, parameters and event.
func (r *Row) more(e *StationEntry) {
	e.HeightM, e.HeightDecimals = r.number("height_above_bottom", 0, maxDbar)
	e.Bottles, e.Parameters, e.Event = r.words("bottles", 200), r.words("parameters", 200), r.words("event", 100)
	e.Bottom = r.later("time_bottom", e, e.Time)
	after := e.Bottom
	if after.IsZero() {
		after = e.Time
	}
	e.End = r.later("time_end", e, after)
}

// noDay is the day of a time of day in a line without a date.
var noDay = time.Date(1, 1, 2, 0, 0, 0, 0, time.UTC)

// OfNoDay reports whether a time of a log is a time of day alone, and returns how long after midnight.
func OfNoDay(t time.Time) (time.Duration, bool) { return t.Sub(noDay), !t.IsZero() && t.Year() <= 1 }

// longestBack is by how much a time of day can be earlier than the one before it and be a mistake of the log; more is
// the next day.
const longestBack = 6 * time.Hour

// After returns a time of the day of another on the next day when it is so much earlier that it is meant so.
func After(t, before time.Time) time.Time {
	if before.Sub(t) > longestBack {
		return t.Add(24 * time.Hour)
	}
	return t
}

// later reads a time that is after another of the cast, in the same clock: with its date, or as a time of
// day.
func (r *Row) later(column string, e *StationEntry, after time.Time) time.Time {
	s := r.text(column)
	if s == "" {
		return time.Time{}
	}
	fail := func(err error) time.Time {
		r.fail(column, "write YYYY-MM-DD HH:MM, or only HH:MM if the line has a date", "%s: %w", column, err)
		return time.Time{}
	}
	since, ahead, zoned, known, err := readClock(s)
	if err == nil {
		if !known {
			return time.Time{}
		}
		if !zoned {
			ahead = e.ahead
		}
		if after.IsZero() {
			return noDay.Add(since - ahead)
		}
		return After(after.Add(ahead).Truncate(24*time.Hour).Add(since-ahead), after)
	}
	order := YearMonthDay
	if r.log.foreign() {
		order = r.log.Date
	}
	day, rest, err := readOrderedDate(s, order)
	if err != nil {
		return fail(err)
	}
	if since, ahead, zoned, known, err = readClock(strings.TrimLeft(rest, "T ")); err != nil || !known {
		return fail(errors.New("the time of day after the date cannot be read"))
	}
	if !zoned {
		ahead = e.ahead
	}
	return day.Add(since - ahead)
}
