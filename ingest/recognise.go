package ingest

import (
	"strings"
	"time"

	"github.com/castwright/castwright/metadata"
)

// The functions here show how a layout would divide lines, and what the readers take for a number, to whoever looks for
// a layout of a file.

// Divide returns the fields of a line that is divided by blanks, or by the delimiter of the layout.
func (l *Layout) Divide(line string) []string {
	var out []string
	for _, p := range l.divide(nil, []byte(line), l.Delimiter) {
		out = append(out, string(p.text))
	}
	return out
}

// Names returns the names of columns in a line, each with the unit in brackets behind it.
func (l *Layout) Names(line string) []ColumnName { return l.namesOf([]byte(line), l.Delimiter) }

// Number returns the value of a plain decimal number or one with an exponent, and the digits after its point.
func Number(s string) (v float64, decimals int, ok bool) {
	v, decimals, q, ok := scanNumber([]byte(s))
	return v, decimals, ok && (q == plain || q == odd)
}

// BeginsAs reports whether the bytes of a file begin with the word of an exchange file: CTD or BOTTLE.
func BeginsAs(data []byte, word string) bool { return stamped(data[:min(len(data), 64<<10)], word) }

// Converts reports whether the reader of layouts takes values in a unit for those of a variable, converted where they
// must be.
func Converts(unit, means string) bool {
	v, ok := metadata.ByName(means)
	if !ok {
		return false
	}
	listed := metadata.ExchangeUnit(strings.TrimSpace(plainUnit(unit)))
	switch {
	case listed == "" || listed == v.ExchangeUnit || strings.EqualFold(unit, v.Units), oxygenUnit(listed) != "" &&
		v.Units == "umol kg-1",
		listed == "RATIO" && v.Units == "S m-1", v.Scale == "ITS-90" && (listed == "IPTS-68" || listed == "DEG C" ||
			listed == "ITS-90"),
		v.Scale == "PSS-78" && listed == "PSS-78":
		return true
	}
	_, err := layoutConversion(plainUnit(unit), listed, &v)
	return err == nil
}

// ReadDate reads a date whose numbers are in an order, and returns what follows it.
func ReadDate(s string, order DateOrder) (day time.Time, rest string, err error) {
	return readOrderedDate(s, order)
}
