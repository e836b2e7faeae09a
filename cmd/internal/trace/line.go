package trace

import (
	"archive/zip"
	"bytes"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/castwright/castwright/section"
)

// largestInput is the most bytes of an input that is searched for a line.
const largestInput = 256 << 20

// text is an input as lines, with the numbers of each.
type text struct {
	lines   []string
	numbers [][]float64
}

// text returns an input, which may be a member of a zip among the inputs; without lines when the archive does not hold
// it or it is no text.
func (t *tracer) text(name string) *text {
	x := t.texts[name]
	if x == nil {
		x = &text{lines: t.readText(name)}
		for _, l := range x.lines {
			x.numbers = append(x.numbers, numbersOf(l))
		}
		t.texts[name] = x
	}
	return x
}

func (t *tracer) readText(name string) []string {
	table, err := t.a.Table("inputs/inputs.csv")
	if err != nil {
		return nil
	}
	data, err := t.a.Read("inputs/inputs.zip")
	if err != nil {
		return nil
	}
	for _, row := range table.Rows {
		input, member := table.Get(row, "name"), table.Get(row, "member")
		inner, nested := strings.CutPrefix(name, input+"/")
		if member == "" || name != input && !nested {
			continue
		}
		b := unzip(data, member)
		if nested {
			b = unzip(b, inner)
		}
		b = fromUTF16(b)
		if b == nil || !utf8.Valid(b) && bytes.IndexByte(b, 0) >= 0 {
			return nil
		}
		text := strings.ReplaceAll(strings.ReplaceAll(string(b), "\r\n", "\n"), "\r", "\n")
		return strings.Split(text, "\n")
	}
	return nil
}

// fromUTF16 returns a text that begins with a byte-order mark of UTF-16 as UTF-8, any other as it is.
func fromUTF16(b []byte) []byte {
	little := bytes.HasPrefix(b, []byte{0xff, 0xfe})
	if !little && !bytes.HasPrefix(b, []byte{0xfe, 0xff}) {
		return b
	}
	units := make([]uint16, 0, len(b)/2)
	for i := 2; i+1 < len(b); i += 2 {
		if little {
			units = append(units, uint16(b[i])|uint16(b[i+1])<<8)
		} else {
			units = append(units, uint16(b[i+1])|uint16(b[i])<<8)
		}
	}
	return []byte(string(utf16.Decode(units)))
}

// unzip returns a member of a zip; nil when it is not there.
func unzip(data []byte, member string) []byte {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if z == nil {
		return nil
	}
	if err != nil && err != zip.ErrInsecurePath { //nolint:errorlint // the reader is given with this error alone
		return nil
	}
	for _, f := range z.File {
		if f.Name != member || f.UncompressedSize64 > largestInput {
			continue
		}
		r, err := f.Open()
		if err != nil {
			return nil
		}
		b, err := io.ReadAll(io.LimitReader(r, largestInput))
		if err != nil {
			return nil
		}
		return b
	}
	return nil
}

// written is a value as it was written in an input, as far as the archive keeps that.
type written struct {
	value    float64
	decimals int
}

// in reports whether a line holds the value: as a number of its own, or, where columns run together, as text.
func (w *written) in(line string, numbers []float64) bool {
	if has(numbers, w.value) {
		return true
	}
	return w.decimals > 1 && strings.Contains(line, strconv.FormatFloat(w.value, 'f', w.decimals, 64))
}

// line returns the line of an input, from 1, that holds a level of a cast; 0 when no line, or more than one, can be it.
// The line holds the value of the variable and more of the other values of the level than any other line. Where the
// value was converted no line holds it, and the line is the one that holds most of the others. The lines of the
// cast are
// searched, as the record of the archive gives them.
func (t *tracer) line(id string, source *Source, k *section.Cast, variable string, level int) (int, string) {
	x := t.text(source.File)
	first, last := 1, len(x.lines)
	if from, to, ok := strings.Cut(t.lines[id], "-"); ok {
		a, err := strconv.Atoi(from)
		b, err2 := strconv.Atoi(to)
		if err == nil && err2 == nil && a >= 1 && b <= len(x.lines) && a <= b {
			first, last = a, b
		}
	}
	var own *written
	var others []written
	for i := range k.Columns {
		col := &k.Columns[i]
		if col.Derived || len(col.Values) <= level || math.IsNaN(col.Values[level]) {
			continue
		}
		w := written{col.Values[level], col.DecimalsAt(level)}
		if col.Name == variable {
			own = &w
		} else {
			others = append(others, w)
		}
	}
	best := map[bool][]int{} // lines with most of the values, with and without the value itself
	most := map[bool]int{}
	for n := first; n <= last; n++ {
		line, numbers := x.lines[n-1], x.numbers[n-1]
		holds, score := own != nil && own.in(line, numbers), 0
		for i := range others {
			if others[i].in(line, numbers) {
				score++
			}
		}
		if score < 1 || score < most[holds] {
			continue
		}
		if score > most[holds] {
			most[holds], best[holds] = score, nil
		}
		best[holds] = append(best[holds], n)
	}
	holds := len(best[true]) > 0
	if len(best[holds]) != 1 || !holds && most[false] < 2 {
		return 0, ""
	}
	at := best[holds][0]
	return at, x.lines[at-1]
}

func has(numbers []float64, v float64) bool {
	for _, x := range numbers {
		if x == v {
			return true
		}
	}
	return false
}

// numbersOf returns the numbers of a line of text, whatever separates them. A decimal comma counts where a comma is
// between two digits and the line has another separator.
func numbersOf(line string) (out []float64) {
	if strings.HasPrefix(strings.TrimSpace(line), "#") {
		return nil
	}
	other := strings.ContainsAny(line, ";\t") || !strings.Contains(line, ".") && strings.Contains(line, " ")
	for _, w := range strings.FieldsFunc(line, func(r rune) bool {
		return r == ' ' || r == '\t' || r == ';' || r == '|' || r == ',' && !other
	}) {
		if v, err := strconv.ParseFloat(strings.ReplaceAll(strings.Trim(w, `"'`), ",", "."), 64); err == nil {
			out = append(out, v)
		}
	}
	return out
}
