package derived

import (
	"fmt"
	"math"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/castwright/castwright/section/seawater"
)

// SummaryOptions are the limits of the numbers of a cast. Start from DefaultSummary.
type SummaryOptions struct {
	HeatToM             []float64 // depths of heat content, m
	StericReferenceDbar float64
	N2WindowDbar        float64
	NotCalibratedUsable bool
}

// DefaultSummary returns the defaults: heat content to 300, 700 and 2000 m, steric height relative to 2000 dbar.
func DefaultSummary() SummaryOptions {
	return SummaryOptions{HeatToM: []float64{300, 700, 2000}, StericReferenceDbar: 2000,
		N2WindowDbar: defaultWindowDbar}
}

// A Quantity is one number of a whole cast. Comment and References of the variable are how it was made; Reason is why
// Value is NaN.
type Quantity struct {
	metadata.Variable
	Value  float64
	Reason string
}

// fullDepth: a cast that ends higher above the bottom than this part of the water depth gives no baroclinic mode.
const fullDepth = 0.1

// Summary returns the numbers of one cast, the same ones in the same order for every cast: mixed layer depth by
// temperature and by density, heat content, steric height with its parts, speed of the first baroclinic mode by
// eigenvalue and by the WKB estimate, and the first baroclinic Rossby radius. Where an input is missing the value is
// NaN, with the reason.
func Summary(c *section.Cast, opts SummaryOptions) []Quantity {
	pr, err := geostrophy.ProfileOf(c, opts.NotCalibratedUsable)
	sa, ct, p := pr.SA, pr.CT, pr.PressureDbar
	lat := c.At[1]
	why := ""
	switch {
	case err != nil:
		why = err.Error()
	case lat != lat:
		why = "the cast has no position"
	case len(p) < 2:
		why = [...]string{"no usable level", "one usable level"}[len(p)] + " of temperature and salinity"
	}
	// The part above the first gap: nothing is integrated across one.
	part := len(p)
	if gaps := section.Gaps(p, nil); len(gaps) > 0 {
		part = gaps[0].Above + 1
	}
	upS, upT, upP := sa[:part], ct[:part], p[:part]
	var out []Quantity
	add := adder(func(name, long, units, comment, references, reason string, value func() float64) {
		q := Quantity{Variable: metadata.Variable{Name: name, LongName: long, Units: units, Comment: comment,
			References: references, ValidMin: math.NaN(), ValidMax: math.NaN(), ExchangeDecimals: -1},
			Value: math.NaN(), Reason: why}
		if why == "" {
			q.Value = value()
			if q.Value != q.Value {
				q.Reason = reason
				if part < len(p) {
					q.Reason += fmt.Sprintf("; a gap begins at %g dbar", p[part-1])
				}
			}
		}
		out = append(out, q)
	})
	depth := func(dbar float64) float64 { return -seawater.Height(dbar, lat) }
	const mixed = "de Boyer Montegut et al. (2004), JGR 109, C12003"
	add("mld_t", "mixed layer depth by temperature", "m",
		"Conservative Temperature differs by 0.2 degC from its value at 10 dbar; linear between levels", mixed,
		"no level near 10 dbar, or the difference is not reached",
		func() float64 { x, _ := MixedLayer(upS, upT, upP); return depth(x) })
	add("mld_d", "mixed layer depth by density", "m",
		"sigma0 exceeds its value at 10 dbar by 0.03 kg/m3; linear between levels", mixed,
		"no level near 10 dbar, or the difference is not reached",
		func() float64 { _, x := MixedLayer(upS, upT, upP); return depth(x) })
	for _, to := range opts.HeatToM {
		add(fmt.Sprintf("heat_%g", to), fmt.Sprintf("heat content from the surface to %g m, relative to 0 degC", to),
			"J m-2",
			"cp0 times the integral of density times Conservative Temperature over depth, trapezoid; the first level is carried to the surface from at most 20 dbar",
			teos10+", section 3.3",
			"the cast does not hold the water from 20 dbar to this depth",
			func() float64 { return HeatContent(upS, upT, upP, lat, to) })
	}
	ref := opts.StericReferenceDbar
	total, thermo, halo := math.NaN(), math.NaN(), math.NaN()
	if why == "" && upP[0] <= surfaceCarryDbar {
		total, thermo, halo = StericHeight(upS, upT, upP, ref)
	}
	reason := fmt.Sprintf("the cast does not hold the water from 20 dbar to %g dbar", ref)
	steric := fmt.Sprintf("dynamic height anomaly at the surface relative to %g dbar, divided by 9.7963 m s-2", ref)
	add("steric", fmt.Sprintf("steric height relative to %g dbar", ref), "m", steric, teos10+", section 3.27", reason,
		func() float64 { return total })
	add("steric_t", fmt.Sprintf("thermosteric height relative to %g dbar", ref), "m",
		steric+", with salinity held at 35.16504 g/kg", teos10+", section 3.27", reason,
		func() float64 { return thermo })
	add("steric_s", fmt.Sprintf("halosteric height relative to %g dbar", ref), "m",
		steric+", with temperature held at 0 degC", teos10+", section 3.27", reason, func() float64 { return halo })
	addModes(add, c, pr, part, opts.N2WindowDbar, why)
	return out
}

// An adder adds one number to the summary of a cast; reason is why it is NaN if it is.
type adder func(name, long, units, comment, references, reason string, value func() float64)

// addModes adds the speed of the first baroclinic mode and its Rossby radius; why is "" unless the cast has no numbers.
func addModes(add adder, c *section.Cast, pr *geostrophy.Profile, part int, windowDbar float64, why string) {
	lat := c.At[1]
	d, n2, bottom, modeWhy := modeInput(c, pr.SA, pr.CT, pr.PressureDbar, part, windowDbar)
	const chelton = "Chelton et al. (1998), JPO 28, 433"
	fits := fmt.Sprintf("from squared buoyancy frequency fitted over %g dbar", windowDbar)
	eigen, wkb := math.NaN(), math.NaN()
	if why == "" && modeWhy == "" {
		eigen, wkb = FirstBaroclinicSpeed(d, n2, bottom), FirstBaroclinicSpeedWKB(d, n2, bottom)
	}
	add("c1", "speed of the first baroclinic mode", "m s-1", "eigenvalue of the vertical modes over a flat bottom, "+
		fits, chelton, modeWhy, func() float64 { return eigen })
	add("c1_wkb", "speed of the first baroclinic mode, WKB estimate", "m s-1",
		"integral of the buoyancy frequency over depth divided by pi, "+fits, chelton, modeWhy,
		func() float64 { return wkb })
	radius := "speed of the first mode (eigenvalue) over the Coriolis parameter"
	if math.Abs(lat) < 5 {
		radius =
			"square root of the speed of the first mode (eigenvalue) over twice beta: within 5 degrees of the equator"
	}
	add("rossby1", "first baroclinic Rossby radius", "m", radius, chelton, modeWhy,
		func() float64 { return RossbyRadius(eigen, lat) })
}

// modeInput returns depths and N2 of a full-depth cast for the baroclinic mode, or why there are none.
func modeInput(c *section.Cast, sa, ct, p []float64, part int, windowDbar float64) (depth, n2 []float64, bottom float64,
	why string) {
	n := len(p)
	if n < 3 {
		return nil, nil, 0, "fewer than three usable levels"
	}
	deepest := -seawater.Height(p[n-1], c.At[1])
	bottom = c.BottomM
	switch {
	case part < n:
		return nil, nil, 0, "the cast has a gap"
	case bottom != bottom:
		return nil, nil, 0, "the water depth is not known, so that a full-depth cast cannot be told"
	case deepest < (1-fullDepth)*bottom:
		return nil, nil, 0, fmt.Sprintf("the cast ends at %.0f m in %.0f m of water: more than 10 %% above the bottom",
			deepest, bottom)
	case -seawater.Height(p[0], c.At[1]) > fullDepth*bottom:
		return nil, nil, 0, "the cast begins deeper than 10 % of the water depth"
	}
	bottom = math.Max(bottom, deepest)
	at := seawater.PlaceOf(c.At[0], c.At[1])
	all := BuoyancyFrequenciesSquared(make([]float64, n), sa, ct, p, windowDbar, &at)
	for i := range p {
		if d := -seawater.Height(p[i], c.At[1]); all[i] == all[i] && d > 0 && d < bottom {
			depth, n2 = append(depth, d), append(n2, all[i])
		}
	}
	if len(depth) < 2 {
		return nil, nil, 0, "fewer than two levels with a squared buoyancy frequency"
	}
	return depth, n2, bottom, ""
}
