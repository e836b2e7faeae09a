package pipeline

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path"
	"runtime"
	"slices"
	"strings"
	"unicode"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/internal/filebacked"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/coast"
	"github.com/castwright/castwright/section/derived"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/paulmach/orb"
)

// sectionWork is one section on its way: what the cruise file says, its casts in order, velocities and grid.
type sectionWork struct {
	settings *cruisefile.Section
	section  *section.Section
	flow     *geostrophy.Result
	grid     *gridding.Grid
	anomaly  *gridding.Grid // less the reference of the cruise file; nil: none
	kept     bool           // the grid is of the build before
}

func (s *sectionWork) summary() SectionSummary {
	v := SectionSummary{Name: s.settings.Name, Stations: len(s.section.Once().Casts)}
	if n := len(s.section.DistanceKm); n > 0 {
		v.LengthKm = s.section.DistanceKm[n-1]
	}
	if s.flow != nil {
		v.Pairs = len(s.flow.Pairs)
		for i := range s.flow.Pairs {
			if !s.flow.Pairs[i].Status.HasVelocity() {
				v.Withheld++
			}
		}
		t := s.flow.Total[geostrophy.Volume]
		if math.IsNaN(t.Value) {
			v.Total = "no velocity (" + s.flow.Partial.Statement + ")"
			return v
		}
		v.Total = fmt.Sprintf("transport %.2f", t.Value/1e6)
		if !math.IsNaN(t.Stated) {
			v.Total += fmt.Sprintf(" ± %.2f", t.Stated/1e6)
		}
		v.Total += " Sv, positive " + s.flow.PositiveText() + " (" + s.flow.Partial.Statement + ")"
	}
	return v
}

// assembleSections chooses the casts of each section. What the cruise file asks for and the casts do not have is a
// finding that stops the build.
func (w *survey) assembleSections(context.Context) error {
	w.sections = nil
	w.assembleFields()
	w.assembleSeries()
	for i := range w.cruise.Sections {
		s := &w.cruise.Sections[i]
		opts := s.BuildOptions
		if opts.Underway = w.underway(); opts.Underway && !w.begun(s) {
			continue
		}
		sec, found, err := section.Build(w.casts, opts)
		for _, f := range found {
			if f.File == "" {
				f.Position = s.At
			}
			w.find(f)
		}
		if err != nil {
			for _, e := range metadata.Parts(err) {
				remedy, options := stationsRemedy(s, w.casts, e)
				w.find(metadata.Finding{Position: s.At, Severity: metadata.Failure, Check: "section.stations",
					Message: fmt.Sprintf("section %s: %v", s.Name, e), Remedy: remedy, Options: options})
			}
			continue
		}
		if missing := plannedMissing(s, sec); missing != "" && !w.underway() {
			w.find(metadata.Finding{Position: s.At, Severity: metadata.Note, Check: "section.planned",
				Message: fmt.Sprintf("section %s: planned and not occupied: %s", s.Name, missing)})
			w.neverTaken(s)
		}
		for k, c := range sec.Once().Casts {
			if slices.Contains(sec.Casts[:k], c) {
				w.find(metadata.Finding{Position: s.At, Severity: metadata.Failure, Check: "section.stations",
					Cast: c.ID(),
					Message: fmt.Sprintf("section %s: cast %s is listed twice", s.Name,
						metadata.CastText(c.Station, c.Number)),
					Remedy: "name each cast once, but the first of a closed line again at its end; make a line that comes " +
						"back to another station two sections"})
			}
		}
		if err := geostrophy.CheckDirection(sec, s.Velocity.Positive); err != nil && len(sec.Casts) > 1 {
			w.find(metadata.Finding{Position: s.At, Severity: metadata.Failure, Check: "section.positive",
				Message: err.Error(),
				Remedy:  "left and right are seen along the line, in the order of its stations"})
		}
		w.checkKnown(s.Name, sec)
		w.oneStation(s, sec)
		w.sections = append(w.sections, sectionWork{settings: s, section: sec})
	}
	return nil
}

// oneStation says that a section is no line, and why: its casts may lie too close together.
func (w *survey) oneStation(s *cruisefile.Section, sec *section.Section) {
	if len(sec.Casts) > 1 {
		return
	}
	severity := metadata.Warning
	if w.underway() {
		severity = metadata.Note
	}
	why, remedy := "", "name a second station"
	if n := len(sec.Places[0].Others); n > 0 {
		why = fmt.Sprintf(": its %d casts count as one place, each less than %g km from the next", n+1,
			float64(section.TooCloseKm))
		remedy = "name a station farther off; no velocity is defensible between casts so close"
	}
	w.find(metadata.Finding{Position: s.At, Severity: severity, Check: "section.pairs", Remedy: remedy,
		Message: fmt.Sprintf("section %s has one station, so that no velocity and no grid are made of it%s", s.Name,
			why)})
}

// underway reports whether casts of the cruise are still to come.
func (w *inputs) underway() bool {
	return w.cruise.Release.Status == metadata.Underway || w.plan.Watched != nil
}

// begun notes which stations of a section are still to come while the cruise is underway, and reports whether any was
// taken.
func (w *survey) begun(s *cruisefile.Section) bool {
	planned := s.Planned
	if len(planned.Items) == 0 {
		planned = s.Stations
	}
	missing := planned.NotTaken(w.casts)
	const most = 50
	text := strings.Join(missing[:min(most, len(missing))], ", ")
	if len(missing) > most {
		text = fmt.Sprintf("%s and %d more", text, len(missing)-most)
	}
	begun := slices.ContainsFunc(w.casts, func(k *section.Cast) bool {
		return s.Stations.Contains(k.Expocode, k.Station, k.Number)
	})
	switch {
	case !begun:
		w.find(metadata.Finding{Position: s.At, Severity: metadata.Note, Check: "section.planned",
			Message: fmt.Sprintf("section %s: no station is taken yet; nothing is made of it", s.Name)})
	case len(missing) > 0:
		w.find(metadata.Finding{Position: s.At, Severity: metadata.Note, Check: "section.planned",
			Message: fmt.Sprintf("section %s: still to come: %s", s.Name, text)})
	}
	return begun
}

// neverTaken is an error of a final release that plans stations of which no cast was taken, nor left out.
func (w *survey) neverTaken(s *cruisefile.Section) {
	if w.cruise.Release.Status != metadata.Final {
		return
	}
	never := slices.DeleteFunc(s.Planned.NotTaken(w.casts), func(name string) bool {
		return slices.ContainsFunc(w.out, func(o leftOut) bool { return o.of(name) })
	})
	if len(never) > 0 {
		w.find(metadata.Finding{Position: s.At, Severity: metadata.Failure, Check: "section.planned", Count: len(never),
			Message: fmt.Sprintf("section %s: the release is final, but planned stations have no cast: %s",
				s.Name,
				some(never)),
			Remedy: "remove them from planned; if a cast has another number, give it the right one under casts: renumber"})
	}
}

// of reports whether what is left out is of a station: by the cast, else by a part of the name of the file.
func (o *leftOut) of(station string) bool {
	if o.cast != nil {
		return o.cast.Station == station
	}
	parts := strings.FieldsFunc(path.Base(o.file),
		func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	return slices.ContainsFunc(parts, func(p string) bool {
		return strings.TrimLeft(p, "0") == strings.TrimLeft(station, "0")
	})
}

// plannedMissing returns the stations that were planned and that no cast of the section has, as a list; "" when there
// are none.
func plannedMissing(s *cruisefile.Section, sec *section.Section) string {
	held := map[string]bool{}
	for _, k := range sec.Casts {
		held[k.Station] = true
	}
	missing := slices.DeleteFunc(s.Planned.Names(), func(name string) bool { return held[name] })
	const most = 50
	if len(missing) > most {
		return fmt.Sprintf("%s and %d more", strings.Join(missing[:most], ", "), len(missing)-most)
	}
	return strings.Join(missing, ", ")
}

// flows computes dynamic height, velocity and transport of each section.
func (w *survey) flows(ctx context.Context) error { return w.computeFlows(ctx, false, true) }

// computeFlows computes the flows, for findings without the Monte-Carlo estimate of errors, and keeps what is computed
// or not.
func (w *survey) computeFlows(ctx context.Context, forFindings, keep bool) error {
	for i := range w.sections {
		s := &w.sections[i]
		if len(s.section.Casts) < 2 {
			continue
		}
		opts := s.settings.Velocity
		opts.Reference.Known = w.known[s.settings.Name]
		opts.Land = func(at orb.Point) bool { return !w.cruise.Casts.Lake && coast.Contains(at[0], at[1]) }
		if forFindings {
			opts.Members = 0
			runtime.GC()
		}
		stop := func() {}
		opts.Stage = func(name string) {
			stop()
			stop = w.stage(map[string]string{"velocity": "dynamic"}[name] + map[bool]string{
				true: "transports and errors"}[name != "velocity"])
		}
		opts.Each = func(n int, do func(int)) error {
			return each(ctx, w.plan.Workers, n, func(i int) error { do(i); return nil })
		}
		r, err := geostrophy.Compute(s.section, opts)
		stop()
		if ctx.Err() != nil {
			return ctx.Err()
		}
		switch {
		case errors.Is(err, geostrophy.ErrDirection), errors.Is(err, geostrophy.ErrSetting):
			return &metadata.InputError{Position: s.settings.At, Err: fmt.Errorf("section %s: %w", s.settings.Name,
				err),
				Remedy: "castwright help cruise-file lists the settings of a section"}
		case err != nil:
			w.find(metadata.Finding{Position: s.settings.At, Severity: metadata.Warning, Check: "section.velocity",
				Message: fmt.Sprintf("section %s: no velocity: %v", s.settings.Name, err)})
			continue
		}
		for _, f := range r.Findings {
			if f.File == "" {
				f.Position = s.settings.At
			}
			if f.BridgeDbar > 0 {
				f.Options = append(f.Options, metadata.Option{Text: "bridge the gap",
					Paste: metadata.SectionGap(s.settings.Name, f.BridgeDbar)})
			}
			w.find(f.Finding)
		}
		if keep {
			w.moveFlow(r)
			s.flow = r
		}
	}
	return nil
}

// checkKnown finds the lines of a table of levels or velocities that belong to no pair of the section, or to pairs of
// several legs.
func (w *inputs) checkKnown(name string, sec *section.Section) {
	for i, k := range w.known[name] {
		of := slices.DeleteFunc(sec.Pairs(), func(p section.Pair) bool { return !k.Of(sec.Casts[p.A], sec.Casts[p.B]) })
		f := metadata.Finding{Position: w.knownAt[name][i], Check: "geostrophy.known"}
		switch {
		case len(of) == 0:
			f.Severity, f.Message = metadata.Warning, fmt.Sprintf(
				"stations %s and %s do not follow each other in section %s: the line is not used", k.StationA,
				k.StationB, name)
			f.Remedy = "name two stations that follow each other in the section, or take the line out"
		case len(of) > 1:
			a, b := sec.Casts[of[0].A], sec.Casts[of[0].B]
			f.Severity, f.Message = metadata.Failure,
				fmt.Sprintf("section %s has several pairs of stations %s and %s: the line "+
					"does not say which is meant", name, k.StationA, k.StationB)
			f.Remedy = fmt.Sprintf("write EXPOCODE:STATION, such as %s:%s and %s:%s", a.Expocode, a.Station, b.Expocode,
				b.Station)
		default:
			continue
		}
		w.find(f)
	}
}

// grids maps each section.
func (w *survey) grids(ctx context.Context) error {
	for i := range w.sections {
		s := &w.sections[i]
		if s.settings.Grid.None || len(s.section.Casts) < 2 {
			continue
		}
		opts := s.settings.Grid.Options
		opts.Workers = workers(w.plan.Workers)
		opts.WaterDepthM = w.depthAt
		opts.Sample = w.plan.Compared.sample("sections/" + s.settings.Name + "_grid.nc")
		key := w.sectionKey(s)
		g, found := w.keptGrid(s, key)
		var err error
		if s.kept = g != nil; !s.kept {
			g, found, err = gridding.Map(s.section, opts)
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if fatal := w.foundOfGrid(s.settings, found, err); fatal != nil {
			return fatal
		} else if err == nil {
			w.moveGrid(g)
			s.grid = g
			w.keepGrid(s, key, g, found)
		}
	}
	if err := w.anomalies(ctx); err != nil {
		return err
	}
	return w.mapFields(ctx)
}

// foundOfGrid takes up what the mapping of a section found, and an error that leaves the section without a grid; it
// returns one that ends the run.
func (w *survey) foundOfGrid(s *cruisefile.Section, found []metadata.Finding, err error) error {
	for _, f := range found {
		if f.File == "" {
			f.Position = s.At
		}
		w.find(f)
	}
	if errors.Is(err, gridding.ErrUnknown) {
		return &metadata.InputError{Position: s.Grid.At, Err: fmt.Errorf("grid of section %s: %w", s.Name, err),
			Remedy: "castwright help cruise-file lists the settings of a grid"}
	}
	if err != nil {
		w.find(metadata.Finding{Position: s.At, Severity: metadata.Warning, Check: "section.grid",
			Message: fmt.Sprintf("section %s: no grid: %v", s.Name, err)})
	}
	return nil
}

// forFile returns the section as its file holds it: measured columns, the derived ones that belong there, and the
// dynamic height of each station.
func (w *archive) forFile(s *sectionWork) *section.Section {
	out := *s.section
	out.Casts = slices.Clone(s.section.Casts)
	closed := s.section.Closed()
	for i, k := range out.Casts {
		if closed && i == len(out.Casts)-1 {
			out.Casts[i] = out.Casts[0]
			break
		}
		c := *k
		c.Columns = slices.DeleteFunc(slices.Clone(k.Columns), func(col section.Column) bool {
			v := derived.Of(col.Name)
			return col.Derived && v != nil && !v.InSections
		})
		if col, ok := s.heights(k); ok {
			filebacked.Move(w.values, &col.Values)
			c.Columns = append(c.Columns, col)
		}
		out.Casts[i] = &c
		w.ids[&c] = w.ids[k]
	}
	return &out
}

// heights returns the dynamic height of one cast as a column.
func (s *sectionWork) heights(k *section.Cast) (section.Column, bool) {
	if s.flow == nil {
		return section.Column{}, false
	}
	at := slices.IndexFunc(s.flow.Stations, func(t geostrophy.Station) bool { return t.Cast == k })
	if at < 0 || s.flow.Stations[at].DynamicHeight == nil {
		return section.Column{}, false
	}
	st := &s.flow.Stations[at]
	v := metadata.MustVariable("dynamic_height")
	v.LongName = fmt.Sprintf("%s relative to %g dbar", v.LongName, st.ReferenceDbar)
	v.Comment = "geopotential anomaly; integral of specific volume anomaly from the level to the reference pressure; " +
		s.settings.Velocity.Interpolation.String() +
		" interpolation between bins; divide by 10 for dynamic metres"
	v.References = "IOC, SCOR and IAPSO 2010, section 3.27"
	return section.Column{Variable: v, Decimals: -1, Derived: true,
		Values: geostrophy.Spread(make([]float64, k.Levels()), k.PressureDbar, st.PressureDbar, st.DynamicHeight)}, true
}

// readKnown reads the tables of levels and velocities that sections name.
func (w *inputs) readKnown() {
	w.known, w.knownAt = map[string][]geostrophy.Known{}, map[string][]metadata.Position{}
	for i := range w.cruise.Sections {
		s := &w.cruise.Sections[i]
		known, err := w.knownLevels(s)
		if err != nil {
			w.fault(err, "input.levels")
			continue
		}
		w.known[s.Name] = known
	}
}

// knownLevels reads the section's table of levels or velocities; nil when it has none. The table is an input like any
// other.
func (w *inputs) knownLevels(s *cruisefile.Section) ([]geostrophy.Known, error) {
	if s.Known.Path == "" {
		return nil, nil
	}
	data, err := w.readTable(s.Known)
	if err != nil {
		return nil, err
	}
	rows, err := ingest.ReadKnownLevels(data, s.Known.Path, s.Velocity.Reference.Kind == geostrophy.AtVelocities)
	if err != nil {
		return nil, err
	}
	out := make([]geostrophy.Known, len(rows))
	for i, r := range rows {
		out[i] = geostrophy.Known{StationA: r.StationA, StationB: r.StationB, PressureDbar: r.PressureDbar,
			DepthM:   r.DepthM,
			Velocity: r.Velocity, StandardError: r.StandardError}
		w.knownAt[s.Name] = append(w.knownAt[s.Name], r.At)
	}
	return out, nil
}

// readTable reads one small input that the cruise file names and notes it among the inputs.
func (w *inputs) readTable(s ingest.Source) ([]byte, error) {
	at := w.at(s.Path)
	info, err := os.Stat(at)
	if err != nil || !info.Mode().IsRegular() || info.Size() > maxTable {
		return nil, &metadata.InputError{Position: s.At,
			Err:    fmt.Errorf("%s is not there, is no regular file or is larger than %d bytes", s.Path, maxTable),
			Remedy: "write the path relative to the folder of the cruise file"}
	}
	data, err := regular.ReadFile(at)
	if err != nil {
		return nil, &metadata.InputError{Position: s.At, Err: err, Remedy: "make it readable (chmod u+r)"}
	}
	name := path.Clean(s.Path)
	w.file("read", name)
	for _, d := range w.sources {
		if d.Name == name {
			return data, nil
		}
	}
	w.sources = append(w.sources, metadata.Digest{Name: name, SHA256: sumBytes(data), Bytes: int64(len(data))})
	w.onDisk = append(w.onDisk, at)
	return data, nil
}

// maxTable is the largest table that is read, in bytes.
const maxTable = 64 << 20
