package ingest

import (
	"bytes"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// table is the state of the data lines of an exchange file while they are read.
type table struct {
	rowLines []rowLine // where the numbering of lines jumps
	drop     []int     // first pass: where the lines start that are left out; second pass: the same, those to come
	restored map[string]bool
	ended    bool // END_DATA was seen
	short    bool // the last line was cut short
	split    [][]byte
	offset   []int
}

// rowLine says that from row on, line number = row + shift.
type rowLine struct{ row, shift int }

// lineAtRow returns the line of the file that holds a row.
func (t *table) lineAtRow(row int) int {
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

// rows reads the data lines. Columns are sized once, by counting lines: a fresh page of memory costs more than the
// numbers on it.
func (x *exchange) rows() {
	rest := x.data[x.pos:]
	lines := bytes.Count(rest, []byte{'\n'})
	if lines > maxLines {
		x.fail(x.no, 0, "average the cast into pressure bins, or divide the file",
			"%d lines of data; the limit is %d", lines, maxLines)
		return
	}
	x.size(min(lines, len(rest)/len(x.field)+1))
	start, said := x.text, *x.report
	said.errs, said.found = slices.Clone(x.errs), slices.Clone(x.found)
	comments := len(x.cast.Comments)
	x.dataLines()
	if x.turned || len(x.drop) > 0 && len(x.errs) == 0 {
		// once more, now that it is known which columns are text and which lines do not count
		x.text = start
		*x.report = said
		x.cast.Comments = x.cast.Comments[:comments]
		x.table = table{drop: append(x.drop, -1)}
		x.restart()
		x.dataLines()
	}
}

// dataLines reads the data lines with one pass over the bytes; every line that is not exactly as the format has it goes
// to oddLine.
func (x *exchange) dataLines() {
	d := x.data
	x.rowLines = append(x.rowLines, rowLine{0, x.no + 1})
	last := len(x.field) - 1
	i := x.pos
	drop := x.nextDrop()
lines:
	for i < len(d) && !x.full {
		from := i
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
			good := false
			switch f.kind {
			case flags:
				i, good = f.plainFlag(d, i, end, x.row)
			case numbers:
				i, good = f.plainNumber(d, i, end, x.row)
			}
			if !good {
				i = x.oddLine(from)
				continue lines
			}
		}
		x.row++
	}
	x.pos = len(d)
	if !x.ended && !x.full {
		x.no = x.row + x.rowLines[len(x.rowLines)-1].shift - 1
		x.warn(metadata.Warning, "exchange.end_data", "", x.no, 0, "",
			"no END_DATA; the end of the file is taken as the end of the data")
		if x.cut && !x.short {
			x.warn(metadata.Warning, "exchange.truncated", "", x.no, 0,
				"compare the file with the one it was copied from",
				"the last line has no end; its last value may be cut short")
		}
	}
	if x.row == 0 && len(x.errs) == 0 {
		x.fail(x.no, 0, "copy the file again from where it was made", "no data lines: zero levels")
	}
}

// plainFlag sets the flag of a row from one digit at offset i of d and ends in end, and returns the offset behind it;
// false for any other text.
func (f *field) plainFlag(d []byte, i int, end byte, row int) (next int, good bool) {
	for d[i] == ' ' {
		i++
	}
	c := d[i] - '0'
	if c > 9 {
		return i, false
	}
	i++
	for d[i] == ' ' || d[i] == '\r' {
		i++
	}
	if d[i] != end {
		return i, false
	}
	f.flg[row] = metadata.Flag(c)
	return i + 1, true
}

// plainNumber sets the value of a row from a plain decimal number at offset i of d and ends in end, and returns the
// offset behind it; false for any other text, and for numbers that need a second look.
func (f *field) plainNumber(d []byte, i int, end byte, row int) (next int, good bool) {
	begin := i
	for d[i] == ' ' {
		i++
	}
	neg := d[i] == '-'
	if neg {
		i++
	}
	var m uint64
	first := i
	for c := d[i] - '0'; c <= 9; c = d[i] - '0' {
		m = m*10 + uint64(c)
		i++
	}
	whole, decimals := i-first, 0
	if d[i] == '.' {
		i++
		point := i
		for c := d[i] - '0'; c <= 9; c = d[i] - '0' {
			m = m*10 + uint64(c)
			i++
		}
		decimals = i - point
	}
	width, stop := i-begin, i
	for d[i] == ' ' || d[i] == '\r' {
		i++
	}
	if d[i] != end || uint(whole+decimals-1) > 14 {
		return i, false
	}
	if !f.known && d[first] == '0' && whole > 1 { // a zero in front of an unknown number may mean something
		return i, false
	}
	v := float64(int64(m)) / pow10[decimals]
	if neg {
		v = -v
		if v == -999 {
			f.dst[row] = math.NaN()
			if width != f.width {
				f.widen(width)
			}
			return i + 1, !f.pressure
		}
		if v <= -9 && f.known && v < f.variable.ValidMin && oldFill(v) {
			return i, false
		}
	}
	f.dst[row] = v
	// its decimals do not give it back
	own := whole != 1 && (whole == 0 || d[first] == '0') || decimals == 0 && d[stop-1] == '.'
	if own || decimals != f.decimals || !f.seen || len(f.odd) > 0 && f.odd[len(f.odd)-1].Level >= row {
		var text []byte
		if own {
			text = trim(d[begin:stop])
		}
		f.note(row, decimals, text)
	}
	if width != f.width {
		f.widen(width)
	}
	return i + 1, true
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
		x.warn(metadata.Note, "exchange.comment_place", "", x.no, 0, "",
			"comment outside its place (after the first line); kept")
		x.cast.Comments = append(x.cast.Comments, section.Comment{Text: x.utf8Text(s), Place: section.InData,
			Level: x.row})
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
		x.warn(metadata.Note, "exchange.tabs", "", x.no, bytes.IndexByte(line, '\t')+1, "",
			"tab among the data; read as a blank")
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
	if !x.cell(x.pressure, f[x.pressure], x.no, x.offset[x.pressure]+1) { // first, since a line without it is left out
		return leaveOut()
	}
	for k := range f {
		if k != x.pressure {
			x.cell(k, f[k], x.no, x.offset[k]+1)
		}
	}
	x.row++
	return next
}
