package pipeline

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
)

// mostMappedLevels is how many levels of casts check maps at most: so that it stays a matter of seconds and of the
// memory of the casts.
const mostMappedLevels = 40_000

// deriveForCheck makes the findings of what is derived, and reports whether check maps sections and fields as a build
// does, to judge the maps: of larger cruises it makes the findings that need no map.
func (w *survey) deriveForCheck(ctx context.Context) (maps bool, err error) {
	wanted := !w.cruise.Figures.None || len(w.cruise.Fields) > 0
	for i := range w.cruise.Sections {
		wanted = wanted || !w.cruise.Sections[i].Grid.None
	}
	if wanted && len(w.casts) > 0 && w.levels() <= mostMappedLevels {
		return true, w.derive(ctx)
	}
	opts := derived.Options{Extra: w.cruise.Derived, NotCalibratedUsable: w.cruise.Casts.Uncalibrated}
	for _, k := range w.casts {
		found, err := derived.Notes(k, opts)
		if err != nil {
			return false, w.derivedError(err)
		}
		w.find(found...)
	}
	return false, nil
}

// levels returns how many levels all casts have.
func (w *survey) levels() (n int) {
	for _, k := range w.casts {
		n += k.Levels()
	}
	return n
}

// mapForCheck maps sections and fields, and makes the findings of maps and figures.
func (w *survey) mapForCheck(ctx context.Context) error {
	if err := w.grids(ctx); err != nil {
		return err
	}
	f := &w.cruise.Figures
	if f.None {
		return nil
	}
	figs := w.figures(w.figureChoice())
	w.unusedScales(figs)
	about := w.aboutFigures()
	for _, r := range figure.Refused(figs, &about) {
		w.find(refusedFigure(f, r))
	}
	return nil
}

// refusedFigure is the finding of a figure that cannot be drawn.
func refusedFigure(f *cruisefile.Figures, r figure.Refusal) metadata.Finding {
	return metadata.Finding{Position: f.At, Severity: metadata.Note, Check: "figure.refused",
		Message: fmt.Sprintf("figure %s is not drawn: %v", r.Stem, r.Err)}
}

// A toJudge is a section or a field of a cruise that check does not map.
type toJudge struct {
	name string
	cost float64 // values to predict at stations that are left out, each from 60 others
	do   func() error
}

// mostPredicted returns how many values check predicts at stations that are left out: so many that it takes about as
// long as reading the casts. Two sections of 75 casts of 5500 levels, which are 9000 values, take half of that.
func mostPredicted(levels int) float64 { return max(20_000, float64(levels)/20) }

// judgeWithoutMaps makes the findings of sections and fields that need no map: those of how well stations that are left
// out are predicted, the cheapest sections and fields first, and those of comparisons with a reference. One at a time
// has what is derived. A note names what only a build finds.
func (w *survey) judgeWithoutMaps(ctx context.Context) error {
	var all []toJudge
	for i := range w.sections {
		s := &w.sections[i]
		if s.settings.Anomaly.With.Path != "" {
			sec := *s.section
			sec.Casts = w.withDerived(sec.Casts, s.settings.Grid.Options.Variables)
			if _, err := w.anomaly(ctx, s.settings, &sec); err != nil {
				return err
			}
		}
		if opts := s.settings.Grid.Options; !s.settings.Grid.None && len(s.section.Casts) > 1 {
			opts.Workers = workers(w.plan.Workers)
			all = append(all, toJudge{"section " + s.settings.Name, predictions(s.section.Casts, &opts), func() error {
				sec := *s.section
				sec.Casts = w.withDerived(sec.Casts, opts.Variables)
				found, err := gridding.Judge(&sec, opts)
				return w.foundOfGrid(s.settings, found, err)
			}})
		}
	}
	for i := range w.fields {
		f := &w.fields[i]
		opts := f.settings.Grid.Options
		opts.Workers = workers(w.plan.Workers)
		all = append(all, toJudge{"field " + f.settings.Name, predictions(f.casts, &opts), func() error {
			found, err := gridding.JudgeField(f.settings.Name, w.withDerived(f.casts, opts.Variables), f.settings.Area,
				opts)
			return w.foundOfField(f.settings, found, err)
		}})
	}
	slices.SortStableFunc(all, func(a, b toJudge) int { return cmp.Compare(a.cost, b.cost) })
	left := mostPredicted(w.levels())
	var without []string
	for _, j := range all {
		if left -= j.cost; left < 0 {
			without = append(without, j.name)
			continue
		}
		runtime.GC() // what the one before took is used again
		if err := errors.Join(ctx.Err(), j.do()); err != nil {
			return err
		}
	}
	if len(all) > 0 {
		w.noteUnmapped(without)
	}
	return nil
}

// predictions estimates how many values are predicted when each station is left out once, as a number of those that
// are predicted from 60 others: a cast has at most about 60 data levels, and the work grows with the square of the
// others.
func predictions(casts []*section.Cast, o *gridding.Options) float64 {
	const levels, usual = 60.0, 60.0
	others := cmp.Or(float64(o.Neighbours), usual) / usual
	n := float64(len(casts)) * levels * others * others
	if o.Method == gridding.Choose { // every method
		n *= 2
	}
	return n
}

// withDerived returns copies of casts with Absolute Salinity, Conservative Temperature and those of some variables that
// are derived. The casts stay as they are.
func (w *survey) withDerived(casts []*section.Cast, variables []string) []*section.Cast {
	opts := derived.Options{Extra: w.cruise.Derived, NotCalibratedUsable: w.cruise.Casts.Uncalibrated,
		Only: slices.Concat([]string{"asal", "ctemp", "oxy"}, variables)}
	of := map[*section.Cast]*section.Cast{}
	var scratch derived.Workspace
	out := make([]*section.Cast, len(casts))
	for i, k := range casts {
		if of[k] == nil {
			c := *k
			c.Columns = slices.Clone(k.Columns)
			derived.Columns(&c, opts, &scratch) //nolint:errcheck // deriveForCheck returned its error and its findings
			of[k] = &c
		}
		out[i] = of[k]
	}
	return out
}

// noteUnmapped names what check does not find because it does not map, and of which sections and fields it does not
// leave stations out either.
func (w *survey) noteUnmapped(without []string) {
	only := []string{"places where mapped density falls with pressure (grid.inversion)",
		"grid points with data too close together (grid.noise)"}
	for i := range w.fields {
		if w.fields[i].settings.Surfaces.Density != "" {
			only = append(only, "surfaces of density that are nowhere in a field (field.surfaces)")
			break
		}
	}
	if !w.cruise.Figures.None {
		only = append(only, "figures that cannot be drawn (figure.refused)")
		if len(w.figureChoice().Scales) > 0 {
			only = append(only, "levels that no figure uses (figure.levels)")
		}
	}
	if len(without) > 0 {
		only = append(only, "how well left-out stations are predicted in "+strings.Join(without, ", ")+
			" (grid.skill, grid.error, grid.choose, grid.variance, grid.variable, section.grid, field.grid)")
	}
	last := len(only) - 1
	w.find(metadata.Finding{Position: w.cruise.File, Severity: metadata.Note, Check: "check.maps",
		Message: fmt.Sprintf("the casts have %d levels, more than %d, so check did not map sections and fields; only "+
			"castwright build finds %s and %s", w.levels(), mostMappedLevels, strings.Join(only[:last], ", "),
			only[last])})
}
