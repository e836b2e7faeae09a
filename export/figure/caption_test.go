package figure

import (
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
)

// Captions speak of what is in the picture.
func TestCaptionsAreTrue(t *testing.T) {
	s, g := invent(layout{stations: 8, lengthKm: 100, depthM: 900, from: orb.Point{4, 60}, to: orb.Point{5, 60},
		stepKm: 5, stepDbar: 10, first: 1})
	levels := make([]float64, 43)
	for k := range levels {
		levels[k] = float64(16 * k)
	}
	g.Params = append(g.Params, metadata.Param{Name: "data_levels", Value: "0 to 672 by 16", Typed: levels})
	e := findField(g, "ctemp_relerr").Data
	for k := range e {
		if !math.IsNaN(e[k]) {
			e[k] = 0.1
		}
	}
	has := func(f Figure, want bool, text string) {
		t.Helper()
		c, err := captionOf(f, aboutTrial)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(c, text) != want {
			t.Errorf("%s: %q: %v is not %v:\n%s", f.Stem(), text, !want, want, c)
		}
	}
	f := &Section{Name: "value", Section: s, Grid: g, Field: "ctemp"}
	has(f, false, "// error variance")
	has(f, true, "labelled lines")
	has(f, true, "data_levels 43 from 0 to 672 dbar")
	has(&Section{Name: "error", Section: s, Grid: g, Field: "ctemp_err"}, false, "labelled lines")
	nx := len(g.Axes[1].Values)
	e[nx*20+3] = 0.45 // too small a part to be seen
	has(f, false, "// error variance")
	for k := range 25 {
		e[nx*(20+k/5)+3+k%5] = 0.45
	}
	has(f, true, "// error variance")
	findField(g, "ctemp").Data[len(g.Axes[1].Values)*30+9] = math.NaN()
	has(f, true, "\\\\ no value")
}

func TestSettingsLeaveOutWhatIsNotSet(t *testing.T) {
	got := settings([]metadata.Param{{Name: "reference", Value: "deepest"}, {Name: "second_reference"},
		{Name: "triangle", Value: "none"}})
	if got != "reference deepest; triangle none" {
		t.Errorf("%q", got)
	}
}

func TestCaptionSaysWhatMatters(t *testing.T) {
	s, g := invent(wideLayout)
	about := aboutTrial
	about.Version, about.Notes = "0.2", []string{"salinity is not calibrated."}
	c, err := captionOf(&Section{Name: "a", Section: s, Grid: g, Field: "ctemp", Overlay: "sigma0"}, about)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"Section A: Conservative Temperature (°C), station 11 to station 38.", "σ₀", "upper 1500 dbar",
		"Where: 38.200°N, 32.400°W to 40.600°N, 26.100°W; 620.0 km along the track\n", "When: 2026-05-03 to " +
			"2026-05-08 (UTC)\n", "Casts: 28\n",
		"Gridded: method optimal; noise 0.02; neighbours 60\n", "rms 0.12 °C, bias 0.0030 °C, " +
			"1234 data", "= 0.52", "Contour interval: 0.5 to 2, " +
			"ticks at the left of the colour bar where it changes (°C); nowhere " +
			"below twice the error of the band of pressure (median mapping error or rms of left-out stations)",
		"Cruise: INVENTED-2026 (RV Example)\n", "Release: preliminary, version 0.2\n", "Licence: CC-BY-4.0\n",
		"Caution: these data are preliminary", "not for navigation", "not certified", "Caution: salinity is not " +
			"calibrated.\n",
	} {
		if !strings.Contains(c, want) {
			t.Errorf("caption lacks %q:\n%s", want, c)
		}
	}
	c, err = captionOf(&Velocity{Name: "a", Result: currents(s)}, about)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Positive: towards north-northwest (335° true), to the left of the direction of " +
		"the section.", "partial: 26 of 27 pairs", "25–26 withheld (no common levels)", "Note: casts are not " +
		"simultaneous\n"} {
		if !strings.Contains(c, want) {
			t.Errorf("caption of velocity lacks %q:\n%s", want, c)
		}
	}
	if _, err := captionOf(&Section{Name: "x"}, about); err == nil {
		t.Error("a caption of nothing")
	}
}
