package compare

import (
	"context"
	"os"
	"path/filepath"
	"time"

	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/export/netcdf"
	folders "github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/metadata"
)

// Save writes the change as NAME_change.nc, CF NetCDF with the errors of each part, and as the figure NAME_change in
// every format with its caption (NAME_change_VARIABLE of further variables), and as NAME_change.csv, into the new
// folder NAME_change of dir. Its date is the time
// stamp of the newer archive. It returns the path of the folder and the figures that could not be drawn.
func (l *Line) Save(ctx context.Context, dir, program string) (path string, refused []figure.Refusal, err error) {
	name := l.Section + "_change"
	stamp, err := time.Parse(time.RFC3339, l.newer.stamp)
	if err != nil {
		return "", nil, &metadata.InputError{Position: metadata.Position{File: l.New}, Err: err,
			Remedy: "castwright verify says what is wrong with the archive"}
	}
	folder, err := folders.Begin(ctx, dir, name, nil)
	if err != nil {
		return "", nil, err
	}
	defer folder.Abort()
	reference := "the occupation of " + l.older.first.UTC().Format("2006-01") + " (" + l.older.cruise.ID + ")"
	grid := l.Changed.Grid(l.Section)
	casts := l.newer.Section.Casts
	step := metadata.Record{Step: "compare", Text: "section " + l.Section + " less " + reference, Params: grid.Params}
	x := &netcdf.Common{Cruise: &l.newer.cruise.Cruise, Created: stamp, Program: program,
		History: []metadata.Record{step}}
	if err := netcdf.WriteGrid(ctx, filepath.Join(folder.Path(), name+".nc"), x, grid, netcdf.GridSource{Casts: casts,
		Section: l.Section, Title: l.newer.title, Along: l.newer.Section.Method, Reference: reference}); err != nil {
		return "", nil, err
	}
	about := figure.About{Cruise: l.newer.cruise.ID, Release: string(l.newer.cruise.Release.Status),
		Version: l.newer.cruise.Release.Version, Licence: l.newer.cruise.Release.Licence}
	made, err := figure.Write(ctx, folder.Path(), figure.Changes(figure.Change{Name: name, Title: l.newer.title,
		Reference: reference, Section: l.newer.Section, Grid: grid}), figure.Options{Stamp: stamp, About: about})
	if err != nil {
		return "", nil, err
	}
	table, err := os.Create(filepath.Join(folder.Path(), name+".csv"))
	if err != nil {
		return "", nil, err
	}
	if err := l.Write(table); err != nil {
		table.Close()
		return "", nil, err
	}
	if err := table.Close(); err != nil {
		return "", nil, err
	}
	if err := folder.Commit(ctx); err != nil {
		return "", nil, err
	}
	return filepath.Join(dir, name), made.Refused, nil
}
