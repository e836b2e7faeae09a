package geostrophy

import (
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// The Monte-Carlo estimate disturbs salinity, temperature, pressure, position and known velocity of every cast and takes the whole path
// from specific volume to transport again for each member; the weights of the formula are not used. Every random number is a
// function of (seed, member, kind, cast or system) alone, so that neither workers nor casts left out move the others.

// Kinds of draws.
const (
	drawSystem   = 1 // + mode
	drawCast     = 11
	drawPosition = 21
	drawKnown    = 31
	drawBin      = 41
)

// mix is one round of a 64-bit finaliser (the splitmix64 generator of Steele, Lea and Flood 2014).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// keyOf is the key of a name (FNV-1a).
func keyOf(name string) uint64 {
	h := uint64(14695981039346656037)
	for i := range len(name) {
		h = (h ^ uint64(name[i])) * 1099511628211
	}
	return h
}

// A stream is a row of random numbers of its own.
type stream uint64

func streamOf(seed int64, member, kind int, key uint64) stream {
	return stream(mix(mix(mix(mix(uint64(seed))^uint64(member))^uint64(kind)) ^ key))
}

// uniform is in (-1, 1).
func (s *stream) uniform() float64 {
	*s = stream(mix(uint64(*s)))
	return float64(int64(*s)>>11) / (1 << 52)
}

// normal is a standard normal number, by the polar method (Marsaglia and Bray 1964).
func (s *stream) normal() float64 {
	for {
		u, v := s.uniform(), s.uniform()
		if r := float64(u*u) + float64(v*v); r > 0 && r < 1 {
			return u * math.Sqrt(-2*logOf(r)/r)
		}
	}
}

// logOf is the natural logarithm of 0 < x < 1, by the series of the inverse hyperbolic tangent; the standard library's has other last bits on
// other processors.
func logOf(x float64) float64 {
	m, e := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m, e = 2*m, e-1
	}
	t := (m - 1) / (m + 1)
	q := t * t
	sum := 0.0
	for k := 21; k >= 1; k -= 2 {
		sum = float64(sum*q) + 1/float64(k)
	}
	return float64(float64(e)*math.Ln2) + 2*t*sum
}

// chunks is the fixed number of parts in which members are run, so that sums do not depend on the workers.
const chunks = 8

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

// monteCarlo runs the members and fills the Monte-Carlo fields of velocities and of pair, layer, class, cumulative and total transports.
// Isopycnal levels, the reference salinity and the bounds of classes are held where the casts put them, as in the formula.
func (r *Result) monteCarlo(pairs []*pairWork, stations []*stationWork, scale *errorScale, std *standard, each func(int, func(int)), opts *Options) error {
	var live []*pairWork
	for _, g := range pairs {
		if g != nil {
			g.fill(new(pairRoom), opts)
			g.whole.w[0] += g.carry
			g.keepBands(r, opts)
			live = append(live, g)
		}
	}
	if len(live) == 0 {
		return nil
	}
	// What is the same for every member.
	slopes := make([]map[*column]*disturbed, len(stations))
	each(len(stations), func(i int) {
		slopes[i] = map[*column]*disturbed{}
		for _, c := range stations[i].built {
			if c.ofPair {
				slopes[i][c] = newDisturbed(c, std, scale.stages[i] != metadata.StageAdjusted, stations[i].profile)
			}
		}
	})
	members := opts.Members
	transport := make([][Kinds]float64, members*len(live)) // member, pair
	nBands := len(r.Layers) + len(r.Classes)
	inBand := make([][Kinds]float64, members*nBands) // member, layer or class: the whole section
	type sumsOf struct {
		dv, dv2 [][]float64
		db, db2 [][Kinds]float64 // pair, layer or class
	}
	parts := make([]sumsOf, chunks)
	each(chunks, func(k int) {
		m := newMember(live, stations, slopes, scale, std, opts)
		parts[k].dv, parts[k].dv2 = make([][]float64, len(live)), make([][]float64, len(live))
		for i, g := range live {
			parts[k].dv[i], parts[k].dv2[i] = make([]float64, len(g.p)), make([]float64, len(g.p))
		}
		parts[k].db, parts[k].db2 = make([][Kinds]float64, len(live)*nBands), make([][Kinds]float64, len(live)*nBands)
		for n := members * k / chunks; n < members*(k+1)/chunks; n++ {
			m.draw(n)
			for i, g := range live {
				v := m.velocity(g, n)
				for l, base := range r.Pairs[g.index].Velocity {
					d := v[l] - base
					parts[k].dv[i][l] += d
					parts[k].dv2[i][l] += float64(d * d)
				}
				transport[n*len(live)+i] = m.transport(g, v)
				for b, x := range m.byBand(g, v) {
					base := r.Pairs[g.index].band(b)
					for q := range x {
						inBand[n*nBands+b][q] += x[q]
						d := x[q] - base[q].Value
						parts[k].db[i*nBands+b][q] += d
						parts[k].db2[i*nBands+b][q] += float64(d * d)
					}
				}
			}
		}
	})
	deviation := func(s, s2 float64) float64 {
		return math.Sqrt(math.Max(0, s2-float64(s*s)/float64(members)) / float64(members-1))
	}
	for i, g := range live {
		out := make([]float64, len(g.p))
		for l := range out {
			var s, s2 float64
			for k := range parts {
				s += parts[k].dv[i][l]
				s2 += parts[k].dv2[i][l]
			}
			out[l] = deviation(s, s2)
		}
		pr := &r.Pairs[g.index]
		pr.MonteCarlo = out
		for b := range nBands {
			for q := range Kinds {
				var s, s2 float64
				for k := range parts {
					s += parts[k].db[i*nBands+b][q]
					s2 += parts[k].db2[i*nBands+b][q]
				}
				pr.band(b)[q].MonteCarlo = deviation(s, s2)
			}
		}
	}
	values := make([]float64, members)
	for b := range nBands {
		total := r.LayerTotal
		i := b
		if b >= len(total) {
			total, i = r.ClassTotal, b-len(total)
		}
		for q := range Kinds {
			for n := range members {
				values[n] = inBand[n*nBands+b][q]
			}
			spread(&total[i][q], values)
		}
	}
	running := make([][Kinds]float64, members)
	for i, g := range live {
		pr := &r.Pairs[g.index]
		for k := range Kinds {
			for n := range members {
				values[n] = transport[n*len(live)+i][k]
				running[n][k] += values[n]
			}
			spread(&pr.Transport[k], values)
			for n := range members {
				values[n] = running[n][k]
			}
			spread(&pr.Cumulative[k], values)
			if i == len(live)-1 {
				for n := range members {
					values[n] = running[n][k]
				}
				spread(&r.Total[k], values)
			}
		}
	}
	return nil
}

// spread fills standard deviation and the 2.5 and 97.5 percent points, linear between the ordered members. It sorts values.
func spread(s *Sum, values []float64) {
	slices.Sort(values)
	n := float64(len(values))
	mean, sq := 0.0, 0.0
	for _, v := range values {
		mean += v
	}
	mean /= n
	for _, v := range values {
		sq += float64((v - mean) * (v - mean))
	}
	s.MonteCarlo = math.Sqrt(sq / (n - 1))
	point := func(q float64) float64 {
		x := q * (n - 1)
		i := int(x)
		if i+1 >= len(values) {
			return values[len(values)-1]
		}
		return values[i] + float64((x-float64(i))*(values[i+1]-values[i]))
	}
	s.Low, s.High = point(0.025), point(0.975)
}

func newDisturbed(c *column, std *standard, fromConductivity bool, pr *Profile) *disturbed {
	n := len(c.p)
	d := &disturbed{c: c, std: make([]float64, n), ctByT: make([]float64, n)}
	for i, p := range c.p {
		d.std[i] = std.at(p)
		t := seawater.InSituTemperature(c.sa[i], c.ct[i], p)
		d.ctByT[i] = (seawater.ConservativeTemperature(c.sa[i], t+1e-3, p) - seawater.ConservativeTemperature(c.sa[i], t, p)) / 1e-3
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

// band gives the sums of a layer, or of a class when the layers are counted.
func (p *Pair) band(b int) *Sums {
	if b < len(p.Layers) {
		return &p.Layers[b]
	}
	return &p.Classes[b-len(p.Layers)]
}

// byBand gives the member's transport of a pair by layer, then by class, of its velocity v. The slice is the member's.
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

func newMember(live []*pairWork, stations []*stationWork, slopes []map[*column]*disturbed, scale *errorScale, std *standard, opts *Options) *member {
	m := &member{opts: opts, std: std, scale: scale, stations: stations, at: make([]orb.Point, len(stations)), columns: make([]map[*column]*disturbed, len(stations))}
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
			own.sa, own.ct, own.v, own.sum = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
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
			if q < ofSpread && m.scale.split[m.scale.system[i]] {
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

// integrate is the plain path from velocity to transport: the trapezoid over depth, the surface carry and the triangle by its closed
// form. The tests hold the linear sums of Compute to it.
func (g *pairWork) integrate(v []float64, length float64, t Treatment, scale *errorScale, water func(l int) (saA, ctA, vA, saB, ctB, vB float64)) [Kinds]float64 {
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
