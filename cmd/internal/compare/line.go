package compare

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/geostrophy"
)

// A Line is the change of a section between two archives, new minus old whatever the order in which they were named:
// the dates of the casts decide.
type Line struct {
	Old, New string // paths of the archives
	Section  string
	Changed  *gridding.Changed

	newer, older *occupied
}

// An occupied is an occupation as read, with what its files say of it.
type occupied struct {
	gridding.Occupation
	cruise *cruisefile.Cruise
	title  string
	stamp  string // of the archive
	first  time.Time
	mapped []string // variables of its grid
}

// LinePlan says which sections to compare. An empty name of the newer is that of the older.
type LinePlan struct{ Old, New, Section, NewSection string }

// CompareLine compares two occupations of a line.
func CompareLine(ctx context.Context, plan LinePlan) (*Line, error) {
	names := [2]string{plan.Section, plan.NewSection}
	if names[1] == "" {
		names[1] = names[0]
	}
	var o [2]*occupied
	paths := [2]string{plan.Old, plan.New}
	for i, path := range paths {
		a, err := archive.Open(ctx, path)
		if err != nil {
			return nil, err
		}
		if o[i], err = occupation(a, names[i]); err != nil {
			return nil, err
		}
	}
	if o[0].first.Equal(o[1].first) {
		return nil, &metadata.InputError{Position: metadata.Position{File: plan.New},
			Err:    errors.New("both sections have the same first cast: which is the newer occupation cannot be said"),
			Remedy: "name archives of two cruises"}
	}
	if o[0].first.After(o[1].first) {
		o[0], o[1], paths[0], paths[1] = o[1], o[0], paths[1], paths[0]
	}
	levels := pipeline.ComparedLevels(o[1].Section.Casts)
	o[1].Others = pipeline.OthersToCompare(o[1].Section, o[1].mapped)
	changed, err := gridding.Change(&o[0].Occupation, o[1].Occupation, levels)
	if err != nil {
		return nil, &metadata.InputError{Position: metadata.Position{File: paths[1]}, Err: err,
			Remedy: "compare sections along one line; the older one may need a grid to be compared between its stations"}
	}
	return &Line{Old: paths[0], New: paths[1], Section: names[0], Changed: changed, newer: o[1], older: o[0]}, nil
}

// occupation reads a section of an archive, with its grid where it has one, and the time of its first cast.
func occupation(a *archive.Archive, name string) (*occupied, error) {
	rel := "sections/" + name + "_section.nc"
	if !a.Has(rel) {
		var there []string
		for _, f := range a.Matching("sections/*_section.nc") {
			there = append(there, strings.TrimSuffix(strings.TrimPrefix(f, "sections/"), "_section.nc"))
		}
		return nil, &metadata.InputError{Position: metadata.Position{File: a.Name},
			Err: fmt.Errorf("there is no section %q", name), Remedy: "sections are " + strings.Join(there, ", ")}
	}
	f, err := a.NetCDF(rel)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	all, err := ncprofile.ReadCasts(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", rel, err)
	}
	stations, err := a.Table("tables/stations.csv")
	if err != nil {
		return nil, err
	}
	for _, row := range stations.Rows { // the file of a section does not have the systems
		if k := all.Cast(stations.Get(row, "cast_id")); k != nil {
			k.System = stations.Get(row, "system")
		}
	}
	o := &occupied{stamp: a.Stamp}
	o.Section = ncprofile.SectionOf(f, name, all)
	for _, k := range all.Casts {
		if !k.Time.IsZero() && (o.first.IsZero() || k.Time.Before(o.first)) {
			o.first = k.Time
		}
	}
	if o.cruise, err = a.Cruise(); err != nil {
		return nil, err
	}
	velocity := geostrophy.DefaultOptions()
	for i := range o.cruise.Sections {
		if s := &o.cruise.Sections[i]; s.Name == name {
			o.title, o.Section.Method, velocity = s.Title, s.Distance, s.Velocity
		}
	}
	if rel = "sections/" + name + "_geostrophy.nc"; a.Has(rel) {
		g, err := a.NetCDF(rel)
		if err != nil {
			return nil, err
		}
		defer g.Close()
		if err := pipeline.StoredErrors(&velocity, g); err != nil {
			return nil, fmt.Errorf("%s: %w", rel, err)
		}
	}
	o.NotCalibrated, o.Accuracy = o.cruise.Casts.Uncalibrated, velocity.CastAccuracy
	o.OtherAccuracy = pipeline.OtherAccuracy(o.cruise)
	if rel = "sections/" + name + "_grid.nc"; a.Has(rel) {
		g, err := a.NetCDF(rel)
		if err != nil {
			return nil, err
		}
		defer g.Close()
		if o.Grid = pipeline.SectionGrid(g); o.Grid != nil {
			for i := range o.Grid.Fields {
				if f := &o.Grid.Fields[i]; f.Kind == gridding.Value {
					o.mapped = append(o.mapped, f.Name)
				}
			}
		}
	}
	return o, nil
}

var lineHead = []string{"station", "compared_with", "distance_km", "off_track_km", "pressure_dbar", "reference_dbar",
	"ctemp_change", "ctemp_change_err", "ctemp_change_on_density", "ctemp_change_on_density_err", "ctemp_heave",
	"ctemp_heave_err", "asal_change", "asal_change_err", "asal_change_on_density", "asal_change_on_density_err",
	"asal_heave", "asal_heave_err"}

// head names the columns of table: those of further variables follow those of salinity.
func (l *Line) head() []string {
	head := slices.Clone(lineHead)
	for i := range l.Changed.Others {
		for _, end := range []string{"_change", "_change_on_density", "_heave"} {
			head = append(head, l.Changed.Others[i].Name+end, l.Changed.Others[i].Name+end+"_err")
		}
	}
	return append(head, "surface_moved_dbar", "on_density")
}

// Write writes the change as CSV, a line a place and pressure; an empty cell is not defined, and the last column says
// why. Units are degC, g/kg, dbar and those of the further variables; an error that is not known is empty.
func (l *Line) Write(w io.Writer) error {
	c := csv.NewWriter(w)
	if err := c.WriteAll(append([][]string{l.head()}, l.table()...)); err != nil {
		return err
	}
	return c.Error()
}

// Rows returns the change as one object a place and pressure, with the names of the columns of Write.
func (l *Line) Rows() []map[string]string {
	out, head := []map[string]string{}, l.head()
	for _, r := range l.table() {
		m := map[string]string{}
		for i, cell := range r {
			m[head[i]] = cell
		}
		out = append(out, m)
	}
	return out
}

func (l *Line) table() (rows [][]string) {
	for i := range l.Changed.Places {
		p := &l.Changed.Places[i]
		with := "grid"
		if p.With != nil {
			with = "station " + p.With.Station
		}
		for k := range p.Levels {
			x := &p.Levels[k]
			if x.Reason == gridding.OutsideProfile {
				continue
			}
			why := x.Reason.String()
			if x.Reason == gridding.Defined && !x.HeaveSmall {
				why = "defined_heave_not_small"
			}
			row := []string{p.Cast.Station, with, fixed(p.DistanceKm, 3), fixed(p.OffTrackKm, 3),
				fixed(x.PressureDbar, 1),
				fixed(x.ReferenceDbar, 0)}
			for _, v := range []float64{x.CT, x.CTErr, x.CTDensity, x.CTDensityErr, x.CTHeave, x.CTHeaveErr, x.SA,
				x.SAErr,
				x.SADensity, x.SADensityErr, x.SAHeave, x.SAHeaveErr} {
				row = append(row, fixed(v, 6))
			}
			for _, o := range x.Others {
				for _, v := range []float64{o.Change, o.ChangeErr, o.Density, o.DensityErr, o.Heave, o.HeaveErr} {
					row = append(row, fixed(v, 6))
				}
			}
			rows = append(rows, append(row, fixed(x.DisplacementDbar, 3), why))
		}
	}
	return rows
}

func fixed(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	return strconv.FormatFloat(v, 'f', decimals, 64)
}

// Cautions returns what a reader of the change must know.
func (l *Line) Cautions() []string {
	out := []string{"eddies and tides are not in the stated errors: a single pair of occupations does not show a trend"}
	for i := range l.Changed.Places {
		if p := &l.Changed.Places[i]; p.OffTrackKm > gridding.FarOffTrackKm {
			out = append(out, fmt.Sprintf("station %s lies %.0f km off the older track", p.Cast.Station, p.OffTrackKm))
		}
	}
	for i := range l.Changed.Lacking {
		out = append(out, l.Changed.Lacking[i].Name+" was not compared: the older section does not have it")
	}
	for _, k := range l.Changed.LeftOut {
		out = append(out,
			fmt.Sprintf("station %s was not compared: the older section has neither a station within %.1f km "+
				"nor a grid there", k.Station, l.Changed.WithinKm))
	}
	return out
}
