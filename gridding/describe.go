package gridding

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/metadata"
)

func longName(v metadata.Variable) string {
	if v.LongName != "" {
		return v.LongName
	}
	return v.Name
}

func companion(v metadata.Variable, suffix, long, units string) metadata.Variable {
	nan := math.NaN()
	return metadata.Variable{Name: v.Name + suffix, LongName: long, Units: units, ExchangeDecimals: -1, ValidMin: nan,
		ValidMax: nan}
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

// short is for a person: three digits say what a skill is worth.
func short(v float64) string { return strconv.FormatFloat(v, 'g', 3, 64) }

// withUnits leaves out the unit of a number without dimension.
func withUnits(v float64, units string) string {
	if units == "" || units == "1" {
		return short(v)
	}
	return short(v) + " " + units
}

// methodText says in one sentence how a field was mapped. The settings are among the parameters of the grid.
func methodText(method Method, isField bool) string {
	switch method {
	case Optimal:
		return "mapped by optimal interpolation of anomalies from a background"
	case Successive:
		return "mapped by successive correction of anomalies from a background"
	case Linear:
		if isField {
			return "mapped on each level by linear interpolation on triangles between the casts"
		}
		return "mapped on each level by a straight line between the nearest casts on both sides"
	case Triangles:
		if isField {
			return "mapped on each level by linear interpolation on triangles between the casts"
		}
		return "mapped by linear interpolation on triangles of distance and pressure"
	case Natural:
		if isField {
			return "mapped on each level by natural neighbours (Sibson) among the casts"
		}
		return "mapped by natural neighbours (Sibson) in distance and pressure"
	default:
		return "mapped along surfaces of equal potential density, within the mixed layer along equal parts of its depth"
	}
}

// skillFinding says what leaving stations out came to; asked is the method that was asked for.
func skillFinding(k Skill, v metadata.Variable, asked Method) metadata.Finding {
	f := metadata.Finding{Check: "grid.skill", Variable: v.Name, Count: k.N}
	switch {
	case k.N == 0:
		f.Severity = metadata.Warning
		f.Message =
			"no station lies between others, so nothing says how well the grid predicts a station it has not seen"
	case k.MoreThanLinear.Value > 0 && k.MoreThanLinear.Significant():
		f.Severity = metadata.Warning
		f.Message = fmt.Sprintf(
			"predicting each left-out station is off by %s rms (bias %s), worse than straight lines between its neighbours: by %s ± %s more (two standard errors, %d stations)",
			withUnits(k.RMS, v.Units), short(k.Bias), withUnits(k.MoreThanLinear.Value, v.Units),
			withUnits(2*k.MoreThanLinear.Error, v.Units), k.MoreThanLinear.Stations)
		f.Remedy =
			"write method: choose under grid, which takes the method and the lengths that predict left-out stations best; or method: linear, which is straight lines"
		if asked == Choose {
			f.Remedy =
				"of the methods that were tried this one predicts left-out stations best; between stations take the values of this variable with caution"
		}
	default:
		f.Message = fmt.Sprintf("predicting each left-out station is off by %s rms, bias %s", withUnits(k.RMS, v.Units),
			short(k.Bias))
		switch {
		case k.SkillLinear > 0 && k.MoreThanLinear.Significant():
			f.Message += ", skill against straight lines " + strconv.FormatFloat(k.SkillLinear, 'f', 2, 64)
		case k.SkillLinear != 0 && !math.IsNaN(k.SkillLinear):
			f.Message += ", which differs from straight lines by less than its uncertainty"
		}
	}
	return f
}

// calibration says when the stated error does not hold for left-out stations.
func calibration(loo []leftOut, bands []Band, noise float64, v metadata.Variable) []metadata.Finding {
	in, n := 0, 0
	for _, d := range loo {
		if !d.inner || math.IsNaN(d.residual) || math.IsNaN(d.rel) {
			continue
		}
		n++
		if d.residual*d.residual <= 4*varianceAt(bands, d.p)*(math.Max(d.rel, 0)+noise) {
			in++
		}
	}
	if n == 0 || float64(in) >= 0.85*float64(n) {
		return nil
	}
	return []metadata.Finding{{Severity: metadata.Warning, Check: "grid.error", Variable: v.Name, Count: n - in,
		Message: fmt.Sprintf("only %d of %d values of left-out stations lie within two stated errors", in, n)}}
}

// params lists the settings, defaults included; parts are the mapped variables. A setting that differs between
// variables is listed for each.
func (s *survey) params(parts []*assembly, tables []table) []metadata.Param {
	o := s.opt
	list := []metadata.Param{words("method", string(o.Method))}
	add := func(p ...metadata.Param) { list = append(list, p...) }
	uses := func(methods ...Method) bool {
		return slices.ContainsFunc(parts, func(a *assembly) bool { return slices.Contains(methods, a.method) })
	}
	if !s.isField {
		add(quantity("step_km", s.stepKm()), quantity("step_dbar", s.stepDbar()))
	}
	add(s.each(parts, func(v int) metadata.Param { return s.lengthParam(parts[v].factor) })...)
	add(
		s.each(parts,
			func(v int) metadata.Param {
				c, _ := parts[v].engine.cloudOf(v)
				return words("length_dbar", c.down.text())
			})...)
	if uses(Optimal) {
		cov := s.covarianceOf(parts)
		add(words("covariance", cov.shape.text()), words("covariance_by", s.covarianceBy(cov)),
			quantity("noise", cov.noise),
			quantity("neighbours", float64(o.Neighbours)),
			quantity("cut_lengths", parts[0].engine.set.cut), quantity("max_error", o.MaxError))
	}
	if uses(Successive) {
		kx := "5.052 (2 dn/pi)^2, dn the median station spacing"
		if positive(o.LengthKm) {
			kx = "the square of length_km"
		}
		add(words("weights", "exp(-(dx^2/kx + dp^2/kp)), three passes, kx "+kx+
			", kp the square of length_dbar, both multiplied by 0.3 at each further pass"))
	}
	if slices.ContainsFunc(parts, func(a *assembly) bool { return a.engine.form != nil }) {
		add(words("local_mean_profile",
			fmt.Sprintf(
				"summed downward from the changes over %s dbar, between means over half the spacing of the data "+
					"levels, of the casts within %g Lx, weighted by exp(-(dx/Lx)^2)", number(s.stepDbar()),
				shapeReach)))
		line := fmt.Sprintf("straight line in distance by least squares from %d stations on", lineFrom)
		if s.isField {
			line = fmt.Sprintf("plane by least squares from %d stations on", planeFrom)
		}
		add(words("background", fmt.Sprintf("%s, else the mean; mean of up to %d levels on each side", line,
			smoothOver)))
	}
	add(s.each(parts, func(v int) metadata.Param {
		if a := parts[v]; a.mapping != a.engine {
			return words("data", fmt.Sprintf("means of bins within %s dbar, else %s between bins", number(s.stepDbar()),
				o.Vertical))
		}
		return metadata.Param{}
	})...)
	add(s.each(parts, func(v int) metadata.Param {
		if a := parts[v]; a.mapping == a.engine {
			return levelsParam(tables, v)
		}
		return metadata.Param{}
	})...)
	return append(list, words("vertical", o.Vertical.String()), words("max_gap_dbar", s.gapText()),
		words("bottom", s.bottomText()), words("distance", distanceText(s.isField)),
		quantity("stations", float64(len(s.sites))))
}

// covarianceOf returns the covariance of optimal interpolation, which all variables that it maps share.
func (s *survey) covarianceOf(parts []*assembly) model {
	for _, a := range parts {
		if a.method == Optimal {
			return a.engine.cov
		}
	}
	return s.prior()
}

// covarianceBy says where shape, lengths and noise are from, with the keys of the cruise file that give them again.
func (s *survey) covarianceBy(cov model) string {
	shape := "covariance " + string(cov.shape)
	lengths := fmt.Sprintf("length_spacings %s, length_steps %s, noise %s, %s", number(cov.factor),
		number(cov.down*ruleSteps), number(cov.noise), shape)
	switch {
	case s.opt.ownCovariance:
		return "given"
	case s.isField:
		return "rule for fields: " + lengths
	case s.fewStations():
		return fmt.Sprintf("rule for fewer than %d stations: %s", leastStations, lengths)
	}
	return "estimated from ctemp and asal: " + lengths
}

// chosen lists the method of each variable when it was chosen by leaving stations out.
func (s *survey) chosen(parts []*assembly) []metadata.Param {
	if s.opt.Method != Choose {
		return nil
	}
	return s.each(parts, func(v int) metadata.Param {
		return words("chosen", string(parts[v].method))
	})
}

// each makes one parameter where all variables have the same, else one for each variable that has any.
func (s *survey) each(parts []*assembly, value func(v int) metadata.Param) []metadata.Param {
	if len(parts) == 0 {
		return nil
	}
	var list []metadata.Param
	first, differ := value(0), false
	for v := range parts {
		p := value(v)
		differ = differ || p.Value != first.Value
		if p.Of = s.vars[v].Name; p.Value != "" {
			list = append(list, p)
		}
	}
	if !differ && first.Value != "" {
		return []metadata.Param{first}
	}
	return list
}

func words(name, value string) metadata.Param { return metadata.Param{Name: name, Value: value} }

func quantity(name string, value float64) metadata.Param {
	return metadata.Param{Name: name, Value: number(value), Typed: value}
}

// lengthParam is the horizontal length.
func (s *survey) lengthParam(factor float64) metadata.Param {
	if positive(s.opt.LengthKm) {
		return quantity("length_km", s.opt.LengthKm)
	}
	low, high := math.Inf(1), 0.0
	for k := range s.sites {
		low, high = math.Min(low, factor*s.sites[k].spacingKm), math.Max(high, factor*s.sites[k].spacingKm)
	}
	return words("length_km", fmt.Sprintf("%s times the local station spacing (%s to %s)", number(factor), number(low),
		number(high)))
}

// levelsParam lists the data levels of a variable.
func levelsParam(tables []table, v int) metadata.Param {
	for _, t := range tables {
		if !slices.Contains(t.vars, v) {
			continue
		}
		levels := make([]float64, len(t.regular))
		for i, l := range t.regular {
			levels[i] = t.levels[l]
		}
		return metadata.Param{Name: "data_levels", Value: levelsText(levels), Typed: levels}
	}
	return metadata.Param{}
}

// levelsText lists levels, those with one step between them by their ends and the step.
func levelsText(levels []float64) string {
	text := make([]string, len(levels))
	even := len(levels) > 3
	for i, p := range levels {
		text[i] = number(p)
		even = even && (i < 2 || number(p-levels[i-1]) == number(levels[1]-levels[0]))
	}
	if even {
		return fmt.Sprintf("%s to %s by %s", text[0], text[len(text)-1], number(levels[1]-levels[0]))
	}
	return strings.Join(text, " ")
}

func (s *survey) gapText() string {
	if g := s.opt.MaxGapDbar; g != nil && !math.IsNaN(*g) {
		return number(*g)
	}
	return "gap rule: more than 50 dbar (200 from 1500 dbar on) and more than 3 times the median of 5 steps on each side"
}

func (s *survey) bottomSource() BottomSource {
	switch {
	case s.opt.WaterDepthM != nil:
		return Bathymetry
	case s.opt.DeepestBin:
		return DeepestBins
	}
	return StatedDepth
}

func (s *survey) bottomText() string {
	return [...]string{StatedDepth: "depth", Bathymetry: "bathymetry", DeepestBins: "deepest bin"}[s.bottomSource()]
}
