package gridding

import "slices"

func (m *optimalMap) made(w *work, col *column, v int, p float64) (data []Datum, background float64) {
	for i, d := range w.oi.chosen { // by predict
		data = append(data, m.c.datum(d, v, m.c.values[v][d]-m.anomalies[v][d], w.oi.weights[i]))
	}
	return data, m.form.taken(m.back, w.oi.profiles, col, v, p)
}

func (m *linearMap) made(_ *work, col *column, v int, p float64) (data []Datum, background float64) {
	l, _ := slices.BinarySearch(m.c.levels, p)
	a, b, share := m.around(col.xKm, l)
	if a == b {
		return []Datum{m.c.datum(a, v, 0, 1)}, 0
	}
	return []Datum{m.c.datum(a, v, 0, 1-share), m.c.datum(b, v, 0, share)}, 0
}

func (m *triangleMap) made(w *work, _ *column, v int, _ float64) (data []Datum, background float64) {
	for n, weight := range m.t.Weights(&w.tri) { // of the place that predict found
		if weight != 0 {
			data = append(data, m.c.datum(int32(n), v, 0, weight))
		}
	}
	return data, 0
}

func (m *layers) made(w *work, col *column, v int, p float64) (data []Datum, background float64) {
	i := 0
	for i < len(m.levels)-1 && m.c.levels[m.levels[i]] < p {
		i++
	}
	parts := map[int]float64{i: 1}
	if q := m.c.levels[m.levels[i]]; q != p { // straight between two levels
		top := m.c.levels[m.levels[i-1]]
		parts[i-1], parts[i] = (q-p)/(q-top), (p-top)/(q-top)
	}
	for k := max(i-1, 0); k <= i; k++ {
		if parts[k] == 0 || !m.t[k].Find(&w.tri, m.natural, col.plane[0], col.plane[1]) {
			continue
		}
		weights := m.t[k].Weights(&w.tri)
		for site := range m.c.s.sites {
			d := m.c.where[site*len(m.c.levels)+int(m.levels[k])]
			if d < 0 {
				continue
			}
			if weights[0] != 0 {
				data = append(data, m.c.datum(d, v, 0, parts[k]*weights[0]))
			}
			weights = weights[1:]
		}
	}
	return data, 0
}

// made goes back through the passes: with r0 the anomalies and r1 = r0 - S r0 what pass 0 leaves at the data, weights b
// of r1 are weights b - S'b of r0.
func (m *successiveMap) made(w *work, col *column, v int, p float64) (data []Datum, background float64) {
	near := &w.successive
	zeta := m.down.apart(p, 0)
	weights := make([]float64, len(m.c.site))
	last := 0
	for last+1 < len(m.residual) && m.near(near, col.h, zeta, last+1) > 0 {
		last++
	}
	for pass := last; pass >= 0; pass-- {
		before := slices.Clone(weights)
		add := func(factor, total float64) {
			for i, d := range near.data {
				before[d] += factor * near.weight[i] / total
			}
		}
		for n, b := range weights {
			if b != 0 {
				add(-b, m.near(near, m.c.s.between[m.c.site[n]], m.zeta[m.c.level[n]], pass))
			}
		}
		add(1, m.near(near, col.h, zeta, pass))
		weights = before
	}
	for n, weight := range weights {
		if weight != 0 {
			data = append(data, m.c.datum(int32(n), v, m.c.values[v][n]-m.residual[0][v][n], weight))
		}
	}
	return data, m.form.taken(m.back, w.oi.profiles, col, v, p)
}

// unitsAtOnce is how many bins are given a unit value at once.
const unitsAtOnce = 128

// made lists bins of the casts on both sides. Along given surfaces the value depends on those of the bins in
// proportion, so that the weight of a bin is what comes out where it alone is 1.
func (m *densityMap) made(w *work, col *column, v int, p float64) (data []Datum, background float64) {
	a, b, _, _ := m.around(col.xKm)
	sites := slices.Compact([]int{a, b})
	for _, k := range sites {
		q := &m.s.sites[k].profiles[m.vars[v]]
		for from := 0; from < len(q.v); from += unitsAtOnce {
			n := min(unitsAtOnce, len(q.v)-from)
			one := &densityMap{s: m.s, deepest: m.deepest, stacks: slices.Clone(m.stacks)}
			for _, s := range sites {
				one.stacks[s].v, one.stacks[s].top = nil, nil
			}
			for i := range n {
				for _, s := range sites {
					unit := m.s.sites[s].profiles[m.vars[v]]
					unit.v = make([]float64, len(unit.v))
					if s == k {
						unit.v[from+i] = 1
					}
					one.stacks[s].carry(unit, &w.dense.interpolator)
				}
			}
			est, rel := newEstimates(n, 1), make([]float64, 1)
			one.predict(w, col, []float64{p}, est, rel)
			for i := range n {
				if est[i][0] != 0 {
					data = append(data, Datum{Cast: m.s.sites[k].cast, PressureDbar: q.p[from+i],
						Value: q.v[from+i], Weight: est[i][0]})
				}
			}
		}
	}
	return data, 0
}
