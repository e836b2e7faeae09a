package verify

import (
	"io"
	"math"
	"path"
	"slices"
	"strings"

	"github.com/castwright/castwright/export"
	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// How the names of the files of a section end: its casts, its station pairs and its grid.
const (
	castsEnd = "_section.nc"
	pairsEnd = "_geostrophy.nc"
	gridEnd  = "_grid.nc"
)

// sectionFile returns the path of a file of a section.
func sectionFile(name, end string) string { return "data/sections/" + name + end }

// sectionName returns the section that a file is of.
func sectionName(rel, end string) string { return strings.TrimSuffix(path.Base(rel), end) }

// section compares the file of a section or a time series with the file of all casts: the same values under the same
// cast and pressure.
func (a *archive) section(rel string) {
	all, f := a.allCasts(), a.open(rel)
	if all == nil || f == nil {
		return
	}
	s, err := ncprofile.ReadCasts(f)
	if err != nil {
		a.fault("netcdf.read", rel, "", "casts cannot be read back: %v", err)
		return
	}
	for i, k := range s.Casts {
		c := all.Cast(s.IDs[i])
		if c == nil {
			// The mean of repeated casts has the id of the first, which is in the file of casts.
			a.fault("table.section", rel, "profile_id", "cast %s is not in %s", s.IDs[i], path.Base(a.castNC()))
			continue
		}
		if k.Levels() > 0 && c.Levels() > 0 && a.isMean(rel) {
			continue
		}
		say := func(v, format string, args ...any) {
			a.fault("table.section", rel, v, "cast "+s.IDs[i]+": "+format, args...)
		}
		compareHead(say, k, c, 0)
		if k.Role != c.Role || k.Direction != c.Direction {
			say("", "is %s, %s, in %s %s, %s", k.Role, k.Direction, path.Base(a.castNC()), c.Role, c.Direction)
		}
		// A cast may repeat a pressure, of which the section has one level.
		at, levels := make([][]int, k.Levels()), map[float64][]int{}
		for m, p := range c.PressureDbar {
			levels[p] = append(levels[p], m)
		}
		for n, p := range k.PressureDbar {
			if at[n] = levels[p]; at[n] == nil {
				say("pres", "level of %g dbar is not in %s", p, path.Base(a.castNC()))
			}
		}
		for j := range k.Columns {
			col := &k.Columns[j]
			switch o := c.Column(col.Name); {
			case o != nil && (!o.Derived || col.Derived || col.HasValue()):
				compareColumn(say, col, o, at, k.PressureDbar)
			case o == nil && col.Name != "dynamic_height":
				say(col.Name, "the column is not in %s", path.Base(a.castNC()))
			} // else derived in this cast, measured in others: a section file has the measured ones
		}
	}
}

// isMean reports whether the casts of a section are means of repeats, which no other file has.
func (a *archive) isMean(rel string) bool {
	c := a.cruise()
	if c == nil {
		return false
	}
	for i := range c.Sections {
		if c.Sections[i].Name == sectionName(rel, castsEnd) {
			return c.Sections[i].Repeats == section.MeanOf
		}
	}
	return false
}

// transportColumns are the columns of the table of transports that NetCDF has too: under the name of the transport with
// a suffix for a pair, as an attribute of it for a section.
var transportColumns = []struct{ column, suffix, attr string }{
	{"transport", "", "total"}, {"stated_error", "_err", "total_standard_error"},
	{"part_per_cast", "_err_per_cast", "total_standard_error_per_cast"},
	{"part_common", "_err_common", "total_standard_error_common"}, {"part_position", "_err_position", ""},
	{"cumulative", "_cumulative", ""}, {"second_reference", "_second", ""}}

// transports compares the table of transports with the files of station pairs.
func (a *archive) transports() {
	const rel, check = "data/tables/transports.csv", "table.transports"
	head := written(func(w io.Writer) error { return export.WriteTransports(w, nil) })[0]
	t := a.readTable(rel, head)
	if t == nil {
		return
	}
	sections := map[string]*pairLines{}
	for n, r := range t.rows {
		name := t.cell(r, "section")
		s := sections[name]
		if s == nil {
			s = &pairLines{f: a.open(sectionFile(name, pairsEnd)), pair: -1}
			sections[name] = s
		}
		if s.f == nil {
			if _, there := a.sums[sectionFile(name, pairsEnd)]; !there {
				t.fault(check, n, "", "", "section %s has no file of station pairs", name)
			}
			continue
		}
		say := func(v, format string, args ...any) { t.fault(check, n, "", v, format, args...) }
		switch t.cell(r, "what") {
		case "pair":
			s.compare(say, t, r)
		case "section":
			k, ok := kindOf(t.cell(r, "kind"))
			at := s.f.Var(netcdf.TransportName(k))
			if !ok || at < 0 {
				continue
			}
			_, scale, _ := export.TransportUnit(k)
			for _, w := range transportColumns {
				x := s.f.Vars[at].Floats(w.attr)
				if len(x) == 1 && !sameNumber(t.cell(r, w.column), x[0]*scale) {
					say(s.f.Vars[at].Name, "%s of the section %s, in NetCDF %g", w.attr, t.cell(r, w.column),
						x[0]*scale)
				}
			}
		}
	}
	for _, file := range a.with(sectionFile("", ""), pairsEnd) {
		name := sectionName(file, pairsEnd)
		f := a.open(file)
		if f == nil {
			continue
		}
		if s, want := sections[name], len(f.WordsOf("station_a")); s == nil || s.pair+1 != want {
			a.fault(check, rel, "", "does not have each of the %d pairs of section %s", want, name)
		}
		a.pairCasts(file, name, f)
	}
}

// budgetAttributes are the attributes of a transport that hold what a column of the table of budgets does.
var budgetAttributes = map[string]string{"net": "total", "stated_error": "total_standard_error",
	"beta_term": "total_beta_term", "net_at_one_coriolis_parameter": "total_at_one_coriolis_parameter",
	"sum_of_absolute_transports": "total_of_absolute_values", "second_reference": "total_second_reference",
	"change_per_unit": "total_change_per_unit_of_reference"}

// budgets compares the table of budgets with the files of station pairs; an archive without closed lines has none.
func (a *archive) budgets() {
	const rel, check = "data/tables/budgets.csv", "table.budgets"
	closed := map[string]bool{}
	for _, file := range a.with(sectionFile("", ""), pairsEnd) {
		if f := a.open(file); f != nil && f.Attr("budget_status") != nil {
			closed[sectionName(file, pairsEnd)] = false
		}
	}
	if _, there := a.sums[rel]; !there && len(closed) == 0 {
		return
	}
	t := a.readTable(rel, written(func(w io.Writer) error { return export.WriteBudgets(w, nil) })[0])
	if t == nil {
		return
	}
	for n, r := range t.rows {
		name := t.cell(r, "section")
		say := func(v, format string, args ...any) { t.fault(check, n, "", v, format, args...) }
		if _, there := closed[name]; !there {
			say("section", "section %s is not closed in its file of station pairs", name)
			continue
		}
		closed[name] = true
		f := a.open(sectionFile(name, pairsEnd))
		if status := t.cell(r, "status"); !strings.HasPrefix(f.Text("budget_status"), status) {
			say("status", "%s, in NetCDF %s", status, f.Text("budget_status"))
		}
		for column, attr := range map[string]string{"enclosed_km2": "budget_enclosed_km2",
			"length_km": "budget_length_km", "duration_days": "budget_duration_days"} {
			if x := nc.Floats(f.Attr(attr)); len(x) == 1 && !sameNumber(t.cell(r, column), x[0]) {
				say(column, "%s, in NetCDF %g", t.cell(r, column), x[0])
			}
		}
		k, ok := kindOf(t.cell(r, "kind"))
		at := f.Var(netcdf.TransportName(k))
		if !ok || at < 0 {
			continue
		}
		_, scale, _ := export.TransportUnit(k)
		for column, attr := range budgetAttributes {
			if x := f.Vars[at].Floats(attr); len(x) == 1 && !sameNumber(t.cell(r, column), x[0]*scale) {
				say(f.Vars[at].Name, "%s %s, in NetCDF %g", column, t.cell(r, column), x[0]*scale)
			}
		}
	}
	for name, listed := range closed {
		if !listed {
			a.fault(check, rel, "", "has no line of the closed section %s", name)
		}
	}
}

// budgetAgain compares the budget of a closed line with the one computed again.
func (a *archive) budgetAgain(rel string, f *nc.File, r *geostrophy.Result) {
	if (f.Attr("budget_status") != nil) != (r.Budget != nil) {
		a.fault("recompute", rel, "budget_status", "the line is closed in the file: %v; made again: %v",
			f.Attr("budget_status") != nil, r.Budget != nil)
		return
	}
	if r.Budget == nil {
		return
	}
	if none := strings.HasPrefix(f.Text("budget_status"), "none"); none != (r.Budget.Reason != "") {
		a.fault("recompute", rel, "budget_status", "%q, computed again %q", f.Text("budget_status"), r.Budget.Reason)
		return
	} else if none {
		return
	}
	for _, k := range export.BudgetKinds {
		at := f.Var(netcdf.TransportName(k))
		if at < 0 {
			continue
		}
		for column, get := range export.BudgetNumbers {
			// Net and beta term are small differences of the transports of pairs.
			x, tolerance := f.Vars[at].Floats(budgetAttributes[column]), 1e-9*r.Budget.Absolute[k]
			if want := get(r, k); len(x) == 1 && !(math.Abs(x[0]-want) <= tolerance) {
				a.fault("recompute.budget", rel, f.Vars[at].Name, "%s: %v, computed again %v", budgetAttributes[column],
					x[0], want)
			}
		}
	}
}

// kindOf returns the kind of transport of a word.
func kindOf(word string) (geostrophy.Kind, bool) {
	for k := range geostrophy.Kind(geostrophy.Kinds) {
		if k.String() == word {
			return k, true
		}
	}
	return 0, false
}

// pairLines is the file of station pairs of a section beside the lines of the table that are of it. A pair has a line
// for each kind of transport, or one line for all when it has no velocity.
type pairLines struct {
	f    *nc.File
	pair int             // the pair of the line before; -1 at first
	seen map[string]bool // kinds that the pair had
}

// compare compares a line with its pair.
func (s *pairLines) compare(say sayer, t *table, r []string) {
	f, kind := s.f, t.cell(r, "kind")
	k, ok := kindOf(kind)
	if len(s.seen) == 0 || s.seen[kind] || !ok || s.seen["all"] {
		s.pair++
		s.seen = map[string]bool{}
	}
	s.seen[kind] = true
	value := func(name string) (float64, bool) {
		x := f.NumbersOf(name)
		if s.pair >= len(x) {
			return math.NaN(), false
		}
		return x[s.pair], true
	}
	status, there := value("pair_status")
	from, to := f.WordsOf("station_a"), f.WordsOf("station_b")
	switch {
	case !there || s.pair >= len(from) || s.pair >= len(to):
		say("", "more pairs than in NetCDF")
		return
	case from[s.pair] != t.cell(r, "station_a") || to[s.pair] != t.cell(r, "station_b") ||
		geostrophy.Status(status).HasVelocity() != ok:
		say("", "pair %s, %s, %s is not pair %d of NetCDF", t.cell(r, "station_a"), t.cell(r, "station_b"), kind,
			s.pair+1)
		return
	}
	number := func(column, name string, scale float64) {
		if x, there := value(name); there && !sameNumber(t.cell(r, column), x*scale) {
			say(name, "%s %s, in NetCDF %g", column, t.cell(r, column), x*scale)
		}
	}
	number("distance_km", "pair_length", 1)
	_, scale, _ := export.TransportUnit(k)
	for _, w := range transportColumns {
		if ok {
			number(w.column, netcdf.TransportName(k)+w.suffix, scale)
		}
	}
}

// pairCasts compares the casts of station pairs with those of the section.
func (a *archive) pairCasts(file, name string, f *nc.File) {
	s := a.open(sectionFile(name, castsEnd))
	if s == nil {
		return
	}
	ids := s.WordsOf("profile_id")
	for _, v := range []string{"cast_a", "cast_b"} {
		for _, id := range f.WordsOf(v) {
			if !slices.Contains(ids, id) {
				a.fault("table.section", file, v, "cast %s is not in section %s", id, name)
			}
		}
	}
}
