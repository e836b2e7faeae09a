package pipeline

import (
	"fmt"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// tables are what the cruise file names beside casts and bottles.
type tables struct {
	entries []ingest.StationEntry
	edits   []editFile
}

// readTables reads the station table and the flag edits. Faults are among the findings.
func (w *inputs) readTables() (t tables) {
	if s := w.cruise.Casts.Stations; s.Path != "" {
		if data, err := w.readTable(s.Source); err != nil {
			w.fault(err, "input.station_table")
		} else {
			var found []metadata.Finding
			if t.entries, found, err = ingest.ReadStationTable(data, path.Clean(s.Path), &s.LogMapping); err != nil {
				w.fault(err, "input.station_table")
			}
			w.find(found...)
		}
	}
	for _, s := range w.cruise.Casts.Edits {
		data, err := w.readTable(s)
		if err != nil {
			w.fault(err, "input.edits")
			continue
		}
		f := editFile{source: metadata.Digest{Name: path.Clean(s.Path), SHA256: sumBytes(data),
			Bytes: int64(len(data))}, data: data}
		if f.edits, err = ingest.ReadEdits(data, path.Clean(s.Path)); err != nil {
			w.fault(err, "input.edits")
			continue
		}
		for i := range f.edits {
			w.dates = append(w.dates, f.edits[i].Date)
		}
		t.edits = append(t.edits, f)
	}
	return t
}

// stations applies a station table to casts: it fills what the headers do not say and goes before what they do; each
// difference is a finding with both values. What the cruise file says of a cast by name goes before the table.
type stations struct {
	c       *cruisefile.Cruise
	found   []metadata.Finding
	used    []bool
	counts  map[string]int // what was filled and what was changed, for the record
	touched []*section.Cast
	lineOf  map[*section.Cast]metadata.Position // of the casts that were touched
	logOnly []*ingest.StationEntry              // lines that no cast has
	lines   [2]int                              // first and last line used
	remarks map[*section.Cast]string
	logged  map[*section.Cast]export.Logged
	clocks  []qc.Clock
}

const compareLog = "compare both with the log, and correct the one that is wrong"

func (s *stations) say(e *ingest.StationEntry, k *section.Cast, column, format string, a ...any) {
	s.found = append(s.found, metadata.Finding{Position: e.Place(column), Severity: metadata.Warning,
		Check: "station_table." + column, Cast: k.ID(),
		Message: fmt.Sprintf(format, a...), Remedy: compareLog})
}

func (s *stations) count(what string) { s.counts[what]++ }

// apply applies the lines to the casts that stay. explicit returns, for a cast, what the cruise file says of it by
// name.
func (s *stations) apply(entries []ingest.StationEntry, casts []*section.Cast) {
	s.used, s.counts, s.remarks = make([]bool, len(entries)), map[string]int{}, map[*section.Cast]string{}
	s.logged = map[*section.Cast]export.Logged{}
	s.lineOf = map[*section.Cast]metadata.Position{}
	byName := map[[2]string][]int{}
	for i := range entries {
		k := [2]string{entries[i].Station, entries[i].Cast}
		byName[k] = append(byName[k], i)
	}
	leg := make([]string, len(entries)) // expocode of the first cast that a line is of
	best := make([]int, len(casts))
	mixed := make([]bool, len(entries))
	for n, k := range casts {
		best[n] = -1 // a line that names the expocode goes before one that does not
		for _, i := range byName[[2]string{k.Station, k.Number}] {
			if e := entries[i].Expocode; e == k.Expocode || e == "" && best[n] < 0 {
				best[n] = i
			}
		}
		if i := best[n]; i >= 0 {
			mixed[i] = mixed[i] || leg[i] != "" && leg[i] != k.Expocode
			leg[i] = k.Expocode
		}
	}
	for i := range entries {
		if e := &entries[i]; mixed[i] {
			s.found = append(s.found, metadata.Finding{Position: e.Place("station"), Severity: metadata.Warning,
				Check: "station_table.expocode",
				Message: fmt.Sprintf("several legs have a cast %s; the line is not taken",
					metadata.CastText(e.Station, e.Cast)),
				Remedy: "add a column expocode to the table, and a line for each leg"})
		}
	}
	for n, k := range casts {
		if best[n] < 0 {
			continue
		}
		e := &entries[best[n]]
		s.used[best[n]] = true
		if mixed[best[n]] {
			continue
		}
		s.touched = append(s.touched, k)
		s.lineOf[k] = e.Place("station")
		line := s.lineOf[k].Line
		if s.lines[0] == 0 || line < s.lines[0] {
			s.lines[0] = line
		}
		s.lines[1] = max(s.lines[1], line)
		s.log(e, k)
		s.time(e, k)
		s.position(e, k)
		s.depth(e, k)
		s.words(e, k)
		if e.Remark != "" {
			s.remarks[k] = e.Remark
			s.count("remarks")
		}
	}
}

func clockText(t time.Time, dateOnly, seconds bool) string {
	switch {
	case dateOnly:
		return t.Format("2006-01-02")
	case seconds:
		return t.Format("2006-01-02 15:04:05")
	}
	return t.Format("2006-01-02 15:04")
}

// time compares to the minute, in which headers of cast files are written.
func (s *stations) time(e *ingest.StationEntry, k *section.Cast) {
	if e.Time.IsZero() {
		return
	}
	t := e.Time
	if !e.Zoned && !e.DateOnly {
		t = t.Add(clockOffset(s.c, k, cruisefile.ClockOfTable))
	}
	if !e.DateOnly && !k.DateOnly && !k.Time.IsZero() {
		s.clocks = append(s.clocks, qc.Clock{Cast: k, File: k.Time, Log: t})
	}
	day := func(t time.Time) string { return t.Format("2006-01-02") }
	minute := func(t time.Time) string { return t.Format("2006-01-02 15:04") }
	switch {
	case k.Time.IsZero():
		s.count("times filled")
	case e.DateOnly:
		if day(t) == day(k.Time) {
			return
		}
		s.say(e, k, "time", "date is %s here and %s in %s; the table counts", day(t), day(k.Time), k.Source.Name)
		s.count("times changed")
		if !k.DateOnly { // the header has the hour
			t = t.Add(k.Time.Sub(k.Time.Truncate(24 * time.Hour)))
			k.Time = t
			return
		}
	case k.DateOnly:
		if day(t) != day(k.Time) {
			s.say(e, k, "time", "time is %s here and the date %s in %s; the table counts",
				clockText(t, false, e.Seconds), day(k.Time), k.Source.Name)
			s.count("times changed")
		} else {
			s.count("times filled")
		}
	case minute(t) == minute(k.Time):
		if !e.Seconds {
			return
		}
	default:
		s.say(e, k, "time", "time is %s here and %s in %s (both UTC); the table counts", clockText(t, false, e.Seconds),
			clockText(k.Time, false, k.Time.Second() != 0), k.Source.Name)
		s.count("times changed")
	}
	k.Time, k.DateOnly = t, e.DateOnly
}

// agree reports whether two numbers are the same in the digits that both have.
func agree(a float64, ad int, b float64, bd int) bool {
	d := min(max(ad, 0), max(bd, 0))
	return math.Abs(a-b) <= 0.5001*math.Pow(10, -float64(d))
}

func text(v float64, decimals int) string { return strconv.FormatFloat(v, 'f', max(decimals, -1), 64) }

func (s *stations) position(e *ingest.StationEntry, k *section.Cast) {
	if !e.HasAt {
		return
	}
	turn := func(a, b float64) float64 { return b + math.Remainder(a-b, 360) }
	if agree(e.At[1], e.AtDecimals[1], k.At[1], k.AtDecimals[1]) && agree(turn(e.At[0], k.At[0]), e.AtDecimals[0],
		k.At[0], k.AtDecimals[0]) {
		if e.AtDecimals[0] > k.AtDecimals[0] && e.AtDecimals[1] > k.AtDecimals[1] {
			k.At, k.AtDecimals = e.At, e.AtDecimals
		}
		return
	}
	s.say(e, k, "latitude", "position is %s, %s here and %s, %s in %s (latitude, longitude); the table counts",
		text(e.At[1], e.AtDecimals[1]), text(e.At[0], e.AtDecimals[0]),
		text(k.At[1], k.AtDecimals[1]), text(k.At[0], k.AtDecimals[0]), k.Source.Name)
	s.count("positions changed")
	k.At, k.AtDecimals = e.At, e.AtDecimals
}

func (s *stations) depth(e *ingest.StationEntry, k *section.Cast) {
	switch {
	case math.IsNaN(e.BottomM):
		return
	case math.IsNaN(k.BottomM):
		s.count("depths filled")
	case agree(e.BottomM, e.BottomDecimals, k.BottomM, k.BottomDecimals):
		if e.BottomDecimals <= k.BottomDecimals {
			return
		}
	default:
		s.say(e, k, "depth", "water depth is %s m here and %s m in %s; the table counts",
			text(e.BottomM, e.BottomDecimals), text(k.BottomM, k.BottomDecimals), k.Source.Name)
		s.count("depths changed")
	}
	k.BottomM, k.BottomDecimals = e.BottomM, e.BottomDecimals
}

// words takes direction, role and system, unless the cruise file names the cast.
func (s *stations) words(e *ingest.StationEntry, k *section.Cast) {
	other := func(column, here, there string) {
		if here != there {
			s.found = append(s.found, metadata.Finding{Position: e.Place(column), Severity: metadata.Warning,
				Check: "station_table." + column, Cast: k.ID(),
				Message: fmt.Sprintf("%s is %s here and %s in the cruise file; the cruise file counts", column, here,
					there), Remedy: compareLog})
		}
	}
	if e.Direction != section.DirectionUnknown {
		if listed(&s.c.Casts.Up, k) {
			other("direction", e.Direction.String(), k.Direction.String())
		} else if k.Direction != e.Direction {
			k.Direction = e.Direction
			s.count("directions set")
		}
	}
	if e.Role != section.Unstated {
		by := false
		for i := range s.c.Casts.Roles {
			by = by || listed(&s.c.Casts.Roles[i].Casts, k)
		}
		if by {
			other("role", e.Role.String(), k.Role.String())
		} else if k.Role != e.Role {
			k.Role = e.Role
			s.count("roles set")
		}
	}
	if e.System == "" {
		return
	}
	var labels []string
	by := false
	for i := range s.c.Systems {
		y := &s.c.Systems[i]
		labels = append(labels, y.Label)
		by = by || listed(&y.Stations, k)
		if y.Label == e.System {
			labels = nil
			break
		}
	}
	for i := range s.c.Systems {
		by = by || listed(&s.c.Systems[i].Stations, k)
	}
	switch {
	case labels != nil || len(s.c.Systems) == 0:
		f := metadata.Finding{Position: e.Place("system"), Severity: metadata.Warning, Check: "station_table.system",
			Cast:    k.ID(),
			Message: fmt.Sprintf("system %s is not in the cruise file; not taken", e.System),
			Remedy:  "describe it under systems: in the cruise file"}
		if near, ok := metadata.Nearest(e.System, labels); ok {
			f.Remedy = "did you mean " + near
		}
		s.found = append(s.found, f)
	case by:
		other("system", e.System, k.System)
	case k.System != e.System:
		k.System = e.System
		s.count("systems set")
	}
}

// leftovers says which lines no cast answers to, and which casts have no line.
func (s *stations) leftovers(entries []ingest.StationEntry, kept []*section.Cast, out []leftOut) {
	for i := range entries {
		e := &entries[i]
		if s.used[i] {
			continue
		}
		if slices.ContainsFunc(out, func(o leftOut) bool { return o.cast != nil && lineIsOf(e, o.cast) }) {
			continue
		}
		s.logOnly = append(s.logOnly, e)
		s.found = append(s.found, metadata.Finding{Position: e.Place("station"), Severity: metadata.Warning,
			Check:   "station_table.station",
			Message: fmt.Sprintf("no file holds cast %s", metadata.CastText(e.Station, e.Cast)),
			Remedy:  nearest(e.Expocode, e.Station, e.Cast, kept)})
	}
	var none []string
	for _, k := range kept {
		if _, has := s.lineOf[k]; !has {
			none = append(none, metadata.CastText(k.Station, k.Number))
		}
	}
	if len(none) > 0 && len(entries) > 0 {
		s.found = append(s.found, metadata.Finding{Position: metadata.Position{File: entries[0].Place("station").File},
			Severity: metadata.Note, Check: "station_table.cast",
			Message: fmt.Sprintf("no line for %s: %s", map[bool]string{true: "cast", false: "casts"}[len(none) == 1],
				strings.Join(none, ", ")), Count: len(none)})
	}
}

// lineIsOf reports whether a line of the log is of a cast.
func lineIsOf(e *ingest.StationEntry, k *section.Cast) bool {
	return k.Station == e.Station && k.Number == e.Cast && (e.Expocode == "" || e.Expocode == k.Expocode)
}

// nearest returns the hint for a cast that a table or the cruise file names and no file holds: another spelling of the
// station, the casts that the station has, or where to look.
func nearest(expocode, station, number string, casts []*section.Cast) string {
	var names, numbers, codes []string
	for _, k := range casts {
		switch {
		case k.Station != station:
			names = append(names, k.Station)
		case expocode == "" || k.Expocode == expocode:
			numbers = append(numbers, k.Number)
		case (number == "" || k.Number == number) && !slices.Contains(codes, k.Expocode):
			codes = append(codes, k.Expocode)
		}
	}
	switch {
	case len(codes) > 0:
		return "did you mean expocode " + strings.Join(codes, " or ")
	case len(numbers) > 0:
		return fmt.Sprintf("station %s has cast %s", station, strings.Join(numbers, ", "))
	}
	if near, ok := metadata.Nearest(station, names); ok {
		return "did you mean " + metadata.CastText(near, number)
	}
	return "write station and cast as the cast files have them: castwright check --casts lists them; or take the " +
		"line out"
}

// clockOffset returns what is added to the logged time of a cast to get UTC; of says whose times are meant.
func clockOffset(c *cruisefile.Cruise, k *section.Cast, of cruisefile.ClockOf) time.Duration {
	var sum time.Duration
	for i := range c.Casts.Clock {
		x := &c.Casts.Clock[i]
		if (x.Of == cruisefile.ClockOfAll || x.Of == of) && listed(&x.Stations, k) {
			sum += x.Offset
		}
	}
	return sum
}
