package gridding

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"
	"time"
)

func TestExperiment(t *testing.T) {
	factor, _ := strconv.ParseFloat(os.Getenv("FACTOR"), 64)
	methods := Methods()[:6]
	for _, shelf := range []bool{false, true} {
		stations := 20
		if shelf {
			stations = 9
		}
		var ratioTrue, ratioLoo [6][]float64
		var rmsAll [6][]float64
		var within []float64
		start := time.Now()
		agree, disagree := 0, 0
		for n := 1; n <= 20; n++ {
			o := newOcean(n, shelf)
			sec := o.sample(n, stations, shelf)
			var grids []*Grid
			for _, m := range methods {
				g, _, err := Map(sec, Options{Method: m, Variables: []string{"ctemp", "asal"}, StepKm: o.length / 60, StepDbar: o.pmax / 60, LengthFactor: factor})
				if err != nil {
					t.Fatal(err)
				}
				grids = append(grids, g)
			}
			rms := common(o, grids, "ctemp")
			_, _, in := o.trueError(grids[0], "ctemp")
			within = append(within, in)
			line := fmt.Sprint(shelf, " ", n)
			for k := range methods {
				line += fmt.Sprintf(" %.4f/%.4f", rms[k], grids[k].Skill[0].RMS)
				rmsAll[k] = append(rmsAll[k], rms[k])
				ratioTrue[k] = append(ratioTrue[k], rms[k]/rms[1])
				ratioLoo[k] = append(ratioLoo[k], grids[k].Skill[0].RMS/grids[1].Skill[0].RMS)
				for j := range k {
					if math.Abs(math.Log(rms[k]/rms[j])) > 0.1 {
						if (rms[k] > rms[j]) == (grids[k].Skill[0].RMS > grids[j].Skill[0].RMS) {
							agree++
						} else {
							disagree++
						}
					}
				}
			}
			t.Log(line, fmt.Sprintf("%.3f", in))
		}
		for k, m := range methods {
			t.Logf("%v %-11s median true %.4f ratio %.3f loo ratio %.3f", shelf, m, median(rmsAll[k]), median(ratioTrue[k]), median(ratioLoo[k]))
		}
		t.Log("within", median(within), "agree", agree, disagree, time.Since(start))
	}
}

func common(o *ocean, grids []*Grid, name string) []float64 {
	out := make([]float64, len(grids))
	n := 0
	nc := len(grids[0].Axes[1].Values)
	for i := range grids[0].field(name).Data {
		x, p := grids[0].Axes[1].Values[i%nc], grids[0].Axes[0].Values[i/nc]
		ok := x > 0 && x < o.length
		for _, g := range grids {
			ok = ok && !math.IsNaN(g.field(name).Data[i])
		}
		if !ok {
			continue
		}
		n++
		ct, sa := o.at(x, p)
		want := ct
		if name == "asal" {
			want = sa
		}
		for k, g := range grids {
			d := g.field(name).Data[i] - want
			out[k] += d * d
		}
	}
	for k := range out {
		out[k] = math.Sqrt(out[k] / float64(n))
	}
	return out
}
