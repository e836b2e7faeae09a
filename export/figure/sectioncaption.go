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
)

// look finds what the caption has to explain: parts without a value and parts of large error that are seen.
func (d *sectionData) look(f *Section) {
	doubt := false
	nx := len(d.f.X)
	under := d.below(d.f)
	for k, v := range d.f.Data {
		y := d.f.Y[k/nx]
		switch {
		case y > d.yMax:
		case math.IsNaN(v) && !under[k]:
			d.masked = true
			d.beneath = d.beneath || y > d.last
		case !math.IsNaN(v) && d.error != nil && d.error.Data[k] > f.limit():
			doubt = true
		}
	}
	if !doubt {
		return
	}
	p := chart.NewSheet(chart.TwoColumns, 45)
	for _, fr := range d.panels(p) {
		g := cut(p, d.f, &fr)
		g.FillBelow(d.below(g), d.rows+1)
		d.doubtful = d.hatchDoubt(f, p, &fr, g, f.limit()) || d.doubtful
	}
}

// reasonWords says why a node holds no value, by the numbers of gridding's field of reasons; the bottom is
// drawn and needs no words.
var reasonWords = [...]string{gridding.AboveFirst: "above the first data",
	gridding.OutsideCasts: "outside the stations",
	gridding.InGap:        "gap in a cast", gridding.NoData: "no data near",
	gridding.ErrorTooBig: "mapping error too large"}

// densityWords are reasonWords of a section against density.
var densityWords = [...]string{gridding.BelowBottom: noSuchWater, gridding.AboveFirst: noSuchWater,
	gridding.OutsideCasts: "outside the stations", gridding.InGap: "gap in a cast", gridding.NoData: noSuchWater,
	gridding.ErrorTooBig: "mapping error too large"}

const noSuchWater = "no water of this density"

// why lists the reasons at hand, in brackets.
func (d *sectionData) why() string {
	var out []string
	words := reasonWords
	if d.vertical.otherwise != "" {
		words = densityWords
	}
	for k, w := range words {
		if w != "" && d.reasons[k] && !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	if d.beneath {
		out = append(out, "below the casts")
	}
	if len(d.gaps) > 0 {
		out = append(out, cmp.Or(d.gapWords, "gap between stations"))
	}
	if len(out) == 0 {
		return ""
	}
	return " (" + strings.Join(out, ", ") + ")"
}

// explain returns the key below the picture.
func (d *sectionData) explain(f *Section, limit float64) []chart.Key {
	ks := d.floor.keys()
	ks = append(ks, uniformKey(d.f, chart.ExtentOf(d.raw), d.unit())...)
	if d.masked {
		ks = append(ks, chart.AreaKey(chart.NoValue, "no value"+d.why(), chart.NoValueAngle))
	}
	if d.doubtful {
		ks = append(ks, chart.AreaKey(page.Paper, cmp.Or(f.doubt, "error variance above "+chart.Short(limit)+
			" of the signal's"), chart.DoubtAngle))
	}
	if len(d.overlays) > 0 {
		text := cmp.Or(signOf(d.overlays[0]), d.overlays[0])
		if last := d.overlays[len(d.overlays)-1]; last != d.overlays[0] {
			text += ", below " + signOf(last)
		}
		ks = append(ks, chart.LineKey(overlayPen, &overlayUnder, text+" (kg m⁻³)"))
	}
	return ks
}

// hatched says what hatching means.
func (d *sectionData) hatched(f *Section) string {
	var out []string
	if d.doubtful {
		out = append(out, "// error variance above "+chart.Short(f.limit())+" of the signal variance")
	}
	if d.masked {
		out = append(out, "\\\\ no value"+d.why())
	}
	return strings.Join(out, "; ")
}

func (f *Section) caption(a *About) (caption, error) {
	d, err := f.prepare()
	if err != nil {
		return caption{}, err
	}
	var c caption
	title := titleOfField(d.field, f.Grid)
	c.head = title + ", " + sectionTitle(f.Section, f.Title)
	lines := "labelled lines"
	if d.field.Kind != gridding.Value {
		lines = "lines"
	}
	against := ""
	if d.vertical.otherwise != "" {
		against = ", against " + lowerFirst(nameText(&f.Grid.Axes[0].Variable))
	}
	must := fmt.Sprintf("%s: %s, %s%s. Shaded bands and %s show the gridded field%s.",
		sectionTitle(f.Section, f.Title), title, stationSpan(f.Section), against, lines, d.floor.solid())
	if f.Overlay != "" {
		must += fmt.Sprintf(" Grey lines: %s (kg m⁻³).", signOf(f.Overlay))
	}
	upper := ""
	if d.upper > 0 {
		upper = fmt.Sprintf("The upper %s are drawn at a larger scale.", d.vertical.text(d.upper))
	}
	d.look(f)
	values := chart.ExtentOf(d.raw)
	c.write(must, upper, fmt.Sprintf("Values are between %s and %s%s.", chart.Significant(values.Lo, 3),
		chart.Significant(values.Hi, 3),
		bare(d.unit())), sentence(prefixed("hatched: ",
		d.hatched(f))), "Ticks along the top are stations.", a.data(),
		"Distance along the track is counted from the first station.")
	c.span("distance", chart.Extent{Lo: d.x0, Hi: d.x1}, "km")
	if height := (chart.Extent{Lo: d.top(), Hi: d.yMax}); d.vertical.otherwise != "" {
		axis := &f.Grid.Axes[0].Variable
		c.span(nameText(axis), height, unitOf(axis))
	} else {
		d.vertical.span(&c, height)
	}
	c.span(nameText(&d.field.Variable), chart.ExtentOf(d.raw), d.unit())
	c.along(f.Section)
	c.add("Gridded", settings(slices.Concat(f.Grid.Params, f.Grid.Results)))
	c.add("Skill", skillText(f.Grid, d.parent(), d.field.Units))
	interval := chart.IntervalText(d.f.Levels) + bracketed(d.unit())
	c.add("Contour interval", interval+whyLevels(&d.chosen)+"; lines that would run together are left out")
	c.add("Levels", levelList(d.f.Levels)+prefixed("; ", f.Scale.text())+d.sharing())
	c.add("Hatched", d.hatched(f))
	if f.Dots {
		c.add("Dots", "usable values of the casts, as many as are seen apart")
	}
	c.bottom(&d.floor)
	c.add("Limits", d.limits(f.Grid))
	c.about(a, !d.floor.none())
	return c, nil
}

// limit is the normalised error variance above which the picture is hatched.
func (f *Section) limit() float64 { return cmp.Or(f.HatchAbove, defaultHatch) }

// whyLevels says what bounds the levels.
func whyLevels(l *chart.Levels) string {
	if l.At == nil {
		return ""
	}
	return "; nowhere below twice the error of the band of pressure (median mapping error or rms of left-out stations)" +
		whyFullest(l)
}

// whyFullest says why one band holds more than a third; "" when none does.
func whyFullest(l *chart.Levels) (text string) {
	if l.Fullest > 1.0/3 {
		why := [...]string{chart.ByError: "a finer step would be below that",
			chart.ByNumber: fmt.Sprintf("there are no more than %d levels", chart.MostLevels),
			chart.ByStep:   "its values are alike to a thousandth of the usual step"}[l.Bound]
		text = fmt.Sprintf("; one band holds %.0f %% of the values or of the picture, as %s",
			100*l.Fullest, why)
	}
	return text
}

// levelList prints levels.
func levelList(levels []float64) string {
	var out []string
	for _, v := range levels {
		out = append(out, chart.Short(v))
	}
	return strings.Join(out, ", ")
}

// sharing says with how many sections the levels are shared.
func (d *sectionData) sharing() string {
	if d.shared < 2 {
		return ""
	}
	return fmt.Sprintf("; the same in %d sections", d.shared)
}

// uniformKey says which values have the one colour of a field that is uniform to its error.
func uniformKey(f *chart.Field, e chart.Extent, unit string) []chart.Key {
	if len(f.Levels) > 0 || !(e.Span() > 0) {
		return nil
	}
	return []chart.Key{chart.AreaKey(f.Colours[0], fmt.Sprintf("all from %s to %s%s, closer than twice their error",
		chart.Significant(e.Lo, 4), chart.Significant(e.Hi, 4), bare(unit)))}
}

// limits says what was extended below the data and to the bottom, and what was held to the range of the data.
func (d *sectionData) limits(g *gridding.Grid) string {
	var out []string
	if !d.floor.none() {
		out = append(out, "bands go on at their pressure from the last column with values to the bottom")
	}
	if d.carried > 0 {
		out = append(out, "the deepest level of the grid is painted down to the bottom, "+
			chart.Significant(d.carried, 2)+" dbar at most")
	}
	var counts [gridding.Extended + 1]int
	all := 0
	for k, code := range d.companion(g, gridding.Extrapolated) {
		if !math.IsNaN(d.raw[k]) && code >= 0 && int(code) < len(counts) {
			all++
			counts[int(code)]++
		}
	}
	if n := counts[gridding.Extended]; n > 0 {
		out = append(out, fmt.Sprintf("%d of %d values lie below the deepest data and are those of the "+
			"nearest column with data at the same pressure", n, all))
	}
	if n := counts[gridding.HeldToData]; n > 0 {
		out = append(out, fmt.Sprintf("%d lay outside the range of the data nearby and are held to it", n))
	}
	return strings.Join(out, "; ")
}
