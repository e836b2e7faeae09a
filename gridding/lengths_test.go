package gridding

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// What is estimated maps the same to the last bit when it is given, and is written down with the keys that give it.
func TestEstimateGivenAgain(t *testing.T) {
	for _, shelf := range []bool{false, true} {
		o := newOcean(5, shelf)
		sec := o.sample(5, 12, shelf)
		opt := Options{StepKm: o.length / 12, StepDbar: o.pmax / 12}
		g, _, err := Map(sec, opt)
		if err != nil {
			t.Fatal(err)
		}
		filled := opt
		m := surveyOf(t, sec, &filled).settle()
		opt.Covariance, opt.LengthFactor, opt.LengthSteps, opt.Noise = m.shape, m.factor, m.down*ruleSteps, m.noise
		again, _, err := Map(sec, opt)
		if err != nil {
			t.Fatal(err)
		}
		want := "estimated from ctemp and asal: length_spacings " + number(m.factor) + ", length_steps " +
			number(m.down*ruleSteps) + ", noise 0.02, covariance " + string(m.shape)
		if by := paramOf(g, "covariance_by"); by != want || paramOf(again, "covariance_by") != "given" ||
			paramOf(g, "covariance") != m.shape.text() || paramOf(again, "covariance") != m.shape.text() {
			t.Errorf("%q, want %q; given again %q", by, want, paramOf(again, "covariance_by"))
		}
		for k := range g.Fields {
			if !slices.EqualFunc(g.Fields[k].Data, again.Fields[k].Data, sameBits) {
				t.Errorf("%s differs when %+v is given", g.Fields[k].Name, m)
			}
		}
	}
}

func sameBits(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) }

func paramOf(g *Grid, name string) string {
	for _, p := range g.Params {
		if p.Name == name {
			return p.Value
		}
	}
	return ""
}

// Nothing is estimated of fewer than 6 stations, of a field, or where one of the settings is given.
func TestNotEstimated(t *testing.T) {
	o := newOcean(6, false)
	six, five := o.sample(6, 6, false), o.sample(6, 5, false)
	rule := model{shape: Gaussian, factor: 2, down: 1, noise: 0.02}
	if m := surveyOf(t, five, &Options{}).settle(); m != rule {
		t.Errorf("5 stations: %+v", m)
	}
	if s := surveyOf(t, six, &Options{}); s.fewStations() {
		t.Error("6 stations are taken for few")
	}
	for _, o := range []Options{{LengthKm: 80}, {LengthFactor: 2}, {LengthDbar: 100}, {LengthSteps: 4}, {Noise: 0.02},
		{Covariance: Gaussian}} {
		if m := surveyOf(t, six, &o).settle(); m != rule {
			t.Errorf("%+v: %+v", o, m)
		}
	}
	g, _, err := MapField("f", six.Casts, Area{Levels: []float64{0, 100}, StepLonDeg: 1, StepLatDeg: 1}, Options{})
	if err != nil || paramOf(g, "covariance_by") != "rule for fields: length_spacings 2, length_steps 4, noise 0.02, "+
		"covariance gaussian" {
		t.Errorf("%v, %q", err, paramOf(g, "covariance_by"))
	}
}

// No place of the grid beside the one that is found has a better score.
func TestEstimateIsTheBestNearby(t *testing.T) {
	for _, shelf := range []bool{false, true} {
		s := surveyOf(t, newOcean(5, shelf).sample(5, 12, shelf), &Options{})
		found, rule, lead := s.settle(), s.prior(), s.leading()
		likely := usual.multiple
		if shelf {
			likely = overShelf.multiple
		}
		score := func(m model) float64 {
			across, down := math.Log(m.factor/rule.factor/likely)/spread, math.Log(m.down/likely)/spread
			return lead.score(m, lead.levelTables(), lead.newShape(m.factor), lead.innerStations()) -
				(across*across+down*down)/2
		}
		at := [2]int{nearestTo(multiples[:], found.factor/rule.factor), nearestTo(multiples[:], found.down)}
		for _, step := range [][2]int{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
			i, j := at[0]+step[0], at[1]+step[1]
			if min(i, j) < 0 || max(i, j) >= len(multiples) {
				continue
			}
			beside := found
			beside.factor, beside.down = rule.factor*multiples[i], multiples[j]
			if score(beside) > score(found)+1e-9 {
				t.Errorf("shelf %v: %+v has a better score than %+v", shelf, beside, found)
			}
		}
	}
}

func nearestTo(v []float64, x float64) int {
	at := 0
	for i := range v {
		if math.Abs(v[i]-x) < math.Abs(v[at]-x) {
			at = i
		}
	}
	return at
}

// The covariance (1 + sqrt3 r) exp(-sqrt3 r) is that of Matern with order 3/2 (Rasmussen and Williams 2006, Gaussian
// Processes for Machine Learning, eq. 4.17).
func TestCovariances(t *testing.T) {
	for _, c := range []struct {
		shape   Covariance
		r, want float64
	}{
		{Matern, 0, 1}, {Matern, 1, (1 + math.Sqrt(3)) * math.Exp(-math.Sqrt(3))},
		{Matern, 2, (1 + 2*math.Sqrt(3)) * math.Exp(-2*math.Sqrt(3))}, {Gaussian, 0, 1}, {Gaussian, 2, math.Exp(-4)},
	} {
		if got := c.shape.at(c.r * c.r); math.Abs(got-c.want) > 1e-15 {
			t.Errorf("%s at %g: %g, want %g", c.shape, c.r, got, c.want)
		}
	}
}

// A whole column gives the same bits as each of its levels alone: what is kept from one level to the next changes
// nothing.
func TestLevelsAloneAreTheSame(t *testing.T) {
	o := newOcean(8, false)
	sec := o.sample(8, 16, false)
	for _, shape := range Covariances() {
		opt := Options{Covariance: shape, StepDbar: 10}
		s := surveyOf(t, sec, &opt)
		cov := s.settle()
		e := s.newEngine(Optimal, cov.factor, cov, s.levelTables(), nil)
		col := &column{xKm: 0.37 * o.length, plane: [2]float64{0.37 * o.length / 1000, 0}}
		e.place(col, s.spacingOf(), nil)
		var p []float64
		for q := 5.0; q < 900; q += 10 {
			p = append(p, q)
		}
		m := e.mappers(nil)[0]
		var w work
		all, rel := newEstimates(2, len(p)), make([]float64, len(p))
		m.predict(&w, col, p, all, rel)
		for k, q := range p {
			var fresh work
			one, r := newEstimates(2, 1), make([]float64, 1)
			m.predict(&fresh, col, []float64{q}, one, r)
			if !sameBits(one[0][0], all[0][k]) || !sameBits(one[1][0], all[1][k]) || !sameBits(r[0], rel[k]) {
				t.Fatalf("%s at %g dbar: %v alone, %v in the column", shape, q, one[0][0], all[0][k])
			}
		}
	}
}

func TestNthSmallest(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 500 {
		v := make([]float64, 1+r.IntN(40))
		for k := range v {
			v[k] = float64(r.IntN(12))
		}
		n := r.IntN(len(v))
		sorted := slices.Sorted(slices.Values(v))
		if got := nthSmallest(slices.Clone(v), n); got != sorted[n] {
			t.Fatalf("place %d of %v: %g, want %g", n, sorted, got, sorted[n])
		}
	}
}
