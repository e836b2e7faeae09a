package verify

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
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

// exchangeRules are the rules for writing exchange files (format description, version 1.3), numbered by the sections of
// the project's working notes: 1 both kinds of file, 2 CTD files, 3 bundles, 4 bottle files, 5 identifiers, position
// and time. A rule that says "should" or is mere custom gives a warning.
var exchangeRules = map[string]string{
	"1.1":  "UTF-8 without byte-order mark",
	"1.2":  "lines end in LF and nothing else",
	"1.3":  "the first bytes are CTD or BOTTLE, then a creation stamp (should)",
	"1.4":  "comment lines stand behind the first line",
	"1.6":  "parameter line: unique names of visible capitals, none empty",
	"1.7":  "unit line: as many fields as parameters",
	"1.8":  "data lines: as many fields as parameters; numbers are digits, one point and a leading minus",
	"1.9":  "missing values are -999",
	"1.10": "flags are one digit of their set, without a unit, in a column behind their parameter",
	"1.11": "END_DATA stands alone behind the data",
	"1.12": "parameter and unit are a listed pair (should)",
	"2.1":  "one profile in a file",
	"2.2":  "NUMBER_HEADERS is first and counts itself",
	"2.3":  "required headers are there",
	"2.4":  "header names are listed ones",
	"2.5":  "headers in their preferred order (custom)",
	"2.6":  "CTDPRS is there, first (custom), and increases (custom)",
	"3.1":  "members of a bundle are flat and end in _ct1.csv",
	"3.2":  "a bundle is stored or deflated, not encrypted",
	"3.3":  "no two members have one name",
	"4.1":  "required columns are there and filled on each line",
	"4.2":  "expocode, station, cast and sample are unique",
	"4.3":  "lines of one cast stand together",
	"5.1":  "EXPOCODE has no slash, and is platform and date (warning)",
	"5.2":  "STNNBR is letters, digits and underscores (warning)",
	"5.3":  "CASTNO is a whole number (warning)",
	"5.4":  "DATE is YYYYMMDD, TIME is HHMM up to 2400",
	"5.5":  "LATITUDE -90 to 90, LONGITUDE -180 to 180, as decimal degrees",
	"5.6":  "DEPTH is a number of metres",
}

// exchangeCheck is one exchange file under judgement.
type exchangeCheck struct {
	name  string
	found []metadata.Finding
	said  map[string]int // of each rule and column: a kind of fault is told a few times, not a thousand
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

// checkExchange holds the bytes of one CTD or bottle file to the rules, and adds what the reader found: errors as
// faults, deviations that it tolerates as warnings and notes.
func checkExchange(data []byte, name string) ([]metadata.Finding, []section.Cast, *section.Bottles) {
	x := &exchangeCheck{name: name, said: map[string]int{}}
	lower := strings.ToLower(name) // a name that says what it holds is held to it; else the first bytes decide
	bottle := strings.HasSuffix(lower, "_hy1.csv") || bytes.HasPrefix(data, []byte("BOTTLE")) &&
		!strings.HasSuffix(lower, "_ct1.csv")
	x.strict(data, bottle)
	for i := range x.found {
		if f := &x.found[i]; f.Count > 1 {
			f.Message += fmt.Sprintf(" (%d in this file)", f.Count)
		}
	}
	var found []metadata.Finding
	var err error
	var casts []section.Cast
	var bottles *section.Bottles
	if bottle {
		bottles, found, err = ingest.ParseBottles(data, name, ingest.Options{})
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
	return x.found, casts, bottles
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

func (x *exchangeCheck) strict(data []byte, bottle bool) {
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
	if bottle {
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
	if !bottle {
		n = x.headers(lines, n)
	}
	x.table(lines, n, bottle)
}

// headers checks the header block of a CTD file and gives the line behind it.
func (x *exchangeCheck) headers(lines []string, n int) int {
	first := n
	var names []string
	values := map[string]string{}
	for ; n < len(lines); n++ {
		m := headerForm.FindStringSubmatch(lines[n])
		if m == nil {
			if strings.HasPrefix(lines[n], "#") || strings.TrimSpace(lines[n]) == "" {
				x.fault("1.4", n+1, 0, "", "a comment or empty line stands inside the header block")
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
			x.warn("2.5", first+k+1, 0, name, "stands behind %s", headerOrder[rank])
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
			x.warn("5.2", line, 0, name, "%q has other signs than letters, digits and underscores", value)
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

// table checks parameter, unit and data lines from line n on.
func (x *exchangeCheck) table(lines []string, n int, bottle bool) {
	if n+1 >= len(lines) {
		x.fault("1.6", len(lines), 0, "", "ends before the parameter and unit lines")
		return
	}
	names := strings.Split(lines[n], ",")
	x.parameters(names, n+1, bottle)
	units := strings.Split(lines[n+1], ",")
	if len(units) != len(names) {
		x.fault("1.7", n+2, 0, "", "%d fields for %d parameters", len(units), len(names))
	}
	for k := range names {
		names[k] = strings.TrimSpace(names[k])
		if k < len(units) {
			x.unit(names[k], strings.TrimSpace(units[k]), n+2, bottle)
		}
	}
	end := -1
	for k := n + 2; k < len(lines); k++ {
		if lines[k] == "END_DATA" {
			end = k
			break
		}
	}
	if end < 0 {
		x.fault("1.11", len(lines), 0, "", "there is no line END_DATA")
		end = len(lines)
	}
	if end == n+2 {
		x.fault("1.8", end+1, 0, "", "there are no data lines")
	}
	x.rows(lines[n+2:end], n+3, names, units, bottle)
	for k := end + 1; k < len(lines); k++ {
		if !bottle && (strings.HasPrefix(lines[k], "CTD,") || strings.HasPrefix(lines[k], "NUMBER_HEADERS")) {
			x.fault("2.1", k+1, 0, "", "a second profile begins")
			break
		}
	}
}

func (x *exchangeCheck) parameters(names []string, line int, bottle bool) {
	seen := map[string]bool{}
	for k, p := range names {
		switch {
		case p == "":
			x.fault("1.6", line, 0, "", "parameter %d has no name", k+1)
		case !parameterOK.MatchString(p) || p != strings.ToUpper(p):
			x.fault("1.6", line, 0, p, "parameter %q is not visible capitals", p)
		case seen[p]:
			x.fault("1.6", line, 0, p, "occurs twice")
		}
		seen[p] = true
		if base, ok := strings.CutSuffix(p, "_FLAG_W"); ok && !slices.Contains(names, base) {
			x.fault("1.10", line, 0, p, "there is no %s that these flags belong to", base)
		}
	}
	if bottle {
		for _, need := range bottleNeeded {
			if !seen[need] {
				x.fault("4.1", line, 0, need, "is missing")
			}
		}
		return
	}
	if !seen["CTDPRS"] {
		x.fault("2.6", line, 0, "CTDPRS", "is missing")
	} else if names[0] != "CTDPRS" {
		x.warn("2.6", line, 0, "CTDPRS", "is not the first parameter")
	}
}

func (x *exchangeCheck) unit(name, unit string, line int, bottle bool) {
	if strings.HasSuffix(name, "_FLAG_W") {
		if unit != "" {
			x.fault("1.10", line, 0, name, "a flag column has the unit %q", unit)
		}
		return
	}
	if slices.Contains(identifiers, name) || name == "" {
		return
	}
	if _, ok := metadata.ByExchange(name, unit); !ok && !metadata.ListedPair(name, unit) {
		x.say(metadata.Note, "1.12", line, 0, name,
			"parameter and unit %q are not in the published list; readers copy such a column", unit)
	}
	_ = bottle
}

// isVariable reports whether the pair is one of our variables, whose values are numbers; other columns may hold text.
func isVariable(name, unit string) bool {
	if unit == "IPTS-68" || unit == "DEG C" {
		unit = "ITS-90"
	}
	_, ok := metadata.ByExchange(name, unit)
	return ok
}

// rows checks data lines.
func (x *exchangeCheck) rows(lines []string, first int, names, units []string, bottle bool) {
	type key struct{ a, b, c, d string }
	keys := map[key]int{}
	casts := map[key]bool{}
	var current key
	last := 0.0
	at := map[string]int{}
	for k, p := range names {
		at[p] = k
	}
	listed := make([]bool, len(names))
	for k, p := range names {
		listed[k] = k < len(units) && isVariable(p, strings.TrimSpace(units[k]))
	}
	for k, text := range lines {
		line := first + k
		if strings.HasPrefix(text, "#") || strings.TrimSpace(text) == "" {
			x.fault("1.4", line, 0, "", "a comment or empty line stands among the data")
			continue
		}
		if i := strings.IndexFunc(text, func(r rune) bool { return r < ' ' || r > '~' }); i >= 0 {
			x.fault("1.8", line, i+1, "", "a sign that is not printable ASCII")
		}
		fields := strings.Split(text, ",")
		if len(fields) != len(names) {
			x.fault("1.8", line, 0, "", "%d fields for %d parameters", len(fields), len(names))
			continue
		}
		column := 1
		for c, raw := range fields {
			v := strings.TrimSpace(raw)
			x.field(names[c], v, line, column, bottle, listed[c])
			column += len(raw) + 1
		}
		value := func(p string) string {
			if c, ok := at[p]; ok {
				return strings.TrimSpace(fields[c])
			}
			return ""
		}
		if !bottle {
			if p, err := strconv.ParseFloat(value("CTDPRS"), 64); err == nil {
				if k > 0 && p <= last {
					x.warn("2.6", line, 0, "CTDPRS", "%g after %g", p, last)
				}
				last = p
			}
			continue
		}
		id := key{value("EXPOCODE"), value("STNNBR"), value("CASTNO"), value("SAMPNO")}
		if other, ok := keys[id]; ok {
			x.fault("4.2", line, 0, "", "the same expocode, station, cast and sample as line %d", other)
		}
		keys[id] = line
		cast := key{id.a, id.b, id.c, ""}
		if cast != current {
			if casts[cast] {
				x.warn("4.3", line, 0, "", "a line of cast %s/%s apart from its others", id.b, id.c)
			}
			casts[cast], current = true, cast
		}
	}
}

// isNumber says whether a text is digits with one point at most and maybe a leading minus: no expression, since there
// are millions.
func isNumber(s string) bool {
	s = strings.TrimPrefix(s, "-")
	points, digits := 0, 0
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			digits++
		case c == '.':
			points++
		default:
			return false
		}
	}
	return digits > 0 && points <= 1
}

// isMissing says whether a text is -999 in any precision.
func isMissing(s string) bool {
	rest, ok := strings.CutPrefix(s, "-999")
	return ok && (rest == "" || rest[0] == '.' && strings.Trim(rest[1:], "0") == "")
}

func (x *exchangeCheck) field(name, v string, line, column int, bottle, listed bool) {
	if base, ok := strings.CutSuffix(name, "_FLAG_W"); ok {
		allowed := "123456789"
		if v == "8" && strings.HasPrefix(base, "CTD") {
			x.warn("1.10", line, column, name, "flag 8 is not used for CTD data")
			return
		}
		if len(v) != 1 || !strings.Contains(allowed, v) {
			x.fault("1.10", line, column, name, "flag %q is no digit of its set", v)
		}
		return
	}
	if bottle && slices.Contains(bottleNeeded, name) && (v == "" || isMissing(v)) {
		x.fault("4.1", line, column, name, "is not filled")
		return
	}
	if slices.Contains(identifiers, name) {
		if bottle && !isMissing(v) {
			x.identifier(name, v, line)
		}
		return
	}
	switch {
	case v == "":
		x.fault("1.9", line, column, name, "is empty")
	case isMissing(v):
		if v != "-999" {
			x.warn("1.9", line, column, name, "a missing value is written %s, since 1.2 it is -999", v)
		}
	case !isNumber(v) && listed:
		x.fault("1.8", line, column, name, "%q is not a number of digits, one point and a leading minus", v)
	case strings.Contains(v, "\""): // in a column of text: it is carried through as it is
		x.warn("1.8", line, column, name,
			"the text %q holds quotes, which mean nothing in this format and something to other readers", v)
	}
}

// maxBundle is the largest bundle that is taken into memory, in bytes.
const maxBundle = 2 << 30

// checkBundle holds a bundle and each of its members to the rules, and gives the casts by member name.
func checkBundle(data []byte, name string) ([]metadata.Finding, map[string]*section.Cast, []string) {
	x := &exchangeCheck{name: name, said: map[string]int{}}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		x.fault("3.2", 0, 0, "", "cannot be read as a zip archive: %v", err)
		return x.found, nil, nil
	}
	casts := map[string]*section.Cast{}
	var order []string
	seen := map[string]bool{}
	total := uint64(0)
	for _, m := range z.File {
		total += m.UncompressedSize64
		switch {
		case strings.ContainsAny(m.Name, `/\`):
			x.fault("3.1", 0, 0, "", "member %q has a folder in its name", m.Name)
		case !strings.HasSuffix(m.Name, "_ct1.csv"):
			x.fault("3.1", 0, 0, "", "member %q does not end in _ct1.csv", m.Name)
		}
		if seen[m.Name] {
			x.fault("3.3", 0, 0, "", "two members are called %s", m.Name)
		}
		seen[m.Name] = true
		if m.Flags&1 != 0 || m.Method != zip.Store && m.Method != zip.Deflate {
			x.fault("3.2", 0, 0, "", "member %s is encrypted or packed by method %d", m.Name, m.Method)
			continue
		}
		if m.UncompressedSize64 > maxBundle || total > 4*maxBundle {
			x.fault("3.2", 0, 0, "", "member %s unpacks to %d bytes, more than is read", m.Name, m.UncompressedSize64)
			continue
		}
		r, err := m.Open()
		var text []byte
		if err == nil {
			text, err = io.ReadAll(io.LimitReader(r, int64(m.UncompressedSize64)+1))
			r.Close()
		}
		if err != nil {
			x.fault("3.2", 0, 0, "", "member %s cannot be unpacked: %v", m.Name, err)
			continue
		}
		found, c, _ := checkExchange(text, name+"/"+m.Name)
		x.found = append(x.found, found...)
		if len(c) == 1 {
			casts[m.Name] = &c[0]
			order = append(order, m.Name)
		}
	}
	return x.found, casts, order
}
