package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/paulmach/orb"
)

// Kinds of figure, as the cruise file calls them.
const (
	KindSection             = "section"
	KindVelocity            = "velocity"
	KindTemperatureSalinity = "temperature_salinity"
	KindOxygenDensity       = "oxygen_density"
	KindMap                 = "map"
	KindProfiles            = "profiles"
	KindError               = "error"
	KindSkill               = "skill"
	KindOverview            = "overview"
	KindField               = "field"
	KindAnomaly             = "anomaly"
	KindTimeSeries          = "time_series"
	KindDifferences         = "differences"
	KindSensorPairs         = "sensor_pairs"
	KindBottleComparison    = "bottle_comparison"
)

// DefaultKinds are made unasked.
func DefaultKinds() []string {
	return []string{KindOverview, KindSection, KindVelocity, KindTemperatureSalinity, KindMap, KindField,
		KindProfiles, KindAnomaly, KindTimeSeries, KindDifferences, KindSensorPairs, KindBottleComparison}
}

// Material is what a cruise has to draw.
type Material struct {
	Title      string          // of the cruise, on the map
	Casts      []*section.Cast // all, for the map
	Sections   []SectionMaterial
	Bathymetry *Bathymetry // nil: none
	Bottles    []Bottle
	Fields     []FieldMaterial
	Series     []SeriesMaterial
	Pairs      []export.PairRow       // differences of sensor pairs
	Compared   []export.ComparisonRow // bottles beside casts
	Fits       []export.FitRow        // of these
	Better     []string               // sentences on which sensor of a pair agrees with bottles
	// WaterDepthM is the water depth of the grid at a position, for sections without gridded fields; nil: none
	WaterDepthM func(at orb.Point) float64
}

// SectionMaterial is what one section has to draw; whatever is nil or empty is passed over.
type SectionMaterial struct {
	Title     string // "" for "Section NAME"
	Section   *section.Section
	Grid      *gridding.Grid
	Velocity  *geostrophy.Result
	Residuals map[string][]Residual // leave-one-out residuals by variable name
	Change    *gridding.Grid        // the section less Reference, as gridding.Changed makes it; nil: none
	Reference string

	bottom *gridding.Grid // whose bottom all figures of the section draw
}

// FieldMaterial is a field on longitude, latitude and pressure.
type FieldMaterial struct {
	Grid     *gridding.Grid
	Surfaces *gridding.Grid // the field on surfaces of potential density; nil: none
	Casts    []*section.Cast
}

// SeriesMaterial is the casts of one position.
type SeriesMaterial struct {
	Title     string // "" for "Time series NAME"
	Series    *section.Series
	FromFirst bool // differences are from the first cast, not from the mean
}

// Choice says which figures are wanted. The zero value asks for the default kinds.
type Choice struct {
	Kinds       []string         // empty: DefaultKinds
	Overlay     string           // density lines over sections: sigma0 .. sigma4; "" none
	UpperDbar   float64          // bottom of the expanded upper panel; 0: scaled
	Axis        string           // second axis: latitude, longitude; "" automatic
	SigmaDbar   float64          // of the property pictures' density
	Shade       Shade            // what the colour of a cast means
	Depth       bool             // depth instead of pressure on vertical axes
	Dots        bool             // a dot at each value of the casts on sections
	Scales      map[string]Scale // levels by variable; what is not there is chosen
	Share       bool             // the same levels in all sections
	Plots       [][2]string      // variables against each other: horizontal, vertical
	FieldLevels []float64        // dbar, of the maps of fields; nil: three
	OnDensity   string           // sections against this density too: sigma0 .. sigma4; "" none
}

// Choose lists the figures of a cruise in a fixed order: the map, then each section's. Files are named
// SECTION_KIND, with the name of the variable for pictures of a field. A cruise without sections has the
// pictures of its casts alone.
func Choose(m Material, c Choice) []Figure {
	if len(c.Kinds) == 0 {
		c.Kinds = DefaultKinds()
	}
	var out []Figure
	if c.want(KindMap) && len(m.Casts) > 0 {
		f := &StationMap{Name: "map", Title: m.Title, Casts: m.Casts, Bathymetry: m.Bathymetry}
		for _, s := range m.Sections {
			f.Sections = append(f.Sections, s.Section)
		}
		out = append(out, f)
	}
	for _, f := range m.Fields {
		out = append(out, f.maps(&c)...)
	}
	out = append(append(out, m.repeats(&c)...), m.compared(&c)...)
	for _, s := range m.Sections {
		if s.bottom = s.Grid; s.bottom == nil {
			s.bottom = bottomAlong(s.Section, m.WaterDepthM)
		}
		fields := s.fields(&c)
		if c.want(KindOverview) {
			if f := s.overview(&c, fields); f != nil {
				out = append(out, f)
			}
		}
		out = append(out, fields...)
		out = append(out, s.onDensity(&c)...)
		name, place, casts := s.Section.Name+"_", sectionTitle(s.Section, s.Title), s.Section.Once().Casts
		if c.want(KindTemperatureSalinity) && anyCast(casts, "asal", "ctemp") {
			out = append(out, c.properties(name, place, KindTemperatureSalinity, casts))
		}
		if c.want(KindOxygenDensity) && anyCast(casts, "asal", "ctemp", "oxy") {
			out = append(out, c.properties(name, place, KindOxygenDensity, casts))
		}
		if c.want(KindProfiles) {
			out = append(out, &Profiles{Name: name + "profiles", Title: place, Casts: casts, Shade: c.Shade,
				UpperDbar: c.UpperDbar, Depth: c.Depth})
			if HasSecondSensors(casts) {
				out = append(out, &SensorDifferences{Name: name + "sensors", Title: place, Casts: casts,
					Shade: c.Shade, UpperDbar: c.UpperDbar, Depth: c.Depth})
			}
		}
		if s.Change != nil && c.want(KindAnomaly) {
			out = append(out, Changes(Change{Name: name + "anomaly", Title: s.Title, Reference: s.Reference,
				Section: s.Section, Grid: s.Change, UpperDbar: c.UpperDbar, Axis: c.Axis, Depth: c.Depth})...)
		}
		out = append(out, s.skill(&c)...)
		out = append(out, c.against(name, place, casts, m.Bottles)...)
	}
	if c.Share {
		share(out)
	}
	if len(m.Sections) > 0 || len(m.Casts) == 0 {
		return out
	}
	for _, k := range []string{KindTemperatureSalinity, KindOxygenDensity} {
		if c.want(k) {
			out = append(out, c.properties("", m.Title, k, m.Casts))
		}
	}
	if c.want(KindProfiles) {
		out = append(out, &Profiles{Name: "profiles", Title: m.Title, Casts: m.Casts, Shade: c.Shade,
			UpperDbar: c.UpperDbar, Depth: c.Depth})
	}
	return append(out, c.against("", m.Title, m.Casts, m.Bottles)...)
}

// maps lists the maps of a field, each variable at each level.
func (f *FieldMaterial) maps(c *Choice) []Figure {
	if !c.want(KindField) || f.Grid == nil || len(f.Grid.Axes) != 3 {
		return nil
	}
	levels := c.FieldLevels
	if levels == nil {
		levels = usualLevels(f.Grid)
	}
	var out []Figure
	for _, v := range f.Grid.Fields {
		if v.Kind != gridding.Value {
			continue
		}
		for _, p := range levels {
			name := fmt.Sprintf("%s_%s_%gdbar", f.Grid.Name, v.Name, p)
			out = append(out, &FieldMap{Name: name, Title: "Field " + f.Grid.Name, Grid: f.Grid, Field: v.Name,
				Level: p, Casts: f.Casts, Scale: c.Scales[v.Name]})
		}
	}
	if f.Surfaces == nil {
		return out
	}
	for _, v := range f.Surfaces.Fields {
		for _, s := range f.Surfaces.Axes[0].Values {
			if v.Kind == gridding.Value {
				name := fmt.Sprintf("%s_%s_%g%s", f.Grid.Name, v.Name, s, f.Surfaces.Axes[0].Name)
				out = append(out, &FieldMap{Name: name, Title: "Field " + f.Grid.Name, Grid: f.Surfaces, Field: v.Name,
					Level: s, Casts: f.Casts, Scale: c.Scales[v.Name]})
			}
		}
	}
	return out
}

// repeats lists the figures of time series, and that of casts which repeat others.
func (m *Material) repeats(c *Choice) []Figure {
	var out []Figure
	for _, s := range m.Series {
		var fields []Figure
		grid := newSeriesGrid(s.Series)
		for _, name := range seriesVariables {
			if !c.want(KindTimeSeries) || findField(grid.grid, name) == nil {
				continue
			}
			fields = append(fields, &TimeSeries{Name: s.Series.Name + "_time_series_" + name, Title: s.Title,
				Series: s.Series, Field: name, Overlay: overlayFor(grid.grid, name, cmp.Or(c.Overlay, "sigma0")),
				UpperDbar: c.UpperDbar, Scale: c.Scales[name], Dots: c.Dots, Depth: c.Depth, grid: grid})
		}
		if len(fields) == 0 && c.want(KindTimeSeries) { // without salinity nothing is derived
			fields = append(fields, &TimeSeries{Name: s.Series.Name + "_time_series_temp", Title: s.Title,
				Series: s.Series, Field: "temp", UpperDbar: c.UpperDbar, Scale: c.Scales["temp"], Dots: c.Dots,
				Depth: c.Depth, grid: grid})
		}
		if out = append(out, fields...); c.want(KindDifferences) {
			out = append(out, &Differences{Name: s.Series.Name + "_differences",
				Title: cmp.Or(s.Title, "Time series "+s.Series.Name), Sets: [][]*section.Cast{s.Series.Casts},
				FromFirst: s.FromFirst, UpperDbar: c.UpperDbar, Depth: c.Depth})
		}
	}
	if sets := repeatsOf(m.Casts, m.Series); c.want(KindDifferences) && len(sets) > 0 {
		out = append(out, &Differences{Name: "repeats", Title: m.Title, Sets: sets, FromFirst: true,
			UpperDbar: c.UpperDbar, Depth: c.Depth})
	}
	return out
}

// compared lists the figures of sensor pairs and of bottles beside casts.
func (m *Material) compared(c *Choice) []Figure {
	var out []Figure
	deep := func(p export.PairRow) bool { return p.Deep.Levels > 0 }
	if c.want(KindSensorPairs) && slices.ContainsFunc(m.Pairs, deep) {
		out = append(out, &SensorPairs{Name: KindSensorPairs, Title: m.Title, Rows: m.Pairs, Better: m.Better})
	}
	differs := func(r export.ComparisonRow) bool {
		return r.Value == r.Value && (r.Down == r.Down || r.Closure == r.Closure)
	}
	if c.want(KindBottleComparison) && slices.ContainsFunc(m.Compared, differs) {
		out = append(out, &BottleComparison{Name: KindBottleComparison, Title: m.Title, Rows: m.Compared, Fits: m.Fits,
			Better: m.Better})
	}
	return out
}

// usualLevels returns three levels of a field: near the surface, half way down those at which a third of the columns
// have values, and the last of these.
func usualLevels(g *gridding.Grid) []float64 {
	var held []float64
	columns := len(g.Axes[1].Values) * len(g.Axes[2].Values)
	for k, p := range g.Axes[0].Values {
		n := 0
		for _, v := range g.Fields[0].Data[k*columns : (k+1)*columns] {
			if !math.IsNaN(v) {
				n++
			}
		}
		if p >= 5 && 3*n >= columns {
			held = append(held, p)
		}
	}
	if len(held) == 0 {
		return nil
	}
	return slices.Compact([]float64{held[0], held[len(held)/2], held[len(held)-1]})
}

// against lists the plots of variables against each other that are asked for.
func (c *Choice) against(prefix, title string, casts []*section.Cast, bottles []Bottle) []Figure {
	var out []Figure
	for _, q := range c.Plots {
		out = append(out, &Against{Name: prefix + q[1] + "_by_" + q[0], Title: title, X: q[0], Y: q[1], Casts: casts,
			Bottles: bottlesOf(bottles, casts), Depth: c.Depth})
	}
	return out
}

func (c *Choice) want(kind string) bool { return slices.Contains(c.Kinds, kind) }

func (c *Choice) properties(prefix, title, kind string, casts []*section.Cast) Figure {
	return &PropertyPlot{Name: prefix + kind, Title: title, Kind: kind, Casts: casts, SigmaDbar: c.SigmaDbar,
		Shade: c.Shade}
}

// fields lists the pictures of the grid and the velocity.
func (s *SectionMaterial) fields(c *Choice) []Figure {
	var out []Figure
	name := s.Section.Name + "_"
	if s.Grid != nil {
		for _, v := range s.Grid.Fields {
			f := &Section{Name: name + v.Name, Title: s.Title, Section: s.Section, Grid: s.Grid, Field: v.Name}
			f.UpperDbar, f.Axis, f.Depth = c.UpperDbar, c.Axis, c.Depth
			switch {
			case v.Kind == gridding.Value && c.want(KindSection):
				f.Overlay = overlayFor(s.Grid, v.Name, c.Overlay)
				f.Scale, f.Dots = c.Scales[v.Name], c.Dots
			case v.Kind == gridding.StandardError && c.want(KindError):
				f.Name = name + v.Of + "_error"
			default:
				continue
			}
			out = append(out, f)
		}
	}
	if s.Velocity != nil && c.want(KindVelocity) {
		out = append(out, &Velocity{Name: name + "velocity", Title: s.Title, Result: s.Velocity,
			UpperDbar: c.UpperDbar, Axis: c.Axis, Grid: s.bottom, Depth: c.Depth, Scale: c.Scales["velocity"]})
	}
	return out
}

// overview returns the page of a section; nil when there is nothing for two panels. Its panels have the bands of the
// figures of their own.
func (s *SectionMaterial) overview(c *Choice, own []Figure) *Overview {
	f := &Overview{Name: s.Section.Name + "_overview", Title: s.Title}
	all := *c
	all.Kinds, all.Overlay, all.Dots = []string{KindSection, KindVelocity}, "", false
	made := s.fields(&all)
	for _, group := range overviewFields {
		for _, name := range group {
			at := slices.IndexFunc(made, func(g Figure) bool { q, ok := g.(*Section); return ok && q.Field == name })
			if at < 0 {
				continue
			}
			panel := made[at].(*Section)
			f.Sections = append(f.Sections, panel)
			for _, g := range own {
				if q, ok := g.(*Section); ok && q.Field == name {
					q.bands = &lazyBands{}
					panel.bands = q.bands
				}
			}
			break
		}
	}
	for _, g := range made {
		if v, ok := g.(*Velocity); ok {
			f.Velocity = v
		}
	}
	if len(f.Sections) < 2 && (f.Velocity == nil || len(f.Sections) == 0) {
		return nil
	}
	return f
}

// skill lists the pictures of what the grid predicts.
func (s *SectionMaterial) skill(c *Choice) []Figure {
	var out []Figure
	if !c.want(KindSkill) || s.Grid == nil {
		return nil
	}
	for _, k := range s.Grid.Skill {
		if len(s.Residuals[k.Variable]) > 0 {
			out = append(out, &LeaveOneOut{Name: s.Section.Name + "_" + k.Variable + "_skill", Title: s.Title,
				Section: s.Section, Variable: variable(k.Variable), Residuals: s.Residuals[k.Variable], Skill: k,
				Params: slices.Concat(s.Grid.Params, s.Grid.Results), UpperDbar: c.UpperDbar, Grid: s.bottom,
				Depth: c.Depth})
		}
	}
	return out
}

// overlayFor leaves out density lines over density itself and where the grid has none.
func overlayFor(g *gridding.Grid, field, overlay string) string {
	if overlay == "" || len(field) == 6 && field[:5] == "sigma" || overlayOf(g, overlay) == nil {
		return ""
	}
	return overlay
}

// anyCast reports whether one of the casts has all columns.
func anyCast(casts []*section.Cast, names ...string) bool {
	return slices.ContainsFunc(casts, func(c *section.Cast) bool {
		return !slices.ContainsFunc(names, func(n string) bool { return columnOf(c, n) == nil })
	})
}
