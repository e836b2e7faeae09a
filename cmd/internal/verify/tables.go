package verify

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"math"
	"path"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// covered returns the bytes of a file that a verified checksum covers; nil when none does (which the check of the bag
// reports), when it is not there (a fault, with why it should be) or cannot be read (a fault).
func (a *archive) covered(rel, why string) []byte {
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

// A table is a table of the archive.
type table struct {
	a    *archive
	rel  string
	head []string
	rows [][]string
}

// readTable returns a table of the archive that begins with a head line; nil when it is not there, not covered by a
// verified checksum, or has another head.
func (a *archive) readTable(rel string, head []string) *table {
	data := a.covered(rel, "an archive has this table")
	if data == nil {
		return nil
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		a.fault("table.read", rel, "", "is not CSV: %v", err)
		return nil
	}
	if len(rows) == 0 || !slices.Equal(rows[0], head) {
		a.fault("table.read", rel, "", "its head line is not that of the table")
		return nil
	}
	for _, row := range rows {
		for i := range row {
			row[i] = export.CellText(row[i])
		}
	}
	return &table{a, rel, head, rows[1:]}
}

// cell returns the cell of a row in a column.
func (t *table) cell(row []string, column string) string { return row[slices.Index(t.head, column)] }

// fault reports a row.
func (t *table) fault(check string, row int, cast, variable, format string, args ...any) {
	t.a.found(metadata.Finding{Position: metadata.Position{File: t.rel, Line: row + 2}, Severity: metadata.Failure,
		Check: check, Cast: cast, Variable: variable}, format, args)
}

// written returns the lines of a table as package export writes it, the head line first.
func written(write func(io.Writer) error) [][]string {
	var b bytes.Buffer
	err := write(&b)
	rows, err2 := csv.NewReader(&b).ReadAll()
	if err = errors.Join(err, err2); err != nil {
		panic("verify: a table is not written: " + err.Error()) // into memory
	}
	return rows
}

// tables compares the tables of the archive with each other and with NetCDF; inputs are the checksums of the inputs by
// name.
func (a *archive) tables(ctx context.Context, inputs map[string]string) error {
	all, members := a.allCasts(), a.sectionMembers()
	var rows []export.StationRow
	if all != nil {
		for i, c := range all.Casts {
			rows = append(rows, export.StationRow{ID: all.IDs[i], Cast: c, Sections: members[all.IDs[i]]})
		}
	}
	a.stations(inputs, rows, members != nil)
	a.geojson(rows, members != nil)
	a.findings()
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, end := range []string{castsEnd, seriesEnd} {
		for _, rel := range a.with(sectionFile("", ""), end) {
			a.section(rel)
		}
	}
	a.transports()
	a.budgets()
	return nil
}

// sameNumber compares a number in a table, printed in its decimals, with the value.
func sameNumber(text string, v float64) bool {
	if text == "" {
		return math.IsNaN(v)
	}
	x, err := strconv.ParseFloat(text, 64)
	_, after, _ := strings.Cut(text, ".")
	return err == nil && math.Abs(x-v) <= 0.5000001*math.Pow(10, -float64(len(after)))+1e-9*math.Abs(v)*1e-3
}

// Columns of the table of stations that are numbers in their own decimals, that need the levels of each cast, and that
// NetCDF does not hold.
var (
	stationNumbers = []string{"latitude_deg", "longitude_deg", "water_depth_m", "first_pressure_dbar",
		"last_pressure_dbar"}
	stationLevels = []string{"first_pressure_dbar", "last_pressure_dbar", "levels"}
	stationOther  = []string{"time_is", "left_out", "file", "sha256", "remark", "bottom_time_utc", "end_time_utc",
		"bottles", "height_above_bottom_m", "parameters", "event"}
)

// stations compares the table of stations with the same made of the casts in NetCDF; sections says whether the
// sections of each are known.
func (a *archive) stations(inputs map[string]string, rows []export.StationRow, sections bool) {
	want := written(func(w io.Writer) error { return export.WriteStations(w, rows) })
	t := a.readTable("data/tables/stations.csv", want[0])
	if t == nil {
		return
	}
	byID := map[string][]string{}
	for _, r := range want[1:] {
		byID[t.cell(r, "cast_id")] = r
	}
	kept := map[string]bool{}
	for n, r := range t.rows {
		id, file, sum := t.cell(r, "cast_id"), t.cell(r, "file"), t.cell(r, "sha256")
		if input, ok := inputs[file]; ok && sum != "" && input != sum {
			t.fault("table.stations", n, id, "", "the checksum of %s is not that of the table of inputs", file)
		}
		if t.cell(r, "left_out") != "" {
			continue
		}
		kept[id] = true
		if byID[id] == nil && rows != nil {
			t.fault("table.stations", n, id, "", "is not in %s", path.Base(a.castNC()))
		}
		for k, w := range byID[id] {
			name := t.head[k]
			if slices.Contains(stationOther, name) || name == "sections" && !sections ||
				slices.Contains(stationLevels, name) && !a.casts.Exact {
				continue
			}
			same := r[k] == w
			if x, err := strconv.ParseFloat(w, 64); err == nil && slices.Contains(stationNumbers, name) {
				same = sameNumber(r[k], x)
			}
			if !same {
				t.fault("table.stations", n, id, name, "%q, in NetCDF %q", r[k], w)
			}
		}
	}
	for _, row := range rows {
		if !kept[row.ID] {
			a.fault("table.stations", t.rel, "", "has no line for cast %s of %s", row.ID, path.Base(a.castNC()))
		}
	}
}

// sectionMembers returns the sections that each cast is in, in the order in which the table of stations lists them; nil
// when a section file cannot be read, or holds means of casts.
func (a *archive) sectionMembers() map[string][]string {
	c := a.cruise()
	if c == nil {
		return nil
	}
	out := map[string][]string{}
	for i := range c.Sections {
		rel := sectionFile(c.Sections[i].Name, castsEnd)
		if _, there := a.sums[rel]; !there {
			continue
		}
		f := a.open(rel)
		if f == nil || c.Sections[i].Repeats == section.MeanOf {
			return nil
		}
		for _, id := range f.WordsOf("profile_id") {
			if !slices.Contains(out[id], c.Sections[i].Name) {
				out[id] = append(out[id], c.Sections[i].Name)
			}
		}
	}
	return out
}

// features returns the features of GeoJSON by their id; nil when it is none.
func features(data []byte) map[string]map[string]any {
	var doc struct {
		Type     string
		Features []map[string]any
	}
	if json.Unmarshal(data, &doc) != nil || doc.Type != "FeatureCollection" {
		return nil
	}
	out := map[string]map[string]any{}
	for _, f := range doc.Features {
		id, _ := f["id"].(string)
		out[id] = f
	}
	return out
}

// geojson compares the points and lines of the map with those made of the casts and sections in NetCDF. Other features
// are casts that were left out, which the table of stations lists.
func (a *archive) geojson(rows []export.StationRow, members bool) {
	const rel = "data/tables/stations.geojson"
	data := a.covered(rel, "an archive has this table")
	if data == nil {
		return
	}
	got := features(data)
	if got == nil {
		a.fault("table.geojson", rel, "", "is not GeoJSON")
		return
	}
	var lines []*section.Section
	for _, file := range a.with(sectionFile("", ""), castsEnd) {
		if f := a.open(file); f != nil {
			if s, err := ncprofile.ReadCasts(f); err == nil {
				lines = append(lines, ncprofile.SectionOf(f, sectionName(file, castsEnd), s))
			}
		}
	}
	var b bytes.Buffer
	if err := export.WriteStationsGeoJSON(&b, rows, lines); err != nil {
		a.fault("table.geojson", rel, "", "cannot be made of NetCDF: %v", err)
		return
	}
	for id, want := range features(b.Bytes()) {
		f := got[id]
		if f == nil {
			a.fault("table.geojson", rel, "", "has no feature %s", id)
			continue
		}
		for _, part := range []string{"geometry", "properties"} {
			if p, ok := f[part].(map[string]any); ok && !members && p["sections"] != nil {
				p["sections"] = ""
			}
			if !reflect.DeepEqual(f[part], want[part]) {
				a.fault("table.geojson", rel, "", "the %s of %s is not that of NetCDF", part, id)
			}
		}
	}
}

// findings checks the form of the table of findings.
func (a *archive) findings() {
	head := written(func(w io.Writer) error { return export.WriteFindings(w, nil) })[0]
	t := a.readTable("data/tables/findings.csv", head)
	if t == nil {
		return
	}
	for n, r := range t.rows {
		if s := t.cell(r, "severity"); s != "note" && s != "warning" {
			t.fault("table.findings", n, "", "", "severity %q in a finished archive", s)
		}
		if t.cell(r, "check") == "" || t.cell(r, "message") == "" {
			t.fault("table.findings", n, "", "", "has no check or no message")
		}
		for _, name := range []string{"first_dbar", "last_dbar", "count", "proposed_flag", "line", "column"} {
			if _, err := strconv.ParseFloat(t.cell(r, name), 64); t.cell(r, name) != "" && err != nil {
				t.fault("table.findings", n, "", "", "%s is %q", name, t.cell(r, name))
			}
		}
	}
}

// provenanceFile is where an archive has its provenance.
const provenanceFile = "data/provenance/prov.json"

// A provenance is a PROV-JSON document: parts such as entity or wasGeneratedBy, and what each has by its key.
type provenance map[string]map[string]any

// readProvenance reads PROV-JSON.
func readProvenance(name string) (provenance, error) {
	data, err := regular.ReadFile(name)
	if err != nil {
		return nil, err
	}
	var doc provenance
	err = json.Unmarshal(data, &doc)
	return doc, err
}

// text returns a text that a part has under a key.
func (p provenance) text(part, key, name string) string {
	e, _ := p[part][key].(map[string]any)
	s, _ := e[name].(string)
	return s
}

// outputs returns the entities that are files that were written, each with its path in the archive.
func (p provenance) outputs() map[string]string {
	out := map[string]string{}
	for relation := range p["wasGeneratedBy"] {
		key := p.text("wasGeneratedBy", relation, "prov:entity")
		out[key] = "data/" + p.text("entity", key, "prov:location")
	}
	return out
}

// provenance compares the checksums in the provenance with inputs and outputs.
func (a *archive) provenance(inputs map[string]string) {
	const rel = provenanceFile
	if a.covered(rel, "an archive has its provenance") == nil {
		return
	}
	doc, err := readProvenance(a.path(rel))
	if err != nil {
		a.fault("table.provenance", rel, "", "is not PROV-JSON: %v", err)
		return
	}
	if len(doc["entity"]) == 0 || len(doc["activity"]) == 0 {
		a.fault("table.provenance", rel, "", "names no entity or no activity")
	}
	if by := doc.text("agent", "ex:program", "prov:label"); by != a.madeBy() {
		a.fault("table.provenance", rel, "", "the program is %q, in bag-info.txt %q", by, a.madeBy())
	}
	outputs := doc.outputs()
	for key := range doc["entity"] {
		where, sum := doc.text("entity", key, "prov:location"), doc.text("entity", key, "ex:sha256")
		want, listed := inputs[where]
		file, written := outputs[key]
		have, there := a.sums[file]
		switch {
		case written && !there:
			a.fault("table.provenance", file, "", "is named in the provenance and not there")
		case written && sum != "" && hex.EncodeToString(have[:]) != sum:
			a.fault("table.provenance", file, "", "is not what the provenance says was written")
		case written || inputs == nil:
		case listed && want != sum:
			a.fault("table.provenance", rel, "", "input %s has another checksum than in the table of inputs", where)
		case !listed && !strings.Contains(where, "_ct1.zip/"):
			a.fault("table.provenance", rel, "", "input %s is not in the table of inputs", where)
		}
	}
}
