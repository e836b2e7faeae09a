package figure

import (
	"image/color"
	"math"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/section"
)

// Shade says what the colour of a cast means.
type Shade uint8

// Meanings of colour.
const (
	ByStation  Shade = iota // order of the casts
	ByLatitude              // position
)

// mostShades is the most colours of casts.
const mostShades = 12

// shading spreads casts over bins of colour.
type shading struct {
	bin   []int // of each cast; -1 not shown
	n     int
	what  string
	edges []float64 // values at the edges of the bins, by latitude
	names []string  // of the first cast of each bin, by station
}

// shade returns each cast a colour.
func shade(casts []*section.Cast, by Shade) shading {
	sh := shading{bin: make([]int, len(casts)), what: "Station"}
	if by == ByLatitude {
		lat := chart.NoExtent()
		for _, c := range casts {
			lat.Add(c.At[1])
		}
		if lat.Span() > 0 {
			sh.what = "Latitude"
			step := chart.NiceStep(lat.Span() / mostShades)
			first := math.Floor(lat.Lo/step + 1e-9)
			sh.n = int(math.Ceil(lat.Hi/step-1e-9) - first)
			for k := 0; k <= sh.n; k++ {
				sh.edges = append(sh.edges, chart.Round((first+float64(k))*step))
			}
			for k, c := range casts {
				sh.bin[k] = -1
				if !math.IsNaN(c.At[1]) {
					sh.bin[k] = max(0, min(sh.n-1, int(math.Floor((c.At[1]-sh.edges[0])/step))))
				}
			}
			return sh
		}
	}
	sh.n = min(len(casts), mostShades)
	names := namesOfStations(casts)
	for k, c := range casts {
		sh.bin[k] = k * sh.n / len(casts)
		if len(sh.names) == sh.bin[k] {
			sh.names = append(sh.names, names.of(c))
		}
	}
	return sh
}

func (sh *shading) colour(bin int) color.NRGBA {
	if sh.n < 2 {
		return chart.Colours("station1").At(0.55)
	}
	return chart.Colours("station1").At(float64(bin) / float64(sh.n-1))
}

// margin returns the width of the margin that holds the bar and its words, at least least.
func (sh *shading) margin(least float64, w chart.Width) float64 {
	d := chart.Decimals(sh.edges)
	for _, v := range sh.edges {
		least = max(least, 8+7+3+page.TextWidth(chart.LatText(v, d), w.Type())+4)
	}
	return least
}

// bar explains the colours at the right of a frame.
func (sh *shading) bar(p *chart.Sheet, t, b float64) {
	if sh.n < 2 {
		return
	}
	s := p.Scene
	l := p.R + 8
	r := l + 7
	p.Label(sh.what, min(l, s.W-3-page.TextWidth(sh.what, p.Size)), t-4.6, page.Left, page.Base)
	name := func(text string, y float64) {
		p.TryText(page.Label{Text: text, At: page.Pt(r+3, y), Size: p.Size, V: page.Centre}, 0.6)
	}
	h := min((b-t)/float64(sh.n), 16)
	for k := range sh.n {
		y := t + float64(k)*h
		s.Fill(page.Rect(l, y, r, y+h), sh.colour(k))
		if sh.names != nil {
			name(sh.names[k], y+h/2)
		}
	}
	s.Outline(page.Rect(l, t, r, t+h*float64(sh.n)), chart.InkThin)
	d := chart.Decimals(sh.edges)
	for k, v := range sh.edges {
		y := t + float64(k)*h
		s.Line(r, y, r+1.8, y, chart.InkThin)
		name(chart.LatText(v, d), y)
	}
}

// caption says what the names beside the bar are.
func (sh *shading) caption() string {
	if sh.names != nil {
		return "Colour: order of the stations; a number names the first station of its colour"
	}
	return "Colour: latitude"
}
