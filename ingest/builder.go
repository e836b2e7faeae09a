package ingest

import (
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/metadata/units"
	"github.com/castwright/castwright/section"
)

// kind says what a field of a data line is.
type kind uint8

const (
	numbers kind = iota
	flags
	texts
)

// field is one column of the data lines of a file.
type field struct {
	kind     kind
	known    bool // the quantity is in our table: what is no number is an error, not text
	pressure bool
	variable metadata.Variable
	ident    string // bottle files: the identification that the column holds, such as STNNBR
	raw      string // name as read
	unit     string // unit as listed
	of       int    // flags: the field that they belong to
	flagged  int    // numbers: the field of its flags; -1 none
	alias    *Alias // of the cruise file, that says what the column is; nil for none
	aliasNo  int    // of alias among those of the cruise file
	to90     bool   // IPTS-68 to be converted
	from     string // unit that an alias has converted, as listed; "" for none
	change   units.Conversion

	dst      []float64
	flg      []metadata.Flag
	txt      []string
	same     map[string]string
	seen     bool             // a value was read
	decimals int              // of the first value
	odd      []section.Digits // values with other digits than the first; of several at one level the last counts
	width    int              // of every value so far; -1 when they differ
}

// A builder makes the columns of a cast of a table of text: what each column is, by its name, its unit and what the
// cruise file says of it; numbers with their digits; flags; conversion to the units of the variables. A format gives it
// names and units (meanings), sizes its columns (size), sets the cells of one row after the other (cell, or the fields
// themselves) and takes the columns (column). It has no notion of lines but the places that it is given.
type builder struct {
	*report
	o        *Options
	bottle   bool // the columns are of bottles
	field    []field
	row      int               // rows so far
	pressure int               // the field of pressure
	turned   bool              // a column of numbers turned out to be text: the rows are to be set once more
	strange  []cell            // cells made missing with flag 4 by Lenient
	lineOf   func(row int) int // the line of the file that holds a row
	remarks  []string          // comment lines that say what was converted
}

type cell struct{ field, row int }

// size sizes the columns for n rows.
func (b *builder) size(n int) {
	nv, nf := 0, 0
	for i := range b.field {
		switch b.field[i].kind {
		case numbers:
			nv++
		case flags:
			nf++
		}
	}
	values, flg := make([]float64, nv*n), make([]metadata.Flag, nf*n)
	for i := range b.field {
		f := &b.field[i]
		switch f.kind {
		case numbers:
			f.dst, values = values[:n:n], values[n:]
		case flags:
			f.flg, flg = flg[:n:n], flg[n:]
		case texts:
			f.same = map[string]string{}
		}
	}
}

// restart empties the fields for the rows to be set once more.
func (b *builder) restart() {
	b.row, b.turned, b.strange = 0, false, nil
	for i := range b.field {
		f := &b.field[i]
		f.txt = f.txt[:0]
		f.seen, f.decimals, f.odd, f.width = false, 0, nil, 0
	}
}
