package ingest

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
)

// A csvForm says which columns a table has.
type csvForm struct {
	legal []string // all that are known
	need  []string // those that must be there
	head  string   // a first line to copy
}

// maxTableErrors is how many faults of one table are told.
const maxTableErrors = 20

// maxTableRows is the most lines that a table may have below its names.
const maxTableRows = 100_000

// A Row is where a line of a table stands.
type Row struct {
	file string
	at   map[string]int
	rec  []string
	pos  [][2]int // line and column of each field
	errs *[]error
}

// Place gives the place of the line's field in the named column, or of the line when there is no such column.
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

// text gives a field without blanks around it; "" when there is no such column.
func (r *Row) text(column string) string {
	i, ok := r.at[column]
	if !ok || i >= len(r.rec) {
		return ""
	}
	return strings.TrimSpace(r.rec[i])
}

func (r *Row) fail(column, remedy, format string, a ...any) {
	*r.errs = append(*r.errs, &metadata.InputError{Position: r.Place(column), Err: fmt.Errorf(format, a...), Remedy: remedy})
}

// number reads a number from lo to hi and the digits after its point; NaN for an empty field.
func (r *Row) number(column string, lo, hi float64) (v float64, decimals int) {
	s := r.text(column)
	if s == "" {
		return math.NaN(), 0
	}
	v, decimals, q, ok := scanNumber([]byte(s))
	switch {
	case !ok || q == blank || q == notNumber || q == quoted:
		r.fail(column, "write a number, digits with a point, or leave the field empty", "%s is %q, which is not a number", column, s)
		return math.NaN(), 0
	case v < lo || v > hi:
		r.fail(column, fmt.Sprintf("write a number from %g to %g, or leave the field empty", lo, hi), "%s is %s", column, s)
		return math.NaN(), 0
	}
	return v, decimals
}

// name reads a station or cast number, which must be there.
func (r *Row) name(column string) string {
	s := r.text(column)
	switch {
	case s == "":
		r.fail(column, "write it as the cast file has it", "no %s", column)
	case !metadata.InFileName(s):
		r.fail(column, "write it as the cast file has it, letters, digits and _", "%s is %q, which no cast can be called", column, s)
	}
	return s
}

// readCSV reads a table and calls each for its lines. The error joins what is wrong with it, up to 20 faults, in the order of places.
func readCSV(data []byte, file string, form *csvForm, each func(r *Row)) error {
	fail := func(line, column int, remedy, format string, a ...any) error {
		return &metadata.InputError{Position: metadata.Position{File: file, Line: line, Column: column}, Err: fmt.Errorf(format, a...), Remedy: remedy}
	}
	head := "write a first line such as " + form.head
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if at := notText(data); at >= 0 {
		line := bytes.Count(data[:at], []byte{'\n'}) + 1
		return fail(line, at-bytes.LastIndexByte(data[:at], '\n'), "save the table as CSV in UTF-8", "byte %#02x is no text in UTF-8", data[at])
	}
	data = oneLineEnd(data)
	c := csv.NewReader(bytes.NewReader(data))
	c.Comment, c.TrimLeadingSpace, c.FieldsPerRecord, c.ReuseRecord = '#', true, 0, false
	names, err := c.Read()
	switch {
	case errors.Is(err, io.EOF):
		return fail(1, 0, head, "the table is empty")
	case err != nil:
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			return fail(pe.Line, pe.Column, head, "%w", pe.Err)
		}
		return fail(1, 0, head, "%w", err)
	}
	at := map[string]int{}
	var errs []error
	for i, raw := range names {
		line, col := c.FieldPos(i)
		n := strings.ToLower(strings.TrimSpace(raw))
		known := false
		for _, l := range form.legal {
			known = known || l == n
		}
		_, twice := at[n]
		switch {
		case len(names) == 1 && strings.ContainsAny(n, ";\t"):
			return fail(line, col, "put commas between the columns", "one column only, with semicolons or tabs in its name")
		case n == "" && !twice:
			errs = append(errs, fail(line, col, "give the column a name or take it out; "+head, "column %d has no name", i+1))
		case !known:
			remedy := head
			if near, ok := metadata.Nearest(n, form.legal); ok {
				remedy = "did you mean " + near
			}
			errs = append(errs, fail(line, col, remedy, "column %q is not a known column", strings.TrimSpace(raw)))
		case twice:
			errs = append(errs, fail(line, col, "take one out", "column %q occurs twice", n))
		}
		if !twice {
			at[n] = i
		}
	}
	headLine, _ := c.FieldPos(0)
	for _, n := range form.need {
		if _, ok := at[n]; !ok {
			errs = append(errs, fail(headLine, 0, head, "no column %s", n))
		}
	}
	if len(errs) > 0 {
		return errors.Join(errs[:min(len(errs), maxTableErrors)]...)
	}
	for n := 0; len(errs) < maxTableErrors; n++ {
		rec, err := c.Read()
		if n == maxTableRows && !errors.Is(err, io.EOF) {
			line, _ := c.FieldPos(0)
			return fail(line, 0, "keep the lines of this cruise", "more than %d lines; that is the limit", maxTableRows)
		}
		if errors.Is(err, io.EOF) {
			break
		}
		var pe *csv.ParseError
		if errors.As(err, &pe) {
			if errors.Is(err, csv.ErrFieldCount) {
				line, _ := c.FieldPos(0)
				errs = append(errs, fail(line, 0, "give each line as many fields as the first, and put text with commas in double quotes",
					"line has %d fields, expected %d", len(rec), len(names)))
				continue
			}
			errs = append(errs, fail(pe.Line, pe.Column, `put text with commas or quotes in double quotes, and write " inside as ""`, "%w", pe.Err))
			break
		}
		if err != nil {
			return fail(0, 0, "", "%w", err)
		}
		blank := true
		r := &Row{file: file, at: at, rec: rec, pos: make([][2]int, len(rec)), errs: &errs}
		for i := range rec {
			line, col := c.FieldPos(i)
			r.pos[i] = [2]int{line, col}
			blank = blank && strings.TrimSpace(rec[i]) == ""
		}
		if blank { // spreadsheets write empty rows as commas
			continue
		}
		each(r)
		r.rec, r.errs = nil, nil
	}
	return errors.Join(errs[:min(len(errs), maxTableErrors)]...)
}

// notText gives the offset of the first byte that is no text, -1 when all is.
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
