package pipeline

import (
	"context"
	"fmt"

	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/derived"
)

// mostMappedLevels is how many levels of casts check maps at most: so that it stays a matter of seconds and of the
// memory of the casts.
const mostMappedLevels = 40_000

// deriveForCheck makes the findings of what is derived, and reports whether check maps sections and fields as a build
// does, to judge the maps: of larger cruises it says that it does not.
func (w *survey) deriveForCheck(ctx context.Context) (maps bool, err error) {
	levels := 0
	for _, k := range w.casts {
		levels += k.Levels()
	}
	wanted := !w.cruise.Figures.None || len(w.cruise.Fields) > 0
	for i := range w.cruise.Sections {
		wanted = wanted || !w.cruise.Sections[i].Grid.None
	}
	if wanted = wanted && len(w.casts) > 0; wanted && levels <= mostMappedLevels {
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
	if wanted && len(w.cruise.Sections)+len(w.cruise.Fields) > 0 {
		w.find(metadata.Finding{Position: w.cruise.File, Severity: metadata.Note, Check: "check.maps",
			Message: fmt.Sprintf("the casts have %d levels, more than %d: check did not map sections and fields; "+
				"castwright build prints the findings of mapping and drawing", levels, mostMappedLevels)})
	}
	return false, nil
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
