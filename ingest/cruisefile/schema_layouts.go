package cruisefile

import (
	"fmt"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
	"gopkg.in/yaml.v3"
)

var layoutForm = mapping(shape[ingest.Layout]{at: func(l *ingest.Layout) *metadata.Position { return &l.At },
	check: checkLayout},
	required(entry("name", func(l *ingest.Layout) *string { return &l.Name }, identifier, "short name of the layout",
		"", "text")),
	entry("match", func(l *ingest.Layout) *[]string { return &l.Match }, list(filePattern),
		"names of the files; the first layout that matches counts", "all files of sources that are not exchange files",
		`"*.asc"`),
	entry("encoding", func(l *ingest.Layout) *ingest.Encoding { return &l.Encoding },
		named(ingest.UTF8, ingest.Latin1, ingest.UTF16),
		"how characters are written as bytes", "found: a byte-order mark, else UTF-8, else Latin-1", "utf-8"),
	entry("format", func(l *ingest.Layout) *ingest.Format { return &l.Format }, named(ingest.Delimited, ingest.Space,
		ingest.Fixed),
		"how a data line is divided into fields: by one character, by blanks, or by numbers of characters", "delimited",
		"space"),
	entry("delimiter", func(l *ingest.Layout) *byte { return &l.Delimiter },
		wordAs([]string{"comma", "semicolon", "tab", "bar"}, []byte{',', ';', '\t', '|'}), "what is between the fields",
		"found: the one of these that most lines have equally often", "semicolon"),
	entry("decimal", func(l *ingest.Layout) *bool { return &l.Comma },
		wordAs([]string{"point", "comma"}, []bool{false, true}),
		"sign before decimals", "point", "comma"),
	entry("skip", func(l *ingest.Layout) *ingest.Skip { return &l.Skip }, skipForm,
		"lines that are no data: the first so many of a file, and patterns (RE2) of others; header patterns look "+
			"at them too",
		"none: data begin at the first line in which every column is a number", `[12, "^#"]`),
	entry("header", func(l *ingest.Layout) *[]ingest.Pattern { return &l.Header }, list(patternForm),
		"what lines above the data, or file names, say of the cast", "nothing: columns or the station table do",
		`[{pattern: 'Station: (?P<station>\d+)'}]`),
	entry("given", func(l *ingest.Layout) *[]ingest.GivenFact { return &l.Given }, givenForm,
		"what holds for every cast and is in no file", "nothing", "{year: 2026}"),
	required(entry("columns", func(l *ingest.Layout) *[]ingest.LayoutColumn { return &l.Columns },
		list(layoutColumnForm),
		"columns that are read; pressure or depth is one of them", "", "[{column: Pres, means: pres}]")),
	entry("missing", func(l *ingest.Layout) *[]string { return &l.Missing }, list(anyText),
		"what is written where there is no value", "nothing, NaN and -999", `["-9.99", "n/a"]`),
	entry("date", func(l *ingest.Layout) *ingest.DateOrder { return &l.Date },
		named(ingest.YearMonthDay, ingest.DayMonthYear, ingest.MonthDayYear),
		"order of year, month and day in dates of numbers",
		"year first; a date that could be read two ways is an error", "dmy"),
	entry("days", func(l *ingest.Layout) *ingest.DayCount { return &l.Days },
		wordAs([]string{"from_0", "from_1"}, []ingest.DayCount{ingest.DaysFromZero, ingest.DaysFromOne}),
		"number of 1 January in days of the year (group yearday)",
		"none: the groups day_of_year (from 1) and elapsed_days (from 0) say it", "from_1"),
	entry("split", func(l *ingest.Layout) **regexp.Regexp { return &l.Split }, regexpForm,
		"pattern (RE2) of the line with which each cast of a file begins",
		"found: a header pattern that matches below data, or another station or cast in the columns", `"^# Station"`),
	entry("direction", func(l *ingest.Layout) *ingest.Travel { return &l.Direction },
		wordAs([]string{"down", "up", "both"}, []ingest.Travel{ingest.TravelDown, ingest.TravelUp, ingest.TravelBoth}),
		"which way the casts were taken; the levels of upcasts are put in order of pressure; with both, the "+
			"lines below the deepest are an "+
			"upcast, whose cast number ends in U", "that of the casts", "up"),
)

// regexpForm is a regular expression of the syntax RE2.
var regexpForm = form[*regexp.Regexp]{legal: "a regular expression (RE2), best in single quotes",
	read: func(d *decoder, n *yaml.Node, name string, dst **regexp.Regexp) {
		s, ok := d.scalar(n, name, "a regular expression")
		if !ok {
			return
		}
		if len(s) > 2000 {
			d.fault(n, "write a shorter one", "%s has %d characters; the limit is 2000", name, len(s))
			return
		}
		re, err := regexp.Compile(s)
		if err != nil {
			d.fault(n, "correct it; RE2 is described at the regexp package of Go", "%s: %v", name,
				strings.TrimPrefix(err.Error(), "error parsing regexp: "))
			return
		}
		*dst = re
	}}

// anyText is a scalar as written, numbers too.
var anyText = textLike("text", func(s string) (string, string) { return s, "" })

var filePattern = textLike("a pattern of file names with * and ?", func(s string) (string, string) {
	if _, err := path.Match(s, "x"); err != nil {
		return "", "is not a pattern: close each [ with ]"
	}
	return s, ""
})

// skipForm is a list of a number of lines and patterns.
var skipForm = form[ingest.Skip]{legal: "a number of lines, a pattern (RE2), or a list of one number and patterns",
	read: func(d *decoder, n *yaml.Node, name string, dst *ingest.Skip) {
		items := itemsOf(n)
		counted := false
		for _, item := range items {
			if item.Kind == yaml.ScalarNode && item.Tag == "!!int" {
				if counted {
					d.fault(item, "write one number of lines", "%s has two numbers of lines", name)
				}
				counted = true
				integer[int]("a number of lines", 0, 100000).read(d, item, name, &dst.Lines)
				continue
			}
			var p *regexp.Regexp
			if regexpForm.read(d, item, name, &p); p != nil {
				dst.Patterns = append(dst.Patterns, p)
			}
		}
	}}

var patternForm = mapping(shape[ingest.Pattern]{legal: "a pattern",
	at: func(p *ingest.Pattern) *metadata.Position { return &p.At },
	short: func(d *decoder, n *yaml.Node, name string, p *ingest.Pattern) bool {
		if n.Kind != yaml.ScalarNode {
			return false
		}
		groupsForm.read(d, n, name, &p.Regexp)
		return true
	},
	check: func(d *decoder, n *yaml.Node, p *ingest.Pattern, has map[string]*yaml.Node) {
		if n.Kind == yaml.MappingNode && (has["pattern"] == nil) == (has["file"] == nil) {
			d.fault(n, "write {pattern: …} for lines or {file: …} for file names",
				"header wants either pattern or file")
		}
		p.FileName = has["file"] != nil
	}},
	choice(entry("pattern", func(p *ingest.Pattern) **regexp.Regexp { return &p.Regexp }, groupsForm,
		"a line is looked at; the names of its groups are "+strings.Join(ingest.Facts(), ", ")+
			". A date may hold the time too; day_of_year counts from 1, elapsed_days from 0, both with year",
		"none: file says",
		`'Station: (?P<station>\d+)'`)),
	choice(entry("file", func(p *ingest.Pattern) **regexp.Regexp { return &p.Regexp }, groupsForm,
		"the name of the file without its folder is looked at; groups as for pattern", "none: pattern says",
		`'^stn(?P<station>\d+)_(?P<cast>\d+)'`)),
)

// groupsForm is a pattern with groups that are named for facts of a cast.
var groupsForm = form[*regexp.Regexp]{legal: "a regular expression (RE2) with named groups, best in single quotes",
	read: func(d *decoder, n *yaml.Node, name string, dst **regexp.Regexp) {
		regexpForm.read(d, n, name, dst)
		if *dst == nil {
			return
		}
		some := false
		for _, g := range (*dst).SubexpNames() {
			if g == "" {
				continue
			}
			some = true
			if !slices.Contains(ingest.Facts(), g) {
				d.notAWord(n, "group of "+name, g, ingest.Facts())
			}
		}
		if !some {
			d.fault(n, "name a group, such as (?P<station>\\d+)", "%s has no named group", name)
		}
	}}

// givenForm is a mapping of facts to texts.
var givenForm = form[[]ingest.GivenFact]{legal: "FACT: TEXT pairs; facts are those of header patterns",
	read: func(d *decoder, n *yaml.Node, name string, dst *[]ingest.GivenFact) {
		if n.Kind != yaml.MappingNode {
			d.wrong(n, name, "FACT: TEXT pairs, such as {year: 2026}")
			return
		}
		for i := 0; i+1 < len(n.Content); i += 2 {
			g := ingest.GivenFact{Fact: n.Content[i].Value, At: d.position(n.Content[i])}
			if !slices.Contains(ingest.Facts(), g.Fact) {
				d.notAWord(n.Content[i], name, g.Fact, ingest.Facts())
				continue
			}
			anyText.read(d, n.Content[i+1], g.Fact, &g.Text)
			*dst = append(*dst, g)
		}
	}}

// layoutMeaning is what a column of a layout may be: a variable, a fact of the cast, or keep.
var layoutMeaning = form[string]{
	legal: "a variable of the list at the end, or what a header pattern may give (bottom_depth for the water " +
		"depth), or keep",
	read: func(d *decoder, n *yaml.Node, name string, dst *string) {
		if s := strings.TrimSpace(n.Value); n.Kind == yaml.ScalarNode && (s == ingest.Keep || s != "depth" &&
			slices.Contains(ingest.Facts(), s)) {
			*dst = s
			return
		}
		columnVariable.read(d, n, name, dst)
	}}

func placeKeys[T any](at func(*T) *ingest.Place) []key[T] {
	return []key[T]{
		choice(entry("column", func(t *T) *string { return &at(t).Column }, anyText,
			"its name in the line of names, with or without the unit in brackets",
			"none: number, or from and to, say which", "Pres")),
		choice(entry("number", func(t *T) *int { return &at(t).Number }, integer[int]("the number of the field, from 1",
			1, 2000),
			"its number", "none: column, or from and to, say which", "1")),
		choice(entry("from", func(t *T) *int { return &at(t).From }, integer[int]("the first character, from 1", 1,
			100000),
			"first character, with format: fixed", "none: column or number says which", "1")),
		choice(entry("to", func(t *T) *int { return &at(t).To }, integer[int]("the last character", 1, 100000),
			"last character, with format: fixed", "none: column or number says which", "8")),
	}
}

func checkPlace(d *decoder, n *yaml.Node, p *ingest.Place, has map[string]*yaml.Node) {
	ways := 0
	for _, k := range []string{"column", "number", "from"} {
		if has[k] != nil {
			ways++
		}
	}
	switch {
	case (has["from"] == nil) != (has["to"] == nil):
		d.fault(n, "give both from and to", "from and to belong together")
	case ways != 1:
		d.fault(n, "say where it is in one way: column, number, or from and to", "a column is named in %d ways", ways)
	case has["from"] != nil && p.To < p.From:
		d.fault(has["to"], "count characters from 1", "to is before from")
	}
}

var layoutColumnForm = mapping(shape[ingest.LayoutColumn]{at: func(c *ingest.LayoutColumn) *metadata.Position {
	return &c.At
},
	check: func(d *decoder, n *yaml.Node, c *ingest.LayoutColumn, has map[string]*yaml.Node) {
		checkPlace(d, n, &c.Place, has)
	}},
	append(placeKeys(func(c *ingest.LayoutColumn) *ingest.Place { return &c.Place }),
		required(entry("means", func(c *ingest.LayoutColumn) *string { return &c.Means }, layoutMeaning,
			"what it is; keep copies the column as it is", "", "pres")),
		entry("unit", func(c *ingest.LayoutColumn) *string { return &c.Unit }, text,
			"unit of the values, which are converted to that of the variable: also IPTS-68, ratio (of "+
				"conductivity), ml/l, umol/l and mg/l (of oxygen)",
			"that in brackets behind the name, or of a line of units; else the variable's", "mS/cm"),
		entry("missing", func(c *ingest.LayoutColumn) *[]string { return &c.Missing }, list(anyText),
			"what is written where this column has no value, beside what the layout says", "nothing more", `["99.9"]`),
		entry("flags", func(c *ingest.LayoutColumn) **ingest.FlagPlace { return &c.Flags }, flagsForm,
			"the flags of its values", "none", "{column: QF1, scheme: woce}"),
	)...,
)

// flagsForm is where the flags of a column are.
var flagsForm = pointer(mapping(shape[ingest.FlagPlace]{legal: "the name or number of a column",
	short: func(d *decoder, n *yaml.Node, name string, f *ingest.FlagPlace) bool {
		if n.Kind != yaml.ScalarNode {
			return false
		}
		if k, err := strconv.Atoi(n.Value); err == nil && n.Tag == "!!int" && k > 0 {
			f.Number = k
			return true
		}
		f.Column, _ = d.scalar(n, name, "the name or number of a column")
		return true
	},
	check: func(d *decoder, n *yaml.Node, f *ingest.FlagPlace, has map[string]*yaml.Node) {
		if n.Kind == yaml.MappingNode {
			checkPlace(d, n, &f.Place, has)
		}
	}},
	append(placeKeys(func(f *ingest.FlagPlace) *ingest.Place { return &f.Place }),
		entry("digit", func(f *ingest.FlagPlace) *int { return &f.Digit },
			integer[int]("the number of the character, from 1", 1, 64),
			"where the flags of several columns are one word: which character of it", "the whole field is the flag",
			"2"),
		entry("scheme", func(f *ingest.FlagPlace) *ingest.Scheme { return &f.Scheme },
			named(ingest.SchemeWOCE, ingest.SchemeL20, ingest.SchemeL34),
			"set of flags: WOCE CTD, or the vocabularies L20 or L34", "woce", "l20"),
		entry("codes", func(f *ingest.FlagPlace) *map[string]byte { return &f.Codes }, codesForm,
			"meaning of flags of a set of the file's own, as WOCE CTD flags", "scheme says", "{G: 2, B: 4}"),
	)...,
))

// codesForm is a mapping of what a file writes to WOCE CTD flags.
var codesForm = form[map[string]byte]{
	legal: "TEXT: FLAG pairs, the flag 1 to 9 of the WOCE CTD set, 0 for not evaluated",
	read: func(d *decoder, n *yaml.Node, name string, dst *map[string]byte) {
		if n.Kind != yaml.MappingNode {
			d.wrong(n, name, "TEXT: FLAG pairs, such as {G: 2, B: 4}")
			return
		}
		m := map[string]byte{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			var flag int
			integer[int]("a WOCE CTD flag", 0, 9).read(d, n.Content[i+1], name, &flag)
			m[n.Content[i].Value] = byte(flag)
		}
		*dst = m
	}}

// checkLayout looks at a layout as a whole.
func checkLayout(d *decoder, n *yaml.Node, l *ingest.Layout, has map[string]*yaml.Node) {
	first := map[string]bool{}
	axis := false
	for i := range l.Columns {
		c := &l.Columns[i]
		axis = axis || c.Means == "pres" || c.Means == "depth"
		fault := func(remedy, format string, args ...any) {
			d.faults = append(d.faults, &metadata.InputError{Position: c.At, Err: fmt.Errorf("columns: "+format,
				args...), Remedy: remedy})
		}
		if first[c.Means] && c.Means != ingest.Keep && c.Means != "" {
			fault("say of one of the two what it is", "two columns mean %s", c.Means)
		}
		first[c.Means] = true
		places := []ingest.Place{c.Place}
		if c.Flags != nil {
			places = append(places, c.Flags.Place)
		}
		for _, p := range places {
			if fixed := l.Format == ingest.Fixed; p != (ingest.Place{}) && (p.From > 0) != fixed {
				fault("with format: fixed columns have from and to, with others column or number",
					"the place of a column does not fit the format")
			}
		}
	}
	if has["columns"] != nil && len(l.Columns) > 0 && !axis {
		d.fault(has["columns"], "say which column is pressure: {column: NAME, means: pres}; or depth",
			"no column of layout %s means pres or depth", l.Name)
	}
	if l.Comma && l.Delimiter == ',' {
		d.fault(n, "name another delimiter", "commas cannot be both between fields and before decimals")
	}
}

// stationTableForm is a path, or a log and what its columns are.
var stationTableForm = mapping(shape[StationTable]{legal: source.legal,
	short: func(d *decoder, n *yaml.Node, name string, t *StationTable) bool {
		if n.Kind != yaml.ScalarNode {
			return false
		}
		source.read(d, n, name, &t.Source)
		return true
	}},
	required(entry("file", func(t *StationTable) *ingest.Source { return &t.Source }, source, "the table", "",
		"log.csv")),
	entry("columns", func(t *StationTable) *[]ingest.LogColumn { return &t.Columns }, logColumnsForm,
		"what the columns of a log are; columns with the names of station tables need no line, and others are a "+
			"note. With columns, dates, times and "+
			"positions may have any usual form, and a line without a station is passed over",
		"the names of the table are those below",
		"{Stn: station, Datum: date, Zeit: time}"),
	entry("date", func(t *StationTable) *ingest.DateOrder { return &t.Date },
		named(ingest.YearMonthDay, ingest.DayMonthYear, ingest.MonthDayYear),
		"order of year, month and day in dates of numbers",
		"year first; a date that could be read two ways is an error", "dmy"),
	entry("encoding", func(t *StationTable) *ingest.Encoding { return &t.Encoding },
		named(ingest.UTF8, ingest.Latin1, ingest.UTF16),
		"how characters are written as bytes", "found", "utf-8"),
	entry("delimiter", func(t *StationTable) *byte { return &t.Delimiter },
		wordAs([]string{"comma", "semicolon", "tab", "bar"}, []byte{',', ';', '\t', '|'}),
		"what is between the columns", "found", "semicolon"),
	entry("decimal", func(t *StationTable) *bool { return &t.Comma }, wordAs([]string{"point", "comma"},
		[]bool{false, true}),
		"sign before decimals", "point", "comma"),
)

// logColumnsForm is a mapping from names of a log to what they mean.
var logColumnsForm = form[[]ingest.LogColumn]{legal: "NAME: MEANING pairs; meanings are " +
	strings.Join(ingest.LogMeanings(), ", "),
	read: func(d *decoder, n *yaml.Node, name string, dst *[]ingest.LogColumn) {
		if n.Kind != yaml.MappingNode || len(n.Content) == 0 {
			d.wrong(n, name, "NAME: MEANING pairs, such as {Stn: station}")
			return
		}
		meant := map[string]bool{}
		for i := 0; i+1 < len(n.Content); i += 2 {
			c := ingest.LogColumn{Column: n.Content[i].Value, At: d.position(n.Content[i])}
			before := len(d.faults)
			words(ingest.LogMeanings()...).read(d, n.Content[i+1], c.Column, &c.Means)
			if len(d.faults) == before && meant[c.Means] {
				d.fault(n.Content[i+1], "say of one of the two what it is", "two columns mean %s", c.Means)
			}
			meant[c.Means] = true
			*dst = append(*dst, c)
		}
	}}
