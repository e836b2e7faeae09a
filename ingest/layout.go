package ingest

import (
	"path"
	"regexp"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A Layout describes text files that are not exchange files: how lines are divided into fields, what the lines above
// the data say of a cast, and which field is which variable. Lines that hold no data are the head of the cast whose
// data follow.
type Layout struct {
	Name      string
	Match     []string    // patterns of file names (path.Match); of the whole name with a slash in it; none: all files
	Encoding  Encoding    // of the bytes; the zero value: found
	Format    Format      // how a data line is divided into fields
	Delimiter byte        // Delimited: what is between fields; 0: found
	Comma     bool        // decimal comma
	Skip      Skip        // lines that are no data
	Header    []Pattern   // what lines of the head, or file names, say of the cast
	Given     []GivenFact // what no file says
	Columns   []LayoutColumn
	Missing   []string       // what is written where there is no value, beside nothing, NaN and -999
	Days      DayCount       // number of 1 January in days of the year whose count the head does not say
	Date      DateOrder      // order of day, month and year where a date is not YYYY-MM-DD
	Split     *regexp.Regexp // a line that matches begins the next cast; nil: found from the head and the columns
	Direction Travel         // which way the instrument moved
	At        metadata.Position
}

// DayCount is the number of 1 January in days of the year.
type DayCount uint8

// Counts; the zero value is not stated.
const (
	DaysUnstated DayCount = iota
	DaysFromZero
	DaysFromOne
)

// Format says how a line is divided into fields.
type Format uint8

// Formats.
const (
	Delimited Format = iota // by one character: comma, semicolon, tab or bar
	Space                   // by blanks and tabs
	Fixed                   // by numbers of characters
)

// String returns the word of the cruise file.
func (f Format) String() string { return [...]string{"delimited", "space", "fixed"}[f] }

// Travel says which way the instrument moved while the lines of a file were taken.
type Travel uint8

// The zero value makes no claim.
const (
	TravelUnstated Travel = iota
	TravelDown
	TravelUp   // lines from the bottom up are put in order of pressure
	TravelBoth // down, and then up: two casts
)

// A Skip says which lines are no data: the first so many of a file, and those that match.
type Skip struct {
	Lines    int
	Patterns []*regexp.Regexp
}

// A Pattern finds facts of a cast in a line, or in the file name: the names of its groups are those of Facts.
type Pattern struct {
	Regexp   *regexp.Regexp
	FileName bool // the base of the file's name is looked at, not the lines
	At       metadata.Position
}

// A GivenFact is a fact of every cast that the files do not say, such as the year of a day of the year.
type GivenFact struct {
	Fact, Text string
	At         metadata.Position
}

// A Place says where a field is in a data line: under a name, as the field of a number, or from one character to
// another. Both count from 1.
type Place struct {
	Column   string
	Number   int
	From, To int
}

// A LayoutColumn is one column of the data lines.
type LayoutColumn struct {
	Place
	Means   string // name of a variable, of a fact, or Keep
	Unit    string // "": that of the line of names or of units, else that of the variable
	Missing []string
	Flags   *FlagPlace
	At      metadata.Position
}

// Keep is the meaning of a column that is copied as it is.
const Keep = "keep"

// A FlagPlace says where the flags of a column are, and what they mean.
type FlagPlace struct {
	Place
	// the flag is one character of a word that holds those of several columns; 0: it is the whole field
	Digit  int
	Scheme Scheme // meaning of the characters
	// of a scheme of the file's own: what is written, and the WOCE CTD flag that it means; nil: Scheme counts
	Codes map[string]byte
}

// Scheme is a published set of flags.
type Scheme uint8

// Schemes.
const (
	SchemeWOCE Scheme = iota
	SchemeL20         // NVS vocabulary L20
	SchemeL34         // NVS vocabulary L34
)

// String returns the word of the cruise file.
func (s Scheme) String() string { return [...]string{"woce", "l20", "l34"}[s] }

// Facts returns the words for what a head says of a cast, in a fixed order. Those of columns are the same but for
// depth, which there is the variable; the water depth is bottom_depth in both.
func Facts() []string {
	return []string{"expocode", "station", "cast", "section", "date", "time", "zone", "year", "month", "day", "hour",
		"minute", "second", "day_of_year",
		"elapsed_days", "yearday", "latitude", "latitude_minutes", "latitude_seconds", "latitude_hemisphere",
		"longitude",
		"longitude_minutes", "longitude_seconds",
		"longitude_hemisphere", "depth", "bottom_depth", "direction"}
}

// isFact reports whether the meaning of a column is a fact of the cast, not a variable.
func isFact(means string) bool {
	if means == "depth" {
		return false
	}
	for _, f := range Facts() {
		if f == means {
			return true
		}
	}
	return false
}

// matches reports whether a layout is for a file.
func (l *Layout) matches(name string) bool {
	return len(l.Match) == 0 || slices.ContainsFunc(l.Match, func(pattern string) bool {
		file := name
		if !strings.Contains(pattern, "/") {
			file = path.Base(name)
		}
		ok, err := path.Match(strings.ToLower(pattern), strings.ToLower(file))
		return err == nil && ok
	})
}

// LayoutFor returns the first layout that is for a file; nil when there is none.
func LayoutFor(layouts []Layout, name string) *Layout {
	for i := range layouts {
		if layouts[i].matches(name) {
			return &layouts[i]
		}
	}
	return nil
}

// direction is what a layout says of every cast.
func (t Travel) direction() section.Direction {
	switch t {
	case TravelDown, TravelBoth:
		return section.Down
	case TravelUp:
		return section.Up
	}
	return section.DirectionUnknown
}
