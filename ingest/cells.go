package ingest

import (
	"bytes"
	"math"
	"strconv"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// offerLenient adds to an error the option to get past lines that cannot be read, and keep the rest of their files.
func offerLenient(e *metadata.InputError) {
	offer(e, "have such lines skipped, and values that are no numbers taken as missing with flag 4,",
		metadata.Lenient())
}

// cell sets one cell of the current row from its text, which is at a line and column. It is false when the row is not
// to be kept.
func (b *builder) cell(k int, s []byte, line, column int) bool {
	f := &b.field[k]
	switch f.kind {
	case flags:
		f.flg[b.row] = b.flag(f, s, line, column)
		return true
	case texts:
		if f.ident == "" && isFill(s) { // missing is one thing, in text too
			if len(s) == 0 {
				b.warn(metadata.Note, "exchange.fill", f.variable.Name, line, column, "",
					"%s: empty value; read as missing", f.raw)
			}
			s = nil
		}
		b.addText(f, s)
		return true
	}
	v, decimals, q, ok := scanNumber(s)
	if !f.known && (!ok || q == odd || q == quoted || zeroInFront(s) || countDigits(s) > 15) {
		f.turn(b)
		return true
	}
	switch {
	case !ok && b.o.Lenient && !f.pressure:
		b.warn(metadata.Warning, "exchange.not_a_number", f.variable.Name, line, column, "",
			"%s: %s is not a number; taken as missing, with flag 4", f.raw, firstBytes(s))
		b.strange = append(b.strange, cell{k, b.row})
		v = math.NaN()
	case !ok && b.o.Lenient:
		b.warn(metadata.Warning, "exchange.not_a_number", f.variable.Name, line, column, "",
			"%s: %s is not a number; line skipped", f.raw, firstBytes(s))
		return false
	case !ok:
		offerLenient(b.fail(line, column, "write a number, or -999 when there is none",
			"%s: %s is not a number", f.raw, firstBytes(s)))
		v = math.NaN()
	}
	switch q {
	case blank:
		if !f.pressure {
			b.warn(metadata.Note, "exchange.fill", f.variable.Name, line, column, "",
				"%s: empty value; read as missing", f.raw)
		}
	case notNumber:
		b.warn(metadata.Note, "exchange.fill", f.variable.Name, line, column, "", "%s: NaN; read as missing", f.raw)
	case odd:
		b.warn(metadata.Note, "exchange.number_form", f.variable.Name, line, column, "",
			"%s: %s has a plus or an exponent; read all the same", f.raw, firstBytes(s))
	case quoted:
		b.warn(metadata.Note, "exchange.number_form", f.variable.Name, line, column, "",
			"%s: %s is in quotes, which were removed", f.raw, firstBytes(s))
	}
	if v == -999 {
		v = math.NaN()
	} else if f.known && v < f.variable.ValidMin && oldFill(v) {
		b.warn(metadata.Warning, "exchange.fill", f.variable.Name, line, column, "write -999 for missing values",
			"%s: %s is outside %g..%g; read as missing", f.raw, s, f.variable.ValidMin, f.variable.ValidMax)
		v = math.NaN()
	}
	f.width = -1
	if math.IsNaN(v) && f.pressure && ok {
		if b.o.Lenient {
			b.warn(metadata.Warning, "exchange.no_pressure", "", line, column, "", "%s is missing; line skipped",
				f.axis())
			return false
		}
		offerLenient(b.fail(line, column, "write the "+f.axis()+" of the level or take the line out",
			"%s is missing: %s", f.axis(), firstBytes(s)))
	}
	if !math.IsNaN(v) {
		var text []byte
		if written := strconv.FormatFloat(v, 'f', decimals, 64); q == plain && written != string(s) {
			text = s
		}
		f.note(b.row, decimals, text)
	}
	f.dst[b.row] = v
	return true
}

// axis returns the word for the field that says where the levels are: pressure, or depth.
func (f *field) axis() string {
	if f.variable.Name == "depth" {
		return "depth"
	}
	return "pressure"
}

// flag reads a flag, also one that is not one digit.
func (b *builder) flag(f *field, s []byte, line, column int) metadata.Flag {
	if len(s) == 1 && s[0] >= '0' && s[0] <= '9' {
		return metadata.Flag(s[0] - '0')
	}
	name := b.field[f.of].variable.Name
	v, _, q, ok := scanNumber(s)
	switch {
	case q == blank:
		b.warn(metadata.Note, "exchange.flag_blank", name, line, column, "", "%s: empty flag; read as not evaluated",
			f.raw)
		return metadata.NotEvaluated
	case ok && (v == -9 || v == -999):
		b.warn(metadata.Note, "exchange.flag_fill", name, line, column, "", "%s: flag %s; read as not evaluated", f.raw,
			s)
		return metadata.NotEvaluated
	case ok && v >= 0 && v <= 9 && v == math.Trunc(v):
		b.warn(metadata.Note, "exchange.flag_form", name, line, column, "", "%s: flag %s is not one digit; read as %d",
			f.raw, s, int(v))
		return metadata.Flag(v)
	}
	set := "CTD"
	switch p := &b.field[f.of]; {
	case p.ident == "BTLNBR":
		set = "bottle"
	case b.bottle && !ctdParameter(p.variable.Exchange):
		set = "water sample"
	}
	b.warn(metadata.Warning, "exchange.flag_value", name, line, column, "",
		"%s: %s is no flag of the WOCE %s set; read as not evaluated", f.raw, firstBytes(s), set)
	return metadata.NotEvaluated
}

func (b *builder) addText(f *field, s []byte) {
	t, ok := f.same[string(s)]
	if !ok {
		t = string(s)
		f.same[t] = t
	}
	for len(f.txt) < b.row { // rows before the column was known to be text; read again later
		f.txt = append(f.txt, "")
	}
	f.txt = append(f.txt[:b.row], t)
}

// turn makes an unknown column one of text; the data lines are read once more.
func (f *field) turn(b *builder) {
	f.kind = texts
	f.same = map[string]string{}
	b.turned = true
}

// note keeps the digits of the value in a row; text is the value as read where its decimals do not give it back, else
// nil.
func (f *field) note(row, decimals int, text []byte) {
	if n := len(f.odd); n > 0 && f.odd[n-1].Level >= row { // the line is read again, or the one before it did not count
		f.odd = f.odd[:n-1]
	}
	if !f.seen {
		f.seen, f.decimals = true, decimals
	}
	if decimals != f.decimals || text != nil {
		f.odd = append(f.odd, section.Digits{Level: row, Decimals: decimals, Text: string(text)})
	}
}

// digits returns the decimals that most of the values v have, and the others.
func (f *field) digits(v []float64) (decimals int, exceptions []section.Digits) {
	if len(f.odd) == 0 {
		return f.decimals, nil
	}
	own := make([]section.Digits, len(v))
	count := section.Commonest{}
	for i := range own {
		own[i] = section.Digits{Level: i, Decimals: f.decimals}
	}
	for _, d := range f.odd {
		if d.Level < len(v) {
			own[d.Level] = d
		}
	}
	for i := range own {
		if v[i] == v[i] {
			count.Add(own[i].Decimals, 1)
		}
	}
	decimals = max(count.Decimals(), 0)
	for i, d := range own {
		if v[i] == v[i] && (d.Decimals != decimals || d.Text != "") {
			exceptions = append(exceptions, d)
		}
	}
	return decimals, exceptions
}

// widen keeps the width that every value has; it is 0 at first and -1 when they differ. The first value sets it.
func (f *field) widen(width int) {
	if f.width == 0 {
		f.width = width
	} else {
		f.width = -1
	}
}

// oldFill reports whether v is one of the fill values that older files use beside -999.
func oldFill(v float64) bool { return v == -9 || v == -99 || v == -99.9 || v == -9999 }

// isFill reports whether a text is empty or -999 in any precision.
func isFill(s []byte) bool {
	rest, ok := bytes.CutPrefix(s, []byte("-999"))
	return len(s) == 0 || ok && (len(rest) == 0 || rest[0] == '.' && len(bytes.Trim(rest[1:], "0")) == 0)
}

// zeroInFront reports whether a number begins with a zero that a number would not need.
func zeroInFront(s []byte) bool {
	s = bytes.TrimPrefix(s, []byte("-"))
	return len(s) > 1 && s[0] == '0' && s[1] >= '0' && s[1] <= '9'
}

func countDigits(s []byte) (n int) {
	for _, c := range s {
		if c >= '0' && c <= '9' {
			n++
		}
	}
	return n
}
