package units

import "math"

// A definition is one unit with all its spellings. The definitions are those of UDUNITS 2.2.28 (its published
// database), whose units follow the SI brochure (9th edition, 2019) and NIST Special Publication 811 (2008); the test
// asks the program for each.
type definition struct {
	names    []string // full names: any mixture of upper and lower case is the same
	symbols  []string // symbols: case matters
	prefixed bool     // prefixes may stand before it
	dim      dimension
	mantissa float64
	exponent int
	offset   float64
}

var (
	dimensionless = dimension{}
	length        = dimension{1}
	mass          = dimension{0, 1}
	duration      = dimension{0, 0, 1}
	temperature   = dimension{0, 0, 0, 1}
	amount        = dimension{0, 0, 0, 0, 1}
	current       = dimension{0, 0, 0, 0, 0, 1}
	speed         = dimension{1, 0, -1}
	volume        = dimension{3}
	transport     = dimension{3, 0, -1}
	frequency     = dimension{0, 0, -1}
	force         = dimension{1, 1, -2}
	pressure      = dimension{-1, 1, -2}
	energy        = dimension{2, 1, -2}
	power         = dimension{2, 1, -3}
	voltage       = dimension{2, 1, -3, 0, 0, -1}
	resistance    = dimension{2, 1, -3, 0, 0, -2}
	conductance   = dimension{-2, -1, 3, 0, 0, 2}
)

var definitions = [...]definition{
	{names: []string{"meter", "meters", "metre", "metres"}, symbols: []string{"m"}, prefixed: true, dim: length,
		mantissa: 1},
	{names: []string{"gram", "grams"}, symbols: []string{"g"}, prefixed: true, dim: mass, mantissa: 1, exponent: -3},
	{names: []string{"tonne", "tonnes"}, symbols: []string{"t"}, dim: mass, mantissa: 1, exponent: 3},
	{names: []string{"second", "seconds", "sec", "secs"}, symbols: []string{"s"}, prefixed: true, dim: duration,
		mantissa: 1},
	{names: []string{"minute", "minutes"}, symbols: []string{"min"}, dim: duration, mantissa: 60},
	{names: []string{"hour", "hours"}, symbols: []string{"h", "hr"}, dim: duration, mantissa: 3600},
	{names: []string{"day", "days"}, symbols: []string{"d"}, dim: duration, mantissa: 86400},
	{names: []string{"week", "weeks"}, dim: duration, mantissa: 604800},

	{names: []string{"kelvin", "kelvins", "degree_kelvin", "degrees_kelvin", "degree_k", "degrees_k"},
		symbols: []string{"K", "degK", "deg_K"}, prefixed: true, dim: temperature, mantissa: 1},
	{names: []string{"celsius", "degree_celsius", "degrees_celsius", "degree_c", "degrees_c", "degreec", "degreesc",
		"degc", "deg_c", "degsc", "degs_c"},
		symbols: []string{"°C"}, dim: temperature, mantissa: 1, offset: 273.15},
	{names: []string{"fahrenheit", "degree_fahrenheit", "degrees_fahrenheit", "degree_f", "degrees_f", "degf", "deg_f"},
		symbols: []string{"°F"}, dim: temperature, mantissa: 1 / 1.8, offset: 459.67 / 1.8},

	{names: []string{"mole", "moles"}, symbols: []string{"mol"}, prefixed: true, dim: amount, mantissa: 1},
	{names: []string{"einstein", "einsteins"}, prefixed: true, dim: amount, mantissa: 1},
	{names: []string{"ampere", "amperes"}, symbols: []string{"A"}, prefixed: true, dim: current, mantissa: 1},

	{names: []string{"percent"}, symbols: []string{"%"}, dim: dimensionless, mantissa: 1, exponent: -2},
	{symbols: []string{"ppm", "ppmv"}, dim: dimensionless, mantissa: 1, exponent: -6},
	{symbols: []string{"ppb", "ppbv"}, dim: dimensionless, mantissa: 1, exponent: -9},
	{names: []string{"count", "counts"}, dim: dimensionless, mantissa: 1},
	{names: []string{"radian", "radians"}, symbols: []string{"rad"}, dim: dimensionless, mantissa: 1},
	{names: []string{"degree", "degrees", "arc_degree", "arc_degrees",
		"degree_north", "degrees_north", "degree_n", "degrees_n", "degreen", "degreesn",
		"degree_east", "degrees_east", "degree_e", "degrees_e", "degreee", "degreese", "degree_true", "degrees_true",
		"degree_t", "degrees_t"},
		symbols: []string{"°"}, dim: dimensionless, mantissa: math.Pi / 180},
	{names: []string{"degree_west", "degrees_west", "degree_w", "degrees_w", "degreew", "degreesw"}, dim: dimensionless,
		mantissa: -math.Pi / 180},

	{names: []string{"liter", "liters", "litre", "litres"}, symbols: []string{"l", "L"}, prefixed: true, dim: volume,
		mantissa: 1, exponent: -3},
	{names: []string{"hertz"}, symbols: []string{"Hz"}, prefixed: true, dim: frequency, mantissa: 1},
	{names: []string{"newton", "newtons"}, symbols: []string{"N"}, prefixed: true, dim: force, mantissa: 1},
	{names: []string{"pascal", "pascals"}, symbols: []string{"Pa"}, prefixed: true, dim: pressure, mantissa: 1},
	// UDUNITS has no symbol: "dbar" is prefix and name
	{names: []string{"bar", "bars"}, prefixed: true, dim: pressure, mantissa: 1, exponent: 5},
	{names: []string{"atmosphere", "atmospheres"}, symbols: []string{"atm"}, dim: pressure, mantissa: 101325},
	{names: []string{"joule", "joules"}, symbols: []string{"J"}, prefixed: true, dim: energy, mantissa: 1},
	{names: []string{"watt", "watts"}, symbols: []string{"W"}, prefixed: true, dim: power, mantissa: 1},
	{names: []string{"volt", "volts"}, symbols: []string{"V"}, prefixed: true, dim: voltage, mantissa: 1},
	{names: []string{"ohm", "ohms"}, prefixed: true, dim: resistance, mantissa: 1},
	{names: []string{"siemens"}, symbols: []string{"S"}, prefixed: true, dim: conductance, mantissa: 1},

	{names: []string{"foot", "feet"}, symbols: []string{"ft"}, dim: length, mantissa: 0.3048},
	{names: []string{"nautical_mile", "nautical_miles", "nmile", "nmiles"}, dim: length, mantissa: 1852},
	{names: []string{"knot", "knots"}, symbols: []string{"kt", "kts"}, dim: speed, mantissa: 1852.0 / 3600},
	{names: []string{"sverdrup", "sverdrups"}, dim: transport, mantissa: 1, exponent: 6},
}

// Prefixes of the SI (9th brochure, table 7) that UDUNITS 2.2.28 knows.
var prefixes = [...]struct {
	name     string
	symbols  []string
	exponent int
}{
	{"yotta", []string{"Y"}, 24}, {"zetta", []string{"Z"}, 21}, {"exa", []string{"E"}, 18}, {"peta", []string{"P"}, 15},
	{"tera", []string{"T"}, 12}, {"giga", []string{"G"}, 9}, {"mega", []string{"M"}, 6}, {"kilo", []string{"k"}, 3},
	{"hecto", []string{"h"}, 2}, {"deka", []string{"da"}, 1}, {"deci", []string{"d"}, -1}, {"centi", []string{"c"}, -2},
	{"milli", []string{"m"}, -3}, {"micro", []string{"u", "µ", "μ"}, -6}, {"nano", []string{"n"}, -9},
	{"pico", []string{"p"}, -12},
	{"femto", []string{"f"}, -15}, {"atto", []string{"a"}, -18}, {"zepto", []string{"z"}, -21},
	{"yocto", []string{"y"}, -24},
}

// refusals are spellings that mean something else than their writer meant, or nothing. Those that UDUNITS accepts are
// marked. Sources: reference notes on CF units; UDUNITS 2.2.28 database.
var refusals = map[string]struct{ reason, remedy string }{
	// accepted
	"Sv":     {"in UDUNITS it is the sievert, a dose of radiation, of m2 s-2", `write "m3 s-1" and multiply by 1e6`},
	"PSU":    {"practical salinity has no unit", `write "1"`},
	"psu":    {"practical salinity has no unit", `write "1"`},
	"PSS-78": {"practical salinity has no unit; PSS-78 is its scale", `write "1"`},
	"pss-78": {"practical salinity has no unit; PSS-78 is its scale", `write "1"`},
	"PSS":    {"practical salinity has no unit", `write "1"`},
	"pss":    {"practical salinity has no unit", `write "1"`},
	"ppt":    {"parts per thousand to some, per trillion to UDUNITS", `write "1e-3" or "g kg-1"`}, // accepted
	"‰":      {"not a unit of UDUNITS", `write "1e-3" or "g kg-1"`},
	"NTU":    {"turbidity has no unit", `write "1" and name the scale in the comment`},
	"FNU":    {"turbidity has no unit", `write "1" and name the scale in the comment`},
	"FTU":    {"turbidity has no unit", `write "1" and name the scale in the comment`},
	"dyn m":  {"the dynamic metre has no unit name", `write "m2 s-2" and multiply by 10`},
	"dyn cm": {"the dynamic centimetre has no unit name", `write "m2 s-2" and multiply by 0.1`},
	// accepted
	"dynamic meter": {"in UDUNITS it is 9.80665 m2 s-2, not 10", `write "m2 s-2" and multiply by 10`},
	// accepted
	"dynamic meters": {"in UDUNITS it is 9.80665 m2 s-2, not 10", `write "m2 s-2" and multiply by 10`},
	"gpm":            {"the geopotential metre has no unit name", `write "m2 s-2" and multiply by 9.80665`}, //
	// accepted
	"degree Celsius": {"in UDUNITS it is an angle times a temperature", `write "degC"`},
	// accepted
	"degrees Celsius": {"in UDUNITS it is an angle times a temperature", `write "degC"`},
	// accepted
	"degree C": {"in UDUNITS C is the coulomb", `write "degC"`},
	// accepted
	"degrees C": {"in UDUNITS C is the coulomb", `write "degC"`},
	"deg C":     {"in UDUNITS C is the coulomb", `write "degC"`}, //
	"DEG C":     {"in UDUNITS C is the coulomb", `write "degC"`}, //
	// accepted
	"C": {"in UDUNITS it is the coulomb", `write "degC"`},
	// accepted
	"F":       {"in UDUNITS it is the farad", `write "degF"`},
	"ITS-90":  {"it is a scale of temperature", `write "degC"`}, //
	"IPTS-68": {"it is a scale of temperature", `write "degC"`}, //
	// accepted
	"year": {"UDUNITS means the tropical year; calendars mean another", "write days"},
	// accepted
	"years": {"UDUNITS means the tropical year; calendars mean another", "write days"},
	// accepted
	"month": {"UDUNITS means a twelfth of the tropical year; calendars mean another", "write days"},
	// accepted
	"months": {"UDUNITS means a twelfth of the tropical year; calendars mean another", "write days"},
	// accepted
	"fathom": {"international and survey fathoms differ", `convert to "m" by the one that is meant`},
	// accepted
	"fathoms":       {"international and survey fathoms differ", `convert to "m" by the one that is meant`},
	"none":          {"it is no unit", `write "1" for a dimensionless quantity`}, //
	"unitless":      {"it is no unit", `write "1" for a dimensionless quantity`}, //
	"dimensionless": {"it is no unit", `write "1" for a dimensionless quantity`}, //
	"n/a":           {"it is no unit", `write "1" for a dimensionless quantity`}, //
}
