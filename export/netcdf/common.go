package netcdf

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/cruisefile"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// Conventions is what every file declares.
const Conventions = "CF-1.11 ACDD-1.3"

// Vocabulary is the table that the standard names are from.
const Vocabulary = "CF Standard Name Table v83"

// TimeUnits is the reference of every time.
const TimeUnits = "seconds since 1970-01-01 00:00:00Z"

// caution stands in every file: what it may not be used for.
const caution = "depths and positions are as logged, not for navigation; data are as processed and flagged, not certified"

// Errors of casts that CF has no place for; always wrapped with the cast's ID.
var (
	ErrNoCasts    = errors.New("no casts to write")
	ErrNoLevels   = errors.New("no level of any cast has a pressure")
	ErrNoTime     = errors.New("cast without a date")
	ErrNoPosition = errors.New("cast without a position")
	ErrNoExpocode = errors.New("cast without an expocode")
	ErrSameID     = errors.New("two casts with one identity")
	ErrSystem     = errors.New("cast of a sensor system that the cruise file does not have")
	ErrGrid       = errors.New("grid that cannot be written")
)

// Common is what all files of one archive share.
type Common struct {
	Cruise  *cruisefile.Cruise
	Created time.Time // the archive's time stamp, not the clock
	Program string    // name and version, for the history
	History []metadata.Record
	Workers int // goroutines that compress; 0 is one

	// ID gives the identity of a cast within the cruise; nil: Cast.ID.
	ID func(*section.Cast) string
	// Status stands for the release status of the cruise in this file; "": the cruise's own.
	Status string
}

func (x *Common) id(c *section.Cast) string {
	if x.ID != nil {
		return x.ID(c)
	}
	return c.ID()
}

// A file says what one file holds, for its global attributes.
type file struct {
	what         string // "CTD casts", "section strait", ...
	idSuffix     string // of the ACDD id
	source       string
	level        string // processing_level
	feature      string // featureType; "" for grids
	dataType     string // cdm_data_type
	summary      string // a sentence on this file, after the cruise's summary
	casts        []*section.Cast
	vertical     [2]float64 // least and greatest pressure; NaN when there is none
	verticalUnit string
	extra        []nc.Attr
}

// globals gives the global attributes: CF, ACDD-1.3 and our own for the state of release.
func (x *Common) globals(p *plan, f *file) {
	c := x.Cruise
	var a attrs
	a.text("Conventions", Conventions)
	a.text("featureType", f.feature)
	a.text("cdm_data_type", f.dataType)
	a.text("title", joinNonEmpty(": ", c.Title, f.what))
	a.text("summary", joinNonEmpty(" ", sentence(c.Summary), sentence(f.summary)))
	if len(c.Keywords) > 0 {
		a.text("keywords", strings.Join(c.Keywords, ", "))
	} else {
		a.text("keywords", strings.Join(standardNames(&p.schema), ", "))
		a.text("keywords_vocabulary", Vocabulary)
	}
	expocodes := expocodesOf(f.casts)
	a.text("id", joinNonEmpty("_", c.ID, f.idSuffix))
	a.text("expocode", strings.Join(expocodes, ", "))
	x.release(&a)
	x.who(&a)
	a.text("source", f.source)
	a.text("processing_level", f.level)
	a.text("history", x.history(f))
	a.text("references", strings.Join(c.References, "; "))
	a.text("comment", caution)
	a.text("acknowledgement", strings.Join(c.Funding, "; "))
	a.text("standard_name_vocabulary", Vocabulary)
	a.text("date_created", x.Created.UTC().Format(time.RFC3339))
	x.extent(&a, f)
	a = append(a, f.extra...)
	p.schema.Attrs = a
}

func (x *Common) release(a *attrs) {
	r := &x.Cruise.Release
	a.text("release_status", x.status())
	a.text("release_embargo_until", r.Embargo)
	a.text("release_contact", r.Contact)
	a.text("citation", r.Citation)
	a.text("license", r.Licence)
	a.text("product_version", r.Version)
	a.text("date_issued", r.Date)
	a.text("release_replaces", r.Replaces)
}

func (x *Common) status() string {
	switch {
	case x.Status != "":
		return x.Status
	case x.Cruise.Release.Status != "":
		return x.Cruise.Release.Status
	}
	return "preliminary" // nobody said final
}

// who gives people, institutions and the ship. Creators are the chief scientists; the others are contributors.
func (x *Common) who(a *attrs) {
	c := x.Cruise
	var chiefs []cruisefile.Person
	for _, l := range c.Legs {
		if l.ChiefScientist.Name != "" && !slices.ContainsFunc(chiefs, func(p cruisefile.Person) bool { return p.Name == l.ChiefScientist.Name }) {
			chiefs = append(chiefs, l.ChiefScientist)
		}
	}
	names := func(ps []cruisefile.Person, get func(cruisefile.Person) string) string {
		var out []string
		for _, p := range ps {
			// The lists of one role run side by side, so a comma inside a name would shift what follows.
			out = append(out, strings.ReplaceAll(get(p), ",", ";"))
		}
		s := strings.Join(out, ", ")
		if strings.Trim(s, ", ") == "" {
			return ""
		}
		return s
	}
	name := func(p cruisefile.Person) string { return p.Name }
	a.text("creator_name", names(chiefs, name))
	a.text("creator_email", names(chiefs, func(p cruisefile.Person) string { return p.Email }))
	a.text("creator_url", names(chiefs, func(p cruisefile.Person) string { return p.ORCID }))
	if len(chiefs) > 0 {
		a.text("creator_type", "person")
	}
	a.text("creator_institution", names(chiefs, func(p cruisefile.Person) string { return p.Institution }))
	a.text("contributor_name", names(c.People, name))
	a.text("contributor_role", names(c.People, func(p cruisefile.Person) string { return p.Role }))
	var institutions []string
	for _, i := range c.Institutions {
		institutions = append(institutions, joinNonEmpty(" ", i.Name, i.ROR))
	}
	if len(institutions) == 0 {
		for _, p := range chiefs {
			if p.Institution != "" && !slices.Contains(institutions, p.Institution) {
				institutions = append(institutions, p.Institution)
			}
		}
	}
	a.text("institution", strings.Join(institutions, ", "))
	a.text("project", strings.Join(c.Projects, ", "))
	var ships, codes []string
	for _, s := range c.Ships {
		ships = append(ships, s.Name)
		if s.Code != "" {
			codes = append(codes, s.Code)
		}
	}
	a.text("platform", strings.Join(ships, ", "))
	a.text("platform_code", strings.Join(codes, ", "))
	a.text("sea_area", c.Region)
}

// history gives one line for each step, oldest first; the last says that this file was written.
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

// extent gives where and when: ACDD's geospatial and time attributes.
func (x *Common) extent(a *attrs, f *file) {
	if len(f.casts) == 0 {
		return
	}
	south, north := math.Inf(1), math.Inf(-1)
	var first, last time.Time
	lons := make([]float64, len(f.casts))
	for i, c := range f.casts {
		south, north = min(south, c.At.Lat()), max(north, c.At.Lat())
		lons[i] = c.At.Lon()
		if first.IsZero() || c.Time.Before(first) {
			first = c.Time
		}
		if c.Time.After(last) {
			last = c.Time
		}
	}
	west, east := section.LongitudeRange(lons)
	a.add("geospatial_lat_min", south)
	a.add("geospatial_lat_max", north)
	a.text("geospatial_lat_units", "degrees_north")
	a.add("geospatial_lon_min", west) // exceeds the greatest where the casts lie across the antimeridian
	a.add("geospatial_lon_max", east)
	a.text("geospatial_lon_units", "degrees_east")
	if f.vertical[0] <= f.vertical[1] {
		a.add("geospatial_vertical_min", f.vertical[0])
		a.add("geospatial_vertical_max", f.vertical[1])
		a.text("geospatial_vertical_units", f.verticalUnit)
		a.text("geospatial_vertical_positive", "down")
	}
	a.text("time_coverage_start", first.UTC().Format(time.RFC3339))
	a.text("time_coverage_end", last.UTC().Format(time.RFC3339))
	a.text("time_coverage_duration", duration(last.Sub(first)))
}

// duration gives d in ISO 8601.
func duration(d time.Duration) string {
	s := int64(d / time.Second)
	return fmt.Sprintf("P%dDT%dH%dM%dS", s/86400, s/3600%24, s/60%60, s%60)
}

// seconds gives a time in TimeUnits, to the millisecond.
func seconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }

func expocodesOf(casts []*section.Cast) []string {
	var out []string
	for _, c := range casts {
		if !slices.Contains(out, c.Expocode) {
			out = append(out, c.Expocode)
		}
	}
	return out
}

// standardNames lists the standard names of the sea's quantities in the file, in its order.
func standardNames(s *nc.Schema) []string {
	var out []string
	for i := range s.Vars {
		n := s.Vars[i].Text("standard_name")
		if s.Vars[i].Text("coverage_content_type") == "physicalMeasurement" && n != "" && !strings.Contains(n, " ") && !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

func joinNonEmpty(sep string, parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), sep)
}

// sentence gives s with a full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}

// checkCasts holds casts to what a profile must have: an identity of its own, a date, a position.
func (x *Common) checkCasts(casts []*section.Cast) error {
	if len(casts) == 0 {
		return ErrNoCasts
	}
	var errs []error
	if !slices.ContainsFunc(casts, func(c *section.Cast) bool {
		return slices.ContainsFunc(c.PressureDbar, func(p float64) bool { return p == p })
	}) {
		errs = append(errs, ErrNoLevels)
	}
	seen := make(map[string]bool, len(casts))
	for _, c := range casts {
		id := x.id(c)
		switch {
		case c.Expocode == "":
			errs = append(errs, fmt.Errorf("%s: %w", id, ErrNoExpocode))
		case c.Time.IsZero():
			errs = append(errs, fmt.Errorf("%s: %w", id, ErrNoTime))
		case !onEarth(c.At):
			errs = append(errs, fmt.Errorf("%s: %w: %v", id, ErrNoPosition, c.At))
		case seen[id]:
			errs = append(errs, fmt.Errorf("%s: %w", id, ErrSameID))
		}
		seen[id] = true
	}
	return errors.Join(errs...)
}

func onEarth(p orb.Point) bool { return math.Abs(p.Lat()) <= 90 && math.Abs(p.Lon()) <= 360 }

// timeVar, latVar and lonVar are the coordinates that every file has. dims nil: a scalar. axis false for auxiliary coordinates of a
// grid, where CF keeps the attribute for coordinate variables.
func timeVar(dims []int, long string, axis bool) nc.Var {
	var a attrs
	a.text("standard_name", "time")
	a.text("long_name", long)
	a.text("units", TimeUnits)
	a.text("calendar", "standard")
	if axis {
		a.text("axis", "T")
	}
	a.text("coverage_content_type", "coordinate")
	return nc.Var{Name: "time", Type: nc.Double, Dims: dims, Attrs: a}
}

func latVar(dims []int, long string, axis bool) nc.Var {
	return horizontal("lat", "latitude", "degrees_north", "Y", dims, long, axis)
}

func lonVar(dims []int, long string, axis bool) nc.Var {
	return horizontal("lon", "longitude", "degrees_east", "X", dims, long, axis)
}

func horizontal(name, standard, units, letter string, dims []int, long string, axis bool) nc.Var {
	var a attrs
	a.text("standard_name", standard)
	a.text("long_name", long)
	a.text("units", units)
	if axis {
		a.text("axis", letter)
	}
	a.text("coverage_content_type", "coordinate")
	return nc.Var{Name: name, Type: nc.Double, Dims: dims, Attrs: a}
}

// quantity gives the attributes that a quantity brings along from the table of variables.
func quantity(v *metadata.Variable) attrs {
	var a attrs
	a.text("standard_name", v.StandardName)
	long := v.LongName
	if long == "" {
		long = v.Name
	}
	a.text("long_name", long)
	a.text("units", v.Units)
	if v.Units == "degC" || v.Units == "K" {
		a.text("units_metadata", "temperature: on_scale")
	}
	a.text("reference_scale", v.Scale)
	a.text("comment", v.Comment)
	a.text("references", v.References)
	return a
}

// vocabularyCodes adds the exchange name and the NVS codes by which data centres know a quantity. Parameter codes name a method, that
// of a sensor or of the equations of 1983, so a derived quantity has only the code of its units.
func vocabularyCodes(a *attrs, v *metadata.Variable, derived bool) {
	if !derived {
		a.text("exchange_name", v.Exchange)
		a.text("exchange_unit", v.ExchangeUnit)
		if v.P01 != "" {
			a.text("sdn_parameter_urn", "SDN:P01::"+v.P01)
			a.text("sdn_parameter_name", v.P01Label)
		}
	}
	if v.P06 != "" {
		a.text("sdn_uom_urn", "SDN:P06::"+v.P06)
	}
}
