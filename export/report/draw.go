package report

import (
	"bytes"
	"fmt"
	"html/template"
	"strings"
	"time"

	"github.com/castwright/castwright/export/figure"
	"github.com/castwright/castwright/export/figure/page"
	"golang.org/x/sync/errgroup"
)

// A picture is a figure drawn for the page.
type picture struct {
	scene *page.Scene
	svg   string
}

// drawAll draws the figures, several at a time. One that cannot be drawn is left out: the findings say why.
func drawAll(m *Material) (map[figure.Figure]*picture, error) {
	var all []figure.Figure
	if m.Map != nil {
		all = append(all, m.Map)
	}
	for i := range m.Sections {
		all = append(all, m.Sections[i].Figures...)
	}
	for i := range m.Series {
		all = append(all, m.Series[i].Figures...)
	}
	for i := range m.Groups {
		all = append(all, m.Groups[i].Figures...)
	}
	for i := range m.Tables {
		all = append(all, m.Tables[i].Figures...)
	}
	drawn := make([]*picture, len(all))
	var g errgroup.Group
	g.SetLimit(max(1, m.Workers))
	for i, f := range all {
		g.Go(func() (err error) {
			drawn[i], err = drawOne(f)
			return err
		})
	}
	err := g.Wait()
	out := map[figure.Figure]*picture{}
	for i, f := range all {
		if drawn[i] != nil {
			out[f] = drawn[i]
		}
	}
	return out, err
}

// An album puts figures on the page while there is space for them.
type album struct {
	pictures map[figure.Figure]*picture
	written  map[string][]string // as in Material
	glyphs   glyphs
	budget   int // bytes
	count    int
}

// put returns a figure as the template writes it. One that is beyond the budget has links only, one that could not be
// drawn nothing.
func (a *album) put(f figure.Figure) (v figureView, p *picture) {
	p = a.pictures[f]
	if p == nil {
		return v, nil
	}
	a.count++
	v = figureView{ID: fmt.Sprintf("figure-%d", a.count), Title: p.scene.Title, Caption: p.scene.Detail}
	for _, kind := range a.written[f.Stem()] {
		rel := "figures/" + f.Stem() + "." + kind
		v.Links = append(v.Links, download{linkTo(rel), rel, strings.ToUpper(kind)})
	}
	if svg := a.glyphs.share(p.svg); len(svg) <= a.budget {
		a.budget -= len(svg)
		v.SVG = template.HTML(svg)
	}
	return v, p
}

// putAll returns the figures of a group, and links to those that are beyond the budget.
func (a *album) putAll(figs []figure.Figure) (out []figureView, elsewhere []download) {
	for _, f := range figs {
		switch v, p := a.put(f); {
		case p == nil:
		case v.SVG == "":
			elsewhere = append(elsewhere, v.Links...)
		default:
			out = append(out, v)
		}
	}
	return out, elsewhere
}

func drawOne(f figure.Figure) (*picture, error) {
	s, err := figure.Draw(f, &figure.About{})
	if err != nil {
		return nil, nil // as in figures: the other figures are drawn
	}
	var b bytes.Buffer
	if err := s.Write(&b, page.SVG, time.Time{}); err != nil {
		return nil, fmt.Errorf("page: %s: %w", f.Stem(), err)
	}
	return &picture{s, b.String()}, nil
}

// glyphs are the shapes of the letters of all figures, each once. Figures name them alike and draw them alike.
type glyphs struct {
	seen  map[string]bool
	paths strings.Builder
}

// share takes the shapes of letters out of a figure, and its size in points, so that it fills its place on the page.
func (g *glyphs) share(svg string) string {
	if g.seen == nil {
		g.seen = map[string]bool{}
	}
	before, rest, _ := strings.Cut(svg, "<defs>")
	defs, after, found := strings.Cut(rest, "</defs>\n")
	if !found {
		return svg
	}
	for _, path := range strings.SplitAfter(defs, "/>") {
		if id, _, _ := strings.Cut(path, ` d=`); path != "" && !g.seen[id] {
			g.seen[id] = true
			g.paths.WriteString(path + "\n")
		}
	}
	return withoutSize(before) + after
}

// withoutSize removes width, height and title of the outermost element: the page sets its width, and the title is the
// heading of the figure.
func withoutSize(head string) string {
	open, rest, _ := strings.Cut(head, ` width="`)
	_, rest, _ = strings.Cut(rest, ` viewBox=`)
	head = open + ` viewBox=` + rest
	head = strings.Replace(head, ` role="img"`, "", 1)
	if at, to := strings.Index(head, "<title>"), strings.Index(head, "</desc>\n"); at >= 0 && to > at {
		head = head[:at] + head[to+len("</desc>\n"):]
	}
	return head
}

func (g *glyphs) defs() string { return g.paths.String() }
