package pipeline

import (
	"context"
	"errors"
	"fmt"
	"math"
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
	surfaces *gridding.Grid // on surfaces of potential density; nil when none are asked for
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
		if fatal := w.foundOfField(s, found, err); fatal != nil {
			return fatal
		} else if err != nil {
			continue
		}
		f.grid = g
		if s.Surfaces.Density == "" {
			continue
		}
		if f.surfaces, err = gridding.OnDensity(g, s.Surfaces.Density, s.Surfaces.Values); err != nil {
			w.find(metadata.Finding{Position: s.At, Severity: metadata.Warning, Check: "field.surfaces",
				Message: fmt.Sprintf("no surfaces of density: %v", err),
				Remedy:  "map asal and ctemp (grid: variables), or remove surfaces from the field"})
			continue
		}
		w.emptySurfaces(f)
	}
	return nil
}

// foundOfField takes up what the mapping of a field found, as foundOfGrid does of a section.
func (w *survey) foundOfField(s *cruisefile.MapField, found []metadata.Finding, err error) error {
	for _, x := range found {
		if x.File == "" {
			x.Position = s.At
		}
		w.find(x)
	}
	if errors.Is(err, gridding.ErrUnknown) {
		return &metadata.InputError{Position: s.At, Err: fmt.Errorf("field %s: %w", s.Name, err),
			Remedy: "castwright help cruise-file lists the settings of a grid"}
	}
	if err != nil {
		w.find(metadata.Finding{Position: s.At, Severity: metadata.Warning, Check: "field.grid",
			Message: fmt.Sprintf("no field: %v", err)})
	}
	return nil
}

// emptySurfaces names the surfaces of density that lie nowhere in a field.
func (w *survey) emptySurfaces(f *fieldWork) {
	pres := f.surfaces.Fields[0].Data
	n := len(pres) / len(f.settings.Surfaces.Values)
	for k, v := range f.settings.Surfaces.Values {
		if !slices.ContainsFunc(pres[k*n:(k+1)*n], func(x float64) bool { return !math.IsNaN(x) }) {
			w.find(metadata.Finding{Position: f.settings.At, Severity: metadata.Warning, Check: "field.surfaces",
				Message: fmt.Sprintf("field %s: the surface %s = %g kg/m3 is nowhere in the field; its values are "+
					"missing", f.settings.Name,
					f.settings.Surfaces.Density, v),
				Remedy: "give a density within the range of the casts"})
		}
	}
}

func (w *archive) writeFields(ctx context.Context, x *netcdf.Common) error {
	for i := range w.fields {
		f := &w.fields[i]
		if f.grid == nil {
			continue
		}
		mapped := metadata.Record{Step: "grid", Text: "field " + f.settings.Name + " mapped"}
		if err := w.writeField(ctx, x, f, f.grid, "longitude, latitude and pressure, with error, mask and skill",
			mapped); err != nil {
			return err
		}
		if f.surfaces == nil {
			continue
		}
		found := metadata.Record{Step: "surfaces", Text: "field " + f.settings.Name + " on surfaces of " +
			f.settings.Surfaces.Density}
		if err := w.writeField(ctx, x, f, f.surfaces, "longitude, latitude and surfaces of potential density, with "+
			"the pressure of each, error and mask", mapped, found); err != nil {
			return err
		}
	}
	return nil
}

// writeField writes one grid of a field; the last step is the one that is recorded with it.
func (w *archive) writeField(ctx context.Context, x *netcdf.Common, f *fieldWork, g *gridding.Grid, on string,
	steps ...metadata.Record) error {
	rel := "fields/" + g.Name + ".nc"
	path, err := w.place(rel, fmt.Sprintf("Field %s on %s.", f.settings.Name, on))
	if err != nil {
		return err
	}
	if err := netcdf.WriteGrid(ctx, path, with(x, steps...), g, netcdf.GridSource{Casts: f.casts}); err != nil {
		return err
	}
	last := steps[len(steps)-1]
	last.Inputs, last.Outputs, last.Params = w.castDigests(f.casts), []string{rel}, slices.Concat(g.Params, g.Results)
	w.record(last)
	return nil
}
