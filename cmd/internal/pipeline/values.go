package pipeline

import (
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/internal/filebacked"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// The values of a run lie in a temporary file, so that the memory of a run does not grow with the cruise. What is
// computed for a moment stays in the heap.

// moveCast moves the values and flags of a cast to the file, as far as they are not there yet.
func (w *run) moveCast(c *section.Cast) {
	pres := -1 // the column that PressureDbar is the values of
	for i := range c.Columns {
		k := &c.Columns[i]
		if n := len(k.Values); n > 0 && len(c.PressureDbar) == n && &k.Values[0] == &c.PressureDbar[0] {
			pres = i
		}
		filebacked.Move(w.values, &k.Values)
		filebacked.Move(w.values, &k.Flags, &k.Proposed)
	}
	if pres >= 0 {
		c.PressureDbar = c.Columns[pres].Values
		return
	}
	filebacked.Move(w.values, &c.PressureDbar)
}

// moveFlow moves dynamic heights and velocities to the file.
func (w *run) moveFlow(r *geostrophy.Result) {
	for i := range r.Stations {
		s := &r.Stations[i]
		filebacked.Move(w.values, &s.PressureDbar, &s.DynamicHeight)
	}
	for i := range r.Pairs {
		p := &r.Pairs[i]
		filebacked.Move(w.values, &p.PressureDbar, &p.HeightA, &p.HeightB, &p.Velocity, &p.Shear, &p.VelocityErr,
			&p.PerCastErr, &p.CommonErr, &p.IfCommonErr, &p.MonteCarlo)
	}
}

// moveGrid moves the fields of a grid to the file.
func (w *run) moveGrid(g *gridding.Grid) {
	for i := range g.Fields {
		filebacked.Move(w.values, &g.Fields[i].Data)
	}
}
