package gridding

import (
	"math"
	"testing"
)

// The first cast of a closed line is at both ends of its grid: every method maps it, and leaving its station out leaves
// out both, so that it is never predicted from itself.
func TestClosedLine(t *testing.T) {
	x := []float64{0, 40, 80, 120, 160, 200, 240}
	bottoms := []float64{300, 320, 310, 330, 300, 320, 300}
	const peak = 30 // umol/kg that the first station has more than the others
	for _, m := range []Method{Optimal, Linear, Successive, Triangles, Natural, Choose} {
		sec := line(x, bottoms, 5, func(x, p float64) float64 {
			v := 200 - 0.1*p + 2*math.Sin(x/30+p/100)
			if x == 0 {
				v += peak
			}
			return v
		})
		sec.Casts[len(x)-1] = sec.Casts[0]
		if !sec.Closed() {
			t.Fatal("the line is not closed")
		}
		g, _, err := Map(sec, Options{Method: m})
		if err != nil {
			t.Errorf("%s: %v", m, err)
			continue
		}
		f, columns := g.field("oxy"), len(g.Axes[1].Values)
		worst := 0.0
		for i, p := range g.Axes[0].Values {
			a, b := f.Data[i*columns], f.Data[(i+1)*columns-1]
			if p < 10 || p > 290 {
				continue
			}
			worst = math.Max(worst, math.Abs(a-b))
			if !(a > 200-0.1*p+0.7*peak) || !(b > 200-0.1*p+0.7*peak) {
				t.Errorf("%s at %g dbar: %g and %g at the ends, the station has %g", m, p, a, b, 200-0.1*p+peak)
			}
		}
		if worst > 0.1*peak {
			t.Errorf("%s: the ends differ by %g", m, worst)
		}
		n := 0
		for _, d := range g.LeftOut {
			if d.Cast != sec.Casts[0] || math.IsNaN(d.Residual) {
				continue
			}
			n++
			if d.Residual > -0.6*peak {
				t.Errorf("%s: the first station is predicted within %g of itself at %g dbar", m, d.Residual,
					d.PressureDbar)
				break
			}
		}
		if n == 0 && m != Linear && m != Triangles && m != Natural {
			t.Errorf("%s: the first station is not left out", m)
		}
	}
}
