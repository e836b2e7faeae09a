package verify

import (
	"slices"
	"strings"

	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// fieldFile returns the path of a file of a field.
func fieldFile(name string) string { return "data/fields/" + name + ".nc" }

// surfacesAgain finds the surfaces of density again in each stored field, and compares them with their file. It returns
// how many files there were.
func (a *archive) surfacesAgain(c *cruisefile.Cruise) (n int) {
	for i := range c.Fields {
		s := &c.Fields[i]
		rel := fieldFile(s.Name + "_" + s.Surfaces.Density)
		if s.Surfaces.Density == "" || a.open(rel) == nil {
			continue
		}
		f := a.open(fieldFile(s.Name))
		if f == nil {
			continue
		}
		n++
		g, err := gridding.OnDensity(storedField(s.Name, f), s.Surfaces.Density, s.Surfaces.Values)
		if err != nil {
			a.fault("recompute.surfaces", rel, "", "cannot be found again in the field: %v", err)
			continue
		}
		for k := range g.Fields {
			a.nodesAgain(rel, &g.Fields[k])
		}
	}
	return n
}

// nodesAgain reports the first node of a grid at which a stored field is not the one computed again.
func (a *archive) nodesAgain(rel string, x *gridding.Field) {
	name, stored := netcdf.FieldName(x), a.stored(rel, x)
	if len(stored) != len(x.Data) {
		a.fault("recompute."+name, rel, name, "%d values, computed again %d", len(stored), len(x.Data))
		return
	}
	bits := a.bitsKept(rel, name)
	for k, v := range stored {
		if differ("", bits, v, x.Data[k]) { // of a grid: to 1e-9 whatever the variable
			a.fault("recompute."+name, rel, name, "value %d: %v, computed again %v", k, v, x.Data[k])
			return
		}
	}
}

// storedField returns the grid of a field as its file has it: values, errors and masks.
func storedField(name string, f *nc.File) *gridding.Grid {
	g := &gridding.Grid{Name: name}
	var dims []int
	for _, axis := range []string{"pres", "lat", "lon"} {
		g.Axes = append(g.Axes, gridding.Axis{Variable: metadata.MustVariable(axis), Values: f.NumbersOf(axis)})
		dims = append(dims, f.Dim(axis))
	}
	for i := range f.Vars {
		v := &f.Vars[i]
		if !slices.Equal(v.Dims, dims) || !v.Type.Numeric() {
			continue
		}
		x := gridding.Field{Variable: metadata.Variable{Name: v.Name}, Data: f.NumbersOf(v.Name)}
		for kind := gridding.StandardError; kind <= gridding.Extrapolated; kind++ {
			end := netcdf.FieldName(&gridding.Field{Kind: kind})
			if of, ok := strings.CutSuffix(v.Name, end); ok && f.Var(of) >= 0 {
				x.Of, x.Kind = of, kind
			}
		}
		g.Fields = append(g.Fields, x)
	}
	return g
}
