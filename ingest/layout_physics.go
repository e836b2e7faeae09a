package ingest

import (
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
)

// A change is a conversion that needs other columns: oxygen per volume to oxygen per mass.
type change struct {
	name string // variable
	from string // unit
}

// oxygenUnit returns the unit of oxygen per volume, as UDUNITS writes it, that a unit of a file means; "" for any
// other.
func oxygenUnit(listed string) string {
	switch listed {
	case "ML/L", "ML L-1", "ML(STP)/L", "CM3/DM3":
		return "ml l-1"
	case "UMOL/L", "UMOL L-1", "MMOL/M3", "MMOL/M^3", "MMOL M-3", "UM", "UMOL/DM3", "MICROMOL/L":
		return "umol l-1"
	case "MG/L", "MG L-1", "MG/DM3":
		return "mg l-1"
	}
	return ""
}

// oxygenMolarMass is the mass of a mole of O2 in grams (IUPAC 2021 atomic weight of oxygen, 15.999).
const oxygenMolarMass = 31.998

// physics makes the columns that follow from others: pressure from depth, salinity from conductivity, oxygen per mass
// from oxygen per volume.
func (x *layoutCast) physics() {
	c := &x.cast
	if c.Column("pres") == nil {
		x.pressureOfDepth(c.Column("depth"))
	}
	for _, second := range []string{"", "2"} {
		if cond, t := c.Column("cond"+second), c.Column("temp"+second); c.Column("psal"+second) == nil && cond != nil &&
			t != nil {
			x.salinity("psal"+second, cond, t)
		}
	}
	for _, change := range x.changes {
		if col := c.Column(change.name); col != nil {
			x.oxygen(col, change.from)
		}
	}
}

// pressureOfDepth turns the column of depths into one of pressures, in its place.
func (x *layoutCast) pressureOfDepth(depth *section.Column) {
	v := metadata.MustVariable("pres")
	col := section.Column{Variable: v, Decimals: min(max(depth.MostDecimals(), 0)+1, maxConverted), Flags: depth.Flags,
		Values: make([]float64, len(depth.Values))}
	for i, z := range depth.Values {
		col.Values[i] = roundTo(seawater.Pressure(-z, x.cast.At[1]), col.Decimals)
	}
	col.Comment = "computed from depth in metres and latitude (TEOS-10, inverse of height from pressure)"
	col.Converted = section.Conversion{From: "depth in m", To: "dbar",
		Formula: "TEOS-10 pressure from height and latitude"}
	x.remarks = append(x.remarks, "# CTDPRS computed from depth in metres and latitude (TEOS-10)")
	x.warn(metadata.Note, "layout.depth_to_pressure", "pres", x.firstLine, 0, "",
		"the levels are depths; pressure computed from depth and latitude")
	*depth = col
}

// salinity adds practical salinity computed from conductivity. It has the decimals that the conductivity holds, at
// least four, and the worse of the flags of conductivity and temperature.
func (x *layoutCast) salinity(name string, cond, t *section.Column) {
	v := metadata.MustVariable(name)
	ExchangeColumn(&v)
	p := x.cast.Column("pres")
	col := section.Column{Variable: v, Decimals: min(max(cond.MostDecimals()-1, 4), 8),
		Values: make([]float64, len(cond.Values))}
	lost := 0
	for i, s := range cond.Values {
		col.Values[i] = roundTo(seawater.PracticalSalinity(10*s, t.Values[i], p.Values[i]), col.Decimals)
		if math.IsNaN(col.Values[i]) && !math.IsNaN(s) {
			lost++
		}
	}
	col.Flags = worseFlags(col.Values, cond.Flags, t.Flags)
	col.Comment = "computed from conductivity, temperature and pressure (PSS-78)"
	col.Converted = section.Conversion{From: "conductivity", To: "practical salinity",
		Formula: "PSS-78 of conductivity, temperature and pressure"}
	x.remarks = append(x.remarks, "# "+v.Exchange+" computed from conductivity, temperature and pressure (PSS-78)")
	x.warn(metadata.Note, "layout.conductivity", name, x.firstLine, 0, "", "no column is %s; computed from %s and %s",
		v.LongName, cond.Name, t.Name)
	x.lost(name, lost)
	x.cast.Columns = append(x.cast.Columns, col)
}

// oxygen converts oxygen per volume to oxygen per mass with the potential density referred to 0 dbar.
func (x *layoutCast) oxygen(col *section.Column, from string) {
	c := &x.cast
	p, t, s := c.Column("pres"), c.Column("temp"), c.Column("psal")
	if t == nil || s == nil {
		x.fail(x.firstLine, 0,
			"declare the columns of temperature and of salinity or conductivity; or let the column mean oxy_ml "+
				"when it is in ml/l, which is not converted",
			"%s is in %s and becomes %s only with temperature and salinity", col.Name, from, col.Units)
		return
	}
	place := seawater.PlaceOf(c.At[0], c.At[1])
	perUnit := map[string]float64{"ml l-1": 1, "umol l-1": 1 / seawater.MicromolesPerMillilitre,
		"mg l-1": 1000 / oxygenMolarMass / seawater.MicromolesPerMillilitre}[from]
	most := max(col.MostDecimals(), 0)
	per := seawater.OxygenPerMass(perUnit, 1025)
	col.Decimals = min(max(most+1-int(math.Ceil(math.Log10(per))), most-1, 0), maxConverted)
	col.Exceptions, col.Width = nil, 0
	lost := 0
	for i, o2 := range col.Values {
		sa := place.AbsoluteSalinity(s.Values[i], p.Values[i])
		density := 1000 + seawater.Sigma0(sa, seawater.ConservativeTemperature(sa, t.Values[i], p.Values[i]))
		col.Values[i] = roundTo(seawater.OxygenPerMass(perUnit*o2, density), col.Decimals)
		if math.IsNaN(col.Values[i]) && !math.IsNaN(o2) {
			lost++
		}
	}
	v := metadata.MustVariable(col.Name)
	col.ValidMin, col.ValidMax = v.ValidMin, v.ValidMax
	formula := "44.6596 umol/ml and potential density referred to 0 dbar"
	if from == "umol l-1" {
		formula = "potential density referred to 0 dbar"
	} else if from == "mg l-1" {
		formula = "31.998 g/mol and potential density referred to 0 dbar"
	}
	col.Comment = "converted from " + from + " with " + formula
	col.Converted = section.Conversion{From: from, To: col.Units, Formula: formula}
	x.remarks = append(x.remarks, "# "+col.Exchange+" converted from "+from+" to umol kg-1 with "+formula)
	x.warn(metadata.Note, "layout.oxygen", col.Name, x.firstLine, 0, "", "%s is in %s; converted to %s with %s",
		col.Name, from, col.Units, formula)
	x.lost(col.Name, lost)
	if k := slices.IndexFunc(x.field, func(f field) bool { return f.variable.Name == col.Name }); k >= 0 {
		x.checkRange(&x.field[k], col)
	}
}

// lost reports values that could not be computed since a value that they need is missing.
func (x *layoutCast) lost(name string, n int) {
	if n == 0 {
		return
	}
	f := x.warn(metadata.Warning, "layout.not_computed", name, x.firstLine, 0,
		"give the missing temperatures and salinities, or take the values out",
		"%s: %d %s not computed, since temperature or salinity is missing there", name, n,
		plural(n, "value was", "values were"))
	x.span(f, x.cast.Column("pres").Values[0], x.cast.Column("pres").Values[x.row-1], n)
}

func roundTo(v float64, decimals int) float64 {
	return math.Round(v*pow10[decimals]) / pow10[decimals]
}

// worseFlags returns the worse of two columns of flags, 9 where there is no value; nil when neither has flags.
func worseFlags(v []float64, a, b []metadata.Flag) []metadata.Flag {
	if a == nil && b == nil {
		return nil
	}
	out := make([]metadata.Flag, len(v))
	for i := range v {
		switch {
		case math.IsNaN(v[i]):
			out[i] = metadata.NotSampled
		case a == nil:
			out[i] = b[i]
		case b == nil:
			out[i] = a[i]
		default:
			out[i] = metadata.Worse(a[i], b[i])
		}
	}
	return out
}
