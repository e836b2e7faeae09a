package netcdf

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// A file is what one file holds, for its global attributes.
type file struct {
	what         string // "CTD casts", "section strait", ...
	idSuffix     string // of the ACDD id
	source       string
	level        string // processing_level
	feature      string // featureType; "" for grids
	dataType     string // cdm_data_type
	summary      string // a sentence on this file, after the cruise's summary
	casts        []*section.Cast
	area         *area      // where the values lie; nil: at the casts
	vertical     [2]float64 // least and greatest pressure; NaN when there is none
	verticalUnit string
	resolution   string // vertical, with unit; "" when casts differ or it is not known
	extra        []nc.Attr
}

// An area is the extent of a file in degrees; west exceeds east across the antimeridian.
type area struct{ south, north, west, east float64 }

// globals sets the global attributes: CF, ACDD-1.3 and our own for the state of release.
func (x *Common) globals(p *plan, f *file) {
	c := x.Cruise
	var a attrs
	a.text(
		"Conventions", Conventions,
		"featureType", f.feature,
		"cdm_data_type", f.dataType,
		"title", joinNonEmpty(": ", c.Title, f.what),
		"summary", joinNonEmpty(" ", sentence(c.Summary), sentence(f.summary)),
	)
	if len(c.Keywords) > 0 {
		a.text("keywords", joined(c.Keywords))
	} else {
		a.text(
			"keywords", strings.Join(standardNames(&p.schema), ", "),
			"keywords_vocabulary", Vocabulary,
		)
	}
	a.text(
		"id", joinNonEmpty("_", c.ID, f.idSuffix),
		"naming_authority", c.Authority,
		"expocode", strings.Join(expocodesOf(f.casts), ", "),
	)
	x.release(&a)
	x.creator(&a)
	x.contributors(&a)
	x.institutions(&a)
	x.publisher(&a)
	x.platform(&a)
	x.instrument(&a)
	a.text(
		"source", f.source,
		"processing_level", f.level,
		"history", x.history(f),
		"references", joinWith("; ", c.References),
	)
	for _, r := range c.References {
		if r.Is == metadata.CruiseReport {
			a.text("metadata_link", r.Link)
			break
		}
	}
	a.text(
		"comment", caution,
		"acknowledgement", joinWith("; ", c.Funding),
		"standard_name_vocabulary", Vocabulary,
		"date_created", x.Created.UTC().Format(time.RFC3339),
	)
	f.extent(&a)
	a = append(a, f.extra...)
	p.schema.Attrs = a
}

func (x *Common) release(a *attrs) {
	r := &x.Cruise.Release
	a.text(
		"release_status", x.status(),
		"release_embargo_until", r.Embargo,
		"release_contact", r.Contact,
		"citation", r.Citation,
		"license", r.Licence,
		"release_doi", r.DOI,
		"product_version", r.Version,
		"date_issued", r.Date,
		"release_replaces", r.Replaces,
	)
}

func (x *Common) status() string {
	return string(cmp.Or(x.Status, x.Cruise.Release.Status, metadata.Preliminary)) // nobody said final
}

// joined returns a list in one attribute. ACDD separates by commas; where an item has a comma itself ("Lark, Owen"),
// semicolons separate.
func joined(items []string) string { return strings.Join(items, separator(items)) }

// joinWith returns the texts of a list in one attribute.
func joinWith[T fmt.Stringer](mark string, items []T) string {
	words := make([]string, len(items))
	for i, x := range items {
		words[i] = x.String()
	}
	return strings.Join(words, mark)
}

func separator(items []string) string {
	for _, mark := range []string{",", ";"} {
		if !slices.ContainsFunc(items, func(s string) bool { return strings.Contains(s, mark) }) {
			return mark + " "
		}
	}
	return " | "
}

// creator names who is responsible for the data: the first chief scientist, else the first institution. It is one
// person, so that name, address and identifier belong together.
func (x *Common) creator(a *attrs) {
	c := x.Cruise
	chiefs := x.chiefs()
	switch {
	case len(chiefs) > 0:
		p := chiefs[0]
		institution := p.Institution
		if institution == "" && len(c.Institutions) > 0 {
			institution = c.Institutions[0].Name
		}
		a.text(
			"creator_name", p.Name,
			"creator_type", "person",
			"creator_email", p.Email,
			"creator_url", p.ORCID,
			"creator_institution", institution,
		)
	case len(c.Institutions) > 0:
		a.text(
			"creator_name", c.Institutions[0].Name,
			"creator_type", "institution",
			"creator_url", c.Institutions[0].ROR,
		)
	}
}

// contributors lists everyone else who had a part: the other chief scientists, then the people of the cruise. Names and
// roles are lists of one length with one separator.
func (x *Common) contributors(a *attrs) {
	var names, roles []string
	for i, p := range x.chiefs() {
		if i > 0 {
			names, roles = append(names, p.Name), append(roles, "chief scientist")
		}
	}
	for _, p := range x.Cruise.People {
		role := p.Role
		if role == "" {
			role = "contributor"
		}
		names, roles = append(names, p.Name), append(roles, role)
	}
	mark := separator(slices.Concat(names, roles))
	a.text(
		"contributor_name", strings.Join(names, mark),
		"contributor_role", strings.Join(roles, mark),
	)
}

// institutions names the organisations, and their ROR identifiers in an attribute of their own. Where some have none,
// each identifier is followed by the name it belongs to.
func (x *Common) institutions(a *attrs) {
	var names, ids, named []string
	for _, i := range x.Cruise.Institutions {
		names = append(names, i.Name)
		if i.ROR != "" {
			ids, named = append(ids, i.ROR), append(named, i.ROR+" ("+i.Name+")")
		}
	}
	if len(names) == 0 {
		for _, p := range x.chiefs() {
			if p.Institution != "" && !slices.Contains(names, p.Institution) {
				names = append(names, p.Institution)
			}
		}
	}
	if len(ids) < len(names) {
		ids = named
	}
	a.text(
		"institution", joined(names),
		"institution_ror", joined(ids),
		"project", joined(x.Cruise.Projects),
	)
}

func (x *Common) publisher(a *attrs) {
	p := &x.Cruise.Release.Publisher
	a.text(
		"publisher_name", p.Name,
		"publisher_email", p.Email,
		"publisher_url", p.URL,
		"publisher_institution", p.Institution,
	)
}

func (x *Common) platform(a *attrs) {
	var ships, codes []string
	for _, s := range x.Cruise.Ships {
		ships = append(ships, s.Name)
		if s.Code != "" {
			codes = append(codes, s.Code)
		}
	}
	a.text(
		"platform", joined(ships),
		"platform_code", strings.Join(codes, ", "),
		"platform_vocabulary", codesOf(codes),
		"sea_area", x.Cruise.Region,
	)
}

// codesOf returns the vocabulary of codes of ships; "" when there is no code.
func codesOf(codes []string) string {
	if len(codes) == 0 {
		return ""
	}
	return "platform_code: ICES Platform Codes, NVS C17"
}

// instrument names the packages and the models of their sensors, each once.
func (x *Common) instrument(a *attrs) {
	var all []string
	add := func(s string) {
		if s != "" && !slices.Contains(all, s) {
			all = append(all, s)
		}
	}
	for i := range x.Cruise.Systems {
		s := &x.Cruise.Systems[i]
		add(s.Package)
		for _, sensor := range s.Sensors {
			add(sensor.Model)
		}
	}
	if len(all) == 0 {
		all = []string{"CTD"}
	}
	a.text("instrument", joined(all))
}

// chiefs returns the chief scientists of the legs, each once.
func (x *Common) chiefs() []metadata.Person {
	var out []metadata.Person
	for _, l := range x.Cruise.Legs {
		if p := l.ChiefScientist; p.Name != "" &&
			!slices.ContainsFunc(out, func(q metadata.Person) bool { return q.Name == p.Name }) {
			out = append(out, p)
		}
	}
	return out
}

// history returns one line for each step that made the file, oldest first.
func (x *Common) history(f *file) string {
	var lines []string
	for i := range x.History {
		r := x.History[i]
		if r.At.IsZero() { // made before the archive's stamp was known
			r.At = x.Created
		}
		if r.Tool == "" {
			r.Tool = x.Program
		}
		lines = append(lines, strings.ReplaceAll(r.HistoryLine(), "\n", " "))
	}
	last := metadata.Record{Step: "write", Text: f.what, Tool: x.Program, At: x.Created}
	return strings.Join(append(lines, last.HistoryLine()), "\n")
}

// castArea returns the smallest box around the casts.
func castArea(casts []*section.Cast) *area {
	track := make([]orb.Point, len(casts))
	for i, c := range casts {
		track[i] = c.At
	}
	return trackArea(track)
}

func trackArea(track []orb.Point) *area {
	b := &area{south: math.Inf(1), north: math.Inf(-1)}
	lons := make([]float64, len(track))
	for i, p := range track {
		b.south, b.north = min(b.south, p.Lat()), max(b.north, p.Lat())
		lons[i] = wrapped(p.Lon())
	}
	b.west, b.east = section.LongitudeRange(lons)
	return b.closed()
}

// axesArea returns the extent of the axes of a map. An axis of longitude may run beyond 180 degrees; the extent is
// within -180 to 180.
func axesArea(lat, lon []float64) *area {
	b := &area{south: lat[0], north: lat[len(lat)-1], west: -180, east: 180}
	if first, last := lon[0], lon[len(lon)-1]; last-first < 360 {
		b.west, b.east = wrapped(first), wrapped(last)
	}
	return b.closed()
}

// closed returns a side on the antimeridian the sign with which the area does not cross it.
func (b *area) closed() *area {
	if b.west > b.east && b.west == 180 {
		b.west = -180
	}
	if b.west > b.east && b.east == -180 {
		b.east = 180
	}
	return b
}

// wrapped returns a longitude within -180 to 180.
func wrapped(lon float64) float64 {
	if lon >= -180 && lon <= 180 {
		return lon
	}
	return section.Wrap180(lon)
}

// extent adds where and when: ACDD's geospatial and time attributes.
func (f *file) extent(a *attrs) {
	if len(f.casts) == 0 {
		return
	}
	b := f.area
	if b == nil {
		b = castArea(f.casts)
	}
	a.text(
		"geospatial_bounds", b.wkt(),
		"geospatial_bounds_crs", "EPSG:4326",
	)
	a.add("geospatial_lat_min", b.south)
	a.add("geospatial_lat_max", b.north)
	a.text("geospatial_lat_units", "degrees_north")
	a.add("geospatial_lon_min", b.west) // exceeds the greatest across the antimeridian
	a.add("geospatial_lon_max", b.east)
	a.text("geospatial_lon_units", "degrees_east")
	if f.vertical[0] <= f.vertical[1] {
		a.add("geospatial_vertical_min", f.vertical[0])
		a.add("geospatial_vertical_max", f.vertical[1])
		a.text(
			"geospatial_vertical_units", f.verticalUnit,
			"geospatial_vertical_positive", "down",
			"geospatial_vertical_resolution", f.resolution,
		)
	}
	first, last := timeRange(f.casts)
	a.text(
		"time_coverage_start", first.UTC().Format(time.RFC3339),
		"time_coverage_end", last.UTC().Format(time.RFC3339),
		"time_coverage_duration", duration(last.Sub(first)),
	)
}

// wkt returns the area as well-known text in the order of EPSG:4326, latitude first: a point, a line or a polygon, or
// two polygons that meet at the antimeridian.
func (b *area) wkt() string {
	at := func(lat, lon float64) string {
		return strconv.FormatFloat(lat, 'f', -1, 64) + " " + strconv.FormatFloat(lon, 'f', -1, 64)
	}
	ring := func(west, east float64) string {
		return "((" + strings.Join([]string{at(b.south, west), at(b.south, east), at(b.north, east), at(b.north, west),
			at(b.south, west)}, ", ") + "))"
	}
	switch {
	case b.south == b.north && b.west == b.east:
		return "POINT (" + at(b.south, b.west) + ")"
	case b.west > b.east && b.south == b.north:
		return "MULTILINESTRING ((" + at(b.south, b.west) + ", " + at(b.south, 180) + "), (" + at(b.south, -180) +
			", " + at(b.south, b.east) + "))"
	case b.west > b.east:
		return "MULTIPOLYGON (" + ring(b.west, 180) + ", " + ring(-180, b.east) + ")"
	case b.south == b.north || b.west == b.east:
		return "LINESTRING (" + at(b.south, b.west) + ", " + at(b.north, b.east) + ")"
	}
	return "POLYGON " + ring(b.west, b.east)
}

// duration returns d in ISO 8601.
func duration(d time.Duration) string {
	s := int64(d / time.Second)
	return fmt.Sprintf("P%dDT%dH%dM%dS", s/86400, s/3600%24, s/60%60, s%60)
}
