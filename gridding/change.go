package gridding

import (
	"math"
	"slices"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
	"github.com/castwright/castwright/section/seawater"
)

// Change between two occupations of one place, after Bindoff and McDougall 1994, J. Phys. Oceanogr. 24, 1137: the
// change at a pressure is the change on the surface of density that lies there and what the displacement of that
// surface brings, its heave. For X either Conservative Temperature or Absolute Salinity, new minus old:
//
//	T = X2(p) - X1(p)      on pressure
//	D = X2(p2) - X1(p1)    on density: p1, p2 are the pressures of the density that is the mean of both at p
//	H = T - D              heave; to first order -(p2 - p1) (dX1/dp + dX2/dp)/2

// A Profile is one occupation of a place. Pressures in dbar increase; values are usable.
type Profile struct {
	PressureDbar []float64
	SA, CT       []float64 // g/kg, degC
	SAErr, CTErr float64   // accuracy, g/kg and K
	// further standard errors of each level, of mapped values for example; nil: none
	SALevelErr, CTLevelErr []float64
	Straight               bool          // values are straight between levels, else monotone (pchip)
	Gaps                   []section.Gap // nothing is interpolated across
	Others                 []Property    // further variables
}

// A Level is the change at one pressure. What is not defined is NaN.
type Level struct {
	PressureDbar float64
	// on pressure, on density and by heave, with standard errors; g/kg and K. The error of heave is an upper bound.
	SA, SADensity, SAHeave          float64
	SAErr, SADensityErr, SAHeaveErr float64
	CT, CTDensity, CTHeave          float64
	CTErr, CTDensityErr, CTHeaveErr float64
	OldDbar, NewDbar                float64 // pressures p1 and p2 of the density surface
	DisplacementDbar                float64 // p2 - p1, positive where the surface moved down
	ReferenceDbar                   float64 // of the potential density
	Reason                          ChangeReason
	// the first-order form of the heave of CT is within 3 % of it
	HeaveSmall bool
	Others     []Parts // of the further variables of the newer profile, in its order
}

// ChangeReason says why the change on density is not defined at a level.
type ChangeReason uint8

// Reasons; the zero value is that it is defined.
const (
	Defined        ChangeReason = iota
	OutsideProfile              // one occupation has no value at this pressure
	Outcrop                     // one occupation has no water of this density
	WeakStratified              // N2 below 1e-7 s-2 where the surface lies
	InMixedLayer                // of either occupation
	NearUnity                   // density ratio within 0.2 of 1: temperature and salinity compensate
)

var changeWords = [...]string{"defined", "outside_profile", "outcrops", "weakly_stratified", "in_mixed_layer",
	"density_ratio_near_one"}

// String returns the word of flag_meanings and tables.
func (r ChangeReason) String() string { return changeWords[r] }

const (
	leastN2      = 1e-7 // s-2
	leastRatio   = 0.2  // of density ratio minus one
	smallHeave   = 0.03
	mixedDensity = 0.03 // kg/m3 above that at 10 dbar (de Boyer Montegut et al. 2004, J. Geophys. Res. 109, C12003)
)

// ReferenceOf returns the reference pressure of potential density that Compare takes at a pressure: 0 above 500 dbar,
// 2000 down to 2000, 4000 below.
func ReferenceOf(pDbar float64) float64 {
	switch {
	case pDbar < 500:
		return 0
	case pDbar <= 2000:
		return 2000
	}
	return 4000
}

// Compare returns the change from one profile to another at pressures. reference gives the reference pressure of
// potential density at each, 0, 1000, 2000, 3000 or 4000 dbar; nil: ReferenceOf.
func Compare(old, now *Profile, pDbar []float64, reference func(pDbar float64) float64) []Level {
	if reference == nil {
		reference = ReferenceOf
	}
	a, b := newCurve(old), newCurve(now)
	out := make([]Level, len(pDbar))
	for i, p := range pDbar {
		x, movedErr := compareAt(a, b, p, reference(p))
		x.Others = others(a, b, &x, movedErr)
		out[i] = x
	}
	return out
}

// compareAt returns the change at a pressure and the standard error of the displacement of the surface.
func compareAt(a, b *curve, p, reference float64) (x Level, movedErr float64) {
	nan := math.NaN()
	x = Level{PressureDbar: p, ReferenceDbar: reference, SA: nan, SADensity: nan, SAHeave: nan, SAErr: nan,
		SADensityErr: nan, SAHeaveErr: nan, CT: nan, CTDensity: nan, CTHeave: nan, CTErr: nan, CTDensityErr: nan,
		CTHeaveErr: nan, OldDbar: nan, NewDbar: nan, DisplacementDbar: nan}
	if !a.holds(p) || !b.holds(p) {
		x.Reason = OutsideProfile
		return x, nan
	}
	sa1, ct1 := a.at(p)
	sa2, ct2 := b.at(p)
	eS := math.Hypot(a.errorAt(p, a.SAErr, a.SALevelErr), b.errorAt(p, b.SAErr, b.SALevelErr))
	eT := math.Hypot(a.errorAt(p, a.CTErr, a.CTLevelErr), b.errorAt(p, b.CTErr, b.CTLevelErr))
	x.SA, x.CT, x.SAErr, x.CTErr = sa2-sa1, ct2-ct1, eS, eT
	k := int(math.Round(reference / 1000))
	sigma := (seawater.Sigma(k, sa1, ct1) + seawater.Sigma(k, sa2, ct2)) / 2
	var why [2]ChangeReason
	x.OldDbar, why[0] = a.surface(k, sigma, p)
	x.NewDbar, why[1] = b.surface(k, sigma, p)
	if x.Reason = max(why[0], why[1]); x.Reason != Defined {
		x.OldDbar, x.NewDbar = nan, nan
		return x, nan
	}
	sa1, ct1 = a.at(x.OldDbar)
	sa2, ct2 = b.at(x.NewDbar)
	ratio, betaOverAlpha, slope := densityRatio(a, b, x.OldDbar, x.NewDbar, reference)
	if math.Abs(ratio-1) < leastRatio || math.IsNaN(ratio) {
		x.Reason = NearUnity
		return x, nan
	}
	x.DisplacementDbar = x.NewDbar - x.OldDbar
	x.SADensity, x.CTDensity = sa2-sa1, ct2-ct1
	x.SAHeave, x.CTHeave = x.SA-x.SADensity, x.CT-x.CTDensity
	// An error of salinity or temperature moves the surface, along which the other then changes too.
	shared := math.Abs(ratio / (ratio - 1))
	x.SADensityErr = math.Hypot(eS*shared, eT/betaOverAlpha/math.Abs(ratio-1))
	x.CTDensityErr = math.Hypot(eS*betaOverAlpha*shared, eT/math.Abs(ratio-1))
	x.SAHeaveErr, x.CTHeaveErr = math.Hypot(eS, x.SADensityErr), math.Hypot(eT, x.CTDensityErr)
	_, slope1 := a.slopes(p)
	_, slope2 := b.slopes(p)
	first := -x.DisplacementDbar * (slope1 + slope2) / 2
	x.HeaveSmall = math.Abs(first-x.CTHeave) <= smallHeave*math.Abs(x.CTHeave)
	return x, math.Hypot(eS, eT/betaOverAlpha) / math.Abs(slope)
}

// densityRatio returns alpha CT_p / (beta SA_p), the mean of both occupations on the surface, and beta over alpha
// there, at the reference pressure of the density. slope is alpha CT_p / beta - SA_p: that of potential density, as
// g/kg
// per dbar.
func densityRatio(a, b *curve, p1, p2, reference float64) (ratio, betaOverAlpha, slope float64) {
	sa1, ct1 := a.at(p1)
	sa2, ct2 := b.at(p2)
	s1, t1 := a.slopes(p1)
	s2, t2 := b.slopes(p2)
	_, bySalinity, byTemperature := seawater.SpecificVolumeSlopes((sa1+sa2)/2, (ct1+ct2)/2, reference)
	betaOverAlpha = -bySalinity / byTemperature
	return (t1 + t2) / (s1 + s2) / betaOverAlpha, betaOverAlpha, ((t1+t2)/betaOverAlpha - (s1 + s2)) / 2
}

// A curve is a profile with its monotone interpolant (pchip).
type curve struct {
	*Profile
	saSlope, ctSlope []float64
	mixedDbar        float64         // depth of the mixed layer; 0 where the profile does not show one
	kept             map[int]stratum // by reference, in thousands of dbar
	others           []propertyCurve
}

// stratum are the levels of a profile between which density increases with pressure, and its potential density there.
type stratum struct {
	level []int
	sigma []float64
}

func newCurve(p *Profile) *curve {
	n := len(p.PressureDbar)
	c := &curve{Profile: p, saSlope: make([]float64, n), ctSlope: make([]float64, n), kept: map[int]stratum{}}
	interpolate.PchipSlopes(c.saSlope, p.PressureDbar, p.SA)
	interpolate.PchipSlopes(c.ctSlope, p.PressureDbar, p.CT)
	c.mixedDbar = c.mixedLayer()
	for i := range p.Others {
		c.others = append(c.others, newPropertyCurve(&p.Others[i], p.Straight))
	}
	return c
}

func (c *curve) holds(p float64) bool { return within(c.PressureDbar, c.Gaps, p) }

// segment returns the place of the interval that holds a pressure, and how far into it.
func segment(pDbar []float64, p float64) (k int, h, t float64) {
	k, found := slices.BinarySearch(pDbar, p)
	if !found || k == len(pDbar)-1 {
		k--
	}
	k = max(k, 0)
	return k, pDbar[k+1] - pDbar[k], p - pDbar[k]
}

// at returns Absolute Salinity and Conservative Temperature at a pressure within the profile.
func (c *curve) at(p float64) (sa, ct float64) {
	k, h, t := segment(c.PressureDbar, p)
	s0, s1 := c.ends(c.SA, c.saSlope, k, h)
	t0, t1 := c.ends(c.CT, c.ctSlope, k, h)
	return hermite(c.SA[k], c.SA[k+1], s0, s1, h, t), hermite(c.CT[k], c.CT[k+1], t0, t1, h, t)
}

// slopes returns their derivatives by pressure.
func (c *curve) slopes(p float64) (sa, ct float64) {
	k, h, t := segment(c.PressureDbar, p)
	s0, s1 := c.ends(c.SA, c.saSlope, k, h)
	t0, t1 := c.ends(c.CT, c.ctSlope, k, h)
	return hermiteSlope(c.SA[k], c.SA[k+1], s0, s1, h, t), hermiteSlope(c.CT[k], c.CT[k+1], t0, t1, h, t)
}

// ends returns the slopes at both ends of an interval.
func (c *curve) ends(v, slope []float64, k int, h float64) (d0, d1 float64) {
	if c.Straight {
		m := (v[k+1] - v[k]) / h
		return m, m
	}
	return slope[k], slope[k+1]
}

// errorAt joins an accuracy and the error of the levels around a pressure, straight between them.
func (c *curve) errorAt(p, accuracy float64, levels []float64) float64 {
	if levels == nil {
		return accuracy
	}
	k, h, t := segment(c.PressureDbar, p)
	return math.Hypot(accuracy, levels[k]+float64((levels[k+1]-levels[k])*t/h))
}

func hermite(y0, y1, d0, d1, h, t float64) float64 {
	m := (y1 - y0) / h
	c, e := (3*m-2*d0-d1)/h, (d0+d1-2*m)/(h*h)
	return y0 + t*(d0+t*(c+t*e))
}

func hermiteSlope(y0, y1, d0, d1, h, t float64) float64 {
	m := (y1 - y0) / h
	c, e := (3*m-2*d0-d1)/h, (d0+d1-2*m)/(h*h)
	return d0 + t*(2*c+3*t*e)
}

// mixedLayer returns the first pressure at which sigma0 exceeds its value at 10 dbar by 0.03 kg/m3; 0 where no level
// lies within 5 dbar of 10.
func (c *curve) mixedLayer() float64 {
	if len(c.PressureDbar) < 2 {
		return 0
	}
	near := slices.IndexFunc(c.PressureDbar, func(p float64) bool { return math.Abs(p-10) <= 5 })
	if near < 0 {
		return 0
	}
	sa, ct := c.at(math.Max(10, c.PressureDbar[0]))
	limit := seawater.Sigma0(sa, ct) + mixedDensity
	before, pBefore := math.NaN(), 0.0
	for k, p := range c.PressureDbar {
		s := seawater.Sigma0(c.SA[k], c.CT[k])
		if p > 10 && s >= limit {
			if math.IsNaN(before) || before >= limit {
				return p
			}
			return pBefore + (p-pBefore)*(limit-before)/(s-before)
		}
		before, pBefore = s, p
	}
	return c.PressureDbar[len(c.PressureDbar)-1]
}

// stratified returns the levels between which potential density increases by at least leastN2.
func (c *curve) stratified(k int) stratum {
	if s, ok := c.kept[k]; ok {
		return s
	}
	const g2OverPascal = 9.7963 * 9.7963 / 1e4 // N2 = g2 (drho/dp), with dp in dbar
	var s stratum
	for i, p := range c.PressureDbar {
		sigma := seawater.Sigma(k, c.SA[i], c.CT[i])
		if n := len(s.level); n > 0 {
			dp := p - c.PressureDbar[s.level[n-1]]
			if g2OverPascal*(sigma-s.sigma[n-1])/dp < leastN2 {
				continue
			}
		}
		s.level, s.sigma = append(s.level, i), append(s.sigma, sigma)
	}
	c.kept[k] = s
	return s
}

// surface returns the pressure at which potential density has a value, and why there is none. p only names the level in
// question.
func (c *curve) surface(k int, sigma, p float64) (float64, ChangeReason) {
	s := c.stratified(k)
	n := len(s.level)
	if n < 2 || sigma < s.sigma[0] || sigma > s.sigma[n-1] {
		return math.NaN(), Outcrop
	}
	j, found := slices.BinarySearch(s.sigma, sigma)
	if !found || j == n-1 {
		j--
	}
	if s.level[j+1] != s.level[j]+1 { // levels between them were left out
		return math.NaN(), WeakStratified
	}
	lo, hi := c.PressureDbar[s.level[j]], c.PressureDbar[s.level[j+1]]
	for range 80 {
		mid := (lo + hi) / 2
		if mid == lo || mid == hi {
			break
		}
		if sa, ct := c.at(mid); seawater.Sigma(k, sa, ct) < sigma {
			lo = mid
		} else {
			hi = mid
		}
	}
	at := (lo + hi) / 2
	if at < c.mixedDbar || p < c.mixedDbar {
		return math.NaN(), InMixedLayer
	}
	if !c.holds(at) {
		return math.NaN(), OutsideProfile
	}
	return at, Defined
}
