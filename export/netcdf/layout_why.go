package netcdf

import (
	"fmt"
	"math"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// layoutNames is how many casts a finding on the layout names.
const layoutNames = 5

// Layout returns why the file of these casts has no common pressure axis; nil when it has one. The finding names the
// casts that are the cause.
func Layout(casts []*section.Cast) *metadata.Finding {
	l := newLayout(casts)
	if !l.ragged && !l.aligned {
		return nil
	}
	f := &metadata.Finding{Severity: metadata.Note, Check: "netcdf.layout"}
	what :=
		"no pressure axis: the casts share too few pressures, and lie one after the other in the NetCDF file (dimension obs, row_size levels of each cast)"
	var names []string
	for _, c := range casts {
		reason := irregular(c.PressureDbar, l.ragged)
		if reason == "" {
			continue
		}
		if f.Count++; f.Count <= layoutNames {
			names = append(names, fmt.Sprintf("%s/%s (%s)", c.Station, c.Number, reason))
		}
		if f.File == "" {
			f.File = c.Source.Name
		}
	}
	if more := f.Count - len(names); more > 0 {
		names = append(names, fmt.Sprintf("and %d more", more))
	}
	switch {
	case l.aligned:
		what = "cast " + strings.Join(names, ", ") +
			": pressure is a variable by cast and level in the NetCDF file (dimension level), not its axis"
		f.Remedy =
			"nothing is lost; where a level is repeated by mistake, leave it out of the file of the cast, and pressure is the axis again"
	case len(names) > 0:
		what = "cast " + strings.Join(names, ", ") +
			": all casts lie one after the other in the NetCDF file (dimension obs, row_size levels of each cast)"
		f.Remedy = "nothing is lost; with pressures that increase in each cast the file has a pressure axis"
	default:
		f.Remedy = "nothing is lost; casts on the pressures of common bins would have an axis"
	}
	f.Message = what
	return f
}

// irregular returns what is wrong with pressures as levels of a common axis: "" nothing. decreasing asks for more than
// repetitions.
func irregular(p []float64, decreasing bool) string {
	for i, x := range p {
		switch {
		case math.IsNaN(x):
			return fmt.Sprintf("no pressure at level %d", i+1)
		case i > 0 && x < p[i-1]:
			return fmt.Sprintf("%g dbar after %g dbar", x, p[i-1])
		case i > 0 && x == p[i-1] && !decreasing:
			return fmt.Sprintf("%g dbar twice", x)
		}
	}
	return ""
}
