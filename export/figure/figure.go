// Package figure draws the pictures of a cruise: sections, geostrophic velocity, properties against each other,
// profiles and the map, each as SVG, PDF and PNG with a caption file. It takes plain values (grids, sections,
// results, casts) and draws them as they are stored. It is not a general plotting package.
//
//	figs := []figure.Figure{
//		&figure.Section{Name: "a_ctemp", Section: s, Grid: g, Field: "ctemp"},
//		&figure.StationMap{Name: "map", Casts: casts, Sections: sections},
//	}
//	made, err := figure.Write(ctx, dir, figs, figure.Options{About: about, Stamp: stamp, Workers: 2})
//
// Package page has the drawing surface, package chart the parts that figures are made of.
package figure

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/export/figure/page"
	"golang.org/x/sync/errgroup"
)

// Errors of figures that cannot be drawn; always wrapped with the values at hand.
var (
	ErrTooFewStations = errors.New("a section figure needs at least two stations")
	ErrNoField        = errors.New("the grid has no such field")
	ErrNoValues       = errors.New("no values to draw")
	ErrNoExtent       = errors.New("all stations are at the same distance")
)

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
	Formats []page.Format // nil: all
	Widths  []chart.Width // nil: two columns
	Dots    int           // per inch, of PNG files; 0: 300
	Stamp   time.Time     // date inside PDF files: that of the archive. Zero: 1970-01-01
	// at most so many figures at a time; 0: as many as there are processors. The bytes are the same for any number
	Workers int
	About   About
	// Known, when not nil, reports whether a picture file of this name was made before. A figure of which every
	// picture was is not drawn: only its caption is written.
	Known func(name string) bool
}

// A Figure is one picture to draw. The kinds are the exported structs of this package.
type Figure interface {
	// Stem is the name of the files without ending.
	Stem() string
	draw(w chart.Width) (*page.Scene, error)
	caption(a *About) (caption, error)
}

// A Refusal is a figure that could not be drawn, and why. The others are.
type Refusal struct {
	Stem string
	Err  error
}

// Made is what Write did.
type Made struct {
	// names in dir, in the order of the figures, widths and formats; each figure's caption (.txt) comes last
	Files   []string
	Refused []Refusal
}

// Refused returns the figures of which there is nothing to draw, without drawing any.
func Refused(figs []Figure, about *About) []Refusal {
	var out []Refusal
	for _, f := range figs {
		if _, err := f.caption(about); err != nil {
			out = append(out, Refusal{f.Stem(), err})
		}
	}
	return out
}

// Write draws figures into the folder dir, which must exist: STEM.svg, .pdf and .png at two columns' width,
// STEM_one_column.* at one, and STEM.txt, the caption. A figure that cannot be drawn is listed and does not
// stop the others; err is for trouble with the disk and for a cancelled ctx.
func Write(ctx context.Context, dir string, figs []Figure, o Options) (Made, error) {
	formats, widths := o.Formats, o.Widths
	if len(formats) == 0 {
		formats = page.Formats()
	}
	if len(widths) == 0 {
		widths = []chart.Width{chart.TwoColumns}
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
func render(f Figure, widths []chart.Width, formats []page.Format, o *Options) (names []string, data [][]byte,
	err error) {
	c, err := f.caption(&o.About)
	if err != nil {
		return nil, nil, err
	}
	known := o.Known != nil
	for _, w := range widths {
		for _, kind := range formats {
			name := f.Stem() + "." + string(kind)
			if w == chart.OneColumn {
				name = f.Stem() + "_one_column." + string(kind)
			}
			names = append(names, name)
			known = known && o.Known(name)
		}
	}
	names = append(names, f.Stem()+".txt")
	data = make([][]byte, len(names))
	data[len(data)-1] = []byte(c.text())
	if known {
		return names, data, nil
	}
	n := 0
	for _, w := range widths {
		s, err := f.draw(w)
		if err != nil {
			return nil, nil, err
		}
		s.Title, s.Detail = chart.PlainSpaces(c.head), chart.PlainSpaces(c.detail())
		s.Dots = o.Dots
		for _, kind := range formats {
			var b bytes.Buffer
			if err := s.Write(&b, kind, o.Stamp); err != nil {
				return nil, nil, err
			}
			data[n] = b.Bytes()
			n++
		}
	}
	return names, data, nil
}
