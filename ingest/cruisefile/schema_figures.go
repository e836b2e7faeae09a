package cruisefile

import (
	"strings"

	"github.com/castwright/castwright/metadata"
	"gopkg.in/yaml.v3"
)

var figureKind = oneOf(FigureSection, FigureVelocity, FigureTemperatureSalinity, FigureOxygenDensity, FigureMap,
	FigureProfiles, FigureError, FigureSkill, FigureOverview, FigureField, FigureAnomaly, FigureTimeSeries,
	FigureDifferences, FigureSensorPairs, FigureBottleComparison)

// levelsForm is a step between level lines, or the levels.
var levelsForm = form[Levels]{legal: "a step above 0, or a list of at most 60 increasing levels",
	read: func(d *decoder, n *yaml.Node, name string, dst *Levels) {
		if n.Kind == yaml.SequenceNode {
			if len(n.Content) > mostLevels {
				d.fault(n, "give at most 60 levels", "%s has %d levels", name, len(n.Content))
				return
			}
			increasing("a level", -1e9, 1e9, 1).read(d, n, name, &dst.Values)
			return
		}
		number("a step", 1e-9, 1e9).read(d, n, name, &dst.Step)
	}}

// mostLevels is the most levels of a field.
const mostLevels = 60

// rangeForm is the least and the greatest value that colours are for.
var rangeForm = form[[2]float64]{legal: "two numbers, the lower first",
	read: func(d *decoder, n *yaml.Node, name string, dst *[2]float64) {
		var v []float64
		before := len(d.faults)
		increasing("a value", -1e9, 1e9, 2).read(d, n, name, &v)
		if len(d.faults) > before {
			return
		}
		if len(v) > 2 {
			d.fault(n, "give two numbers, the lower first", "%s has %d numbers", name, len(v))
			return
		}
		*dst = [2]float64(v)
	}}

var plotForm = mapping(shape[Plot]{at: func(p *Plot) *metadata.Position { return &p.At }},
	required(entry("y", func(p *Plot) *string { return &p.Y }, variable, "variable of the vertical axis", "", "oxy")),
	required(entry("x", func(p *Plot) *string { return &p.X }, variable, "variable of the horizontal axis", "",
		"asal")))

var figuresForm = mapping(shape[Figures]{
	legal: "none, or a list of kinds (" + strings.ReplaceAll(figureKind.legal, " or ", ", ") + ")",
	at:    func(f *Figures) *metadata.Position { return &f.At },
	short: func(d *decoder, n *yaml.Node, name string, f *Figures) bool {
		if n.Kind == yaml.ScalarNode && n.Value == "none" {
			f.None = true
			return true
		}
		list(figureKind).read(d, n, name, &f.Only)
		return true
	}},
	entry("only", func(f *Figures) *[]FigureKind { return &f.Only }, list(figureKind),
		"kinds to make; with profiles come the differences of two sensors, differences are those of repeated casts, "+
			"sensor_pairs and bottle_comparison show the tables of these names",
		"overview, section, velocity, temperature_salinity, map, field, profiles, anomaly, time_series, differences, "+
			"sensor_pairs and bottle_comparison",
		"[map, section]"),
	entry("formats", func(f *Figures) *[]Format { return &f.Formats }, list(oneOf(SVG, PDF, PNG)), "formats",
		"all three", "[svg]"),
	entry("widths", func(f *Figures) *[]Width { return &f.Widths }, list(oneOf(OneColumn, TwoColumns)), "widths",
		"two_columns", "[one_column, two_columns]"),
	entry("overlay", func(f *Figures) *string { return &f.Overlay }, words(sigmaNames...),
		"density lines over sections", "none", "sigma0"),
	entry("upper", func(f *Figures) *float64 { return &f.UpperDbar }, number("a number of dbar", 10, 5000),
		"bottom of the expanded upper panel", "scaled to the depth", "500"),
	entry("axis", func(f *Figures) *SecondAxis { return &f.Axis }, oneOf(Latitude, Longitude),
		"second axis of sections", "the one that varies more", "latitude"),
	entry("colour", func(f *Figures) *Colour { return &f.Colour }, oneOf(ByStation, ByLatitude),
		"what colours the casts of temperature_salinity, oxygen_density and profiles", "station", "latitude"),
	entry("levels", func(f *Figures) *map[string]Levels { return &f.Levels },
		perWord("variables with a step between level lines, or the levels", variableNames, "variable",
			"castwright help cruise-file lists them at its end", levelsForm),
		"level lines of sections, velocity and maps", "chosen from the values and their errors",
		"{ctemp: 0.5, oxy: [0, 50, 100, 200]}"),
	entry("range", func(f *Figures) *map[string][2]float64 { return &f.Range },
		perWord("variables with their least and greatest value", variableNames, "variable",
			"castwright help cruise-file lists them at its end", rangeForm),
		"values that levels and colours are for; those beyond have the colour of the end",
		"all values", "{asal: [34.5, 36]}"),
	entry("share", func(f *Figures) *bool { return &f.Share }, yesNo,
		"the same levels and colours in all sections", "no: those of each section", "yes"),
	entry("vertical", func(f *Figures) *Vertical { return &f.Vertical }, oneOf(ByPressure, ByDepth),
		"what the numbers of the vertical axis are", "pressure", "depth"),
	entry("dots", func(f *Figures) *bool { return &f.Dots }, yesNo,
		"a dot at each value of the casts on sections, where there is space", "no", "yes"),
	entry("plots", func(f *Figures) *[]Plot { return &f.Plots }, list(plotForm),
		"variables of casts against each other, coloured by pressure, with bottle values where they have some",
		"none", "[{y: oxy, x: asal}]"),
	entry("field_levels", func(f *Figures) *[]float64 { return &f.FieldLevels },
		increasing("a pressure in dbar", 0, 12000, 1), "pressures of the maps of fields (kind field)",
		"three: near the surface, half way down and the deepest with values in a third of the field",
		"[10, 200, 1000]"),
	entry("density_sections", func(f *Figures) *string { return &f.OnDensity }, words(sigmaNames...),
		"sections against this potential density too, in place of pressure", "none", "sigma0"),
	entry("resolution", func(f *Figures) *int { return &f.Resolution }, integer[int]("dots per inch", 72, 600),
		"resolution of PNG files", "300", "600"),
)
