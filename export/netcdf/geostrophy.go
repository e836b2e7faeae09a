package netcdf

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// ErrNoPairs is returned for a result without pairs.
var ErrNoPairs = errors.New("no station pairs to write")

// WriteGeostrophy writes the station pairs of one section at path (NAME_geostrophy.nc): dynamic height at both
// stations, velocity, shear and their errors by level, transports and their errors by pair, by layer and by density
// class. featureType profile, a pair being a profile; cast_a and cast_b lead to the cast file. A pair that was withheld
// is in the file without numbers, with its status and the reason. Totals are attributes of the transports, beside
// the sentence that says what they leave out. Estimates at the equator belong to stations, not pairs, and are not in
// the file.
func WriteGeostrophy(ctx context.Context, path string, x *Common, r *geostrophy.Result, title string) error {
	if len(r.Pairs) == 0 {
		return fmt.Errorf("section %s: %w", r.Section, ErrNoPairs)
	}
	casts := make([]*section.Cast, len(r.Stations))
	for i := range r.Stations {
		casts[i] = r.Stations[i].Cast
	}
	once := casts
	if r.Budget != nil { // the last is the first again
		once = casts[:len(casts)-1]
	}
	if err := x.checkCasts(once); err != nil {
		return fmt.Errorf("section %s: %w", r.Section, err)
	}
	b := &pairs{x: x, r: r, title: title, casts: casts}
	if err := b.check(); err != nil {
		return fmt.Errorf("section %s: %w", r.Section, err)
	}
	b.start()
	b.instances()
	b.levels()
	b.transports()
	if err := b.globals(); err != nil {
		return err
	}
	return b.p.write(ctx, path, x.Workers)
}

// derivedHere is the comment of a derived quantity: where to read how.
const derivedHere = "derived; see geostrophy_settings"

// pairs is a file of station pairs in the making.
type pairs struct {
	x     *Common
	r     *geostrophy.Result
	title string
	casts []*section.Cast // of the stations
	p     plan
	l     *layout

	pair, level int    // dimensions
	perPair     string // coordinates of data with one value a pair
	atLevels    string // of data at levels
}

func (b *pairs) check() error {
	for i := range b.r.Pairs {
		p := &b.r.Pairs[i]
		switch {
		case p.Time.IsZero():
			return fmt.Errorf("pair %s: %w", p.ID, ErrNoTime)
		case !onEarth(p.Midpoint):
			return fmt.Errorf("pair %s: %w", p.ID, ErrNoPosition)
		}
		for _, v := range [][]float64{p.HeightA, p.HeightB, p.Velocity, p.Shear, p.VelocityErr, p.PerCastErr,
			p.CommonErr, p.IfCommonErr, p.MonteCarlo} {
			if v != nil && len(v) != len(p.PressureDbar) {
				panic(fmt.Sprintf("netcdf: pair %s has %d values on %d levels", p.ID, len(v), len(p.PressureDbar)))
			}
		}
	}
	return nil
}

func (b *pairs) start() {
	// A pair's levels lie in the file as those of a cast do: the layout is that of casts with its pressures.
	levels := make([]*section.Cast, len(b.r.Pairs))
	for i := range b.r.Pairs {
		levels[i] = &section.Cast{PressureDbar: b.r.Pairs[i].PressureDbar}
	}
	b.l = newLayout(levels)
	b.pair = b.p.dim("pair", len(b.r.Pairs))
	switch {
	case b.l.obs == 0:
	case b.l.ragged:
		b.level = b.p.dim("obs", b.l.obs)
	default:
		b.level = b.p.dim("pres", len(b.l.pressures))
	}
	b.perPair = "time lat lon distance station_a station_b section_id"
	b.atLevels = b.perPair
	if b.l.ragged {
		b.atLevels = "time lat lon pres distance station_a station_b section_id"
	}
}

// levels adds pressure and everything at levels.
func (b *pairs) levels() {
	if b.l.obs == 0 {
		b.noLevels()
		return
	}
	pres := metadata.MustVariable("pres")
	v := double("pres", vertical(&pres), b.level)
	if b.l.ragged {
		b.p.values(nc.Var{Name: "row_size", Type: nc.Int, Dims: []int{b.pair},
			Attrs: []nc.Attr{longName("number of levels of this pair"), {Name: "sample_dimension", Value: "obs"}}},
			b.l.rowSizes())
		b.p.chunks(v, b.fill(func(p *pair) []float64 { return p.PressureDbar }))
	} else {
		b.p.values(v, b.l.pressures)
	}
	b.velocities()
	for _, s := range []struct {
		suffix, which string
		get           func(*pair) []float64
	}{
		{"_a", "first", func(p *pair) []float64 { return p.HeightA }},
		{"_b", "second", func(p *pair) []float64 { return p.HeightB }},
	} {
		v := metadata.MustVariable("dynamic_height")
		v.Name += s.suffix
		v.LongName = "dynamic height anomaly (geopotential anomaly) at the " + s.which + " station relative to ref_pres"
		v.Comment = "no CF standard name exists for this quantity"
		v.References = "TEOS-10 manual (IOC, SCOR and IAPSO 2010), section 3.27"
		b.atLevel(v, "", "", s.get)
	}
}

// velocities adds velocity, its errors and its shear.
func (b *pairs) velocities() {
	v := metadata.MustVariable("velocity")
	v.LongName = "geostrophic velocity normal to the section, relative to the reference level of the pair"
	v.Comment =
		"positive towards positive_direction; reference level in ref_pres; no CF standard name exists for a section-normal component"
	ancillary := "velocity_err velocity_err_per_cast velocity_err_common velocity_err_if_common"
	if b.any(func(p *pair) []float64 { return p.MonteCarlo }) {
		ancillary += " velocity_err_members"
	}
	method := ""
	if !b.l.ragged { // there its dimension is not one of the velocity's (CF 3.4)
		ancillary, method = ancillary+" pair_status", "pair: mean"
	}
	b.atLevel(v, ancillary, method, func(p *pair) []float64 { return p.Velocity })
	for _, e := range []struct {
		suffix, long string
		get          func(*pair) []float64
	}{
		{"", "stated standard error of the velocity, root of the sum of squares of its parts",
			func(p *pair) []float64 { return p.VelocityErr }},
		{"_per_cast", "part of the standard error of the velocity: errors of single casts",
			func(p *pair) []float64 { return p.PerCastErr }},
		{"_common",
			"part of the standard error of the velocity: errors common to the casts of a sensor system, 0 where accuracies are not split",
			func(p *pair) []float64 { return p.CommonErr }},
		{"_if_common",
			"alternative to velocity_err_per_cast, no part of velocity_err: the errors taken as the same on all casts of a sensor system",
			func(p *pair) []float64 { return p.IfCommonErr }},
		{"_members", "standard deviation of the velocity over the members of a Monte-Carlo estimate",
			func(p *pair) []float64 { return p.MonteCarlo }},
	} {
		b.atLevel(metadata.Variable{Name: "velocity_err" + e.suffix, LongName: e.long, Units: "m s-1",
			Comment: "accuracies assumed: see geostrophy_settings"},
			"", "", e.get)
	}
	b.atLevel(metadata.Variable{Name: "velocity_shear", LongName: "vertical shear of the geostrophic velocity, upwards",
		Units:   "s-1",
		Comment: "derivative of velocity with height, centred differences"}, "", "",
		func(p *pair) []float64 { return p.Shear })
}

// noLevels adds the pressures of the station with most levels and a velocity that is missing at all of them, for a
// section of which no pair has a velocity: a profile has a vertical coordinate.
func (b *pairs) noLevels() {
	var p []float64
	for i := range b.r.Stations {
		if s := b.r.Stations[i].PressureDbar; len(s) > len(p) {
			p = s
		}
	}
	if len(p) == 0 {
		p = []float64{0}
	}
	b.level = b.p.dim("pres", len(p))
	pres := metadata.MustVariable("pres")
	b.p.values(double("pres", vertical(&pres), b.level), p)
	v := metadata.MustVariable("velocity")
	v.LongName = "geostrophic velocity normal to the section"
	v.Comment = "missing: no pair has a velocity, pair_reason says why"
	a := quantity(&v)
	a.text(
		"coordinates", b.perPair,
		"ancillary_variables", "pair_status",
		"coverage_content_type", "modelResult",
	)
	missing := make([]float64, len(b.r.Pairs)*len(p))
	for i := range missing {
		missing[i] = math.NaN()
	}
	b.p.field(doubleOrMissing(v.Name, a, b.pair, b.level), missing)
}

// any reports whether some pair has values.
func (b *pairs) any(get func(*pair) []float64) bool {
	return slices.ContainsFunc(b.r.Pairs, func(p pair) bool { return len(get(&p)) > 0 })
}

// atLevel adds a quantity at levels unless no pair has it.
func (b *pairs) atLevel(v metadata.Variable, ancillary, method string, get func(*pair) []float64) {
	if !b.any(get) {
		return
	}
	bits := bitsOf(v.Name)
	v.Comment = joinNonEmpty("; ", v.Comment, roundingText(bits))
	a := quantity(&v)
	a.bits(bits)
	a.text(
		"coordinates", b.atLevels,
		"cell_methods", method,
		"ancillary_variables", ancillary,
	)
	if strings.Contains(v.Name, "_err") {
		a.text("coverage_content_type", "qualityInformation")
	} else {
		a.text("coverage_content_type", "modelResult")
	}
	dims := []int{b.pair, b.level}
	if b.l.ragged {
		dims = dims[1:]
	}
	b.p.chunks(doubleOrMissing(v.Name, a, dims...), b.fill(get))
}

func (b *pairs) fill(get func(*pair) []float64) func(*nc.Chunk) {
	return func(c *nc.Chunk) {
		dst := nc.Values[float64](c)
		b.l.each(c, func(pair, level, n, at int) {
			if v := get(&b.r.Pairs[pair]); v != nil {
				copyKnown(dst[at:], v[level:level+n])
			}
		})
	}
}

func (b *pairs) globals() error {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range b.r.Pairs {
		if p := b.r.Pairs[i].PressureDbar; len(p) > 0 {
			lo, hi = min(lo, p[0]), max(hi, p[len(p)-1])
		}
	}
	var a attrs
	a.text("section", b.r.Section)
	settings := map[string]string{}
	for _, p := range b.r.Params {
		settings[p.Name] = p.Value
	}
	a.text("geostrophy_settings",
		fmt.Sprintf(
			"reference level: %s; interpolation between bins: %s; distance: %s; bottom triangles: %s; all settings are in geostrophy_settings_json",
			settings["reference_level"], settings["interpolation"], settings["distance"],
			strings.ReplaceAll(settings["triangle"], "_", " ")))
	all, err := asJSON(b.r.Params)
	if err != nil {
		return fmt.Errorf("section %s: settings as JSON: %w", b.r.Section, err)
	}
	a.text(
		"geostrophy_settings_json", all,
		"geostrophy_notes", strings.Join(b.r.Notes, "; "),
		"geostrophy_completeness", b.r.Partial.Statement,
	)
	var left []string
	for _, l := range b.r.LeftOut {
		left = append(left, b.x.id(l.Cast)+": "+l.Reason)
	}
	a.text("geostrophy_left_out", strings.Join(left, "; "))
	b.budget(&a)
	b.x.globals(&b.p, &file{
		what: "geostrophic velocity of section " + named(b.r.Section, b.title), idSuffix: "geostrophy_" + b.r.Section,
		feature: "profile", dataType: "Profile",
		summary: fmt.Sprintf("Dynamic height, geostrophic velocity and transport of %s of section %s",
			count(len(b.r.Pairs), "station pair"), b.r.Section),
		source: "derived from CTD casts lowered from a ship", level: joinNonEmpty(", ", "derived", b.x.calibration(),
			b.x.status()),
		casts: b.casts, vertical: [2]float64{lo, hi}, verticalUnit: "dbar", extra: a,
	})
	return nil
}
