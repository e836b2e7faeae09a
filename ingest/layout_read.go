package ingest

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"regexp"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// maxLayoutLines is the most lines that a file with a layout may have: a table of all casts of a cruise has a million.
const maxLayoutLines = 4_000_000

// ParseLayout reads the casts of a text file as a layout describes it. It keeps nothing of data. When err is not nil
// there are no casts; err joins every problem of the file, up to 20 for each cast, as *metadata.InputError.
func ParseLayout(data []byte, name string, l *Layout, o Options) ([]section.Cast, []metadata.Finding, error) {
	x := &layoutReader{report: &report{name: name}, l: l, o: &o, axis: -1}
	text, used, err := DecodeText(data, l.Encoding)
	if err != nil {
		x.fail(0, 0, "declare the encoding of the file in its layout: utf-8, latin-1 or utf-16", "%w", err)
		return x.finishLayout(nil, nil)
	}
	if l.Encoding != EncodingFound && l.Encoding != used || l.Encoding == EncodingFound && used == Latin1 {
		x.warn(metadata.Note, "layout.encoding", "", 0, 0, "", "the file is read as %s", used)
	}
	x.cut = len(text) > 0 && text[len(text)-1] != '\n'
	x.lines = bytes.Split(bytes.TrimSuffix(text, []byte("\n")), []byte("\n"))
	if len(x.lines) > maxLayoutLines {
		x.fail(0, 0, "divide the file", "%d lines; the limit is %d", len(x.lines), maxLayoutLines)
		return x.finishLayout(nil, nil)
	}
	if x.prepare(); len(x.errs) > 0 {
		return x.finishLayout(nil, nil)
	}
	source := metadata.Digest{Name: name, SHA256: sha256.Sum256(data), Bytes: int64(len(data))}
	outer := l.outer(name)
	var casts []layoutCast
	nth := map[[2]string]int{}
	for _, b := range x.blocks() {
		for _, g := range x.groups(&b) {
			f := outer.with(b.facts).with(g.facts)
			nth[[2]string{f["station"].text, f["cast"].text}]++
			casts = append(casts, x.cast(&b, g.rows, f, nth[[2]string{f["station"].text, f["cast"].text}], source)...)
		}
	}
	if len(casts) == 0 && len(x.errs) == 0 {
		x.noData()
	}
	x.unlistedColumns()
	var out []section.Cast
	var found []metadata.Finding
	for i := range casts {
		c := &casts[i]
		f, err := c.finish(c.cast.ID())
		found = append(found, f...)
		if err != nil {
			x.errs = append(x.errs, metadata.Parts(err)...)
			continue
		}
		out = append(out, c.cast)
	}
	return x.finishLayout(out, found)
}

func (x *layoutReader) finishLayout(casts []section.Cast, found []metadata.Finding) ([]section.Cast, []metadata.Finding,
	error) {
	if len(x.errs) > maxErrors {
		x.errs = x.errs[:maxErrors]
	}
	own, err := x.finish("")
	found = append(own, found...)
	for i := range found { // a rule of the exchange format, which the file does not claim to follow
		if found[i].Check == "exchange.identifier" {
			found[i].Severity = metadata.Note
		}
	}
	metadata.SortFindings(found)
	if err != nil {
		return nil, found, err
	}
	return casts, found, nil
}

// layoutReader is one file that is read as a layout describes it.
type layoutReader struct {
	*report
	l          *Layout
	o          *Options
	lines      [][]byte
	cut        bool // the last line has no end
	delimiter  byte
	slots      []slot // of the columns, in the order of the layout
	flagSlots  []slot // of the flags of each column; no place where it has none
	axis       int    // the column of pressure, else of depth
	byName     bool   // some column has its place by a name
	resolved   bool   // the line of names was found
	names      []ColumnName
	unitsFound []string
	width      int // fields of a data line; 0 before the first
	pieces     []piece
}

// prepare looks at the layout with the file at hand.
func (x *layoutReader) prepare() {
	l := x.l
	x.delimiter = l.Delimiter
	if l.Format == Delimited && x.delimiter == 0 {
		x.delimiter = findDelimiter(x.lines, l.Comma)
	}
	depth := -1
	for i := range l.Columns {
		c := &l.Columns[i]
		x.slots = append(x.slots, newSlot(c.Place))
		f := slot{index: -1}
		if c.Flags != nil {
			f = newSlot(c.Flags.Place)
			x.byName = x.byName || f.Column != ""
		}
		x.flagSlots = append(x.flagSlots, f)
		x.byName = x.byName || c.Column != ""
		switch c.Means {
		case "pres":
			x.axis = i
		case "depth":
			depth = i
		}
	}
	if x.axis < 0 {
		x.axis = depth
	}
	if x.axis < 0 {
		x.errs = append(x.errs, &metadata.InputError{Position: l.At,
			Err:    errors.New("layout " + l.Name + " has no column that means pres or depth"),
			Remedy: "say which column is pressure: {column: NAME, means: pres}"})
	}
}

// A block is the head and the data lines of what the file has between two heads.
type block struct {
	facts     facts
	comments  []string
	rows      []int  // numbers of lines, from 0
	slots     []slot // as the line of names above the rows has them
	flagSlots []slot
	units     []string
}

// blocks goes through the lines of the file.
func (x *layoutReader) blocks() (out []block) {
	l := x.l
	cur := block{facts: facts{}}
	var base facts
	skipTo, started := l.Skip.Lines, false
	inHead := true
	next := func(from facts) {
		out = append(out, cur)
		cur = block{facts: (facts{}).with(from)}
		inHead = true
	}
	for i := 0; i < len(x.lines) && !x.full; i++ {
		line := x.lines[i]
		if len(trim(line)) == 0 {
			continue
		}
		if l.Split != nil && l.Split.Match(line) {
			if !started {
				base, started = cur.facts, true
				cur.facts = (facts{}).with(base)
			} else {
				next(base)
			}
			inHead = true
			skipTo = i + l.Skip.Lines
			l.match(cur.facts, line, i+1)
			x.keep(&cur, line)
			continue
		}
		skipped := i < skipTo || x.skipped(line)
		switch {
		case skipped && x.isNames(line): // a comment sign may begin the line of names
		case skipped:
			l.match(cur.facts, line, i+1)
			x.keep(&cur, line)
		case inHead && x.resolved && x.dataLike(line, true), !inHead && x.dataLike(line, false):
			x.addRow(&cur, i)
			inHead = false
		case l.Split == nil && !inHead && l.match(facts{}, line, i+1):
			next(cur.facts.shared())
			l.match(cur.facts, line, i+1)
			x.keep(&cur, line)
		case l.match(cur.facts, line, i+1):
			x.keep(&cur, line)
		case x.isNames(line):
			inHead = true
		case inHead && !x.byName && x.dataLike(line, true):
			x.addRow(&cur, i)
			inHead = false
		case inHead:
			x.units(line)
			x.keep(&cur, line)
		default:
			x.strangeLine(line, i+1)
		}
	}
	out = append(out, cur)
	return slices.DeleteFunc(out, func(b block) bool { return len(b.rows) == 0 })
}

func (x *layoutReader) skipped(line []byte) bool {
	return slices.ContainsFunc(x.l.Skip.Patterns, func(p *regexp.Regexp) bool { return p.Match(line) })
}

// maxHeadLines is how many lines of a head are kept as comments of the cast.
const maxHeadLines = 500

func (x *layoutReader) keep(b *block, line []byte) {
	if len(b.comments) < maxHeadLines {
		b.comments = append(b.comments, "# "+strings.TrimRight(strings.Map(printable, string(line)), " "))
	}
}

// printable returns a character of a comment; control characters become blanks.
func printable(r rune) rune {
	if r < ' ' || r == 0x7f {
		return ' '
	}
	return r
}

// isNames reports whether a line holds the names of all columns that the layout names, and takes it for the lines that
// follow.
func (x *layoutReader) isNames(line []byte) bool {
	if !x.byName || x.l.Format == Fixed {
		return false
	}
	names := x.l.namesOf(line, x.delimiter)
	slots, flagSlots := slices.Clone(x.slots), slices.Clone(x.flagSlots)
	for _, list := range [][]slot{slots, flagSlots} {
		for i := range list {
			if list[i].Column == "" {
				continue
			}
			if list[i].index = findName(names, list[i].Column); list[i].index < 0 {
				return false
			}
		}
	}
	x.names, x.slots, x.flagSlots, x.resolved, x.unitsFound, x.width = names, slots, flagSlots, true, nil, 0
	return true
}

// units takes a line between the names and the data for the units when it has a field for each name.
func (x *layoutReader) units(line []byte) {
	if !x.resolved || x.unitsFound != nil {
		return
	}
	fields := x.l.namesOf(line, x.delimiter)
	if len(fields) != len(x.names) {
		return
	}
	letters := false
	units := make([]string, len(fields))
	for i := range fields {
		units[i] = strings.Trim(fields[i].Text, "[]() ")
		letters = letters || strings.ContainsFunc(units[i], func(r rune) bool {
			return r >= 'a' && r <= 'z' ||
				r >= 'A' && r <= 'Z'
		})
	}
	if letters {
		x.unitsFound = units
	}
}

// divided returns the fields of a data line; one empty field at the end is left out.
func (x *layoutReader) divided(line []byte) []piece {
	x.pieces = x.l.divide(x.pieces, line, x.delimiter)
	p := x.pieces
	if n := len(p); x.l.Format == Delimited && n > 1 && len(p[n-1].text) == 0 &&
		(x.width == n-1 || x.width == 0 && len(x.names) == n-1) {
		p = p[:n-1]
	}
	return p
}

// dataLike reports whether a line is a data line: pressure is a number and, in a head, every other column of numbers is
// one or missing. Among data lines it is enough that the line has their number of fields and half of them are numbers.
func (x *layoutReader) dataLike(line []byte, inHead bool) bool {
	pieces := x.divided(line)
	numbers, odd := 0, 0
	for k := range x.slots {
		means := x.l.Columns[k].Means
		p, ok := x.slots[k].take(line, pieces)
		if !ok {
			if inHead {
				return false
			}
			odd++
			continue
		}
		if isFact(means) || means == Keep {
			continue
		}
		s, missing := x.canonical(k, p.text)
		v, _, q, ok := scanNumber(s)
		isNumber := ok && q != notNumber && v == v || missing && k != x.axis
		if k == x.axis && isNumber && !missing && !inHead {
			return true
		}
		if !isNumber {
			odd++
		} else {
			numbers++
		}
	}
	if inHead {
		return odd == 0
	}
	return (x.width == 0 || len(pieces) == x.width) && numbers > 0 && numbers >= odd
}

// addRow adds a data line to a block, unless its fields are not as many as those of the first: that is reported.
func (x *layoutReader) addRow(b *block, i int) {
	n := len(x.divided(x.lines[i]))
	if x.width == 0 {
		x.width = n
	}
	if len(b.rows) == 0 {
		b.slots, b.flagSlots, b.units = x.slots, x.flagSlots, x.unitsFound
	}
	switch {
	case n == x.width:
		b.rows = append(b.rows, i)
	case n < x.width && x.cut && i == len(x.lines)-1:
		x.warn(metadata.Warning, "layout.truncated", "", i+1, 0, "compare the file with the one it was copied from",
			"the last line is cut short: %d of %d fields; left out", n, x.width)
	case x.o.Lenient:
		x.warn(metadata.Warning, "layout.field_count", "", i+1, 0, "compare the line with its neighbours",
			"line has %d fields, the first has %d; skipped", n, x.width)
	default:
		offerLenient(x.fail(i+1, 0, "compare the line with its neighbours",
			"data line has %d %s, the first has %d", n, plural(n, "field", "fields"), x.width))
	}
}

// strangeLine reports a line among the data that is neither data nor known.
func (x *layoutReader) strangeLine(line []byte, no int) {
	if x.o.Lenient {
		x.warn(metadata.Warning, "layout.strange_line", "", no, 1, "compare the line with its neighbours",
			"%s is no data line; skipped", firstBytes(line))
		return
	}
	offerLenient(x.fail(no, 1, "when it is no data line, add a pattern that matches it to skip in the layout",
		"%s is neither a data line nor skipped by the layout", firstBytes(line)))
}

// noData reports that a file has no data lines, and what the layout was looking for.
func (x *layoutReader) noData() {
	switch {
	case x.l.Format == Fixed && x.byName:
		x.fail(0, 0, "give each column from and to", "columns of a fixed layout have no names in the file")
	case x.byName && !x.resolved:
		line, missing := x.nearestNames()
		x.fail(line, 0, "compare the names of the columns, and the delimiter, of the layout with the file",
			"no line holds the names of all columns of layout %s; the nearest lacks %s",
			x.l.Name, strings.Join(missing, ", "))
	default:
		x.fail(0, 0, "compare the columns and skip of the layout with the file",
			"no data lines: in no line are all columns of layout %s numbers", x.l.Name)
	}
}

// unlistedColumns notes which columns of the file the layout does not list.
func (x *layoutReader) unlistedColumns() {
	var none []string
	for i, n := range x.names {
		used := func(s slot) bool { return s.index == i }
		if !slices.ContainsFunc(x.slots, used) && !slices.ContainsFunc(x.flagSlots, used) {
			none = append(none, n.Text)
		}
	}
	if len(none) > 0 {
		x.warn(metadata.Note, "layout.unlisted", "", 0, 0,
			"to have a column copied as it is, add it to the columns of the layout with means: keep",
			"the layout does not list %s of the file: %s; not read", plural(len(none), "this column", "these columns"),
			strings.Join(none, ", "))
	}
}

// nearestNames returns the line that holds most of the names of the layout, from 1, and those that it lacks.
func (x *layoutReader) nearestNames() (line int, missing []string) {
	var all []string
	for _, s := range slices.Concat(x.slots, x.flagSlots) {
		if s.Column != "" && !slices.Contains(all, s.Column) {
			all = append(all, s.Column)
		}
	}
	missing = all
	for i, l := range x.lines[:min(len(x.lines), 1000)] {
		names := x.l.namesOf(l, x.delimiter)
		lacks := slices.DeleteFunc(slices.Clone(all), func(s string) bool { return findName(names, s) >= 0 })
		if len(lacks) < len(missing) {
			line, missing = i+1, lacks
		}
	}
	return line, missing
}
