package gridding

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// line makes a section of casts with one variable (oxy) whose values f gives; bottoms in dbar.
func line(x, bottoms []float64, bin float64, f func(x, p float64) float64) *section.Section {
	s := &section.Section{Name: "line", DistanceKm: x}
	for k := range x {
		pres := section.Column{Variable: variable("pres")}
		oxy := section.Column{Variable: variable("oxy")}
		for p := bin; p <= bottoms[k]; p += bin {
			pres.Values, oxy.Values = append(pres.Values, p), append(oxy.Values, f(x[k], p))
		}
		c := &section.Cast{Expocode: "INVENTED", Station: fmt.Sprint(k), Number: "1", At: orb.Point{x[k] / 100, 40},
			PressureDbar: pres.Values, Columns: []section.Column{pres, oxy}}
		c.BottomM = -seawater.Height(bottoms[k], 40)
		s.Casts = append(s.Casts, c)
	}
	return s
}

func bilinear(x, p float64) float64 { return 200 + x - 0.1*p + 0.001*x*p }

// Linear mapping is straight in distance at constant pressure: exact where values are straight in both.
func TestLinear(t *testing.T) {
	sec := line([]float64{0, 10, 30, 45}, []float64{100, 300, 250, 320}, 2, bilinear)
	g, _, err := Map(sec, Options{Method: Linear, StepKm: 5, StepDbar: 10, Vertical: interpolate.Linear})
	if err != nil {
		t.Fatal(err)
	}
	f, m := g.field("oxy"), g.field("oxy_mask")
	if len(g.Axes[1].Values) != 10 || g.Axes[1].Values[9] != 45 || g.Axes[0].Values[1] != 10 {
		t.Fatalf("axes %v %v", g.Axes[1].Values, g.Axes[0].Values)
	}
	filled := 0
	for i, v := range f.Data {
		x, p := g.Axes[1].Values[i%10], g.Axes[0].Values[i/10]
		if math.IsNaN(v) != (m.Data[i] != NotMasked) {
			t.Fatalf("%g km %g dbar: value %g, reason %g", x, p, v, m.Data[i])
		}
		// At the surface the mean of the bins at 2 and 4 dbar stands; bins at 6, 8, 10, 12, 14 dbar are centred on 10.
		if math.IsNaN(v) || p < 10 || p > 90 {
			continue
		}
		filled++
		// The cell [p-5, p+5) of bins of 2 dbar holds bins centred on p or on p-1 (common practice, no source).
		if d := math.Abs(v - bilinear(x, p)); d > 0.11 {
			t.Errorf("%g km %g dbar: %g, want %g", x, p, v, bilinear(x, p))
		}
	}
	if filled != 90 {
		t.Errorf("%d filled", filled)
	}
}

// Each reason is given where it must be, and a masked point is empty in the field and its errors.
func TestMasks(t *testing.T) {
	sec := line([]float64{0, 20, 40, 60, 200}, []float64{200, 200, 600, 600, 600}, 2, bilinear)
	// The third cast starts at 30 dbar and has nothing from 300 to 420 dbar.
	c := sec.Casts[2]
	for i, p := range c.PressureDbar {
		if p < 30 || p > 300 && p < 420 {
			c.Columns[1].Values[i] = math.NaN()
		}
	}
	reasonAt := func(g *Grid, x, p float64) float64 {
		n := len(g.Axes[1].Values)
		return g.field("oxy_mask").Data[lowerBound(g.Axes[0].Values, p)*n+lowerBound(g.Axes[1].Values, x)]
	}
	for _, method := range []Method{Linear, Optimal, Successive, Triangles, Natural} {
		o := Options{Method: method, StepKm: 10, StepDbar: 10}
		if method == Optimal {
			o.LengthKm = 25
		}
		g, _, err := Map(sec, o)
		if err != nil {
			t.Fatal(err)
		}
		want := []struct{ x, p, reason float64 }{{10, 250, BelowBottom}, {30, 500, BelowBottom}, {40, 0, AboveFirst},
			{10, 100, NotMasked}, {40, 100, NotMasked}}
		if method == Linear {
			want = append(want, []struct{ x, p, reason float64 }{{50, 350, InGap}, {40, 360, InGap}, {30, 350, InGap},
				{110, 350, NotMasked}}...)
		}
		if method == Optimal {
			want = append(want, struct{ x, p, reason float64 }{130, 350, ErrorTooBig})
		}
		for _, w := range want {
			if got := reasonAt(g, w.x, w.p); got != w.reason {
				t.Errorf("%s: %g km %g dbar: reason %v, want %v", method, w.x, w.p, MaskReasons()[int(got)],
					MaskReasons()[int(w.reason)])
			}
		}
		for k := range g.Fields {
			f := &g.Fields[k]
			if f.Kind == MaskReason || f.Kind == Extrapolated {
				continue
			}
			for i, v := range f.Data {
				if math.IsNaN(v) != (g.field("oxy_mask").Data[i] != NotMasked) {
					t.Fatalf("%s: %s is %g where the reason is %g", method, f.Name, v, g.field("oxy_mask").Data[i])
				}
			}
		}
		if method == Optimal && g.field("oxy_err").StandardName != g.field("oxy").StandardName+" standard_error" {
			t.Errorf("standard name %q", g.field("oxy_err").StandardName)
		}
	}
}

// Flags: only usable values enter; a cast without any is left out.
func TestOnlyUsableValues(t *testing.T) {
	sec := line([]float64{0, 10, 20}, []float64{100, 100, 100}, 2, bilinear)
	for i := range sec.Casts[1].Columns[1].Values {
		sec.Casts[1].Columns[1].Values[i] = 1e6
	}
	sec.Casts[1].Columns[1].Flags = flagged(50, metadata.Bad)
	g, _, err := Map(sec, Options{Method: Linear, StepKm: 5})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range g.field("oxy").Data {
		if v > 1000 {
			t.Fatal("a bad value was mapped")
		}
	}
	sec.Casts[1].Columns[1].Flags = flagged(50, metadata.NotCalibrated)
	if g, _, err = Map(sec, Options{Method: Linear, StepKm: 5, Uncalibrated: true}); err != nil ||
		!(g.field("oxy").Data[2*5+2] > 1000) {
		t.Errorf("uncalibrated values were not used: %v", err)
	}
}

func TestMapRefuses(t *testing.T) {
	two := line([]float64{0, 10}, []float64{100, 100}, 2, bilinear)
	for _, c := range []struct {
		sec  *section.Section
		o    Options
		want error
	}{
		{line([]float64{0}, []float64{100}, 2, bilinear), Options{}, ErrTooFewCasts},
		{line([]float64{0, 0}, []float64{100, 100}, 2, bilinear), Options{}, ErrTooFewCasts},
		{two, Options{Variables: []string{"nothing"}}, ErrTooFewCasts},

		{two, Options{Vertical: interpolate.Methods}, ErrUnknown},
		{two, Options{Sigma: []int{5}}, ErrUnknown},
		{two, Options{Levels: []float64{10, 5}}, ErrUnknown},
		{two, Options{Method: Density}, ErrNeedsPair},
		{two, Options{StepKm: 1e-6}, ErrTooLarge},
	} {
		if _, _, err := Map(c.sec, c.o); !errors.Is(err, c.want) {
			t.Errorf("%+v: error %v, want %v", c.o, err, c.want)
		}
	}
	field := func(a Area, o Options) error {
		_, _, err := MapField("f", scattered(5, orb.Point{0, 50}, 100, 1), a, o)
		return err
	}
	wrong := AnyArea()
	wrong.Levels = []float64{10, 10}
	far := AnyArea()
	far.LatMin = -100
	fine := AnyArea()
	fine.StepLatDeg, fine.StepLonDeg = 1e-4, 1e-4
	for k, err := range []error{field(wrong, Options{}), field(far, Options{}),
		field(AnyArea(), Options{Method: "best"})} {
		if !errors.Is(err, ErrUnknown) {
			t.Errorf("%d: %v", k, err)
		}
	}
	if err := field(AnyArea(), Options{Method: Density}); !errors.Is(err, ErrSectionOnly) {
		t.Error(err)
	}
	if err := field(fine, Options{}); !errors.Is(err, ErrTooLarge) {
		t.Error(err)
	}
	if _, _, err := MapField("f", nil, AnyArea(), Options{}); !errors.Is(err, ErrTooFewCasts) {
		t.Error(err)
	}
	same := scattered(2, orb.Point{0, 50}, 100, 1)
	same[1].At = same[0].At
	if _, _, err := MapField("f", same, AnyArea(), Options{}); !errors.Is(err, ErrTooFewCasts) {
		t.Error(err)
	}
}

// Two casts make a grid, and the findings say that its error is not that of leaving stations out.
func TestTwoCasts(t *testing.T) {
	for _, method := range []Method{Optimal, Choose} {
		g, findings, err := Map(line([]float64{0, 10}, []float64{100, 100}, 2, bilinear), Options{Method: method})
		if err != nil {
			t.Fatal(err)
		}
		said := map[string]bool{}
		for _, f := range findings {
			said[f.Check] = true
		}
		if !said["grid.variance"] || !said["grid.skill"] || (method == Choose) != said["grid.choose"] {
			t.Errorf("%s: findings %v", method, findings)
		}
		if !math.IsNaN(g.Skill[0].RMS) || g.Skill[0].N != 0 || g.Skill[0].EndN == 0 ||
			len(g.Skill[0].SignalBands) != 1 {
			t.Errorf("skill %+v", g.Skill[0])
		}
	}
}

// The same bits for 1 and 8 workers, whatever the method.
func TestWorkersDoNotMatter(t *testing.T) {
	o := newOcean(5, true)
	sec := o.sample(5, 9, true)
	casts := scattered(20, orb.Point{179, 10}, 200, 3)
	for _, method := range Methods() {
		var first string
		for _, workers := range []int{1, 8} {
			opt := Options{Method: method, Workers: workers, StepKm: 6, StepDbar: 6}
			g, findings, err := Map(sec, opt)
			if err != nil {
				t.Fatal(err)
			}
			text := fmt.Sprint(findings, g.Params, g.Skill, g.Axes)
			if method != Density {
				area := AnyArea()
				area.Levels, area.StepLatDeg, area.StepLonDeg = []float64{0, 100}, 1, 1
				opt.Levels = []float64{0, 50, 100, 300}
				h, more, err := MapField("f", casts, area, opt)
				if err != nil {
					t.Fatal(err)
				}
				g.Fields = append(g.Fields, h.Fields...)
				text += fmt.Sprint(more, h.Params, h.Skill)
			}
			var b strings.Builder
			b.WriteString(text)
			for k := range g.Fields {
				for _, v := range g.Fields[k].Data {
					fmt.Fprintf(&b, "%016x", math.Float64bits(v))
				}
			}
			if workers == 1 {
				first = b.String()
			} else if b.String() != first {
				t.Errorf("%s: 1 and 8 workers differ", method)
			}
		}
	}
}

// The default is chosen, or the method of the least rms over data that all predict where it is clearly below; it is
// written down.
func TestChoose(t *testing.T) {
	o := newOcean(7, true)
	sec := o.sample(7, 9, true)
	g, _, err := Map(sec, Options{Method: Choose, StepKm: 10, StepDbar: 10})
	if err != nil {
		t.Fatal(err)
	}
	params := map[string]string{}
	for _, p := range slices.Concat(g.Params, g.Results) {
		params[p.Label()] = p.Value
	}
	opt := Options{Method: Choose}
	s := surveyOf(t, sec, &opt)
	all := s.choices()
	tables := s.levelTables()
	for i := range all {
		all[i].loo = s.newEngine(all[i].method, all[i].factor, all[i].cov, tables, nil).leaveOut()
	}
	for v, k := range g.Skill {
		ratios, ok := ratiosOf(all, v)
		best := slices.Index(ratios, slices.Min(ratios))
		if ratios[best] >= clearlyBetter*ratios[0] {
			best = 0
		}
		linear := slices.IndexFunc(all, func(c choice) bool { return c.method == Linear })
		chosen := params["chosen"]
		if chosen == "" {
			chosen = params["chosen of "+k.Variable]
		}
		if !ok || len(all) != 6 || params["method"] != string(Choose) || chosen != string(all[best].method) ||
			ratios[linear] != 1 {
			t.Errorf("%s: ratios %v, params %v", k.Variable, ratios, params)
		}
	}
}

// The grid is called worse than straight lines only where the difference is beyond its uncertainty, with what to do;
// whoever let the skill choose is not advised to let it choose.
func TestWorseThanStraightLines(t *testing.T) {
	worse := func(d Difference) Skill {
		return Skill{Variable: "oxy", RMS: 3, N: 40, SkillLinear: -0.4, MoreThanLinear: d}
	}
	for _, d := range []Difference{{0.5, 0.26, 8}, {0.5, math.NaN(), 1}, {-0.5, 0.1, 8}, {0, 0, 8}} {
		if f := skillFinding(worse(d), variable("oxy"), Optimal); f.Severity != metadata.Note ||
			strings.Contains(f.Message, "worse") || f.Remedy != "" {
			t.Errorf("%+v: %+v", d, f)
		}
	}
	poor := worse(Difference{0.5, 0.2, 8})
	if f := skillFinding(poor, variable("oxy"), Optimal); f.Severity != metadata.Warning ||
		!strings.Contains(f.Message, "by 0.5 umol kg-1 ± 0.4 umol kg-1 more") ||
		!strings.Contains(f.Remedy, "method: choose") {
		t.Errorf("%+v", f)
	}
	if f := skillFinding(poor, variable("oxy"), Choose); f.Severity != metadata.Warning || f.Remedy == "" ||
		strings.Contains(f.Remedy, "choose") {
		t.Errorf("%+v", f)
	}
}

// The standard error of the difference is that of many repetitions: residuals of each station go up and down together.
func TestErrorOfDifference(t *testing.T) {
	const stations, levels, repeats = 12, 30, 400
	random := rand.New(rand.NewPCG(5, 9))
	var values, errs []float64
	beyond := 0
	for range repeats {
		var loo, other []leftOut
		for k := range stations {
			a, b := random.NormFloat64(), random.NormFloat64()
			for l := range levels {
				loo = append(loo, leftOut{p: float64(l), residual: a + random.NormFloat64()/4, inner: true, site: k})
				other = append(other, leftOut{p: float64(l), residual: b + random.NormFloat64()/4, inner: true,
					site: k})
			}
		}
		loo[0].residual = math.NaN() // is in neither
		d := moreThan(loo, other)
		values, errs = append(values, d.Value), append(errs, d.Error)
		if d.Stations != stations {
			t.Fatal(d)
		}
		if d.Significant() {
			beyond++
		}
	}
	mean, spread, middle := 0.0, 0.0, 0.0
	for i := range values {
		mean += errs[i] / repeats
		middle += values[i] / repeats
	}
	for _, v := range values {
		spread += (v - middle) * (v - middle) / (repeats - 1)
	}
	spread = math.Sqrt(spread)
	t.Logf("spread %.3f, mean standard error %.3f, significant without a difference %d of %d", spread, mean, beyond,
		repeats)
	if math.Abs(mean/spread-1) > 0.15 || beyond > repeats/10 {
		t.Errorf("spread %g, mean standard error %g, significant without a difference %d of %d", spread, mean, beyond,
			repeats)
	}
	one := []leftOut{{residual: 1, inner: true}, {residual: 2, inner: true}}
	if d := moreThan(one, []leftOut{{residual: 0.5, inner: true}, {residual: 0.5, inner: true}}); !math.IsNaN(
		d.Error) || d.Significant() {
		t.Errorf("one station: %+v", d)
	}
}

// The stated error holds on left-out stations: squared residuals over stated error and noise average 1 in every band.
func TestSignalVarianceAveragesOne(t *testing.T) {
	o := newOcean(9, false)
	sec := o.sample(9, 20, false)
	opt := Options{Variables: []string{"ctemp"}}
	s := surveyOf(t, sec, &opt)
	loo := s.newEngine(Optimal, 2, s.prior(), s.levelTables(), nil).leaveOut()[0]
	bands := signalBands(loo, opt.Noise)
	if len(bands) < 3 {
		t.Fatalf("bands %v", bands)
	}
	for _, b := range bands {
		sum, n := 0.0, 0.0
		for _, d := range loo {
			if d.inner && d.p >= b.TopDbar && d.p < b.BottomDbar && !math.IsNaN(d.residual) {
				sum += d.residual * d.residual / (b.Variance*d.rel + b.Variance*opt.Noise)
				n++
			}
		}
		if n < fewest || math.Abs(sum/n-1) > 1e-12 {
			t.Errorf("band %v: %g residuals, mean %g", b, n, sum/n)
		}
	}
	// Few residuals join the band above.
	few := signalBands([]leftOut{{p: 100, residual: 1, rel: 0.5, inner: true},
		{p: 500, residual: 2, rel: 0.5, inner: true}, {p: 5000, residual: 3, inner: false}}, 0)
	if len(few) != 1 || few[0].Variance != 5 || !math.IsInf(few[0].BottomDbar, 1) {
		t.Errorf("bands %v", few)
	}
}

// Defaults are scaled to the water.
func TestScaledDefaults(t *testing.T) {
	for _, c := range []struct {
		pmax, step, factor float64
		lengths            string
	}{
		{176, 1, 1.25, "29.3333 dbar"}, {500, 1, 1.25, "60 dbar down to 200 dbar, 83.3333 dbar below"},
		{600, 1, 2, "60 dbar down to 200 dbar, 100 dbar below"},
		{2000, 5, 2, "60 dbar down to 200 dbar, 200 dbar down to 1000 dbar, 333.333 dbar below"},
		{5000, 10, 2,
			"60 dbar down to 200 dbar, 200 dbar down to 1000 dbar, 400 dbar down to 2000 dbar, 800 dbar below"},
	} {
		s := &survey{pmax: c.pmax, binDbar: 1, opt: &Options{LengthFactor: 2}, sites: []site{{last: c.pmax}}}
		down := s.verticalLengths(s.pmax)
		if s.stepDbar() != c.step || down.text() != c.lengths || s.defaultFactor() != c.factor {
			t.Errorf("%g dbar: step %g, lengths %s, factor %g", c.pmax, s.stepDbar(), down.text(), s.defaultFactor())
		}
		if s.isField = true; s.defaultFactor() != 2 {
			t.Errorf("%g dbar: factor %g in a field", c.pmax, s.defaultFactor())
		}
	}
	deep := (&survey{binDbar: 2, opt: &Options{}}).dataLevels([]float64{5000})
	if fmt.Sprint(deep[:3], deep[13:16], deep[30:33],
		deep[len(deep)-1]) != "[0 15 30] [195 200 250] [1000 1100 1200] 5000" {
		t.Errorf("levels %v", deep)
	}
	shallow := (&survey{binDbar: 2, opt: &Options{}}).dataLevels([]float64{160, 150, 176})
	if shallow[1] != 6 || shallow[len(shallow)-1] != 174 { // 160/25 is 6.4: three whole bins
		t.Errorf("levels %v", shallow)
	}
	if s := roundStep(0.37); s != 0.5 {
		t.Errorf("step %g", s)
	}
	if s := roundStep(math.NaN()); s != 1 {
		t.Errorf("step %g", s)
	}
}

// Cells hold the bins with [c - w/2, c + w/2); empty cells stay empty.
func TestRebin(t *testing.T) {
	p := []float64{2, 4, 6, 8, 10, 30}
	v := []float64{1, 2, math.NaN(), 4, 5, 9}
	centres := []float64{0, 5, 10, 20, 30}
	got := make([]float64, 5)
	rebin(got, p, v, centres, 5)
	want := []float64{1, 2, 4.5, math.NaN(), 9}
	for k := range want {
		if got[k] != want[k] && !(math.IsNaN(got[k]) && math.IsNaN(want[k])) {
			t.Errorf("cell %g: %g, want %g", centres[k], got[k], want[k])
		}
	}
	overlapping := make([]float64, 2)
	rebin(overlapping, p, v, []float64{4, 5}, 10)
	if overlapping[0] != 7.0/3 || overlapping[1] != 7.0/3 {
		t.Errorf("overlapping cells %v", overlapping)
	}
}

// Density of the grid comes from gridded salinity and temperature; where it falls with pressure that is counted.
func TestDerivedOnTheGrid(t *testing.T) {
	o := newOcean(4, true)
	sec := o.sample(4, 9, true)
	g, findings, err := Map(sec, Options{Sigma: []int{0, 2}, StepKm: 10, StepDbar: 5, Vertical: interpolate.Rotated})
	if err != nil {
		t.Fatal(err)
	}
	s, ct, sa := g.field("sigma2"), g.field("ctemp"), g.field("asal")
	if s == nil || g.field("sigma0") == nil {
		t.Fatal("no density")
	}
	for i, v := range s.Data {
		want := seawater.Sigma(2, sa.Data[i], ct.Data[i])
		if v != want && !(math.IsNaN(v) && math.IsNaN(want)) {
			t.Fatalf("%g, want %g", v, want)
		}
	}
	// Turn one pair of levels over.
	for _, c := range sec.Casts {
		t, n := c.Columns[1].Values, 60
		if len(t) > 100 {
			for i := range n {
				t[20+i] -= 8
			}
		}
	}
	_, after, err := Map(sec, Options{StepKm: 10, StepDbar: 5})
	if err != nil {
		t.Fatal(err)
	}
	count := func(list []metadata.Finding) int {
		for _, f := range list {
			if f.Check == "grid.inversion" {
				return f.Count
			}
		}
		return 0
	}
	if count(after) <= count(findings) {
		t.Errorf("inversions %d before, %d after", count(findings), count(after))
	}
}

// Bathymetry takes the place of the line between the casts, and land masks everything.
func TestBathymetry(t *testing.T) {
	sec := line([]float64{0, 50, 100}, []float64{300, 300, 300}, 2, bilinear)
	ridge := func(at orb.Point) float64 {
		x := at[0] * 100
		switch {
		case x > 20 && x < 30:
			return -5
		case x > 60 && x < 80:
			return 100
		}
		return 310
	}
	g, _, err := Map(sec, Options{Method: Linear, StepKm: 5, StepDbar: 10, WaterDepthM: ridge})
	if err != nil {
		t.Fatal(err)
	}
	n := len(g.Axes[1].Values)
	m := g.field("oxy_mask")
	if m.Data[5*n+5] != BelowBottom || m.Data[5*n+14] != NotMasked || m.Data[15*n+14] != BelowBottom ||
		m.Data[15*n+18] != NotMasked {
		t.Errorf("reasons %g %g %g %g", m.Data[5*n+5], m.Data[5*n+14], m.Data[15*n+14], m.Data[15*n+18])
	}
	deepest, _, err := Map(sec, Options{Method: Linear, StepKm: 5, StepDbar: 10, DeepestBin: true})
	if err != nil || deepest.field("oxy").Data[30*n+3] != deepest.field("oxy").Data[30*n+3] {
		t.Errorf("deepest bin: %v", err)
	}
	field, _, err := MapField("f", scattered(12, orb.Point{0, 50}, 100, 2), AnyArea(),
		Options{Levels: []float64{0, 100, 300}, WaterDepthM: func(at orb.Point) float64 {
			if at[0] < 0 {
				return -1
			}
			return 150
		}})
	if err != nil {
		t.Fatal(err)
	}
	lon := field.Axes[2].Values
	for i, r := range field.field("ctemp_mask").Data {
		p := field.Axes[0].Values[i/(len(lon)*len(field.Axes[1].Values))]
		if want := lon[i%len(lon)] < 0 && p > 0 || p > 152; want != (r == BelowBottom) {
			t.Fatalf("%g E %g dbar: reason %g", lon[i%len(lon)], p, r)
		}
	}
}

// Odd casts make small grids or an error, never a panic.
func TestOddCasts(t *testing.T) {
	r := rand.New(rand.NewPCG(12, 13))
	made := 0
	for n := range 84 {
		count := 2 + r.IntN(5)
		var x, bottoms []float64
		for k := range count {
			step := float64(r.IntN(3)) * 7
			if k > 0 {
				step += x[k-1]
			}
			x = append(x, step)
			bottoms = append(bottoms, math.Pow(10, 2.4*r.Float64()))
		}
		bin := []float64{0.3, 1, 2, 50}[r.IntN(4)]
		sec := line(x, bottoms, bin, func(x, p float64) float64 {
			if r.IntN(12) == 0 {
				return math.NaN()
			}
			return math.Round(x + p/10)
		})
		for _, c := range sec.Casts {
			if r.IntN(4) == 0 {
				c.BottomM = math.NaN()
			}
			salt, heat := c.Columns[1], c.Columns[1]
			salt.Variable, heat.Variable = variable("asal"), variable("ctemp")
			c.Columns = append(c.Columns, salt, heat)
			if len(c.PressureDbar) > 3 && r.IntN(3) == 0 {
				c.PressureDbar[2] = c.PressureDbar[1]
			}
			c.At[1] += r.Float64()
		}
		method := Methods()[n%len(Methods())]
		g, _, err := Map(sec, Options{Method: method, StepDbar: 20, Neighbours: 5 + r.IntN(30)})
		if err == nil {
			made++
			for k := range g.Fields {
				if len(g.Fields[k].Data) != len(g.Axes[0].Values)*len(g.Axes[1].Values) {
					t.Fatalf("%d: field %s has %d values", n, g.Fields[k].Name, len(g.Fields[k].Data))
				}
				for _, v := range g.Fields[k].Data {
					if math.IsInf(v, 0) {
						t.Fatalf("%d: %s is infinite", n, g.Fields[k].Name)
					}
				}
			}
		}
		if method != Density {
			area := AnyArea()
			area.StepLatDeg, area.StepLonDeg, area.Levels = 0.5, 0.5, []float64{0, 30}
			if _, _, err := MapField("odd", sec.Casts, area, Options{Method: method}); err == nil {
				made++
			}
		}
	}
	if made < 80 {
		t.Errorf("only %d grids were made", made)
	}
}
