package trace

import (
	"fmt"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/cmd/internal/archive"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/section"
)

// cell traces a cell of a table: the casts that its row names, with the levels that the row gives, and the other inputs
// of the step that wrote the table.
func (t *tracer) cell(name, line, column string) error {
	rel := name
	if !strings.Contains(rel, "/") {
		rel = "tables/" + strings.TrimSuffix(name, ".csv") + ".csv"
	}
	if !t.a.Has(rel) {
		var names []string
		for _, f := range t.a.Matching("tables/*.csv") {
			names = append(names, strings.TrimSuffix(path.Base(f), ".csv"))
		}
		return t.refuse("names no table of the archive: "+name, nearest(name, names))
	}
	table, err := t.a.Table(rel)
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(line)
	if err != nil || n < 2 || n > len(table.Rows)+1 {
		return t.refuse("names no line of "+rel+": "+line, fmt.Sprintf("write a number from 2 to %d",
			len(table.Rows)+1))
	}
	if table.Column(column) < 0 {
		return t.refuse("names a column that "+rel+" does not have: "+column, nearest(column, table.Head))
	}
	row := table.Rows[n-2]
	t.out.File, t.out.Variable = rel, column
	if v, err := strconv.ParseFloat(table.Get(row, column), 64); err == nil && !math.IsNaN(v) {
		t.out.Value = &v
		t.out.Unit = unitOf(table, row, column)
	} else {
		t.out.Words = table.Get(row, column)
	}
	for i, head := range table.Head {
		if i < len(row) && row[i] != "" && head != column {
			t.out.Notes = append(t.out.Notes, "the row: "+head+" "+row[i])
		}
	}
	if err := t.rowCasts(table, row); err != nil {
		return err
	}
	if file := table.Get(row, "file"); file != "" {
		t.input(file)
	}
	for i := range t.steps {
		if !slices.Contains(t.steps[i].Outputs, rel) {
			continue
		}
		for _, u := range t.steps[i].Inputs {
			if u.Cast == "" || len(t.out.Parts) == 0 && table.Get(row, "file") == "" {
				t.input(u.File)
			}
		}
	}
	return nil
}

// unitOf returns the unit of a cell: of its row where the row has one, else as the name of the column ends.
func unitOf(table *archive.Table, row []string, column string) string {
	if column == "change_per_unit" {
		return table.Get(row, "change_unit")
	}
	for end, unit := range map[string]string{"_dbar": "dbar", "_m": "m", "_km": "km", "_km2": "km2",
		"_deg": "degrees", "_ms": "m s-1", "_days": "days"} {
		if strings.HasSuffix(column, end) {
			return unit
		}
	}
	if u := table.Get(row, "unit"); u != "" {
		return u
	}
	return table.Get(row, "units")
}

// rowCasts lists the casts that a row of a table names: by identity, by station within a section, or all of a section.
func (t *tracer) rowCasts(table *archive.Table, row []string) error {
	files := t.a.Matching("casts/*_ctd.nc")
	if len(files) != 1 {
		return nil
	}
	all, f, err := collection(t.a, files[0])
	if err != nil {
		return err
	}
	f.Close()
	ids, err := t.idsOf(table, row)
	if err != nil {
		return err
	}
	first, last := math.Inf(-1), math.Inf(1)
	for _, end := range []string{"deep_", "upper_"} { // the levels that a statistic of a row was taken over
		a, err := number(table.Get(row, end+"first_dbar"))
		b, err2 := number(table.Get(row, end+"last_dbar"))
		if err == nil && err2 == nil && strings.HasPrefix(t.out.Variable, end) {
			first, last = a, b
		}
	}
	for _, id := range ids {
		k := all.Cast(id)
		if k == nil {
			continue
		}
		for _, v := range variablesOf(all, k, table, row) {
			x := column(id, within(k, first, last), v, t.castInput(id))
			if x.Levels > 0 {
				t.out.Parts = append(t.out.Parts, x)
			}
		}
	}
	return nil
}

// idsOf returns the identities of the casts that a row names.
func (t *tracer) idsOf(table *archive.Table, row []string) (ids []string, err error) {
	known := func(id string) bool {
		return slices.ContainsFunc(t.casts.Rows, func(r []string) bool { return t.casts.Get(r, "cast_id") == id })
	}
	for i, cell := range row {
		if i < len(table.Head) && cell != "" && known(cell) && !slices.Contains(ids, cell) {
			ids = append(ids, cell)
		}
	}
	if k := table.Get(row, "cast"); len(ids) == 0 && k != "" { // a row without identity
		for _, r := range t.casts.Rows {
			if t.casts.Get(r, "station") == table.Get(row, "station") && t.casts.Get(r, "cast") == k &&
				t.casts.Get(r, "expocode") == table.Get(row, "expocode") && t.casts.Get(r, "cast_id") != "" {
				ids = append(ids, t.casts.Get(r, "cast_id"))
			}
		}
	}
	name := table.Get(row, "section")
	if len(ids) > 0 || name == "" || !t.a.Has("sections/"+name+"_section.nc") {
		return ids, nil
	}
	all, _, err := t.section(name)
	if err != nil {
		return nil, err
	}
	a, b := table.Get(row, "station_a"), table.Get(row, "station_b")
	for i, k := range all.Casts {
		if a == "" || k.Station == a || k.Station == b {
			ids = append(ids, all.IDs[i])
		}
	}
	return ids, nil
}

// variablesOf returns the measured variables that a row was computed from: pressure and the one that the row names,
// with its second sensor; else those that dynamic height, density and depth need.
func variablesOf(all *ncprofile.Collection, k *section.Cast, table *archive.Table, row []string) []string {
	names := []string{"pres", "temp", "psal"}
	if v := table.Get(row, "variable"); v != "" && k.Column(v) != nil {
		names = []string{"pres", v, v + "2"}
	} else if strings.Contains(table.Get(row, "name"), "oxy") {
		names = append(names, "oxy")
	}
	return slices.DeleteFunc(names, func(n string) bool { return k.Column(n) == nil })
}

// within returns a cast with the values of the levels between two pressures only.
func within(k *section.Cast, first, last float64) *section.Cast {
	if math.IsInf(first, -1) && math.IsInf(last, 1) {
		return k
	}
	out := &section.Cast{PressureDbar: k.PressureDbar}
	for _, c := range k.Columns {
		c.Values = slices.Clone(c.Values)
		for i, p := range k.PressureDbar {
			if p < first || p > last {
				c.Values[i] = math.NaN()
			}
		}
		out.Columns = append(out.Columns, c)
	}
	return out
}
