package ingest

import (
	"bytes"
	"regexp"
	"strings"
	"unicode/utf8"
)

// A piece is one field of a line and the byte at which it begins.
type piece struct {
	text []byte
	at   int
}

// A slot is a place of the layout, resolved for the lines at hand: the number of its field from 0, or a range of
// characters.
type slot struct {
	Place
	index int // -1: not found yet
}

func newSlot(p Place) slot {
	s := slot{Place: p, index: -1}
	if p.Number > 0 {
		s.index = p.Number - 1
	}
	return s
}

// String returns what a place is called in messages.
func (p Place) String() string {
	switch {
	case p.Column != "":
		return p.Column
	case p.Number > 0:
		return "column " + itoa(p.Number)
	}
	return "characters " + itoa(p.From) + "-" + itoa(p.To)
}

// divide divides a line into its fields, by delimiter where there is one; a fixed layout has none and gives nothing.
func (l *Layout) divide(dst []piece, line []byte, delimiter byte) []piece {
	dst = dst[:0]
	switch l.Format {
	case Space:
		return divideBlanks(dst, line)
	case Delimited:
		return divideAt(dst, line, delimiter)
	}
	return dst
}

func divideBlanks(dst []piece, line []byte) []piece {
	for i := 0; i < len(line); {
		if isBlank(line[i]) {
			i++
			continue
		}
		from := i
		if line[i] == '"' {
			if j := bytes.IndexByte(line[i+1:], '"'); j > 0 {
				dst = append(dst, piece{line[i+1 : i+1+j], i + 1})
				i += j + 2
				continue
			}
		}
		for i < len(line) && !isBlank(line[i]) {
			i++
		}
		dst = append(dst, piece{line[from:i], from})
	}
	return dst
}

func divideAt(dst []piece, line []byte, delimiter byte) []piece {
	for at := 0; ; {
		rest := line[at:]
		lead := 0
		for lead < len(rest) && isBlank(rest[lead]) && rest[lead] != delimiter {
			lead++
		}
		end := -1
		if lead < len(rest) && rest[lead] == '"' { // a delimiter between quotes is text
			if j := bytes.IndexByte(rest[lead+1:], '"'); j >= 0 {
				if k := bytes.IndexByte(rest[lead+j+2:], delimiter); k >= 0 {
					end = lead + j + 2 + k
				} else {
					end = len(rest)
				}
			}
		}
		if end < 0 {
			if end = bytes.IndexByte(rest, delimiter); end < 0 {
				end = len(rest)
			}
		}
		dst = append(dst, piece{cutQuotes(trim(rest[:end])), at + lead})
		if at += end + 1; at > len(line) {
			return dst
		}
	}
}

// characters returns the text from one character of a line to another, both counted from 1.
func characters(line []byte, from, to int) piece {
	start, end, n := len(line), len(line), 0
	for i := 0; i < len(line); {
		n++
		if n == from {
			start = i
		}
		if n == to+1 {
			end = i
			break
		}
		_, size := utf8.DecodeRune(line[i:])
		i += size
	}
	if start > end {
		start = end
	}
	s := line[start:end]
	lead := len(s) - len(bytes.TrimLeft(s, " \t"))
	return piece{trim(s), start + lead}
}

// take returns the field of a slot of a line; false when the line has none.
func (s *slot) take(line []byte, pieces []piece) (piece, bool) {
	if s.From > 0 {
		p := characters(line, s.From, s.To)
		return p, true
	}
	if s.index < 0 || s.index >= len(pieces) {
		return piece{at: len(line)}, false
	}
	return pieces[s.index], true
}

// delimiters are those that are found by themselves, the likeliest to be meant first.
const delimiters = "\t;|,"

// findDelimiter returns the delimiter that most lines have equally often, looked for in the last lines of a file, where
// the data are.
func findDelimiter(lines [][]byte, decimalComma bool) byte {
	last := lines[max(0, len(lines)-200):]
	best, most := byte(','), 0
	for _, d := range []byte(delimiters) {
		if d == ',' && decimalComma {
			continue
		}
		count := map[int]int{}
		for _, l := range last {
			if n := bytes.Count(l, []byte{d}); n > 0 {
				count[n]++
			}
		}
		for _, n := range count {
			if n > most {
				best, most = d, n
			}
		}
	}
	return best
}

// A ColumnName is one name of the line of names: as written, without the unit in brackets, and that unit.
type ColumnName struct {
	Text, Bare, Unit string
}

// namesLabel is a word before the names of columns.
var namesLabel = regexp.MustCompile(`^(?i:columns?|cols?|fields?|variables?|names?|headers?|parameters?)\s*[:=]\s*`)

// namesOf divides a line of names. Signs of a comment and a label before the first name are left out; for columns
// divided by blanks, what is in brackets belongs to the name before it, and commas between names are left out.
func (l *Layout) namesOf(line []byte, delimiter byte) []ColumnName {
	line = bytes.TrimLeft(line, "#%*!/ \t")
	line = line[len(namesLabel.Find(line)):]
	var pieces []piece
	if l.Format == Space {
		pieces = bracketed(divideBlanks(nil, line), line)
	} else {
		pieces = l.divide(nil, line, delimiter)
	}
	out := make([]ColumnName, len(pieces))
	for i, p := range pieces {
		text := cutQuotes(p.text)
		if l.Format == Space {
			text = bytes.TrimRight(text, ",;")
		}
		out[i] = nameAndUnit(string(text))
	}
	return out
}

// bracketed joins the pieces of a line that a pair of brackets holds together.
func bracketed(pieces []piece, line []byte) []piece {
	out := pieces[:0]
	depth := 0
	for _, p := range pieces {
		opens := depth > 0 || len(out) > 0 && (p.text[0] == '[' || p.text[0] == '(')
		if opens {
			last := &out[len(out)-1]
			last.text = line[last.at : p.at+len(p.text)]
		} else {
			out = append(out, p)
		}
		depth += bytes.Count(p.text, []byte("[")) + bytes.Count(p.text, []byte("("))
		depth = max(0, depth-bytes.Count(p.text, []byte("]"))-bytes.Count(p.text, []byte(")")))
	}
	return out
}

func nameAndUnit(s string) ColumnName {
	n := ColumnName{Text: strings.Join(strings.Fields(s), " ")}
	n.Bare = n.Text
	if i := strings.IndexAny(n.Text, "[("); i > 0 {
		n.Bare = strings.TrimSpace(n.Text[:i])
		n.Unit = strings.TrimSpace(strings.Trim(strings.TrimSpace(n.Text[i:]), "[]()"))
		if j := strings.IndexAny(n.Unit, "])"); j >= 0 && strings.HasPrefix(n.Text[i:], "(") && n.Unit != "" {
			n.Unit = n.Unit[:j]
		}
	}
	return n
}

// findName returns the number of the column of a name, from 0; -1 without one. The whole name comes before the name
// without its unit.
func findName(names []ColumnName, want string) int {
	want = strings.Join(strings.Fields(want), " ")
	bare := nameAndUnit(want).Bare
	for _, same := range []func(n *ColumnName) bool{
		func(n *ColumnName) bool { return n.Text == want },
		func(n *ColumnName) bool { return strings.EqualFold(n.Text, want) },
		func(n *ColumnName) bool { return bare == want && strings.EqualFold(n.Bare, want) },
	} {
		for i := range names {
			if same(&names[i]) {
				return i
			}
		}
	}
	return -1
}
