package compare

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/cmd/internal/archive"
)

// TableRows is a row that only one table has.
type TableRows struct {
	File string `json:"file"`
	Row  string `json:"row"`
	What What   `json:"what"`
}

// keys are the columns that name a row, of the tables whose numbers are compared row by row.
var keys = map[string][]string{
	"tables/transports.csv": {"section", "what", "station_a", "station_b", "lower", "upper", "bound_unit",
		"kind"},
	"tables/budgets.csv":      {"section", "kind"},
	"tables/cast_numbers.csv": {"cast_id", "name"},
	"tables/ledger.csv":       {"state", "expocode", "station", "cast", "section", "file"},
}

// table compares two CSV files: cell by cell where columns name the rows, else row by row.
func (r *Report) table(a, b *archive.Archive, p partner) error {
	x, err := a.Table(p.old)
	if err != nil {
		return err
	}
	y, err := b.Table(p.new)
	if err != nil {
		return err
	}
	key := keys[p.new]
	named := len(key) > 0
	for _, k := range key {
		named = named && x.Column(k) >= 0 && y.Column(k) >= 0
	}
	if i := x.Column("cast_id"); i >= 0 {
		for _, row := range x.Rows {
			if now, ok := r.renumbering[row[i]]; ok {
				row[i] = now
			}
		}
	}
	if !named {
		key = nil
	}
	old, order := rowsByName(x, p.new, key)
	now, more := rowsByName(y, p.new, key)
	cells := map[string]*Change{}
	squares := map[string]float64{}
	for _, n := range order {
		if now[n] == nil {
			r.Tables = append(r.Tables, TableRows{p.new, n, Removed})
			continue
		}
		for _, column := range x.Head {
			if named && y.Column(column) >= 0 && !slices.Contains(key, column) {
				r.cell(p.new, n, column, x.Get(old[n], column), y.Get(now[n], column), cells, squares)
			}
		}
	}
	for _, n := range more {
		if old[n] == nil {
			r.Tables = append(r.Tables, TableRows{p.new, n, Added})
		}
	}
	for _, column := range x.Head {
		if c := cells[column]; c != nil && c.Changed+c.Gained+c.Lost > 0 {
			if c.Compared > 0 {
				c.RMS = math.Sqrt(squares[column] / float64(c.Compared))
			}
			r.Values = append(r.Values, *c)
		}
	}
	return nil
}

// rowsByName returns the rows of a table by their names, and the names in order. A name is the words of the key
// columns, or of the whole row when there are none.
func rowsByName(t *archive.Table, file string, key []string) (rows map[string][]string, order []string) {
	rows = map[string][]string{}
	for _, row := range t.Rows {
		var words []string
		for _, k := range key {
			if w := t.Get(row, k); w != "" {
				words = append(words, w)
			}
		}
		name := strings.Join(words, " ")
		if len(key) == 0 {
			for i, column := range t.Head { // where a line is in an input is no difference of a finding
				if file != "tables/findings.csv" || !slices.Contains([]string{"file", "line", "column"}, column) {
					words = append(words, row[i])
				}
			}
			name = strings.Join(words, ", ")
		}
		for rows[name] != nil {
			name += " (again)"
		}
		rows[name] = row
		order = append(order, name)
	}
	return rows, order
}

// cell compares one cell.
func (r *Report) cell(file, row, column, was, is string, cells map[string]*Change, squares map[string]float64) {
	c := cells[column]
	if c == nil {
		c = &Change{File: file, Variable: column}
		cells[column] = c
	}
	switch {
	case was == "" && is == "":
		return
	case was == "":
		c.Gained++
		return
	case is == "":
		c.Lost++
		return
	}
	c.Compared++
	if was == is {
		return
	}
	c.Changed++
	a, err := strconv.ParseFloat(was, 64)
	b, err2 := strconv.ParseFloat(is, 64)
	if err == nil && err2 == nil {
		d := math.Abs(b - a)
		squares[column] += d * d
		if d > c.Max || c.Where == "" {
			c.Max, c.Where = d, row
		}
		return
	}
	if c.Where == "" {
		c.Where, c.OldText, c.NewText = row, was, is
	}
}
