package cruisefile

import (
	"math"
	"strings"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
	"github.com/castwright/castwright/section/geostrophy"
	"gopkg.in/yaml.v3"
)

// The files schema*.go are the schema: the one table that decodes and documents every key.

func newCruise() Cruise {
	return Cruise{
		Cruise: metadata.Cruise{Release: metadata.Release{Status: metadata.Preliminary}},
		Casts:  Casts{Direction: section.Down, IceBaseM: math.NaN()},
	}
}

func newSystem() System {
	nan := math.NaN()
	return System{System: metadata.System{
		Salinity: metadata.Calibration{Residual: nan}, Oxygen: metadata.Calibration{Residual: nan},
		Deck:     metadata.Deck{OffsetDbar: nan},
		Accuracy: metadata.Accuracy{Salinity: nan, TemperatureK: nan, PressureDbar: nan, CommonFraction: nan},
	}}
}

func newSection() Section { return Section{Velocity: geostrophy.DefaultOptions(), Grid: newGrid()} }

func newGrid() Grid { return Grid{Options: gridding.Options{Method: gridding.Optimal}} }

func newField() MapField { return MapField{Area: gridding.AnyArea(), Grid: newGrid()} }

// shortText lets a bare text stand for the one main key of a mapping.
func shortText[T, F any](f form[F], at func(*T) *F) func(*decoder, *yaml.Node, string, *T) bool {
	return func(d *decoder, n *yaml.Node, name string, dst *T) bool {
		if n.Kind != yaml.ScalarNode {
			return false
		}
		f.read(d, n, name, at(dst))
		return true
	}
}

var personForm = mapping(shape[metadata.Person]{
	legal: "a name", short: shortText(text, func(p *metadata.Person) *string { return &p.Name })},
	required(entry("name", func(p *metadata.Person) *string { return &p.Name }, text, "name as it is published", "",
		"Ragna Holm")),
	entry("orcid", func(p *metadata.Person) *string { return &p.ORCID }, orcid, "identifier of the person", "none",
		`"https://orcid.org/0000-0000-0000-0001"`),
	entry("email", func(p *metadata.Person) *string { return &p.Email }, email, "address for questions about the data",
		"none", "ragna@example.org"),
	entry("institution", func(p *metadata.Person) *string { return &p.Institution }, text, "where the person works",
		"none", "Skerry Institute"),
	entry("role", func(p *metadata.Person) *string { return &p.Role }, text, "part in the cruise", "none",
		"CTD processing"),
)

var legForm = mapping(shape[metadata.Leg]{
	legal: "an expocode", at: func(l *metadata.Leg) *metadata.Position { return &l.At },
	short: shortText(expocode, func(l *metadata.Leg) *string { return &l.Expocode }), check: checkLeg},
	required(entry("expocode", func(l *metadata.Leg) *string { return &l.Expocode }, expocode,
		"ship code and departure date", "", "ZZSM20260504")),
	entry("start", func(l *metadata.Leg) *string { return &l.Start }, date, "first day", "not stated", "2026-05-04"),
	entry("end", func(l *metadata.Leg) *string { return &l.End }, date, "last day", "not stated", "2026-05-17"),
	entry("from", func(l *metadata.Leg) *string { return &l.From }, text, "port of departure", "not stated",
		"Skerrywick"),
	entry("to", func(l *metadata.Leg) *string { return &l.To }, text, "port of arrival", "not stated", "Skerrywick"),
	entry("chief_scientist", func(l *metadata.Leg) *metadata.Person { return &l.ChiefScientist }, personForm,
		"who led the leg", "not stated", "{name: Ragna Holm}"),
	entry("ship", func(l *metadata.Leg) *string { return &l.Ship }, text,
		"name of the ship, when the cruise had several", "the one whose code begins the expocode", "RV Saltmarten"),
)

// identityForm is the mapping under the key cruise. Its values stand at the top of Cruise.
var identityForm = mapping(shape[Cruise]{},
	required(entry("id", func(c *Cruise) *string { return &c.ID }, identifier, "name of the archive and its folder",
		"", "saltmarten-2026-05")),
	entry("naming_authority", func(c *Cruise) *string { return &c.Authority }, authority,
		"who makes sure that id is unique: the domain name of the institution reversed, or a DOI prefix", "not stated",
		"org.example"),
	entry("title", func(c *Cruise) *string { return &c.Title }, text, "one line: what, ship, area, year",
		"made from ship, region and dates", "CTD casts of RV Saltmarten in May 2026"),
	entry("summary", func(c *Cruise) *string { return &c.Summary }, text, "one paragraph", "made from the casts",
		"CTD casts across a strait and down the slope south of it."),
	entry("keywords", func(c *Cruise) *[]string { return &c.Keywords }, list(text), "words for search",
		"the standard names of the variables", "[CTD, strait]"),
	entry("ships", func(c *Cruise) *[]metadata.Ship { return &c.Ships }, list(shipForm), "ships of the cruise",
		"not stated", "[{name: RV Saltmarten, code: ZZSM}]"),
	entry("legs", func(c *Cruise) *[]metadata.Leg { return &c.Legs }, list(legForm), "legs, each with its expocode",
		"as the casts say", "[{expocode: ZZSM20260504, start: 2026-05-04}]"),
	entry("people", func(c *Cruise) *[]metadata.Person { return &c.People }, list(personForm),
		"who had a part in the data", "none", "[{name: Owen Lark, role: CTD processing}]"),
	entry("institutions", func(c *Cruise) *[]metadata.Institution { return &c.Institutions }, list(institutionForm),
		"who ran the cruise; the first is the creator's", "none", "[Skerry Institute]"),
	entry("projects", func(c *Cruise) *[]string { return &c.Projects }, list(text), "programmes", "none",
		"[Strait Watch]"),
	entry("funding", func(c *Cruise) *[]metadata.Grant { return &c.Funding }, list(grantForm),
		"funders and grant numbers", "none", "[{name: Skerry Council, grant: SC-12}]"),
	entry("references", func(c *Cruise) *[]metadata.Reference { return &c.References }, list(citedForm),
		"cruise report and papers", "none", `[{link: "https://doi.org/10.5555/12345678", is: cruise report}]`),
	entry("region", func(c *Cruise) *string { return &c.Region }, text, "sea area in words", "not stated",
		"northern strait"),
)

var shipForm = mapping(shape[metadata.Ship]{
	legal: "a name", short: shortText(text, func(s *metadata.Ship) *string { return &s.Name })},
	required(entry("name", func(s *metadata.Ship) *string { return &s.Name }, text, "name of the ship", "",
		"RV Saltmarten")),
	entry("code", func(s *metadata.Ship) *string { return &s.Code }, shipCode, "ICES ship code (NVS C17)",
		"first four letters of the expocode, where there is one ship", "ZZSM"),
)

var institutionForm = mapping(shape[metadata.Institution]{
	legal: "a name", short: shortText(text, func(i *metadata.Institution) *string { return &i.Name })},
	required(entry("name", func(i *metadata.Institution) *string { return &i.Name }, text, "name of the organisation",
		"", "Skerry Institute")),
	entry("ror", func(i *metadata.Institution) *string { return &i.ROR }, ror, "identifier of the organisation",
		"none", `"https://ror.org/012345654"`),
)

var grantForm = mapping(shape[metadata.Grant]{
	legal: "a funder", short: shortText(text, func(g *metadata.Grant) *string { return &g.Name })},
	required(entry("name", func(g *metadata.Grant) *string { return &g.Name }, text, "name of the funder", "",
		"Skerry Council")),
	entry("ror", func(g *metadata.Grant) *string { return &g.ROR }, ror, "identifier of the funder", "none",
		`"https://ror.org/012345654"`),
	entry("grant", func(g *metadata.Grant) *string { return &g.Number }, text, "number of the grant", "none", "SC-12"),
)

var citedForm = mapping(shape[metadata.Reference]{
	legal: reference.legal, short: shortText(reference, func(r *metadata.Reference) *string { return &r.Link })},
	required(entry("link", func(r *metadata.Reference) *string { return &r.Link }, reference,
		"where it is found", "", `"https://doi.org/10.5555/12345678"`)),
	entry("is", func(r *metadata.Reference) *metadata.Relation { return &r.Is }, oneOf(metadata.Relations()...),
		"what it is to the data", "not stated", "cruise report"),
)

// derivable are the quantities that section/derived makes, when asked and always.
var derivable = words(append(derived.Extras(), derived.Default()...)...)

var statusForm = oneOf(metadata.Underway, metadata.Preliminary, metadata.Final)

var releaseForm = mapping(shape[metadata.Release]{
	legal: "a status", short: shortText(statusForm, func(r *metadata.Release) *metadata.Status { return &r.Status }),
	fresh: func() metadata.Release { return metadata.Release{Status: metadata.Preliminary} }, check: checkRelease},
	entry("status", func(r *metadata.Release) *metadata.Status { return &r.Status }, statusForm,
		"state of the data; while it is underway, stations still to come are notes; final needs version and date",
		"preliminary", "preliminary"),
	entry("version", func(r *metadata.Release) *string { return &r.Version }, text, "version of the data product",
		"none", "1.0"),
	entry("date", func(r *metadata.Release) *string { return &r.Date }, date, "day of issue", "none", "2026-06-30"),
	entry("doi", func(r *metadata.Release) *string { return &r.DOI }, doi,
		"digital object identifier of the data, as the repository gave it", "none", "10.5555/saltmarten-ctd"),
	entry("licence", func(r *metadata.Release) *string { return &r.Licence }, licence, "terms of use", "not stated",
		"CC0-1.0"),
	entry("embargo", func(r *metadata.Release) *string { return &r.Embargo }, date,
		"not to be passed on before this day", "none", "2027-05-17"),
	entry("contact", func(r *metadata.Release) *string { return &r.Contact }, contact,
		"whom to ask, usually an e-mail address", "the first chief scientist", "data@example.org"),
	entry("citation", func(r *metadata.Release) *string { return &r.Citation }, text, "how to cite the data",
		"made from people, title and year", `"Holm and Lark, 2026: CTD casts of RV Saltmarten"`),
	entry("replaces", func(r *metadata.Release) *string { return &r.Replaces }, text,
		"the version or identifier that this one replaces", "none", "0.9"),
	entry("publisher", func(r *metadata.Release) *metadata.Publisher { return &r.Publisher }, publisherForm,
		"who hands the data out", "not stated",
		`{name: Skerry Data Centre, email: data@example.org, url: "https://example.org"}`),
	entry("per_variable", func(r *metadata.Release) *map[string]metadata.Status { return &r.PerVariable },
		perWord("variable: status pairs", variableNames, "variable",
			"castwright help cruise-file lists them at its end", statusForm), "variables whose state differs",
		"none", "{oxy: underway}"),
)

var publisherForm = mapping(shape[metadata.Publisher]{
	legal: "a name", short: shortText(text, func(p *metadata.Publisher) *string { return &p.Name })},
	required(entry("name", func(p *metadata.Publisher) *string { return &p.Name }, text, "person or data centre", "",
		"Skerry Data Centre")),
	entry("email", func(p *metadata.Publisher) *string { return &p.Email }, email,
		"address for questions about the copy", "none", "data@example.org"),
	entry("url", func(p *metadata.Publisher) *string { return &p.URL }, webAddress, "web address", "none",
		`"https://example.org"`),
	entry("institution", func(p *metadata.Publisher) *string { return &p.Institution }, text,
		"organisation of the publisher, when name is a person", "none", "Skerry Institute"),
	entry("ror", func(p *metadata.Publisher) *string { return &p.ROR }, ror, "identifier of the publisher", "none",
		`"https://ror.org/012345654"`),
)

var calibrationForm = mapping(shape[metadata.Calibration]{
	legal: "a stage", fresh: func() metadata.Calibration { return metadata.Calibration{Residual: math.NaN()} },
	short: shortText(stageForm, func(c *metadata.Calibration) *metadata.Stage { return &c.Stage })},
	entry("stage", func(c *metadata.Calibration) *metadata.Stage { return &c.Stage }, stageForm,
		"how far the calibration got", "unknown", "adjusted to bottles"),
	entry("by", func(c *metadata.Calibration) *string { return &c.By }, text, "who did it", "not stated", "Owen Lark"),
	entry("date", func(c *metadata.Calibration) *string { return &c.Date }, date, "when", "not stated", "2026-05-16"),
	entry("residual", func(c *metadata.Calibration) *float64 { return &c.Residual },
		number("a number in the variable's units", 0, 1000), "standard deviation of what is left", "not stated",
		"0.0012"),
)

var stageForm = named(metadata.StageNone, metadata.StageLaboratory, metadata.StageAdjusted)

var binForm = mapping(shape[metadata.Bin]{
	legal: "a width in dbar", short: func(d *decoder, n *yaml.Node, name string, b *metadata.Bin) bool {
		if n.Kind != yaml.ScalarNode {
			return false
		}
		binWidth.read(d, n, name, &b.WidthDbar)
		return true
	}},
	entry("width", func(b *metadata.Bin) *float64 { return &b.WidthDbar }, binWidth, "width of the bins",
		"not declared; where missing bins are looked for, the commonest step of a cast", "2"),
	entry("label", func(b *metadata.Bin) *string { return &b.Label }, words("centre", "top", "bottom"),
		"which pressure of the bin is written", "unknown, and a note says so", "centre"),
)

var binWidth = number("a number of dbar", 0.01, 100)

var systemForm = mapping(shape[System]{fresh: newSystem, at: func(s *System) *metadata.Position { return &s.At }},
	required(entry("label", func(s *System) *string { return &s.Label }, identifier,
		"short name of the set of sensors", "", "main")),
	entry("stations", func(s *System) *StationList { return &s.Stations }, stations, "stations taken with it",
		"all that no other system claims", "1-12"),
	entry("package", func(s *System) *string { return &s.Package }, text, "instrument package in words", "not stated",
		"frame of 24 bottles with dual sensors"),
	entry("bin", func(s *System) *metadata.Bin { return &s.Bin }, binForm, "pressure bins of the casts",
		"not declared", "{width: 2, label: centre}"),
	entry("sensors", func(s *System) *[]metadata.Sensor { return &s.Sensors }, list(sensorForm),
		"sensors with serial numbers", "none", "[{variables: [temp], serial: P-001, calibrated: 2026-01-20}]"),
	entry("salinity", func(s *System) *metadata.Calibration { return &s.Salinity }, calibrationForm,
		"calibration of salinity", "unknown", "{stage: laboratory}"),
	entry("oxygen", func(s *System) *metadata.Calibration { return &s.Oxygen }, calibrationForm,
		"calibration of oxygen", "unknown", "{stage: none}"),
	entry("deck", func(s *System) *metadata.Deck { return &s.Deck }, mapping(shape[metadata.Deck]{
		fresh: func() metadata.Deck { return metadata.Deck{OffsetDbar: math.NaN()} }},
		required(entry("offset", func(x *metadata.Deck) *float64 { return &x.OffsetDbar },
			number("a number of dbar", -50, 50), "pressure read on deck", "", "0.3")),
		entry("applied", func(x *metadata.Deck) *bool { return &x.Applied }, yesNo,
			"whether the casts have it taken off already", "no", "yes"),
	), "pressure read on deck", "not stated", "{offset: 0.3, applied: yes}"),
	entry("upstream", func(s *System) *[]string { return &s.Upstream }, list(text),
		"processing before castwright, in words", "none", "[despiked, averaged to 2 dbar]"),
	entry("accuracy", func(s *System) *metadata.Accuracy { return &s.Accuracy }, mapping(shape[metadata.Accuracy]{
		fresh: func() metadata.Accuracy { return newSystem().Accuracy }},
		entry("salinity", func(a *metadata.Accuracy) *float64 { return &a.Salinity }, number("a number of g/kg", 0, 1),
			"accuracy of salinity; where it is not stated and salinity is adjusted to bottles, that is what is left of the "+
				"differences from bottles, else the residual", "0.002, or what bottles or residual say", "0.002"),
		entry("temperature", func(a *metadata.Accuracy) *float64 { return &a.TemperatureK },
			number("a number of K", 0, 1), "accuracy of temperature", "0.001", "0.001"),
		entry("pressure", func(a *metadata.Accuracy) *float64 { return &a.PressureDbar },
			number("a number of dbar", 0, 100), "accuracy of pressure", "3", "3"),
		entry("common_fraction", func(a *metadata.Accuracy) *float64 { return &a.CommonFraction },
			number("a fraction of the variance", 0, 1), "part that is the same on every cast of the system",
			"no split: all of it per cast", "0.5"),
	), "stated accuracy, for uncertainties", "that of the keys inside",
		"{salinity: 0.002, temperature: 0.001, pressure: 3}"),
)

var sensorForm = mapping(shape[metadata.Sensor]{},
	required(entry("variables", func(s *metadata.Sensor) *[]string { return &s.Variables }, list(variable),
		"what it measured", "", "[temp]")),
	entry("model", func(s *metadata.Sensor) *string { return &s.Model }, text, "maker's model in words", "not stated",
		"primary thermometer"),
	entry("serial", func(s *metadata.Sensor) *string { return &s.Serial }, text, "serial number", "not stated",
		"P-001"),
	entry("calibrated", func(s *metadata.Sensor) *string { return &s.Calibrated }, date,
		"day of the last laboratory calibration", "not stated", "2026-01-20"),
)

// cruiseForm is the whole file.
var cruiseForm = mapping(shape[Cruise]{fresh: newCruise, check: checkCruise},
	required(entry("cruise", func(c *Cruise) *Cruise { return c }, identityForm, "what and who", "",
		"{id: saltmarten-2026-05}")),
	entry("release", func(c *Cruise) *metadata.Release { return &c.Release }, releaseForm,
		"in which state the data leave the ship", "preliminary", "{status: underway}"),
	entry("systems", func(c *Cruise) *[]System { return &c.Systems }, list(systemForm),
		"sets of sensors; a sensor swapped mid-cruise makes two", "one, of which nothing is known",
		"[{label: main, bin: 2}]"),
	required(entry("casts", func(c *Cruise) *Casts { return &c.Casts }, castsForm,
		"where casts come from and what to do with them", "", "{sources: [casts]}")),
	entry("sections", func(c *Cruise) *[]Section { return &c.Sections }, list(sectionForm), "sections to make", "none",
		"[{name: strait, stations: 1-12}]"),
	entry("fields", func(c *Cruise) *[]MapField { return &c.Fields }, list(fieldForm),
		"longitude by latitude by pressure fields to make", "none", "[{name: survey}]"),
	entry("time_series", func(c *Cruise) *[]TimeSeries { return &c.TimeSeries }, timeSeriesForm,
		"casts of one position as time by pressure",
		"one of each station with at least three casts of role yoyo, of these casts", "[{name: tide, stations: 7}]"),
	entry("figures", func(c *Cruise) *Figures { return &c.Figures }, figuresForm, "figures to make",
		"the kinds of only below", "none"),
	entry("quality", func(c *Cruise) *Quality { return &c.Quality }, qualityForm,
		"what persons decided about the findings of the checks", "nothing is decided",
		"{signed: {by: Ragna Holm, date: 2026-06-30}}"),
	entry("inputs", func(c *Cruise) *bool { return &c.OmitInputs },
		wordAs([]string{"keep", "omit"}, []bool{false, true}), "whether the archive carries its inputs", "keep",
		"omit"),
	entry("derived", func(c *Cruise) *[]string { return &c.Derived }, list(derivable),
		"derived variables wanted in the cast file beside the usual, which are "+strings.Join(derived.Usual(), ", "),
		"none", "[sigma2, dens]"),
)
