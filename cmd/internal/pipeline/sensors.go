package pipeline

import (
	"fmt"
	"slices"
	"strings"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A reporting is the casts in which the second sensor of a pair is reported, and the entry that says so.
type reporting struct {
	by    *cruisefile.Report
	casts []*section.Cast
}

// report exchanges the two sensors of a pair where the cruise file says which is reported: the second has the name of
// the quantity, so that all that is computed rests on it, and the first has the name of the second. What cannot be done
// is among the findings.
func (a *assembled) report(c *cruisefile.Cruise, casts []*section.Cast) {
	type channel struct {
		k    *section.Cast
		name string
	}
	done := map[channel]*cruisefile.Report{}
	for i := range c.Casts.Reports {
		r := &c.Casts.Reports[i]
		of := slices.DeleteFunc(slices.Clone(casts), func(k *section.Cast) bool {
			return !r.Stations.Empty() && !listed(&r.Stations, k)
		})
		say := func(s metadata.Severity, remedy, format string, args ...any) {
			a.notReported = append(a.notReported, metadata.Finding{Position: r.At, Severity: s, Check: "cruise.report",
				Message: fmt.Sprintf("casts.report of %s: ", r.Second) + fmt.Sprintf(format, args...), Remedy: remedy})
		}
		severity := metadata.Failure
		if c.Release.Status == metadata.Underway {
			severity = metadata.Note
		}
		if len(of) == 0 {
			say(severity, "correct the stations (castwright check --casts lists those that were read), or remove the "+
				"line", "no cast is among the stations %s", orDefault(r.Stations.String(), "all"))
			continue
		}
		var lack []string
		taken := reporting{by: r}
		for _, k := range of {
			if first := done[channel{k, r.First}]; first != nil {
				say(metadata.Failure, "name each station in one line only", "cast %s is already in the line at %s",
					metadata.CastText(k.Station, k.Number), first.At)
				continue
			}
			if !exchangeSensors(k, r.First, r.Second) {
				lack = append(lack, metadata.CastText(k.Station, k.Number))
				continue
			}
			done[channel{k, r.First}] = r
			taken.casts = append(taken.casts, k)
		}
		switch {
		case len(lack) == len(of):
			say(severity, "name the column of "+r.Second+
				" under casts: aliases or in the layout, or remove the line", "none of the casts has it")
		case len(lack) > 0:
			say(metadata.Warning, "name only the stations that have it",
				"it is missing in %s: %s; the first sensor is reported there", plural(len(lack), "cast"),
				strings.Join(lack, ", "))
		}
		if len(taken.casts) > 0 {
			a.reported = append(a.reported, taken)
		}
	}
}

// exchangeSensors gives the values of the second sensor the name of the first, and the other way round; false where the
// cast has no second.
func exchangeSensors(k *section.Cast, first, second string) bool {
	b := k.Column(second)
	if b == nil || b.Text != nil {
		return false
	}
	a := k.Column(first)
	if a == nil { // only the second was there
		b.Variable = sensorVariable(metadata.MustVariable(first), b.Variable)
		b.Sensor = second
		b.Comment = joined(b.Comment, "of the sensor read as "+second)
		k.Comments = append(k.Comments, section.Comment{Place: section.InHead,
			Text: fmt.Sprintf("# %s is of the sensor read as %s", b.Exchange, second)})
		return true
	}
	was, wasSecond := a.Variable, b.Variable
	*a, *b = *b, *a
	a.Variable, b.Variable = sensorVariable(was, wasSecond), sensorVariable(wasSecond, was)
	a.Sensor, b.Sensor = second, first
	a.Comment = joined(a.Comment, "of the second sensor, read as "+second+"; the first is in "+second)
	b.Comment = joined(b.Comment, "of the first sensor, read as "+first+"; the second is reported in "+first)
	k.Comments = append(k.Comments, section.Comment{Place: section.InHead,
		Text: fmt.Sprintf("# %s is of the second sensor, read as %s; the first is in %s", a.Exchange, second,
			b.Exchange)})
	return true
}

// sensorVariable returns the variable of a name for values that were read as another: what was said of the values goes
// with them, and so does their exchange unit.
func sensorVariable(name, values metadata.Variable) metadata.Variable {
	name.Scale, name.Comment, name.Units = values.Scale, values.Comment, values.Units
	if values.ExchangeUnit != "" {
		name.ExchangeUnit = values.ExchangeUnit
	}
	return name
}

// joined joins two remarks.
func joined(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// recordReported records which sensor is reported where.
func (w *survey) recordReported(done []reporting) {
	for _, r := range done {
		w.record(metadata.Record{Step: "report", Text: reportText(r), Inputs: w.castDigests(r.casts),
			Params: []metadata.Param{{Name: "variable", Value: r.by.First}, {Name: "from", Value: r.by.Second},
				{Name: "stations", Value: orDefault(r.by.Stations.String(), "all")},
				{Name: "line", Value: r.by.At.String()}}})
	}
}

func reportText(r reporting) string {
	return fmt.Sprintf("%s of %s (stations %s) is that of the second sensor, read as %s; that of the first is in %s",
		r.by.First, plural(len(r.casts), "cast"), orDefault(r.by.Stations.String(), "all"), r.by.Second, r.by.Second)
}

// reportedHow returns the sentences for the README on which sensors are reported.
func (w *survey) reportedHow() []string {
	var out []string
	for _, text := range w.stepTexts("report") {
		out = append(out, strings.ToUpper(text[:1])+text[1:]+
			". Tables of sensors name a sensor by what it was read as.")
	}
	return out
}

// unusedAliases is an error for each alias that explained no column of any file: it was meant to.
func (w *inputs) unusedAliases() {
	if w.failed() || w.unlisted { // the files that were not read may have the column
		return
	}
	var names []string
	for _, k := range w.read {
		for i := range k.Columns {
			if n := k.Columns[i].Exchange; n != "" && !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	for i := range w.cruise.Casts.Aliases {
		a := &w.cruise.Casts.Aliases[i]
		if w.used[i].Load() {
			continue
		}
		f := metadata.Finding{Position: a.At, Severity: metadata.Failure, Check: "cruise.alias",
			Message: fmt.Sprintf("the alias of %s as %s has no effect: no exchange file has such a column",
				aliasText(*a), a.Means),
			Remedy: "write column and unit as in the file, or remove the line"}
		if near, ok := metadata.Nearest(a.Column, names); ok && !strings.EqualFold(near, a.Column) {
			f.Remedy = "did you mean column: " + near + "? If not, remove the line"
		}
		if len(w.cruise.Casts.Layouts) > 0 {
			f.Remedy += "; for files with a layout, name the column under columns of the layout"
		}
		if w.underway() {
			f.Severity = metadata.Note
		}
		w.find(f)
	}
}
