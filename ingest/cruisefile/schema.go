package cruisefile

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/castwright/castwright/section/interpolate"
	"gopkg.in/yaml.v3"
)

// This file is the schema: the one table that decodes and documents every key.

func newCruise() Cruise {
	return Cruise{
		Cruise: metadata.Cruise{Release: metadata.Release{Status: "preliminary"}},
		Casts:  Casts{Direction: section.Down, IceBaseM: math.NaN()},
	}
}

func newSystem() System {
	nan := math.NaN()
	return System{System: metadata.System{
		Salinity: metadata.Calibration{Residual: nan}, Oxygen: metadata.Calibration{Residual: nan}, Deck: metadata.Deck{OffsetDbar: nan},
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

var personForm = mapping(shape[metadata.Person]{legal: "a name", short: shortText(text, func(p *metadata.Person) *string { return &p.Name })},
	required(entry("name", func(p *metadata.Person) *string { return &p.Name }, text, "name as it is published", "", "Ragna Holm")),
	entry("orcid", func(p *metadata.Person) *string { return &p.ORCID }, orcid, "identifier of the person", "none", `"https://orcid.org/0000-0000-0000-0001"`),
	entry("email", func(p *metadata.Person) *string { return &p.Email }, email, "address for questions about the data", "none", "ragna@example.org"),
	entry("institution", func(p *metadata.Person) *string { return &p.Institution }, text, "where the person works", "none", "Skerry Institute"),
	entry("role", func(p *metadata.Person) *string { return &p.Role }, text, "part in the cruise", "none", "CTD processing"),
)

var legForm = mapping(shape[metadata.Leg]{legal: "an expocode", at: func(l *metadata.Leg) *metadata.Position { return &l.At },
	short: shortText(expocode, func(l *metadata.Leg) *string { return &l.Expocode }), check: checkLeg},
	required(entry("expocode", func(l *metadata.Leg) *string { return &l.Expocode }, expocode, "ship code and departure date", "", "ZZSM20260504")),
	entry("start", func(l *metadata.Leg) *string { return &l.Start }, date, "first day", "not stated", "2026-05-04"),
	entry("end", func(l *metadata.Leg) *string { return &l.End }, date, "last day", "not stated", "2026-05-17"),
	entry("from", func(l *metadata.Leg) *string { return &l.From }, text, "port of departure", "not stated", "Skerrywick"),
	entry("to", func(l *metadata.Leg) *string { return &l.To }, text, "port of arrival", "not stated", "Skerrywick"),
	entry("chief_scientist", func(l *metadata.Leg) *metadata.Person { return &l.ChiefScientist }, personForm, "who led the leg", "not stated", "{name: Ragna Holm}"),
	entry("ship", func(l *metadata.Leg) *string { return &l.Ship }, text, "name of the ship, when the cruise had several", "the one whose code begins the expocode", "RV Saltmarten"),
)

// identityForm is the mapping under the key cruise. Its values stand at the top of Cruise.
var identityForm = mapping(shape[Cruise]{},
	required(entry("id", func(c *Cruise) *string { return &c.ID }, identifier, "name of the archive and its folder", "", "saltmarten-2026-05")),
	entry("naming_authority", func(c *Cruise) *string { return &c.Authority }, authority, "who makes sure that id is unique: the domain name of the institution reversed, or a DOI prefix", "not stated", "org.example"),
	entry("title", func(c *Cruise) *string { return &c.Title }, text, "one line: what, ship, area, year", "made from ship, region and dates", "CTD casts of RV Saltmarten in May 2026"),
	entry("summary", func(c *Cruise) *string { return &c.Summary }, text, "one paragraph", "made from the casts", "CTD casts across a strait and down the slope south of it."),
	entry("keywords", func(c *Cruise) *[]string { return &c.Keywords }, list(text), "words for search", "the standard names of the variables", "[CTD, strait]"),
	entry("ships", func(c *Cruise) *[]metadata.Ship { return &c.Ships }, list(shipForm), "ships of the cruise", "not stated", "[{name: RV Saltmarten, code: ZZSM}]"),
	entry("legs", func(c *Cruise) *[]metadata.Leg { return &c.Legs }, list(legForm), "legs, each with its expocode", "as the casts say", "[{expocode: ZZSM20260504, start: 2026-05-04}]"),
	entry("people", func(c *Cruise) *[]metadata.Person { return &c.People }, list(personForm), "who had a part in the data", "none", "[{name: Owen Lark, role: CTD processing}]"),
	entry("institutions", func(c *Cruise) *[]metadata.Institution { return &c.Institutions }, list(institutionForm), "who ran the cruise; the first is the creator's", "none", "[Skerry Institute]"),
	entry("projects", func(c *Cruise) *[]string { return &c.Projects }, list(text), "programmes", "none", "[Strait Watch]"),
	entry("funding", func(c *Cruise) *[]string { return &c.Funding }, list(text), "funders and grant numbers", "none", "[Skerry Council grant 12]"),
	entry("references", func(c *Cruise) *[]string { return &c.References }, list(reference), "cruise report and papers", "none", `["https://doi.org/10.5555/12345678"]`),
	entry("region", func(c *Cruise) *string { return &c.Region }, text, "sea area in words", "not stated", "northern strait"),
)

var shipForm = mapping(shape[metadata.Ship]{legal: "a name", short: shortText(text, func(s *metadata.Ship) *string { return &s.Name })},
	required(entry("name", func(s *metadata.Ship) *string { return &s.Name }, text, "name of the ship", "", "RV Saltmarten")),
	entry("code", func(s *metadata.Ship) *string { return &s.Code }, shipCode, "ICES ship code (NVS C17)", "first four letters of the expocode, where there is one ship", "ZZSM"),
)

var institutionForm = mapping(shape[metadata.Institution]{legal: "a name", short: shortText(text, func(i *metadata.Institution) *string { return &i.Name })},
	required(entry("name", func(i *metadata.Institution) *string { return &i.Name }, text, "name of the organisation", "", "Skerry Institute")),
	entry("ror", func(i *metadata.Institution) *string { return &i.ROR }, ror, "identifier of the organisation", "none", `"https://ror.org/012345654"`),
)

// derivable are the quantities that section/derived makes, when asked and always; a test of the pipeline holds the two lists together.
var derivable = words("sigma1", "sigma2", "sigma3", "sigma4", "dens", "specvol_anom", "depth", "asal", "ctemp", "ptemp", "sigma0", "spice0", "sound_speed", "n2", "oxy", "oxysat", "aou")

var statusForm = words("underway", "preliminary", "final")

var releaseForm = mapping(shape[metadata.Release]{legal: "a status", short: shortText(statusForm, func(r *metadata.Release) *string { return &r.Status }),
	fresh: func() metadata.Release { return metadata.Release{Status: "preliminary"} }, check: checkRelease},
	entry("status", func(r *metadata.Release) *string { return &r.Status }, statusForm, "state of the data; final needs version and date", "preliminary", "preliminary"),
	entry("version", func(r *metadata.Release) *string { return &r.Version }, text, "version of the data product", "none", "1.0"),
	entry("date", func(r *metadata.Release) *string { return &r.Date }, date, "day of issue", "none", "2026-06-30"),
	entry("licence", func(r *metadata.Release) *string { return &r.Licence }, licence, "terms of use", "not stated", "CC0-1.0"),
	entry("embargo", func(r *metadata.Release) *string { return &r.Embargo }, date, "not to be passed on before this day", "none", "2027-05-17"),
	entry("contact", func(r *metadata.Release) *string { return &r.Contact }, contact, "whom to ask, usually an e-mail address", "the first chief scientist", "data@example.org"),
	entry("citation", func(r *metadata.Release) *string { return &r.Citation }, text, "how to cite the data", "made from people, title and year", `"Holm and Lark, 2026: CTD casts of RV Saltmarten"`),
	entry("replaces", func(r *metadata.Release) *string { return &r.Replaces }, text, "the version or identifier that this one replaces", "none", "0.9"),
	entry("publisher", func(r *metadata.Release) *metadata.Publisher { return &r.Publisher }, publisherForm, "who hands the data out", "not stated", `{name: Skerry Data Centre, email: data@example.org, url: "https://example.org"}`),
	entry("per_variable", func(r *metadata.Release) *map[string]string { return &r.PerVariable },
		perWord("variable: status pairs", variableNames, "variable", statusForm), "variables whose state differs", "none", "{oxy: underway}"),
)

var publisherForm = mapping(shape[metadata.Publisher]{legal: "a name", short: shortText(text, func(p *metadata.Publisher) *string { return &p.Name })},
	required(entry("name", func(p *metadata.Publisher) *string { return &p.Name }, text, "person or data centre", "", "Skerry Data Centre")),
	entry("email", func(p *metadata.Publisher) *string { return &p.Email }, email, "address for questions about the copy", "none", "data@example.org"),
	entry("url", func(p *metadata.Publisher) *string { return &p.URL }, webAddress, "web address", "none", `"https://example.org"`),
	entry("institution", func(p *metadata.Publisher) *string { return &p.Institution }, text, "organisation of the publisher, when name is a person", "none", "Skerry Institute"),
)

var calibrationForm = mapping(shape[metadata.Calibration]{legal: "a stage", fresh: func() metadata.Calibration { return metadata.Calibration{Residual: math.NaN()} },
	short: shortText(stageForm, func(c *metadata.Calibration) *metadata.Stage { return &c.Stage })},
	entry("stage", func(c *metadata.Calibration) *metadata.Stage { return &c.Stage }, stageForm, "how far the calibration got", "unknown", "adjusted to bottles"),
	entry("by", func(c *metadata.Calibration) *string { return &c.By }, text, "who did it", "not stated", "Owen Lark"),
	entry("date", func(c *metadata.Calibration) *string { return &c.Date }, date, "when", "not stated", "2026-05-16"),
	entry("residual", func(c *metadata.Calibration) *float64 { return &c.Residual }, number("a number in the variable's units", 0, 1000), "standard deviation of what is left", "not stated", "0.0012"),
)

var stageForm = named(metadata.StageNone, metadata.StageLaboratory, metadata.StageAdjusted)

var binForm = mapping(shape[metadata.Bin]{legal: "a width in dbar", short: func(d *decoder, n *yaml.Node, name string, b *metadata.Bin) bool {
	if n.Kind != yaml.ScalarNode {
		return false
	}
	binWidth.read(d, n, name, &b.WidthDbar)
	return true
}},
	entry("width", func(b *metadata.Bin) *float64 { return &b.WidthDbar }, binWidth, "width of the bins", "not declared; where missing bins are looked for, the commonest step of a cast", "2"),
	entry("label", func(b *metadata.Bin) *string { return &b.Label }, words("centre", "top", "bottom"), "which pressure of the bin is written", "unknown, and a note says so", "centre"),
)

var binWidth = number("a number of dbar", 0.01, 100)

var systemForm = mapping(shape[System]{fresh: newSystem, at: func(s *System) *metadata.Position { return &s.At }},
	required(entry("label", func(s *System) *string { return &s.Label }, identifier, "short name of the set of sensors", "", "main")),
	entry("stations", func(s *System) *StationList { return &s.Stations }, stations, "stations taken with it", "all that no other system claims", "1-12"),
	entry("package", func(s *System) *string { return &s.Package }, text, "instrument package in words", "not stated", "frame of 24 bottles with dual sensors"),
	entry("bin", func(s *System) *metadata.Bin { return &s.Bin }, binForm, "pressure bins of the casts", "not declared", "{width: 2, label: centre}"),
	entry("sensors", func(s *System) *[]metadata.Sensor { return &s.Sensors }, list(sensorForm), "sensors with serial numbers", "none", "[{variables: [temp], serial: P-001, calibrated: 2026-01-20}]"),
	entry("salinity", func(s *System) *metadata.Calibration { return &s.Salinity }, calibrationForm, "calibration of salinity", "unknown", "{stage: laboratory}"),
	entry("oxygen", func(s *System) *metadata.Calibration { return &s.Oxygen }, calibrationForm, "calibration of oxygen", "unknown", "{stage: none}"),
	entry("deck", func(s *System) *metadata.Deck { return &s.Deck }, mapping(shape[metadata.Deck]{fresh: func() metadata.Deck { return metadata.Deck{OffsetDbar: math.NaN()} }},
		required(entry("offset", func(x *metadata.Deck) *float64 { return &x.OffsetDbar }, number("a number of dbar", -50, 50), "pressure read on deck", "", "0.3")),
		entry("applied", func(x *metadata.Deck) *bool { return &x.Applied }, yesNo, "whether the casts have it taken off already", "no", "yes"),
	), "pressure read on deck", "not stated", "{offset: 0.3, applied: yes}"),
	entry("upstream", func(s *System) *[]string { return &s.Upstream }, list(text), "processing before castwright, in words", "none", "[despiked, averaged to 2 dbar]"),
	entry("accuracy", func(s *System) *metadata.Accuracy { return &s.Accuracy }, mapping(shape[metadata.Accuracy]{fresh: func() metadata.Accuracy { return newSystem().Accuracy }},
		entry("salinity", func(a *metadata.Accuracy) *float64 { return &a.Salinity }, number("a number of g/kg", 0, 1), "accuracy of salinity", "0.002", "0.002"),
		entry("temperature", func(a *metadata.Accuracy) *float64 { return &a.TemperatureK }, number("a number of K", 0, 1), "accuracy of temperature", "0.001", "0.001"),
		entry("pressure", func(a *metadata.Accuracy) *float64 { return &a.PressureDbar }, number("a number of dbar", 0, 100), "accuracy of pressure", "3", "3"),
		entry("common_fraction", func(a *metadata.Accuracy) *float64 { return &a.CommonFraction }, number("a fraction of the variance", 0, 1), "part that is the same on every cast of the system", "no split: all of it per cast", "0.5"),
	), "stated accuracy, for uncertainties", "that of the keys inside", "{salinity: 0.002, temperature: 0.001, pressure: 3}"),
)

var sensorForm = mapping(shape[metadata.Sensor]{},
	required(entry("variables", func(s *metadata.Sensor) *[]string { return &s.Variables }, list(variable), "what it measured", "", "[temp]")),
	entry("model", func(s *metadata.Sensor) *string { return &s.Model }, text, "maker's model in words", "not stated", "primary thermometer"),
	entry("serial", func(s *metadata.Sensor) *string { return &s.Serial }, text, "serial number", "not stated", "P-001"),
	entry("calibrated", func(s *metadata.Sensor) *string { return &s.Calibrated }, date, "day of the last laboratory calibration", "not stated", "2026-01-20"),
)

var castsForm = mapping(shape[Casts]{fresh: func() Casts { return newCruise().Casts }, check: checkCasts},
	required(entry("sources", func(c *Casts) *[]Source { return &c.Sources }, list(source), "files, folders and patterns with casts", "", "[casts]")),
	entry("bottles", func(c *Casts) *[]Source { return &c.Bottles }, list(source), "exchange bottle files", "none", "[bottles_hy1.csv]"),
	entry("edits", func(c *Casts) *[]Source { return &c.Edits }, list(source), "flag edits (CSV)", "none", "[edits.csv]"),
	entry("station_table", func(c *Casts) *Source { return &c.Stations }, source, "station table (CSV): positions, times, depths, roles", "none", "stations.csv"),
	entry("bathymetry", func(c *Casts) *Source { return &c.Bathymetry }, source, "water depth (CF NetCDF grid)", "none", "bathymetry.nc"),
	entry("leave_out", func(c *Casts) *[]LeaveOut { return &c.LeaveOut }, list(leaveOutForm), "casts or files not read further, each with its reason", "none", `[{cast: 6/2, reason: "winch stopped"}]`),
	entry("renumber", func(c *Casts) *[]Renumber { return &c.Renumber }, list(renumberForm), "casts that get another station or cast number", "none", "[{from: 21/1, to: 20/2, why: typing error on deck}]"),
	entry("direction", func(c *Casts) *section.Direction { return &c.Direction }, wordAs([]string{"down", "up"}, []section.Direction{section.Down, section.Up}), "which way the casts were taken", "down", "down"),
	entry("up", func(c *Casts) *CastList { return &c.Up }, stations, "casts that are upcasts", "none", "20-31"),
	entry("role", func(c *Casts) *[]RoleOf { return &c.Roles }, rolesForm, "casts with another role than primary", "all primary", "[{test: T1}, {repeat: 6/2}]"),
	entry("time", func(c *Casts) *section.TimeMeaning { return &c.TimeIs }, wordAs([]string{"start", "bottom", "end"}, []section.TimeMeaning{section.AtStart, section.AtBottom, section.AtEnd}), "what the logged time is the time of", "not stated", "start"),
	entry("depth", func(c *Casts) *string { return &c.DepthFound }, text, "how water depth was found", "not stated", "echo sounder corrected for sound speed"),
	entry("water", func(c *Casts) *bool { return &c.Lake }, wordAs([]string{"sea", "lake"}, []bool{false, true}), "sea or lake", "sea", "sea"),
	entry("ice", func(c *Casts) *bool { return &c.IceShelf }, wordAs([]string{"none", "shelf"}, []bool{false, true}), "whether the casts were taken under an ice shelf", "none", "shelf"),
	entry("ice_base", func(c *Casts) *float64 { return &c.IceBaseM }, number("a number of metres", 0, 3000), "depth of the underside of the ice", "not stated", "220"),
	entry("uncalibrated", func(c *Casts) *bool { return &c.Uncalibrated }, wordAs([]string{"unusable", "usable"}, []bool{false, true}), "whether values flagged 1 (not calibrated) enter derived fields", "unusable", "usable"),
	entry("clock", func(c *Casts) *[]Clock { return &c.Clock }, list(clockForm), "logged times that are not UTC", "all UTC", `[{stations: 1-9, zone: "+02:00"}]`),
	entry("max_gap", func(c *Casts) **float64 { return &c.MaxGapDbar }, gapForm, "widest step between levels that is bridged", "the gap rule: more than 50 dbar (200 below 1500) and three times the steps around", "100"),
	entry("lenient", func(c *Casts) *bool { return &c.Lenient }, yesNo, "skip lines that cannot be read, and take values that are no numbers as missing with flag 4, each with a finding", "no: they keep their file out", "yes"),
	entry("aliases", func(c *Casts) *[]Alias { return &c.Aliases }, list(aliasForm), "columns and units that the reader does not know", "none", "[{column: CTDTMP2, means: temp2}]"),
)

var leaveOutForm = mapping(shape[LeaveOut]{at: func(l *LeaveOut) *metadata.Position { return &l.At }, check: func(d *decoder, n *yaml.Node, l *LeaveOut, has map[string]*yaml.Node) {
	if (has["cast"] == nil) == (has["file"] == nil) {
		d.fault(n, "write {cast: STATION/CAST, reason: …} or {file: PATH, reason: …}", "leave_out wants either cast or file")
	}
}},
	choice(entry("cast", func(l *LeaveOut) *CastName { return &l.Cast }, castName, "the cast", "none: file says which", "6/2")),
	choice(entry("file", func(l *LeaveOut) *string { return &l.File }, text, "the file that cannot be read, instead of cast", "none: cast says which", "casts/broken_ct1.csv")),
	required(entry("reason", func(l *LeaveOut) *string { return &l.Reason }, text, "why; it is written into history and tables/stations.csv", "", "winch stopped")),
)

var renumberForm = mapping(shape[Renumber]{at: func(r *Renumber) *metadata.Position { return &r.At }, check: func(d *decoder, n *yaml.Node, r *Renumber, has map[string]*yaml.Node) {
	if (has["from"] != nil) == (has["file"] != nil) {
		d.fault(n, "write {from: STATION/CAST, to: STATION/CAST, why: …} or {file: PATH, to: STATION/CAST, why: …}", "renumber wants either from or file")
	}
}},
	choice(entry("from", func(r *Renumber) *CastName { return &r.From }, castName, "station and cast number in the file", "none: file says which", "21/1")),
	choice(entry("file", func(r *Renumber) *string { return &r.File }, text, "the file of the cast, instead of from: where two files have one number", "none: from says which", "casts/21_ct1.csv")),
	required(entry("to", func(r *Renumber) *CastName { return &r.To }, newCastName, "station and cast number it should have", "", "20/2")),
	required(entry("why", func(r *Renumber) *string { return &r.Why }, text, "why; it is written into history", "", "typing error on deck")),
)

var roleNames = []string{"primary", "repeat", "yoyo", "test", "aborted", "calibration"}
var roleValues = []section.Role{section.Primary, section.Repeat, section.Yoyo, section.Test, section.Aborted, section.Calibration}

// rolesForm is a list of one-key mappings, or one mapping, from role to casts.
var rolesForm = form[[]RoleOf]{legal: "a list of ROLE: CASTS, where ROLE is " + orList(roleNames) + " and CASTS are stations, or casts such as 6/2",
	read: func(d *decoder, n *yaml.Node, name string, dst *[]RoleOf) {
		items := []*yaml.Node{n}
		if n.Kind == yaml.SequenceNode {
			items = n.Content
		}
		for _, item := range items {
			if item.Kind != yaml.MappingNode {
				d.wrong(item, name, "ROLE: CASTS, such as {test: T1}")
				continue
			}
			for i := 0; i+1 < len(item.Content); i += 2 {
				k := item.Content[i]
				j := slices.Index(roleNames, k.Value)
				if j < 0 {
					d.notAWord(k, name, k.Value, roleNames)
					continue
				}
				r := RoleOf{Role: roleValues[j], At: d.position(k)}
				stations.read(d, item.Content[i+1], k.Value, &r.Casts)
				*dst = append(*dst, r)
			}
		}
	}}

var clockForm = mapping(shape[Clock]{at: func(c *Clock) *metadata.Position { return &c.At }, check: func(d *decoder, n *yaml.Node, c *Clock, has map[string]*yaml.Node) {
	if (has["zone"] == nil) == (has["offset"] == nil) {
		d.fault(n, `write zone: "+02:00" for times in that zone, or offset: "-00:03:10" to add to the logged time`, "clock wants either zone or offset")
	}
}},
	required(entry("stations", func(c *Clock) *StationList { return &c.Stations }, stations, "stations concerned", "", "1-9")),
	choice(entry("zone", func(c *Clock) *time.Duration { return &c.Offset }, zone, "zone of the logged times, ahead of UTC is +", "none: offset says", `"+02:00"`)),
	choice(entry("offset", func(c *Clock) *time.Duration { return &c.Offset }, offset, "what is added to the logged time to get UTC", "none: zone says", `"-00:03:10"`)),
	entry("of", func(c *Clock) *ClockOf { return &c.Of }, wordAs([]string{"all", "files", "station_table"}, []ClockOf{ClockOfAll, ClockOfFiles, ClockOfTable}), "whether the times in cast and bottle files are meant, those of the station table, or all", "all", "station_table"),
)

var aliasForm = mapping(shape[Alias]{at: func(a *Alias) *metadata.Position { return &a.At }, check: func(d *decoder, n *yaml.Node, a *Alias, has map[string]*yaml.Node) {
	if has["column"] == nil && has["unit"] == nil {
		d.fault(n, "add column: NAME as it stands in the file", "aliases: neither column nor unit is given")
	}
}},
	choice(entry("column", func(a *Alias) *string { return &a.Column }, text, "column name in the file", "any column of that unit", "CTDTMP2")),
	choice(entry("unit", func(a *Alias) *string { return &a.Unit }, text, "unit in the file", "any unit", "DEG C")),
	required(entry("means", func(a *Alias) *string { return &a.Means }, columnVariable, "the variable it is", "", "temp2")),
)

var sigmaNames = []string{"sigma0", "sigma1", "sigma2", "sigma3", "sigma4"}

// sigmaKeys makes the keys sigma0 to sigma4, of which one is given: a potential density anomaly with its reference pressure.
func sigmaKeys[T, F any](f form[F], at func(t *T, sigmaDbar float64) *F, examples [5]string) []key[T] {
	out := make([]key[T], len(sigmaNames))
	for i := range sigmaNames {
		dbar := 1000 * float64(i)
		out[i] = choice(entry(sigmaNames[i], func(t *T) *F { return at(t, dbar) }, f, fmt.Sprintf("potential density anomaly referred to %.0f dbar", dbar), "none", examples[i]))
	}
	return out
}

// referenceForm reads into the section, whose table of known levels stands beside the reference.
var referenceForm = mapping(shape[Section]{
	legal: "a number of dbar, or deepest",
	short: func(d *decoder, n *yaml.Node, name string, s *Section) bool {
		if n.Kind != yaml.ScalarNode || n.Value != "deepest" && !plainNumber.MatchString(n.Value) {
			return false
		}
		if n.Value != "deepest" {
			referencePressure.read(d, n, name, atReference(s, geostrophy.AtPressure, &s.Velocity.Reference.PressureDbar))
		}
		return true
	},
	check: func(d *decoder, n *yaml.Node, s *Section, has map[string]*yaml.Node) {
		if n.Kind == yaml.MappingNode && len(has) != 1 {
			d.fault(n, "write one of pressure, sigma0 to sigma4, levels, velocities", "reference has %d keys; it wants one", len(has))
		}
	}},
	append([]key[Section]{
		choice(entry("pressure", func(s *Section) *float64 {
			return atReference(s, geostrophy.AtPressure, &s.Velocity.Reference.PressureDbar)
		}, referencePressure, "level of no motion; the number alone says the same", "none", "2000")),
		choice(entry("levels", func(s *Section) *Source { return atReference(s, geostrophy.AtLevels, &s.Known) }, source, "level of each pair (CSV)", "none", "levels.csv")),
		choice(entry("velocities", func(s *Section) *Source { return atReference(s, geostrophy.AtVelocities, &s.Known) }, source, "known velocity of each pair (CSV)", "none", "velocities.csv")),
	}, sigmaKeys(number("a number of kg/m3", -10, 60), func(s *Section, sigmaDbar float64) *float64 {
		s.Velocity.Reference.SigmaDbar = sigmaDbar
		return atReference(s, geostrophy.AtDensity, &s.Velocity.Reference.Density)
	}, [5]string{"27.8", "32.3", "36.9", "41.3", "45.8"})...)...,
)

// atReference sets the kind of reference of a section and returns where its value goes.
func atReference[F any](s *Section, kind geostrophy.ReferenceKind, at *F) *F {
	s.Velocity.Reference.Kind = kind
	return at
}

var referencePressure = number("a number of dbar", 0, 12000)

// gridMethod is a method of mapping, or none.
var gridMethod = form[Grid]{legal: orList(append(methodWords(), "none")), read: func(d *decoder, n *yaml.Node, name string, g *Grid) {
	s, ok := d.scalar(n, name, orList(append(methodWords(), "none")))
	switch i := slices.Index(methodWords(), s); {
	case !ok:
	case s == "none":
		g.None = true
	case i < 0:
		d.notAWord(n, name, s, append(methodWords(), "none"))
	default:
		g.Method = gridding.Methods()[i]
	}
}}

func methodWords() (words []string) {
	for _, m := range gridding.Methods() {
		words = append(words, string(m))
	}
	return words
}

var gridForm = mapping(shape[Grid]{legal: "a method", fresh: newGrid, at: func(g *Grid) *metadata.Position { return &g.At },
	short: shortText(gridMethod, func(g *Grid) *Grid { return g })},
	entry("method", func(g *Grid) *Grid { return g }, gridMethod, "how values are mapped; choose takes the one with the best skill", "optimal", "optimal"),
	entry("step_km", func(g *Grid) *float64 { return &g.StepKm }, number("a number of km", 0.001, 1000), "grid step along the section", "scaled to the spacing of the stations", "5"),
	entry("step_dbar", func(g *Grid) *float64 { return &g.StepDbar }, number("a number of dbar", 0.1, 1000), "grid step in pressure", "scaled to the depth", "10"),
	entry("length_km", func(g *Grid) *float64 { return &g.LengthKm }, number("a number of km", 0.01, 5000), "horizontal length of the covariance", "twice the local station spacing; 1.25 times it in a section of which no cast is deeper than 500 dbar", "60"),
	entry("length_dbar", func(g *Grid) *float64 { return &g.LengthDbar }, number("a number of dbar", 1, 5000), "vertical length of the covariance", "60 down to 200 dbar, 200 to 1000, 400 to 2000, 800 below, at most a sixth of the depth", "100"),
	entry("noise", func(g *Grid) *float64 { return &g.Noise }, number("a ratio of variances", 1e-6, 100), "noise variance over signal variance", "0.02", "0.02"),
	entry("neighbours", func(g *Grid) *int { return &g.Neighbours }, integer[int]("a whole number", 4, 2000), "data used for one grid point", "60", "60"),
	entry("max_error", func(g *Grid) *float64 { return &g.MaxError }, number("a ratio of variances", 0.001, 1), "grid points with a larger error variance over signal variance are masked", "0.5", "0.3"),
	entry("vertical", func(g *Grid) *interpolate.Method { return &g.Vertical }, named(interpolate.Linear, interpolate.Pchip, interpolate.Akima, interpolate.ReinigerRoss), "interpolation in pressure, where the method needs one", "pchip", "pchip"),
	entry("variables", func(g *Grid) *[]string { return &g.Variables }, mappedVariables, "what is mapped", "ctemp, asal, and oxy where measured", "[ctemp, asal]"),
)

var sectionForm = mapping(shape[Section]{fresh: newSection, at: func(s *Section) *metadata.Position { return &s.At }},
	required(entry("name", func(s *Section) *string { return &s.Name }, identifier, "name in file names", "", "strait")),
	entry("title", func(s *Section) *string { return &s.Title }, text, "title of figures", "the name", "Across the strait"),
	required(entry("stations", func(s *Section) *StationList { return &s.Stations }, stations, "stations in the order of the line", "", "1-12")),
	entry("planned", func(s *Section) *StationList { return &s.Planned }, planned, "stations that were planned; the missing ones are said", "those taken", "1-14"),
	entry("reference", func(s *Section) *Section { return s }, referenceForm, "level of known motion", "deepest common level", "2000"),
	entry("interpolation", func(s *Section) *interpolate.Method { return &s.Velocity.Interpolation }, named(interpolate.Linear, interpolate.Pchip, interpolate.Rotated), "between levels, for dynamic height", "pchip", "pchip"),
	entry("distance", func(s *Section) *section.Method { return &s.Distance }, named(section.WGS84, section.Sphere, section.SphereAtLevel), "WGS84 geodesic; a sphere of 6371 km, or of 6371 km less the depth at each level, to compare with published numbers", "geodesic", "geodesic"),
	entry("positive", func(s *Section) *geostrophy.Direction { return &s.Velocity.Positive }, oneOf(geostrophy.Left, geostrophy.Right, geostrophy.East, geostrophy.North), "direction in which velocity counts as positive", "left of the line", "north"),
	entry("triangle", func(s *Section) *geostrophy.Treatment { return &s.Velocity.Triangle }, named(geostrophy.NoFlow, geostrophy.ConstantVelocity, geostrophy.ConstantShear, geostrophy.LinearToZero), "flow below the deepest common level", "constant_velocity", "none"),
	entry("bottom", func(s *Section) *bool { return &s.Velocity.DeepestBinIsBottom }, wordAs([]string{"depth", "deepest_bin"}, []bool{false, true}), "where the bottom is", "depth", "deepest_bin"),
	entry("max_gap", func(s *Section) **float64 { return &s.Velocity.MaxGapDbar }, gapForm, "widest step between levels that is bridged", "that of casts", "none"),
	entry("surface_carry", func(s *Section) *float64 { return &s.Velocity.SurfaceCarryDbar }, number("a number of dbar", 0, 1000), "the first level is carried to the surface when it is not deeper; below ice_base, to the ice", "20", "10"),
	entry("repeats", func(s *Section) *section.Repeats { return &s.Repeats }, oneOf(section.Deepest, section.First, section.Last, section.NearestInTime, section.MeanOf), "which of several casts at one place; lets casts of role repeat compete", "deepest, of primary casts only", "mean"),
	entry("grid", func(s *Section) *Grid { return &s.Grid }, gridForm, "the gridded section", "optimal, scaled to the data", "{method: linear, step_dbar: 10}"),
	entry("layers", func(s *Section) *[]float64 { return &s.Velocity.Layers }, increasing("dbar", 0, 12000, 2), "bounds of transport layers", "none", "[0, 500, 2000]"),
	entry("classes", func(s *Section) *geostrophy.Options { return &s.Velocity }, classesForm, "density classes of transport", "none", "{sigma0: [26.5, 27.2, 27.8]}"),
	entry("uncertainty", func(s *Section) *geostrophy.Options { return &s.Velocity }, membersForm, "Monte-Carlo estimate", "the formulas only", "2000"),
	entry("reference_salinity", func(s *Section) *float64 { return &s.Velocity.ReferenceSalinity }, number("a number of g/kg", 0.1, 50), "salinity that freshwater transport refers to", "mean of the section", "34.9"),
	entry("reference_temperature", func(s *Section) *float64 { return &s.Velocity.ReferenceTemperature }, number("a number of degC", -5, 40), "Conservative Temperature that heat transport refers to", "none: temperature transport", "0"),
	entry("equatorial_estimate", func(s *Section) *bool { return &s.Velocity.EquatorialEstimate }, yesNo, "velocity near the equator from the curvature of dynamic height", "no", "yes"),
)

var classesForm = mapping(shape[geostrophy.Options]{check: func(d *decoder, n *yaml.Node, o *geostrophy.Options, has map[string]*yaml.Node) {
	if len(has) != 1 {
		d.fault(n, "write one, such as {sigma0: [26.5, 27.2, 27.8]}", "classes has %d keys; it wants one of sigma0 to sigma4", len(has))
	}
}}, sigmaKeys(increasing("kg/m3", -10, 60, 2), func(o *geostrophy.Options, sigmaDbar float64) *[]float64 {
	o.ClassSigmaDbar = sigmaDbar
	return &o.Classes
}, [5]string{"[26.5, 27.2, 27.8]", "[31.5, 32, 32.5]", "[35.5, 36.5, 37]", "[40, 41, 41.5]", "[45, 45.5, 46]"})...)

var membersForm = mapping(shape[geostrophy.Options]{legal: "a number of members", short: shortText(members, func(o *geostrophy.Options) *int { return &o.Members })},
	entry("members", func(o *geostrophy.Options) *int { return &o.Members }, members, "members of a Monte-Carlo estimate beside the formulas", "none", "2000"),
	entry("seed", func(o *geostrophy.Options) *int64 { return &o.Seed }, integer[int64]("a whole number", 0, 1<<53), "start of the random numbers", "1", "7"),
)

var members = integer[int]("a whole number", 0, 100000)

var fieldForm = mapping(shape[MapField]{fresh: newField, at: func(f *MapField) *metadata.Position { return &f.At },
	check: func(d *decoder, n *yaml.Node, f *MapField, has map[string]*yaml.Node) {
		if f.Grid.Method == gridding.Density {
			d.fault(has["grid"], "use another method, such as optimal", "density maps along a line of stations; a field has none")
		}
	}},
	required(entry("name", func(f *MapField) *string { return &f.Name }, identifier, "name in file names", "", "survey")),
	entry("stations", func(f *MapField) *StationList { return &f.Stations }, stations, "stations used", "all", "1-40"),
	entry("longitude", func(f *MapField) *MapField { return f }, degrees(-180, 360, false, func(f *MapField, a, b float64) { f.LonMin, f.LonMax = a, b }), "west and east edge; east may be the smaller number across 180", "from the casts", "[-12, -8.5]"),
	entry("latitude", func(f *MapField) *MapField { return f }, degrees(-90, 90, true, func(f *MapField, a, b float64) { f.LatMin, f.LatMax = a, b }), "south and north edge", "from the casts", "[58, 60]"),
	entry("step", func(f *MapField) *MapField { return f }, stepForm, "grid step: one number, or that in longitude and that in latitude", "scaled to the spacing of the casts", "0.1"),
	entry("levels", func(f *MapField) *[]float64 { return &f.Levels }, increasing("dbar", 0, 12000, 1), "pressure levels", "scaled to the depth", "[0, 50, 100, 200]"),
	entry("grid", func(f *MapField) *Grid { return &f.Grid }, gridForm, "how it is mapped", "optimal, scaled to the data", "{length_km: 60}"),
)

// degrees is a pair of edges in degrees.
func degrees(low, high float64, ordered bool, set func(f *MapField, a, b float64)) form[MapField] {
	pair := list(number("degrees", low, high))
	legal := "two numbers of degrees" + rangeWords(low, high)
	return form[MapField]{legal: legal, read: func(d *decoder, n *yaml.Node, name string, dst *MapField) {
		var v []float64
		before := len(d.faults)
		pair.read(d, n, name, &v)
		switch {
		case len(d.faults) > before:
		case len(v) != 2:
			d.fault(n, "give "+legal, "%s has %d numbers", name, len(v))
		case v[0] == v[1] || ordered && v[0] > v[1]:
			d.fault(n, "give the smaller first", "%s: %v to %v is no range", name, v[0], v[1])
		default:
			set(dst, v[0], v[1])
		}
	}}
}

var stepForm = form[MapField]{legal: "a number of degrees, or two", read: func(d *decoder, n *yaml.Node, name string, dst *MapField) {
	var v []float64
	before := len(d.faults)
	list(number("degrees", 1e-4, 45)).read(d, n, name, &v)
	switch {
	case len(d.faults) > before:
	case len(v) == 1:
		dst.StepLonDeg, dst.StepLatDeg = v[0], v[0]
	case len(v) == 2:
		dst.StepLonDeg, dst.StepLatDeg = v[0], v[1]
	default:
		d.fault(n, "give a number of degrees, or two", "%s has %d numbers", name, len(v))
	}
}}

var figureKind = oneOf(FigureSection, FigureVelocity, FigureTemperatureSalinity, FigureOxygenDensity, FigureMap, FigureProfiles, FigureError, FigureSkill)

var figuresForm = mapping(shape[Figures]{legal: "none, or a list of kinds (" + strings.ReplaceAll(figureKind.legal, " or ", ", ") + ")",
	at: func(f *Figures) *metadata.Position { return &f.At },
	short: func(d *decoder, n *yaml.Node, name string, f *Figures) bool {
		if n.Kind == yaml.ScalarNode && n.Value == "none" {
			f.None = true
			return true
		}
		list(figureKind).read(d, n, name, &f.Only)
		return true
	}},
	entry("only", func(f *Figures) *[]FigureKind { return &f.Only }, list(figureKind), "kinds to make; with profiles come the differences of two sensors", "section, velocity, temperature_salinity, map and profiles", "[map, section]"),
	entry("formats", func(f *Figures) *[]Format { return &f.Formats }, list(oneOf(SVG, PDF, PNG)), "formats", "all three", "[svg]"),
	entry("widths", func(f *Figures) *[]Width { return &f.Widths }, list(oneOf(OneColumn, TwoColumns)), "widths", "two_columns", "[one_column, two_columns]"),
	entry("overlay", func(f *Figures) *string { return &f.Overlay }, words(sigmaNames...), "density lines over sections", "none", "sigma0"),
	entry("upper", func(f *Figures) *float64 { return &f.UpperDbar }, number("a number of dbar", 10, 5000), "bottom of the expanded upper panel", "scaled to the depth", "500"),
	entry("axis", func(f *Figures) *SecondAxis { return &f.Axis }, oneOf(Latitude, Longitude), "second axis of sections", "the one that varies more", "latitude"),
	entry("colour", func(f *Figures) *Colour { return &f.Colour }, oneOf(ByStation, ByLatitude), "what colours the casts of temperature_salinity, oxygen_density and profiles", "station", "latitude"),
)

// cruiseForm is the whole file.
var cruiseForm = mapping(shape[Cruise]{fresh: newCruise, check: checkCruise},
	required(entry("cruise", func(c *Cruise) *Cruise { return c }, identityForm, "what and who", "", "{id: saltmarten-2026-05}")),
	entry("release", func(c *Cruise) *metadata.Release { return &c.Release }, releaseForm, "in which state the data leave the ship", "preliminary", "{status: underway}"),
	entry("systems", func(c *Cruise) *[]System { return &c.Systems }, list(systemForm), "sets of sensors; a sensor swapped mid-cruise makes two", "one, of which nothing is known", "[{label: main, bin: 2}]"),
	required(entry("casts", func(c *Cruise) *Casts { return &c.Casts }, castsForm, "where casts come from and what to do with them", "", "{sources: [casts]}")),
	entry("sections", func(c *Cruise) *[]Section { return &c.Sections }, list(sectionForm), "sections to make", "none", "[{name: strait, stations: 1-12}]"),
	entry("fields", func(c *Cruise) *[]MapField { return &c.Fields }, list(fieldForm), "longitude by latitude by pressure fields to make", "none", "[{name: survey}]"),
	entry("figures", func(c *Cruise) *Figures { return &c.Figures }, figuresForm, "figures to make", "section, velocity, temperature_salinity, map and profiles", "none"),
	entry("inputs", func(c *Cruise) *bool { return &c.OmitInputs }, wordAs([]string{"keep", "omit"}, []bool{false, true}), "whether the archive carries its inputs", "keep", "omit"),
	entry("derived", func(c *Cruise) *[]string { return &c.Derived }, list(derivable), "derived variables wanted in the cast file beside the usual, which are depth, asal, ctemp, ptemp, sigma0, spice0, sound_speed, n2, oxysat, aou, and oxy from oxy_ml", "none", "[sigma2, dens]"),
)
