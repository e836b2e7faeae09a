package pipeline

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/castwright/castwright/section/interpolate"
)

// geostrophyOptions turns a section of the cruise file into settings of the computation.
func geostrophyOptions(c *cruisefile.Cruise, s *cruisefile.Section, known []geostrophy.Known) (geostrophy.Options, error) {
	o := geostrophy.DefaultOptions()
	if s.Interpolation != "" {
		m, err := interpolate.Parse(s.Interpolation)
		if err != nil {
			return o, fmt.Errorf("section %s: interpolation: %w", s.Name, err)
		}
		o.Interpolation = m
	}
	switch s.Distance {
	case "", "geodesic":
	case "sphere":
		o.Distance = geostrophy.Sphere
	case "sphere_at_level":
		o.Distance = geostrophy.SphereAtLevel
	}
	if s.Positive != "" {
		o.Positive = s.Positive
	}
	switch s.Triangle {
	case "none":
		o.Triangle = geostrophy.NoFlow
	case "", "constant_velocity":
		o.Triangle = geostrophy.ConstantVelocity
	case "constant_shear":
		o.Triangle = geostrophy.ConstantShear
	case "linear_to_zero":
		o.Triangle = geostrophy.LinearToZero
	}
	o.DeepestBinIsBottom = s.Bottom == "deepest_bin"
	o.MaxGapDbar = maxGap(c, s.MaxGapDbar)
	if !math.IsNaN(s.SurfaceCarryDbar) {
		o.SurfaceCarryDbar = s.SurfaceCarryDbar
	}
	o.IceBaseM, o.IceShelf = c.Casts.IceBaseM, c.Casts.IceShelf
	o.Repeats = s.Repeats
	o.Layers = s.Layers
	o.Classes, o.ClassSigmaDbar = s.Classes.Bounds, s.Classes.SigmaDbar
	o.ReferenceSalinity, o.ReferenceTemperature = s.ReferenceSalinity, s.ReferenceTemperature
	o.EquatorialEstimate = s.EquatorialEstimate
	o.NotCalibratedUsable = c.Casts.Uncalibrated
	o.Members, o.Seed = s.Uncertainty.Members, s.Uncertainty.Seed
	o.Reference = geostrophy.Reference{PressureDbar: s.Reference.PressureDbar, Density: s.Reference.Density,
		SigmaDbar: s.Reference.SigmaDbar, Known: known}
	switch s.Reference.Kind {
	case "", "deepest":
		o.Reference.Kind = geostrophy.AtDeepest
	case "pressure":
		o.Reference.Kind = geostrophy.AtPressure
	case "density":
		o.Reference.Kind = geostrophy.AtDensity
	case "levels":
		o.Reference.Kind = geostrophy.AtLevels
	case "velocities":
		o.Reference.Kind = geostrophy.AtVelocities
	}
	for i := range c.Systems {
		y := &c.Systems[i]
		a := geostrophy.Accuracy{System: y.Label, Salinity: y.Accuracy.Salinity, TemperatureK: y.Accuracy.TemperatureK,
			PressureDbar: y.Accuracy.PressureDbar, CommonFraction: y.Accuracy.CommonFraction}
		switch y.Salinity.Stage {
		case "none":
			a.Stage = geostrophy.StageNone
		case "laboratory":
			a.Stage = geostrophy.StageLaboratory
		case "adjusted to bottles":
			a.Stage = geostrophy.StageAdjusted
		}
		o.Accuracies = append(o.Accuracies, a)
	}
	return o, nil
}

// maxGap gives the gap limit of a section, else of the cruise: nil for the rule.
func maxGap(c *cruisefile.Cruise, own *float64) *float64 {
	if own != nil {
		return own
	}
	return c.Casts.MaxGapDbar
}

// griddingOptions turns a grid block of the cruise file into settings of a mapping.
func griddingOptions(c *cruisefile.Cruise, g *cruisefile.Grid, own *float64, deepestBin bool, n int) gridding.Options {
	o := gridding.Options{Variables: g.Variables, Method: g.Method, StepKm: g.StepKm, StepDbar: g.StepDbar, LengthKm: g.LengthKm,
		LengthDbar: g.LengthDbar, Noise: g.Noise, Neighbours: g.Neighbours, MaxError: g.MaxError, Vertical: g.Vertical,
		MaxGapDbar: maxGap(c, own), Uncalibrated: c.Casts.Uncalibrated, DeepestBin: deepestBin, Workers: n}
	has := func(name string) bool { return slices.Contains(o.Variables, name) }
	if has("sigma0") && has("asal") && has("ctemp") { // it is computed on the grid from these two, and stands in the file once
		o.Variables = slices.DeleteFunc(slices.Clone(o.Variables), func(v string) bool { return v == "sigma0" })
	}
	return o
}
