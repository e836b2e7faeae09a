package geostrophy

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
)

// validate checks the settings.
func (o *Options) validate() error {
	bad := func(format string, args ...any) error {
		return fmt.Errorf("%w: %s", ErrSetting, fmt.Sprintf(format, args...))
	}
	switch o.Interpolation {
	case interpolate.Linear, interpolate.Pchip, interpolate.Rotated:
	default:
		return bad("interpolation %s; linear, pchip or rotated", o.Interpolation)
	}
	if !slices.Contains([]Direction{Unstated, Left, Right, East, North, In, Out}, o.Positive) {
		return bad("positive %q; left, right, east or north, of a closed line in or out", o.Positive)
	}
	references := []Reference{o.Reference}
	if o.SecondReference != nil {
		references = append(references, *o.SecondReference)
	}
	for _, ref := range references {
		switch {
		case int(ref.Kind) >= len(referenceWords):
			return bad("reference kind %d", ref.Kind)
		case ref.Kind == AtPressure && !(ref.PressureDbar >= 0 && ref.PressureDbar < 12000):
			return bad("reference pressure %g dbar", ref.PressureDbar)
		case ref.Kind == AtDensity && (!legalSigma(ref.SigmaDbar) || !(math.Abs(ref.Density) < 100)):
			return bad(
				"reference density %g kg/m3 referred to %g dbar; the anomaly, referred to 0, 1000, 2000, 3000 or 4000",
				ref.Density, ref.SigmaDbar)
		}
	}
	for _, list := range []struct {
		name string
		x    []float64
	}{{"layers", o.Layers}, {"classes", o.Classes}} {
		for i, x := range list.x {
			if math.IsNaN(x) || math.IsInf(x, 0) || i > 0 && !(x > list.x[i-1]) {
				return bad("%s do not increase: %g", list.name, list.x)
			}
		}
	}
	switch {
	case len(o.Classes) > 0 && !legalSigma(o.ClassSigmaDbar):
		return bad("classes referred to %g dbar; 0, 1000, 2000, 3000 or 4000", o.ClassSigmaDbar)
	case int(o.Triangle) >= Treatments:
		return bad("treatment of triangles %d", o.Triangle)
	case o.Distance >= section.Methods:
		return bad("distance rule %d", o.Distance)
	case o.MaxGapDbar != nil && !(*o.MaxGapDbar > 0):
		return bad("max_gap %g dbar", *o.MaxGapDbar)
	case !(o.SurfaceCarryDbar >= 0) || !(o.PositionErrKm >= 0):
		return bad("surface_carry %g dbar, position error %g km", o.SurfaceCarryDbar, o.PositionErrKm)
	case o.Members != 0 && o.Members < 2:
		return bad("%d Monte-Carlo members; at least 2, or 0 for none", o.Members)
	}
	for _, a := range o.Accuracies {
		if a.CommonFraction < 0 || a.CommonFraction > 1 || int(a.Stage) >= metadata.Stages || a.Salinity < 0 ||
			a.TemperatureK < 0 || a.PressureDbar < 0 || a.Residual != nil && !(a.Residual.PerCast >= 0 &&
			a.Residual.Common >= 0) {
			return bad("accuracy of system %q", a.System)
		}
	}
	return nil
}

func legalSigma(dbar float64) bool {
	return dbar == 0 || dbar == 1000 || dbar == 2000 || dbar == 3000 || dbar == 4000
}

// compassDeg is how far the normal of a line may turn from a compass word (ours).
const compassDeg = 60

// CheckDirection returns nil when a choice of Options.Positive is defined on a section, else ErrDirection with the
// legal words.
func CheckDirection(sec *section.Section, positive Direction) error {
	_, _, err := lineSign(sec, positive)
	return err
}

// lineSign returns the direction in force and +1 when velocity is counted positive to the left of the direction of
// travel, -1 to the right. A compass word must lie within 60 degrees of one of them on the line from end to end, and
// the ends 2 km apart: a line that closes on itself has no compass direction. It has in and out, unless it crosses
// itself.
func lineSign(sec *section.Section, positive Direction) (Direction, float64, error) {
	fail := func(format string, args ...any) (Direction, float64, error) {
		return positive, 0, fmt.Errorf("section %s: %w: %q %s", sec.Name, ErrDirection, positive,
			fmt.Sprintf(format, args...))
	}
	closed := sec.Closed()
	var inside section.Enclosure
	if closed {
		inside = sec.Enclosed()
	}
	crosses := inside.Crosses != [2]int{}
	if sec.StillOpen && (positive == In || positive == Out) {
		positive = Left // until it has an inside
	}
	if positive == Unstated {
		if positive = Left; closed && !crosses {
			positive = In
		}
	}
	switch positive {
	case Left:
		return positive, 1, nil
	case Right:
		return positive, -1, nil
	case In, Out:
		if !closed {
			return fail("on a line that is not closed; use left, right or a compass word, or write the first station again at its end")
		}
		if crosses {
			k := inside.Crosses
			return fail("on a line that crosses itself, between stations %s and %s and between %s and %s; use left or right",
				sec.Casts[k[0]].Station, sec.Casts[k[0]+1].Station, sec.Casts[k[1]].Station,
				sec.Casts[k[1]+1].Station)
		}
		if (positive == In) == inside.Left {
			return positive, 1, nil
		}
		return positive, -1, nil
	}
	placed := slices.DeleteFunc(slices.Clone(sec.Casts), func(c *section.Cast) bool {
		return c.At[0] != c.At[0] || c.At[1] != c.At[1]
	})
	if closed {
		return fail("on a closed line; use in, out, left or right")
	}
	if len(placed) < 2 {
		return fail("on a line of fewer than two stations with a position; use left or right")
	}
	ends := measure(section.WGS84, placed[0].At, placed[len(placed)-1].At)
	if ends.lengthM < tooCloseKm*1e3 {
		return fail("on a line whose ends are %.1f km apart; use left or right", ends.lengthM/1e3)
	}
	left := ends.azimuthDeg - 90
	if sign, ok := compassSign(left, positive); ok {
		return positive, sign, nil
	}
	legal := []string{"left", "right"}
	for _, word := range []Direction{East, North} {
		if _, ok := compassSign(left, word); ok {
			legal = append(legal, string(word))
		}
	}
	return fail("on a line that runs towards %.0f degrees; use one of %s", math.Mod(left+450, 360),
		strings.Join(legal, ", "))
}

// compassSign returns on which side of a line, whose left side looks towards bearing left, a compass word lies; not ok
// when it is more than 60 degrees from both.
func compassSign(left float64, word Direction) (sign float64, ok bool) {
	want := 0.0
	if word == "east" {
		want = 90
	}
	c := math.Cos((left - want) * (math.Pi / 180))
	limit := math.Cos(compassDeg*(math.Pi/180)) - 1e-12
	return math.Copysign(1, c), math.Abs(c) >= limit
}

// describe fills settings, notes and the findings of pairs.
func (r *Result) describe(opts *Options) {
	r.HeatAllowed, r.HeatWhy = false,
		"no reference temperature is stated and the net mass transport is not zero: it is a temperature transport"
	if r.Budget != nil && r.Budget.MeanTemperature {
		r.HeatAllowed, r.HeatWhy = true, fmt.Sprintf(
			"heat is relative to %.4f degC, the mean of the closed line over its area: what the net volume carries is not counted",
			r.ReferenceTemperature)
	}
	switch sum := r.sumOfMass(); {
	case opts.ReferenceTemperature == opts.ReferenceTemperature:
		r.HeatAllowed, r.HeatWhy = true, fmt.Sprintf("relative to the stated reference temperature %g degC",
			opts.ReferenceTemperature)
	case math.Abs(r.Total[Mass].Value) <= 1e-9*sum && sum > 0:
		r.HeatAllowed, r.HeatWhy = true, "the net mass transport across the section is zero"
	}
	second := opts.SecondReference
	switch {
	case second != nil:
		r.SecondLabel = second.String()
	case opts.Reference.Kind == AtDeepest:
		r.SecondLabel = "half the pressure of the deepest common level"
	default:
		r.SecondLabel = "deepest common level"
	}
	r.Params = opts.params(r)
	r.Notes = append(r.Notes,
		"casts are not simultaneous: inertial and tidal motion is part of the shear",
		"the doubt about the reference level is larger than the stated errors: compare the transport with the second reference ("+
			r.SecondLabel+")")
	if len(r.Classes) > 0 {
		r.Notes = append(r.Notes,
			"the errors of density classes hold the bounds of the classes where the casts put them: that an error moves a bound is not counted")
	}
	if r.Budget != nil {
		r.Notes = append(r.Notes, r.budgetSentences()...)
		r.findBudget()
	}
	r.findPairs(opts)
}

func (r *Result) sumOfMass() float64 {
	sum := 0.0
	for i := range r.Pairs {
		if r.Pairs[i].Status.HasVelocity() {
			sum += math.Abs(r.Pairs[i].Transport[Mass].Value)
		}
	}
	return sum
}

// String returns the reference in words.
func (ref Reference) String() string {
	switch ref.Kind {
	case AtPressure:
		return number(ref.PressureDbar) + " dbar"
	case AtDensity:
		return "potential density anomaly " + number(ref.Density) + " kg/m3 referred to " + number(ref.SigmaDbar) +
			" dbar"
	case AtLevels:
		return fmt.Sprintf("levels given for %d pairs", len(ref.Known))
	case AtVelocities:
		return fmt.Sprintf("velocities given for %d pairs", len(ref.Known))
	}
	return "deepest common level"
}

func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

func numbers(x []float64) string {
	if len(x) == 0 {
		return "none"
	}
	text := make([]string, len(x))
	for i, v := range x {
		text[i] = number(v)
	}
	return strings.Join(text, " ")
}

// list returns numbers for a parameter; nil when there are none that JSON can hold.
func list(x []float64) any {
	if len(x) == 0 || slices.ContainsFunc(x, func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }) {
		return nil
	}
	return x
}

// orUnknown returns the label of a set of sensors, unknown where it has no name.
func orUnknown(label string) string {
	if label == "" {
		return "unknown"
	}
	return label
}

// orWord returns a number, or the word for none.
func orWord(x float64, word string) string {
	if x != x {
		return word
	}
	return number(x)
}

// A Setting is one parameter of a result: its name, what it means, and its value, a number, a list of numbers or words.
type Setting struct {
	Name, What string
	value      string
	typed      any
}

// accuracySetting is the name of the parameter that each set of sensors has.
const accuracySetting = "accuracy"

// PerCastSetting and CommonSetting are the names of parameters that a set of sensors has whose error of salinity
// follows from bottles: a Residual, in g/kg.
const (
	PerCastSetting = "salinity_error_per_cast_g_kg"
	CommonSetting  = "salinity_error_common_g_kg"
)

// Settings returns the names in Params of a result, with their meaning, in their order.
func Settings() []Setting {
	return append(new(Options).settings(&Result{}), Setting{Name: accuracySetting,
		What: "accuracies of each set of sensors, from which errors are computed"},
		Setting{Name: PerCastSetting, What: "error of salinity of each cast, where it follows from bottles"},
		Setting{Name: CommonSetting,
			What: "error of salinity that casts have in common, where it follows from bottles"})
}

// settings lists every setting but the accuracies, defaults included.
func (o *Options) settings(r *Result) []Setting {
	gap := "rule: more than 50 dbar (200 below 1500) and 3 times the median step"
	if o.MaxGapDbar != nil {
		gap = number(*o.MaxGapDbar) + " dbar"
		if math.IsInf(*o.MaxGapDbar, 1) {
			gap = "none"
		}
	}
	bottom := "depth"
	if o.DeepestBinIsBottom {
		bottom = "deepest_bin"
	}
	none := "none"
	if r.Budget != nil && r.Budget.MeanTemperature {
		none = "mean of the closed line"
	}
	heightRef := "0"
	if len(r.Stations) > 0 {
		heightRef = number(r.Stations[0].ReferenceDbar)
	}
	return []Setting{
		{"interpolation", "interpolation in pressure between bins",
			o.Interpolation.String(), nil},
		{"reference", "kind of reference level: deepest, pressure, density, levels or velocities",
			o.Reference.Kind.String(), nil},
		{"reference_level", "reference level in words",
			o.Reference.String(), nil},
		{"second_reference", "second reference level; its transports show how much depends on the choice",
			r.SecondLabel, nil},
		{"dynamic_height_reference_dbar", "pressure that dynamic height is relative to, dbar",
			heightRef, nil},
		{"distance", "how distances between stations are computed: geodesic, sphere or sphere_at_level",
			o.Distance.String(), nil},
		{"distance_formula", "the formula for it",
			formula(o.Distance), nil},
		{"coriolis", "latitude and rotation rate of the Coriolis parameter",
			"at the mean latitude of the pair, Omega 7.292115e-5 rad/s", nil},
		{"positive", "side of the section towards which velocity is positive",
			string(o.Positive), nil},
		{"triangle", "what flows in the bottom triangle",
			o.Triangle.String(), nil},
		{"bottom", "where the water depth is from: depth (as stated for the casts) or deepest_bin (of each cast)",
			bottom, nil},
		{"max_gap", "widest step between bins that is interpolated across, or the rule for it",
			gap, nil},
		{"surface_carry_dbar", "greatest pressure of a first level whose velocity is carried up to the surface, dbar",
			number(o.SurfaceCarryDbar), o.SurfaceCarryDbar},
		{"ice_base_m", "depth of the underside of an ice shelf, m",
			orWord(o.IceBaseM, "none"), nil},
		{"layers_dbar", "bounds of the layers, dbar",
			numbers(o.Layers), list(o.Layers)},
		{"classes_sigma_dbar", "pressure to which the potential density of the classes is referred, dbar",
			number(o.ClassSigmaDbar), o.ClassSigmaDbar},
		{"classes_kg_m3", "bounds of the classes of potential density anomaly, kg m-3",
			numbers(o.Classes), list(o.Classes)},
		{"reference_salinity_g_kg", "salinity that freshwater transport is relative to, g kg-1",
			orWord(o.ReferenceSalinity, "section mean"), nil},
		{"reference_temperature_degC", "temperature that heat transport is relative to, degC",
			orWord(o.ReferenceTemperature, none), nil},
		{"withheld_within_deg", "pairs this near to the equator have no velocity, degrees",
			strconv.Itoa(withheldLatDeg), float64(withheldLatDeg)},
		{"questionable_within_deg", "pairs this near to the equator are called questionable, degrees",
			strconv.Itoa(doubtfulLatDeg), float64(doubtfulLatDeg)},
		{"least_separation_km", "stations nearer to each other than this have no velocity, km",
			strconv.Itoa(tooCloseKm), float64(tooCloseKm)},
		{"equatorial_estimate",
			"whether the velocity at the equator was estimated from the curvature of dynamic height",
			strconv.FormatBool(o.EquatorialEstimate), nil},
		{"not_calibrated_usable", "whether values of flag 1 (not calibrated) count as usable",
			strconv.FormatBool(o.NotCalibratedUsable), nil},
		{"position_error_km", "standard error of a position, km",
			number(o.PositionErrKm), o.PositionErrKm},
		{"monte_carlo_members", "number of members of the Monte-Carlo estimate of errors; 0: none",
			strconv.Itoa(o.Members), float64(o.Members)},
		{"monte_carlo_seed", "seed of its random numbers",
			strconv.FormatInt(o.Seed, 10), nil},
		{"bin_noise", "standard deviation of its noise in each bin, of salinity and temperature",
			number(o.BinNoiseSalinity) + " g/kg, " + number(o.BinNoiseTemperatureK) + " K", nil},
	}
}

// short writes a measured number with three significant digits.
func short(v float64) string { return strconv.FormatFloat(v, 'g', 3, 64) }

// params lists every setting as a parameter; those of the members only where some were run.
func (o *Options) params(r *Result) []metadata.Param {
	var out []metadata.Param
	for _, s := range o.settings(r) {
		if o.Members == 0 && (s.Name == "monte_carlo_seed" || s.Name == "bin_noise") {
			continue
		}
		out = append(out, metadata.Param{Name: s.Name, Value: s.value, Typed: s.typed})
	}
	var seen []string
	var perCast, common []metadata.Param
	for i := range r.Stations {
		label := r.Stations[i].Cast.System
		if slices.Contains(seen, label) {
			continue
		}
		seen = append(seen, label)
		a := o.accuracy(label)
		salinity := number(a.Salinity) + " g/kg"
		if s := a.Residual; s != nil {
			salinity = fmt.Sprintf("%s g/kg per cast and %s g/kg in common (%s)", short(s.PerCast), short(s.Common),
				s.From)
		}
		out = append(out, metadata.Param{Name: accuracySetting, Of: orUnknown(label),
			Value: fmt.Sprintf("salinity %s, temperature %s K, pressure %s dbar, common fraction %s, salinity %s",
				salinity, number(a.TemperatureK), number(a.PressureDbar), orWord(a.CommonFraction, "not split"),
				a.Stage)})
		if s := a.Residual; s != nil {
			perCast = append(perCast, metadata.Param{Name: PerCastSetting, Of: orUnknown(label),
				Value: short(s.PerCast), Typed: s.PerCast})
			common = append(common, metadata.Param{Name: CommonSetting, Of: orUnknown(label), Value: short(s.Common),
				Typed: s.Common})
		}
	}
	return slices.Concat(out, perCast, common)
}
