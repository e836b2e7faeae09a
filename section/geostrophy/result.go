package geostrophy

import (
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// Status is whether a pair has numbers, and if not, why. The numbers are those of the NetCDF variable pair_status.
type Status uint8

// Statuses of a pair. Up to Questionable the pair has a velocity; beyond it has none.
const (
	Computed         Status = iota
	Questionable            // a station lies 3 to 5 degrees from the equator: kept, for a person to decide
	WithheldEquator         // a station within 3 degrees of the equator, or the pair crosses it
	WithheldClose           // stations less than 2 km apart
	WithheldNoLevels        // no two common levels
	WithheldNoData          // a cast has fewer than two usable levels of temperature and salinity
	WithheldPosition        // a station has no position
	WithheldNoKnown         // no known velocity or level was given for this pair
)

var statusWords = [...]string{
	"computed", "questionable_near_equator", "withheld_at_equator", "withheld_stations_too_close",
	"withheld_no_common_levels",
	"withheld_no_usable_data", "withheld_no_position", "withheld_no_reference_given",
}

// String returns the word used in flag_meanings and tables.
func (s Status) String() string { return statusWords[s] }

// Statuses lists every status in the order of its number.
func Statuses() []Status {
	out := make([]Status, len(statusWords))
	for i := range out {
		out[i] = Status(i)
	}
	return out
}

// HasVelocity reports whether a pair of this status carries numbers.
func (s Status) HasVelocity() bool { return s <= Questionable }

// Kind is a kind of transport.
type Kind uint8

// Kinds of transport. Heat is the transport of temperature with a stated reference temperature, and NaN without one.
const (
	Volume      Kind = iota // m3 s-1
	Mass                    // kg s-1
	Temperature             // W: density times cp0 times Conservative Temperature (zero at 0 degC)
	Salt                    // kg s-1 of salt: density times SA/1000
	Freshwater              // kg s-1: -density (SA - Sm)/Sm
	Heat                    // W: density times cp0 times (Conservative Temperature - reference temperature)
	Kinds       = 6
)

var kindWords = [Kinds]string{"volume", "mass", "temperature", "salt", "freshwater", "heat"}
var kindUnits = [Kinds]string{"m3 s-1", "kg s-1", "W", "kg s-1", "kg s-1", "W"}

// String returns the word used in tables.
func (k Kind) String() string { return kindWords[k] }

// Units returns the units, UDUNITS.
func (k Kind) Units() string { return kindUnits[k] }

// A Sum is one transport and what is known of its error, all in the units of its kind. NaN: not known or not asked for.
// The errors are standard errors.
type Sum struct {
	Value float64

	Stated float64 // root of the sum of squares of the four parts below
	// part: errors of salinity, temperature and pressure of single casts, independent between casts
	PerCast float64
	// part: errors common to all casts of one system, independent between systems; 0 where no accuracy is split
	Common        float64
	Position      float64 // part: positions of the casts
	KnownVelocity float64 // part: stated errors of the known velocities; 0 when none are used
	// what PerCast would be instead if the errors were the same on all casts of a system; NaN where each accuracy is
	// split
	IfCommon float64

	// Standard deviation, 2.5 and 97.5 percent points of the members; NaN when none were run. Of the layers and classes
	// of single pairs the standard deviation only.
	MonteCarlo, Low, High float64
}

// Sums is one Sum for each kind of transport.
type Sums [Kinds]Sum

// A Band is one layer (dbar) or density class (kg/m3). Lower and Upper are its bounds as numbers (Lower < Upper); the
// outer ones may be -Inf and +Inf, so that the bands sum to the whole.
type Band struct{ Lower, Upper float64 }

// A BottomSource is where the bottom depth of a station is from, in words.
type BottomSource string

// Sources of a bottom depth.
const (
	FromNothing    BottomSource = "unknown"
	FromWaterDepth BottomSource = "water depth"
	FromAltimeter  BottomSource = "altimeter"
	FromDeepestBin BottomSource = "deepest bin"
)

// A Station is one cast that takes part, with its dynamic height.
type Station struct {
	Cast       *section.Cast
	DistanceKm float64 // along the section from its first station
	BottomM    float64 // depth of the bottom used for triangles, m
	BottomFrom BottomSource

	PressureDbar  []float64 // usable levels
	DynamicHeight []float64 // m2/s2 relative to ReferenceDbar; NaN where not joined to it
	ReferenceDbar float64
	Reason        string // why DynamicHeight is empty or incomplete; "" when complete
}

// A LeftOut is a cast of the section that takes no part, and why.
type LeftOut struct {
	Cast   *section.Cast
	Reason string
}

// A Pair is two neighbouring stations A and B (indices into Result.Stations, in section order) and everything between
// them. Slices are as long as PressureDbar and nil when the pair is withheld, its numbers NaN but for what follows from
// the positions alone. Signs: positive towards PositiveDeg.
type Pair struct {
	ID             string // SECTION_STATIONA_STATIONB
	A, B           int
	Midpoint       orb.Point // geodesic midpoint: degrees east, degrees north
	Time           time.Time // mean of the two cast times; zero when one is unknown
	LengthKm       float64   // separation of the stations
	FromKm, ToKm   float64   // distance along the section of A and B
	AzimuthDeg     float64   // true bearing A to B at the midpoint
	PositiveDeg    float64   // true bearing towards which velocity and transport are positive
	CoriolisPerSec float64   // f at the middle latitude, signed
	Status         Status
	Reason         string  // why the pair is withheld or questionable; "" otherwise
	Notes          []Note  // limits of a pair with numbers
	bridgeDbar     float64 // the max_gap with which a withheld pair would have a velocity; 0: none would

	LevelRule         string  // "common bins" or "union of bins"
	DeepestCommonDbar float64 // deepest common level, DCL
	ReferenceDbar     float64 // reference level used
	ReferenceFallback string  // "" when the level asked for was used, else what was done instead and why
	KnownVelocity     float64 // m/s at ReferenceDbar, 0 when that is a level of no motion
	KnownVelocityErr  float64 // its standard error, 0 when none is stated

	PressureDbar []float64 // common levels, increasing
	HeightA      []float64 // dynamic height of A and B at them, m2/s2 relative to ReferenceDbar
	HeightB      []float64
	Velocity     []float64 // m/s
	Shear        []float64 // dv/dz, 1/s (z upwards), centred differences
	VelocityErr  []float64 // m/s, stated standard error
	PerCastErr   []float64 // m/s, part of errors of single casts
	CommonErr    []float64 // m/s, part common to the casts of a system; 0 where no accuracy is split
	// m/s, what PerCastErr would be instead if the errors were the same on all casts of a system; NaN where each
	// accuracy is split
	IfCommonErr []float64
	MonteCarlo  []float64 // m/s, standard deviation of the members; nil when none were run

	SurfaceCarriedM float64 // metres above the first common level that took its velocity; 0 when left unsampled
	TopUnsampledM   float64 // metres above the first common level without velocity
	TriangleSampled bool    // false: the casts did not reach near enough to the bottom for a triangle
	// heights of the two bottoms below the deepest level with a velocity (the DCL but for a gap), m (z at the middle
	// latitude)
	BottomAM          float64
	BottomBM          float64
	UnsampledAreaM2   float64                    // area below the DCL without a triangle; 0 when there is one
	Transport         Sums                       // surface to bottom, triangle as chosen
	AboveTriangle     [Kinds]float64             // surface to DCL
	Triangle          [Treatments][Kinds]float64 // added by each treatment; 0 when there is no triangle
	SecondReference   float64                    // dbar, of the second opinion
	SecondTransport   [Kinds]float64             // Transport.Value with the second reference
	Layers            []Sums                     // for each of Result.Layers
	Classes           []Sums                     // for each of Result.Classes
	Cumulative        Sums                       // sum of this and all pairs before it that have numbers
	CumulativePartial bool                       // a pair before this one was withheld
}

// A Partial is what a total leaves out.
type Partial struct {
	Pairs, Of       int     // pairs with numbers, of all
	Km, OfKm        float64 // their length, of all
	Unsampled       int     // pairs with an unsampled part below the DCL
	UnsampledAreaM2 float64
	TopUnsampled    int // pairs without velocity near the surface

	TopUnsampledAreaM2 float64
	CarriedM           float64 // greatest thickness carried to the surface, m
	// for a person: "partial: n of m pairs, x of y km; withheld n: why" or "all of m pairs, y km", and what is
	// unsampled
	Statement string
}

// An Equatorial is the estimate of zonal velocity at one station near the equator from the curvature of dynamic height
// along a meridional line (Picaut and Tournier 1991; Lagerloef et al. 1999). Made only on request.
type Equatorial struct {
	Station       int // middle one of three
	PressureDbar  []float64
	Eastward      []float64 // m/s relative to ReferenceDbar, positive east
	ReferenceDbar float64
	Reason        string // why there is none; "" when there is
}

// A Result is all that Compute found for one section. Transports are of the pairs that have numbers.
type Result struct {
	Section string
	// common axis on which Spread puts values; nil when bins are too scattered for one: use the pairs' own
	PressureDbar []float64
	Stations     []Station
	LeftOut      []LeftOut
	Pairs        []Pair
	Positive     Direction // in force: as asked for, else in for a closed line and left for others
	// DeepestBinIsBottom says that the deepest usable bin was taken for the bottom, as the options asked.
	DeepestBinIsBottom bool
	Distance           section.Method

	Layers         []Band // dbar
	Classes        []Band // kg/m3, of the potential density anomaly referred to ClassSigmaDbar
	ClassSigmaDbar float64

	Total                Sums // whole section; NaN, as all totals, where no pair has numbers
	LayerTotal           []Sums
	ClassTotal           []Sums
	ByTreatment          [Treatments][Kinds]float64 // whole section with each treatment of the triangles
	SecondTotal          [Kinds]float64             // whole section with the second reference
	SecondLabel          string                     // what the second reference is
	Partial              Partial
	HeatAllowed          bool    // the temperature transport may be called heat transport
	HeatWhy              string  // why, or why not
	ReferenceSalinity    float64 // Sm, g/kg
	ReferenceTemperature float64 // degC: that stated, else the mean of a closed line; NaN for other lines

	Budget          *Budget // of a closed line; nil for others
	commonReference bool    // the reference asked for is one level, or one density, for all pairs

	Equatorial []Equatorial
	Params     []metadata.Param // every setting, defaults included, in a fixed order
	Notes      []string         // what a reader of the numbers must know
	Findings   []Finding        // what a person should look at
}

// Spread puts values, given at increasing pressures p that all lie on axis, on the axis into dst (as long as the axis)
// and returns it; NaN elsewhere. values nil gives all NaN.
func Spread(dst, axis, p, values []float64) []float64 {
	j := 0
	for i, a := range axis {
		dst[i] = nan
		for j < len(values) && p[j] < a {
			j++
		}
		if j < len(values) && p[j] == a {
			dst[i] = values[j]
		}
	}
	return dst
}
