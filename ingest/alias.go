package ingest

import (
	"fmt"
	"math"
	"strings"

	"github.com/castwright/castwright/metadata"
)

// An Alias says what a column is that the reader does not know: Column and Unit as read, either "" for any, Means one
// of our variable names. It has the shape of cruisefile.Alias, so that the one converts to the other.
type Alias struct {
	Column, Unit string
	Means        string
	At           metadata.Position
}

// names reports whether an alias is for a column.
func (a *Alias) names(f *field) bool {
	return (a.Column != "" || a.Unit != "") && (a.Column == "" || strings.EqualFold(a.Column, f.raw)) &&
		(a.Unit == "" || strings.EqualFold(a.Unit, f.unit) || strings.EqualFold(a.Unit, metadata.ExchangeUnit(f.unit)))
}

// alias looks the column up in what the cruise file says.
func (b *builder) alias(f *field, unitLine int) (metadata.Variable, bool) {
	for i := range b.o.Aliases {
		a := b.o.Aliases[i]
		if !a.names(f) {
			continue
		}
		f.alias, f.aliasNo = &a, i
		v, ok := metadata.ByName(a.Means)
		if !ok {
			b.errs = append(b.errs, &metadata.InputError{Position: a.At,
				Err:    fmt.Errorf("alias of column %s: no variable is called %q", a.Column, a.Means),
				Remedy: "use a variable name of the table, such as temp2 or psal2"})
			return v, false
		}
		f.to90 = v.Scale == "ITS-90" && metadata.ExchangeUnit(f.unit) == "IPTS-68"
		if !f.to90 {
			b.convert(f, &v, unitLine)
		}
		if v.Exchange == "" { // the format has no name for it: it keeps the one it came with
			v.Exchange, v.ExchangeUnit = f.raw, metadata.ExchangeUnit(f.unit)
			switch {
			case f.to90:
				v.ExchangeUnit = "ITS-90"
			case f.from != "":
				v.ExchangeUnit = exchangeUnitOf(v.Units)
			}
		}
		return v, true
	}
	return metadata.Variable{}, false
}

// listed looks up the pair of parameter and unit.
func (b *builder) listed(f *field, name string, line, unitLine, column int, taken map[string]bool) (metadata.Variable,
	bool) {
	unit := metadata.ExchangeUnit(f.unit)
	v, ok := metadata.ByExchange(name, unit)
	if ok {
		if unit != f.unit && !taken[v.Name] {
			b.warn(metadata.Note, "exchange.unit", v.Name, unitLine, 0, "", "unit %q of %s read as %s", f.unit, f.raw,
				unit)
		}
		f.unit = unit
		return v, true
	}
	if v, ok = metadata.ByExchange(name, "ITS-90"); ok { // temperatures have two further units
		switch {
		case taken[v.Name]:
			return v, false
		case unit == "IPTS-68":
			f.to90 = true
			f.unit = unit
			return v, true
		case unit == "DEG C" || unit == "":
			b.warn(metadata.Warning, "exchange.temperature_scale", v.Name, unitLine, 0,
				"write ITS-90 or IPTS-68 in the unit line when you know which it is",
				"unit %q of %s does not say the temperature scale; taken as ITS-90", f.unit, f.raw)
			f.unit, v.ExchangeUnit, v.Scale = "DEG C", "DEG C", ""
			v.Comment = "the file does not say the temperature scale; taken as ITS-90"
			return v, true
		}
		return v, false
	}
	if unit != "" {
		return v, false
	}
	one := 0
	for _, u := range metadata.Variables() {
		if u.Exchange == name && name != "" {
			v, one = u, one+1
		}
	}
	if one != 1 || taken[v.Name] {
		return v, false
	}
	b.warn(metadata.Warning, "exchange.unit", v.Name, unitLine, 0, "", "column %s has no unit; taken as %s", f.raw,
		v.ExchangeUnit)
	f.unit = v.ExchangeUnit
	return v, true
}

// secondSensor guesses what a listed name with a 2 behind it (CTDTMP2) means: the second sensor of that variable, in
// its unit; "..." when there is none.
func secondSensor(name, unit string) string {
	for _, v := range metadata.Variables() {
		if v.Exchange != "" && name == v.Exchange+"2" && metadata.ExchangeUnit(unit) == v.ExchangeUnit {
			if w, ok := metadata.ByName(v.Name + "2"); ok {
				return w.Name
			}
		}
	}
	return "..."
}

// unlisted makes a column that is carried through.
func (b *builder) unlisted(f *field, line, column int, taken map[string]bool) {
	f.variable = b.carried(f, taken)
	means, known := "...", []string{}
	for _, v := range metadata.Variables() {
		if v.Exchange != "" && v.Exchange == metadata.ExchangeName(f.raw, b.bottle) {
			if means == "..." {
				means = v.Name
			}
			known = append(known, v.ExchangeUnit)
		}
	}
	if means == "..." {
		means = secondSensor(f.raw, f.unit)
	}
	when := "if it is one of our variables"
	if len(known) > 0 && !taken[means] {
		when = "when its values are in " + strings.Join(known, " or ") + " all the same"
		if converts(f.unit, means) {
			when = "to have it converted"
		}
	}
	say := []metadata.Option{{Text: when + ", say so", Paste: metadata.Alias(f.raw, f.unit, means)}}
	if len(known) > 0 && !taken[means] {
		w := b.warn(metadata.Warning, "exchange.unlisted", f.raw, line, column, "",
			"column %s has unit %q, which is none of its known units (%s); copied unchanged",
			f.raw, f.unit, strings.Join(known, ", "))
		w.Options = say
		return
	}
	if metadata.ListedPair(f.raw, f.unit) {
		b.warn(metadata.Note, "exchange.unlisted", f.raw, line, column, "",
			"column %s with unit %q is in the parameter list of the format, but nothing is computed from it; copied unchanged",
			f.raw, f.unit)
		return
	}
	w := b.warn(metadata.Note, "exchange.unlisted", f.raw, line, column, "",
		"column %s with unit %q is not a known variable; copied unchanged", f.raw, f.unit)
	w.Options = say
}

// carried returns a variable for a column that is not in the table, named after it.
func (b *builder) carried(f *field, taken map[string]bool) metadata.Variable {
	safe := []byte(strings.ToLower(f.raw))
	for i, c := range safe {
		if !(c >= 'a' && c <= 'z' || c >= '0' && c <= '9') {
			safe[i] = '_'
		}
	}
	name := string(safe)
	if name == "" || name[0] < 'a' {
		name = "column_" + strings.TrimLeft(name, "_")
	}
	if _, ours := metadata.ByName(name); ours {
		name = "column_" + name
	}
	for base, i := name, 2; taken[name]; i++ {
		name = fmt.Sprintf("%s_%d", base, i)
	}
	taken[name] = true
	return metadata.Variable{Name: name, LongName: f.raw + " as read", Exchange: f.raw, ExchangeUnit: f.unit,
		ValidMin: math.NaN(), ValidMax: math.NaN(), ExchangeDecimals: -1}
}
