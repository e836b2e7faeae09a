package figure

import (
	"fmt"
	"math"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// vertical is the vertical axis of a figure: pressure, or depth at the mean latitude of its casts. Figures are drawn on
// pressure; with depth its axis has other numbers.
type vertical struct {
	depth     bool
	lat       float64 // mean latitude
	unlike    float64 // how far, in degrees, a latitude is from the mean
	otherwise string  // title where the axis is neither
}

// verticalOf returns the axis of a figure of casts.
func verticalOf(depth bool, casts []*section.Cast) vertical {
	v := vertical{}
	lat := chart.NoExtent()
	n := 0.0
	for _, c := range withPosition(casts) {
		v.lat += c.At[1]
		lat.Add(c.At[1])
		n++
	}
	if depth && n > 0 {
		v.depth, v.lat = true, v.lat/n
		v.unlike = max(lat.Hi-v.lat, v.lat-lat.Lo)
	}
	return v
}

// number returns what the axis has at a pressure.
func (v *vertical) number(dbar float64) float64 {
	if v.depth {
		return -seawater.Height(dbar, v.lat)
	}
	return dbar
}

// Depths returns what the vertical axis of a figure of the casts with depth has at some pressures: depth in metres at
// the mean latitude of the casts. It returns nil when no cast has a position.
func Depths(dbar []float64, casts []*section.Cast) []float64 {
	v := verticalOf(true, casts)
	if !v.depth {
		return nil
	}
	out := make([]float64, len(dbar))
	for i, p := range dbar {
		out[i] = v.number(p)
	}
	return out
}

// pressure returns where a number of the axis lies.
func (v *vertical) pressure(number float64) float64 {
	if v.depth {
		return seawater.Pressure(-number, v.lat)
	}
	return number
}

// variable is what the axis has.
func (v *vertical) variable() metadata.Variable {
	if v.depth {
		return metadata.MustVariable("depth")
	}
	return metadata.MustVariable("pres")
}

// axis returns the axis for panels.
func (v *vertical) axis() chart.Vertical {
	what := v.variable()
	a := chart.Vertical{Title: titleText(&what), Number: v.number, Value: v.pressure}
	if v.otherwise != "" {
		a.Title = v.otherwise
	}
	return a
}

// text prints a place of the axis with its unit.
func (v *vertical) text(dbar float64) string {
	if v.depth {
		return chart.Short(math.Round(v.number(dbar))) + " m"
	}
	return chart.Short(chart.Round(dbar)) + " dbar"
}

// span adds the range of the axis to a caption, and how depth was made.
func (v *vertical) span(c *caption, e chart.Extent) {
	what := v.variable()
	c.span(nameText(&what), chart.Extent{Lo: v.number(e.Lo), Hi: v.number(e.Hi)}, unitOf(&what))
	if !v.depth {
		return
	}
	text := "from pressure (TEOS-10, standard ocean) at the mean latitude, " + chart.LatText(v.lat, 1)
	far := v.lat + v.unlike
	if v.lat > 0 {
		far = v.lat - v.unlike
	}
	if off := math.Abs(seawater.Height(e.Hi, far) - seawater.Height(e.Hi, v.lat)); off >= 1 {
		text += fmt.Sprintf("; at the latitude farthest from it %s off by %.0f m", v.text(e.Hi), off)
	}
	c.add("Depth", text)
}
