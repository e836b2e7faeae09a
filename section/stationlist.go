package section

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// A StationList is a parsed list of stations in the notation of the cruise file, in the order written. The zero value
// lists nothing.
type StationList struct {
	Items  []StationRange
	Except []StationRange // taken out again
	All    bool           // "all": every station, in natural order; Items is empty
	Text   string         // as written
}

// A StationRange is one station (To == "") or a run of stations in natural order, from From to To inclusive (descending
// when From comes after To). Cast chooses one cast of the station ("" any), Expocode one leg ("" any).
type StationRange struct {
	From, To string
	Cast     string
	Expocode string
}

// Empty says that the list was not given.
func (l *StationList) Empty() bool { return !l.All && len(l.Items) == 0 }

// String returns the list in its shortest spelling; it parses back to the same list.
func (l *StationList) String() string {
	s := joinRanges(l.Items)
	if l.All {
		s = "all"
	}
	if len(l.Except) > 0 {
		s += " except " + joinRanges(l.Except)
	}
	return s
}

func joinRanges(rs []StationRange) string {
	words := make([]string, len(rs))
	for i := range rs {
		words[i] = rs[i].String()
	}
	return strings.Join(words, ", ")
}

// String returns the item in the notation that ParseStations reads.
func (r StationRange) String() string {
	s := quoteName(r.From)
	if r.Expocode != "" {
		s = quoteName(r.Expocode) + ":" + s
	}
	if r.To != "" {
		s += "-" + quoteName(r.To)
	}
	if r.Cast != "" {
		s += "/" + quoteName(r.Cast)
	}
	return s
}

func quoteName(s string) string {
	if s == "" || s == "all" || s == "except" {
		return `"` + s + `"`
	}
	for i := 0; i < len(s); i++ {
		if !nameByte(s[i]) {
			return `"` + s + `"`
		}
	}
	return s
}

// nameByte says which bytes a station's name has without quotes: letters, digits, underscore (STNNBR of the exchange
// format), and a full stop, which some ships write.
func nameByte(c byte) bool {
	return c == '_' || c == '.' || '0' <= c && c <= '9' || 'A' <= c && c <= 'Z' || 'a' <= c && c <= 'z'
}

// A ListError is a fault in a station list. Column counts bytes of the text from 1.
type ListError struct {
	Column int
	Err    error
	Remedy string
}

// Error returns the column and the fault.
func (e *ListError) Error() string { return fmt.Sprintf("column %d: %v", e.Column, e.Err) }

// Unwrap returns the fault without its place.
func (e *ListError) Unwrap() error { return e.Err }

// maxListItems bounds a list, so that a damaged file cannot ask for endless work.
const maxListItems = 1000

// ParseStations reads a list of stations:
//
//	1-12, 14, 20-15     runs go in natural order (2, 9, 12, 12A, 13), up or down
//	7/2, 8              cast 2 of station 7; the cast of station 8
//	1-20 except 7, 9    what follows "except" is taken out again
//	all except T1       every station
//	ZZSM20260504:1-9    stations of one leg, when legs repeat their numbers
//	"T-1", 5            a name with other characters is put in quotes
//
// Names are text: 1 and 001 are two stations. An error is a *ListError.
func ParseStations(text string) (StationList, error) {
	p := listParser{text: text}
	l := StationList{Text: text}
	p.blanks()
	if p.end() {
		return StationList{},
			p.fault("no station in the list", "write stations and runs with commas between them, such as 1-12, 14")
	}
	if p.keyword("all") {
		l.All = true
	} else {
		items, err := p.ranges()
		if err != nil {
			return StationList{}, err
		}
		l.Items = items
	}
	if p.keyword("except") {
		items, err := p.ranges()
		if err != nil {
			return StationList{}, err
		}
		l.Except = items
	}
	if !p.end() {
		if p.text[p.at] == ',' && l.All {
			return StationList{}, p.fault(`"all" is used alone`, "leave out what else is listed, or write all except …")
		}
		remedy := "put a comma between stations, such as 1-12, 14"
		if p.longDash() {
			remedy = plainHyphen
		}
		return StationList{}, p.fault(fmt.Sprintf("%s is not expected here", p.seen()), remedy)
	}
	return l, nil
}

type listParser struct {
	text string
	at   int
}

func (p *listParser) end() bool { return p.at >= len(p.text) }

func (p *listParser) blanks() {
	for !p.end() && (p.text[p.at] == ' ' || p.text[p.at] == '\t' || p.text[p.at] == '\n' || p.text[p.at] == '\r') {
		p.at++
	}
}

func (p *listParser) fault(what, remedy string) error {
	return &ListError{Column: p.at + 1, Err: fmt.Errorf("station list: %s", what), Remedy: remedy}
}

// seen quotes the character at the parser's place.
func (p *listParser) seen() string {
	if p.end() {
		return "the end"
	}
	r, n := utf8.DecodeRuneInString(p.text[p.at:])
	if r == utf8.RuneError && n == 1 {
		return fmt.Sprintf("byte 0x%02X", p.text[p.at])
	}
	return strconv.Quote(string(r))
}

const plainHyphen = "a run is written with a plain hyphen, such as 3-12"

// longDash reports whether one of the dashes that word processors make is at the parser's place.
func (p *listParser) longDash() bool {
	r, _ := utf8.DecodeRuneInString(p.text[p.at:])
	return r == '–' || r == '—' || r == '−'
}

// keyword takes a word that must not go on as a name.
func (p *listParser) keyword(w string) bool {
	p.blanks()
	rest := p.text[p.at:]
	if !strings.HasPrefix(rest, w) {
		return false
	}
	after := strings.TrimLeft(rest[len(w):], " \t\r\n")
	if len(rest) > len(w) && nameByte(rest[len(w)]) || strings.HasPrefix(after, "/") || strings.HasPrefix(after, ":") ||
		strings.HasPrefix(after, "-") {
		return false
	}
	p.at += len(w)
	p.blanks()
	return true
}

func (p *listParser) ranges() ([]StationRange, error) {
	var items []StationRange
	for {
		item, err := p.item()
		if err != nil {
			return nil, err
		}
		if len(items) == maxListItems {
			return nil, p.fault(fmt.Sprintf("more than %d items", maxListItems), "use runs such as 1-12")
		}
		items = append(items, item)
		p.blanks()
		if p.end() || p.text[p.at] != ',' {
			return items, nil
		}
		p.at++
	}
}

func (p *listParser) item() (StationRange, error) {
	var r StationRange
	var err error
	if r.From, err = p.name("station"); err != nil {
		return r, err
	}
	if p.take(':') {
		r.Expocode = r.From
		if r.From, err = p.name("station"); err != nil {
			return r, err
		}
	}
	if p.take('-') {
		if r.To, err = p.name("last station of the run"); err != nil {
			return r, err
		}
	}
	if p.take('/') {
		if r.Cast, err = p.name("cast number"); err != nil {
			return r, err
		}
	}
	return r, nil
}

func (p *listParser) take(c byte) bool {
	p.blanks()
	if p.end() || p.text[p.at] != c {
		return false
	}
	p.at++
	return true
}

func (p *listParser) name(what string) (string, error) {
	p.blanks()
	start := p.at
	if !p.end() && p.text[p.at] == '"' {
		n := strings.IndexByte(p.text[p.at+1:], '"')
		if n < 0 {
			return "", p.fault("quotes that do not close", `end the name with "`)
		}
		name := p.text[start+1 : start+1+n]
		if strings.TrimSpace(name) != name || name == "" ||
			strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == utf8.RuneError }) {
			return "", p.fault(fmt.Sprintf("%q is not a name", name), "a name has no blanks around it and is not empty")
		}
		p.at += n + 2
		return name, nil
	}
	for !p.end() && nameByte(p.text[p.at]) {
		p.at++
	}
	name := p.text[start:p.at]
	if name == "all" || name == "except" {
		p.at = start
		return "", p.fault(fmt.Sprintf("%s expected, found the word %q", what, name),
			fmt.Sprintf(`write all before the stations and except after them; put a station of that name in quotes: "%s"`,
				name))
	}
	if name == "" {
		remedy := "write stations and runs with commas between them, such as 1-12, 14"
		if p.longDash() {
			remedy = plainHyphen
		} else if !p.end() && p.text[p.at] > ' ' && p.text[p.at] != ',' {
			remedy = `put a name with characters other than letters, digits, _ and . in quotes, such as "T-1"`
		}
		return "", p.fault(fmt.Sprintf("%s expected, found %s", what, p.seen()), remedy)
	}
	return name, nil
}
