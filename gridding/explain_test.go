package gridding

import (
	"errors"
	"math"
	"testing"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
	"github.com/paulmach/orb"
)

// explained returns casts at distances along 40 degrees north with oxygen, Absolute Salinity and Conservative
// Temperature, some without the deepest bins of oxygen.
func explained() *section.Section {
	x := []float64{0, 20, 45, 60, 90, 110}
	sec := line(x, []float64{900, 1000, 1100, 1200, 1000, 800}, 10, func(x, p float64) float64 {
		return 250 - 60*math.Exp(-p/300) + 4*math.Sin(x/25)*math.Exp(-p/500)
	})
	for k, c := range sec.Casts {
		asal, ctemp := section.Column{Variable: variable("asal")}, section.Column{Variable: variable("ctemp")}
		for i, p := range c.PressureDbar {
			front := math.Tanh((x[k] - 55) / 30)
			ctemp.Values = append(ctemp.Values, 3+(8+2*front)*math.Exp(-math.Max(p-40, 0)/300))
			asal.Values = append(asal.Values, 35+0.3*front*math.Exp(-p/400)+0.0001*p)
			if k == 2 && i > 80 {
				c.Columns[1].Values[i] = math.NaN()
			}
		}
		c.Columns = append(c.Columns, asal, ctemp)
	}
	return sec
}

// check compares what an explanation lists with the value of the map, and each bin that it names with the cast.
func (e *Explanation) check(t *testing.T, what, name string, want float64) {
	t.Helper()
	sum, total := e.Background, 0.0
	for _, d := range e.Data {
		sum += d.Weight * (d.Value - d.Background)
		total += d.Weight
		low, high := math.Inf(1), math.Inf(-1)
		for _, p := range d.BinsDbar {
			i := lowerBound(d.Cast.PressureDbar, p)
			if i == len(d.Cast.PressureDbar) || d.Cast.PressureDbar[i] != p {
				t.Fatalf("%s: cast %s has no bin at %g dbar", what, d.Cast.Station, p)
			}
			v := d.Cast.Column(name).Values[i]
			low, high = min(low, v), max(high, v)
		}
		// pchip and means stay between the values that they are made of
		if !(d.Value >= low-1e-9 && d.Value <= high+1e-9) {
			t.Errorf("%s: datum %+v is not between its bins, %g to %g", what, d, low, high)
		}
	}
	if math.Abs(sum-want) > 1e-9 || math.Abs(e.Value-want) > 1e-9 {
		t.Fatalf("%s: the data give %.12g, explained as %.12g, mapped %.12g", what, sum, e.Value, want)
	}
	if math.Abs(total-1) > 1e-9 {
		t.Errorf("%s: weights sum to %.12g", what, total)
	}
}

// What Explain lists gives the value of the map again, for every method: background and weights times anomalies. The
// weights sum to 1: those of optimal interpolation since the mean of the anomalies is estimated with them (Bretherton,
// Davis and Fandry 1976), those of successive correction since each pass maps a mean of residuals, the others since
// they are means.
func TestExplain(t *testing.T) {
	sec := explained()
	for _, method := range Methods() {
		for _, name := range []string{"oxy", "asal"} {
			o := Options{Variables: []string{"ctemp", "asal", "oxy"}, StepKm: 10, StepDbar: 20, Method: method}
			if method == Linear {
				o.Vertical = interpolate.Linear
			}
			g, _, err := Map(sec, o)
			if err != nil {
				t.Fatal(err)
			}
			f, codes, nc, seen := g.field(name), g.field(name+"_flag"), len(g.Axes[1].Values), 0
			for k := range nc {
				for l := 0; l < len(g.Axes[0].Values); l += 7 {
					want := f.Data[l*nc+k]
					if math.IsNaN(want) || codes.Data[l*nc+k] != AsMapped || method == Choose && seen > 5 {
						continue
					}
					e, err := Explain(sec, o, name, k, g.Axes[0].Values[l])
					if err != nil {
						t.Fatal(method, err)
					}
					e.check(t, string(method), name, want)
					seen++
				}
			}
			if seen < 60 && method != Choose {
				t.Errorf("%s: only %d nodes", method, seen)
			}
		}
	}
	for name, column := range map[string]int{"other": 0, "oxy": 500} {
		if _, err := Explain(sec, Options{}, name, column, 100); !errors.Is(err, ErrNotExplained) {
			t.Error(err)
		}
	}
}

// The same for fields on longitude and latitude.
func TestExplainField(t *testing.T) {
	casts := scattered(14, orb.Point{179.8, 50}, 100, 5)
	name := casts[0].Columns[len(casts[0].Columns)-1].Name
	for _, method := range []Method{Optimal, Linear, Successive, Triangles, Natural, Choose} {
		o := Options{Variables: []string{name}, Method: method}
		area := AnyArea()
		area.Levels = []float64{0, 13, 50, 77, 100, 200}
		g, _, err := MapField("f", casts, area, o)
		if err != nil {
			t.Fatal(err)
		}
		f, codes, seen := g.field(name), g.field(name+"_flag"), 0
		lats, lons := len(g.Axes[1].Values), len(g.Axes[2].Values)
		for i := 0; i < len(f.Data); i += 11 {
			if math.IsNaN(f.Data[i]) || codes.Data[i] == HeldToData || seen == 100 || method == Choose && seen > 5 {
				continue
			}
			e, err := ExplainField(casts, area, o, name, i/lons%lats, i%lons, g.Axes[0].Values[i/lons/lats])
			if err != nil {
				t.Fatal(method, err)
			}
			e.check(t, string(method), name, f.Data[i])
			seen++
		}
		if seen < 20 && method != Choose {
			t.Errorf("%s: only %d nodes of %d", method, seen, len(f.Data))
		}
	}
}
