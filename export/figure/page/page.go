// Package page is a drawing surface: a page as a list of lines, areas and text, laid out once and written as
// SVG, PDF and PNG, so that the formats agree. It measures text and finds out whether a label has space. What
// the lines mean is the business of package chart.
//
//	s := page.New(200, 100)
//	s.Line(10, 90, 190, 90, page.Pen{Colour: page.Ink, Width: 0.5})
//	s.Text(page.Label{Text: "σ₀ (kg m⁻³)", At: page.Pt(100, 50), Size: 7, H: page.Middle})
//	err := s.Write(w, page.PDF, stamp)
package page

import (
	"errors"
	"fmt"
	"io"
	"time"
)

// ErrFormat is returned for a format that is none of Formats.
var ErrFormat = errors.New("no such format")

// Format is a kind of file: "svg", "pdf" or "png".
type Format string

// Formats.
const (
	SVG Format = "svg"
	PDF Format = "pdf"
	PNG Format = "png"
)

// Formats returns all formats in the order in which they are written.
func Formats() []Format { return []Format{SVG, PDF, PNG} }

// Write writes the page in a format. The stamp is the date inside a PDF file.
func (s *Scene) Write(w io.Writer, kind Format, stamp time.Time) error {
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

// A pather is what the writers of PDF and PNG have in common.
type pather interface {
	MoveTo(x, y float64)
	LineTo(x, y float64)
	ClosePath()
}

// trace hands a path to a writer, with all lengths multiplied by scale.
func trace(to pather, p Path, closed bool, scale float64) {
	for _, line := range p {
		for k, q := range line {
			if k == 0 {
				to.MoveTo(q.X*scale, q.Y*scale)
			} else {
				to.LineTo(q.X*scale, q.Y*scale)
			}
		}
		if closed {
			to.ClosePath()
		}
	}
}
