package figure

import (
	"strings"
	"testing"

	"github.com/castwright/castwright/section"
)

func TestChoose(t *testing.T) {
	s, g := invent(layout{stations: 5, lengthKm: 100, depthM: 900, from: [2]float64{4, 60}, to: [2]float64{5, 60},
		stepKm: 5, stepDbar: 10, first: 1})
	m := Material{Title: "x", Casts: s.Casts,
		Sections: []SectionMaterial{{Section: s, Grid: g, Velocity: currents(s),
			Residuals: map[string][]Residual{"ctemp": predicted(s)}}}}
	stems := func(c Choice) string {
		var out []string
		for _, f := range Choose(m, c) {
			out = append(out, f.Stem())
		}
		return strings.Join(out, " ")
	}
	if got, want := stems(Choice{}),
		"map A_overview A_ctemp A_asal A_oxy A_velocity A_temperature_salinity A_profiles "+
			"A_sensors"; got != want {
		t.Errorf("default: %s, not %s", got, want)
	}
	if got, want := stems(Choice{Kinds: []string{KindError, KindSkill,
		KindOxygenDensity}}), "A_ctemp_error A_asal_error A_oxy_error A_oxygen_density A_ctemp_skill"; got != want {
		t.Errorf("on request: %s, not %s", got, want)
	}
	if got := stems(Choice{Kinds: []string{"none"}}); got != "" {
		t.Errorf("none: %s", got)
	}
	for _, f := range Choose(m, Choice{Overlay: "sigma0"}) {
		if q, ok := f.(*Section); ok && q.Overlay != "sigma0" {
			t.Errorf("%s has no overlay", q.Name)
		}
	}
	north, _ := invent(layout{stations: 5, lengthKm: 100, depthM: 900, from: [2]float64{4, 60}, to: [2]float64{4, 61},
		stepKm: 5, stepDbar: 10, first: 1})
	for _, f := range Choose(Material{Casts: north.Casts, Sections: []SectionMaterial{{Section: north}}},
		Choice{Kinds: []string{KindTemperatureSalinity, KindOxygenDensity, KindProfiles}, Shade: ByLatitude}) {
		c, err := captionOf(f, aboutTrial)
		if err != nil || !strings.Contains(c, "Colour: latitude") {
			t.Errorf("%s is not coloured by latitude: %v %s", f.Stem(), err, c)
		}
	}
	bare := Material{Casts: nil, Sections: []SectionMaterial{{Section: &section.Section{Name: "B"}}}}
	if n := len(Choose(bare, Choice{Kinds: []string{KindMap, KindTemperatureSalinity, KindVelocity,
		KindSection}})); n != 0 {
		t.Errorf("%d figures of nothing", n)
	}
}
