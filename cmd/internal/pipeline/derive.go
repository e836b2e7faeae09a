package pipeline

import (
	"context"
	"fmt"
	"strings"
	"sync"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
)

// derive adds the derived columns to every cast, side by side.
func (w *survey) derive(ctx context.Context) error {
	defer w.stage("TEOS-10")()
	opts := derived.Options{Extra: w.cruise.Derived, NotCalibratedUsable: w.cruise.Casts.Uncalibrated}
	found := make([][]metadata.Finding, len(w.casts))
	errs := make([]error, len(w.casts))
	scratch := sync.Pool{New: func() any { return new(derived.Workspace) }}
	err := each(ctx, w.plan.Workers, len(w.casts), func(i int) error {
		s := scratch.Get().(*derived.Workspace)
		defer scratch.Put(s)
		found[i], errs[i] = derived.Columns(w.casts[i], opts, s)
		w.moveCast(w.casts[i])
		return nil
	})
	if err != nil {
		return err
	}
	for i := range w.casts {
		for _, f := range found[i] {
			if f.File == "" {
				f.File = w.casts[i].Source.Name
			}
			w.find(f)
		}
		if errs[i] != nil {
			return w.derivedError(errs[i])
		}
	}
	w.record(metadata.Record{Step: "derive", Text: "TEOS-10 quantities of every cast", Inputs: w.castDigests(w.casts),
		Params: []metadata.Param{{Name: "also", Value: orDefault(strings.Join(w.cruise.Derived, " "), "none")},
			{Name: "flag_1_usable", Value: yesNo(w.cruise.Casts.Uncalibrated)}}})
	return nil
}

// derivedError is the error of a name under derived that nothing has.
func (w *survey) derivedError(err error) error {
	return &metadata.InputError{Position: w.cruise.File, Err: err, Remedy: "under derived, list some of: " +
		strings.Join(derived.Extras(), ", ")}
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// castNumbers returns the numbers of every primary cast: mixed layer, heat content, steric height, first baroclinic
// mode.
func (w *archive) castNumbers(ctx context.Context) ([]export.CastNumber, error) {
	opts := derived.DefaultSummary()
	opts.NotCalibratedUsable = w.cruise.Casts.Uncalibrated
	slots := make([][]derived.Quantity, len(w.casts))
	err := each(ctx, w.plan.Workers, len(w.casts), func(i int) error {
		if w.casts[i].Role == section.Primary {
			slots[i] = derived.Summary(w.casts[i], opts)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	var rows []export.CastNumber
	var of []*section.Cast
	for i, qs := range slots {
		if len(qs) > 0 {
			of = append(of, w.casts[i])
		}
		for _, q := range qs {
			rows = append(rows, export.CastNumber{Cast: w.ids[w.casts[i]], Variable: q.Variable, Value: q.Value,
				Reason: q.Reason})
		}
	}
	var depths []string
	for _, m := range opts.HeatToM {
		depths = append(depths, fmt.Sprintf("%g", m))
	}
	w.record(metadata.Record{Step: "derive", Text: "numbers of each primary cast", Inputs: w.castDigests(of),
		Outputs: []string{castNumbersFile},
		Params: []metadata.Param{{Name: "heat_to_m", Value: strings.Join(depths, " ")},
			{Name: "steric_reference_dbar", Value: fmt.Sprintf("%g", opts.StericReferenceDbar)},
			{Name: "n2_window_dbar", Value: fmt.Sprintf("%g", opts.N2WindowDbar)},
			{Name: "flag_1_usable", Value: yesNo(opts.NotCalibratedUsable)}}})
	return rows, nil
}
