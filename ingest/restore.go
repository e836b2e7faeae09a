package ingest

import (
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// deliver turns the fields into the columns of the cast.
func (x *exchange) deliver() {
	if len(x.errs) > 0 {
		return
	}
	x.flagStrange()
	c := &x.cast
	if n := x.row; n > 0 {
		c.Source.First, c.Source.Last = x.lineAtRow(0), x.lineAtRow(n-1)
	}
	for i := range x.field {
		col, ok := x.column(i)
		if !ok {
			continue
		}
		if x.field[i].pressure {
			c.PressureDbar = col.Values
		}
		c.Columns = append(c.Columns, col)
	}
	x.addRemarks()
	x.notEvaluated()
	x.restoreHeaders()
	if err := c.Validate(); err != nil {
		x.fail(0, 0, "", "%w", err)
	}
}

// addRemarks puts the comments that say what was converted before the others.
func (x *exchange) addRemarks() {
	for _, s := range x.remarks {
		x.cast.Comments = slices.Insert(x.cast.Comments, 0, section.Comment{Text: s, Place: section.InHead})
	}
	x.remarks = nil
}

// notEvaluated reads the comment that export.WriteExchange writes where flags 1 stand for "not evaluated", puts those
// flags back to 0 and takes the comment out (flags.md, Writing "not evaluated").
func (x *exchange) notEvaluated() {
	kept := x.cast.Comments[:0]
	for _, c := range x.cast.Comments {
		if !x.restoreFlags(c.Text) {
			kept = append(kept, c)
		}
	}
	x.cast.Comments = kept
	for i := range x.cast.Columns {
		if c := &x.cast.Columns[i]; c.Flags != nil &&
			!judged(len(c.Flags), func(i int) (uint8, bool) { return uint8(c.Flags[i]), c.Values[i] != c.Values[i] }) {
			c.Flags = nil
		}
	}
}

// judged reports whether anybody evaluated anything of a column: a flag on a value, one that says why a value was taken
// out, or, when no value is there at all, any flag.
func judged(n int, get func(int) (flag uint8, missing bool)) bool {
	present := false
	for i := range n {
		f, missing := get(i)
		if f != 0 && (!missing || f != uint8(metadata.NotSampled) && f != uint8(metadata.NotReported)) {
			return true
		}
		present = present || !missing
	}
	return !present
}

// onMissing reports whether a note of what was not evaluated speaks of a missing value; our writer makes none such (it
// gives flag 9).
func onMissing(hit []bool, v []float64) bool {
	for i, h := range hit {
		if h && v[i] != v[i] {
			return true
		}
	}
	return false
}

func (x *exchange) restoreFlags(s string) bool {
	name, what, ok := strings.Cut(strings.TrimPrefix(s, "# "), "_FLAG_W: 1 = not evaluated ")
	if !ok || !strings.HasPrefix(s, "# ") {
		return false
	}
	var col *section.Column
	for i := range x.cast.Columns {
		if k := &x.cast.Columns[i]; k.Exchange == name && k.Flags != nil {
			col = k
		}
	}
	if col == nil {
		return false
	}
	hit, n := metadata.NotEvaluatedLevels(what, x.cast.PressureDbar, col.Flags)
	if n <= 0 || x.restored[name] || onMissing(hit, col.Values) {
		x.warn(metadata.Warning, "exchange.not_evaluated", col.Name, 0, 0, "",
			"the comment %q does not fit the flags of %s; flags 1 are kept", s, name)
		return false
	}
	if x.restored == nil {
		x.restored = map[string]bool{}
	}
	x.restored[name] = true // one comment for each column; another one is somebody else's
	for i, h := range hit {
		if h {
			col.Flags[i] = metadata.NotEvaluated
		}
	}
	return true
}

// restoreHeaders takes back, as headers, those that our writer put into comments. It runs after the data: any comment
// may hold one, since the writer puts all comments at the top.
func (x *exchange) restoreHeaders() {
	seen := map[string]bool{}
	for _, h := range x.cast.Headers {
		seen[strings.ToUpper(h.Name)] = true
	}
	kept := x.cast.Comments[:0]
	for _, c := range x.cast.Comments {
		if h, ok := headerComment(c.Text); ok && c.Place != section.AfterEnd && !seen[strings.ToUpper(h.Name)] {
			x.cast.Headers = append(x.cast.Headers, h)
			seen[strings.ToUpper(h.Name)] = true
			continue
		}
		kept = append(kept, c)
	}
	x.cast.Comments = kept
}

// headerComment reads "# HEADER NAME = VALUE", the comment that export.WriteExchange makes of a user header: the
// standard of today has no place for it in the header block.
func headerComment(s string) (section.Header, bool) {
	rest, ok := strings.CutPrefix(s, "# HEADER ")
	if !ok {
		return section.Header{}, false
	}
	name, value, ok := strings.Cut(rest, " = ")
	if !ok {
		name, ok = strings.CutSuffix(rest, " =")
	}
	if !ok || name == "" || name != strings.TrimSpace(name) || listedHeader(strings.ToUpper(name)) ||
		strings.Contains(name, "=") {
		return section.Header{}, false
	}
	return section.Header{Name: name, Value: value}, true
}
