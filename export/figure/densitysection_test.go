package figure

import (
	"math"
	"slices"
	"testing"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/gridding"
)

// A section against density has a figure of each variable and of pressure; what it draws beyond the densities of a
// column is covered, and no stored value changes.
func TestSectionsAgainstDensity(t *testing.T) {
	s, g := invent(wideLayout)
	var names []string
	figs := againstDensity(s, g)
	for _, f := range figs {
		names = append(names, f.Stem())
	}
	if want := []string{"A_pres_on_sigma0", "A_ctemp_on_sigma0", "A_asal_on_sigma0", "A_oxy_on_sigma0"}; !slices.Equal(
		names, want) {
		t.Errorf("figures %v, want %v", names, want)
	}
	f := figs[1].(*Section)
	d, err := f.prepare()
	if err != nil {
		t.Fatal(err)
	}
	columns, beyond := len(d.f.X), 0
	step := d.f.Y[1] - d.f.Y[0]
	for k, v := range d.raw {
		x, y := d.f.X[k%columns], d.f.Y[k/columns]
		switch inside := f.edges.holds(x, y); {
		case !math.IsNaN(v) && v != d.f.Data[k]:
			t.Fatalf("%g km, %g kg/m3: %g is drawn as %g", x, y, v, d.f.Data[k])
		case !math.IsNaN(v) && !f.edges.holds(x, y-step) && !f.edges.holds(x, y+step):
			t.Fatalf("%g km, %g kg/m3: a value beyond the densities of the column", x, y)
		case math.IsNaN(v) && !inside:
			beyond++
		}
	}
	if beyond == 0 {
		t.Error("no column lacks a density")
	}
	if _, err := f.draw(chart.OneColumn); err != nil {
		t.Error(err)
	}
	plain := &gridding.Grid{Axes: g.Axes, Track: g.Track, Fields: []gridding.Field{*findField(g, "oxy")}}
	if got := againstDensity(s, plain); len(got) != 0 {
		t.Errorf("%d figures against the density of a grid without salinity", len(got))
	}
}
