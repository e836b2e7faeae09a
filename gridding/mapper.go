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

	successive successiveWork
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
	factor float64 // length of the reference profiles in station spacings
	cov    model   // of optimal interpolation
	set    oiSettings
	form   *shape
	clouds []*cloud
}

// newEngine prepares a method for the variables wanted (nil: all) of tables that differ in their levels.
func (s *survey) newEngine(method Method, factor float64, cov model, tables []table, wanted []int) *engine {
	var form *shape
	if method == Optimal || method == Successive {
		form = s.newShape(factor)
	}
	return s.newEngineOn(form, method, factor, cov, tables, wanted)
}

// newEngineOn is newEngine with a shape that is there.
func (s *survey) newEngineOn(form *shape, method Method, factor float64, cov model, tables []table,
	wanted []int) *engine {
	e := &engine{s: s, method: method, factor: factor, cov: cov, form: form}
	for _, t := range tables {
		e.clouds = append(e.clouds, s.clouds(t, wanted)...)
	}
	slices.SortStableFunc(e.clouds, func(a, b *cloud) int { return a.vars[0] - b.vars[0] })
	numberLevels(e.clouds)
	e.set = oiSettings{shape: cov.shape, noise: cov.noise, neighbours: s.opt.Neighbours, factor: factor,
		cut: cutLengths}
	if method == Optimal {
		scaled := map[*verticalScale]*verticalScale{} // clouds of one table share their levels
		known := map[*verticalScale][]float64{}
		for _, c := range e.clouds {
			if scaled[c.down] == nil {
				down := c.down.times(cov.down)
				scaled[c.down], known[c.down] = &down, down.covariance(c.levels, cov.shape)
			}
			c.down, c.covariance = scaled[c.down], known[c.down]
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
	l := 0
	for k, q := range p {
		rel[k] = math.NaN()
		for l < len(c.levels) && c.levels[l] < q {
			l++
		}
		a, b, t := int32(-1), int32(-1), 0.0
		if l < len(c.levels) && c.levels[l] == q {
			a, b, t = m.around(col.xKm, l)
		}
		if a < 0 || b < 0 {
			for v := range est {
				est[v][k] = math.NaN()
			}
			continue
		}
		for v := range est {
			lo := c.values[v][a]
			est[v][k] = lo + float64(t*(c.values[v][b]-lo))
		}
	}
}

// around returns the data of a level at the nearest sites on both sides of a place that have it, or one datum twice,
// and how far the place lies from the first to the second; -1 for none. Sites are in order of distance.
func (m *linearMap) around(xKm float64, level int) (a, b int32, share float64) {
	c, sites := m.c, m.c.s.sites
	j := 0
	for j < len(sites) && sites[j].xKm < xKm {
		j++
	}
	i := j - 1
	for i+1 < len(sites) && sites[i+1].xKm == xKm {
		i++
	}
	a, b = -1, -1
	for ; i >= 0 && a < 0; i-- {
		a = c.where[i*len(c.levels)+level]
	}
	for ; j < len(sites) && b < 0; j++ {
		b = c.where[j*len(c.levels)+level]
	}
	if a < 0 || b < 0 {
		return a, b, 0
	}
	from, to := sites[c.site[a]].xKm, sites[c.site[b]].xKm
	if to > from {
		share = (xKm - from) / (to - from)
	}
	return a, b, share
}
