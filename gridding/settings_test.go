package gridding

import (
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
)

// Every parameter and result of a grid is explained, under every method, in sections and maps, and nothing is explained
// that does not occur.
func TestSettingsAreExplained(t *testing.T) {
	explained := map[string]bool{}
	for _, s := range Settings() {
		if explained[s.Name] || s.What == "" {
			t.Errorf("%s twice or without words", s.Name)
		}
		explained[s.Name] = true
	}
	met := map[string]bool{}
	look := func(what string, g *Grid) {
		for _, p := range slices.Concat(g.Params, g.Results) {
			if met[p.Name] = true; !explained[p.Name] {
				t.Errorf("%s: %s is not explained", what, p.Name)
			}
			if strings.ContainsAny(p.Name, " ,") || p.Value == "" {
				t.Errorf("%s: %q is %q", what, p.Name, p.Value)
			}
		}
		for _, p := range g.Params {
			if slices.Contains([]string{"inversions", "chosen", "held_to_data", "extended"}, p.Name) {
				t.Errorf("%s: result %s is among the settings", what, p.Name)
			}
		}
		for i := range g.Fields {
			if c := g.Fields[i].Comment; len(c) > 150 {
				t.Errorf("%s: comment of %d characters: %s", what, len(c), c)
			}
			if c := g.Fields[i].Comment; len(g.Axes) == 3 && (strings.Contains(c, "straight") ||
				strings.Contains(c, "distance")) {
				t.Errorf("%s: comment of a map speaks of a section: %s", what, c)
			}
		}
	}
	o := newOcean(5, true)
	sec := o.sample(5, 9, true)
	casts := scattered(20, orb.Point{0, 50}, 200, 3)
	for _, method := range Methods() {
		g, _, err := Map(sec, Options{Method: method, StepKm: 10, StepDbar: 10})
		if err != nil {
			t.Fatal(err)
		}
		look("section, "+string(method), g)
		if method == Density {
			continue
		}
		if g, _, err = MapField("f", casts, AnyArea(), Options{Method: method}); err != nil {
			t.Fatal(err)
		}
		look("map, "+string(method), g)
		if g, err = OnDensity(g, "sigma0", []float64{26, 27}); err != nil {
			t.Fatal(err)
		}
		look("surfaces, "+string(method), g)
	}
	for _, s := range Settings() {
		if !met[s.Name] {
			t.Errorf("%s is explained and no grid has it", s.Name)
		}
	}
}

func TestLevelsText(t *testing.T) {
	for want, levels := range map[string][]float64{
		"5": {5}, "0 10 20": {0, 10, 20}, "0 to 30 by 10": {0, 10, 20, 30},
		"0.1 to 0.4 by 0.1": {0.1, 0.2, 0.30000000000000004, 0.4}, "0 10 20 31": {0, 10, 20, 31}, "": nil,
	} {
		if got := levelsText(levels); got != want {
			t.Errorf("%v: %q, want %q", levels, got, want)
		}
	}
}

func TestBottomSource(t *testing.T) {
	for want, o := range map[BottomSource]Options{StatedDepth: {}, DeepestBins: {DeepestBin: true},
		Bathymetry: {WaterDepthM: func(orb.Point) float64 { return 100 }}} {
		g, _, err := Map(line([]float64{0, 10, 20}, []float64{100, 100, 100}, 2, bilinear), o)
		if err != nil {
			t.Fatal(err)
		}
		text := g.Params[slices.IndexFunc(g.Params, func(p metadata.Param) bool { return p.Name == "bottom" })].Value
		if g.Bottom != want || text != [...]string{"depth", "bathymetry", "deepest bin"}[want] {
			t.Errorf("bottom %v, %q; want %v", g.Bottom, text, want)
		}
	}
}
