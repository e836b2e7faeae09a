package figure

import (
	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// Draw returns a figure as a page of two columns' width, its heading as the title and its caption as the detail. The
// page says where its panels lie, or the casts of a map, so that a pointer can be followed.
func Draw(f Figure, about *About) (*page.Scene, error) {
	c, err := f.caption(about)
	if err != nil {
		return nil, err
	}
	s, err := f.draw(chart.TwoColumns)
	if err != nil {
		return nil, err
	}
	s.Title, s.Detail = chart.PlainSpaces(c.head), chart.PlainSpaces(c.detail())
	return s, nil
}

// Placed returns the casts of a map that have a place on its page, in the order of the places.
func (f *StationMap) Placed() []*section.Cast { return withPosition(f.Casts) }

// NameText returns the name of a variable as figures print it.
func NameText(v *metadata.Variable) string { return nameText(v) }

// UnitText returns the unit of a variable as figures print it; "1" where there is none.
func UnitText(v *metadata.Variable) string { return unitOf(v) }
