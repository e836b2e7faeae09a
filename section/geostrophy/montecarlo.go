package geostrophy

import (
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
)

// The Monte-Carlo estimate disturbs salinity, temperature, pressure, position and known velocity of every cast and
// takes the whole path from specific volume to transport again for each member; the weights of the formula are not
// used. Every random number is a function of (seed, member, kind, cast or system) alone, so that neither workers nor
// casts left out move the others.

// chunks is the fixed number of parts in which members are run, so that sums do not depend on the workers.
const chunks = 8

// memberSums are the members of one part: sums over them of differences from the casts as they are and of their
// squares.
type memberSums struct {
	v, v2 [][]float64      // pair, level: velocity
	b, b2 [][Kinds]float64 // pair, layer or class: transport
}

// memberRun is all members on their way.
type memberRun struct {
	r         *Result
	live      []*pairWork // pairs that have numbers
	members   int
	bands     int              // layers and classes
	transport [][Kinds]float64 // member, pair
	inBand    [][Kinds]float64 // member, layer or class: the whole section
	parts     [chunks]memberSums
}

// monteCarlo runs the members and fills the Monte-Carlo fields of velocities and of pair, layer, class, cumulative and
// total transports. Isopycnal levels, the reference salinity and the bounds of classes are held where the casts put
// them, as in the formula.
func (r *Result) monteCarlo(pairs []*pairWork, stations []*stationWork, scale *errorScale, std *standard,
	opts *Options) error {
	run := &memberRun{r: r, members: opts.Members, bands: len(r.Layers) + len(r.Classes)}
	for _, g := range pairs {
		if g != nil {
			g.fill(new(pairMemory), opts)
			g.whole.w[0] += g.carry
			g.keepBands(r, opts)
			run.live = append(run.live, g)
		}
	}
	if len(run.live) == 0 {
		return nil
	}
	slopes := make([]map[*column]*disturbed, len(stations)) // the same for every member
	err := opts.Each(len(stations), func(i int) {
		slopes[i] = map[*column]*disturbed{}
		for _, c := range stations[i].built {
			if c.ofPair {
				slopes[i][c] = newDisturbed(c, std, scale.stages[i] != metadata.StageAdjusted, stations[i].profile)
			}
		}
	})
	if err != nil {
		return err
	}
	run.transport = make([][Kinds]float64, run.members*len(run.live))
	run.inBand = make([][Kinds]float64, run.members*run.bands)
	if err := opts.Each(chunks, func(k int) {
		run.part(k, newMember(run.live, stations, slopes, scale, std, opts))
	}); err != nil {
		return err
	}
	run.deviations()
	run.totals()
	return nil
}

// part runs the members of one part.
func (run *memberRun) part(k int, m *member) {
	s := &run.parts[k]
	pairs := len(run.live)
	s.v, s.v2 = make([][]float64, pairs), make([][]float64, pairs)
	for i, g := range run.live {
		s.v[i], s.v2[i] = make([]float64, len(g.p)), make([]float64, len(g.p))
	}
	s.b, s.b2 = make([][Kinds]float64, pairs*run.bands), make([][Kinds]float64, pairs*run.bands)
	for n := run.members * k / chunks; n < run.members*(k+1)/chunks; n++ {
		m.draw(n)
		for i, g := range run.live {
			v := m.velocity(g, n)
			for l, base := range run.r.Pairs[g.index].Velocity {
				d := v[l] - base
				s.v[i][l] += d
				s.v2[i][l] += float64(d * d)
			}
			run.transport[n*pairs+i] = m.transport(g, v)
			for b, x := range m.byBand(g, v) {
				base := run.r.Pairs[g.index].band(b)
				for q := range x {
					run.inBand[n*run.bands+b][q] += x[q]
					d := x[q] - base[q].Value
					s.b[i*run.bands+b][q] += d
					s.b2[i*run.bands+b][q] += float64(d * d)
				}
			}
		}
	}
}

// deviations sets the standard deviations of velocities and of the layers and classes of pairs.
func (run *memberRun) deviations() {
	n := float64(run.members)
	deviation := func(get func(*memberSums) (sum, squares float64)) float64 {
		var s, s2 float64
		for k := range run.parts {
			x, x2 := get(&run.parts[k])
			s += x
			s2 += x2
		}
		return math.Sqrt(math.Max(0, s2-float64(s*s)/n) / (n - 1))
	}
	for i, g := range run.live {
		pr := &run.r.Pairs[g.index]
		pr.MonteCarlo = make([]float64, len(g.p))
		for l := range pr.MonteCarlo {
			pr.MonteCarlo[l] = deviation(func(p *memberSums) (float64, float64) { return p.v[i][l], p.v2[i][l] })
		}
		for b := range run.bands {
			at := i*run.bands + b
			for q := range Kinds {
				pr.band(b)[q].MonteCarlo = deviation(func(p *memberSums) (float64, float64) {
					return p.b[at][q], p.b2[at][q]
				})
			}
		}
	}
}

// totals fills the spread of the layers and classes of the section, of pairs, of running sums and of the whole.
func (run *memberRun) totals() {
	r, values := run.r, make([]float64, run.members)
	for b := range run.bands {
		total, i := r.LayerTotal, b
		if b >= len(total) {
			total, i = r.ClassTotal, b-len(total)
		}
		for q := range Kinds {
			for n := range values {
				values[n] = run.inBand[n*run.bands+b][q]
			}
			spread(&total[i][q], values)
		}
	}
	running := make([][Kinds]float64, run.members)
	for i, g := range run.live {
		pr := &r.Pairs[g.index]
		for k := range Kinds {
			for n := range values {
				values[n] = run.transport[n*len(run.live)+i][k]
				running[n][k] += values[n]
			}
			spread(&pr.Transport[k], values)
			for n := range values {
				values[n] = running[n][k]
			}
			spread(&pr.Cumulative[k], values)
			if i == len(run.live)-1 {
				r.Total[k].MonteCarlo, r.Total[k].Low, r.Total[k].High = pr.Cumulative[k].MonteCarlo,
					pr.Cumulative[k].Low, pr.Cumulative[k].High
			}
		}
	}
}

// spread fills standard deviation and the 2.5 and 97.5 percent points, linear between the ordered members. It sorts
// values.
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
