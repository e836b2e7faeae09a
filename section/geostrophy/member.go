package geostrophy

import (
	"math"
	"slices"

	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// Kinds of draws.
const (
	drawSystem   = 1 // + mode
	drawCast     = 11
	drawPosition = 21
	drawKnown    = 31
	drawBin      = 41
)

// disturbed is one column of one station and how it answers disturbances.
type disturbed struct {
	c         *column
	std       []float64 // specific volume of the standard ocean
	ctByT     []float64 // change of Conservative Temperature with temperature
	spByT     []float64 // change of Absolute Salinity with temperature and pressure where salinity is from conductivity
	spByP     []float64
	spread    []float64 // standard error of specific volume of a mean station; else nil
	sa, ct, v []float64 // of the member at hand
	sum       []float64
	need      bool
}

func newDisturbed(c *column, std *standard, fromConductivity bool, pr *Profile) *disturbed {
	n := len(c.p)
	d := &disturbed{c: c, std: make([]float64, n), ctByT: make([]float64, n)}
	for i, p := range c.p {
		d.std[i] = std.at(p)
		t := seawater.InSituTemperature(c.sa[i], c.ct[i], p)
		d.ctByT[i] = (seawater.ConservativeTemperature(c.sa[i], t+1e-3, p) - seawater.ConservativeTemperature(c.sa[i],
			t, p)) / 1e-3
	}
	if pr.spread != nil {
		d.spread = make([]float64, n)
		for i, p := range c.p {
			d.spread[i] = between(pr.PressureDbar, func(l int) float64 { return pr.spread[l] }, p)
		}
	}
	if fromConductivity {
		d.spByT, d.spByP = make([]float64, n), make([]float64, n)
		for i, p := range c.p {
			t, q := conductivitySlopes(c.sa[i], c.ct[i], p)
			d.spByT[i], d.spByP[i] = seawater.ReferenceFactor*t, seawater.ReferenceFactor*q
		}
	}
	return d
}

// member is one worker's copy of the disturbed stations.
type member struct {
	opts     *Options
	scale    *errorScale
	stations []*stationWork
	at       []orb.Point
	columns  []map[*column]*disturbed
	std      *standard
	v        []float64
	flow     [baseKinds][]float64 // what one metre of each level carries
	bands    [][Kinds]float64
}

// bandWeights are the weights of one layer or class, and its part of the triangle on the deepest levels.
type bandWeights struct {
	weights
	tri []float64
}

// keepBands keeps the weights of the layers, then of the classes, for the members.
func (g *pairWork) keepBands(r *Result, opts *Options) {
	keep := func(w weights, tri []float64) {
		g.bands = append(g.bands, bandWeights{weights{w.from, slices.Clone(w.w)}, tri})
	}
	if len(r.Layers) > 0 {
		g.eachLayer(g.cut, opts, len(r.Layers) == len(opts.Layers), keep)
	}
	if len(r.Classes) > 0 {
		g.eachClass(g.cut, g.sigma, opts, keep)
	}
}

// band returns the sums of a layer, or of a class when the layers are counted.
func (p *Pair) band(b int) *Sums {
	if b < len(p.Layers) {
		return &p.Layers[b]
	}
	return &p.Classes[b-len(p.Layers)]
}

// byBand returns the member's transport of a pair by layer, then by class, of its velocity v. The slice is the
// member's.
func (m *member) byBand(g *pairWork, v []float64) [][Kinds]float64 {
	m.bands = m.bands[:0]
	if len(g.bands) == 0 {
		return nil
	}
	a, b := m.columns[g.a][g.colA], m.columns[g.b][g.colB]
	n := len(v)
	length := measure(m.opts.Distance, m.at[g.a], m.at[g.b]).lengthM
	f := factors{}
	for k := range m.flow {
		m.flow[k] = grow(&m.flow[k], n)
		f[k] = m.flow[k]
	}
	for l := range n {
		i, j := g.iA[l], g.iB[l]
		f.set(l, a.sa[i], a.ct[i], a.v[i], b.sa[j], b.ct[j], b.v[j])
	}
	var deepest [baseKinds]float64
	speed := func(l int) float64 {
		if g.shrink != nil {
			return v[l] * g.shrink[l]
		}
		return v[l]
	}
	for k := range f {
		deepest[k] = f[k][n-1]
		for l := range n {
			f[k][l] *= speed(l)
		}
	}
	for _, w := range g.bands {
		var base [baseKinds]float64
		for k := range base {
			for i, x := range w.w {
				base[k] += float64(x * f[k][w.from+i])
			}
			for i, x := range w.tri {
				base[k] += float64(x * deepest[k] * speed(n-len(w.tri)+i))
			}
			base[k] *= length
		}
		m.bands = append(m.bands, kindsOf(&base, m.scale.sm, m.scale.tref))
	}
	return m.bands
}

func newMember(live []*pairWork, stations []*stationWork, slopes []map[*column]*disturbed, scale *errorScale,
	std *standard, opts *Options) *member {
	m := &member{opts: opts, std: std, scale: scale, stations: stations, at: make([]orb.Point, len(stations)),
		columns: make([]map[*column]*disturbed, len(stations))}
	longest := 0
	used := map[*column]bool{}
	for _, g := range live {
		used[g.colA], used[g.colB] = true, true
		longest = max(longest, len(g.p))
	}
	for i := range stations {
		m.columns[i] = map[*column]*disturbed{}
		for c, d := range slopes[i] {
			own := *d
			n := len(c.p)
			own.sa, own.ct, own.v, own.sum = make([]float64, n), make([]float64, n), make([]float64, n),
				make([]float64, n)
			own.need = used[c]
			m.columns[i][c] = &own
		}
	}
	m.v = make([]float64, longest)
	return m
}

// draw disturbs every station for member n.
func (m *member) draw(n int) {
	seed := m.opts.Seed
	for i, s := range m.stations {
		id := keyOf(s.cast.ID())
		var e [waterModes]float64
		water := ofSpread
		if s.profile.spread != nil {
			water = waterModes
		}
		for q := range water {
			single := streamOf(seed, n, drawCast+q, id)
			e[q] = m.scale.perCast[i][q] * single.normal()
			if q < ofSpread && m.scale.split[m.scale.system[i]][q] {
				common := streamOf(seed, n, drawSystem+q, keyOf(m.scale.labels[m.scale.system[i]]))
				e[q] += float64(m.scale.common[i][q] * common.normal())
			}
		}
		place := streamOf(seed, n, drawPosition, id)
		north, east := m.scale.perCast[i][ofNorth]*place.normal(), m.scale.perCast[i][ofEast]*place.normal()
		const degreeKm = earthRadiusKm * math.Pi / 180
		lat := s.cast.At[1]
		m.at[i] = orb.Point{s.cast.At[0] + east/(degreeKm*math.Cos(lat*(math.Pi/180))), lat + north/degreeKm}
		noise := streamOf(seed, n, drawBin, id)
		// Each column of the station is disturbed alike; bin noise runs down the station.
		for _, c := range s.built {
			if d := m.columns[i][c]; d != nil && d.need {
				d.disturb(&e, &noise, m.opts)
			}
		}
	}
}

// disturb computes the column with salinity, temperature and pressure reading too high by e.
func (d *disturbed) disturb(e *[waterModes]float64, noise *stream, opts *Options) {
	c := d.c
	j := 0
	last := len(c.p) - 1
	before := 0.0
	noisy := opts.BinNoiseSalinity > 0 || opts.BinNoiseTemperatureK > 0
	for i, p := range c.p {
		// The water read at p lies at p - e.
		x := p - e[ofPressure]
		for j < last-1 && c.p[j+1] < x {
			j++
		}
		for j > 0 && c.p[j] > x {
			j--
		}
		sa, ct := c.sa[i], c.ct[i]
		if last > 0 {
			t := math.Min(1, math.Max(0, (x-c.p[j])/(c.p[j+1]-c.p[j])))
			sa, ct = c.sa[j]+float64(t*(c.sa[j+1]-c.sa[j])), c.ct[j]+float64(t*(c.ct[j+1]-c.ct[j]))
		}
		sa += e[ofSalinity]
		ct += float64(d.ctByT[i] * e[ofTemperature])
		if d.spByT != nil {
			sa += float64(d.spByT[i]*e[ofTemperature]) + float64(d.spByP[i]*e[ofPressure])
		}
		if noisy {
			sa += float64(opts.BinNoiseSalinity * noise.normal())
			ct += float64(opts.BinNoiseTemperatureK * noise.normal())
		}
		v := seawater.SpecificVolume(sa, ct, p)
		if d.spread != nil {
			v += float64(e[ofSpread] * d.spread[i])
		}
		d.sa[i], d.ct[i], d.v[i] = sa, ct, v
		delta := v - d.std[i]
		if i > 0 {
			d.sum[i] = d.sum[i-1] + float64(0.5*pascal*(p-c.p[i-1])*(delta+before))
		}
		before = delta
	}
}

// sumAt is column.sumAt of the disturbed column.
func (d *disturbed) sumAt(p float64, std *standard) float64 {
	if p < d.c.p[0] {
		return above(p, d.c.p[0], d.sa[0], d.ct[0], std)
	}
	return d.sum[d.c.find(p, 0)]
}

// velocity is the member's velocity of a pair.
func (m *member) velocity(g *pairWork, n int) []float64 {
	a, b := m.columns[g.a][g.colA], m.columns[g.b][g.colB]
	at := measure(m.opts.Distance, m.at[g.a], m.at[g.b])
	f := seawater.Coriolis(0.5 * (m.at[g.a][1] + m.at[g.b][1]))
	known := g.known
	if g.knownErr > 0 {
		s := streamOf(m.opts.Seed, n, drawKnown, keyOf(m.stations[g.a].cast.ID()+" "+m.stations[g.b].cast.ID()))
		known += float64(g.knownErr * s.normal())
	}
	scale := g.sign / (f * at.lengthM)
	refA, refB := a.sumAt(g.reference, m.std), b.sumAt(g.reference, m.std)
	v := m.v[:len(g.p)]
	for l := range v {
		v[l] = scale * ((refB - b.sum[g.iB[l]]) - (refA - a.sum[g.iA[l]]))
		if g.shrink != nil {
			v[l] /= g.shrink[l]
		}
		v[l] += known
	}
	return v
}

// transport integrates the member's velocity over depth and adds the triangle.
func (m *member) transport(g *pairWork, v []float64) [Kinds]float64 {
	a, b := m.columns[g.a][g.colA], m.columns[g.b][g.colB]
	length := measure(m.opts.Distance, m.at[g.a], m.at[g.b]).lengthM
	return g.integrate(v, length, m.opts.Triangle, m.scale, func(l int) (saA, ctA, vA, saB, ctB, vB float64) {
		i, j := g.iA[l], g.iB[l]
		return a.sa[i], a.ct[i], a.v[i], b.sa[j], b.ct[j], b.v[j]
	})
}

// integrate is the plain path from velocity to transport: the trapezoid over depth, the surface carry and the triangle
// by its closed form. The tests hold the linear sums of Compute to it.
func (g *pairWork) integrate(v []float64, length float64, t Treatment, scale *errorScale,
	water func(l int) (saA, ctA, vA, saB, ctB, vB float64)) [Kinds]float64 {
	f := newFactors(1)
	var base, before, now [baseKinds]float64
	for l := range v {
		saA, ctA, vA, saB, ctB, vB := water(l)
		f.set(0, saA, ctA, vA, saB, ctB, vB)
		w := v[l]
		if g.shrink != nil {
			w *= g.shrink[l]
		}
		for k := range baseKinds {
			now[k] = f[k][0] * w
			if l == 0 {
				base[k] = g.carry * now[k]
			} else {
				base[k] += float64(0.5 * (g.depth[l] - g.depth[l-1]) * (now[k] + before[k]))
			}
		}
		before = now
	}
	if n := len(v); g.triangle {
		shear := 0.0
		for i, x := range g.shear {
			shear += float64(x * v[g.shearFrom+i])
		}
		add := TriangleTransport(t, math.Min(g.bottomA, g.bottomB), math.Max(g.bottomA, g.bottomB), v[n-1], shear)
		for k := range baseKinds {
			base[k] += float64(f[k][0] * add)
		}
	}
	for k := range base {
		base[k] *= length
	}
	return kindsOf(&base, scale.sm, scale.tref)
}
