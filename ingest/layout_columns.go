package ingest

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
	"github.com/castwright/castwright/section"
)

// layoutCast is one cast of a file with a layout: a builder of columns and the facts of its head.
type layoutCast struct {
	*layoutReader
	builder
	*report
	block     *block
	cast      section.Cast
	nth       int   // the how manieth cast of the file with this station
	firstLine int   // of the data
	rows      []int // data lines in the order of the levels; kept lines only after they were read
	fieldOf   []int // the field of each column of the layout; -1: a fact
	flagOf    []int // the column of the layout whose flags a field holds; -1: none
	changes   []change
	noted     map[string]bool // notes of flags of other schemes
}

// cast makes the casts of a group of data lines: one, or two when the file goes down and up.
func (x *layoutReader) cast(b *block, rows []int, f facts, nth int, source metadata.Digest) []layoutCast {
	parts := [][]int{rows}
	if x.l.Direction == TravelBoth {
		parts = x.downAndUp(b, rows)
	}
	var out []layoutCast
	for k, part := range parts {
		r := &report{name: x.name}
		c := layoutCast{layoutReader: x, report: r, block: b, nth: nth, firstLine: part[0] + 1, rows: part}
		c.builder = builder{report: r, o: x.o, lineOf: c.lineOfRow}
		c.cast = section.Cast{BottomM: math.NaN(), AtDecimals: [2]int{-1, -1}, Source: source, Layout: x.l.Name}
		c.header(f)
		if k == 1 {
			c.cast.Direction, c.cast.Number, c.cast.Role = section.Up, c.cast.Number+"U", section.Repeat
		}
		for _, s := range b.comments {
			c.cast.Comments = append(c.cast.Comments, section.Comment{Text: s, Place: section.InHead})
		}
		c.read()
		out = append(out, c)
	}
	return out
}

// levels returns the pressure or depth of data lines, NaN where it is none.
func (x *layoutReader) levels(b *block, rows []int) []float64 {
	out := make([]float64, len(rows))
	for i, r := range rows {
		p, _ := b.slots[x.axis].take(x.lines[r], x.divided(x.lines[r]))
		s, missing := x.canonical(x.axis, p.text)
		v, _, _, ok := scanNumber(s)
		if !ok || missing {
			v = math.NaN()
		}
		out[i] = v
	}
	return out
}

// downAndUp divides data lines at the deepest.
func (x *layoutReader) downAndUp(b *block, rows []int) [][]int {
	v := x.levels(b, rows)
	deepest := 0
	for i := range v {
		if v[i] > v[deepest] || v[deepest] != v[deepest] {
			deepest = i
		}
	}
	if deepest+1 >= len(rows) {
		return [][]int{rows}
	}
	return [][]int{rows[:deepest+1], rows[deepest+1:]}
}

// upwards puts the data lines of an upcast in order of pressure when they are in the opposite order.
func (x *layoutCast) upwards() {
	if x.cast.Direction != section.Up || len(x.rows) < 2 {
		return
	}
	v := x.levels(x.block, x.rows)
	if first, last := v[0], v[len(v)-1]; !(last < first) {
		return
	}
	x.rows = slices.Clone(x.rows)
	slices.Reverse(x.rows)
	x.warn(metadata.Note, "layout.upcast", "", x.firstLine, 0, "",
		"the levels of the upcast are in the order in which they were taken; put in order of pressure")
	x.remarks = append(x.remarks, "# upcast; levels put in order of pressure")
}

func (x *layoutCast) lineOfRow(row int) int {
	if row >= len(x.rows) {
		return 0
	}
	return x.rows[row] + 1
}

// read makes the columns of the cast.
func (x *layoutCast) read() {
	if !x.fields() || len(x.errs) > 0 {
		return
	}
	x.upwards()
	all := x.rows
	for range 2 { // once more when a column turned out to be text
		x.rows = all
		x.size(len(all))
		x.dataLines()
		if !x.turned {
			break
		}
		x.restart()
	}
	if len(x.errs) > 0 {
		return
	}
	if x.row == 0 {
		x.fail(x.firstLine, 0, "compare the file with the one it was copied from", "no data line is left: zero levels")
		return
	}
	x.flagStrange()
	c := &x.cast
	c.Source.First, c.Source.Last = slices.Min(x.rows)+1, slices.Max(x.rows)+1
	for i := range x.field {
		if col, ok := x.column(i); ok {
			c.Columns = append(c.Columns, col)
		}
	}
	x.physics()
	for _, s := range x.remarks {
		c.Comments = slices.Insert(c.Comments, 0, section.Comment{Text: s, Place: section.InHead})
	}
	if pres := c.Column("pres"); pres != nil {
		c.PressureDbar = pres.Values
	}
	if len(x.errs) == 0 {
		if err := c.Validate(); err != nil {
			x.fail(x.firstLine, 0, "", "%w", err)
		}
	}
}

// fields makes the fields of the builder from the columns of the layout.
func (x *layoutCast) fields() bool {
	taken := map[string]bool{}
	x.fieldOf, x.flagOf = make([]int, len(x.l.Columns)), nil
	for k := range x.l.Columns {
		c := &x.l.Columns[k]
		x.fieldOf[k] = -1
		if isFact(c.Means) {
			continue
		}
		f := field{raw: c.String(), unit: x.unitOf(k), of: -1, flagged: -1, pressure: k == x.axis}
		if c.Means == Keep {
			f.raw = exchangeWord(c.String())
			f.variable = x.carried(&f, taken)
		} else if !x.meaning(k, &f, taken) {
			return false
		}
		if f.pressure {
			x.builder.pressure = len(x.field)
		}
		x.fieldOf[k] = len(x.field)
		x.field = append(x.field, f)
		x.flagOf = append(x.flagOf, -1)
	}
	for k := range x.l.Columns {
		i := x.fieldOf[k]
		if x.l.Columns[k].Flags == nil || i < 0 {
			continue
		}
		x.field[i].flagged = len(x.field)
		x.field = append(x.field, field{kind: flags, of: i, raw: x.field[i].variable.Exchange + "_FLAG_W", flagged: -1})
		x.flagOf = append(x.flagOf, k)
	}
	return true
}

// unitOf returns the unit of a column: that of the layout, else that of its name, else that of the line of units.
func (x *layoutCast) unitOf(k int) string {
	c, s := &x.l.Columns[k], &x.block.slots[k]
	if c.Unit != "" || s.index < 0 {
		return c.Unit
	}
	if s.index < len(x.names) && x.names[s.index].Unit != "" {
		return x.names[s.index].Unit
	}
	if s.index < len(x.block.units) {
		return x.block.units[s.index]
	}
	return ""
}

// exchangeWord makes a name that an exchange file can hold.
func exchangeWord(s string) string {
	out := []byte(strings.ToUpper(nameAndUnit(s).Bare))
	for i, c := range out {
		if !(c >= 'A' && c <= 'Z' || c >= '0' && c <= '9') {
			out[i] = '_'
		}
	}
	if len(out) == 0 {
		return "COLUMN"
	}
	return string(out)
}

// ExchangeColumn sets the name and unit of a variable in an exchange file; one that the format does not list gets a
// name of its own.
func ExchangeColumn(v *metadata.Variable) {
	if v.Exchange != "" {
		return
	}
	base, second := strings.CutSuffix(v.Name, "2")
	if b, ok := metadata.ByName(base); ok && second && b.Exchange != "" {
		v.Exchange, v.ExchangeUnit = b.Exchange+"2", b.ExchangeUnit
		return
	}
	v.Exchange, v.ExchangeUnit = "CTD"+strings.ToUpper(strings.ReplaceAll(v.Name, "_", "")), exchangeUnitOf(v.Units)
	if v.Units == "1" {
		v.ExchangeUnit = ""
	}
}

// meaning sets the variable of a field, and how its values become those of the variable.
func (x *layoutCast) meaning(k int, f *field, taken map[string]bool) bool {
	c := &x.l.Columns[k]
	fail := func(remedy, format string, args ...any) bool {
		x.errs = append(x.errs, &metadata.InputError{Position: c.At, Err: fmt.Errorf("layout %s: "+format,
			append([]any{x.l.Name}, args...)...), Remedy: remedy})
		return false
	}
	v, ok := metadata.ByName(c.Means)
	switch {
	case !ok:
		return fail("use a variable name of the table (castwright help cruise-file), such as temp2 or psal2",
			"no variable is called %q", c.Means)
	case taken[v.Name]:
		return fail("say of one of the two what it is", "two columns mean %s", v.Name)
	}
	taken[v.Name] = true
	ExchangeColumn(&v)
	f.variable, f.known = v, true
	f.alias = &Alias{Column: c.String(), Means: c.Means, At: c.At}
	unit := plainUnit(f.unit)
	listed := metadata.ExchangeUnit(strings.TrimSpace(unit))
	switch {
	case listed == "" || listed == v.ExchangeUnit || strings.EqualFold(unit, v.Units):
	case v.Scale == "ITS-90" && listed == "IPTS-68":
		f.to90 = true
	case v.Scale == "ITS-90" && (listed == "DEG C" || listed == "ITS-90"), v.Scale == "PSS-78" && listed == "PSS-78":
	case oxygenUnit(listed) != "" && v.Units == "umol kg-1":
		x.changes = append(x.changes, change{v.Name, oxygenUnit(listed)})
		f.variable.ValidMin, f.variable.ValidMax = math.NaN(), math.NaN()
	case listed == "RATIO" && v.Units == "S m-1":
		f.from = "RATIO"
		f.change, _ = units.Convert("4.2914 S m-1", v.Units) // of PSS-78: C(35, 15, 0)
	default:
		to, err := layoutConversion(unit, listed, &v)
		if err != nil && c.Unit != "" {
			return fail("write the unit that the values have, or leave unit out when they are in "+v.Units,
				"unit %q of column %s cannot be converted to %s", f.unit, c.String(), v.Units)
		}
		if err != nil {
			x.warn(metadata.Warning, "layout.unit", v.Name, x.firstLine, 0,
				"say in the layout which unit the column has: unit: "+v.Units,
				"the file gives the unit of %s as %q, which is not one of %s; the values are taken as %s", c.String(),
				f.unit, v.Name, v.Units)
		} else if !to.Identity() {
			f.from, f.change = f.unit, to
		}
	}
	return true
}

// plainUnit writes the degree sign and the sign for micro of a unit in letters.
func plainUnit(unit string) string {
	return strings.NewReplacer("°", "deg ", "º", "deg ", "µ", "u", "μ", "u").Replace(unit)
}

// layoutConversion finds the conversion of a unit, as exchange files write it or as UDUNITS does.
func layoutConversion(unit, listed string, v *metadata.Variable) (units.Conversion, error) {
	if v.Units != "1" {
		for _, u := range exchangeUnits {
			if u.exchange == listed || strings.EqualFold(u.exchange, unit) {
				return units.Convert(u.udunits, v.Units)
			}
		}
	}
	c, err := units.Convert(unit, v.Units)
	if err != nil {
		return units.Convert(strings.ToLower(unit), v.Units)
	}
	return c, nil
}

// dataLines sets the cells of the builder from the data lines; lines that are not kept leave x.rows.
func (x *layoutCast) dataLines() {
	var kept []int
	for _, r := range x.rows {
		if x.report.full {
			return
		}
		line := x.lines[r]
		pieces := x.divided(line)
		if !x.set(x.builder.pressure, line, pieces, r+1) {
			continue
		}
		for i := range x.field {
			if i != x.builder.pressure {
				x.set(i, line, pieces, r+1)
			}
		}
		x.row++
		kept = append(kept, r)
	}
	x.rows = kept
}

// set sets field i of the current row.
func (x *layoutCast) set(i int, line []byte, pieces []piece, no int) bool {
	if k := x.flagOf[i]; k >= 0 {
		p, _ := x.block.flagSlots[k].take(line, pieces)
		x.field[i].flg[x.row] = x.flagAt(i, k, p, no)
		return true
	}
	k := slices.Index(x.fieldOf, i)
	p, _ := x.block.slots[k].take(line, pieces)
	if x.field[i].kind == texts {
		return x.cell(i, p.text, no, p.at+1)
	}
	s, missing := x.canonical(k, p.text)
	switch {
	case missing && !x.field[i].pressure:
		s = []byte("-999")
	case missing:
		s = nil
	case isExponent(s):
		s = withoutExponent(s)
	}
	return x.cell(i, s, no, p.at+1)
}

func isExponent(s []byte) bool {
	i := bytes.IndexAny(s, "eE")
	_, _, q, ok := scanNumber(s)
	return i > 0 && ok && q == odd
}

// withoutExponent writes a number with the digits that it has, without an exponent.
func withoutExponent(s []byte) []byte {
	v, decimals, _, _ := scanNumber(s)
	return fmt.Appendf(nil, "%.*f", decimals, v)
}

// flagAt returns the flag that field i of column k has in a data line.
func (x *layoutCast) flagAt(i, k int, p piece, no int) metadata.Flag {
	where := x.l.Columns[k].Flags
	s := p.text
	if where.Digit > 0 {
		if where.Digit > len(s) {
			s = nil
		} else {
			s = s[where.Digit-1 : where.Digit]
		}
	}
	name := x.field[x.field[i].of].variable.Name
	switch {
	case where.Codes != nil:
		f, ok := where.Codes[string(s)]
		if !ok {
			if len(s) > 0 {
				x.warn(metadata.Warning, "layout.flag", name, no, p.at+1, "add the flag to the codes of the column",
					"%s: flag %q is none of the codes of the layout; read as not evaluated", x.l.Columns[k].String(), s)
			}
			return metadata.NotEvaluated
		}
		return metadata.Flag(f)
	case len(s) == 1 && where.Scheme != SchemeWOCE:
		translate := metadata.FlagOfL20
		if where.Scheme == SchemeL34 {
			translate = metadata.FlagOfL34
		}
		if f, note, ok := translate(s[0]); ok {
			x.noteFlag(name, note, no)
			return f
		}
	}
	if where.Scheme != SchemeWOCE && len(s) > 0 {
		x.warn(metadata.Warning, "layout.flag", name, no, p.at+1, "name the scheme that the flags are of",
			"%s: flag %q is none of its scheme; read as not evaluated", x.l.Columns[k].String(), s)
		return metadata.NotEvaluated
	}
	return x.flag(&x.field[i], s, no, p.at+1)
}

// noteFlag notes once what the meaning of a flag lost when it became one of the WOCE set.
func (x *layoutCast) noteFlag(name, note string, no int) {
	if note == "" || x.noted[name+note] {
		return
	}
	if x.noted == nil {
		x.noted = map[string]bool{}
	}
	x.noted[name+note] = true
	x.found = append(x.found, metadata.Finding{Position: metadata.Position{File: x.layoutReader.name, Line: no},
		Severity: metadata.Note, Check: "layout.flag_scheme",
		Variable: name, Message: "flags of " + name + ": " + note, Count: 1})
}
