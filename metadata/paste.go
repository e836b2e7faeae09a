package metadata

import (
	"strconv"
	"strings"
)

// The functions below give lines of a cruise file that get a person past a finding, ready to paste. Each is one line of YAML; the remedy
// that carries it says under which key it goes ("under casts: leave_out:"). ingest/cruisefile tests that it reads them back.

// LeaveOutFile is an item of casts: leave_out: for a file, named relative to the cruise file.
func LeaveOutFile(file, reason string) string {
	return "- {file: " + quoteYAML(file) + ", reason: " + quoteYAML(reason) + "}"
}

// LeaveOutCastLine is an item of casts: leave_out: for a cast of one leg.
func LeaveOutCastLine(expocode, station, number, reason string) string {
	return "- {cast: " + quoteYAML(LegCastText(expocode, station, number)) + ", reason: " + quoteYAML(reason) + "}"
}

// AliasLine is an item of casts: aliases:; column or unit may be "" when it does not matter.
func AliasLine(column, unit, means string) string {
	var parts []string
	if column != "" {
		parts = append(parts, "column: "+quoteYAML(column))
	}
	if unit != "" {
		parts = append(parts, "unit: "+quoteYAML(unit))
	}
	return "- {" + strings.Join(append(parts, "means: "+quoteYAML(means)), ", ") + "}"
}

// RenumberLine is an item of casts: renumber: for a cast of one leg; the expocode may be "" where all legs have numbers of their own.
func RenumberLine(expocode, station, number, toStation, toNumber, why string) string {
	return "- {from: " + quoteYAML(LegCastText(expocode, station, number)) + ", to: " + quoteYAML(CastText(toStation, toNumber)) + ", why: " + quoteYAML(why) + "}"
}

// RenumberFile is an item of casts: renumber: for the cast of a file, named relative to the cruise file.
func RenumberFile(file, toStation, toNumber, why string) string {
	return "- {file: " + quoteYAML(file) + ", to: " + quoteYAML(CastText(toStation, toNumber)) + ", why: " + quoteYAML(why) + "}"
}

// LegLine is an item of cruise: legs:.
func LegLine(expocode string) string { return "- {expocode: " + quoteYAML(expocode) + "}" }

// MaxGapLine is a key of casts: or of a section; infinity is none.
func MaxGapLine(dbar float64) string {
	if dbar > 1e300 {
		return "max_gap: none"
	}
	return "max_gap: " + strconv.FormatFloat(dbar, 'f', -1, 64)
}

// CastText writes one cast in the notation of station lists: station/number, or the station alone. Names with other characters than
// letters, digits, underscore and full stop stand in double quotes there.
func CastText(station, number string) string {
	if number == "" {
		return quoteStation(station)
	}
	return quoteStation(station) + "/" + quoteStation(number)
}

// LegCastText is CastText with the expocode of the leg before it, unless that is "".
func LegCastText(expocode, station, number string) string {
	if expocode == "" {
		return CastText(station, number)
	}
	return quoteStation(expocode) + ":" + CastText(station, number)
}

func quoteStation(s string) string {
	for i := 0; i < len(s); i++ {
		if c := s[i]; c != '_' && c != '.' && (c < '0' || c > '9') && (c < 'A' || c > 'Z') && (c < 'a' || c > 'z') {
			return `"` + s + `"`
		}
	}
	if s == "" || s == "all" || s == "except" {
		return `"` + s + `"`
	}
	return s
}

// quoteYAML writes text as one YAML scalar for use inside { }: bare when that cannot be misread, else in double quotes.
func quoteYAML(s string) string {
	bare := s != "" && s[0] != '-' && s[0] != '.' && s[0] != ' ' && s[len(s)-1] != ' '
	for i := 0; i < len(s) && bare; i++ {
		c := s[i]
		bare = c == ' ' && s[i-1] != ' ' || strings.IndexByte("_-./", c) >= 0 || '0' <= c && c <= '9' || 'A' <= c && c <= 'Z' || 'a' <= c && c <= 'z'
	}
	switch strings.ToLower(s) {
	case "null", "none", "true", "false", "yes", "no", "on", "off", "y", "n":
		bare = false
	}
	if bare {
		return s
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < ' ' || r >= 0x7F && r < 0xA0 || r == 0x2028 || r == 0x2029 || r == 0xFEFF || r == 0xFFFD:
			b.WriteByte('?')
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
