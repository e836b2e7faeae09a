package gridding

import (
	"math"
	"slices"

	"github.com/castwright/castwright/section/interpolate"
	"github.com/castwright/castwright/section/seawater"
)

// Mapping along density: between two casts the pressure of a surface of equal potential density is straight in
// distance, and so are the values on it, so that a front keeps its water masses instead of mixing them. Two branches,
// for the upper part sigma0, below sigma2 (sigma4 where casts go deeper than 3000 dbar), meet around 500 dbar. Within
// the mixed layer, where density says nothing, equal parts of the layer's depth are joined (all ours).
const (
	// kg/m3, de Boyer Montegut et al. 2004: density at the base of the mixed layer above that at 10 dbar
	mixedStep  = 0.03
	mixedAt    = 10.0 // dbar
	branchDbar = 500.0
	blendDbar  = 50.0   // the branches are blended this far above and below
	deepFrom   = 3000.0 // dbar; deeper casts: sigma4 below branchDbar
)

// A stack is one cast on increasing density, below its mixed layer.
type stack struct {
	mixed float64 // pressure at the base of the mixed layer
	sigma [2][]float64
	p     []float64
	v     [][]float64 // values on p, one for each variable of the map
	top   []profile   // whole profiles, for the mixed layer
}

type densityMap struct {
	s       *survey
	vars    []int
	stacks  []stack
	deepest int // thousands of dbar of the lower branch
}

func newDensity(s *survey, vars []int, without []bool) *densityMap {
	m := &densityMap{s: s, vars: vars, stacks: make([]stack, len(s.sites)), deepest: 2}
	if s.pmax > deepFrom {
		m.deepest = 4
	}
	var w interpolate.Workspace
	for k := range s.sites {
		if without == nil || !without[k] {
			m.stacks[k] = m.stackOf(&s.sites[k], &w)
		}
	}
	return m
}

func (m *densityMap) stackOf(t *site, w *interpolate.Workspace) stack {
	sa, ct := &t.salt, &t.heat
	var k stack
	if len(sa.p) < 2 || len(ct.p) < 2 {
		return k
	}
	p := sa.p
	temp := ct.v
	if !slices.Equal(sa.p, ct.p) {
		temp = ct.at(make([]float64, len(p)), p, interpolate.Linear, w)
	}
	n := len(p)
	rho := [2][]float64{make([]float64, n), make([]float64, n)}
	for i := range p {
		rho[0][i] = seawater.Sigma0(sa.v[i], temp[i])
		rho[1][i] = seawater.Sigma(m.deepest, sa.v[i], temp[i])
	}
	from := 0
	for from < n-1 && p[from] < mixedAt {
		from++
	}
	base := from
	for base < n-1 && !(rho[0][base] >= rho[0][from]+mixedStep) {
		base++
	}
	k.mixed = p[base]
	k.p = p[base:]
	for b := range rho {
		k.sigma[b] = rho[b][base:]
		slices.Sort(k.sigma[b])
		for i := 1; i < len(k.sigma[b]); i++ {
			if k.sigma[b][i] <= k.sigma[b][i-1] {
				k.sigma[b][i] = math.Nextafter(k.sigma[b][i-1], math.Inf(1))
			}
		}
	}
	for _, v := range m.vars {
		k.carry(t.profiles[v], w)
	}
	return k
}

// carry adds a variable to a stack.
func (k *stack) carry(q profile, w *interpolate.Workspace) {
	k.top = append(k.top, q)
	k.v = append(k.v, q.at(make([]float64, len(k.p)), k.p, interpolate.Linear, w))
}

// A denseWork is scratch memory: of the density map, and for the results of one column.
type denseWork struct {
	est          []float64
	rows         [][]float64
	sums         []float64
	sigma        []float64
	pa, pb, pm   []float64
	values       []float64
	interpolator interpolate.Workspace
	at           []float64
	one          [2][]float64
}

// neighbours of a place on the section among the sites that are in.
func (m *densityMap) around(xKm float64) (a, b int, share float64, ok bool) {
	a, b = -1, -1
	for k := range m.stacks {
		if len(m.stacks[k].p) < 2 {
			continue
		}
		if m.s.sites[k].xKm <= xKm {
			a = k
		}
		if m.s.sites[k].xKm >= xKm && b < 0 {
			b = k
		}
	}
	if a < 0 || b < 0 {
		return 0, 0, 0, false
	}
	if d := m.s.sites[b].xKm - m.s.sites[a].xKm; d > 0 {
		share = (xKm - m.s.sites[a].xKm) / d
	}
	return a, b, share, true
}

func (m *densityMap) predict(w *work, col *column, p []float64, est [][]float64, rel []float64) {
	for k := range p {
		rel[k] = math.NaN()
		for v := range est {
			est[v][k] = math.NaN()
		}
	}
	ia, ib, share, ok := m.around(col.xKm)
	if !ok {
		return
	}
	a, b := &m.stacks[ia], &m.stacks[ib]
	mixed := a.mixed + float64(share*(b.mixed-a.mixed))
	d := &w.dense
	for v := range est {
		m.mixedLayer(d, a, b, share, mixed, v, p, est[v])
	}
	for branch := range 2 {
		m.surfaces(d, a, b, share, branch)
		for v := range est {
			m.onSurfaces(d, a, b, share, branch, v)
			for k, q := range p {
				if q <= mixed {
					continue
				}
				weight := math.Min(1, math.Max(0, (q-(branchDbar-blendDbar))/(2*blendDbar)))
				if branch == 0 {
					weight = 1 - weight
				}
				if weight == 0 {
					continue
				}
				value := weight * d.pressureToValue(q)
				if math.IsNaN(est[v][k]) && (branch == 0 || weight == 1) {
					est[v][k] = value
				} else {
					est[v][k] += value
				}
			}
		}
	}
}

// mixedLayer joins equal parts of the mixed layers.
func (m *densityMap) mixedLayer(d *denseWork, a, b *stack, share, mixed float64, v int, p, est []float64) {
	if !(mixed > 0) {
		return
	}
	n := 0
	for n < len(p) && p[n] <= mixed {
		n++
	}
	d.at, d.values = grown(d.at, n), grown(d.values, n)
	for side, k := range []*stack{a, b} {
		d.one[side] = grown(d.one[side], n)
		for i := range n {
			d.at[i] = p[i] / mixed * k.mixed
		}
		k.top[v].at(d.one[side][:n], d.at[:n], interpolate.Linear, &d.interpolator)
	}
	for i := range n {
		est[i] = d.one[0][i] + float64(share*(d.one[1][i]-d.one[0][i]))
	}
}

// surfaces lists the densities of both casts and the pressures of the surfaces in both and at the column. A surface
// lighter than a cast's lightest outcrops there and stays at the base of its mixed layer; one denser than its densest
// is not there.
func (m *densityMap) surfaces(d *denseWork, a, b *stack, share float64, branch int) {
	most := math.Min(a.sigma[branch][len(a.sigma[branch])-1], b.sigma[branch][len(b.sigma[branch])-1])
	d.sigma = append(append(d.sigma[:0], a.sigma[branch]...), b.sigma[branch]...)
	slices.Sort(d.sigma)
	d.sigma = slices.Compact(d.sigma)
	n := 0
	for n < len(d.sigma) && d.sigma[n] <= most {
		n++
	}
	d.sigma = d.sigma[:n]
	d.pa, d.pb, d.pm = grown(d.pa, n), grown(d.pb, n), grown(d.pm, n)
	d.clamped(d.pa[:n], a, branch, a.p)
	d.clamped(d.pb[:n], b, branch, b.p)
	for i := range n {
		d.pm[i] = d.pa[i] + float64(share*(d.pb[i]-d.pa[i]))
	}
}

// clamped interpolates a quantity of a stack on the surfaces; lighter ones get the first value.
func (d *denseWork) clamped(dst []float64, k *stack, branch int, y []float64) {
	s := k.sigma[branch]
	i := 0
	for n, sigma := range d.sigma[:len(dst)] {
		for i+1 < len(s)-1 && s[i+1] < sigma {
			i++
		}
		switch {
		case sigma <= s[0]:
			dst[n] = y[0]
		default:
			t := (sigma - s[i]) / (s[i+1] - s[i])
			dst[n] = y[i] + float64(math.Min(1, t)*(y[i+1]-y[i]))
		}
	}
}

// onSurfaces joins the values of one variable on the surfaces; where a surface outcrops in one cast, the other's value
// holds.
func (m *densityMap) onSurfaces(d *denseWork, a, b *stack, share float64, branch, v int) {
	n := len(d.sigma)
	d.values = grown(d.values, n)
	d.one[0], d.one[1] = grown(d.one[0], n), grown(d.one[1], n)
	d.clamped(d.one[0][:n], a, branch, a.v[v])
	d.clamped(d.one[1][:n], b, branch, b.v[v])
	for i := range n {
		va, vb := d.one[0][i], d.one[1][i]
		switch {
		case d.sigma[i] < a.sigma[branch][0] && share > 0:
			d.values[i] = vb
		case d.sigma[i] < b.sigma[branch][0] && share < 1:
			d.values[i] = va
		default:
			d.values[i] = va + float64(share*(vb-va))
		}
	}
}

// pressureToValue inverts the pressures of the surfaces: the value at a pressure of the column.
func (d *denseWork) pressureToValue(q float64) float64 {
	n := len(d.sigma)
	pm := d.pm[:n]
	if n < 2 || q < pm[0]-carryDbar || q > pm[n-1] {
		return math.NaN()
	}
	i, found := slices.BinarySearch(pm, q)
	if found {
		return d.values[i]
	}
	if i == 0 {
		return d.values[0]
	}
	step := pm[i] - pm[i-1]
	if !(step > 0) {
		return d.values[i]
	}
	return d.values[i-1] + float64((q-pm[i-1])/step*(d.values[i]-d.values[i-1]))
}
