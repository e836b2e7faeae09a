package figure

import (
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A caption is the text of the file beside a figure.
type caption struct {
	head     string // a few words
	what     string // for the page: 40 to 60 words
	lines    [][2]string
	cautions []string
	ranges   []string // of what the axes and colours show
}

// span adds a range that the picture shows, for readers who do not see it.
func (c *caption) span(name string, e chart.Extent, unit string) {
	if e.Empty() {
		return
	}
	text := upperFirst(name) + " " + chart.Significant(e.Lo, 3) + " to " + chart.Significant(e.Hi, 3)
	c.ranges = append(c.ranges, text+strings.TrimSuffix(" "+unit, " 1"))
}

// A caption for the page has so many words, where there is so much to say.
const (
	fewestWords = 40
	mostWords   = 60
)

// write sets the text for the page: what must be said, and of the other sentences, in their order, those that
// fit. The first two are said wherever they fit, the others while the text is short.
func (c *caption) write(must string, others ...string) {
	c.what = must
	for k, s := range others {
		if s == "" {
			continue
		}
		if n := len(strings.Fields(c.what)); (k < 2 || n < fewestWords) && n+len(strings.Fields(s)) <= mostWords {
			c.what += " " + s
		}
	}
}

// detail describes the picture for programs that read aloud: what it shows, and the ranges.
func (c *caption) detail() string {
	if len(c.ranges) == 0 {
		return c.what
	}
	return c.what + " " + strings.Join(c.ranges, "; ") + "."
}

func (c *caption) add(name, text string) {
	if text != "" {
		c.lines = append(c.lines, [2]string{name, text})
	}
}

func (c *caption) text() string {
	var b strings.Builder
	b.WriteString(c.what + "\n\nMethods and data\n")
	for _, l := range c.lines {
		b.WriteString(l[0] + ": " + l[1] + "\n")
	}
	for _, l := range c.cautions {
		b.WriteString("Caution: " + l + "\n")
	}
	return chart.PlainSpaces(b.String())
}

// about adds what is the same for all figures.
func (c *caption) about(a *About, showsBottom bool) {
	cruise := a.Cruise
	if a.Ships != "" {
		cruise += " (" + a.Ships + ")"
	}
	c.add("Cruise", cruise)
	if a.Version != "" {
		c.add("Release", a.Release+", version "+a.Version)
	} else {
		c.add("Release", a.Release)
	}
	c.add("Licence", a.Licence)
	if a.Release != "" && a.Release != "final" {
		c.cautions = append(c.cautions, "these data are "+a.Release+"; values may change before the final release.")
	}
	if showsBottom {
		c.cautions = append(c.cautions, "depths and positions are as logged, not for navigation.")
	}
	c.cautions = append(append(c.cautions, "data are as processed and flagged, not certified."), a.Notes...)
}

// settings prints parameters as "name value; name value"; what is not set is left out.
func settings(ps []metadata.Param) string {
	var out []string
	for _, p := range ps {
		if p.Value == "" {
			continue
		}
		if x, ok := p.Typed.([]float64); ok && len(x) > 8 {
			out = append(out, fmt.Sprintf("%s %d from %g to %g dbar", p.Label(), len(x), x[0], x[len(x)-1]))
			continue
		}
		out = append(out, p.Label()+" "+p.Value)
	}
	return strings.Join(out, "; ")
}

func list(names []string) string {
	if len(names) < 2 {
		return strings.Join(names, "")
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// placed returns a title after a heading.
func placed(title string) string { return prefixed(", ", title) }

// opened returns a title before what is said of it.
func opened(title string) string {
	if title == "" {
		return ""
	}
	return title + ": "
}

// prefixed puts words before a text; "" for none.
func prefixed(words, text string) string {
	if text == "" {
		return ""
	}
	return words + text
}

// sentence returns a text as a sentence; "" for none.
func sentence(text string) string {
	if text == "" {
		return ""
	}
	return upperFirst(text) + "."
}

// data says what kind of data these are.
func (a *About) data() string { return sentence(strings.TrimSpace(a.Release + " data")) }

// casts adds how stations are named, when, and how many casts.
func (c *caption) casts(casts []*section.Cast) {
	c.add("Station names", namesOfStations(casts).note())
	c.add("When", whenText(casts))
	c.add("Casts", chart.Number(float64(len(casts)), 0))
}

// along adds where and when a section was taken.
func (c *caption) along(s *section.Section) {
	a, b := s.Casts[0].At, s.Casts[len(s.Casts)-1].At
	if s.Closed() {
		c.where(s.Casts)
		c.add("Line", "closed, "+chart.Significant(s.DistanceKm[len(s.DistanceKm)-1], 4)+" km along the track")
		c.casts(s.Once().Casts)
		return
	}
	c.add("Where", fmt.Sprintf("%s, %s to %s, %s; %s km along the track", chart.LatText(a[1], 3),
		chart.LonText(a[0], 3),
		chart.LatText(b[1], 3), chart.LonText(b[0], 3), chart.Significant(s.DistanceKm[len(s.DistanceKm)-1], 4)))
	c.casts(s.Casts)
}

// bottom adds where the bottom that is drawn is from.
func (c *caption) bottom(b *floorShape) {
	switch {
	case b.none():
		c.add("Bottom", "not known, not drawn")
	case len(b.assumed) > 0 || b.deepest:
		c.add("Bottom", strings.TrimPrefix(b.solid(), "; "))
	case b.charted:
		c.add("Bottom", "the grid of water depth along the track, in every figure of the section")
	default:
		c.add("Bottom", "straight lines between the water depths of the stations")
	}
}

// where adds the region of casts, and returns its southern edge.
func (c *caption) where(casts []*section.Cast) float64 {
	var lons []float64
	lat := chart.NoExtent()
	for _, k := range withPosition(casts) {
		lons = append(lons, k.At[0])
		lat.Add(k.At[1])
	}
	if len(lons) > 0 {
		mid, arc := chart.MiddleLon(lons)
		c.add("Where", fmt.Sprintf("%s to %s, %s to %s", chart.LatText(lat.Lo, 3), chart.LatText(lat.Hi, 3),
			chart.LonText(mid-arc/2, 3), chart.LonText(mid+arc/2, 3)))
	}
	return lat.Lo
}

// castLines adds where, when and how many.
func castLines(c *caption, casts []*section.Cast, values int) {
	c.where(casts)
	c.casts(casts)
	if values > 0 {
		c.add("Values drawn", chart.Number(float64(values), 0))
	}
	c.add("Gridded", "no: values of the casts as they are")
}

// stationSpan names the first and the last station of a section.
func stationSpan(s *section.Section) string {
	if s.Closed() {
		return fmt.Sprintf("station %s round to station %[1]s again", trimZeros(s.Casts[0].Station))
	}
	return fmt.Sprintf("station %s to station %s", trimZeros(s.Casts[0].Station),
		trimZeros(s.Casts[len(s.Casts)-1].Station))
}

// whenText returns the first and the last day of casts.
func whenText(casts []*section.Cast) string {
	var first, last time.Time
	for _, c := range casts {
		if !c.Time.IsZero() && (first.IsZero() || c.Time.Before(first)) {
			first = c.Time
		}
		if c.Time.After(last) {
			last = c.Time
		}
	}
	if first.IsZero() {
		return "not known"
	}
	const day = "2006-01-02"
	a, b := first.UTC().Format(day), last.UTC().Format(day)
	if a == b {
		return a + " (UTC)"
	}
	return a + " to " + b + " (UTC)"
}

// skillText says how well the grid predicts a station it has not seen.
func skillText(g *gridding.Grid, variable, units string) string {
	for _, k := range g.Skill {
		if k.Variable != variable || k.N == 0 {
			continue
		}
		value := func(v float64) string {
			return strings.TrimSpace(chart.Significant(v, 2) + " " + chart.UnitText(units))
		}
		t := fmt.Sprintf("predicting each inner station from the others, rms %s, bias %s, %d data", value(k.RMS),
			value(k.Bias), k.N)
		if !math.IsNaN(k.SkillLinear) {
			t += fmt.Sprintf("; 1 − rms²/rms²(linear along distance) = %s", chart.Number(k.SkillLinear, 2))
		}
		if k.EndN > 0 {
			t += fmt.Sprintf("; end stations rms %s, %d data", value(k.EndRMS), k.EndN)
		}
		return t
	}
	return "not computed"
}
