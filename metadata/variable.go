package metadata

import "slices"

// A Variable is a quantity and its names in each standard. Names are data: nothing in the program depends on them but
// this table.
type Variable struct {
	Name             string // our name, also that of the NetCDF variable
	StandardName     string // CF standard name; "" when none fits
	LongName         string
	Units            string  // UDUNITS; "1" when dimensionless; "" for a column of unknown unit
	Scale            string  // reference scale: ITS-90, IPTS-68, PSS-78; "" when it has none
	Exchange         string  // exchange parameter name; "" when the format has none
	ExchangeUnit     string  // exchange unit as the parameter list writes it
	P01              string  // NVS P01 code; "" when none could be verified
	P01Label         string  // its label; "" when it could not be verified
	P06              string  // NVS P06 code of the units
	ValidMin         float64 // gross physical limits in Units; NaN when there is none
	ValidMax         float64
	ExchangeDecimals int    // customary digits after the point; -1 when custom has none
	Comment          string // for a derived or converted quantity: how it was made
	References       string // published source of a derived quantity
}

// Variables returns a copy of the table in its fixed order.
func Variables() []Variable { return slices.Clone(variables) }

// ByName returns the variable with our name.
func ByName(name string) (Variable, bool) {
	return first(func(v *Variable) bool { return v.Name == name })
}

func first(wanted func(v *Variable) bool) (Variable, bool) {
	for i := range variables {
		if wanted(&variables[i]) {
			return variables[i], true
		}
	}
	return Variable{}, false
}

// ByExchange returns the variable with an exchange name and unit: the pair identifies the quantity (CTDOXY is one thing
// in UMOL/KG, another in ML/L). Both are compared as written in the parameter list; spellings seen in files are the
// reader's business.
func ByExchange(name, unit string) (Variable, bool) {
	return first(func(v *Variable) bool { return v.Exchange == name && name != "" && v.ExchangeUnit == unit })
}

// MustVariable returns the variable called name and panics when the table has none: for names written in this program.
func MustVariable(name string) Variable {
	v, ok := ByName(name)
	if !ok {
		panic("metadata: no variable " + name)
	}
	return v
}
