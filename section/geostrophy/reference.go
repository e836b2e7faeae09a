package geostrophy

import (
	"fmt"
	"math"

	"github.com/castwright/castwright/section/interpolate"
	"github.com/castwright/castwright/section/seawater"
)

// setReference sets the reference level of a pair, the known velocity there, and the run of levels joined to it.
// Where the level asked for cannot be used the deepest common level is, as ReferenceFallback records.
func (g *pairWork) setReference(pr *Pair, runs []run, a, b *stationWork, opts *Options) (Status, string) {
	ref, status, why := g.resolve(opts.Reference, runs, pr, a, b, opts)
	if status != Computed {
		return status, why
	}
	g.reference, g.run, g.known, g.knownErr = ref.p, ref.run, ref.v, ref.err
	pr.ReferenceFallback = ref.fallback
	return Computed, ""
}

// A settled reference.
type settled struct {
	p, v, err float64
	run       run
	fallback  string
}

func (g *pairWork) resolve(ref Reference, runs []run, pr *Pair, a, b *stationWork, opts *Options) (settled, Status,
	string) {
	last := runs[len(runs)-1]
	deepest := settled{p: g.common[last.to-1], run: last}
	switch ref.Kind {
	case AtDeepest:
		return deepest, Computed, ""
	case AtPressure:
		return g.reach(ref.PressureDbar, runs, deepest), Computed, ""
	case AtDensity:
		p, ok := g.crossing(ref.Density, ref.SigmaDbar, runs, a, b, opts)
		if !ok {
			deepest.fallback = fmt.Sprintf(
				"the density %g kg/m3 (referred to %g dbar) is not crossed: the deepest common level is used",
				ref.Density, ref.SigmaDbar)
			return deepest, Computed, ""
		}
		return g.reach(p, runs, deepest), Computed, ""
	}
	for _, k := range ref.Known {
		if !k.Of(a.cast, b.cast) {
			continue
		}
		p := k.PressureDbar
		if p != p {
			p = seawater.Pressure(-k.DepthM, g.latMid)
		}
		out := g.reach(p, runs, deepest)
		if ref.Kind == AtVelocities {
			out.v, out.err = k.Velocity, k.StandardError
			if out.fallback != "" {
				out.fallback += ", with the velocity given for the other level"
			}
		}
		return out, Computed, ""
	}
	what := "level"
	if ref.Kind == AtVelocities {
		what = "velocity"
	}
	return settled{}, WithheldNoKnown, fmt.Sprintf("no known %s was given for stations %s and %s", what, a.cast.Station,
		b.cast.Station)
}

// reach uses pressure p where a run of levels holds it, or where it lies above the first level (whose water is carried
// up to it); the deepest common level where p is deeper. Up to one bin step below that level counts as reached.
func (g *pairWork) reach(p float64, runs []run, deepest settled) settled {
	for i, x := range runs {
		if (p >= g.common[x.from] || i == 0) && p <= g.common[x.to-1] {
			return settled{p: p, run: x}
		}
	}
	n := deepest.run.to
	step := g.common[n-1] - g.common[n-2]
	if p > deepest.p+step {
		deepest.fallback = fmt.Sprintf("%.6g dbar is below the deepest common level, %g dbar, which is used", p,
			deepest.p)
	} else if p < deepest.p {
		deepest.fallback = fmt.Sprintf("%.6g dbar lies in a gap: the deepest common level, %g dbar, is used", p,
			deepest.p)
	}
	return deepest
}

// crossing returns the deepest pressure at which the pair-mean potential density anomaly, linear in pressure between
// the common levels, crosses a value.
func (g *pairWork) crossing(value, sigmaDbar float64, runs []run, a, b *stationWork, opts *Options) (float64, bool) {
	thousands := int(sigmaDbar / 1000)
	var w interpolate.Workspace
	for i := len(runs) - 1; i >= 0; i-- {
		x := runs[i]
		n := x.to - x.from
		at := g.common[x.from:x.to]
		sigma := make([]float64, n)
		for side, s := range []*stationWork{a, b} {
			k := x.spanA
			if side == 1 {
				k = x.spanB
			}
			sp := s.spans[k]
			sa, ct := make([]float64, n), make([]float64, n)
			pr := s.profile
			w.Pair(sa, ct, opts.Interpolation, pr.PressureDbar[sp.from:sp.to], pr.SA[sp.from:sp.to],
				pr.CT[sp.from:sp.to], at)
			for l := range sigma {
				sigma[l] += 0.5 * seawater.Sigma(thousands, sa[l], ct[l])
			}
		}
		for l := n - 2; l >= 0; l-- {
			up, down := sigma[l]-value, sigma[l+1]-value
			if down == 0 {
				return at[l+1], true
			}
			if up == 0 {
				return at[l], true
			}
			if (up < 0) != (down < 0) {
				return at[l] + float64((at[l+1]-at[l])*(up/(up-down))), true
			}
		}
	}
	return math.NaN(), false
}
