package netcdf

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// WriteCasts writes all casts of a cruise at path (ID_ctd.nc): a CF profile collection, orthogonal when the casts share
// one pressure lattice, with pressure by cast and level when one of them repeats a pressure, else contiguous ragged
// (see Layout). Each column becomes a variable, unlisted and text columns too, with its flags in force,
// the proposals of the checks, and the table of sensors. Casts keep the order given. An error of a cast names it by its
// ID.
func WriteCasts(ctx context.Context, path string, x *Common, casts []*section.Cast) error {
	if err := x.checkCasts(casts); err != nil {
		return err
	}
	b := newProfiles(x, casts, newLayout(casts), "profile", true)
	b.instances()
	b.bottom()
	if err := b.sensors(); err != nil {
		return err
	}
	b.vertical()
	b.columns()
	b.globals("CTD casts", "ctd_profiles",
		fmt.Sprintf("%s at their own levels, measured and derived, with quality flags", count(len(casts), "CTD cast")),
		nil)
	return b.p.write(ctx, path, x.Workers)
}

// profiles is a file of casts in the making, all of a cruise or those of a section.
type profiles struct {
	x      *Common
	p      plan
	casts  []*section.Cast
	l      *layout
	pres   group // pressure, which is a coordinate, for its flags
	groups []group

	profile     int    // dimensions
	level       int    // pres or obs
	coordinates string // of data at levels
	perCast     string // of data with one value a cast
	method      string // cell_methods of bin means; "" when the bins are not known
	table       bool   // there is a table of sensors
	counts      bool   // there is a number of scans of each bin
	names       map[string]bool
}

// fixedNames are names of dimensions and of variables that files of casts have whatever was measured.
var fixedNames = []string{"profile_id", "expocode", "station", "cast", "cast_direction", "cast_role", "cast_section",
	"system", "system_label", "system_note", "sensor_system", "sensor_variable", "sensor_model", "sensor_serial",
	"sensor_calibrated", "sensor_stage", "time", "time_meaning", "time_precision", "lat", "lon", "bottom_depth",
	"pres", "pres_flag_woce", "pres_flag_auto", "pres_bnds", "row_size", "distance", "section_id", "series_id",
	"cast_lat", "cast_lon", "profile", "obs",
	"level", "nv", "n_system", "n_sensor"}

// Reserved reports whether a column that is copied unchanged cannot have the name in every file of casts, since some
// may give it to another variable.
func Reserved(name string) bool {
	name = strings.ToLower(name)
	for _, suffix := range []string{"_flag_woce", "_flag_auto", "_derived"} {
		if base, ok := strings.CutSuffix(name, suffix); ok {
			if _, listed := metadata.ByName(base); listed {
				return true
			}
		}
	}
	for k := range 5 {
		if name == referenceName(1000*float64(k)) {
			return true
		}
	}
	return slices.Contains(fixedNames, name)
}

// newProfiles begins a file of casts in a layout; along is the name of their dimension.
func newProfiles(x *Common, casts []*section.Cast, l *layout, along string, proposals bool) *profiles {
	b := &profiles{x: x, casts: casts, l: l, names: map[string]bool{}}
	b.profile = b.p.dim(along, len(casts))
	switch {
	case b.l.ragged:
		b.level = b.p.dim("obs", b.l.obs)
	case b.l.aligned:
		b.level = b.p.dim("level", len(b.l.pressures))
	default:
		b.level = b.p.dim("pres", len(b.l.pressures))
	}
	b.coordinates, b.perCast = "time lat lon", "time lat lon"
	if b.l.ragged || b.l.aligned {
		b.coordinates += " pres"
	}
	for _, n := range fixedNames {
		b.names[n] = true
	}
	for k := range 5 {
		b.names[referenceName(1000*float64(k))] = true
	}
	b.groups = b.group()
	b.pres = group{name: "pres", v: metadata.Variable{LongName: "pressure"},
		columns: make([]*section.Column, len(casts))}
	for i, c := range casts {
		b.pres.columns[i] = c.Column("pres")
	}
	b.pres.examine(b.l, proposals)
	for i := range b.groups {
		b.groups[i].examine(b.l, proposals)
		b.counts = b.counts || b.groups[i].counts
	}
	return b
}

func longName(s string) nc.Attr { return nc.Attr{Name: "long_name", Value: s} }

func withDecimals(a []nc.Attr, decimals int) []nc.Attr {
	if decimals < 0 {
		return a
	}
	return append(a, nc.Attr{Name: "decimals", Value: int32(decimals)})
}

// dims returns the dimensions of data at levels.
func (b *profiles) dims() []int {
	if b.l.ragged {
		return []int{b.level}
	}
	return []int{b.profile, b.level}
}

// missingCount is a count that the source does not have; 0 is an empty bin.
const missingCount = int32(-999)

// globals closes the description of the file.
func (b *profiles) globals(what, suffix, summary string, extra []nc.Attr) {
	b.globalsOf("profile", "Profile", what, suffix, summary, extra)
}

// globalsOf is globals for a featureType, with the data type that it is in words.
func (b *profiles) globalsOf(feature, dataType, what, suffix, summary string, extra []nc.Attr) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, c := range b.casts {
		for _, p := range c.PressureDbar {
			if !math.IsNaN(p) {
				lo, hi = min(lo, p), max(hi, p)
			}
		}
	}
	bin, resolution := "", ""
	if widths, _, known := b.bins(); known &&
		!slices.ContainsFunc(widths, func(w float64) bool { return w != widths[0] }) {
		bin, resolution = fmt.Sprintf("%g-dbar bin averages", widths[0]), fmt.Sprintf("%g dbar", widths[0])
	}
	b.x.globals(&b.p, &file{
		what: what, idSuffix: suffix, feature: feature, dataType: dataType, summary: summary, casts: b.casts,
		source:   joinNonEmpty("; ", "CTD casts lowered from a ship", bin),
		level:    joinNonEmpty(", ", bin, b.x.calibration(), b.x.status()),
		vertical: [2]float64{lo, hi}, verticalUnit: "dbar", resolution: resolution, extra: extra,
	})
}

// count returns "1 cast", "12 casts".
func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return strconv.Itoa(n) + " " + what + "s"
}
