package chart

import (
	"cmp"
	"image/color"
	"math"
	"sort"
	"sync"

	"github.com/castwright/castwright/section/derived"
)

// A ColourMap turns 0..1 into a colour. Each is a curve in OKLab given by a formula (lightness, chroma and
// hue as functions of one parameter), walked at even pace, so that equal steps look equally large. Lightness
// runs one way from end to end (or alike on both sides of the middle for a diverging map), so that the
// picture reads in grey and with any colour vision.
type ColourMap struct {
	Name      string // kind of variable and number
	Diverging bool   // 0.5 is the neutral middle
	curve     func(t float64) lab
	pace      func() []float64 // parameter at equal distances along the curve, computed once when it is first asked for
}

// At returns the colour at t; t outside 0..1 gives the end colours.
func (m *ColourMap) At(t float64) color.NRGBA { return m.lab(t).rgb() }

const paceSteps = 2048

func (m *ColourMap) lab(t float64) lab {
	t = max(0, min(1, t))
	pace := m.pace()
	x := t * float64(len(pace)-1)
	i := min(int(x), len(pace)-2)
	f := x - float64(i)
	return m.curve(pace[i] + f*(pace[i+1]-pace[i]))
}

func newMap(name string, curve func(float64) lab) *ColourMap {
	return &ColourMap{Name: name, curve: curve, pace: sync.OnceValue(func() []float64 { return paceOf(curve) })}
}

// paceOf walks the curve and returns the parameter at equal arc length.
func paceOf(curve func(float64) lab) []float64 {
	const fine = 8 * paceSteps
	length := make([]float64, fine+1)
	last := curve(0)
	for i := 1; i <= fine; i++ {
		q := curve(float64(i) / fine)
		length[i] = length[i-1] + q.distance(last)
		last = q
	}
	pace := make([]float64, paceSteps+1)
	for i := range pace {
		want := length[fine] * float64(i) / paceSteps
		k := min(sort.SearchFloat64s(length, want), fine)
		p := float64(k)
		if k > 0 && length[k] > length[k-1] {
			p = float64(k-1) + (want-length[k-1])/(length[k]-length[k-1])
		}
		pace[i] = p / fine
	}
	return pace
}

// sequential returns a map from (l0, h0) to (l1, h1): lightness straight, hue straight (h1 may lie beyond
// 360), chroma an arch from c0 over cMid to c1. Chroma is held inside what a screen can show.
func sequential(name string, l0, l1, h0, h1, c0, cMid, c1 float64) *ColourMap {
	return newMap(name, func(t float64) lab {
		l := l0 + t*(l1-l0)
		c := c0*(1-t)*(1-t) + 2*(2*cMid-(c0+c1)/2)*t*(1-t) + c1*t*t
		return shown(l, c, h0+t*(h1-h0))
	})
}

// diverging returns a map from a dark (lEnd) colour of hue hLow over a near-white middle to an equally dark
// colour of hue hHigh.
func diverging(name string, hLow, hHigh, lMid, lEnd, cEnd float64) *ColourMap {
	m := newMap(name, func(t float64) lab {
		s := 2*t - 1
		u := math.Abs(s)
		h := hHigh
		if s < 0 {
			h = hLow
		}
		return shown(lMid+u*(lEnd-lMid), cEnd*math.Pow(u, 0.8), h)
	})
	m.Diverging = true
	return m
}

// shown returns the colour, with as much of its chroma as sRGB can show.
func shown(l, c, h float64) lab {
	q := lch(l, c, h)
	if q.inGamut() {
		return q
	}
	lo, hi := 0.0, c
	for range 40 {
		mid := (lo + hi) / 2
		if lch(l, mid, h).inGamut() {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lch(l, lo, h)
}

// The maps. Light is low in all sequential maps but oxygen1, where dark is little oxygen: the eye goes to the
// dark, and there the reader's interest is the minimum.
var colourMaps = []*ColourMap{
	sequential("temperature1", 0.97, 0.30, 215, 385, 0.030, 0.135, 0.125),
	sequential("salinity1", 0.97, 0.30, 150, 55, 0.035, 0.105, 0.055),
	sequential("oxygen1", 0.30, 0.97, 310, 200, 0.100, 0.105, 0.030),
	sequential("density1", 0.97, 0.30, 320, 190, 0.025, 0.085, 0.050),
	sequential("chlorophyll1", 0.97, 0.30, 95, 150, 0.045, 0.120, 0.070),
	sequential("optics1", 0.97, 0.30, 75, 20, 0.025, 0.090, 0.070),
	sequential("error1", 0.97, 0.30, 20, -50, 0.015, 0.100, 0.085),
	sequential("depth1", 0.95, 0.45, 235, 255, 0.015, 0.060, 0.080),
	sequential("station1", 0.80, 0.33, 25, 195, 0.115, 0.125, 0.065),
	sequential("other1", 0.97, 0.30, 260, 200, 0.012, 0.070, 0.055),
	diverging("velocity1", 235, 62, 0.965, 0.45, 0.125),
	diverging("difference1", 275, 90, 0.965, 0.47, 0.125),
}

// Colours returns the map of a name. A name that is none is a mistake of the program.
func Colours(name string) *ColourMap {
	for _, m := range colourMaps {
		if m.Name == name {
			return m
		}
	}
	panic("chart: no colour map " + name)
}

// mapOf names the colour map of each variable that is measured; those of derived ones are in their registry.
var mapOf = map[string]string{
	"temp": "temperature1", "temp2": "temperature1",
	"psal2": "salinity1", "salt_bottle": "salinity1",
	"oxy2": "oxygen1", "oxy_ml": "oxygen1", "oxy_bottle": "oxygen1",
	"chl": "chlorophyll1", "fluor": "chlorophyll1", "par": "chlorophyll1",
	"xmiss": "optics1", "beamcp": "optics1", "beamc": "optics1", "turb": "optics1",
	"velocity": "velocity1", "velocity_east": "velocity1", "velocity_north": "velocity1", "transport": "velocity1",
}

// ColourMapOf returns the map of a variable.
func ColourMapOf(variable string) *ColourMap {
	if d := derived.Of(variable); d != nil && d.Colours != "" {
		return Colours(d.Colours)
	}
	return Colours(cmp.Or(mapOf[variable], "other1"))
}

// Readable returns a colour darkened until text in it has a contrast of 4.5 to 1 on another (WCAG 2.1, 1.4.3).
func Readable(c, on color.NRGBA) color.NRGBA {
	for q := labOf(c); contrast(on, c) < 4.6 && q.L > 0; {
		q.L -= 0.01
		c = q.rgb()
	}
	return c
}

// contrast returns the ratio of the luminances of two colours (WCAG 2.1, 1.4.3).
func contrast(a, b color.NRGBA) float64 {
	luminance := func(c color.NRGBA) float64 {
		return 0.2126*decode8(c.R) + 0.7152*decode8(c.G) + 0.0722*decode8(c.B) + 0.05
	}
	x, y := luminance(a), luminance(b)
	return max(x/y, y/x)
}

// BandColours spreads a map over bands; a diverging map keeps its middle at zero.
func BandColours(m *ColourMap, levels []float64) []color.NRGBA {
	n := len(levels) + 1
	out := make([]color.NRGBA, n)
	if m.Diverging {
		zero := sort.SearchFloat64s(levels, 0) // bands up to this one are below zero
		down, up := zero+1, n-zero-1
		if zero == len(levels) || levels[zero] != 0 {
			down = zero
			up = n - zero
		}
		side := float64(max(down, up))
		for k := range out {
			if k < down {
				out[k] = m.At(0.5 - (float64(down-k)-0.35)/side*0.5)
			} else {
				out[k] = m.At(0.5 + (float64(k-down)+0.65)/side*0.5)
			}
		}
		return out
	}
	for k := range out {
		t := 0.5
		if n > 1 {
			t = float64(k) / float64(n-1)
		}
		out[k] = m.At(t)
	}
	return out
}
