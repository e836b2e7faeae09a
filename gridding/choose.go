package gridding

import (
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
)

// A choice is one method that "choose" tries.
type choice struct {
	method Method
	factor float64 // length of the reference profiles in station spacings
	cov    model
	loo    [][]leftOut
}

// clearlyBetter is the part of the rms of the default that another method must stay below at left-out stations to be
// chosen (ours): leaving a station out doubles the gap, and over sparse stations small differences there say little of
// the map itself.
const clearlyBetter = 0.8

// choices returns the methods that "choose" tries, the default first.
func (s *survey) choices() []choice {
	cov := s.settle()
	all := []choice{{method: Optimal, factor: cov.factor, cov: cov}}
	methods := []Method{Successive, Linear, Triangles, Natural}
	if !s.isField && s.hasPair() {
		methods = append(methods, Density)
	}
	for _, m := range methods {
		all = append(all, choice{method: m, factor: s.opt.LengthFactor, cov: s.prior()})
	}
	return all
}

// choose leaves stations out with every method and takes for each variable optimal interpolation, or the method with
// the least rms where that is clearly better, on data that all of them predict.
func (s *survey) choose(tables []table) (recipes []recipe, loo [][]leftOut, findings []metadata.Finding) {
	all := s.choices()
	for i := range all {
		all[i].loo = s.newEngine(all[i].method, all[i].factor, all[i].cov, tables, nil).leaveOut()
	}
	loo = make([][]leftOut, len(s.vars))
	for v := range s.vars {
		ratios, ok := ratiosOf(all, v)
		at := 0
		if !ok {
			findings = append(findings, metadata.Finding{Severity: metadata.Warning, Check: "grid.choose",
				Variable: s.vars[v].Name,
				Message: "too few inner stations to choose a method by leaving stations out; " +
					"optimal interpolation was taken"})
		}
		for i, r := range ratios {
			if ok && r < clearlyBetter*ratios[0] && (at == 0 || r < ratios[at]) {
				at = i
			}
		}
		loo[v] = all[at].loo[v]
		same := slices.IndexFunc(recipes, func(r recipe) bool { return r.method == all[at].method })
		if same < 0 {
			recipes = append(recipes, recipe{method: all[at].method, factor: all[at].factor, cov: all[at].cov})
			same = len(recipes) - 1
		}
		recipes[same].vars = append(recipes[same].vars, v)
	}
	return recipes, loo, findings
}

// ratiosOf returns the rms of each choice over that of straight lines for one variable, on inner data that all choices
// predict; NaN and false where there are none.
func ratiosOf(all []choice, v int) ([]float64, bool) {
	sums := make([]float64, len(all))
	for d := range all[0].loo[v] {
		ok := all[0].loo[v][d].inner
		for i := range all {
			ok = ok && !math.IsNaN(all[i].loo[v][d].residual)
		}
		for i := range all {
			if ok {
				sums[i] += all[i].loo[v][d].residual * all[i].loo[v][d].residual
			}
		}
	}
	linear := sums[slices.IndexFunc(all, func(c choice) bool { return c.method == Linear })]
	for i := range sums {
		sums[i] = math.Sqrt(sums[i] / linear) // NaN or infinite where straight lines miss by nothing
	}
	return sums, linear > 0
}
