package pipeline

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// readBottles reads the bottle files of the cruise file. Faults are among the findings.
func (w *inputs) readBottles(ctx context.Context) error {
	if len(w.cruise.Casts.Bottles) == 0 {
		return nil
	}
	l := w.list(w.cruise.Casts.Bottles, ingest.Bottles)
	r := &ingest.Reader{Options: w.readerOptions()}
	sums := map[string]metadata.Digest{}
	inputs := w.leaveOutFiles(l.Inputs)
	for i := range inputs {
		if err := ctx.Err(); err != nil {
			return err
		}
		b, found, err := r.Bottles(&inputs[i])
		w.file("read", inputs[i].Name)
		w.find(found...)
		if err != nil {
			w.fault(err, "input.bottles")
			continue
		}
		sums[b.Source.Name] = whole(b.Source)
		w.bottles = append(w.bottles, b)
	}
	return w.digestFiles(ctx, l.Files, sums)
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// whole is a digest without the lines that were used.
func whole(d metadata.Digest) metadata.Digest {
	d.First, d.Last = 0, 0
	return d
}

func (w *inputs) readerOptions() ingest.Options {
	return ingest.Options{Lenient: w.cruise.Casts.Lenient, Aliases: w.cruise.Casts.Aliases,
		Layouts: w.cruise.Casts.Layouts, Used: func(alias int) { w.used[alias].Store(true) },
		Legs: declaredLegs(w.cruise), Log: w.tables.entries}
}

type bottleKey struct{ expocode, station, cast string }

func (k bottleKey) of() *section.Cast {
	return &section.Cast{Expocode: k.expocode, Station: k.station, Number: k.cast}
}

// A bottleMatch is what matching bottles with casts needs from all files.
type bottleMatch struct {
	casts map[bottleKey]*section.Cast
	left  map[bottleKey]bool   // casts that the cruise file leaves out
	seen  map[[4]string]string // file of each sample
}

// matchBottles gives bottles the names and clock of their casts, and says which bottles have no cast. A renumbering is
// followed where the bottle file still has the old name, and no cast has it any more.
func (w *survey) matchBottles() {
	if len(w.bottles) == 0 {
		return
	}
	m := bottleMatch{map[bottleKey]*section.Cast{}, map[bottleKey]bool{}, map[[4]string]string{}}
	for _, k := range w.casts {
		m.casts[bottleKey{k.Expocode, k.Station, k.Number}] = k
	}
	for _, o := range w.out {
		if o.cast != nil {
			m.left[bottleKey{o.cast.Expocode, o.cast.Station, o.cast.Number}] = true
		}
	}
	for _, b := range w.bottles {
		counts, renamed := map[bottleKey]int{}, map[bottleKey]int{}
		var order []bottleKey
		for i := range b.Rows {
			key := w.matchBottle(&m, &b.Rows[i], b.Source.Name, renamed)
			if counts[key] == 0 {
				order = append(order, key)
			}
			counts[key]++
		}
		for _, key := range order {
			if m.casts[key] == nil {
				w.bottlesWithoutCast(b.Source.Name, key, counts[key], m.left[key])
			}
		}
		w.renumberedBottles(b.Source.Name, renamed)
	}
}

// matchBottle gives one bottle of a file the name and clock of its cast, whose key it returns, and counts it in renamed
// under its old name where that changed.
func (w *survey) matchBottle(m *bottleMatch, row *section.Bottle, file string, renamed map[bottleKey]int) bottleKey {
	key := bottleKey{row.Expocode, row.Station, row.Cast}
	if m.casts[key] == nil && !m.left[key] {
		if to, ok := w.renumbered(key); ok && m.casts[to] != nil {
			renamed[key]++
			row.Expocode, row.Station, row.Cast = to.expocode, to.station, to.cast
			key = to
		}
	}
	k := m.casts[key]
	if k == nil {
		k = key.of()
	}
	if d := clockOffset(w.cruise, k, cruisefile.ClockOfFiles); d != 0 && !row.Time.IsZero() && !row.DateOnly {
		row.Time = row.Time.Add(d)
	}
	sample := [4]string{row.Expocode, row.Station, row.Cast, row.Sample}
	if other, twice := m.seen[sample]; twice && other != file {
		w.find(metadata.Finding{Position: metadata.Position{File: file}, Severity: metadata.Failure,
			Check: "bottles.twice",
			Message: fmt.Sprintf("sample %s of cast %s is in %s too", row.Sample,
				metadata.CastText(row.Station, row.Cast), other),
			Remedy:  "take the line out of one of the two files",
			Options: []metadata.Option{{Text: "leave one out", Paste: metadata.LeaveOutFile(file, "...")}}})
	}
	m.seen[sample] = file
	return key
}

// bottlesWithoutCast finds that n bottles of a file are of a cast that is not there, or that the cruise file leaves
// out.
func (w *survey) bottlesWithoutCast(file string, key bottleKey, n int, left bool) {
	name := metadata.CastText(key.station, key.cast)
	f := metadata.Finding{Position: metadata.Position{File: file}, Severity: metadata.Warning, Check: "bottles.cast",
		Count: n, Cast: key.of().ID(),
		Message: fmt.Sprintf("%s of cast %s of %s, which no CTD file holds; kept", plural(n, "bottle"), name,
			key.expocode),
		Remedy: nearest(key.expocode, key.station, key.cast, w.casts)}
	if left {
		f.Severity, f.Remedy = metadata.Note, ""
		f.Message = fmt.Sprintf("%s of cast %s, which the cruise file leaves out; kept", plural(n, "bottle"), name)
	}
	w.find(f)
}

// renumberedBottles notes the bottles of a file that got a new number, with how many of each old name.
func (w *survey) renumberedBottles(file string, renamed map[bottleKey]int) {
	for i := range w.cruise.Casts.Renumber {
		for key, n := range renamed {
			if r := &w.cruise.Casts.Renumber[i]; r.File == "" && named(r.From, key.of()) {
				w.find(metadata.Finding{Position: metadata.Position{File: file}, Severity: metadata.Note,
					Check: "bottles.renumber", Count: n,
					Message: fmt.Sprintf("%s of cast %s: written under its new number",
						plural(n, "bottle"), metadata.CastText(key.station, key.cast))})
			}
		}
	}
}

// renumbered returns the new name of a cast, when the cruise file changes it.
func (w *inputs) renumbered(key bottleKey) (bottleKey, bool) {
	for _, r := range w.cruise.Casts.Renumber {
		if r.File == "" && named(r.From, key.of()) {
			return bottleKey{orDefault(r.To.Expocode, key.expocode), orDefault(r.To.Station, key.station),
				orDefault(r.To.Number, key.cast)}, true
		}
	}
	return key, false
}

// writeBottles writes one exchange bottle file for each expocode, lines in the order of the files.
func (w *archive) writeBottles() error {
	var codes []string
	for _, b := range w.bottles {
		for i := range b.Rows {
			if c := b.Rows[i].Expocode; !slices.Contains(codes, c) {
				codes = append(codes, c)
			}
		}
	}
	slices.Sort(codes)
	for _, code := range codes {
		one, sources, err := bottlesOf(w.bottles, code)
		if err != nil {
			return err
		}
		rel := "casts/" + code + "_hy1.csv"
		if err := w.put(rel, "Bottles as an exchange file (CSV), each number with the decimals that it was read with.",
			func(o io.Writer) error { return export.WriteBottles(o, one) }); err != nil {
			return err
		}
		w.record(metadata.Record{Step: "write", Text: "bottles as an exchange file", Inputs: sources,
			Outputs: []string{rel},
			Params: []metadata.Param{{Name: "expocode", Value: code},
				{Name: "bottles", Value: fmt.Sprint(len(one.Rows))}}})
	}
	return nil
}

// bottlesOf returns the bottles of one expocode from all files in one table. A column that a file lacks is missing
// there, with flag 9 where the column has flags.
func bottlesOf(files []*section.Bottles, code string) (*section.Bottles, []metadata.Digest, error) {
	out := &section.Bottles{}
	var sources []metadata.Digest
	for _, b := range files {
		var rows []int
		for i := range b.Rows {
			if b.Rows[i].Expocode == code {
				rows = append(rows, i)
			}
		}
		if len(rows) == 0 {
			continue
		}
		sources = append(sources, b.Source)
		if out.Stamp == "" || stampDate(b.Stamp).After(stampDate(out.Stamp)) {
			out.Stamp = b.Stamp
		}
		out.Source = b.Source
		out.Comments = append(out.Comments, b.Comments...)
		out.Flagged = out.Flagged || b.Flagged
		before := len(out.Rows)
		for _, i := range rows {
			out.Rows = append(out.Rows, b.Rows[i])
		}
		had := map[string]bool{}
		for c := range b.Columns {
			from := &b.Columns[c]
			to := columnFor(out, from, before)
			had[from.Name] = true
			if to.Units != from.Units || (to.Text == nil) != (from.Text == nil) {
				return nil, nil, &metadata.InputError{Position: metadata.Position{File: b.Source.Name},
					Err: fmt.Errorf("column %s is in %s here and in %s in %s", from.Name, unitText(from),
						unitText(to), sources[0].Name),
					Remedy: "write both files in one unit"}
			}
			appendBottles(to, from, rows, before)
		}
		for c := range out.Columns {
			if k := &out.Columns[c]; !had[k.Name] {
				padBottles(k, k, len(rows))
			}
		}
	}
	return out, sources, nil
}

// columnFor returns the column of a table that has the name of another, and makes it, with so many missing values, when
// there is none.
func columnFor(out *section.Bottles, from *section.BottleColumn, before int) *section.BottleColumn {
	at := slices.IndexFunc(out.Columns, func(k section.BottleColumn) bool { return k.Name == from.Name })
	if at < 0 {
		k := section.BottleColumn{Variable: from.Variable, Decimals: from.Decimals, Width: from.Width}
		if from.Text != nil {
			k.Text = []string{}
		}
		padBottles(&k, from, before)
		out.Columns = append(out.Columns, k)
		at = len(out.Columns) - 1
	}
	return &out.Columns[at]
}

// appendBottles appends rows of one column to another, which has so many rows before.
func appendBottles(to, from *section.BottleColumn, rows []int, before int) {
	if to.Width != from.Width {
		to.Width = 0
	}
	if from.Flags != nil && to.Flags == nil {
		to.Flags = make([]metadata.Flag, before)
	}
	if from.SampleFlags != nil && to.SampleFlags == nil {
		to.SampleFlags = make([]metadata.SampleFlag, before)
	}
	for _, i := range rows {
		if from.Text != nil {
			to.Text = append(to.Text, from.Text[i])
		} else {
			if d, ok := from.Digits(i); ok && from.Values[i] == from.Values[i] &&
				(d.Decimals != to.Decimals || d.Text != "") {
				d.Level = len(to.Values)
				to.Exceptions = append(to.Exceptions, d)
			}
			to.Values = append(to.Values, from.Values[i])
		}
		if to.Flags != nil {
			to.Flags = append(to.Flags, at0(from.Flags, i))
		}
		if to.SampleFlags != nil {
			to.SampleFlags = append(to.SampleFlags, at0(from.SampleFlags, i))
		}
	}
}

func at0[T any](s []T, i int) (v T) {
	if s != nil {
		v = s[i]
	}
	return v
}

func unitText(c *section.BottleColumn) string {
	if c.Text != nil {
		return "text"
	}
	return orDefault(c.Units, "no unit")
}

// padBottles adds n bottles without a value to a column of the kind of like.
func padBottles(c, like *section.BottleColumn, n int) {
	for range n {
		if like.Text != nil {
			c.Text = append(c.Text, "-999")
		} else {
			c.Values = append(c.Values, math.NaN())
		}
		if like.Flags != nil {
			c.Flags = append(c.Flags, metadata.NotSampled)
		}
		if like.SampleFlags != nil {
			c.SampleFlags = append(c.SampleFlags, metadata.SampleNotDrawn)
		}
	}
}
