package section

import (
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
)

// Bottles is one exchange bottle file: a line for each bottle closed, and the columns measured on it.
type Bottles struct {
	Stamp    string // text after "BOTTLE," in the first line
	Comments []Comment
	Rows     []Bottle
	Flagged  bool           // the file has a flag for each bottle (BTLNBR_FLAG_W)
	Columns  []BottleColumn // in the order of the file, "pres" among them; each as long as Rows
	Source   metadata.Digest
}

// A Bottle says which bottle a line is about, where and when. Expocode, Station, Cast and Sample together name one line
// of a file.
type Bottle struct {
	Expocode, SectionID   string
	Station, Cast, Sample string
	Bottle                string // bottle number; "" when not given
	Flag                  metadata.BottleFlag
	At                    orb.Point // longitude, latitude: degrees east, degrees north
	Time                  time.Time // UTC
	DateOnly              bool      // no time of day is known
	BottomM               float64   // water depth in metres; NaN when unknown
	AtDecimals            [2]int    // digits after the point of longitude and latitude as read
	BottomDecimals        int       // of the water depth
	// longitude and latitude as read, where value and decimals do not give it back; else ""
	AtText     [2]string
	BottomText string // as AtText
}

// A BottleColumn is one quantity at each bottle: a CTD value at the closure, or what was measured in the water drawn.
type BottleColumn struct {
	metadata.Variable
	Decimals    int                   // digits after the point when written, as most values had; -1: not from text
	Exceptions  []Digits              // values with other digits, in order; nil: none
	Width       int                   // characters of every value as read; 0 when they differ
	Values      []float64             // NaN where missing; nil for a text column
	Text        []string              // values of a column kept as text; nil for numbers
	Flags       []metadata.Flag       // of a CTD parameter; nil when there are none
	SampleFlags []metadata.SampleFlag // of any other; nil when there are none
}

// Column finds a column by variable name; nil when there is none.
func (b *Bottles) Column(name string) *BottleColumn {
	for i := range b.Columns {
		if b.Columns[i].Name == name {
			return &b.Columns[i]
		}
	}
	return nil
}
