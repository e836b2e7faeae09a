package gridding

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// dense solves the whole of the data at once, straight from the formulas: Bretherton, Davis and Fandry 1976, with
// estimated mean.
const dense = `
import sys, numpy as np
b = np.fromfile(sys.argv[1], '<f8')
n, m, lx, lp, e2 = int(b[0]), int(b[1]), b[2], b[3], b[4]
x, p, d = b[5:5+3*n].reshape(3, n)
tx, tp = b[5+3*n:].reshape(2, m)
if lp == 0: # lengths of 60 dbar to 200 dbar, 200 to 1000, 400 to 2000 and 800 below: pressure in lengths
    edges = np.array([0., 200, 1000, 2000, 6000])
    scaled = np.concatenate([[0], np.cumsum(np.diff(edges)/[60, 200, 400, 800])])
    p, tp, lp = np.interp(p, edges, scaled), np.interp(tp, edges, scaled), 1
C = lambda x1, p1, x2, p2: np.exp(-((x1[:,None]-x2)/lx)**2 - ((p1[:,None]-p2)/lp)**2)
A = C(x, p, x, p) + e2*np.eye(n)
one = np.ones(n)
w, k = np.linalg.solve(A, d), np.linalg.solve(A, one)
mean = w.sum()/k.sum()
c = C(tx, tp, x, p)
est = mean + c @ (w - mean*k)
err = 1 - np.einsum('ij,ji->i', c, np.linalg.solve(A, c.T)) + (1 - c @ k)**2/k.sum()
np.concatenate([est, err]).astype('<f8').tofile(sys.argv[2])
`

// Optimal interpolation against a dense numpy solution of 200 data to 1e-9 when the neighbourhood is everything; over
// scattered data, over rows and columns, where patterns are shared, and with vertical lengths that change downwards.
func TestOptimalAgainstDenseSolution(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, kind := range []string{"scattered", "lattice", "lengths"} {
		const n, m = 200, 60
		lattice, deep, lp, down := kind == "lattice", 900.0, 130.0, oneLength(130)
		if kind == "lengths" {
			deep, lp, down = 3500, 0, (&survey{opt: &Options{}}).verticalLengths(6000)
		}
		x, p, d := make([]float64, n), make([]float64, n), make([]float64, n)
		for k := range n {
			x[k], p[k] = 300*r.Float64(), deep*r.Float64()
			if lattice {
				x[k], p[k] = 15*float64(k/10), 90*float64(k%10)
			}
			d[k] = 3*math.Sin(x[k]/60) + 2*math.Cos(p[k]/300) + 0.1*r.NormFloat64()
		}
		tx, tp := make([]float64, m), make([]float64, m)
		for k := range m {
			tx[k], tp[k] = 320*r.Float64()-10, deep*r.Float64()
			if lattice {
				tp[k] = 90 * float64(r.IntN(10))
			}
		}
		head := []float64{n, m, 50, lp, 0.03}
		var in bytes.Buffer
		for _, s := range [][]float64{head, x, p, d, tx, tp} {
			if err := binary.Write(&in, binary.LittleEndian, s); err != nil {
				t.Fatal(err)
			}
		}
		dir := t.TempDir()
		from, to := filepath.Join(dir, "in"), filepath.Join(dir, "out")
		if err := os.WriteFile(from, in.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command("/usr/bin/python3", "-c", dense, from, to).CombinedOutput(); err != nil {
			t.Fatalf("numpy is needed (Debian python3-numpy): %v\n%s", err, out)
		}
		raw, err := os.ReadFile(to)
		if err != nil {
			t.Fatal(err)
		}
		want := make([]float64, 2*m)
		if err := binary.Read(bytes.NewReader(raw), binary.LittleEndian, want); err != nil {
			t.Fatal(err)
		}
		c := points(x, p, d)
		c.down = &down
		set := oiSettings{noise: 0.03, neighbours: n, cut: 1e3}
		om := newOptimal(c, set, nil, nil)
		if (om.stepDbar != 0) != lattice {
			t.Fatalf("%s, step %g", kind, om.stepDbar)
		}
		var w work
		worst := 0.0
		for k := range m {
			col := &column{xKm: tx[k], lengthKm: 50, h: make([]float64, n)}
			for s := range x {
				col.h[s] = math.Abs(x[s] - tx[k])
			}
			est, rel := newEstimates(1, 1), make([]float64, 1)
			om.predict(&w, col, tp[k:k+1], est, rel)
			worst = math.Max(worst, math.Max(math.Abs(est[0][0]-want[k]), math.Abs(rel[0]-want[m+k])))
		}
		if worst > 1e-9 {
			t.Errorf("%s: largest difference %g", kind, worst)
		}
		t.Logf("%s: largest difference %.2g", kind, worst)
	}
}

// Patterns that are solved once give what a solution for each target gives.
func TestPatternsChangeNothing(t *testing.T) {
	o := newOcean(3, false)
	sec := o.sample(3, 20, false)
	opt := Options{Variables: []string{"ctemp", "asal"}, StepDbar: 20, StepKm: 40, LengthKm: 80, LengthDbar: 120,
		Noise: 0.05}
	s := surveyOf(t, sec, &opt)
	g := &Grid{}
	cols := s.sectionColumns(g)
	levels := s.gridLevels(g, nil)
	e := s.newEngine(Optimal, 2, s.prior(), []table{s.cellTable(levels, 20)}, nil)
	if len(e.clouds) != 1 || len(e.clouds[0].vars) != 2 {
		t.Fatalf("salinity and temperature do not share their places: %d clouds", len(e.clouds))
	}
	shared := newOptimal(e.clouds[0], e.set, nil, nil)
	each := *shared
	if shared.stepDbar != 20 {
		t.Fatalf("step %g", shared.stepDbar)
	}
	each.stepDbar = 0
	var w1, w2 work
	worst := 0.0
	for k := range cols {
		s.place(&cols[k], s.spacingOf(), nil)
		a, b := newEstimates(2, len(levels)), newEstimates(2, len(levels))
		ra, rb := make([]float64, len(levels)), make([]float64, len(levels))
		shared.predict(&w1, &cols[k], levels, a, ra)
		each.predict(&w2, &cols[k], levels, b, rb)
		for i := range levels {
			for v := range a {
				worst = math.Max(worst, math.Abs(a[v][i]-b[v][i]))
			}
			worst = math.Max(worst, math.Abs(ra[i]-rb[i]))
		}
	}
	if worst > 1e-9 {
		t.Errorf("largest difference %g", worst)
	}
}

// Nothing is allocated for a column once the scratch memory has grown.
func TestColumnsAllocateNothing(t *testing.T) {
	o := newOcean(2, false)
	sec := o.sample(2, 20, false)
	opt := Options{}
	s := surveyOf(t, sec, &opt)
	g := &Grid{}
	cols := s.sectionColumns(g)
	levels := s.gridLevels(g, nil)[:100]
	for _, method := range Methods()[:6] {
		e := s.newEngine(method, 2, s.prior(), s.levelTables(), nil)
		m := e.mappers(nil)[0]
		c := &cols[len(cols)/2]
		s.place(c, s.spacingOf(), nil)
		est, rel := newEstimates(len(e.clouds[0].vars), len(levels)), make([]float64, len(levels))
		var w work
		m.predict(&w, c, levels, est, rel)
		if n := testing.AllocsPerRun(3, func() { m.predict(&w, c, levels, est, rel) }); n > 0 {
			t.Errorf("%s: %g allocations for a column", method, n)
		}
	}
}

// A singular covariance is met with more noise, and said.
func TestNoiseIsRaised(t *testing.T) {
	x, p, d := []float64{0, 1e-9, 2e-9, 50}, []float64{100, 100, 100, 100}, []float64{1, 1, 1, 2}
	om := newOptimal(points(x, p, d), oiSettings{noise: 1e-15, neighbours: 60, cut: 4}, nil, nil)
	var w work
	est, rel := newEstimates(1, 1), make([]float64, 1)
	om.predict(&w, &column{covarianceKm: 40, h: []float64{0, 1e-9, 2e-9, 50}}, []float64{100}, est, rel)
	if w.oi.raised == 0 || math.Abs(est[0][0]-1) > 1e-6 {
		t.Errorf("raised %d times, estimate %g", w.oi.raised, est[0][0])
	}
}
