package cruisefile

import (
	"slices"
	"time"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"gopkg.in/yaml.v3"
)

var castsForm = mapping(shape[Casts]{fresh: func() Casts { return newCruise().Casts }, check: checkCasts},
	required(entry("sources", func(c *Casts) *[]ingest.Source { return &c.Sources }, list(source),
		"files, folders and patterns with casts", "", "[casts]")),
	entry("bottles", func(c *Casts) *[]ingest.Source { return &c.Bottles }, list(source), "exchange bottle files",
		"none",
		"[bottles_hy1.csv]"),
	entry("edits", func(c *Casts) *[]ingest.Source { return &c.Edits }, list(source), "flag edits (CSV)", "none",
		"[edits.csv]"),
	entry("station_table", func(c *Casts) *StationTable { return &c.Stations }, stationTableForm,
		"station table (CSV): positions, times, depths, roles; a log with columns of its own is explained by the keys below",
		"none", "stations.csv"),
	entry("bathymetry", func(c *Casts) *ingest.Source { return &c.Bathymetry }, source, "water depth (CF NetCDF grid)",
		"none", "bathymetry.nc"),
	entry("leave_out", func(c *Casts) *[]LeaveOut { return &c.LeaveOut }, list(leaveOutForm),
		"casts or files not read further, each with its reason", "none", `[{cast: 6/2, reason: "winch stopped"}]`),
	entry("renumber", func(c *Casts) *[]Renumber { return &c.Renumber }, list(renumberForm),
		"casts that get another station or cast number", "none",
		"[{from: 21/1, to: 20/2, why: typing error on deck}]"),
	entry("direction", func(c *Casts) *section.Direction { return &c.Direction },
		named(section.Down, section.Up),
		"which way the casts were taken", "down", "down"),
	entry("up", func(c *Casts) *CastList { return &c.Up }, stations, "casts that are upcasts", "none", "20-31"),
	entry("role", func(c *Casts) *[]RoleOf { return &c.Roles }, rolesForm, "casts with another role than primary; "+
		"those of role other are in the files of casts and in no section, field or figure", "all primary",
		"[{test: T1}, {repeat: 6/2}]"),
	entry("time", func(c *Casts) *section.TimeMeaning { return &c.TimeIs },
		named(section.AtStart, section.AtBottom, section.AtEnd),
		"what the logged time is the time of", "not stated", "start"),
	entry("depth", func(c *Casts) *string { return &c.DepthFound }, text, "how water depth was found", "not stated",
		"echo sounder corrected for sound speed"),
	entry("water", func(c *Casts) *bool { return &c.Lake }, wordAs([]string{"sea", "lake"}, []bool{false, true}),
		"sea or lake", "sea", "sea"),
	entry("ice", func(c *Casts) *bool { return &c.IceShelf }, wordAs([]string{"none", "shelf"}, []bool{false, true}),
		"whether the casts were taken under an ice shelf", "none", "shelf"),
	entry("ice_base", func(c *Casts) *float64 { return &c.IceBaseM }, number("a number of metres", 0, 3000),
		"depth of the underside of the ice", "not stated", "220"),
	entry("uncalibrated", func(c *Casts) *bool { return &c.Uncalibrated },
		wordAs([]string{"unusable", "usable"}, []bool{false, true}),
		"whether values flagged 1 (not calibrated) enter derived fields", "unusable", "usable"),
	entry("clock", func(c *Casts) *[]Clock { return &c.Clock }, list(clockForm), "logged times that are not UTC",
		"all UTC", `[{stations: 1-9, zone: "+02:00"}]`),
	entry("max_gap", func(c *Casts) **float64 { return &c.MaxGapDbar }, gapForm,
		"widest step between levels that is bridged",
		"the gap rule: more than 50 dbar (200 below 1500) and three times the steps around", "100"),
	entry("lenient", func(c *Casts) *bool { return &c.Lenient }, yesNo,
		"skip lines that cannot be read, and take values that are no numbers as missing with flag 4, each with a "+
			"finding",
		"no: they keep their file out", "yes"),
	entry("report", func(c *Casts) *[]Report { return &c.Reports }, reportsForm,
		"which sensor of a pair is reported as the quantity, for some stations or all; the other sensor is kept under "+
			"the name of the second", "the first", "[{psal: psal2, stations: 30-41}]"),
	entry("aliases", func(c *Casts) *[]ingest.Alias { return &c.Aliases }, list(aliasForm),
		"columns and units that the reader does not know", "none", "[{column: CTDTMP2, means: temp2}]"),
	entry("layouts", func(c *Casts) *[]ingest.Layout { return &c.Layouts }, list(layoutForm),
		"text files that are not exchange files, and how they are laid out; castwright draft proposes them", "none",
		`[{name: text, match: "*.asc", format: space, columns: [{number: 1, means: pres}, {number: 2, means: temp}]}]`),
)

var leaveOutForm = mapping(shape[LeaveOut]{
	at: func(l *LeaveOut) *metadata.Position { return &l.At },
	check: func(d *decoder, n *yaml.Node, l *LeaveOut, has map[string]*yaml.Node) {
		if (has["cast"] == nil) == (has["file"] == nil) {
			d.fault(n, "write {cast: STATION/CAST, reason: …} or {file: PATH, reason: …}",
				"leave_out wants either cast or file")
		}
	}},
	choice(entry("cast", func(l *LeaveOut) *CastName { return &l.Cast }, castName, "the cast", "none: file says which",
		"6/2")),
	choice(entry("file", func(l *LeaveOut) *string { return &l.File }, text,
		"the file that cannot be read, instead of cast", "none: cast says which", "casts/broken_ct1.csv")),
	required(entry("reason", func(l *LeaveOut) *string { return &l.Reason }, text,
		"why; it is written into history and tables/stations.csv", "", "winch stopped")),
)

var renumberForm = mapping(shape[Renumber]{
	at: func(r *Renumber) *metadata.Position { return &r.At },
	check: func(d *decoder, n *yaml.Node, r *Renumber, has map[string]*yaml.Node) {
		if (has["from"] != nil) == (has["file"] != nil) {
			d.fault(n, "write {from: STATION/CAST, to: STATION/CAST, why: …} or {file: PATH, to: STATION/CAST, why: …}",
				"renumber wants either from or file")
		}
	}},
	choice(entry("from", func(r *Renumber) *CastName { return &r.From }, castName,
		"station and cast number in the file", "none: file says which", "21/1")),
	choice(entry("file", func(r *Renumber) *string { return &r.File }, text,
		"the file of the cast, instead of from: where two files have one number", "none: from says which",
		"casts/21_ct1.csv")),
	required(entry("to", func(r *Renumber) *CastName { return &r.To }, newCastName,
		"station and cast number it should have", "", "20/2")),
	required(entry("why", func(r *Renumber) *string { return &r.Why }, text, "why; it is written into history", "",
		"typing error on deck")),
)

var roleValues = []section.Role{section.Primary, section.Repeat, section.Yoyo, section.Test,
	section.Aborted, section.Calibration, section.Other}

var roleNames = wordsOf(roleValues)

// rolesForm is a list of one-key mappings, or one mapping, from role to casts.
var rolesForm = mappings("a list of ROLE: CASTS, where ROLE is "+orList(roleNames)+
	" and CASTS are stations, or casts such as 6/2", "ROLE: CASTS, such as {test: T1}",
	func(d *decoder, item *yaml.Node, name string, dst *[]RoleOf) {
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
	})

var clockForm = mapping(shape[Clock]{
	at: func(c *Clock) *metadata.Position { return &c.At },
	check: func(d *decoder, n *yaml.Node, c *Clock, has map[string]*yaml.Node) {
		if (has["zone"] == nil) == (has["offset"] == nil) {
			d.fault(n, `write zone: "+02:00" for times in that zone, or offset: "-00:03:10" to add to the logged time`,
				"clock wants either zone or offset")
		}
	}},
	required(entry("stations", func(c *Clock) *StationList { return &c.Stations }, stations, "stations concerned", "",
		"1-9")),
	choice(entry("zone", func(c *Clock) *time.Duration { return &c.Offset }, zone,
		"zone of the logged times, ahead of UTC is +", "none: offset says", `"+02:00"`)),
	choice(entry("offset", func(c *Clock) *time.Duration { return &c.Offset }, offset,
		"what is added to the logged time to get UTC", "none: zone says", `"-00:03:10"`)),
	entry("of", func(c *Clock) *ClockOf { return &c.Of },
		wordAs([]string{"all", "files", "station_table"}, []ClockOf{ClockOfAll, ClockOfFiles, ClockOfTable}),
		"whether the times in cast and bottle files are meant, those of the station table, or all", "all",
		"station_table"),
)

var aliasForm = mapping(shape[ingest.Alias]{
	at: func(a *ingest.Alias) *metadata.Position { return &a.At },
	check: func(d *decoder, n *yaml.Node, a *ingest.Alias, has map[string]*yaml.Node) {
		if has["column"] == nil && has["unit"] == nil {
			d.fault(n, "add column: NAME as it is in the file", "aliases: neither column nor unit is given")
		}
	}},
	choice(entry("column", func(a *ingest.Alias) *string { return &a.Column }, text, "column name in the file",
		"any column of that unit", "CTDTMP2")),
	choice(entry("unit", func(a *ingest.Alias) *string { return &a.Unit }, text, "unit in the file", "any unit",
		"DEG C")),
	required(entry("means", func(a *ingest.Alias) *string { return &a.Means }, columnVariable, "the variable it is", "",
		"temp2")),
)
