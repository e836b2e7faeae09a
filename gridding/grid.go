package gridding

import (
	"math"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// A Grid is fields on common axes: pressure, distance for a section; pressure, latitude, longitude for a map; density
// may take the place of pressure. Data of a field runs with the last axis fastest; NaN is no data.
type Grid struct {
	Name  string
	Axes  []Axis
	Track []orb.Point // longitude, latitude of each step of a distance axis; nil for a map
	// water depth at each column (each step of the last axis, or latitude x longitude); nil when unknown
	BottomM []float64
	Fields  []Field
	Skill   []Skill // leave-one-station-out skill of each mapped field; nil when not computed
	// what the skill is made of: variable by variable, cast by cast, downward; nil when not computed
	LeftOut []LeftOut
	Params  []metadata.Param // settings of the mapping, defaults included; Settings says what each is
	Results []metadata.Param // what the mapping came to beside the fields: methods chosen, density inversions
	Bottom  BottomSource
}

// BottomSource is where the water depth of a grid is from.
type BottomSource uint8

// The zero value is the stated depth of the casts.
const (
	StatedDepth BottomSource = iota
	Bathymetry               // a grid of water depth
	DeepestBins              // the deepest usable value of each cast
)

// An Axis is one coordinate of a grid: the centre of each cell and its two edges (nil for points).
type Axis struct {
	metadata.Variable
	Values []float64
	Bounds [][2]float64
}

// A Field is one quantity on a grid. Companion fields (error, relative error, mask reasons) are fields of the same grid
// whose Of names the parent and whose Kind is what they hold.
type Field struct {
	metadata.Variable
	Data []float64
	Of   string // name of the parent field; "" for the field itself
	Kind FieldKind
}

// FieldKind is what a field of a grid holds.
type FieldKind uint8

// Kinds of field.
const (
	Value         FieldKind = iota
	StandardError           // in the parent's units
	RelativeError           // error variance over signal variance, 0..1
	MaskReason              // small whole numbers, see MaskReason constants; 0 where the parent holds a value
	CountField              // number of data
	// HeldToData and Extended where the parent's value is not what the method gave, 0 elsewhere
	Extrapolated
	// why a change on density is not defined, see ChangeCodes
	ChangeCode
)

// Reasons in a MaskReason field; 0 where the parent holds a value. Where several hold, the first of this list is given.
const (
	NotMasked    = 0
	BelowBottom  = 1 // below the sea floor: the straight line between the casts' bottoms, or bathymetry
	AboveFirst   = 2 // more than 10 dbar above the first usable bins of the neighbouring casts
	OutsideCasts = 3 // beyond the first or last station by more than half a length; outside the hull of the casts
	InGap        = 4 // a neighbouring cast has a gap here that is too wide to interpolate across
	NoData       = 5 // the method has no data that reach here
	ErrorTooBig  = 6 // error variance over signal variance above the limit
)

// MaskReasons returns the meanings of the reasons 0, 1, 2 ... as single words, for flag_meanings.
func MaskReasons() []string {
	return []string{"not_masked", "below_bottom", "above_first_bin", "outside_casts", "in_gap", "no_data",
		"error_above_limit"}
}

// Skill is the outcome of leaving each station out and predicting it from the others.
type Skill struct {
	Variable       string
	RMS, Bias      float64 // of prediction minus datum, inner stations, in the variable's units
	N              int
	SkillLinear    float64    // 1 - RMS²/RMS²(linear along distance)
	MoreThanLinear Difference // RMS less that of straight lines, on data that both predict
	EndRMS         float64    // the two end stations of a section, the stations on the hull of a map, listed apart
	EndN           int
	SignalBands    []Band // signal variance per pressure band
}

// A Difference is a value with its standard error, which comes from the scatter between stations, whose levels miss
// alike. With fewer than two stations the error is NaN.
type Difference struct {
	Value, Error float64
	Stations     int
}

// Significant reports whether the value is beyond twice its standard error, on either side.
func (d Difference) Significant() bool { return math.Abs(d.Value) > 2*d.Error }

// A LeftOut is one datum of a station that was left out, predicted from the other stations.
type LeftOut struct {
	Variable     string
	Cast         *section.Cast
	PressureDbar float64
	Residual     float64 // prediction minus datum, in the variable's units; NaN where the method gave no prediction
	Inner        bool    // the station lies between others
}

// Band is the signal variance used in one pressure band.
type Band struct{ TopDbar, BottomDbar, Variance float64 }
