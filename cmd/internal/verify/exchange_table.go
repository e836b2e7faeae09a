package verify

import (
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/metadata"
)

// table checks parameter, unit and data lines from line n on.
func (x *exchangeCheck) table(lines []string, n int) {
	if n+1 >= len(lines) {
		x.fault("1.6", len(lines), 0, "", "ends before the parameter and unit lines")
		return
	}
	names := strings.Split(lines[n], ",")
	x.parameters(names, n+1)
	units := strings.Split(lines[n+1], ",")
	if len(units) != len(names) {
		x.fault("1.7", n+2, 0, "", "%d fields for %d parameters", len(units), len(names))
	}
	for k := range names {
		names[k] = strings.TrimSpace(names[k])
		if k < len(units) {
			x.unit(names[k], strings.TrimSpace(units[k]), n+2)
		}
	}
	end := -1
	for k := n + 2; k < len(lines); k++ {
		if lines[k] == "END_DATA" {
			end = k
			break
		}
	}
	if end < 0 {
		x.fault("1.11", len(lines), 0, "", "there is no line END_DATA")
		end = len(lines)
	}
	if end == n+2 {
		x.fault("1.8", end+1, 0, "", "there are no data lines")
	}
	x.rows(lines[n+2:end], n+3, names, units)
	for k := end + 1; k < len(lines); k++ {
		if !x.bottle && (strings.HasPrefix(lines[k], "CTD,") || strings.HasPrefix(lines[k], "NUMBER_HEADERS")) {
			x.fault("2.1", k+1, 0, "", "a second profile begins")
			break
		}
	}
}

func (x *exchangeCheck) parameters(names []string, line int) {
	seen := map[string]bool{}
	for k, p := range names {
		switch {
		case p == "":
			x.fault("1.6", line, 0, "", "parameter %d has no name", k+1)
		case !parameterOK.MatchString(p) || p != strings.ToUpper(p):
			x.fault("1.6", line, 0, p, "parameter %q is not visible capitals", p)
		case seen[p]:
			x.fault("1.6", line, 0, p, "occurs twice")
		}
		seen[p] = true
		if base, ok := strings.CutSuffix(p, "_FLAG_W"); ok && !slices.Contains(names, base) {
			x.fault("1.10", line, 0, p, "there is no %s that these flags belong to", base)
		}
	}
	if x.bottle {
		for _, need := range bottleNeeded {
			if !seen[need] {
				x.fault("4.1", line, 0, need, "is missing")
			}
		}
		return
	}
	if !seen["CTDPRS"] {
		x.fault("2.6", line, 0, "CTDPRS", "is missing")
	} else if names[0] != "CTDPRS" {
		x.warn("2.6", line, 0, "CTDPRS", "is not the first parameter")
	}
}

func (x *exchangeCheck) unit(name, unit string, line int) {
	if strings.HasSuffix(name, "_FLAG_W") {
		if unit != "" {
			x.fault("1.10", line, 0, name, "a flag column has the unit %q", unit)
		}
		return
	}
	if slices.Contains(identifiers, name) || name == "" {
		return
	}
	if _, ok := metadata.ByExchange(name, unit); !ok && !metadata.ListedPair(name, unit) {
		x.say(metadata.Note, "1.12", line, 0, name,
			"parameter and unit %q are not in the published list; readers copy such a column", unit)
	}
}

// isVariable reports whether the pair is one of our variables, whose values are numbers; other columns may hold text.
func isVariable(name, unit string) bool {
	if unit == "IPTS-68" || unit == "DEG C" {
		unit = "ITS-90"
	}
	_, ok := metadata.ByExchange(name, unit)
	return ok
}

// rows checks data lines.
func (x *exchangeCheck) rows(lines []string, first int, names, units []string) {
	type key struct{ a, b, c, d string }
	keys := map[key]int{}
	casts := map[key]bool{}
	var current key
	last := 0.0
	at := map[string]int{}
	for k, p := range names {
		at[p] = k
	}
	listed := make([]bool, len(names))
	for k, p := range names {
		listed[k] = k < len(units) && isVariable(p, strings.TrimSpace(units[k]))
	}
	for k, text := range lines {
		line := first + k
		if strings.HasPrefix(text, "#") || strings.TrimSpace(text) == "" {
			x.fault("1.4", line, 0, "", "a comment or empty line among the data")
			continue
		}
		if i := strings.IndexFunc(text, func(r rune) bool { return r < ' ' || r > '~' }); i >= 0 {
			x.fault("1.8", line, i+1, "", "a character that is not printable ASCII")
		}
		fields := strings.Split(text, ",")
		if len(fields) != len(names) {
			x.fault("1.8", line, 0, "", "%d fields for %d parameters", len(fields), len(names))
			continue
		}
		column := 1
		for c, raw := range fields {
			v := strings.TrimSpace(raw)
			x.field(names[c], v, line, column, listed[c])
			column += len(raw) + 1
		}
		value := func(p string) string {
			if c, ok := at[p]; ok {
				return strings.TrimSpace(fields[c])
			}
			return ""
		}
		if !x.bottle {
			if p, err := strconv.ParseFloat(value("CTDPRS"), 64); err == nil {
				if k > 0 && p <= last {
					x.warn("2.6", line, 0, "CTDPRS", "%g after %g", p, last)
				}
				last = p
			}
			continue
		}
		id := key{value("EXPOCODE"), value("STNNBR"), value("CASTNO"), value("SAMPNO")}
		if other, ok := keys[id]; ok {
			x.fault("4.2", line, 0, "", "the same expocode, station, cast and sample as line %d", other)
		}
		keys[id] = line
		cast := key{id.a, id.b, id.c, ""}
		if cast != current {
			if casts[cast] {
				x.warn("4.3", line, 0, "", "a line of cast %s/%s apart from its others", id.b, id.c)
			}
			casts[cast], current = true, cast
		}
	}
}

// isNumber reports whether a text is digits with one point at most and maybe a leading minus: without a regular
// expression, since there are millions of numbers.
func isNumber(s string) bool {
	s = strings.TrimPrefix(s, "-")
	points, digits := 0, 0
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			digits++
		case c == '.':
			points++
		default:
			return false
		}
	}
	return digits > 0 && points <= 1
}

// isMissing reports whether a text is -999 in any precision.
func isMissing(s string) bool {
	rest, ok := strings.CutPrefix(s, "-999")
	return ok && (rest == "" || rest[0] == '.' && strings.Trim(rest[1:], "0") == "")
}

func (x *exchangeCheck) field(name, v string, line, column int, listed bool) {
	if base, ok := strings.CutSuffix(name, "_FLAG_W"); ok {
		allowed := "123456789"
		if v == "8" && strings.HasPrefix(base, "CTD") {
			x.warn("1.10", line, column, name, "flag 8 is not used for CTD data")
			return
		}
		if len(v) != 1 || !strings.Contains(allowed, v) {
			x.fault("1.10", line, column, name, "flag %q is no digit of its set", v)
		}
		return
	}
	if x.bottle && slices.Contains(bottleNeeded, name) && (v == "" || isMissing(v)) {
		x.fault("4.1", line, column, name, "is not filled")
		return
	}
	if slices.Contains(identifiers, name) {
		if x.bottle && !isMissing(v) {
			x.identifier(name, v, line)
		}
		return
	}
	switch {
	case v == "":
		x.fault("1.9", line, column, name, "is empty")
	case isMissing(v):
		if v != "-999" {
			x.warn("1.9", line, column, name, "a missing value is written %s, since 1.2 it is -999", v)
		}
	case !isNumber(v) && listed:
		x.fault("1.8", line, column, name, "%q is not a number of digits, one point and a leading minus", v)
	case strings.Contains(v, "\""): // in a column of text: it is carried through as it is
		x.warn("1.8", line, column, name,
			"the text %q has quotes, which this format does not interpret and other readers do", v)
	}
}
