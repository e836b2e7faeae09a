package report

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/export"
)

// mostRowsShown is how many rows of a table the page shows at most.
const mostRowsShown = 1000

// tableView is a table as the template writes it.
type tableView struct {
	ID, Name, What, Path, Href string
	Heads                      []string
	Rows                       []rowView
	Figures                    []figureView
	Elsewhere                  []download // figures that are not on the page
	More                       string     // what the page leaves out; "" nothing
}

type rowView struct {
	Cast  int // place among the casts of the page, -1: none
	Cells []cellView
}

type cellView struct {
	Text   string
	Number bool // of a column of numbers
}

// shown reads a table of the archive for the page.
func shown(t *Table) (*tableView, error) {
	recs, err := csv.NewReader(bytes.NewReader(t.CSV)).ReadAll()
	if err != nil || len(recs) == 0 {
		return nil, fmt.Errorf("page: %s: no table: %w", t.Path, err)
	}
	head := recs[0]
	v := &tableView{ID: "table-" + strings.NewReplacer("/", "-", ".", "-").Replace(t.Path), Name: t.Name, What: t.What,
		Path: t.Path, Href: linkTo(t.Path)}
	var at []int
	names := t.Columns
	if names == nil {
		names = head
	}
	for _, name := range names {
		if i := slices.Index(head, name); i >= 0 {
			at = append(at, i)
			v.Heads = append(v.Heads, headText(name))
		}
	}
	var rows [][]string
	for _, rec := range recs[1:] {
		if t.has(head, rec) && len(rows) < mostRowsShown {
			rows = append(rows, rec)
		}
	}
	v.Rows = make([]rowView, len(rows))
	for _, i := range at {
		number := !slices.ContainsFunc(rows, func(rec []string) bool { return rec[i] != "" && !isNumber(rec[i]) })
		for n, rec := range rows {
			v.Rows[n].Cast = -1
			v.Rows[n].Cells = append(v.Rows[n].Cells, cellView{rec[i], number})
		}
	}
	var more []string
	if len(at) < len(head) {
		more = append(more, fmt.Sprintf("%d of its %d columns", len(at), len(head)))
	}
	if n := len(recs) - 1; len(v.Rows) < n {
		more = append(more, fmt.Sprintf("%d of its %d rows", len(v.Rows), n))
	}
	if more != nil {
		v.More = "The page shows " + strings.Join(more, " and ") + "."
	}
	return v, nil
}

func isNumber(s string) bool {
	_, err := strconv.ParseFloat(s, 64)
	return err == nil
}

// has reports whether a row is among those that the page shows.
func (t *Table) has(head, rec []string) bool {
	for name, words := range t.Where {
		if i := slices.Index(head, name); i >= 0 && !slices.Contains(words, rec[i]) {
			return false
		}
	}
	return true
}

// units at the end of the names of columns, as they are printed.
var units = []struct{ end, text string }{{"_dbar", " (dbar)"}, {"_km", " (km)"}, {"_deg", " (°)"}, {"_m", " (m)"},
	{"_utc", " (UTC)"}}

// headText writes the name of a column in words, the first with a capital.
func headText(name string) string {
	if name == "" {
		return ""
	}
	name = strings.ToUpper(name[:1]) + name[1:]
	for _, u := range units {
		if s, ok := strings.CutSuffix(name, u.end); ok {
			name = s + u.text
			break
		}
	}
	return strings.ReplaceAll(name, "_", " ")
}

// ledger is the table of the casts, each with its place among the casts of the page.
func ledger(m *Material, d *data) (*tableView, error) {
	var b bytes.Buffer
	if err := export.WriteStations(&b, m.Stations); err != nil {
		return nil, err
	}
	columns := []string{"station", "cast", "role", "sections", "time_utc", "latitude_deg", "longitude_deg",
		"water_depth_m", "first_pressure_dbar", "last_pressure_dbar", "levels", "left_out", "file", "remark"}
	if slices.ContainsFunc(m.Stations, func(r export.StationRow) bool { return r.Log != (export.Logged{}) }) {
		columns = append(columns, "bottom_time_utc", "end_time_utc", "bottles", "height_above_bottom_m", "parameters",
			"event")
	}
	v, err := shown(&Table{Name: "Casts", Path: "tables/stations.csv", CSV: b.Bytes(), Columns: columns})
	if err != nil {
		return nil, err
	}
	for i := range v.Rows {
		if n, ok := d.cast[m.Stations[i].Cast]; ok && m.Stations[i].LeftOut == "" {
			v.Rows[i].Cast = n
		}
	}
	return v, nil
}
