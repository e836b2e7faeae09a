package ingest

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
)

// A csvForm says which columns a table has.
type csvForm struct {
	legal []string // all that are known
	need  []string // those that must be there
	oneOf []string // exactly one of these, unless there are none
	head  string   // a first line to copy
	log   *LogMapping
	extra *[]string // names of columns that are not known, which are no fault; nil: they are one
}

// maxTableErrors is how many faults of one table are told.
const maxTableErrors = 20

// maxTableRows is the most lines that a table may have below its names.
const maxTableRows = 100_000

// A Row is a line of a table and its place.
type Row struct {
	file string
	at   map[string]int
	rec  []string
	pos  [][2]int // line and column of each field
	errs *[]error
	log  *LogMapping // of a log in forms of its own; nil for other tables
}

// Place returns the place of the line's field in the named column, or of the line when there is no such column.
func (r *Row) Place(column string) metadata.Position {
	i, ok := r.at[column]
	if !ok || i >= len(r.pos) {
		i = 0
	}
	if len(r.pos) == 0 {
		return metadata.Position{File: r.file}
	}
	return metadata.Position{File: r.file, Line: r.pos[i][0], Column: r.pos[i][1]}
}

// text returns a field without blanks around it; "" when there is no such column.
func (r *Row) text(column string) string {
	i, ok := r.at[column]
	if !ok || i >= len(r.rec) {
		return ""
	}
	s := strings.TrimSpace(r.rec[i])
	if r.log.foreign() && slices.Contains(nothingWords, strings.ToLower(s)) {
		return ""
	}
	return s
}

func (r *Row) fail(column, remedy, format string, a ...any) {
	*r.errs = append(*r.errs, &metadata.InputError{Position: r.Place(column), Err: fmt.Errorf(format, a...),
		Remedy: remedy})
}

// number reads a number from lo to hi and the digits after its point; NaN for an empty field.
func (r *Row) number(column string, lo, hi float64) (v float64, decimals int) {
	if r.text(column) == "" {
		return math.NaN(), 0
	}
	return r.numberOf(column, lo, hi, ", or leave the field empty")
}

// given reads a number from lo to hi that must be there; NaN when the table has no such column.
func (r *Row) given(column string, lo, hi float64) float64 {
	if _, ok := r.at[column]; !ok {
		return math.NaN()
	}
	v, _ := r.numberOf(column, lo, hi, "")
	return v
}

func (r *Row) numberOf(column string, lo, hi float64, or string) (v float64, decimals int) {
	s := r.text(column)
	if r.log.foreign() {
		s = strings.TrimSpace(strings.TrimRight(s, "mM "))
		if r.log.Comma {
			s = strings.Replace(s, ",", ".", 1)
		}
	}
	v, decimals, q, ok := scanNumber([]byte(s))
	switch {
	case !ok || q == blank || q == notNumber || q == quoted:
		r.fail(column, "write a number, digits with a point"+or, "%s is %q, which is not a number", column, s)
	case v < lo || v > hi:
		r.fail(column, fmt.Sprintf("write a number from %g to %g", lo, hi)+or, "%s is %s", column, s)
	default:
		return v, decimals
	}
	return math.NaN(), 0
}

// name reads a station or cast number, which must be there.
func (r *Row) name(column string) string {
	s := r.text(column)
	switch {
	case s == "":
		r.fail(column, "write it as the cast file has it", "no %s", column)
	case !metadata.InFileName(s):
		r.fail(column, "write it as the cast file has it, letters, digits and _",
			"%s is %q, which no cast can be called", column, s)
	}
	return s
}

// A csvReader reads the lines of one table.
type csvReader struct {
	*csv.Reader
	file string
	form *csvForm
	at   map[string]int // column of each name
	errs []error
}

func (c *csvReader) fail(line, column int, remedy, format string, a ...any) {
	c.errs = append(c.errs, &metadata.InputError{Position: metadata.Position{File: c.file, Line: line, Column: column},
		Err: fmt.Errorf(format, a...), Remedy: remedy})
}

// readCSV reads a table and calls each for its lines. The error joins what is wrong with it, up to 20 faults, in the
// order of places.
func readCSV(data []byte, file string, form *csvForm, each func(r *Row)) error {
	c := &csvReader{file: file, form: form, at: map[string]int{}}
	if form.log.foreign() {
		text, _, err := DecodeText(data, form.log.Encoding)
		if err != nil {
			c.fail(1, 0, "declare the encoding of the log: utf-8, latin-1 or utf-16", "%w", err)
			return c.errs[0]
		}
		data = text
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if at := notText(data); at >= 0 {
		c.fail(bytes.Count(data[:at], []byte{'\n'})+1, at-bytes.LastIndexByte(data[:at], '\n'),
			"save the table as CSV in UTF-8", "byte %#02x is no text in UTF-8", data[at])
		return c.errs[0]
	}
	c.Reader = csv.NewReader(bytes.NewReader(oneLineEnd(data)))
	c.Comment, c.TrimLeadingSpace, c.FieldsPerRecord, c.ReuseRecord = '#', true, 0, false
	if form.log.foreign() {
		c.Comma = form.log.delimiter(data)
		c.TrimLeadingSpace = c.Comma != '\t'
	}
	c.names()
	if len(c.errs) == 0 {
		c.rows(each)
	}
	return errors.Join(c.errs[:min(len(c.errs), maxTableErrors)]...)
}

// names reads the first line, which names the columns.
func (c *csvReader) names() {
	head := "write a first line such as " + c.form.head
	names, err := c.Read()
	var pe *csv.ParseError
	switch {
	case errors.Is(err, io.EOF):
		c.fail(1, 0, head, "the table is empty")
		return
	case errors.As(err, &pe):
		c.fail(pe.Line, pe.Column, head, "%w", pe.Err)
		return
	case err != nil:
		c.fail(1, 0, head, "%w", err)
		return
	}
	for i, raw := range names {
		line, col := c.FieldPos(i)
		n := c.form.log.means(strings.TrimSpace(raw))
		_, twice := c.at[n]
		switch {
		case len(names) == 1 && strings.ContainsAny(n, ";\t"):
			c.fail(line, col, "put commas between the columns", "one column only, with semicolons or tabs in its name")
			return
		case c.unknown(n):
			*c.form.extra = append(*c.form.extra, strings.TrimSpace(raw))
			continue
		case n == "" && !twice:
			c.fail(line, col, "give the column a name or take it out; "+head, "column %d has no name", i+1)
		case !slices.Contains(c.form.legal, n):
			remedy := head
			if near, ok := metadata.Nearest(n, c.form.legal); ok {
				remedy = "did you mean " + near
			}
			c.fail(line, col, remedy, "column %q is not a known column", strings.TrimSpace(raw))
		case twice:
			c.fail(line, col, "take one out", "column %q occurs twice", n)
		}
		if !twice {
			c.at[n] = i
		}
	}
	line, _ := c.FieldPos(0)
	for _, n := range c.form.need {
		if _, ok := c.at[n]; !ok {
			c.fail(line, 0, head, "no column %s", n)
		}
	}
	there := 0
	for _, n := range c.form.oneOf {
		if _, ok := c.at[n]; ok {
			there++
		}
	}
	choice := strings.Join(c.form.oneOf, " or ")
	switch {
	case there > 1:
		c.fail(line, 0, "keep one of these columns", "there is more than one column %s", choice)
	case there == 0 && choice != "":
		c.fail(line, 0, head, "no column %s", choice)
	}
}

// unknown reports whether a column is left aside: one that is not known in a table that may have such, and is not
// called nearly as one that is.
func (c *csvReader) unknown(n string) bool {
	if c.form.extra == nil || slices.Contains(c.form.legal, n) {
		return false
	}
	near, ok := metadata.Nearest(n, c.form.legal)
	return c.form.log.foreign() || n != "" && (!ok || len(near)-len(n) > 1 || len(n)-len(near) > 1)
}

// rows reads the lines below the first.
func (c *csvReader) rows(each func(r *Row)) {
	for n := 0; len(c.errs) < maxTableErrors; n++ {
		rec, err := c.Read()
		if errors.Is(err, io.EOF) {
			return
		}
		var pe *csv.ParseError
		switch {
		case n == maxTableRows:
			line, _ := c.FieldPos(0)
			c.errs = nil
			c.fail(line, 0, "keep the lines of this cruise", "more than %d lines; that is the limit", maxTableRows)
			return
		case errors.Is(err, csv.ErrFieldCount):
			line, _ := c.FieldPos(0)
			c.fail(line, 0, "give each line as many fields as the first, and put text with commas in double quotes",
				"line has %d fields, expected %d", len(rec), c.FieldsPerRecord)
			continue
		case errors.As(err, &pe):
			c.fail(pe.Line, pe.Column, `put text with commas or quotes in double quotes, and write " inside as ""`,
				"%w", pe.Err)
			return
		case err != nil:
			c.fail(0, 0, "", "%w", err)
			return
		}
		r := &Row{file: c.file, log: c.form.log, at: c.at, rec: rec, pos: make([][2]int, len(rec)), errs: &c.errs}
		blank := true
		for i := range rec {
			r.pos[i][0], r.pos[i][1] = c.FieldPos(i)
			blank = blank && strings.TrimSpace(rec[i]) == ""
		}
		if blank { // spreadsheets write empty rows as commas
			continue
		}
		each(r)
		r.rec, r.errs = nil, nil
	}
}

// notText returns the offset of the first byte that is no text, -1 when all is.
func notText(data []byte) int {
	for i := 0; i < len(data); {
		r, n := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && n <= 1 || r < ' ' && r != '\n' && r != '\r' && r != '\t' {
			return i
		}
		i += n
	}
	return -1
}

// oneLineEnd turns lone carriage returns, which old spreadsheets write, into line feeds.
func oneLineEnd(data []byte) []byte {
	if bytes.IndexByte(data, '\n') >= 0 || bytes.IndexByte(data, '\r') < 0 {
		return data
	}
	return bytes.ReplaceAll(data, []byte{'\r'}, []byte{'\n'})
}
