package geostrophy

import (
	"errors"
	"math"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
	"github.com/paulmach/orb"
)

var (
	nan    = math.NaN()
	negInf = math.Inf(-1)
)

// Errors of settings and of sections; always wrapped with the values at hand.
var (
	ErrSetting      = errors.New("setting is not valid")
	ErrDirection    = errors.New("positive direction is undefined on this line")
	ErrTooFew       = errors.New("a section needs at least two stations")
	ErrNoReference  = errors.New("reference is outside the usable levels")
	ErrTooFewLevels = errors.New("fewer than two usable levels")
)

// ReferenceKind is a way to choose the level of known motion.
type ReferenceKind uint8

// Kinds of reference; the zero value is the default.
const (
	AtDeepest    ReferenceKind = iota // deepest common level
	AtPressure                        // one pressure; the deepest common level where a pair is shallower
	AtDensity                         // where the pair-mean potential density anomaly crosses a value
	AtLevels                          // a pressure for each pair
	AtVelocities                      // a known velocity at a pressure for each pair
)

var referenceWords = [...]string{"deepest", "pressure", "density", "levels", "velocities"}

// String returns the word of the cruise file.
func (k ReferenceKind) String() string { return referenceWords[k] }

// A Reference is the level of known motion.
type Reference struct {
	Kind         ReferenceKind
	PressureDbar float64 // AtPressure
	Density      float64 // AtDensity: potential density anomaly, kg/m3
	SigmaDbar    float64 // AtDensity: its reference pressure, 0, 1000 .. 4000
	Known        []Known // AtLevels, AtVelocities: one for each pair
}

// A Known is a level, and the velocity there, for the pair of two stations: their names, in either order, with
// EXPOCODE: before a name where stations of several legs have it.
type Known struct {
	StationA, StationB string
	PressureDbar       float64 // NaN: DepthM is given instead
	DepthM             float64
	Velocity           float64 // m/s, averaged over the pair, positive as Options.Positive says; 0 for AtLevels
	StandardError      float64 // m/s
}

// Of reports whether a known level is that of the pair of two casts.
func (k *Known) Of(a, b *section.Cast) bool {
	is := func(name string, c *section.Cast) bool { return name == c.Station || name == c.Expocode+":"+c.Station }
	return is(k.StationA, a) && is(k.StationB, b) || is(k.StationA, b) && is(k.StationB, a)
}

// Direction is the side towards which velocity counts as positive.
type Direction string

// Directions, as the cruise file names them; left and right are seen along the line, in and out are of what a closed
// line encloses.
const (
	Unstated Direction = "" // in for a closed line, left for others
	Left     Direction = "left"
	Right    Direction = "right"
	East     Direction = "east"
	North    Direction = "north"
	In       Direction = "in"
	Out      Direction = "out"
)

// Treatment is what flows in a bottom triangle, below the deepest common level and above the line joining the two
// bottoms.
type Treatment uint8

// Treatments, in the order of Pair.Triangle.
const (
	NoFlow           Treatment = iota // zero
	ConstantVelocity                  // the velocity of the deepest common level (default)
	ConstantShear                     // continued with the shear of the lowest 200 dbar
	LinearToZero                      // linear to zero at the deeper bottom
	Treatments       = 4
)

var treatmentWords = [Treatments]string{"none", "constant_velocity", "constant_shear", "linear_to_zero"}

// String returns the word of the cruise file.
func (t Treatment) String() string { return treatmentWords[t] }

// An Accuracy is the stated accuracy (one standard error) of one system of sensors. NaN: the default.
type Accuracy struct {
	System       string  // label of section.Cast.System; "" for casts of no named system and as the fallback
	Salinity     float64 // g/kg; default 0.002
	TemperatureK float64 // default 0.001
	PressureDbar float64 // default 3
	// part of the variance, 0..1, that is the same on every cast; NaN: no split, all of it counts as per cast
	CommonFraction float64
	// of salinity against bottles, in place of Salinity and of its part of CommonFraction; nil: none
	Residual *Residual
	// of salinity. Below adjusted, an error of temperature is one of salinity too, since that was computed with it
	Stage metadata.Stage
}

// A Residual is what is left of the differences of bottles and casts, in g/kg: a standard error of each cast, and one
// that all casts of the system have in common.
type Residual struct {
	PerCast, Common float64
	From            string // in words, for the record
}

// Options are the settings of Compute. Start from DefaultOptions: a zero number here is a zero.
type Options struct {
	Interpolation   interpolate.Method // Pchip (default), Linear or Rotated
	Reference       Reference
	SecondReference *Reference // nil: deepest common level, or half its pressure when that is the first (ours)
	// of the stations' dynamic height; NaN: the reference pressure with AtPressure, else 0
	HeightReferenceDbar  float64
	Distance             section.Method
	Positive             Direction
	Triangle             Treatment
	DeepestBinIsBottom   bool      // take the deepest usable bin for the bottom, whatever the water depth
	MaxGapDbar           *float64  // nil: the gap rule (section.Gaps); +Inf: no gap is one
	SurfaceCarryDbar     float64   // the first common velocity is carried to the surface from no deeper than this
	IceBaseM             float64   // the carry ends here, m below the surface; NaN: none stated
	IceShelf             bool      // casts were taken under ice
	Layers               []float64 // bounds, dbar, increasing
	ClassSigmaDbar       float64   // reference pressure of the classes' potential density anomaly: 0, 1000 .. 4000
	Classes              []float64 // bounds, kg/m3, increasing
	ReferenceSalinity    float64   // g/kg; NaN: section mean
	ReferenceTemperature float64   // degC; NaN: none stated
	EquatorialEstimate   bool
	NotCalibratedUsable  bool // values flagged "not calibrated" enter

	Accuracies                             []Accuracy
	PositionErrKm                          float64 // standard error of each of the two components of a position
	Members                                int     // of the Monte-Carlo estimate; 0: none
	Seed                                   int64
	BinNoiseSalinity, BinNoiseTemperatureK float64 // independent from bin to bin, Monte Carlo only; 0: none

	// Land reports whether a position is on land, for what a closed line encloses; nil: not asked.
	Land func(orb.Point) bool

	// Each runs do(0) .. do(n-1), in any order and on any number of goroutines; nil runs them in turn. Results do not
	// depend on it. When it returns an error, which says that not all were run, Compute returns that error.
	Each func(n int, do func(i int)) error
	// Stage is called when a stage begins: velocity, transport, monte carlo. May be nil.
	Stage func(name string)
}

// DefaultOptions returns the defaults of every setting.
func DefaultOptions() Options {
	return Options{
		Interpolation: interpolate.Pchip, HeightReferenceDbar: nan, Triangle: ConstantVelocity,
		SurfaceCarryDbar: 20, IceBaseM: nan,
		ReferenceSalinity: nan, ReferenceTemperature: nan, PositionErrKm: 0.1, Seed: 1,
	}
}

// DefaultAccuracy returns what is assumed of a system without a stated accuracy: 0.002 g/kg, 0.001 K and 3 dbar (WOCE
// targets, McTaggart et al. 2010), as errors of single casts, salinity of unknown calibration.
func DefaultAccuracy() Accuracy {
	return Accuracy{Salinity: 2e-3, TemperatureK: 1e-3, PressureDbar: 3, CommonFraction: nan}
}
