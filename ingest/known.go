package ingest

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/castwright/castwright/metadata"
)

// A KnownLevel is one line of a table of reference levels or known velocities: for the pair of two stations, a pressure (dbar) or depth (m),
// and, in a table of velocities, the velocity there (m/s, positive as the section's positive says) with its standard error.
type KnownLevel struct {
	StationA, StationB string
	PressureDbar       float64 // NaN when the table gives DepthM
	DepthM             float64 // NaN when the table gives PressureDbar
	Velocity           float64
	StandardError      float64
	At                 metadata.Position
}

// ReadKnownLevels reads such a table: CSV with a head line that names station_a, station_b and pressure_dbar or depth_m, and with velocities true
// velocity_ms and standard_error_ms too. Lines that start with # are comments. A pair stands once, in either order of its stations. The
// error joins every problem, up to 20.
func ReadKnownLevels(data []byte, name string, velocities bool) ([]KnownLevel, error) {
	want := []string{"station_a", "station_b"}
	legal := []string{"station_a", "station_b", "pressure_dbar", "depth_m"}
	if velocities {
		want = append(want, "velocity_ms", "standard_error_ms")
		legal = append(legal, "velocity_ms", "standard_error_ms")
	}
	fail := func(line, column int, remedy, format string, a ...any) error {
		return &metadata.InputError{Position: metadata.Position{File: name, Line: line, Column: column}, Err: fmt.Errorf(format, a...), Remedy: remedy}
	}
	head := "write a first line such as " + strings.Join(want[:2], ",") + ",pressure_dbar" + map[bool]string{true: ",velocity_ms,standard_error_ms"}[velocities]
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))))
	r.Comment, r.TrimLeadingSpace, r.FieldsPerRecord = '#', true, 0
	names, err := r.Read()
	var unread *csv.ParseError
	switch {
	case errors.As(err, &unread):
		return nil, fail(unread.Line, unread.Column, head, "%w", unread.Err)
	case err != nil:
		return nil, fail(1, 0, head, "the table is empty")
	}
	first, _ := r.FieldPos(0)
	at := map[string]int{}
	for i, n := range names {
		n = strings.ToLower(strings.TrimSpace(n))
		_, col := r.FieldPos(i)
		known := false
		for _, l := range legal {
			known = known || l == n
		}
		if !known {
			remedy := head
			if near, ok := metadata.Nearest(n, legal); ok {
				remedy = "did you mean " + near
			}
			return nil, fail(first, col, remedy, "column %q is not a known column", n)
		}
		if _, twice := at[n]; twice {
			return nil, fail(first, col, "take one out", "column %q occurs twice", n)
		}
		at[n] = i
	}
	for _, n := range want {
		if _, ok := at[n]; !ok {
			return nil, fail(first, 0, head, "no column %s", n)
		}
	}
	_, byPressure := at["pressure_dbar"]
	_, byDepth := at["depth_m"]
	switch {
	case byPressure && byDepth:
		return nil, fail(first, 0, "take one of the two columns out", "the columns pressure_dbar and depth_m both say where the level is")
	case !byPressure && !byDepth:
		return nil, fail(first, 0, head, "no column pressure_dbar or depth_m")
	}
	var out []KnownLevel
	var errs []error
	seen := map[[2]string]int{} // line of each pair, its names in order
	for len(errs) < maxTableErrors {
		rec, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				remedy := "end the field with a quotation mark, or write it without"
				if errors.Is(pe.Err, csv.ErrFieldCount) {
					remedy = "give each line as many fields as the head line"
				}
				errs = append(errs, fail(pe.Line, pe.Column, remedy, "%w", pe.Err))
			}
			break
		}
		k := KnownLevel{PressureDbar: math.NaN(), DepthM: math.NaN(), StationA: strings.TrimSpace(rec[at["station_a"]]), StationB: strings.TrimSpace(rec[at["station_b"]])}
		line, _ := r.FieldPos(0)
		k.At = metadata.Position{File: name, Line: line}
		number := func(column string, lowest, highest float64) float64 {
			i := at[column]
			text := strings.TrimSpace(rec[i])
			v, err := strconv.ParseFloat(text, 64)
			if err != nil || !(v >= lowest && v <= highest) {
				l, c := r.FieldPos(i)
				errs = append(errs, fail(l, c, fmt.Sprintf("give a number from %g to %g, digits with a point", lowest, highest), "%s is %q", column, text))
				return math.NaN()
			}
			return v
		}
		if k.StationA == "" || k.StationB == "" || k.StationA == k.StationB {
			errs = append(errs, fail(line, 0, "name two stations that follow each other in the section", "stations %q and %q are no pair", k.StationA, k.StationB))
		} else {
			pair := [2]string{min(k.StationA, k.StationB), max(k.StationA, k.StationB)}
			if before := seen[pair]; before > 0 {
				errs = append(errs, fail(line, 0, "take one of the two lines out", "stations %s and %s stand in line %d already", k.StationA, k.StationB, before))
			} else {
				seen[pair] = line
			}
		}
		if byPressure {
			k.PressureDbar = number("pressure_dbar", 0, 12000)
		} else {
			k.DepthM = number("depth_m", 0, 12000)
		}
		if velocities {
			k.Velocity = number("velocity_ms", -10, 10)
			k.StandardError = number("standard_error_ms", 0, 10)
		}
		out = append(out, k)
	}
	if err := errors.Join(errs[:min(len(errs), maxTableErrors)]...); err != nil {
		return nil, err
	}
	if len(out) == 0 {
		return nil, fail(first+1, 0, "add a line for each pair", "no line but the head")
	}
	return out, nil
}
