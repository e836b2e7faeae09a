package metadata

import (
	"strconv"
	"strings"
)

// A Paste is a piece of a cruise file, ready to paste: Items under Keys, the outermost key first.
type Paste struct {
	Keys  []string
	Items []string
}

// String returns the lines of the piece.
func (p Paste) String() string {
	var lines []string
	for i, k := range p.Keys {
		lines = append(lines, strings.Repeat("  ", i)+k+":")
	}
	for _, item := range p.Items {
		lines = append(lines, strings.Repeat("  ", len(p.Keys))+item)
	}
	return strings.Join(lines, "\n")
}

// MarshalText returns the lines of the piece.
func (p Paste) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// An Option is one way on from a finding: what it does, and the piece of a cruise file that does it.
type Option struct {
	Text  string `json:"text"`
	Paste Paste  `json:"paste"`
}

// Advice returns what a person can do in words: the remedy, then the options with their pieces of a cruise file.
func Advice(remedy string, options []Option) string {
	s := remedy
	for i, o := range options {
		switch {
		case i > 0:
			s += "\nor "
		case s != "":
			s += "; or "
		}
		if o.Text == "" {
			s += "this:\n" + o.Paste.String()
			continue
		}
		s += o.Text + " with this in the cruise file:\n" + o.Paste.String()
	}
	return s
}

// LeaveOutFile leaves out a file, named relative to the cruise file.
func LeaveOutFile(file, reason string) Paste {
	return Paste{[]string{"casts", "leave_out"}, []string{"- {file: " + quoteYAML(file) + ", reason: " +
		quoteYAML(reason) + "}"}}
}

// LeaveOutCast leaves out a cast of one leg.
func LeaveOutCast(expocode, station, number, reason string) Paste {
	return Paste{[]string{"casts", "leave_out"},
		[]string{"- {cast: " + quoteYAML(LegCastText(expocode, station, number)) + ", reason: " + quoteYAML(reason) +
			"}"}}
}

// Alias says what a column is; column or unit may be "" when it does not matter.
func Alias(column, unit, means string) Paste {
	var parts []string
	if column != "" {
		parts = append(parts, "column: "+quoteYAML(column))
	}
	if unit != "" {
		parts = append(parts, "unit: "+quoteYAML(unit))
	}
	return Paste{[]string{"casts", "aliases"}, []string{"- {" + strings.Join(append(parts, "means: "+quoteYAML(means)),
		", ") + "}"}}
}

// Renumber returns a cast of one leg another number; the expocode may be "" where all legs have numbers of their own.
func Renumber(expocode, station, number, toStation, toNumber, why string) Paste {
	return Paste{[]string{"casts", "renumber"},
		[]string{"- {from: " + quoteYAML(LegCastText(expocode, station, number)) + ", to: " +
			quoteYAML(CastText(toStation, toNumber)) + ", why: " + quoteYAML(why) + "}"}}
}

// RenumberFile returns the cast of a file, named relative to the cruise file, another number.
func RenumberFile(file, toStation, toNumber, why string) Paste {
	return Paste{[]string{"casts", "renumber"}, []string{"- {file: " + quoteYAML(file) + ", to: " +
		quoteYAML(CastText(toStation, toNumber)) + ", why: " +
		quoteYAML(why) + "}"}}
}

// Legs declares the legs of the cruise.
func Legs(expocodes ...string) Paste {
	p := Paste{Keys: []string{"cruise", "legs"}}
	for _, e := range expocodes {
		p.Items = append(p.Items, "- {expocode: "+quoteYAML(e)+"}")
	}
	return p
}

// Lenient has lines that cannot be read skipped.
func Lenient() Paste { return Paste{[]string{"casts"}, []string{"lenient: yes"}} }

// ListStations returns a section or field of this name, under the key list, its stations.
func ListStations(list, name, stations string) Paste {
	return Paste{[]string{list}, []string{"- {name: " + name + ", stations: " + strconv.QuoteToGraphic(stations) + "}"}}
}

// SectionGap sets the widest step that is bridged in a section.
func SectionGap(name string, dbar float64) Paste {
	return Paste{[]string{"sections"}, []string{"- {name: " + name + ", max_gap: " + GapText(dbar) + "}"}}
}

// GapText writes the widest step that is bridged, in dbar; infinity is none.
func GapText(dbar float64) string {
	if dbar > 1e300 {
		return "none"
	}
	return strconv.FormatFloat(dbar, 'f', -1, 64)
}

// CastText writes one cast in the notation of station lists: station/number, or the station alone. Names with other
// characters than letters, digits, underscore and full stop stand in double quotes there.
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
		bare = c == ' ' && s[i-1] != ' ' || strings.IndexByte("_-./", c) >= 0 || '0' <= c && c <= '9' || 'A' <= c &&
			c <= 'Z' || 'a' <= c && c <= 'z'
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
