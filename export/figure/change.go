package figure

import (
	"fmt"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/section"
)

// Change is a section less what it is compared with, an earlier occupation or a climatology: Conservative Temperature
// and Absolute Salinity, or another variable, at constant pressure, on surfaces of potential density and by their
// heave,
// one scale for each.
type Change struct {
	Name      string
	Of        string // name of the variable; "" for temperature and salinity
	Title     string // of the section; "" for "Section NAME"
	Reference string // what it is compared with, in a few words
	Section   *section.Section
	Grid      *gridding.Grid // as gridding.Changed makes it
	UpperDbar float64        // as in Section
	Axis      string         // as in Section
	Depth     bool           // as in Section
}

// Stem implements Figure.
func (f *Change) Stem() string { return f.Name }

// Changes returns a change as figures: temperature and salinity together, each further variable for itself.
func Changes(f Change) (out []Figure) {
	f.Of = ""
	out = append(out, &f)
	for _, name := range gridding.ChangeNames(f.Grid) {
		if of, end := gridding.ChangeOf(name); end == "_change" && of != "ctemp" && of != "asal" {
			g := f
			g.Of, g.Name = of, f.Name+"_"+of
			out = append(out, &g)
		}
	}
	return out
}

// page returns the panels of a change, those of one quantity with the same levels.
func (f *Change) page() *Overview {
	o := &Overview{Name: f.Name, Title: f.Title, heading: "Less " + f.Reference}
	shared := map[string]*lazyBands{}
	for _, name := range gridding.ChangeNames(f.Grid) {
		of, _ := gridding.ChangeOf(name)
		if of != f.Of && (f.Of != "" || of != "ctemp" && of != "asal") {
			continue
		}
		if shared[of] == nil {
			b := &bands{levels: f.levels(of), colours: chart.Colours("difference1")}
			shared[of] = &lazyBands{}
			_, _ = shared[of].get(func() (*bands, error) { return b, nil })
		}
		o.Sections = append(o.Sections, &Section{Name: f.Name, Section: f.Section, Grid: f.Grid, Field: name,
			UpperDbar: f.UpperDbar, Axis: f.Axis, Depth: f.Depth, HatchAbove: 1, doubt: "less than twice its error",
			bands: shared[of]})
	}
	return o
}

// levels are those of all changes of a variable together.
func (f *Change) levels(of string) []float64 {
	var vs []chart.Weighed
	for _, g := range f.Grid.Fields {
		if is, _ := gridding.ChangeOf(g.Name); g.Kind == gridding.Value && is == of {
			for _, v := range g.Data {
				vs = append(vs, chart.Weighed{Value: v, Weight: 1})
			}
		}
	}
	return chart.ZeroLevels(slices.DeleteFunc(vs, func(w chart.Weighed) bool { return w.Value != w.Value }))
}

func (f *Change) draw(w chart.Width) (*page.Scene, error) { return f.page().draw(w) }

func (f *Change) caption(a *About) (caption, error) {
	d, err := f.page().prepare()
	if err != nil {
		return caption{}, err
	}
	c := caption{head: "Change, " + sectionTitle(f.Section, f.Title)}
	what, hatched := "Conservative Temperature and Absolute Salinity: their",
		"Hatched: less than twice its standard error, or not defined."
	if f.Of != "" {
		name, _, _ := strings.Cut(nameText(&d.panels[0].field.Variable), ",")
		what = lowerName(name) + ": its"
		if d.panels[0].error == nil {
			hatched = "Hatched: not defined. Its standard error is not known."
		}
	}
	c.write(fmt.Sprintf("%s: less %s, %s, %s change at constant pressure, its part on surfaces of potential "+
		"density and "+
		"its part by heave of these.", sectionTitle(f.Section, f.Title), f.Reference, stationSpan(f.Section), what),
		hatched,
		"Dashed lines are negative.", a.data(), "Panels of one quantity have the same levels.",
		"The parts sum to the change at constant pressure.")
	for _, q := range d.panels {
		name := lowerName(nameText(&q.field.Variable))
		c.span(name, chart.ExtentOf(q.raw), q.unit())
		c.add("Levels of "+name, levelList(q.f.Levels))
	}
	c.along(f.Section)
	d.panels[0].vertical.span(&c, chart.Extent{Hi: d.yMax})
	c.add("Compared", settings(f.Grid.Params))
	if d.panels[0].error != nil {
		c.add("Errors", "from the accuracy of both and the error of the map; eddies, tides and seasons are not in them")
	}
	floor := &d.panels[0].floor
	c.bottom(floor)
	c.about(a, !floor.none())
	return c, nil
}
