package figure

import (
	"cmp"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
)

// sectionTitle returns the title of a section, or its name.
func sectionTitle(s *section.Section, title string) string { return cmp.Or(title, "Section "+s.Name) }

// variable returns a variable of the table, or one that has only a name.
func variable(name string) metadata.Variable {
	v, ok := metadata.ByName(name)
	if !ok {
		v.Name = name
	}
	return v
}

// titleOfField returns the subject of a picture of a field.
func titleOfField(f *gridding.Field, g *gridding.Grid) string {
	if f.Of != "" {
		of := f.Of
		if p := findField(g, f.Of); p != nil {
			of = nameText(&p.Variable)
		}
		switch f.Kind {
		case gridding.StandardError:
			v := metadata.Variable{Name: f.Of, Units: f.Units}
			return "Mapping error of " + lowerName(of) + bracketed(unitOf(&v))
		case gridding.RelativeError:
			return "Mapping error variance over signal variance, " + lowerName(of)
		case gridding.CountField:
			return "Number of data, " + lowerName(of)
		}
	}
	return titleText(&f.Variable)
}

// lowerName puts a name into a sentence: "Conservative Temperature" and "Absolute Salinity" keep their capitals.
func lowerName(n string) string {
	if strings.HasPrefix(n, "Conservative Temperature") || strings.HasPrefix(n, "Absolute Salinity") {
		return n
	}
	return lowerFirst(n)
}

// namesOf shortens what the table's long names say at more length than a figure has space for; derived variables have
// their labels in their registry.
var namesOf = map[string]string{
	"pres": "Sea pressure", "temp": "Temperature", "temp2": "Temperature, second sensor",
	"psal2": "Practical salinity, second sensor",
	"oxy2":  "Dissolved oxygen, second sensor", "oxy_ml": "Dissolved oxygen", "chl": "Chlorophyll fluorescence",
	"fluor": "Fluorescence", "cond": "Conductivity", "cond2": "Conductivity, second sensor",
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

// changeWords names the quantities of a change.
var changeWords = map[string]string{"_change": "change", "_change_on_density": "on density", "_heave": "heave"}

// nameText returns the name of a variable as pictures have it.
func nameText(v *metadata.Variable) string {
	if d := derived.Of(v.Name); d != nil && d.Label != "" {
		return d.Label
	}
	if n, ok := namesOf[v.Name]; ok {
		return n
	}
	if of, end := gridding.ChangeOf(v.Name); of != "" {
		q, ok := metadata.ByName(of)
		if !ok {
			q.Name = of
		}
		return nameText(&q) + ", " + changeWords[end]
	}
	return upperFirst(cmp.Or(v.LongName, v.Name))
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

// scales are the units of quantities that have none in UDUNITS.
var scales = map[string]string{"psal": "PSS-78", "psal2": "PSS-78", "salt_bottle": "PSS-78", "turb": "NTU"}

// unitOf returns the unit of a variable as figures print it; "1" where there is none.
func unitOf(v *metadata.Variable) string {
	return cmp.Or(scales[v.Name], chart.UnitText(v.Units), "1")
}

// titleText returns "Conservative Temperature (°C)".
func titleText(v *metadata.Variable) string { return nameText(v) + " (" + unitOf(v) + ")" }

// bracketed returns a unit in brackets; "" for none.
func bracketed(unit string) string {
	if unit == "" {
		return ""
	}
	return " (" + unit + ")"
}

// plural returns "1 station", "3 stations".
func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return chart.Number(float64(n), 0) + " " + many
}
