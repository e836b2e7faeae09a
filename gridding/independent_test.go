package gridding

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// troubled returns casts of an invented ocean in which the variables reach different depths: salinity and temperature
// are bad in the last bins of some casts, oxygen is missing at one station and ends early at another, and one cast has
// oxygen alone.
func troubled(seed int, shelf bool) *section.Section {
	o := newOcean(seed, shelf)
	sec := o.sample(seed, 9, shelf)
	for i, c := range sec.Casts {
		n := len(c.PressureDbar)
		oxy := section.Column{Variable: variable("oxy"), Values: make([]float64, n), Flags: make([]metadata.Flag, n)}
		for k, p := range c.PressureDbar {
			oxy.Values[k] = 250 - 40*math.Exp(-p/300) + 3*math.Sin(p/90+float64(i))
			oxy.Flags[k] = metadata.Acceptable
			if i == 2 || i == 5 && k > n/2 {
				oxy.Values[k], oxy.Flags[k] = math.NaN(), metadata.NotSampled
			}
		}
		for _, name := range []string{"ctemp", "asal"} {
			col := c.Column(name)
			col.Flags = make([]metadata.Flag, n)
			for k := range n {
				if col.Flags[k] = metadata.Acceptable; i%3 == 1 && k >= n-4 || i == 6 {
					col.Flags[k] = metadata.Bad
				}
			}
		}
		c.Columns = append(c.Columns, oxy)
	}
	return sec
}

// TestFieldsAreIndependent maps each variable alone, and with others in several orders: every value, error, mask and
// skill is the same to the last bit, for every method, on a section and in a field.
func TestFieldsAreIndependent(t *testing.T) {
	for _, shelf := range []bool{false, true} {
		sec := troubled(11, shelf)
		for _, method := range Methods() {
			for _, field := range []bool{false, true} {
				if field && (method == Density || shelf) {
					continue
				}
				grids := map[string]*Grid{}
				for _, list := range []string{"ctemp", "asal", "oxy", "ctemp asal oxy", "oxy ctemp", "asal oxy"} {
					o := Options{Method: method, Variables: strings.Fields(list), StepKm: 20, StepDbar: 25, Workers: 2}
					var g *Grid
					var err error
					if field {
						g, _, err = MapField("f", sec.Casts, Area{Levels: []float64{0, 30, 100, 400}}, o)
					} else {
						g, _, err = Map(sec, o)
					}
					if err != nil {
						t.Fatal(method, list, err)
					}
					grids[list] = g
				}
				for list, g := range grids {
					for _, f := range g.Fields {
						name := f.Of
						if f.Kind == Value {
							name = f.Name
						}
						if alone := grids[name]; alone != nil {
							sameField(t, string(method)+" of "+list, f, alone.field(f.Name))
						}
					}
					for _, k := range g.Skill {
						if alone := grids[k.Variable].Skill[0]; fmt.Sprint(k) != fmt.Sprint(alone) {
							t.Errorf("%s of %s: skill %+v, alone %+v", method, list, k, alone)
						}
					}
				}
			}
		}
	}
}

func sameField(t *testing.T, what string, f Field, alone *Field) {
	t.Helper()
	if alone == nil || len(alone.Data) != len(f.Data) {
		t.Errorf("%s: %s has other axes alone", what, f.Name)
		return
	}
	for k := range f.Data {
		if math.Float64bits(f.Data[k]) != math.Float64bits(alone.Data[k]) {
			t.Errorf("%s: %s value %d is %v, alone %v", what, f.Name, k, f.Data[k], alone.Data[k])
			return
		}
	}
}
