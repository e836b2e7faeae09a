package pipeline

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// recordRead records what was read and what was done to the casts before anything was computed: one record for each
// kind of step, with the inputs concerned and every setting, defaults too.
func (w *survey) recordRead(done *assembled) {
	c := w.cruise
	w.record(metadata.Record{Step: "read", Text: fmt.Sprintf("%d casts from %d inputs", len(w.casts), len(w.toRead)),
		Inputs: w.readInputs(),
		Params: []metadata.Param{{Name: "left_out", Value: fmt.Sprint(len(w.out))},
			{Name: "bottle_files", Value: fmt.Sprint(len(w.bottles))},
			{Name: "aliases", Value: fmt.Sprint(len(c.Casts.Aliases))},
			{Name: "lenient", Value: fmt.Sprint(c.Casts.Lenient)}}})
	for _, a := range c.Casts.Aliases {
		casts := slices.DeleteFunc(slices.Clone(w.casts),
			func(k *section.Cast) bool { return k.Column(a.Means) == nil })
		w.record(metadata.Record{Step: "alias", Text: fmt.Sprintf("%s read as %s in %d casts", aliasText(a), a.Means,
			len(casts)), Inputs: w.castDigests(casts),
			Params: []metadata.Param{{Name: "column", Value: orDefault(a.Column, "any")},
				{Name: "unit", Value: orDefault(a.Unit, "any")}, {Name: "means", Value: a.Means}}})
	}
	w.recordLayouts()
	for _, o := range w.out {
		name := o.file
		if o.cast != nil {
			name += " (cast " + o.cast.ID() + ")"
		}
		r := metadata.Record{Step: "leave out", Text: name + ": " + orUnstated(o.reason)}
		if o.cast != nil {
			r.Inputs = []metadata.Digest{castDigest(o.cast)}
		} else if i := slices.IndexFunc(w.sources, func(d metadata.Digest) bool { return d.Name == o.file }); i >= 0 {
			r.Inputs = []metadata.Digest{w.sources[i]}
		}
		w.record(r)
	}
	for _, r := range done.renumbered {
		if !slices.Contains(w.casts, r.cast) {
			continue
		}
		w.record(metadata.Record{Step: "renumber", Text: fmt.Sprintf("cast %s is called %s: %s", r.was, r.cast.ID(),
			orUnstated(r.by.Why)), Inputs: []metadata.Digest{castDigest(r.cast)},
			Params: []metadata.Param{{Name: "from", Value: orDefault(r.by.File, castName(r.by.From))},
				{Name: "to", Value: castName(r.by.To)}, {Name: "line", Value: r.by.At.String()}}})
	}
	for i := range c.Casts.Clock {
		x := &c.Casts.Clock[i]
		casts := slices.DeleteFunc(slices.Clone(done.clocked),
			func(k *section.Cast) bool { return !listed(&x.Stations, k) })
		if x.Of == cruisefile.ClockOfTable {
			casts = nil
		}
		w.record(metadata.Record{Step: "clock",
			Text: fmt.Sprintf("%v added to the logged times of stations %s to get UTC (%d casts)", x.Offset,
				x.Stations.String(), len(casts)),
			Inputs: w.castDigests(casts), Params: []metadata.Param{{Name: "stations", Value: x.Stations.String()},
				{Name: "offset", Value: x.Offset.String()},
				{Name: "of", Value: [...]string{"all", "files", "station_table"}[x.Of]}}})
	}
	if n := len(done.stations.touched); n > 0 {
		var params []metadata.Param
		for _, what := range []string{"times filled", "times changed", "positions changed", "depths filled",
			"depths changed", "directions set", "roles set", "systems set", "remarks", "bottom times", "end times",
			"bottles", "heights", "parameters", "events"} {
			if n := done.stations.counts[what]; n == 0 && slices.Contains(ofLogs, what) {
				continue
			}
			params = append(params, metadata.Param{Name: strings.ReplaceAll(what, " ", "_"),
				Value: fmt.Sprint(done.stations.counts[what])})
		}
		inputs := w.castDigests(done.stations.touched)
		name := path.Clean(c.Casts.Stations.Path)
		if i := slices.IndexFunc(w.sources, func(d metadata.Digest) bool { return d.Name == name }); i >= 0 {
			d := w.sources[i]
			d.First, d.Last = done.stations.lines[0], done.stations.lines[1]
			inputs = append([]metadata.Digest{d}, inputs...)
		}
		w.record(metadata.Record{Step: "station table", Text: fmt.Sprintf("lines of %d casts taken", n), Inputs: inputs,
			Params: params})
	}
	w.record(metadata.Record{Step: "assign", Text: "what the cruise file says of the casts",
		Inputs: []metadata.Digest{w.plan0}, Params: w.assignments()})
	w.recordReported(done.reported)
	w.recordConversions()
}

// ofLogs are what few station tables have.
var ofLogs = []string{"bottom times", "end times", "bottles", "heights", "parameters", "events"}

// recordLayouts records how text files were laid out that are not exchange files.
func (w *survey) recordLayouts() {
	for i := range w.cruise.Casts.Layouts {
		l := &w.cruise.Casts.Layouts[i]
		casts := slices.DeleteFunc(slices.Clone(w.casts), func(k *section.Cast) bool { return k.Layout != l.Name })
		if len(casts) == 0 {
			continue
		}
		var columns []string
		for _, c := range l.Columns {
			text := c.Place.String() + " is " + c.Means
			if c.Unit != "" {
				text += " in " + c.Unit
			}
			columns = append(columns, text)
		}
		w.record(metadata.Record{Step: "layout", Text: fmt.Sprintf("%d casts read as layout %s describes", len(casts),
			l.Name), Inputs: w.castDigests(casts),
			Params: []metadata.Param{{Name: "format", Value: l.Format.String()},
				{Name: "encoding", Value: l.Encoding.String()},
				{Name: "decimal", Value: map[bool]string{true: "comma", false: "point"}[l.Comma]},
				{Name: "date", Value: l.Date.String()},
				{Name: "missing", Value: orDefault(strings.Join(l.Missing, " "), "nothing, NaN and -999")},
				{Name: "columns", Value: strings.Join(columns, "; ")},
				{Name: "line", Value: l.At.String()}}})
	}
}

// readInputs returns every file read, those of casts once for each cast with the lines that hold it.
func (w *survey) readInputs() []metadata.Digest {
	used := map[string][]metadata.Digest{}
	for _, d := range w.castDigests(w.casts) {
		used[d.Name] = append(used[d.Name], d)
	}
	for _, b := range w.bottles {
		used[b.Source.Name] = append(used[b.Source.Name], b.Source)
	}
	var all []metadata.Digest
	for _, d := range w.sources {
		if len(used[d.Name]) > 0 {
			all = append(all, used[d.Name]...)
		} else {
			all = append(all, d)
		}
	}
	return all
}

func aliasText(a ingest.Alias) string {
	switch {
	case a.Unit == "":
		return "column " + a.Column
	case a.Column == "":
		return "unit " + a.Unit
	}
	return "column " + a.Column + " in " + a.Unit
}

// assignments returns the settings that hold for all casts, defaults included.
func (w *inputs) assignments() []metadata.Param {
	c := &w.cruise.Casts
	p := []metadata.Param{{Name: "direction", Value: orDefault(c.Direction.String(), "down")},
		{Name: "up", Value: orDefault(c.Up.String(), "none")},
		{Name: "time", Value: c.TimeIs.String()},
		{Name: "water", Value: map[bool]string{true: "lake", false: "sea"}[c.Lake]},
		{Name: "ice", Value: map[bool]string{true: "shelf", false: "none"}[c.IceShelf]},
		{Name: "depth", Value: orDefault(c.DepthFound, "not stated")},
		{Name: "uncalibrated", Value: map[bool]string{true: "usable", false: "unusable"}[c.Uncalibrated]}}
	gap := "rule"
	if c.MaxGapDbar != nil {
		gap = metadata.GapText(*c.MaxGapDbar)
	}
	p = append(p, metadata.Param{Name: "max_gap", Value: gap})
	var roles []string
	for i := range c.Roles {
		roles = append(roles, c.Roles[i].Role.String()+" "+c.Roles[i].Casts.String())
	}
	p = append(p, metadata.Param{Name: "role", Value: orDefault(strings.Join(roles, "; "), "all primary")})
	var systems []string
	for i := range w.cruise.Systems {
		systems = append(systems, w.cruise.Systems[i].Label+" "+orDefault(w.cruise.Systems[i].Stations.String(),
			"all others"))
	}
	return append(p, metadata.Param{Name: "systems", Value: orDefault(strings.Join(systems, "; "), "none described")},
		metadata.Param{Name: "release", Value: string(w.cruise.Release.Status)})
}

// A converted column of some casts.
type converted struct {
	name string
	by   section.Conversion
}

// conversions returns what was converted while it was read, in the order of the casts, with the casts concerned.
func (w *survey) conversions() (kinds []converted, of map[converted][]*section.Cast) {
	of = map[converted][]*section.Cast{}
	for _, k := range w.casts {
		for i := range k.Columns {
			c := converted{k.Columns[i].Name, k.Columns[i].Converted}
			if c.by.From == "" {
				continue
			}
			if of[c] == nil {
				kinds = append(kinds, c)
			}
			of[c] = append(of[c], k)
		}
	}
	return kinds, of
}

// recordConversions records values that were brought to another scale or unit while they were read.
func (w *survey) recordConversions() {
	kinds, of := w.conversions()
	for _, c := range kinds {
		r := metadata.Record{Step: "convert", Text: fmt.Sprintf("%s of %s from %s to %s", c.name,
			count(len(of[c]), "cast"), c.by.From, c.by.To), Inputs: w.castDigests(of[c])}
		if c.by.Formula != "" {
			r.Params = []metadata.Param{{Name: "formula", Value: c.by.Formula}}
		}
		w.record(r)
	}
}

// asRead says for the README which measured values are as they were read and which were converted.
func (w *survey) asRead() string {
	kinds, of := w.conversions()
	if len(kinds) == 0 {
		return "Measured values are as they were read: in-situ temperature on ITS-90, practical salinity on PSS-78."
	}
	var list []string
	for _, c := range kinds {
		text := fmt.Sprintf("%s of %s from %s to %s", c.name, count(len(of[c]), "cast"), c.by.From, c.by.To)
		if c.by.Formula != "" {
			text += " (" + c.by.Formula + ")"
		}
		list = append(list, text)
	}
	return "In-situ temperature is on ITS-90, practical salinity on PSS-78. Some measured values were converted when they were read: " +
		strings.Join(list, "; ") +
		". All others are as they were read."
}
