package verify

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"github.com/castwright/castwright/export/bag"
	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/internal/regular"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
	"github.com/castwright/castwright/section/geostrophy"
)

// tolerances are the largest differences between a stored value and the same computed again, of what is no derived
// variable of a cast: those have their own in the registry. Others: 1e-9 of the value.
var tolerances = map[string]float64{"dynamic_height": 1e-8, "dynamic_height_a": 1e-8, "dynamic_height_b": 1e-8,
	"velocity": 1e-9}

func tolerance(name string, v float64) float64 {
	if d := derived.Of(name); d != nil {
		return d.Precision
	}
	if t, ok := tolerances[name]; ok {
		return t
	}
	return 1e-9 * math.Abs(v)
}

// differ says whether a stored value is not the one computed again. Missing is missing.
func differ(name string, stored, computed float64) bool {
	if math.IsNaN(stored) || math.IsNaN(computed) {
		return math.IsNaN(stored) != math.IsNaN(computed)
	}
	return math.Abs(stored-computed) > tolerance(name, computed)
}

// cruise returns the cruise file that the archive keeps, read once; nil when its checksums do not hold or it is none.
func (a *archive) cruise() *cruisefile.Cruise {
	if !a.cruiseRead {
		a.kept, a.cruiseRead = a.readCruise(), true
	}
	return a.kept
}

func (a *archive) readCruise() *cruisefile.Cruise {
	const rel = "data/provenance/cruise.yaml"
	if !a.trust[rel] {
		return nil
	}
	data, err := regular.ReadFile(a.path(rel))
	if err != nil {
		return nil
	}
	c, _, err := cruisefile.Read(data, "cruise.yaml")
	if err != nil {
		a.fault("table.read", rel, "", "is not a cruise file: %v", err)
		return nil
	}
	return c
}

// sectionNames gives the sections of the archive in the order of the cruise file, and the cruise file.
func (a *archive) sectionNames() ([]string, *cruisefile.Cruise) {
	c := a.cruise()
	if c == nil {
		return nil, nil
	}
	var out []string
	for i := range c.Sections {
		if _, there := a.sums["data/sections/"+c.Sections[i].Name+"_section.nc"]; there {
			out = append(out, c.Sections[i].Name)
		}
	}
	return out, c
}

// fromStored computes derived values again from the values stored.
func (a *archive) fromStored(ctx context.Context) error {
	all := a.allCasts()
	c := a.cruise()
	if all == nil || c == nil {
		a.report.Again = "nothing, since the casts or the cruise file are not as the checksums say"
		return nil
	}
	a.derivedAgain(c, all)
	flows, grids, err := a.sectionsAgain(ctx, c, all)
	columns := "whole"
	if !a.plan.All {
		columns = fmt.Sprintf("at %d columns or more each (seed %d)", sampleColumns, a.plan.Seed)
	}
	a.report.Again = fmt.Sprintf(
		"from the stored values, derived values (casts: %d), %d of %d files of station pairs, %d of %d section grids %s; "+
			"not computed again: measured values, grids of fields, captions, pictures, documents and the table of findings",
		len(all.Casts), flows,
		len(a.with("data/sections/", "_geostrophy.nc")), grids, len(a.with("data/sections/", "_grid.nc")), columns)
	return err
}

// derivedAgain computes the derived columns of all casts again.
func (a *archive) derivedAgain(c *cruisefile.Cruise, all *ncprofile.Collection) {
	rel := a.castNC()
	opts := derived.Options{Extra: c.Derived, NotCalibratedUsable: c.Casts.Uncalibrated}
	var w derived.Workspace
	for i := range all.Casts {
		k := measured(all.Casts[i])
		k.Lake = c.Casts.Lake
		if _, err := derived.Columns(k, opts, &w); err != nil {
			a.fault("recompute", rel, "", "cast %s: %v", all.IDs[i], err)
			continue
		}
		for j := range all.Casts[i].Columns {
			old := &all.Casts[i].Columns[j]
			if !old.Derived || old.Name == "dynamic_height" || all.Both[old.Name] && !old.HasValue() {
				// measured, without a value, in this cast
				continue
			}
			col := k.Column(old.Name)
			for m, v := range old.Values {
				got := math.NaN()
				if col != nil {
					got = col.Values[m]
				}
				if differ(old.Name, v, got) {
					a.fault("recompute."+old.Name, rel, old.Name, "cast %s at %g dbar: %v, computed again %v",
						all.IDs[i], k.PressureDbar[m], v, got)
					break
				}
			}
		}
	}
}

// sectionsAgain computes dynamic height, velocity and transport of each section again, and its grid.
func (a *archive) sectionsAgain(ctx context.Context, c *cruisefile.Cruise, all *ncprofile.Collection) (flows, grids int,
	err error) {
	casts := make([]*section.Cast, len(all.Casts))
	ids := map[*section.Cast]string{}
	for i, k := range all.Casts {
		k.Lake = c.Casts.Lake
		casts[i] = k
		ids[k] = all.IDs[i]
	}
	for i := range c.Sections {
		s := &c.Sections[i]
		if err := ctx.Err(); err != nil {
			return flows, grids, err
		}
		f := a.open("data/sections/" + s.Name + "_section.nc")
		if f == nil {
			continue
		}
		sec, _, err := section.Build(casts, s.BuildOptions)
		if err != nil {
			a.fault("recompute.section", "data/sections/"+s.Name+"_section.nc", "",
				"section %s cannot be made of the casts: %v", s.Name, err)
			continue
		}
		a.sectionAgain(s, sec, f, ids)
		if s.Known.Path != "" {
			a.note("recompute", "data/sections/"+s.Name+"_geostrophy.nc",
				"not computed again: its reference is a table that is not in the archive")
		} else if a.flowAgain(c, s, sec, f) {
			flows++
		}
		if a.gridAgain(c, s, sec) {
			grids++
		}
	}
	return flows, grids, nil
}

// sectionAgain compares the choice of casts and their distances.
func (a *archive) sectionAgain(s *cruisefile.Section, sec *section.Section, f *nc.File, ids map[*section.Cast]string) {
	rel := "data/sections/" + s.Name + "_section.nc"
	stored, km := f.WordsOf("profile_id"), f.NumbersOf("distance")
	if len(stored) != len(sec.Casts) || len(km) != len(sec.Casts) {
		a.fault("recompute.section", rel, "profile_id", "%d casts, chosen again %d", len(stored), len(sec.Casts))
		return
	}
	for i, k := range sec.Casts {
		if id, ok := ids[k]; ok && id != stored[i] {
			a.fault("recompute.section", rel, "profile_id", "cast %d is %s, chosen again %s", i+1, stored[i], id)
			return
		}
		if math.Abs(km[i]-sec.DistanceKm[i]) > 1e-7 { // 1e-4 m, the accepted difference of the geodesic
			a.fault("recompute.distance", rel, "distance", "%v km at cast %s, computed again %v", km[i], stored[i],
				sec.DistanceKm[i])
			return
		}
	}
}

// flowAgain computes station pairs again.
func (a *archive) flowAgain(c *cruisefile.Cruise, s *cruisefile.Section, sec *section.Section, sf *nc.File) bool {
	rel := "data/sections/" + s.Name + "_geostrophy.nc"
	f := a.open(rel)
	if f == nil || len(sec.Casts) < 2 {
		return false
	}
	opts := s.Velocity
	if !a.plan.All {
		opts.Members = 0 // the Monte-Carlo estimate is left to --all
	}
	r, err := geostrophy.Compute(sec, opts)
	if err != nil {
		a.fault("recompute", rel, "", "cannot be computed again: %v", err)
		return false
	}
	stored := f.WordsOf("pair_id")
	if len(stored) != len(r.Pairs) {
		a.fault("recompute", rel, "pair_id", "%d pairs, computed again %d", len(stored), len(r.Pairs))
		return true
	}
	number := func(name string, get func(*geostrophy.Pair) float64) {
		x := f.NumbersOf(name)
		if x == nil {
			return
		}
		for i := range r.Pairs {
			v := math.NaN()
			if r.Pairs[i].Status.HasVelocity() {
				v = get(&r.Pairs[i])
			}
			if got := x[i]; differ(name, got, v) {
				a.fault("recompute."+name, rel, name, "pair %s: %v, computed again %v", stored[i], got, v)
				return
			}
		}
	}
	number("ref_pres", func(p *geostrophy.Pair) float64 { return p.ReferenceDbar })
	number("deepest_common_level", func(p *geostrophy.Pair) float64 { return p.DeepestCommonDbar })
	for k, name := range map[geostrophy.Kind]string{geostrophy.Volume: "transport", geostrophy.Mass: "transport_mass",
		geostrophy.Temperature: "transport_temperature",
		geostrophy.Salt:        "transport_salt", geostrophy.Freshwater: "transport_freshwater",
		geostrophy.Heat: "transport_heat"} {
		number(name, func(p *geostrophy.Pair) float64 { return p.Transport[k].Value })
		number(name+"_err", func(p *geostrophy.Pair) float64 { return p.Transport[k].Stated })
		number(name+"_cumulative", func(p *geostrophy.Pair) float64 { return p.Cumulative[k].Value })
	}
	a.levelsAgain(rel, f, r, stored)
	a.heightsAgain(s, sf, r)
	return true
}

// levelsAgain compares what pairs have at their levels.
func (a *archive) levelsAgain(rel string, f *nc.File, r *geostrophy.Result, stored []string) {
	pres := f.NumbersOf("pres")
	level := f.Dim("pres")
	ragged := level < 0
	rows := f.NumbersOf("row_size")
	if ragged && rows == nil || pres == nil {
		return
	}
	for name, get := range map[string]func(*geostrophy.Pair) []float64{
		"velocity":               func(p *geostrophy.Pair) []float64 { return p.Velocity },
		"velocity_err":           func(p *geostrophy.Pair) []float64 { return p.VelocityErr },
		"velocity_err_per_cast":  func(p *geostrophy.Pair) []float64 { return p.PerCastErr },
		"velocity_err_common":    func(p *geostrophy.Pair) []float64 { return p.CommonErr },
		"velocity_err_if_common": func(p *geostrophy.Pair) []float64 { return p.IfCommonErr },
		"velocity_shear":         func(p *geostrophy.Pair) []float64 { return p.Shear },
		"dynamic_height_a":       func(p *geostrophy.Pair) []float64 { return p.HeightA },
		"dynamic_height_b":       func(p *geostrophy.Pair) []float64 { return p.HeightB }} {
		x := f.NumbersOf(name)
		if x == nil {
			continue
		}
		from := 0
		for i := range r.Pairs {
			p := &r.Pairs[i]
			row, axis := x, pres
			if ragged {
				n := int(rows[i])
				row, axis = x[from:from+n], pres[from:from+n]
				from += n
			} else {
				row = x[i*len(pres) : (i+1)*len(pres)]
			}
			want := make([]float64, len(axis))
			geostrophy.Spread(want, axis, p.PressureDbar, get(p))
			for k, v := range row {
				if differ(name, v, want[k]) {
					a.fault("recompute."+name, rel, name, "pair %s at %g dbar: %v, computed again %v", stored[i],
						axis[k], v, want[k])
					break
				}
			}
		}
	}
}

// heightsAgain compares the dynamic height in the file of the section's casts.
func (a *archive) heightsAgain(s *cruisefile.Section, sf *nc.File, r *geostrophy.Result) {
	rel := "data/sections/" + s.Name + "_section.nc"
	if sf.Var("dynamic_height") < 0 {
		return
	}
	stored, err := ncprofile.ReadCasts(sf)
	if err != nil || len(stored.Casts) != len(r.Stations)+len(r.LeftOut) {
		return
	}
	for _, k := range stored.Casts {
		at := slices.IndexFunc(r.Stations, func(t geostrophy.Station) bool {
			return t.Cast.Station == k.Station && t.Cast.Number == k.Number && t.Cast.Expocode == k.Expocode
		})
		col := k.Column("dynamic_height")
		if at < 0 || col == nil || r.Stations[at].DynamicHeight == nil {
			continue
		}
		st := &r.Stations[at]
		want := geostrophy.Spread(make([]float64, k.Levels()), k.PressureDbar, st.PressureDbar, st.DynamicHeight)
		for j, v := range col.Values {
			if differ("dynamic_height", v, want[j]) {
				a.fault("recompute.dynamic_height", rel, "dynamic_height",
					"station %s at %g dbar: %v, computed again %v", k.Station, k.PressureDbar[j], v, want[j])
				break
			}
		}
	}
}

// gridAgain maps a grid again, with its errors and masks: at some columns, unless the plan says all.
func (a *archive) gridAgain(c *cruisefile.Cruise, s *cruisefile.Section, sec *section.Section) bool {
	rel := "data/sections/" + s.Name + "_grid.nc"
	f := a.open(rel)
	if f == nil || s.Grid.None || c.Casts.Bathymetry.Path != "" { // the mask hangs on a grid that is not read here
		return false
	}
	opts := s.Grid.Options
	opts.Workers = a.plan.Workers
	if !a.plan.All {
		opts.Sample = &gridding.Sample{Columns: func(n int) []int { return a.columns(rel, n) },
			Known: func(f *gridding.Field) []float64 { return a.stored(rel, f) }}
	}
	g, _, err := gridding.Map(sec, opts)
	if err != nil {
		a.fault("recompute", rel, "", "cannot be mapped again: %v", err)
		return false
	}
	for i := range g.Fields {
		x := &g.Fields[i]
		name := netcdf.FieldName(x)
		stored := a.stored(rel, x)
		if len(stored) != len(x.Data) {
			a.fault("recompute."+name, rel, name, "%d values, mapped again %d", len(stored), len(x.Data))
			continue
		}
		for k, v := range stored {
			if differ(name+" mapped", v, x.Data[k]) {
				a.fault("recompute."+name, rel, name, "value %d: %v, mapped again %v", k, v, x.Data[k])
				break
			}
		}
	}
	return true
}

// outputsOf returns the files that the provenance of an archive names as written.
func outputsOf(dir string) (map[string]bool, error) {
	data, err := regular.ReadFile(filepath.Join(dir, "data", "provenance", "prov.json"))
	if err != nil {
		return nil, err
	}
	var doc provenance
	if err := json.Unmarshal(data, &doc); err != nil {
		return nil, err
	}
	out := map[string]bool{}
	for key, e := range doc.Entity {
		if where, _ := e["prov:location"].(string); strings.HasPrefix(key, "ex:out-") {
			out["data/"+where] = true
		}
	}
	return out, nil
}

func (a *archive) compareWhole(ctx context.Context, made string) error {
	old := a.sums
	now, err := bagFiles(ctx, made)
	if err != nil {
		return err
	}
	named, err := outputsOf(made)
	if err != nil {
		return err
	}
	sameProgram := a.madeBy() == a.plan.Program
	names := make([]string, 0, len(old))
	for n := range old {
		names = append(names, n)
	}
	for n := range now {
		if _, ok := old[n]; !ok {
			names = append(names, n)
		}
	}
	slices.Sort(names)
	for _, n := range names {
		x, here := old[n]
		y, there := now[n]
		switch {
		case a.bad[n]: // reported already
		case !there && named[n]: // a picture that was not redrawn
		case !there:
			a.fault("rebuild", n, "", "does not come out of the inputs")
		case !here:
			a.fault("rebuild", n, "", "comes out of the inputs and is not in the archive")
		case x == y:
		case strings.HasSuffix(n, ".nc") && a.readable(n):
			if !a.compareNetCDF(n, filepath.Join(made, filepath.FromSlash(n))) && sameProgram {
				a.note("rebuild", n, "the bytes differ from those made of the inputs, and no value or attribute does")
			}
		case strings.Contains(n, "manifest-"):
			// Lists of checksums differ where files do, and these are reported.
		case sameProgram && n == "data/provenance/prov.json":
			a.compareProvenance(n, filepath.Join(made, filepath.FromSlash(n)))
		case sameProgram && n == "bag-info.txt":
			a.compareInfo(made)
		case !sameProgram && (n == "bag-info.txt" || strings.HasPrefix(n, "data/provenance/") &&
			n != "data/provenance/cruise.yaml"):
			// They name the version of the program.
		case sameProgram || strings.HasSuffix(n, ".csv") || strings.HasSuffix(n, "_ct1.zip"):
			a.fault("rebuild", n, "", "is not what comes out of the inputs")
		default:
			a.note("rebuild", n,
				"differs from what this version of the program makes of the inputs; the archive was made by %s",
				a.madeBy())
		}
	}
	return nil
}

// compareProvenance compares two PROV-JSON documents. The checksums of outputs are left out: they are compared with the
// files themselves.
func (a *archive) compareProvenance(rel, made string) {
	var docs [2]any
	for i, name := range []string{a.path(rel), made} {
		data, err := regular.ReadFile(name)
		if err == nil {
			err = json.Unmarshal(data, &docs[i])
		}
		if err != nil {
			a.fault("rebuild", rel, "", "cannot be compared: %v", err)
			return
		}
		top, _ := docs[i].(map[string]any)
		entities, _ := top["entity"].(map[string]any)
		for key, e := range entities {
			if m, ok := e.(map[string]any); ok && strings.HasPrefix(key, "ex:out-") {
				delete(m, "ex:sha256")
			}
		}
	}
	if !reflect.DeepEqual(docs[0], docs[1]) {
		a.fault("rebuild", rel, "", "is not what comes out of the inputs")
	}
}

// compareInfo compares the fields of bag-info.txt but for the size of the content.
func (a *archive) compareInfo(made string) {
	plain := func(list []bag.Field) []bag.Field {
		return slices.DeleteFunc(slices.Clone(list), func(f bag.Field) bool {
			return f.Label == "Payload-Oxum" ||
				f.Label == "Bag-Size"
		})
	}
	now, err := bag.ReadInfo(made)
	if err != nil || !slices.Equal(plain(a.bag.Info), plain(now)) {
		a.fault("rebuild", "bag-info.txt", "", "is not what comes out of the inputs")
	}
}

// madeBy gives the program that the archive says made it.
func (a *archive) madeBy() string {
	for _, f := range a.bag.Info {
		if strings.EqualFold(f.Label, "Bag-Software-Agent") {
			return f.Value
		}
	}
	return ""
}

// compareNetCDF compares two NetCDF files and says whether they differ in anything but bytes.
func (a *archive) compareNetCDF(rel, made string) bool {
	f := a.open(rel)
	if f == nil {
		return true // told already
	}
	g, err := nc.OpenFile(made)
	if err != nil {
		a.fault("rebuild", rel, "", "what comes out of the inputs cannot be opened: %v", err)
		return true
	}
	defer g.Close()
	n := len(a.report.Findings)
	say := func(v, format string, args ...any) { a.fault("rebuild", rel, v, format, args...) }
	if len(f.Dims) != len(g.Dims) {
		say("", "%d dimensions, made again %d", len(f.Dims), len(g.Dims))
	}
	exact := a.madeBy() == a.plan.Program
	compareAttrs(say, "", f.Attrs, g.Attrs, exact)
	for i := range g.Vars {
		if f.Var(g.Vars[i].Name) < 0 {
			say(g.Vars[i].Name, "comes out of the inputs and is not in the file")
		}
	}
	for i := range f.Vars {
		v := &f.Vars[i]
		k := g.Var(v.Name)
		if k < 0 {
			say(v.Name, "does not come out of the inputs")
			continue
		}
		w := &g.Vars[k]
		compareAttrs(say, v.Name, v.Attrs, w.Attrs, exact)
		if v.Type != w.Type || fmt.Sprint(v.Fill) != fmt.Sprint(w.Fill) || !slices.Equal(f.Shape(i), g.Shape(k)) ||
			!slices.Equal(f.DimNames(i), g.DimNames(k)) {
			say(v.Name, "type, _FillValue or dimensions are not those made again")
			continue
		}
		a.compareValues(say, f, g, i, k)
		f.Forget(i)
		g.Forget(k)
	}
	return len(a.report.Findings) > n
}

func (a *archive) compareValues(say func(string, string, ...any), f, g *nc.File, i, k int) {
	v := &f.Vars[i]
	if !v.Type.Numeric() {
		x, err := f.Words(i)
		y, err2 := g.Words(k)
		if err != nil || err2 != nil {
			say(v.Name, "cannot be read: %v", errors.Join(err, err2))
			return
		}
		for n := range x {
			if x[n] != y[n] {
				say(v.Name, "text %d is %q, made again %q", n, x[n], y[n])
				return
			}
		}
		return
	}
	x, err := f.Values(i)
	y, err2 := g.Values(k)
	if err != nil || err2 != nil {
		say(v.Name, "cannot be read: %v", errors.Join(err, err2))
		return
	}
	n, first := 0, -1
	for m := range x {
		p, q := x[m], y[m]
		if f.Missing(i, p) {
			p = math.NaN()
		}
		if g.Missing(k, q) {
			q = math.NaN()
		}
		if differ(v.Name, p, q) {
			if n++; first < 0 {
				first = m
			}
		}
	}
	if n > 0 {
		say(v.Name, "%d values differ from those made again, the first, %d, is %v, not %v", n, first, x[first],
			y[first])
	}
}

// compareAttrs compares attributes in any order. Unless exact, what names the version of the program may differ.
func compareAttrs(say func(string, string, ...any), v string, x, y []nc.Attr, exact bool) {
	find := func(list []nc.Attr, name string) any {
		for i := range list {
			if list[i].Name == name {
				return list[i].Value
			}
		}
		return nil
	}
	for _, p := range x {
		q := find(y, p.Name)
		switch {
		case q == nil:
			say(v, "attribute %s does not come out of the inputs", p.Name)
		case p.Name == "history" && v == "" && !exact:
			if plainHistory(p.Value) != plainHistory(q) {
				say(v, "history is not the one made again")
			}
		case !sameAttr(p.Value, q):
			say(v, "attribute %s is %s, made again %s", p.Name, brief(p.Value), brief(q))
		}
	}
	for _, q := range y {
		if find(x, q.Name) == nil {
			say(v, "attribute %s comes out of the inputs and is not in the file", q.Name)
		}
	}
}

func sameAttr(x, y any) bool {
	if nc.TypeOfValue(x) != nc.TypeOfValue(y) {
		return false
	}
	p, q := nc.Floats(x), nc.Floats(y)
	if p == nil || q == nil {
		return fmt.Sprint(x) == fmt.Sprint(y)
	}
	if len(p) != len(q) {
		return false
	}
	for i := range p {
		if p[i] != q[i] && math.Abs(p[i]-q[i]) > 1e-9*math.Abs(q[i]) && !(math.IsNaN(p[i]) && math.IsNaN(q[i])) {
			return false
		}
	}
	return true
}

func brief(v any) string {
	s := fmt.Sprintf("%v", v)
	if t, ok := v.(string); ok {
		s = fmt.Sprintf("%q", t)
	}
	if len(s) > 80 {
		s = s[:80] + "…"
	}
	return s
}

// plainHistory is a history without the versions of the program.
func plainHistory(v any) string {
	s, _ := v.(string)
	var out []string
	for _, line := range strings.Split(s, "\n") {
		if at, rest, ok := strings.Cut(line, " castwright "); ok {
			_, text, _ := strings.Cut(rest, ": ")
			line = at + " castwright: " + text
		}
		out = append(out, line)
	}
	return strings.Join(out, "\n")
}

// measured gives the cast without its derived columns and without those that it has no value of.
func measured(c *section.Cast) *section.Cast {
	out := *c
	out.Columns = nil
	for i := range c.Columns {
		if k := &c.Columns[i]; k.Name == "pres" || !k.Derived && k.HasValue() {
			out.Columns = append(out.Columns, *k)
		}
	}
	return &out
}
