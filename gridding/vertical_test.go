package gridding

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Scaled distances within a band are those of its length to the last bit, they add up across bands, and above leads
// back.
func TestVerticalScale(t *testing.T) {
	s := verticalScale{to: []float64{200, 1000}, length: []float64{50, 200, 400}}
	for _, c := range []struct{ p, q, want float64 }{
		{150, 100, 1}, {100, 150, -1}, {200, 100, 2}, {300, 100, 2.5}, {100, 300, -2.5}, {1400, 100, 2 + 4 + 1},
		{1000, 1000, 0}, {-10, 0, -0.2},
	} {
		if got := s.apart(c.p, c.q); got != c.want {
			t.Errorf("from %g to %g dbar: %g lengths, want %g", c.q, c.p, got, c.want)
		}
	}
	r := rand.New(rand.NewPCG(1, 2))
	for range 1000 {
		q, far := 2000*r.Float64(), 5*r.Float64()
		p := s.above(q, far)
		if d := s.apart(q, p) - far; math.Abs(d) > 1e-12 {
			t.Fatalf("%g lengths above %g dbar: %g dbar, off by %g", far, q, p, d)
		}
		a, b := 2000*r.Float64(), 2000*r.Float64()
		if s.apart(a, b) != -s.apart(b, a) {
			t.Fatalf("%g and %g dbar: not the same both ways", a, b)
		}
		if d := s.apart(a, q) + s.apart(q, b) - s.apart(a, b); math.Abs(d) > 1e-12 {
			t.Fatalf("%g, %g, %g dbar: distances do not add up by %g", a, q, b, d)
		}
	}
}

// A station that is the last with oxygen is an end for oxygen, though stations with temperature lie beyond it.
func TestEndsOfEachVariable(t *testing.T) {
	sec := line([]float64{0, 20, 40, 60, 80, 100}, []float64{400, 400, 400, 400, 400, 400}, 5, bilinear)
	for k := range sec.Casts {
		c := *sec.Casts[k].Column("oxy")
		c.Variable = variable("ctemp")
		sec.Casts[k].Columns = append(sec.Casts[k].Columns, c)
		if k == 5 {
			oxy := sec.Casts[k].Column("oxy")
			oxy.Values = nil
		}
	}
	g, _, err := Map(sec, Options{Variables: []string{"ctemp", "oxy"}, Noise: 0.02})
	if err != nil {
		t.Fatal(err)
	}
	per := g.Skill[0].EndN / 2
	if per == 0 || g.Skill[0].N != 4*per || g.Skill[1].N != 3*per || g.Skill[1].EndN != 2*per {
		t.Errorf("temperature: %d inner, %d at ends; oxygen: %d inner, %d at ends", g.Skill[0].N, g.Skill[0].EndN,
			g.Skill[1].N, g.Skill[1].EndN)
	}
	if g.Skill[1].EndRMS < 5*g.Skill[1].RMS {
		t.Errorf("oxygen: rms %g inside, %g at the ends", g.Skill[1].RMS, g.Skill[1].EndRMS)
	}
}
