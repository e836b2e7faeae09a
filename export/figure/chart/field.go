package chart

import (
	"image/color"
	"math"
	"sort"

	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding/contour"
	"github.com/paulmach/orb"
)

// A Field is one layer of numbers to be drawn as filled bands with level lines: value at (x[j], y[i]) is
// data[i*len(x)+j].
type Field struct {
	X, Y    []float64
	Data    []float64
	Levels  []float64
	Colours []color.NRGBA // one more than levels
	Noise   []float64     // values nearer to zero are noise, in which no zero line is drawn; nil: none are
}

// BandOf returns the band that holds a value: From <= v < To.
func (f *Field) BandOf(v float64) int {
	return sort.Search(len(f.Levels), func(k int) bool { return f.Levels[k] > v })
}

// Window returns the rows between two values of y, both ends included; y must hold them or the range is what
// lies inside.
func (f *Field) Window(y0, y1 float64) *Field {
	a := sort.SearchFloat64s(f.Y, y0)
	b := sort.Search(len(f.Y), func(i int) bool { return f.Y[i] > y1 })
	g := *f
	g.Y = f.Y[a:b]
	g.Data = f.Data[a*len(f.X) : b*len(f.X)]
	if f.Noise != nil {
		g.Noise = f.Noise[a*len(f.X) : b*len(f.X)]
	}
	return &g
}

// Thin keeps at most nx by ny nodes, evenly, with the first and the last.
func (f *Field) Thin(nx, ny int) *Field {
	cols, rows := pick(len(f.X), nx), pick(len(f.Y), ny)
	g := &Field{Levels: f.Levels, Colours: f.Colours, Data: make([]float64, 0, len(cols)*len(rows))}
	noisy := len(f.Noise) == len(f.Data)
	for _, j := range cols {
		g.X = append(g.X, f.X[j])
	}
	for _, i := range rows {
		g.Y = append(g.Y, f.Y[i])
		for _, j := range cols {
			k := i*len(f.X) + j
			g.Data = append(g.Data, f.Data[k])
			if noisy {
				g.Noise = append(g.Noise, f.Noise[k])
			}
		}
	}
	return g
}

// known reports whether the node nearest to a point of the page has a value.
func (f *Field) known(fr *Frame, q page.Point) bool {
	nearest := func(v []float64, at float64) int {
		k := sort.SearchFloat64s(v, at)
		if k == len(v) || k > 0 && at-v[k-1] < v[k]-at {
			k--
		}
		return k
	}
	x, y := fr.Value(q)
	return !math.IsNaN(f.Data[nearest(f.Y, y)*len(f.X)+nearest(f.X, x)])
}

// aboveNoise reports whether a value near a point of the page, at most reach points above or below it, is
// larger than the noise around, four times as far: at a level of no motion the noise of a velocity is
// nothing, but so is the velocity.
func (f *Field) aboveNoise(fr *Frame, q page.Point, reach float64) bool {
	x, y := fr.Value(q)
	_, far := fr.Value(page.Pt(q.X, q.Y+4*reach))
	value, noise := 0.0, 0.0
	j := sort.SearchFloat64s(f.X, x)
	for i := sort.SearchFloat64s(f.Y, 2*y-far); i < len(f.Y) && f.Y[i] <= far; i++ {
		for _, n := range []int{max(j-1, 0), min(j, len(f.X)-1)} {
			k := i*len(f.X) + n
			noise = max(noise, f.Noise[k])
			if v := math.Abs(f.Data[k]); 4*math.Abs(f.Y[i]-y) <= far-y && v > value {
				value = v
			}
		}
	}
	return value > noise
}

// pick returns at most about most of n numbers, evenly, with the first and the last.
func pick(n, most int) []int {
	step := max(1, (n-1+most-1)/max(1, most))
	var out []int
	for k := 0; k < n; k += step {
		out = append(out, k)
	}
	if out[len(out)-1] != n-1 {
		out = append(out, n-1)
	}
	return out
}

// MaskAs removes the values at nodes where another field on the same axes has none.
func (f *Field) MaskAs(g *Field) {
	for k, v := range g.Data {
		if math.IsNaN(v) {
			f.Data[k] = v
		}
	}
}

// FillBelow returns nodes under the bottom a value, so that the bands run up to the bottom, which is then painted over
// them. It is a matter of drawing: no value above the bottom changes. below says which nodes lie under the bottom. A
// node goes on at its own level from the nearest columns that have values there, straight as they run, so that lines
// meet a slope as they come to it; where no column near has one, it has the value of the last row above, down rows away
// at most.
func (f *Field) FillBelow(below []bool, down int) {
	const reach = 3
	nx := len(f.X)
	src := append([]float64(nil), f.Data...)
	// onward returns what the row is, gone on with for d columns in a direction to column j.
	onward := func(i, j, d, way int) float64 {
		from, before := j-way*d, j-way*(d+1)
		if from < 0 || from >= nx {
			return math.NaN()
		}
		v := src[i*nx+from]
		if before >= 0 && before < nx && !math.IsNaN(src[i*nx+before]) {
			v += float64(d) * (v - src[i*nx+before])
		}
		return v
	}
	for i := range f.Y {
		for j := range f.X {
			k := i*nx + j
			if !math.IsNaN(src[k]) || !below[k] {
				continue
			}
			for d := 1; d <= reach && math.IsNaN(f.Data[k]); d++ {
				left, right := onward(i, j, d, 1), onward(i, j, d, -1)
				switch {
				case math.IsNaN(left):
					f.Data[k] = right
				case math.IsNaN(right):
					f.Data[k] = left
				default:
					f.Data[k] = (left + right) / 2
				}
			}
			for d := 1; d <= max(reach, down) && math.IsNaN(f.Data[k]) && i-d >= 0; d++ {
				f.Data[k] = src[k-d*nx]
			}
		}
	}
}

// Paint draws the bands in a frame, lowest first, each over all that is above its level.
func (f *Field) Paint(s *page.Scene, fr *Frame) {
	if len(f.X) < 2 || len(f.Y) < 2 {
		return
	}
	from := append([]float64{math.Inf(-1)}, f.Levels...)
	for k, region := range contour.Above(f.X, f.Y, f.Data, from) {
		s.Fill(OnPage(region, fr), f.Colours[k])
	}
}

// OnPage returns the outlines of an area on the page.
func OnPage(region orb.MultiPolygon, fr *Frame) page.Path {
	var p page.Path
	for _, poly := range region {
		for _, ring := range poly {
			q := make([]page.Point, 0, len(ring))
			for _, c := range ring[:len(ring)-1] {
				q = append(q, fr.At(c[0], c[1]))
			}
			if q = page.SimplifyRing(q); len(q) > 2 {
				p = append(p, q)
			}
		}
	}
	return p
}
