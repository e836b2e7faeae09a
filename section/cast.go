package section

import (
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
)

// Direction says which way the instrument moved while the values of a cast were taken.
type Direction uint8

// Directions; the zero value makes no claim. The numbers are those of the NetCDF variable cast_direction.
const (
	DirectionUnknown Direction = iota
	Down
	Up
)

var directionWords = [...]string{"unknown", "down", "up"}

// String returns the word of the cruise file.
func (d Direction) String() string { return directionWords[d] }

// Role says what a cast is for. Only primary casts enter sections unless a section says otherwise.
type Role uint8

// Roles; the numbers are those of the NetCDF variable cast_role.
const (
	Unstated Role = iota
	Primary
	Repeat
	Yoyo
	Test
	Aborted
	Calibration
	Other // of no product beyond the files of casts
)

var roleWords = [...]string{"unstated", "primary", "repeat", "yoyo", "test", "aborted", "calibration", "other"}

// String returns the word of the cruise file.
func (r Role) String() string { return roleWords[r] }

// TimeMeaning says what the logged time of a cast is the time of.
type TimeMeaning uint8

// Meanings of a cast's time; the zero value makes no claim.
const (
	TimeUnstated TimeMeaning = iota
	AtStart
	AtBottom
	AtEnd
)

var timeWords = [...]string{"unstated", "start", "bottom", "end"}

// String returns the word of the cruise file.
func (t TimeMeaning) String() string { return timeWords[t] }

// A Cast is one binned cast: columns of values on one pressure axis, and what its file says about it.
type Cast struct {
	Expocode  string
	SectionID string // section designation of the file's header; "" when absent
	Station   string // text: leading zeros and letters count
	Number    string // cast number as written
	Direction Direction
	Role      Role
	System    string // label of its set of sensors in the cruise file; "" when unknown
	Lake      bool   // water of a lake: neither the Baltic rule nor the anomaly atlas applies

	At         orb.Point // longitude, latitude: degrees east (-180..180), degrees north
	AtDecimals [2]int    // digits after the point of longitude and latitude as read; -1 not from text
	AtText     [2]string // longitude and latitude as read, where value and decimals do not give it back; else ""
	Time       time.Time // UTC, as logged; zero when not even the date is known
	TimeIs     TimeMeaning
	DateOnly   bool // the file gives a date but no time of day

	BottomM        float64 // water depth in metres; NaN when unknown
	BottomDecimals int
	BottomText     string // as AtText

	// sea pressure as read, the Values of the column named "pres"; kernels take the usable increasing levels
	PressureDbar []float64
	Columns      []Column // in the order of the file, "pres" among them; each as long as PressureDbar

	Stamp    string    // text after "CTD," in the first line of an exchange file; "" when absent
	Comments []Comment // comment lines of the file, in order
	Headers  []Header  // header lines that have no field here ("user headers"), in order

	Source metadata.Digest
	Layout string // name of the layout of the file that it was read from; "" for other formats
}

// A Comment is one comment line of an exchange file with its leading '#', and where it stood.
type Comment struct {
	Text  string
	Place CommentPlace
	Level int // for InData: number of data lines before it
}

// CommentPlace says in which part of an exchange file a comment stood.
type CommentPlace uint8

// Places of comments.
const (
	InHead    CommentPlace = iota // between the first line and the header block (where the standard wants them)
	InHeaders                     // inside the header block, before the parameter or unit line
	InData                        // between data lines
	AfterEnd                      // after END_DATA; such lines need no '#'
)

// A Header is one NAME = VALUE line kept as read.
type Header struct{ Name, Value string }

// A Column is one quantity of a cast.
type Column struct {
	metadata.Variable
	Decimals   int      // digits after the point when written, as most values had; -1: not from text
	Exceptions []Digits // values with other digits, in order of their levels; nil: none
	// characters of every value in the text it was read from, blanks included; 0 when they differ or it was not text
	Width  int
	Values []float64 // NaN where missing; nil for a text column
	// values of a column that is kept as text (other flag schemes, unlisted text); nil for numbers
	Text     []string
	Flags    []metadata.Flag // in force; nil when the file has no flag column
	Proposed []metadata.Flag // what the automatic checks would set; nil when none was run
	Derived  bool            // computed by us, not read
	// variable that the values were read as, where another sensor of the pair is reported under its name; else ""
	Sensor    string
	Converted Conversion // of the values when they were read; the zero value when they are as read
}

// A Conversion says from which scale or unit to which values were brought, and by which formula when it is more than a
// factor.
type Conversion struct{ From, To, Formula string }

// ID returns the identity of a cast: EXPOCODE_SSSSS_CCCCC, station and cast padded with zeros to five characters.
// Casts whose stations differ only by leading zeros need IDs of their own: see IDs.
func (c *Cast) ID() string { return c.Expocode + "_" + pad5(c.Station) + "_" + pad5(c.Number) }

func pad5(s string) string {
	for len(s) < 5 {
		s = "0" + s
	}
	return s
}

// Column finds a column by variable name; nil when the cast has none.
func (c *Cast) Column(name string) *Column {
	for i := range c.Columns {
		if c.Columns[i].Name == name {
			return &c.Columns[i]
		}
	}
	return nil
}

// Levels is the number of levels.
func (c *Cast) Levels() int { return len(c.PressureDbar) }
