package draft

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"github.com/castwright/castwright/ingest"
)

// A table is the data lines of a text file and how they are divided.
type table struct {
	layout   ingest.Layout
	lines    []string
	rows     []int      // numbers of data lines
	cells    [][]string // of the rows
	names    []ingest.ColumnName
	nameLine int // -1: none
	units    []string
	columns  []column
}

// A column is one column of a table and what it is taken for.
type column struct {
	ingest.LayoutColumn
	name    string
	values  []float64 // NaN where a cell is no number
	unit    string    // as the file has it; "" when it does not say
	why     string
	sure    certainty
	missing []string
}

// certainty says how sure a proposal is.
type certainty uint8

const (
	guessed certainty = iota // from the values alone
	likely                   // from a name that may mean something else, or without a unit
	certain                  // from the name, and values that fit
)

func (c certainty) String() string { return [...]string{"guess", "likely", "sure"}[c] }

// A way is one way to divide lines.
type way struct {
	format    ingest.Format
	delimiter byte
	comma     bool
}

var ways = []way{{ingest.Delimited, '\t', false}, {ingest.Delimited, ';', false}, {ingest.Delimited, '|', false},
	{ingest.Delimited, ',', false},
	{ingest.Delimited, '\t', true}, {ingest.Delimited, ';', true}, {ingest.Delimited, '|', true},
	{ingest.Space, 0, false}, {ingest.Space, 0, true}}

// findTable finds the data lines of a text; nil when there are none.
func findTable(text string) *table {
	lines := strings.Split(strings.TrimRight(text, "\n"), "\n")
	var best *table
	most := 0.0
	for _, w := range ways {
		t := &table{layout: ingest.Layout{Format: w.format, Delimiter: w.delimiter, Comma: w.comma}, lines: lines,
			nameLine: -1}
		if score := t.find(); score > most*1.001 {
			best, most = t, score
		}
	}
	if glued := findFixed(lines); glued != nil && (best == nil || best.glued()) {
		best = glued
	}
	if best == nil || len(best.rows) < 3 {
		return nil
	}
	best.findNames()
	return best
}

// glued reports whether the cells of a table are numbers without blanks between them.
func (t *table) glued() bool {
	n := 0
	for _, c := range t.cells {
		if slices.ContainsFunc(c, func(s string) bool { return strings.Count(s, ".") > 1 }) {
			n++
		}
	}
	return 2*n > len(t.cells) || len(t.cells) == 0
}

func (t *table) number(s string) (float64, bool) {
	if t.layout.Comma {
		if strings.Contains(s, ".") {
			return 0, false
		}
		s = strings.Replace(s, ",", ".", 1)
	}
	v, _, ok := ingest.Number(strings.TrimPrefix(s, "+"))
	return v, ok
}

// find collects the lines that have most often the same number of fields, mostly numbers; the score is how many numbers
// they hold.
func (t *table) find() float64 {
	type line struct {
		no, numbers int
		cells       []string
	}
	byWidth := map[int][]line{}
	for i, l := range t.lines {
		if strings.TrimSpace(l) == "" {
			continue
		}
		cells := t.layout.Divide(l)
		numbers, empty := 0, 0
		for _, c := range cells {
			if _, ok := t.number(c); ok {
				numbers++
			} else if c == "" {
				empty++
			}
		}
		if len(cells) < 2 || numbers < 2 || 2*numbers < len(cells)-empty {
			continue
		}
		byWidth[len(cells)] = append(byWidth[len(cells)], line{i, numbers, cells})
	}
	score, width := 0.0, 0
	for n, ls := range byWidth {
		sum := 0.0
		for _, l := range ls {
			sum += float64(l.numbers)
		}
		if sum > score || sum == score && n > width {
			score, width = sum, n
		}
	}
	filled := slices.ContainsFunc(byWidth[width], func(l line) bool { return l.cells[width-1] != "" })
	for _, l := range byWidth[width] {
		if !filled { // each line ends in a delimiter
			l.cells = l.cells[:width-1]
		}
		t.rows, t.cells = append(t.rows, l.no), append(t.cells, l.cells)
	}
	t.dropHead()
	return score
}

var wordCell = regexp.MustCompile(`^\pL{3,}`)

// dropHead leaves out lines above the data that have as many fields by chance: at the top, those with words where other
// rows have numbers, and those with a gap before the next row.
func (t *table) dropHead() {
	if len(t.cells) == 0 {
		return
	}
	numbers := make([]int, len(t.cells[0])) // rows with a number, by column
	for _, row := range t.cells {
		for k, c := range row {
			if _, ok := t.number(c); ok {
				numbers[k]++
			}
		}
	}
	for len(t.rows) > 4 {
		words := 0
		for k, c := range t.cells[0] {
			if 10*numbers[k] > 9*(len(t.rows)-8) && wordCell.MatchString(c) && !strings.EqualFold(c, "nan") {
				words++
			}
		}
		if words < 2 {
			break
		}
		t.rows, t.cells = t.rows[1:], t.cells[1:]
	}
	for len(t.rows) > 4 && (t.rows[1] != t.rows[0]+1 || t.kinds(0) != t.kinds(1) && t.kinds(1) == t.kinds(2)) {
		t.rows, t.cells = t.rows[1:], t.cells[1:]
	}
}

// kinds describes the cells of a row: the decimals of each number.
func (t *table) kinds(i int) string {
	s := ""
	for _, c := range t.cells[i] {
		c = strings.Replace(c, ",", ".", 1)
		_, d, ok := ingest.Number(c)
		s += fmt.Sprint(ok && d > 0, " ")
	}
	return s
}

var fixedLine = regexp.MustCompile(`^[ \d.+-]+$`)

// findFixed finds lines of numbers of fixed width without blanks between them: lines of equal length whose points are
// at equal places.
func findFixed(lines []string) *table {
	byDots := map[string][]int{}
	for i, l := range lines {
		l = strings.TrimRight(l, " \r")
		if !fixedLine.MatchString(l) || strings.Count(l, ".") < 2 {
			continue
		}
		key := fmt.Sprint(len(l))
		for k, c := range l {
			if c == '.' {
				key += fmt.Sprint(" ", k)
			}
		}
		byDots[key] = append(byDots[key], i)
	}
	var rows []int
	for _, r := range byDots {
		if len(r) > len(rows) || len(r) == len(rows) && len(r) > 0 && r[0] < rows[0] {
			rows = r
		}
	}
	if len(rows) < 3 {
		return nil
	}
	t := &table{layout: ingest.Layout{Format: ingest.Fixed}, lines: lines, rows: rows, nameLine: -1}
	ends := t.fixedEnds()
	if ends == nil {
		return nil
	}
	from := 1
	for _, e := range ends {
		t.columns = append(t.columns, column{LayoutColumn: ingest.LayoutColumn{Place: ingest.Place{From: from, To: e}}})
		from = e + 1
	}
	for _, r := range rows {
		var cells []string
		for _, c := range t.columns {
			cells = append(cells, strings.TrimSpace(cut(lines[r], c.From, c.To)))
		}
		t.cells = append(t.cells, cells)
	}
	return t
}

func cut(s string, from, to int) string {
	r := []rune(s)
	return string(r[min(from-1, len(r)):min(to, len(r))])
}

// fixedEnds returns the last characters of the columns of a fixed table: where all numbers end that a blank follows;
// else where the names above end; else with equal decimals in all columns.
func (t *table) fixedEnds() []int {
	first := strings.TrimRight(t.lines[t.rows[0]], " \r")
	var dots []int
	for k, c := range first {
		if c == '.' {
			dots = append(dots, k)
		}
	}
	fits := func(ends []int) bool {
		if len(ends) != len(dots) || ends[len(ends)-1] < len(first) {
			return false
		}
		for i := range ends {
			if ends[i] <= dots[i] || i+1 < len(dots) && ends[i] > dots[i+1] {
				return false
			}
		}
		return true
	}
	digitEnds := func(s string) (ends []int) {
		for k := 1; k <= len(s); k++ {
			if s[k-1] != ' ' && (k == len(s) || s[k] == ' ') {
				ends = append(ends, k)
			}
		}
		return ends
	}
	for _, r := range t.rows {
		if ends := digitEnds(strings.TrimRight(t.lines[r], " \r")); fits(ends) {
			return ends
		}
	}
	for i := t.rows[0] - 1; i >= max(0, t.rows[0]-6); i-- {
		ends := digitEnds(strings.TrimRight(t.lines[i], " \r"))
		if len(ends) == len(dots) && ends[len(ends)-1] == len(first) && fits(ends) {
			return ends
		}
	}
	var ends []int
	for i := range dots {
		if i+1 == len(dots) {
			ends = append(ends, len(first))
		} else {
			ends = append(ends, t.divides(dots[i], dots[i+1]))
		}
	}
	return ends
}

// divides returns where one number ends and the next begins between two points: decimals change from line to line, the
// digits before a point hardly do.
func (t *table) divides(dot, next int) int {
	distinct := make([]float64, 0, next-dot)
	for k := dot + 1; k < next; k++ {
		seen := map[byte]bool{}
		for _, r := range t.rows {
			seen[t.lines[r][k]] = true
		}
		distinct = append(distinct, float64(len(seen)))
	}
	mean := func(v []float64) float64 {
		sum := 0.0
		for _, x := range v {
			sum += x
		}
		return sum / float64(len(v))
	}
	best, most := 1, math.Inf(-1)
	for k := 1; k < len(distinct); k++ {
		if d := mean(distinct[:k]) - mean(distinct[k:]); d > most {
			best, most = k, d
		}
	}
	return dot + 1 + best
}

// findNames finds the line of names above the data, and that of units below it.
func (t *table) findNames() {
	n := len(t.cells[0])
	most := 1
	for i := t.rows[0] - 1; i >= max(0, t.rows[0]-8); i-- {
		line := t.lines[i]
		if strings.TrimSpace(line) == "" {
			continue
		}
		names := t.layout.Names(line)
		if t.layout.Format == ingest.Fixed {
			names = t.fixedNames(line)
		}
		if k := len(names); k == n+1 && names[k-1].Text == "" {
			names = names[:k-1]
		}
		known := 0
		for _, c := range names {
			if m, _ := meaningOf(c.Bare); m != "" {
				known++
			}
			if unitAlone.MatchString(c.Text) {
				known -= 2
			}
		}
		if len(names) == n && known == 1 && t.nameLine < 0 && i == t.above() && onlyWords(names) {
			t.nameLine, t.names = i, names
		}
		if len(names) == n && known > most {
			t.nameLine, t.names, most = i, names, known
		}
	}
	if t.nameLine < 0 {
		return
	}
	for i := t.nameLine + 1; i < t.rows[0]; i++ {
		units := t.layout.Names(t.lines[i])
		if t.layout.Format == ingest.Fixed {
			units = t.fixedNames(t.lines[i])
		}
		if len(units) == n && strings.ContainsFunc(t.lines[i], func(r rune) bool {
			return r >= 'a' && r <= 'z' ||
				r >= 'A' && r <= 'Z'
		}) {
			for _, u := range units {
				t.units = append(t.units, strings.Trim(u.Text, "[]() "))
			}
			break
		}
	}
}

// above returns the number of the last line above the data that is not blank; -1 without one.
func (t *table) above() int {
	for i := t.rows[0] - 1; i >= 0; i-- {
		if strings.TrimSpace(t.lines[i]) != "" {
			return i
		}
	}
	return -1
}

var nameWord = regexp.MustCompile(`^\pL[\pL\d_./%()\[\]-]*$`)

// onlyWords reports whether names are words that begin with a letter, each different.
func onlyWords(names []ingest.ColumnName) bool {
	seen := map[string]bool{}
	for _, n := range names {
		if !nameWord.MatchString(n.Text) || seen[n.Text] {
			return false
		}
		seen[n.Text] = true
	}
	return len(names) > 2
}

// unitAlone is a field of a line of units.
var unitAlone = regexp.MustCompile(
	`(?i)^[\[(]?(d?bar|db|decibars?|deg(rees)? ?c|deg ?c|°c|its-?90|ipts-?68|psu|pss-?78|[uµ]mol.*|ml/l|mg/(l|m.*)|m|ms/cm|s/m|v|volts?|%.*|ntu|ftu|kg/m.*|-+)[\])]?$`)

func (t *table) fixedNames(line string) (out []ingest.ColumnName) {
	for _, c := range t.columns {
		s := strings.TrimSpace(cut(line, c.From, c.To))
		out = append(out, ingest.ColumnName{Text: s, Bare: s})
	}
	return out
}

// column makes the columns of the table with their values.
func (t *table) fillColumns() {
	n := len(t.cells[0])
	if t.columns == nil {
		t.columns = make([]column, n)
	}
	for k := range t.columns {
		c := &t.columns[k]
		c.values = make([]float64, len(t.cells))
		for i := range t.cells {
			c.values[i] = math.NaN()
			if k < len(t.cells[i]) {
				if v, ok := t.number(t.cells[i][k]); ok {
					c.values[i] = v
				}
			}
		}
		if t.names != nil {
			c.name = t.names[k].Text
			c.unit = t.names[k].Unit
			if c.unit == "" && t.units != nil {
				c.unit = t.units[k]
			}
		}
		if t.layout.Format == ingest.Fixed {
			continue
		}
		if t.names != nil && t.names[k].Bare != "" {
			c.Column = t.names[k].Bare
			same := 0
			for j := range t.names {
				if strings.EqualFold(t.names[j].Bare, c.Column) {
					same++
				}
			}
			if same > 1 {
				c.Column = t.names[k].Text
			}
		} else {
			c.Number = k + 1
		}
	}
}
