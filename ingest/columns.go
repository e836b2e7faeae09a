package ingest

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
	"github.com/castwright/castwright/section"
)

// kind says what a field of a data line is.
type kind uint8

const (
	numbers kind = iota
	flags
	texts
)

// field is one column of the data lines of a file.
type field struct {
	kind     kind
	known    bool // the quantity is in our table: what is no number is an error, not text
	pressure bool
	variable metadata.Variable
	ident    string // bottle files: the identification that the column holds, such as STNNBR
	raw      string // name as read
	unit     string // unit as listed
	of       int    // flags: the field that they belong to
	flagged  int    // numbers: the field of its flags; -1 none
	alias    *Alias // of the cruise file, that says what the column is; nil for none
	to90     bool   // IPTS-68 to be converted
	from     string // unit that an alias has converted, as listed; "" for none
	change   units.Conversion

	dst      []float64
	flg      []metadata.Flag
	txt      []string
	same     map[string]string
	seen     bool             // a value was read
	decimals int              // of the first value
	odd      []section.Digits // values with other digits than the first; of several at one level the last counts
	width    int              // of every value so far; -1 when they differ
}

// mostColumns is the most columns that a file may have. Flags count.
const mostColumns = 2000

// columns reads the parameter line (given) and the unit line and decides what each column is.
func (x *exchange) columns(params []byte) bool {
	line, before := x.no, len(x.errs)
	names, at := fields(params, nil, nil)
	names = x.noTrailing(names, "parameter line")
	n := len(names)
	if n > mostColumns {
		x.fail(line, at[mostColumns]+1, "divide the file, or take columns out", "%d columns; the limit is %d", n, mostColumns)
		return false
	}
	for i := range names {
		names[i] = cutQuotes(names[i])
		if len(names[i]) == 0 {
			x.fail(line, at[i]+1, "name the column, or take its comma out of every line", "column %d of %d has no name", i+1, n)
		}
		for _, c := range names[i] {
			if c < ' ' || c > '~' {
				x.fail(line, at[i]+1, "write the name with capitals, digits and _", "column %d has a name of other characters than ASCII: %q", i+1, names[i])
				break
			}
		}
	}
	if len(x.errs) > before {
		return false
	}
	unit, unitLine := x.unitLine(names)
	if unit == nil {
		return false
	}
	x.field = make([]field, n)
	for i := range x.field {
		f := &x.field[i]
		f.raw, f.unit, f.of, f.flagged = string(names[i]), string(unit[i]), -1, -1
		if up := strings.ToUpper(f.raw); up != f.raw {
			x.warn(metadata.Note, "exchange.column_case", "", line, at[i]+1, "", "column %s is not in capitals; read as %s", f.raw, up)
			f.raw = up
		}
		if strings.ContainsAny(f.raw, " =") {
			up := strings.NewReplacer(" ", "_", "=", "_").Replace(f.raw)
			x.warn(metadata.Note, "exchange.column_name", f.raw, line, at[i]+1, "", "column %q holds a blank or =; read as %s", f.raw, up)
			f.raw = up
		}
		for j := range i {
			if x.field[j].raw == f.raw && f.raw != "" {
				x.fail(line, at[i]+1, "give one of the two another name", "columns %d and %d are both called %s", j+1, i+1, f.raw)
			}
		}
	}
	if len(x.errs) > before {
		return false
	}
	x.meanings(line, unitLine, at)
	pres := -1
	for i := range x.field {
		if x.field[i].kind == numbers && x.field[i].variable.Name == "pres" {
			pres = i
			x.pressure, x.field[i].pressure = i, true
		}
	}
	if pres < 0 {
		x.noPressure(line)
		return false
	}
	return true
}

// noPressure says that no column is pressure, and which may be meant: one of that name in another unit, else the first in dbar.
func (x *exchange) noPressure(line int) {
	var all []string
	named, inDbar := -1, -1
	for i := range x.field {
		f := &x.field[i]
		all = append(all, f.raw)
		if named < 0 && metadata.ExchangeName(f.raw, x.bottle) == "CTDPRS" {
			named = i
		}
		if inDbar < 0 && metadata.ExchangeUnit(f.unit) == "DBAR" {
			inDbar = i
		}
	}
	message, likely := "no CTDPRS column; columns found: "+strings.Join(all, " "), inDbar
	if named >= 0 {
		message, likely = fmt.Sprintf("no pressure in dbar: %s has the unit %q", x.field[named].raw, x.field[named].unit), named
	}
	remedy := "name the pressure column CTDPRS with unit DBAR"
	if likely >= 0 {
		f := &x.field[likely]
		remedy += "; or, when " + f.raw + " is pressure in dbar, say so in the cruise file:\ncasts:\n  aliases:\n    " + metadata.AliasLine(f.raw, f.unit, "pres") + "\n"
	}
	x.fail(line, 1, remedy, "%s", message)
}

// noTrailing drops one empty field at the end of a line.
func (x *exchange) noTrailing(f [][]byte, what string) [][]byte {
	if n := len(f); n > 1 && len(f[n-1]) == 0 {
		x.warn(metadata.Note, "exchange.trailing_comma", "", x.no, 0, "", "%s ends in a comma; the empty field is left out", what)
		return f[:n-1]
	}
	return f
}

// unitLine takes the unit line of the columns. A number under pressure, or in the first field when no column is called pressure, says that the file has none.
func (x *exchange) unitLine(names [][]byte) (unit [][]byte, line int) {
	was, n, first := x.text, len(names), 0
	for i := range names {
		if metadata.ExchangeName(string(names[i]), x.bottle) == "CTDPRS" {
			first = i
		}
	}
	for {
		l, more := x.next()
		if !more {
			x.fail(x.no, 0, "copy the file again from where it was made", "the file ends after the parameter line: zero levels")
			return nil, 0
		}
		s := trim(l)
		if len(s) == 0 {
			x.warn(metadata.Note, "exchange.blank_lines", "", x.no, 0, "", "blank line in the head; skipped")
			continue
		}
		if s[0] == '#' {
			x.warn(metadata.Note, "exchange.comment_place", "", x.no, 0, "", "comment outside its place (after the first line); kept")
			x.addComment(s)
			continue
		}
		unit, _ = fields(l, nil, nil)
		break
	}
	isNumber := func(s []byte) bool {
		_, _, q, ok := scanNumber(s)
		return ok && q == plain
	}
	if first < len(unit) && isNumber(unit[first]) { // other columns may have the unit 1
		line = x.no
		x.pos, x.no = was.pos, was.no
		x.warn(metadata.Warning, "exchange.unit_line", "", line, 1, "", "the unit line is absent; units are taken from the names where a name has one unit")
		return make([][]byte, n), line
	}
	switch {
	case len(unit) == n+1 && len(unit[n]) == 0:
		unit = x.noTrailing(unit, "unit line")
	case len(unit) == n-1:
		x.warn(metadata.Note, "exchange.unit_line", "", x.no, 0, "", "the unit line is one field short: %d for %d columns; the last is taken as empty", n-1, n)
		unit = append(unit, nil)
	case len(unit) != n:
		x.fail(x.no, 1, "give each column a unit or an empty field", "unit line has %d fields, the parameter line has %d", len(unit), n)
		return nil, 0
	}
	for i := range unit {
		unit[i] = x.unit(cutQuotes(unit[i]))
	}
	return unit, x.no
}

// unit gives a unit in ASCII: the micro sign and the degree sign are what turns up.
func (x *exchange) unit(u []byte) []byte {
	if asciiOnly(u) < 0 {
		return u
	}
	s := string(u)
	if !utf8.Valid(u) { // Latin-1
		var b strings.Builder
		for _, c := range u {
			b.WriteRune(rune(c))
		}
		s = b.String()
	}
	clean := []byte(strings.NewReplacer("µ", "U", "μ", "U", "°", "DEG ", "\t", " ").Replace(s))
	for i := bytes.IndexFunc(clean, odd7); i >= 0; i = bytes.IndexFunc(clean, odd7) {
		_, n := utf8.DecodeRune(clean[i:])
		clean = append(append(bytes.Clone(clean[:i]), '?'), clean[i+n:]...)
	}
	clean = trim(clean)
	x.warn(metadata.Note, "exchange.unit_characters", "", x.no, 0, "", "unit %q is not in ASCII; read as %q", s, clean)
	return clean
}

func odd7(r rune) bool { return r < ' ' || r > '~' }

// meanings finds what each column is: flags of another column, a variable of the table, or a column carried through as it is.
func (x *exchange) meanings(line, unitLine int, at []int) {
	taken := map[string]bool{}
	byName := map[string]int{}
	// Exact names come first, so that a column under an old name beside the right one does not push it out.
	for pass := range 2 {
		for i := range x.field {
			f := &x.field[i]
			if isFlagName(f.raw) || f.variable.Name != "" {
				continue
			}
			if name := metadata.ExchangeName(f.raw, x.bottle); x.bottle && identification(name) {
				if (pass == 1 || name == f.raw) && !taken[name] {
					taken[name] = true
					f.ident, f.kind, f.known, f.variable.Name = name, texts, true, name
					if pass == 1 {
						x.warn(metadata.Note, "exchange.column_alias", name, line, at[i]+1, "", "column %s read as %s", f.raw, name)
					}
				}
				continue
			}
			v, ok := x.alias(f)
			listed := metadata.ExchangeName(f.raw, x.bottle)
			if !ok && (pass == 1 || listed == f.raw) {
				v, ok = x.listed(f, listed, line, unitLine, at[i]+1, taken)
			}
			if !ok || taken[v.Name] {
				continue
			}
			if v.Exchange != f.raw && x.has(v.Exchange, i) { // another column has that name: in a file of ours they could not be told apart
				continue
			}
			f.variable, f.known = v, true
			taken[v.Name] = true
			if sensor := strings.TrimSuffix(v.Name, "_bottle"); !x.bottle && sensor != v.Name && f.alias == nil {
				x.warn(metadata.Warning, "exchange.bottle_column", v.Name, line, at[i]+1, "if it is of the sensor, say so in the cruise file:\ncasts:\n  aliases:\n    "+
					metadata.AliasLine(f.raw, "", map[string]string{"salt": "psal", "oxy": "oxy"}[sensor]), "column %s is that of water samples, in a CTD file; kept as %s", f.raw, v.Name)
			}
			if pass == 1 {
				x.warn(metadata.Note, "exchange.column_alias", v.Name, line, at[i]+1, "", "column %s read as %s", f.raw, v.Exchange)
			}
		}
	}
	x.aliasConflicts()
	for i := range x.field {
		f := &x.field[i]
		if isFlagName(f.raw) {
			continue
		}
		byName[f.raw] = i
		if !f.known {
			x.unlisted(f, line, at[i]+1, taken)
		}
	}
	for i := range x.field {
		if f := &x.field[i]; f.ident != "" {
			byName[f.ident] = i
		} else if f.known && f.variable.Exchange != "" {
			if _, there := byName[f.variable.Exchange]; !there {
				byName[f.variable.Exchange] = i
			}
		}
	}
	x.flagColumns(line, at, byName, taken)
}

// aliasConflicts is an error for each column that the cruise file calls a variable which another column is.
func (x *exchange) aliasConflicts() {
	for i := range x.field {
		f := &x.field[i]
		if f.alias == nil || f.known {
			continue
		}
		a := f.alias
		v, ok := metadata.ByName(a.Means)
		other := slices.IndexFunc(x.field, func(g field) bool {
			return g.known && g.variable.Name == v.Name || g.raw == v.Exchange && v.Exchange != ""
		})
		if !ok || other < 0 { // no variable of that name: an error already
			continue
		}
		err := &metadata.InputError{Position: a.At, Err: fmt.Errorf("column %s cannot be %s: column %s is that already; the file is not read", f.raw, v.Name,
			x.field[other].raw), Remedy: "say of one of the two columns what it is"}
		if w, there := metadata.ByName(v.Name + "2"); there {
			err.Remedy = fmt.Sprintf("when %s is of the second sensor, write this in its place:\ncasts:\n  aliases:\n    %s", f.raw, metadata.AliasLine(f.raw, a.Unit, w.Name))
		}
		x.errs = append(x.errs, err)
	}
}

// flagColumns joins WOCE flags to their columns: those of the listed name first, then those of the name as read.
func (x *exchange) flagColumns(line int, at []int, byName map[string]int, taken map[string]bool) {
	for pass := range 2 {
		for i := range x.field {
			f := &x.field[i]
			base, woce := strings.CutSuffix(f.raw, "_FLAG_W")
			if !woce || f.of >= 0 {
				continue
			}
			j, ok := byName[base]
			if pass == 0 && ok && x.field[j].known && x.field[j].ident == "" && x.field[j].variable.Exchange != base {
				continue
			}
			if !ok && pass == 1 {
				j, ok = byName[metadata.ExchangeName(base, x.bottle)]
			}
			if ok && x.field[j].flagged < 0 && (x.field[j].kind == numbers && !isFlagName(x.field[j].raw) || x.field[j].ident == "BTLNBR") {
				f.kind, f.of = flags, j
				x.field[j].flagged = i
			}
		}
	}
	for i := range x.field {
		f := &x.field[i]
		if !isFlagName(f.raw) || f.of >= 0 {
			continue
		}
		f.kind = texts
		base, woce := strings.CutSuffix(f.raw, "_FLAG_W")
		if !woce {
			f.variable = x.carried(f, taken)
			x.warn(metadata.Note, "exchange.flag_scheme", f.raw, line, at[i]+1, "", "column %s holds flags of another scheme; kept as text, not read as WOCE flags", f.raw)
			continue
		}
		x.warn(metadata.Warning, "exchange.flag_column", f.raw, line, at[i]+1, "", "column %s belongs to no column of numbers, or to one that has flags already; kept as text", f.raw)
		f.raw = x.flagsAsRead(base, i)
		f.variable = x.carried(f, taken)
	}
}

// flagsAsRead returns a name for the column i of flags that belong to no column of numbers: none that ends in _FLAG_W, since in the format such a
// column must belong to another.
func (x *exchange) flagsAsRead(base string, i int) string {
	name := base + "_FLAG_AS_READ"
	for x.has(name, i) {
		base += "_2"
		name = base + "_FLAG_AS_READ"
	}
	return name
}

func (x *exchange) has(raw string, but int) bool {
	for i := range x.field {
		if i != but && x.field[i].raw == raw {
			return true
		}
	}
	return false
}

// isFlagName tells flag columns by name: the WOCE ones and those of other schemes.
func isFlagName(s string) bool {
	return strings.HasSuffix(s, "_FLAG_W") || strings.HasSuffix(s, "_FLAG_I") || strings.HasSuffix(s, "_FLAG_U") || strings.HasSuffix(s, "_FLAG_AS_READ") || s == "QUALT1" || s == "QUALT2"
}

// names reports whether an alias is for a column.
func (a *Alias) names(f *field) bool {
	return (a.Column != "" || a.Unit != "") && (a.Column == "" || strings.EqualFold(a.Column, f.raw)) &&
		(a.Unit == "" || strings.EqualFold(a.Unit, f.unit) || strings.EqualFold(a.Unit, metadata.ExchangeUnit(f.unit)))
}

// alias looks the column up in what the cruise file says.
func (x *exchange) alias(f *field) (metadata.Variable, bool) {
	for i := range x.o.Aliases {
		a := x.o.Aliases[i]
		if !a.names(f) {
			continue
		}
		f.alias = &a
		v, ok := metadata.ByName(a.Means)
		if !ok {
			x.errs = append(x.errs, &metadata.InputError{Position: a.At, Err: fmt.Errorf("alias of column %s: no variable is called %q", a.Column, a.Means),
				Remedy: "use a variable name of the table, such as temp2 or psal2"})
			return v, false
		}
		f.to90 = v.Scale == "ITS-90" && metadata.ExchangeUnit(f.unit) == "IPTS-68"
		if !f.to90 {
			x.convert(f, &v)
		}
		if v.Exchange == "" { // the format has no name for it: it keeps the one it came with
			v.Exchange, v.ExchangeUnit = f.raw, metadata.ExchangeUnit(f.unit)
			switch {
			case f.to90:
				v.ExchangeUnit = "ITS-90"
			case f.from != "":
				v.ExchangeUnit = exchangeUnitOf(v.Units)
			}
		}
		return v, true
	}
	return metadata.Variable{}, false
}

// listed looks up the pair of parameter and unit.
func (x *exchange) listed(f *field, name string, line, unitLine, column int, taken map[string]bool) (metadata.Variable, bool) {
	unit := metadata.ExchangeUnit(f.unit)
	v, ok := metadata.ByExchange(name, unit)
	if ok {
		if unit != f.unit && !taken[v.Name] {
			x.warn(metadata.Note, "exchange.unit", v.Name, unitLine, 0, "", "unit %q of %s read as %s", f.unit, f.raw, unit)
		}
		f.unit = unit
		return v, true
	}
	if v, ok = metadata.ByExchange(name, "ITS-90"); ok { // temperatures have two further units
		switch {
		case taken[v.Name]:
			return v, false
		case unit == "IPTS-68":
			f.to90 = true
			f.unit = unit
			return v, true
		case unit == "DEG C" || unit == "":
			x.warn(metadata.Warning, "exchange.temperature_scale", v.Name, unitLine, 0, "write ITS-90 or IPTS-68 in the unit line when you know which it is",
				"unit %q of %s does not say the temperature scale; taken as ITS-90", f.unit, f.raw)
			f.unit, v.ExchangeUnit, v.Scale = "DEG C", "DEG C", ""
			v.Comment = "the file does not say the temperature scale; taken as ITS-90"
			return v, true
		}
		return v, false
	}
	if unit != "" {
		return v, false
	}
	one := 0
	for _, u := range metadata.Variables() {
		if u.Exchange == name && name != "" {
			v, one = u, one+1
		}
	}
	if one != 1 || taken[v.Name] {
		return v, false
	}
	x.warn(metadata.Warning, "exchange.unit", v.Name, unitLine, 0, "", "column %s has no unit; taken as %s", f.raw, v.ExchangeUnit)
	f.unit = v.ExchangeUnit
	return v, true
}

// secondSensor guesses what a listed name with a 2 behind it (CTDTMP2) means: the second sensor of that variable, in its unit; "..." when
// there is none.
func secondSensor(name, unit string) string {
	for _, v := range metadata.Variables() {
		if v.Exchange != "" && name == v.Exchange+"2" && metadata.ExchangeUnit(unit) == v.ExchangeUnit {
			if w, ok := metadata.ByName(v.Name + "2"); ok {
				return w.Name
			}
		}
	}
	return "..."
}

// unlisted makes a column that is carried through.
func (x *exchange) unlisted(f *field, line, column int, taken map[string]bool) {
	f.variable = x.carried(f, taken)
	means, known := "...", []string{}
	for _, v := range metadata.Variables() {
		if v.Exchange != "" && v.Exchange == metadata.ExchangeName(f.raw, x.bottle) {
			if means == "..." {
				means = v.Name
			}
			known = append(known, v.ExchangeUnit)
		}
	}
	if means == "..." {
		means = secondSensor(f.raw, f.unit)
	}
	when := "if it is one of our variables"
	if len(known) > 0 && !taken[means] {
		when = "when its values are in " + strings.Join(known, " or ") + " all the same"
		if converts(f.unit, means) {
			when = "to have it converted"
		}
	}
	remedy := when + ", say so in the cruise file:\ncasts:\n  aliases:\n    " + metadata.AliasLine(f.raw, f.unit, means)
	if len(known) > 0 && !taken[means] {
		x.warn(metadata.Warning, "exchange.unlisted", f.raw, line, column, remedy, "column %s has unit %q, which is none of its known units (%s); copied unchanged", f.raw, f.unit, strings.Join(known, ", "))
		return
	}
	if metadata.ListedPair(f.raw, f.unit) {
		x.warn(metadata.Note, "exchange.unlisted", f.raw, line, column, "", "column %s with unit %q is in the parameter list of the format, but nothing is computed from it; copied unchanged", f.raw, f.unit)
		return
	}
	x.warn(metadata.Note, "exchange.unlisted", f.raw, line, column, remedy, "column %s with unit %q is not a known variable; copied unchanged", f.raw, f.unit)
}

// carried gives a column that is not in the table a variable of its own, named after it.
func (x *exchange) carried(f *field, taken map[string]bool) metadata.Variable {
	b := []byte(strings.ToLower(f.raw))
	for i, c := range b {
		if !(c >= 'a' && c <= 'z' || c >= '0' && c <= '9') {
			b[i] = '_'
		}
	}
	name := string(b)
	if name == "" || name[0] < 'a' {
		name = "column_" + strings.TrimLeft(name, "_")
	}
	if _, ours := metadata.ByName(name); ours {
		name = "column_" + name
	}
	for base, i := name, 2; taken[name]; i++ {
		name = fmt.Sprintf("%s_%d", base, i)
	}
	taken[name] = true
	return metadata.Variable{Name: name, LongName: f.raw + " as read", Exchange: f.raw, ExchangeUnit: f.unit,
		ValidMin: math.NaN(), ValidMax: math.NaN(), ExchangeDecimals: -1}
}

// asciiOnly gives the offset of the first byte that is not visible ASCII or blank; -1 for none.
func asciiOnly(s []byte) int {
	return bytes.IndexFunc(s, func(r rune) bool { return r < ' ' && r != '\t' || r > '~' })
}
