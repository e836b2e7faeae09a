package gridding

import (
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
)

// A recipe is how some variables are mapped.
type recipe struct {
	method Method
	factor float64 // length of the reference profiles in station spacings
	cov    model   // of optimal interpolation
	vars   []int   // indices into survey.vars
}

// assemble maps every variable, computes errors and masks, and fills the grid. What else is mapped changes no field.
func (s *survey) assemble(g *Grid, cols []column, levels []float64) ([]metadata.Finding, error) {
	o := s.opt
	if o.Method == Density && s.isField {
		return nil, ErrSectionOnly
	}
	if o.Method == Density && !s.hasPair() {
		return nil, ErrNeedsPair
	}
	var findings []metadata.Finding
	tables := s.levelTables()
	all := make([]int, len(s.vars))
	for v := range all {
		all[v] = v
	}
	recipes := []recipe{{o.Method, o.LengthFactor, s.prior(), all}}
	if o.Method == Optimal {
		cov := s.settle()
		recipes[0].factor, recipes[0].cov = cov.factor, cov
	}
	var loo [][]leftOut
	if o.Method == Choose {
		recipes, loo, findings = s.choose(tables)
	}
	parts := make([]*assembly, len(s.vars)) // of each variable
	raised := 0
	for _, r := range recipes {
		a := s.mapped(r, cols, levels, tables)
		for _, v := range r.vars {
			parts[v] = a
		}
		raised += a.raised
	}
	if raised > 0 {
		findings = append(findings, metadata.Finding{Severity: metadata.Note, Check: "grid.noise", Count: raised,
			Message: "data were so close together that the noise variance was raised tenfold in some solutions"})
	}
	for v, a := range parts {
		a.grid = g
		own := a.loo
		if loo != nil {
			own = loo
		}
		findings = append(findings, a.add(v, own[v], a.linear[v])...)
	}
	findings = append(findings, s.derived(g, cols, levels)...)
	s.bottoms(g, cols)
	g.Params = s.params(parts, tables)
	g.Results = append(s.chosen(parts), g.Results...)
	g.Bottom = s.bottomSource()
	return findings, nil
}

// mapped maps the variables of one recipe, and leaves each station out of them unless the method was chosen that way.
func (s *survey) mapped(r recipe, cols []column, levels []float64, tables []table) *assembly {
	e := s.newEngine(r.method, r.factor, r.cov, tables, r.vars)
	a := &assembly{survey: s, cols: cols, levels: levels, method: r.method, factor: r.factor, engine: e, mapping: e}
	if r.method == Linear && !s.isField && !s.opt.unmapped {
		a.mapping = s.newEngine(r.method, r.factor, r.cov, []table{s.cellTable(levels, s.stepDbar())}, r.vars)
	}
	a.raised = a.mapColumns(a.mapping)
	if s.opt.noSkill {
		a.loo, a.linear = make([][]leftOut, len(s.vars)), make([][]leftOut, len(s.vars))
		return a
	}
	if s.opt.Method != Choose {
		a.loo = e.leaveOut()
	}
	if a.linear = a.loo; r.method != Linear || a.loo == nil {
		a.linear = s.newEngine(Linear, r.factor, r.cov, tables, r.vars).leaveOut()
	}
	return a
}

// bottoms sets the water depth at each column of a grid where it is known anywhere.
func (s *survey) bottoms(g *Grid, cols []column) {
	known := false
	bottoms := make([]float64, len(cols))
	for k := range cols {
		bottoms[k] = cols[k].bottomM
		known = known || !math.IsNaN(bottoms[k])
	}
	if known {
		g.BottomM = bottoms
	}
}

// An assembly is a grid while it is filled.
type assembly struct {
	*survey
	grid   *Grid
	cols   []column
	levels []float64
	method Method // as chosen
	factor float64
	engine *engine // that leaves stations out
	// what maps: the same, but for straight lines in distance, which use the bins themselves
	mapping     *engine
	loo, linear [][]leftOut // of each variable: of the method (nil when it was chosen by them), and of straight lines
	raised      int         // solutions in which the noise was raised

	values [][]float64 // of each variable, level by level
	// error variance over signal variance; nil without an error, and where relOf says that another variable's holds
	rels  [][]float64
	relOf []int // the variable whose error field this one shares while it is mapped
}

// hasError reports whether the method has an error of its own.
func (a *assembly) hasError() bool { return a.method == Optimal }

// mapColumns maps every variable column by column, and counts the solutions in which the noise was raised.
func (a *assembly) mapColumns(mapping *engine) (raised int) {
	o, nc, nl := a.opt, len(a.cols), len(a.levels)
	spacing := a.spacingOf()
	parallel(nc, o.Workers, func(_ *work, k int) {
		mapping.place(&a.cols[k], spacing, nil)
	})
	a.values, a.rels, a.relOf = make([][]float64, len(a.vars)), make([][]float64, len(a.vars)), make([]int, len(a.vars))
	for _, cloud := range mapping.clouds {
		for _, v := range cloud.vars {
			a.values[v] = make([]float64, nc*nl)
			a.relOf[v] = cloud.vars[0]
		}
		if a.hasError() {
			a.rels[cloud.vars[0]] = make([]float64, nc*nl)
		}
	}
	if nc == 0 {
		return 0
	}
	maps := mapping.mappers(nil)
	raisedIn := make([]int, nc)
	picked := a.picked()
	parallel(nc, o.Workers, func(w *work, k int) {
		c := &a.cols[k]
		n := 0
		if picked[k] {
			n = nl
		}
		for n > 0 && a.levels[n-1] > c.bottomDbar {
			n--
		}
		before := w.oi.raised
		w.oi.token = k + 1
		for m, cloud := range mapping.clouds {
			est, rel := w.estimates(len(cloud.vars), n)
			if n > 0 {
				maps[m].predict(w, c, a.levels[:n], est, rel)
			}
			if a.hasError() {
				fillColumn(a.rels[cloud.vars[0]], rel, k, nc)
			}
			for j, v := range cloud.vars {
				fillColumn(a.values[v], est[j], k, nc)
			}
		}
		raisedIn[k] = w.oi.raised - before
	})
	for _, n := range raisedIn {
		raised += n
	}
	return raised
}

// picked reports for each column whether it is mapped: all are, unless the options ask for a sample.
func (a *assembly) picked() []bool {
	out := make([]bool, len(a.cols))
	for k := range out {
		out[k] = a.opt.Sample == nil
	}
	if a.opt.Sample != nil {
		for _, k := range a.opt.Sample.Columns(len(out)) {
			out[k] = true
		}
	}
	return out
}

// restore takes the values of the columns that are not mapped from the grid that is compared with; NaN where that has
// no such field.
func (a *assembly) restore(f *Field) {
	if a.opt.Sample == nil {
		return
	}
	known, nc := a.opt.Sample.Known(f), len(a.cols)
	for k, in := range a.picked() {
		for i := k; !in && i < len(f.Data); i += nc {
			if f.Data[i] = math.NaN(); len(known) == len(f.Data) {
				f.Data[i] = known[i]
			}
		}
	}
}

// fillColumn writes one column of a field, NaN below where it ends.
func fillColumn(field, values []float64, k, nc int) {
	i := k
	for _, v := range values {
		field[i] = v
		i += nc
	}
	for ; i < len(field); i += nc {
		field[i] = math.NaN()
	}
}

// start returns the field of one variable, and its relative error where the method has one.
func (a *assembly) start(v int) (field Field, errors []Field) {
	field = Field{Variable: a.vars[v], Data: a.values[v]}
	field.Comment = methodText(a.method, a.isField)
	if a.hasError() {
		rv := companion(a.vars[v], "_relerr", "mapping error variance of "+longName(a.vars[v])+
			" divided by signal variance", "1")
		rv.ValidMin, rv.ValidMax = 0, math.NaN()
		rel := slices.Clone(a.rels[a.relOf[v]]) // masks differ from variable to variable
		errors = append(errors, Field{Variable: rv, Data: rel, Of: field.Name, Kind: RelativeError})
	}
	return field, errors
}

// add adds the field of one variable with its errors, its mask and its skill; loo are the residuals of the method at
// left-out stations, linear those of straight lines.
func (a *assembly) add(v int, loo, linear []leftOut) (findings []metadata.Finding) {
	field, companions := a.start(v)
	name := field.Name
	var bands []Band
	if a.hasError() {
		if bands = signalBands(loo, a.engine.cov.noise); bands == nil {
			bands = plainBands(a.engine.cloudOf(v))
			findings = append(findings, metadata.Finding{Severity: metadata.Note, Check: "grid.variance",
				Variable: name,
				Message:  "no station lies between others, so the signal variance is the plain variance on levels, not that of leaving stations out"})
		}
		companions = append([]Field{a.standardError(v, companions[0].Data, bands)}, companions...)
	}
	reasons, codes := a.mask(v, a.cols, a.levels, field.Data, a.rels[a.relOf[v]], a.hasError(), a.method)
	for i := range reasons {
		if reasons[i] == NotMasked {
			continue
		}
		field.Data[i] = math.NaN()
		for c := range companions {
			companions[c].Data[i] = math.NaN()
		}
	}
	a.hold(v, field.Data, codes)
	errors := companions
	companions = append(companions,
		Field{Variable: companion(a.vars[v], "_mask", "reason why "+longName(a.vars[v])+" is masked", "1"),
			Data: reasons, Of: name, Kind: MaskReason},
		Field{Variable: companion(a.vars[v], "_flag", "where "+longName(a.vars[v])+
			" was held to the data or extended below them", "1"), Data: codes, Of: name, Kind: Extrapolated})
	a.restore(&field)
	for c := range companions {
		a.restore(&companions[c])
	}
	a.extend(v, field.Data, reasons, codes, errors)
	a.count(v, codes)
	k := summarize(name, loo, linear)
	k.SignalBands = bands
	a.grid.Skill = append(a.grid.Skill, k)
	for _, d := range loo {
		a.grid.LeftOut = append(a.grid.LeftOut, LeftOut{Variable: name, Cast: a.sites[d.site].cast, PressureDbar: d.p,
			Residual: d.residual, Inner: d.inner})
	}
	findings = append(findings, skillFinding(k, a.vars[v], a.opt.Method))
	if a.hasError() {
		findings = append(findings, calibration(loo, bands, a.engine.cov.noise, a.vars[v])...)
	}
	a.grid.Fields = append(append(a.grid.Fields, field), companions...)
	return findings
}

// standardError scales a relative error by the signal variance of each level, in the variable's own units.
func (a *assembly) standardError(v int, rel []float64, bands []Band) Field {
	nc := len(a.cols)
	std := make([]float64, len(rel))
	for i, p := range a.levels {
		variance := varianceAt(bands, p)
		for k := range nc {
			std[i*nc+k] = math.Sqrt(variance * math.Max(rel[i*nc+k], 0))
		}
	}
	ev := companion(a.vars[v], "_err", "mapping error of "+longName(a.vars[v])+", one standard error", a.vars[v].Units)
	if a.vars[v].StandardName != "" {
		ev.StandardName = a.vars[v].StandardName + " standard_error"
	}
	return Field{Variable: ev, Data: std, Of: a.vars[v].Name, Kind: StandardError}
}
