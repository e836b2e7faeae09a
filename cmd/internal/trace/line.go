package trace

import (
	"archive/zip"
	"bytes"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// largestInput is the most bytes of an input that is searched for a line.
const largestInput = 256 << 20

// text returns the lines of an input, which may be a member of a zip among the inputs; nil when the archive does not
// hold it or it is no text.
func (t *tracer) text(name string) []string {
	lines, ok := t.texts[name]
	if !ok {
		lines = t.readText(name)
		t.texts[name] = lines
	}
	return lines
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
		if b == nil || !utf8.Valid(b) && bytes.IndexByte(b, 0) >= 0 {
			return nil
		}
		text := strings.ReplaceAll(strings.ReplaceAll(string(b), "\r\n", "\n"), "\r", "\n")
		return strings.Split(text, "\n")
	}
	return nil
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

// line returns the line of an input, from 1, that holds a pressure and a value; 0 when no line, or more than one, does.
func (t *tracer) line(source *Source, p, value float64, level, levels int) (int, string) {
	lines := t.text(source.File)
	first, last := 1, len(lines)
	if from, to, ok := strings.Cut(source.Lines, "-"); ok {
		a, err := strconv.Atoi(from)
		b, err2 := strconv.Atoi(to)
		if err == nil && err2 == nil && a >= 1 && b <= len(lines) && a <= b {
			first, last = a, b
		}
	}
	var withPressure, withBoth []int
	var data []int // lines with numbers
	for n := first; n <= last && n <= len(lines); n++ {
		numbers := numbersOf(lines[n-1])
		if len(numbers) == 0 {
			continue
		}
		data = append(data, n)
		if !has(numbers, p) {
			continue
		}
		withPressure = append(withPressure, n)
		if math.IsNaN(value) || has(numbers, value) {
			withBoth = append(withBoth, n)
		}
	}
	at := 0
	switch {
	case len(withBoth) == 1:
		at = withBoth[0]
	case len(data) == levels && level < len(data) && (has(numbersOf(lines[data[level]-1]), p)):
		at = data[level]
	case len(withPressure) == 1:
		at = withPressure[0]
	default:
		return 0, ""
	}
	return at, lines[at-1]
}

func has(numbers []float64, v float64) bool {
	for _, x := range numbers {
		if x == v {
			return true
		}
	}
	return false
}

// numbersOf returns the numbers of a line of text, whatever separates them. A decimal comma counts where a comma stands
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
