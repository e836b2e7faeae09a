package gridding

import (
	"math"
	"slices"
	"sync"
	"sync/atomic"

	"github.com/castwright/castwright/gridding/delaunay"
)

// A mapper predicts the variables of one cloud in one column: est[v][k] at pressure p[k], NaN where it has no value,
// and the error variance over the signal variance, NaN where the method has none. It is not changed by use.
type mapper interface {
	predict(w *work, col *column, p []float64, est [][]float64, rel []float64)
}

// A work is the scratch memory of one worker.
type work struct {
	oi     oiWork
	tri    delaunay.Search
	dense  denseWork
	levels []int
}

// parallel calls f for 0..n-1 on some workers; each call must write only to places of its own.
func parallel(n, workers int, f func(w *work, i int)) {
	if workers > n {
		workers = n
	}
	if workers <= 1 {
		var w work
		for i := range n {
			f(&w, i)
		}
		return
	}
	var next atomic.Int64
	var group sync.WaitGroup
	for range workers {
		group.Go(func() {
			var w work
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				f(&w, i)
			}
		})
	}
	group.Wait()
}

// An engine makes mappers of one method for the data of a survey.
type engine struct {
	s      *survey
	method Method
	factor float64 // of the horizontal length, for optimal interpolation
	set    oiSettings
	form   *shape
	clouds []*cloud
}

// newEngine prepares a method for the variables wanted (nil: all) of tables that differ in their levels.
func (s *survey) newEngine(method Method, factor float64, tables []table, wanted []int) *engine {
	e := &engine{s: s, method: method, factor: factor}
	for _, t := range tables {
		e.clouds = append(e.clouds, s.clouds(t, wanted)...)
	}
	slices.SortStableFunc(e.clouds, func(a, b *cloud) int { return a.vars[0] - b.vars[0] })
	numberLevels(e.clouds)
	e.set = oiSettings{noise: s.opt.Noise, neighbours: s.opt.Neighbours, factor: factor, cut: cutLengths}
	if method == Optimal || method == Successive {
		e.form = s.newShape(factor)
	}
	if method == Optimal {
		known := map[*verticalScale][]float64{} // clouds of one table share their levels
		for _, c := range e.clouds {
			if known[c.down] == nil {
				known[c.down] = c.down.covariance(c.levels)
			}
			c.covariance = known[c.down]
		}
	}
	return e
}

// mappers makes one mapper for each cloud, without the data of some sites (nil: with all).
func (e *engine) mappers(without []bool) []mapper {
	out := make([]mapper, len(e.clouds))
	for k, c := range e.clouds {
		if without != nil {
			c = c.without(without)
		}
		switch e.method {
		case Linear:
			if e.s.isField {
				out[k] = newLayers(c, false)
			} else {
				out[k] = &linearMap{c: c}
			}
		case Successive:
			out[k] = newSuccessive(c, e.form, without)
		case Triangles, Natural:
			if e.s.isField {
				out[k] = newLayers(c, e.method == Natural)
			} else {
				out[k] = newTriangleMap(c, e.method == Natural)
			}
		case Density:
			out[k] = newDensity(e.s, c.vars, without)
		default:
			out[k] = newOptimal(c, e.set, e.form, without)
		}
	}
	return out
}

func (m *optimalMap) predict(w *work, col *column, p []float64, est [][]float64, rel []float64) {
	m.column(&w.oi, col, p, est, rel)
}

// A linearMap joins the nearest sites on both sides that have the level, straight in distance. Targets must be levels
// of the cloud.
type linearMap struct{ c *cloud }

func (m *linearMap) predict(_ *work, col *column, p []float64, est [][]float64, rel []float64) {
	c := m.c
	nl := len(c.levels)
	sites := c.s.sites
	// Sites are in order of distance: those at or before the column, and those at or after it.
	after := 0
	for after < len(sites) && sites[after].xKm < col.xKm {
		after++
	}
	before := after - 1
	for before+1 < len(sites) && sites[before+1].xKm == col.xKm {
		before++
	}
	l := 0
	for k, q := range p {
		rel[k] = math.NaN()
		for l < nl && c.levels[l] < q {
			l++
		}
		a, b := int32(-1), int32(-1)
		i, j := before, after
		if l < nl && c.levels[l] == q {
			for ; i >= 0; i-- {
				if a = c.where[i*nl+l]; a >= 0 {
					break
				}
			}
			for ; j < len(sites); j++ {
				if b = c.where[j*nl+l]; b >= 0 {
					break
				}
			}
		}
		if a < 0 || b < 0 {
			for v := range est {
				est[v][k] = math.NaN()
			}
			continue
		}
		t := 0.0
		if step := sites[j].xKm - sites[i].xKm; step > 0 {
			t = (col.xKm - sites[i].xKm) / step
		}
		for v := range est {
			lo := c.values[v][a]
			est[v][k] = lo + float64(t*(c.values[v][b]-lo))
		}
	}
}
