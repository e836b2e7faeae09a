package gridding

import (
	"fmt"
	"math"
	"testing"
)

func TestVariants(t *testing.T) {
	type variant struct {
		name string
		o    Options
	}
	lev := func(step, to float64) []float64 {
		var out []float64
		for p := 0.0; p <= to; p += step {
			out = append(out, p)
		}
		return out
	}
	for _, shelf := range []bool{false, true} {
		stations := 20
		d := 10.0
		if shelf {
			stations = 9
			d = 1
		}
		vs := []variant{{"default", Options{}}, {"f1.5", Options{LengthFactor: 1.5}}, {"fine levels", Options{Levels: lev(d*1, 2500)}}, {"fine, 120", Options{Levels: lev(d*1, 2500), Neighbours: 150}},{"120", Options{Neighbours: 120}}, {"half Lp", Options{LengthDbar: map[bool]float64{false: 50, true: 15}[shelf]}},
			{"E2 .1", Options{Noise: .1}}, {"linear", Options{Method: Linear}}, {"tri", Options{Method: Triangles}}}
		rms := make([][]float64, len(vs))
		var bands [4][]string
		_ = bands
		for n := 1; n <= 12; n++ {
			o := newOcean(n, shelf)
			sec := o.sample(n, stations, shelf)
			var grids []*Grid
			for _, v := range vs {
				v.o.Variables = []string{"ctemp"}
				v.o.StepKm, v.o.StepDbar = o.length/60, o.pmax/60
				v.o.Comparison = nil
				g, _, err := Map(sec, v.o)
				if err != nil {
					t.Fatal(err)
				}
				grids = append(grids, g)
			}
			c := common(o, grids, "ctemp")
			for k := range vs {
				rms[k] = append(rms[k], c[k])
			}
			if n <= 3 {
				for _, lim := range [][2]float64{{0, .02}, {.02, .06}, {.06, .12}, {.12, .3}, {.3, 1}} {
					line := ""
					for _, g := range grids {
						s, m := 0.0, 0.0
						nc := len(g.Axes[1].Values)
						for i, v := range g.Fields[0].Data {
							p := g.Axes[0].Values[i/nc]
							if p >= lim[0]*o.pmax && p < lim[1]*o.pmax && !math.IsNaN(v) && !math.IsNaN(grids[len(grids)-1].Fields[0].Data[i]) {
								ct, _ := o.at(g.Axes[1].Values[i%nc], p)
								s += (v - ct) * (v - ct)
								m++
							}
						}
						line += fmt.Sprintf(" %.4f", math.Sqrt(s/m))
					}
					t.Log(n, lim, line)
				}
			}
		}
		for k, v := range vs {
			t.Logf("%v %-12s %.4f", shelf, v.name, median(rms[k]))
		}
	}
}
