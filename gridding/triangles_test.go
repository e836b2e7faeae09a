package gridding

import (
	"math"
	"testing"
)

// What a worker mapped before does not change a column: on a lattice of data, where points lie on sides between
// triangles, each column has the same bits with fresh scratch memory as after any other column.
func TestColumnsDoNotDependOnEachOther(t *testing.T) {
	o := newOcean(5, true)
	sec := o.sample(5, 9, true)
	opt := Options{Variables: []string{"ctemp"}}
	s := surveyOf(t, sec, &opt)
	var cols []column
	for k := range 41 {
		cols = append(cols, column{xKm: float64(k) * o.length / 40, h: make([]float64, len(s.sites))})
	}
	var p []float64
	for q := 0.0; q < 170; q += 3.5 {
		p = append(p, q)
	}
	c := s.clouds(s.levelTables()[0], nil)[0]
	for _, natural := range []bool{false, true} {
		m := newTriangleMap(c, natural)
		alone := make([][]float64, len(cols))
		for k := range cols {
			est := newEstimates(1, len(p))
			m.predict(&work{}, &cols[k], p, est, make([]float64, len(p)))
			alone[k] = est[0]
		}
		var w work
		differ := 0
		for n := range len(cols) * len(cols) {
			k := (n*17 + n/len(cols)) % len(cols)
			est := newEstimates(1, len(p))
			m.predict(&w, &cols[k], p, est, make([]float64, len(p)))
			for i := range p {
				if math.Float64bits(est[0][i]) != math.Float64bits(alone[k][i]) {
					differ++
				}
			}
		}
		if differ > 0 {
			t.Errorf("natural %v: %d values depend on what was mapped before", natural, differ)
		}
	}
}
