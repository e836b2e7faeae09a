package trace

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// wholeCast traces what a cast has once: its position, time or water depth.
func (t *tracer) wholeCast(name, variable string) error {
	id, err := t.castID(name)
	if err != nil {
		return err
	}
	files := t.a.Matching("casts/*_ctd.nc")
	if len(files) != 1 {
		return t.refuse("cannot be traced: the archive has no file of casts", "castwright verify says what is wrong")
	}
	f, v, err := t.openFile(files[0], variable)
	if err != nil {
		return err
	}
	defer f.Close()
	at := slices.Index(f.WordsOf("profile_id"), id)
	if len(v.Dims) != 1 || at < 0 {
		return t.refuse("has no pressure, and "+variable+" has values at levels",
			"add a pressure, such as cast:5/1:temp:100")
	}
	t.take(f, variable, at)
	source := t.castInput(id)
	x := Part{Cast: id, Variable: variable, Value: t.out.Value, File: source.File}
	if x.Value != nil {
		x.Line, x.Text = t.headLine(id, source, *x.Value)
	}
	t.out.Parts = append(t.out.Parts, x)
	for i := range t.steps { // a table of stations may have filled or changed it
		for _, u := range t.steps[i].Inputs {
			if t.steps[i].Name == "station table" && u.Cast == id {
				t.tableOf(i)
			}
		}
	}
	return nil
}

// tableOf adds the inputs of a step that are of no single cast.
func (t *tracer) tableOf(step int) {
	for _, u := range t.steps[step].Inputs {
		if u.Cast == "" {
			t.input(u.File)
			t.out.Notes = append(t.out.Notes,
				u.File+" gave values of this cast too; findings name those that differ from "+
					"the file of the cast")
		}
	}
}

// headLine returns the line above the levels of a cast that holds a number; 0 when no line, or more than one, does. A
// longitude may be written from 0 to 360.
func (t *tracer) headLine(id string, source *Source, v float64) (int, string) {
	x := t.text(source.File)
	first, above := len(x.lines)+1, 0
	if from, _, ok := strings.Cut(t.lines[id], "-"); ok {
		if n, err := strconv.Atoi(from); err == nil {
			first = min(first, n)
		}
	}
	for other, lines := range t.lines { // another cast above in the same file
		if _, to, ok := strings.Cut(lines, "-"); ok && other != id && t.fileOf(other) == source.File {
			if n, err := strconv.Atoi(to); err == nil && n < first {
				above = max(above, n)
			}
		}
	}
	at := 0
	for n := above + 1; n < first; n++ {
		if !slices.ContainsFunc(x.numbers[n-1], func(w float64) bool {
			return math.Abs(w-v) < 1e-9 || math.Abs(w-v-360) < 1e-9
		}) {
			continue
		}
		if at > 0 {
			return 0, ""
		}
		at = n
	}
	if at == 0 {
		return 0, ""
	}
	return at, x.lines[at-1]
}

// fileOf returns the input of a cast.
func (t *tracer) fileOf(id string) string {
	for _, row := range t.casts.Rows {
		if t.casts.Get(row, "cast_id") == id {
			return t.casts.Get(row, "file")
		}
	}
	return ""
}
