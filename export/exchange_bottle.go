package export

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// A bottleWriter collects the columns of an exchange bottle file.
type bottleWriter struct {
	b            *section.Bottles
	names, units []string
	cells        []func(row int, dst []byte) []byte
	notes        []string // comments on flags
}

// WriteBottles writes an exchange bottle file, strictly to version 1.3 of the format (exchange.md sections 1 and 4):
// identification columns in the order of the printed example, then the columns in their order, each in its own
// decimals, -999 for missing values.
func WriteBottles(w io.Writer, b *section.Bottles) error {
	x := &bottleWriter{b: b}
	if len(b.Rows) == 0 || b.Column("pres") == nil {
		return x.fail("it has no lines or no pressure column")
	}
	x.identification()
	seen := map[string]bool{}
	for i := range b.Columns {
		c := &b.Columns[i]
		if c.Exchange == "" || seen[c.Exchange] {
			continue
		}
		seen[c.Exchange] = true
		if err := x.column(c); err != nil {
			return x.fail("%v", err)
		}
	}
	out, err := x.bytes()
	if err != nil {
		return err
	}
	_, err = w.Write(out)
	return err
}

func (x *bottleWriter) fail(format string, args ...any) error {
	return fmt.Errorf("bottle file %s: %w: %s", x.b.Source.Name, ErrNotExchange, fmt.Sprintf(format, args...))
}

// add adds a column; cell appends the text of one row.
func (x *bottleWriter) add(name, unit string, cell func(row int, dst []byte) []byte) {
	x.names, x.units, x.cells = append(x.names, name), append(x.units, unit), append(x.cells, cell)
}

// text adds a column of identification.
func (x *bottleWriter) text(name string, get func(*section.Bottle) string) {
	x.add(name, "", func(row int, dst []byte) []byte {
		return append(dst, textOrMissing(get(&x.b.Rows[row]))...)
	})
}

// flagged adds the flags of a column, unless digits is nil.
func (x *bottleWriter) flagged(name string, digits []byte, note string) {
	if digits == nil {
		return
	}
	x.add(name+"_FLAG_W", "", func(row int, dst []byte) []byte { return append(dst, digits[row]) })
	if note != "" {
		x.notes = append(x.notes, "# "+name+"_FLAG_W: 1 = not evaluated "+note)
	}
}

// identification adds the columns that say which sample a row is, when and where.
func (x *bottleWriter) identification() {
	b := x.b
	has := func(get func(*section.Bottle) bool) bool {
		return slices.ContainsFunc(b.Rows, func(r section.Bottle) bool { return get(&r) })
	}
	x.text("EXPOCODE", func(r *section.Bottle) string { return r.Expocode })
	if has(func(r *section.Bottle) bool { return r.SectionID != "" }) {
		x.text("SECT_ID", func(r *section.Bottle) string { return r.SectionID })
	}
	x.text("STNNBR", func(r *section.Bottle) string { return r.Station })
	x.text("CASTNO", func(r *section.Bottle) string { return r.Cast })
	x.text("SAMPNO", func(r *section.Bottle) string { return r.Sample })
	if b.Flagged || has(func(r *section.Bottle) bool { return r.Bottle != "" }) {
		x.text("BTLNBR", func(r *section.Bottle) string { return r.Bottle })
	}
	if b.Flagged {
		digits, note := sampleDigits(len(b.Rows), func(i int) (uint8, bool) { return uint8(b.Rows[i].Flag), false })
		x.flagged("BTLNBR", digits, note)
	}
	x.text("DATE", func(r *section.Bottle) string { return r.Time.UTC().Format("20060102") })
	if has(func(r *section.Bottle) bool { return !r.DateOnly }) {
		x.text("TIME", func(r *section.Bottle) string {
			if r.DateOnly {
				return ""
			}
			return r.Time.UTC().Format("1504")
		})
	}
	x.text("LATITUDE", func(r *section.Bottle) string { return asRead(r.At[1], max(r.AtDecimals[1], 0), r.AtText[1]) })
	x.text("LONGITUDE", func(r *section.Bottle) string { return asRead(r.At[0], max(r.AtDecimals[0], 0), r.AtText[0]) })
	if has(func(r *section.Bottle) bool { return !math.IsNaN(r.BottomM) }) {
		x.add("DEPTH", "METERS", func(row int, dst []byte) []byte {
			r := &b.Rows[row]
			if math.IsNaN(r.BottomM) {
				return append(dst, missing...)
			}
			return append(dst, asRead(r.BottomM, max(r.BottomDecimals, 0), r.BottomText)...)
		})
	}
}

// column adds a parameter and its flags.
func (x *bottleWriter) column(c *section.BottleColumn) error {
	k := exchangeColumn{Column: &section.Column{Variable: c.Variable, Decimals: c.Decimals,
		Exceptions: c.Exceptions, Width: c.Width, Values: c.Values, Text: c.Text, Flags: c.Flags}}
	if err := k.check(len(x.b.Rows), false); err != nil {
		return err
	}
	if c.Text != nil {
		x.add(c.Exchange, c.ExchangeUnit, func(row int, dst []byte) []byte {
			return append(dst, textOrMissing(c.Text[row])...)
		})
		return nil
	}
	k.layout()
	if c.Width == 0 {
		k.width = 0
	}
	x.add(c.Exchange, c.ExchangeUnit, func(row int, dst []byte) []byte { return k.appendValue(dst, row) })
	switch {
	case c.Flags != nil:
		digits, note := sampleFlagsOf(c, func(i int) uint8 { return uint8(c.Flags[i]) })
		x.flagged(c.Exchange, digits, note)
	case c.SampleFlags != nil:
		digits, note := sampleFlagsOf(c, func(i int) uint8 { return uint8(c.SampleFlags[i]) })
		x.flagged(c.Exchange, digits, note)
	}
	return nil
}

// bytes returns the whole file.
func (x *bottleWriter) bytes() ([]byte, error) {
	out := []byte("BOTTLE")
	if x.b.Stamp != "" {
		out = append(append(out, ','), x.b.Stamp...)
	}
	lines := x.notes
	for _, k := range x.b.Comments {
		if k.Place != section.AfterEnd {
			lines = append(lines, k.Text)
		}
	}
	lines = append(lines, strings.Join(x.names, ","), strings.Join(x.units, ","))
	for _, l := range lines {
		out = append(append(out, '\n'), l...)
	}
	if bytes.Count(out, []byte{'\n'}) != len(lines) {
		return nil, x.fail("a comment or name holds a line end")
	}
	out = append(out, '\n')
	for row := range x.b.Rows {
		for i, cell := range x.cells {
			if i > 0 {
				out = append(out, ',')
			}
			out = cell(row, out)
		}
		out = append(out, '\n')
	}
	out = append(out, "END_DATA\n"...)
	for _, k := range x.b.Comments {
		if k.Place == section.AfterEnd {
			out = append(append(out, k.Text...), '\n')
		}
	}
	return out, nil
}

func sampleFlagsOf(c *section.BottleColumn, flag func(int) uint8) (digits []byte, note string) {
	return sampleDigits(len(c.Values), func(i int) (uint8, bool) { return flag(i), c.Values[i] != c.Values[i] })
}

// sampleDigits returns the digits of the flags of a column of a bottle file, nil when no value was evaluated; get gives
// a flag and whether its value is missing. The note counts lines, since bottles have no pressure order.
func sampleDigits(n int, get func(int) (flag uint8, missing bool)) (digits []byte, note string) {
	flags := make([]metadata.Flag, n)
	digits = make([]byte, n)
	evaluated, present, any := false, false, false
	for i := range n {
		f, gone := get(i)
		any = any || f != 0
		if gone && f == 0 {
			f = 9
		}
		present = present || !gone
		evaluated = evaluated || f != 0 && (!gone || f != 5 && f != 9)
		flags[i] = metadata.Flag(f)
		if f == 0 {
			f = 1
		}
		digits[i] = '0' + f
	}
	if present && !evaluated || !present && !any {
		return nil, ""
	}
	return digits, metadata.NotEvaluatedNote(nil, 0, flags)
}
