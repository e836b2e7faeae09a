package ingest

import (
	"bytes"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// table is the data part of a CTD file while it is read.
type table struct {
	field    []field
	row      int
	rowLines []rowLine // where the numbering of lines jumps
	drop     []int     // first pass: where the lines start that are left out; second pass: the same, those to come
	turned   bool      // a column of numbers turned out to be text
	restored map[string]bool
	strange  []cell // cells made missing with flag 4 by Lenient
	ended    bool   // END_DATA was seen
	short    bool   // the last line was cut short
	split    [][]byte
	offset   []int
}

// rowLine says that from row on, line number = row + shift.
type rowLine struct{ row, shift int }

type cell struct{ field, row int }

// lineOf gives the line of the file on which a row stands.
func (t *table) lineOf(row int) int {
	i := len(t.rowLines) - 1
	for i > 0 && t.rowLines[i].row > row {
		i--
	}
	return row + t.rowLines[i].shift
}

func (x *exchange) addComment(s []byte) {
	x.cast.Comments = append(x.cast.Comments, section.Comment{Text: x.utf8Text(s), Place: section.InHeaders})
}

// maxLines is the most lines of data that an exchange file may have: 11 000 dbar in bins of 0.1 dbar are 110 000.
const maxLines = 120_000

// rows reads the data lines. Columns are sized once, by counting lines: a fresh page of memory costs more than the numbers on it.
func (x *exchange) rows() {
	rest := x.data[x.pos:]
	lines := bytes.Count(rest, []byte{'\n'})
	if lines > maxLines {
		x.fail(x.no, 0, "average the cast into pressure bins, or divide the file", "%d lines of data; the limit is %d", lines, maxLines)
		return
	}
	n := min(lines, len(rest)/len(x.field)+1)
	nv, nf := 0, 0
	for i := range x.field {
		switch x.field[i].kind {
		case numbers:
			nv++
		case flags:
			nf++
		}
	}
	values, flg := make([]float64, nv*n), make([]metadata.Flag, nf*n)
	for i := range x.field {
		f := &x.field[i]
		switch f.kind {
		case numbers:
			f.dst, values = values[:n:n], values[n:]
		case flags:
			f.flg, flg = flg[:n:n], flg[n:]
		case texts:
			f.same = map[string]string{}
		}
	}
	start := x.text
	start.errs, start.found = slices.Clone(x.errs), slices.Clone(x.found)
	comments := len(x.cast.Comments)
	x.dataLines()
	if x.turned || len(x.drop) > 0 && len(x.errs) == 0 { // once more, now that it is known which columns are text and which lines do not count
		x.text = start
		x.cast.Comments = x.cast.Comments[:comments]
		x.table = table{field: x.field, drop: append(x.drop, -1)}
		for i := range x.field {
			x.field[i].txt = x.field[i].txt[:0]
			x.field[i].seen, x.field[i].decimals, x.field[i].odd, x.field[i].width = false, 0, nil, 0
		}
		x.dataLines()
	}
}

// turn makes a column that nobody knows one of text; the data lines are read once more.
func (f *field) turn(x *exchange) {
	f.kind = texts
	f.same = map[string]string{}
	x.turned = true
}

// note keeps the digits of the value in a row; text is the value as read where its decimals do not give it back, else nil.
func (f *field) note(row, decimals int, text []byte) {
	if n := len(f.odd); n > 0 && f.odd[n-1].Level >= row { // the line is read again, or the one before it did not count
		f.odd = f.odd[:n-1]
	}
	if !f.seen {
		f.seen, f.decimals = true, decimals
	}
	if decimals != f.decimals || text != nil {
		f.odd = append(f.odd, section.Digits{Level: row, Decimals: decimals, Text: string(text)})
	}
}

// digits returns the decimals that most of the values v have, and the others.
func (f *field) digits(v []float64) (decimals int, exceptions []section.Digits) {
	if len(f.odd) == 0 {
		return f.decimals, nil
	}
	own := make([]section.Digits, len(v))
	count := section.Commonest{}
	for i := range own {
		own[i] = section.Digits{Level: i, Decimals: f.decimals}
	}
	for _, d := range f.odd {
		if d.Level < len(v) {
			own[d.Level] = d
		}
	}
	for i := range own {
		if v[i] == v[i] {
			count.Add(own[i].Decimals, 1)
		}
	}
	decimals = max(count.Decimals(), 0)
	for i, d := range own {
		if v[i] == v[i] && (d.Decimals != decimals || d.Text != "") {
			exceptions = append(exceptions, d)
		}
	}
	return decimals, exceptions
}

// dataLines reads the data lines with one pass over the bytes; every line that is not exactly as the format has it goes to oddLine.
func (x *exchange) dataLines() {
	d := x.data
	x.rowLines = append(x.rowLines, rowLine{0, x.no + 1})
	last := len(x.field) - 1
	i := x.pos
	drop := x.nextDrop()
lines:
	for i < len(d) && !x.full {
		from := i
		row := x.row
		if from == drop { // left out, so that its digits do not count
			i, drop = x.oddLine(from), x.nextDrop()
			continue
		}
		for k := range x.field {
			f := &x.field[k]
			end := byte(',')
			if k == last {
				end = '\n'
			}
			begin := i
			for d[i] == ' ' {
				i++
			}
			switch f.kind {
			case flags:
				c := d[i] - '0'
				if c > 9 {
					i = x.oddLine(from)
					continue lines
				}
				i++
				for d[i] == ' ' || d[i] == '\r' {
					i++
				}
				if d[i] != end {
					i = x.oddLine(from)
					continue lines
				}
				f.flg[row] = metadata.Flag(c)
				i++
			case numbers:
				neg := d[i] == '-'
				if neg {
					i++
				}
				var m uint64
				first := i
				for {
					c := uint64(d[i] - '0')
					if c > 9 {
						break
					}
					m = m*10 + c
					i++
				}
				digits, decimals := i-first, 0
				whole := digits
				if d[i] == '.' {
					i++
					point := i
					for {
						c := uint64(d[i] - '0')
						if c > 9 {
							break
						}
						m = m*10 + c
						i++
					}
					decimals = i - point
				}
				width, stop := i-begin, i
				for d[i] == ' ' || d[i] == '\r' {
					i++
				}
				if digits += decimals; d[i] != end || uint(digits-1) > 14 {
					i = x.oddLine(from)
					continue lines
				}
				if !f.known && d[first] == '0' && digits-decimals > 1 { // a zero in front of an unknown number may mean something
					i = x.oddLine(from)
					continue lines
				}
				i++
				v := float64(int64(m)) / pow10[decimals]
				if neg {
					v = -v
					if v == -999 {
						f.dst[row] = math.NaN()
						if width != f.width {
							f.widen(width)
						}
						if f.pressure {
							i = x.oddLine(from)
							continue lines
						}
						continue
					}
					if v <= -9 && f.known && v < f.variable.ValidMin && oldFill(v) {
						i = x.oddLine(from)
						continue lines
					}
				}
				f.dst[row] = v
				if decimals != f.decimals || !f.seen || whole != 1 && (whole == 0 || d[first] == '0') || decimals == 0 && d[stop-1] == '.' ||
					len(f.odd) > 0 && f.odd[len(f.odd)-1].Level >= row {
					var text []byte
					if whole == 0 || whole > 1 && d[first] == '0' || decimals == 0 && d[stop-1] == '.' {
						text = trim(d[begin:stop])
					}
					f.note(row, decimals, text)
				}
				if width != f.width {
					f.widen(width)
				}
			default:
				i = x.oddLine(from)
				continue lines
			}
		}
		x.row++
	}
	x.pos = len(d)
	if !x.ended && !x.full {
		x.no = x.row + x.rowLines[len(x.rowLines)-1].shift - 1
		x.warn(metadata.Warning, "exchange.end_data", "", x.no, 0, "", "no END_DATA; the end of the file is taken as the end of the data")
		if x.cut && !x.short {
			x.warn(metadata.Warning, "exchange.truncated", "", x.no, 0, "compare the file with the one it was copied from", "the last line has no end; its last value may be cut short")
		}
	}
	if x.row == 0 && len(x.errs) == 0 {
		x.fail(x.no, 0, "copy the file again from where it was made", "no data lines: zero levels")
	}
}

// nextDrop takes the next line to be left out from the list of the first pass; -1 when there is none.
func (t *table) nextDrop() int {
	if len(t.drop) == 0 || t.drop[len(t.drop)-1] >= 0 { // the first pass, which makes the list
		return -1
	}
	d := t.drop[0]
	if d >= 0 {
		t.drop = t.drop[1:]
	}
	return d
}

// widen keeps the width that every value has; it is 0 at first and -1 when they differ. The first value sets it.
func (f *field) widen(width int) {
	if f.width == 0 {
		f.width = width
	} else {
		f.width = -1
	}
}

// oldFill says whether v is one of the fill values that older files use beside -999.
func oldFill(v float64) bool { return v == -9 || v == -99 || v == -99.9 || v == -9999 }

// oddLine reads the line that starts at offset from in the slow and tolerant way and gives the offset of the next one.
func (x *exchange) oddLine(from int) int {
	x.pos = from
	x.no = x.row + x.rowLines[len(x.rowLines)-1].shift - 1
	line, _ := x.next()
	next := x.pos
	s := trim(line)
	skip := func() int {
		x.rowLines = append(x.rowLines, rowLine{x.row, x.no + 1 - x.row})
		return next
	}
	switch {
	case onlyCommas(s):
		x.warn(metadata.Note, "exchange.blank_lines", "", x.no, 0, "", "blank line among the data; skipped")
		return skip()
	case s[0] == '#':
		x.warn(metadata.Note, "exchange.comment_place", "", x.no, 0, "", "comment outside its place (after the first line); kept")
		x.cast.Comments = append(x.cast.Comments, section.Comment{Text: x.utf8Text(s), Place: section.InData, Level: x.row})
		return skip()
	case isEnd(s):
		x.ended = true
		if string(s) != "END_DATA" {
			x.warn(metadata.Note, "exchange.end_data", "", x.no, 1, "", "the data end with %q; read as END_DATA", s)
		}
		x.afterEnd()
		return len(x.data)
	case isStamp(s):
		x.second(s)
		return len(x.data)
	}
	if i := asciiOnly(s); i >= 0 {
		x.notASCII(line)
		return skip()
	}
	if bytes.IndexByte(line, '\t') >= 0 {
		x.warn(metadata.Note, "exchange.tabs", "", x.no, bytes.IndexByte(line, '\t')+1, "", "tab among the data; read as a blank")
	}
	x.split, x.offset = fields(line, x.split, x.offset)
	f := x.split
	n := len(x.field)
	if len(f) == n+1 && len(f[n]) == 0 {
		f = x.noTrailing(f, "data line")
	}
	leaveOut := func() int {
		if len(x.drop) == 0 || x.drop[len(x.drop)-1] >= 0 {
			x.drop = append(x.drop, from)
		}
		return skip()
	}
	if len(f) != n {
		x.wrongCount(line, len(f), next >= len(x.data) && x.cut)
		return leaveOut()
	}
	if !x.oddValue(x.pressure, f[x.pressure]) { // first, since a line without it is left out
		return leaveOut()
	}
	for k := range f {
		if k != x.pressure {
			x.oddValue(k, f[k])
		}
	}
	x.row++
	return next
}

// onlyCommas tells a line that holds nothing, which a spreadsheet may write as commas.
func onlyCommas(s []byte) bool {
	for _, c := range s {
		if c != ',' && !isBlank(c) {
			return false
		}
	}
	return true
}

// isEnd tells END_DATA and its usual misspellings.
func isEnd(s []byte) bool {
	s = bytes.TrimRight(s, ", \t")
	return len(s) == 8 && strings.EqualFold(string(s[:3]), "END") && (s[3] == '_' || s[3] == ' ') && strings.EqualFold(string(s[4:]), "DATA") ||
		strings.EqualFold(string(s), "ENDDATA")
}

// isStamp tells the first line of another exchange file.
func isStamp(s []byte) bool {
	rest, ok := bytes.CutPrefix(s, []byte("CTD"))
	if !ok {
		rest, ok = bytes.CutPrefix(s, []byte("BOTTLE"))
	}
	return ok && (len(rest) == 0 || len(rest) >= 9 && rest[0] == ',' && allDigits(rest[1:9]))
}

// second reports the first line of another file inside this one; nothing after it is read.
func (x *exchange) second(line []byte) {
	if x.bottle {
		x.fail(x.no, 1, "put each into a file of its own", "a second file starts here: %s", firstBytes(line))
	} else {
		x.fail(x.no, 1, "put each cast into a file of its own", "a second cast starts here: %s; an exchange CTD file holds one", firstBytes(line))
	}
	x.full = true
}

// afterEnd keeps what stands after END_DATA, which the standard leaves free, unless it is another cast. Lines that look like data are named: an
// END_DATA that slipped in takes the rest of the cast away.
func (x *exchange) afterEnd() {
	lost := metadata.Finding{}
	for {
		line, more := x.next()
		if !more {
			break
		}
		if rest := x.data[x.pos:]; isStamp(trim(line)) && (bytes.IndexByte(rest, '=') >= 0 || x.bottle && bytes.Contains(rest, []byte("EXPOCODE"))) {
			x.second(line)
			return
		}
		if p, ok := x.likeData(line); ok {
			if lost.Count++; lost.Count == 1 {
				lost.Line, lost.First = x.no, p
			}
			lost.Last = p
		}
		x.cast.Comments = append(x.cast.Comments, section.Comment{Text: x.utf8Text(line), Place: section.AfterEnd})
	}
	if n := lost.Count; n > 0 {
		f := x.warn(metadata.Warning, "exchange.after_end", "", lost.Line, 1, "", "%d %s data after END_DATA, from %g to %g dbar; not read as data", n,
			plural(n, "line looks like", "lines look like"), lost.First, lost.Last)
		x.span(f, lost.First, lost.Last, n)
	}
	// Blank lines at the very end are not worth keeping.
	c := x.cast.Comments
	for len(c) > 0 && c[len(c)-1].Place == section.AfterEnd && c[len(c)-1].Text == "" {
		c = c[:len(c)-1]
	}
	x.cast.Comments = c
}

// likeData reports whether a line after END_DATA looks like a data line, and its pressure: as many fields as there are columns, or at least two,
// that are nothing but numbers.
func (x *exchange) likeData(line []byte) (pressure float64, ok bool) {
	f, _ := fields(line, nil, nil)
	if n := len(f); n > len(x.field) && len(f[n-1]) == 0 {
		f = f[:n-1]
	}
	numbers := 0
	for k, s := range f {
		v, _, q, ok := scanNumber(s)
		if ok && q != blank {
			numbers++
		} else if q != blank && (len(f) != len(x.field) || x.field[k].kind != texts) {
			return 0, false
		}
		if k == x.pressure && ok {
			pressure = v
		}
	}
	return pressure, numbers > 0 && (len(f) == len(x.field) || numbers > 1) && pressure == pressure
}

func (x *exchange) notASCII(line []byte) {
	at := asciiOnly(line)
	r, size := utf8.DecodeRune(line[at:])
	if r == utf8.RuneError && size <= 1 {
		x.fail(x.no, at+1, saveAsUTF8, "data line holds a byte that is not UTF-8: %#02x", line[at])
		return
	}
	x.fail(x.no, at+1, "write data lines in plain ASCII", "data line holds the character %q", r)
}

// skipLines is the piece of a cruise file that gets past lines that cannot be read, and keeps the rest of their files.
const skipLines = "; or have such lines skipped, and values that are no numbers taken as missing with flag 4, with this in the cruise file:\ncasts:\n  lenient: yes\n"

func (x *exchange) wrongCount(line []byte, found int, cut bool) {
	n := len(x.field)
	switch {
	case cut && found < n:
		x.short = true
		x.warn(metadata.Warning, "exchange.truncated", "", x.no, 0, "compare the file with the one it was copied from", "the last line is cut short: %d of %d fields; left out", found, n)
	case x.o.Lenient:
		x.warn(metadata.Warning, "exchange.field_count", "", x.no, 0, "", "line has %d fields, expected %d; skipped", found, n)
	default:
		remedy := "compare the line with its neighbours" + skipLines
		column := len(line) + 1
		switch s := trim(line); {
		case found == 1 && (s[0] >= 'A' && s[0] <= 'Z' || s[0] >= 'a' && s[0] <= 'z'):
			x.fail(x.no, len(line)-len(s)+1, "write END_DATA where the data end, and # before a comment", "%s is neither a data line nor END_DATA", firstBytes(s))
			return
		case found > n && bytes.IndexByte(line, '.') < 0:
			remedy = "write decimal points, not commas: a decimal comma makes two fields of one value"
		case found > n:
			remedy = "compare the line with its neighbours: a decimal comma makes two fields of one value" + skipLines
		}
		if found > n {
			column = x.offset[n] + 1
		}
		x.fail(x.no, column, remedy, "data line has %d %s, expected %d", found, plural(found, "field", "fields"), n)
	}
}

// oddValue reads one value of the current row. It is false when the line was refused.
func (x *exchange) oddValue(k int, s []byte) bool {
	f := &x.field[k]
	column := x.offset[k] + 1
	switch f.kind {
	case flags:
		f.flg[x.row] = x.oddFlag(f, s, column)
		return true
	case texts:
		if f.ident == "" && isFill(s) { // missing is one thing, in text too
			if len(s) == 0 {
				x.warn(metadata.Note, "exchange.fill", f.variable.Name, x.no, column, "", "%s: empty value; read as missing", f.raw)
			}
			s = nil
		}
		x.addText(f, s)
		return true
	}
	v, decimals, q, ok := scanNumber(s)
	if !f.known && (!ok || q == odd || q == quoted || zeroInFront(s) || countDigits(s) > 15) {
		f.turn(x)
		return true
	}
	switch {
	case !ok && x.o.Lenient && !f.pressure:
		x.warn(metadata.Warning, "exchange.not_a_number", f.variable.Name, x.no, column, "", "%s: %s is not a number; taken as missing, with flag 4", f.raw, firstBytes(s))
		x.strange = append(x.strange, cell{k, x.row})
		v = math.NaN()
	case !ok && x.o.Lenient:
		x.warn(metadata.Warning, "exchange.not_a_number", f.variable.Name, x.no, column, "", "%s: %s is not a number; line skipped", f.raw, firstBytes(s))
		return false
	case !ok:
		x.fail(x.no, column, "write a number, or -999 when there is none"+skipLines, "%s: %s is not a number", f.raw, firstBytes(s))
		v = math.NaN()
	}
	switch q {
	case blank:
		if !f.pressure {
			x.warn(metadata.Note, "exchange.fill", f.variable.Name, x.no, column, "", "%s: empty value; read as missing", f.raw)
		}
	case notNumber:
		x.warn(metadata.Note, "exchange.fill", f.variable.Name, x.no, column, "", "%s: NaN; read as missing", f.raw)
	case odd:
		x.warn(metadata.Note, "exchange.number_form", f.variable.Name, x.no, column, "", "%s: %s has a plus or an exponent; read all the same", f.raw, firstBytes(s))
	case quoted:
		x.warn(metadata.Note, "exchange.number_form", f.variable.Name, x.no, column, "", "%s: %s stands in quotes; taken off", f.raw, firstBytes(s))
	}
	if v == -999 {
		v = math.NaN()
	} else if f.known && v < f.variable.ValidMin && oldFill(v) {
		x.warn(metadata.Warning, "exchange.fill", f.variable.Name, x.no, column, "write -999 for missing values", "%s: %s is outside %g..%g; read as missing", f.raw, s, f.variable.ValidMin, f.variable.ValidMax)
		v = math.NaN()
	}
	f.width = -1
	if math.IsNaN(v) && f.pressure && ok {
		if x.o.Lenient {
			x.warn(metadata.Warning, "exchange.no_pressure", "", x.no, column, "", "pressure is missing; line skipped")
			return false
		}
		x.fail(x.no, column, "write the pressure of the level or take the line out"+skipLines, "pressure is missing: %s", firstBytes(s))
	}
	if !math.IsNaN(v) {
		var text []byte
		if written := strconv.FormatFloat(v, 'f', decimals, 64); q == plain && written != string(s) {
			text = s
		}
		f.note(x.row, decimals, text)
	}
	f.dst[x.row] = v
	return true
}

// isFill says whether a text is empty or -999 in any precision.
func isFill(s []byte) bool {
	rest, ok := bytes.CutPrefix(s, []byte("-999"))
	return len(s) == 0 || ok && (len(rest) == 0 || rest[0] == '.' && len(bytes.Trim(rest[1:], "0")) == 0)
}

func (x *exchange) addText(f *field, s []byte) {
	t, ok := f.same[string(s)]
	if !ok {
		t = string(s)
		f.same[t] = t
	}
	for len(f.txt) < x.row { // rows before the column was known to be text; read again later
		f.txt = append(f.txt, "")
	}
	f.txt = append(f.txt[:x.row], t)
}

// zeroInFront says whether a number begins with a zero that a number would not need.
func zeroInFront(s []byte) bool {
	s = bytes.TrimPrefix(s, []byte("-"))
	return len(s) > 1 && s[0] == '0' && s[1] >= '0' && s[1] <= '9'
}

func countDigits(s []byte) (n int) {
	for _, c := range s {
		if c >= '0' && c <= '9' {
			n++
		}
	}
	return n
}

// oddFlag reads a flag that is not one digit.
func (x *exchange) oddFlag(f *field, s []byte, column int) metadata.Flag {
	if len(s) == 1 && s[0] >= '0' && s[0] <= '9' {
		return metadata.Flag(s[0] - '0')
	}
	name := x.field[f.of].variable.Name
	v, _, q, ok := scanNumber(s)
	switch {
	case q == blank:
		x.warn(metadata.Note, "exchange.flag_blank", name, x.no, column, "", "%s: empty flag; read as not evaluated", f.raw)
		return metadata.NotEvaluated
	case ok && (v == -9 || v == -999):
		x.warn(metadata.Note, "exchange.flag_fill", name, x.no, column, "", "%s: flag %s; read as not evaluated", f.raw, s)
		return metadata.NotEvaluated
	case ok && v >= 0 && v <= 9 && v == math.Trunc(v):
		x.warn(metadata.Note, "exchange.flag_form", name, x.no, column, "", "%s: flag %s is not one digit; read as %d", f.raw, s, int(v))
		return metadata.Flag(v)
	}
	set := "CTD"
	switch p := &x.field[f.of]; {
	case p.ident == "BTLNBR":
		set = "bottle"
	case x.bottle && !ctdParameter(p.variable.Exchange):
		set = "water sample"
	}
	x.warn(metadata.Warning, "exchange.flag_value", name, x.no, column, "", "%s: %s is no flag of the WOCE %s set; read as not evaluated", f.raw, firstBytes(s), set)
	return metadata.NotEvaluated
}

// deliver turns the fields into the columns of the cast and looks them over.
func (x *exchange) deliver() {
	if len(x.errs) > 0 {
		return
	}
	for _, c := range x.strange {
		if k := x.field[c.field].flagged; k >= 0 {
			x.field[k].flg[c.row] = metadata.Bad
		} else {
			x.field[c.field].flagged = len(x.field)
			x.field = append(x.field, field{kind: flags, of: c.field, flg: make([]metadata.Flag, len(x.field[c.field].dst)), raw: x.field[c.field].raw + "_FLAG_W"})
			x.field[len(x.field)-1].flg[c.row] = metadata.Bad
		}
	}
	n := x.row
	c := &x.cast
	if n > 0 {
		c.Source.First, c.Source.Last = x.lineOf(0), x.lineOf(n-1)
	}
	for i := range x.field {
		f := &x.field[i]
		if f.kind == flags {
			if p := &x.field[f.of]; p.kind == texts { // its column turned out to be text: so are its flags
				col := section.Column{Variable: x.flagText(i), Decimals: -1, Text: make([]string, n)}
				for r := range n {
					col.Text[r] = flagDigits[f.flg[r]]
				}
				c.Columns = append(c.Columns, col)
			}
			continue
		}
		col := section.Column{Variable: f.variable, Width: max(f.width, 0)}
		if f.kind == texts {
			col.Decimals, col.Width = -1, 0
			col.Text = f.txt[:n:n]
			c.Columns = append(c.Columns, col)
			continue
		}
		col.Values = f.dst[:n:n]
		if col.Decimals, col.Exceptions = f.digits(col.Values); len(col.Exceptions) > 0 {
			x.warn(metadata.Note, "exchange.decimals", f.variable.Name, x.lineOf(col.Exceptions[0].Level), 0, "", "%s: %d of %d values have other digits than the %d "+
				"decimals of most; kept as read", f.raw, len(col.Exceptions), n, col.Decimals)
		}
		if f.flagged >= 0 {
			g := &x.field[f.flagged]
			col.Flags = x.checkFlags(f, g.raw, col.Values, g.flg[:n:n])
		}
		if f.from != "" && f.known {
			x.converted(f, &col)
		}
		if f.known {
			x.checkRange(f, &col)
		}
		if f.to90 {
			x.toITS90(f, &col)
		}
		if f.pressure {
			c.PressureDbar = col.Values
			x.checkPressure(col.Values, col.Decimals)
		}
		c.Columns = append(c.Columns, col)
	}
	x.notEvaluated()
	x.restoreHeaders()
	if err := c.Validate(); err != nil {
		x.fail(0, 0, "", "%w", err)
	}
}

var flagDigits = [...]string{"0", "1", "2", "3", "4", "5", "6", "7", "8", "9"}

// flagText names the flags of a text column, field i, as a column of their own.
func (x *exchange) flagText(i int) metadata.Variable {
	f := &x.field[i]
	return metadata.Variable{Name: x.field[f.of].variable.Name + "_flag_as_read", LongName: f.raw + " as read",
		Exchange: x.flagsAsRead(strings.TrimSuffix(f.raw, "_FLAG_W"), i), ExchangeUnit: f.unit,
		ValidMin: math.NaN(), ValidMax: math.NaN(), ExchangeDecimals: -1}
}

// checkFlags brings flags and values into agreement where the format leaves no doubt, and says so. Nil means that nothing was evaluated.
func (x *exchange) checkFlags(f *field, name string, v []float64, g []metadata.Flag) []metadata.Flag {
	evaluated, present := false, false
	for i := range g {
		missing := v[i] != v[i]
		fl := g[i]
		if !missing {
			present = true
			if fl == metadata.Acceptable {
				evaluated = true
				continue
			}
			switch fl {
			case metadata.NotSampled, metadata.NotReported:
				x.warn(metadata.Warning, "exchange.flag_absent", f.variable.Name, x.lineOf(i), 0, "", "%s: flag %d (%s) with a value; value and flag kept", name, fl, fl)
			case metadata.NotUsed:
				x.warn(metadata.Warning, "exchange.flag_not_used", f.variable.Name, x.lineOf(i), 0, "", "%s: flag 8 is not used for CTD data; kept", name)
			case metadata.NotEvaluated:
				x.warn(metadata.Note, "exchange.flag_zero", f.variable.Name, x.lineOf(i), 0, "", "%s: flag 0 or empty; read as not evaluated", name)
			}
			evaluated = evaluated || fl != metadata.NotEvaluated
			continue
		}
		switch fl {
		case metadata.Acceptable, metadata.Interpolated, metadata.Despiked:
			x.warn(metadata.Warning, "exchange.flag_missing", f.variable.Name, x.lineOf(i), 0, "", "%s: flag %d (%s) without a value; flag set to 9", name, fl, fl)
			g[i] = metadata.NotSampled
		case metadata.NotEvaluated:
			g[i] = metadata.NotSampled
		case metadata.NotSampled, metadata.NotReported:
		default:
			evaluated = true // somebody took the value out and said why
		}
	}
	if !evaluated && present {
		return nil
	}
	return g
}

// checkRange says where a value that claims to be good is outside the gross physical limits.
func (x *exchange) checkRange(f *field, c *section.Column) {
	lo, hi := c.ValidMin, c.ValidMax
	if math.IsNaN(lo) {
		lo = math.Inf(-1)
	}
	if math.IsNaN(hi) {
		hi = math.Inf(1)
	}
	first, n := 0, 0
	for i, v := range c.Values {
		if (v < lo || v > hi) && (c.Flags == nil || c.Flags[i].Usable(false)) {
			if n == 0 {
				first = i
			}
			n++
		}
	}
	if n > 0 {
		remedy := "look at the values; what is wrong gets its flag in the file, or in a table of flag edits (castwright help cruise-file)"
		if f.pressure {
			remedy = "look at the values, and take levels out that are none"
		}
		x.warn(metadata.Warning, "exchange.range", f.variable.Name, x.lineOf(first), 0, remedy, "%s: %d %s outside %g..%g with a good flag or none, first %g; kept",
			f.raw, n, plural(n, "value", "values"), c.ValidMin, c.ValidMax, c.Values[first])
	}
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// toITS90 converts IPTS-68 temperatures: t90 = t68 / 1.00024, rounded to one digit more than was read and at least five, so that every file holds
// the value that is printed and the temperature read can be found again from it.
func (x *exchange) toITS90(f *field, c *section.Column) {
	if slices.ContainsFunc(c.Values, func(v float64) bool { return !math.IsNaN(v) }) { // fills have no digits
		c.Decimals = min(max(c.MostDecimals()+1, 5), maxConverted)
		c.Width = 0
	}
	c.Exceptions = nil
	scale := pow10[c.Decimals]
	for i, v := range c.Values {
		c.Values[i] = math.Round(v/1.00024*scale) / scale
	}
	c.Comment = "converted from IPTS-68: t90 = t68 / 1.00024"
	c.Converted = section.Conversion{From: "IPTS-68", To: "ITS-90", Formula: "t90 = t68 / 1.00024"}
	x.cast.Comments = slices.Insert(x.cast.Comments, 0, section.Comment{Text: "# " + c.Exchange + " converted from IPTS-68 to ITS-90: t90 = t68 / 1.00024", Place: section.InHead})
	severity := metadata.Warning
	if f.alias != nil { // the cruise file says of this very column what it is
		severity = metadata.Note
	}
	x.warn(severity, "exchange.ipts68", c.Name, x.lineOf(0), 0, "", "%s is on IPTS-68; converted to ITS-90 (t90 = t68 / 1.00024)", f.raw)
}

// checkPressure says where pressure does not increase; the order is kept.
func (x *exchange) checkPressure(p []float64, decimals int) {
	if i := slices.IndexFunc(p, func(v float64) bool { return math.Abs(v) > maxDbar }); i >= 0 {
		x.fail(x.lineOf(i), 0, "correct the pressure or take the line out", "%g dbar is no pressure in the sea, where the largest is below %d dbar", p[i], maxDbar)
	}
	first, last, n := 0, 0, 0
	for i := 1; i < len(p); i++ {
		if !(p[i] > p[i-1]) {
			if n == 0 {
				first = i
			}
			last = i
			n++
		}
	}
	if n > 0 {
		f := x.warn(metadata.Warning, "exchange.pressure_order", "pres", x.lineOf(first), 0, "", "pressure does not increase on %d %s, first %.*f after %.*f dbar; order kept",
			n, plural(n, "line", "lines"), decimals, p[first], decimals, p[first-1])
		x.span(f, p[first], p[last], n)
		f.Proposed = metadata.Bad
	}
}

// notEvaluated reads the comment that export.WriteExchange writes where flags 1 stand for "not evaluated", puts those flags back to 0 and
// takes the comment out (flags.md, Writing "not evaluated").
func (x *exchange) notEvaluated() {
	kept := x.cast.Comments[:0]
	for _, c := range x.cast.Comments {
		if !x.restoreFlags(c.Text) {
			kept = append(kept, c)
		}
	}
	x.cast.Comments = kept
	for i := range x.cast.Columns {
		if c := &x.cast.Columns[i]; c.Flags != nil && !judged(len(c.Flags), func(i int) (uint8, bool) { return uint8(c.Flags[i]), c.Values[i] != c.Values[i] }) {
			c.Flags = nil
		}
	}
}

// judged says whether anybody evaluated anything of a column: a flag on a value, one that says why a value was taken out, or, when no value is
// there at all, any flag.
func judged(n int, get func(int) (flag uint8, missing bool)) bool {
	present := false
	for i := range n {
		f, missing := get(i)
		if f != 0 && (!missing || f != uint8(metadata.NotSampled) && f != uint8(metadata.NotReported)) {
			return true
		}
		present = present || !missing
	}
	return !present
}

// onMissing says whether a note of what was not evaluated speaks of a missing value; our writer makes none such (it gives flag 9).
func onMissing(hit []bool, v []float64) bool {
	for i, h := range hit {
		if h && v[i] != v[i] {
			return true
		}
	}
	return false
}

func (x *exchange) restoreFlags(s string) bool {
	name, what, ok := strings.Cut(strings.TrimPrefix(s, "# "), "_FLAG_W: 1 = not evaluated ")
	if !ok || !strings.HasPrefix(s, "# ") {
		return false
	}
	var col *section.Column
	for i := range x.cast.Columns {
		if k := &x.cast.Columns[i]; k.Exchange == name && k.Flags != nil {
			col = k
		}
	}
	if col == nil {
		return false
	}
	hit, n := metadata.NotEvaluatedLevels(what, x.cast.PressureDbar, col.Flags)
	if n <= 0 || x.restored[name] || onMissing(hit, col.Values) {
		x.warn(metadata.Warning, "exchange.not_evaluated", col.Name, 0, 0, "", "the comment %q does not fit the flags of %s; flags 1 are kept", s, name)
		return false
	}
	if x.restored == nil {
		x.restored = map[string]bool{}
	}
	x.restored[name] = true // one comment for each column; another one is somebody else's
	for i, h := range hit {
		if h {
			col.Flags[i] = metadata.NotEvaluated
		}
	}
	return true
}
