package figure

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/section"
)

// TimeSeries is a variable of the casts of one position as time by pressure: filled bands with labelled level lines, a
// tick for each cast along the top. Between neighbouring casts the values run straight in time; a gap several times the
// usual spacing is left empty.
type TimeSeries struct {
	Name      string
	Title     string // of the series; "" for "Time series NAME"
	Series    *section.Series
	Field     string // name of a column of the casts
	Overlay   string // as in Section
	UpperDbar float64
	Scale     Scale
	Dots      bool
	Depth     bool

	grid *seriesGrid // nil: made when it is drawn
}

// Stem implements Figure.
func (f *TimeSeries) Stem() string { return f.Name }

func (f *TimeSeries) title() string { return cmp.Or(f.Title, "Time series "+f.Series.Name) }

// seriesVariables are what figures of a series show, as far as the casts have them.
var seriesVariables = []string{"ctemp", "asal", "sigma0", "oxy", "chl", "fluor", "turb"}

// A seriesGrid is the casts of a series on common levels: a grid of pressure by hours after the first cast, and the
// casts as a section along these hours.
type seriesGrid struct {
	section *section.Section
	grid    *gridding.Grid
}

// newSeriesGrid puts the casts of a series on common levels. Beside a gap in time it has two columns more on each side:
// the cast again where its half spacing ends, and one just inside the gap, which the figure leaves empty.
func newSeriesGrid(s *section.Series) *seriesGrid {
	out := &seriesGrid{section: &section.Section{Name: s.Name, Casts: s.Casts, DistanceKm: s.Hours()}}
	hours := out.section.DistanceKm
	columns, of := slices.Clone(hours), make([]int, len(hours)) // the cast of each column
	for k := range of {
		of[k] = k
	}
	for _, gap := range gapsOf(out.section) {
		k, _ := slices.BinarySearch(columns, gap[0])
		inside := (gap[1] - gap[0]) * 1e-6
		columns = slices.Insert(columns, k, gap[0], gap[0]+inside, gap[1]-inside, gap[1])
		of = slices.Insert(of, k, of[k-1], of[k-1], of[k], of[k])
	}
	levels := commonLevels(s.Casts)
	if len(levels) > 0 && levels[0] > 0 && levels[0] <= carryDbar {
		levels = slices.Insert(levels, 0, 0)
	}
	down := gridding.Axis{Variable: variable("pres"), Values: levels}
	along := gridding.Axis{Variable: variable("distance"), Values: columns}
	out.grid = &gridding.Grid{Name: s.Name, Axes: []gridding.Axis{down, along}}
	for _, name := range append(slices.Clone(seriesVariables), "temp") {
		if !anyCast(s.Casts, name) {
			continue
		}
		f := gridding.Field{Data: make([]float64, len(levels)*len(columns))}
		for j, k := range of {
			if col := s.Casts[k].Column(name); col != nil {
				f.Variable = col.Variable
			}
			values := onLevels(s.Casts[k], name, levels)
			for i, v := range values {
				f.Data[i*len(columns)+j] = v
			}
			first := slices.IndexFunc(values, func(v float64) bool { return !math.IsNaN(v) })
			for i := first - 1; i >= 0 && levels[first]-levels[i] <= carryDbar; i-- {
				f.Data[i*len(columns)+j] = values[first]
			}
		}
		scatter := gridding.Field{Variable: f.Variable, Data: scatterOf(f.Data, len(columns)), Of: name,
			Kind: gridding.StandardError}
		scatter.Name += "_err"
		out.grid.Fields = append(out.grid.Fields, f, scatter)
	}
	return out
}

// scatterOf returns what second differences down each column say of the scatter from level to level, of which the
// median is taken in bands of pressure: a normal scatter of one standard deviation s has second differences of a
// standard deviation of s times the root of 6, and a median size of 0.6745 of that.
func scatterOf(data []float64, columns int) []float64 {
	out := make([]float64, len(data))
	for k := range out {
		if out[k] = math.NaN(); k >= columns && k+columns < len(data) {
			out[k] = math.Abs(data[k-columns]-2*data[k]+data[k+columns]) / (math.Sqrt(6) * 0.6745)
		}
	}
	return out
}

// carryDbar is how far above its first level the first value of a cast is drawn, as grids carry it.
const carryDbar = 10

// commonLevels returns pressures for values of several casts: those that the casts have where they share them, else
// steps of the median step of the casts.
func commonLevels(casts []*section.Cast) []float64 {
	var all, steps []float64
	most := 0
	for _, c := range casts {
		at := c.UsableLevels(nil, true)
		most = max(most, len(at))
		for i, k := range at {
			all = append(all, c.PressureDbar[k])
			if i > 0 {
				steps = append(steps, c.PressureDbar[k]-c.PressureDbar[at[i-1]])
			}
		}
	}
	slices.Sort(all)
	levels := slices.Compact(slices.Clone(all))
	if len(levels) <= 2*most || len(steps) == 0 {
		return levels
	}
	slices.Sort(steps)
	step, last := steps[len(steps)/2], all[len(all)-1]
	levels = levels[:0]
	for k := math.Ceil(all[0] / step); k*step <= last; k++ {
		levels = append(levels, k*step)
	}
	return levels
}

// onLevels returns the usable values of a cast at pressures, straight between its levels but not across a gap; NaN
// elsewhere.
func onLevels(c *section.Cast, name string, levels []float64) []float64 {
	out := make([]float64, len(levels))
	var p, v []float64
	if at := c.UsableLevels(nil, true, name); len(at) > 0 {
		p, v = section.Take(nil, c.PressureDbar, at), section.Take(nil, c.Column(name).Values, at)
	}
	gaps := section.Gaps(p, nil)
	for i, q := range levels {
		k, found := slices.BinarySearch(p, q)
		switch {
		case found:
			out[i] = v[k]
		case k == 0 || k == len(p) || slices.ContainsFunc(gaps, func(g section.Gap) bool { return g.Above == k-1 }):
			out[i] = math.NaN()
		default:
			out[i] = v[k-1] + (v[k]-v[k-1])*(q-p[k-1])/(p[k]-p[k-1])
		}
	}
	return out
}

// prepare makes the series ready as a section along hours.
func (f *TimeSeries) prepare() (*Section, *sectionData, error) {
	if f.grid == nil {
		f.grid = newSeriesGrid(f.Series)
	}
	s := &Section{Name: f.Name, Title: f.title(), Section: f.grid.section, Grid: f.grid.grid, Field: f.Field,
		Overlay: f.Overlay, UpperDbar: f.UpperDbar, Scale: f.Scale, Dots: f.Dots, Depth: f.Depth, quietOverlay: true}
	d, err := s.prepare()
	if err == nil {
		d.gapWords = "gap in time"
	}
	return s, d, err
}

// marks returns the casts along the hours, by their numbers; with their stations where there are several.
func (f *TimeSeries) marks() []chart.Mark {
	var out []chart.Mark
	casts := f.Series.Casts
	several := slices.ContainsFunc(casts, func(c *section.Cast) bool { return c.Station != casts[0].Station })
	for k, h := range f.grid.section.DistanceKm {
		m := chart.Mark{X: h, Name: casts[k].Number, Label: trimZeros(casts[k].Number)}
		if several {
			m.Label = trimZeros(casts[k].Station) + "/" + m.Label
		}
		out = append(out, m)
	}
	return out
}

func (f *TimeSeries) draw(w chart.Width) (*page.Scene, error) {
	s, d, err := f.prepare()
	if err != nil {
		return nil, err
	}
	p := chart.NewSheet(w, 45)
	p.Heading(titleText(&d.field.Variable), s.Title)
	p.StationRow()
	frames := d.drawPanels(s, p, s.limit())
	p.Marks(&frames[0], f.marks(), "Cast")
	p.TimeAxis(&frames[len(frames)-1], f.Series.Casts[0].Time)
	p.Keys(d.explain(s, s.limit()))
	return p.Done(), nil
}

// minutesText returns from when to when casts were taken, to the minute.
func minutesText(casts []*section.Cast) string {
	first, last := casts[0].Time.UTC(), casts[len(casts)-1].Time.UTC()
	const day, minute = "2006-01-02", "15:04"
	text := first.Format(day+" "+minute) + " to "
	if first.Format(day) != last.Format(day) {
		text += last.Format(day) + " "
	}
	return text + last.Format(minute) + " UTC"
}

func (f *TimeSeries) caption(a *About) (caption, error) {
	s, d, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	casts := f.Series.Casts
	title := titleText(&d.field.Variable)
	c := caption{head: title + ", " + s.Title}
	must := fmt.Sprintf("%s: %s, %s, %s. Shaded bands and labelled lines show the values of the casts, straight in "+
		"time between them%s.", s.Title, title, plural(len(casts), "cast", "casts"), minutesText(casts),
		d.floor.solid())
	if f.Overlay != "" {
		must += fmt.Sprintf(" Grey lines: %s (kg m⁻³).", signOf(f.Overlay))
	}
	upper := ""
	if d.upper > 0 {
		upper = fmt.Sprintf("The upper %s are drawn at a larger scale.", d.vertical.text(d.upper))
	}
	d.look(s)
	values := chart.ExtentOf(d.raw)
	c.write(must, upper, fmt.Sprintf("Values are between %s and %s%s.", chart.Significant(values.Lo, 3),
		chart.Significant(values.Hi, 3), bare(d.unit())), sentence(prefixed("hatched: ", d.hatched(s))),
		"Ticks along the top are casts.", a.data())
	c.span("time", chart.Extent{Lo: d.x0, Hi: d.x1}, "hours")
	d.vertical.span(&c, chart.Extent{Lo: d.top(), Hi: d.yMax})
	c.span(nameText(&d.field.Variable), values, d.unit())
	at := f.Series.At
	c.add("Where", fmt.Sprintf("%s, %s; no cast farther than %s km from it", chart.LatText(at.Lat(), 3),
		chart.LonText(at.Lon(), 3), chart.Significant(f.Series.FarKm()+0.005, 2)))
	c.add("When", minutesText(casts))
	c.add("Casts", castNames(casts))
	c.add("Gridded", "no: values of the casts at their levels, straight between neighbouring casts; "+
		fmt.Sprintf("the first value is carried up, %d dbar at most", carryDbar))
	c.add("Contour interval", chart.IntervalText(d.f.Levels)+bracketed(d.unit())+
		"; nowhere below twice the scatter of the casts from level to level"+whyFullest(&d.chosen))
	c.add("Levels", levelList(d.f.Levels)+prefixed("; ", f.Scale.text()))
	if len(d.gaps) > 0 {
		c.add("Gaps", fmt.Sprintf("intervals between casts longer than %d times the median are left empty", wideGap))
	}
	c.add("Hatched", d.hatched(s))
	c.bottom(&d.floor)
	c.about(a, !d.floor.none())
	return c, nil
}

// castNames lists casts by station and number.
func castNames(casts []*section.Cast) string {
	var out []string
	for _, c := range casts {
		out = append(out, trimZeros(c.Station)+"/"+trimZeros(c.Number))
	}
	return strings.Join(out, ", ")
}
