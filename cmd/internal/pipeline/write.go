package pipeline

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// write makes the whole archive in dir, an empty folder.
func (w *work) write(ctx context.Context, dir string) error {
	w.stamp = archiveStamp(w.plan.Epoch, w.cruise, w.casts, w.dates)
	describe(&w.cruise.Cruise, w.casts)
	for i := range w.records { // those of the steps before the stamp was known
		w.records[i].At = w.stamp
	}
	if err := w.flows(ctx); err != nil {
		return err
	}
	done := w.stage("grid")
	if err := w.grids(ctx); err != nil {
		return err
	}
	done()
	w.data = filepath.Join(dir, "data")
	w.ids = w.castIDs()
	x := &netcdf.Common{Cruise: &w.cruise.Cruise, Created: w.stamp, Program: w.plan.Program, History: w.records, Workers: workers(w.plan.Workers),
		ID: func(k *section.Cast) string { return w.ids[k] }}
	steps := []struct {
		name string
		do   func() error
	}{
		{"write casts.nc", func() error { return w.writeCasts(ctx, x) }},
		{"", func() error { return w.writeExchange(ctx) }},
		{"write sections", func() error { return w.writeSections(ctx, x) }},
		{"write grids", func() error { return w.writeGrids(ctx, x) }},
		{"write fields", func() error { return w.writeFields(ctx, x) }},
		{"figures", func() error { return w.writeFigures(ctx) }},
		{"inputs.zip", func() error { return w.writeInputs(ctx) }},
		{"tables", func() error { return w.writeTables(ctx) }},
	}
	for i, s := range steps {
		if err := ctx.Err(); err != nil {
			return err
		}
		done := func() {}
		if s.name != "" {
			done = w.stage(s.name)
		}
		if err := s.do(); err != nil {
			return err
		}
		done()
		w.step(i+1, len(steps)+1)
	}
	done = w.stage("bag")
	if err := w.writeDocuments(ctx); err != nil {
		return err
	}
	err := bag.Write(ctx, dir, w.bagInfo())
	if err != nil {
		return err
	}
	done()
	w.step(len(steps)+1, len(steps)+1)
	return w.count(dir)
}

func (w *work) step(done, total int) {
	if w.plan.Progress != nil {
		w.plan.Progress(len(w.inputs)+done, len(w.inputs)+total)
	}
}

// place gives the absolute path of an archive file below data and notes what it is; folders are made on the way.
func (w *work) place(rel, what string) (string, error) {
	path := filepath.Join(w.data, filepath.FromSlash(rel))
	w.notes = append(w.notes, export.FileNote{Path: rel, What: what})
	return path, os.MkdirAll(filepath.Dir(path), 0o755)
}

// put writes one small file whole.
func (w *work) put(rel, what string, fill func(io.Writer) error) error {
	path, err := w.place(rel, what)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := fill(&b); err != nil {
		return fmt.Errorf("%s: %w", rel, err)
	}
	return os.WriteFile(path, b.Bytes(), 0o644)
}

func (w *work) record(r metadata.Record) {
	r.Tool, r.At = w.plan.Program, w.stamp
	w.records = append(w.records, r)
}

func (w *work) writeCasts(ctx context.Context, x *netcdf.Common) error {
	rel := "casts/" + w.cruise.ID + "_ctd.nc"
	path, err := w.place(rel, "All casts: measured values with their flags, and what was derived from them. CF profile collection.")
	if err != nil {
		return err
	}
	if err := netcdf.WriteCasts(ctx, path, x, w.casts); err != nil {
		return err
	}
	w.record(metadata.Record{Step: "write", Text: "casts as CF profiles", Inputs: w.castDigests(w.casts), Outputs: []string{rel}})
	return nil
}

// with returns x for a file that further steps made: its history ends with them. Their settings are in attributes of the file.
func with(x *netcdf.Common, steps ...metadata.Record) *netcdf.Common {
	y := *x
	y.History = append(slices.Clone(x.History), steps...)
	return &y
}

// step is the record of how the casts of a section were put together, without inputs and outputs.
func (s *sectionWork) step() metadata.Record {
	return metadata.Record{Step: "section", Text: "casts of section " + s.settings.Name,
		Params: []metadata.Param{{Name: "stations", Value: s.settings.Stations.String()}, {Name: "distance", Value: s.settings.Distance.String()},
			{Name: "repeats", Value: orDefault(string(s.settings.Repeats), "primary casts only")}}}
}

func (w *work) writeSections(ctx context.Context, x *netcdf.Common) error {
	for i := range w.sections {
		s := &w.sections[i]
		name := s.settings.Name
		rel := "sections/" + name + "_section.nc"
		path, err := w.place(rel, fmt.Sprintf("The casts of section %s in order along the track. CF profiles.", name))
		if err != nil {
			return err
		}
		assembled := s.step()
		assembled.Inputs, assembled.Outputs = w.castDigests(s.section.Casts), []string{rel}
		steps := []metadata.Record{assembled}
		if s.flow != nil { // its dynamic height is in the file
			steps = append(steps, metadata.Record{Step: "derive", Text: "dynamic height of the stations of section " + name})
		}
		if err := netcdf.WriteSection(ctx, path, with(x, steps...), w.forFile(s), s.settings.Title); err != nil {
			return err
		}
		w.record(assembled)
		if s.flow == nil {
			continue
		}
		rel = "sections/" + name + "_geostrophy.nc"
		path, err = w.place(rel, fmt.Sprintf("Dynamic height, geostrophic velocity and transport of section %s by station pair.", name))
		if err != nil {
			return err
		}
		computed := metadata.Record{Step: "geostrophy", Text: "dynamic height, velocity and transport of section " + name}
		if err := netcdf.WriteGeostrophy(ctx, path, with(x, assembled, computed), s.flow, s.settings.Title); err != nil {
			return err
		}
		outputs := []string{rel, "tables/transports.csv"}
		if s.settings.Velocity.EquatorialEstimate {
			outputs = append(outputs, equatorialFile(name))
		}
		computed.Inputs, computed.Outputs, computed.Params = append(w.castDigests(s.section.Casts), w.knownDigest(s.settings)...), outputs, s.flow.Params
		w.record(computed)
	}
	return nil
}

func (w *work) writeGrids(ctx context.Context, x *netcdf.Common) error {
	for i := range w.sections {
		s := &w.sections[i]
		if s.grid == nil {
			continue
		}
		rel := "sections/" + s.settings.Name + "_grid.nc"
		path, err := w.place(rel, fmt.Sprintf("Section %s mapped on distance and pressure, with error, mask and skill.", s.settings.Name))
		if err != nil {
			return err
		}
		mapped := metadata.Record{Step: "grid", Text: "section " + s.settings.Name + " mapped"}
		if err := netcdf.WriteGrid(ctx, path, with(x, s.step(), mapped), s.grid, netcdf.GridSource{Casts: s.section.Casts, Section: s.settings.Name, Title: s.settings.Title, Along: s.section.Method}); err != nil {
			return err
		}
		mapped.Inputs, mapped.Outputs, mapped.Params = w.castDigests(s.section.Casts), []string{rel}, slices.Concat(s.grid.Params, s.grid.Results)
		w.record(mapped)
	}
	return nil
}

func orDefault(s, d string) string {
	if s == "" {
		return d
	}
	return s
}

// writeTables writes the tables of the archive.
func (w *work) writeTables(ctx context.Context) error {
	rows := w.stationRows()
	var secs []*section.Section
	for i := range w.sections {
		secs = append(secs, w.sections[i].section)
	}
	if err := w.put("tables/stations.csv", "A line for each cast, those left out too: where, when, how deep, what for, from which file.",
		func(o io.Writer) error { return export.WriteStations(o, rows) }); err != nil {
		return err
	}
	if err := w.put("tables/stations.geojson", "Casts as points and sections as lines for a map (GeoJSON).",
		func(o io.Writer) error { return export.WriteStationsGeoJSON(o, rows, secs) }); err != nil {
		return err
	}
	w.record(metadata.Record{Step: "write", Text: "ledger of the casts", Inputs: w.castDigests(w.casts), Outputs: []string{"tables/stations.csv", "tables/stations.geojson"}})
	if err := w.put("tables/transports.csv", "Transports by station pair and of each section, with their uncertainty and what they leave out.",
		func(o io.Writer) error { return w.transports(o) }); err != nil {
		return err
	}
	for i := range w.sections {
		if s := &w.sections[i]; s.flow != nil && s.settings.Velocity.EquatorialEstimate {
			if err := w.put(equatorialFile(s.settings.Name), "Estimate of the eastward velocity at the stations of section "+s.settings.Name+
				" within 3 degrees of the equator, from the curvature of dynamic height: where station pairs have none.",
				func(o io.Writer) error { return export.WriteEquatorial(o, s.flow) }); err != nil {
				return err
			}
		}
	}
	numbers, err := w.castNumbers(ctx)
	if err != nil {
		return err
	}
	if err := w.put(castNumbersFile, "Numbers of each primary cast: mixed layer depth, heat content, steric height, first baroclinic mode.",
		func(o io.Writer) error { return export.WriteCastNumbers(o, numbers) }); err != nil {
		return err
	}
	found := metadata.JoinFindings(w.findings)
	w.record(metadata.Record{Step: "write", Text: "findings", Inputs: w.sources, Outputs: []string{"tables/findings.csv"}})
	return w.put("tables/findings.csv", "Findings to review.",
		func(o io.Writer) error { return export.WriteFindings(o, found) })
}

const castNumbersFile = "tables/cast_numbers.csv"

// equatorialFile is where the estimate at the equator stands.
func equatorialFile(section string) string { return "tables/equatorial_" + section + ".csv" }

// stationRows gives the ledger: casts in the order of the archive, then what was left out.
func (w *work) stationRows() []export.StationRow {
	var rows []export.StationRow
	for _, k := range w.casts {
		r := export.StationRow{ID: w.ids[k], Cast: k, File: k.Source.Name, Remark: w.remarks[k]}
		for i := range w.sections {
			if slices.Contains(w.sections[i].section.Casts, k) || inMean(w.sections[i].section.Places, k) {
				r.Sections = append(r.Sections, w.sections[i].settings.Name)
			}
		}
		rows = append(rows, r)
	}
	for _, l := range w.out {
		r := export.StationRow{Cast: l.cast, File: l.file, LeftOut: orUnstated(l.reason)}
		if l.cast != nil {
			r.ID = l.cast.ID()
		}
		rows = append(rows, r)
	}
	return rows
}

// inMean says whether a cast stands in a section as part of a mean of several.
func inMean(places []section.Place, k *section.Cast) bool {
	return slices.ContainsFunc(places, func(p section.Place) bool { return p.Mean != nil && slices.Contains(p.Others, k) })
}

// writeDocuments writes README, history and provenance, last of all since they name everything else.
func (w *work) writeDocuments(ctx context.Context) error {
	w.notes = append(w.notes,
		export.FileNote{Path: "provenance/history.txt", What: "What was done, a line a step."},
		export.FileNote{Path: "provenance/prov.json", What: "The same for machines: inputs, steps with every setting, outputs (W3C PROV-JSON)."},
		export.FileNote{Path: "README.txt", What: "This file."})
	files := slices.Clone(w.notes)
	sort.SliceStable(files, func(i, j int) bool { return files[i].Path < files[j].Path })
	c := w.cruise
	r := &export.Readme{Cruise: c.ID, Title: c.Title, Status: string(c.Release.Status), Licence: c.Release.Licence, Contact: c.Release.Contact,
		Embargo: c.Release.Embargo, Citation: c.Release.Citation, Casts: len(w.casts), Files: files, Tool: w.plan.Program, At: w.stamp, Notes: w.madeHow(), About: w.about()}
	if slices.ContainsFunc(w.sections, func(s sectionWork) bool { return s.grid != nil }) || slices.ContainsFunc(w.fields, func(f fieldWork) bool { return f.grid != nil }) {
		notes := export.KeyNotes{Attributes: "grid_settings_json AND grid_results_json"}
		for _, k := range gridding.Settings() {
			notes.Keys = append(notes.Keys, [2]string{k.Name, k.What})
		}
		r.Keys = append(r.Keys, notes)
	}
	if slices.ContainsFunc(w.sections, func(s sectionWork) bool { return s.flow != nil }) {
		notes := export.KeyNotes{Attributes: "geostrophy_settings_json"}
		for _, k := range geostrophy.Settings() {
			notes.Keys = append(notes.Keys, [2]string{k.Name, k.What})
		}
		r.Keys = append(r.Keys, notes)
	}
	for _, l := range w.out {
		name := l.file
		if l.cast != nil {
			name += " (cast " + l.cast.ID() + ")"
		}
		r.LeftOut = append(r.LeftOut, name+": "+orUnstated(l.reason))
	}
	outputs := map[string][32]byte{}
	for _, rec := range w.records {
		for _, rel := range rec.Outputs {
			if _, done := outputs[rel]; done {
				continue
			}
			if w.plan.Compared != nil { // the checksums in the old archive are compared with its own files
				outputs[rel] = [32]byte{}
				continue
			}
			sum, _, err := regular.Sum(ctx, filepath.Join(w.data, filepath.FromSlash(rel)))
			if err != nil {
				return fmt.Errorf("provenance: %w", err)
			}
			outputs[rel] = sum
		}
	}
	p := &export.Provenance{Cruise: c.ID, Tool: w.plan.Program, Plan: w.plan0, Records: w.records, Outputs: outputs, Agents: w.agents(), At: w.stamp}
	write := func(rel string, fill func(io.Writer) error) error {
		path := filepath.Join(w.data, filepath.FromSlash(rel))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		var b bytes.Buffer
		if err := fill(&b); err != nil {
			return err
		}
		return os.WriteFile(path, b.Bytes(), 0o644)
	}
	if err := write("provenance/history.txt", func(o io.Writer) error { return export.WriteHistory(o, p) }); err != nil {
		return err
	}
	if err := write("provenance/prov.json", func(o io.Writer) error { return export.WriteProvenance(o, p) }); err != nil {
		return err
	}
	return write("README.txt", func(o io.Writer) error { return export.WriteReadme(o, r) })
}

// about says for the README what the cruise was: who, when and where.
func (w *work) about() [][2]string {
	c := w.cruise
	var out [][2]string
	add := func(head string, parts ...string) {
		if text := strings.Join(slices.DeleteFunc(slices.Clone(parts), func(s string) bool { return s == "" }), ", "); text != "" {
			out = append(out, [2]string{head, text})
		}
	}
	between := func(a, b string) string {
		if a == "" || b == "" {
			return a + b
		}
		return a + " to " + b
	}
	for _, s := range c.Ships {
		code := ""
		if s.Code != "" {
			code = "ICES code " + s.Code
		}
		add("Ship", s.Name, code)
	}
	for _, l := range c.Legs {
		chief := ""
		if l.ChiefScientist.Name != "" {
			chief = "chief scientist " + l.ChiefScientist.Name
		}
		ship := l.Ship
		for _, s := range c.Ships {
			if ship == "" && len(c.Ships) > 1 && s.Code != "" && strings.HasPrefix(l.Expocode, s.Code) {
				ship = s.Name
			}
		}
		add("Leg", l.Expocode, ship, between(l.Start, l.End), between(l.From, l.To), chief)
	}
	for i := range c.Legs {
		if p := &c.Legs[i].ChiefScientist; p.Role+p.Institution+p.Email != "" {
			add("Person", p.Name, orDefault(p.Role, "chief scientist"), p.Institution, p.Email)
		}
	}
	for _, p := range c.People {
		add("Person", p.Name, p.Role, p.Institution, p.Email)
	}
	for _, i := range c.Institutions {
		add("Institution", i.Name)
	}
	add("Project", c.Projects...)
	add("Funding", c.Funding...)
	add("References", c.References...)
	add("Sea area", c.Region)
	var lons []float64
	south, north := math.Inf(1), math.Inf(-1)
	var first, last time.Time
	for _, k := range w.casts {
		lons = append(lons, k.At.Lon())
		south, north = min(south, k.At.Lat()), max(north, k.At.Lat())
		if t := k.Time; !t.IsZero() {
			if first.IsZero() || t.Before(first) {
				first = t
			}
			if t.After(last) {
				last = t
			}
		}
	}
	if len(lons) > 0 {
		west, east := section.LongitudeRange(lons)
		add("Casts lie", fmt.Sprintf("from %.4f to %.4f degrees north", south, north), fmt.Sprintf("from %.4f to %.4f degrees east", west, east))
	}
	if !first.IsZero() {
		add("Casts taken", between(first.UTC().Format(time.DateOnly), last.UTC().Format(time.DateOnly))+" (UTC)")
	}
	return out
}

// madeHow gives the sentences on method that a reader of the archive must know.
func (w *work) madeHow() []string {
	out := []string{"Derived values follow TEOS-10 (IOC, SCOR and IAPSO 2010) with the 75-term specific volume (Roquet et al. 2015) and the Absolute Salinity " +
		"anomaly atlas (McDougall et al. 2012).", w.asRead()}
	if len(w.sections) > 0 {
		out = append(out, "Casts of a section are not simultaneous: inertial and tidal motion is in the geostrophic shear.",
			"Geostrophic velocity rests on the reference level named in each file; doubt about that level is larger than the stated error.",
			"Errors in tables/transports.csv and NAME_geostrophy.nc are standard errors. The stated error is the root of the sum of the squares of its parts "+
				"(columns part_...): errors of single casts, those common to a system of sensors where the cruise file divides its accuracy, of positions and of known "+
				"velocities. per_cast_if_common is no part: it is what part_per_cast would be if the accuracies that are not divided were common to a system. The choice of the reference and of the flow in bottom triangles "+
				"is not in it: compare the columns second_reference, no_triangle, constant_velocity_triangle, constant_shear_triangle and linear_to_zero_triangle.")
	}
	return out
}

// bagInfo gives bag-info.txt.
func (w *work) bagInfo() []bag.Field {
	c := w.cruise
	f := []bag.Field{{Label: "Bagging-Date", Value: w.stamp.UTC().Format("2006-01-02")}}
	add := func(label, value string) {
		if value = strings.Join(strings.Fields(value), " "); value != "" {
			f = append(f, bag.Field{Label: label, Value: value})
		}
	}
	for _, i := range c.Institutions {
		add("Source-Organization", i.Name)
	}
	add("Contact-Email", c.Release.Contact)
	add("External-Identifier", c.ID)
	add("External-Description", c.Title)
	add("Internal-Sender-Identifier", c.ID)
	add("Release-Status", string(c.Release.Status))
	add("Time-Stamp", w.stamp.UTC().Format(time.RFC3339))
	add("Bag-Software-Agent", w.plan.Program)
	return f
}

func (w *work) agents() []export.Agent {
	var out []export.Agent
	for _, l := range w.cruise.Legs {
		if l.ChiefScientist.Name != "" {
			out = append(out, export.Agent{Name: l.ChiefScientist.Name, ID: l.ChiefScientist.ORCID, Role: "chief scientist"})
		}
	}
	for _, p := range w.cruise.People {
		out = append(out, export.Agent{Name: p.Name, ID: p.ORCID, Role: p.Role})
	}
	for _, i := range w.cruise.Institutions {
		out = append(out, export.Agent{Name: i.Name, ID: i.ROR, Organisation: true})
	}
	return out
}

// count measures the finished folder.
func (w *work) count(dir string) error {
	return filepath.WalkDir(dir, func(_ string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		w.files++
		w.bytes += info.Size()
		return nil
	})
}

func (w *work) castDigests(casts []*section.Cast) []metadata.Digest {
	var out []metadata.Digest
	for _, k := range casts {
		if k.Source.Name != "" {
			out = append(out, k.Source)
			continue
		}
		for i := range w.sections { // the mean of several casts comes from the files of all of them
			for _, p := range w.sections[i].section.Places {
				if p.Chosen == k && p.Mean != nil {
					for _, o := range p.Others {
						out = append(out, o.Source)
					}
				}
			}
		}
	}
	return out
}

// knownDigest gives the table of levels or velocities that a section rests on; nothing when it has none.
func (w *work) knownDigest(s *cruisefile.Section) []metadata.Digest {
	if s.Known.Path != "" {
		for _, d := range w.sources {
			if d.Name == path.Clean(s.Known.Path) {
				return []metadata.Digest{d}
			}
		}
	}
	return nil
}

// transports writes the table of transports of all sections.
func (w *work) transports(o io.Writer) error {
	var rs []*geostrophy.Result
	for i := range w.sections {
		if w.sections[i].flow != nil {
			rs = append(rs, w.sections[i].flow)
		}
	}
	return export.WriteTransports(o, rs)
}
