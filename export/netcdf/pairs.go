package netcdf

import (
	"math"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/section/geostrophy"
)

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
	b.label("station_a", "len_label_a", "first station of the pair", func(p *geostrophy.Pair) string {
		return b.casts[p.A].Station
	})
	b.label("station_b", "len_label_b", "second station of the pair", func(p *geostrophy.Pair) string {
		return b.casts[p.B].Station
	})
	b.label("cast_a", "len_cast_a", "profile_id of the cast at the first station", func(p *geostrophy.Pair) string {
		return b.x.id(b.casts[p.A])
	})
	b.label("cast_b", "len_cast_b", "profile_id of the cast at the second station", func(p *geostrophy.Pair) string {
		return b.x.id(b.casts[p.B])
	})

	dims := []int{b.pair}
	b.p.values(timeVar(dims, "mean time of the two casts", true),
		b.numbers(func(p *geostrophy.Pair) float64 { return seconds(p.Time) }))
	b.p.values(latVar(dims, "latitude of the pair midpoint", true),
		b.numbers(func(p *geostrophy.Pair) float64 { return p.Midpoint.Lat() }))
	b.p.values(lonVar(dims, "longitude of the pair midpoint", true),
		b.numbers(func(p *geostrophy.Pair) float64 { return p.Midpoint.Lon() }))
	a := distance("distance along the section of the pair midpoint", b.r.Distance)
	a.text("bounds", "distance_bnds")
	a.text("coverage_content_type", "coordinate")
	b.p.values(nc.Var{Name: "distance", Type: nc.Double, Dims: dims, Attrs: a},
		b.numbers(func(p *geostrophy.Pair) float64 { return p.FromKm + (p.ToKm-p.FromKm)/2 }))
	edges := make([]float64, 0, 2*len(r.Pairs))
	for i := range r.Pairs {
		edges = append(edges, r.Pairs[i].FromKm, r.Pairs[i].ToKm)
	}
	b.p.values(nc.Var{Name: "distance_bnds", Type: nc.Double, Dims: []int{b.pair, b.p.dim("nv", 2)}}, edges)

	b.number("pair_length", "", "separation of the two stations", "km", "", func(p *geostrophy.Pair) float64 {
		return p.LengthKm
	})
	b.number("azimuth", "", "true bearing from the first station to the second at the pair midpoint", "degree", "",
		func(p *geostrophy.Pair) float64 { return p.AzimuthDeg })
	b.number("positive_direction", "", "true bearing towards which velocity and transport are positive", "degree", "",
		func(p *geostrophy.Pair) float64 { return p.PositiveDeg })
	b.number("coriolis", "coriolis_parameter", "Coriolis parameter at the middle latitude", "s-1", "",
		func(p *geostrophy.Pair) float64 { return p.CoriolisPerSec })

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
	b.remark("pair_reason", "why the pair is withheld or questionable, in words", func(p *geostrophy.Pair) string {
		return p.Reason
	})
	b.remark("pair_note", "fallbacks and limits of the pair, in words", func(p *geostrophy.Pair) string {
		return strings.Join(p.NoteTexts(), "; ")
	})
	b.remark("level_rule", "how the common levels of the two casts were found", func(p *geostrophy.Pair) string {
		return p.LevelRule
	})
	b.remark("reference_fallback", "what was done where the reference level asked for was not reached",
		func(p *geostrophy.Pair) string { return p.ReferenceFallback })

	with := func(get func(*geostrophy.Pair) float64) func(*geostrophy.Pair) float64 {
		return func(p *geostrophy.Pair) float64 {
			if !p.Status.HasVelocity() {
				return math.NaN()
			}
			return get(p)
		}
	}
	b.number("deepest_common_level", "", "pressure of the deepest common level of the two casts", "dbar", "",
		with(func(p *geostrophy.Pair) float64 { return p.DeepestCommonDbar }))
	b.number("ref_pres", "reference_pressure",
		"pressure of the reference level, at which the velocity is known or taken as zero", "dbar", "",
		with(func(p *geostrophy.Pair) float64 { return p.ReferenceDbar }))
	b.number("ref_velocity", "", "velocity at the reference level, zero at a level of no motion", "m s-1",
		"positive towards positive_direction",
		with(func(p *geostrophy.Pair) float64 { return p.KnownVelocity }))
	b.number("ref_velocity_err", "", "standard error of the velocity at the reference level, zero where none is stated",
		"m s-1", "",
		with(func(p *geostrophy.Pair) float64 { return p.KnownVelocityErr }))
	b.number("surface_carried", "", "height above the first common level that was given its velocity", "m", "",
		with(func(p *geostrophy.Pair) float64 { return p.SurfaceCarriedM }))
	b.number("top_unsampled", "", "height above the first common level without velocity", "m", "",
		with(func(p *geostrophy.Pair) float64 { return p.TopUnsampledM }))
	b.number("bottom_a", "", "height of the bottom at the first station below the deepest level with a velocity", "m",
		"", with(func(p *geostrophy.Pair) float64 { return p.BottomAM }))
	b.number("bottom_b", "", "height of the bottom at the second station below the deepest level with a velocity", "m",
		"", with(func(p *geostrophy.Pair) float64 { return p.BottomBM }))
	b.number("unsampled_area", "",
		"area below the deepest level with a velocity, where the levels do not reach near the bottom", "m2", "",
		with(func(p *geostrophy.Pair) float64 { return p.UnsampledAreaM2 }))
}
