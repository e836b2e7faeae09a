package report

import (
	"bytes"
	"fmt"
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

// pictures are all figures of the page; nil where one cannot be drawn.
type pictures struct {
	stationMap *picture
	sections   [][]*picture // as the figures of the sections
	tables     []*picture   // as the tables
	series     [][]*picture
}

// drawAll draws the figures, several at a time. One that cannot be drawn is left out: the findings say why.
func drawAll(m *Material) (*pictures, error) {
	out := &pictures{sections: make([][]*picture, len(m.Sections)), tables: make([]*picture, len(m.Tables)),
		series: make([][]*picture, len(m.Series))}
	var g errgroup.Group
	g.SetLimit(max(1, m.Workers))
	if m.Map != nil {
		g.Go(func() (err error) {
			out.stationMap, err = drawOne(m.Map)
			return err
		})
	}
	for i := range m.Sections {
		out.sections[i] = make([]*picture, len(m.Sections[i].Figures))
		for k, f := range m.Sections[i].Figures {
			g.Go(func() (err error) {
				out.sections[i][k], err = drawOne(f)
				return err
			})
		}
	}
	for i := range m.Tables {
		if f := m.Tables[i].Figure; f != nil {
			g.Go(func() (err error) {
				out.tables[i], err = drawOne(f)
				return err
			})
		}
	}
	for i := range m.Series {
		out.series[i] = make([]*picture, len(m.Series[i].Figures))
		for k, f := range m.Series[i].Figures {
			g.Go(func() (err error) {
				out.series[i][k], err = drawOne(f)
				return err
			})
		}
	}
	return out, g.Wait()
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
