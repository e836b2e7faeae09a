package pipeline

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// archive is the archive of a cruise while it is written.
type archive struct {
	*survey
	data  string // its data folder
	ids   map[*section.Cast]string
	notes []export.FileNote
}

// folderSize is how many files a folder holds.
type folderSize struct {
	files int
	bytes int64
}

// compute computes what the archive holds beside the casts.
func (c *survey) compute(ctx context.Context) error {
	if err := c.derive(ctx); err != nil {
		return err
	}
	if err := c.assembleSections(ctx); err != nil || c.failed() {
		return err
	}
	describe(&c.cruise.Cruise, c.casts)
	if err := c.flows(ctx); err != nil {
		return err
	}
	if err := c.read(); err != nil {
		return err
	}
	defer c.stage("grid")()
	return c.grids(ctx)
}

// write makes the whole archive in dir, an empty folder.
func (c *survey) write(ctx context.Context, dir string) (folderSize, error) {
	w := &archive{survey: c, data: filepath.Join(dir, "data"), ids: c.castIDs()}
	if err := w.writeFiles(ctx); err != nil {
		return folderSize{}, err
	}
	done := w.stage("bag")
	if err := w.writeDocuments(ctx); err != nil {
		return folderSize{}, err
	}
	writeBag := bag.Write
	if w.plan.Compared != nil { // the files themselves are compared, not the lists of their checksums
		writeBag = func(_ context.Context, dir string, info []bag.Field) error {
			_, err := bag.WriteInfo(dir, info)
			return err
		}
	}
	if err := writeBag(ctx, dir, w.bagInfo()); err != nil {
		return folderSize{}, err
	}
	done()
	w.step(writeSteps+1, writeSteps+1)
	return sizeOf(dir)
}

// writeSteps is how many steps writeFiles has.
const writeSteps = 10

// writeFiles writes the files of the archive that hold data.
func (w *archive) writeFiles(ctx context.Context) error {
	x := &netcdf.Common{Cruise: &w.cruise.Cruise, Created: w.stamp, Program: w.plan.Program, History: w.records,
		Workers: workers(w.plan.Workers),
		ID:      func(k *section.Cast) string { return w.ids[k] }}
	steps := [writeSteps]struct {
		name string
		do   func() error
	}{
		{"write casts.nc", w.ofCasts(func() error { return w.writeCasts(ctx, x) })},
		{"", w.ofCasts(func() error { return w.writeExchange(ctx) })},
		{"write sections", func() error { return w.writeSections(ctx, x) }},
		{"write time series", func() error { return w.writeSeries(ctx, x) }},
		{"write grids", func() error { return w.writeGrids(ctx, x) }},
		{"write anomalies", func() error { return w.writeAnomalies(ctx, x) }},
		{"write fields", func() error { return w.writeFields(ctx, x) }},
		{"figures", w.ofCasts(func() error { return w.writeFigures(ctx) })},
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
		w.step(i+1, writeSteps+1)
	}
	return nil
}

// ofCasts returns a step that writes casts: nothing is done while a cruise has none yet.
func (w *archive) ofCasts(do func() error) func() error {
	if len(w.casts) == 0 {
		return func() error { return nil }
	}
	return do
}

func (w *inputs) step(done, total int) {
	if w.plan.Progress != nil {
		w.plan.Progress(len(w.toRead)+done, len(w.toRead)+total)
	}
}

// castIDs returns the identity of each cast in the archive.
func (w *survey) castIDs() map[*section.Cast]string {
	ids := section.IDs(w.casts)
	m := make(map[*section.Cast]string, len(ids))
	for i, k := range w.casts {
		m[k] = ids[i]
	}
	for i := range w.sections { // the mean of several casts goes by the first of them
		for _, p := range w.sections[i].section.Places {
			if p.Mean != nil && len(p.Others) > 0 {
				m[p.Chosen] = m[p.Others[0]]
			}
		}
	}
	return m
}

// place returns the absolute path of an archive file below data and notes what it is; folders are made on the way.
func (w *archive) place(rel, what string) (string, error) {
	path := filepath.Join(w.data, filepath.FromSlash(rel))
	w.notes = append(w.notes, export.FileNote{Path: rel, What: what})
	w.file("write", rel)
	return path, os.MkdirAll(filepath.Dir(path), 0o755)
}

// put writes one small file whole.
func (w *archive) put(rel, what string, fill func(io.Writer) error) error {
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

func (w *survey) record(r metadata.Record) {
	r.Tool, r.At = w.plan.Program, w.stamp
	w.records = append(w.records, r)
}

func (w *archive) writeCasts(ctx context.Context, x *netcdf.Common) error {
	rel := "casts/" + w.cruise.ID + "_ctd.nc"
	path,
		err := w.place(rel,
		"All casts: measured values with their flags, and what was derived from them. CF profile collection.")
	if err != nil {
		return err
	}
	if err := netcdf.WriteCasts(ctx, path, x, w.casts); err != nil {
		return err
	}
	w.record(metadata.Record{Step: "write", Text: "casts as CF profiles", Inputs: w.castDigests(w.casts),
		Outputs: []string{rel}})
	return nil
}

// with returns x for a file that further steps made: its history ends with them. Their settings are in attributes of
// the file.
func with(x *netcdf.Common, steps ...metadata.Record) *netcdf.Common {
	y := *x
	y.History = append(slices.Clone(x.History), steps...)
	return &y
}

// step is the record of how the casts of a section were put together, without inputs and outputs.
func (s *sectionWork) step() metadata.Record {
	return metadata.Record{Step: "section", Text: "casts of section " + s.settings.Name,
		Params: []metadata.Param{{Name: "stations", Value: s.settings.Stations.String()},
			{Name: "distance", Value: s.settings.Distance.String()},
			{Name: "repeats", Value: orDefault(string(s.settings.Repeats), "primary casts only")}}}
}

func (w *archive) writeSections(ctx context.Context, x *netcdf.Common) error {
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
			steps = append(steps, metadata.Record{Step: "derive", Text: "dynamic height of the stations of section " +
				name})
		}
		if err := netcdf.WriteSection(ctx, path, with(x, steps...), w.forFile(s), s.settings.Title); err != nil {
			return err
		}
		w.record(assembled)
		if s.flow == nil {
			continue
		}
		rel = "sections/" + name + "_geostrophy.nc"
		path,
			err = w.place(rel,
			fmt.Sprintf("Dynamic height, geostrophic velocity and transport of section %s by station pair.", name))
		if err != nil {
			return err
		}
		computed := metadata.Record{Step: "geostrophy", Text: "dynamic height, velocity and transport of section " +
			name}
		if err := netcdf.WriteGeostrophy(ctx, path, with(x, assembled, computed), s.flow,
			s.settings.Title); err != nil {
			return err
		}
		outputs := []string{rel, "tables/transports.csv"}
		if s.flow.Budget != nil {
			outputs = append(outputs, budgetsFile)
		}
		if s.settings.Velocity.EquatorialEstimate {
			outputs = append(outputs, equatorialFile(name))
		}
		computed.Inputs, computed.Outputs, computed.Params = append(w.castDigests(s.section.Casts),
			w.knownDigest(s.settings)...), outputs, s.flow.Params
		w.record(computed)
	}
	return nil
}

func (w *archive) writeGrids(ctx context.Context, x *netcdf.Common) error {
	for i := range w.sections {
		s := &w.sections[i]
		if s.grid == nil {
			continue
		}
		rel := "sections/" + s.settings.Name + "_grid.nc"
		path, err := w.place(rel, fmt.Sprintf("Section %s mapped on distance and pressure, with error, mask and skill.",
			s.settings.Name))
		if err != nil {
			return err
		}
		mapped := metadata.Record{Step: "grid", Text: "section " + s.settings.Name + " mapped"}
		if err := netcdf.WriteGrid(ctx, path, with(x, s.step(), mapped), s.grid,
			netcdf.GridSource{Casts: s.section.Once().Casts, Section: s.settings.Name, Title: s.settings.Title,
				Along: s.section.Method}); err != nil {
			return err
		}
		mapped.Inputs, mapped.Outputs, mapped.Params = w.castDigests(s.section.Casts), []string{rel},
			slices.Concat(s.grid.Params, s.grid.Results)
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
func (w *archive) writeTables(ctx context.Context) error {
	rows := w.stationRows()
	var secs []*section.Section
	for i := range w.sections {
		secs = append(secs, w.sections[i].section)
	}
	if err := w.put("tables/stations.csv",
		"A line for each cast, those left out too: where, when, how deep, what for, from which file.",
		func(o io.Writer) error { return export.WriteStations(o, rows) }); err != nil {
		return err
	}
	if err := w.put("tables/stations.geojson", "Casts as points and sections as lines for a map (GeoJSON).",
		func(o io.Writer) error { return export.WriteStationsGeoJSON(o, rows, secs) }); err != nil {
		return err
	}
	w.record(metadata.Record{Step: "write", Text: "ledger of the casts", Inputs: w.castDigests(w.casts),
		Outputs: []string{"tables/stations.csv", "tables/stations.geojson"}})
	if err := w.writeLedger(); err != nil {
		return err
	}
	if err := w.put("tables/transports.csv",
		"Transports by station pair and of each section, with their uncertainty and what they leave out.",
		func(o io.Writer) error { return export.WriteTransports(o, w.flowsOf()) }); err != nil {
		return err
	}
	if flows := w.flowsOf(); slices.ContainsFunc(flows, func(r *geostrophy.Result) bool { return r.Budget != nil }) {
		if err := w.put(budgetsFile,
			"Budgets of volume, mass, salt, freshwater and heat over the closed lines: net, error, beta term, what is left out.",
			func(o io.Writer) error { return export.WriteBudgets(o, flows) }); err != nil {
			return err
		}
	}
	for i := range w.sections {
		if s := &w.sections[i]; s.flow != nil && s.settings.Velocity.EquatorialEstimate {
			if err := w.put(equatorialFile(s.settings.Name),
				"Estimate of the eastward velocity at the stations of section "+s.settings.Name+
					" within 3 degrees of the equator, from the curvature of dynamic height: where station pairs "+
					"have none.",
				func(o io.Writer) error { return export.WriteEquatorial(o, s.flow) }); err != nil {
				return err
			}
		}
	}
	numbers, err := w.castNumbers(ctx)
	if err != nil {
		return err
	}
	if err := w.put(castNumbersFile,
		"Numbers of each primary cast: mixed layer depth, heat content, steric height, first baroclinic mode.",
		func(o io.Writer) error { return export.WriteCastNumbers(o, numbers) }); err != nil {
		return err
	}
	if err := w.writeComparisons(); err != nil {
		return err
	}
	found := metadata.JoinFindings(w.findings)
	w.record(metadata.Record{Step: "write", Text: "findings", Inputs: w.sources,
		Outputs: []string{"tables/findings.csv"}})
	return w.put("tables/findings.csv",
		"What the readers and the checks found in the inputs, to review: where, what, and what was done about it.",
		func(o io.Writer) error { return export.WriteFindings(o, found) })
}

const budgetsFile = "tables/budgets.csv"

const castNumbersFile = "tables/cast_numbers.csv"

// equatorialFile returns the path of the estimate at the equator.
func equatorialFile(section string) string { return "tables/equatorial_" + section + ".csv" }

// stationRows returns the ledger: casts in the order of the archive, then what was left out.
func (w *archive) stationRows() []export.StationRow {
	var rows []export.StationRow
	for _, k := range w.casts {
		r := export.StationRow{ID: w.ids[k], Cast: k, File: k.Source.Name, Remark: w.remarks[k], Log: w.logged[k]}
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

// inMean reports whether a cast is in a section as part of a mean of several.
func inMean(places []section.Place, k *section.Cast) bool {
	return slices.ContainsFunc(places, func(p section.Place) bool {
		return p.Mean != nil &&
			slices.Contains(p.Others, k)
	})
}

// sizeOf counts the files of a folder and their bytes.
func sizeOf(dir string) (size folderSize, err error) {
	err = filepath.WalkDir(dir, func(_ string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		size.files++
		size.bytes += info.Size()
		return nil
	})
	return size, err
}

func (w *survey) castDigests(casts []*section.Cast) []metadata.Digest {
	var out []metadata.Digest
	for i, k := range casts {
		if slices.Contains(casts[:i], k) { // the last of a closed line is the first
			continue
		}
		if k.Source.Name != "" {
			out = append(out, castDigest(k))
			continue
		}
		for i := range w.sections { // the mean of several casts comes from the files of all of them
			for _, p := range w.sections[i].section.Places {
				if p.Chosen == k && p.Mean != nil {
					for _, o := range p.Others {
						out = append(out, castDigest(o))
					}
				}
			}
		}
	}
	return out
}

// castDigest returns the input of a cast with the lines that hold it.
func castDigest(k *section.Cast) metadata.Digest {
	d := k.Source
	d.Cast = k.ID()
	return d
}

// knownDigest returns the table of levels or velocities that a section rests on; nothing when it has none.
func (w *inputs) knownDigest(s *cruisefile.Section) []metadata.Digest {
	return w.tableDigest(s.Known.Path)
}

// tableDigest returns the table of a path in the cruise file; nothing where none was read.
func (w *inputs) tableDigest(name string) []metadata.Digest {
	for _, d := range w.sources {
		if name != "" && d.Name == path.Clean(name) {
			return []metadata.Digest{d}
		}
	}
	return nil
}

// flowsOf returns the velocities and transports of the sections that have them.
func (w *survey) flowsOf() []*geostrophy.Result {
	var rs []*geostrophy.Result
	for i := range w.sections {
		if w.sections[i].flow != nil {
			rs = append(rs, w.sections[i].flow)
		}
	}
	return rs
}
