package netcdf

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// GridSource is what a grid was made from.
type GridSource struct {
	Casts   []*section.Cast // that went in: their times bound the field's, their expocodes are the file's
	Section string          // its name, when it is not that of the grid
	Title   string          // of the section
	Along   section.Method  // how distances along the section were computed
	// what the section is compared with, in words, when the grid is a change; "" for mapped values
	Reference string
}

// WriteGrid writes a gridded section (NAME_grid.nc: pressure by distance) or a map (NAME.nc: pressure by latitude by
// longitude) at path. It is no discrete sampling: no featureType, no cf_role. Each mapped quantity comes with what the
// mapping computed for it: standard error, error variance over signal variance, why points are masked, and in its
// attributes the skill of predicting left-out stations.
func WriteGrid(ctx context.Context, path string, x *Common, g *gridding.Grid, from GridSource) error {
	if err := x.checkCasts(from.Casts); err != nil {
		return fmt.Errorf("grid %s: %w", g.Name, err)
	}
	b := &gridded{x: x, g: g, from: from}
	if err := b.check(); err != nil {
		return fmt.Errorf("%w: %s: %w", ErrGrid, g.Name, err)
	}
	b.axes()
	b.place()
	for i := range g.Fields {
		b.field(&g.Fields[i])
	}
	if err := b.globals(); err != nil {
		return err
	}
	return b.p.write(ctx, path, x.Workers)
}

// gridded is a grid in the making.
type gridded struct {
	x    *Common
	g    *gridding.Grid
	from GridSource
	p    plan

	dims        []int
	along       bool   // a section: the last axis is a distance
	coordinates string // of the fields
	method      string
}

// check holds the grid to its own shape.
func (b *gridded) check() error {
	g := b.g
	names := make([]string, len(g.Axes))
	n := 1
	for i := range g.Axes {
		a := &g.Axes[i]
		names[i] = a.Name
		n *= len(a.Values)
		if a.Bounds != nil && len(a.Bounds) != len(a.Values) {
			return fmt.Errorf("axis %s has %d cells for %d values", a.Name, len(a.Bounds), len(a.Values))
		}
		for k, v := range a.Values {
			if math.IsNaN(v) || (k > 0 && v <= a.Values[k-1]) {
				return fmt.Errorf("axis %s does not increase at %g", a.Name, v)
			}
		}
	}
	switch {
	case len(names) == 2 && names[1] == "distance":
		b.along = true
		if len(g.Track) != len(g.Axes[1].Values) {
			return fmt.Errorf("track of %d points for %d distances", len(g.Track), len(g.Axes[1].Values))
		}
	case len(names) == 3 && names[1] == "lat" && names[2] == "lon":
	default:
		return fmt.Errorf("axes %s; a section has a vertical axis and distance, a map a vertical axis, lat and lon",
			strings.Join(names, ", "))
	}
	if n == 0 {
		return fmt.Errorf("no points")
	}
	if columns := n / len(g.Axes[0].Values); g.BottomM != nil && len(g.BottomM) != columns {
		return fmt.Errorf("%d water depths for %d columns", len(g.BottomM), columns)
	}
	seen := map[string]bool{}
	for i := range g.Fields {
		f := &g.Fields[i]
		name := FieldName(f)
		switch {
		case len(f.Data) != n:
			return fmt.Errorf("field %s has %d values for %d points", name, len(f.Data), n)
		case seen[name]:
			return fmt.Errorf("two fields are called %s", name)
		case f.Kind != gridding.Value &&
			!slices.ContainsFunc(g.Fields, func(p gridding.Field) bool {
				return p.Kind == gridding.Value &&
					p.Name == f.Of
			}):
			return fmt.Errorf("field %s belongs to %q, which the grid does not have", name, f.Of)
		}
		seen[name] = true
	}
	return nil
}

// FieldName returns the name of the variable that holds a field: that of the quantity, or of its parent with a
// suffix for what the field holds.
func FieldName(f *gridding.Field) string {
	switch f.Kind {
	case gridding.StandardError:
		return f.Of + "_err"
	case gridding.RelativeError:
		return f.Of + "_relerr"
	case gridding.MaskReason:
		return f.Of + "_mask"
	case gridding.CountField:
		return f.Of + "_count"
	case gridding.Extrapolated:
		return f.Of + "_extrapolated"
	case gridding.ChangeCode:
		return f.Of + "_code"
	}
	return f.Name
}

// axes adds the coordinate variables with the edges of their cells.
func (b *gridded) axes() {
	var names []string
	for i := range b.g.Axes {
		axis := &b.g.Axes[i]
		dim := b.p.dim(axis.Name, len(axis.Values))
		b.dims = append(b.dims, dim)
		names = append(names, axis.Name)
	}
	b.method = strings.Join(names, ": ") + ": point"
	for i := range b.g.Axes {
		axis := &b.g.Axes[i]
		var v nc.Var
		switch axis.Name {
		case "lat":
			v = coordinate("lat", "Y", "latitude", b.dims[i])
		case "lon":
			v = coordinate("lon", "X", "longitude", b.dims[i])
		case "distance":
			a := distance("distance along the section from its first station", b.from.Along)
			a.text(
				"axis", "X",
				"coverage_content_type", "coordinate",
			)
			v = double("distance", a, b.dims[i])
		default:
			v = double(axis.Name, vertical(&axis.Variable), b.dims[i])
		}
		if axis.Bounds != nil {
			v.Attrs = append(v.Attrs, nc.Attr{Name: "bounds", Value: axis.Name + "_bnds"})
		}
		b.p.values(v, axis.Values)
		if axis.Bounds != nil {
			edges := make([]float64, 0, 2*len(axis.Bounds))
			for _, e := range axis.Bounds {
				edges = append(edges, e[0], e[1])
			}
			b.p.values(double(axis.Name+"_bnds", nil, b.dims[i], b.p.dim("nv", 2)), edges)
		}
	}
}

// place adds where and when: the position of each column, the time of the casts, the section's name and the water
// depth.
func (b *gridded) place() {
	last := b.dims[1:]
	var around []string
	if b.along {
		lat, lon := tracks(b.g.Track)
		b.p.values(coordinate("lat", "", "latitude of the grid column", last...), lat)
		b.p.values(coordinate("lon", "", "longitude of the grid column", last...), lon)
		around = append(around, "lat", "lon")
	}
	first, end := timeRange(b.from.Casts)
	mid := seconds(first) + (seconds(end)-seconds(first))/2
	v := coordinate("time", "", "middle of the time in which the casts were taken")
	v.Attrs = append(v.Attrs, nc.Attr{Name: "bounds", Value: "time_bnds"})
	b.p.values(v, []float64{mid})
	b.p.values(double("time_bnds", nil, b.p.dim("nv", 2)), []float64{seconds(first), seconds(end)})
	around = append(around, "time")
	bottomAround := strings.Join(around, " ")
	if b.along {
		sectionID(&b.p, b.g.Name)
		around = append(around, "section_id")
		bottomAround = "lat lon section_id"
	}
	if dbar, ok := sigmaReference(b.g.Axes[0].Name); ok {
		referencePressure(&b.p, dbar)
		around = append(around, referenceName(dbar))
	}
	b.coordinates = strings.Join(around, " ")
	if b.g.BottomM == nil {
		return
	}
	variable := metadata.MustVariable("bottom_depth")
	variable.LongName = "water depth at the grid column"
	variable.Comment = b.bottomComment()
	a := quantity(&variable)
	a.text(
		"coordinates", bottomAround,
		"coverage_content_type", "auxiliaryInformation",
	)
	b.p.field(doubleOrMissing("bottom_depth", a, last...), b.g.BottomM)
}

// bottomComment returns where the water depth at the grid columns is from.
func (b *gridded) bottomComment() string {
	between := "interpolated linearly in distance between the casts"
	if !b.along {
		between = "interpolated linearly on triangles between the casts, beyond them that of the nearest cast"
	}
	switch b.g.Bottom {
	case gridding.Bathymetry:
		return "from a grid of water depth (bathymetry)"
	case gridding.DeepestBins:
		return "depth of the deepest usable value of each cast, " + between
	}
	return joinNonEmpty("; ", "depth as stated for the casts, "+between, b.x.Cruise.DepthFound)
}

func (b *gridded) name() string {
	if b.from.Section != "" {
		return b.from.Section
	}
	return b.g.Name
}

func tracks(track []orb.Point) (lat, lon []float64) {
	for _, p := range track {
		lat, lon = append(lat, p.Lat()), append(lon, p.Lon())
	}
	return lat, lon
}

func timeRange(casts []*section.Cast) (first, last time.Time) {
	first, last = casts[0].Time, casts[0].Time
	for _, c := range casts[1:] {
		if c.Time.Before(first) {
			first = c.Time
		}
		if c.Time.After(last) {
			last = c.Time
		}
	}
	return first, last
}

func (b *gridded) parent(f *gridding.Field) metadata.Variable {
	name := f.Of
	if f.Kind == gridding.Value {
		name = f.Name
	}
	for i := range b.g.Fields {
		if p := &b.g.Fields[i]; p.Kind == gridding.Value && p.Name == name {
			v := p.Variable
			if v.LongName == "" {
				v.LongName = v.Name
			}
			return v
		}
	}
	return f.Variable
}

// companions lists the fields that belong to the field called name. Whether a change on density is defined concerns all
// that rests on it: the changes but those at constant pressure.
func (b *gridded) companions(name string) []string {
	var out []string
	for i := range b.g.Fields {
		if f := &b.g.Fields[i]; f.Kind != gridding.Value && (f.Of == name ||
			f.Kind == gridding.ChangeCode && !strings.HasSuffix(name, "_change")) {
			out = append(out, FieldName(f))
		}
	}
	return out
}

// asJSON returns parameters as one JSON object from their names to a number, a list of numbers or words, or, where a
// parameter differs between variables, to an object from their names.
func asJSON(params []metadata.Param) (string, error) {
	out := map[string]any{}
	for i := range params {
		p := &params[i]
		var value any = p.Value
		if p.Typed != nil {
			value = p.Typed
		}
		if p.Of == "" {
			out[p.Name] = value
			continue
		}
		each, ok := out[p.Name].(map[string]any)
		if !ok {
			each = map[string]any{}
			out[p.Name] = each
		}
		each[p.Of] = value
	}
	var text bytes.Buffer
	e := json.NewEncoder(&text)
	e.SetEscapeHTML(false)
	err := e.Encode(out) // keys in order
	return strings.TrimSpace(text.String()), err
}

// skill adds how well left-out stations are predicted from the others.
func (b *gridded) skill(a *attrs, name string) {
	number := func(key string, v float64) {
		if !math.IsNaN(v) {
			a.add(key, v)
		}
	}
	for i := range b.g.Skill {
		s := &b.g.Skill[i]
		if s.Variable != name {
			continue
		}
		apart := "the first and the last station are counted apart, as skill_end"
		if !b.along {
			apart = "stations on the outer edge of the survey are counted apart, as skill_end"
		}
		a.text("skill_method",
			"prediction minus datum, each station in turn being left out and predicted from the others; "+apart)
		number("skill_rms", s.RMS)
		number("skill_bias", s.Bias)
		a.add("skill_count", int32(s.N))
		number("skill_over_linear", s.SkillLinear)
		number("skill_end_rms", s.EndRMS)
		a.add("skill_end_count", int32(s.EndN))
		if len(s.SignalBands) > 0 {
			var top, bottom, variance []float64
			for _, d := range s.SignalBands {
				if math.IsInf(d.BottomDbar, 1) { // the last band reaches as far as the data
					p := b.g.Axes[0].Values
					d.BottomDbar = max(d.TopDbar, p[len(p)-1])
				}
				top, bottom, variance = append(top, d.TopDbar), append(bottom, d.BottomDbar),
					append(variance, d.Variance)
			}
			a.add("signal_variance", variance)
			a.add("signal_variance_top_dbar", top)
			a.add("signal_variance_bottom_dbar", bottom)
		}
	}
}

func axisWord(a *gridding.Axis) string {
	if _, ok := sigmaReference(a.Name); ok {
		return "potential density"
	}
	return "pressure"
}

func (b *gridded) globals() error {
	axis := &b.g.Axes[0]
	f := &file{
		dataType: "Grid", casts: b.from.Casts, verticalUnit: axis.Units, vertical: [2]float64{axis.Values[0],
			axis.Values[len(axis.Values)-1]},
		source: "mapped from CTD casts lowered from a ship", level: joinNonEmpty(", ", "gridded", b.x.calibration(),
			b.x.status()),
	}
	var a attrs
	if b.along {
		f.area = trackArea(b.g.Track)
		f.what, f.idSuffix = "gridded section "+named(b.name(), b.from.Title), "grid_"+b.name()
		f.summary = fmt.Sprintf("Section %s on a grid of %s and distance, from %s", b.name(), axisWord(axis),
			count(len(b.from.Casts), "CTD cast"))
		if b.from.Reference != "" {
			f.what, f.idSuffix = "change of section "+named(b.name(), b.from.Title), "change_"+b.name()
			f.summary = fmt.Sprintf("Section %s less %s at its stations: Conservative Temperature and Absolute "+
				"Salinity at constant pressure, on surfaces of potential density and by their heave, with "+
				"standard errors", b.name(), b.from.Reference)
			f.source = joinNonEmpty("; ", "CTD casts lowered from a ship", "reference: "+b.from.Reference)
			f.level = joinNonEmpty(", ", "compared", b.x.calibration(), b.x.status())
		}
		a.text("section", b.name())
	} else {
		f.area = axesArea(b.g.Axes[1].Values, b.g.Axes[2].Values)
		f.what, f.idSuffix = "field "+b.g.Name, "field_"+b.g.Name
		f.summary = fmt.Sprintf("Field %s on a grid of %s, latitude and longitude, from %s", b.g.Name, axisWord(axis),
			count(len(b.from.Casts), "CTD cast"))
	}
	how := "mapped from casts; all"
	if b.from.Reference != "" {
		how = "compared at the stations of the section; all"
	}
	a.text("grid_settings",
		how+" settings are in grid_settings_json, with keys that the README of the archive explains")
	for _, r := range []struct {
		name   string
		params []metadata.Param
	}{{"grid_settings_json", b.g.Params}, {"grid_results_json", b.g.Results}} {
		text, err := asJSON(r.params)
		if err != nil {
			return fmt.Errorf("grid %s: %s: %w", b.g.Name, r.name, err)
		}
		a.text(r.name, text)
	}
	if len(b.g.Skill) == 0 {
		a.text("grid_skill", "not computed")
	}
	f.extra = a
	b.x.globals(&b.p, f)
	return nil
}
