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
	"github.com/castwright/castwright/metadata/cruisefile"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
)

// ErrNoPairs is given for a result without pairs.
var ErrNoPairs = errors.New("no station pairs to write")

// WriteGeostrophy writes the station pairs of one section at path (NAME_geostrophy.nc): dynamic height at both stations, velocity, shear
// and their errors by level, transports and their errors by pair, by layer and by density class. featureType profile, a pair being a
// profile; cast_a and cast_b lead to the cast file. A pair that was withheld stands in the file without numbers, with its status
// and the reason. Totals are attributes of the transports, beside the sentence that says what they leave out.
// Estimates at the equator belong to stations, not pairs, and are not in the file.
func WriteGeostrophy(ctx context.Context, path string, x *Common, r *geostrophy.Result, settings *cruisefile.Section) error {
	if len(r.Pairs) == 0 {
		return fmt.Errorf("section %s: %w", r.Section, ErrNoPairs)
	}
	casts := make([]*section.Cast, len(r.Stations))
	for i := range r.Stations {
		casts[i] = r.Stations[i].Cast
	}
	if err := x.checkCasts(casts); err != nil {
		return fmt.Errorf("section %s: %w", r.Section, err)
	}
	b := &pairs{x: x, r: r, settings: settings, casts: casts}
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

// derivedHere says of a derived quantity where to read how.
const derivedHere = "derived; see geostrophy_settings"

// pairs is a file of station pairs in the making.
type pairs struct {
	x        *Common
	r        *geostrophy.Result
	settings *cruisefile.Section
	casts    []*section.Cast // of the stations
	p        plan
	l        *layout

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
		for _, v := range [][]float64{p.HeightA, p.HeightB, p.Velocity, p.Shear, p.VelocityErr, p.PerCastErr, p.CommonErr, p.IfCommonErr, p.MonteCarlo} {
			if v != nil && len(v) != len(p.PressureDbar) {
				panic(fmt.Sprintf("netcdf: pair %s has %d values on %d levels", p.ID, len(v), len(p.PressureDbar)))
			}
		}
	}
	return nil
}

func (b *pairs) start() {
	// A pair's levels lie in the file as those of a cast do, so a cast stands for it.
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

// words and numbers take one value from each pair.
func (b *pairs) words(get func(*geostrophy.Pair) string) []string {
	out := make([]string, len(b.r.Pairs))
	for i := range b.r.Pairs {
		out[i] = get(&b.r.Pairs[i])
	}
	return out
}

func (b *pairs) numbers(get func(*geostrophy.Pair) float64) []float64 {
	out := make([]float64, len(b.r.Pairs))
	for i := range b.r.Pairs {
		out[i] = get(&b.r.Pairs[i])
	}
	return out
}

func (b *pairs) label(name, lenDim, long string, get func(*geostrophy.Pair) string) {
	b.p.text(name, []int{b.pair}, lenDim, b.words(get), longName(long))
}

// remark adds words on each pair unless there are none.
func (b *pairs) remark(name, long string, get func(*geostrophy.Pair) string) {
	words := b.words(get)
	if strings.Join(words, "") == "" {
		return
	}
	b.p.text(name, []int{b.pair}, "len_"+name, words, longName(long), nc.Attr{Name: "coordinates", Value: b.perPair})
}

// number adds a quantity of each pair. Missing values are allowed.
func (b *pairs) number(name, standard, long, units, comment string, get func(*geostrophy.Pair) float64) {
	var a attrs
	a.text("standard_name", standard)
	a.text("long_name", long)
	a.text("units", units)
	if comment == "" {
		comment = derivedHere
	}
	a.text("comment", comment)
	a.text("coordinates", b.perPair)
	a.text("coverage_content_type", "auxiliaryInformation")
	b.p.values(nc.Var{Name: name, Type: nc.Double, Dims: []int{b.pair}, Fill: fillValue, Attrs: a}, b.numbers(get))
}

func (b *pairs) instances() {
	r := b.r
	sectionID(&b.p, r.Section)
	b.p.text("pair_id", []int{b.pair}, "len_id", b.words(func(p *geostrophy.Pair) string { return p.ID }),
		nc.Attr{Name: "cf_role", Value: "profile_id"}, longName("identifier of the station pair"))
	b.label("station_a", "len_label_a", "first station of the pair", func(p *geostrophy.Pair) string { return b.casts[p.A].Station })
	b.label("station_b", "len_label_b", "second station of the pair", func(p *geostrophy.Pair) string { return b.casts[p.B].Station })
	b.label("cast_a", "len_cast_a", "profile_id of the cast at the first station", func(p *geostrophy.Pair) string { return b.x.id(b.casts[p.A]) })
	b.label("cast_b", "len_cast_b", "profile_id of the cast at the second station", func(p *geostrophy.Pair) string { return b.x.id(b.casts[p.B]) })

	dims := []int{b.pair}
	b.p.values(timeVar(dims, "mean time of the two casts", true), b.numbers(func(p *geostrophy.Pair) float64 { return seconds(p.Time) }))
	b.p.values(latVar(dims, "latitude of the pair midpoint", true), b.numbers(func(p *geostrophy.Pair) float64 { return p.Midpoint.Lat() }))
	b.p.values(lonVar(dims, "longitude of the pair midpoint", true), b.numbers(func(p *geostrophy.Pair) float64 { return p.Midpoint.Lon() }))
	a := distance("distance along the section of the pair midpoint", b.settings)
	a.text("bounds", "distance_bnds")
	a.text("coverage_content_type", "coordinate")
	b.p.values(nc.Var{Name: "distance", Type: nc.Double, Dims: dims, Attrs: a}, b.numbers(func(p *geostrophy.Pair) float64 { return p.FromKm + (p.ToKm-p.FromKm)/2 }))
	edges := make([]float64, 0, 2*len(r.Pairs))
	for i := range r.Pairs {
		edges = append(edges, r.Pairs[i].FromKm, r.Pairs[i].ToKm)
	}
	b.p.values(nc.Var{Name: "distance_bnds", Type: nc.Double, Dims: []int{b.pair, b.p.dim("nv", 2)}}, edges)

	b.number("pair_length", "", "separation of the two stations", "km", "", func(p *geostrophy.Pair) float64 { return p.LengthKm })
	b.number("azimuth", "", "true bearing from the first station to the second at the pair midpoint", "degree", "",
		func(p *geostrophy.Pair) float64 { return p.AzimuthDeg })
	b.number("positive_direction", "", "true bearing towards which velocity and transport are positive", "degree", "",
		func(p *geostrophy.Pair) float64 { return p.PositiveDeg })
	b.number("coriolis", "coriolis_parameter", "Coriolis parameter at the middle latitude", "s-1", "", func(p *geostrophy.Pair) float64 { return p.CoriolisPerSec })

	status := make([]int8, len(r.Pairs))
	for i := range r.Pairs {
		status[i] = int8(r.Pairs[i].Status)
	}
	var values []int8
	var meanings []string
	for _, s := range geostrophy.Statuses() {
		values, meanings = append(values, int8(s)), append(meanings, s.String())
	}
	var f attrs
	f.text("standard_name", "status_flag")
	f.text("long_name", "whether the pair has a velocity, and if not, why")
	f.add("flag_values", values)
	f.text("flag_meanings", strings.Join(meanings, " "))
	f.text("coordinates", b.perPair)
	f.text("coverage_content_type", "qualityInformation")
	b.p.values(nc.Var{Name: "pair_status", Type: nc.Byte, Dims: dims, Attrs: f}, status)
	b.remark("pair_reason", "why the pair is withheld or questionable, in words", func(p *geostrophy.Pair) string { return p.Reason })
	b.remark("pair_note", "fallbacks and limits of the pair, in words", func(p *geostrophy.Pair) string { return strings.Join(p.NoteTexts(), "; ") })
	b.remark("level_rule", "how the common levels of the two casts were found", func(p *geostrophy.Pair) string { return p.LevelRule })
	b.remark("reference_fallback", "what was done where the reference level asked for was not reached", func(p *geostrophy.Pair) string { return p.ReferenceFallback })

	with := func(get func(*geostrophy.Pair) float64) func(*geostrophy.Pair) float64 {
		return func(p *geostrophy.Pair) float64 {
			if !p.Status.HasVelocity() {
				return math.NaN()
			}
			return get(p)
		}
	}
	b.number("deepest_common_level", "", "pressure of the deepest common level of the two casts", "dbar", "", with(func(p *geostrophy.Pair) float64 { return p.DeepestCommonDbar }))
	b.number("ref_pres", "reference_pressure", "pressure of the reference level, at which the velocity is known or taken as zero", "dbar", "",
		with(func(p *geostrophy.Pair) float64 { return p.ReferenceDbar }))
	b.number("ref_velocity", "", "velocity at the reference level, zero at a level of no motion", "m s-1", "positive towards positive_direction",
		with(func(p *geostrophy.Pair) float64 { return p.KnownVelocity }))
	b.number("ref_velocity_err", "", "standard error of the velocity at the reference level, zero where none is stated", "m s-1", "",
		with(func(p *geostrophy.Pair) float64 { return p.KnownVelocityErr }))
	b.number("surface_carried", "", "height above the first common level that was given its velocity", "m", "", with(func(p *geostrophy.Pair) float64 { return p.SurfaceCarriedM }))
	b.number("top_unsampled", "", "height above the first common level without velocity", "m", "", with(func(p *geostrophy.Pair) float64 { return p.TopUnsampledM }))
	b.number("bottom_a", "", "height of the bottom at the first station below the deepest level with a velocity", "m", "", with(func(p *geostrophy.Pair) float64 { return p.BottomAM }))
	b.number("bottom_b", "", "height of the bottom at the second station below the deepest level with a velocity", "m", "", with(func(p *geostrophy.Pair) float64 { return p.BottomBM }))
	b.number("unsampled_area", "", "area below the deepest level with a velocity, where the levels do not reach near the bottom", "m2", "",
		with(func(p *geostrophy.Pair) float64 { return p.UnsampledAreaM2 }))
}

// levels adds pressure and everything at levels.
func (b *pairs) levels() {
	if b.l.obs == 0 {
		b.noLevels()
		return
	}
	pres := metadata.MustVariable("pres")
	a := quantity(&pres)
	a.text("positive", "down")
	a.text("axis", "Z")
	a.text("coverage_content_type", "coordinate")
	if b.l.ragged {
		rows := make([]int32, len(b.l.rows))
		for i, n := range b.l.rows {
			rows[i] = int32(n)
		}
		b.p.values(nc.Var{Name: "row_size", Type: nc.Int, Dims: []int{b.pair},
			Attrs: []nc.Attr{longName("number of levels of this pair"), {Name: "sample_dimension", Value: "obs"}}}, rows)
		b.p.chunks(nc.Var{Name: "pres", Type: nc.Double, Dims: []int{b.level}, Attrs: a},
			b.fill(func(p *geostrophy.Pair) []float64 { return p.PressureDbar }))
	} else {
		b.p.values(nc.Var{Name: "pres", Type: nc.Double, Dims: []int{b.level}, Attrs: a}, b.l.pressures)
	}
	v := metadata.MustVariable("velocity")
	v.LongName = "geostrophic velocity normal to the section, relative to the reference level of the pair"
	v.Comment = "positive towards positive_direction; reference level in ref_pres; no CF standard name exists for a section-normal component"
	ancillary := "velocity_err velocity_err_per_cast velocity_err_common velocity_err_if_common"
	if b.any(func(p *geostrophy.Pair) []float64 { return p.MonteCarlo }) {
		ancillary += " velocity_err_members"
	}
	method := ""
	if !b.l.ragged { // there its dimension is not one of the velocity's (CF 3.4)
		ancillary, method = ancillary+" pair_status", "pair: mean"
	}
	b.atLevel(v, ancillary, method, func(p *geostrophy.Pair) []float64 { return p.Velocity })
	for _, e := range []struct {
		suffix, long string
		get          func(*geostrophy.Pair) []float64
	}{
		{"", "stated standard error of the velocity, root of the sum of squares of its parts", func(p *geostrophy.Pair) []float64 { return p.VelocityErr }},
		{"_per_cast", "part of the standard error of the velocity: errors of single casts", func(p *geostrophy.Pair) []float64 { return p.PerCastErr }},
		{"_common", "part of the standard error of the velocity: errors common to the casts of a sensor system, 0 where accuracies are not split", func(p *geostrophy.Pair) []float64 { return p.CommonErr }},
		{"_if_common", "alternative to velocity_err_per_cast, no part of velocity_err: the errors taken as the same on all casts of a sensor system", func(p *geostrophy.Pair) []float64 { return p.IfCommonErr }},
		{"_members", "standard deviation of the velocity over the members of a Monte-Carlo estimate", func(p *geostrophy.Pair) []float64 { return p.MonteCarlo }},
	} {
		b.atLevel(metadata.Variable{Name: "velocity_err" + e.suffix, LongName: e.long, Units: "m s-1", Comment: "accuracies assumed: see geostrophy_settings"},
			"", "", e.get)
	}
	b.atLevel(metadata.Variable{Name: "velocity_shear", LongName: "vertical shear of the geostrophic velocity, upwards", Units: "s-1",
		Comment: "derivative of velocity with height, centred differences"}, "", "", func(p *geostrophy.Pair) []float64 { return p.Shear })
	for _, s := range []struct {
		suffix, which string
		get           func(*geostrophy.Pair) []float64
	}{
		{"_a", "first", func(p *geostrophy.Pair) []float64 { return p.HeightA }},
		{"_b", "second", func(p *geostrophy.Pair) []float64 { return p.HeightB }},
	} {
		v := metadata.MustVariable("dynamic_height")
		v.Name += s.suffix
		v.LongName = "dynamic height anomaly (geopotential anomaly) at the " + s.which + " station relative to ref_pres"
		v.Comment = "no CF standard name exists for this quantity"
		v.References = "TEOS-10 manual (IOC, SCOR and IAPSO 2010), section 3.27"
		b.atLevel(v, "", "", s.get)
	}
}

// noLevels adds the pressures of the station with most levels and a velocity that is missing at all of them, for a section of which no pair has a
// velocity: a profile has a vertical coordinate.
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
	a := quantity(&pres)
	a.text("positive", "down")
	a.text("axis", "Z")
	a.text("coverage_content_type", "coordinate")
	b.p.values(nc.Var{Name: "pres", Type: nc.Double, Dims: []int{b.level}, Attrs: a}, p)
	v := metadata.MustVariable("velocity")
	v.LongName = "geostrophic velocity normal to the section"
	v.Comment = "missing: no pair has a velocity, pair_reason says why"
	a = quantity(&v)
	a.text("coordinates", b.perPair)
	a.text("ancillary_variables", "pair_status")
	a.text("coverage_content_type", "modelResult")
	missing := make([]float64, len(b.r.Pairs)*len(p))
	for i := range missing {
		missing[i] = math.NaN()
	}
	b.p.field(nc.Var{Name: v.Name, Type: nc.Double, Dims: []int{b.pair, b.level}, Fill: fillValue, Attrs: a}, missing)
}

func (b *pairs) any(get func(*geostrophy.Pair) []float64) bool {
	for i := range b.r.Pairs {
		if len(get(&b.r.Pairs[i])) > 0 {
			return true
		}
	}
	return false
}

// atLevel adds a quantity at levels unless no pair has it.
func (b *pairs) atLevel(v metadata.Variable, ancillary, method string, get func(*geostrophy.Pair) []float64) {
	if !b.any(get) {
		return
	}
	a := quantity(&v)
	a.text("coordinates", b.atLevels)
	a.text("cell_methods", method)
	a.text("ancillary_variables", ancillary)
	if strings.Contains(v.Name, "_err") {
		a.text("coverage_content_type", "qualityInformation")
	} else {
		a.text("coverage_content_type", "modelResult")
	}
	dims := []int{b.pair, b.level}
	if b.l.ragged {
		dims = dims[1:]
	}
	b.p.chunks(nc.Var{Name: v.Name, Type: nc.Double, Dims: dims, Fill: fillValue, Attrs: a}, b.fill(get))
}

func (b *pairs) fill(get func(*geostrophy.Pair) []float64) func(*nc.Chunk) {
	return func(c *nc.Chunk) {
		dst := nc.Values[float64](c)
		b.l.each(c, func(pair, level, n, at int) {
			if v := get(&b.r.Pairs[pair]); v != nil {
				copyKnown(dst[at:], v[level:level+n])
			}
		})
	}
}

// transportName and transportStandard name the transports. Standard names: CF table v83, which has none for salt and freshwater.
var (
	transportName = [geostrophy.Kinds]string{"transport", "transport_mass", "transport_temperature", "transport_salt", "transport_freshwater", "transport_heat"}
	transportLong = [geostrophy.Kinds]string{"volume transport", "mass transport", "temperature transport (density times cp0 times Conservative Temperature)",
		"salt transport", "freshwater transport", "heat transport (temperature transport from the reference temperature)"}
	transportStandard = [geostrophy.Kinds]string{"ocean_volume_transport_across_line", "sea_water_transport_across_line"}
)

// transports adds, for each kind that has numbers, what the pair carries and its errors, the running sum, the parts above and in the
// bottom triangle, the second opinion, layers and classes.
func (b *pairs) transports() {
	b.bands("layer", "pressure", "dbar", b.r.Layers)
	b.bands("class", fmt.Sprintf("potential density anomaly referred to %g dbar", b.r.ClassSigmaDbar), "kg m-3", b.r.Classes)
	treatment := b.p.dim("treatment", geostrophy.Treatments)
	var words []string
	for t := range geostrophy.Treatments {
		words = append(words, geostrophy.Treatment(t).String())
	}
	b.p.text("treatment_name", []int{treatment}, "len_treatment", words, longName("what flows in the bottom triangle"))
	for k := range geostrophy.Kind(geostrophy.Kinds) {
		if b.hasKind(k) {
			b.transport(k, treatment)
		}
	}
}

func (b *pairs) hasKind(k geostrophy.Kind) bool {
	for i := range b.r.Pairs {
		if p := &b.r.Pairs[i]; p.Status.HasVelocity() && !math.IsNaN(p.Transport[k].Value) {
			return true
		}
	}
	return k == geostrophy.Volume
}

// bands adds the bounds of layers or classes. An open end is missing.
func (b *pairs) bands(name, what, units string, bands []geostrophy.Band) {
	if len(bands) == 0 {
		return
	}
	dim := b.p.dim(name, len(bands))
	for _, end := range []struct {
		suffix string
		get    func(geostrophy.Band) float64
	}{{"lower", func(d geostrophy.Band) float64 { return d.Lower }}, {"upper", func(d geostrophy.Band) float64 { return d.Upper }}} {
		values := make([]float64, len(bands))
		for i := range bands {
			if values[i] = end.get(bands[i]); math.IsInf(values[i], 0) {
				values[i] = math.NaN()
			}
		}
		var a attrs
		a.text("long_name", end.suffix+" bound of the "+name+" in "+what)
		a.text("units", units)
		a.text("comment", "missing where the "+name+" is open")
		b.p.values(nc.Var{Name: name + "_" + end.suffix, Type: nc.Double, Dims: []int{dim}, Fill: fillValue, Attrs: a}, values)
	}
}

// sumParts are the errors that a transport is written with.
var sumParts = []struct {
	suffix, long string
	get          func(*geostrophy.Sum) float64
}{
	{"_err", "stated standard error, root of the sum of squares of its parts", func(s *geostrophy.Sum) float64 { return s.Stated }},
	{"_err_per_cast", "part of the standard error: errors of single casts", func(s *geostrophy.Sum) float64 { return s.PerCast }},
	{"_err_common", "part of the standard error: errors common to the casts of a sensor system, 0 where accuracies are not split", func(s *geostrophy.Sum) float64 { return s.Common }},
	{"_err_if_common", "alternative to the part of single casts, no part of the standard error: the errors taken as the same on all casts of a sensor system", func(s *geostrophy.Sum) float64 { return s.IfCommon }},
	{"_err_position", "part of the standard error: positions of the casts", func(s *geostrophy.Sum) float64 { return s.Position }},
	{"_err_known_velocity", "part of the standard error: known velocities at the reference level", func(s *geostrophy.Sum) float64 { return s.KnownVelocity }},
	{"_err_members", "standard deviation over the members of a Monte-Carlo estimate", func(s *geostrophy.Sum) float64 { return s.MonteCarlo }},
	{"_low_members", "2.5 percent point of the members of a Monte-Carlo estimate", func(s *geostrophy.Sum) float64 { return s.Low }},
	{"_high_members", "97.5 percent point of the members of a Monte-Carlo estimate", func(s *geostrophy.Sum) float64 { return s.High }},
}

// sharedErrors says why the error of a sum of pairs may be smaller than that of one of them.
const sharedErrors = "an error of a cast moves the pairs on its two sides in opposite ways, so that the sum may have a smaller error than one pair; see geostrophy_settings"

func (b *pairs) transport(k geostrophy.Kind, treatment int) {
	name, long, pair := transportName[k], "geostrophic "+transportLong[k], []int{b.pair}
	value := func(get func(*geostrophy.Pair) float64) []float64 {
		return b.numbers(func(p *geostrophy.Pair) float64 {
			if !p.Status.HasVelocity() {
				return math.NaN()
			}
			return get(p)
		})
	}
	add := func(suffix, standard, what string, dims []int, coordinates string, data []float64, more ...nc.Attr) {
		var a attrs
		a.text("standard_name", standard)
		a.text("long_name", what)
		a.text("units", k.Units())
		a.text("coordinates", joinNonEmpty(" ", b.perPair, coordinates))
		a = append(a, more...)
		if strings.Contains(suffix, "_err") || strings.HasSuffix(suffix, "_members") {
			a.text("coverage_content_type", "qualityInformation")
		} else {
			a.text("coverage_content_type", "modelResult")
		}
		b.p.field(nc.Var{Name: name + suffix, Type: nc.Double, Dims: dims, Fill: fillValue, Attrs: a}, data)
	}
	comment, settings := nc.Attr{Name: "comment", Value: b.transportComment(k)}, nc.Attr{Name: "comment", Value: derivedHere}

	var ancillary []string
	for _, part := range sumParts {
		if b.known(k, part.get) {
			ancillary = append(ancillary, name+part.suffix)
		}
	}
	total := attrs{comment, {Name: "ancillary_variables", Value: strings.Join(append(ancillary, "pair_status"), " ")}}
	b.total(&total, "", &b.r.Total[k])
	total.text("total_statement", b.r.Partial.Statement)
	if k == geostrophy.Freshwater && !math.IsNaN(b.r.ReferenceSalinity) {
		total.add("reference_salinity", b.r.ReferenceSalinity)
	}
	if v := b.r.SecondTotal[k]; !math.IsNaN(v) {
		total.add("total_second_reference", v)
		total.text("second_reference", b.r.SecondLabel)
	}
	for t := range b.r.ByTreatment {
		if v := b.r.ByTreatment[t][k]; !math.IsNaN(v) {
			total.add("total_triangle_"+geostrophy.Treatment(t).String(), v)
		}
	}
	add("", transportStandard[k], long+" between the two stations, surface to bottom", pair, "", value(func(p *geostrophy.Pair) float64 { return p.Transport[k].Value }), total...)
	for _, part := range sumParts {
		if b.known(k, part.get) {
			add(part.suffix, "", part.long+" of the "+transportLong[k], pair, "", value(func(p *geostrophy.Pair) float64 { return part.get(&p.Transport[k]) }), settings)
		}
	}
	running := comment
	if slices.ContainsFunc(b.r.Pairs, func(p geostrophy.Pair) bool { return p.CumulativePartial }) {
		running.Value = b.transportComment(k) + "; partial from the first pair without numbers on (pair_status)"
	}
	add("_cumulative", "", long+", sum of this and all pairs before it that have numbers", pair, "",
		value(func(p *geostrophy.Pair) float64 { return p.Cumulative[k].Value }), running)
	add("_cumulative_err", "", "stated standard error of the running sum of the "+transportLong[k], pair, "",
		value(func(p *geostrophy.Pair) float64 { return p.Cumulative[k].Stated }), nc.Attr{Name: "comment", Value: sharedErrors})
	if b.known(k, func(s *geostrophy.Sum) float64 { return s.MonteCarlo }) {
		add("_cumulative_err_members", "", "alternative to the stated standard error of the running sum of the "+transportLong[k]+
			": standard deviation over the members of a Monte-Carlo estimate", pair, "",
			value(func(p *geostrophy.Pair) float64 { return p.Cumulative[k].MonteCarlo }), nc.Attr{Name: "comment", Value: sharedErrors})
	}
	add("_above_triangle", "", long+" from the surface to the deepest common level", pair, "", value(func(p *geostrophy.Pair) float64 { return p.AboveTriangle[k] }), comment)
	add("_second", "", long+" with the second reference", pair, "", value(func(p *geostrophy.Pair) float64 { return p.SecondTransport[k] }),
		nc.Attr{Name: "comment", Value: joinNonEmpty("; ", b.r.SecondLabel, "a second opinion: the difference from "+name+" shows what the choice of reference is worth")})

	byTreatment := make([]float64, 0, len(b.r.Pairs)*geostrophy.Treatments)
	for i := range b.r.Pairs {
		for t := range geostrophy.Treatments {
			v := b.r.Pairs[i].Triangle[t][k]
			if !b.r.Pairs[i].Status.HasVelocity() {
				v = math.NaN()
			}
			byTreatment = append(byTreatment, v)
		}
	}
	add("_triangle", "", long+" in the bottom triangle, by treatment", []int{b.pair, treatment}, "treatment_name", byTreatment, comment)
	b.banded(k, "layer", b.r.LayerTotal, len(b.r.Layers), func(p *geostrophy.Pair) []geostrophy.Sums { return p.Layers }, add, comment)
	b.banded(k, "class", b.r.ClassTotal, len(b.r.Classes), func(p *geostrophy.Pair) []geostrophy.Sums { return p.Classes }, add, comment)
}

// banded adds transports by layer or class, with their stated error and that of the members.
func (b *pairs) banded(k geostrophy.Kind, name string, totals []geostrophy.Sums, n int, get func(*geostrophy.Pair) []geostrophy.Sums,
	add func(suffix, standard, what string, dims []int, coordinates string, data []float64, more ...nc.Attr), comment nc.Attr) {
	if n == 0 {
		return
	}
	dims := []int{b.pair, b.p.schema.Dim(name)}
	values, errs, members := make([]float64, 0, n*len(b.r.Pairs)), make([]float64, 0, n*len(b.r.Pairs)), make([]float64, 0, n*len(b.r.Pairs))
	run := false
	for i := range b.r.Pairs {
		sums := get(&b.r.Pairs[i])
		for j := range n {
			v, e, m := math.NaN(), math.NaN(), math.NaN()
			if b.r.Pairs[i].Status.HasVelocity() && j < len(sums) {
				v, e, m = sums[j][k].Value, sums[j][k].Stated, sums[j][k].MonteCarlo
				run = run || !math.IsNaN(m)
			}
			values, errs, members = append(values, v), append(errs, e), append(members, m)
		}
	}
	ancillary := transportName[k] + "_" + name + "_err"
	if run {
		ancillary += " " + ancillary + "_members"
	}
	more := attrs{comment, {Name: "ancillary_variables", Value: ancillary}}
	for _, t := range []struct {
		name string
		get  func(*geostrophy.Sum) float64
	}{
		{"total", func(s *geostrophy.Sum) float64 { return s.Value }},
		{"total_standard_error", func(s *geostrophy.Sum) float64 { return s.Stated }},
		{"total_standard_error_members", func(s *geostrophy.Sum) float64 { return s.MonteCarlo }},
		{"total_low_members", func(s *geostrophy.Sum) float64 { return s.Low }},
		{"total_high_members", func(s *geostrophy.Sum) float64 { return s.High }},
	} {
		var x []float64
		for j := range totals {
			x = append(x, t.get(&totals[j][k]))
		}
		if known(x) {
			more.add(t.name, x)
		}
	}
	coordinates := name + "_lower " + name + "_upper"
	add("_"+name, "", "geostrophic "+transportLong[k]+" by "+name, dims, coordinates, values, more...)
	add("_"+name+"_err", "", "stated standard error of the "+transportLong[k]+" by "+name, dims, coordinates, errs, nc.Attr{Name: "comment", Value: derivedHere})
	if run {
		add("_"+name+"_err_members", "", "alternative to the stated standard error of the "+transportLong[k]+" by "+name+
			": standard deviation over the members of a Monte-Carlo estimate", dims, coordinates, members,
			nc.Attr{Name: "comment", Value: derivedHere})
	}
}

// known says whether there are values and none is NaN, so that they can be an attribute.
func known(values []float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return len(values) > 0
}

// known says whether some pair has the part of the sum.
func (b *pairs) known(k geostrophy.Kind, get func(*geostrophy.Sum) float64) bool {
	for i := range b.r.Pairs {
		if p := &b.r.Pairs[i]; p.Status.HasVelocity() && !math.IsNaN(get(&p.Transport[k])) {
			return true
		}
	}
	return false
}

// total adds the sum over the section and its errors.
func (b *pairs) total(a *attrs, suffix string, s *geostrophy.Sum) {
	for _, v := range []struct {
		name  string
		value float64
	}{
		{"total", s.Value}, {"total_standard_error", s.Stated}, {"total_standard_error_per_cast", s.PerCast}, {"total_standard_error_common", s.Common}, {"total_standard_error_if_common", s.IfCommon},
		{"total_standard_error_position", s.Position}, {"total_standard_error_known_velocity", s.KnownVelocity},
		{"total_standard_error_members", s.MonteCarlo}, {"total_low_members", s.Low}, {"total_high_members", s.High},
	} {
		if !math.IsNaN(v.value) {
			a.add(v.name+suffix, v.value)
		}
	}
}

func (b *pairs) transportComment(k geostrophy.Kind) string {
	c := "positive towards positive_direction; the attributes total are of the whole section"
	switch k {
	case geostrophy.Temperature:
		return c + "; " + b.r.HeatWhy
	case geostrophy.Heat:
		return c + "; " + fmt.Sprintf("reference temperature %g degC; ", b.r.ReferenceTemperature) + b.r.HeatWhy
	case geostrophy.Freshwater:
		return c + fmt.Sprintf("; reference salinity %g g/kg", b.r.ReferenceSalinity)
	}
	return c
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
	a.text("geostrophy_settings", fmt.Sprintf("reference level: %s; interpolation between bins: %s; distance: %s; bottom triangles: %s; all settings are in geostrophy_settings_json",
		settings["reference_level"], settings["interpolation"], settings["distance"], strings.ReplaceAll(settings["triangle"], "_", " ")))
	all, err := asJSON(b.r.Params)
	if err != nil {
		return fmt.Errorf("section %s: settings as JSON: %w", b.r.Section, err)
	}
	a.text("geostrophy_settings_json", all)
	a.text("geostrophy_notes", strings.Join(b.r.Notes, "; "))
	a.text("geostrophy_completeness", b.r.Partial.Statement)
	var left []string
	for _, l := range b.r.LeftOut {
		left = append(left, b.x.id(l.Cast)+": "+l.Reason)
	}
	a.text("geostrophy_left_out", strings.Join(left, "; "))
	b.x.globals(&b.p, &file{
		what: "geostrophic velocity of section " + title(b.r.Section, b.settings), idSuffix: "geostrophy_" + b.r.Section, feature: "profile", dataType: "Profile",
		summary: fmt.Sprintf("Dynamic height, geostrophic velocity and transport of %s of section %s", count(len(b.r.Pairs), "station pair"), b.r.Section),
		source:  "derived from CTD casts lowered from a ship", level: joinNonEmpty(", ", "derived", b.x.calibration(), b.x.status()),
		casts: b.casts, vertical: [2]float64{lo, hi}, verticalUnit: "dbar", extra: a,
	})
	return nil
}
