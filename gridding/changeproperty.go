package gridding

import (
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
)

// A Property is a further variable of a profile, oxygen for example, at its own levels.
type Property struct {
	Name                 string
	PressureDbar, Values []float64
	Err                  []float64     // standard error of each level; nil: not known
	Gaps                 []section.Gap // nothing is interpolated across
}

// Parts is the change of a property, in its unit: at constant pressure, on density and by heave, with standard errors.
// They are those of CT and SA in Level, except that an error is NaN where that of one occupation is not known.
type Parts struct {
	Change, Density, Heave          float64
	ChangeErr, DensityErr, HeaveErr float64
}

// A propertyCurve is a property with its monotone interpolant (pchip).
type propertyCurve struct {
	*Property
	slope    []float64
	straight bool
}

func newPropertyCurve(p *Property, straight bool) propertyCurve {
	c := propertyCurve{p, make([]float64, len(p.Values)), straight}
	interpolate.PchipSlopes(c.slope, p.PressureDbar, p.Values)
	return c
}

// at returns value, derivative by pressure and standard error at a pressure, NaN outside the levels and in a gap.
func (c *propertyCurve) at(p float64) (value, slope, err float64) {
	if !within(c.PressureDbar, c.Gaps, p) {
		return math.NaN(), math.NaN(), math.NaN()
	}
	k, h, t := segment(c.PressureDbar, p)
	d0, d1 := c.slope[k], c.slope[k+1]
	if c.straight {
		d0 = (c.Values[k+1] - c.Values[k]) / h
		d1 = d0
	}
	err = math.NaN()
	if c.Err != nil {
		err = mixed(c.Err[k], c.Err[k+1], t/h)
	}
	return hermite(c.Values[k], c.Values[k+1], d0, d1, h, t), hermiteSlope(c.Values[k], c.Values[k+1], d0, d1, h, t),
		err
}

// within reports whether a pressure lies between two levels that nothing separates.
func within(pDbar []float64, gaps []section.Gap, p float64) bool {
	n := len(pDbar)
	return n > 1 && p >= pDbar[0] && p <= pDbar[n-1] && !slices.ContainsFunc(gaps, func(g section.Gap) bool {
		return p > g.FromDbar && p < g.ToDbar
	})
}

// others returns the change of the properties of b, whose surface of density lies at the pressures of x. movedErr is
// the
// standard error of the displacement of the surface, dbar.
func others(a, b *curve, x *Level, movedErr float64) []Parts {
	out := make([]Parts, len(b.others))
	for i := range b.others {
		next := &b.others[i]
		nan := math.NaN()
		o := Parts{nan, nan, nan, nan, nan, nan}
		if k := slices.IndexFunc(a.others, func(c propertyCurve) bool { return c.Name == next.Name }); k >= 0 {
			before := &a.others[k]
			v1, _, e1 := before.at(x.PressureDbar)
			v2, _, e2 := next.at(x.PressureDbar)
			o.Change, o.ChangeErr = v2-v1, math.Hypot(e1, e2)
			if x.Reason == Defined && o.Change == o.Change {
				v1, s1, e1 := before.at(x.OldDbar)
				v2, s2, e2 := next.at(x.NewDbar)
				o.Density, o.DensityErr = v2-v1, math.Hypot(math.Hypot(e1, e2), (s1+s2)/2*movedErr)
				o.Heave, o.HeaveErr = o.Change-o.Density, math.Hypot(o.ChangeErr, o.DensityErr)
			}
		}
		out[i] = o
	}
	return out
}

// property returns the usable levels of a further variable of a cast.
func property(k *section.Cast, o *Occupation, name string) Property {
	x := Property{Name: name}
	col := k.Column(name)
	if col == nil || col.Values == nil {
		return x
	}
	for _, i := range k.UsableLevels(nil, o.NotCalibrated, name) {
		x.PressureDbar, x.Values = append(x.PressureDbar, k.PressureDbar[i]), append(x.Values, col.Values[i])
	}
	x.Gaps = section.Gaps(x.PressureDbar, nil)
	if o.OtherAccuracy != nil {
		x.Err = make([]float64, len(x.Values))
		for i, v := range x.Values {
			x.Err[i] = o.OtherAccuracy(k, name, v)
		}
	}
	return x
}

// changeFieldsOf are the fields of a further property.
func changeFieldsOf(i int, v *metadata.Variable) []changeField {
	name := v.LongName
	if name == "" {
		name = v.Name
	}
	of := func(get func(o *Parts) float64) func(x *Level) float64 {
		return func(x *Level) float64 { return get(&x.Others[i]) }
	}
	return []changeField{
		{v.Name + "_change", "change of " + name + " at constant pressure", v.Units,
			of(func(o *Parts) float64 { return o.Change }), of(func(o *Parts) float64 { return o.ChangeErr })},
		{v.Name + "_change_on_density", "change of " + name + " on surfaces of potential density", v.Units,
			of(func(o *Parts) float64 { return o.Density }), of(func(o *Parts) float64 { return o.DensityErr })},
		{v.Name + "_heave", "change of " + name + " by heave of surfaces of potential density", v.Units,
			of(func(o *Parts) float64 { return o.Heave }), of(func(o *Parts) float64 { return o.HeaveErr })},
	}
}
