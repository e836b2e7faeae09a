package gridding

// factor makes and factors the covariance of the chosen data, and solves for the mean's part. Where the matrix is
// singular to rounding the noise is raised tenfold.
func (m *optimalMap) factor(w *oiWork) {
	n := len(w.chosen)
	w.a, w.inv = grown(w.a, n*n), grown(w.inv, n)
	w.y, w.z, w.weights = grown(w.y, n), grown(w.z, n), grown(w.weights, n)
	m.covariances(w)
	noise := m.set.noise
	for try := 0; ; try++ {
		for i := range n {
			copy(w.a[i*n:i*n+i+1], w.raw[i*n:i*n+i+1])
			w.a[i*n+i] += noise
		}
		if cholesky(w.a, w.inv, n) {
			break
		}
		noise *= 10
		w.raised++
		if try == maxRaise {
			panic("gridding: covariance cannot be factored")
		}
	}
	for i := range n {
		w.z[i] = 1
	}
	forward(w.a, w.inv, w.z, n)
	w.zz = dot(w.z, w.z)
}

// covariances fills the lower triangle of the covariance of the chosen data without noise. Targets near each other
// share most data: what is not a product of two factors is computed for the new ones only.
func (m *optimalMap) covariances(w *oiWork) {
	n, nl, nn := len(w.chosen), len(m.c.levels), len(w.near)
	w.raw, w.old = grown(w.old, n*n), w.raw
	if m.set.shape != Matern {
		for i, d := range w.chosen {
			row := w.raw[i*n : i*n+i+1]
			h := w.hcov[int(w.local[m.c.site[d]])*nn:]
			v := m.vertical[int(m.c.level[d])*nl:]
			for j := range row {
				e := w.chosen[j]
				row[j] = h[w.local[m.c.site[e]]] * v[m.c.level[e]]
			}
		}
		return
	}
	w.kept = w.kept[:0]
	np, k := len(w.previous), 0
	for _, d := range w.chosen {
		for k < np && w.previous[k] < d {
			k++
		}
		if k < np && w.previous[k] == d {
			w.kept = append(w.kept, int32(k))
		} else {
			w.kept = append(w.kept, -1)
		}
	}
	for i, d := range w.chosen {
		row := w.raw[i*n : i*n+i+1]
		h := w.hcov[int(w.local[m.c.site[d]])*nn:]
		v := m.vertical[int(m.c.level[d])*nl:]
		if at := int(w.kept[i]); at >= 0 {
			old := w.old[at*np : at*np+at+1]
			for j := range row {
				if b := w.kept[j]; b >= 0 {
					row[j] = old[b]
				} else {
					e := w.chosen[j]
					row[j] = Matern.at(h[w.local[m.c.site[e]]] + v[m.c.level[e]])
				}
			}
			continue
		}
		for j := range row {
			e := w.chosen[j]
			row[j] = Matern.at(h[w.local[m.c.site[e]]] + v[m.c.level[e]])
		}
	}
}
