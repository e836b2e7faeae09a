package pipeline

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/export/report"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// PageFile is the page in the data folder of an archive.
const PageFile = "index.html"

// pageTables are the tables that the page shows, in its order, with the columns that fit on it and, where the table is
// long, the rows.
var pageTables = []report.Table{
	{Path: "tables/transports.csv", Name: "Transports",
		What: "Volume transport by pair of stations, by layer and density class, and of each section.",
		Columns: []string{"section", "what", "station_a", "station_b", "transport", "stated_error", "cumulative",
			"unit", "lower", "upper", "bound_unit", "reference_dbar", "distance_km", "status", "remark"},
		Where: map[string][]string{"kind": {"volume", "all"}}},
	{Path: budgetsFile, Name: "Budgets of closed lines",
		What: "What the pairs of stations carry into the area that a closed line encloses, or out of it.",
		Columns: []string{"section", "kind", "unit", "positive_towards", "net", "stated_error", "beta_term",
			"sum_of_absolute_transports", "relative_to", "change_per_unit", "change_unit", "closing_velocity_ms",
			"status", "left_out", "remark"}},
	{Path: ledgerFile, Name: "Ledger", What: "Casts, lines of the log and planned stations that do not simply agree: " +
		"left out and why, in the log only, named twice, numbers of stations without a cast, planned.",
		Columns: []string{"state", "expocode", "station", "cast", "in_log", "log_line", "file", "section", "why"},
		Where:   map[string][]string{"state": ledgerStates()}},
	{Path: "tables/findings.csv", Name: "Findings", What: "What the readers and the checks found, to review.",
		Columns: []string{"severity", "message", "remedy", "cast_id", "variable", "first_dbar", "last_dbar", "check",
			"count", "proposed_flag", "file", "line", "accepted_by", "accepted_because"}},
	{Path: "tables/bottle_comparison.csv", Name: bottles,
		What: "Values of the casts and of the samples of bottles at the same pressures."},
	{Path: "tables/sensor_pairs.csv", Name: sensorPairs,
		What: "Differences between two sensors of the same quantity."},
	{Path: "tables/sensor_fits.csv", Name: "Fits of sensors and bottles",
		What: "The differences of sensor pairs and of bottles as robust fits. No correction was applied.",
		Columns: []string{"of", "variable", "system", "term", "per", "value", "standard_error", "target", "values",
			"casts", "mean_pressure_dbar", "median", "median_standard_error"}},
}

// Headings under which the page shows figures that are not of a section.
const (
	bottles     = "Comparison with bottles"
	sensorPairs = "Sensor pairs"
	anomalies   = "Anomalies"
	onDensity   = "Sections on surfaces of density"
	fieldMaps   = "Fields"
	otherwise   = "Further figures"
)

// pageGroups are the groups of figures that the page shows, in its order; figures of a table's name are shown with it.
var pageGroups = []report.Group{
	{Name: anomalies, What: "Sections minus an earlier section or a climatology, whichever the cruise file names."},
	{Name: onDensity, What: "Fields of the sections against potential density instead of pressure."},
	{Name: fieldMaps, What: "Values mapped on longitude and latitude, at some pressures or surfaces of density."},
	{Name: otherwise, What: "Figures that the cruise file asks for."},
}

// writePage writes the page of the archive.
func (w *archive) writePage() error {
	const what = "The whole cruise on one page, for a browser without a network: figures with values, profiles, " +
		"proposed flags " +
		"to decide about, tables."
	defer w.record(metadata.Record{Step: "write", Text: "page", Inputs: w.castDigests(w.casts),
		Outputs: []string{PageFile},
		Params:  []metadata.Param{{Name: "figures", Value: fmt.Sprintf("at most %d bytes", report.FigureBytes)}}})
	if c := w.plan.Compared; c != nil && c.Page {
		_, err := w.place(PageFile, what)
		return err
	}
	m := &report.Material{Cruise: &w.cruise.Cruise, About: w.about(), Program: w.plan.Program, Stamp: w.stamp,
		Stations: w.stationRows(), Proposals: w.pageProposals(), Records: w.records, Notes: w.madeHow(),
		Files: w.filesOfPage(), Workers: workers(w.plan.Workers),
		Depth: w.cruise.Figures.Vertical == cruisefile.ByDepth}
	if s := w.cruise.Quality.Signed; s.By != "" {
		m.Signed = strings.TrimSuffix("by "+s.By+", "+s.Date, ", ")
	}
	if v := w.plan.Watched; v != nil {
		m.Live = v.state
	}
	groups := w.pageFigures(m)
	for _, t := range pageTables {
		data, err := regular.ReadFile(filepath.Join(w.data, filepath.FromSlash(t.Path)))
		if os.IsNotExist(err) {
			continue
		}
		if err != nil {
			return err
		}
		t.CSV, t.Figures = data, groups[t.Name]
		m.Tables = append(m.Tables, t)
	}
	for _, g := range pageGroups {
		if g.Figures = groups[g.Name]; g.Figures != nil {
			m.Groups = append(m.Groups, g)
		}
	}
	if edits := w.editRows(); edits != nil {
		m.Tables = append(m.Tables, *edits)
	}
	return w.put(PageFile, what, func(o io.Writer) error { return report.Write(o, m) })
}

// pageKinds are the kinds of figure of the page: those that it always has, and those of the archive that are not made
// from what these show.
func (w *archive) pageKinds() []string {
	kinds := []string{figure.KindMap, figure.KindSection, figure.KindVelocity, figure.KindSensorPairs,
		figure.KindBottleComparison, figure.KindTimeSeries, figure.KindDifferences}
	if w.cruise.Figures.None {
		return kinds
	}
	asked := kindNames(w.cruise.Figures.Only)
	if len(asked) == 0 {
		asked = figure.DefaultKinds()
	}
	for _, k := range asked {
		switch k {
		case figure.KindOverview, figure.KindTemperatureSalinity, figure.KindOxygenDensity, figure.KindError,
			figure.KindSkill:
		default:
			kinds = append(kinds, k)
		}
	}
	return kinds
}

// pageFigures adds the map and the sections with their figures of fields and velocity, and returns the other figures by
// the headings under which they are shown.
func (w *archive) pageFigures(m *report.Material) map[string][]figure.Figure {
	groups := map[string][]figure.Figure{}
	choice := w.figureChoice()
	choice.Kinds = w.pageKinds()
	figures := w.figures(choice)
	for i := range w.sections {
		s := &w.sections[i]
		p := report.Section{Name: s.settings.Name, Title: s.settings.Title, Summary: s.summary().words(),
			Section: s.section, Grid: s.grid, Flow: s.flow}
		m.Sections = append(m.Sections, p)
	}
	m.Written = w.writtenFigures()
	w.pageSeries(m, figures)
	for _, f := range figures {
		if g, ok := f.(*figure.StationMap); ok {
			m.Map = g
			continue
		}
		at := slices.IndexFunc(w.sections, func(s sectionWork) bool { return s.shows(f) })
		if at < 0 {
			if name := headingOf(f); name != "" {
				groups[name] = append(groups[name], f)
			}
			continue
		}
		m.Sections[at].Figures = append(m.Sections[at].Figures, f)
	}
	return groups
}

// shows reports whether a figure is of the nodes of the section's grid or of its velocities.
func (s *sectionWork) shows(f figure.Figure) bool {
	switch f := f.(type) {
	case *figure.Section:
		return f.Section == s.section && f.Grid == s.grid
	case *figure.Velocity:
		return f.Result == s.flow
	}
	return false
}

// headingOf returns the heading under which the page shows a figure; "" for those that pageSeries adds, and for
// profiles, which the page draws itself.
func headingOf(f figure.Figure) string {
	switch f.(type) {
	case *figure.Profiles, *figure.TimeSeries, *figure.Differences:
		return ""
	case *figure.SensorDifferences, *figure.SensorPairs:
		return sensorPairs
	case *figure.BottleComparison:
		return bottles
	case *figure.FieldMap:
		return fieldMaps
	case *figure.Section:
		return onDensity
	case *figure.Change:
		return anomalies
	}
	return otherwise
}

// writtenFigures returns the formats of the files of each figure in the archive, by its stem.
func (w *archive) writtenFigures() map[string][]string {
	var formats []string
	for _, f := range w.cruise.Figures.Formats {
		formats = append(formats, string(f))
	}
	if formats == nil {
		for _, f := range page.Formats() {
			formats = append(formats, string(f))
		}
	}
	out := map[string][]string{}
	for _, r := range w.records {
		if r.Step != "figure" {
			continue
		}
		for _, rel := range r.Outputs {
			name := filepath.Base(filepath.FromSlash(rel))
			out[name[:len(name)-len(filepath.Ext(name))]] = formats
		}
	}
	return out
}

// words says of a section in a line how long it is and what flows through it.
func (s SectionSummary) words() string {
	text := fmt.Sprintf("%s over %.1f km", plural(s.Stations, "station"), s.LengthKm)
	if s.Pairs > 0 {
		text += fmt.Sprintf(", %s, %d of them without a velocity; %s", plural(s.Pairs, "pair"), s.Withheld, s.Total)
	}
	return text + "."
}

// pageProposals returns what is open for a decision: findings that propose a flag, and lines of flag edits without
// initials and reason, each once.
func (w *archive) pageProposals() []report.Proposal {
	var out []report.Proposal
	seen := map[Edit]bool{}
	add := func(p report.Proposal) {
		e := Edit{p.Cast.Expocode, p.Cast.Station, p.Cast.Number, p.Variable, p.FromDbar, p.ToDbar, p.Flag, ""}
		if !seen[e] {
			seen[e] = true
			out = append(out, p)
		}
	}
	for i := range w.findings {
		f := &w.findings[i]
		if !f.Open() || f.Severity == metadata.Failure {
			continue
		}
		if col, levels := w.proposal(f); col != nil && alone(w.castOf(f), col, f, levels) {
			add(report.Proposal{Cast: w.castOf(f), Variable: col.Name, FromDbar: f.First, ToDbar: f.Last,
				Flag: f.Proposed, Check: f.Check, Message: f.Message})
		}
	}
	for i := range w.tables.edits {
		edits := w.tables.edits[i].edits
		for j := range edits {
			e := &edits[j]
			k := w.castOfEdit(e)
			if e.Initials != "" || e.Reason != "" || k == nil || w.decidedAbout(e) {
				continue
			}
			if col := columnOfEdit(e, k); col != nil && col.Text == nil {
				add(report.Proposal{Cast: k, Variable: col.Name, FromDbar: e.FromDbar, ToDbar: e.ToDbar, Flag: e.Flag,
					Check: e.Check})
			}
		}
	}
	return out
}

// castOfEdit returns the one cast that an edit names; nil when there is none, or several.
func (w *survey) castOfEdit(e *ingest.FlagEdit) *section.Cast {
	var found *section.Cast
	for _, k := range w.casts {
		if k.Station == e.Station && k.Number == e.Cast && (e.Expocode == "" || e.Expocode == k.Expocode) {
			if found != nil {
				return nil
			}
			found = k
		}
	}
	return found
}

// decidedAbout reports whether another line of the tables decides about the same values.
func (w *survey) decidedAbout(e *ingest.FlagEdit) bool {
	for i := range w.tables.edits {
		for j := range w.tables.edits[i].edits {
			o := &w.tables.edits[i].edits[j]
			if o.Accepted() && o.Station == e.Station && o.Cast == e.Cast && o.Variable == e.Variable &&
				o.FromDbar <= e.FromDbar && o.ToDbar >= e.ToDbar && (o.Expocode == e.Expocode || e.Expocode == "" ||
				o.Expocode == "") {
				return true
			}
		}
	}
	return false
}

// filesOfPage lists the files of the archive, those too that are written after the page.
func (w *archive) filesOfPage() []export.FileNote {
	files := slices.Concat(w.notes, documentNotes)
	slices.SortStableFunc(files, func(a, b export.FileNote) int { return strings.Compare(a.Path, b.Path) })
	return files
}

// editRows is the table of the flag edits that were applied; nil when there are none.
func (w *archive) editRows() *report.Table {
	var b bytes.Buffer
	c := csv.NewWriter(&b)
	rows := [][]string{{"what", "line", "was", "decided", "proposed_by"}}
	for i := range w.records {
		r := &w.records[i]
		if r.Step != "flag" {
			continue
		}
		row := make([]string, len(rows[0]))
		row[0] = r.Text
		for _, p := range r.Params {
			if at := slices.Index(rows[0], p.Name); at > 0 {
				row[at] = p.Value
			}
		}
		rows = append(rows, row)
	}
	if len(rows) == 1 {
		return nil
	}
	c.WriteAll(rows) //nolint:errcheck // a bytes.Buffer does not fail
	return &report.Table{Name: "Flag edits", What: "Flags that a person set, each with initials and reason.",
		Path: copiedEdits, CSV: b.Bytes()}
}
