package ingest

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
)

// mostColumns is the most columns that a file may have. Flags count.
const mostColumns = 2000

// columns reads the parameter line (given) and the unit line and decides what each column is.
func (x *exchange) columns(params []byte) bool {
	line, before := x.no, len(x.errs)
	names, at := fields(params, nil, nil)
	names = x.noTrailing(names, "parameter line")
	n := len(names)
	if n > mostColumns {
		x.fail(line, at[mostColumns]+1, "divide the file, or take columns out", "%d columns; the limit is %d", n,
			mostColumns)
		return false
	}
	for i := range names {
		names[i] = cutQuotes(names[i])
		if len(names[i]) == 0 {
			x.fail(line, at[i]+1, "name the column, or take its comma out of every line", "column %d of %d has no name",
				i+1, n)
		}
		for _, c := range names[i] {
			if c < ' ' || c > '~' {
				x.fail(line, at[i]+1, "write the name with capitals, digits and _",
					"column %d has a name of other characters than ASCII: %q", i+1, names[i])
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
			x.warn(metadata.Note, "exchange.column_case", "", line, at[i]+1, "",
				"column %s is not in capitals; read as %s", f.raw, up)
			f.raw = up
		}
		if strings.ContainsAny(f.raw, " =") {
			up := strings.NewReplacer(" ", "_", "=", "_").Replace(f.raw)
			x.warn(metadata.Note, "exchange.column_name", f.raw, line, at[i]+1, "",
				"column %q holds a blank or =; read as %s", f.raw, up)
			f.raw = up
		}
		for j := range i {
			if x.field[j].raw == f.raw && f.raw != "" {
				x.fail(line, at[i]+1, "give one of the two another name", "columns %d and %d are both called %s", j+1,
					i+1, f.raw)
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

// noPressure says that no column is pressure, and which may be meant: one of that name in another unit, else the first
// in dbar.
func (b *builder) noPressure(line int) {
	var all []string
	named, inDbar := -1, -1
	for i := range b.field {
		f := &b.field[i]
		all = append(all, f.raw)
		if named < 0 && metadata.ExchangeName(f.raw, b.bottle) == "CTDPRS" {
			named = i
		}
		if inDbar < 0 && metadata.ExchangeUnit(f.unit) == "DBAR" {
			inDbar = i
		}
	}
	message, likely := "no CTDPRS column; columns found: "+strings.Join(all, " "), inDbar
	if named >= 0 {
		message, likely = fmt.Sprintf("no pressure in dbar: %s has the unit %q", b.field[named].raw,
			b.field[named].unit), named
	}
	e := b.fail(line, 1, "name the pressure column CTDPRS with unit DBAR", "%s", message)
	if likely >= 0 {
		f := &b.field[likely]
		offer(e, "when "+f.raw+" is pressure in dbar, say so", metadata.Alias(f.raw, f.unit, "pres"))
	}
}

// noTrailing drops one empty field at the end of a line.
func (x *exchange) noTrailing(f [][]byte, what string) [][]byte {
	if n := len(f); n > 1 && len(f[n-1]) == 0 {
		x.warn(metadata.Note, "exchange.trailing_comma", "", x.no, 0, "",
			"%s ends in a comma; the empty field is left out", what)
		return f[:n-1]
	}
	return f
}

// unitLine takes the unit line of the columns. A number under pressure, or in the first field when no column is called
// pressure, says that the file has none.
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
			x.fail(x.no, 0, "copy the file again from where it was made",
				"the file ends after the parameter line: zero levels")
			return nil, 0
		}
		s := trim(l)
		if len(s) == 0 {
			x.warn(metadata.Note, "exchange.blank_lines", "", x.no, 0, "", "blank line in the head; skipped")
			continue
		}
		if s[0] == '#' {
			x.warn(metadata.Note, "exchange.comment_place", "", x.no, 0, "",
				"comment outside its place (after the first line); kept")
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
		x.warn(metadata.Warning, "exchange.unit_line", "", line, 1, "",
			"the unit line is absent; units are taken from the names where a name has one unit")
		return make([][]byte, n), line
	}
	switch {
	case len(unit) == n+1 && len(unit[n]) == 0:
		unit = x.noTrailing(unit, "unit line")
	case len(unit) == n-1:
		x.warn(metadata.Note, "exchange.unit_line", "", x.no, 0, "",
			"the unit line is one field short: %d for %d columns; the last is taken as empty", n-1, n)
		unit = append(unit, nil)
	case len(unit) != n:
		x.fail(x.no, 1, "give each column a unit or an empty field",
			"unit line has %d fields, the parameter line has %d", len(unit), n)
		return nil, 0
	}
	for i := range unit {
		unit[i] = x.unit(cutQuotes(unit[i]))
	}
	return unit, x.no
}

// unit returns a unit in ASCII: the micro sign and the degree sign are what turns up.
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

// asciiOnly returns the offset of the first byte that is not visible ASCII or blank; -1 for none.
func asciiOnly(s []byte) int {
	return bytes.IndexFunc(s, func(r rune) bool { return r < ' ' && r != '\t' || r > '~' })
}
