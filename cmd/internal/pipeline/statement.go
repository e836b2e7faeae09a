package pipeline

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/statement"
	"github.com/castwright/castwright/ingest/qc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// statement makes the processing statement: what was done to the casts, with numbers, as the data chapter of the cruise
// report needs it.
func (w *archive) statement() *statement.Document {
	c := w.cruise
	d := &statement.Document{Title: "Processing statement: " + c.Title}
	d.Text("%s", c.Summary)
	d.Text("This statement says how the data in this archive were processed from the input files to the products. "+
		"It was written by %s at %s (UTC); every step with all its settings is in provenance/history.txt.",
		w.plan.Program, w.stamp.UTC().Format("2006-01-02 15:04"))
	w.stateRelease(d)
	w.stateCasts(d)
	w.stateLedger(d)
	w.stateInstruments(d)
	w.stateConversions(d)
	w.stateFlags(d)
	w.stateFindings(d)
	w.stateSections(d)
	w.stateGrids(d)
	w.stateAnomalies(d)
	w.stateSeries(d)
	w.stateLimits(d)
	return d
}

func (w *archive) stateRelease(d *statement.Document) {
	r := &w.cruise.Release
	d.Heading("State of the data")
	var rows [][]string
	add := func(name, value string) {
		if value != "" {
			rows = append(rows, []string{name, value})
		}
	}
	add("Release status", string(r.Status))
	add("Version", r.Version)
	add("Date of issue", r.Date)
	add("Replaces", r.Replaces)
	add("DOI", r.DOI)
	add("Licence", r.Licence)
	add("Embargo until", r.Embargo)
	add("Contact", r.Contact)
	add("Publisher", r.Publisher.Name)
	add("Citation", r.Citation)
	var names []string
	for v := range r.PerVariable {
		names = append(names, v)
	}
	slices.Sort(names)
	for _, v := range names {
		add("Status of "+v, string(r.PerVariable[v]))
	}
	d.Table([]string{"What", "Value"}, rows)
	rows = nil
	for _, a := range w.about() {
		rows = append(rows, []string{a[0], a[1]})
	}
	d.Table([]string{"Of the cruise", "Value"}, rows)
}

func (w *archive) stateCasts(d *statement.Document) {
	d.Heading("Casts")
	levels, shallow, deep := 0, math.Inf(1), math.Inf(-1)
	roles := map[section.Role]int{}
	stations := map[string]bool{}
	for _, k := range w.casts {
		stations[k.Expocode+":"+k.Station] = true
		roles[k.Role]++
		levels += k.Levels()
		for _, p := range k.PressureDbar {
			if !math.IsNaN(p) {
				shallow, deep = min(shallow, p), max(deep, p)
			}
		}
	}
	d.Text("%s at %s with %s between %g and %g dbar. A pressure bin is one row of a cast: the readings of one step "+
		"of pressure.", count(len(w.casts), "cast"),
		count(len(stations), "station"), count(levels, "pressure bin"), shallow, deep)
	var rows [][]string
	for r := section.Unstated; r <= section.Calibration; r++ {
		if n := roles[r]; n > 0 {
			rows = append(rows, []string{r.String(), strconv.Itoa(n)})
		}
	}
	d.Table([]string{"Role", "Casts"}, rows)
	if w.cruise.DepthFound != "" {
		d.Text("Water depth was found by: %s.", strings.TrimSuffix(w.cruise.DepthFound, "."))
	}
	d.Text("%s", w.timesAre())
	rows = nil
	for _, l := range w.out {
		name := "unknown, the file was not read"
		if l.cast != nil {
			name = l.cast.ID()
		}
		rows = append(rows, []string{name, l.file, orUnstated(l.reason)})
	}
	if len(rows) == 0 {
		d.Text("No cast was left out.")
	} else {
		d.Text("Left out of all products: %s.", count(len(rows), "cast"))
	}
	d.Table([]string{"Cast left out", "File", "Reason"}, rows)
	for _, x := range []struct{ step, head string }{{"renumber", "Casts that were given another number:"},
		{"clock", "Times that were corrected:"}, {"station table", "From the table of stations:"},
		{"alias", "Columns of the input files whose names needed an explanation:"},
		{"layout", "Input files that are not in exchange format or NetCDF:"}} {
		if texts := w.stepTexts(x.step); len(texts) > 0 {
			d.Text("%s", x.head)
			d.List(texts)
		}
	}
}

// timesAre says what the times of casts are.
func (w *survey) timesAre() string {
	if w.cruise.Casts.TimeIs == section.TimeUnstated {
		return "Times are UTC; whether they are of the start, the bottom or the end of a cast is not stated."
	}
	return "Times are UTC and those of the " + w.cruise.Casts.TimeIs.String() + " of the cast."
}

// stepTexts returns what the records of some steps say, in their order.
func (w *survey) stepTexts(steps ...string) []string {
	var out []string
	for _, name := range steps {
		for i := range w.records {
			if w.records[i].Step == name {
				out = append(out, w.records[i].Text)
			}
		}
	}
	return out
}

func (w *archive) stateInstruments(d *statement.Document) {
	d.Heading("Instruments and calibration")
	if len(w.cruise.Systems) == 0 {
		d.Text("The instruments are not described.")
		return
	}
	var sensors, stages [][]string
	var upstream []string
	for i := range w.cruise.Systems {
		s := &w.cruise.Systems[i]
		for _, x := range s.Sensors {
			sensors = append(sensors, []string{s.Label, strings.Join(x.Variables, ", "), x.Model, x.Serial,
				x.Calibrated})
		}
		for _, q := range []struct {
			name string
			c    *metadata.Calibration
		}{{"salinity", &s.Salinity}, {"oxygen", &s.Oxygen}} {
			residual := ""
			if !math.IsNaN(q.c.Residual) {
				residual = strconv.FormatFloat(q.c.Residual, 'g', -1, 64)
			}
			stages = append(stages, []string{s.Label, q.name, q.c.Stage.String(), q.c.By, q.c.Date, residual})
		}
		said := "System " + s.Label + ": " + orDefault(s.Package, "the instrument package is not described") +
			"; used at " + orDefault(orEmpty("stations ", s.Stations.String()),
			map[bool]string{true: "all stations", false: "the stations that no other system lists"}[len(
				w.cruise.Systems) == 1]) + "; "
		switch {
		case s.Bin.WidthDbar > 0 && s.Bin.Label != "":
			said += fmt.Sprintf("pressure bins of %g dbar, each named by the pressure at its %s", s.Bin.WidthDbar,
				s.Bin.Label)
		case s.Bin.WidthDbar > 0:
			said += fmt.Sprintf("pressure bins of %g dbar; which pressure of a bin is written is not stated",
				s.Bin.WidthDbar)
		default:
			said += "the width of the pressure bins is not stated"
		}
		if !math.IsNaN(s.Deck.OffsetDbar) {
			said += fmt.Sprintf("; pressure on deck %g dbar, %s", s.Deck.OffsetDbar,
				map[bool]string{true: "already taken off the pressures", false: "not taken off"}[s.Deck.Applied])
		}
		upstream = append(upstream, said+".")
		for _, u := range s.Upstream {
			upstream = append(upstream, "System "+s.Label+", processing before the data were put into bins: "+u)
		}
	}
	d.Text("A system is a set of sensors that were used together.")
	d.List(append(upstream, w.reportedHow()...))
	d.Table([]string{"System", "Variables", "Model", "Serial number", "Calibrated"}, sensors)
	d.Table([]string{"System", "Of", "Stage of calibration", "By", "Date", "Residual, in the variable's unit"}, stages)
}

func (w *archive) stateConversions(d *statement.Document) {
	d.Heading("Conversions")
	d.Text("%s", w.asRead())
}

// stateFlags counts the flags in force of every measured variable and lists the edits.
func (w *archive) stateFlags(d *statement.Document) {
	d.Heading("Quality flags")
	d.Text("Flags are those of the WOCE CTD scheme. They are the originator's, changed only as listed below. " +
		"A flag of a derived value follows from those of what it is derived from.")
	head := []string{"Variable", "What"}
	var kinds []metadata.Flag
	for f := metadata.NotEvaluated; f <= metadata.NotSampled; f++ {
		kinds = append(kinds, f)
		head = append(head, fmt.Sprintf("%d %s", f, strings.ReplaceAll(f.String(), "_", " ")))
	}
	var names []string
	long := map[string]string{}
	counts := map[string]map[metadata.Flag]int{}
	proposed := map[string]map[metadata.Flag]int{}
	for _, k := range w.casts {
		for i := range k.Columns {
			col := &k.Columns[i]
			if col.Derived || col.Values == nil || col.Flags == nil {
				continue
			}
			if counts[col.Name] == nil {
				names = append(names, col.Name)
				long[col.Name] = col.LongName
				counts[col.Name], proposed[col.Name] = map[metadata.Flag]int{}, map[metadata.Flag]int{}
			}
			for _, f := range col.Flags {
				counts[col.Name][f]++
			}
			for l, f := range col.Proposed {
				if f != col.Flags[l] {
					proposed[col.Name][f]++
				}
			}
		}
	}
	table := func(title string, counts map[string]map[metadata.Flag]int) {
		var rows [][]string
		for _, n := range names {
			row := []string{n, long[n]}
			any := false
			for _, f := range kinds {
				text := ""
				if x := counts[n][f]; x > 0 {
					text, any = strconv.Itoa(x), true
				}
				row = append(row, text)
			}
			if any {
				rows = append(rows, row)
			}
		}
		if len(rows) > 0 {
			d.Text("%s", title)
		}
		d.Table(head, rows)
	}
	table("Values with each flag in force, by measured variable:", counts)
	table("Flags that the automatic checks propose for values that have another flag; they are not in force:", proposed)
	edits := w.stepTexts("flag")
	if len(edits) == 0 {
		d.Text("No flag was edited.")
	} else {
		d.Text("Edits of flags, with initials and reason:")
	}
	d.List(edits)
}

func (w *archive) stateFindings(d *statement.Document) {
	d.Heading("Checks")
	d.Text(
		"Every input was checked when it was read. Each finding is in tables/findings.csv with its place and remedy; " +
			"a check changes no value and no flag.")
	type key struct {
		check    string
		severity metadata.Severity
	}
	n := map[key]int{}
	first := map[key]string{}
	var order []key
	for _, f := range metadata.JoinFindings(w.findings) {
		k := key{f.Check, f.Severity}
		if n[k] == 0 {
			order = append(order, k)
			first[k] = f.Message
		}
		n[k] += 1 + len(f.Also)
	}
	slices.SortStableFunc(order, func(a, b key) int { return strings.Compare(a.check, b.check) })
	var rows [][]string
	for _, k := range order {
		rows = append(rows, []string{k.check, k.severity.String(), strconv.Itoa(n[k]), first[k]})
	}
	if len(rows) == 0 {
		d.Text("There is no finding.")
	}
	d.Table([]string{"Check", "Severity", "Findings", "Text of the first"}, rows)
	w.stateJudgement(d)
	rows = nil
	for _, r := range qc.Rules() {
		var usual, own []string
		for _, t := range r.Thresholds {
			value, set := w.cruise.Quality.Thresholds[r.ID+"."+t.Name]
			if !set {
				value = t.Default
			}
			text := strings.TrimSpace(t.Does + ": " + strconv.FormatFloat(value, 'g', -1, 64) + " " + t.Units)
			if set {
				own = append(own, text)
			} else {
				usual = append(usual, text)
			}
		}
		rows = append(rows, []string{r.ID, r.Does, strings.Join(usual, "; "), strings.Join(own, "; ")})
	}
	d.Text("All checks of values and casts, what each one finds, and the thresholds that were used.")
	d.Table([]string{"Check", "Finds", "Thresholds", "Set for this cruise"}, rows)
}

// stateJudgement says who signed, which checks set flags without a person, and which findings a person closed.
func (w *archive) stateJudgement(d *statement.Document) {
	q := &w.cruise.Quality
	if q.Signed.By == "" {
		d.Text("The quality control has not been signed: no person has yet stated that the flags are final.")
	} else {
		d.Text("The quality control was signed by %s%s.", q.Signed.By, orEmpty(" on ", q.Signed.Date))
	}
	if len(q.Apply) > 0 {
		d.Text("Checks whose proposals became flags without a person: %s.", strings.Join(q.Apply, ", "))
	}
	var rows [][]string
	for _, f := range metadata.JoinFindings(w.findings) {
		if f.Accepted.Reason != "" {
			rows = append(rows, []string{f.Check, f.Cast, f.Variable, f.Message, f.Accepted.Initials,
				f.Accepted.Reason})
		}
	}
	d.Table([]string{"Finding that was decided about", "Cast", "Variable", "What", "Initials", "Reason"}, rows)
}

// orEmpty returns a text with words in front; "" for none.
func orEmpty(front, text string) string {
	if text == "" {
		return ""
	}
	return front + text
}

// stationSummary makes the summary of stations: a row a cast.
func (w *archive) stationSummary() *statement.Document {
	d := &statement.Document{Title: "Station summary: " + w.cruise.Title}
	d.Text(
		"One row a cast, in the order of the archive. %s Positions are in degrees north and east, depths in metres, "+
			"pressures in dbar. Positions and depths are as logged: not for navigation.", w.timesAre())
	bottles := map[string]int{}
	for _, b := range w.bottles {
		for i := range b.Rows {
			r := &b.Rows[i]
			bottles[r.Expocode+":"+metadata.CastText(r.Station, r.Cast)]++
		}
	}
	var rows [][]string
	head := []string{"Expocode", "Station", "Cast", "Role", "Direction", "Time", "Latitude", "Longitude", "Water depth",
		"Deepest bin", "Bins", "Bottles", "Sections", "Remark"}
	logged := loggedColumns(w.logged)
	for _, c := range logged {
		head = append(head, c.head)
	}
	for _, r := range w.stationRows() {
		k := r.Cast
		if k == nil || r.LeftOut != "" {
			continue
		}
		row := []string{k.Expocode, k.Station, k.Number, k.Role.String(), k.Direction.String(),
			cell(export.CastTime(k)),
			degrees(k.At[1], k.AtDecimals[1]), degrees(k.At[0], k.AtDecimals[0]), "", "", strconv.Itoa(k.Levels()), "",
			strings.Join(r.Sections, " "), r.Remark}
		if !math.IsNaN(k.BottomM) {
			row[8] = degrees(k.BottomM, k.BottomDecimals)
		}
		if k.Levels() > 0 {
			row[9] = strconv.FormatFloat(slices.Max(k.PressureDbar), 'f', -1, 64)
		}
		if n := bottles[k.Expocode+":"+metadata.CastText(k.Station, k.Number)]; n > 0 {
			row[11] = strconv.Itoa(n)
		} else {
			row[11] = r.Log.Bottles
		}
		for _, c := range logged {
			row = append(row, c.of(&r.Log))
		}
		rows = append(rows, row)
	}
	d.Table(head, rows)
	rows = nil
	for _, l := range w.out {
		rows = append(rows, []string{l.file, orUnstated(l.reason)})
	}
	if len(rows) > 0 {
		d.Heading("Left out")
	}
	d.Table([]string{"File", "Reason"}, rows)
	return d
}

// A loggedColumn is a column of the summary that only some logs have.
type loggedColumn struct {
	head string
	of   func(l *export.Logged) string
}

// loggedColumns returns the columns in which a cast has something.
func loggedColumns(logged map[*section.Cast]export.Logged) []loggedColumn {
	all := []loggedColumn{
		{"Time at bottom", func(l *export.Logged) string { return cell(l.Bottom) }},
		{"Time at end", func(l *export.Logged) string { return cell(l.End) }},
		{"Height above bottom", func(l *export.Logged) string { return l.HeightM }},
		{"Parameters", func(l *export.Logged) string { return l.Parameters }},
		{"Event", func(l *export.Logged) string { return l.Event }}}
	return slices.DeleteFunc(all, func(c loggedColumn) bool {
		for _, l := range logged {
			if c.of(&l) != "" {
				return false
			}
		}
		return true
	})
}

func cell(s string) string { return strings.TrimSuffix(strings.Replace(s, "T", " ", 1), "Z") }

func degrees(v float64, decimals int) string {
	return strconv.FormatFloat(v, 'f', max(decimals, -1), 64)
}
