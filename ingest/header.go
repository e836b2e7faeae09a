package ingest

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

func (x *exchange) headerLine(line []byte, at int) {
	raw, rest := trim(line[:at]), line[at+1:]
	if len(raw) > 0 && (raw[0] == '"' || raw[0] == '\'') && len(rest) > 0 && rest[len(rest)-1] == raw[0] {
		// the whole line in quotes
		raw, rest = trim(raw[1:]), rest[:len(rest)-1]
		x.warn(metadata.Note, "exchange.header_quotes", "", x.no, 1, "", "header line in quotes; taken off")
	}
	if len(raw) == 0 {
		x.fail(x.no, 1, "write NAME = VALUE", "header line without a name: %s", firstBytes(line))
		return
	}
	value := trim(rest)
	column := at + 2
	if len(value) > 0 {
		column = at + 2 + bytes.Index(rest, value)
	}
	if v := trim(bytes.TrimRight(value, ", \t")); len(v) < len(value) {
		value = v
		x.warn(metadata.Note, "exchange.header_comma", "", x.no, column, "", "header value ends in a comma; cut off")
	}
	if v := cutQuotes(value); len(v) < len(value) {
		value = v
		x.warn(metadata.Note, "exchange.header_quotes", "", x.no, column, "", "header value in quotes; taken off")
	}
	// After decoding too: a no-break space, as pasted from a page or a sheet, is not part of a name or value.
	h := header{raw: strings.TrimSpace(x.utf8Text(raw)), value: strings.TrimSpace(x.utf8Text(value)), line: x.no,
		column: column}
	if h.raw == "" {
		x.fail(x.no, 1, "write NAME = VALUE", "header line without a name: %s", firstBytes(line))
		return
	}
	bare := h.raw // without a unit in brackets
	if i := strings.IndexAny(bare, "(["); i > 0 {
		bare = strings.TrimSpace(bare[:i])
	}
	h.name = metadata.ExchangeHeader(bare)
	if listedHeader(h.name) {
		if h.name != h.raw {
			x.warn(metadata.Note, "exchange.header_name", h.name, x.no, 1, "", "header %s read as %s", h.raw, h.name)
		}
	} else {
		h.name = strings.ToUpper(h.raw)
	}
	x.headers = append(x.headers, h)
}

func listedHeader(name string) bool {
	switch name {
	case "NUMBER_HEADERS", "EXPOCODE", "SECT_ID", "STNNBR", "CASTNO", "DATE", "TIME", "LATITUDE", "LONGITUDE", "DEPTH":
		return true
	}
	return false
}

// firstHeaders returns the first header line of each name, and all names; those that the standard does not list are
// kept with the cast.
func (x *exchange) firstHeaders() (seen map[string]*header, names []string) {
	c := &x.cast
	seen = map[string]*header{}
	var user []string
	for i := range x.headers {
		h := &x.headers[i]
		names = append(names, h.raw)
		if first := seen[h.name]; first != nil {
			if first.value != h.value {
				x.fail(h.line, h.column, "keep one of the two lines",
					"header %s occurs twice: %q on line %d, %q on line %d", h.name, first.value, first.line, h.value,
					h.line)
			} else {
				x.warn(metadata.Note, "exchange.header_twice", h.name, h.line, 1, "",
					"header %s occurs twice with the same value; read once", h.name)
			}
			continue
		}
		seen[h.name] = h
		if !listedHeader(h.name) {
			user = append(user, h.raw)
			c.Headers = append(c.Headers, section.Header{Name: h.raw, Value: h.value})
		}
	}
	if len(user) > 0 {
		x.warn(metadata.Note, "exchange.user_headers", "", 0, 0, "",
			"headers that the standard does not list are kept: %s", strings.Join(user, " "))
	}
	return seen, names
}

// header turns the header lines into the fields of the cast.
func (x *exchange) header() {
	c := &x.cast
	seen, names := x.firstHeaders()
	x.countHeaders(seen["NUMBER_HEADERS"])
	need := func(name string) (*header, bool) {
		h := seen[name]
		if h == nil {
			x.fail(x.no, 1, "add the line "+name+" = ... to the header",
				"required header %s is missing; headers found: %s", name, listOf(names))
			return nil, false
		}
		if h.value == "" {
			x.fail(h.line, h.column, "write its value", "required header %s is empty; headers found: %s", name,
				listOf(names))
			return nil, false
		}
		if name != "LATITUDE" && name != "LONGITUDE" && isFill([]byte(h.value)) {
			// positions tell it with their own remedy
			x.fail(h.line, h.column, "write its value", "required header %s is missing: %s", name, h.value)
			return nil, false
		}
		return h, true
	}
	if h, ok := need("EXPOCODE"); ok {
		c.Expocode = h.value
		x.expocode(h)
	}
	if h := seen["SECT_ID"]; h != nil && h.value == "" {
		x.warn(metadata.Note, "exchange.section", "", h.line, h.column, "",
			"SECT_ID is empty; the cast has no section designation")
	} else if h != nil && h.value != "-999" {
		c.SectionID = h.value
	}
	if h, ok := need("STNNBR"); ok {
		c.Station = x.named(h, "STNNBR")
	}
	if h, ok := need("CASTNO"); ok {
		c.Number = x.named(h, "CASTNO")
		if !allDigits([]byte(h.value)) {
			x.warn(metadata.Warning, "exchange.castno", "", h.line, h.column, "",
				"CASTNO %q is not a whole number; kept as given", h.value)
		}
	}
	if h, ok := need("DATE"); ok {
		x.when(h, seen["TIME"])
	}
	if h, ok := need("LATITUDE"); ok {
		c.At[1], c.AtDecimals[1], c.AtText[1] = x.degrees(h, 'N', 'S', 90)
	}
	if h, ok := need("LONGITUDE"); ok {
		c.At[0], c.AtDecimals[0], c.AtText[0] = x.longitude(h, "LONGITUDE = ")
	}
	if h := seen["DEPTH"]; h != nil {
		x.depth(h)
	}
}

// longitude reads a longitude into -180..180; how is what a remedy writes before it.
func (x *exchange) longitude(h *header, how string) (lon float64, decimals int, text string) {
	lon, decimals, text = x.degrees(h, 'E', 'W', 360)
	if lon > 180 || lon < -180 {
		lon, text = east(lon, decimals), ""
		read := strconv.FormatFloat(lon, 'f', decimals, 64)
		x.warn(metadata.Warning, "exchange.longitude", "", h.line, h.column, "write "+how+read,
			"LONGITUDE %s is not in -180..180; read as %s", h.value, read)
	}
	return lon, decimals, text
}

// expocode checks the expocode, which becomes part of file names.
func (x *exchange) expocode(h *header) {
	if len(h.value) > metadata.LongestName {
		x.fail(h.line, h.column, "write a shorter one: it becomes a file name",
			"EXPOCODE has %d characters, the limit is %d: %s", len(h.value), metadata.LongestName,
			firstBytes([]byte(h.value)))
	} else if !metadata.InFileName(h.value) {
		x.fail(h.line, h.column, "write the expocode with letters, digits and _ only: it becomes a file name",
			"EXPOCODE %q holds a character that cannot stand in a file name", h.value)
	} else if !expocodePattern(h.value) {
		x.warn(metadata.Warning, "exchange.expocode", "", h.line, h.column, "",
			"EXPOCODE %q is not platform code and departure date (4 characters, YYYYMMDD); kept as given", h.value)
	}
}

func (x *exchange) countHeaders(h *header) {
	const check = "exchange.number_headers"
	found := len(x.headers)
	if h == nil {
		x.warn(metadata.Warning, check, "", x.no, 0, "write NUMBER_HEADERS = "+strconv.Itoa(found+1)+
			" as the first header line", "NUMBER_HEADERS is absent; found %d header lines", found)
		return
	}
	n, err := strconv.Atoi(h.value)
	if err != nil || n != found {
		says := h.value
		if says == "" {
			says = "nothing"
		}
		x.warn(metadata.Warning, check, "", h.line, h.column, "write NUMBER_HEADERS = "+strconv.Itoa(found),
			"NUMBER_HEADERS says %s, found %d header lines (it counts itself); read all %d", says, found, found)
	} else if h != &x.headers[0] {
		x.warn(metadata.Note, check, "", h.line, 1, "",
			"NUMBER_HEADERS is not the first header line; read all the same")
	}
}

// named reads a station or cast number, which becomes part of file names.
func (x *report) named(h *header, what string) string {
	if len(h.value) > metadata.LongestName {
		x.fail(h.line, h.column, "write a shorter one: it becomes part of a file name",
			"%s has %d characters, the limit is %d: %s", what, len(h.value), metadata.LongestName,
			firstBytes([]byte(h.value)))
		return h.value[:metadata.LongestName]
	}
	if !metadata.InFileName(h.value) {
		x.fail(h.line, h.column, "write it with letters, digits and _ only: it becomes part of a file name",
			"%s %q holds a character that cannot stand in a file name", what, h.value)
	} else if !identifier(h.value) {
		x.warn(metadata.Warning, "exchange.identifier", what, h.line, h.column, "",
			"%s %q holds more than letters, digits and _; kept as given", what, h.value)
	}
	return h.value
}

func (x *exchange) when(date, clock *header) {
	c := &x.cast
	day, note, err := readDate(date.value)
	if err != nil {
		x.fail(date.line, date.column, "write the date of the cast (UTC) as YYYYMMDD", "%w", err)
		return
	}
	if note != "" {
		x.warn(metadata.Note, "exchange.date", "", date.line, date.column, "", "date %q %s; read as %s", date.value,
			note, day.Format("20060102"))
	}
	c.Time, c.DateOnly = day, true
	if clock == nil {
		return
	}
	since, known, note, err := readTime(clock.value)
	if err != nil {
		x.fail(clock.line, clock.column, "write the time (UTC) as HHMM, or -999 when it is not known", "%w", err)
		return
	}
	if clock.value == "" {
		x.warn(metadata.Warning, "exchange.time", "", clock.line, clock.column,
			"write the time (UTC) as HHMM; -999, or no such line, where it is not known",
			"TIME is empty; the time of day is taken as unknown")
	}
	if !known {
		return
	}
	c.Time, c.DateOnly = day.Add(since), false
	if note != "" {
		x.warn(metadata.Note, "exchange.time", "", clock.line, clock.column, "", "time %q %s; read as %s", clock.value,
			note, c.Time.Format(time.RFC3339))
	}
}

func (x *exchange) degrees(h *header, positive, negative byte, limit float64) (deg float64, decimals int, text string) {
	v, d, note, err := readDegrees(h.value, positive, negative, limit)
	if err != nil {
		if err == errFill {
			x.fail(h.line, h.column, "write the position of the cast in decimal degrees",
				"required header %s is missing: %s", h.name, h.value)
		} else {
			x.fail(h.line, h.column, "write decimal degrees with a point, north and east positive", "%w", err)
		}
		return 0, 0, ""
	}
	if note != "" {
		read := strconv.FormatFloat(v, 'f', d, 64)
		x.warn(metadata.Warning, "exchange.position", h.name, h.line, h.column, "write decimal degrees: "+read,
			"%s %q %s; read as %s", h.name, h.value, note, read)
	}
	return v, d, ownText(h.value, v, d)
}

// ownText returns a number as it was read when it is a plain decimal number that its value and decimals do not give
// back; else "".
func ownText(s string, v float64, decimals int) string {
	if _, _, q, ok := scanNumber([]byte(s)); !ok || q != plain || strconv.FormatFloat(v, 'f', decimals, 64) == s {
		return ""
	}
	return s
}

func (x *exchange) depth(h *header) {
	s := strings.TrimSpace(strings.TrimRight(h.value, "mM "))
	v, d, _, ok := scanNumber([]byte(s))
	switch {
	case !ok:
		x.warn(metadata.Warning, "exchange.depth", "", h.line, h.column, "write DEPTH in metres",
			"DEPTH %q is not a number; taken as unknown", h.value)
	case h.value == "" || math.IsNaN(v) || v == 0:
		what := "DEPTH is " + h.value
		if h.value == "" {
			what = "DEPTH is empty"
		}
		x.warn(metadata.Warning, "exchange.depth", "", h.line, h.column,
			"write the water depth in metres; -999, or no such line, where it is not known", "%s; taken as unknown",
			what)
	case v == -999:
	case v < 0 || v > 12000:
		x.warn(metadata.Warning, "exchange.depth", "", h.line, h.column, "write DEPTH in metres, positive down",
			"DEPTH %s is no depth of the sea; taken as unknown", h.value)
	default:
		x.cast.BottomM, x.cast.BottomDecimals, x.cast.BottomText = v, d, ownText(s, v, d)
	}
}

func listOf(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, " ")
}
