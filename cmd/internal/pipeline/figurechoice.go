package pipeline

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// figureChoice returns what the cruise file asks for.
func (w *survey) figureChoice() figure.Choice {
	f := &w.cruise.Figures
	c := figure.Choice{Kinds: kindNames(f.Only), Overlay: f.Overlay, UpperDbar: f.UpperDbar, Axis: string(f.Axis),
		Depth: f.Vertical == cruisefile.ByDepth, Dots: f.Dots, Share: f.Share, FieldLevels: f.FieldLevels,
		OnDensity: f.OnDensity, Scales: map[string]figure.Scale{}}
	if f.Colour == cruisefile.ByLatitude {
		c.Shade = figure.ByLatitude
	}
	for name, l := range f.Levels {
		c.Scales[name] = figure.Scale{Values: l.Values, Step: l.Step}
	}
	for name, r := range f.Range {
		scale := c.Scales[name]
		scale.Lo, scale.Hi = r[0], r[1]
		c.Scales[name] = scale
	}
	for _, p := range f.Plots {
		c.Plots = append(c.Plots, [2]string{p.X, p.Y})
	}
	return c
}

// bottlesToDraw returns the good values of water samples, with their casts.
func (w *survey) bottlesToDraw() (out []figure.Bottle) {
	if len(w.cruise.Figures.Plots) == 0 {
		return nil
	}
	casts := map[bottleKey]*section.Cast{}
	for _, k := range w.casts {
		casts[bottleKey{k.Expocode, k.Station, k.Number}] = k
	}
	for _, b := range w.bottles {
		pressure := b.Column("pres")
		for i := range b.Rows {
			row := &b.Rows[i]
			k := casts[bottleKey{row.Expocode, row.Station, row.Cast}]
			if k == nil || pressure == nil || b.Flagged && row.Flag != metadata.BottleNoProblem {
				continue
			}
			f := figure.Bottle{Cast: k, PressureDbar: pressure.Values[i], Values: map[string]float64{}}
			for _, c := range b.Columns {
				good := c.SampleFlags == nil || c.SampleFlags[i] == metadata.SampleAcceptable ||
					c.SampleFlags[i] == metadata.SampleMean
				if good && c.Flags == nil && c.Values != nil && !math.IsNaN(c.Values[i]) {
					f.Values[c.Name] = c.Values[i]
				}
			}
			out = append(out, f)
		}
	}
	return out
}

// figureParams returns the settings of figures for the record: those of every build, and the others where they are
// given.
func figureParams(f *cruisefile.Figures) []metadata.Param {
	upper := "scaled to the depth"
	if f.UpperDbar > 0 {
		upper = fmt.Sprintf("%g dbar", f.UpperDbar)
	}
	ps := []metadata.Param{{Name: "overlay", Value: orDefault(f.Overlay, "none")}, {Name: "upper", Value: upper},
		{Name: "axis", Value: orDefault(string(f.Axis), "the one that varies more")},
		{Name: "colour", Value: orDefault(string(f.Colour), "station")},
		{Name: "vertical", Value: orDefault(string(f.Vertical), "pressure")}}
	add := func(given bool, name, format string, args ...any) {
		if given {
			ps = append(ps, metadata.Param{Name: name, Value: fmt.Sprintf(format, args...)})
		}
	}
	for _, name := range slices.Sorted(maps.Keys(f.Levels)) {
		l := f.Levels[name]
		add(l.Values != nil, "levels of "+name, "%v", l.Values)
		add(l.Step > 0, "levels of "+name, "a step of %g", l.Step)
	}
	for _, name := range slices.Sorted(maps.Keys(f.Range)) {
		add(true, "range of "+name, "%g to %g", f.Range[name][0], f.Range[name][1])
	}
	add(f.Share, "share", "yes")
	add(f.Dots, "dots", "yes")
	for _, p := range f.Plots {
		add(true, "plot", "%s by %s", p.Y, p.X)
	}
	add(f.FieldLevels != nil, "field_levels", "%v", f.FieldLevels)
	add(f.OnDensity != "", "density_sections", "%s", f.OnDensity)
	add(f.Resolution > 0, "resolution", "%d", f.Resolution)
	return ps
}

// unusedScales names variables that levels or a range are given for and no figure shows.
func (w *survey) unusedScales(figs []figure.Figure) {
	shown := map[string]bool{}
	for _, f := range figs {
		switch f := f.(type) {
		case *figure.Section:
			shown[f.Field] = true
		case *figure.FieldMap:
			shown[f.Field] = true
		case *figure.TimeSeries:
			shown[f.Field] = true
		case *figure.Overview:
			for _, s := range f.Sections {
				shown[s.Field] = true
			}
			shown["velocity"] = shown["velocity"] || f.Velocity != nil
		case *figure.Velocity:
			shown["velocity"] = true
		}
	}
	asked := w.figureChoice().Scales
	for _, name := range slices.Sorted(maps.Keys(asked)) {
		if !shown[name] {
			w.find(metadata.Finding{Position: w.cruise.Figures.At, Severity: metadata.Note, Check: "figure.levels",
				Variable: name, Message: "levels or a range are given for " + name + ", which no figure shows",
				Remedy: "name a variable that the sections are gridded for, or take it out"})
		}
	}
}
