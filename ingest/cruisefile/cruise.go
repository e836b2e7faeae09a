// Package cruisefile turns a cruise file (YAML) into values. The schema is strict: an unknown or misspelt key is an error with line,
// column and the nearest valid key. Everything has a default except what only a person knows; defaults that scale with the
// depth and spacing at hand stay "not set" here (nil, 0, "" or NaN as each field says) and are filled in where the numbers are known.
package cruisefile

import (
	"slices"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A Cruise is one cruise file.
type Cruise struct {
	metadata.Cruise

	Systems  []System
	Casts    Casts
	Sections []Section
	Fields   []MapField
	Figures  Figures
	Inputs   string   // "keep" (default) or "omit"
	Derived  []string // derived variables wanted in the cast file beside the defaults; names of the metadata table

	File metadata.Position // where the file was read from
}

// System is one set of sensors and the stations that were taken with it.
type System struct {
	metadata.System
	Stations StationList // empty: all stations that no other system claims
}

// Casts says where casts come from and what to do with them.
type Casts struct {
	Sources      []Source
	Bottles      []Source // exchange bottle files
	Edits        []Source // flag edits (CSV)
	Stations     Source   // station table (CSV)
	Bathymetry   Source   // CF NetCDF grid
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
	Lenient      bool     // lines that cannot be read are skipped, values that are no numbers are missing with flag 4
	Aliases      []Alias  // names of columns and units that the reader does not know
}

// Named returns every file, folder and pattern that the cruise file names, in its order.
func (c *Cruise) Named() []Source {
	all := slices.Concat(c.Casts.Sources, c.Casts.Bottles, c.Casts.Edits, []Source{c.Casts.Stations, c.Casts.Bathymetry})
	for i := range c.Sections {
		all = append(all, c.Sections[i].Reference.File)
	}
	return slices.DeleteFunc(all, func(s Source) bool { return s.Path == "" })
}

// Source is one file, folder or glob, relative to the cruise file, slash-separated.
type Source struct {
	Path string
	At   metadata.Position
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

// Alias tells the reader what an unlisted column name or unit is.
type Alias struct {
	Column, Unit string // as read
	Means        string // our variable name
	At           metadata.Position
}

// CastName names one cast: station and cast number, and the expocode when the cruise has several ("" otherwise).
type CastName struct{ Expocode, Station, Number string }

// CastList and StationList are the station-list notation of the cruise file, see section.ParseStations.
type (
	CastList    = section.StationList
	StationList = section.StationList
)

// Section is one section to make.
type Section struct {
	Name                 string
	Title                string
	Stations             StationList
	Planned              StationList // stations that were planned; the missing ones are said
	Reference            Reference
	Interpolation        string // linear, pchip (default), rotated
	Distance             string // geodesic (default) or sphere
	Positive             string // left (default), right, east, north
	Triangle             string // none, constant_velocity (default), constant_shear, linear_to_zero
	Bottom               string // depth (default) or deepest_bin
	MaxGapDbar           *float64
	SurfaceCarryDbar     float64 // NaN: 20
	Repeats              string  // "", deepest, first, last, nearest_in_time, mean
	Grid                 Grid
	Layers               []float64 // dbar bounds of transport layers
	Classes              Classes
	Uncertainty          Uncertainty
	ReferenceSalinity    float64 // Sm of freshwater transport; NaN: section mean
	ReferenceTemperature float64 // for heat transport; NaN: none stated
	EquatorialEstimate   bool
	At                   metadata.Position
}

// Reference is the level of known motion.
type Reference struct {
	Kind         string  // pressure, deepest (default), density, levels, velocities
	PressureDbar float64 // with pressure
	Density      float64 // with density: value of the potential density anomaly, kg/m3
	SigmaDbar    float64 // its reference pressure: 0, 1000 .. 4000
	File         Source  // with levels and velocities: CSV
	At           metadata.Position
}

// Grid says how a section or map is gridded. Zero and NaN mean: scaled to the data at hand.
type Grid struct {
	Method     string // optimal (default), linear, successive, triangles, natural, density, choose, none
	StepKm     float64
	StepDbar   float64
	LengthKm   float64 // NaN or 0: twice the local station spacing
	LengthDbar float64
	Noise      float64  // noise over signal variance; 0: 0.02
	Neighbours int      // 0: 60
	MaxError   float64  // mask above this normalised error variance; 0: 0.5
	Vertical   string   // linear, pchip, akima, reiniger-ross: vertical interpolation where one is needed
	Variables  []string // empty: ctemp, asal, and oxy when measured
	At         metadata.Position
}

// Classes are the density classes of transports.
type Classes struct {
	SigmaDbar float64   // reference pressure of the potential density anomaly
	Bounds    []float64 // kg/m3, increasing
}

// Uncertainty chooses a Monte-Carlo estimate beside the formulas.
type Uncertainty struct {
	Members int // 0: none
	Seed    int64
}

// MapField is one longitude x latitude x pressure field to make.
type MapField struct {
	Name                                    string
	Stations                                StationList
	LonMin, LonMax, LatMin, LatMax, StepDeg float64 // NaN: from the casts
	StepLonDeg, StepLatDeg                  float64
	Levels                                  []float64 // dbar; empty: scaled
	Grid                                    Grid
	At                                      metadata.Position
}

// Figures chooses figures. The zero value makes the default set.
type Figures struct {
	None      bool
	Only      []string // kinds: section, velocity, temperature_salinity, oxygen_density, map, profiles, error, skill
	Formats   []string // svg, pdf, png; empty: all
	Widths    []string // one_column, two_columns; empty: two_columns
	Overlay   string   // density lines over sections: "", sigma0 .. sigma4
	UpperDbar float64  // bottom of the expanded upper panel; 0: scaled
	Axis      string   // second axis: latitude, longitude, "" automatic
	Colour    string   // what the colour of a cast means: "", station, latitude
	At        metadata.Position
}
