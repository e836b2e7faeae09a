package geostrophy

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// simple is a cast of 10-dbar bins from first to last.
func simple(station string, lat, lon, first, last, warm float64) *section.Cast {
	var p, sa, ct []float64
	for x := first; x <= last; x += 10 {
		p, sa, ct = append(p, x), append(sa, 35), append(ct, 4+(10+warm)*math.Exp(-x/300))
	}
	return castOf(station, lat, lon, p, sa, ct)
}

// Every withheld pair has a status, a reason, a finding and no number; the totals say what they leave out.
func TestWithheldPairs(t *testing.T) {
	one := simple("1", 40, -40, 0, 1000, 0)
	lost := simple("lost", 40, -39, 0, 1000, 0)
	lost.At = orb.Point{math.NaN(), math.NaN()}
	bad := simple("bad", 40, -39, 0, 1000, 0)
	bad.Column("ctemp").Flags = make([]metadata.Flag, bad.Levels())
	for i := range bad.Column("ctemp").Flags {
		bad.Column("ctemp").Flags[i] = metadata.Bad
	}
	bare := simple("bare", 40, -39, 0, 1000, 0)
	bare.Columns = bare.Columns[:1]
	shallow := simple("shallow", 40, -39, 0, 40, 0)
	deep := simple("deep", 40, -38, 100, 900, 0)
	for _, x := range []struct {
		name   string
		a, b   *section.Cast
		status Status
		reason string
	}{
		{"no position", one, lost, WithheldPosition, "no position"},
		{"across the equator", simple("1", -1, -30, 0, 500, 0), simple("2", 1, -30, 0, 500, 0), WithheldEquator,
			"crosses the equator"},
		{"near the equator", simple("1", 2.9, -30, 0, 500, 0), simple("2", 3.5, -30, 0, 500, 0), WithheldEquator,
			"2.90 degrees"},
		{"bad values", one, bad, WithheldNoData, "station bad has no usable level"},
		{"no column", one, bare, WithheldNoData, "no column of salinity"},
		{"no common level", shallow, deep, WithheldNoLevels, "no common usable level"},
	} {
		third := simple("third", x.b.At[1]+0.5, x.b.At[0]+0.5, 0, 1000, 0)
		if x.b.At[1] != x.b.At[1] {
			third = simple("third", 40, -38, 0, 1000, 0)
		}
		opts := DefaultOptions()
		opts.Layers = []float64{0, 200}
		r := mustCompute(t, sectionOf("W", x.a, x.b, third), opts)
		pr := &r.Pairs[0]
		if pr.Status != x.status || !strings.Contains(pr.Reason, x.reason) || pr.Status.HasVelocity() {
			t.Errorf("%s: %v, %q", x.name, pr.Status, pr.Reason)
		}
		for _, x := range []float64{pr.ReferenceDbar, pr.KnownVelocity, pr.SurfaceCarriedM, pr.BottomAM,
			pr.UnsampledAreaM2, pr.AboveTriangle[Mass], pr.Triangle[NoFlow][Volume], pr.SecondTransport[Volume]} {
			if x == x {
				t.Errorf("%s: %g in a withheld pair", pr.ID, x)
			}
		}
		if pr.Velocity != nil || !math.IsNaN(pr.Transport[Volume].Value) || !math.IsNaN(pr.Cumulative[Volume].Value) {
			t.Errorf("%s: a number in a withheld pair", x.name)
		}
		found := 0
		for _, f := range r.Findings {
			if f.Check == "geostrophy.withheld" && strings.Contains(f.Message, "stations "+x.a.Station+" and "+
				x.b.Station+": no velocity: "+pr.Reason) {
				found++
			}
		}
		if found != 1 {
			t.Errorf("%s: %d findings", x.name, found)
		}
		if !strings.HasPrefix(r.Partial.Statement, fmt.Sprintf("partial: %d of 2 pairs, ", r.Partial.Pairs)) {
			t.Errorf("%s: %s", x.name, r.Partial.Statement)
		}
	}
	for i, s := range Statuses() {
		if int(s) != i || s.String() == "" {
			t.Errorf("status %d is %q", i, s)
		}
	}
}

func TestEquatorZones(t *testing.T) {
	var casts []*section.Cast
	for i, lat := range []float64{2.5, 3.2, 4.2, 5.2, 6.2} {
		casts = append(casts, simple(fmt.Sprint(i+1), lat, -30, 0, 500, float64(i)))
	}
	r := mustCompute(t, sectionOf("E", casts...), DefaultOptions())
	want := []Status{WithheldEquator, Questionable, Questionable, Computed}
	for i, w := range want {
		if r.Pairs[i].Status != w {
			t.Errorf("pair %d: %v, want %v", i, r.Pairs[i].Status, w)
		}
	}
	if !r.Pairs[1].CumulativePartial || r.Partial.Pairs != 3 {
		t.Errorf("partial: %+v", r.Partial)
	}
}

// u = -(1/beta) d2Psi/dy2 (Picaut and Tournier 1991): with Psi0 = -beta u0 y^2/2 exp(-p/h) the estimate is u0
// (exp(-p/h) - exp(-pr/h)), beta
// 2.28e-11 (science section 8).
func TestEquatorialEstimate(t *testing.T) {
	const u0, h, beta = 0.6, 150.0, 2.28e-11
	var casts []*section.Cast
	for i, lat := range []float64{-1.5, -0.9, -0.2, 0.4, 1.1, 1.6} {
		y, _, _ := section.Geodesic(orb.Point{-30, 0}, orb.Point{-30, lat})
		var p, sa, ct []float64
		guess := 10.0
		for x := 0.0; x <= 600; x += 2 {
			// -dPsi/dP = anomaly: the part that depends on y is -beta u0 y^2/2 exp(-p/h)/(h 1e4).
			anomaly := seawater.SpecificVolumeAnomaly(35, 6+12*math.Exp(-x/200), x) -
				beta*u0*y*y/2*math.Exp(-x/h)/(h*1e4)
			guess = temperatureFor(t, anomaly, x, guess)
			p, sa, ct = append(p, x), append(sa, 35), append(ct, guess)
		}
		casts = append(casts, castOf(fmt.Sprint(i+1), lat, -30, p, sa, ct))
	}
	opts := DefaultOptions()
	opts.EquatorialEstimate = true
	opts.Reference = Reference{Kind: AtPressure, PressureDbar: 600}
	r := mustCompute(t, sectionOf("EQ", casts...), opts)
	if len(r.Equatorial) != 4 {
		t.Fatalf("%d estimates", len(r.Equatorial))
	}
	for _, e := range r.Equatorial {
		if e.Reason != "" || e.ReferenceDbar != 600 {
			t.Fatalf("station %d: %s", e.Station, e.Reason)
		}
		for l, p := range e.PressureDbar {
			want := u0 * (math.Exp(-p/h) - math.Exp(-600/h))
			if math.Abs(e.Eastward[l]-want) > 1e-3*u0 {
				t.Fatalf("station %d at %g dbar: %g, want %g", e.Station, p, e.Eastward[l], want)
			}
		}
	}
	if r.Partial.Pairs != 0 || !strings.HasPrefix(r.Partial.Statement, "partial: 0 of 5 pairs, ") ||
		!strings.HasSuffix(r.Partial.Statement, "; withheld 5: at equator") {
		t.Errorf("pairs at the equator: %+v", r.Partial)
	}
	// The sum of no pair is not zero: it is not known.
	opts.Layers, opts.Classes = []float64{0, 100}, []float64{27}
	none := mustCompute(t, sectionOf("EQ", casts...), opts)
	for k := range Kind(Kinds) {
		for what, x := range map[string]float64{"total": none.Total[k].Value, "error": none.Total[k].Stated,
			"layer": none.LayerTotal[0][k].Value, "class": none.ClassTotal[1][k].Stated,
			"second reference": none.SecondTotal[k], "treatment": none.ByTreatment[ConstantShear][k]} {
			if x == x {
				t.Errorf("%s %s of a section without velocity: %g", what, k, x)
			}
		}
	}
	// A reference that is no pressure: relative to the deepest level of the three stations, not to the surface.
	opts.Reference = Reference{Kind: AtDeepest}
	for _, e := range mustCompute(t, sectionOf("EQ", casts...), opts).Equatorial {
		n := len(e.Eastward)
		deepest := e.PressureDbar[n-1]
		if want := u0 * (1 - math.Exp(-deepest/h)); e.ReferenceDbar != deepest || e.Eastward[n-1] != 0 ||
			math.Abs(e.Eastward[0]-want) > 1e-3*u0 {
			t.Errorf("station %d: %g m/s at the surface re %g dbar, want %g", e.Station, e.Eastward[0], e.ReferenceDbar,
				want)
		}
	}
	// Not on a zonal line.
	opts.Reference = Reference{Kind: AtPressure, PressureDbar: 400}
	r = mustCompute(t, sectionOf("EQ", simple("1", 1, -30, 0, 500, 0), simple("2", 1, -29, 0, 500, 0),
		simple("3", 1, -28, 0, 500, 0)), opts)
	if len(r.Equatorial) != 1 || r.Equatorial[0].Reason == "" {
		t.Errorf("zonal line: %+v", r.Equatorial)
	}
	// Nor without a common level.
	r = mustCompute(t, sectionOf("EQ", simple("1", 1, -30, 0, 500, 0), simple("2", 1.5, -30, 0, 300, 0),
		simple("3", 2, -30, 0, 500, 0)), opts)
	if len(r.Equatorial) != 1 || !strings.Contains(r.Equatorial[0].Reason, "no level") {
		t.Errorf("no level: %+v", r.Equatorial)
	}
}

func TestReferences(t *testing.T) {
	sec := func() *section.Section {
		return sectionOf("R", simple("1", 40, -40, 0, 1000, 0), simple("2", 40, -39.5, 0, 1200, 2),
			simple("3", 40, -39, 0, 400, 1))
	}
	at := func(pr *Pair, p float64) float64 {
		return between(pr.PressureDbar, func(i int) float64 { return pr.Velocity[i] }, p)
	}
	opts := DefaultOptions()

	opts.Reference = Reference{Kind: AtPressure, PressureDbar: 800}
	r := mustCompute(t, sec(), opts)
	within(t, "at the reference", at(&r.Pairs[0], 800), 0, 1e-15)
	if p := &r.Pairs[0]; p.ReferenceDbar != 800 || p.ReferenceFallback != "" || p.DeepestCommonDbar != 1000 ||
		p.SecondReference != 1000 {
		t.Errorf("pair 1: %+v", p)
	}
	if p := &r.Pairs[1]; p.ReferenceDbar != 400 || !strings.Contains(p.ReferenceFallback,
		"800 dbar is below the deepest common level, 400 dbar") {
		t.Errorf("pair 2: reference %g, %q", p.ReferenceDbar, p.ReferenceFallback)
	}
	found := false
	for _, f := range r.Findings {
		found = found || f.Check == "geostrophy.reference" && strings.Contains(f.Message, "stations 2 and 3")
	}
	if !found {
		t.Error("no finding of the fallback")
	}
	// Stations' own dynamic height: none where the cast does not reach the reference.
	if s := r.Stations[2]; !strings.Contains(s.Reason, "below the deepest usable level") ||
		!math.IsNaN(s.DynamicHeight[0]) {
		t.Errorf("station 3: %q", s.Reason)
	}
	within(t, "station 1", r.Stations[0].DynamicHeight[80], 0, 0)

	// Up to one bin step below the deepest common level counts as reached.
	opts.Reference.PressureDbar = 409
	if p := mustCompute(t, sec(), opts).Pairs[1]; p.ReferenceFallback != "" || p.ReferenceDbar != 400 {
		t.Errorf("409 dbar: %g, %q", p.ReferenceDbar, p.ReferenceFallback)
	}
	opts.Reference.PressureDbar = 411
	if p := mustCompute(t, sec(), opts).Pairs[1]; !strings.Contains(p.ReferenceFallback,
		"411 dbar is below the deepest common level") {
		t.Errorf("411 dbar: %q", p.ReferenceFallback)
	}
	// Between bins: velocity is zero there (a pchip between levels 10 dbar apart; linear interpolation of v is off by
	// its curvature).
	opts.Reference.PressureDbar = 305
	p305 := mustCompute(t, sec(), opts).Pairs[0]
	within(t, "between bins", at(&p305, 305), 0, 2e-4*math.Abs(p305.Velocity[0]))
	// The difference of two references is the velocity at one of them.
	opts.Reference.PressureDbar = 800
	r800 := mustCompute(t, sec(), opts)
	opts.Reference = Reference{Kind: AtDeepest}
	rDeep := mustCompute(t, sec(), opts)
	for l := range rDeep.Pairs[0].Velocity {
		within(t, "same shear", rDeep.Pairs[0].Velocity[l]-r800.Pairs[0].Velocity[l], at(&rDeep.Pairs[0], 800), 1e-14)
	}
	within(t, "second reference", r800.Pairs[0].SecondTransport[Volume], rDeep.Pairs[0].Transport[Volume].Value,
		1e-9*math.Abs(rDeep.Pairs[0].Transport[Volume].Value))
	if rDeep.Pairs[0].SecondReference != 500 {
		t.Errorf("second reference %g", rDeep.Pairs[0].SecondReference)
	}
	second := Reference{Kind: AtPressure, PressureDbar: 300}
	opts.SecondReference = &second
	within(t, "second reference 300", mustCompute(t, sec(), opts).Pairs[0].SecondReference, 300, 0)
	opts.SecondReference = nil

	// Density: where the mean of the two sigmas crosses.
	opts.Reference = Reference{Kind: AtDensity, Density: 27.4}
	r = mustCompute(t, sec(), opts)
	pr := &r.Pairs[0]
	mean := func(p float64) float64 {
		a, b := 4+10*math.Exp(-p/300), 4+12*math.Exp(-p/300)
		return 0.5 * (seawater.Sigma0(35, a) + seawater.Sigma0(35, b))
	}
	within(t, "density at the reference", mean(pr.ReferenceDbar), 27.4, 1e-4)
	within(t, "velocity at the density", at(pr, pr.ReferenceDbar), 0, 1e-4*math.Abs(pr.Velocity[0]))
	opts.Reference.Density = 35
	if pr := mustCompute(t, sec(), opts).Pairs[0]; pr.ReferenceDbar != 1000 || !strings.Contains(pr.ReferenceFallback,
		"not crossed") {
		t.Errorf("density not crossed: %g %q", pr.ReferenceDbar, pr.ReferenceFallback)
	}
	opts.Reference = Reference{Kind: AtDensity, Density: 36.5, SigmaDbar: 2000}
	if pr := mustCompute(t, sec(), opts).Pairs[0]; pr.ReferenceFallback != "" {
		t.Errorf("sigma2: %q", pr.ReferenceFallback)
	}

	// Levels and velocities for each pair; a pair without one is withheld.
	opts.Reference = Reference{Kind: AtLevels, Known: []Known{{StationA: "2", StationB: "1", PressureDbar: 600}}}
	r = mustCompute(t, sec(), opts)
	if r.Pairs[0].ReferenceDbar != 600 || r.Pairs[1].Status != WithheldNoKnown || !strings.Contains(r.Pairs[1].Reason,
		"stations 2 and 3") {
		t.Errorf("levels: %g, %v %q", r.Pairs[0].ReferenceDbar, r.Pairs[1].Status, r.Pairs[1].Reason)
	}
	opts.Reference = Reference{Kind: AtVelocities,
		Known: []Known{{StationA: "1", StationB: "2", PressureDbar: 600, Velocity: 0.1, StandardError: 0.01},
			{StationA: "2", StationB: "3", PressureDbar: 600, Velocity: 0.1}}}
	r = mustCompute(t, sec(), opts)
	within(t, "known velocity", at(&r.Pairs[0], 600), 0.1, 1e-15)
	if e := r.Pairs[0].VelocityErr[60]; !(e >= 0.01 && e < 0.011) {
		t.Errorf("error of the known velocity at its level: %g", e)
	}
	if !strings.Contains(r.Pairs[1].ReferenceFallback, "with the velocity given for the other level") {
		t.Errorf("fallback %q", r.Pairs[1].ReferenceFallback)
	}
	// Velocity depends on its own reference alone: not on what the stations' own dynamic height refers to, nor on the
	// reference of the next pair, when those lie above the first bin and its water is carried up. It is that of the
	// dynamic heights re the reference.
	opts = DefaultOptions()
	line := func() *section.Section {
		return sectionOf("R", simple("1", 40, -40, 10, 1000, 0), simple("2", 40, -39.5, 10, 1200, 2),
			simple("3", 40, -39, 10, 400, 1))
	}
	opts.HeightReferenceDbar = 0
	fromSurface := mustCompute(t, line(), opts)
	opts.HeightReferenceDbar = 400
	pr = &mustCompute(t, line(), opts).Pairs[0]
	opts.Reference = Reference{Kind: AtLevels, Known: []Known{{StationA: "1", StationB: "2", PressureDbar: 1000},
		{StationA: "2", StationB: "3", PressureDbar: 3}}}
	own := mustCompute(t, line(), opts)
	if own.Pairs[1].ReferenceDbar != 3 {
		t.Errorf("level above the first bin: %g", own.Pairs[1].ReferenceDbar)
	}
	var psi [2][]float64
	for i, c := range line().Casts[:2] {
		var err error
		if psi[i], err = DynamicHeight(make([]float64, c.Levels()), c.Column("asal").Values, c.Column("ctemp").Values,
			c.PressureDbar, 1000, interpolate.Pchip); err != nil {
			t.Fatal(err)
		}
	}
	for l, v := range pr.Velocity {
		want := (psi[1][l] - psi[0][l]) / (pr.CoriolisPerSec * pr.LengthKm * 1e3)
		within(t, "velocity of its own reference", v, want, 1e-12)
		within(t, "with dynamic height re the surface", fromSurface.Pairs[0].Velocity[l], want, 1e-12)
		within(t, "beside a pair re the surface", own.Pairs[0].Velocity[l], want, 1e-12)
	}

	for _, ref := range []Reference{{Kind: AtDeepest}, {Kind: AtPressure, PressureDbar: 2},
		{Kind: AtDensity, Density: 27}, {Kind: AtLevels}, {Kind: AtVelocities}} {
		if ref.String() == "" || ref.Kind.String() == "" {
			t.Errorf("reference without words: %+v", ref)
		}
	}
}

// Nothing crosses a gap: only the part joined to the reference is kept, and the pair says so.
func TestGaps(t *testing.T) {
	hole := func(c *section.Cast, from, to float64) *section.Cast {
		flags := make([]metadata.Flag, c.Levels())
		for i, p := range c.PressureDbar {
			flags[i] = metadata.Acceptable
			if p > from && p < to {
				flags[i] = metadata.Bad
			}
		}
		c.Column("ctemp").Flags = flags
		return c
	}
	sec := func() *section.Section {
		return sectionOf("G", hole(simple("1", 40, -40, 0, 1000, 0), 500, 560), simple("2", 40, -39.5, 0, 1000, 2))
	}
	opts := DefaultOptions()
	r := mustCompute(t, sec(), opts)
	pr := &r.Pairs[0]
	if pr.PressureDbar[0] != 560 || len(pr.PressureDbar) != 45 || len(pr.Notes) == 0 ||
		!strings.Contains(pr.Notes[0].Text, "a gap from 500 to 560 dbar: the levels above it") {
		t.Errorf("deepest: %v %v", pr.PressureDbar, pr.Notes)
	}
	if pr.TopUnsampledM < 500 || pr.SurfaceCarriedM != 0 || r.Partial.TopUnsampled != 1 {
		t.Errorf("top: %g m unsampled, %g carried", pr.TopUnsampledM, pr.SurfaceCarriedM)
	}
	opts.Reference = Reference{Kind: AtPressure, PressureDbar: 300}
	r = mustCompute(t, sec(), opts)
	pr = &r.Pairs[0]
	if n := len(pr.PressureDbar); pr.PressureDbar[n-1] != 500 || !strings.Contains(strings.Join(pr.NoteTexts(), ";"),
		"the levels below it") || pr.TriangleSampled {
		t.Errorf("300 dbar: %v %v", pr.PressureDbar[n-1], pr.Notes)
	}
	if !strings.Contains(r.Stations[0].Reason, "nothing below it") || !math.IsNaN(r.Stations[0].DynamicHeight[80]) ||
		math.IsNaN(r.Stations[0].DynamicHeight[10]) {
		t.Errorf("station: %q", r.Stations[0].Reason)
	}
	// A reference inside the gap.
	opts.Reference.PressureDbar = 530
	r = mustCompute(t, sec(), opts)
	if pr := &r.Pairs[0]; pr.ReferenceDbar != 1000 || !strings.Contains(pr.ReferenceFallback, "lies in a gap") ||
		!strings.Contains(r.Stations[0].Reason, "lies in a gap") {
		t.Errorf("530 dbar: %g, %q, %q", pr.ReferenceDbar, pr.ReferenceFallback, r.Stations[0].Reason)
	}
	opts.HeightReferenceDbar = 900
	if s := mustCompute(t, sec(), opts).Stations[0]; !strings.Contains(s.Reason, "nothing above it") ||
		math.IsNaN(s.DynamicHeight[60]) {
		t.Errorf("station re 900 dbar: %q", s.Reason)
	}
	// max_gap replaces the rule.
	none := math.Inf(1)
	opts = DefaultOptions()
	opts.MaxGapDbar = &none
	r = mustCompute(t, sec(), opts)
	if pr := &r.Pairs[0]; pr.PressureDbar[0] != 0 || len(pr.PressureDbar) != 96 {
		t.Errorf("no gap rule: %d levels", len(pr.PressureDbar))
	}
	// A density is found on either side of a gap in one of the casts, whichever comes first.
	for _, x := range []struct{ sigma, from, to float64 }{{27.25, 0, 500}, {27.55, 560, 1000}} {
		opts = DefaultOptions()
		opts.Reference = Reference{Kind: AtDensity, Density: x.sigma}
		there := mustCompute(t, sec(), opts).Pairs[0]
		s := sec()
		s.Casts[0], s.Casts[1] = s.Casts[1], s.Casts[0]
		back := mustCompute(t, s, opts).Pairs[0]
		if there.ReferenceFallback != "" || back.ReferenceFallback != "" ||
			!(there.ReferenceDbar > x.from && there.ReferenceDbar < x.to) || there.ReferenceDbar != back.ReferenceDbar {
			t.Errorf("sigma0 %g: at %g dbar %q, from the other side at %g %q", x.sigma, there.ReferenceDbar,
				there.ReferenceFallback, back.ReferenceDbar, back.ReferenceFallback)
		}
	}
	// The union of staggered bins leaves out what lies in the gap of either.
	odd := simple("3", 40, -39, 5, 1000, 1)
	r = mustCompute(t, sectionOf("G", hole(simple("1", 40, -40, 0, 1000, 0), 500, 560), odd), DefaultOptions())
	pr = &r.Pairs[0]
	if pr.LevelRule != "union of bins" || pr.PressureDbar[0] != 560 || pr.PressureDbar[len(pr.PressureDbar)-1] != 995 {
		t.Errorf("union: %s, %g to %g", pr.LevelRule, pr.PressureDbar[0], pr.PressureDbar[len(pr.PressureDbar)-1])
	}
}

// What section.Build makes of casts at one place is taken as it is: the casts that it left out are listed, and the
// spread of the casts of a mean is an error of it.
func TestRepeats(t *testing.T) {
	hour := func(h int) time.Time { return time.Date(2024, 5, 1, h, 0, 0, 0, time.UTC) }
	a, b, c := simple("1", 40, -40, 0, 1000, 0), simple("2", 40, -39.5, 0, 500, 1), simple("3", 40, -39, 0, 1000, 0)
	b2, b3 := simple("2", 40.005, -39.5, 0, 900, 2), simple("2", 40, -39.501, 0, 900, 3)
	b2.Number, b3.Number, b3.Role = "2", "3", section.Repeat
	for i, x := range []*section.Cast{a, b2, b, b3, c} {
		x.Time = hour(i)
	}
	build := func(rule section.Repeats) *section.Section {
		s, _, err := section.Build([]*section.Cast{a, b, b2, b3, c},
			section.BuildOptions{Name: "REP", Stations: section.StationList{All: true}, Repeats: rule})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	for rule, left := range map[section.Repeats]string{section.First: "1 3", section.Last: "1 2",
		section.MeanOf: "1 2 3"} {
		r := mustCompute(t, build(rule), DefaultOptions())
		var numbers []string
		for _, l := range r.LeftOut {
			numbers = append(numbers, l.Cast.Number)
			if want := map[bool]string{true: "averaged into station 2",
				false: "within 2 km of station 2"}[rule == section.MeanOf]; !strings.HasPrefix(l.Reason, want) {
				t.Errorf("repeats %q: %s", rule, l.Reason)
			}
		}
		if slices.Sort(numbers); len(r.Stations) != 3 || strings.Join(numbers, " ") != left {
			t.Errorf("repeats %q: %d stations, casts %v left out", rule, len(r.Stations), numbers)
		}
	}
	sec := build(section.MeanOf)
	opts := DefaultOptions()
	r := mustCompute(t, sec, opts)
	stations, err := takeStations(&Result{}, sec, &opts)
	if err != nil {
		t.Fatal(err)
	}
	within(t, "mean at the surface", stations[1].profile.CT[0], 4+12, 1e-12)
	within(t, "mean of two at 600 dbar", stations[1].profile.CT[60], 4+12.5*math.Exp(-2), 1e-12)
	// The spread of the casts is an error of their mean: the standard error of three specific volumes, integrated;
	// beside a sensor error of nothing it is the whole error, in the formula and among the members.
	opts.Accuracies = []Accuracy{{CommonFraction: math.NaN()}}
	opts.PositionErrKm = 0
	opts.Members = 400
	q := mustCompute(t, sec, opts)
	sum := 0.0
	before := 0.0
	for x := 0.0; x <= 500; x += 10 {
		var v [3]float64
		for k := range v {
			v[k] = seawater.SpecificVolume(35, 4+(11+float64(k))*math.Exp(-x/300), x)
		}
		m := (v[0] + v[1] + v[2]) / 3
		se := math.Sqrt(((v[0]-m)*(v[0]-m) + (v[1]-m)*(v[1]-m) + (v[2]-m)*(v[2]-m)) / 6)
		if x > 0 {
			sum += 0.5 * 1e5 * (se + before)
		}
		before = se
	}
	pr := &q.Pairs[0]
	top, at500 := pr.PerCastErr[0], pr.PerCastErr[50]
	within(t, "error of the mean above 500 dbar", (top-at500)*math.Abs(pr.CoriolisPerSec)*pr.LengthKm*1e3, sum,
		0.01*sum)
	within(t, "members", pr.MonteCarlo[0], top, 0.1*top)
	if !strings.Contains(strings.Join(r.Notes, ";"), "mean of 3 casts (2 to 3 in a bin)") {
		t.Errorf("notes: %v", r.Notes)
	}
}

func TestBottomAndSurface(t *testing.T) {
	a, b := simple("1", 40, -40, 0, 1000, 0), simple("2", 40, -39.5, 0, 1000, 2)
	a.BottomM, b.BottomM = 1100, 1500
	r := mustCompute(t, sectionOf("B", a, b), DefaultOptions())
	pr := &r.Pairs[0]
	// 992 m deep at 1000 dbar: 108 m are more than 50 and than 3 % of 1100.
	if pr.TriangleSampled || !strings.Contains(strings.Join(pr.NoteTexts(), ";"),
		"unsampled below the deepest common level") ||
		r.Partial.Unsampled != 1 || !strings.Contains(r.Partial.Statement,
		"unsampled below the deepest common level in 1 pair,") {
		t.Errorf("unsampled: %v, %s", pr.Notes, r.Partial.Statement)
	}
	within(t, "area", pr.UnsampledAreaM2, pr.LengthKm*1e3*0.5*(pr.BottomAM+pr.BottomBM), 1)
	for treatment := range Treatments {
		within(t, "no triangle", pr.Triangle[treatment][Volume], 0, 0)
	}
	a.BottomM = 1030
	if pr := mustCompute(t, sectionOf("B", a, b), DefaultOptions()).Pairs[0]; !pr.TriangleSampled ||
		pr.Triangle[ConstantVelocity][Volume] != 0 {
		t.Errorf("a level of no motion at the DCL has no constant-velocity triangle: %v %g", pr.TriangleSampled,
			pr.Triangle[ConstantVelocity][Volume])
	}
	opts := DefaultOptions()
	opts.DeepestBinIsBottom = true
	r = mustCompute(t, sectionOf("B", a, b), opts)
	if pr := &r.Pairs[0]; pr.BottomAM != 0 || pr.BottomBM != 0 || r.Stations[0].BottomFrom != FromDeepestBin {
		t.Errorf("deepest bin: %g %g", pr.BottomAM, pr.BottomBM)
	}
	// A water depth above the deepest bin is a finding.
	a.BottomM = 900
	r = mustCompute(t, sectionOf("B", a, b), DefaultOptions())
	if r.Findings[0].Check != "geostrophy.bottom" || r.Stations[0].BottomFrom != FromDeepestBin {
		t.Errorf("findings: %+v", r.Findings)
	}
	// Without a water depth the altimeter counts.
	a.BottomM = math.NaN()
	hab := section.Column{Variable: metadata.MustVariable("hab"), Decimals: -1, Values: make([]float64, a.Levels())}
	hab.Values[a.Levels()-1] = 12
	a.Columns = append(a.Columns, hab)
	r = mustCompute(t, sectionOf("B", a, b), DefaultOptions())
	if r.Stations[0].BottomFrom != "altimeter" {
		t.Errorf("bottom from %s", r.Stations[0].BottomFrom)
	}
	within(t, "altimeter", r.Pairs[0].BottomAM, 12, 1e-6)

	// Surface: carried from 10 dbar, not from 30; to the base of the ice where it is given.
	c, d := simple("1", -70, -40, 10, 500, 0), simple("2", -70, -39, 10, 500, 1)
	opts = DefaultOptions()
	pr = &mustCompute(t, sectionOf("S", c, d), opts).Pairs[0]
	within(t, "carried", pr.SurfaceCarriedM, -seawater.Height(10, -70), 1e-9)
	opts.IceShelf = true
	if pr := mustCompute(t, sectionOf("S", c, d), opts).Pairs[0]; !strings.Contains(strings.Join(pr.NoteTexts(), ";"),
		"ice") {
		t.Errorf("ice shelf: %v", pr.Notes)
	}
	opts.IceBaseM = 6
	within(t, "ice base", mustCompute(t, sectionOf("S", c, d), opts).Pairs[0].SurfaceCarriedM,
		-seawater.Height(10, -70)-6, 1e-9)
	// Below a thick shelf the 20 dbar count from the base of the ice: it is the top of the water.
	for _, x := range []struct{ base, carried, unsampled float64 }{{310, -seawater.Height(320, -70) - 310, 0},
		{290, 0, -seawater.Height(320, -70) - 290}} {
		opts.IceBaseM = x.base
		r := mustCompute(t, sectionOf("S", simple("1", -70, -40, 320, 600, 0), simple("2", -70, -39, 320, 600, 1)),
			opts)
		within(t, "carried to a shelf", r.Pairs[0].SurfaceCarriedM, x.carried, 1e-9)
		within(t, "unsampled below a shelf", r.Pairs[0].TopUnsampledM, x.unsampled, 1e-9)
		if complete := x.unsampled == 0; r.Partial.Complete() != complete || strings.HasPrefix(r.Partial.Statement,
			"partial: all of 1 pair") == complete {
			t.Errorf("below a shelf: %+v", r.Partial)
		}
	}
	opts = DefaultOptions()
	opts.SurfaceCarryDbar = 5
	pr = &mustCompute(t, sectionOf("S", c, d), opts).Pairs[0]
	if pr.SurfaceCarriedM != 0 || !(pr.TopUnsampledM > 9) {
		t.Errorf("not carried: %g, unsampled %g", pr.SurfaceCarriedM, pr.TopUnsampledM)
	}
}

func TestHeatAndFreshwater(t *testing.T) {
	sec := current(6, 38, 0.1, 0.3)
	opts := DefaultOptions()
	r := mustCompute(t, sec, opts)
	if r.HeatAllowed || !math.IsNaN(r.Total[Heat].Value) || r.HeatWhy == "" {
		t.Errorf("heat without a reference temperature: %v %g", r.HeatAllowed, r.Total[Heat].Value)
	}
	if !(r.ReferenceSalinity > 34.9 && r.ReferenceSalinity < 35.8) {
		t.Errorf("section mean salinity %g", r.ReferenceSalinity)
	}
	// The section mean is that of the water between the stations: of salinity that rises with pressure, over two pairs
	// of other length and depth.
	salty := func(station string, lon, last float64) *section.Cast {
		c := simple(station, 40, lon, 0, last, 0)
		for i, p := range c.PressureDbar {
			c.Column("asal").Values[i] = 34 + p/1000
		}
		return c
	}
	mean := mustCompute(t, sectionOf("M", salty("1", -40, 1000), salty("2", -39, 1000), salty("3", -38.7, 400)),
		DefaultOptions())
	var area, salt float64
	for i, deepest := range []float64{1000, 400} {
		for p := 0.0; p < deepest; p++ {
			a := mean.Pairs[i].LengthKm * (seawater.Height(p, 40) - seawater.Height(p+1, 40))
			area += a
			salt += a * (34 + (p+0.5)/1000)
		}
	}
	within(t, "section mean", mean.ReferenceSalinity, salt/area, 1e-6)

	opts.ReferenceTemperature, opts.ReferenceSalinity = 4, 35
	r = mustCompute(t, sec, opts)
	tot := r.Total
	within(t, "heat", tot[Heat].Value, tot[Temperature].Value-3991.86795711963*4*tot[Mass].Value,
		1e-9*math.Abs(tot[Temperature].Value))
	within(t, "freshwater", tot[Freshwater].Value, tot[Mass].Value-tot[Salt].Value*1e3/35,
		1e-9*math.Abs(tot[Mass].Value))
	within(t, "salt", tot[Salt].Value/tot[Mass].Value*1e3, 35, 1.5)
	within(t, "mass", tot[Mass].Value/tot[Volume].Value, 1028, 5)
	if !r.HeatAllowed {
		t.Error("heat with a reference temperature is not allowed")
	}
	for k := range Kind(Kinds) {
		if k.String() == "" || k.Units() == "" {
			t.Errorf("kind %d without words", k)
		}
	}
}

// Two systems have two common errors; a divided accuracy counts its common part.
func TestSystems(t *testing.T) {
	sec := current(8, 38, 0.1, 0.3)
	opts := DefaultOptions()
	whole := mustCompute(t, sec, opts)
	for i := range whole.Pairs {
		if s := whole.Pairs[i].Transport[Volume]; math.Abs(
			s.Stated*s.Stated-s.PerCast*s.PerCast-s.Position*s.Position) > 1e-6*s.Stated*s.Stated {
			t.Errorf("without a split the stated error is that of single casts and positions: %+v", s)
		}
	}
	opts.Accuracies = []Accuracy{{Salinity: math.NaN(), TemperatureK: math.NaN(), PressureDbar: math.NaN(),
		CommonFraction: 1}}
	common := mustCompute(t, sec, opts)
	for i := range common.Pairs {
		a, b := whole.Pairs[i].Transport[Volume], common.Pairs[i].Transport[Volume]
		within(t, "all common", b.PerCast, 0, 0)
		within(t, "same common figure", b.Common, a.IfCommon, 1e-9*a.IfCommon)
		within(t, "no part is common without a split", a.Common, 0, 0)
		if b.IfCommon == b.IfCommon {
			t.Errorf("an alternative %g where every accuracy is split", b.IfCommon)
		}
		mixed := sec.Casts[i].System != sec.Casts[i+1].System
		if mixed {
			within(t, "between two systems common errors do not cancel", b.Common, a.PerCast, 1e-9*a.PerCast)
		} else if !(b.Common < 0.9*a.PerCast) {
			t.Errorf("pair %d: common %g, per cast %g", i, b.Common, a.PerCast)
		}
	}
	// A quarter of the variance common (the fraction is one of variance): both figures shrink by their root and the
	// stated one holds both.
	opts.Accuracies[0].CommonFraction = 0.25
	quarter := mustCompute(t, sec, opts)
	for i := range quarter.Pairs {
		a, b := whole.Pairs[i].Transport[Volume], quarter.Pairs[i].Transport[Volume]
		within(t, "single part", b.PerCast, math.Sqrt(0.75)*a.PerCast, 1e-9*a.PerCast)
		within(t, "common part", b.Common, math.Sqrt(0.25)*a.IfCommon, 1e-9*a.PerCast)
		within(t, "stated", b.Stated, math.Sqrt(b.PerCast*b.PerCast+b.Common*b.Common+b.Position*b.Position),
			1e-9*a.PerCast)
	}
	// Adjusted to bottles, temperature no longer makes salinity wrong: smaller errors.
	opts.Accuracies = []Accuracy{{Salinity: 0, TemperatureK: 0.001, PressureDbar: 0, CommonFraction: math.NaN(),
		Stage: metadata.StageLaboratory}}
	lab := mustCompute(t, sec, opts)
	opts.Accuracies[0].Stage = metadata.StageAdjusted
	adjusted := mustCompute(t, sec, opts)
	if ratio := lab.Total[Volume].PerCast / adjusted.Total[Volume].PerCast; !(ratio > 3 && ratio < 9) {
		t.Errorf("laboratory over adjusted: %g, about six (science section 8)", ratio)
	}
}

func TestSettings(t *testing.T) {
	sec := current(4, 38, 0.1, 0.3)
	minus := -1.0
	for _, x := range []struct {
		change func(*Options)
		says   string
	}{
		{func(o *Options) { o.Interpolation = interpolate.Akima }, "interpolation akima"},
		{func(o *Options) { o.Positive = "up" }, `positive "up"`},
		{func(o *Options) { o.Reference.Kind = 9 }, "reference kind"},
		{func(o *Options) { o.Reference = Reference{Kind: AtPressure, PressureDbar: -3} }, "-3 dbar"},
		{func(o *Options) { o.Reference = Reference{Kind: AtDensity, Density: 1027} }, "1027"},
		{func(o *Options) { o.SecondReference = &Reference{Kind: AtDensity, Density: 27, SigmaDbar: 500} }, "500 dbar"},
		{func(o *Options) { o.Layers = []float64{0, 100, 100} }, "layers do not increase"},
		{func(o *Options) { o.Classes = []float64{27, 26} }, "classes do not increase"},
		{func(o *Options) { o.Classes, o.ClassSigmaDbar = []float64{27}, 700 }, "700 dbar"},
		{func(o *Options) { o.Triangle = 7 }, "triangles"},
		{func(o *Options) { o.Distance = 7 }, "distance"},
		{func(o *Options) { o.MaxGapDbar = &minus }, "max_gap"},
		{func(o *Options) { o.SurfaceCarryDbar = -1 }, "surface_carry"},
		{func(o *Options) { o.Members = 1 }, "Monte-Carlo"},
		{func(o *Options) { o.Accuracies = []Accuracy{{System: "x", CommonFraction: 2}} }, "system \"x\""},
	} {
		opts := DefaultOptions()
		x.change(&opts)
		if _, err := Compute(sec, opts); !errors.Is(err, ErrSetting) || !strings.Contains(err.Error(), x.says) {
			t.Errorf("%v, want %q", err, x.says)
		}
	}
	if _, err := Compute(sectionOf("ONE", sec.Casts[0]), DefaultOptions()); !errors.Is(err, ErrTooFew) {
		t.Errorf("one station: %v", err)
	}
	// Every setting is in the record, defaults included, in the same order each time.
	opts := currentOptions()
	opts.Members = 10
	opts.MaxGapDbar = &[]float64{100}[0]
	opts.DeepestBinIsBottom = true
	two := DefaultAccuracy()
	two.System, two.Residual = "two", &Residual{PerCast: 0.001, Common: 0.002, From: "bottles"}
	opts.Accuracies = append(opts.Accuracies, two)
	a, b := mustCompute(t, sec, opts), mustCompute(t, sec, opts)
	if fmt.Sprint(a.Params) != fmt.Sprint(b.Params) {
		t.Error("settings differ from run to run")
	}
	text := ""
	var names, explained []string
	for _, p := range a.Params {
		text += p.Label() + " " + p.Value + "; "
		names = append(names, p.Name)
	}
	for _, s := range Settings() {
		explained = append(explained, s.Name)
	}
	if names = slices.Compact(names); !slices.Equal(names, explained) { // an accuracy for each set of sensors
		t.Errorf("settings are %v, explained are %v", names, explained)
	}
	for _, want := range []string{"interpolation pchip", "distance_formula WGS84 geodesic, Karney 2013",
		"max_gap 100 dbar", "monte_carlo_seed 1", "accuracy of one salinity 0.002 g/kg",
		"salinity_error_common_g_kg of two 0.002", "accuracy of two salinity 0.001 g/kg per cast",
		"classes_kg_m3 26.5 27 27.4 27.7", "bottom deepest_bin", "triangle constant_velocity"} {
		if !strings.Contains(text, want) {
			t.Errorf("settings lack %q: %s", want, text)
		}
	}
	// A leg that turns against the line is a finding.
	turn := sectionOf("T", simple("1", 40, -40, 0, 500, 0), simple("2", 40, -39, 0, 500, 1),
		simple("3", 40.3, -39.4, 0, 500, 2), simple("4", 40.4, -38, 0, 500, 2))
	opts = DefaultOptions()
	opts.Positive = "north"
	r := mustCompute(t, turn, opts)
	found := 0
	for _, f := range r.Findings {
		if f.Check == "geostrophy.direction" {
			found++
		}
	}
	if found != 1 {
		t.Errorf("%d findings of a leg that turns", found)
	}
}

func TestSpreadAndAxis(t *testing.T) {
	axis := []float64{1, 2, 3, 4}
	got := Spread(make([]float64, 4), axis, []float64{2, 4}, []float64{7, 8})
	if !math.IsNaN(got[0]) || got[1] != 7 || !math.IsNaN(got[2]) || got[3] != 8 {
		t.Errorf("spread %v", got)
	}
	r := mustCompute(t, sectionOf("A", simple("1", 40, -40, 0, 300, 0), simple("2", 40, -39.5, 0, 300, 1),
		simple("3", 40, -39, 5, 600, 1), simple("4", 40, -38.5, 5, 600, 1)), DefaultOptions())
	for i := range r.Pairs {
		for _, p := range r.Pairs[i].PressureDbar {
			if !contains(r.PressureDbar, []float64{p}) {
				t.Fatalf("axis lacks %g", p)
			}
		}
	}
	for l := 1; l < len(r.PressureDbar); l++ {
		if !(r.PressureDbar[l] > r.PressureDbar[l-1]) {
			t.Fatal("axis does not increase")
		}
	}
	// Bins at true mean pressures, all different: no common axis.
	var casts []*section.Cast
	for k := range 12 {
		c := simple(fmt.Sprint(k), 40, -40+0.5*float64(k), 0.37*float64(k), 600, 0)
		casts = append(casts, c)
	}
	if r := mustCompute(t, sectionOf("A", casts...), DefaultOptions()); r.PressureDbar != nil {
		t.Errorf("axis of %d levels", len(r.PressureDbar))
	}
	// Pairs of equal station names are told apart.
	r = mustCompute(t, sectionOf("D", simple("1", 40, -40, 0, 300, 0), simple("1", 40, -39.5, 0, 300, 1),
		simple("1", 40, -39, 0, 300, 1)), DefaultOptions())
	if !strings.Contains(r.Pairs[0].ID, "99ZZ20240501_00001_00001") {
		t.Errorf("pair %s", r.Pairs[0].ID)
	}
}

// From practical salinity and in-situ temperature, with the rule of lakes, as from the derived columns.
func TestProfileOf(t *testing.T) {
	col := func(name string, x ...float64) section.Column {
		return section.Column{Variable: metadata.MustVariable(name), Decimals: -1, Values: x}
	}
	c := &section.Cast{At: orb.Point{-30, 40}, PressureDbar: []float64{2, 4, 3, 6, 8}, Columns: []section.Column{
		col("pres", 2, 4, 3, 6, 8), col("temp", 10, 9, 9, math.NaN(), 8), col("psal", 35, 35, 35, 35, 35)}}
	pr, err := ProfileOf(c, false)
	if err != nil || len(pr.PressureDbar) != 3 || pr.PressureDbar[2] != 8 || len(pr.Bins) != 4 {
		t.Fatalf("%v %+v", err, pr)
	}
	at := seawater.PlaceOf(-30, 40)
	within(t, "SA", pr.SA[0], at.AbsoluteSalinity(35, 2), 0)
	within(t, "CT", pr.CT[0], seawater.ConservativeTemperature(pr.SA[0], 10, 2), 0)
	c.Lake = true
	if pr, _ := ProfileOf(c, false); pr.SA[0] != seawater.ReferenceSalinity(35) {
		t.Errorf("lake: %g", pr.SA[0])
	}
	c.Columns[1].Flags = []metadata.Flag{metadata.NotCalibrated, 2, 2, 2, 2}
	if pr, _ := ProfileOf(c, false); len(pr.PressureDbar) != 2 {
		t.Errorf("not calibrated: %v", pr.PressureDbar)
	}
	if pr, _ := ProfileOf(c, true); len(pr.PressureDbar) != 3 {
		t.Errorf("not calibrated, declared usable: %v", pr.PressureDbar)
	}
	c.Columns = c.Columns[:1]
	if _, err := ProfileOf(c, false); err == nil || !strings.Contains(err.Error(), "salinity") {
		t.Errorf("no salinity: %v", err)
	}
	c.Columns = append(c.Columns, col("psal", 1, 2, 3, 4, 5))
	if _, err := ProfileOf(c, false); err == nil || !strings.Contains(err.Error(), "temperature") {
		t.Errorf("no temperature: %v", err)
	}
}

func TestDynamicHeightErrors(t *testing.T) {
	nan := math.NaN()
	p, sa, ct := []float64{0, 10, 20, 15, 30}, []float64{35, nan, 35, 35, 35}, []float64{10, 9, 8, 7, 6}
	got, err := DynamicHeight(make([]float64, 5), sa, ct, p, 30, interpolate.Pchip)
	if err != nil || !math.IsNaN(got[1]) || !math.IsNaN(got[3]) || got[4] != 0 || !(got[0] > got[2]) {
		t.Errorf("%v %v", got, err)
	}
	if got, err := DynamicHeight(make([]float64, 5), sa, ct, p, 31, interpolate.Pchip); !errors.Is(err,
		ErrNoReference) || !math.IsNaN(got[0]) {
		t.Errorf("below the last level: %v", err)
	}
	if _, err := DynamicHeight(make([]float64, 1), sa[:1], ct[:1], p[:1], 0, interpolate.Rotated); !errors.Is(err,
		ErrTooFewLevels) {
		t.Errorf("one level: %v", err)
	}
	defer func() {
		if recover() == nil {
			t.Error("slices of different length are accepted")
		}
	}()
	_, _ = DynamicHeight(make([]float64, 2), sa, ct, p, 0, interpolate.Linear)
}

// The thresholds of science section 8, on either side: 60 degrees for a compass word, 90 % of the coarser cast's bins
// for common levels, a first level at 20 dbar for the carry to the surface.
func TestThresholds(t *testing.T) {
	for _, x := range []struct {
		towards float64 // degrees
		north   bool
	}{{88, true}, {32, true}, {28, false}, {148, true}, {152, false}, {212, true}, {208, false}, {-32, true},
		{-28, false}} {
		b := orb.Point{10 + 0.5*math.Sin(x.towards*math.Pi/180), 0.5 * math.Cos(x.towards*math.Pi/180)}
		err := CheckDirection(sectionOf("T", simple("1", 0, 10, 0, 100, 0), simple("2", b[1], b[0], 0, 100, 0)),
			"north")
		if (err == nil) != x.north || err != nil && !errors.Is(err, ErrDirection) {
			t.Errorf("north on a line towards %g: %v", x.towards, err)
		}
	}
	for _, x := range []struct {
		moved int // of 100 bins
		rule  string
	}{{9, "common bins"}, {12, "union of bins"}} {
		a, b := simple("1", 40, -40, 10, 1000, 0), simple("2", 40, -39, 10, 1000, 1)
		for i := range x.moved {
			b.PressureDbar[7*i+3] += 2
		}
		if pr := mustCompute(t, sectionOf("T", a, b), DefaultOptions()).Pairs[0]; pr.LevelRule != x.rule {
			t.Errorf("%d of 100 bins moved: %s", x.moved, pr.LevelRule)
		}
	}
	for _, x := range []struct {
		first   float64
		carried bool
	}{{20, true}, {20.5, false}} {
		pr := mustCompute(t, sectionOf("T", simple("1", 40, -40, x.first, 500, 0),
			simple("2", 40, -39, x.first, 500, 1)), DefaultOptions()).Pairs[0]
		if (pr.SurfaceCarriedM > 0) != x.carried || (pr.TopUnsampledM > 0) == x.carried {
			t.Errorf("first level %g dbar: carried %g m, unsampled %g m", x.first, pr.SurfaceCarriedM, pr.TopUnsampledM)
		}
	}
}
