package gridding

import (
	"math"
	"slices"
)

// Successive correction: Barnes 1964, J. Appl. Meteorol. 3, 396; Koch, desJardins and Kocin 1983, J. Clim. Appl.
// Meteorol. 22, 1487. Pass 0 is the mean of the anomalies weighted by exp(-(dx^2/kx + dp^2/kp)); each further pass adds
// the mapped residuals at the data, with kx and kp times narrowing.
const (
	passes         = 3
	narrowing      = 0.3   // Koch et al. 1983: 0.2 to 0.3
	barnesConstant = 5.052 // Koch et al. 1983: k = 5.052 (2 dn/pi)^2, dn the mean spacing
	faintest       = 32.0  // exponent beyond which a weight counts as 0
)

// A successiveMap holds the residuals that each pass maps.
type successiveMap struct {
	c        *cloud
	back     []background
	form     *shape
	without  []bool
	kx       float64
	zeta     []float64 // scaled pressure of the levels
	down     *verticalScale
	residual [][][]float64 // pass, variable, datum
}

func newSuccessive(c *cloud, form *shape, without []bool) *successiveMap {
	dn := c.s.medianSpacing(c.s.spacingOf())
	root := 2 * dn / math.Pi
	kx := barnesConstant * root * root
	if positive(c.s.opt.LengthKm) {
		kx = c.s.opt.LengthKm * c.s.opt.LengthKm
	}
	return newSuccessiveWith(c, c.down, kx, passes, form, without)
}

func newSuccessiveWith(c *cloud, down *verticalScale, kx float64, passes int, form *shape,
	without []bool) *successiveMap {
	m := &successiveMap{c: c, form: form, without: without, kx: kx, down: down, zeta: make([]float64, len(c.levels))}
	for l, p := range c.levels {
		m.zeta[l] = down.apart(p, 0)
	}
	now, back := form.anomalies(c, c.s.opt.LengthFactor, without)
	m.back = back
	sums := make([]float64, len(c.vars))
	var w successiveWork
	for pass := range passes {
		m.residual = append(m.residual, now)
		if pass == passes-1 {
			break
		}
		next := make([][]float64, len(c.vars))
		for v := range next {
			next[v] = slices.Clone(now[v])
		}
		for n := range c.site {
			if m.one(&w, c.s.between[c.site[n]], m.zeta[c.level[n]], pass, sums) {
				for v := range next {
					next[v][n] -= sums[v]
				}
			}
		}
		now = next
	}
	return m
}

// one maps the residuals of one pass to a place: h are distances to the sites, zeta its scaled pressure.
func (m *successiveMap) one(w *successiveWork, h []float64, zeta float64, pass int, out []float64) bool {
	total := m.near(w, h, zeta, pass)
	for v := range out {
		sum := 0.0
		for i, d := range w.data {
			sum += float64(w.weight[i] * m.residual[pass][v][d])
		}
		out[v] = sum / total
	}
	return total > 0
}

// A successiveWork is scratch memory: data and their weights in one pass.
type successiveWork struct {
	data   []int32
	weight []float64
}

// near fills w with the data that count in one pass at a place, and returns the sum of their weights.
func (m *successiveMap) near(w *successiveWork, h []float64, zeta float64, pass int) (total float64) {
	c := m.c
	shrink := math.Pow(narrowing, float64(pass))
	w.data, w.weight = w.data[:0], w.weight[:0]
	for k := range c.s.sites {
		from, to := c.first[k], c.first[k+1]
		ex := h[k] * h[k] / (m.kx * shrink)
		if from == to || ex > faintest {
			continue
		}
		wx := math.Exp(-ex)
		reach := math.Sqrt((faintest - ex) * shrink)
		own := c.level[from:to]
		low := int32(lowerBound(m.zeta, zeta-reach))
		i := 0
		for i < len(own) && own[i] < low {
			i++
		}
		for ; i < len(own); i++ {
			dz := m.zeta[own[i]] - zeta
			if dz > reach {
				break
			}
			weight := wx * math.Exp(-dz*dz/shrink)
			total += weight
			w.data, w.weight = append(w.data, from+int32(i)), append(w.weight, weight)
		}
	}
	return total
}

func (m *successiveMap) predict(w *work, col *column, p []float64, est [][]float64, rel []float64) {
	w.dense.sums = grown(w.dense.sums, len(est))
	sums := w.dense.sums[:len(est)]
	w.oi.profiles = m.form.profiles(w.oi.profiles, col, m.c.vars, m.without)
	for k, q := range p {
		rel[k] = math.NaN()
		zeta := m.down.apart(q, 0)
		for v := range est {
			est[v][k] = math.NaN()
		}
		for pass := range m.residual {
			if !m.one(&w.successive, col.h, zeta, pass, sums) {
				break
			}
			for v := range est {
				if pass == 0 {
					est[v][k] = m.form.taken(m.back, w.oi.profiles, col, v, q)
				}
				est[v][k] += sums[v]
			}
		}
	}
}
