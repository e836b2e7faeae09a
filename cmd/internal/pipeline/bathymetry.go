package pipeline

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path"
	"strings"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// readBathymetry reads the grid of water depth around the casts, when the cruise file names one, and says which casts
// stand on land or far from the depth in their header. Faults are among the findings; the error is ctx's.
func (w *survey) readBathymetry(ctx context.Context) error {
	s := w.cruise.Casts.Bathymetry
	if s.Path == "" || len(w.casts) == 0 {
		return nil
	}
	at := w.at(s.Path)
	fail := func(err error) {
		w.fault(&metadata.InputError{Position: s.At, Err: fmt.Errorf("bathymetry %s: %w", s.Path, err),
			Remedy: "name a CF NetCDF grid of depth or elevation that covers the casts, or take the key " +
				"bathymetry out"},
			"input.bathymetry")
	}
	if info, err := os.Lstat(at); err != nil || !info.Mode().IsRegular() {
		fail(errors.New("not there, or no regular file"))
		return nil
	}
	if i := w.gridSource(s.Path); i < 0 {
		return nil // it could not be read for its checksum: said already
	}
	west, east, south, north := box(w.casts)
	g, err := depthGrid(ctx, at, west, east, south, north)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		fail(errors.New(strings.ReplaceAll(err.Error(), at, path.Base(s.Path))))
		return nil
	}
	w.depthAt = g.At
	w.depths = g
	i := w.gridSource(s.Path)
	w.record(metadata.Record{Step: "bathymetry", Text: "water depth between the casts from a grid",
		Inputs: []metadata.Digest{w.sources[i]},
		Params: []metadata.Param{{Name: "interpolation", Value: "bilinear"},
			{Name: "longitudes", Value: fmt.Sprintf("%g to %g", g.Lon[0], g.Lon[len(g.Lon)-1])},
			{Name: "latitudes", Value: fmt.Sprintf("%g to %g", g.Lat[0], g.Lat[len(g.Lat)-1])}}})
	return nil
}

// gridSource finds a grid among the inputs; -1 when it is not.
func (w *inputs) gridSource(name string) int {
	for i := range w.sources {
		if w.sources[i].Name == path.Clean(name) {
			return i
		}
	}
	return -1
}

// noteGrids takes the grids that the cruise file names among the inputs: water depth and what sections are compared
// with.
func (w *inputs) noteGrids(ctx context.Context) error {
	if err := w.noteGrid(ctx, w.cruise.Casts.Bathymetry, "bathymetry", "input.bathymetry"); err != nil {
		return err
	}
	for i := range w.cruise.Sections {
		if err := w.noteGrid(ctx, w.cruise.Sections[i].Anomaly.With, "anomaly with", "input.anomaly"); err != nil {
			return err
		}
	}
	return nil
}

// noteGrid takes a grid among the inputs, once.
func (w *inputs) noteGrid(ctx context.Context, s ingest.Source, what, check string) error {
	if s.Path == "" || w.gridSource(s.Path) >= 0 {
		return nil
	}
	at := w.at(s.Path)
	info, err := os.Lstat(at)
	if err != nil || !info.Mode().IsRegular() {
		return nil // said where it is read
	}
	sum, n, err := regular.Sum(ctx, at)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		w.fault(&metadata.InputError{Position: s.At, Err: fmt.Errorf("%s %s cannot be read", what, s.Path),
			Remedy: "make it readable: chmod u+r FILE"}, check)
		return nil
	}
	w.sources = append(w.sources, metadata.Digest{Name: path.Clean(s.Path), SHA256: sum, Bytes: n})
	w.onDisk = append(w.onDisk, at)
	return nil
}

// box returns the box around casts with half a degree on each side. East exceeds 180 where the casts lie on both
// sides of that meridian.
func box(casts []*section.Cast) (west, east, south, north float64) {
	first := casts[0].At
	west, east, south, north = first[0], first[0], first[1], first[1]
	near := func(p orb.Point) float64 { return first[0] + math.Remainder(p[0]-first[0], 360) }
	for _, k := range casts {
		west, east = min(west, near(k.At)), max(east, near(k.At))
		south, north = min(south, k.At[1]), max(north, k.At[1])
	}
	return west - 0.5, east + 0.5, max(south-0.5, -90), min(north+0.5, 90)
}
