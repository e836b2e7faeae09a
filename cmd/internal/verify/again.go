package verify

import (
	"context"
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/cmd/internal/pipeline"
	"github.com/castwright/castwright/export/netcdf"
	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/derived"
	"github.com/castwright/castwright/section/geostrophy"
)

// tolerances are the largest differences between a stored value and the same computed again, of what is no derived
// variable of a cast: those have their own in the registry. Others: 1e-9 of the value.
var tolerances = map[string]float64{"dynamic_height": 1e-8, "dynamic_height_a": 1e-8, "dynamic_height_b": 1e-8,
	"velocity": 1e-9}

// differ reports whether a stored value is not the one computed again, rounded to as many bits as the file keeps of it
// (0: all). Missing is missing.
func differ(name string, bits int, stored, computed float64) bool {
	if math.IsNaN(stored) || math.IsNaN(computed) {
		return math.IsNaN(stored) != math.IsNaN(computed)
	}
	tolerance, listed := tolerances[name]
	if d := derived.Of(name); d != nil {
		tolerance = d.Precision
	} else if !listed {
		tolerance = 1e-9 * math.Abs(computed)
	}
	return stored < netcdf.Round(computed-tolerance, bits) || stored > netcdf.Round(computed+tolerance, bits)
}

// again reports the first stored value of a variable that is not the one computed again; at is where value i lies.
func (a *archive) again(rel, name string, stored, computed []float64, at func(i int) string) {
	if len(stored) != len(computed) {
		a.fault("recompute."+name, rel, name, "%d values, computed again %d", len(stored), len(computed))
		return
	}
	bits := a.bitsKept(rel, name)
	for i, v := range stored {
		if differ(name, bits, v, computed[i]) {
			a.fault("recompute."+name, rel, name, "%s: %v, computed again %v", at(i), v, computed[i])
			return
		}
	}
}

// bitsKept returns how many bits a file keeps of the mantissa of a variable; 0: all. Where a variable is measured in
// some casts and derived in others, those derived have another name in the file.
func (a *archive) bitsKept(rel, name string) (bits int) {
	if f := a.open(rel); f != nil {
		for i := range f.Vars {
			if v := &f.Vars[i]; v.Name == name || v.Text("source_name") == name {
				bits = max(bits, netcdf.Kept(v))
			}
		}
	}
	return bits
}

// atLevel returns how a level is named in a message.
func atLevel(what, id string, dbar []float64) func(int) string {
	return func(i int) string { return fmt.Sprintf("%s %s at %g dbar", what, id, dbar[i]) }
}

// fromStored computes derived values again from the values stored.
func (a *archive) fromStored(ctx context.Context) error {
	all, c := a.allCasts(), a.cruise()
	if all == nil || c == nil {
		a.report.Again = "nothing, since the casts or the cruise file are not as the checksums say"
		return nil
	}
	a.derivedAgain(c, all)
	flows, grids, err := a.sectionsAgain(ctx, c, all)
	series, surfaces := a.seriesAgain(c, all), a.surfacesAgain(c)
	columns := "whole"
	if !a.plan.All {
		columns = fmt.Sprintf("at %d columns or more each (seed %d)", sampleColumns, a.plan.Seed)
	}
	a.report.Again = fmt.Sprintf("from the stored values, derived values (casts: %d), "+
		"%d of %d files of station pairs, %d of %d section grids %s, %d of %d time series, "+
		"fields on surfaces of density: %d; "+
		"not computed again: measured values, grids of fields, anomalies, captions, pictures, documents and the table of findings",
		len(all.Casts), flows, len(a.with(sectionFile("", ""), pairsEnd)), grids,
		len(a.with(sectionFile("", ""), gridEnd)), columns, series, len(a.with(sectionFile("", ""), seriesEnd)),
		surfaces)
	return err
}

// derivedAgain computes the derived columns of all casts again and puts them, which are not rounded, in the place of
// those stored, so that what rests on them is computed again from the values from which it was computed.
func (a *archive) derivedAgain(c *cruisefile.Cruise, all *ncprofile.Collection) {
	rel := a.castNC()
	opts := derived.Options{Extra: c.Derived, NotCalibratedUsable: c.Casts.Uncalibrated}
	var w derived.Workspace
	for i, cast := range all.Casts {
		again := *cast
		again.Lake = c.Casts.Lake
		again.Columns = slices.DeleteFunc(slices.Clone(cast.Columns), func(k section.Column) bool {
			return k.Name != "pres" && (k.Derived || !k.HasValue())
		})
		if _, err := derived.Columns(&again, opts, &w); err != nil {
			a.fault("recompute", rel, "", "cast %s: %v", all.IDs[i], err)
			continue
		}
		for j := range cast.Columns {
			old := &cast.Columns[j]
			if !old.Derived || old.Name == "dynamic_height" || all.Both[old.Name] && !old.HasValue() {
				continue // also a variable measured, without a value, in this cast
			}
			want := slices.Repeat([]float64{math.NaN()}, len(old.Values))
			if col := again.Column(old.Name); col != nil {
				want = col.Values
			}
			a.again(rel, old.Name, old.Values, want, atLevel("cast", all.IDs[i], cast.PressureDbar))
			old.Values = want
		}
	}
}

// sectionsAgain computes dynamic height, velocity and transport of each section again, and its grid. It returns how
// many files of station pairs and grids there were.
func (a *archive) sectionsAgain(ctx context.Context, c *cruisefile.Cruise, all *ncprofile.Collection) (flows,
	grids int, err error) {
	for _, k := range all.Casts {
		k.Lake = c.Casts.Lake
	}
	for i := range c.Sections {
		s := &c.Sections[i]
		if err := ctx.Err(); err != nil {
			return flows, grids, err
		}
		rel := sectionFile(s.Name, castsEnd)
		f := a.open(rel)
		if f == nil {
			continue
		}
		o := s.BuildOptions
		o.Underway = c.Release.Status == metadata.Underway
		sec, _, err := section.Build(all.Casts, o)
		if err != nil {
			a.fault("recompute.section", rel, "", "section %s cannot be made of the casts: %v", s.Name, err)
			continue
		}
		a.sectionAgain(rel, sec, f, all)
		if s.Known.Path != "" {
			a.note("recompute", sectionFile(s.Name, pairsEnd),
				"not computed again: its reference is a table that is not in the archive")
		} else if a.flowAgain(s, sec, f) {
			flows++
		}
		if c.Casts.Bathymetry.Path == "" && a.gridAgain(s, sec) { // else the mask needs a grid that is not read here
			grids++
		}
	}
	return flows, grids, nil
}

// sectionAgain compares the choice of casts and their distances.
func (a *archive) sectionAgain(rel string, sec *section.Section, f *nc.File, all *ncprofile.Collection) {
	stored, km := f.WordsOf("profile_id"), f.NumbersOf("distance")
	if end := nc.Floats(f.Attr("closing_distance")); sec.Closed() != (len(end) == 1) ||
		sec.Closed() && !(math.Abs(end[0]-sec.DistanceKm[len(sec.DistanceKm)-1]) <= 1e-7) {
		a.fault("recompute.section", rel, "", "closing_distance is %v, computed again %v km", end,
			sec.DistanceKm[len(sec.DistanceKm)-1])
		return
	}
	sec = sec.Once()
	if len(stored) != len(sec.Casts) || len(km) != len(sec.Casts) {
		a.fault("recompute.section", rel, "profile_id", "%d casts, chosen again %d", len(stored), len(sec.Casts))
		return
	}
	for i, k := range sec.Casts {
		if n := slices.Index(all.Casts, k); n >= 0 && all.IDs[n] != stored[i] {
			a.fault("recompute.section", rel, "profile_id", "cast %d is %s, chosen again %s", i+1, stored[i],
				all.IDs[n])
			return
		}
		if math.Abs(km[i]-sec.DistanceKm[i]) > 1e-7 { // 1e-4 m, the accepted difference of the geodesic
			a.fault("recompute.distance", rel, "distance", "%v km at cast %s, computed again %v", km[i], stored[i],
				sec.DistanceKm[i])
			return
		}
	}
}

// flowAgain computes station pairs again, and reports whether there are any.
func (a *archive) flowAgain(s *cruisefile.Section, sec *section.Section, sf *nc.File) bool {
	rel := sectionFile(s.Name, pairsEnd)
	f := a.open(rel)
	if f == nil || len(sec.Casts) < 2 {
		return false
	}
	opts := s.Velocity
	if err := pipeline.StoredErrors(&opts, f); err != nil {
		a.fault("recompute", rel, "", "its settings cannot be read: %v", err)
		return false
	}
	if !a.plan.All {
		opts.Members = 0 // the Monte-Carlo estimate is made with --all alone
	}
	r, err := geostrophy.Compute(sec, opts)
	if err != nil {
		a.fault("recompute", rel, "", "cannot be computed again: %v", err)
		return false
	}
	ids := f.WordsOf("pair_id")
	if len(ids) != len(r.Pairs) {
		a.fault("recompute", rel, "pair_id", "%d pairs, computed again %d", len(ids), len(r.Pairs))
		return true
	}
	number := func(name string, get func(*geostrophy.Pair) float64) {
		want := make([]float64, len(r.Pairs))
		for i := range r.Pairs {
			if want[i] = math.NaN(); r.Pairs[i].Status.HasVelocity() {
				want[i] = get(&r.Pairs[i])
			}
		}
		if x := f.NumbersOf(name); x != nil {
			a.again(rel, name, x, want, func(i int) string { return "pair " + ids[i] })
		}
	}
	number("ref_pres", func(p *geostrophy.Pair) float64 { return p.ReferenceDbar })
	number("deepest_common_level", func(p *geostrophy.Pair) float64 { return p.DeepestCommonDbar })
	for k := range geostrophy.Kind(geostrophy.Kinds) {
		name := netcdf.TransportName(k)
		number(name, func(p *geostrophy.Pair) float64 { return p.Transport[k].Value })
		number(name+"_err", func(p *geostrophy.Pair) float64 { return p.Transport[k].Stated })
		number(name+"_cumulative", func(p *geostrophy.Pair) float64 { return p.Cumulative[k].Value })
	}
	a.budgetAgain(rel, f, r)
	a.levelsAgain(rel, f, r, ids)
	a.heightsAgain(sectionFile(s.Name, castsEnd), sf, r)
	return true
}

// atLevels are the variables of station pairs at their levels.
var atLevels = map[string]func(*geostrophy.Pair) []float64{
	"velocity":               func(p *geostrophy.Pair) []float64 { return p.Velocity },
	"velocity_err":           func(p *geostrophy.Pair) []float64 { return p.VelocityErr },
	"velocity_err_per_cast":  func(p *geostrophy.Pair) []float64 { return p.PerCastErr },
	"velocity_err_common":    func(p *geostrophy.Pair) []float64 { return p.CommonErr },
	"velocity_err_if_common": func(p *geostrophy.Pair) []float64 { return p.IfCommonErr },
	"velocity_shear":         func(p *geostrophy.Pair) []float64 { return p.Shear },
	"dynamic_height_a":       func(p *geostrophy.Pair) []float64 { return p.HeightA },
	"dynamic_height_b":       func(p *geostrophy.Pair) []float64 { return p.HeightB }}

// levelsAgain compares what pairs have at their levels: on a common axis, or on as many levels as each pair has.
func (a *archive) levelsAgain(rel string, f *nc.File, r *geostrophy.Result, ids []string) {
	pres, rows, from := f.NumbersOf("pres"), f.NumbersOf("row_size"), 0
	common := f.Dim("pres") >= 0
	stored := map[string][]float64{}
	for name := range atLevels {
		stored[name] = f.NumbersOf(name)
	}
	for i := range r.Pairs {
		axis, p := pres, &r.Pairs[i]
		if !common {
			if len(rows) <= i || !(rows[i] >= 0) || from+int(rows[i]) > len(pres) {
				return
			}
			axis = pres[from : from+int(rows[i])]
		}
		to := from + len(axis)
		for name, get := range atLevels {
			if x := stored[name]; to <= len(x) {
				want := geostrophy.Spread(make([]float64, len(axis)), axis, p.PressureDbar, get(p))
				a.again(rel, name, x[from:to], want, atLevel("pair", ids[i], axis))
			}
		}
		from = to
	}
}

// heightsAgain compares the dynamic height in the file of the section's casts.
func (a *archive) heightsAgain(rel string, f *nc.File, r *geostrophy.Result) {
	stored, err := ncprofile.ReadCasts(f)
	if err != nil || len(stored.Casts) != len(r.Stations)+len(r.LeftOut) {
		return
	}
	for _, k := range stored.Casts {
		at := slices.IndexFunc(r.Stations, func(t geostrophy.Station) bool { return sameCast(t.Cast, k) })
		col := k.Column("dynamic_height")
		if at < 0 || col == nil || r.Stations[at].DynamicHeight == nil {
			continue
		}
		st := &r.Stations[at]
		want := geostrophy.Spread(make([]float64, k.Levels()), k.PressureDbar, st.PressureDbar, st.DynamicHeight)
		a.again(rel, col.Name, col.Values, want, atLevel("station", k.Station, k.PressureDbar))
	}
}

// sameCast reports whether two casts have one name.
func sameCast(x, y *section.Cast) bool {
	return x.Expocode == y.Expocode && x.Station == y.Station && x.Number == y.Number
}

// gridAgain maps a grid again, with its errors and masks, and reports whether there is one: at some columns, unless the
// plan says all.
func (a *archive) gridAgain(s *cruisefile.Section, sec *section.Section) bool {
	rel := sectionFile(s.Name, gridEnd)
	if a.open(rel) == nil || s.Grid.None {
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
		a.nodesAgain(rel, &g.Fields[i])
	}
	return true
}
