package pipeline

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// fieldWork is one longitude by latitude by pressure field on its way.
type fieldWork struct {
	settings *cruisefile.MapField
	casts    []*section.Cast
	grid     *gridding.Grid
}

// assembleFields chooses the casts of each field: primary ones of its stations.
func (w *survey) assembleFields() {
	w.fields = nil
	for i := range w.cruise.Fields {
		f := &w.cruise.Fields[i]
		list := f.Stations
		if list.Empty() {
			list.All = true
		}
		casts, err := section.Select(w.casts, list)
		if err != nil {
			for _, e := range metadata.Parts(err) {
				found := metadata.Finding{Position: f.At, Severity: metadata.Failure, Check: "field.stations",
					Message: fmt.Sprintf("field %s: %v", f.Name, e),
					Remedy:  "correct the stations of the field, or take the station out"}
				if mixed := (*section.LegsError)(nil); errors.As(e, &mixed) {
					found.Remedy, found.Options = "", legOptions("fields", f.Name, list, w.casts, mixed)
				}
				w.find(found)
			}
			continue
		}
		casts = slices.DeleteFunc(slices.Clone(casts), func(k *section.Cast) bool { return k.Role != section.Primary })
		w.fields = append(w.fields, fieldWork{settings: f, casts: casts})
	}
}

// mapFields maps each field.
func (w *survey) mapFields(ctx context.Context) error {
	for i := range w.fields {
		f := &w.fields[i]
		s := f.settings
		opts := s.Grid.Options
		opts.Workers = workers(w.plan.Workers)
		opts.WaterDepthM = w.depthAt
		opts.Sample = w.plan.Compared.sample("fields/" + s.Name + ".nc")
		g, found, err := gridding.MapField(s.Name, f.casts, s.Area, opts)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		for _, x := range found {
			if x.File == "" {
				x.Position = s.At
			}
			w.find(x)
		}
		if err != nil {
			if errors.Is(err, gridding.ErrUnknown) {
				return &metadata.InputError{Position: s.At, Err: fmt.Errorf("field %s: %w", s.Name, err),
					Remedy: "castwright help cruise-file lists the settings of a grid"}
			}
			w.find(metadata.Finding{Position: s.At, Severity: metadata.Warning, Check: "field.grid",
				Message: fmt.Sprintf("no field: %v", err)})
			continue
		}
		f.grid = g
	}
	return nil
}

func (w *archive) writeFields(ctx context.Context, x *netcdf.Common) error {
	for i := range w.fields {
		f := &w.fields[i]
		if f.grid == nil {
			continue
		}
		rel := "fields/" + f.settings.Name + ".nc"
		path,
			err := w.place(rel, fmt.Sprintf("Field %s on longitude, latitude and pressure, with error, mask and skill.",
			f.settings.Name))
		if err != nil {
			return err
		}
		mapped := metadata.Record{Step: "grid", Text: "field " + f.settings.Name + " mapped"}
		if err := netcdf.WriteGrid(ctx, path, with(x, mapped), f.grid, netcdf.GridSource{Casts: f.casts}); err != nil {
			return err
		}
		mapped.Inputs, mapped.Outputs, mapped.Params = w.castDigests(f.casts), []string{rel},
			slices.Concat(f.grid.Params, f.grid.Results)
		w.record(mapped)
	}
	return nil
}
