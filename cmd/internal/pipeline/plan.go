package pipeline

import (
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
)

// DefaultProgram is the program and its version where a plan does not state it.
const DefaultProgram = "castwright 0.1.0"

// A Plan is all that a run needs to know.
type Plan struct {
	Program    string // this program and its version as records, history lines and bags name it; "": DefaultProgram
	CruiseFile string // path of the cruise file
	Out        string // folder in which the archive (named after the cruise) appears
	Workers    int    // 0: one for each processor
	Epoch      time.Time
	Now        time.Time                   // for "date in the future", judged by check only; zero: not judged
	Progress   func(done, total int)       // nil: none
	Stage      func(string, time.Duration) // told the wall time of each stage; nil: nobody
	File       func(what, name string)     // told each file that was read, and each that is written next; nil: nobody
	Only       string                      // build only: the section or series to make, in a folder that is no archive
	Record     bool                        // check only: write inputs.sha256 beside the cruise file
	Compared   *Compared                   // nil: everything is made
	Watched    *Watched                    // nil: an archive to keep
	// inputs with absolute names are looked for below it; "": where they say (rebuild sets it)
	Root string
}

// Compared says what a build takes from an archive that its result is compared with, because making it again takes
// long.
type Compared struct {
	// the grid file rel of the archive can be read; where it cannot, the whole grid is mapped
	Has func(rel string) bool
	// numbers of the columns to map of the n columns of a grid file
	Columns func(rel string, n int) []int
	// data of a field in a grid file of the archive; nil when it has none
	Grid func(rel string, f *gridding.Field) []float64
	// the archive has this picture in data/figures: it is not drawn
	Figure func(name string) bool
	// the archive has the page: it is not made
	Page bool
}

// sample returns the mapping options for the grid in the archive file rel; nil when the whole grid is mapped.
func (c *Compared) sample(rel string) *gridding.Sample {
	if c == nil || !c.Has(rel) {
		return nil
	}
	return &gridding.Sample{Columns: func(n int) []int { return c.Columns(rel, n) },
		Known: func(f *gridding.Field) []float64 { return c.Grid(rel, f) }}
}

// A Product is what a run made.
type Product struct {
	Path     string // the archive; "" when none was made
	Cruise   string
	Casts    int
	LeftOut  int
	Sections []SectionSummary
	Files    int
	Bytes    int64
	Findings []metadata.Finding // said once where they are the same
	Found    []metadata.Finding // each where it was found
	Open     Proposals
	Ledger   []export.LedgerRow // every cast, line of the log and planned station
	// the casts as the cruise file, the edits and the sections know them, in the order of the archive
	List []CastSummary
}

// CastSummary is a cast in a line.
type CastSummary struct {
	ID        string  `json:"id"`
	Expocode  string  `json:"expocode"`
	Station   string  `json:"station"`
	Number    string  `json:"cast"`
	Role      string  `json:"role"`
	System    string  `json:"system"` // "" when none is declared
	Levels    int     `json:"levels"`
	FirstDbar float64 `json:"first_pressure_dbar"`
	LastDbar  float64 `json:"last_pressure_dbar"`
	File      string  `json:"file"`
}

// SectionSummary is a section in a line or two.
type SectionSummary struct {
	Name     string  `json:"name"`
	Stations int     `json:"stations"`
	LengthKm float64 `json:"length_km"`
	Pairs    int     `json:"pairs"`
	Withheld int     `json:"withheld"`
	Total    string  `json:"transport"` // in words, with what is left out
}
