package export

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// A StationRow is one cast of the ledger: also those that were left out (Cast nil) have a row.
type StationRow struct {
	ID       string
	Cast     *section.Cast
	Sections []string // sections that the cast is in
	File     string
	LeftOut  string // why the cast was left out; "" when it was not
	Remark   string // of the station table
	Log      Logged
}

// Logged is what a log says of a cast beside position, time and depth, each as it is printed; "" what it does not say.
type Logged struct {
	Bottom, End string // times in UTC
	Bottles     string
	HeightM     string // above the bottom
	Parameters  string
	Event       string
}

var stationHead = []string{"cast_id", "expocode", "station", "cast", "role", "direction", "system", "sections",
	"time_utc", "time_is",
	"latitude_deg", "longitude_deg", "water_depth_m", "first_pressure_dbar", "last_pressure_dbar", "levels", "left_out",
	"file", "sha256", "remark", "bottom_time_utc", "end_time_utc", "bottles", "height_above_bottom_m", "parameters",
	"event"}

// unknownName is written for the expocode, station and cast of a file that was not read. These columns and those of
// OrNone are never empty: names such as 7 with empty cells between them would make a reader of tables take the column
// for numbers.
const unknownName = "unknown"

// OrNone returns the text of a cell of names, "none" when there is no name.
func OrNone(names string) string {
	if names == "" {
		return "none"
	}
	return names
}

// WriteStations writes the station table: a line a cast in the order given, CSV with a head line, UTF-8, LF.
func WriteStations(w io.Writer, rows []StationRow) error {
	c := newTable(w)
	if err := c.Write(stationHead); err != nil {
		return err
	}
	for _, r := range rows {
		rec := make([]string, len(stationHead))
		rec[0], rec[16], rec[17], rec[19] = r.ID, r.LeftOut, r.File, r.Remark
		copy(rec[20:], []string{r.Log.Bottom, r.Log.End, r.Log.Bottles, r.Log.HeightM, r.Log.Parameters, r.Log.Event})
		rec[1], rec[2], rec[3] = unknownName, unknownName, unknownName
		if k := r.Cast; k != nil {
			rec[1], rec[2], rec[3], rec[4], rec[5], rec[6] = k.Expocode, k.Station, k.Number, k.Role.String(),
				k.Direction.String(), k.System
			rec[7] = strings.Join(r.Sections, " ")
			rec[8], rec[9] = CastTime(k), k.TimeIs.String()
			rec[10], rec[11] = fixed(k.At[1], k.AtDecimals[1]), fixed(k.At[0], k.AtDecimals[0])
			rec[12] = fixed(k.BottomM, k.BottomDecimals)
			if p := k.Column("pres"); p != nil && len(p.Values) > 0 {
				rec[13], rec[14] = fixed(p.Values[0], p.DecimalsAt(0)),
					fixed(p.Values[len(p.Values)-1], p.DecimalsAt(len(p.Values)-1))
			}
			rec[15], rec[18] = strconv.Itoa(k.Levels()), k.Source.Hex()
		}
		rec[6], rec[7] = OrNone(rec[6]), OrNone(rec[7])
		if err := c.Write(rec); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// CastTime returns the time of a cast as ISO 8601 in UTC, the date alone when no time of day is known, "" when neither
// is.
func CastTime(k *section.Cast) string {
	switch {
	case k.Time.IsZero():
		return ""
	case k.DateOnly:
		return k.Time.UTC().Format("2006-01-02")
	}
	return k.Time.UTC().Format(time.RFC3339)
}

// fixed prints a number in its decimals; decimals below 0 print the shortest form; NaN prints nothing.
func fixed(v float64, decimals int) string {
	if math.IsNaN(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'f', max(decimals, -1), 64)
}

var findingHead = []string{"severity", "check", "cast_id", "variable", "first_dbar", "last_dbar", "count",
	"proposed_flag", "file", "line",
	"column", "message", "remedy", "files", "also", "accepted_by", "accepted_because"}

// WriteFindings writes findings as CSV in the order given. The column also lists where else the same was found:
// cast and pressures, or the place in a file.
func WriteFindings(w io.Writer, fs []metadata.Finding) error {
	c := newTable(w)
	if err := c.Write(findingHead); err != nil {
		return err
	}
	number := func(n int) string {
		if n == 0 {
			return ""
		}
		return strconv.Itoa(n)
	}
	for i := range fs {
		f := &fs[i]
		first, last := "", ""
		if f.First != 0 || f.Last != 0 {
			first, last = fixed(f.First, -1), fixed(f.Last, -1)
		}
		err := c.Write([]string{f.Severity.String(), f.Check, f.Cast, f.Variable, first, last, number(f.Count),
			number(int(f.Proposed)),
			f.File, number(f.Line), number(f.Column), f.Message, f.Advice(), strconv.Itoa(1 + len(f.Also)), also(f),
			f.Accepted.Initials, f.Accepted.Reason})
		if err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// also lists the further places of a finding, for a cell of a table.
func also(f *metadata.Finding) string {
	var out []string
	for _, p := range f.Also {
		switch {
		case p.First == 0 && p.Last == 0 && p.Cast != "":
			out = append(out, p.Cast)
		case p.First == 0 && p.Last == 0:
			out = append(out, p.Position.String())
		case p.First == p.Last:
			out = append(out, p.Cast+" "+fixed(p.First, -1))
		default:
			out = append(out, p.Cast+" "+fixed(p.First, -1)+" to "+fixed(p.Last, -1))
		}
	}
	return strings.Join(out, "; ")
}

// WriteStationsGeoJSON writes the casts as points and the sections as lines (RFC 7946). A line over the
// antimeridian is cut there into a MultiLineString, as the RFC asks.
func WriteStationsGeoJSON(w io.Writer, rows []StationRow, sections []*section.Section) error {
	fc := geojson.NewFeatureCollection()
	for _, r := range rows {
		if r.Cast == nil {
			continue
		}
		f := geojson.NewFeature(r.Cast.At)
		f.ID = r.ID
		f.Properties = geojson.Properties{"station": r.Cast.Station, "cast": r.Cast.Number,
			"role": r.Cast.Role.String(),
			"time": CastTime(r.Cast), "sections": strings.Join(r.Sections, " ")}
		if !math.IsNaN(r.Cast.BottomM) {
			f.Properties["water_depth_m"] = r.Cast.BottomM
		}
		fc.Append(f)
	}
	for _, s := range sections {
		var line orb.LineString
		for _, k := range s.Casts {
			line = append(line, k.At)
		}
		parts := CutAtAntimeridian(line)
		var g orb.Geometry = orb.MultiLineString(parts)
		if len(parts) == 1 {
			g = parts[0]
		}
		f := geojson.NewFeature(g)
		f.ID = "section_" + s.Name
		f.Properties = geojson.Properties{"section": s.Name}
		fc.Append(f)
	}
	b, err := fc.MarshalJSON()
	if err != nil {
		return fmt.Errorf("stations as GeoJSON: %w", err)
	}
	var v any // through a map, whose keys encoding/json sorts: one order for ever
	if err := json.Unmarshal(b, &v); err != nil {
		return err
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	return e.Encode(v)
}

// CutAtAntimeridian cuts a line in longitude and latitude wherever a step goes over 180 degrees of longitude the short
// way; the cut point's latitude is linear in longitude.
func CutAtAntimeridian(line orb.LineString) []orb.LineString {
	if len(line) == 0 {
		return nil
	}
	parts := []orb.LineString{{line[0]}}
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		last := &parts[len(parts)-1]
		if d := b[0] - a[0]; math.Abs(d) > 180 {
			edge := math.Copysign(180, a[0])
			full := 360 - math.Abs(d)
			t := 0.0
			if full > 0 {
				t = math.Abs(edge-a[0]) / full
			}
			lat := a[1] + t*(b[1]-a[1])
			*last = append(*last, orb.Point{edge, lat})
			parts = append(parts, orb.LineString{{-edge, lat}, b})
			continue
		}
		*last = append(*last, b)
	}
	return parts
}
