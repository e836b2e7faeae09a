package netcdf

import (
	"strings"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
)

func (b *gridded) field(f *gridding.Field) {
	v := doubleOrMissing(FieldName(f), nil, b.dims...)
	parent := b.parent(f)
	coordinates := b.coordinates
	if dbar, ok := sigmaReference(parent.Name); ok && !strings.Contains(coordinates, referenceName(dbar)) {
		coordinates += " " + referenceName(dbar)
		referencePressure(&b.p, dbar)
	}
	var a attrs
	switch f.Kind {
	case gridding.Value:
		a = b.values(f)
	case gridding.StandardError, gridding.RelativeError:
		a = b.quality(f, &parent)
	case gridding.CountField:
		v.Type, v.Fill = nc.Int, nil
		a.text(
			"standard_name", "number_of_observations",
			"long_name", "number of data used for "+parent.Name,
			"units", "1",
			"coverage_content_type", "auxiliaryInformation",
		)
	default:
		v.Type, v.Fill = nc.Byte, nil
		a = codes(f, &parent)
		if f.Kind == gridding.MaskReason && axisWord(&b.g.Axes[0]) != "pressure" {
			a.text("comment", "above_first_bin: all water of the column is denser than the surface; below_bottom, "+
				"no_data or error_above_limit: the surface is not above the deepest value, below which the grid has "+
				"none for this reason")
		}
	}
	a.text("coordinates", coordinates)
	v.Attrs = a
	b.p.field(v, f.Data)
}

// values returns the attributes of a mapped quantity or of a change.
func (b *gridded) values(f *gridding.Field) attrs {
	q := f.Variable
	if b.from.Reference != "" {
		q.Comment = joinNonEmpty("; ", q.Comment, "less that of "+b.from.Reference)
	}
	bits := b.bits(f)
	q.Comment = joinNonEmpty("; ", q.Comment, "settings in grid_settings_json", roundingText(bits))
	a := quantity(&q)
	a.bits(bits)
	if b.from.Reference != "" && q.Units == "K" {
		a.text("units_metadata", "temperature: difference")
	}
	a.text(
		"cell_methods", b.method,
		"ancillary_variables", strings.Join(b.companions(f.Name), " "),
	)
	if s := b.x.Cruise.Release.PerVariable[f.Name]; s != "" {
		a.text("release_status", string(s))
	}
	b.skill(&a, f.Name)
	a.text("coverage_content_type", "modelResult")
	return a
}

// bits returns how many bits of the mantissa are kept of a field. Where other values are computed again from those of
// the file it is 0, all: density from salinity and temperature, surfaces of density from all values of a map, a change
// as the sum of its parts.
func (b *gridded) bits(f *gridding.Field) int {
	if !b.along || b.from.Reference != "" || f.Kind == gridding.Value && (f.Name == "asal" || f.Name == "ctemp") {
		return 0
	}
	return bitsOf(FieldName(f))
}

// quality returns the attributes of an error.
func (b *gridded) quality(f *gridding.Field, parent *metadata.Variable) (a attrs) {
	change, bits := b.from.Reference != "", b.bits(f)
	long, units := "error variance of the mapped "+parent.Name+" divided by signal variance", "1"
	switch {
	case f.Kind == gridding.StandardError:
		if parent.StandardName != "" {
			a.text("standard_name", parent.StandardName+" standard_error")
		}
		long, units = "standard error of the mapped "+parent.Name, parent.Units
		if change {
			long = "standard error of " + parent.Name
		}
	case change:
		long = "square of twice the standard error of " + parent.Name + " over its value"
	}
	a.text(
		"long_name", long,
		"units", units,
	)
	if units == "degC" || units == "K" {
		a.text("units_metadata", "temperature: difference")
	}
	a.text(
		"comment", joinNonEmpty("; ", f.Comment, "settings in grid_settings_json", roundingText(bits)),
		"coverage_content_type", "qualityInformation",
	)
	a.bits(bits)
	return a
}

// codes returns the attributes of a field of codes.
func codes(f *gridding.Field, parent *metadata.Variable) (a attrs) {
	var long string
	var values []int8
	var words []string
	switch f.Kind {
	case gridding.MaskReason:
		long, words = "why "+parent.Name+" has no value here", gridding.MaskReasons()
		for i := range words {
			values = append(values, int8(i))
		}
	case gridding.Extrapolated:
		long = "whether " + parent.Name + " was held to the range of the data or extended below them"
		values, words = gridding.ExtrapolatedCodes()
	case gridding.ChangeCode:
		long = "whether the change on density is defined, and why not"
		values, words = gridding.ChangeCodes()
	}
	a.text(
		"standard_name", "status_flag",
		"long_name", long,
	)
	a.add("flag_values", values)
	a.text(
		"flag_meanings", strings.Join(words, " "),
		"coverage_content_type", "qualityInformation",
	)
	return a
}
