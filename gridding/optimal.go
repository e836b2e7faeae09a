package gridding

import (
	"cmp"
	"math"
	"slices"
)

// Optimal interpolation: Gandin 1963; Bretherton, Davis and Fandry 1976, Deep-Sea Res. 23, 559; Roemmich 1983, J. Phys.
// Oceanogr. 13, 1544. Covariance of the anomalies over their variance: exp(-(dx/Lx)^2 - (dp/Lp)^2) (not exp(-r2/2));
// noise variance over signal variance E2 on the diagonal. With A the covariance of the data and c that of the target
// with them, weights are a + n (1 - sum a)/(sum n), a = A^-1 c, n = A^-1 1 (the mean of the anomalies is unknown and
// estimated with them), and the error variance over the signal variance is 1 - c.a + (1 - c.n)^2/(sum n).

const (
	cutLengths  = 4.0    // data farther than this in scaled distance are not used (ours)
	maxRaise    = 6      // how often E2 may be raised tenfold
	latticeBits = 8 * 64 // places of the fixed order of neighbours that a pattern may use
)

type oiSettings struct {
	shape      Covariance
	noise      float64
	neighbours int
	factor     float64 // of the local spacing; for the reference profiles
	cut        float64
	knownMean  bool // the mean of the anomalies is known to be 0
}

// An optimalMap is a cloud made ready for mapping. It is not changed by use.
type optimalMap struct {
	c         *cloud
	set       oiSettings
	anomalies [][]float64
	back      []background // nil without a form
	form      *shape       // nil: anomalies are the values
	without   []bool
	vertical  []float64 // covariance of level with level
	stepDbar  float64   // of the levels when they are evenly spaced and one vertical length holds for all; else 0
}

// newOptimal prepares a cloud. form is the shape of the profiles; nil: no background is taken off either.
func newOptimal(c *cloud, set oiSettings, form *shape, without []bool) *optimalMap {
	m := &optimalMap{c: c, set: set, form: form, without: without}
	m.anomalies, m.back = form.anomalies(c, set.factor, without)
	if m.vertical = c.covariance; m.vertical == nil {
		m.vertical = c.down.covariance(c.levels, set.shape)
	}
	if n := len(c.levels); n > 2 && len(c.down.to) == 0 {
		m.stepDbar = c.levels[1] - c.levels[0]
		for k, p := range c.levels {
			if p != c.levels[0]+float64(k)*m.stepDbar {
				m.stepDbar = 0
				break
			}
		}
	}
	return m
}

type candidate struct {
	r2 float64
	n  int32 // datum, or in the fixed order of a lattice: site
	dl int32 // levels below the target
}

// An oiWork is the scratch memory of one worker.
type oiWork struct {
	near       []candidate // sites in reach: (hx/Lx)^2 and site
	local      []int32     // place of a site among near; valid for those in it
	hcov       []float64   // covariance factor near x near
	bySite     []int32     // places among near, in order of site
	cand       []candidate
	keys       []float64
	chosen     []int32
	previous   []int32   // data of the factored matrix
	raw, old   []float64 // covariance of the data without noise, and that of the previous ones
	kept       []int32   // place of each datum among the previous ones; -1 for none
	bound      float64
	a, inv     []float64
	y, z       []float64
	zz         float64
	weights    []float64
	token      int            // names the column that several clouds are mapped in; 0: none
	started    int            // token of the column that near, hcov, patterns and memos belong to
	scale      *verticalScale // of the cloud that they were made for
	fresh      []candidate    // sites in reach, before they are compared with near
	memos      []memo         // for each target of the column, the last solution
	codes      []int32
	raised     int
	profiles   []float64   // reference profiles of the column
	order      []candidate // lattice: the fixed order of neighbours
	reach      float64     // r2 to which order is complete
	patterns   map[[latticeBits / 64]uint64]int32
	keptWeight []float64
	keptRel    []float64
}

// A memo is the solution for one target: clouds that have their data at the same places around it share it.
type memo struct {
	q       float64 // dbar
	codes   []int32 // site*places+place of the data
	weights []float64
	rel     float64
}

func grown[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n, n+n/2)
	}
	return s[:n]
}

// start prepares for one column: sites in reach and their covariances.
func (m *optimalMap) start(w *oiWork, col *column) {
	w.fresh = w.fresh[:0]
	l2 := col.covarianceKm * col.covarianceKm
	for k := range m.c.s.sites {
		if m.c.first[k+1] == m.c.first[k] {
			continue
		}
		if r2 := col.h[k] * col.h[k] / l2; r2 <= m.set.cut*m.set.cut {
			w.fresh = append(w.fresh, candidate{r2: r2, n: int32(k)})
		}
	}
	slices.SortFunc(w.fresh, func(a, b candidate) int {
		if c := cmp.Compare(a.r2, b.r2); c != 0 {
			return c
		}
		return cmp.Compare(a.n, b.n)
	})
	w.previous = w.previous[:0]
	w.bound = 0.25
	w.profiles = m.form.profiles(w.profiles, col, m.c.vars, m.without)
	// What was solved for another cloud in the same column holds, to the last bit, where the lengths are the same. On a
	// lattice the first target of a pattern is used for all, which another cloud may meet at another level.
	if !(w.token != 0 && w.token == w.started && m.stepDbar == 0 && w.scale.equal(m.c.down)) {
		for k := range w.memos {
			w.memos[k].codes = w.memos[k].codes[:0]
		}
	} else if slices.Equal(w.fresh, w.near) {
		return
	}
	w.started, w.scale = w.token, m.c.down
	w.near, w.fresh = w.fresh, w.near
	clear(w.patterns)
	w.keptWeight, w.keptRel, w.order = w.keptWeight[:0], w.keptRel[:0], w.order[:0]
	w.local = grown(w.local, len(m.c.s.sites))
	n := len(w.near)
	w.hcov = grown(w.hcov, n*n)
	w.bySite = w.bySite[:0]
	for i := range w.near {
		w.local[w.near[i].n] = int32(i)
		w.bySite = append(w.bySite, int32(i))
		d := m.c.s.between[w.near[i].n]
		for j := range i + 1 {
			r := d[w.near[j].n]
			v := m.set.shape.part(r * r / l2)
			w.hcov[i*n+j], w.hcov[j*n+i] = v, v
		}
	}
	slices.SortFunc(w.bySite, func(a, b int32) int { return cmp.Compare(w.near[a].n, w.near[b].n) })
}

// column estimates every variable of the cloud at the pressures p of one column: est[v][k], NaN where no datum is in
// reach, and rel[k], the error variance over the signal variance.
func (m *optimalMap) column(w *oiWork, col *column, p []float64, est [][]float64, rel []float64) {
	m.start(w, col)
	if m.onLattice(p) {
		m.columnByPattern(w, col, p, est, rel)
		return
	}
	if w.token != 0 {
		for len(w.memos) < len(p) {
			w.memos = append(w.memos, memo{})
		}
	}
	for k, q := range p {
		m.gather(w, q)
		n := len(w.chosen)
		if n == 0 {
			for v := range est {
				est[v][k] = math.NaN()
			}
			rel[k] = math.NaN()
			continue
		}
		if w.token != 0 {
			w.codes = w.codes[:0]
			for _, d := range w.chosen {
				w.codes = append(w.codes, m.c.site[d]*m.c.places+m.c.place(m.c.level[d]))
			}
			if known := &w.memos[k]; known.q == q && slices.Equal(known.codes, w.codes) {
				rel[k] = known.rel
				m.fillEstimates(known.weights, w, col, q, est, k)
				continue
			}
		}
		if !slices.Equal(w.chosen, w.previous) {
			m.factor(w)
			w.previous = append(w.previous[:0], w.chosen...)
		}
		for i, d := range w.chosen {
			dp := m.c.down.apart(m.c.levels[m.c.level[d]], q)
			w.y[i] = m.set.shape.at(w.near[w.local[m.c.site[d]]].r2 + dp*dp)
		}
		rel[k] = m.solve(w, n)
		if w.token != 0 {
			known := &w.memos[k]
			known.q, known.codes = q, append(known.codes[:0], w.codes...)
			known.weights = append(known.weights[:0], w.weights[:n]...)
			known.rel = rel[k]
		}
		m.fillEstimates(w.weights[:n], w, col, q, est, k)
	}
}

func (m *optimalMap) estimate(weights []float64, chosen []int32, v int) float64 {
	a := m.anomalies[v]
	s := 0.0
	for i, d := range chosen {
		s += float64(weights[i] * a[d])
	}
	return s
}

// solve turns the covariances of the target with the data, in y, into weights, and returns the error variance over the
// signal variance.
func (m *optimalMap) solve(w *oiWork, n int) float64 {
	a, inv, y, z, x := w.a, w.inv, w.y[:n], w.z[:n], w.weights[:n]
	forward(a, inv, y, n)
	if m.set.knownMean {
		copy(x, y)
		backward(a, inv, x, n)
		return 1 - dot(y, y)
	}
	yz := dot(y, z)
	mean := (1 - yz) / w.zz
	for i := range x {
		x[i] = y[i] + float64(mean*z[i])
	}
	backward(a, inv, x, n)
	return 1 - dot(y, y) + float64(mean*(1-yz))
}

// onLattice reports whether every target lies on a level of an evenly spaced cloud, so that most targets of a column
// see the same pattern of data.
func (m *optimalMap) onLattice(p []float64) bool {
	if m.stepDbar == 0 {
		return false
	}
	for _, q := range p {
		l := math.Round((q - m.c.levels[0]) / m.stepDbar)
		if q != m.c.levels[0]+l*m.stepDbar {
			return false
		}
	}
	return true
}

// columnByPattern solves each pattern of data around a target once for the whole column.
func (m *optimalMap) columnByPattern(w *oiWork, col *column, p []float64, est [][]float64, rel []float64) {
	c := m.c
	nl, k60 := len(c.levels), m.set.neighbours
	if w.patterns == nil {
		w.patterns = make(map[[latticeBits / 64]uint64]int32)
	}
	if len(w.order) == 0 {
		m.fixedOrder(w)
	}
	var key, last [latticeBits / 64]uint64
	id, lastID := int32(0), int32(-1)
	w.chosen = grown(w.chosen, k60)
	for k, q := range p {
		target := int(math.Round((q - c.levels[0]) / m.stepDbar))
		key = [latticeBits / 64]uint64{}
		n := 0
		chosen := w.chosen[:k60]
		for i, o := range w.order {
			l := target + int(o.dl)
			if uint(l) >= uint(nl) {
				continue
			}
			if d := c.where[int(o.n)*nl+l]; d >= 0 {
				key[i/64] |= 1 << (i % 64)
				chosen[n] = d
				if n++; n == k60 {
					break
				}
			}
		}
		w.chosen = chosen[:n]
		if n < k60 { // too few within the fixed order: look farther
			w.bound = w.reach * 1.5
			m.gather(w, q)
			n = len(w.chosen)
			if n == 0 {
				for v := range est {
					est[v][k] = math.NaN()
				}
				rel[k] = math.NaN()
				continue
			}
			m.factorAt(w, q)
			rel[k] = m.solve(w, n)
			m.fillEstimates(w.weights[:n], w, col, q, est, k)
			continue
		}
		if lastID >= 0 && key == last {
			id = lastID
		} else if known, ok := w.patterns[key]; ok {
			id = known
		} else {
			id = int32(len(w.keptRel))
			m.factorAt(w, q)
			w.keptRel = append(w.keptRel, m.solve(w, n))
			w.keptWeight = append(w.keptWeight, w.weights[:n]...)
			w.patterns[key] = id
		}
		last, lastID = key, id
		rel[k] = w.keptRel[id]
		m.fillEstimates(w.keptWeight[int(id)*k60:int(id)*k60+n], w, col, q, est, k)
	}
}

func (m *optimalMap) fillEstimates(weights []float64, w *oiWork, col *column, q float64, est [][]float64, k int) {
	for v := range est {
		est[v][k] = m.estimate(weights, w.chosen, v) + m.form.taken(m.back, w.profiles, col, v, q)
	}
}

// factorAt factors the chosen data and puts the covariances of the target q with them in y.
func (m *optimalMap) factorAt(w *oiWork, q float64) {
	m.factor(w)
	for i, d := range w.chosen {
		dp := (m.c.levels[m.c.level[d]] - q) / m.c.down.length[0]
		w.y[i] = m.set.shape.at(w.near[w.local[m.c.site[d]]].r2 + dp*dp)
	}
}

// fixedOrder lists places around a target of this column by distance: site and levels below the target.
func (m *optimalMap) fixedOrder(w *oiWork) {
	bound := 0.25
	for {
		w.order = w.order[:0]
		for _, s := range w.near {
			if s.r2 > bound {
				break
			}
			most := int32(math.Sqrt(bound-s.r2) * m.c.down.length[0] / m.stepDbar)
			most = min(most, int32(len(m.c.levels)))
			for dl := -most; dl <= most; dl++ {
				r := float64(dl) * m.stepDbar / m.c.down.length[0]
				w.order = append(w.order, candidate{r2: s.r2 + float64(r*r), n: s.n, dl: dl})
			}
		}
		if len(w.order) >= latticeBits/2 || bound >= m.set.cut*m.set.cut {
			break
		}
		bound = math.Min(bound*1.3, m.set.cut*m.set.cut)
	}
	w.reach = bound
	slices.SortFunc(w.order, func(a, b candidate) int {
		if a.r2 != b.r2 {
			return cmp.Compare(a.r2, b.r2)
		}
		if a.n != b.n {
			return cmp.Compare(a.n, b.n)
		}
		return cmp.Compare(a.dl, b.dl)
	})
	if len(w.order) > latticeBits {
		w.order = w.order[:latticeBits]
		w.reach = w.order[latticeBits-1].r2
	}
}
