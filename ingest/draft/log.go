package draft

import (
	"regexp"
	"slices"
	"strings"

	"github.com/castwright/castwright/ingest"
)

// logWords are names of columns that logs have beside those of casts. Common practice, no source.
var logWords = map[string]string{}

func init() {
	for means, names := range map[string]string{
		"remark": "remark remarks note notes bemerkung bemerkungen observation observations observaciones " +
			"merknad anmerkung remarque remarques",
		"comment":    "comment comments kommentar kommentarer comentario commentaire",
		"event":      "event eventno eventnumber activity operation opno",
		"bottles":    "bottles nbottles flaschen botellas bouteilles flasker noofbottles",
		"parameters": "parameters parameter samples sampled parametros",
		"depth": "depth depthm tiefe tiefem z sounding bottom echo profundidad profondeur dyp waterdepth " +
			"bottomdepth sonde",
		"zone": "zone timezone tz", "direction": "direction", "role": "role type purpose",
		"time_bottom":         "timebottom bottomtime timeatbottom maxdepthtime",
		"time_end":            "timeend endtime timeatend ende timeout ondeck",
		"time":                "start starttime timestart begin beginn timein datetimestart",
		"height_above_bottom": "heightabovebottom hab altimeter distancetobottom offbottom",
		"latitude_hemisphere": "ns latns lathem nors", "longitude_hemisphere": "ew lonew lonhem eorw",
	} {
		for _, n := range strings.Fields(names) {
			logWords[n] = means
		}
	}
}

// coordinatePart is the name of a column that has the degrees or the minutes of a coordinate.
var coordinatePart = regexp.MustCompile(`^(lat|lon|breit|lang|larg)(.*?)` +
	`((m|min|minute|minutes|minuten|minutos|minutter)|` +
	`(d|deg|degree|degrees|grad|grados|grader))$`)

var unitSigns = strings.NewReplacer("°", "deg", "'", "min", "′", "min")

// logMeaning returns what a column of a log is, by its name; "" when it is not known.
func logMeaning(name string) string {
	if part := coordinatePart.FindStringSubmatch(word(unitSigns.Replace(name))); part != nil {
		if m, _ := meaningOf(part[1] + part[2]); m == "latitude" || m == "longitude" {
			return m + map[bool]string{true: "_minutes"}[part[4] != ""]
		}
	}
	if m, ok := logWords[word(ingestBare(name))]; ok {
		return m
	}
	m, _ := meaningOf(ingestBare(name))
	if m == "bottom_depth" || m == "hab" {
		return map[string]string{"bottom_depth": "depth", "hab": "height_above_bottom"}[m]
	}
	if slices.Contains(ingest.LogMeanings(), m) {
		return m
	}
	return ""
}

// recogniseLog finds the mapping of a log: a table with a station in each line, and positions, dates or depths, and no
// levels. question is what must be asked about the order of its dates.
func recogniseLog(text, name string) (m *ingest.LogMapping, question string) {
	first, rest, _ := strings.Cut(text, "\n")
	l := ingest.Layout{Delimiter: ','}
	for _, d := range []byte(";\t|") {
		if strings.Count(first, string(d)) > strings.Count(first, string(l.Delimiter)) {
			l.Delimiter = d
		}
	}
	names := l.Divide(first)
	m = &ingest.LogMapping{Delimiter: l.Delimiter}
	at := map[string]int{}
	for i, n := range names {
		means := logMeaning(n)
		if _, taken := at[means]; means == "" || taken {
			continue
		}
		at[means] = i
		m.Columns = append(m.Columns, ingest.LogColumn{Column: strings.TrimSpace(n), Means: means})
	}
	_, station := at["station"]
	_, lat := at["latitude"]
	_, date := at["date"]
	if _, clock := at["time"]; !station || !lat && !date && !clock {
		return nil, ""
	}
	if numberTail.MatchString(rest) {
		m.Comma = l.Delimiter != ','
	}
	rows := map[string]int{}
	var dates []string
	n := 0
	for _, line := range strings.Split(rest, "\n") {
		f := l.Divide(line)
		if len(f) <= at["station"] || f[at["station"]] == "" {
			continue
		}
		n++
		rows[f[at["station"]]]++
		for _, column := range []string{"date", "time"} {
			if k, ok := at[column]; ok && k < len(f) && numericDate.MatchString(f[k]) {
				dates = append(dates, f[k])
			}
		}
	}
	if n == 0 || 2*len(rows) < n {
		return nil, ""
	}
	m.Date, question = orderOf(dates)
	answered := *m
	if question != "" {
		answered.Date = ingest.DayMonthYear
	}
	if entries, _, err := ingest.ReadStationTable([]byte(text), name, &answered); err != nil || len(entries) == 0 {
		return nil, ""
	}
	return m, question
}

// numberTail is a number with a decimal comma.
var numberTail = regexp.MustCompile(`(^|[;\t| ])-?\d+,\d+([;\t| ]|$|\n)`)

// writeLog writes the key station_table.
func (d *drafter) writeLog(w *writer) {
	if d.mapping == nil {
		w.line(1, "station_table: %s", quoted(d.log.name))
		return
	}
	w.line(1, "station_table:")
	w.line(2, "file: %s", quoted(d.log.name))
	w.line(2, "delimiter: %s", map[byte]string{',': "comma", ';': "semicolon", '\t': "tab",
		'|': "bar"}[d.mapping.Delimiter])
	if d.mapping.Comma {
		w.line(2, "decimal: comma")
	}
	if d.logQuestion != "" {
		w.ask(2, "date", d.logQuestion)
	} else if d.mapping.Date != ingest.OrderUnstated {
		w.line(2, "date: %s", d.mapping.Date)
	}
	w.line(2, "columns:  # by their names; others are not read")
	for _, c := range d.mapping.Columns {
		w.line(3, "%s: %s", quoted(c.Column), c.Means)
	}
}
