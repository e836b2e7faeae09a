package figure

import (
	"slices"

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
)

// DefaultKinds are made unasked.
func DefaultKinds() []string {
	return []string{KindSection, KindVelocity, KindTemperatureSalinity, KindMap, KindProfiles}
}

// Material is what a cruise has to draw.
type Material struct {
	Title      string          // of the cruise, on the map
	Casts      []*section.Cast // all, for the map
	Sections   []SectionMaterial
	Bathymetry *Bathymetry // nil: none
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

	bottom *gridding.Grid // whose bottom all figures of the section draw
}

// Choice says which figures are wanted. The zero value asks for the default kinds.
type Choice struct {
	Kinds     []string // empty: DefaultKinds
	Overlay   string   // density lines over sections: sigma0 .. sigma4; "" none
	UpperDbar float64  // bottom of the expanded upper panel; 0: scaled
	Axis      string   // second axis: latitude, longitude; "" automatic
	SigmaDbar float64  // of the property pictures' density
	Shade     Shade    // what the colour of a cast means
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
	for _, s := range m.Sections {
		if s.bottom = s.Grid; s.bottom == nil {
			s.bottom = bottomAlong(s.Section, m.WaterDepthM)
		}
		out = append(out, s.fields(&c)...)
		name, place, casts := s.Section.Name+"_", sectionTitle(s.Section, s.Title), s.Section.Casts
		if c.want(KindTemperatureSalinity) && anyCast(casts, "asal", "ctemp") {
			out = append(out, c.properties(name, place, KindTemperatureSalinity, casts))
		}
		if c.want(KindOxygenDensity) && anyCast(casts, "asal", "ctemp", "oxy") {
			out = append(out, c.properties(name, place, KindOxygenDensity, casts))
		}
		if c.want(KindProfiles) {
			out = append(out, &Profiles{Name: name + "profiles", Title: place, Casts: casts, Shade: c.Shade,
				UpperDbar: c.UpperDbar})
			if HasSecondSensors(casts) {
				out = append(out, &SensorDifferences{Name: name + "sensors", Title: place, Casts: casts,
					Shade: c.Shade, UpperDbar: c.UpperDbar})
			}
		}
		out = append(out, s.skill(&c)...)
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
			UpperDbar: c.UpperDbar})
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
			f.UpperDbar, f.Axis = c.UpperDbar, c.Axis
			switch {
			case v.Kind == gridding.Value && c.want(KindSection):
				f.Overlay = overlayFor(s.Grid, v.Name, c.Overlay)
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
			UpperDbar: c.UpperDbar, Axis: c.Axis, Grid: s.bottom})
	}
	return out
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
				Params: slices.Concat(s.Grid.Params, s.Grid.Results), UpperDbar: c.UpperDbar, Grid: s.bottom})
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
