package cf

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
)

// meaning checks what the values of a variable are: rules 7 to 10 and 13 to 20.
func (v *variable) meaning() {
	lo, hi := v.validRange()
	v.fill(lo, hi)
	v.actualRange(lo, hi)
	if v.boundsOf != nil {
		return
	}
	if v.Text("long_name") == "" && v.standardName() == "" && !v.has("grid_mapping_name") && !v.has("compress") {
		v.fault(19, "has neither long_name nor standard_name")
	}
	named, canonical, modifier := v.names()
	if v.Floats("units") != nil {
		v.fault(13, "units is not a string")
	} else if v.number {
		v.unitsOf(named, canonical, modifier)
	}
}

// tableVersion is that of metadata.StandardNameTable.
const tableVersion = 83

// modifiers of standard names (CF Appendix C): units, "" those of the name, and whether the modifier is deprecated.
var modifiers = map[string]struct {
	units      string
	deprecated bool
}{"": {}, "detection_minimum": {}, "standard_error": {}, "number_of_observations": {"1", true},
	"status_flag": {"", true}}

var vocabularyVersion = regexp.MustCompile(`v?(\d+)\s*$`)

// names checks rule 20. It reports whether the standard name is in the table, and returns the units that it asks for
// and its modifier.
func (v *variable) names() (named bool, canonical, modifier string) {
	if !v.has("standard_name") {
		return false, "", ""
	}
	words := v.list("standard_name")
	if len(words) == 0 {
		v.fault(20, "standard_name is not a word")
		return false, "", ""
	}
	if len(words) > 2 {
		v.fault(20, "standard_name %q has more than one modifier", v.standardName())
	}
	if len(words) > 1 {
		modifier = words[1]
	}
	m, known := modifiers[modifier]
	if !known {
		v.fault(20, "%q is no modifier of standard names", modifier)
		modifier = ""
	}
	if m.deprecated {
		v.say(should, 20, "modifier %s is deprecated", modifier)
	}
	canonical, alias, named := metadata.StandardName(words[0])
	if !named {
		k := must
		if newer := vocabularyVersion.FindStringSubmatch(v.c.Text("standard_name_vocabulary")); newer != nil {
			if n, err := strconv.Atoi(newer[1]); err == nil && n > tableVersion {
				k = should
			}
		}
		v.say(k, 20, "standard name %q is not in table v%d", words[0], tableVersion)
		return false, "", modifier
	}
	if alias {
		other := metadata.StandardNameAlias(words[0])
		v.say(should, 20, "standard name %s is an alias of %s", words[0], other)
		canonical, _, _ = metadata.StandardName(other)
	}
	if modifier == "status_flag" || m.units != "" {
		canonical = m.units
	}
	return true, canonical, modifier
}

var numberFirst = regexp.MustCompile(`^\s*[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][-+]?[0-9]+)?`)

// factor reports whether units are a number times a unit. A number alone, such as 0.001 or 1e-3, is a unit.
func factor(text string) bool {
	rest := strings.TrimPrefix(text, numberFirst.FindString(text))
	return rest != text && strings.TrimLeft(rest, " \t*.·") != rest && strings.ContainsFunc(rest, unicode.IsLetter)
}

// fractions are units that may not be beside a standard name (CF 3.1).
var fractions = []string{"ppv", "ppmv", "ppbv", "pptv", "ppqv"}

// unitsOf checks rules 13 to 18.
func (v *variable) unitsOf(named bool, canonical, modifier string) {
	text := v.Text("units")
	if text == "" {
		switch {
		case canonical != "" && canonical != "1":
			v.fault(13, "has a standard name of units %s and no units", canonical)
		case v.c.ours && v.Type == nc.Double && canonical == "" && v.Text("comment") == "" &&
			v.Text("exchange_name") == "" && v.Text("source_name") == "":
			v.fault(13, "has neither units nor a word about them")
		}
		return
	}
	if factor(text) {
		v.fault(15, "units %q have a number in front", text)
	}
	if named && slices.Contains(fractions, append(strings.Fields(text), "")[0]) {
		v.fault(15, "units %s are not allowed beside a standard name", text)
		return
	}
	plain, isTime, problem := referenceTime(text, v.Text("calendar"))
	if problem != "" {
		v.fault(30, "units of time %q: %s", text, problem)
		return
	}
	u, err := units.Parse(plain)
	if err != nil {
		v.fault(map[bool]int{true: 30, false: 13}[isTime], "units %q: %v", text, err)
		return
	}
	_, reference := u.Reference()
	if named && !strings.Contains(v.Text("cell_methods"), "variance") {
		switch isTime := v.standardName() == "time"; {
		case isTime && !reference:
			v.fault(14, "units of time %q count from no date", text)
		case !isTime && canonical != "" && !convertible(plain, canonical):
			v.fault(14, "units %s do not convert to %s, those of %s", text, canonical, v.standardName())
		}
	}
	v.temperature(text, modifier, reference)
}

var (
	temperatureWord = regexp.MustCompile(`(?:^|[^A-Za-z_])(?:K|kelvin|degC|[cC]elsius|degrees?_C)(?:$|[^A-Za-z_])`)
	spreadWord      = regexp.MustCompile(`standard_deviation|variance|(?:^|[^\w])range\b`)
)

// temperature checks rules 16 to 18; reference is whether the units count from a date.
func (v *variable) temperature(text, modifier string, reference bool) {
	meta, has, warm := v.Text("units_metadata"), v.has("units_metadata"), convertible(text, "K")
	spread := modifier == "standard_error" || spreadWord.MatchString(v.Text("cell_methods"))
	switch {
	case !has:
	case slices.Contains([]string{"temperature: on_scale", "temperature: difference", "temperature: unknown"}, meta):
		if !warm && !temperatureWord.MatchString(text) {
			v.fault(16, "units_metadata on units %s, which are no temperature", text)
		}
	case slices.Contains([]string{"leap_seconds: none", "leap_seconds: utc", "leap_seconds: unknown"}, meta):
		if !reference {
			v.fault(16, "units_metadata of time on units %s", text)
		}
		v.say(own, 16, "leap_seconds was dropped again in CF 1.13")
	default:
		v.fault(16, "units_metadata %q is not a known value", meta)
	}
	switch {
	case warm && spread && has && meta != "temperature: difference":
		v.fault(17, "is an error or spread and units_metadata is %q", meta)
	case warm && spread && !has:
		v.say(later, 17, "is an error or spread of temperature and units_metadata does not say so")
	case warm && !has:
		v.fault(18, "has no units_metadata")
	}
}
