package netcdf

import (
	"cmp"
	"math"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/section/geostrophy"
)

// words and numbers take one value from each pair.
func (b *pairs) words(get func(*pair) string) []string {
	out := make([]string, len(b.r.Pairs))
	for i := range b.r.Pairs {
		out[i] = get(&b.r.Pairs[i])
	}
	return out
}

func (b *pairs) numbers(get func(*pair) float64) []float64 {
	out := make([]float64, len(b.r.Pairs))
	for i := range b.r.Pairs {
		out[i] = get(&b.r.Pairs[i])
	}
	return out
}

func (b *pairs) label(name, lenDim, long string, get func(*pair) string) {
	b.p.text(name, []int{b.pair}, lenDim, b.words(get), longName(long))
}

// remark adds words on each pair unless there are none.
func (b *pairs) remark(name, long string, get func(*pair) string) {
	words := b.words(get)
	if strings.Join(words, "") == "" {
		return
	}
	b.p.text(name, []int{b.pair}, "len_"+name, words, longName(long), nc.Attr{Name: "coordinates", Value: b.perPair})
}

// A pairNumber is a number of each pair, in a variable of its own.
type pairNumber struct {
	name, standard, long, units, comment string // standard name and comment may be ""
	get                                  func(*pair) float64
}

// positionNumbers are what the positions of the two stations give; velocityNumbers are missing for a pair without
// velocity.
var (
	positionNumbers = []pairNumber{
		{"pair_length", "", "separation of the two stations", "km", "", func(p *pair) float64 { return p.LengthKm }},
		{"azimuth", "", "true bearing from the first station to the second at the pair midpoint", "degree", "",
			func(p *pair) float64 { return p.AzimuthDeg }},
		{"positive_direction", "", "true bearing towards which velocity and transport are positive", "degree", "",
			func(p *pair) float64 { return p.PositiveDeg }},
		{"coriolis", "coriolis_parameter", "Coriolis parameter at the middle latitude", "s-1", "",
			func(p *pair) float64 { return p.CoriolisPerSec }},
	}
	velocityNumbers = []pairNumber{
		{"deepest_common_level", "", "pressure of the deepest common level of the two casts", "dbar", "",
			func(p *pair) float64 { return p.DeepestCommonDbar }},
		{"ref_pres", "reference_pressure",
			"pressure of the reference level, at which the velocity is known or taken as zero", "dbar", "",
			func(p *pair) float64 { return p.ReferenceDbar }},
		{"ref_velocity", "", "velocity at the reference level, zero at a level of no motion", "m s-1",
			"positive towards positive_direction", func(p *pair) float64 { return p.KnownVelocity }},
		{"ref_velocity_err", "", "standard error of the velocity at the reference level, zero where none is stated",
			"m s-1", "", func(p *pair) float64 { return p.KnownVelocityErr }},
		{"surface_carried", "", "height above the first common level that was given its velocity", "m", "",
			func(p *pair) float64 { return p.SurfaceCarriedM }},
		{"top_unsampled", "", "height above the first common level without velocity", "m", "",
			func(p *pair) float64 { return p.TopUnsampledM }},
		{"bottom_a", "", "height of the bottom at the first station below the deepest level with a velocity", "m", "",
			func(p *pair) float64 { return p.BottomAM }},
		{"bottom_b", "", "height of the bottom at the second station below the deepest level with a velocity", "m", "",
			func(p *pair) float64 { return p.BottomBM }},
		{"unsampled_area", "",
			"area below the deepest level with a velocity, where the levels do not reach near the bottom", "m2", "",
			func(p *pair) float64 { return p.UnsampledAreaM2 }},
	}
)

// number adds a number of each pair. Missing values are allowed.
func (b *pairs) number(n *pairNumber, get func(*pair) float64) {
	var a attrs
	a.text(
		"standard_name", n.standard,
		"long_name", n.long,
		"units", n.units,
		"comment", cmp.Or(n.comment, derivedHere),
		"coordinates", b.perPair,
		"coverage_content_type", "auxiliaryInformation",
	)
	b.p.values(doubleOrMissing(n.name, a, b.pair), b.numbers(get))
}

// withVelocity returns get for pairs that have a velocity; the value of others is missing.
func withVelocity(get func(*pair) float64) func(*pair) float64 {
	return func(p *pair) float64 {
		if !p.Status.HasVelocity() {
			return math.NaN()
		}
		return get(p)
	}
}

func (b *pairs) instances() {
	r := b.r
	sectionID(&b.p, r.Section)
	b.p.text("pair_id", []int{b.pair}, "len_id", b.words(func(p *pair) string { return p.ID }),
		nc.Attr{Name: "cf_role", Value: "profile_id"}, longName("identifier of the station pair"))
	b.label("station_a", "len_label_a", "first station of the pair", func(p *pair) string {
		return b.casts[p.A].Station
	})
	b.label("station_b", "len_label_b", "second station of the pair", func(p *pair) string {
		return b.casts[p.B].Station
	})
	b.label("cast_a", "len_cast_a", "profile_id of the cast at the first station", func(p *pair) string {
		return b.x.id(b.casts[p.A])
	})
	b.label("cast_b", "len_cast_b", "profile_id of the cast at the second station", func(p *pair) string {
		return b.x.id(b.casts[p.B])
	})

	b.p.values(coordinate("time", "T", "mean time of the two casts", b.pair),
		b.numbers(func(p *pair) float64 { return seconds(p.Time) }))
	b.p.values(coordinate("lat", "Y", "latitude of the pair midpoint", b.pair),
		b.numbers(func(p *pair) float64 { return p.Midpoint.Lat() }))
	b.p.values(coordinate("lon", "X", "longitude of the pair midpoint", b.pair),
		b.numbers(func(p *pair) float64 { return p.Midpoint.Lon() }))
	a := distance("distance along the section of the pair midpoint", b.r.Distance)
	a.text(
		"bounds", "distance_bnds",
		"coverage_content_type", "coordinate",
	)
	b.p.values(double("distance", a, b.pair),
		b.numbers(func(p *pair) float64 { return p.FromKm + (p.ToKm-p.FromKm)/2 }))
	edges := make([]float64, 0, 2*len(r.Pairs))
	for i := range r.Pairs {
		edges = append(edges, r.Pairs[i].FromKm, r.Pairs[i].ToKm)
	}
	b.p.values(double("distance_bnds", nil, b.pair, b.p.dim("nv", 2)), edges)

	for i := range positionNumbers {
		b.number(&positionNumbers[i], positionNumbers[i].get)
	}
	b.status()
	for i := range velocityNumbers {
		b.number(&velocityNumbers[i], withVelocity(velocityNumbers[i].get))
	}
}

// status adds whether each pair has a velocity, and remarks.
func (b *pairs) status() {
	r := b.r
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
	f.text(
		"standard_name", "status_flag",
		"long_name", "whether the pair has a velocity, and if not, why",
	)
	f.add("flag_values", values)
	f.text(
		"flag_meanings", strings.Join(meanings, " "),
		"coordinates", b.perPair,
		"coverage_content_type", "qualityInformation",
	)
	b.p.values(nc.Var{Name: "pair_status", Type: nc.Byte, Dims: []int{b.pair}, Attrs: f}, status)
	b.remark("pair_reason", "why the pair is withheld or questionable, in words", func(p *pair) string {
		return p.Reason
	})
	b.remark("pair_note", "fallbacks and limits of the pair, in words", func(p *pair) string {
		return strings.Join(p.NoteTexts(), "; ")
	})
	b.remark("level_rule", "how the common levels of the two casts were found", func(p *pair) string {
		return p.LevelRule
	})
	b.remark("reference_fallback", "what was done where the reference level asked for was not reached",
		func(p *pair) string { return p.ReferenceFallback })
}
