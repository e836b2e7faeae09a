package derived

import (
	"math"

	"github.com/castwright/castwright/section/seawater"
)

// A Workspace keeps scratch memory from cast to cast. The zero value is ready. One for each goroutine.
type Workspace struct {
	mask   map[string][]float64
	solved []float64
	index  []int
}

func grow[T any](s *[]T, n int) []T {
	if cap(*s) < n {
		*s = make([]T, n)
	}
	return (*s)[:n]
}

// waters returns the variables of one cast what they are computed from.
type waters struct {
	d          *deriver
	at         seawater.Place
	scratch    *Workspace
	windowDbar float64
	made       []*Variable
	passed     bool
	out        seawater.Derived // what the pass fills
}

// masked returns the values of a column with NaN where its flag is not usable or the value overflows: the column's own
// values when nothing is masked.
func (w *waters) masked(name string) []float64 {
	c := w.d.c.Column(name)
	limit := overflow(name)
	enters := func(i int) bool {
		return !(math.Abs(c.Values[i]) > limit) && (c.Flags == nil || c.Flags[i].Usable(w.d.opts.NotCalibratedUsable))
	}
	for i := range c.Values {
		if enters(i) {
			continue
		}
		if w.scratch.mask == nil {
			w.scratch.mask = map[string][]float64{}
		}
		out := w.scratch.mask[name]
		out = grow(&out, w.d.n)
		w.scratch.mask[name] = out
		copy(out, c.Values)
		for k := i; k < len(out); k++ {
			if !enters(k) {
				out[k] = math.NaN()
			}
		}
		return out
	}
	return c.Values
}

// overflow returns the size of a value so far outside the range of the equations (40 degC, 42 g/kg, 7.5 S/m, 12000
// dbar) that its powers there may overflow.
func overflow(name string) float64 {
	switch name {
	case "temp", "psal", "cond":
		return 1000
	case "pres":
		return 20000
	}
	return math.Inf(1)
}

func (w *waters) pres() []float64 { return w.masked("pres") }

// sa, ct and solubility return Absolute Salinity, Conservative Temperature and the solubility of oxygen, the last of
// casts with oxygen.
func (w *waters) sa() []float64 { w.passOnce(); return w.out.AbsoluteSalinity }

func (w *waters) ct() []float64 { w.passOnce(); return w.out.ConservativeTemperature }

func (w *waters) solubility() []float64 { w.passOnce(); return w.out.OxygenSolubility }

// passOnce computes in one pass, in which they share their steps, what variables take from it.
func (w *waters) passOnce() {
	if w.passed {
		return
	}
	w.passed = true
	for _, v := range w.made {
		if v.pass != nil {
			*v.pass(&w.out) = w.d.c.Column(v.Name).Values
		}
	}
	for _, needed := range []*[]float64{&w.out.AbsoluteSalinity, &w.out.ConservativeTemperature} {
		if *needed == nil { // read with the cast: others are computed from the program's own all the same
			*needed = make([]float64, w.d.n)
		}
	}
	if w.d.has("oxy") || w.d.has("oxy_ml") {
		w.out.OxygenSolubility = grow(&w.scratch.solved, w.d.n)
	}
	seawater.Derive(&w.out, w.masked("psal"), w.masked("temp"), w.pres(), nil, &w.at)
}

func (w *waters) depth(dst []float64) {
	seawater.Heights(dst, w.pres(), w.d.c.At[1])
	for i := range dst {
		dst[i] = 0 - dst[i]
	}
}

func (w *waters) practicalSalinity(dst []float64) {
	const mScm = 10 // mS/cm in one S/m
	conductivity, temperature, pressure := w.masked("cond"), w.masked("temp"), w.pres()
	for i := range dst {
		dst[i] = seawater.PracticalSalinity(mScm*conductivity[i], temperature[i], pressure[i])
	}
}

func (w *waters) oxygenPerMass(dst []float64) {
	oxygen, sa, ct := w.masked("oxy_ml"), w.sa(), w.ct()
	for i := range dst {
		dst[i] = seawater.OxygenPerMass(oxygen[i], 1000+seawater.Sigma0(sa[i], ct[i]))
	}
}
