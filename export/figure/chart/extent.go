package chart

import "math"

// An Extent is the range of some values.
type Extent struct{ Lo, Hi float64 }

// NoExtent returns the range of no values.
func NoExtent() Extent { return Extent{math.Inf(1), math.Inf(-1)} }

// ExtentOf returns the range of values.
func ExtentOf(values []float64) Extent {
	e := NoExtent()
	for _, v := range values {
		e.Add(v)
	}
	return e
}

// Add widens the range to hold v; NaN is left out.
func (e *Extent) Add(v float64) {
	if !math.IsNaN(v) {
		e.Lo, e.Hi = min(e.Lo, v), max(e.Hi, v)
	}
}

// Empty reports whether there were no values.
func (e Extent) Empty() bool { return e.Lo > e.Hi }

// Span returns the width of the range.
func (e Extent) Span() float64 { return e.Hi - e.Lo }

// Padded returns the range with a margin, the given part of it wide; a single value gets space around it.
func (e Extent) Padded(part float64) Extent {
	d := e.Span() * part
	if e.Span() < 1e-9*math.Max(1, math.Abs(e.Hi)) {
		d = math.Max(1e-3, math.Abs(e.Hi)*1e-3)
	}
	return Extent{e.Lo - d, e.Hi + d}
}
