package cruisefile

import (
	"fmt"
	"slices"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/castwright/castwright/section/interpolate"
	"gopkg.in/yaml.v3"
)

var sigmaNames = []string{"sigma0", "sigma1", "sigma2", "sigma3", "sigma4"}

// sigmaKeys makes the keys sigma0 to sigma4, of which one is given: a potential density anomaly with its reference
// pressure.
func sigmaKeys[T, F any](f form[F], at func(t *T, sigmaDbar float64) *F, examples [5]string) []key[T] {
	out := make([]key[T], len(sigmaNames))
	for i := range sigmaNames {
		dbar := 1000 * float64(i)
		out[i] = choice(entry(sigmaNames[i], func(t *T) *F { return at(t, dbar) }, f,
			fmt.Sprintf("potential density anomaly referred to %.0f dbar", dbar), "none", examples[i]))
	}
	return out
}

// referenceForm reads into the section, whose table of known levels is beside the reference.
var referenceForm = mapping(shape[Section]{
	legal: "a number of dbar, or deepest",
	short: func(d *decoder, n *yaml.Node, name string, s *Section) bool {
		if n.Kind != yaml.ScalarNode || n.Value != "deepest" && !plainNumber.MatchString(n.Value) {
			return false
		}
		if n.Value != "deepest" {
			referencePressure.read(d, n, name, atReference(s, geostrophy.AtPressure,
				&s.Velocity.Reference.PressureDbar))
		}
		return true
	},
	check: func(d *decoder, n *yaml.Node, s *Section, has map[string]*yaml.Node) {
		if n.Kind == yaml.MappingNode && len(has) != 1 {
			d.fault(n, "write one of pressure, sigma0 to sigma4, levels, velocities",
				"reference has %d keys; it wants one", len(has))
		}
	}},
	append([]key[Section]{
		choice(entry("pressure", func(s *Section) *float64 {
			return atReference(s, geostrophy.AtPressure, &s.Velocity.Reference.PressureDbar)
		}, referencePressure, "level of no motion; the number alone says the same", "none", "2000")),
		choice(entry("levels", func(s *Section) *ingest.Source { return atReference(s, geostrophy.AtLevels, &s.Known) },
			source, "level of each pair (CSV)", "none", "levels.csv")),
		choice(entry("velocities",
			func(s *Section) *ingest.Source { return atReference(s, geostrophy.AtVelocities, &s.Known) }, source,
			"known velocity of each pair (CSV)", "none", "velocities.csv")),
	}, sigmaKeys(number("a number of kg/m3", -10, 60), func(s *Section, sigmaDbar float64) *float64 {
		s.Velocity.Reference.SigmaDbar = sigmaDbar
		return atReference(s, geostrophy.AtDensity, &s.Velocity.Reference.Density)
	}, [5]string{"27.8", "32.3", "36.9", "41.3", "45.8"})...)...,
)

// atReference sets the kind of reference of a section and returns where its value goes.
func atReference[F any](s *Section, kind geostrophy.ReferenceKind, at *F) *F {
	s.Velocity.Reference.Kind = kind
	return at
}

var referencePressure = number("a number of dbar", 0, 12000)

// gridMethod is a method of mapping, or none.
var gridMethod = form[Grid]{legal: orList(append(methodWords(), "none")),
	read: func(d *decoder, n *yaml.Node, name string, g *Grid) {
		s, ok := d.scalar(n, name, orList(append(methodWords(), "none")))
		switch i := slices.Index(methodWords(), s); {
		case !ok:
		case s == "none":
			g.None = true
		case i < 0:
			d.notAWord(n, name, s, append(methodWords(), "none"))
		default:
			g.Method = gridding.Methods()[i]
		}
	}}

func methodWords() (words []string) {
	for _, m := range gridding.Methods() {
		words = append(words, string(m))
	}
	return words
}

// estimated begins the default of what is estimated from a section.
const estimated = "estimated where none of the keys length_*, noise and covariance is given for a section of 6 " +
	"stations or more; else "

var gridForm = mapping(shape[Grid]{
	legal: "a method", fresh: newGrid, at: func(g *Grid) *metadata.Position { return &g.At },
	short: shortText(gridMethod, func(g *Grid) *Grid { return g }),
	check: func(d *decoder, n *yaml.Node, g *Grid, has map[string]*yaml.Node) {
		for _, pair := range [][2]string{{"length_km", "length_spacings"}, {"length_dbar", "length_steps"}} {
			if second := has[pair[1]]; has[pair[0]] != nil && second != nil {
				d.fault(second, "take out one of them", "%s and %s are two ways to give one length", pair[0], pair[1])
			}
		}
	}},
	entry("method", func(g *Grid) *Grid { return g }, gridMethod,
		"how values are mapped; choose takes the one with the best skill", "optimal", "optimal"),
	entry("step_km", func(g *Grid) *float64 { return &g.StepKm }, number("a number of km", 0.001, 1000),
		"grid step along the section", "scaled to the spacing of the stations", "5"),
	entry("step_dbar", func(g *Grid) *float64 { return &g.StepDbar }, number("a number of dbar", 0.1, 1000),
		"grid step in pressure", "scaled to the depth", "10"),
	entry("length_km", func(g *Grid) *float64 { return &g.LengthKm }, number("a number of km", 0.01, 5000),
		"horizontal length of the covariance", "by length_spacings", "60"),
	entry("length_spacings", func(g *Grid) *float64 { return &g.LengthFactor },
		number("a number of station spacings", 0.05, 50),
		"horizontal length of the covariance in local station spacings",
		estimated+"2; 1.25 in a section of which no cast is deeper than 500 dbar", "2"),
	entry("length_dbar", func(g *Grid) *float64 { return &g.LengthDbar }, number("a number of dbar", 1, 5000),
		"vertical length of the covariance", "by length_steps", "100"),
	entry("length_steps", func(g *Grid) *float64 { return &g.LengthSteps },
		number("a number of steps", 0.1, 100),
		"vertical length of the covariance in steps of the standard data levels",
		estimated+"4, which is 60 dbar down to 200, 200 to 1000, 400 to 2000, 800 below, at most a sixth of the depth",
		"4"),
	entry("noise", func(g *Grid) *float64 { return &g.Noise }, number("a ratio of variances", 1e-6, 100),
		"noise variance over signal variance", "0.02", "0.02"),
	entry("covariance", func(g *Grid) *gridding.Covariance { return &g.Covariance },
		oneOf(gridding.Covariances()...),
		"shape of the covariance: gaussian is exp(-r2), matern (1+sqrt(3)r)exp(-sqrt(3)r)", estimated+"gaussian",
		"matern"),
	entry("neighbours", func(g *Grid) *int { return &g.Neighbours }, integer[int]("a whole number", 4, 2000),
		"data used for one grid point", "60", "60"),
	entry("max_error", func(g *Grid) *float64 { return &g.MaxError }, number("a ratio of variances", 0.001, 1),
		"grid points with a larger error variance over signal variance are masked", "0.5", "0.3"),
	entry("vertical", func(g *Grid) *interpolate.Method { return &g.Vertical },
		named(interpolate.Linear, interpolate.Pchip, interpolate.Akima, interpolate.ReinigerRoss),
		"interpolation in pressure, where the method needs one", "pchip", "pchip"),
	entry("variables", func(g *Grid) *[]string { return &g.Variables }, mappedVariables, "what is mapped",
		"ctemp, asal, and oxy where measured", "[ctemp, asal]"),
)

var sectionForm = mapping(shape[Section]{fresh: newSection, at: func(s *Section) *metadata.Position { return &s.At }},
	required(entry("name", func(s *Section) *string { return &s.Name }, identifier, "name in file names", "",
		"strait")),
	entry("title", func(s *Section) *string { return &s.Title }, text, "title of figures", "the name",
		"Across the strait"),
	required(entry("stations", func(s *Section) *StationList { return &s.Stations }, stations,
		"stations in the order of the line; the first again at the end closes it", "", "1-12")),
	entry("planned", func(s *Section) *StationList { return &s.Planned }, planned,
		"stations that were planned; those not taken are notes, and errors of a final release", "those taken", "1-14"),
	entry("reference", func(s *Section) *Section { return s }, referenceForm, "level of known motion",
		"deepest common level", "2000"),
	entry("interpolation", func(s *Section) *interpolate.Method { return &s.Velocity.Interpolation },
		named(interpolate.Linear, interpolate.Pchip, interpolate.Rotated), "between levels, for dynamic height",
		"pchip", "pchip"),
	entry("distance", func(s *Section) *section.Method { return &s.Distance },
		named(section.WGS84, section.Sphere, section.SphereAtLevel),
		"WGS84 geodesic; a sphere of 6371 km, or of 6371 km less the depth at each level, to compare with "+
			"published numbers",
		"geodesic", "geodesic"),
	entry("positive", func(s *Section) *geostrophy.Direction { return &s.Velocity.Positive },
		oneOf(geostrophy.Left, geostrophy.Right, geostrophy.East, geostrophy.North, geostrophy.In, geostrophy.Out),
		"direction in which velocity counts as positive; in and out are of a closed line",
		"left of the line; in, for a closed line", "north"),
	entry("triangle", func(s *Section) *geostrophy.Treatment { return &s.Velocity.Triangle },
		named(geostrophy.NoFlow, geostrophy.ConstantVelocity, geostrophy.ConstantShear, geostrophy.LinearToZero),
		"flow below the deepest common level", "constant_velocity", "none"),
	entry("bottom", func(s *Section) *bool { return &s.Velocity.DeepestBinIsBottom },
		wordAs([]string{"depth", "deepest_bin"}, []bool{false, true}), "where the bottom is", "depth", "deepest_bin"),
	entry("max_gap", func(s *Section) **float64 { return &s.Velocity.MaxGapDbar }, gapForm,
		"widest step between levels that is bridged", "that of casts", "none"),
	entry("surface_carry", func(s *Section) *float64 { return &s.Velocity.SurfaceCarryDbar },
		number("a number of dbar", 0, 1000),
		"the first level is carried to the surface when it is not deeper; below ice_base, to the ice", "20", "10"),
	entry("repeats", func(s *Section) *section.Repeats { return &s.Repeats },
		oneOf(section.Deepest, section.First, section.Last, section.NearestInTime, section.MeanOf),
		"which of several casts at one place; lets casts of role repeat compete", "deepest, of primary casts only",
		"mean"),
	entry("grid", func(s *Section) *Grid { return &s.Grid }, gridForm, "the gridded section",
		"optimal, scaled to the data", "{method: linear, step_dbar: 10}"),
	entry("anomaly", func(s *Section) *Anomaly { return &s.Anomaly }, anomalyForm,
		"what the section is compared with at its stations: a file and a figure of the difference", "none",
		"{with: earlier/strait_grid.nc}"),
	entry("layers", func(s *Section) *[]float64 { return &s.Velocity.Layers }, increasing("dbar", 0, 12000, 2),
		"bounds of transport layers", "none", "[0, 500, 2000]"),
	entry("classes", func(s *Section) *geostrophy.Options { return &s.Velocity }, classesForm,
		"density classes of transport", "none", "{sigma0: [26.5, 27.2, 27.8]}"),
	entry("uncertainty", func(s *Section) *geostrophy.Options { return &s.Velocity }, membersForm,
		"Monte-Carlo estimate", "the formulas only", "2000"),
	entry("reference_salinity", func(s *Section) *float64 { return &s.Velocity.ReferenceSalinity },
		number("a number of g/kg", 0.1, 50), "salinity that freshwater transport refers to", "mean of the section",
		"34.9"),
	entry("reference_temperature", func(s *Section) *float64 { return &s.Velocity.ReferenceTemperature },
		number("a number of degC", -5, 40), "Conservative Temperature that heat transport refers to",
		"none: temperature transport", "0"),
	entry("equatorial_estimate", func(s *Section) *bool { return &s.Velocity.EquatorialEstimate }, yesNo,
		"velocity near the equator from the curvature of dynamic height", "no", "yes"),
)

var anomalyForm = mapping(shape[Anomaly]{legal: "a file", short: shortText(source,
	func(a *Anomaly) *ingest.Source { return &a.With })},
	required(entry("with", func(a *Anomaly) *ingest.Source { return &a.With }, source,
		"the gridded section of an earlier archive, or temperature, salinity and more of a climatology (CF NetCDF)",
		"",
		"earlier/strait_grid.nc")),
	entry("month", func(a *Anomaly) *int { return &a.Month }, integer[int]("a month", 1, 12),
		"month of a climatology that has twelve", "none", "5"),
	entry("called", func(a *Anomaly) *string { return &a.Label }, text,
		"what the reference is called in captions and files", "the name of the file", "the occupation of 2016"),
)

var classesForm = mapping(shape[geostrophy.Options]{
	check: func(d *decoder, n *yaml.Node, o *geostrophy.Options, has map[string]*yaml.Node) {
		if len(has) != 1 {
			d.fault(n, "write one, such as {sigma0: [26.5, 27.2, 27.8]}",
				"classes has %d keys; it wants one of sigma0 to sigma4", len(has))
		}
	}}, sigmaKeys(increasing("kg/m3", -10, 60, 2), func(o *geostrophy.Options, sigmaDbar float64) *[]float64 {
	o.ClassSigmaDbar = sigmaDbar
	return &o.Classes
}, [5]string{"[26.5, 27.2, 27.8]", "[31.5, 32, 32.5]", "[35.5, 36.5, 37]", "[40, 41, 41.5]", "[45, 45.5, 46]"})...)

var membersForm = mapping(shape[geostrophy.Options]{
	legal: "a number of members", short: shortText(members, func(o *geostrophy.Options) *int { return &o.Members })},
	entry("members", func(o *geostrophy.Options) *int { return &o.Members }, members,
		"members of a Monte-Carlo estimate beside the formulas", "none", "2000"),
	entry("seed", func(o *geostrophy.Options) *int64 { return &o.Seed }, integer[int64]("a whole number", 0, 1<<53),
		"start of the random numbers", "1", "7"),
)

var members = integer[int]("a whole number", 0, 100000)

var fieldForm = mapping(shape[MapField]{fresh: newField, at: func(f *MapField) *metadata.Position { return &f.At },
	check: func(d *decoder, n *yaml.Node, f *MapField, has map[string]*yaml.Node) {
		if f.Grid.Method == gridding.Density {
			d.fault(has["grid"], "use another method, such as optimal",
				"density maps along a line of stations; a field has none")
		}
	}},
	required(entry("name", func(f *MapField) *string { return &f.Name }, identifier, "name in file names", "",
		"survey")),
	entry("stations", func(f *MapField) *StationList { return &f.Stations }, stations, "stations used", "all", "1-40"),
	entry("longitude", func(f *MapField) *MapField { return f },
		degrees(-180, 360, false, func(f *MapField, a, b float64) { f.LonMin, f.LonMax = a, b }),
		"west and east edge; east may be the smaller number across 180", "from the casts", "[-12, -8.5]"),
	entry("latitude", func(f *MapField) *MapField { return f },
		degrees(-90, 90, true, func(f *MapField, a, b float64) { f.LatMin, f.LatMax = a, b }), "south and north edge",
		"from the casts", "[58, 60]"),
	entry("step", func(f *MapField) *MapField { return f }, stepForm,
		"grid step: one number, or that in longitude and that in latitude", "scaled to the spacing of the casts",
		"0.1"),
	entry("levels", func(f *MapField) *[]float64 { return &f.Levels }, increasing("dbar", 0, 12000, 1),
		"pressure levels", "scaled to the depth", "[0, 50, 100, 200]"),
	entry("grid", func(f *MapField) *Grid { return &f.Grid }, gridForm, "how it is mapped",
		"optimal, scaled to the data", "{length_km: 60}"),
	entry("surfaces", func(f *MapField) *Surfaces { return &f.Surfaces }, surfacesForm,
		"surfaces of equal potential density on which the field is given too, with their pressure: a file and maps",
		"none", "{sigma0: [26.8, 27.4]}"),
)

var surfacesForm = mapping(shape[Surfaces]{
	check: func(d *decoder, n *yaml.Node, s *Surfaces, has map[string]*yaml.Node) {
		if len(has) != 1 {
			d.fault(n, "write one, such as {sigma0: [26.8, 27.4]}",
				"surfaces has %d keys; it wants one of sigma0 to sigma4", len(has))
		}
	}}, sigmaKeys(increasing("kg/m3", -10, 60, 1), func(s *Surfaces, sigmaDbar float64) *[]float64 {
	s.Density = sigmaNames[int(sigmaDbar/1000)]
	return &s.Values
}, [5]string{"[26.8, 27.4]", "[32, 32.4]", "[36.5, 37]", "[41, 41.5]", "[45.6, 45.8]"})...)

// degrees is a pair of edges in degrees.
func degrees(low, high float64, ordered bool, set func(f *MapField, a, b float64)) form[MapField] {
	pair := list(number("degrees", low, high))
	legal := "two numbers of degrees" + rangeWords(low, high)
	return form[MapField]{legal: legal, read: func(d *decoder, n *yaml.Node, name string, dst *MapField) {
		var v []float64
		before := len(d.faults)
		pair.read(d, n, name, &v)
		switch {
		case len(d.faults) > before:
		case len(v) != 2:
			d.fault(n, "give "+legal, "%s has %d numbers", name, len(v))
		case v[0] == v[1] || ordered && v[0] > v[1]:
			d.fault(n, "give the smaller first", "%s: %v to %v is no range", name, v[0], v[1])
		default:
			set(dst, v[0], v[1])
		}
	}}
}

var stepForm = form[MapField]{legal: "a number of degrees, or two",
	read: func(d *decoder, n *yaml.Node, name string, dst *MapField) {
		var v []float64
		before := len(d.faults)
		list(number("degrees", 1e-4, 45)).read(d, n, name, &v)
		switch {
		case len(d.faults) > before:
		case len(v) == 1:
			dst.StepLonDeg, dst.StepLatDeg = v[0], v[0]
		case len(v) == 2:
			dst.StepLonDeg, dst.StepLatDeg = v[0], v[1]
		default:
			d.fault(n, "give a number of degrees, or two", "%s has %d numbers", name, len(v))
		}
	}}
