package ingest

import (
	"bytes"
	"crypto/sha256"
	"math"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// Options are the choices of a reader. The zero value is strict.
type Options struct {
	Lenient bool            // skip lines of wrong length; what is no number becomes missing with flag 4
	Aliases []Alias         // columns that the cruise file explains
	Used    func(alias int) // told each of Aliases that explained a column, from several goroutines; nil: nobody
	Layouts []Layout        // of files that are not exchange files
	Legs    []Leg           // whose expocodes the casts have that say none
	Log     []StationEntry  // positions and depths of casts whose files say none
}

// Parse reads the bytes of one exchange CTD file (exchange.md sections 1, 2 and 7). It keeps nothing of data. When err
// is not nil there are no casts; err joins every problem of the file, up to 20, as *metadata.InputError in order of
// place.
func Parse(data []byte, name string, o Options) ([]section.Cast, []metadata.Finding, error) {
	x := newExchange(name, &o, false)
	x.cast = section.Cast{BottomM: math.NaN(), AtDecimals: [2]int{-1, -1}}
	x.cast.Source = metadata.Digest{Name: name, SHA256: sha256.Sum256(data), Bytes: int64(len(data))}
	if x.open(data) {
		x.read()
	}
	found, err := x.finish(x.cast.ID())
	if err != nil {
		return nil, found, err
	}
	return []section.Cast{x.cast}, found, nil
}

// exchange is one exchange file being read: the grammar of the format around a builder of columns.
type exchange struct {
	*report
	text
	builder
	table
	cast             section.Cast
	headers          []header
	lineAt, lineFrom int // bottle files: a line and its offset, for columnOf
}

func newExchange(name string, o *Options, bottle bool) *exchange {
	r := &report{name: name}
	x := &exchange{report: r, text: text{report: r}, builder: builder{report: r, o: o, bottle: bottle}, lineAt: 1}
	x.builder.lineOf = x.lineAtRow
	return x
}

// header is one NAME = VALUE line.
type header struct {
	raw, name, value string // name as read, name as listed
	line, column     int
}

func (x *exchange) read() {
	comment := func(place section.CommentPlace) func([]byte) {
		return func(line []byte) {
			x.cast.Comments = append(x.cast.Comments, section.Comment{Text: x.utf8Text(line), Place: place})
		}
	}
	stamp, ok := x.stamp("CTD", "BOTTLE", comment(section.InHead))
	if !ok {
		return
	}
	x.cast.Stamp = stamp
	params, ok := x.head(comment)
	if !ok {
		return
	}
	x.header()
	if !x.columns(params) {
		return
	}
	x.rows()
	x.deliver()
}

// head reads header lines up to the parameter line, which it gives.
func (x *exchange) head(comment func(section.CommentPlace) func([]byte)) (params []byte, ok bool) {
	for {
		line, more := x.next()
		if !more {
			x.fail(x.no, 0, "copy the file again from where it was made",
				"no parameter line: the file ends after %d header lines", len(x.headers))
			return nil, false
		}
		s := trim(line)
		switch {
		case onlyCommas(s):
			x.warn(metadata.Note, "exchange.blank_lines", "", x.no, 0, "", "blank line in the head; skipped")
			continue
		case isStamp(s):
			x.second(s)
			return nil, false
		case s[0] == '#':
			if len(x.headers) == 0 {
				comment(section.InHead)(s)
				continue
			}
			x.warn(metadata.Note, "exchange.comment_place", "", x.no, 0, "",
				"comment outside its place (after the first line); kept")
			comment(section.InHeaders)(s)
			continue
		}
		if bytes.IndexByte(line, '\t') >= 0 {
			x.warn(metadata.Note, "exchange.tabs", "", x.no, bytes.IndexByte(line, '\t')+1, "",
				"tab in the head; read as a blank")
		}
		if i := bytes.IndexByte(line, '='); i >= 0 && !x.namesPressure(line[:i]) {
			x.headerLine(line, i)
			continue
		}
		if bytes.IndexByte(s, ',') >= 0 || metadata.ExchangeName(string(s), x.bottle) == "CTDPRS" {
			return line, true
		}
		if at, what := x.separator(line); at > 0 {
			x.fail(x.no, at, "write commas between the fields, and points in the numbers",
				"the fields are separated by %s, not by commas", what)
			x.full = true // so they are in every line that follows
			return nil, false
		}
		x.fail(x.no, len(line)-len(s)+1, "write NAME = VALUE, or begin the line with #",
			"%s is neither a header line (NAME = VALUE) nor the parameter line", firstBytes(s))
		if x.full {
			return nil, false
		}
	}
}

// separator finds a parameter line whose names are separated by tabs, semicolons or blanks: the column of the first of
// them, and their name.
func (x *exchange) separator(line []byte) (column int, what string) {
	for _, s := range []struct{ sign, name string }{{"\t", "tabs"}, {";", "semicolons"}, {" ", "blanks"}} {
		lead := len(line) - len(bytes.TrimLeft(line, " \t"))
		rest := line[lead:]
		for _, word := range strings.FieldsFunc(string(rest),
			func(r rune) bool { return strings.ContainsRune(s.sign, r) }) {
			if metadata.ExchangeName(strings.TrimSpace(word), x.bottle) == "CTDPRS" {
				if i := bytes.IndexByte(rest, s.sign[0]); i > 0 {
					return lead + i + 1, s.name
				}
			}
		}
	}
	return 0, ""
}

// namesPressure reports whether a line up to its first = is a list of names with pressure among them: a parameter line
// with an odd name.
func (x *exchange) namesPressure(line []byte) bool {
	names, _ := fields(line, nil, nil)
	for _, n := range names[:len(names)-1] {
		if metadata.ExchangeName(string(n), x.bottle) == "CTDPRS" {
			return true
		}
	}
	return false
}
