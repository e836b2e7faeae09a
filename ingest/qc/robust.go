package qc

import (
	"math"
	"slices"
)

// A Fit is a robust straight-line model y = X b with errors.
type Fit struct {
	Coefficients []float64
	Errors       []float64 // standard errors, clustered by group; nil with fewer groups than MinGroups
	Scale        float64   // of the residuals
	Groups       int
}

// MinGroups is how many groups (casts) the errors of a Fit need: with fewer, errors clustered by group mean nothing.
const MinGroups = 6

const (
	huberK     = 1.345 // 95 % efficiency for normal errors
	startTurns = 100
	huberTurns = 200
	huberStop  = 1e-14
)

// Huber fits y = x b, minimising Huber's function of the residuals (Huber 1964, Ann. Math. Stat. 35, 73), from a
// start of least absolute values. Each row of x holds the predictors of the y beside it; group says which values
// share an error of their own (the cast), and the standard errors are clustered by it (Liang and Zeger 1986,
// Biometrika 73, 13). resolution is the last digit of y, which replaces a scale of zero. It returns false when
// the predictors are not independent or there are not more values than predictors.
func Huber(x [][]float64, y []float64, group []int, resolution float64) (Fit, bool) {
	n := len(y)
	if n == 0 || n <= len(x[0]) {
		return Fit{}, false
	}
	q := len(x[0])
	w, r := make([]float64, n), make([]float64, n)
	for i := range w {
		w[i] = 1
	}
	b, ok := weighted(x, y, w)
	if !ok {
		return Fit{}, false
	}
	scale := func() float64 { return madScale * medianAbs(residualsOf(r, x, y, b)) }
	for range startTurns {
		s := scale()
		if s == 0 {
			break
		}
		for i := range w {
			w[i] = 1 / math.Max(math.Abs(r[i]), 1e-3*s)
		}
		if b, ok = weighted(x, y, w); !ok {
			return Fit{}, false
		}
	}
	s := scale() * math.Sqrt(float64(n)/float64(n-q))
	if s < 1e-6*resolution { // zero but for rounding
		s = resolution / 2
	}
	for range huberTurns {
		residualsOf(r, x, y, b)
		for i := range w {
			w[i] = math.Min(1, huberK*s/math.Max(math.Abs(r[i]), 1e-300))
		}
		next, ok := weighted(x, y, w)
		if !ok {
			return Fit{}, false
		}
		most := 0.0
		for j := range b {
			most = math.Max(most, math.Abs(next[j]-b[j]))
		}
		if b = next; most < huberStop {
			break
		}
	}
	residualsOf(r, x, y, b)
	f := Fit{Coefficients: b, Scale: s, Groups: len(slices.Compact(slices.Sorted(slices.Values(group))))}
	if f.Groups >= MinGroups {
		f.Errors = clusteredErrors(x, r, group, s, f.Groups)
	}
	return f, true
}

// residualsOf sets r to y - x b and returns it.
func residualsOf(r []float64, x [][]float64, y, b []float64) []float64 {
	for i := range r {
		r[i] = y[i]
		for j := range b {
			r[i] -= x[i][j] * b[j]
		}
	}
	return r
}

func medianAbs(r []float64) float64 {
	a := make([]float64, len(r))
	for i := range r {
		a[i] = math.Abs(r[i])
	}
	return median(a)
}

// weighted returns the least-squares solution of y = x b with weights w; false when the predictors are not
// independent.
func weighted(x [][]float64, y, w []float64) ([]float64, bool) {
	q := len(x[0])
	a, c := square(q), make([]float64, q)
	for i := range y {
		for j := range q {
			c[j] += w[i] * x[i][j] * y[i]
			for k := range q {
				a[j][k] += w[i] * x[i][j] * x[i][k]
			}
		}
	}
	inv, ok := inverse(a)
	if !ok {
		return nil, false
	}
	return times(inv, c), true
}

// clusteredErrors returns the standard errors of a Huber fit whose residuals are independent between groups only.
func clusteredErrors(x [][]float64, r []float64, group []int, s float64, groups int) []float64 {
	n, q := len(r), len(x[0])
	a := square(q)
	score := map[int][]float64{}
	for i := range r {
		u := score[group[i]]
		if u == nil {
			u = make([]float64, q)
			score[group[i]] = u
		}
		psi := math.Max(-huberK*s, math.Min(huberK*s, r[i]))
		for j := range q {
			u[j] += x[i][j] * psi
			for k := range q {
				if math.Abs(r[i]) <= huberK*s {
					a[j][k] += x[i][j] * x[i][k]
				}
			}
		}
	}
	inv, ok := inverse(a)
	if !ok {
		return nil
	}
	m := square(q)
	for _, g := range slices.Compact(slices.Sorted(slices.Values(group))) {
		u := times(inv, score[g])
		for j := range q {
			for k := range q {
				m[j][k] += u[j] * u[k]
			}
		}
	}
	errs := make([]float64, q)
	factor := float64(groups) / float64(groups-1) * float64(n-1) / float64(n-q)
	for j := range q {
		errs[j] = math.Sqrt(m[j][j] * factor)
	}
	return errs
}

func square(n int) [][]float64 {
	a := make([][]float64, n)
	for i := range a {
		a[i] = make([]float64, n)
	}
	return a
}

func times(a [][]float64, v []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		for j := range v {
			out[i] += a[i][j] * v[j]
		}
	}
	return out
}

// inverse returns the inverse of a, by elimination with the largest pivot; false when a is singular to working
// precision. It overwrites a.
func inverse(a [][]float64) ([][]float64, bool) {
	n := len(a)
	inv := square(n)
	most := 0.0
	for i := range a {
		inv[i][i] = 1
		for j := range a {
			most = math.Max(most, math.Abs(a[i][j]))
		}
	}
	for i := range n {
		p := i
		for k := i + 1; k < n; k++ {
			if math.Abs(a[k][i]) > math.Abs(a[p][i]) {
				p = k
			}
		}
		if math.Abs(a[p][i]) <= 1e-14*most {
			return nil, false
		}
		a[i], a[p], inv[i], inv[p] = a[p], a[i], inv[p], inv[i]
		d := a[i][i]
		for j := range n {
			a[i][j] /= d
			inv[i][j] /= d
		}
		for k := range n {
			if f := a[k][i]; k != i && f != 0 {
				for j := range n {
					a[k][j] -= f * a[i][j]
					inv[k][j] -= f * inv[i][j]
				}
			}
		}
	}
	return inv, true
}

// Split divides the residuals of bottle values into an error per cast and a common one (one-way random effects).
// byCast holds the residuals of each cast; referenceErr is the error of what the bottles were measured against.
// within is the standard deviation inside a cast. All are NaN with fewer than two casts, or when no cast has two
// values.
func Split(byCast [][]float64, referenceErr float64) (perCast, common, within float64) {
	var means []float64
	var inner, harmonic float64
	several := 0
	for _, v := range byCast {
		if len(v) == 0 {
			continue
		}
		m, s2 := meanVariance(v)
		means = append(means, m)
		harmonic += 1 / float64(len(v))
		if len(v) > 1 {
			inner += s2
			several++
		}
	}
	if len(means) < 2 || several == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	g := float64(len(means))
	inner /= float64(several)
	_, between := meanVariance(means)
	perCast = math.Sqrt(math.Max(0, between-inner*harmonic/g))
	return perCast, math.Sqrt(between/g + referenceErr*referenceErr), math.Sqrt(inner)
}

// meanVariance returns the mean and the variance (n - 1) of v.
func meanVariance(v []float64) (mean, variance float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		variance += (x - mean) * (x - mean)
	}
	return mean, variance / float64(len(v)-1)
}

// TheilSen returns the median slope of all pairs (Sen 1968, J. Am. Stat. Assoc. 63, 1379) and the median of what is
// left at x = 0.
func TheilSen(x, y []float64) (intercept, slope float64) {
	var slopes []float64
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			if x[i] != x[j] {
				slopes = append(slopes, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	if slope = median(slopes); slope != slope {
		slope = 0
	}
	left := make([]float64, len(x))
	for i := range x {
		left[i] = y[i] - slope*x[i]
	}
	return median(left), slope
}

// Step returns the jump of y between the values before and after an index, beside a straight line in x common to
// both (least squares), and its standard error; NaN when there are not four values, or none on one side.
func Step(x, y []float64, after int) (step, stepErr float64) {
	rows := make([][]float64, len(y))
	w := make([]float64, len(y))
	a := square(3)
	for i := range y {
		rows[i], w[i] = []float64{1, x[i], 0}, 1
		if i >= after {
			rows[i][2] = 1
		}
		for j := range 3 {
			for k := range 3 {
				a[j][k] += rows[i][j] * rows[i][k]
			}
		}
	}
	if len(y) < 4 {
		return math.NaN(), math.NaN()
	}
	b, ok := weighted(rows, y, w)
	inv, ok2 := inverse(a)
	if !ok || !ok2 {
		return math.NaN(), math.NaN()
	}
	sum := 0.0
	for _, r := range residualsOf(make([]float64, len(y)), rows, y, b) {
		sum += r * r
	}
	return b[2], math.Sqrt(sum / float64(len(y)-3) * inv[2][2])
}
