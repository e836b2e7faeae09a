package geostrophy

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/seawater"
)

// pairParts is what one pair adds to each sum.
type pairParts struct {
	above   parts             // surface to the deepest common level
	tri     [Treatments]parts // added by each treatment
	whole   parts             // above and the chosen treatment
	second  parts             // whole, with the second reference
	known2  float64           // known velocity of the second reference
	layers  []parts
	classes []parts
	water   [3]float64 // area (m2), area times SA and area times CT, for the section's means
}

// setTransports computes every transport: of pairs, layers, classes, cumulative and whole.
func (r *Result) setTransports(pairs []*pairWork, stations []*stationWork, scale *errorScale, opts *Options) error {
	dropFirst := len(opts.Layers) > 0 && opts.Layers[0] <= 0
	r.Layers = bandsOf(opts.Layers, dropFirst)
	r.Classes = bandsOf(opts.Classes, false)
	all := make([]*pairParts, len(pairs))
	for _, g := range pairs {
		if g != nil {
			g.colA.ofPair, g.colB.ofPair = true, true
		}
	}
	err := opts.Each(len(stations), func(i int) {
		for _, c := range stations[i].built {
			if c.ofPair {
				c.setModes(scale.stages[i] != metadata.StageAdjusted, stations[i].profile)
			}
		}
	})
	if err != nil {
		return err
	}
	err = opts.Each(len(pairs), func(i int) {
		if g := pairs[i]; g != nil {
			memory := pairMemories.Get().(*pairMemory)
			g.fill(memory, opts)
			r.setErrors(g, scale, opts)
			g.settleBottom(&r.Pairs[i], &r.Stations[g.a], &r.Stations[g.b], stations, opts)
			all[i] = g.parts(&r.Pairs[i], stations, dropFirst, opts)
			pairMemories.Put(memory)
		}
	})
	if err != nil {
		return err
	}
	r.setMeans(all, scale, opts)
	r.sum(all, pairs, scale)
	r.setPartial()
	if r.Partial.Pairs == 0 {
		r.noTotals()
	}
	if r.Budget != nil {
		r.setBudget(all)
	}
	return nil
}

// sum fills the transports of pairs from their parts, and adds them up to those of layers, classes and the whole.
func (r *Result) sum(all []*pairParts, pairs []*pairWork, scale *errorScale) {
	total := newTally(scale)
	layers, classes := newTallies(len(r.Layers), scale), newTallies(len(r.Classes), scale)
	partial := false
	for i, p := range all {
		pr := &r.Pairs[i]
		if p == nil {
			partial = true
			continue
		}
		g := pairs[i]
		one := func(x *parts) Sums {
			t := newTally(scale)
			t.add(x, g.a, g.b, g.known, g.knownErr)
			return t.sums()
		}
		pr.Transport = one(&p.whole)
		pr.AboveTriangle = kindsOf(withKnown(&p.above, g.known), scale.sm, scale.tref)
		for t := range Treatments {
			pr.Triangle[t] = kindsOf(withKnown(&p.tri[t], g.known), scale.sm, scale.tref)
		}
		pr.SecondTransport = kindsOf(withKnown(&p.second, p.known2), scale.sm, scale.tref)
		total.add(&p.whole, g.a, g.b, g.known, g.knownErr)
		pr.Cumulative, pr.CumulativePartial = total.sums(), partial
		each := func(bands []parts, totals []*tally) []Sums {
			out := make([]Sums, len(bands))
			for b := range bands {
				out[b] = one(&bands[b])
				totals[b].add(&bands[b], g.a, g.b, g.known, g.knownErr)
			}
			return out
		}
		pr.Layers, pr.Classes = each(p.layers, layers), each(p.classes, classes)
		for k := range Kinds {
			for t := range Treatments {
				r.ByTreatment[t][k] += pr.AboveTriangle[k] + pr.Triangle[t][k]
			}
			r.SecondTotal[k] += pr.SecondTransport[k]
		}
	}
	r.Total = total.sums()
	for _, t := range layers {
		r.LayerTotal = append(r.LayerTotal, t.sums())
	}
	for _, t := range classes {
		r.ClassTotal = append(r.ClassTotal, t.sums())
	}
}

// noTotals sets the totals of a section whose pairs have no number to NaN: their sum is not zero but unknown.
func (r *Result) noTotals() {
	r.Total = noSums()
	for _, totals := range [...][]Sums{r.LayerTotal, r.ClassTotal} {
		for i := range totals {
			totals[i] = noSums()
		}
	}
	for k := range Kinds {
		r.SecondTotal[k] = nan
		for t := range Treatments {
			r.ByTreatment[t][k] = nan
		}
	}
}

func newTallies(n int, scale *errorScale) []*tally {
	out := make([]*tally, n)
	for i := range out {
		out[i] = newTally(scale)
	}
	return out
}

// withKnown is the base transports of parts with a known velocity added.
func withKnown(p *parts, known float64) *[baseKinds]float64 {
	base := p.value
	for k := range base {
		base[k] += float64(known * p.byKnown[k])
	}
	return &base
}

// settleBottom decides what is carried to the surface and whether there is a triangle.
func (g *pairWork) settleBottom(pr *Pair, a, b *Station, stations []*stationWork, opts *Options) {
	n := len(g.p)
	pr.SurfaceCarriedM, pr.TopUnsampledM, pr.UnsampledAreaM2 = 0, 0, 0
	top := 0.0
	if opts.IceBaseM == opts.IceBaseM {
		top = opts.IceBaseM
	}
	below := g.p[0] // the top of the water: the surface, or the base of the ice
	under := ""
	if top > 0 {
		below -= seawater.Pressure(-top, g.latMid)
		under = " below the ice"
	}
	switch first := math.Max(0, g.depth[0]-top); {
	case below <= opts.SurfaceCarryDbar:
		g.carry = first
		pr.SurfaceCarriedM = first
	default:
		pr.TopUnsampledM = first
		pr.Notes = append(pr.Notes,
			Note{Kind: NoteTop,
				Text: fmt.Sprintf(
					"the first common level, %g dbar, is deeper than %g dbar%s: the water above it is not sampled",
					g.p[0], opts.SurfaceCarryDbar, under)})
	}
	if opts.IceShelf && opts.IceBaseM != opts.IceBaseM && g.carry > 0 {
		pr.Notes = append(pr.Notes,
			Note{Kind: NoteIce, Text: "the base of the ice is not stated: water is counted where ice is"})
	}
	g.whole.w[0] += g.carry

	bottom := func(st *Station, s *stationWork) float64 {
		deepestBin := -seawater.Height(depthOf(s), g.latMid)
		if st.BottomFrom == FromDeepestBin {
			return deepestBin
		}
		return math.Max(st.BottomM, deepestBin)
	}
	da, db := bottom(a, stations[g.a]), bottom(b, stations[g.b])
	dcl := g.depth[n-1]
	g.bottomA, g.bottomB = math.Max(0, da-dcl), math.Max(0, db-dcl)
	pr.BottomAM, pr.BottomBM = g.bottomA, g.bottomB
	lower := math.Min(g.bottomA, g.bottomB)
	g.triangle = !(lower > unsampledM && lower > unsampledPart*math.Min(da, db))
	pr.TriangleSampled = g.triangle
	if !g.triangle {
		pr.UnsampledAreaM2 = 0.5 * g.length * (g.bottomA + g.bottomB)
		what := "the deepest common level: the casts end"
		if g.run.to < len(g.common) {
			what = fmt.Sprintf("%g dbar: the levels joined to the reference end", g.p[n-1])
		}
		pr.Notes = append(pr.Notes, Note{Kind: NoteUnsampled,
			Text: fmt.Sprintf("unsampled below %s %.0f m or more above the bottom, %.4g km2 without velocity", what,
				lower, pr.UnsampledAreaM2/1e6)})
	}
	g.shearFrom, g.shear = shearWeights(g.p, g.depth)
}

// triangleLast returns the weights of a treatment on the deepest levels, between two heights below the DCL.
func (g *pairWork) triangleLast(t Treatment, from, to float64) []float64 {
	if !g.triangle || t == NoFlow {
		return nil
	}
	byV, byShear := triangleWeights(t, math.Min(g.bottomA, g.bottomB), math.Max(g.bottomA, g.bottomB), from, to)
	if byV == 0 && byShear == 0 {
		return nil
	}
	if byShear == 0 || g.shear == nil {
		return []float64{byV}
	}
	w := make([]float64, len(g.shear))
	for i, x := range g.shear {
		w[i] = byShear * x
	}
	w[len(w)-1] += byV
	return w
}

// parts computes all sums of the pair.
func (g *pairWork) parts(pr *Pair, stations []*stationWork, dropFirst bool, opts *Options) *pairParts {
	out := new(pairParts)
	high := math.Max(g.bottomA, g.bottomB)
	g.linear(&out.above, g.whole, nil)
	for t := range Treatment(Treatments) {
		g.linear(&out.tri[t], weights{}, g.triangleLast(t, 0, high))
	}
	out.whole = out.above
	out.whole.plus(&out.tri[opts.Triangle])
	g.setPosition(&out.whole)
	g.setFactors(&out.whole, g.whole, g.triangleLast(opts.Triangle, 0, high))
	for l, w := range g.whole.w {
		area := w * g.length
		out.water[0] += area
		out.water[1] += float64(area * 0.5 * (g.colA.sa[g.iA[l]] + g.colB.sa[g.iB[l]]))
		out.water[2] += float64(area * 0.5 * (g.colA.ct[g.iA[l]] + g.colB.ct[g.iB[l]]))
	}
	g.second(out, pr, stations, opts)
	into := func(bands *[]parts) func(weights, []float64) {
		return func(w weights, tri []float64) { *bands = append(*bands, g.band(w, tri)) }
	}
	if len(opts.Layers) > 0 {
		g.eachLayer(g.cut, opts, dropFirst, into(&out.layers))
	}
	if len(opts.Classes) > 0 {
		g.eachClass(g.cut, g.sigma, opts, into(&out.classes))
	}
	return out
}

// plus adds q to p.
func (p *parts) plus(q *parts) {
	for k := range baseKinds {
		p.value[k] += q.value[k]
		p.byKnown[k] += q.byKnown[k]
		for m := range modeCount {
			p.a[m][k] += q.a[m][k]
			p.b[m][k] += q.b[m][k]
		}
	}
}

// second computes the whole with the second reference: the velocity at that level takes the place of the first's.
func (g *pairWork) second(out *pairParts, pr *Pair, stations []*stationWork, opts *Options) {
	ref := opts.secondReference(g.p[len(g.p)-1])
	runs := []run{g.run}
	got, status, _ := g.resolve(ref, runs, pr, stations[g.a], stations[g.b], opts)
	if status != Computed {
		for k := range baseKinds {
			out.second.value[k], out.second.byKnown[k] = nan, nan
		}
		return
	}
	pr.SecondReference = got.p
	difference := func(l int) float64 { return g.heightB[l] - g.heightA[l] }
	at := between(g.p, difference, got.p)
	scale := g.sign / g.f
	out.second, out.known2 = out.whole, got.v
	for k := range baseKinds {
		out.second.value[k] -= float64(scale * at * out.whole.byKnown[k] / g.length)
	}
}

// between is the value at pressure p of levels x, linear between them and that of the nearest level outside.
func between(x []float64, value func(int) float64, p float64) float64 {
	n := len(x)
	if p <= x[0] {
		return value(0)
	}
	for i := 1; i < n; i++ {
		if p <= x[i] {
			t := (p - x[i-1]) / (x[i] - x[i-1])
			return value(i-1) + float64(t*(value(i)-value(i-1)))
		}
	}
	return value(n - 1)
}

// secondReference is the reference of the second opinion.
func (o *Options) secondReference(deepest float64) Reference {
	if o.SecondReference != nil {
		return *o.SecondReference
	}
	if o.Reference.Kind == AtDeepest {
		return Reference{Kind: AtPressure, PressureDbar: 0.5 * deepest}
	}
	return Reference{Kind: AtDeepest}
}

// band computes the part of the column with these weights.
func (g *pairWork) band(w weights, tri []float64) (p parts) {
	g.linear(&p, w, tri)
	g.setPosition(&p)
	g.setFactors(&p, w, tri)
	return p
}

// eachLayer calls do with the weights of each layer in turn; a layer below the DCL takes its part of the triangle, one
// at the surface its part of the carry. The weights are the cutter's.
func (g *pairWork) eachLayer(c *cutter, opts *Options, dropFirst bool, do func(w weights, tri []float64)) {
	c.bounds = opts.Layers
	if dropFirst { // a pressure that reads less than zero is water of the first layer
		c.bounds = slices.Clone(c.bounds)
		c.bounds[0] = negInf
	}
	c.cut(g.p, g.depth)
	n := len(g.depth)
	depthAt := func(b int) float64 { return -seawater.Height(opts.Layers[b], g.latMid) }
	for b := range len(opts.Layers) + 1 {
		from, to := negInf, math.Inf(1)
		if b > 0 && c.bounds[b-1] > negInf {
			from = depthAt(b - 1)
		}
		if b < len(opts.Layers) {
			to = depthAt(b)
		}
		if carried := math.Min(to, g.depth[0]) - math.Max(from, g.depth[0]-g.carry); carried > 0 {
			c.put(b, 0, carried)
		}
		if b == 0 && dropFirst {
			continue
		}
		do(c.of(b), g.triangleLast(opts.Triangle, from-g.depth[n-1], to-g.depth[n-1]))
	}
}

// eachClass calls do with the weights of each density class in turn, for pair-mean sigma at the common levels; the
// carry belongs to the class of the first level and the triangle to that of the DCL. The weights are the cutter's.
func (g *pairWork) eachClass(c *cutter, sigma []float64, opts *Options, do func(w weights, tri []float64)) {
	c.bounds = opts.Classes
	c.cut(sigma, g.depth)
	n := len(g.depth)
	c.put(c.bandOf(sigma[0]), 0, g.carry)
	last := c.bandOf(sigma[n-1])
	for b := range len(opts.Classes) + 1 {
		var tri []float64
		if b == last {
			tri = g.triangleLast(opts.Triangle, 0, math.Max(g.bottomA, g.bottomB))
		}
		do(c.of(b), tri)
	}
}

// setPartial sets what the totals leave out.
func (r *Result) setPartial() {
	p := &r.Partial
	var withheld [len(statusWords)]int
	for i := range r.Pairs {
		pr := &r.Pairs[i]
		p.Of++
		if pr.LengthKm == pr.LengthKm {
			p.OfKm += pr.LengthKm
		}
		if !pr.Status.HasVelocity() {
			withheld[pr.Status]++
			continue
		}
		p.Pairs++
		p.Km += pr.LengthKm
		if !pr.TriangleSampled {
			p.Unsampled++
			p.UnsampledAreaM2 += pr.UnsampledAreaM2
		}
		if pr.TopUnsampledM > 0 {
			p.TopUnsampled++
			p.TopUnsampledAreaM2 += pr.TopUnsampledM * pr.LengthKm * 1e3
		}
		p.CarriedM = math.Max(p.CarriedM, pr.SurfaceCarriedM)
	}
	if p.Pairs == p.Of {
		p.Statement = fmt.Sprintf("all of %s, %.1f km", pairsOf(p.Of), p.OfKm)
		if !p.Complete() {
			p.Statement = "partial: " + p.Statement
		}
	} else {
		p.Statement = fmt.Sprintf("partial: %d of %s, %.1f of %.1f km; withheld", p.Pairs, pairsOf(p.Of), p.Km, p.OfKm)
		comma := ""
		for s, n := range withheld {
			if n > 0 {
				p.Statement += fmt.Sprintf("%s %d: %s", comma, n,
					strings.ReplaceAll(strings.TrimPrefix(Status(s).String(), "withheld_"), "_", " "))
				comma = ","
			}
		}
	}
	if p.Unsampled > 0 {
		p.Statement += fmt.Sprintf("; unsampled below the deepest common level in %s, %.4g km2", pairsOf(p.Unsampled),
			p.UnsampledAreaM2/1e6)
	}
	if p.TopUnsampled > 0 {
		p.Statement += fmt.Sprintf("; unsampled near the surface in %s, %.4g km2", pairsOf(p.TopUnsampled),
			p.TopUnsampledAreaM2/1e6)
	}
}

// Complete reports whether nothing is left out: every pair has a velocity, from the surface to the bottom.
func (p *Partial) Complete() bool { return p.Pairs == p.Of && p.Unsampled == 0 && p.TopUnsampled == 0 }

func pairsOf(n int) string {
	if n == 1 {
		return "1 pair"
	}
	return fmt.Sprintf("%d pairs", n)
}

// setAxis makes the common axis of all pairs and stations; none where it would be more than four times as long as the
// longest of them.
func (r *Result) setAxis() {
	var axis []float64
	longest := 0
	for i := range r.Pairs {
		axis = merge(axis, r.Pairs[i].PressureDbar)
		longest = max(longest, len(r.Pairs[i].PressureDbar))
	}
	if len(axis) <= 4*longest {
		r.PressureDbar = axis
	}
}

// merge returns the union of two increasing lists; axis itself when it holds all of p.
func merge(axis, p []float64) []float64 {
	if len(axis) == 0 {
		return p
	}
	if contains(axis, p) {
		return axis
	}
	if contains(p, axis) {
		return p
	}
	out := slices.Concat(axis, p)
	slices.Sort(out)
	return slices.Compact(out)
}
