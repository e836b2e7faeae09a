package draft

import (
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"

	"github.com/castwright/castwright/ingest"
)

// Forms of values in heads.
const (
	monthForm   = `(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]*`
	clockForm   = `\d{1,2}[:h]\d{2}(?::\d{2}(?:\.\d+)?)?(?:\s?[AaPp][Mm]\b)?(?:\s?(?:UTC|GMT|Z)\b|[+-](?:0\d|1[0-4]):?(?:00|15|30|45)\b)?`
	shortClock  = `\d{4}(?:\d{2})?Z?\b`
	numberForm  = `[-+]?\d+(?:[.,]\d+)?`
	nameForm    = `[A-Za-z0-9](?:[A-Za-z0-9_.-]*[A-Za-z0-9])?`
	plainAngle  = `[-+]?\d{1,3}(?:[.,]\d+|[ °:]+\d{1,2}(?:[.,]\d+)?)`
	anglePart   = `\d{1,3}(?:[.,]\d+)?(?:[ °º:'′-]+\d{1,2}(?:[.,]\d+)?){0,2}[ "″'′°º]*`
	latLetter   = `(?:[NSns] ?` + anglePart + `|[-+]?` + anglePart + `[NSns]\b)`
	lonLetter   = `(?:[EWew] ?` + anglePart + `|[-+]?` + anglePart + `[EWew]\b)`
	longDecimal = `[-+]?\d{1,3}\.\d{2,}`
)

// dateForms are the dates that are looked for, with a time of day behind them or without.
var dateForms = []string{
	`\d{4}[-/.]\d{1,2}[-/.]\d{1,2}`, `\d{1,2}[-/. ]` + monthForm + `[-/., ]+\d{2,4}`, monthForm + `\.? \d{1,2},? \d{4}`,
	`\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4}`, `(?:19|20)\d{6}`,
}

const shortDate = `\d{6}`

var (
	dateAtStart  = regexp.MustCompile(`(?i)^(?:` + strings.Join(dateForms, "|") + `)`)
	clockAtStart = regexp.MustCompile(`^(?:` + clockForm + `|` + shortClock + `$)`)
)

// withClock returns a form of a date with the time that may follow it.
func withClock(form string) string {
	return form + `(?:[T ,;]+(?:` + clockForm + `|(?:[01]\d|2[0-3])[0-5]\d(?:[0-5]\d)?Z?\b))?`
}

// A headKey is a fact, the words that come before its value in heads, and the forms of the value, the first that fits
// being taken.
type headKey struct {
	fact  string
	words string
	forms []string
	not   *regexp.Regexp // lines in which the words mean something else
}

var elsewhere = regexp.MustCompile(`(?i)process|creat|export|version|print|calib|software|updat|modif|written`)

var headKeys = []headKey{
	{"expocode", `expocode`, []string{`[A-Za-z0-9]{4}[12]\d{7}`}, nil},
	{"station", `station|stations?nummer|stat|stn|sta|stnnbr|estaci[oó]n|stasjon|asema|site`,
		[]string{`\d` + `[A-Za-z0-9_-]*`, `[A-Za-z]{1,4}[-_]?\d+[A-Za-z]?`, nameForm}, nil},
	{"cast", `cast|castno|profile?|haul|hol`, []string{`\d+`}, nil},
	{"date",
		`date|datum|fecha|data|dato|date/time|datetime|start|begin|time|uhrzeit|utc|start[ _]?time|start[ _]?date|when|am|day`,
		nil, elsewhere},
	{"date", `date|datum|fecha|dato`, []string{shortDate + `\b`}, elsewhere},
	{"time", `time|uhrzeit|zeit|hora|heure|tid|klokkeslett|utc|gmt`, []string{clockForm, shortClock}, elsewhere},
	{"latitude", `latitude|lat|breite|breitengrad|latitud|bredde(?:grad)?`, []string{latLetter, plainAngle, numberForm},
		nil},
	{"longitude", `longitude|long|lon|lng|l[äa]nge|laenge|l[äa]ngengrad|longitud|lengde(?:grad)?`,
		[]string{lonLetter, plainAngle, numberForm}, nil},
	{"depth",
		`water[ _]?depth|bottom[ _]?depth|depth to bottom|bottom|sounding|echo(?:[ _]?depth|sounder)?|wassertiefe|bodentiefe|tiefe|sonde|ekkodyp|bunndyp|profund\w*|depth|seafloor`,
		[]string{numberForm}, regexp.MustCompile(`(?i)max|min\b|range|interval|sensor|target|bin`)},
	{"year", `year|jahr|a[ñn]o|ann[ée]e`, []string{`(?:19|20)\d\d`}, elsewhere},
	{"yearday", `day of (?:the )?year|year[ _]?day|julian(?: day)?|jday|doy|days?|decimal day|jd`,
		[]string{`\d{1,3}(?:[.,]\d+)?`}, nil},
}

func init() {
	for _, f := range dateForms {
		headKeys[3].forms = append(headKeys[3].forms, withClock(f))
	}
}

// A span is a fact found in a line, and the form of its value.
type span struct {
	fact     string
	from, to int
	form     string
}

// inHead finds the facts that a line of a head says behind words for them.
func inHead(line string) (out []span) {
	free := func(from, to int) bool {
		return !slices.ContainsFunc(out, func(s span) bool { return from < s.to && to > s.from })
	}
	for _, k := range headKeys {
		if k.not != nil && k.not.MatchString(line) {
			continue
		}
		re := patterns().keys[k.words]
	places:
		for _, m := range re.FindAllStringIndex(line, -1) {
			for _, form := range k.forms {
				v := patterns().value[form].FindStringIndex(line[m[1]:])
				if v == nil || !free(m[1], m[1]+v[1]) || m[1] > 0 && isLetter(line[m[1]-1]) && isLetter(line[m[1]]) {
					continue
				}
				out = append(out, span{k.fact, m[1], m[1] + v[1], form})
				break places
			}
		}
	}
	return out
}

func isLetter(c byte) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= 0x80 }

var (
	shortStamp  = regexp.MustCompile(`(?:^|\s)(\d{6})\s+(\d{4}Z?)\b`)
	twoDecimals = regexp.MustCompile(`(?:^|[^\w.])(` + longDecimal + `)[ ,;/\t]+(` + longDecimal + `)(?:$|[^\w.])`)
	metresAtEnd = regexp.MustCompile(`(?:^|\s)(\d+(?:\.\d+)?) ?[mM]\s*$`)
	stationWord = regexp.MustCompile(`(?i)(^|[^a-z])(st|stn|sta|station)[_-]?$`)
	castWord    = regexp.MustCompile(`(?i)^[_-]?(c|cast|k|p)?[_-]?$`)
)

// A headPatterns holds the forms as expressions, by what they were made of.
type headPatterns struct {
	bare  map[string]*regexp.Regexp // forms that are looked for without a word before them
	keys  map[string]*regexp.Regexp // the words before a value
	value map[string]*regexp.Regexp // forms that begin where the text does
}

// patterns compiles the expressions when they are first needed: most commands draft nothing.
var patterns = sync.OnceValue(func() headPatterns {
	out := headPatterns{map[string]*regexp.Regexp{}, map[string]*regexp.Regexp{}, map[string]*regexp.Regexp{}}
	bare := []string{clockForm, latLetter, lonLetter}
	for _, f := range dateForms {
		bare = append(bare, withClock(f))
	}
	for _, f := range bare {
		out.bare[f] = regexp.MustCompile(`(?i)(?:^|[^\w.])(` + f + `)`)
	}
	for _, k := range headKeys {
		out.keys[k.words] = regexp.MustCompile(`(?i)(?:^|[^\pL])(?:` + k.words +
			`)(?:[ _]?(?:no|nr|number|name|num|code|id|start|utc|gmt)\b)?[.#]?` +
			`(?:[ _](?:m|met(?:re|er)s?|deg(?:rees)?(?:_(?:north|east|[ne]))?|dd)\b)?` +
			`(?:\s*[(\[][^)\]]*[)\]])?["']?(?:\s*(?:[:=;,|\t]|->))?\s*["']?\s*`)
		for _, f := range k.forms {
			out.value[f] = regexp.MustCompile(`(?i)^(?:` + f + `)`)
		}
	}
	return out
})

// bare finds dates, times, positions and depths that no word says, in what a line has beside what was found already.
func bare(line string, have map[string]bool, spans []span) []span {
	masked := []byte(line)
	mask := func(s span) {
		for i := s.from; i < s.to; i++ {
			masked[i] = 0
		}
	}
	for _, s := range spans {
		mask(s)
	}
	add := func(fact, form string) bool {
		if have[fact] || slices.ContainsFunc(spans, func(s span) bool { return s.fact == fact }) {
			return false
		}
		m := patterns().bare[form].FindSubmatchIndex(masked)
		if m == nil {
			return false
		}
		s := span{fact, m[2], m[3], form}
		spans = append(spans, s)
		mask(s)
		return true
	}
	if !elsewhere.MatchString(line) {
		for _, f := range dateForms {
			if add("date", withClock(f)) {
				break
			}
		}
		add("time", clockForm)
		if m := shortStamp.FindSubmatchIndex(masked); m != nil && !have["date"] && !has(spans, "date") {
			for i, s := range []span{{"date", m[2], m[3], shortDate}, {"time", m[4], m[5], shortClock}} {
				if i == 0 || !has(spans, "time") && !have["time"] {
					spans = append(spans, s)
					mask(s)
				}
			}
		}
	}
	add("latitude", latLetter)
	add("longitude", lonLetter)
	if !have["latitude"] && !have["longitude"] && !has(spans, "latitude") && !has(spans, "longitude") {
		if m := twoDecimals.FindSubmatchIndex(masked); m != nil {
			first, _, _ := ingest.Number(strings.TrimPrefix(string(masked[m[2]:m[3]]), "+"))
			names := [2]string{"latitude", "longitude"}
			if first > 90 || first < -90 {
				names = [2]string{"longitude", "latitude"}
			}
			spans = append(spans, span{names[0], m[2], m[3], longDecimal}, span{names[1], m[4], m[5], longDecimal})
			mask(spans[len(spans)-1])
			mask(spans[len(spans)-2])
		}
	}
	if !have["depth"] && !has(spans, "depth") {
		if m := metresAtEnd.FindSubmatchIndex(masked); m != nil {
			spans = append(spans, span{"depth", m[2], m[3], `\d+(?:\.\d+)?`})
		}
	}
	return spans
}

func has(spans []span, fact string) bool {
	return slices.ContainsFunc(spans, func(s span) bool { return s.fact == fact })
}

// patternOf writes the expression for a line: what is between the values as it is, but for digits and blanks, which may
// vary.
func patternOf(line string, spans []span) string {
	slices.SortFunc(spans, func(a, b span) int { return a.from - b.from })
	var b strings.Builder
	b.WriteString(`^\s*`)
	at := 0
	for i, s := range spans {
		text := line[at:s.from]
		if i == 0 {
			text = strings.TrimLeft(text, " \t")
		}
		b.WriteString(literal(text))
		form := s.form
		if strings.Contains(form, "Jan|") {
			form = `(?i:` + form + `)`
		}
		b.WriteString(`(?P<` + s.fact + `>` + form + `)`)
		at = s.to
	}
	if allNumbers(line) {
		b.WriteString(`\s*$`)
	}
	return b.String()
}

var runs = regexp.MustCompile(`\s+|\d+|[^\s\d]+`)

func literal(text string) string {
	var b strings.Builder
	before := ""
	for _, r := range runs.FindAllString(text, -1) {
		switch {
		case strings.TrimSpace(r) == "" && before != "" && (strings.ContainsAny(before[len(before)-1:], ":=;,|(")):
			b.WriteString(`\s*`)
		case strings.TrimSpace(r) == "":
			b.WriteString(`\s+`)
		case r[0] >= '0' && r[0] <= '9':
			b.WriteString(`\d+`)
		default:
			b.WriteString(regexp.QuoteMeta(r))
		}
		before = r
	}
	return b.String()
}

// A head is what the lines above the data say, as patterns.
type head struct {
	patterns []string
	facts    map[string]bool
	dates    []string // dates of numbers whose order of day and month may be in doubt
	skip     int      // lines of numbers that must be skipped, counted
}

// readHead finds the facts in the lines above the data.
func readHead(lines []string, inColumns map[string]bool) head {
	h := head{facts: map[string]bool{}}
	for f := range inColumns {
		h.facts[f] = true
	}
	keyed := make([][]span, len(lines))
	for i, line := range lines {
		for _, s := range inHead(line) {
			if !h.facts[s.fact] {
				h.facts[s.fact] = true
				keyed[i] = append(keyed[i], s)
			}
		}
	}
	for i, line := range lines {
		if len(keyed[i]) == 0 && allNumbers(line) && !h.facts["latitude"] {
			if spans := numbersLine(line); spans != nil {
				keyed[i] = spans
				h.skip = i + 1
			}
		} else {
			keyed[i] = bare(line, h.facts, keyed[i])
		}
		for _, s := range keyed[i] {
			h.facts[s.fact] = true
		}
	}
	if h.facts["date"] { // a year beside a date, or a day, says nothing new
		for i := range keyed {
			keyed[i] = slices.DeleteFunc(keyed[i], func(s span) bool { return s.fact == "year" || s.fact == "yearday" })
		}
		delete(h.facts, "yearday")
	}
	for i, line := range lines {
		if len(keyed[i]) == 0 {
			continue
		}
		for _, s := range keyed[i] {
			if s.fact == "date" {
				h.dates = append(h.dates, line[s.from:s.to])
			}
		}
		h.patterns = append(h.patterns, patternOf(line, keyed[i]))
	}
	return h
}

func allNumbers(line string) bool {
	f := strings.Fields(strings.NewReplacer(",", " ", ";", " ").Replace(line))
	for _, s := range f {
		if _, _, ok := ingest.Number(s); !ok {
			return false
		}
	}
	return len(f) >= 5
}

var numberField = regexp.MustCompile(`[^\s,;]+`)

// numbersLine guesses a line of a head that is numbers alone: station and cast first, year and day of the year,
// latitude and longitude with decimals, the water depth last.
func numbersLine(line string) []span {
	var out []span
	add := func(fact string, m []int) { out = append(out, span{fact, m[0], m[1], `\S+`}) }
	fields := numberField.FindAllStringIndex(line, -1)
	year := -1
	for i, m := range fields {
		v, d, _ := ingest.Number(line[m[0]:m[1]])
		switch {
		case year < 0 && d == 0 && v >= 1950 && v < 2100:
			year = i
			add("year", m)
		case year == i-1 && year >= 0 && v >= 0 && v < 368 && d >= 2:
			add("yearday", m)
		case year >= 0 && d >= 2 && !has(out, "latitude") && v >= -90 && v <= 90:
			add("latitude", m)
		case year >= 0 && d >= 2 && has(out, "latitude") && !has(out, "longitude"):
			add("longitude", m)
		case has(out, "longitude") && !has(out, "depth"):
			add("depth", m)
		case year < 0 && !has(out, "station"):
			add("station", m)
		case year < 0 && !has(out, "cast"):
			add("cast", m)
		}
	}
	if year < 0 || !has(out, "longitude") || !has(out, "yearday") {
		return nil
	}
	return out
}

var digitRuns = regexp.MustCompile(`\d+`)

// fileNamePattern returns an expression for station and cast in the names of files: the first run of digits that
// differs between them, and a run behind it; "" when the names have none. zeros keeps zeros in front.
func fileNamePattern(names []string, zeros bool) string {
	first := path.Base(names[0])
	runs := digitRuns.FindAllStringIndex(first, -1)
	if len(runs) == 0 {
		return ""
	}
	differs := func(k int) bool {
		for _, n := range names[1:] {
			base := path.Base(n)
			r := digitRuns.FindAllStringIndex(base, -1)
			if len(r) <= k || base[r[k][0]:r[k][1]] != first[runs[k][0]:runs[k][1]] {
				return true
			}
		}
		return false
	}
	station := slices.IndexFunc(make([]int, len(runs)), func(int) bool { return false })
	for k := range runs {
		if differs(k) {
			station = k
			break
		}
	}
	if station < 0 { // one file, or names that differ in letters only
		station = 0
		for k := range runs {
			if n := runs[k][1] - runs[k][0]; n <= 4 && stationWord.MatchString(first[:runs[k][0]]) {
				station = k
			}
		}
	}
	end := runs[station][1]
	if ext := path.Ext(first); runs[station][0] > len(first)-len(ext) {
		return ""
	}
	pattern := `^` + literal(first[:runs[station][0]]) + `0*(?P<station>\d+)`
	if zeros {
		pattern = `^` + literal(first[:runs[station][0]]) + `(?P<station>\d+)`
	}
	if station+1 < len(runs) && runs[station+1][1] <= len(first)-len(path.Ext(first)) {
		between := first[end:runs[station+1][0]]
		if castWord.MatchString(between) && runs[station+1][1]-runs[station+1][0] <= 3 {
			pattern += literal(between) + `0*(?P<cast>\d+)`
		}
	}
	return pattern
}
