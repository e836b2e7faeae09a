package figure

import (
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/derived"
)

var raisedOf = map[rune]rune{'0': '⁰', '1': '¹', '2': '²', '3': '³', '4': '⁴', '5': '⁵', '6': '⁶', '7': '⁷', '8': '⁸', '9': '⁹', '-': '⁻'}

// unitText sets UDUNITS as one prints them: "umol kg-1" is µmol kg⁻¹. A dimensionless quantity has none.
func unitText(units string) string {
	switch units {
	case "1", "":
		return ""
	case "degC":
		return "°C"
	case "percent":
		return "%"
	case "degrees_north":
		return "°N"
	case "degrees_east":
		return "°E"
	}
	var out []string
	for _, f := range strings.Fields(units) {
		cut := strings.IndexFunc(f, func(r rune) bool { return r == '-' || unicode.IsDigit(r) })
		name, power := f, ""
		if cut > 0 {
			name, power = f[:cut], f[cut:]
		}
		if strings.HasPrefix(name, "umol") {
			name = "µ" + name[1:]
		}
		for _, r := range power {
			if q, ok := raisedOf[r]; ok {
				r = q
			}
			name += string(r)
		}
		out = append(out, name)
	}
	return strings.Join(out, noBreak)
}

// noBreak is the space inside a unit, at which no line is broken.
const noBreak = "\u00a0"

// namesOf shortens what the table's long names say at more length than a figure has space for; derived variables have their labels in their registry.
var namesOf = map[string]string{
	"pres": "Sea pressure", "temp": "Temperature", "temp2": "Temperature, second sensor",
	"psal2": "Practical salinity, second sensor",
	"oxy2":  "Dissolved oxygen, second sensor", "oxy_ml": "Dissolved oxygen", "chl": "Chlorophyll fluorescence", "fluor": "Fluorescence",
	"cond": "Conductivity", "cond2": "Conductivity, second sensor",
	"par": "Photosynthetically active light", "beamcp": "Beam attenuation, particles",
	"distance": "Distance", "velocity": "Geostrophic velocity",
}

// signOf returns the sign of a quantity for labels on lines; "" when it has none.
func signOf(name string) string {
	if d := derived.Of(name); d != nil {
		return d.Sign
	}
	return ""
}

func nameText(v *metadata.Variable) string {
	if d := derived.Of(v.Name); d != nil && d.Label != "" {
		return d.Label
	}
	if n, ok := namesOf[v.Name]; ok {
		return n
	}
	n := v.LongName
	if n == "" {
		n = v.Name
	}
	return upperFirst(n)
}

func upperFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

func lowerFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if next, _ := utf8.DecodeRuneInString(s[n:]); unicode.IsUpper(next) {
		return s
	}
	return string(unicode.ToLower(r)) + s[n:]
}

// titleText gives "Conservative Temperature (°C)".
func titleText(v *metadata.Variable) string { return withUnit(nameText(v), v.Units) }

func withUnit(name, units string) string {
	if u := unitText(units); u != "" {
		return name + " (" + u + ")"
	}
	return name
}

// latText and lonText print a coordinate with its side of the world.
func latText(v float64, decimals int) string {
	s := number(math.Abs(v), decimals)
	switch {
	case strings.Trim(s, "0.") == "":
		return "0°"
	case v < 0:
		return s + "°S"
	}
	return s + "°N"
}

func lonText(v float64, decimals int) string {
	v = wrap180(v)
	s := number(math.Abs(v), decimals)
	switch {
	case strings.Trim(s, "0.") == "":
		return "0°"
	case math.Abs(math.Abs(v)-180) < 1e-9:
		return "180°"
	case v < 0:
		return s + "°W"
	}
	return s + "°E"
}

// wrap180 brings a longitude into -180..180.
func wrap180(lon float64) float64 {
	lon = math.Mod(lon+180, 360)
	if lon < 0 {
		lon += 360
	}
	return round(lon - 180)
}

// unwrap makes longitudes run on over the antimeridian: each is within 180 degrees of the one before.
func unwrap(lon []float64) []float64 {
	out := append([]float64(nil), lon...)
	last := math.NaN()
	for k := range out {
		if math.IsNaN(out[k]) {
			continue
		}
		if !math.IsNaN(last) {
			out[k] = last + wrap180(out[k]-last)
		}
		last = out[k]
	}
	return out
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return number(float64(n), 0) + " " + many
}
