package cruisefile

import (
	"slices"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/section/geostrophy"
)

// finish gives the settings of sections and fields what the file says once for all of them, and the description of the
// cruise its parts.
func (c *Cruise) finish() {
	c.DepthFound = c.Casts.DepthFound
	var accuracies []geostrophy.Accuracy
	for i := range c.Systems {
		y := &c.Systems[i]
		c.Cruise.Systems = append(c.Cruise.Systems, y.System)
		a := y.Accuracy
		accuracies = append(accuracies, geostrophy.Accuracy{System: y.Label, Salinity: a.Salinity,
			TemperatureK: a.TemperatureK,
			PressureDbar: a.PressureDbar, CommonFraction: a.CommonFraction, Stage: y.Salinity.Stage})
	}
	for i := range c.Sections {
		s := &c.Sections[i]
		s.NotCalibratedUsable = c.Casts.Uncalibrated
		v := &s.Velocity
		v.Distance, v.NotCalibratedUsable, v.Accuracies = s.Distance, c.Casts.Uncalibrated,
			accuracies
		v.IceBaseM, v.IceShelf = c.Casts.IceBaseM, c.Casts.IceShelf
		if v.MaxGapDbar == nil {
			v.MaxGapDbar = c.Casts.MaxGapDbar
		}
		s.Grid.MaxGapDbar, s.Grid.DeepestBin = v.MaxGapDbar, v.DeepestBinIsBottom
		c.finishGrid(&s.Grid.Options)
	}
	for i := range c.Fields {
		f := &c.Fields[i]
		f.Grid.MaxGapDbar = c.Casts.MaxGapDbar
		c.finishGrid(&f.Grid.Options)
		if f.LonMax < f.LonMin {
			f.LonMax += 360
		}
	}
}

func (c *Cruise) finishGrid(o *gridding.Options) {
	o.Uncalibrated = c.Casts.Uncalibrated
	has := func(name string) bool { return slices.Contains(o.Variables, name) }
	if has("sigma0") && has("asal") &&
		has("ctemp") { // it is computed on the grid from these two, and is in the file once
		o.Variables = slices.DeleteFunc(slices.Clone(o.Variables), func(v string) bool { return v == "sigma0" })
	}
}
