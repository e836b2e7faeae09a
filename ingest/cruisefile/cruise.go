// Package cruisefile turns a cruise file (YAML) into values. The schema is strict: an unknown or misspelt key is an
// error with line, column and the nearest valid key. Everything has a default except what only a person can say;
// defaults that scale with the depth and spacing at hand stay "not set" here (nil, 0, "" or NaN as each field says)
// and are filled in where the numbers are known.
package cruisefile

import (
	"slices"
	"time"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// A Cruise is one cruise file.
type Cruise struct {
	metadata.Cruise // Systems and DepthFound of it are those below

	Systems    []System
	Casts      Casts
	Sections   []Section
	Fields     []MapField
	TimeSeries []TimeSeries // nil: those of UsualSeries; empty: none
	Figures    Figures
	Quality    Quality
	OmitInputs bool     // the archive carries no inputs
	Derived    []string // derived variables wanted in the cast file beside the defaults; names of the metadata table

	File metadata.Position // where the file was read from
}

// A System is a set of sensors and the stations that were taken with it.
type System struct {
	metadata.System
	Stations StationList // empty: all stations that no other system claims
	At       metadata.Position
}

// Casts says where casts come from and what to do with them.
type Casts struct {
	Sources      []ingest.Source
	Bottles      []ingest.Source // exchange bottle files
	Edits        []ingest.Source // flag edits (CSV)
	Stations     StationTable
	Bathymetry   ingest.Source // CF NetCDF grid
	LeaveOut     []LeaveOut
	Renumber     []Renumber
	Direction    section.Direction // default of all casts; Down when not given
	Up           CastList          // casts that are upcasts
	Roles        []RoleOf
	TimeIs       section.TimeMeaning
	DepthFound   string // how bottom depth was found, words
	Lake         bool   // water: lake
	IceShelf     bool
	IceBaseM     float64 // NaN when not given
	Uncalibrated bool    // flag 1 counts as usable
	Clock        []Clock
	MaxGapDbar   *float64 // nil: the gap rule; +Inf: none
	// lines that cannot be read are skipped, values that are no numbers are missing with flag 4
	Lenient bool
	Reports []Report
	Aliases []ingest.Alias  // names of columns and units that the reader does not know
	Layouts []ingest.Layout // of text files that are not exchange files
}

// Named returns every file, folder and pattern that the cruise file names, in its order.
func (c *Cruise) Named() []ingest.Source {
	all := slices.Concat(c.Casts.Sources, c.Casts.Bottles, c.Casts.Edits,
		[]ingest.Source{c.Casts.Stations.Source, c.Casts.Bathymetry})
	for i := range c.Sections {
		all = append(all, c.Sections[i].Known, c.Sections[i].Anomaly.With)
	}
	return slices.DeleteFunc(all, func(s ingest.Source) bool { return s.Path == "" })
}

// StationTable is a station table (CSV), or a log with a mapping of its columns.
type StationTable struct {
	ingest.Source
	ingest.LogMapping
}

// LeaveOut names a cast that is not read further, and why.
type LeaveOut struct {
	Cast   CastName
	File   string // instead of Cast: the file that cannot be read
	Reason string
	At     metadata.Position
}

// Renumber gives a cast another station or cast number.
type Renumber struct {
	File     string // the cast of this file; "": From says which
	From, To CastName
	Why      string
	At       metadata.Position
}

// RoleOf gives casts a role other than primary.
type RoleOf struct {
	Role  section.Role
	Casts CastList
	At    metadata.Position
}

// Report says that the second sensor of a pair is reported under the name of the first.
type Report struct {
	First, Second string      // variables: psal, psal2
	Stations      StationList // empty: all
	At            metadata.Position
}

// Clock is an offset of the ship's clock or the declared zone of logged times, for a run of stations.
type Clock struct {
	Stations StationList
	Offset   time.Duration // added to the logged time to get UTC
	Of       ClockOf
	At       metadata.Position
}

// ClockOf says which logged times a Clock is about.
type ClockOf uint8

// The zero value is all of them.
const (
	ClockOfAll   ClockOf = iota
	ClockOfFiles         // those in the headers of casts and in bottle files
	ClockOfTable         // those of the station table
)

// CastName names one cast: station and cast number, and the expocode when the cruise has several ("" otherwise).
type CastName struct{ Expocode, Station, Number string }

// CastList and StationList are the station-list notation of the cruise file, see section.ParseStations.
type (
	CastList    = section.StationList
	StationList = section.StationList
)

// Section is one section to make: its casts and distances (section.BuildOptions: Name, Stations, Repeats, Distance),
// velocities and grid.
type Section struct {
	section.BuildOptions
	Title    string
	Planned  StationList // stations that were planned
	Velocity geostrophy.Options
	Known    ingest.Source // table of levels or velocities, which Velocity.Reference.Known comes from
	Grid     Grid
	Anomaly  Anomaly
	At       metadata.Position
}

// Anomaly is what a section is compared with: the mapped section of an earlier archive, or a climatology.
type Anomaly struct {
	With  ingest.Source // CF NetCDF; no path: none
	Month int           // of a climatology that has months; 0: not given
	Label string        // what the reference is called; "": the name of the file
}

// Grid says how a section or field is gridded.
type Grid struct {
	None bool // no grid
	gridding.Options
	At metadata.Position
}

// MapField is one longitude by latitude by pressure field to make.
type MapField struct {
	Name     string
	Stations StationList
	gridding.Area
	Grid     Grid
	Surfaces Surfaces // of potential density, on which the field is wanted too
	At       metadata.Position
}

// Surfaces are surfaces of equal potential density; the zero value is none.
type Surfaces struct {
	Density string    // sigma0 ... sigma4
	Values  []float64 // kg/m3
}

// TimeSeries is one series of casts at one position to make, of time by pressure.
type TimeSeries struct {
	section.SeriesOptions
	Title string
	// differences are drawn from the first cast instead of from the mean of all
	FromFirst bool
	At        metadata.Position
}

// Figures chooses figures. The zero value makes the default set.
type Figures struct {
	None      bool
	Only      []FigureKind // empty: the default kinds
	Formats   []Format     // empty: all
	Widths    []Width      // empty: two columns
	Overlay   string       // density lines over sections: "", or the name of a potential density anomaly
	UpperDbar float64      // bottom of the expanded upper panel; 0: scaled
	Axis      SecondAxis
	Colour    Colour

	Levels      map[string]Levels     // by variable
	Range       map[string][2]float64 // by variable: levels and colours are for values from one to the other
	Share       bool                  // all sections have the same levels
	Vertical    Vertical
	Dots        bool
	Plots       []Plot
	FieldLevels []float64 // dbar; nil: chosen
	OnDensity   string    // sections against this density too: "", or the name of a potential density anomaly
	Resolution  int       // dots per inch of PNG files; 0: 300
	At          metadata.Position
}

// Levels are level lines as asked for: values, or a step.
type Levels struct {
	Values []float64
	Step   float64
}

// Plot is one variable of casts against another.
type Plot struct {
	X, Y string
	At   metadata.Position
}

// Vertical is what the numbers of the vertical axis of figures are; "" is pressure.
type Vertical string

// FigureKind is a kind of figure.
type FigureKind string

// Format is a format of figures.
type Format string

// Width is a width of figures.
type Width string

// SecondAxis is the second axis of sections; "" is the one that varies more.
type SecondAxis string

// Colour is what the colour of a cast means; "" is station.
type Colour string

// The words of the settings of figures.
const (
	FigureSection             FigureKind = "section"
	FigureVelocity            FigureKind = "velocity"
	FigureTemperatureSalinity FigureKind = "temperature_salinity"
	FigureOxygenDensity       FigureKind = "oxygen_density"
	FigureMap                 FigureKind = "map"
	FigureProfiles            FigureKind = "profiles"
	FigureError               FigureKind = "error"
	FigureSkill               FigureKind = "skill"
	FigureOverview            FigureKind = "overview"
	FigureField               FigureKind = "field"
	FigureAnomaly             FigureKind = "anomaly"
	FigureTimeSeries          FigureKind = "time_series"
	FigureDifferences         FigureKind = "differences"
	FigureSensorPairs         FigureKind = "sensor_pairs"
	FigureBottleComparison    FigureKind = "bottle_comparison"

	SVG Format = "svg"
	PDF Format = "pdf"
	PNG Format = "png"

	OneColumn  Width = "one_column"
	TwoColumns Width = "two_columns"

	Latitude  SecondAxis = "latitude"
	Longitude SecondAxis = "longitude"

	ByPressure Vertical = "pressure"
	ByDepth    Vertical = "depth"

	ByStation  Colour = "station"
	ByLatitude Colour = "latitude"
)

// Quality is what persons decided about the findings of the checks.
type Quality struct {
	Apply      []string           // checks whose proposals become flags without a person
	Thresholds map[string]float64 // CHECK.NAME to the number that replaces the default
	Accept     []Accept
	Signed     Signed
	At         metadata.Position
}

// Accept closes one finding. It is of exactly the cast, variable, pressures and file of that finding, so that
// nothing found later is accepted with it.
type Accept struct {
	ID               string // of the check
	Cast             CastName
	Variable         string
	Pressure         [2]float64 // first and last, dbar; NaN when the finding has none
	File             string     // of a finding without pressures: as it is printed, with the line
	Initials, Reason string
	At               metadata.Position
}

// Signed says who signed the judgement of the data, and when.
type Signed struct {
	By, Date string
}
