package export

import (
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// WriteBottles writes an exchange bottle file, strictly to version 1.3 of the format (exchange.md sections 1 and 4):
// identification columns in the order of the printed example, then the columns in their order, each in its own
// decimals, -999 for missing values.
func WriteBottles(w io.Writer, b *section.Bottles) error {
	fail := func(format string, args ...any) error {
		return fmt.Errorf("bottle file %s: %w: %s", b.Source.Name, ErrNotExchange, fmt.Sprintf(format, args...))
	}
	pres := b.Column("pres")
	if len(b.Rows) == 0 || pres == nil {
		return fail("it has no lines or no pressure column")
	}
	has := func(get func(*section.Bottle) bool) bool {
		for i := range b.Rows {
			if get(&b.Rows[i]) {
				return true
			}
		}
		return false
	}
	var names, units []string
	var cells []func(row int, dst []byte) []byte
	add := func(name, unit string, cell func(row int, dst []byte) []byte) {
		names, units, cells = append(names, name), append(units, unit), append(cells, cell)
	}
	text := func(name string, get func(*section.Bottle) string) {
		add(name, "", func(row int, dst []byte) []byte {
			return append(dst, textOrMissing(get(&b.Rows[row]))...)
		})
	}
	var notes []string
	flagged := func(name string, digits []byte, note string) {
		if digits == nil {
			return
		}
		add(name+"_FLAG_W", "", func(row int, dst []byte) []byte { return append(dst, digits[row]) })
		if note != "" {
			notes = append(notes, "# "+name+"_FLAG_W: 1 = not evaluated "+note)
		}
	}
	text("EXPOCODE", func(r *section.Bottle) string { return r.Expocode })
	if has(func(r *section.Bottle) bool { return r.SectionID != "" }) {
		text("SECT_ID", func(r *section.Bottle) string { return r.SectionID })
	}
	text("STNNBR", func(r *section.Bottle) string { return r.Station })
	text("CASTNO", func(r *section.Bottle) string { return r.Cast })
	text("SAMPNO", func(r *section.Bottle) string { return r.Sample })
	if b.Flagged || has(func(r *section.Bottle) bool { return r.Bottle != "" }) {
		text("BTLNBR", func(r *section.Bottle) string { return r.Bottle })
	}
	if b.Flagged {
		digits, note := sampleDigits(len(b.Rows), func(i int) (uint8, bool) { return uint8(b.Rows[i].Flag), false })
		flagged("BTLNBR", digits, note)
	}
	text("DATE", func(r *section.Bottle) string { return r.Time.UTC().Format("20060102") })
	if has(func(r *section.Bottle) bool { return !r.DateOnly }) {
		text("TIME", func(r *section.Bottle) string {
			if r.DateOnly {
				return ""
			}
			return r.Time.UTC().Format("1504")
		})
	}
	text("LATITUDE", func(r *section.Bottle) string { return asRead(r.At[1], max(r.AtDecimals[1], 0), r.AtText[1]) })
	text("LONGITUDE", func(r *section.Bottle) string { return asRead(r.At[0], max(r.AtDecimals[0], 0), r.AtText[0]) })
	if has(func(r *section.Bottle) bool { return !math.IsNaN(r.BottomM) }) {
		add("DEPTH", "METERS", func(row int, dst []byte) []byte {
			r := &b.Rows[row]
			if math.IsNaN(r.BottomM) {
				return append(dst, missing...)
			}
			return append(dst, asRead(r.BottomM, max(r.BottomDecimals, 0), r.BottomText)...)
		})
	}
	seen := map[string]bool{}
	for i := range b.Columns {
		c := &b.Columns[i]
		if c.Exchange == "" || seen[c.Exchange] {
			continue
		}
		seen[c.Exchange] = true
		k := exchangeColumn{Column: &section.Column{Variable: c.Variable, Decimals: c.Decimals,
			Exceptions: c.Exceptions, Width: c.Width, Values: c.Values,
			Text: c.Text, Flags: c.Flags}}
		if err := k.check(len(b.Rows), false); err != nil {
			return fail("%v", err)
		}
		if c.Text != nil {
			add(c.Exchange, c.ExchangeUnit, func(row int, dst []byte) []byte {
				return append(dst, textOrMissing(c.Text[row])...)
			})
			continue
		}
		k.layout()
		if c.Width == 0 {
			k.width = 0
		}
		add(c.Exchange, c.ExchangeUnit, func(row int, dst []byte) []byte { return k.appendValue(dst, row) })
		switch {
		case c.Flags != nil:
			digits, note := sampleFlagsOf(c, func(i int) uint8 { return uint8(c.Flags[i]) })
			flagged(c.Exchange, digits, note)
		case c.SampleFlags != nil:
			digits, note := sampleFlagsOf(c, func(i int) uint8 { return uint8(c.SampleFlags[i]) })
			flagged(c.Exchange, digits, note)
		}
	}
	out := []byte("BOTTLE")
	if b.Stamp != "" {
		out = append(append(out, ','), b.Stamp...)
	}
	lines := notes
	for _, k := range b.Comments {
		if k.Place != section.AfterEnd {
			lines = append(lines, k.Text)
		}
	}
	lines = append(lines, strings.Join(names, ","), strings.Join(units, ","))
	for _, l := range lines {
		out = append(append(out, '\n'), l...)
	}
	if strings.Count(string(out), "\n") != len(lines) {
		return fail("a comment or name holds a line end")
	}
	out = append(out, '\n')
	for row := range b.Rows {
		for i, cell := range cells {
			if i > 0 {
				out = append(out, ',')
			}
			out = cell(row, out)
		}
		out = append(out, '\n')
	}
	out = append(out, "END_DATA\n"...)
	for _, k := range b.Comments {
		if k.Place == section.AfterEnd {
			out = append(append(out, k.Text...), '\n')
		}
	}
	_, err := w.Write(out)
	return err
}

func sampleFlagsOf(c *section.BottleColumn, flag func(int) uint8) (digits []byte, note string) {
	return sampleDigits(len(c.Values), func(i int) (uint8, bool) { return flag(i), c.Values[i] != c.Values[i] })
}

// sampleDigits gives the digits of the flags of a column of a bottle file, nil when no value was evaluated; get gives a
// flag and whether its value is missing. The note counts lines, since bottles have no pressure order.
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
