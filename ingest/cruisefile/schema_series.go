package cruisefile

import (
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
	"gopkg.in/yaml.v3"
)

// timeSeriesForm is a list of series, or none.
var timeSeriesForm = form[[]TimeSeries]{legal: "none, or " + list(seriesForm).legal, keys: seriesForm.keys, list: true,
	read: func(d *decoder, n *yaml.Node, name string, dst *[]TimeSeries) {
		if n.Kind == yaml.ScalarNode && n.Value == "none" {
			*dst = []TimeSeries{}
			return
		}
		list(seriesForm).read(d, n, name, dst)
	}}

var seriesForm = mapping(shape[TimeSeries]{at: func(s *TimeSeries) *metadata.Position { return &s.At }},
	required(entry("name", func(s *TimeSeries) *string { return &s.Name }, identifier, "name in file names", "",
		"tide")),
	entry("title", func(s *TimeSeries) *string { return &s.Title }, text, "title of figures", "the name",
		"Tide at the sill"),
	required(entry("stations", func(s *TimeSeries) *StationList { return &s.Stations }, stations,
		"stations whose casts of role primary, repeat or yoyo make the series; 7/2 is one cast, whatever its role", "",
		"7")),
	entry("near", func(s *TimeSeries) **orb.Point { return &s.Near }, pointer(positionForm),
		"of these casts, only those around a position", "all", "{latitude: 58.21, longitude: -9.4}"),
	entry("within", func(s *TimeSeries) *float64 { return &s.WithinKm }, number("a number of km", 0.01, 500),
		"how far from the position of the series its casts may lie; farther ones are a finding", "5", "2"),
	entry("difference", func(s *TimeSeries) *bool { return &s.FromFirst },
		wordAs([]string{"mean", "first"}, []bool{false, true}),
		"from what the figure of differences counts: the mean of all casts, or the first", "mean", "first"),
)

var positionForm = mapping(shape[orb.Point]{},
	required(entry("latitude", func(p *orb.Point) *float64 { return &p[1] }, number("degrees north", -90, 90),
		"latitude", "", "58.21")),
	required(entry("longitude", func(p *orb.Point) *float64 { return &p[0] }, number("degrees east", -180, 360),
		"longitude", "", "-9.4")),
)

// checkNames refuses names of sections, fields and time series that would give two files one name.
func checkNames(c *Cruise, at func(p metadata.Position, remedy, format string, args ...any)) {
	once := func(what string, n int, name func(i int) (string, metadata.Position)) {
		seen := map[string]bool{}
		for i := range n {
			text, where := name(i)
			if low := strings.ToLower(text); low != "" && seen[low] {
				at(where, "file names contain it: choose another name", "a second %s is called %q", what, text)
			}
			seen[strings.ToLower(text)] = true
		}
	}
	once("section", len(c.Sections), func(i int) (string, metadata.Position) {
		return c.Sections[i].Name, c.Sections[i].At
	})
	once("field", 2*len(c.Fields), func(i int) (string, metadata.Position) { // the second: on surfaces of density
		f := &c.Fields[i/2]
		switch {
		case i%2 == 0:
			return f.Name, f.At
		case f.Surfaces.Density != "":
			return f.Name + "_" + f.Surfaces.Density, f.At
		}
		return "", f.At
	})
	once("time series", len(c.TimeSeries), func(i int) (string, metadata.Position) {
		return c.TimeSeries[i].Name, c.TimeSeries[i].At
	})
	for i := range c.TimeSeries {
		name := c.TimeSeries[i].Name
		same := func(s Section) bool { return name != "" && strings.EqualFold(s.Name, name) }
		if slices.ContainsFunc(c.Sections, same) {
			at(c.TimeSeries[i].At, "file names contain it: choose another name",
				"a time series has the name of a section, %q", name)
		}
	}
}
