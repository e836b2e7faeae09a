// Package units understands the units of measurement that oceanographic files carry, as UDUNITS (version 2) writes
// them, in pure Go: products, quotients, powers, prefixes, units with an offset, and reference times. It is a subset,
// and guesses nothing: what UDUNITS refuses is refused, and so are spellings that UDUNITS accepts but that mean
// something else than their writer meant ("Sv" is the sievert).
//
//	c, err := units.Convert("mS cm-1", "S m-1")
//	x := c.Of(42.914)                              // 4.2914
//	u, err := units.Parse("umol/kgg")              // error: "kgg" is not a known unit; near: kg
//	t, err := units.Parse("days since 1950-01-01") // t.Time(27000.5) is noon of 4 December 2023, UTC
//
// Scales are not its subject: ITS-90 and IPTS-68 are both degC, and a conversion between them is physics, not units.
package units

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
)

// Reasons for which a unit is not understood or not converted.
var (
	ErrUnknown      = errors.New("not a known unit")
	ErrSyntax       = errors.New("not written as a unit")
	ErrRefused      = errors.New("refused")
	ErrIncompatible = errors.New("units of different quantities")
)

// An Error says which part of a unit is wrong, why, and what would be right. Err is one of the sentinels above.
type Error struct {
	Text   string   // the whole unit as written
	Part   string   // the part of it that is at fault; may be the whole
	Err    error    // which of the sentinels
	Reason string   // more about it; "" when Err says all
	Near   []string // known spellings like Part, nearest first
	Remedy string   // what to write instead; "" when that is not known
}

// Error returns the fault on one line.
func (e *Error) Error() string {
	s := fmt.Sprintf("unit %q: ", e.Text)
	if e.Part != e.Text && e.Part != "" {
		s += fmt.Sprintf("%q is ", e.Part)
	}
	s += e.Err.Error()
	if e.Reason != "" {
		s += ": " + e.Reason
	}
	if len(e.Near) > 0 {
		s += "; near: " + strings.Join(e.Near, ", ")
	}
	if e.Remedy != "" {
		s += "; " + e.Remedy
	}
	return s
}

// Unwrap returns the sentinel.
func (e *Error) Unwrap() error { return e.Err }

// dimension holds the powers of m, kg, s, K, mol and A. Angles are dimensionless, as in UDUNITS.
type dimension [6]int8

// A Unit is a parsed unit. A value x in it is factor·x + offset in SI base units, the factor being mantissa ×
// 10^exponent; the power of ten is kept apart so that a change of prefix is one correctly rounded operation. The zero
// Unit is no unit.
type Unit struct {
	text     string
	dim      dimension
	mantissa float64
	exponent int
	offset   float64
	since    time.Time // UTC; of reference times only
	isTime   bool      // a reference time: "… since …"
	number   bool      // a bare number such as "1e-3"
}

// String returns the unit as it was written.
func (u Unit) String() string { return u.text }

// Compatible reports whether values can be converted from one unit to the other: they measure the same kind of
// quantity. A duration is no reference time. Unlike UDUNITS, a quantity and its inverse (s, Hz) are not compatible.
func (u Unit) Compatible(v Unit) bool {
	return u.mantissa != 0 && v.mantissa != 0 && u.dim == v.dim && u.isTime == v.isTime
}

// Reference returns the moment, in UTC, that a reference time counts from; false for any other unit.
func (u Unit) Reference() (time.Time, bool) { return u.since, u.isTime }

// Time returns the moment in UTC that x is, to the microsecond; false if the unit is no reference time, x is
// NaN or infinite, or the moment lies outside the years 1 to 9999.
func (u Unit) Time(x float64) (time.Time, bool) {
	if !u.isTime {
		return time.Time{}, false
	}
	s := x * u.factor()
	if !(math.Abs(s) < 4e11) { // 12 000 years; NaN fails too
		return time.Time{}, false
	}
	whole := math.Floor(s)
	t := u.since.Add(time.Duration(math.Round((s-whole)*1e6)) * time.Microsecond)
	t = time.Unix(t.Unix()+int64(whole), int64(t.Nanosecond())).UTC()
	return t, t.Year() >= 1 && t.Year() <= 9999
}

func (u Unit) factor() float64 { return scale(u.mantissa, u.exponent) }

// A Conversion turns values in one unit into values in another. Its zero value makes NaN of everything.
type Conversion struct {
	factor   float64 // the value is x·factor·10^exponent + shift
	exponent int
	shift    float64
}

// Convert returns the conversion between two units as written.
func Convert(from, to string) (Conversion, error) {
	u, err := Parse(from)
	if err != nil {
		return Conversion{}, err
	}
	v, err := Parse(to)
	if err != nil {
		return Conversion{}, err
	}
	return u.To(v)
}

// To returns the conversion from u to v. The error wraps ErrIncompatible.
func (u Unit) To(v Unit) (Conversion, error) {
	if !u.Compatible(v) {
		return Conversion{}, fmt.Errorf("%w: %q is %s, %q is %s", ErrIncompatible, u.text, u.base(), v.text, v.base())
	}
	c := Conversion{factor: u.mantissa / v.mantissa, exponent: u.exponent - v.exponent}
	if u.isTime {
		d := u.since.Unix() - v.since.Unix()
		ns := u.since.Nanosecond() - v.since.Nanosecond()
		c.shift = (float64(d) + float64(ns)/1e9) / v.factor()
	} else if u.offset != v.offset {
		c.shift = (u.offset - v.offset) / v.factor()
	}
	return c, nil
}

// Identity reports whether the two units mean the same, so that values stay as they are.
func (c Conversion) Identity() bool { return c.factor == 1 && c.exponent == 0 && c.shift == 0 }

// Of converts one value. NaN stays NaN. An identity returns x itself; a change of prefix alone is correctly rounded.
func (c Conversion) Of(x float64) float64 {
	if c.factor == 0 {
		return math.NaN()
	}
	y := x
	if c.factor != 1 {
		y *= c.factor
	}
	y = scale(y, c.exponent)
	if c.shift != 0 {
		y = float64(y) + c.shift
	}
	return y
}

// Apply converts x into dst, which is as long and may be x itself, and returns dst.
func (c Conversion) Apply(dst, x []float64) []float64 {
	for i, v := range x {
		dst[i] = c.Of(v)
	}
	return dst
}

// scale is x·10^n. Up to 22 the power is exact and the result correctly rounded, for negative n too.
func scale(x float64, n int) float64 {
	switch {
	case n > 0:
		return x * math.Pow10(n)
	case n < 0:
		return x / math.Pow10(-n)
	}
	return x
}

// base names the SI base units of u, for messages.
func (u Unit) base() string {
	if u.mantissa == 0 {
		return "no unit"
	}
	var parts []string
	for i, name := range baseUnits {
		switch p := u.dim[i]; p {
		case 0:
		case 1:
			parts = append(parts, name)
		default:
			parts = append(parts, fmt.Sprintf("%s%d", name, p))
		}
	}
	s := strings.Join(parts, " ")
	switch {
	case u.isTime:
		return "a reference time"
	case s == "":
		return "dimensionless"
	}
	return "of " + s
}
