package draft

import (
	"fmt"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// writer writes the lines of a cruise file.
type writer struct {
	strings.Builder
	questions []string
}

func (w *writer) line(indent int, format string, args ...any) {
	w.WriteString(strings.Repeat("  ", indent))
	fmt.Fprintf(&w.Builder, format, args...)
	w.WriteByte('\n')
}

// ask writes a key without a value and what it asks for.
func (w *writer) ask(indent int, key, question string) {
	w.questions = append(w.questions, question)
	w.line(indent, "%s:  # fill in: %s", key, question)
}

// quoted writes text as one value of YAML.
func quoted(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

// write writes the cruise file.
func (d *drafter) write() {
	w := &writer{}
	stops := d.stops()
	w.line(0,
		"# A draft made from %d files with %d casts at %d stations. Every line that ends in \"# fill "+
			"in\" needs a value that the files do not",
		len(d.out.Inputs), len(d.casts), len(stops))
	w.line(0, "# say; look at the rest too. castwright help cruise-file explains every key.")
	d.identity(w, stops)
	w.line(0, "release:")
	w.line(1, "status: preliminary  # underway while casts are still taken, final when it is finished")
	w.ask(1, "licence", "terms of use, such as CC-BY-4.0 or CC0-1.0")
	w.ask(1, "contact", "address for questions about the data, such as data@example.org")
	w.line(0, "systems:")
	w.line(1, "- label: main  # one set of sensors; a sensor that was swapped makes two, each with its stations")
	w.line(2, "bin:")
	if b := d.binWidth(); b > 0 {
		w.line(3, "width: %s  # dbar: the commonest step between levels", strconv.FormatFloat(b, 'g', 6, 64))
	}
	w.ask(3, "label", "pressure that is written for a bin: centre, top or bottom")
	d.castsKeys(w, stops)
	d.sections(w, stops)
	d.out.Text, d.out.Questions, d.out.Casts = []byte(w.String()), w.questions, len(d.casts)
}

// identity writes the key cruise, with a leg for each expocode.
func (d *drafter) identity(w *writer, stops []*stop) {
	w.line(0, "cruise:")
	w.ask(1, "id", "short name of the cruise for files, letters, digits and -, such as saltmarten-2026-05")
	w.line(1, "ships:")
	w.ask(2, "- name", "name of the ship, such as RV Saltmarten")
	w.line(1, "legs:")
	first, last := map[string]time.Time{}, map[string]time.Time{}
	var codes []string
	for _, s := range stops {
		for _, c := range s.casts {
			if !slices.Contains(codes, c.Expocode) {
				codes = append(codes, c.Expocode)
			}
			if c.Time.IsZero() {
				continue
			}
			if t := first[c.Expocode]; t.IsZero() || c.Time.Before(t) {
				first[c.Expocode] = c.Time
			}
			if c.Time.After(last[c.Expocode]) {
				last[c.Expocode] = c.Time
			}
		}
	}
	for i, e := range codes {
		if e == placeholder {
			w.ask(2, "- expocode", "ship code and day of departure, such as ZZSM20260504")
		} else {
			w.line(2, "- expocode: %s", quoted(e))
		}
		if d.undecided() {
			w.line(3, "# start and end: first and last day of the leg, YYYY-MM-DD")
		} else if !first[e].IsZero() {
			start, why := first[e], "day of the first cast; the leg may have begun before"
			if len(e) == 12 {
				if day, err := time.Parse("20060102", e[4:]); err == nil && e != placeholder && day.Before(start) &&
					start.Sub(day) < 90*24*time.Hour {
					start, why = day, "the day that the expocode says"
				}
			}
			w.line(3, "start: %s  # %s", start.Format(time.DateOnly), why)
			w.line(3, "end: %s  # day of the last cast; the leg may have ended later", last[e].Format(time.DateOnly))
		}
		if i == 0 {
			w.line(3, "chief_scientist:")
			w.ask(4, "name", "who led the leg, such as Ragna Holm")
		}
	}
}

// undecided reports whether the dates of some casts wait for an answer.
func (d *drafter) undecided() bool {
	return slices.ContainsFunc(d.groups, func(g *group) bool {
		return g.questions["date"] != "" ||
			g.questions["days"] != ""
	})
}

// castsKeys writes the key casts.
func (d *drafter) castsKeys(w *writer, stops []*stop) {
	w.line(0, "casts:")
	w.line(1, "sources:")
	for _, s := range d.sources() {
		w.line(2, "- %s", quoted(s))
	}
	if len(d.bottles) > 0 {
		w.line(1, "bottles:")
		for _, f := range d.bottles {
			w.line(2, "- %s", quoted(f.name))
		}
	}
	if d.log != nil {
		d.writeLog(w)
	}
	w.ask(1, "time", "what the time of a cast is the time of: start, bottom or end")
	if slices.ContainsFunc(d.casts, func(c *section.Cast) bool { return c.BottomM == c.BottomM }) {
		w.ask(1, "depth", "how the water depth was found, such as echo sounder")
	}
	if !d.zoned && (len(d.groups) > 0 || d.mapping != nil) {
		w.line(1, "clock:")
		w.line(2, "- stations: all")
		w.ask(3, "zone", `zone of the times in the files: UTC, or hours ahead of it, such as "+02:00"`)
	}
	if len(d.out.Failed) > 0 {
		w.line(1, "leave_out:")
		for _, f := range d.out.Failed {
			w.line(2, "- {file: %s, reason: %s}", quoted(f), quoted("cannot be read: "+d.reasons[f]))
		}
	}
	d.roles(w, stops)
	d.aliases(w)
	if len(d.groups) > 0 {
		w.line(1, "layouts:")
		for _, g := range d.groups {
			g.write(w)
		}
	}
}

// sources returns the patterns of file names, or the names, that are exactly the files of casts.
func (d *drafter) sources() (out []string) {
	wanted := map[string]bool{}
	folders := map[string][]string{}
	add := func(f *file) {
		wanted[f.name] = true
		key := path.Join(path.Dir(f.name), "*"+path.Ext(f.name))
		folders[key] = append(folders[key], f.name)
	}
	for _, f := range append(slices.Clone(d.exchange), d.netcdf...) {
		add(f)
	}
	for _, g := range d.groups {
		for _, f := range g.files {
			add(f)
		}
	}
	taken := slices.Clone(d.out.Unread)
	for _, f := range d.bottles {
		taken = append(taken, f.name)
	}
	if d.log != nil {
		taken = append(taken, d.log.name)
	}
	for _, pattern := range slices.Sorted(mapsKeys(folders)) {
		clash := slices.ContainsFunc(taken, func(n string) bool { ok, _ := path.Match(pattern, n); return ok })
		if clash || strings.ContainsAny(path.Dir(pattern), "*?[") {
			slices.Sort(folders[pattern])
			out = append(out, folders[pattern]...)
			continue
		}
		out = append(out, pattern)
	}
	return out
}

func mapsKeys(m map[string][]string) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// roles writes which casts are no primary ones.
func (d *drafter) roles(w *writer, stops []*stop) {
	var lines []string
	legs := d.severalLegs()
	text := func(c *section.Cast) string {
		if legs {
			return metadata.LegCastText(c.Expocode, c.Station, c.Number)
		}
		return metadata.CastText(c.Station, c.Number)
	}
	alone := lonely(d.track(stops))
	for _, s := range stops {
		switch km := alone[s]; {
		case isTest(s.station):
			lines = append(lines, "- {test: "+quoted(listOf([]*stop{s}, legs))+"}  # by its name")
		case len(s.casts) >= yoyoCasts:
			lines = append(lines, "- {yoyo: "+quoted(listOf([]*stop{s}, legs))+fmt.Sprintf(
				"}  # %d casts at one station: a time series of them is made", len(s.casts)))
		case km > 0:
			lines = append(lines, "- {other: "+quoted(listOf([]*stop{s}, legs))+fmt.Sprintf(
				"}  # on no line, %.0f km from the nearest station; primary if it belongs to the survey", km))
		case len(s.casts) > 1:
			deepest := 0
			for i, c := range s.casts {
				if c.PressureDbar[len(c.PressureDbar)-1] > s.casts[deepest].PressureDbar[len(
					s.casts[deepest].PressureDbar)-1] {
					deepest = i
				}
			}
			for i, c := range s.casts {
				if i != deepest && c.Role == section.Unstated {
					lines = append(lines, "- {repeat: "+quoted(text(c))+
						"}  # another cast of the station is deeper, or as deep and earlier")
				}
			}
		}
	}
	if len(lines) == 0 {
		return
	}
	w.line(1, "role:")
	for _, l := range lines {
		w.line(2, "%s", l)
	}
}

// aliases explains columns of second sensors in exchange files.
func (d *drafter) aliases(w *writer) {
	var lines []string
	for _, c := range d.casts {
		for i := range c.Columns {
			col := &c.Columns[i]
			base, ok := strings.CutSuffix(col.Exchange, "2")
			v, listed := metadata.ByExchange(base, col.ExchangeUnit)
			if c.Layout != "" || !ok || !listed {
				continue
			}
			if second, there := metadata.ByName(v.Name + "2"); there && col.Name != second.Name {
				line := fmt.Sprintf("- {column: %s, means: %s}  # the second sensor, by its name", quoted(col.Exchange),
					second.Name)
				if !slices.Contains(lines, line) {
					lines = append(lines, line)
				}
			}
		}
	}
	if len(lines) > 0 {
		w.line(1, "aliases:")
		for _, l := range lines {
			w.line(2, "%s", l)
		}
	}
}

func (d *drafter) severalLegs() bool {
	return slices.ContainsFunc(d.casts, func(c *section.Cast) bool { return c.Expocode != d.casts[0].Expocode })
}

// write writes one layout.
func (g *group) write(w *writer) {
	l := &g.layout
	w.line(2, "- name: %s  # %d files", g.name, len(g.files))
	if len(g.match) == 1 {
		w.line(3, "match: %s", quoted(g.match[0]))
	} else {
		w.line(3, "match:  # by their names, since files with other columns are among them")
		for _, m := range g.match {
			w.line(4, "- %s", quoted(m))
		}
	}
	if l.Encoding != ingest.EncodingFound {
		w.line(3, "encoding: %s", l.Encoding)
	}
	w.line(3, "format: %s", l.Format)
	if l.Format == ingest.Delimited {
		w.line(3, "delimiter: %s", map[byte]string{',': "comma", ';': "semicolon", '\t': "tab",
			'|': "bar"}[l.Delimiter])
	}
	if l.Comma {
		w.line(3, "decimal: comma")
	}
	if q := g.questions["date"]; q != "" {
		w.ask(3, "date", q)
	} else if l.Date != ingest.OrderUnstated {
		w.line(3, "date: %s", l.Date)
	}
	if q := g.questions["days"]; q != "" {
		w.ask(3, "days", q)
	}
	if l.Direction != ingest.TravelUnstated {
		w.line(3, "direction: %s  # by the order of the levels", map[ingest.Travel]string{ingest.TravelUp: "up",
			ingest.TravelBoth: "both"}[l.Direction])
	}
	if l.Skip.Lines > 0 || len(g.skip) > 0 {
		w.line(3, "skip:")
		if l.Skip.Lines > 0 {
			w.line(4, "- %d", l.Skip.Lines)
		}
		for _, s := range g.skip {
			w.line(4, "- %s", quoted(s))
		}
	}
	if len(g.missing) > 0 {
		w.line(3, "missing:  # seen where no value can be")
		for _, m := range g.missing {
			w.line(4, "- %s", quoted(m))
		}
	}
	if len(l.Header) > 0 {
		w.line(3, "header:")
		for _, h := range l.Header {
			if h.FileName {
				w.line(4, "- file: %s", quoted(h.Regexp.String()))
			} else {
				w.line(4, "- %s", quoted(h.Regexp.String()))
			}
		}
	}
	g.writeColumns(w)
}

func (g *group) writeColumns(w *writer) {
	w.line(3, "columns:")
	for k := range g.columns {
		c := &g.columns[k]
		if c.Means == "flags" || c.Means == "" && c.name == "" {
			continue
		}
		means, why := c.Means, c.sure.String()+": "+c.why
		if means == "" {
			means, why = ingest.Keep, "not known"
			if c.why != "" {
				why = c.why
			}
		}
		q := g.questions["unit "+means]
		end := "  # " + why
		if q == "" && c.Flags == nil {
			unit := ""
			if c.Unit != "" {
				unit = ", unit: " + quoted(c.Unit)
			}
			w.line(4, "- {%s, means: %s%s}%s", placeText(c.Place), means, unit, end)
			continue
		}
		w.line(4, "- means: %s%s", means, end)
		for _, p := range strings.Split(placeText(c.Place), ", ") {
			w.line(5, "%s", p)
		}
		if q != "" {
			w.ask(5, "unit", q)
		} else if c.Unit != "" {
			w.line(5, "unit: %s", quoted(c.Unit))
		}
		if f := c.Flags; f != nil {
			digit := ""
			if f.Digit > 0 {
				digit = fmt.Sprintf(", digit: %d", f.Digit)
			}
			w.line(5, "flags: {%s%s, scheme: %s}  # %s", placeText(f.Place), digit, f.Scheme, schemeWhy(f.Scheme))
		}
	}
}

func schemeWhy(s ingest.Scheme) string {
	if s == ingest.SchemeL20 {
		return "likely: most are 1, which means good in this set"
	}
	return "likely: 2 means good in this set"
}

func placeText(p ingest.Place) string {
	switch {
	case p.Column != "":
		return "column: " + quoted(p.Column)
	case p.Number > 0:
		return fmt.Sprintf("number: %d", p.Number)
	}
	return fmt.Sprintf("from: %d, to: %d", p.From, p.To)
}

// sections writes the sections that the track suggests.
func (d *drafter) sections(w *writer, stops []*stop) {
	d.sectionsOf(w, d.track(stops), false)
}

// track returns the stations that can be of a section.
func (d *drafter) track(stops []*stop) (out []*stop) {
	for _, s := range stops {
		if !isTest(s.station) && len(s.casts) < yoyoCasts {
			out = append(out, s)
		}
	}
	return out
}

// sectionsOf writes the sections of stations in the order of their track; planned says that none of them was taken yet.
func (d *drafter) sectionsOf(w *writer, track []*stop, planned bool) {
	found, closed := lines(track), closedTracks(track)
	found = slices.DeleteFunc(found, func(l []*stop) bool { // the closed line holds it all
		return slices.ContainsFunc(closed, func(c []*stop) bool { return len(c) == len(l) && c[0] == l[0] })
	})
	if len(found)+len(closed) == 0 {
		return
	}
	w.line(0, "sections:  # where the track neither jumps nor turns; name them, and choose the reference level")
	for i, l := range closed {
		name := "closed"
		if len(closed) > 1 {
			name = fmt.Sprint("closed", i+1)
		}
		legs := !planned && d.severalLegs()
		stations := listOf(l, legs) + ", " + listOf(l[:1], legs)
		more := ""
		if planned {
			more = fmt.Sprintf("planned: %s, ", quoted(listOf(l, false)))
		}
		w.line(1, "- {name: %s, stations: %s, %sreference: deepest}  # the track comes back to station %s: a closed "+
			"line, with a budget", name, quoted(stations), more, l[0].station)
	}
	for i, l := range found {
		name := "line"
		if len(found) > 1 {
			name = fmt.Sprint("line", i+1)
		}
		stations := quoted(listOf(l, !planned && d.severalLegs()))
		if planned {
			w.line(1, "- {name: %s, stations: %s, planned: %s, reference: deepest}", name, stations, stations)
			continue
		}
		w.line(1, "- {name: %s, stations: %s, reference: deepest}", name, stations)
	}
}
