package geostrophy

import (
	"math"
	"slices"
)

// bandsOf returns the bands between bounds, with an open one at each end so that the bands hold everything. Layers that
// begin at the surface have no band above it.
func bandsOf(bounds []float64, dropFirst bool) []Band {
	if len(bounds) == 0 {
		return nil
	}
	bands := make([]Band, 0, len(bounds)+1)
	below := negInf
	for _, b := range bounds {
		bands = append(bands, Band{below, b})
		below = b
	}
	bands = append(bands, Band{below, math.Inf(1)})
	if dropFirst {
		bands = bands[1:]
	}
	return bands
}

// weights are the factors, in m, of the velocities of levels from, from+1, ... in a transport per metre of separation.
type weights struct {
	from int
	w    []float64
}

// trapezoid fills w with the weights of the whole column: trapezoid over depth.
func trapezoid(w, depth []float64) weights {
	clear(w)
	for i := 1; i < len(depth); i++ {
		h := 0.5 * (depth[i] - depth[i-1])
		w[i-1] += h
		w[i] += h
	}
	return weights{0, w}
}

// cutter divides the column among bands.
type cutter struct {
	bounds []float64
	w      [][]float64 // band, level
	lo, hi []int       // levels of each band with a weight: [lo, hi)
}

// bandOf is the number of the band that holds x: the lower bound belongs to it.
func (c *cutter) bandOf(x float64) int {
	i, exact := slices.BinarySearch(c.bounds, x)
	if exact {
		return i + 1
	}
	return i
}

// reset prepares for n levels; bands that hold nothing have lo >= hi.
func (c *cutter) reset(n int) {
	nb := len(c.bounds) + 1
	if len(c.w) != nb {
		c.w, c.lo, c.hi = make([][]float64, nb), make([]int, nb), make([]int, nb)
	}
	for b := range c.w {
		if cap(c.w[b]) < n {
			c.w[b] = make([]float64, n)
		}
		c.w[b] = c.w[b][:n]
		clear(c.w[b])
		c.lo[b], c.hi[b] = n, 0
	}
}

// cut divides each interval between neighbouring levels among the bands, with the velocity and the class variable x
// linear in depth between them. A profile that is not monotone contributes wherever it lies in a band.
func (c *cutter) cut(x, depth []float64) {
	c.reset(len(x))
	for i := 0; i+1 < len(x); i++ {
		h := depth[i+1] - depth[i]
		from, to := x[i], x[i+1]
		t := 0.0
		b := c.bandOf(from)
		for to > from && b < len(c.bounds) && c.bounds[b] < to {
			next := (c.bounds[b] - from) / (to - from)
			c.add(b, i, h, t, next)
			t = next
			b++
		}
		for to < from && b > 0 && c.bounds[b-1] > to {
			next := (c.bounds[b-1] - from) / (to - from)
			c.add(b, i, h, t, next)
			t = next
			b--
		}
		c.add(b, i, h, t, 1)
	}
}

// add adds the part of interval i (thickness h) between the fractions t0 and t1 to band b.
func (c *cutter) add(b, i int, h, t0, t1 float64) {
	lower := 0.5 * h * (float64(t1*t1) - float64(t0*t0))
	c.put(b, i, h*(t1-t0)-lower)
	c.put(b, i+1, lower)
}

// put adds to the weight of level i in band b.
func (c *cutter) put(b, i int, w float64) {
	c.w[b][i] += w
	c.lo[b] = min(c.lo[b], i)
	c.hi[b] = max(c.hi[b], i+1)
}

// of returns the weights of band b.
func (c *cutter) of(b int) weights {
	if c.lo[b] >= c.hi[b] {
		return weights{}
	}
	return weights{c.lo[b], c.w[b][c.lo[b]:c.hi[b]]}
}
