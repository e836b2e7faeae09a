package gridding

import (
	"testing"
	"time"
)

func TestSmoke(t *testing.T) {
	for _, shelf := range []bool{false, true} {
		stations := 20
		if shelf {
			stations = 9
		}
		o := newOcean(1, shelf)
		sec := o.sample(1, stations, shelf)
		for _, m := range Methods() {
			start := time.Now()
			g, f, err := Map(sec, Options{Method: m})
			if err != nil {
				t.Fatal(m, err)
			}
			rms, n, within := o.trueError(g, "ctemp")
			t.Log(shelf, m, rms, n, within, len(g.Fields), time.Since(start), g.Skill[0].RMS, g.Skill[0].SkillLinear)
			if m == Optimal || m == Choose {
				for _, x := range f {
					t.Log(x.Check, x.Variable, x.Message)
				}
				for _, p := range g.Params {
					t.Log(p)
				}
				t.Log(g.Skill[0].SignalBands)
			}
		}
	}
}
