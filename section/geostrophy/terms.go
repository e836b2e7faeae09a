package geostrophy

import (
	"math"
	"sync"

	"github.com/castwright/castwright/section/seawater"
)

// A pairMemory is the memory for the terms of one pair's transports, used again from pair to pair.
type pairMemory struct {
	values []float64
	points []int
	terms  factors
	cut    cutter
}

var (
	levelMemories = sync.Pool{New: func() any { return new([]level) }}
	pairMemories  = sync.Pool{New: func() any { return new(pairMemory) }}
)

func grow[T any](s *[]T, n int) []T {
	if cap(*s) < n {
		*s = make([]T, n+n/8)
	}
	return (*s)[:n]
}

// fill computes depths, error integrals, factors and weights at the common levels, in the given memory.
func (g *pairWork) fill(memory *pairMemory, opts *Options) {
	n := len(g.p)
	buf := grow(&memory.values, (8+2*waterModes)*n)
	take := func() []float64 { s := buf[:n:n]; buf = buf[n:]; return s }
	points := grow(&memory.points, 2*n)
	g.iA, g.iB = points[:n], points[n:]
	g.depth = take()
	for q := range g.modesA {
		g.modesA[q], g.modesB[q] = take(), take()
	}
	g.factors, g.cut = &memory.terms, &memory.cut
	for k := range g.factors {
		g.factors[k] = take()
	}
	g.sigma = nil
	if len(opts.Classes) > 0 {
		g.sigma = take()
	}
	seawater.Heights(g.depth, g.p, g.latMid)
	thousands := int(opts.ClassSigmaDbar / 1000)
	for l, i, j := 0, 0, 0; l < n; l, i, j = l+1, i+1, j+1 {
		p := g.p[l]
		if g.colA.p[i] != p {
			i = g.colA.find(p, i)
		}
		if g.colB.p[j] != p {
			j = g.colB.find(p, j)
		}
		g.iA[l], g.iB[l] = i, j
		g.depth[l] = -g.depth[l]
		g.factors.set(l, g.colA.sa[i], g.colA.ct[i], g.colA.v[i], g.colB.sa[j], g.colB.ct[j], g.colB.v[j])
		if g.sigma != nil {
			g.sigma[l] = 0.5 * (seawater.Sigma(thousands, g.colA.sa[i], g.colA.ct[i]) + seawater.Sigma(thousands,
				g.colB.sa[j], g.colB.ct[j]))
		}
	}
	g.colA.modes.fill(&g.modesA, g.p, g.reference)
	g.colB.modes.fill(&g.modesB, g.p, g.reference)
	if g.atLevel {
		g.shrink = take()
		for l, d := range g.depth {
			g.shrink[l] = (sphereRadiusM - d) / sphereRadiusM
		}
	}
	g.whole = trapezoid(take(), g.depth)
}

// allSplit is an accuracy of which every part is divided.
var allSplit = [3]bool{true, true, true}

// setErrors fills the shear and the errors of the velocity.
func (r *Result) setErrors(g *pairWork, scale *errorScale, opts *Options) {
	pr := &r.Pairs[g.index]
	n := len(g.p)
	if g.shrink != nil {
		for l := range pr.Velocity {
			pr.Velocity[l] = (pr.Velocity[l]-g.known)/g.shrink[l] + g.known
		}
	}
	buf := make([]float64, 5*n)
	pr.Shear, pr.VelocityErr, pr.PerCastErr, pr.CommonErr, pr.IfCommonErr = buf[:n:n], buf[n:2*n:2*n], buf[2*n:3*n:3*n],
		buf[3*n:4*n:4*n], buf[4*n:]
	for l := range n {
		i, j := max(l-1, 0), min(l+1, n-1)
		pr.Shear[l] = -(pr.Velocity[j] - pr.Velocity[i]) / (g.depth[j] - g.depth[i])
	}
	fl := 1 / (math.Abs(g.f) * g.length)
	sameSystem := scale.system[g.a] == scale.system[g.b]
	split := [2][3]bool{scale.split[scale.system[g.a]], scale.split[scale.system[g.b]]}
	place := opts.PositionErrKm * 1e3
	// Both stations move along and across the line: the separation by sqrt(2), the middle latitude by 1/sqrt(2).
	byLength, byLat := math.Sqrt2*place/g.length, g.cotLat*math.Sqrt(0.5)*place/(earthRadiusKm*1e3)
	moved2 := float64(byLength*byLength) + float64(byLat*byLat)
	known2 := float64(g.knownErr * g.knownErr)
	var ea, eb, ca, cb [waterModes]float64
	for q := range g.water {
		ea[q], eb[q] = scale.perCast[g.a][q]*fl, scale.perCast[g.b][q]*fl
		ca[q], cb[q] = scale.common[g.a][q]*fl, scale.common[g.b][q]*fl
	}
	for l := range n {
		var single, common, instead float64
		for q := range g.water {
			ia, ib := g.modesA[q][l], g.modesB[q][l]
			x, y := ea[q]*ia, eb[q]*ib
			single += float64(x*x) + float64(y*y)
			for side, e := range [2]float64{x, y} {
				if q == ofSpread || split[side][q] {
					instead += float64(e * e)
				}
			}
			x, y = ca[q]*ia, cb[q]*ib
			if sameSystem {
				x, y = y-x, 0
			}
			for side, e := range [2]float64{x, y} {
				if q != ofSpread && split[side][q] {
					common += float64(e * e)
				} else {
					instead += float64(e * e)
				}
			}
		}
		v := pr.Velocity[l] - g.known
		if split[0] == allSplit && split[1] == allSplit {
			instead = nan
		}
		pr.PerCastErr[l], pr.CommonErr[l], pr.IfCommonErr[l] = math.Sqrt(single), math.Sqrt(common), math.Sqrt(instead)
		pr.VelocityErr[l] = math.Sqrt(single + common + float64(v*v*moved2) + known2)
	}
}
