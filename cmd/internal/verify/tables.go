package verify

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

func trimFloat(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// castNC gives the name of the file of all casts.
func (a *archive) castNC() string {
	if names := a.with("data/casts/", "_ctd.nc"); len(names) > 0 {
		return names[0]
	}
	return ""
}

// allCasts reads the casts back from NetCDF, once; nil when nothing vouches for the file or it cannot be read.
func (a *archive) allCasts() *ncprofile.Collection {
	if a.casts != nil {
		return a.casts
	}
	rel := a.castNC()
	f := a.open(rel)
	if f == nil {
		return nil
	}
	c, err := ncprofile.ReadCasts(f)
	if err != nil {
		a.fault("netcdf.read", rel, "", "casts cannot be read back: %v", err)
		return nil
	}
	a.casts = c
	return c
}

// bundle compares a bundle of exchange files with the casts in NetCDF: the same casts, values and flags.
func (a *archive) bundle(rel string, members map[string]*section.Cast, order []string) {
	all := a.allCasts()
	if all == nil {
		return
	}
	code := strings.TrimSuffix(path.Base(rel), "_ct1.zip")
	var want []string
	for i, c := range all.Casts {
		if c.Expocode == code {
			want = append(want, all.IDs[i]+"_ct1.csv")
		}
	}
	if !slices.Equal(order, want) {
		for _, n := range want {
			if members[n] == nil {
				a.fault("table.bundle", rel, "", "has no readable member %s, a cast of %s", n, path.Base(a.castNC()))
			}
		}
		for _, n := range order {
			if !slices.Contains(want, n) {
				a.fault("table.bundle", rel, "", "member %s is no cast of %s", n, path.Base(a.castNC()))
			}
		}
		if len(order) == len(want) &&
			!slices.ContainsFunc(order, func(n string) bool { return !slices.Contains(want, n) }) {
			a.fault("table.bundle", rel, "", "members are not in the order of the casts")
		}
	}
	for _, n := range order {
		c := all.Cast(strings.TrimSuffix(n, "_ct1.csv"))
		if c == nil {
			continue
		}
		for _, d := range compareCast(members[n], c) {
			a.fault("table.bundle", rel+"/"+n, d.variable, "%s", d.text)
		}
	}
}

type difference struct{ variable, text string }

// compareCast compares a cast of an exchange file with the same in NetCDF.
func compareCast(x, c *section.Cast) []difference {
	var out []difference
	say := func(v, format string, args ...any) { out = append(out, difference{v, fmt.Sprintf(format, args...)}) }
	if x.Expocode != c.Expocode || x.Station != c.Station || x.Number != c.Number {
		say("", "is cast %s, in NetCDF %s", x.ID(), c.ID())
	}
	if !x.Time.Equal(c.Time.Truncate(60e9)) {
		say("time", "%s, in NetCDF %s", export.CastTime(x), export.CastTime(c))
	}
	if !equalNumber(x.At[0], c.At[0]) || !equalNumber(x.At[1], c.At[1]) {
		say("lat", "position %v %v, in NetCDF %v %v", x.At[1], x.At[0], c.At[1], c.At[0])
	}
	if !equalNumber(x.BottomM, c.BottomM) {
		say("bottom_depth", "%v m, in NetCDF %v m", x.BottomM, c.BottomM)
	}
	at := make([]int, 0, x.Levels()) // place in c of each level of x
	k := 0
	for i, p := range x.PressureDbar {
		for k < c.Levels() && c.PressureDbar[k] < p {
			k++
		}
		if k == c.Levels() || !equalNumber(p, c.PressureDbar[k]) {
			// A level of which NetCDF holds nothing but the pressure cannot be told from one that the cast has not.
			if slices.ContainsFunc(x.Columns, func(col section.Column) bool {
				return col.Name != "pres" && col.Values != nil && !math.IsNaN(col.Values[i])
			}) {
				say("pres", "level of %g dbar is not in NetCDF", p)
				return out
			}
			at = append(at, -1)
			continue
		}
		at = append(at, k)
		k++
	}
	for i := range x.Columns {
		col := &x.Columns[i]
		if col.Values == nil {
			continue
		}
		o := c.Column(col.Name)
		if _, listed := metadata.ByName(col.Name); !listed || o == nil {
			// NetCDF may call it otherwise, since it sees the other casts
			for j := range c.Columns {
				if k := &c.Columns[j]; k.Exchange == col.Exchange && k.ExchangeUnit == col.ExchangeUnit &&
					col.Exchange != "" && (o == nil || o.Exchange != k.Exchange || k.HasValue()) {
					o = k
				}
			}
		}
		if o == nil {
			continue // text, or a column that NetCDF names otherwise
		}
		compareColumn(say, col, o, at, x.PressureDbar)
	}
	return out
}

// equalNumber reports whether the number of an exchange file is that in NetCDF, which holds numbers read from text as
// they were.
func equalNumber(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

func compareColumn(say func(string, string, ...any), col, o *section.Column, at []int, p []float64) {
	for j, k := range at {
		if k < 0 {
			continue
		}
		v, w := col.Values[j], o.Values[k]
		if !equalNumber(v, w) {
			say(o.Name, "%g at %g dbar, in NetCDF %g", v, p[j], w)
			return
		}
		if math.IsNaN(v) && col.Flags == nil {
			continue
		}
		f, g := metadata.NotEvaluated, metadata.NotEvaluated
		if col.Flags != nil {
			f = col.Flags[j]
		}
		if o.Flags != nil {
			g = o.Flags[k]
		}
		if math.IsNaN(v) && (f == metadata.NotEvaluated || g == metadata.NotEvaluated) {
			continue
		}
		if f != g {
			say(o.Name, "flag %d at %g dbar, in NetCDF %d", f, p[j], g)
			return
		}
	}
}

// proved gives the bytes of a file that its checksums vouch for; nil when they do not (which the bag tells), when it is
// not there (a fault, said with why it should be) or cannot be read (a fault).
func (a *archive) proved(rel, why string) []byte {
	if !a.trust[rel] {
		if _, there := a.sums[rel]; !there {
			a.fault("table.missing", rel, "", "%s", why)
		}
		return nil
	}
	data, err := regular.ReadFile(a.path(rel))
	if err != nil {
		a.fault("table.read", rel, "", "cannot be read: %v", errors.Unwrap(err))
		return nil
	}
	return data
}

// readCSV reads a table of the archive whose head must be as given; nil when it is not there or not vouched for.
func (a *archive) readCSV(rel string, head ...string) [][]string {
	data := a.proved(rel, "an archive has this table")
	if data == nil {
		return nil
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		a.fault("table.read", rel, "", "is not CSV: %v", err)
		return nil
	}
	if len(rows) == 0 || len(rows[0]) < len(head) || !slices.Equal(rows[0][:len(head)], head) {
		a.fault("table.read", rel, "", "its head line is not that of the table")
		return nil
	}
	for _, row := range rows {
		for i := range row {
			row[i] = export.CellText(row[i])
		}
	}
	return rows
}

// tables compares the tables of the archive with each other and with NetCDF; inputs are the checksums of the inputs by
// name.
func (a *archive) tables(ctx context.Context, inputs map[string]string) error {
	a.stations(inputs)
	a.geojson()
	a.findings()
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, rel := range a.with("data/sections/", "_section.nc") {
		a.section(rel)
	}
	a.transports()
	return nil
}

// inputs checks the table of inputs against the inputs, and gives the checksum of each by name.
func (a *archive) inputs() map[string]string {
	const table, bundle, plan = "data/inputs/inputs.csv", "data/inputs/inputs.zip", "data/provenance/cruise.yaml"
	rows := a.readCSV(table, "name", "member", "bytes", "sha256")
	if len(rows) < 2 {
		return nil
	}
	sums := map[string]string{}
	held := false
	for _, r := range rows[1:] {
		sums[r[0]] = r[3]
		held = held || r[1] != ""
	}
	if a.trust[plan] {
		if sum := a.sums[plan]; hex.EncodeToString(sum[:]) != rows[1][3] {
			a.fault("table.inputs", plan, "", "is not the cruise file of the table of inputs")
		}
	}
	if !held {
		return sums
	}
	if !a.trust[bundle] {
		if _, there := a.sums[bundle]; !there {
			a.fault("table.missing", bundle, "", "the table of inputs names it")
		}
		return sums
	}
	z, err := zip.OpenReader(a.path(bundle))
	if err != nil {
		a.fault("table.inputs", bundle, "", "cannot be read as a zip archive: %v", err)
		return sums
	}
	defer z.Close()
	members := map[string]*zip.File{}
	for _, f := range z.File {
		members[f.Name] = f
	}
	for _, r := range rows[1:] {
		f := members[r[1]]
		if f == nil {
			a.fault("table.inputs", bundle, "", "has no member %s, the input %s", r[1], r[0])
			continue
		}
		delete(members, r[1])
		n, err := strconv.ParseInt(r[2], 10, 64)
		if err != nil || n < 0 || uint64(n) != f.UncompressedSize64 {
			a.fault("table.inputs", bundle+"/"+r[1], "", "has %d bytes, the table says %s", f.UncompressedSize64, r[2])
			continue
		}
		h := sha256.New()
		in, err := f.Open()
		if err == nil {
			_, err = io.Copy(h, io.LimitReader(in, n+1))
			in.Close()
		}
		if err != nil {
			a.fault("table.inputs", bundle+"/"+r[1], "", "cannot be unpacked: %v", err)
		} else if hex.EncodeToString(h.Sum(nil)) != r[3] {
			a.fault("table.inputs", bundle+"/"+r[1], "", "is not what the table of inputs says")
		}
	}
	for _, f := range z.File {
		if members[f.Name] != nil {
			a.fault("table.inputs", bundle+"/"+f.Name, "", "is in no line of the table of inputs")
		}
	}
	return sums
}

// provenance is what is read of a PROV-JSON document.
type provenance struct {
	Entity, Activity, Agent map[string]map[string]any
}

// provenance parses PROV-JSON and compares the checksums in it with inputs and outputs.
func (a *archive) provenance(inputs map[string]string) {
	const rel = "data/provenance/prov.json"
	data := a.proved(rel, "an archive has its provenance")
	if data == nil {
		return
	}
	var doc provenance
	if err := json.Unmarshal(data, &doc); err != nil {
		a.fault("table.provenance", rel, "", "is not PROV-JSON: %v", err)
		return
	}
	if len(doc.Entity) == 0 || len(doc.Activity) == 0 {
		a.fault("table.provenance", rel, "", "names no entity or no activity")
	}
	if by, _ := doc.Agent["ex:program"]["prov:label"].(string); by != a.madeBy() {
		a.fault("table.provenance", rel, "", "the program is %q, in bag-info.txt %q", by, a.madeBy())
	}
	for key, e := range doc.Entity {
		where, _ := e["prov:location"].(string)
		sum, _ := e["ex:sha256"].(string)
		switch {
		case strings.HasPrefix(key, "ex:in-"):
			if want, ok := inputs[where]; inputs != nil && ok && want != sum {
				a.fault("table.provenance", rel, "", "input %s has another checksum than in the table of inputs", where)
			} else if inputs != nil && !ok && !strings.Contains(where, "_ct1.zip/") {
				a.fault("table.provenance", rel, "", "input %s is not in the table of inputs", where)
			}
		case strings.HasPrefix(key, "ex:out-"):
			have, there := a.sums["data/"+where]
			switch {
			case !there:
				a.fault("table.provenance", "data/"+where, "", "is named in the provenance and not there")
			case sum != "" && hex.EncodeToString(have[:]) != sum:
				a.fault("table.provenance", "data/"+where, "", "is not what the provenance says was written")
			}
		}
	}
}

var stationHead = []string{"cast_id", "expocode", "station", "cast", "role", "direction", "system", "sections",
	"time_utc", "time_is",
	"latitude_deg", "longitude_deg", "water_depth_m", "first_pressure_dbar", "last_pressure_dbar", "levels", "left_out",
	"file", "sha256"}

// sameNumber compares a number in a table, printed in its decimals, with the value.
func sameNumber(text string, v float64) bool {
	if text == "" {
		return math.IsNaN(v)
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) {
		return false
	}
	_, after, _ := strings.Cut(text, ".")
	return math.Abs(x-v) <= 0.5000001*math.Pow(10, -float64(len(after)))+1e-9*math.Abs(v)*1e-3
}

// stations compares the table of stations with NetCDF.
func (a *archive) stations(inputs map[string]string) {
	const rel = "data/tables/stations.csv"
	rows := a.readCSV(rel, stationHead...)
	if rows == nil {
		return
	}
	all := a.allCasts()
	members := a.sectionMembers()
	var kept []string
	for n, r := range rows[1:] {
		say := func(v, format string, args ...any) {
			a.report.Findings = append(a.report.Findings,
				metadata.Finding{Position: metadata.Position{File: rel, Line: n + 2}, Severity: metadata.Failure,
					Check: "table.stations", Cast: r[0], Variable: v, Message: fmt.Sprintf(format, args...)})
		}
		if want, ok := inputs[r[17]]; ok && r[18] != "" && want != r[18] {
			say("", "the checksum of %s is not that of the table of inputs", r[17])
		}
		if r[16] != "" {
			continue
		}
		kept = append(kept, r[0])
		if all == nil {
			continue
		}
		c := all.Cast(r[0])
		if c == nil {
			say("", "is not in %s", path.Base(a.castNC()))
			continue
		}
		words := []struct{ what, got, want string }{{"expocode", r[1], c.Expocode}, {"station", r[2], c.Station},
			{"cast", r[3], c.Number},
			{"cast_role", r[4], c.Role.String()}, {"cast_direction", r[5], c.Direction.String()},
			{"time", r[8], export.CastTime(c)}}
		words = append(words, struct{ what, got, want string }{"system", r[6], export.OrNone(c.System)})
		if members != nil {
			words = append(words, struct{ what, got, want string }{"sections", r[7],
				export.OrNone(strings.Join(members[r[0]], " "))})
		}
		for _, w := range words {
			if w.got != w.want {
				say(w.what, "%q, in NetCDF %q", w.got, w.want)
			}
		}
		numbers := []struct {
			what, got string
			want      float64
		}{{"lat", r[10], c.At[1]}, {"lon", r[11], c.At[0]}, {"bottom_depth", r[12], c.BottomM}}
		if all.Exact && c.Levels() > 0 {
			numbers = append(numbers, struct {
				what, got string
				want      float64
			}{"pres", r[13], c.PressureDbar[0]}, struct {
				what, got string
				want      float64
			}{"pres", r[14], c.PressureDbar[c.Levels()-1]}, struct {
				what, got string
				want      float64
			}{"levels", r[15], float64(c.Levels())})
		}
		for _, w := range numbers {
			if !sameNumber(w.got, w.want) {
				say(w.what, "%s, in NetCDF %g", w.got, w.want)
			}
		}
	}
	if all != nil {
		for _, id := range all.IDs {
			if !slices.Contains(kept, id) {
				a.fault("table.stations", rel, "", "has no line for cast %s of %s", id, path.Base(a.castNC()))
			}
		}
	}
}

// sectionMembers gives the sections that each cast stands in, in the order in which the table of stations lists them;
// nil when a section file cannot be looked at.
func (a *archive) sectionMembers() map[string][]string {
	names, c := a.sectionNames()
	if c == nil {
		return nil
	}
	for i := range c.Sections {
		if c.Sections[i].Repeats == section.MeanOf {
			return nil // the mean of several casts is none of them
		}
	}
	out := map[string][]string{}
	for _, n := range names {
		rel := "data/sections/" + n + "_section.nc"
		f := a.open(rel)
		if f == nil {
			return nil
		}
		for _, id := range f.WordsOf("profile_id") {
			if !slices.Contains(out[id], n) {
				out[id] = append(out[id], n)
			}
		}
	}
	return out
}

// geojson compares the points of the map with NetCDF.
func (a *archive) geojson() {
	const rel = "data/tables/stations.geojson"
	data := a.proved(rel, "an archive has this table")
	if data == nil {
		return
	}
	var doc struct {
		Type     string
		Features []struct {
			ID       string
			Geometry struct {
				Type        string
				Coordinates json.RawMessage
			}
			Properties map[string]any
		}
	}
	if err := json.Unmarshal(data, &doc); err != nil || doc.Type != "FeatureCollection" {
		a.fault("table.geojson", rel, "", "is not GeoJSON")
		return
	}
	all := a.allCasts()
	if all == nil {
		return
	}
	seen := map[string]bool{}
	for _, f := range doc.Features {
		seen[f.ID] = true
		if f.Geometry.Type != "Point" {
			a.track(rel, f.ID, f.Geometry.Type, f.Geometry.Coordinates)
			continue
		}
		c := all.Cast(f.ID)
		if c == nil {
			continue // left out; the table of stations says so
		}
		var at []float64
		if json.Unmarshal(f.Geometry.Coordinates, &at) != nil || len(at) != 2 || at[0] != c.At[0] || at[1] != c.At[1] {
			a.fault("table.geojson", rel, "", "cast %s lies elsewhere than in NetCDF (%g %g)", f.ID, c.At[1], c.At[0])
		}
		text := func(name string) string { s, _ := f.Properties[name].(string); return s }
		if text("station") != c.Station || text("cast") != c.Number || text("role") != c.Role.String() ||
			text("time") != export.CastTime(c) {
			a.fault("table.geojson", rel, "", "station, cast, role or time of %s is not that in NetCDF", f.ID)
		}
		if d, ok := f.Properties["water_depth_m"].(float64); ok == math.IsNaN(c.BottomM) || ok && d != c.BottomM {
			a.fault("table.geojson", rel, "", "water depth of %s is not that in NetCDF", f.ID)
		}
	}
	for _, id := range all.IDs {
		if !seen[id] {
			a.fault("table.geojson", rel, "", "has no point for cast %s", id)
		}
	}
}

// track compares a line of the map with the casts of its section.
func (a *archive) track(rel, id, kind string, raw json.RawMessage) {
	name, ok := strings.CutPrefix(id, "section_")
	f := a.open("data/sections/" + name + "_section.nc")
	if !ok || f == nil {
		return
	}
	var parts [][][]float64
	if kind == "LineString" {
		var one [][]float64
		if json.Unmarshal(raw, &one) == nil {
			parts = [][][]float64{one}
		}
	} else if json.Unmarshal(raw, &parts) != nil {
		parts = nil
	}
	lat, lon := f.NumbersOf("lat"), f.NumbersOf("lon")
	k := 0
	for _, part := range parts {
		for _, p := range part {
			if len(p) == 2 && k < len(lat) && p[0] == lon[k] && p[1] == lat[k] {
				k++
			} else if len(p) != 2 || math.Abs(p[0]) != 180 { // where a line is cut at the antimeridian
				a.fault("table.geojson", rel, "", "the line of section %s leaves its casts at point %d", name, k+1)
				return
			}
		}
	}
	if k != len(lat) {
		a.fault("table.geojson", rel, "", "the line of section %s has %d of %d casts", name, k, len(lat))
	}
}

// findings holds the table of findings to its form.
func (a *archive) findings() {
	const rel = "data/tables/findings.csv"
	rows := a.readCSV(rel, "severity", "check", "cast_id", "variable", "first_dbar", "last_dbar", "count",
		"proposed_flag", "file", "line", "column",
		"message", "remedy")
	if rows == nil {
		return
	}
	for n, r := range rows[1:] {
		say := func(format string, args ...any) {
			a.report.Findings = append(a.report.Findings,
				metadata.Finding{Position: metadata.Position{File: rel, Line: n + 2}, Severity: metadata.Failure,
					Check: "table.findings", Message: fmt.Sprintf(format, args...)})
		}
		if r[0] != "note" && r[0] != "warning" {
			say("severity %q in a finished archive", r[0])
		}
		if r[1] == "" || r[11] == "" {
			say("names no check or says nothing")
		}
		for _, k := range []int{4, 5, 6, 7, 9, 10} {
			if _, err := strconv.ParseFloat(r[k], 64); r[k] != "" && err != nil {
				say("%s is %q", rows[0][k], r[k])
			}
		}
	}
}

// section compares a section file with the file of all casts: the same values under the same cast and pressure.
func (a *archive) section(rel string) {
	all := a.allCasts()
	f := a.open(rel)
	if all == nil || f == nil {
		return
	}
	s, err := ncprofile.ReadCasts(f)
	if err != nil {
		a.fault("netcdf.read", rel, "", "casts cannot be read back: %v", err)
		return
	}
	for i, id := range s.IDs {
		c, k := all.Cast(id), s.Casts[i]
		if c == nil {
			// The mean of repeated casts carries the id of the first; it is in the file of casts then.
			a.fault("table.section", rel, "profile_id", "cast %s is not in %s", id, path.Base(a.castNC()))
			continue
		}
		if k.Levels() > 0 && c.Levels() > 0 && a.isMean(rel) {
			continue
		}
		if k.At != c.At || !k.Time.Equal(c.Time) || !(k.BottomM == c.BottomM || math.IsNaN(k.BottomM) &&
			math.IsNaN(c.BottomM)) ||
			k.Expocode != c.Expocode || k.Station != c.Station || k.Number != c.Number || k.Role != c.Role ||
			k.Direction != c.Direction {
			a.fault("table.section", rel, "", "place, time, depth or name of cast %s is not that of %s", id,
				path.Base(a.castNC()))
		}
		at := map[float64][]int{} // several levels where a cast repeats a pressure, of which the section has one
		for j, p := range c.PressureDbar {
			at[p] = append(at[p], j)
		}
		for j := range k.Columns {
			col := &k.Columns[j]
			o := c.Column(col.Name)
			if o == nil {
				if col.Name != "dynamic_height" {
					a.fault("table.section", rel, col.Name, "is not in %s", path.Base(a.castNC()))
				}
				continue
			}
			if o.Derived && !col.Derived && !col.HasValue() {
				// derived in this cast, measured in others: a section file holds the measured ones
				continue
			}
			for n, v := range col.Values {
				same := func(m int) bool { return v == o.Values[m] || math.IsNaN(v) && math.IsNaN(o.Values[m]) }
				flagged := func(m int) bool {
					return same(m) && (col.Flags == nil || o.Flags == nil ||
						col.Flags[n] == o.Flags[m])
				}
				if levels := at[k.PressureDbar[n]]; !slices.ContainsFunc(levels, same) {
					a.fault("table.section", rel, col.Name, "cast %s at %g dbar: %g is not the value of %s", id,
						k.PressureDbar[n], v, path.Base(a.castNC()))
					break
				} else if !slices.ContainsFunc(levels, flagged) {
					a.fault("table.section", rel, col.Name+"_flag_woce", "cast %s at %g dbar: %d is not the flag of %s",
						id, k.PressureDbar[n], col.Flags[n],
						path.Base(a.castNC()))
					break
				}
			}
		}
	}
}

// isMean says whether the casts of a section are means of repeats, which no other file holds.
func (a *archive) isMean(rel string) bool {
	_, c := a.sectionNames()
	if c == nil {
		return false
	}
	name := strings.TrimSuffix(path.Base(rel), "_section.nc")
	for i := range c.Sections {
		if c.Sections[i].Name == name {
			return c.Sections[i].Repeats == section.MeanOf
		}
	}
	return false
}

// transports compares the table of transports with the files of station pairs.
func (a *archive) transports() {
	const rel = "data/tables/transports.csv"
	rows := a.readCSV(rel, "section", "what", "station_a", "station_b", "lower", "upper", "bound_unit", "kind", "unit",
		"transport", "stated_error")
	if rows == nil {
		return
	}
	column := func(name string) int { return slices.Index(rows[0], name) }
	distance, status, positive := column("distance_km"), column("status"), column("positive_towards_deg")
	if distance < 0 || status < 0 || positive < 0 {
		a.fault("table.read", rel, "", "its head line is not that of the table")
		return
	}
	scale := map[string]float64{"volume": 1e-6, "mass": 1e-9, "temperature": 1e-15, "heat": 1e-15, "salt": 1e-6,
		"freshwater": 1e-9}
	variable := map[string]string{"volume": "transport", "mass": "transport_mass",
		"temperature": "transport_temperature", "heat": "transport_heat", "salt": "transport_salt",
		"freshwater": "transport_freshwater"}
	pairs := map[string]int{} // pairs of each section that have a line, by section and kind
	seen := map[string]int{}
	for n, r := range rows[1:] {
		name, f := r[0], a.open("data/sections/"+r[0]+"_geostrophy.nc")
		if f == nil {
			if _, there := a.sums["data/sections/"+name+"_geostrophy.nc"]; !there {
				a.fault("table.transports", rel, "", "line %d: section %s has no file of station pairs", n+2, name)
			}
			continue
		}
		say := func(v, format string, args ...any) {
			a.report.Findings = append(a.report.Findings,
				metadata.Finding{Position: metadata.Position{File: rel, Line: n + 2}, Severity: metadata.Failure,
					Check: "table.transports", Variable: v, Message: fmt.Sprintf(format, args...)})
		}
		k := r[7]
		if k == "all" { // of a pair without velocity
			k = ""
		}
		v := variable[k]
		switch r[1] {
		case "pair":
			key := name + " " + k
			i := pairs[key]
			if k == "" { // withheld: one line for all kinds
				i = seen[name]
			}
			words := f.WordsOf("station_a")
			for ; k != "" && i < len(words) && !hasVelocity(f, i); i++ {
			}
			for ; k == "" && i < len(words) && hasVelocity(f, i); i++ {
			}
			if i >= len(words) {
				say("", "more pairs than in NetCDF")
				continue
			}
			if k == "" {
				seen[name] = i + 1
			} else {
				pairs[key] = i + 1
			}
			other := f.WordsOf("station_b")
			if r[2] != words[i] || i >= len(other) || r[3] != other[i] {
				say("", "pair %s, %s is not pair %d of NetCDF", r[2], r[3], i+1)
				continue
			}
			if x := f.NumbersOf("pair_length"); i < len(x) && !sameNumber(r[distance], x[i]) {
				say("pair_length", "%s km, in NetCDF %g", r[distance], x[i])
			}
			if k == "" {
				continue
			}
			for _, w := range []struct {
				column int
				name   string
			}{{9, v}, {10, v + "_err"}, {column("part_per_cast"), v + "_err_per_cast"},
				{column("part_common"), v + "_err_common"},
				{column("part_position"), v + "_err_position"}, {column("cumulative"), v + "_cumulative"},
				{column("second_reference"), v + "_second"}} {
				x := f.NumbersOf(w.name)
				if w.column < 0 || x == nil {
					continue
				}
				if y := x[i]; !sameNumber(r[w.column], y*scale[k]) {
					say(w.name, "%s, in NetCDF %g", r[w.column], y*scale[k])
				}
			}
		case "section":
			at := f.Var(v)
			if at < 0 {
				continue
			}
			for _, w := range []struct {
				column int
				attr   string
			}{{9, "total"}, {10, "total_standard_error"}, {column("part_per_cast"), "total_standard_error_per_cast"},
				{column("part_common"), "total_standard_error_common"}} {
				x := nc.Floats(f.Vars[at].Attr(w.attr))
				if w.column < 0 || len(x) != 1 {
					continue
				}
				if !sameNumber(r[w.column], x[0]*scale[k]) {
					say(v, "%s of the section %s, in NetCDF %g", w.attr, r[w.column], x[0]*scale[k])
				}
			}
		}
	}
	for _, file := range a.with("data/sections/", "_geostrophy.nc") {
		f := a.open(file)
		if f == nil {
			continue
		}
		name := strings.TrimSuffix(path.Base(file), "_geostrophy.nc")
		if i := pairs[name+" volume"]; i == 0 && slices.ContainsFunc(f.NumbersOf("pair_status"),
			func(x float64) bool { return x < 2 }) {
			a.fault("table.transports", rel, "", "has no line of section %s", name)
		}
		a.pairCasts(file, name, f)
	}
}

// hasVelocity says whether a pair was computed, questionable or not (CF flags 0 and 1 of pair_status).
func hasVelocity(f *nc.File, i int) bool {
	x := f.NumbersOf("pair_status")
	return i < len(x) && x[i] < 2
}

func orNaN(x float64) float64 {
	if x == -9999 {
		return math.NaN()
	}
	return x
}

// pairCasts compares the casts of station pairs with those of the section.
func (a *archive) pairCasts(file, name string, f *nc.File) {
	s := a.open("data/sections/" + name + "_section.nc")
	if s == nil {
		return
	}
	ids := s.WordsOf("profile_id")
	for _, v := range []string{"cast_a", "cast_b"} {
		for _, id := range f.WordsOf(v) {
			if !slices.Contains(ids, id) {
				a.fault("table.section", file, v, "cast %s is not in section %s", id, name)
			}
		}
	}
}
