package pipeline

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// writeFigures draws the figures that the cruise file chooses. One that cannot be drawn is a finding; the others are
// drawn.
func (w *archive) writeFigures(ctx context.Context) error {
	f := &w.cruise.Figures
	if f.None {
		return nil
	}
	o := figure.Options{Stamp: w.stamp, Workers: workers(w.plan.Workers), About: w.aboutFigures(),
		Dots: f.Resolution}
	if c := w.plan.Compared; c != nil {
		o.Known = c.Figure
	}
	for _, s := range f.Formats {
		o.Formats = append(o.Formats, page.Format(s))
	}
	for _, s := range f.Widths {
		o.Widths = append(o.Widths, map[cruisefile.Width]chart.Width{cruisefile.OneColumn: chart.OneColumn,
			cruisefile.TwoColumns: chart.TwoColumns}[s])
	}
	dir := filepath.Join(w.data, "figures")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	figs := w.figures(w.figureChoice())
	if w.plan.Watched != nil {
		o.Known = w.keptFigures(figs, dir)
	}
	w.unusedScales(figs)
	made, err := figure.Write(ctx, dir, figs, o)
	if err != nil {
		return err
	}
	for _, r := range made.Refused {
		w.find(refusedFigure(f, r))
	}
	if len(made.Files) == 0 {
		return os.Remove(dir)
	}
	var names []string
	for _, name := range made.Files {
		names = append(names, "figures/"+name)
		w.file("write", "figures/"+name)
	}
	w.notes = append(w.notes, export.FileNote{Path: "figures/",
		What: "Pictures of sections (an overview of each, its properties, velocity), temperature and salinity, " +
			"profiles, fields, time series, repeated casts, sensor pairs, bottles beside casts and the map as SVG, PDF and " +
			"PNG, each with its caption (.txt): what, where, when, how it was made."})
	w.record(metadata.Record{Step: "figure", Text: fmt.Sprintf("%d files of %d figures", len(names),
		len(figs)-len(made.Refused)), Outputs: names,
		Params: figureParams(f)})
	return nil
}

func (w *inputs) aboutFigures() figure.About {
	a := figure.About{Cruise: orDefault(w.cruise.Title, w.cruise.ID), Release: string(w.cruise.Release.Status),
		Version: w.cruise.Release.Version, Licence: w.cruise.Release.Licence}
	for i, s := range w.cruise.Ships {
		if i > 0 {
			a.Ships += ", "
		}
		a.Ships += s.Name
	}
	return a
}

func kindNames(kinds []cruisefile.FigureKind) []string {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = string(k)
	}
	return names
}

// figures lists what a choice draws, in the order of the sections.
func (w *survey) figures(choice figure.Choice) []figure.Figure {
	m := figure.Material{Title: w.cruise.ID, Casts: slices.DeleteFunc(slices.Clone(w.casts),
		func(k *section.Cast) bool { return k.Role == section.Other })}
	if d := w.depths; d != nil {
		m.WaterDepthM = w.depthAt
		m.Bathymetry = &figure.Bathymetry{LonDeg: d.Lon, LatDeg: d.Lat, DepthM: d.DepthM,
			Source: w.cruise.Casts.Bathymetry.Path}
	}
	for i := range w.sections {
		s := &w.sections[i]
		m.Sections = append(m.Sections, figure.SectionMaterial{Title: s.settings.Title, Section: s.section,
			Grid: s.grid, Velocity: s.flow, Residuals: residuals(s), Change: s.anomaly,
			Reference: referenceName(&s.settings.Anomaly)})
	}
	for _, f := range w.fields {
		m.Fields = append(m.Fields, figure.FieldMaterial{Grid: f.grid, Surfaces: f.surfaces, Casts: f.casts})
	}
	for i := range w.series {
		s := &w.series[i]
		m.Series = append(m.Series, figure.SeriesMaterial{Title: s.settings.Title, Series: s.series,
			FromFirst: s.settings.FromFirst})
	}
	m.Bottles = w.bottlesToDraw()
	if r := w.compared; r != nil {
		m.Pairs, m.Compared, m.Fits = pairRows(nil, r.Pairs), comparisonRows(nil, r.Matches), fitRows(r.Fits)
		m.Better = w.agreements()
	}
	return figure.Choose(m, choice)
}

// residuals returns the misfit of each left-out station, by variable, in the section's order of casts.
func residuals(s *sectionWork) map[string][]figure.Residual {
	if s.grid == nil {
		return nil
	}
	m := map[string][]figure.Residual{}
	for _, d := range s.grid.LeftOut {
		if k := slices.Index(s.section.Casts, d.Cast); k >= 0 {
			m[d.Variable] = append(m[d.Variable], figure.Residual{Station: k, PressureDbar: d.PressureDbar,
				Value: d.Residual})
		}
	}
	return m
}
