package ingest

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
	"github.com/castwright/castwright/section"
)

// exchangeUnits gives units of exchange files, which are written in capitals, as UDUNITS has them: those that turn up
// beside the listed ones.
var exchangeUnits = []struct{ exchange, udunits string }{
	{"S/M", "S m-1"}, {"MS/CM", "mS cm-1"}, {"MMHO/CM", "mS cm-1"}, {"MMHOS/CM", "mS cm-1"},
	{"DBAR", "dbar"}, {"BAR", "bar"}, {"KPA", "kPa"}, {"MPA", "MPa"},
	{"METERS", "m"}, {"DEG C", "degC"}, {"ITS-90", "degC"}, {"K", "K"}, {"KELVIN", "K"}, {"G/KG", "g kg-1"},
	{"M/S", "m s-1"}, {"KG/M^3", "kg m-3"}, {"/METER", "m-1"},
	{"UMOL/KG", "umol kg-1"}, {"NMOL/KG", "nmol kg-1"}, {"MMOL/KG", "mmol kg-1"}, {"UMOL/L", "umol l-1"},
	{"ML/L", "ml l-1"}, {"MG/L", "mg l-1"},
	{"MG/M^3", "mg m-3"}, {"UG/L", "ug l-1"}, {"%TRANS", "percent"}, {"V", "V"}, {"VOLT", "V"}, {"VOLTS", "V"},
	{"VDC", "V"}, {"0-5VDC", "V"}, {"MV", "mV"},
	{"UMOL/M^2/SEC", "umol m-2 s-1"}, {"UE/M^2/S", "umol m-2 s-1"}, {"SECONDS", "s"}, {"MINUTES", "min"},
	{"HOURS", "h"},
}

// conversion returns how values in a unit of an exchange file become those of a variable. Quantities without a unit are
// not converted: 35 g/kg is no practical salinity of 0.035.
func conversion(unit string, v *metadata.Variable) (units.Conversion, bool) {
	listed := metadata.ExchangeUnit(unit)
	if v.Units == "1" || v.Units == "" {
		return units.Conversion{}, false
	}
	for _, u := range exchangeUnits {
		if u.exchange == listed {
			c, err := units.Convert(u.udunits, v.Units)
			return c, err == nil
		}
	}
	return units.Conversion{}, false
}

// converts reports whether an alias would have the values of a column converted.
func converts(unit, means string) bool {
	v, ok := metadata.ByName(means)
	if !ok {
		return false
	}
	c, ok := conversion(unit, &v)
	return ok && !c.Identity()
}

// exchangeUnitOf returns a unit as exchange files write it.
func exchangeUnitOf(udunits string) string {
	for _, u := range exchangeUnits {
		if u.udunits == udunits {
			return u.exchange
		}
	}
	return strings.ToUpper(udunits)
}

// convert decides what becomes of the unit of a column that the cruise file explains: values of the same kind of
// quantity are converted, others are taken for what the cruise file says, and that is a finding.
func (b *builder) convert(f *field, v *metadata.Variable, unitLine int) {
	listed := metadata.ExchangeUnit(f.unit)
	if listed == "" || listed == v.ExchangeUnit {
		return
	}
	c, ok := conversion(f.unit, v)
	switch {
	case ok && !c.Identity():
		f.from, f.change = listed, c
	case !ok && (v.Exchange != "" || v.Units != "1"):
		want := v.ExchangeUnit
		if want == "" {
			want = exchangeUnitOf(v.Units)
		}
		b.warn(metadata.Note, "exchange.alias_unit", v.Name, unitLine, 0,
			"write the unit that the values have in the unit line, and convert them when they have another",
			"unit %q of %s is not one of %s; the values are taken as %s, as the cruise file says", f.unit, f.raw,
			v.Name, want)
	}
}

// maxConverted is the most decimals that a converted value gets.
const maxConverted = 12

// converted converts the values of a column, with the decimals that hold what was read.
func (b *builder) converted(f *field, c *section.Column) {
	per := math.Abs(f.change.Of(1) - f.change.Of(0)) // of the new unit in one of the old
	more := int(math.Ceil(-math.Log10(per) - 1e-9))
	if p := -math.Log10(per); math.Abs(p-math.Round(p)) > 1e-9 { // no power of ten: one digit more than enough
		more++
	}
	if slices.ContainsFunc(c.Values, func(v float64) bool { return !math.IsNaN(v) }) {
		c.Decimals = min(max(c.MostDecimals()+more, 0), maxConverted)
		if f.change.Of(0) != 0 {
			c.Decimals = max(c.Decimals, 2) // 273.15
		}
		c.Width = 0
	}
	c.Exceptions = nil
	scale := pow10[c.Decimals]
	for i, v := range c.Values {
		c.Values[i] = math.Round(f.change.Of(v)*scale) / scale
	}
	c.Comment = fmt.Sprintf("converted from %s to %s", f.from, c.Units)
	c.Converted = section.Conversion{From: f.from, To: c.Units}
	b.remarks = append(b.remarks, fmt.Sprintf("# %s converted from %s to %s", c.Exchange, f.from, c.ExchangeUnit))
	b.warn(metadata.Note, "exchange.converted", c.Name, b.lineOf(0), 0, "", "%s is in %s; converted to %s", f.raw,
		f.from, c.Units)
}

// toITS90 converts IPTS-68 temperatures: t90 = t68 / 1.00024, rounded to one digit more than was read and at least
// five, so that every file holds the value that is printed and the temperature read can be found again from it.
func (b *builder) toITS90(f *field, c *section.Column) {
	if slices.ContainsFunc(c.Values, func(v float64) bool { return !math.IsNaN(v) }) { // fills have no digits
		c.Decimals = min(max(c.MostDecimals()+1, 5), maxConverted)
		c.Width = 0
	}
	c.Exceptions = nil
	scale := pow10[c.Decimals]
	for i, v := range c.Values {
		c.Values[i] = math.Round(v/1.00024*scale) / scale
	}
	c.Comment = "converted from IPTS-68: t90 = t68 / 1.00024"
	c.Converted = section.Conversion{From: "IPTS-68", To: "ITS-90", Formula: "t90 = t68 / 1.00024"}
	b.remarks = append(b.remarks, "# "+c.Exchange+" converted from IPTS-68 to ITS-90: t90 = t68 / 1.00024")
	severity := metadata.Warning
	if f.alias != nil { // the cruise file says of this very column what it is
		severity = metadata.Note
	}
	b.warn(severity, "exchange.ipts68", c.Name, b.lineOf(0), 0, "",
		"%s is on IPTS-68; converted to ITS-90 (t90 = t68 / 1.00024)", f.raw)
}
