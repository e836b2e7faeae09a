package ingest

import (
	"bytes"
	"crypto/sha256"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// identification reports whether a column of a bottle file says which bottle, where and when.
func identification(name string) bool {
	switch name {
	case "EXPOCODE", "SECT_ID", "STNNBR", "CASTNO", "SAMPNO", "BTLNBR", "DATE", "TIME", "LATITUDE", "LONGITUDE",
		"DEPTH":
		return true
	}
	return false
}

// ParseBottles reads the bytes of one exchange bottle file (exchange.md sections 1, 4 and 7). CTD parameters take the
// CTD flag set, BTLNBR the bottle set and all others the water sample set, each of its own type. Errors are as those of
// Parse.
func ParseBottles(data []byte, name string, o Options) (*section.Bottles, []metadata.Finding, error) {
	x := newExchange(name, &o, true)
	b := &section.Bottles{Source: metadata.Digest{Name: name, SHA256: sha256.Sum256(data), Bytes: int64(len(data))}}
	if x.open(data) {
		x.readBottles(b)
	}
	found, err := x.finish("")
	if err != nil {
		return nil, found, err
	}
	return b, found, nil
}

func (x *exchange) readBottles(b *section.Bottles) {
	comment := func(place section.CommentPlace) func([]byte) {
		return func(line []byte) {
			x.cast.Comments = append(x.cast.Comments, section.Comment{Text: x.utf8Text(line), Place: place})
		}
	}
	var ok bool
	if b.Stamp, ok = x.stamp("BOTTLE", "CTD", comment(section.InHead)); !ok {
		return
	}
	params, ok := x.head(comment)
	if !ok {
		return
	}
	for i := range x.headers {
		x.fail(x.headers[i].line, 1, "write it as a column, or as a comment behind #",
			"a bottle file has no header lines: %s", x.headers[i].raw)
	}
	if !x.columns(params) || !x.identified() {
		return
	}
	x.rows()
	if len(x.errs) == 0 {
		x.bottles(b)
	}
}

// identified checks that the columns are there that say which bottle a line is.
func (x *exchange) identified() bool {
	all, have := []string{}, map[string]bool{}
	for i := range x.field {
		all = append(all, x.field[i].raw)
		have[x.field[i].ident] = true
	}
	good := true
	for _, name := range []string{"EXPOCODE", "STNNBR", "CASTNO", "DATE", "LATITUDE", "LONGITUDE", "SAMPNO"} {
		if have[name] {
			continue
		}
		if name == "SAMPNO" && have["BTLNBR"] {
			x.warn(metadata.Warning, "exchange.sampno", "", x.no, 0, "",
				"no column SAMPNO; BTLNBR is used in its place, as in older files")
			continue
		}
		good = false
		x.fail(x.no-1, 1, "add the column "+name, "required column %s is missing; columns found: %s", name,
			strings.Join(all, " "))
	}
	return good
}

// bottles turns the fields into rows and columns.
func (x *exchange) bottles(b *section.Bottles) {
	n := x.row
	if n > 0 {
		b.Source.First, b.Source.Last = x.lineOf(0), x.lineOf(n-1)
	}
	b.Rows = make([]section.Bottle, n)
	for _, c := range x.strange { // made missing by Lenient
		if k := x.field[c.field].flagged; k >= 0 {
			x.field[k].flg[c.row] = metadata.Bad // 4 in each set
		}
	}
	for i := range b.Rows {
		b.Rows[i].BottomM = math.NaN()
	}
	ident := map[string]*field{}
	for i := range x.field {
		if f := &x.field[i]; f.ident != "" {
			ident[f.ident] = f
		}
	}
	for i := range b.Rows {
		x.identify(b, i, ident)
		if x.full {
			return
		}
	}
	sample := ident["SAMPNO"]
	if sample == nil {
		sample = ident["BTLNBR"]
	}
	x.unique(b, sample)
	for i := range x.field {
		f := &x.field[i]
		switch {
		case f.ident == "BTLNBR" && f.flagged >= 0:
			b.Flagged = true
			for r := range n {
				b.Rows[r].Flag = metadata.BottleFlag(x.field[f.flagged].flg[r])
			}
		case f.ident != "":
		case f.kind == flags:
			if x.field[f.of].kind == texts && x.field[f.of].ident == "" {
				b.Columns = append(b.Columns, section.BottleColumn{Variable: x.flagText(i), Decimals: -1,
					Text: flagWords(x.field[i].flg[:n])})
			}
		case f.kind == texts:
			b.Columns = append(b.Columns, section.BottleColumn{Variable: f.variable, Decimals: -1, Text: f.txt[:n:n]})
		default:
			b.Columns = append(b.Columns, x.bottleColumn(f, n))
		}
	}
	x.addRemarks()
	b.Comments = x.cast.Comments
	x.restoreBottles(b)
}

func (x *exchange) bottleColumn(f *field, n int) section.BottleColumn {
	c := section.BottleColumn{Variable: f.variable, Width: max(f.width, 0), Values: f.dst[:n:n]}
	c.Decimals, c.Exceptions = f.digits(c.Values)
	if f.flagged >= 0 {
		g := &x.field[f.flagged]
		if ctdParameter(f.variable.Exchange) {
			c.Flags = x.checkFlags(f, g.raw, c.Values, g.flg[:n:n])
		} else {
			c.SampleFlags = x.checkSamples(f, g.raw, c.Values, g.flg[:n:n])
		}
	}
	col := section.Column{Variable: c.Variable, Decimals: c.Decimals, Exceptions: c.Exceptions, Width: c.Width,
		Values: c.Values, Flags: c.Flags}
	if c.SampleFlags != nil { // the range is judged of what claims to be good: 2 in either set
		col.Flags = make([]metadata.Flag, n)
		for i, s := range c.SampleFlags {
			if col.Flags[i] = metadata.Bad; s == metadata.SampleAcceptable || s == metadata.SampleMean ||
				s == metadata.SampleNotEvaluated {
				col.Flags[i] = metadata.Acceptable
			}
		}
	}
	if f.from != "" && f.known {
		x.converted(f, &col)
		c.Variable, c.Decimals, c.Exceptions, c.Width = col.Variable, col.Decimals, col.Exceptions, col.Width
	}
	if f.known {
		x.checkRange(f, &col)
	}
	if f.to90 {
		x.toITS90(f, &col)
		c.Variable, c.Decimals, c.Exceptions, c.Width = col.Variable, col.Decimals, col.Exceptions, col.Width
	}
	return c
}

// ctdParameter reports whether a parameter takes the CTD flag set also in bottle files: those whose name begins with
// CTD.
func ctdParameter(exchange string) bool { return strings.HasPrefix(exchange, "CTD") }

// identCell returns a cell of a column of identification as a header: nil when the table has no such column or the cell
// is missing.
func (x *exchange) identCell(ident map[string]*field, name string, row int) *header {
	f := ident[name]
	if f == nil || f.txt[row] == "-999" || f.txt[row] == "" {
		return nil
	}
	line := x.lineOf(row)
	return &header{name: name, value: f.txt[row], line: line, column: x.columnOf(line, f)}
}

// identify reads the identification of one line.
func (x *exchange) identify(b *section.Bottles, i int, ident map[string]*field) {
	r := &b.Rows[i]
	line := x.lineOf(i)
	cell := func(name string) *header { return x.identCell(ident, name, i) }
	column := func(name string) int {
		if f := ident[name]; f != nil {
			return x.columnOf(line, f)
		}
		return 0
	}
	need := func(name string) *header {
		h := cell(name)
		if h == nil {
			x.fail(line, column(name), "write it", "%s is missing", name)
		}
		return h
	}
	if h := need("EXPOCODE"); h != nil {
		r.Expocode = h.value
		x.expocode(h)
	}
	if h := need("STNNBR"); h != nil {
		r.Station = x.named(h, "STNNBR")
	}
	if h := need("CASTNO"); h != nil {
		r.Cast = x.named(h, "CASTNO")
	}
	if h := cell("SECT_ID"); h != nil {
		r.SectionID = h.value
	}
	label := func(name string) string {
		h := cell(name)
		if h == nil {
			return ""
		}
		if !identifier(h.value) {
			x.warn(metadata.Warning, "exchange.identifier", name, line, h.column, "",
				"%s %q holds more than letters, digits and _; kept as given", name, h.value)
		}
		return h.value
	}
	r.Sample, r.Bottle = label("SAMPNO"), label("BTLNBR")
	if ident["SAMPNO"] != nil {
		need("SAMPNO")
	} else if need("BTLNBR") != nil {
		r.Sample = r.Bottle
	}
	x.whenAndWhere(r, i, ident, need)
}

// whenAndWhere reads time, position and water depth of one line; need returns a cell that must be there.
func (x *exchange) whenAndWhere(r *section.Bottle, i int, ident map[string]*field, need func(string) *header) {
	line := x.lineOf(i)
	note := func(name string) {
		if f := ident[name]; f != nil && f.txt[i] == "" {
			x.warn(metadata.Note, "exchange.fill", name, line, x.columnOf(line, f), "",
				"%s: empty value; read as missing", name)
		}
	}
	if date := need("DATE"); date != nil {
		x.cast.Time, x.cast.DateOnly = r.Time, false
		x.when(date, x.identCell(ident, "TIME", i))
		r.Time, r.DateOnly = x.cast.Time, x.cast.DateOnly
		note("TIME")
	}
	if h := need("LATITUDE"); h != nil {
		r.At[1], r.AtDecimals[1], r.AtText[1] = x.degrees(h, 'N', 'S', 90)
	}
	if h := need("LONGITUDE"); h != nil {
		r.At[0], r.AtDecimals[0], r.AtText[0] = x.longitude(h, "")
	}
	note("DEPTH")
	if h := x.identCell(ident, "DEPTH", i); h != nil {
		x.cast.BottomM, x.cast.BottomDecimals, x.cast.BottomText = math.NaN(), 0, ""
		x.depth(h)
		r.BottomM, r.BottomDecimals, r.BottomText = x.cast.BottomM, x.cast.BottomDecimals, x.cast.BottomText
	}
}

// columnOf returns the place of a field on a line of the file.
func (x *exchange) columnOf(line int, f *field) int {
	if x.lineAt > line {
		x.lineAt, x.lineFrom = 1, 0
	}
	for x.lineAt < line {
		x.lineFrom += bytes.IndexByte(x.data[x.lineFrom:], '\n') + 1
		x.lineAt++
	}
	at := x.lineFrom
	for i := range x.field {
		if &x.field[i] == f {
			break
		}
		at += bytes.IndexByte(x.data[at:], ',') + 1
	}
	for x.data[at] == ' ' {
		at++
	}
	return at - x.lineFrom + 1
}

// unique checks that expocode, station, cast and sample name one line each, and that lines of a cast stand together.
func (x *exchange) unique(b *section.Bottles, sample *field) {
	type key struct{ expocode, station, cast, sample string }
	first := map[key]int{}
	left := map[key]bool{}
	var open key
	for i := range b.Rows {
		r := &b.Rows[i]
		k := key{r.Expocode, r.Station, r.Cast, r.Sample}
		if j, there := first[k]; there {
			x.fail(x.lineOf(i), x.columnOf(x.lineOf(i), sample), "give one of the two another sample number",
				"station %s cast %s sample %s is on line %d already", r.Station, r.Cast, r.Sample, x.lineOf(j))
		} else {
			first[k] = i
		}
		k.sample = ""
		if k != open {
			left[open] = true
			if left[k] {
				x.warn(metadata.Note, "exchange.cast_apart", "", x.lineOf(i), 0, "",
					"lines of station %s cast %s do not stand together; read all the same", r.Station, r.Cast)
			}
			open = k
		}
	}
}

// restoreBottles is notEvaluated for bottle files, where the comment counts lines.
func (x *exchange) restoreBottles(b *section.Bottles) {
	done := map[string]bool{}
	kept := b.Comments[:0]
	for _, c := range b.Comments {
		name, what, ok := strings.Cut(strings.TrimPrefix(c.Text, "# "), "_FLAG_W: 1 = not evaluated ")
		if !ok || !strings.HasPrefix(c.Text, "# ") || done[name] || !restoreColumn(b, name, what) {
			kept = append(kept, c)
			continue
		}
		done[name] = true
	}
	b.Comments = kept
	b.Flagged = b.Flagged &&
		slices.ContainsFunc(b.Rows, func(r section.Bottle) bool { return r.Flag != metadata.BottleNotEvaluated })
	for i := range b.Columns {
		c := &b.Columns[i]
		missing := func(i int) bool { return c.Values[i] != c.Values[i] }
		if c.Flags != nil && !judged(len(c.Flags), func(i int) (uint8, bool) { return uint8(c.Flags[i]), missing(i) }) {
			c.Flags = nil
		}
		if c.SampleFlags != nil &&
			!judged(len(c.SampleFlags), func(i int) (uint8, bool) { return uint8(c.SampleFlags[i]), missing(i) }) {
			c.SampleFlags = nil
		}
	}
}

func restoreColumn(b *section.Bottles, name, what string) bool {
	p := b.Column("pres").Values
	set := func(n int, v []float64, get func(int) uint8, zero func(int)) bool {
		digits := make([]metadata.Flag, n)
		for i := range digits {
			digits[i] = metadata.Flag(get(i))
		}
		hit, count := metadata.NotEvaluatedLevels(what, p, digits)
		if v != nil && onMissing(hit, v) {
			return false
		}
		for i, h := range hit {
			if h {
				zero(i)
			}
		}
		return count > 0
	}
	if name == "BTLNBR" && b.Flagged {
		return set(len(b.Rows), nil, func(i int) uint8 { return uint8(b.Rows[i].Flag) },
			func(i int) { b.Rows[i].Flag = 0 })
	}
	for i := range b.Columns {
		c := &b.Columns[i]
		if c.Exchange != name {
			continue
		}
		if c.Flags != nil {
			return set(len(c.Flags), c.Values, func(i int) uint8 { return uint8(c.Flags[i]) },
				func(i int) { c.Flags[i] = metadata.NotEvaluated })
		}
		if c.SampleFlags != nil {
			return set(len(c.SampleFlags), c.Values, func(i int) uint8 { return uint8(c.SampleFlags[i]) },
				func(i int) { c.SampleFlags[i] = metadata.SampleNotEvaluated })
		}
	}
	return false
}
