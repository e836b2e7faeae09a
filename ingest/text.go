package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"sort"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
)

// maxErrors is how many problems of one file are collected before reading stops.
const maxErrors = 20

// text is one file being read: its lines, and what was found wrong on the way.
type text struct {
	name  string
	data  []byte // ends in a line feed
	pos   int    // offset of the next line
	no    int    // number of the line last taken
	cut   bool   // the file did not end in a line feed
	errs  []error
	found []metadata.Finding
	said  map[string]bool // checks whose messages give their count
	full  bool
}

// leaveOut is the piece of a cruise file that gets past a file that cannot be read.
func leaveOut(name string) string {
	return "casts:\n  leave_out:\n    " + metadata.LeaveOutFile(name, "...")
}

// fail notes an error. The remedy given is completed by the line that leaves the file out.
func (t *text) fail(line, column int, remedy, format string, args ...any) {
	if t.full {
		return
	}
	switch {
	case strings.HasSuffix(remedy, "\n"):
		remedy += "or "
	case remedy != "":
		remedy += "; or "
	}
	remedy += "leave the file out with this in the cruise file:\n" + leaveOut(t.name)
	t.errs = append(t.errs, &metadata.InputError{
		Position: metadata.Position{File: t.name, Line: line, Column: column},
		Err:      fmt.Errorf(format, args...), Remedy: remedy,
	})
	t.full = len(t.errs) >= maxErrors
}

// span notes the first and last pressure in dbar and the number of the values that a finding is about, which its message gives.
func (t *text) span(f *metadata.Finding, first, last float64, n int) {
	f.First, f.Last, f.Count = first, last, n
	if t.said == nil {
		t.said = map[string]bool{}
	}
	t.said[f.Check] = true
}

// again counts one more case of a finding already made for this file and returns it; nil when there is none.
func (t *text) again(check, variable string) *metadata.Finding {
	for i := range t.found {
		if f := &t.found[i]; f.Check == check && f.Variable == variable {
			f.Count++
			return f
		}
	}
	return nil
}

// warn notes a finding once for each kind and variable of a file, at its first place, and returns it. The result is good until the next call.
func (t *text) warn(s metadata.Severity, check, variable string, line, column int, remedy, format string, args ...any) *metadata.Finding {
	if f := t.again(check, variable); f != nil {
		return f
	}
	if remedy == "" && s == metadata.Warning {
		remedy = remedies[check]
	}
	t.found = append(t.found, metadata.Finding{
		Position: metadata.Position{File: t.name, Line: line, Column: column}, Severity: s, Check: check, Variable: variable,
		Message: fmt.Sprintf(format, args...), Remedy: remedy, Count: 1,
	})
	return &t.found[len(t.found)-1]
}

// remedies says what a person can do about a warning that has no remedy of its own.
var remedies = map[string]string{
	"exchange.after_end":     "when they are of this cast, move the line END_DATA behind them; when not, put # before them",
	"exchange.castno":        "number the casts of a station 1, 2, 3",
	"exchange.end_data":      "compare the end of the file with the one it was copied from; when nothing is lost, end it with a line END_DATA",
	"exchange.expocode":      "write platform code and departure date when the cruise has them; an assigned code may stay",
	"exchange.field_count":   "compare the line with its neighbours",
	"exchange.flag_absent":   "give the value the flag that it deserves, or take it out (-999)",
	"exchange.flag_column":   "call it as the column that it belongs to, with _FLAG_W behind",
	"exchange.flag_missing":  "write 9 (not sampled) or 5 (not reported) where there is no value",
	"exchange.flag_not_used": "write another flag of the set: 8 says nothing",
	"exchange.flag_value":    "write one digit, 1 to 9; 0 or nothing for a value that was not evaluated",
	"exchange.identifier":    "write it with letters, digits and _ only",
	"exchange.ipts68":        "nothing, when it is so; when the values are on ITS-90 already, write ITS-90 in the unit line",
	"exchange.no_pressure":   "write the pressure of the level",
	"exchange.not_a_number":  "write a number, or -999 when there is none",
	"exchange.not_evaluated": "take the comment out, or correct it, so that what flags 1 mean is clear",
	"exchange.pressure_order": "sections and derived quantities use the levels that increase from the top; sort the levels or take out what is double when the others " +
		"count",
	"exchange.sampno":    "add a column SAMPNO",
	"exchange.unit":      "write the unit in the unit line",
	"exchange.unit_line": "write a line with the units behind that with the names",
}

// finish gives the findings in order of place, with how often each kind was seen, and the errors as one.
func (t *text) finish(cast string) ([]metadata.Finding, error) {
	for i := range t.found {
		f := &t.found[i]
		f.Cast = cast
		if strings.ToLower(f.Variable) != f.Variable { // a header or column name, which only kept the kinds apart
			f.Variable = ""
		}
		if f.Count > 1 && !t.said[f.Check] {
			f.Message += fmt.Sprintf(" (%d in this file)", f.Count)
		}
	}
	metadata.SortFindings(t.found)
	sort.SliceStable(t.errs, func(i, j int) bool {
		return t.errs[i].(*metadata.InputError).Before(t.errs[j].(*metadata.InputError).Position)
	})
	return t.found, errors.Join(t.errs...)
}

const saveAsUTF8 = "save the file as UTF-8 without a byte-order mark, lines ended by LF"

// open prepares the bytes of a file: byte-order mark, line ends, a line feed at the end. It fails on what is not text of one byte a character.
func (t *text) open(data []byte) bool {
	const ends = "exchange.line_ends"
	switch {
	case len(data) == 0:
		t.fail(0, 0, "copy the file again from where it was made", "not an exchange file: it is empty")
		return false
	case bytes.HasPrefix(data, []byte("\xff\xfe")), bytes.HasPrefix(data, []byte("\xfe\xff")),
		len(data) > 3 && data[0] != 0 && data[1] == 0 && data[2] != 0 && data[3] == 0,
		len(data) > 3 && data[0] == 0 && data[1] != 0 && data[2] == 0 && data[3] != 0:
		t.fail(1, 1, saveAsUTF8, "the file is in UTF-16: first bytes % x", data[:min(4, len(data))])
		return false
	}
	if bytes.HasPrefix(data, []byte("\xef\xbb\xbf")) {
		data = data[3:]
		t.warn(metadata.Note, "exchange.byte_order_mark", "", 1, 1, "", "the file begins with a byte-order mark; left out")
	}
	if cr := bytes.Count(data, []byte("\r")); cr > 0 {
		switch crlf := bytes.Count(data, []byte("\r\n")); {
		case crlf == cr && crlf == bytes.Count(data, []byte("\n")):
			t.warn(metadata.Note, ends, "", 1, 0, "", "lines end in CRLF; read as LF")
		case crlf == cr:
			t.warn(metadata.Note, ends, "", 1, 0, "", "some lines end in CRLF and some in LF; read as LF")
		default:
			t.warn(metadata.Note, ends, "", 1, 0, "", "some lines end in CR alone; read as LF")
			data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
			data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
		}
	}
	if len(data) == 0 || data[len(data)-1] != '\n' {
		t.cut = true
		data = append(data[:len(data):len(data)], '\n') // the caller's bytes stay as they are
	}
	t.data = data
	return true
}

// next takes the next line without its end and trailing blanks.
func (t *text) next() ([]byte, bool) {
	if t.pos >= len(t.data) {
		return nil, false
	}
	i := t.pos + bytes.IndexByte(t.data[t.pos:], '\n')
	line := t.data[t.pos:i]
	t.pos = i + 1
	t.no++
	for len(line) > 0 && isBlank(line[len(line)-1]) {
		line = line[:len(line)-1]
	}
	return line, true
}

// utf8Text gives a comment or header as UTF-8; bytes that are not are taken for Latin-1.
func (t *text) utf8Text(line []byte) string {
	if i := bytes.IndexFunc(line, func(r rune) bool { return r < ' ' && r != '\t' || r == 0x7f }); i >= 0 {
		t.warn(metadata.Warning, "exchange.control_character", "", t.no, i+1, "compare the file with the one it was copied from", "text holds the control character %#02x; kept", line[i])
	}
	if utf8.Valid(line) {
		return string(line)
	}
	t.warn(metadata.Note, "exchange.latin1", "", t.no, 1, saveAsUTF8, "comment is not UTF-8; read as Latin-1")
	var b strings.Builder
	for _, c := range line {
		b.WriteRune(rune(c))
	}
	return b.String()
}

// cutQuotes takes a pair of quotes off, if there is one.
func cutQuotes(s []byte) []byte {
	if len(s) >= 2 && (s[0] == '"' || s[0] == '\'') && s[len(s)-1] == s[0] {
		return trim(s[1 : len(s)-1])
	}
	return s
}

// stamp reads up to the first line that counts and checks that it begins with word (CTD or BOTTLE). Comment lines before it are handed on.
func (t *text) stamp(word, other string, comment func([]byte)) (stamp string, ok bool) {
	for {
		line, more := t.next()
		if !more {
			t.fail(0, 0, "copy the file again from where it was made", "not an exchange file: it holds no line but blank ones and comments")
			return "", false
		}
		s := trim(line)
		if len(s) == 0 {
			t.warn(metadata.Note, "exchange.blank_lines", "", t.no, 0, "", "blank line in the head; skipped")
			continue
		}
		if s[0] == '#' {
			t.warn(metadata.Note, "exchange.comment_place", "", t.no, 0, "", "comment outside its place (after the first line); kept")
			comment(s)
			continue
		}
		s = cutQuotes(bytes.TrimRight(s, ", \t"))
		n := 0
		for n < len(s) && (s[n]|0x20 >= 'a' && s[n]|0x20 <= 'z') {
			n++
		}
		head, rest := string(s[:n]), s[n:]
		first := firstBytes(line)
		switch {
		case strings.EqualFold(head, word) && (len(rest) == 0 || rest[0] == ',' || isBlank(rest[0])):
			if head != word {
				t.warn(metadata.Note, "exchange.stamp", "", t.no, 1, "", "first line begins with %q; read as %q", head, word)
			} else if len(rest) == 0 || rest[0] != ',' || len(trim(rest[1:])) < 8 || !allDigits(trim(rest[1:])[:8]) {
				t.warn(metadata.Note, "exchange.stamp", "", t.no, 1, "", "first line has no creation stamp of date and initials: %q", s)
			}
			if len(rest) > 0 && rest[0] == ',' {
				rest = rest[1:]
			}
			return t.utf8Text(trim(rest)), true
		case bytes.HasPrefix(s, []byte("PK\x03\x04")):
			t.fail(t.no, 1, "give the archive a name that ends in _ct1.zip", "not an exchange file: it is a zip archive: first bytes %s", first)
		case strings.EqualFold(head, other):
			key := map[string]string{"CTD": "sources", "BOTTLE": "bottles"}[other]
			t.fail(t.no, 1, "list the file under casts: "+key+": in the cruise file", "kind not supported here: %s file, first bytes %s", other, first)
		case n >= 2 && n <= 12 && head == strings.ToUpper(head) && !strings.HasPrefix(head, word) && (n == len(s) || s[n] == ','):
			t.fail(t.no, 1, "give a file that begins with "+word, "kind not supported: first bytes %s; an exchange file of this kind begins with %q", first, word)
		default:
			t.fail(t.no, 1, "give an exchange file, whose first line begins with "+word, "not an exchange file: first bytes %s", first)
		}
		return "", false
	}
}

// firstBytes shows the beginning of a line.
func firstBytes(line []byte) string { return fmt.Sprintf("%q", line[:min(16, len(line))]) }

func allDigits(s []byte) bool {
	for _, c := range s {
		if c < '0' || c > '9' {
			return false
		}
	}
	return len(s) > 0
}

// fields cuts a line at its commas. offsets gives where each trimmed field starts in the line.
func fields(line []byte, dst [][]byte, offsets []int) ([][]byte, []int) {
	dst, offsets = dst[:0], offsets[:0]
	for at := 0; ; {
		end := bytes.IndexByte(line[at:], ',')
		f := line[at:]
		if end >= 0 {
			f = line[at : at+end]
		}
		lead := 0
		for lead < len(f) && isBlank(f[lead]) {
			lead++
		}
		dst, offsets = append(dst, trim(f)), append(offsets, at+lead)
		if end < 0 {
			return dst, offsets
		}
		at += end + 1
	}
}
