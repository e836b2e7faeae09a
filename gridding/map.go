package gridding

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// mostPoints is how many points of a grid are made before a person is asked to mean it.
const mostPoints = 50_000_000

// Map grids a section: fields on pressure and distance, each with its mask reasons and, from optimal interpolation, its standard error and its error
// variance over signal variance; density computed from the gridded salinity and temperature; the skill of leaving out each station.
// The findings say what a person should know about the grid. The same section and options give the same bits for any number of workers.
// It fails with ErrTooFewCasts, ErrUnknown, ErrNeedsPair or ErrTooLarge.
func Map(sec *section.Section, o Options) (*Grid, []metadata.Finding, error) {
	if err := o.fill(); err != nil {
		return nil, nil, err
	}
	vars, findings := variablesOf(sec.Casts, &o)
	s := newSurvey(sec.Casts, sec.DistanceKm, vars, &o)
	if len(s.sites) < 2 || len(vars) == 0 {
		return nil, findings, fmt.Errorf("section %s: %w: %d given", sec.Name, ErrTooFewCasts, len(s.sites))
	}
	if err := s.places(); err != nil {
		return nil, findings, fmt.Errorf("section %s: %w", sec.Name, err)
	}
	g := &Grid{Name: sec.Name}
	across, down := (s.sites[len(s.sites)-1].xKm-s.sites[0].xKm)/s.stepKm(), s.pmax/s.stepDbar()
	if across > mostPoints || down > mostPoints || (across+2)*(down+2) > mostPoints {
		return nil, findings, fmt.Errorf("section %s: %w: %.0f columns of %.0f levels", sec.Name, ErrTooLarge, across, down)
	}
	cols := s.sectionColumns(g)
	levels := s.gridLevels(g, nil)
	more, err := s.assemble(g, cols, levels)
	if err != nil {
		return nil, findings, fmt.Errorf("section %s: %w", sec.Name, err)
	}
	return g, named("section "+sec.Name, append(findings, more...)), nil
}

// named begins each message with what the grid is of, since a cruise has several.
func named(what string, findings []metadata.Finding) []metadata.Finding {
	for i := range findings {
		findings[i].Message = what + ": " + findings[i].Message
	}
	return findings
}

// sectionColumns lays columns along the section: every step from the first station, and one at the last.
func (s *survey) sectionColumns(g *Grid) []column {
	from, to := s.sites[0].xKm, s.sites[len(s.sites)-1].xKm
	step := s.stepKm()
	var cols []column
	for k := 0; ; k++ {
		x := from + float64(k)*step
		if x > to-1e-6*step {
			break
		}
		cols = append(cols, column{xKm: x})
	}
	if s.opt.Comparison == nil || to-cols[len(cols)-1].xKm >= step {
		cols = append(cols, column{xKm: to})
	}
	axis := Axis{Variable: variable("distance"), Values: make([]float64, len(cols))}
	for k := range cols {
		c := &cols[k]
		axis.Values[k] = c.xKm
		c.plane = [2]float64{c.xKm / 1000, 0}
		b := 0
		for b < len(s.sites)-1 && (s.sites[b].xKm < c.xKm || b == 0) {
			b++
		}
		a := b - 1
		for a > 0 && s.sites[a].xKm == s.sites[b].xKm {
			a--
		}
		c.near = [2]int{a, b}
		if d := s.sites[b].xKm - s.sites[a].xKm; d > 0 {
			c.share = math.Min(1, math.Max(0, (c.xKm-s.sites[a].xKm)/d))
		}
		c.at = alongTrack(s.sites[a].cast.At, s.sites[b].cast.At, c.share)
		g.Track = append(g.Track, c.at)
		p, q := &s.sites[a], &s.sites[b]
		pM, pDbar := p.bottom()
		qM, qDbar := q.bottom()
		c.bottomM = pM + float64(c.share*(qM-pM))
		c.bottomDbar = pDbar + float64(c.share*(qDbar-pDbar))
		if s.opt.WaterDepthM != nil {
			c.bottomM = s.opt.WaterDepthM(c.at)
			c.bottomDbar = math.NaN()
			if c.bottomM > 0 {
				c.bottomDbar = seawater.Pressure(-c.bottomM, c.at[1])
			} else if c.bottomM <= 0 {
				c.bottomDbar = 0
			}
		}
		c.firstDbar, c.lastDbar = p.first+float64(c.share*(q.first-p.first)), math.Max(p.last, q.last)
	}
	axis.Bounds = cellBounds(axis.Values)
	g.Axes = []Axis{{}, axis}
	return cols
}

// bottom gives depth (m) and pressure of the bottom at a station of a section: the stated depth, else the deepest usable bin (never
// above it), as for the bottom triangles of transports.
func (t *site) bottom() (m, dbar float64) {
	if t.bottomDbar > t.last {
		return t.cast.BottomM, t.bottomDbar
	}
	return -seawater.Height(t.last, t.cast.At[1]), t.last
}

// stepKm is the grid step along the section: an eighth of the median spacing, rounded to 1, 2 or 5, and no more than about 500 columns (ours).
func (s *survey) stepKm() float64 {
	if positive(s.opt.StepKm) {
		return s.opt.StepKm
	}
	long := s.sites[len(s.sites)-1].xKm - s.sites[0].xKm
	return roundStep(math.Max(s.medianSpacing(s.spacingOf())/8, long/500))
}

// roundStep rounds to the nearest of 1, 2, 5 times a power of ten.
func roundStep(v float64) float64 {
	if !positive(v) {
		return 1
	}
	e := math.Floor(math.Log10(v))
	unit := math.Pow(10, math.Abs(e))
	best := 0.0
	for _, m := range []float64{1, 2, 5, 10} {
		step := m * unit
		if e < 0 {
			step = m / unit
		}
		if best == 0 || math.Abs(math.Log(step/v)) < math.Abs(math.Log(best/v)) {
			best = step
		}
	}
	return best
}

// cellBounds gives edges half-way between values, and as far beyond the first and last.
func cellBounds(v []float64) [][2]float64 {
	n := len(v)
	if n < 2 {
		return nil
	}
	out := make([][2]float64, n)
	for k := range v {
		if k > 0 {
			out[k][0] = (v[k-1] + v[k]) / 2
			out[k-1][1] = out[k][0]
		}
	}
	out[0][0] = v[0] - (out[0][1] - v[0])
	out[n-1][1] = v[n-1] + (v[n-1] - out[n-1][0])
	return out
}

// gridLevels lays levels from the surface to a step below the deepest usable bin; given levels are taken as they are.
func (s *survey) gridLevels(g *Grid, given []float64) []float64 {
	levels := given
	if len(levels) == 0 {
		step := s.stepDbar()
		for k := 0; ; k++ {
			p := float64(k) * step
			levels = append(levels, p)
			if p >= s.pmax || s.opt.Comparison != nil && p+step/2 > s.pmax {
				break
			}
		}
	}
	axis := Axis{Variable: variable("pres"), Values: levels, Bounds: cellBounds(levels)}
	if len(axis.Bounds) > 0 && levels[0] == 0 {
		axis.Bounds[0][0] = 0
	}
	g.Axes[0] = axis
	return levels
}

func variable(name string) metadata.Variable {
	v, _ := metadata.ByName(name)
	return v
}

// On a section over a shelf, where no cast is deeper than shelfDbar, optimal interpolation takes lengths of shelfFactor station spacings instead of 2:
// eddies and fronts are small there for the stations (ours). In 24 invented shelf lines apart from those of the tests the true rms with 1.25 is 0.96 of that
// with 1.5 and 0.83 of that with 2, and it is no greater in 30 of another make. A field has casts on all sides and keeps 2.
const (
	shelfDbar   = 500
	shelfFactor = 1.25
)

// defaultFactor is the length of optimal interpolation in station spacings.
func (s *survey) defaultFactor() float64 {
	if !s.opt.ownFactor && !s.isField && s.pmax <= shelfDbar {
		return shelfFactor
	}
	return s.opt.LengthFactor
}

// spacingOf gives the spacing of every site.
func (s *survey) spacingOf() []float64 {
	out := make([]float64, len(s.sites))
	for k := range s.sites {
		out[k] = s.sites[k].spacingKm
	}
	return out
}

// estimates gives room for one column of one cloud.
func (w *work) estimates(variables, n int) ([][]float64, []float64) {
	w.dense.est = grown(w.dense.est, (variables+1)*n)
	w.dense.rows = grown(w.dense.rows, variables)
	for v := range variables {
		w.dense.rows[v] = w.dense.est[v*n : (v+1)*n]
	}
	return w.dense.rows[:variables], w.dense.est[variables*n : (variables+1)*n]
}

func (c *cloud) deepestLevel() int {
	deepest := -1
	for _, l := range c.level {
		deepest = max(deepest, int(l))
	}
	return deepest
}

func (e *engine) cloudOf(v int) *cloud {
	for _, c := range e.clouds {
		for _, u := range c.vars {
			if u == v {
				return c
			}
		}
	}
	return nil
}

func (e *engine) inCloud(v int) int {
	for n, u := range e.cloudOf(v).vars {
		if u == v {
			return n
		}
	}
	return -1
}

func longName(v metadata.Variable) string {
	if v.LongName != "" {
		return v.LongName
	}
	return v.Name
}

func companion(v metadata.Variable, suffix, long, units string) metadata.Variable {
	nan := math.NaN()
	return metadata.Variable{Name: v.Name + suffix, LongName: long, Units: units, ExchangeDecimals: -1, ValidMin: nan, ValidMax: nan}
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
		f.Message = "no station lies between others, so nothing says how well the grid predicts a station it has not seen"
	case k.MoreThanLinear.Value > 0 && k.MoreThanLinear.Significant():
		f.Severity = metadata.Warning
		f.Message = fmt.Sprintf("predicting each left-out station is off by %s rms (bias %s), worse than straight lines between its neighbours: by %s ± %s more (two standard errors, %d stations)",
			withUnits(k.RMS, v.Units), short(k.Bias), withUnits(k.MoreThanLinear.Value, v.Units), withUnits(2*k.MoreThanLinear.Error, v.Units), k.MoreThanLinear.Stations)
		f.Remedy = "write method: choose under grid, which takes the method and the lengths that predict left-out stations best; or method: linear, which is straight lines"
		if asked == Choose {
			f.Remedy = "of the methods that were tried this one predicts left-out stations best; between stations take the values of this variable with caution"
		}
	default:
		f.Message = fmt.Sprintf("predicting each left-out station is off by %s rms, bias %s", withUnits(k.RMS, v.Units), short(k.Bias))
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

// mask gives the reason of every masked point of one variable, and 6 where a value lies deeper than the neighbouring casts.
func (s *survey) mask(v int, cols []column, levels, data, rel []float64, hasError bool, method Method) (reasons, below []float64) {
	nc := len(cols)
	reasons, below = make([]float64, len(data)), make([]float64, len(data))
	for k := range cols {
		c := &cols[k]
		a, b := &s.sites[c.near[0]].profiles[v], &s.sites[c.near[1]].profiles[v]
		first := a.first() + float64(c.share*(b.first()-a.first()))
		if math.IsNaN(first) {
			first = least(a.first(), b.first())
		}
		last := greatest(a.last(), b.last())
		for i, p := range levels {
			at := i*nc + k
			gap := a.inGap(p) || b.inGap(p)
			reason := NotMasked
			switch {
			case p > c.bottomDbar:
				reason = BelowBottom
			case p < first-carryDbar:
				reason = AboveFirst
			case c.outside:
				reason = OutsideCasts
			case gap && !hasError:
				reason = InGap
			case math.IsNaN(data[at]):
				reason = NoData
			case hasError && !(rel[at] <= s.opt.MaxError):
				reason = ErrorTooBig
				if gap {
					reason = InGap
				}
			case !hasError && method == Successive && !(p <= last):
				reason = NoData
			}
			reasons[at] = float64(reason)
			if reason == NotMasked && !(p <= last) {
				below[at] = float64(metadata.Interpolated)
			}
		}
	}
	return reasons, below
}

// inversionN2 is the squared buoyancy frequency below which two levels of the grid count as an inversion (1/s2, ours).
const inversionN2 = -1e-7

// derived computes density from the gridded salinity and temperature and counts inversions.
func (s *survey) derived(g *Grid, cols []column, levels []float64) []metadata.Finding {
	salt, heat := g.field("asal"), g.field("ctemp")
	if salt == nil || heat == nil {
		return nil
	}
	nc := len(cols)
	for _, thousands := range s.opt.Sigma {
		f := Field{Variable: variable(fmt.Sprintf("sigma%d", thousands)), Data: make([]float64, len(salt.Data))}
		f.Comment = "computed from gridded Absolute Salinity and Conservative Temperature"
		for i := range f.Data {
			f.Data[i] = seawater.Sigma(thousands, salt.Data[i], heat.Data[i])
		}
		g.Fields = append(g.Fields, f)
	}
	n := 0
	for k := range cols {
		grav := seawater.SurfaceGravity(cols[k].at[1])
		for i := 0; i+1 < len(levels); i++ {
			a, b := i*nc+k, (i+1)*nc+k
			n2 := seawater.BuoyancyFrequencySquared(seawater.Level{SA: salt.Data[a], CT: heat.Data[a], P: levels[i]},
				seawater.Level{SA: salt.Data[b], CT: heat.Data[b], P: levels[i+1]}, grav)
			if n2 < inversionN2 {
				n++
			}
		}
	}
	g.Results = append(g.Results, quantity("inversions", float64(n)))
	if n == 0 {
		return nil
	}
	return []metadata.Finding{{Severity: metadata.Note, Check: "grid.inversion", Count: n,
		Message: fmt.Sprintf("density falls with pressure between %d pairs of grid points (N2 < -1e-7 s-2)", n)}}
}

// field finds a field by name; nil when the grid has none.
func (g *Grid) field(name string) *Field {
	for k := range g.Fields {
		if g.Fields[k].Name == name {
			return &g.Fields[k]
		}
	}
	return nil
}

// params lists the settings, defaults included; parts are the mapped variables. A setting that differs between variables is listed for each.
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
	add(s.each(parts, func(v int) metadata.Param { return words("length_dbar", parts[v].engine.cloudOf(v).down.text()) })...)
	if uses(Optimal) {
		add(words("covariance", "exp(-(dx/Lx)^2-(dp/Lp)^2)"), quantity("noise", o.Noise), quantity("neighbours", float64(o.Neighbours)),
			quantity("cut_lengths", parts[0].engine.set.cut), quantity("max_error", o.MaxError))
	}
	if uses(Successive) {
		kx := "5.052 (2 dn/pi)^2, dn the median station spacing"
		if positive(o.LengthKm) {
			kx = "the square of length_km"
		}
		add(words("weights", "exp(-(dx^2/kx + dp^2/kp)), three passes, kx "+kx+", kp the square of length_dbar, both multiplied by 0.3 at each further pass"))
	}
	if slices.ContainsFunc(parts, func(a *assembly) bool { return a.engine.form != nil }) {
		add(words("local_mean_profile", fmt.Sprintf("summed downward from the changes over %s dbar, between means over half the spacing of the data "+
			"levels, of the casts within %g Lx, weighted by exp(-(dx/Lx)^2)", number(s.stepDbar()), shapeReach)))
		line := fmt.Sprintf("straight line in distance by least squares from %d stations on", lineFrom)
		if s.isField {
			line = fmt.Sprintf("plane by least squares from %d stations on", planeFrom)
		}
		add(words("background", fmt.Sprintf("%s, else the mean; mean of up to %d levels on each side", line, smoothOver)))
	}
	add(s.each(parts, func(v int) metadata.Param {
		if a := parts[v]; a.mapping != a.engine {
			return words("data", fmt.Sprintf("means of bins within %s dbar, else %s between bins", number(s.stepDbar()), o.Vertical))
		}
		return metadata.Param{}
	})...)
	add(s.each(parts, func(v int) metadata.Param {
		if a := parts[v]; a.mapping == a.engine {
			return levelsParam(tables, v)
		}
		return metadata.Param{}
	})...)
	return append(list, words("vertical", o.Vertical.String()), words("max_gap_dbar", s.gapText()), words("bottom", s.bottomText()), words("distance", distanceText(s.isField)),
		quantity("stations", float64(len(s.sites))))
}

// chosen lists the method of each variable when it was chosen by leaving stations out.
func (s *survey) chosen(parts []*assembly) []metadata.Param {
	if s.opt.Method != Choose {
		return nil
	}
	return s.each(parts, func(v int) metadata.Param {
		return words("chosen", choice{method: parts[v].method, factor: parts[v].factor}.name())
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
	return words("length_km", fmt.Sprintf("%s times the local station spacing (%s to %s)", number(factor), number(low), number(high)))
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

// alongTrack gives the place a share of the way from one station to the next.
func alongTrack(a, b orb.Point, share float64) orb.Point {
	switch share {
	case 0:
		return a
	case 1:
		return b
	}
	return between(a, b, share)
}
