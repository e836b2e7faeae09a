package ingest

import (
	"bytes"
	"strings"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// onlyCommas reports whether a line holds nothing, which a spreadsheet may write as commas.
func onlyCommas(s []byte) bool {
	for _, c := range s {
		if c != ',' && !isBlank(c) {
			return false
		}
	}
	return true
}

// isEnd reports whether a line is END_DATA or one of its usual misspellings.
func isEnd(s []byte) bool {
	s = bytes.TrimRight(s, ", \t")
	return len(s) == 8 && strings.EqualFold(string(s[:3]), "END") && (s[3] == '_' || s[3] == ' ') &&
		strings.EqualFold(string(s[4:]), "DATA") ||
		strings.EqualFold(string(s), "ENDDATA")
}

// isStamp reports whether a line is the first of another exchange file.
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
		x.fail(x.no, 1, "put each cast into a file of its own",
			"a second cast starts here: %s; an exchange CTD file holds one", firstBytes(line))
	}
	x.full = true
}

// afterEnd keeps what follows END_DATA, which the standard leaves free, unless it is another cast. Lines that look like
// data are named: an END_DATA that slipped in takes the rest of the cast away.
func (x *exchange) afterEnd() {
	lost := metadata.Finding{}
	for {
		line, more := x.next()
		if !more {
			break
		}
		if rest := x.data[x.pos:]; isStamp(trim(line)) && (bytes.IndexByte(rest, '=') >= 0 || x.bottle &&
			bytes.Contains(rest, []byte("EXPOCODE"))) {
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
		f := x.warn(metadata.Warning, "exchange.after_end", "", lost.Line, 1, "",
			"%d %s data after END_DATA, from %g to %g dbar; not read as data", n,
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

// likeData reports whether a line after END_DATA looks like a data line, and its pressure: as many fields as there are
// columns, or at least two, that are nothing but numbers.
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

func (x *exchange) wrongCount(line []byte, found int, cut bool) {
	n := len(x.field)
	switch {
	case cut && found < n:
		x.short = true
		x.warn(metadata.Warning, "exchange.truncated", "", x.no, 0, "compare the file with the one it was copied from",
			"the last line is cut short: %d of %d fields; left out", found, n)
	case x.o.Lenient:
		x.warn(metadata.Warning, "exchange.field_count", "", x.no, 0, "", "line has %d fields, expected %d; skipped",
			found, n)
	default:
		remedy, lenient := "compare the line with its neighbours", true
		column := len(line) + 1
		switch s := trim(line); {
		case found == 1 && (s[0] >= 'A' && s[0] <= 'Z' || s[0] >= 'a' && s[0] <= 'z'):
			x.fail(x.no, len(line)-len(s)+1, "write END_DATA where the data end, and # before a comment",
				"%s is neither a data line nor END_DATA", firstBytes(s))
			return
		case found > n && bytes.IndexByte(line, '.') < 0:
			remedy, lenient = "write decimal points, not commas: a decimal comma makes two fields of one value", false
		case found > n:
			remedy = "compare the line with its neighbours: a decimal comma makes two fields of one value"
		}
		if found > n {
			column = x.offset[n] + 1
		}
		e := x.fail(x.no, column, remedy, "data line has %d %s, expected %d", found, plural(found, "field", "fields"),
			n)
		if lenient {
			offerLenient(e)
		}
	}
}
