package pipeline

import (
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

// SectionGrid returns salinity and temperature of the file of a gridded section; nil when it has none.
func SectionGrid(f *nc.File) *gridding.Grid {
	p, x := f.NumbersOf("pres"), f.NumbersOf("distance")
	g := &gridding.Grid{Axes: []gridding.Axis{{Values: p}, {Values: x}}}
	for _, name := range []string{"asal", "ctemp", "asal_err", "ctemp_err"} {
		if v := f.NumbersOf(name); v != nil && len(v) == len(p)*len(x) {
			g.Fields = append(g.Fields, gridding.Field{Variable: metadata.Variable{Name: name}, Data: v})
		}
	}
	if len(g.Fields) < 2 {
		return nil
	}
	return g
}
