package units

import (
	"errors"
	"math"
	"math/big"
	"slices"
	"strings"
	"testing"
	"time"
)

func TestErrors(t *testing.T) {
	for _, c := range []struct {
		text string
		err  error
		says string
	}{
		{"Sv", ErrRefused, "sievert"}, {"m Sv", ErrRefused, "sievert"}, {"mSv", ErrRefused, "sievert"},
		{"Sv", ErrRefused, `"m3 s-1"`},
		{"PSU", ErrRefused, `write "1"`}, {"psu", ErrRefused, `write "1"`}, {"PSU m-1", ErrRefused, `"PSU" is refused`},
		{"NTU", ErrRefused, "scale in the comment"}, {"dyn m", ErrRefused, "multiply by 10"},
		{"gpm", ErrRefused, "9.80665"},
		{"dynamic meter", ErrRefused, "not 10"}, {"degrees Celsius", ErrRefused, `write "degC"`},
		{"C", ErrRefused, "coulomb"},
		{"ppt", ErrRefused, "per trillion"}, {"months since 2000-01-01", ErrRefused, "write days"},
		{"years", ErrRefused, "write days"},
		{"fathom", ErrRefused, "survey"}, {"none", ErrRefused, `"1"`}, {"ITS-90", ErrRefused, "scale"},
		{"umol/kgg", ErrUnknown, `"kgg" is not a known unit; near: kg`}, {"UMOL/KG", ErrUnknown, "near: umol"},
		{"dbar2x", ErrSyntax, "power"},
		{"decibra", ErrUnknown, "decibar"}, {"degree_nroth", ErrUnknown, "degree_north"},
		{"qqqqqq", ErrUnknown, "not a known unit"},
		{"", ErrSyntax, `unit "1"`}, {" m", ErrSyntax, "blanks"}, {"m\xff", ErrSyntax, "UTF-8"},
		{strings.Repeat("m", 201), ErrSyntax, "too long"},
		{"m)", ErrSyntax, "nothing opens"}, {"(m", ErrSyntax, "not closed"}, {"m/", ErrSyntax, "missing at the end"},
		{"m//s", ErrSyntax, "expected"},
		{"m2s", ErrSyntax, "power"}, {"m2.5", ErrSyntax, "whole number"}, {"m0", ErrSyntax, "-9 to 9"},
		{"m10", ErrSyntax, "-9 to 9"}, {"m^", ErrSyntax, "whole number"},
		{"m-s", ErrSyntax, "whole number"}, {"m**", ErrSyntax, "whole number"},
		{"m(s)", ErrSyntax, "between two units"}, {"m percent", ErrSyntax, `reads "per"`},
		{"m.1", ErrSyntax, "fraction"}, {"1. m", ErrSyntax, "digit"}, {"1.2.3 m", ErrSyntax, "positive number"},
		{"0 m", ErrSyntax, "positive"}, {"1e200", ErrSyntax, "positive"},
		{"-1 m", ErrSyntax, "expected"}, {"10m", ErrSyntax, "blank"}, {"(degC)2.m", ErrSyntax, "power"},
		{"1000 degC", ErrSyntax, "scale of temperature"},
		{"degC 2", ErrSyntax, "scale of temperature"}, {strings.Repeat("(", 25) + "m" + strings.Repeat(")", 25),
			ErrSyntax, "parentheses"},
		{"Ym9 Ym9", ErrSyntax, "too large"}, {"m9 m9 m9 m9 m9 m9 m9 m9 m9 m9 m9 m9", ErrSyntax, "powers"},
		{"ym9", ErrSyntax, "too large"},
		{"1e99 1e99 1e99", ErrSyntax, "too large"}, {"1.5e-99 1.5e-99 1.5e-99", ErrSyntax, "too large"},
		{"m since 2000-01-01", ErrSyntax, "unit of time"}, {"days since", ErrUnknown, "since"},
		{"days since yesterday", ErrSyntax, "date"},
		{"days since 1582-10-14", ErrSyntax, "1583"}, {"days since 2000-02-30", ErrSyntax, "date"},
		{"days since 2000-01-01 25:00", ErrSyntax, "date"},
		{"days since 2000-01-01 Z", ErrSyntax, "date"}, {"days since 2000-01-01 12:00 +99:00", ErrSyntax, "date"},
		{"days since 2000-01-01 +02:00", ErrSyntax, "date"},
	} {
		u, err := Parse(c.text)
		if !errors.Is(err, c.err) || !strings.Contains(err.Error(), c.says) || u != (Unit{}) {
			t.Errorf("%q: %v, want %v with %q", c.text, err, c.err, c.says)
		}
		var e *Error
		if !errors.As(err, &e) || e.Text != c.text {
			t.Errorf("%q: %#v is no *Error of the text", c.text, err)
		}
	}
}

func TestEveryRefusalHasARemedy(t *testing.T) {
	for text := range refusals {
		_, err := Parse(text)
		var e *Error
		if !errors.As(err, &e) || e.Err != ErrRefused || e.Reason == "" || e.Remedy == "" {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// Values whose expected result is exact by the definitions of the units (SI brochure, 9th edition).
func TestConvert(t *testing.T) {
	for _, c := range []struct {
		from, to string
		x, want  float64
	}{
		{"mS cm-1", "S m-1", 42.914, 4.2914}, {"S/m", "mS/cm", 4.2914, 42.914}, {"dbar", "Pa", 1.5, 15000},
		{"bar", "dbar", 10.1325, 101.325},
		{"degC", "K", 25, 298.15}, {"K", "degC", 273.15, 0}, {"degC/m", "K km-1", 0.003, 3},
		{"umol/kg", "mol kg-1", 250, 250e-6}, {"mmol m-3", "umol l-1", 250, 250}, {"ug/L", "mg m-3", 1.2345, 1.2345},
		{"ml l-1", "1", 5, 0.005},
		{"km", "nautical_mile", 1.852, 1}, {"knots", "m s-1", 3600, 1852}, {"degree", "rad", 180, math.Pi},
		{"percent", "1", 97.3, 0.973},
		{"degrees_west", "degrees_east", 30, -30}, {"g kg-1", "1e-3", 35, 35}, {"1e-3", "g kg-1", 35.1234, 35.1234},
		{"sverdrup", "m3 s-1", 30, 3e7},
		{"days since 1950-01-01", "hours since 1950-01-02", 2, 24}, {"seconds since 1970-01-01 00:00:00Z",
			"days since 1970-01-01", 43200, 0.5},
		{"days since 2000-01-01 00:00 +02:00", "seconds since 2000-01-01", 0, -7200}, {"min", "s", 1.5, 90},
	} {
		conv, err := Convert(c.from, c.to)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		// One unit in the last place of the result; an offset costs as much of the larger number.
		if got := conv.Of(c.x); math.Abs(got-c.want) > 2.3e-16*math.Max(math.Abs(c.want), math.Abs(conv.shift)) {
			t.Errorf("%g %s = %.17g %s, want %.17g", c.x, c.from, got, c.to, c.want)
		}
	}
}

// A change of prefix is one correctly rounded division: big.Rat computes the exact quotient.
func TestPrefixesAreExact(t *testing.T) {
	c, err := Convert("mS cm-1", "S m-1")
	if err != nil {
		t.Fatal(err)
	}
	for i := range 70000 {
		x := float64(i) / 1000
		exact := new(big.Rat).SetFloat64(x)
		want, _ := exact.Quo(exact, big.NewRat(10, 1)).Float64()
		if got := c.Of(x); got != want {
			t.Fatalf("%g: %.17g, want %.17g", x, got, want)
		}
	}
}

// NIST Special Publication 811 (2008), appendix B.8: t/degC = (t/degF - 32)/1.8.
func TestFahrenheit(t *testing.T) {
	c, err := Convert("degF", "degC")
	if err != nil {
		t.Fatal(err)
	}
	for f := -40.0; f < 220; f++ {
		if got, want := c.Of(f), (f-32)/1.8; math.Abs(got-want) > 2e-13 { // in steps of 273.15+t
			t.Errorf("%g degF: %.17g, want %.17g", f, got, want)
		}
	}
}

func TestIdentity(t *testing.T) {
	for _, p := range [][2]string{{"umol/kg", "umol kg-1"}, {"m", "metres"}, {"degC", "Celsius"}, {"1e-3", "g kg-1"},
		{"kg/m^3", "g l-1"},
		{"days since 1950-01-01", "d since 1950-1-1 00:00Z"}} {
		c, err := Convert(p[0], p[1])
		if err != nil || !c.Identity() {
			t.Errorf("%v: %+v, %v", p, c, err)
		}
		for _, x := range []float64{0.1, -1e300, math.Inf(1), math.SmallestNonzeroFloat64} {
			if c.Of(x) != x {
				t.Errorf("%v: %g becomes %g", p, x, c.Of(x))
			}
		}
	}
	c, err := Convert("degC", "K")
	if err != nil || c.Identity() {
		t.Errorf("%+v, %v", c, err)
	}
	if !math.IsNaN(c.Of(math.NaN())) || !math.IsNaN(Conversion{}.Of(1)) {
		t.Error("no NaN")
	}
	x := []float64{0, 1}
	if got := c.Apply(x, x); !slices.Equal(got, []float64{273.15, 274.15}) || &got[0] != &x[0] {
		t.Errorf("Apply: %v", got)
	}
}

func TestIncompatible(t *testing.T) {
	for _, p := range [][2]string{{"m", "s"}, {"s", "Hz"}, {"dbar", "m"}, {"umol kg-1", "ml l-1"},
		{"s", "seconds since 1970-01-01"}, {"1", "m"}, {"degC", "1"}} {
		_, err := Convert(p[0], p[1])
		if !errors.Is(err, ErrIncompatible) || !strings.Contains(err.Error(), p[0]) ||
			!strings.Contains(err.Error(), p[1]) {
			t.Errorf("%v: %v", p, err)
		}
	}
	for _, p := range [][2]string{{"Sv", "m"}, {"m", "Sv"}} {
		if _, err := Convert(p[0], p[1]); !errors.Is(err, ErrRefused) {
			t.Errorf("%v: %v", p, err)
		}
	}
	var none Unit
	if none.Compatible(none) || none.base() != "no unit" {
		t.Error("the zero unit is one")
	}
	if _, err := none.To(none); !errors.Is(err, ErrIncompatible) {
		t.Errorf("%v", err)
	}
}

// 1e9 s is the well-known second of the POSIX clock; the day count is the difference of the Julian day numbers
// 2433282.5 (1950-01-01 00:00) and 2460283.0 (2023-12-04 12:00). The rest is arithmetic of hours.
func TestTime(t *testing.T) {
	for _, c := range []struct {
		unit string
		x    float64
		want string
	}{
		{"seconds since 1970-01-01 00:00:00Z", 1e9, "2001-09-09T01:46:40Z"},
		{"days since 1970-01-01", -0.5, "1969-12-31T12:00:00Z"},
		{"hours since 2000-01-01 12:00 -03:30", 1, "2000-01-01T16:30:00Z"}, {"days since 1950-01-01T00:00:00Z", 27000.5,
			"2023-12-04T12:00:00Z"},
		{"days since 2000-01-01", 1.0 / 3, "2000-01-01T08:00:00Z"}, {"seconds since 2000-01-01", 0.0000005,
			"2000-01-01T00:00:00.000001Z"},
		{"ms since 2000-01-01 00:00:00.25", 250, "2000-01-01T00:00:00.5Z"},
	} {
		u, err := Parse(c.unit)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		if got, ok := u.Time(c.x); !ok || got.Format(time.RFC3339Nano) != c.want {
			t.Errorf("%g %s: %s, %v, want %s", c.x, c.unit, got.Format(time.RFC3339Nano), ok, c.want)
		}
	}
	u, err := Parse("days since 1950-01-01 06:00")
	if err != nil {
		t.Fatal(err)
	}
	if r, ok := u.Reference(); !ok || !r.Equal(time.Date(1950, 1, 1, 6, 0, 0, 0, time.UTC)) ||
		u.String() != "days since 1950-01-01 06:00" {
		t.Errorf("%s: %v %v", u, r, ok)
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), 1e7, -1e7, 1e300} {
		if at, ok := u.Time(x); ok {
			t.Errorf("%g: %v", x, at)
		}
	}
	m, err := Parse("m")
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := m.Time(0); ok {
		t.Error("metres have a time")
	}
	if _, ok := m.Reference(); ok {
		t.Error("metres have a reference")
	}
}

// Whatever the text: no panic; on error no unit; else the unit converts to itself unchanged, and reads back the same
// from what it was written as.
func FuzzParse(f *testing.F) {
	for _, s := range trade {
		f.Add(s)
	}
	for _, s := range []string{"days since 1950-01-01 12:00:00.5 +02:00", "(m s)2/kg", "m per s", "Sv", "1e-3 m²·s⁻¹",
		"m-s", "((", "percent percent", "degC2.5"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		u, err := Parse(s)
		if err != nil {
			if u != (Unit{}) {
				t.Errorf("%q: an error and a unit", s)
			}
			var e *Error
			if !errors.As(err, &e) {
				t.Errorf("%q: %v is no *Error", s, err)
			}
			return
		}
		if u.String() != s {
			t.Errorf("%q: String gives %q", s, u)
		}
		again, err := Parse(u.String())
		if err != nil || again != u {
			t.Errorf("%q: %+v, then %+v, %v", s, u, again, err)
		}
		c, err := u.To(u)
		if err != nil || !c.Identity() {
			t.Errorf("%q: to itself %+v, %v", s, c, err)
		}
	})
}
