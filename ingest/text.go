package ingest

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
)

// text is the lines of one file that is read.
type text struct {
	*report
	data []byte // ends in a line feed
	pos  int    // offset of the next line
	no   int    // number of the line last taken
	cut  bool   // the file did not end in a line feed
}

const saveAsUTF8 = "save the file as UTF-8 without a byte-order mark, lines ended by LF"

// open prepares the bytes of a file: byte-order mark, line ends, a line feed at the end. It fails on what is not text
// of one byte a character.
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
		t.warn(metadata.Note, "exchange.byte_order_mark", "", 1, 1, "",
			"the file begins with a byte-order mark; left out")
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

// utf8Text returns a comment or header as UTF-8; bytes that are not are taken for Latin-1.
func (t *text) utf8Text(line []byte) string {
	if i := bytes.IndexFunc(line, func(r rune) bool { return r < ' ' && r != '\t' || r == 0x7f }); i >= 0 {
		t.warn(metadata.Warning, "exchange.control_character", "", t.no, i+1,
			"compare the file with the one it was copied from", "text holds the control character %#02x; kept", line[i])
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

// stamp reads up to the first line that counts and checks that it begins with word (CTD or BOTTLE). Comment lines
// before it are handed on.
func (t *text) stamp(word, other string, comment func([]byte)) (stamp string, ok bool) {
	for {
		line, more := t.next()
		if !more {
			t.fail(0, 0, "copy the file again from where it was made",
				"not an exchange file: it holds no line but blank ones and comments")
			return "", false
		}
		s := trim(line)
		if len(s) == 0 {
			t.warn(metadata.Note, "exchange.blank_lines", "", t.no, 0, "", "blank line in the head; skipped")
			continue
		}
		if s[0] == '#' {
			t.warn(metadata.Note, "exchange.comment_place", "", t.no, 0, "",
				"comment outside its place (after the first line); kept")
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
				t.warn(metadata.Note, "exchange.stamp", "", t.no, 1, "", "first line begins with %q; read as %q", head,
					word)
			} else if len(rest) == 0 || rest[0] != ',' || len(trim(rest[1:])) < 8 || !allDigits(trim(rest[1:])[:8]) {
				t.warn(metadata.Note, "exchange.stamp", "", t.no, 1, "",
					"first line has no creation stamp of date and initials: %q", s)
			}
			if len(rest) > 0 && rest[0] == ',' {
				rest = rest[1:]
			}
			return t.utf8Text(trim(rest)), true
		case bytes.HasPrefix(s, []byte("PK\x03\x04")):
			t.fail(t.no, 1, "give the archive a name that ends in _ct1.zip",
				"not an exchange file: it is a zip archive: first bytes %s", first)
		case strings.EqualFold(head, other):
			key := map[string]string{"CTD": "sources", "BOTTLE": "bottles"}[other]
			t.fail(t.no, 1, "list the file under casts: "+key+": in the cruise file",
				"kind not supported here: %s file, first bytes %s", other, first)
		case n >= 2 && n <= 12 && head == strings.ToUpper(head) && !strings.HasPrefix(head, word) &&
			(n == len(s) || s[n] == ','):
			t.fail(t.no, 1, "give a file that begins with "+word,
				"kind not supported: first bytes %s; an exchange file of this kind begins with %q", first, word)
		default:
			t.fail(t.no, 1, "give an exchange file, whose first line begins with "+word,
				"not an exchange file: first bytes %s", first)
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
