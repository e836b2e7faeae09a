package pipeline

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

// editFile is one table of flag edits.
type editFile struct {
	source metadata.Digest
	data   []byte
	edits  []ingest.FlagEdit
}

// copiedEdits is where the edits stand in the archive.
const copiedEdits = "provenance/flag_edits.csv"

// applyEdits sets the flags that a person decided on, last of all, one record each. Lines without initials or reason
// are proposals and change nothing.
func (w *survey) applyEdits(files []editFile) {
	set := map[*section.Column][]int32{} // for each level: the edit that set it, counted from 1
	var done []metadata.Position
	for i := range files {
		f := &files[i]
		waiting, first := 0, metadata.Position{}
		for j := range f.edits {
			e := &f.edits[j]
			if !e.Accepted() {
				if e.Initials != "" || e.Reason != "" {
					what, column := "initials", "initials"
					if e.Initials != "" {
						what, column = "reason", "reason"
					}
					w.find(metadata.Finding{Position: e.Place(column), Severity: metadata.Warning,
						Check:   "edits.unsigned",
						Message: "the edit has no " + what + "; not applied", Remedy: "add the " + what +
							" to accept it, or take the line out"})
					continue
				}
				if waiting == 0 {
					first = e.Place("initials")
				}
				waiting++
				continue
			}
			w.edit(f, e, set, &done)
		}
		if waiting > 0 {
			s := metadata.Note
			if w.cruise.Release.Status == metadata.Final {
				s = metadata.Warning
			}
			w.find(metadata.Finding{Position: first, Severity: s, Check: "edits.unsigned", Count: waiting,
				Message: fmt.Sprintf("%d of %d edits have no initials and are not applied; this is the first", waiting,
					len(f.edits)),
				Remedy: "add initials and a reason to accept an edit, or take its line out"})
		}
	}
}

// edit applies one accepted edit to the cast that it names.
func (w *survey) edit(f *editFile, e *ingest.FlagEdit, set map[*section.Column][]int32, done *[]metadata.Position) {
	k := w.edited(e)
	if k == nil {
		return
	}
	col := w.editedColumn(e, k)
	if col == nil {
		return
	}
	levels, inRange := w.editedLevels(e, k, col)
	if len(levels) == 0 {
		return
	}
	ensureFlags(col)
	if w.decided == nil {
		w.decided = map[*section.Column][]*ingest.FlagEdit{}
	}
	if w.decided[col] == nil {
		w.decided[col] = make([]*ingest.FlagEdit, len(col.Values))
	}
	if set[col] == nil {
		set[col] = make([]int32, len(col.Values))
	}
	*done = append(*done, e.Place("flag"))
	was := map[metadata.Flag]int{}
	var before metadata.Position
	again := 0
	for _, i := range levels {
		if n := set[col][i]; n > 0 {
			if again++; again == 1 {
				before = (*done)[n-1]
			}
		}
		set[col][i] = int32(len(*done))
		w.decided[col][i] = e
		was[col.Flags[i]]++
		col.Flags[i] = e.Flag
	}
	if again > 0 {
		w.find(metadata.Finding{Position: e.Place("flag"), Severity: metadata.Note, Check: "edits.again", Cast: k.ID(),
			Variable: col.Name, Count: again,
			Message: fmt.Sprintf("sets %s that the edit at %s has set; the later line counts", plural(again, "flag"),
				before), First: k.PressureDbar[levels[0]], Last: k.PressureDbar[levels[len(levels)-1]]})
	}
	if len(levels) < inRange && !math.IsInf(e.FromDbar, -1) {
		w.find(metadata.Finding{Position: e.Place("flag"), Severity: metadata.Note, Check: "edits.part", Cast: k.ID(),
			Variable: col.Name, Count: inRange - len(levels),
			Message: fmt.Sprintf("%d of %d levels left as they are: flag %d is for levels %s a value",
				inRange-len(levels), inRange, e.Flag, map[bool]string{true: "without", false: "with"}[saysEmpty(e)])})
	}
	line := f.source
	line.First, line.Last = e.Place("flag").Line, e.Place("flag").Line
	r := metadata.Record{Step: "flag", Inputs: []metadata.Digest{line, k.Source},
		Text: fmt.Sprintf("%s of cast %s, %s: flag %d at %s by %s: %s", col.Name, k.ID(), rangeText(e), e.Flag,
			plural(len(levels), "level"), e.Initials, e.Reason),
		Params: []metadata.Param{{Name: "line", Value: e.Place("flag").String()}, {Name: "was", Value: flagCounts(was)},
			{Name: "decided", Value: orDefault(dayText(e), "no date")},
			{Name: "proposed_by", Value: orDefault(e.Check, "no check")}}}
	w.record(r)
}

// notApplied says why an edit is not applied.
func (w *survey) notApplied(e *ingest.FlagEdit, column, remedy, format string, a ...any) {
	w.find(metadata.Finding{Position: e.Place(column), Severity: metadata.Warning, Check: "edits." + column,
		Message: fmt.Sprintf(format, a...) + "; not applied", Remedy: remedy})
}

// edited returns the cast that an edit names; nil when there is not one.
func (w *survey) edited(e *ingest.FlagEdit) *section.Cast {
	name := metadata.CastText(e.Station, e.Cast)
	var hits []*section.Cast
	for _, k := range w.casts {
		if k.Station == e.Station && k.Number == e.Cast && (e.Expocode == "" || e.Expocode == k.Expocode) {
			hits = append(hits, k)
		}
	}
	switch {
	case len(hits) == 0:
		for _, o := range w.out {
			if o.cast != nil && o.cast.Station == e.Station && o.cast.Number == e.Cast {
				w.notApplied(e, "station", "take the line out, or the cast in",
					"cast %s is left out by the cruise file", name)
				return nil
			}
		}
		w.notApplied(e, "station", nearest(e.Expocode, e.Station, e.Cast, w.casts), "no file holds cast %s", name)
		return nil
	case len(hits) > 1:
		w.notApplied(e, "station", "add a column expocode, with "+hits[0].Expocode+" or "+hits[1].Expocode,
			"cast %s is there for %d expocodes", name, len(hits))
		return nil
	}
	return hits[0]
}

// columnOfEdit returns the column that an edit names by our name or that of the cast files; nil when there is none.
func columnOfEdit(e *ingest.FlagEdit, k *section.Cast) *section.Column {
	if col := k.Column(e.Variable); col != nil {
		return col
	}
	if i := slices.IndexFunc(k.Columns, func(c section.Column) bool {
		return c.Exchange != "" && strings.EqualFold(c.Exchange, e.Variable)
	}); i >= 0 {
		return &k.Columns[i]
	}
	return nil
}

// editedColumn returns the column of cast k that an edit names; nil when it has none, or none with flags.
func (w *survey) editedColumn(e *ingest.FlagEdit, k *section.Cast) *section.Column {
	col := columnOfEdit(e, k)
	switch {
	case col == nil:
		var names []string
		for i := range k.Columns {
			names = append(names, k.Columns[i].Name)
		}
		remedy := "the cast has " + strings.Join(names, ", ")
		if near, ok := metadata.Nearest(e.Variable, names); ok {
			remedy = "did you mean " + near
		}
		w.notApplied(e, "variable", remedy, "cast %s has no variable %s", metadata.CastText(e.Station, e.Cast),
			e.Variable)
		return nil
	case col.Text != nil:
		w.notApplied(e, "variable", "take the line out", "%s of cast %s is text and has no flags", col.Name,
			metadata.CastText(e.Station, e.Cast))
		return nil
	}
	return col
}

// saysEmpty reports whether the flag of an edit is one of levels without a value.
func saysEmpty(e *ingest.FlagEdit) bool {
	return e.Flag == metadata.NotReported || e.Flag == metadata.NotSampled
}

// editedLevels returns the levels of a column that an edit flags, and how many levels are in its range.
func (w *survey) editedLevels(e *ingest.FlagEdit, k *section.Cast, col *section.Column) (levels []int, inRange int) {
	name, empty := metadata.CastText(e.Station, e.Cast), saysEmpty(e)
	for i, p := range k.PressureDbar {
		if p < e.FromDbar || p > e.ToDbar || math.IsNaN(p) && !(math.IsInf(e.FromDbar, -1) && math.IsInf(e.ToDbar, 1)) {
			continue
		}
		inRange++
		if math.IsNaN(col.Values[i]) == empty {
			levels = append(levels, i)
		}
	}
	switch {
	case inRange == 0:
		w.notApplied(e, "from_dbar", castReaches(k), "cast %s has no level in %s", name, rangeText(e))
	case len(levels) == 0 && empty:
		w.notApplied(e, "flag",
			"flag it bad (4) or questionable (3) to keep it out of what is derived: nothing measured is deleted",
			"flag %d says that there is no value, and %s of cast %s has one at %s in %s", e.Flag, col.Name, name,
			plural(inRange, "level"), rangeText(e))
	case len(levels) == 0:
		w.notApplied(e, "flag", "take the line out", "%s of cast %s has no value in %s", col.Name, name, rangeText(e))
	}
	return levels, inRange
}

func dayText(e *ingest.FlagEdit) string {
	if e.Date.IsZero() {
		return ""
	}
	return e.Date.Format("2006-01-02")
}

func rangeText(e *ingest.FlagEdit) string {
	switch {
	case math.IsInf(e.FromDbar, -1) && math.IsInf(e.ToDbar, 1):
		return "all levels"
	case math.IsInf(e.FromDbar, -1):
		return fmt.Sprintf("levels to %g dbar", e.ToDbar)
	case math.IsInf(e.ToDbar, 1):
		return fmt.Sprintf("levels from %g dbar", e.FromDbar)
	}
	return fmt.Sprintf("%g to %g dbar", e.FromDbar, e.ToDbar)
}

func castReaches(k *section.Cast) string {
	if k.Levels() == 0 {
		return "take the line out"
	}
	return fmt.Sprintf("the cast has levels from %g to %g dbar", k.PressureDbar[0], k.PressureDbar[k.Levels()-1])
}

// flagCounts writes how many levels had which flag, in the order of the flags.
func flagCounts(was map[metadata.Flag]int) string {
	var s []string
	for f := metadata.NotEvaluated; f <= metadata.NotSampled; f++ {
		if n := was[f]; n > 0 {
			s = append(s, fmt.Sprintf("%d at %d", f, n))
		}
	}
	return strings.Join(s, ", ")
}

// writeEdits copies the tables of edits into the archive.
func (w *archive) writeEdits() error {
	for i, f := range w.tables.edits {
		rel := copiedEdits
		if i > 0 {
			rel = fmt.Sprintf("provenance/flag_edits_%d.csv", i+1)
		}
		if err := w.put(rel, "Flag edits as the cruise file names them ("+f.source.Name+
			"): lines with initials and a reason were applied, last of all.",
			func(o io.Writer) error { _, err := o.Write(f.data); return err }); err != nil {
			return err
		}
		w.record(metadata.Record{Step: "write", Text: "flag edits as they were", Inputs: []metadata.Digest{f.source},
			Outputs: []string{rel}})
	}
	return nil
}
