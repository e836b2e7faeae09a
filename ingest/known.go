package ingest

import (
	"errors"
	"strings"

	"github.com/castwright/castwright/metadata"
)

// A KnownLevel is one line of a table of reference levels or known velocities: for the pair of two stations, a pressure
// (dbar) or depth (m), and, in a table of velocities, the velocity there (m/s, positive as the section's positive says)
// with its standard error. A station is its name, with EXPOCODE: before it where the table names its leg.
type KnownLevel struct {
	StationA, StationB string
	PressureDbar       float64 // NaN when the table gives DepthM
	DepthM             float64 // NaN when the table gives PressureDbar
	Velocity           float64
	StandardError      float64
	At                 metadata.Position
}

// knownForm returns the columns of a table of reference levels, or of velocities.
func knownForm(velocities bool) *csvForm {
	f := csvForm{legal: []string{"station_a", "station_b", "pressure_dbar", "depth_m"},
		need: []string{"station_a", "station_b"}, oneOf: []string{"pressure_dbar", "depth_m"},
		head: "station_a,station_b,pressure_dbar"}
	if velocities {
		more := []string{"velocity_ms", "standard_error_ms"}
		f.legal, f.need = append(f.legal, more...), append(f.need, more...)
		f.head += "," + strings.Join(more, ",")
	}
	return &f
}

// ReadKnownLevels reads a table of reference levels, or with velocities true of known velocities: CSV whose first line
// names the columns station_a, station_b, pressure_dbar or depth_m, and in a table of velocities velocity_ms and
// standard_error_ms. Lines that start with # are comments. A pair occurs once, in either order of its stations. On
// error there are no levels; it joins every fault, up to 20, as *metadata.InputError. The name is only for positions.
func ReadKnownLevels(data []byte, name string, velocities bool) ([]KnownLevel, error) {
	var out []KnownLevel
	form := knownForm(velocities)
	seen := map[[2]string]int{} // line of each pair, its names in order
	err := readCSV(data, name, form, func(r *Row) {
		k := KnownLevel{StationA: r.text("station_a"), StationB: r.text("station_b"), At: r.Place("")}
		k.At.Column = 0
		pair := [2]string{min(k.StationA, k.StationB), max(k.StationA, k.StationB)}
		switch before := seen[pair]; {
		case pair[0] == "" || pair[0] == pair[1]:
			r.fail("station_a", "name two stations that follow each other in the section",
				"stations %q and %q are no pair",
				k.StationA, k.StationB)
		case before > 0:
			r.fail("station_a", "take one of the two lines out", "stations %s and %s are in line %d already",
				k.StationA, k.StationB, before)
		}
		if seen[pair] == 0 {
			seen[pair] = k.At.Line
		}
		k.PressureDbar, k.DepthM = r.given("pressure_dbar", 0, maxDbar), r.given("depth_m", 0, maxDbar)
		if velocities {
			k.Velocity, k.StandardError = r.given("velocity_ms", -10, 10), r.given("standard_error_ms", 0, 10)
		}
		out = append(out, k)
	})
	if err == nil && len(out) == 0 {
		err = &metadata.InputError{Position: metadata.Position{File: name, Line: 1},
			Err:    errors.New("no line but the first"),
			Remedy: "add a line for each pair below " + form.head}
	}
	if err != nil {
		return nil, err
	}
	return out, nil
}
