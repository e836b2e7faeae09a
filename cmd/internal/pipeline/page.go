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
		Columns: []string{"severity", "cast_id", "variable", "first_dbar", "last_dbar", "message", "remedy", "check",
			"count", "proposed_flag", "file", "line", "accepted_by", "accepted_because"}},
	{Path: "tables/bottle_comparison.csv", Name: "Comparison with bottles",
		What: "Values of the casts and of the samples of bottles at the same pressures."},
	{Path: "tables/sensor_pairs.csv", Name: "Sensor pairs",
		What: "Differences between two sensors of the same quantity."},
}

// writePage writes the page of the archive.
func (w *archive) writePage() error {
	const what = "The whole cruise on one page, for a browser without network: figures with values, profiles, proposals " +
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
	figures := w.pageFigures(m)
	m.Map = figures.stationMap
	for _, t := range pageTables {
		if t.Figure = figures.ofTable[t.Path]; t.Figure != nil && w.writtenFigures()[t.Figure.Stem()] {
			t.Formats = w.figureFormats()
		}
		data, err := regular.ReadFile(filepath.Join(w.data, filepath.FromSlash(t.Path)))
		if os.IsNotExist(err) {
			continue
		}
		if err != nil {
			return err
		}
		t.CSV = data
		m.Tables = append(m.Tables, t)
	}
	if edits := w.editRows(); edits != nil {
		m.Tables = append(m.Tables, *edits)
	}
	return w.put(PageFile, what, func(o io.Writer) error { return report.Write(o, m) })
}

// pageFigures are the figures of the page that are of no section.
type pageFigures struct {
	stationMap *figure.StationMap
	ofTable    map[string]figure.Figure // by the path of the table
}

// pageFigures adds the sections with their figures of fields and velocity, and returns the other figures.
func (w *archive) pageFigures(m *report.Material) pageFigures {
	others := pageFigures{ofTable: map[string]figure.Figure{}}
	choice := w.figureChoice()
	choice.OnDensity = "" // values are read at the nodes of the grid
	choice.Kinds = []string{figure.KindMap, figure.KindSection, figure.KindVelocity, figure.KindSensorPairs,
		figure.KindBottleComparison, figure.KindTimeSeries, figure.KindDifferences}
	figures := w.figures(choice)
	for i := range w.sections {
		s := &w.sections[i]
		p := report.Section{Name: s.settings.Name, Title: s.settings.Title, Summary: s.summary().words(),
			Section: s.section, Grid: s.grid, Flow: s.flow}
		m.Sections = append(m.Sections, p)
	}
	written := w.writtenFigures()
	w.pageSeries(m, figures, written)
	for _, f := range figures {
		var of *section.Section
		switch f := f.(type) {
		case *figure.StationMap:
			others.stationMap = f
			continue
		case *figure.SensorPairs, *figure.BottleComparison:
			others.ofTable["tables/"+f.Stem()+".csv"] = f
			continue
		case *figure.Section:
			of = f.Section
		case *figure.Velocity:
			at := slices.IndexFunc(w.sections, func(s sectionWork) bool { return s.flow == f.Result })
			of = w.sections[at].section
		default:
			continue
		}
		at := slices.IndexFunc(w.sections, func(s sectionWork) bool { return s.section == of })
		p := &m.Sections[at]
		p.Figures = append(p.Figures, f)
		if written[f.Stem()] {
			p.Formats = w.figureFormats()
		}
	}
	return others
}

// writtenFigures returns the stems of the figures in the archive.
func (w *archive) writtenFigures() map[string]bool {
	out := map[string]bool{}
	for _, r := range w.records {
		if r.Step != "figure" {
			continue
		}
		for _, rel := range r.Outputs {
			name := filepath.Base(filepath.FromSlash(rel))
			out[name[:len(name)-len(filepath.Ext(name))]] = true
		}
	}
	return out
}

// figureFormats returns the endings of the files of a figure.
func (w *archive) figureFormats() []string {
	var out []string
	for _, f := range w.cruise.Figures.Formats {
		out = append(out, string(f))
	}
	if out == nil {
		for _, f := range page.Formats() {
			out = append(out, string(f))
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
