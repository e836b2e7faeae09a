package chart

import (
	"image/color"
	"math"
	"testing"

	"github.com/castwright/castwright/section/derived"
)

// dichromat simulates full protanopia or deuteranopia by projection in linear RGB (Viénot, Brettel and Mollon
// 1999, Color Res. Appl. 24, 243: the matrices for a display with sRGB primaries, from memory), in rows.
var dichromat = map[string][9]float64{
	"protanopia":   {0.11238, 0.88762, 0, 0.11238, 0.88762, 0, 0.00401, -0.00401, 1},
	"deuteranopia": {0.29275, 0.70725, 0, 0.29275, 0.70725, 0, -0.02234, 0.02234, 1},
}

func seenBy(kind string, c color.NRGBA) lab {
	m := dichromat[kind]
	r, g, b := decode8(c.R), decode8(c.G), decode8(c.B)
	return labOfLinear(m[0]*r+m[1]*g+m[2]*b, m[3]*r+m[4]*g+m[5]*b, max(0, m[6]*r+m[7]*g+m[8]*b))
}

func TestOKLab(t *testing.T) {
	// Ottosson 2020 gives white as L = 1, a = b = 0; the round trip is ours.
	w := labOf(color.NRGBA{255, 255, 255, 255})
	if math.Abs(w.L-1) > 1e-6 || math.Abs(w.A) > 1e-6 || math.Abs(w.B) > 1e-6 {
		t.Errorf("white is %v", w)
	}
	// Ottosson 2020, table of example pairs: XYZ (0, 1, 0) and others are given in XYZ; sRGB red as widely
	// published, from memory.
	red := labOf(color.NRGBA{255, 0, 0, 255})
	if red.distance(lab{0.6280, 0.2249, 0.1258}) > 2e-4 {
		t.Errorf("red is %v", red)
	}
	for r := 0; r < 256; r += 15 {
		for g := 0; g < 256; g += 15 {
			for b := 0; b < 256; b += 15 {
				c := color.NRGBA{uint8(r), uint8(g), uint8(b), 255}
				if got := labOf(c).rgb(); got != c {
					t.Fatalf("%v came back as %v", c, got)
				}
			}
		}
	}
}

// TestColourMaps holds every map to its promises. The limits are ours.
func TestColourMaps(t *testing.T) {
	for _, m := range colourMaps {
		t.Run(m.Name, func(t *testing.T) {
			even := func(n int, at func(float64) lab) {
				small, large := math.Inf(1), 0.0
				for i := range n {
					d := at(float64(i) / float64(n)).distance(at(float64(i+1) / float64(n)))
					small, large = min(small, d), max(large, d)
				}
				if large/small >= 1.2 {
					t.Errorf("%d steps: largest is %.3f times the smallest", n, large/small)
				}
			}
			even(256, m.lab)
			// As painted; with more steps than a figure has, rounding to 8 bits outweighs the step.
			for _, n := range []int{6, 10, 14, 20} {
				even(n, func(x float64) lab { return labOf(m.At(x)) })
			}
			grey := func(c color.NRGBA) float64 {
				return 0.2126*decode8(c.R) + 0.7152*decode8(c.G) +
					0.0722*decode8(c.B)
			}
			views := map[string]func(color.NRGBA) float64{
				"normal": func(c color.NRGBA) float64 { return labOf(c).L },
				"grey":   grey,
			}
			for k := range dichromat {
				views[k] = func(c color.NRGBA) float64 { return seenBy(k, c).L }
			}
			const n = 64
			for view, lightness := range views {
				if m.Diverging {
					for i := range n / 2 {
						lo, next := float64(i)/n, float64(i+1)/n
						for _, side := range [][2]float64{{lo, next}, {1 - lo, 1 - next}} {
							if lightness(m.At(side[0])) >= lightness(m.At(side[1])) {
								t.Errorf("%s: lightness does not rise towards the middle at %.2f", view, side[0])
							}
						}
						if view == "normal" {
							if d := math.Abs(lightness(m.At(lo)) - lightness(m.At(1-lo))); d > 0.012 {
								t.Errorf("lightness differs by %.3f between %.2f and %.2f", d, lo, 1-lo)
							}
						}
					}
					continue
				}
				up := lightness(m.At(1)) > lightness(m.At(0))
				for i := range n {
					a, b := lightness(m.At(float64(i)/n)), lightness(m.At(float64(i+1)/n))
					if (b > a) != up {
						t.Errorf("%s: lightness turns at %.2f", view, float64(i)/n)
					}
				}
			}
			for kind := range dichromat {
				const bands = 14 // as many as a section has
				for i := range bands - 1 {
					a, b := seenBy(kind, m.At(float64(i)/(bands-1))), seenBy(kind, m.At(float64(i+1)/(bands-1)))
					// a just noticeable difference is near 0.02 for small patches side by side; ours
					if d := a.distance(b); d < 0.018 {
						t.Errorf("%s: bands %d and %d differ by %.4f", kind, i, i+1, d)
					}
				}
				if m.Diverging {
					if d := seenBy(kind, m.At(0.1)).distance(seenBy(kind, m.At(0.9))); d < 0.1 {
						t.Errorf("%s: the two sides differ by %.3f only", kind, d)
					}
				}
			}
		})
	}
}

func TestEveryVariableHasAMap(t *testing.T) {
	for v, name := range mapOf {
		if ColourMapOf(v).Name != name {
			t.Errorf("%s has the map %s", v, ColourMapOf(v).Name)
		}
	}
	if ColourMapOf("nothing of the kind").Name != "other1" {
		t.Error("an unknown variable has no map of its own")
	}
}

// A derived variable has its colours in the registry alone.
func TestColoursOfDerivedVariables(t *testing.T) {
	for _, d := range derived.Variables() {
		if _, twice := mapOf[d.Name]; twice {
			t.Errorf("%s has a second colour map", d.Name)
		}
	}
}
