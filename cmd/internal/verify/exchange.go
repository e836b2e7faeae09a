package verify

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// The rules for writing exchange files (format description, version 1.3): 1 both kinds of file, 2 CTD files, 3 bundles,
// 4 bottle files, 5 identifiers, position and time. A rule that says "should" or is mere custom gives a warning.
//
//	1.1	UTF-8 without byte-order mark
//	1.2	lines end in LF and nothing else
//	1.3	the first bytes are CTD or BOTTLE, then a creation stamp (should)
//	1.4	comment lines are behind the first line
//	1.6	parameter line: unique names of visible capitals, none empty
//	1.7	unit line: as many fields as parameters
//	1.8	data lines: as many fields as parameters; numbers are digits, one point and a leading minus
//	1.9	missing values are -999
//	1.10	flags are one digit of their set, without a unit, in a column behind their parameter
//	1.11	END_DATA is alone on the line behind the data
//	1.12	parameter and unit are a listed pair (should)
//	2.1	one profile in a file
//	2.2	NUMBER_HEADERS is first and counts itself
//	2.3	required headers are present
//	2.4	header names are listed ones
//	2.5	headers in their preferred order (custom)
//	2.6	CTDPRS is there, first (custom), and increases (custom)
//	3.1	members of a bundle are flat and end in _ct1.csv
//	3.2	a bundle is stored or deflated, not encrypted
//	3.3	no two members have one name
//	4.1	required columns are there and filled on each line
//	4.2	expocode, station, cast and sample are unique
//	4.3	lines of one cast are together
//	5.1	EXPOCODE has no slash, and is platform and date (warning)
//	5.2	STNNBR is letters, digits and underscores (warning)
//	5.3	CASTNO is a whole number (warning)
//	5.4	DATE is YYYYMMDD, TIME is HHMM up to 2400
//	5.5	LATITUDE -90 to 90, LONGITUDE -180 to 180, as decimal degrees
//	5.6	DEPTH is a number of metres

// exchangeCheck is one exchange file and what was found in it.
type exchangeCheck struct {
	name   string
	bottle bool // a bottle file, else a CTD file
	found  []metadata.Finding
	said   map[string]int // findings of each rule and column: a kind of fault is reported a few times
}

// oftenEnough is how many times one kind of fault is reported of one file. Warnings and notes are reported once, with
// their number.
const oftenEnough = 5

func (x *exchangeCheck) say(s metadata.Severity, rule string, line, column int, variable, format string, a ...any) {
	key := rule + variable
	x.said[key]++
	if s != metadata.Failure {
		at := slices.IndexFunc(x.found, func(f metadata.Finding) bool {
			return f.Severity == s && f.Check == "exchange."+rule && f.Variable == variable
		})
		if at >= 0 {
			x.found[at].Count++
			return
		}
	} else if x.said[key] > oftenEnough {
		return
	}
	x.found = append(x.found, metadata.Finding{Position: metadata.Position{File: x.name, Line: line, Column: column},
		Severity: s,
		Check:    "exchange." + rule, Variable: variable, Message: fmt.Sprintf(format, a...), Count: 1})
}

func (x *exchangeCheck) fault(rule string, line, column int, variable, format string, a ...any) {
	x.say(metadata.Failure, rule, line, column, variable, format, a...)
}

func (x *exchangeCheck) warn(rule string, line, column int, variable, format string, a ...any) {
	x.say(metadata.Warning, rule, line, column, variable, format, a...)
}

// asRules are findings of the reader that a numbered rule has reported already, or that no rule of the format concerns.
var asRules = []string{"exchange.identifier", "exchange.castno", "exchange.unlisted", "exchange.flag_not_used",
	"exchange.pressure_order",
	"exchange.stamp", "exchange.decimals"}

// checkExchange checks the bytes of one CTD or bottle file against the rules, and adds what the reader found: errors as
// faults, deviations that it tolerates as warnings and notes.
func checkExchange(data []byte, name string) ([]metadata.Finding, []section.Cast) {
	x := &exchangeCheck{name: name, said: map[string]int{}}
	lower := strings.ToLower(name) // the name decides the kind where it can; else the first bytes
	x.bottle = strings.HasSuffix(lower, "_hy1.csv") || bytes.HasPrefix(data, []byte("BOTTLE")) &&
		!strings.HasSuffix(lower, "_ct1.csv")
	x.strict(data)
	for i := range x.found {
		if f := &x.found[i]; f.Count > 1 {
			f.Message += fmt.Sprintf(" (%d in this file)", f.Count)
		}
	}
	var found []metadata.Finding
	var err error
	var casts []section.Cast
	if x.bottle {
		_, found, err = ingest.ParseBottles(data, name, ingest.Options{})
	} else {
		casts, found, err = ingest.Parse(data, name, ingest.Options{})
	}
	for _, e := range metadata.Parts(err) {
		f := metadata.Finding{Position: metadata.Position{File: name}, Severity: metadata.Failure,
			Check: "exchange.read", Message: e.Error()}
		var in *metadata.InputError
		if errors.As(e, &in) {
			f.Position, f.Message = in.Position, in.Err.Error()
		}
		x.found = append(x.found, f)
	}
	for _, f := range found {
		if slices.Contains(asRules, f.Check) {
			continue
		}
		if f.Severity == metadata.Failure {
			f.Severity = metadata.Warning
		}
		f.Remedy, f.Options = "", nil
		x.found = append(x.found, f)
	}
	return x.found, casts
}

var (
	stampForm    = regexp.MustCompile(`^[12][0-9]{7}[A-Z]+$`)
	headerForm   = regexp.MustCompile(`^([^=]*)=(.*)$`)
	parameterOK  = regexp.MustCompile(`^[!-+\--~]+$`)
	expocodeForm = regexp.MustCompile(`^[0-9A-Z]{4}[12][0-9]{7}$`)
	stationForm  = regexp.MustCompile(`^[0-9A-Za-z_]+$`)
	wholeForm    = regexp.MustCompile(`^[0-9]+$`)
)

// headerOrder is the preferred order of the listed header names.
var headerOrder = []string{"NUMBER_HEADERS", "EXPOCODE", "SECT_ID", "STNNBR", "CASTNO", "DATE", "TIME", "LATITUDE",
	"LONGITUDE", "DEPTH"}
var headerNeeded = []string{"NUMBER_HEADERS", "EXPOCODE", "STNNBR", "CASTNO", "DATE", "LATITUDE", "LONGITUDE"}
var bottleNeeded = []string{"EXPOCODE", "STNNBR", "CASTNO", "DATE", "LATITUDE", "LONGITUDE", "CTDPRS", "SAMPNO"}
var textColumns = []string{"EXPOCODE", "SECT_ID", "STNNBR", "SAMPNO", "BTLNBR"}
var identifiers = append(slices.Clone(textColumns), "CASTNO", "DATE", "TIME", "LATITUDE", "LONGITUDE", "DEPTH",
	"BTL_DATE", "BTL_TIME", "BTL_LAT", "BTL_LON")

func (x *exchangeCheck) strict(data []byte) {
	if bytes.HasPrefix(data, []byte("\xEF\xBB\xBF")) {
		x.fault("1.1", 1, 1, "", "begins with a byte-order mark")
		data = data[3:]
	}
	if !utf8.Valid(data) {
		at := 0
		for at < len(data) {
			r, n := utf8.DecodeRune(data[at:])
			if r == utf8.RuneError && n == 1 {
				break
			}
			at += n
		}
		x.fault("1.1", 1+bytes.Count(data[:at], []byte{'\n'}), 0, "", "is not UTF-8")
	}
	if at := bytes.IndexByte(data, '\r'); at >= 0 {
		x.fault("1.2", 1+bytes.Count(data[:at], []byte{'\n'}), 0, "", "has a carriage return")
		data = bytes.ReplaceAll(bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n")), []byte("\r"), []byte("\n"))
	}
	lines := strings.Split(string(data), "\n")
	if lines[len(lines)-1] == "" {
		lines = lines[:len(lines)-1]
	} else {
		x.fault("1.2", len(lines), 0, "", "the last line has no end")
	}
	if len(lines) == 0 {
		x.fault("1.3", 1, 1, "", "is empty")
		return
	}
	kind := "CTD"
	if x.bottle {
		kind = "BOTTLE"
	}
	stamp, ok := strings.CutPrefix(lines[0], kind)
	switch {
	case !ok:
		x.fault("1.3", 1, 1, "", "does not begin with %s", kind)
	case stamp == "":
		x.warn("1.3", 1, 1, "", "has no creation stamp")
	case !strings.HasPrefix(stamp, ","):
		x.fault("1.3", 1, 1, "", "first line is %q", lines[0])
	case !stampForm.MatchString(stamp[1:]):
		x.warn("1.3", 1, 1, "", "creation stamp %q is not a date and initials", stamp[1:])
	}
	n := 1
	for n < len(lines) && strings.HasPrefix(lines[n], "#") {
		n++
	}
	if !x.bottle {
		n = x.headers(lines, n)
	}
	x.table(lines, n)
}

// headers checks the header block of a CTD file and returns the line behind it.
func (x *exchangeCheck) headers(lines []string, n int) int {
	first := n
	var names []string
	values := map[string]string{}
	for ; n < len(lines); n++ {
		m := headerForm.FindStringSubmatch(lines[n])
		if m == nil {
			if strings.HasPrefix(lines[n], "#") || strings.TrimSpace(lines[n]) == "" {
				x.fault("1.4", n+1, 0, "", "a comment or empty line inside the header block")
				continue
			}
			break
		}
		name, value := strings.TrimSpace(m[1]), strings.TrimSpace(m[2])
		if slices.Contains(names, name) {
			x.fault("2.4", n+1, 0, name, "occurs twice")
		}
		if !slices.Contains(headerOrder, name) {
			x.fault("2.4", n+1, 0, name, "is no listed header name")
		}
		names = append(names, name)
		values[name] = value
		x.identifier(name, value, n+1)
	}
	if len(names) == 0 || names[0] != "NUMBER_HEADERS" {
		x.fault("2.2", first+1, 0, "NUMBER_HEADERS", "is not the first header")
	}
	if s, ok := values["NUMBER_HEADERS"]; ok && s != strconv.Itoa(len(names)) {
		x.fault("2.2", first+1, 0, "NUMBER_HEADERS", "says %s, there are %d header lines", s, len(names))
	}
	for _, need := range headerNeeded {
		if values[need] == "" {
			x.fault("2.3", first+1, 0, need, "is missing or empty")
		}
	}
	rank := -1
	for k, name := range names {
		r := slices.Index(headerOrder, name)
		if r >= 0 && r < rank {
			x.warn("2.5", first+k+1, 0, name, "is behind %s", headerOrder[rank])
		}
		rank = max(rank, r)
	}
	return n
}

// identifier checks the rules of section 5 on one header or column value.
func (x *exchangeCheck) identifier(name, value string, line int) {
	if value == "" {
		return
	}
	number := func(rule string, lo, hi float64) {
		v, err := strconv.ParseFloat(value, 64)
		if !isNumber(value) || err != nil || v < lo || v > hi {
			x.fault(rule, line, 0, name, "is %q", value)
		}
	}
	switch name {
	case "EXPOCODE":
		if strings.Contains(value, "/") {
			x.fault("5.1", line, 0, name, "%q has a slash", value)
		} else if !expocodeForm.MatchString(value) {
			x.warn("5.1", line, 0, name, "%q is not a platform code and a date", value)
		}
	case "STNNBR", "SAMPNO", "BTLNBR":
		if !stationForm.MatchString(value) {
			x.warn("5.2", line, 0, name, "%q has characters other than letters, digits and underscores", value)
		}
	case "CASTNO":
		if !wholeForm.MatchString(value) {
			x.warn("5.3", line, 0, name, "%q is not a whole number", value)
		}
	case "DATE", "BTL_DATE":
		if _, err := time.Parse("20060102", value); err != nil {
			x.fault("5.4", line, 0, name, "%q is not a date YYYYMMDD", value)
		}
	case "TIME", "BTL_TIME":
		if _, err := time.Parse("1504", value); (err != nil || len(value) != 4) && value != "2400" {
			x.fault("5.4", line, 0, name, "%q is not a time HHMM", value)
		}
	case "LATITUDE", "BTL_LAT":
		number("5.5", -90, 90)
	case "LONGITUDE", "BTL_LON":
		number("5.5", -180, 180)
	case "DEPTH":
		number("5.6", -999, 12000)
	}
}
