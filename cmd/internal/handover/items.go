package handover

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
)

// A Missing is something that a recipient asks for and the archive does not say.
type Missing struct {
	What    string `json:"what"`
	Key     string `json:"key"`     // of the cruise file, its parts separated by ": "
	Example string `json:"example"` // how the key is filled
}

// String returns the item on one line.
func (m Missing) String() string { return m.What + ": fill " + m.Key + ", such as " + m.Example }

// an item is one thing that some recipients ask for.
type item struct {
	by      string // which recipients: letters of their names, d, r, n
	missing func(c *cruisefile.Cruise) []Missing
}

// one is an item that the cruise file says once.
func one(by, what, key, example string, has func(c *cruisefile.Cruise) bool) item {
	return item{by, func(c *cruisefile.Cruise) []Missing {
		if has(c) {
			return nil
		}
		return []Missing{{what, key, example}}
	}}
}

// items are what recipients ask for, in the order of the cruise file. Sources: submission guide of a hydrographic data
// office (2024) for d, DataCite Metadata Schema 4.5 for r, and the list that a national data centre gives for CTD data
// for n.
var items = []item{
	one("r", "a title of the cruise's own", "cruise: title", "title: CTD casts of RV Saltmarten in May 2026",
		func(c *cruisefile.Cruise) bool { return c.Title != "" }),
	one("n", "sea area", "cruise: region", "region: northern strait",
		func(c *cruisefile.Cruise) bool { return c.Region != "" }),
	one("dn", "ship", "cruise: ships", "ships: [{name: RV Saltmarten, code: ZZSM}]",
		func(c *cruisefile.Cruise) bool { return len(c.Ships) > 0 }),
	{"n", missingShipCodes},
	one("drn", "legs with expocode, dates, ports and chief scientist", "cruise: legs",
		"legs: [{expocode: ZZSM20260504, start: 2026-05-04, end: 2026-05-17}]",
		func(c *cruisefile.Cruise) bool { return len(c.Legs) > 0 }),
	{"drn", missingOfLegs},
	{"dr", missingORCIDs},
	one("rn", "institution that ran the cruise", "cruise: institutions", "institutions: [Skerry Institute]",
		func(c *cruisefile.Cruise) bool { return len(c.Institutions) > 0 }),
	{"r", missingRORs},
	one("n", "project", "cruise: projects", "projects: [Strait Watch]",
		func(c *cruisefile.Cruise) bool { return len(c.Projects) > 0 }),
	one("r", "funding", "cruise: funding", "funding: [{name: Skerry Council, grant: SC-12}]",
		func(c *cruisefile.Cruise) bool { return len(c.Funding) > 0 }),
	one("r", "version", "release: version", `version: "1.0"`,
		func(c *cruisefile.Cruise) bool { return c.Release.Version != "" }),
	one("r", "day of issue", "release: date", "date: 2026-06-30",
		func(c *cruisefile.Cruise) bool { return c.Release.Date != "" }),
	one("r", "DOI", "release: doi", "doi: 10.5555/saltmarten-ctd",
		func(c *cruisefile.Cruise) bool { return c.Release.DOI != "" }),
	one("drn", "licence", "release: licence", "licence: CC-BY-4.0",
		func(c *cruisefile.Cruise) bool { return c.Release.Licence != "" }),
	one("drn", "e-mail address of whoever answers questions", "release: contact", "contact: data@example.org",
		func(c *cruisefile.Cruise) bool { return strings.Contains(contact(c), "@") }),
	one("r", "publisher", "release: publisher", "publisher: {name: Skerry Data Centre}",
		func(c *cruisefile.Cruise) bool { return c.Release.Publisher.Name != "" }),
	one("dn", "sensors and their calibration", "systems",
		"systems: [{label: main, sensors: [{variables: [temp], serial: P-001, calibrated: 2026-01-20}]}]",
		func(c *cruisefile.Cruise) bool { return len(c.Systems) > 0 }),
	{"dn", missingOfSystems},
	{"n", missingOfSensors},
	one("n", "how water depth was found", "casts: depth", "depth: echo sounder, corrected",
		func(c *cruisefile.Cruise) bool { return c.Casts.DepthFound != "" }),
	one("n", "what the time of a cast is the time of", "casts: time", "time: start",
		func(c *cruisefile.Cruise) bool { return c.Casts.TimeIs != 0 }),
	one("drn", "who is responsible for the quality control, and the date of the signature", "quality: signed",
		"signed: {by: Ragna Holm, date: 2026-06-28}",
		func(c *cruisefile.Cruise) bool { return c.Quality.Signed.By != "" && c.Quality.Signed.Date != "" }),
}

// contact returns who answers questions: as stated, else the first chief scientist.
func contact(c *cruisefile.Cruise) string {
	if c.Release.Contact != "" || len(c.Legs) == 0 {
		return c.Release.Contact
	}
	return c.Legs[0].ChiefScientist.Email
}

func missingShipCodes(c *cruisefile.Cruise) (out []Missing) {
	for _, s := range c.Ships {
		if s.Code == "" && len(c.Ships) > 1 {
			out = append(out, Missing{"ICES code of ship " + s.Name, "cruise: ships: code", "code: ZZSM"})
		}
	}
	return out
}

func missingOfLegs(c *cruisefile.Cruise) (out []Missing) {
	for i := range c.Legs {
		l := &c.Legs[i]
		for _, x := range []struct{ value, what, key, example string }{
			{l.Start, "first day", "start", "start: 2026-05-04"}, {l.End, "last day", "end", "end: 2026-05-17"},
			{l.From, "port of departure", "from", "from: Skerrywick"},
			{l.To, "port of arrival", "to", "to: Skerrywick"},
			{l.ChiefScientist.Name, "chief scientist", "chief_scientist", "chief_scientist: {name: Ragna Holm}"}} {
			if x.value == "" {
				out = append(out, Missing{x.what + " of leg " + l.Expocode, "cruise: legs: " + x.key, x.example})
			}
		}
	}
	return out
}

func missingORCIDs(c *cruisefile.Cruise) (out []Missing) {
	const example = `orcid: "https://orcid.org/0000-0000-0000-0001"`
	for i := range c.Legs {
		if p := &c.Legs[i].ChiefScientist; p.Name != "" && p.ORCID == "" {
			out = append(out, Missing{"ORCID of " + p.Name, "cruise: legs: chief_scientist: orcid", example})
		}
	}
	for _, p := range c.People {
		if p.ORCID == "" {
			out = append(out, Missing{"ORCID of " + p.Name, "cruise: people: orcid", example})
		}
	}
	return out
}

func missingRORs(c *cruisefile.Cruise) (out []Missing) {
	for _, i := range c.Institutions {
		if i.ROR == "" {
			out = append(out, Missing{"ROR of " + i.Name, "cruise: institutions: ror",
				`ror: "https://ror.org/012345654"`})
		}
	}
	return out
}

func missingOfSystems(c *cruisefile.Cruise) (out []Missing) {
	for i := range c.Systems {
		s := &c.Systems[i]
		of := " of system " + s.Label
		if s.Package == "" {
			out = append(out, Missing{"make and model of the instrument package" + of, "systems: package",
				"package: invented CTD on a frame of 24 bottles"})
		}
		if len(s.Upstream) == 0 {
			out = append(out, Missing{"processing of the data before they were put into pressure bins" + of,
				"systems: upstream", "upstream: ['despiked, lag of oxygen 4 s, loops removed']"})
		}
		if len(s.Sensors) == 0 {
			out = append(out, Missing{"sensors" + of, "systems: sensors",
				"sensors: [{variables: [temp], serial: P-001, calibrated: 2026-01-20}]"})
		}
		if s.Bin.WidthDbar == 0 || s.Bin.Label == "" {
			out = append(out, Missing{"width and label of the pressure bins" + of, "systems: bin",
				"bin: {width: 2, label: centre}"})
		}
		out = append(out, missingOfStage("salinity", s, &s.Salinity, "0.0012")...)
		if s.Oxygen.Stage != metadata.StageUnknown || slices.ContainsFunc(s.Sensors, func(x metadata.Sensor) bool {
			return slices.Contains(x.Variables, "oxy")
		}) {
			out = append(out, missingOfStage("oxygen", s, &s.Oxygen, "1.1")...)
		}
	}
	return out
}

// missingOfStage returns what is not said of the calibration of a variable: its stage, and where it was adjusted to
// bottles, by whom, when and with which residual.
func missingOfStage(name string, s *cruisefile.System, c *metadata.Calibration, residual string) (out []Missing) {
	what, key := "calibration of "+name+" of system "+s.Label, "systems: "+name
	switch c.Stage {
	case metadata.StageUnknown:
		return []Missing{{what, key, name + ": {stage: adjusted to bottles, by: Owen Lark, date: 2026-05-16, " +
			"residual: " +
			residual + "}"}}
	case metadata.StageAdjusted:
	default:
		return nil
	}
	if c.By == "" {
		out = append(out, Missing{"person of the " + what, key + ": by", "by: Owen Lark"})
	}
	if c.Date == "" {
		out = append(out, Missing{"day of the " + what, key + ": date", "date: 2026-05-16"})
	}
	if math.IsNaN(c.Residual) {
		out = append(out, Missing{"residual of the " + what, key + ": residual", "residual: " + residual})
	}
	return out
}

func missingOfSensors(c *cruisefile.Cruise) (out []Missing) {
	for i := range c.Systems {
		for _, x := range c.Systems[i].Sensors {
			of := fmt.Sprintf(" of the sensor of %s in system %s", strings.Join(x.Variables, ", "), c.Systems[i].Label)
			if x.Model == "" {
				out = append(out, Missing{"model" + of, "systems: sensors: model", "model: primary thermometer"})
			}
			if x.Serial == "" {
				out = append(out, Missing{"serial number" + of, "systems: sensors: serial", "serial: P-001"})
			}
			if x.Calibrated == "" {
				out = append(out, Missing{"day of the last laboratory calibration" + of, "systems: sensors: calibrated",
					"calibrated: 2026-01-20"})
			}
		}
	}
	return out
}

// missingOfCasts returns what the casts of an archive lack: times, positions and water depths of single casts, and
// for a national archive the sensors of variables that no system describes.
func missingOfCasts(to Recipient, a *archive.Archive, c *cruisefile.Cruise) (out []Missing, err error) {
	if to == Repository {
		return nil, nil
	}
	t, err := a.Table("tables/stations.csv")
	if err != nil {
		return nil, err
	}
	for _, x := range []struct{ column, what, fill string }{{"time_utc", "time", "time"},
		{"latitude_deg", "position", "latitude and longitude"}, {"water_depth_m", "water depth", "depth"}} {
		var casts []string
		for _, row := range t.Rows {
			if t.Get(row, "left_out") == "" && t.Get(row, x.column) == "" {
				casts = append(casts, t.Get(row, "station")+"/"+t.Get(row, "cast"))
			}
		}
		if len(casts) > 0 {
			out = append(out, Missing{fmt.Sprintf("%s of %s, in the column %s of a station table", x.what,
				listed(casts), x.fill), "casts: station_table", "station_table: log.csv"})
		}
	}
	if to != NationalArchive || len(c.Systems) == 0 {
		return out, nil
	}
	for _, f := range a.Matching("casts/*_ctd.nc") {
		without, err := undescribed(a, f, c)
		if err != nil {
			return nil, err
		}
		for _, v := range without {
			out = append(out, Missing{"the sensor that measured " + v, "systems: sensors",
				"sensors: [{variables: [" + v + "], model: invented sensor, serial: P-001, calibrated: 2026-01-20}]"})
		}
	}
	return out, nil
}

// listed names up to six casts.
func listed(casts []string) string {
	if n := len(casts); n > 6 {
		return fmt.Sprintf("casts %s and %d others", strings.Join(casts[:6], ", "), n-6)
	}
	return "cast " + strings.Join(casts, ", ")
}

// undescribed returns the measured variables of a file of casts that are in no sensor of any system.
func undescribed(a *archive.Archive, rel string, c *cruisefile.Cruise) (out []string, err error) {
	f, err := a.NetCDF(rel)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	for i := range f.Vars {
		v := &f.Vars[i]
		if v.Text("coverage_content_type") != "physicalMeasurement" || v.Text("instrument") == "" ||
			slices.ContainsFunc(c.Systems, func(s cruisefile.System) bool {
				return slices.ContainsFunc(s.Sensors, func(x metadata.Sensor) bool {
					return slices.Contains(x.Variables, v.Name)
				})
			}) {
			continue
		}
		out = append(out, v.Name)
	}
	return out, nil
}

// missing returns what an archive does not say and a recipient asks for.
func missing(to Recipient, a *archive.Archive, c *cruisefile.Cruise) ([]Missing, error) {
	out := []Missing{}
	for _, x := range items {
		if strings.Contains(x.by, string(to[:1])) {
			out = append(out, x.missing(c)...)
		}
	}
	more, err := missingOfCasts(to, a, c)
	return append(out, more...), err
}
