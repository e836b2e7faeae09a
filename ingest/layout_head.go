package ingest

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"path"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A fact is what a head says of a cast, and where; the zero line is the layout or the file name.
type fact struct {
	text         string
	line, column int
}

type facts map[string]fact

// match adds what the patterns of the layout find in a line, and reports whether one of them matched. What was found
// first counts.
func (l *Layout) match(f facts, line []byte, no int) (matched bool) {
	for i := range l.Header {
		h := &l.Header[i]
		if h.FileName {
			continue
		}
		m := h.Regexp.FindSubmatchIndex(line)
		if m == nil {
			continue
		}
		matched = true
		for g, name := range h.Regexp.SubexpNames() {
			if name == "" || m[2*g] < 0 {
				continue
			}
			s := strings.TrimSpace(string(line[m[2*g]:m[2*g+1]]))
			if _, there := f[name]; !there && s != "" {
				f[name] = fact{s, no, m[2*g] + 1}
			}
		}
	}
	return matched
}

// outer returns the facts that do not come from lines: what the layout gives, and what the file name says, which counts
// more.
func (l *Layout) outer(name string) facts {
	f := facts{}
	for _, g := range l.Given {
		f[g.Fact] = fact{text: g.Text}
	}
	base := []byte(path.Base(name))
	for i := range l.Header {
		h := &l.Header[i]
		if !h.FileName {
			continue
		}
		m := h.Regexp.FindSubmatch(base)
		for g, name := range h.Regexp.SubexpNames() {
			if m != nil && name != "" && len(m[g]) > 0 {
				f[name] = fact{text: string(m[g])}
			}
		}
	}
	return f
}

// shared are the facts of a file that hold for its later casts too when their own heads do not say them.
func (f facts) shared() facts {
	out := facts{}
	for _, name := range []string{"expocode", "section", "zone", "year"} {
		if v, ok := f[name]; ok {
			out[name] = v
		}
	}
	return out
}

// with returns the facts of f and those of over, which count more.
func (f facts) with(over facts) facts {
	out := maps.Clone(f)
	maps.Copy(out, over)
	return out
}

// any returns the first of several facts that is there.
func (f facts) any(names ...string) (fact, bool) {
	for _, n := range names {
		if v, ok := f[n]; ok && !isFill([]byte(v.text)) {
			return v, true
		}
	}
	return fact{}, false
}

// header fills a cast with what is said of it. x.report gets what is missing or cannot be read.
func (x *layoutCast) header(f facts) {
	c := &x.cast
	c.Direction = x.l.Direction.direction()
	if v, ok := f.any("direction"); ok {
		switch low := strings.ToLower(v.text); {
		case strings.HasPrefix(low, "u"):
			c.Direction = section.Up
		case strings.HasPrefix(low, "d"):
			c.Direction = section.Down
		}
	}
	if v, ok := f.any("section"); ok {
		c.SectionID = v.text
	}
	if v, ok := f.any("station"); ok {
		c.Station = x.named(&header{value: v.text, line: v.line, column: v.column}, "station")
	} else {
		x.fail(x.firstLine, 0,
			"add a header pattern with the group (?P<station>...), of a line or of the file name, or a column "+
				"that means station",
			"nothing says the station of the cast%s", x.seen(f))
	}
	c.Number = "1"
	if v, ok := f.any("cast"); ok {
		c.Number = x.named(&header{value: v.text, line: v.line, column: v.column}, "cast")
	} else if x.nth > 1 {
		c.Number = itoa(x.nth)
	}
	log := x.builder.o.Entry(c.Station, c.Number)
	x.time(f, log)
	x.position(f, log)
	x.depth(f, log)
	x.expocode(f)
}

// seen says which facts were found, for the messages about those that were not.
func (x *layoutCast) seen(f facts) string {
	if len(f) == 0 {
		return "; no header pattern matched"
	}
	return "; the head gives " + strings.Join(slices.Sorted(maps.Keys(f)), " ")
}

// Entry returns the line of the station table of a cast; nil without one. Zeros in front of a station do not count
// where no line has them.
func (o *Options) Entry(station, number string) *StationEntry {
	for _, same := range []func(a, b string) bool{
		func(a, b string) bool { return a == b },
		func(a, b string) bool { return strings.TrimLeft(a, "0") == strings.TrimLeft(b, "0") },
	} {
		for i := range o.Log {
			if e := &o.Log[i]; same(e.Station, station) && same(e.Cast, number) {
				return e
			}
		}
	}
	return nil
}

// time sets the time of the cast. What the station table says of it is put in later, with the zone of its clock.
func (x *layoutCast) time(f facts, log *StationEntry) {
	c := &x.cast
	fail := func(v fact, err error) {
		x.fail(v.line, v.column, "declare the order of the date (date: ymd, dmy or mdy), or correct the header pattern",
			"%w", err)
	}
	day, rest, at, ok, err := x.day(f)
	switch {
	case err != nil:
		fail(at, err)
		return
	case !ok:
		if log == nil || log.Time.IsZero() {
			x.fail(x.firstLine, 0,
				"add a header pattern with the group (?P<date>...), or year with day_of_year or elapsed_days, or "+
					"name a station table that has it",
				"nothing says the date of the cast%s", x.seen(f))
		}
		return
	}
	c.Time, c.DateOnly = day, true
	if !day.Equal(day.Truncate(24*time.Hour)) || rest == wholeTime {
		c.DateOnly = false
		return
	}
	if v, there := f.any("time"); there {
		rest, at = v.text, v
	} else if v, there := f.any("hour"); there {
		rest, at = v.text, v
		for _, name := range []string{"minute", "second"} {
			if w, there := f.any(name); there {
				rest += ":" + w.text
			} else if name == "minute" {
				rest += ":00"
			}
		}
	}
	since, ahead, zoned, known, err := readClock(rest)
	if err != nil {
		x.fail(at.line, at.column, "write the time as HH:MM or HHMM, or correct the header pattern", "%w", err)
		return
	}
	if !known {
		return
	}
	if v, there := f.any("zone"); there && !zoned && !strings.EqualFold(v.text, "GMT") {
		if ahead, err = readZone(v.text); err != nil {
			fail(v, err)
			return
		}
	}
	c.Time, c.DateOnly = day.Add(since-ahead), false
}

// wholeTime is the rest of a date when the date was a number of days that holds the time of day.
const wholeTime = "\x00"

// day returns the day that the facts say, and the text behind it in the same fact.
func (x *layoutCast) day(f facts) (day time.Time, rest string, at fact, ok bool, err error) {
	if v, there := f.any("date"); there {
		day, rest, err = readOrderedDate(v.text, x.l.Date)
		return day, rest, v, true, err
	}
	year, there := f.any("year")
	if !there {
		return day, "", fact{}, false, nil
	}
	if month, there := f.any("month"); there {
		dom, _ := f.any("day")
		m := month.text
		if n := monthOf(m); n > 0 {
			m = itoa(n)
		}
		day, err = calendarDay(year.text+"-"+month.text+"-"+dom.text, year.text, m, dom.text)
		return day, "", month, true, err
	}
	for first, name := range []string{"elapsed_days", "day_of_year", "yearday"} {
		if v, there := f.any(name); there {
			text := v.text
			if x.l.Comma {
				text = strings.Replace(text, ",", ".", 1)
			}
			if name == "yearday" {
				if x.l.Days == DaysUnstated {
					return day, "", v, true,
						errors.New("the head gives a day of the year, and the layout does not say whether " +
							"1 January is 0 or 1")
				}
				first = int(x.l.Days - DaysFromZero)
			}
			t, dateOnly, err := dayInYear(atoi(year.text), text, float64(first))
			if !dateOnly {
				rest = wholeTime
			}
			return t, rest, v, true, err
		}
	}
	return day, "", fact{}, false, nil
}

// position sets the position of the cast from its head, else from the station table.
func (x *layoutCast) position(f facts, log *StationEntry) {
	c := &x.cast
	_, hasLat := f.any("latitude")
	_, hasLon := f.any("longitude")
	if !hasLat && !hasLon {
		if log != nil && log.HasAt {
			c.At, c.AtDecimals = log.At, log.AtDecimals
			return
		}
		x.fail(x.firstLine, 0,
			"add header patterns with the groups (?P<latitude>...) and (?P<longitude>...), or name a station "+
				"table that has the position",
			"nothing says the position of the cast%s", x.seen(f))
		return
	}
	for i, w := range []struct {
		name               string
		positive, negative byte
		limit              float64
	}{{"longitude", 'E', 'W', 360}, {"latitude", 'N', 'S', 90}} {
		at := f[w.name]
		a := angle{at.text, f[w.name+"_minutes"].text, f[w.name+"_seconds"].text, f[w.name+"_hemisphere"].text}
		deg, decimals, err := a.read(w.positive, w.negative, w.limit, x.l.Comma)
		if err == errFill {
			err = fmt.Errorf("the %s is missing", w.name)
		}
		if err != nil {
			x.fail(at.line, at.column,
				"correct the header pattern, or the file: degrees, or degrees and minutes, with a sign or N, S, E, W",
				"%w", err)
			continue
		}
		c.At[i], c.AtDecimals[i] = deg, decimals
		if len(strings.Fields(a.minutes+a.seconds+a.hemisphere)) == 0 {
			c.AtText[i] = ownText(at.text, deg, decimals)
		}
	}
	if lon := c.At[0]; lon > 180 || lon < -180 {
		c.At[0], c.AtText[0] = east(lon, c.AtDecimals[0]), ""
	}
}

// depth sets the water depth of the cast from its head, else from the station table; one that is no depth of the sea is
// unknown.
func (x *layoutCast) depth(f facts, log *StationEntry) {
	c := &x.cast
	v, ok := f.any("depth", "bottom_depth")
	if !ok {
		if log != nil && log.BottomM > 0 {
			c.BottomM, c.BottomDecimals = log.BottomM, log.BottomDecimals
		}
		return
	}
	s := strings.TrimSpace(strings.TrimRight(v.text, "mMetrs. "))
	if x.l.Comma {
		s = strings.Replace(s, ",", ".", 1)
	}
	d, decimals, _, ok := scanNumber([]byte(s))
	switch {
	case !ok || math.IsNaN(d) || d < 0 || d > 12000:
		x.warn(metadata.Warning, "layout.depth", "", v.line, v.column,
			"correct the header pattern or the file: the water depth in metres",
			"the water depth is %q; taken as unknown", v.text)
	case d > 0:
		c.BottomM, c.BottomDecimals, c.BottomText = d, decimals, ownText(s, d, decimals)
	}
}

// expocode sets the expocode: what the files say, else the leg of the day, or the only leg.
func (x *layoutCast) expocode(f facts) {
	c := &x.cast
	if v, ok := f.any("expocode"); ok {
		c.Expocode = x.named(&header{value: v.text, line: v.line, column: v.column}, "expocode")
		return
	}
	legs := x.builder.o.Legs
	if len(legs) == 1 {
		c.Expocode = legs[0].Expocode
		return
	}
	for _, g := range legs {
		if !c.Time.IsZero() && !g.Start.IsZero() && !c.Time.Before(g.Start) &&
			(g.End.IsZero() || c.Time.Before(g.End.AddDate(0, 0, 1))) {
			c.Expocode = g.Expocode
			return
		}
	}
	x.fail(x.firstLine, 0,
		"declare the legs under cruise: with expocode, start and end, or write given: {expocode: ...} in the layout",
		"nothing says the expocode of the cast")
}
