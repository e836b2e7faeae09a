package export

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// ErrNotExchange is a cast that the exchange format cannot hold.
var ErrNotExchange = errors.New("cannot be written as an exchange file")

// WriteExchange writes one cast as an exchange CTD file, strictly to version 1.3 of the format (exchange.md sections 1,
// 2 and 6): UTF-8, LF, the header in its preferred order, -999 for missing values, each column in its own decimals.
// Columns that were derived here, and quantities that the format has no name for, are not written: see ExchangeColumns.
// Comments stand behind the first line whatever their place was, save those behind END_DATA; headers that the standard
// does not list become comments "# HEADER NAME = VALUE", which ingest reads back.
func WriteExchange(w io.Writer, c *section.Cast) error {
	b, err := AppendExchange(nil, c)
	if err != nil {
		return err
	}
	_, err = w.Write(b)
	return err
}

// ExchangeColumns returns the indices of the columns of c that an exchange file holds, and of measured ones that it
// cannot hold: without an exchange name, or of a name that an earlier column has.
func ExchangeColumns(c *section.Cast) (written, omitted []int) {
	names := map[string]bool{}
	for i := range c.Columns {
		k := &c.Columns[i]
		switch {
		case k.Derived:
		case k.Exchange == "" || names[k.Exchange]:
			omitted = append(omitted, i)
		default:
			names[k.Exchange] = true
			written = append(written, i)
		}
	}
	return written, omitted
}

// exchangeColumn is one column as it is written.
type exchangeColumn struct {
	next int // exception that comes next
	*section.Column
	decimals, width int
	flags           []byte // digits; nil for no flag column
}

// AppendExchange appends what WriteExchange writes to dst.
func AppendExchange(dst []byte, c *section.Cast) ([]byte, error) {
	fail := func(format string, args ...any) ([]byte, error) {
		return nil, fmt.Errorf("cast %s: %w: %s", c.ID(), ErrNotExchange, fmt.Sprintf(format, args...))
	}
	pres := c.Column("pres")
	switch {
	case pres == nil || pres.Exchange == "":
		return fail("it has no pressure column")
	case c.Expocode == "" || c.Station == "" || c.Number == "":
		return fail("expocode, station or cast number is missing")
	case c.Time.IsZero():
		return fail("its date is unknown")
	case math.IsNaN(c.At[0]) || math.IsNaN(c.At[1]):
		return fail("its position is unknown")
	case c.Levels() == 0:
		return fail("it has no levels")
	}
	indices, _ := ExchangeColumns(c)
	cols := make([]exchangeColumn, 0, len(indices))
	var notes []string
	line := 1
	for _, i := range indices {
		k := exchangeColumn{Column: &c.Columns[i]}
		if err := k.check(c.Levels(), len(cols) == 0); err != nil {
			return fail("%v", err)
		}
		if k.Text == nil {
			k.layout()
			line += max(k.width, 6) + 1
			var note string
			if k.flags, note = flagDigits(k.Column, pres, c.PressureDbar); note != "" {
				notes = append(notes, "# "+k.Exchange+"_FLAG_W: 1 = not evaluated "+note)
			}
			line += 2
		} else {
			line += 10
		}
		cols = append(cols, k)
	}
	if need := len(dst) + 2000 + c.Levels()*line; cap(dst) < need {
		dst = append(make([]byte, 0, need), dst...)
	}
	dst, err := appendHead(dst, c, cols, notes)
	if err != nil {
		return fail("%v", err)
	}
	dst = appendRows(dst, cols, c.Levels())
	dst = append(dst, "END_DATA\n"...)
	for _, k := range c.Comments {
		if k.Place == section.AfterEnd {
			dst = append(append(dst, k.Text...), '\n')
		}
	}
	return dst, nil
}

// check refuses what would break the lines of the file.
func (k *exchangeColumn) check(levels int, first bool) error {
	for _, s := range []string{k.Exchange, k.ExchangeUnit} {
		for i := 0; i < len(s); i++ {
			if s[i] < ' ' || s[i] > '~' || s[i] == ',' {
				return fmt.Errorf("column %q has a name or unit that breaks the line", k.Exchange)
			}
		}
	}
	if k.Text == nil {
		return nil
	}
	for row, s := range k.Text {
		for i := 0; i < len(s); i++ {
			if s[i] < ' ' || s[i] > '~' || s[i] == ',' || s[i] == '#' && i == 0 && first {
				return fmt.Errorf("column %s, level %d: text %q breaks the line", k.Exchange, row+1, s)
			}
		}
	}
	return nil
}

// layout sets decimals and width: as read, else what is customary (exchange.md section 6; widths as in the printed
// example of section 2).
func (k *exchangeColumn) layout() {
	k.decimals, k.width = k.Decimals, k.Width
	if k.decimals < 0 {
		k.decimals = k.ExchangeDecimals
		if k.decimals < 0 {
			k.decimals = 4
		}
		k.width = 0
	}
	if k.width == 0 {
		k.width = 9
		if k.decimals == 0 {
			k.width = 6
		}
		return
	}
	// Converted values may not fit the width that the values had.
	low, high := math.NaN(), math.NaN()
	for row, v := range k.Values {
		if len(k.Exceptions) > 0 && k.Exception(row) != nil { // it is written as it was
			continue
		}
		if !(v >= low) && v == v || v == 0 && low == 0 && math.Signbit(v) { // -0 is written with its sign
			low = v
		}
		if !(v <= high) && v == v {
			high = v
		}
	}
	if low == low {
		k.width = max(k.width, len(fixed(low, k.decimals)), len(fixed(high, k.decimals)))
	}
}

// flagDigits returns the flags of a column as digits, nil when no value was evaluated, and the note for those that the
// set has no code for (flags.md, Writing "not evaluated").
func flagDigits(k, pres *section.Column, p []float64) (digits []byte, note string) {
	if k.Flags == nil {
		return nil, ""
	}
	digits = make([]byte, len(k.Flags))
	evaluated, zeros, present := false, false, false
	for i, f := range k.Flags {
		missing := k.Values[i] != k.Values[i]
		if f == metadata.NotEvaluated {
			if missing {
				f = metadata.NotSampled
			} else {
				zeros = true
			}
		} else if !missing || f != metadata.NotSampled && f != metadata.NotReported {
			evaluated = true
		}
		present = present || !missing
		digits[i] = '0' + byte(f)
	}
	if present && !evaluated {
		return nil, ""
	}
	if !present && !anyFlag(k.Flags) {
		return nil, ""
	}
	if !zeros {
		return digits, ""
	}
	flags := make([]metadata.Flag, len(k.Flags))
	for i, d := range digits {
		flags[i] = metadata.Flag(d - '0')
		if d == '0' {
			digits[i] = '1'
		}
	}
	decimals := pres.MostDecimals()
	if decimals < 0 {
		decimals = max(pres.ExchangeDecimals, 1)
	}
	return digits, metadata.NotEvaluatedNote(p, decimals, flags)
}

func anyFlag(f []metadata.Flag) bool {
	for _, v := range f {
		if v != metadata.NotEvaluated {
			return true
		}
	}
	return false
}

func appendHead(dst []byte, c *section.Cast, cols []exchangeColumn, notes []string) ([]byte, error) {
	start := len(dst)
	dst = append(dst, "CTD"...)
	if c.Stamp != "" {
		dst = append(append(dst, ','), c.Stamp...)
	}
	lines := append([]string{}, notes...)
	for _, h := range c.Headers {
		lines = append(lines, strings.TrimRight("# HEADER "+h.Name+" = "+h.Value, " "))
	}
	for _, k := range c.Comments {
		if k.Place != section.AfterEnd {
			if !strings.HasPrefix(k.Text, "#") {
				return nil, fmt.Errorf("comment %q does not begin with #", k.Text)
			}
			lines = append(lines, k.Text)
		} else if strings.ContainsAny(k.Text, "\r\n") {
			return nil, fmt.Errorf("comment %q holds a line end", k.Text)
		}
	}
	t := c.Time.UTC()
	head := []string{"EXPOCODE = " + c.Expocode}
	if c.SectionID != "" {
		head = append(head, "SECT_ID = "+c.SectionID)
	}
	head = append(head, "STNNBR = "+c.Station, "CASTNO = "+c.Number, "DATE = "+t.Format("20060102"))
	if !c.DateOnly {
		head = append(head, "TIME = "+t.Format("1504"))
	}
	// Widths of the printed example: F8.4, F9.4, I5.
	head = append(head, "LATITUDE = "+degrees(c.At[1], c.AtDecimals[1], c.AtText[1], 8), "LONGITUDE = "+
		degrees(c.At[0], c.AtDecimals[0], c.AtText[0], 9))
	if !math.IsNaN(c.BottomM) {
		head = append(head, fmt.Sprintf("DEPTH = %5s", asRead(c.BottomM, max(c.BottomDecimals, 0), c.BottomText)))
	}
	lines = append(lines, "NUMBER_HEADERS = "+strconv.Itoa(len(head)+1))
	lines = append(lines, head...)
	for _, l := range lines {
		if strings.ContainsAny(l, "\r\n") {
			return nil, fmt.Errorf("line %q holds a line end", l)
		}
		dst = append(append(dst, '\n'), l...)
	}
	if strings.ContainsAny(c.Stamp, "\r\n") {
		return nil, fmt.Errorf("stamp %q holds a line end", c.Stamp)
	}
	if len(dst) == start {
		return nil, errors.New("empty head")
	}
	names, units := []byte{'\n'}, []byte{'\n'}
	for i := range cols {
		if i > 0 {
			names, units = append(names, ','), append(units, ',')
		}
		names, units = append(names, cols[i].Exchange...), append(units, cols[i].ExchangeUnit...)
		if cols[i].flags != nil {
			names = append(append(append(names, ','), cols[i].Exchange...), "_FLAG_W"...)
			units = append(units, ',')
		}
	}
	dst = append(append(dst, names...), units...)
	return append(dst, '\n'), nil
}

func degrees(v float64, decimals int, text string, width int) string {
	if decimals < 0 {
		decimals = 4
	}
	return fmt.Sprintf("%*s", width, asRead(v, decimals, text))
}

// asRead returns a number in its decimals, or its text as read when there is one and it is still the text of that
// number: a station table may have put another in its place.
func asRead(v float64, decimals int, text string) string {
	if w, err := strconv.ParseFloat(text, 64); err == nil && w == v {
		return text
	}
	return strconv.FormatFloat(v, 'f', decimals, 64)
}

// appendValue appends the value of a row as it was read: in the decimals of the column, or its own.
func (k *exchangeColumn) appendValue(dst []byte, row int) []byte {
	for k.next < len(k.Exceptions) && k.Exceptions[k.next].Level < row {
		k.next++
	}
	if k.next < len(k.Exceptions) && k.Exceptions[k.next].Level == row && k.Values[row] == k.Values[row] {
		if d := &k.Exceptions[k.next]; d.Text != "" {
			return append(pad(dst, k.width-len(d.Text)), d.Text...)
		}
		return appendFixed(dst, k.Values[row], k.Exceptions[k.next].Decimals, k.width)
	}
	return appendFixed(dst, k.Values[row], k.decimals, k.width)
}

func appendRows(dst []byte, cols []exchangeColumn, levels int) []byte {
	for row := range levels {
		for i := range cols {
			k := &cols[i]
			if k.Text != nil {
				dst = append(append(dst, textOrMissing(k.Text[row])...), ',')
				continue
			}
			if k.Exceptions == nil {
				dst = appendFixed(dst, k.Values[row], k.decimals, k.width)
			} else {
				dst = k.appendValue(dst, row)
			}
			if k.flags != nil {
				dst = append(dst, ',', k.flags[row], ',')
			} else {
				dst = append(dst, ',')
			}
		}
		dst[len(dst)-1] = '\n'
	}
	return dst
}

// textOrMissing returns the text of a cell. A missing one is -999 like a missing number: the format has no empty values
// (exchange.md section 1, 9).
func textOrMissing(s string) string {
	if s == "" {
		return missing
	}
	return s
}

const (
	missing = "-999"
	blanks  = "                                "
	pairs   = "00010203040506070809101112131415161718192021222324252627282930313233343536373839404142434445464748495051525354555657585960616263646566676869707172737475767778798081828384858687888990919293949596979899"
)

var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15}

// appendFixed appends v as strconv writes it with format 'f' and the given decimals, right-aligned to width; -999 when
// v is missing.
//
// The digits come from an integer: |v| times a power of ten, rounded. The product is off by at most half a unit in its
// last place, 1.2e-16 of it, so rounding is certain unless the product lies that near to a half; those few go to
// strconv.
func appendFixed(dst []byte, v float64, decimals, width int) []byte {
	if v != v || v-v != 0 {
		return append(pad(dst, width-len(missing)), missing...)
	}
	if decimals >= len(powers) {
		return appendSlow(dst, v, decimals, width)
	}
	s := math.Abs(v) * powers[decimals]
	if !(s < 1e15) {
		return appendSlow(dst, v, decimals, width)
	}
	m := uint64(s)
	off := s - float64(int64(m)) - 0.5 // exact: both below 2^53
	if math.Abs(off) <= s*2.3e-16 {
		return appendSlow(dst, v, decimals, width)
	}
	if off > 0 {
		m++
	}
	var buf [24]byte
	i := len(buf)
	left := decimals
	if decimals > 0 {
		for ; left >= 2; left -= 2 {
			q := m / 100
			r := (m - q*100) * 2
			i -= 2
			buf[i], buf[i+1] = pairs[r], pairs[r+1]
			m = q
		}
		if left == 1 {
			q := m / 10
			i--
			buf[i] = byte('0' + m - q*10)
			m = q
		}
		i--
		buf[i] = '.'
	}
	for m >= 100 {
		q := m / 100
		r := (m - q*100) * 2
		i -= 2
		buf[i], buf[i+1] = pairs[r], pairs[r+1]
		m = q
	}
	if m >= 10 {
		i -= 2
		buf[i], buf[i+1] = pairs[m*2], pairs[m*2+1]
	} else {
		i--
		buf[i] = byte('0' + m)
	}
	if math.Signbit(v) {
		i--
		buf[i] = '-'
	}
	return append(pad(dst, width-(len(buf)-i)), buf[i:]...)
}

func appendSlow(dst []byte, v float64, decimals, width int) []byte {
	var buf [64]byte
	s := strconv.AppendFloat(buf[:0], v, 'f', decimals, 64)
	return append(pad(dst, width-len(s)), s...)
}

func pad(dst []byte, n int) []byte {
	for n > len(blanks) {
		dst, n = append(dst, blanks...), n-len(blanks)
	}
	if n > 0 {
		dst = append(dst, blanks[:n]...)
	}
	return dst
}
