// Package figure draws the pictures of a cruise: sections, geostrophic velocity, temperature against salinity, profiles and the map, each
// as SVG, PDF and PNG with a caption file. It takes plain values (grids, sections, results, casts) and decides nothing about them: what
// is drawn is what is stored. It is not a general plotting package.
//
//	figs := []figure.Figure{
//		&figure.Section{Name: "a_ctemp", Section: s, Grid: g, Field: "ctemp"},
//		&figure.StationMap{Name: "map", Casts: casts, Sections: sections},
//	}
//	made, err := figure.Write(ctx, dir, figs, figure.Options{About: about, Stamp: stamp, Workers: 2})
//
// A figure is laid out once as a list of lines, areas and words, and that list is written in each format, so the formats agree.
package figure

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
	"golang.org/x/sync/errgroup"
)

// Errors of figures that cannot be drawn; always wrapped with the values at hand.
var (
	ErrTooFewStations = errors.New("a section figure needs at least two stations")
	ErrNoField        = errors.New("the grid has no such field")
	ErrNoValues       = errors.New("no values to draw")
	ErrNoExtent       = errors.New("all stations are at the same distance")
	ErrFormat         = errors.New("no such format")
	ErrWidth          = errors.New("no such width")
)

// Width is how wide a figure is printed.
type Width uint8

// Widths: the whole type area of a page, and one of two columns.
const (
	TwoColumns Width = iota // 175 mm
	OneColumn               // 85 mm
)

// points gives the width of the page in points.
func (w Width) points() float64 {
	if w == OneColumn {
		return 85 / 25.4 * 72
	}
	return 175 / 25.4 * 72
}

// String gives the word of the cruise file.
func (w Width) String() string {
	if w == OneColumn {
		return "one_column"
	}
	return "two_columns"
}

// ParseWidth reads the word of the cruise file.
func ParseWidth(s string) (Width, error) {
	for _, w := range []Width{OneColumn, TwoColumns} {
		if w.String() == s {
			return w, nil
		}
	}
	return 0, fmt.Errorf("%w: %q (one_column, two_columns)", ErrWidth, s)
}

// Format is a kind of file: "svg", "pdf" or "png".
type Format string

// Formats.
const (
	SVG Format = "svg"
	PDF Format = "pdf"
	PNG Format = "png" // 300 dots per inch
)

// Formats lists all formats in the order in which they are written.
func Formats() []Format { return []Format{SVG, PDF, PNG} }

// About is what every caption says of the cruise.
type About struct {
	Cruise  string // identifier or title
	Ships   string
	Release string // underway, preliminary or final
	Version string // of the product; "" when none
	Licence string
	Notes   []string // further cautions, one sentence each
}

// Options say how figures are written. The zero value writes every format at two columns' width.
type Options struct {
	Formats []Format  // nil: all
	Widths  []Width   // nil: two columns
	Stamp   time.Time // date inside PDF files: that of the archive. Zero: 1970-01-01
	Workers int       // at most so many figures at a time; 0: as many as there are processors. The bytes are the same for any number
	About   About
	// Known, when not nil, reports whether a picture file of this name was made before. A figure of which every picture was is not drawn:
	// only its caption is written.
	Known func(name string) bool
}

// A Figure is one picture to draw. The kinds are the exported structs of this package.
type Figure interface {
	// Stem is the name of the files without ending.
	Stem() string
	draw(w Width) (*scene, error)
	caption(a *About) (caption, error)
}

// A Refusal is a figure that could not be drawn, and why. The others are.
type Refusal struct {
	Stem string
	Err  error
}

// Made is what Write did.
type Made struct {
	Files   []string // names in dir, in the order of the figures, widths and formats; each figure's caption (.txt) comes last
	Refused []Refusal
}

// Write draws figures into the folder dir, which must exist: STEM.svg, .pdf and .png at two columns' width, STEM_one_column.* at one,
// and STEM.txt, the caption. A figure that cannot be drawn is listed and does not stop the others; err is for trouble with the disk
// and for a cancelled ctx.
func Write(ctx context.Context, dir string, figs []Figure, o Options) (Made, error) {
	formats, widths := o.Formats, o.Widths
	if len(formats) == 0 {
		formats = Formats()
	}
	if len(widths) == 0 {
		widths = []Width{TwoColumns}
	}
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	files := make([][]string, len(figs))
	refused := make([]error, len(figs))
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(workers)
	for i, f := range figs {
		g.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			names, data, err := render(f, widths, formats, &o)
			if err != nil {
				refused[i] = err
				return nil
			}
			for k, name := range names {
				if err := ctx.Err(); err != nil {
					return err
				}
				if data[k] == nil {
					continue
				}
				if err := os.WriteFile(filepath.Join(dir, name), data[k], 0o644); err != nil {
					return err
				}
			}
			files[i] = names
			return nil
		})
	}
	err := g.Wait()
	var m Made
	for i := range figs {
		m.Files = append(m.Files, files[i]...)
		if refused[i] != nil {
			m.Refused = append(m.Refused, Refusal{figs[i].Stem(), refused[i]})
		}
	}
	return m, err
}

// render makes all files of one figure in memory. A picture that is known is named and nil.
func render(f Figure, widths []Width, formats []Format, o *Options) (names []string, data [][]byte, err error) {
	c, err := f.caption(&o.About)
	if err != nil {
		return nil, nil, err
	}
	known := o.Known != nil
	for _, w := range widths {
		for _, kind := range formats {
			name := f.Stem() + "." + string(kind)
			if w == OneColumn {
				name = f.Stem() + "_one_column." + string(kind)
			}
			names = append(names, name)
			known = known && o.Known(name)
		}
	}
	names = append(names, f.Stem()+".txt")
	for _, w := range widths {
		if known {
			break
		}
		s, err := f.draw(w)
		if err != nil {
			return nil, nil, err
		}
		s.title, s.detail = plainSpaces(c.head), plainSpaces(c.what)
		for _, kind := range formats {
			var b bytes.Buffer
			if err := write(&b, s, kind, o.Stamp); err != nil {
				return nil, nil, err
			}
			data = append(data, b.Bytes())
		}
	}
	if known {
		data = make([][]byte, len(names)-1)
	}
	return names, append(data, []byte(c.text())), nil
}

func write(w io.Writer, s *scene, kind Format, stamp time.Time) error {
	switch kind {
	case SVG:
		return writeSVG(w, s)
	case PDF:
		return writePDF(w, s, stamp)
	case PNG:
		return writePNG(w, s)
	}
	return fmt.Errorf("%w: %q (svg, pdf, png)", ErrFormat, kind)
}

// WriteOne draws one figure in one format and width, for a page that holds it.
func WriteOne(w io.Writer, f Figure, width Width, kind Format, o Options) error {
	c, err := f.caption(&o.About)
	if err != nil {
		return err
	}
	s, err := f.draw(width)
	if err != nil {
		return err
	}
	s.title, s.detail = plainSpaces(c.head), plainSpaces(c.what)
	return write(w, s, kind, o.Stamp)
}

// Caption gives the text of a figure's caption file.
func Caption(f Figure, a About) (string, error) {
	c, err := f.caption(&a)
	if err != nil {
		return "", err
	}
	return c.text(), nil
}

// A caption is what stands in the file beside a figure.
type caption struct {
	head     string // a few words
	what     string // one or two sentences, ready to paste
	lines    [][2]string
	cautions []string
}

func (c *caption) add(name, text string) {
	if text != "" {
		c.lines = append(c.lines, [2]string{name, text})
	}
}

func (c *caption) text() string {
	var b strings.Builder
	b.WriteString(c.what + "\n\n")
	for _, l := range c.lines {
		b.WriteString(l[0] + ": " + l[1] + "\n")
	}
	for _, l := range c.cautions {
		b.WriteString("Caution: " + l + "\n")
	}
	return plainSpaces(b.String())
}

func plainSpaces(s string) string { return strings.ReplaceAll(s, noBreak, " ") }

// about adds what is the same for all figures.
func (c *caption) about(a *About, showsBottom bool) {
	cruise := a.Cruise
	if a.Ships != "" {
		cruise += " (" + a.Ships + ")"
	}
	c.add("Cruise", cruise)
	release := a.Release
	if a.Version != "" {
		release += ", version " + a.Version
	}
	c.add("Release", release)
	c.add("Licence", a.Licence)
	if a.Release != "" && a.Release != "final" {
		c.cautions = append(c.cautions, "these data are "+a.Release+"; values may change before the final release.")
	}
	if showsBottom {
		c.cautions = append(c.cautions, "depths and positions are as logged, not for navigation.")
	}
	c.cautions = append(c.cautions, "data are as processed and flagged, not certified.")
	c.cautions = append(c.cautions, a.Notes...)
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
