package netcdf

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// Conventions is what every file declares.
const Conventions = "CF-1.11 ACDD-1.3"

// Vocabulary is the table that the standard names are from.
const Vocabulary = "CF Standard Name Table v83"

// caution is in every file: what it may not be used for.
const caution = "depths and positions are as logged, not for navigation; data are as processed and flagged, not certified"

// Errors of casts that CF has no place for; always wrapped with the cast's ID.
var (
	ErrNoCasts    = errors.New("no casts to write")
	ErrNoLevels   = errors.New("no level of any cast has a pressure")
	ErrNoTime     = errors.New("cast without a date")
	ErrNoPosition = errors.New("cast without a position")
	ErrNoExpocode = errors.New("cast without an expocode")
	ErrSameID     = errors.New("two casts with one identity")
	ErrSystem     = errors.New("cast of a sensor system that the cruise file does not have")
	ErrGrid       = errors.New("grid that cannot be written")
)

// Common is what all files of one archive share.
type Common struct {
	Cruise  *metadata.Cruise
	Created time.Time // the archive's time stamp, not the clock
	Program string    // name and version, for the history
	History []metadata.Record
	Workers int // goroutines that compress; 0 is one

	// ID returns the identity of a cast within the cruise; nil: Cast.ID.
	ID func(*section.Cast) string
	// Status is the release status in this file; "": that of the cruise.
	Status metadata.Status
}

func (x *Common) id(c *section.Cast) string {
	if x.ID != nil {
		return x.ID(c)
	}
	return c.ID()
}

// seconds returns a time in seconds since 1970, as the table of variables has it, to the millisecond.
func seconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }

func expocodesOf(casts []*section.Cast) []string {
	var out []string
	for _, c := range casts {
		if !slices.Contains(out, c.Expocode) {
			out = append(out, c.Expocode)
		}
	}
	return out
}

// standardNames lists the standard names of the sea's quantities in the file, in its order.
func standardNames(s *nc.Schema) []string {
	var out []string
	for i := range s.Vars {
		n := s.Vars[i].Text("standard_name")
		kind := s.Vars[i].Text("coverage_content_type")
		if (kind == "physicalMeasurement" || kind == "modelResult") && n != "" && !strings.Contains(n, " ") &&
			!slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	return out
}

func joinNonEmpty(sep string, parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), sep)
}

// sentence returns s with a full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}

// checkCasts holds casts to what a profile must have: an identity of its own, a date, a position.
func (x *Common) checkCasts(casts []*section.Cast) error {
	if len(casts) == 0 {
		return ErrNoCasts
	}
	var errs []error
	if !slices.ContainsFunc(casts, func(c *section.Cast) bool {
		return slices.ContainsFunc(c.PressureDbar, func(p float64) bool { return p == p })
	}) {
		errs = append(errs, ErrNoLevels)
	}
	seen := make(map[string]bool, len(casts))
	for _, c := range casts {
		id := x.id(c)
		switch {
		case c.Expocode == "":
			errs = append(errs, fmt.Errorf("%s: %w", id, ErrNoExpocode))
		case c.Time.IsZero():
			errs = append(errs, fmt.Errorf("%s: %w", id, ErrNoTime))
		case !onEarth(c.At):
			errs = append(errs, fmt.Errorf("%s: %w: %v", id, ErrNoPosition, c.At))
		case seen[id]:
			errs = append(errs, fmt.Errorf("%s: %w", id, ErrSameID))
		}
		seen[id] = true
	}
	return errors.Join(errs...)
}

func onEarth(p orb.Point) bool { return math.Abs(p.Lat()) <= 90 && math.Abs(p.Lon()) <= 360 }

// double returns a variable of doubles; dims none: a scalar.
func double(name string, a attrs, dims ...int) nc.Var {
	return nc.Var{Name: name, Type: nc.Double, Dims: dims, Attrs: a}
}

// doubleOrMissing is double for values that may be missing.
func doubleOrMissing(name string, a attrs, dims ...int) nc.Var {
	v := double(name, a, dims...)
	v.Fill = fillValue
	return v
}

// coordinate returns the variable of time, lat or lon, which every file has. axis is "" for auxiliary coordinates of a
// grid, since CF keeps the attribute for coordinate variables.
func coordinate(name, axis, long string, dims ...int) nc.Var {
	v := metadata.MustVariable(name)
	v.LongName = long
	a := quantity(&v)
	if name == "time" {
		a.text("calendar", "standard")
	}
	a.text("axis", axis, "coverage_content_type", "coordinate")
	return double(name, a, dims...)
}

// vertical returns the attributes of pressure or density as a coordinate: it increases downwards.
func vertical(v *metadata.Variable) attrs {
	a := quantity(v)
	a.text("positive", "down", "axis", "Z", "coverage_content_type", "coordinate")
	return a
}

// rowSizes returns the number of levels of each row of a ragged layout.
func (l *layout) rowSizes() []int32 {
	rows := make([]int32, len(l.rows))
	for i, n := range l.rows {
		rows[i] = int32(n)
	}
	return rows
}

// quantity returns the attributes that a quantity brings along from the table of variables.
func quantity(v *metadata.Variable) attrs {
	var a attrs
	a.text("standard_name", v.StandardName)
	long := v.LongName
	if long == "" {
		long = v.Name
	}
	a.text(
		"long_name", long,
		"units", v.Units,
	)
	if v.Units == "degC" || v.Units == "K" {
		a.text("units_metadata", "temperature: on_scale")
	}
	if v.StandardName == "depth" { // CF 4.3: what can be a vertical coordinate says which way it counts
		a.text("positive", "down")
	}
	a.text(
		"reference_scale", v.Scale,
		"comment", v.Comment,
		"references", v.References,
	)
	return a
}

// vocabularyCodes adds the exchange name and the NVS codes by which data centres know a quantity. Parameter codes name
// a method, that of a sensor or of the equations of 1983, so a derived quantity has only the code of its units.
func vocabularyCodes(a *attrs, v *metadata.Variable, derived bool) {
	if !derived {
		a.text(
			"exchange_name", v.Exchange,
			"exchange_unit", v.ExchangeUnit,
		)
		if v.P01 != "" {
			a.text(
				"sdn_parameter_urn", "SDN:P01::"+v.P01,
				"sdn_parameter_name", v.P01Label,
			)
		}
	}
	if v.P06 != "" {
		a.text("sdn_uom_urn", "SDN:P06::"+v.P06)
	}
}
