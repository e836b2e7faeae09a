package gridding

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/section/interpolate"
	"github.com/paulmach/orb"
)

// Method is a way to map.
type Method string

// Methods of mapping, as the cruise file names them.
const (
	Optimal    Method = "optimal"    // optimal interpolation with an error estimate; the default
	Linear     Method = "linear"     // linear in distance at constant pressure
	Successive Method = "successive" // successive correction, three passes
	Triangles  Method = "triangles"  // linear on the Delaunay triangles of scaled distance and pressure
	Natural    Method = "natural"    // natural neighbours (Sibson) in scaled distance and pressure
	Density    Method = "density"    // along surfaces of equal potential density, with a mixed-layer branch
	Choose     Method = "choose"     // the one that predicts left-out stations best
)

// Methods returns the names of the methods of mapping.
func Methods() []Method {
	return []Method{Optimal, Linear, Successive, Triangles, Natural, Density, Choose}
}

// Failures that a caller may decide on.
var (
	ErrTooFewCasts = errors.New("a grid needs two casts with usable values at different places")
	ErrUnknown     = errors.New("unknown setting")
	ErrNeedsPair   = errors.New("mapping along density needs asal and ctemp")
	ErrSectionOnly = errors.New(
		"mapping along density is for sections; a field takes optimal, linear, successive, triangles, natural or choose")
	ErrTooLarge = errors.New("the grid has too many points")
)

// Options are the settings of a mapping. Zero (and NaN) means the default, which is scaled to the data at hand where
// that makes sense.
type Options struct {
	Variables []string // names of cast columns; empty: ctemp, asal, and oxy when a cast has it
	Method    Method   // "": optimal
	StepKm    float64  // grid step along the section
	StepDbar  float64  // grid step down
	// Where none of the settings of the covariance is given (lengths, noise, shape), optimal interpolation of a section
	// of six stations or more estimates shape and lengths; else those not given have the values below.

	// horizontal length of the covariance; 0: LengthFactor times the local station spacing
	LengthKm float64
	// 0: 2; 1.25 for optimal interpolation of a section whose casts all end above 500 dbar
	LengthFactor float64
	// vertical length; 0: by LengthSteps
	LengthDbar float64
	// vertical length in steps of the standard data levels; 0: 4, which is 60 dbar down to 200, 200 to 1000, 400 to
	// 2000, 800 below, at most a sixth of the greatest pressure
	LengthSteps  float64
	Covariance   Covariance         // "": Gaussian
	Noise        float64            // noise variance over signal variance; 0: 0.02
	Neighbours   int                // data in one solution; 0: 60
	MaxError     float64            // values whose error variance over signal variance is greater are masked; 0: 0.5
	Vertical     interpolate.Method // Rotated is for salinity and temperature together; other variables take Pchip then
	Levels       []float64
	MaxGapDbar   *float64 // nil: the gap rule; +Inf: no gap is one
	Uncalibrated bool     // values of flag 1 count as usable
	DeepestBin   bool     // the bottom is the deepest usable bin of each cast, not the stated depth
	// WaterDepthM, when not nil, gives the water depth in metres between the casts (NaN where unknown) in place of the
	// straight line from cast to cast.
	WaterDepthM func(at orb.Point) float64
	Sigma       []int // reference pressures, in thousands of dbar, of density fields to compute on the grid; nil: 0
	Workers     int   // columns mapped at once; 0: 1. Results do not depend on it
	// Sample, when not nil, maps some columns of the grid only and takes the others from a grid that was made before.
	Sample *Sample

	ownFactor bool // LengthFactor was given
	noSkill   bool // no station is left out: for tests that look at the fields alone
	unmapped  bool // the grid has no columns: for Judge
	// one of the settings of the covariance was given, so that none is estimated
	ownCovariance bool
}

// A Sample says which columns of a grid are mapped when a grid is compared with one that was made before.
type Sample struct {
	Columns func(n int) []int        // numbers of the columns to map, of n
	Known   func(f *Field) []float64 // data of the same field of the grid made before; nil when it has none
}

// An Area is the frame of a longitude-latitude-pressure grid. NaN: from the casts. Longitudes may run past 180.
type Area struct {
	LonMin, LonMax, LatMin, LatMax float64 // degrees
	StepLonDeg, StepLatDeg         float64 // 0 or NaN: scaled
	Levels                         []float64
}

// AnyArea is the Area whose every part comes from the casts.
func AnyArea() Area {
	n := math.NaN()
	return Area{LonMin: n, LonMax: n, LatMin: n, LatMax: n}
}

func positive(v float64) bool { return v > 0 && !math.IsInf(v, 1) }

// fill checks the settings that can be checked without data and puts plain defaults in place.
func (o *Options) fill() error {
	if o.Method == "" {
		o.Method = Optimal
	}
	if !slices.Contains(Methods(), o.Method) {
		return fmt.Errorf("%w: method %q is none of %q", ErrUnknown, o.Method, Methods())
	}
	if o.Vertical >= interpolate.Methods {
		return fmt.Errorf("%w: vertical %v", ErrUnknown, o.Vertical)
	}
	o.ownFactor = positive(o.LengthFactor)
	o.ownCovariance = o.ownFactor || positive(o.LengthKm) || positive(o.LengthDbar) || positive(o.LengthSteps) ||
		positive(o.Noise) || o.Covariance != ""
	if !o.ownFactor {
		o.LengthFactor = ruleFactor
	}
	if o.Covariance == "" {
		o.Covariance = Gaussian
	}
	if !slices.Contains(Covariances(), o.Covariance) {
		return fmt.Errorf("%w: covariance %q is none of %q", ErrUnknown, o.Covariance, Covariances())
	}
	if !positive(o.LengthSteps) {
		o.LengthSteps = ruleSteps
	}
	if !positive(o.Noise) {
		o.Noise = 0.02
	}
	if o.Neighbours <= 0 {
		o.Neighbours = 60
	}
	if !positive(o.MaxError) {
		o.MaxError = 0.5
	}
	if o.Workers <= 0 {
		o.Workers = 1
	}
	if o.Sigma == nil {
		o.Sigma = []int{0}
	}
	for _, s := range o.Sigma {
		if s < 0 || s > 4 {
			return fmt.Errorf("%w: sigma%d; there are sigma0 to sigma4", ErrUnknown, s)
		}
	}
	for k := 1; k < len(o.Levels); k++ {
		if !(o.Levels[k] > o.Levels[k-1]) {
			return fmt.Errorf("%w: data levels do not increase", ErrUnknown)
		}
	}
	return nil
}
