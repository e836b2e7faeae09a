package gridding

import (
	"math"
	"slices"

	"github.com/castwright/castwright/gridding/delaunay"
)

// A triangleMap is a cloud of a section triangulated in scaled distance and pressure.
type triangleMap struct {
	c       *cloud
	natural bool
	lx      float64
	t       *delaunay.Triangulation
	vertex  [][]float64 // mean of each variable at each vertex
}

func newTriangleMap(c *cloud, natural bool) *triangleMap {
	m := &triangleMap{c: c, natural: natural}
	m.lx = c.s.opt.LengthKm
	if !positive(m.lx) {
		m.lx = c.s.opt.LengthFactor * c.s.medianSpacing(c.s.spacingOf())
	}
	x, y := make([]float64, len(c.site)), make([]float64, len(c.site))
	for n := range c.site {
		x[n] = c.s.sites[c.site[n]].xKm / m.lx
		y[n] = c.down.apart(c.levels[c.level[n]], 0)
	}
	m.t = delaunay.New(x, y)
	m.vertex = m.t.Means(c.values)
	return m
}

func (m *triangleMap) predict(w *work, col *column, p []float64, est [][]float64, rel []float64) {
	w.tri.Restart()
	for k, q := range p {
		rel[k] = math.NaN()
		ok := m.t.Find(&w.tri, m.natural, col.xKm/m.lx, m.c.down.apart(q, 0))
		for v := range est {
			est[v][k] = math.NaN()
			if ok {
				est[v][k] = w.tri.Value(m.vertex[v])
			}
		}
	}
}

// Layers are the levels of a field, each triangulated by itself; between levels results are straight in pressure.
type layers struct {
	c       *cloud
	natural bool
	levels  []int32
	t       []*delaunay.Triangulation // one for each of levels; equal sets of sites share one
	vertex  [][][]float64
}

func newLayers(c *cloud, natural bool) *layers {
	m := &layers{c: c, natural: natural}
	nl := len(c.levels)
	var before []int32
	for _, l := range c.regular {
		var sites []int32
		values := make([][]float64, len(c.vars))
		var x, y []float64
		for k := range c.s.sites {
			d := c.where[k*nl+int(l)]
			if d < 0 {
				continue
			}
			sites = append(sites, int32(k))
			x, y = append(x, c.s.sites[k].plane[0]), append(y, c.s.sites[k].plane[1])
			for v := range values {
				values[v] = append(values[v], c.values[v][d])
			}
		}
		var t *delaunay.Triangulation
		if n := len(m.t); n > 0 && slices.Equal(sites, before) {
			t = m.t[n-1]
		} else {
			t = delaunay.New(x, y)
		}
		before = sites
		m.levels, m.t, m.vertex = append(m.levels, l), append(m.t, t), append(m.vertex, t.Means(values))
	}
	return m
}

func (m *layers) predict(w *work, col *column, p []float64, est [][]float64, rel []float64) {
	w.tri.Restart()
	var weighted *delaunay.Triangulation
	ok := false
	at := func(i, v int) float64 {
		if m.t[i] != weighted {
			weighted = m.t[i]
			ok = weighted.Find(&w.tri, m.natural, col.plane[0], col.plane[1])
		}
		if !ok {
			return math.NaN()
		}
		return w.tri.Value(m.vertex[i][v])
	}
	for k, q := range p {
		rel[k] = math.NaN()
		i := 0
		for i < len(m.levels) && m.c.levels[m.levels[i]] < q {
			i++
		}
		for v := range est {
			switch {
			case i == len(m.levels):
				est[v][k] = math.NaN()
			case m.c.levels[m.levels[i]] == q:
				est[v][k] = at(i, v)
			case i == 0:
				est[v][k] = math.NaN()
			default:
				top, bottom := m.c.levels[m.levels[i-1]], m.c.levels[m.levels[i]]
				a := at(i-1, v)
				est[v][k] = a + (q-top)/(bottom-top)*(at(i, v)-a)
			}
		}
	}
}
