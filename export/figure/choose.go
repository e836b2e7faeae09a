package figure

import (
	"slices"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
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
}

// SectionMaterial is what one section has to draw; whatever is nil or empty is passed over.
type SectionMaterial struct {
	Title     string // "" for "Section NAME"
	Section   *section.Section
	Grid      *gridding.Grid
	Velocity  *geostrophy.Result
	Residuals map[string][]Residual // leave-one-out residuals by variable name
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

// Choose lists the figures of a cruise in a fixed order: the map, then each section's. Files are named SECTION_KIND, with the name of the
// variable for pictures of a field. Differences of sensors come with the profiles of a section whose casts carry second sensors.
func Choose(m Material, c Choice) []Figure {
	kinds := c.Kinds
	if len(kinds) == 0 {
		kinds = DefaultKinds()
	}
	want := func(k string) bool { return slices.Contains(kinds, k) }
	var out []Figure
	if want(KindMap) && len(m.Casts) > 0 {
		f := &StationMap{Name: "map", Title: m.Title, Casts: m.Casts, Bathymetry: m.Bathymetry}
		for _, s := range m.Sections {
			f.Sections = append(f.Sections, s.Section)
		}
		out = append(out, f)
	}
	for _, s := range m.Sections {
		name := s.Section.Name
		place := sectionTitle(s.Section, s.Title)
		if s.Grid != nil {
			for k := range s.Grid.Fields {
				v := &s.Grid.Fields[k]
				switch {
				case v.Kind == gridding.Value && want(KindSection):
					out = append(out, &Section{Name: name + "_" + v.Name, Title: s.Title, Section: s.Section, Grid: s.Grid, Field: v.Name,
						Overlay: overlayFor(s.Grid, v.Name, c.Overlay), UpperDbar: c.UpperDbar, Axis: c.Axis})
				case v.Kind == gridding.StandardError && want(KindError):
					out = append(out, &Section{Name: name + "_" + v.Of + "_error", Title: s.Title, Section: s.Section, Grid: s.Grid, Field: v.Name,
						UpperDbar: c.UpperDbar, Axis: c.Axis})
				}
			}
		}
		if s.Velocity != nil && want(KindVelocity) {
			out = append(out, &Velocity{Name: name + "_velocity", Title: s.Title, Result: s.Velocity, UpperDbar: c.UpperDbar, Axis: c.Axis})
		}
		casts := s.Section.Casts
		if want(KindTemperatureSalinity) && anyCast(casts, "asal", "ctemp") {
			out = append(out, &TemperatureSalinity{Name: name + "_temperature_salinity", Title: place, Casts: casts, SigmaDbar: c.SigmaDbar, Shade: c.Shade})
		}
		if want(KindOxygenDensity) && anyCast(casts, "asal", "ctemp", "oxy") {
			out = append(out, &OxygenDensity{Name: name + "_oxygen_density", Title: place, Casts: casts, SigmaDbar: c.SigmaDbar, Shade: c.Shade})
		}
		if want(KindProfiles) {
			out = append(out, &Profiles{Name: name + "_profiles", Title: place, Casts: casts, Shade: c.Shade})
			if HasSecondSensors(casts) {
				out = append(out, &SensorDifferences{Name: name + "_sensors", Title: place, Casts: casts, Shade: c.Shade})
			}
		}
		if want(KindSkill) && s.Grid != nil {
			for _, k := range s.Grid.Skill {
				if len(s.Residuals[k.Variable]) == 0 {
					continue
				}
				v, ok := metadata.ByName(k.Variable)
				if !ok {
					v = metadata.Variable{Name: k.Variable}
				}
				out = append(out, &LeaveOneOut{Name: name + "_" + k.Variable + "_skill", Title: s.Title, Section: s.Section, Variable: v,
					Residuals: s.Residuals[k.Variable], Skill: k, Params: slices.Concat(s.Grid.Params, s.Grid.Results), UpperDbar: c.UpperDbar})
			}
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

func anyCast(casts []*section.Cast, names ...string) bool {
	for _, c := range casts {
		ok := true
		for _, n := range names {
			ok = ok && columnOf(c, n) != nil
		}
		if ok {
			return true
		}
	}
	return false
}
