package gridding

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

var (
	oceanCount = flag.Int("oceans", 5, "invented oceans of each kind that TestKindsOfOcean maps")
	oceanFirst = flag.Int("firstocean", 101, "number of the first; constants are set on oceans from 1001 on")
)

// A contender is one way to map an invented ocean.
type contender struct {
	name string
	opts Options
}

// firstOther is the number of the first contender that is neither default, choose nor rule.
const firstOther = 3

// contenders are the default, choose, what the rule gives, every method, and both shapes with lengths of several
// multiples of the rule's, whose horizontal length is factor station spacings.
func contenders(factor float64) []contender {
	out := []contender{{"default", Options{}}, {"choose", Options{Method: Choose}},
		{"rule", Options{Covariance: Gaussian, Noise: 0.02}}}
	for _, m := range Methods()[1:6] {
		out = append(out, contender{string(m), Options{Method: m}})
	}
	for _, shape := range Covariances() {
		for _, x := range []float64{0.5, 0.7, 1, 1.4, 2} {
			out = append(out, contender{fmt.Sprintf("%s x %g", shape, x), Options{Covariance: shape,
				LengthFactor: factor * x, LengthSteps: ruleSteps * x}})
		}
	}
	return out
}

// An outcome is what one ocean says: the true rms error of temperature of each contender, NaN where it fills little, at
// the points that all others fill and where default and rule have an error variance of at most half the signal's; and
// the share of true errors of the default within two stated ones.
type outcome struct {
	names  []string
	rms    []float64
	within float64
}

func (o *invented) contest() (outcome, error) {
	sec, factor := o.sample(), ruleFactor
	if o.pmax <= shelfDbar {
		factor = shelfFactor
	}
	var out outcome
	var fields [][]float64
	var first, rule *Grid
	for k, c := range contenders(factor) {
		c.opts.Variables, c.opts.StepKm, c.opts.StepDbar = []string{"ctemp", "asal"}, o.long()/32, o.pmax/32
		c.opts.MaxError, c.opts.noSkill = 1, k >= firstOther
		g, _, err := Map(sec, c.opts)
		if err != nil {
			return out, fmt.Errorf("%s %d, %s: %w", o.kind, o.seed, c.name, err)
		}
		switch c.name {
		case "default":
			first = g
		case "rule":
			rule = g
		}
		out.names, fields = append(out.names, c.name), append(fields, g.field("ctemp").Data)
	}
	filled := func(data []float64) (n int) {
		for _, v := range data {
			if !math.IsNaN(v) {
				n++
			}
		}
		return n
	}
	out.rms = make([]float64, len(fields))
	for k := range fields {
		if filled(fields[k]) < filled(fields[0])*4/5 { // where density falls with pressure it has no layers to follow
			out.rms[k] = math.NaN()
		}
	}
	nc := len(first.Axes[1].Values)
	n, in := 0.0, 0.0
	for i := range fields[0] {
		x, p := first.Axes[1].Values[i%nc], first.Axes[0].Values[i/nc]
		ok := x > 0 && x < o.long() && first.field("ctemp_relerr").Data[i] <= 0.5 &&
			rule.field("ctemp_relerr").Data[i] <= 0.5
		for k := range fields {
			ok = ok && (math.IsNaN(out.rms[k]) || !math.IsNaN(fields[k][i]))
		}
		if !ok {
			continue
		}
		n++
		want, _ := o.at(x, p)
		for k := range fields {
			d := fields[k][i] - want
			out.rms[k] += d * d
		}
		if math.Abs(fields[0][i]-want) <= 2*first.field("ctemp_err").Data[i] {
			in++
		}
	}
	if n < 200 {
		return out, fmt.Errorf("%s %d: %g points in common", o.kind, o.seed, n)
	}
	for k := range out.rms {
		out.rms[k] = math.Sqrt(out.rms[k] / n)
	}
	out.within = in / n
	return out, nil
}

// A standing is the outcomes of the oceans of one kind.
type standing []outcome

// ratio returns the median of the rms of contender a over that of contender b.
func (s standing) ratio(a, b int) float64 {
	var v []float64
	for _, o := range s {
		if r := o.rms[a] / o.rms[b]; !math.IsNaN(r) {
			v = append(v, r)
		}
	}
	return median(v)
}

// overBest returns the median rms of contender a over the least median rms of all others.
func (s standing) overBest(a int) float64 {
	of := func(k int) float64 {
		var v []float64
		for _, o := range s {
			if !math.IsNaN(o.rms[k]) {
				v = append(v, o.rms[k])
			}
		}
		return median(v)
	}
	best := math.Inf(1)
	for k := firstOther; k < len(s[0].names); k++ {
		best = math.Min(best, of(k))
	}
	return of(a) / best
}

// overEachBest returns the median of the rms of contender a over the least of all others in the same ocean.
func (s standing) overEachBest(a int) float64 {
	var v []float64
	for _, o := range s {
		best := math.NaN()
		for _, r := range o.rms[firstOther:] {
			best = least(best, r)
		}
		v = append(v, o.rms[a]/best)
	}
	return median(v)
}

// bounds of one kind of ocean: median true rms of the default over the best of all others, over what the rule gives and
// over straight lines, and that of choose over the best.
type bounds struct{ best, rule, linear, choose float64 }

// The bounds hold for 40 oceans of each kind from number 101 on; fewer are held to a tenth more, and two
// stated errors to 85 % of the points instead of 90.
var oceanBounds = map[string]bounds{
	"open":   {best: 1.05, rule: 0.93, linear: 1.02, choose: 1.06},
	"front":  {best: 1.05, rule: 0.96, linear: 1.02, choose: 1.06},
	"strait": {best: 1.05, rule: 1.02, linear: 1.02, choose: 1.06},
	"shelf":  {best: 1.05, rule: 1.02, linear: 1.02, choose: 1.06},
	"sparse": {best: 1.15, rule: 1.00, linear: 1.10, choose: 1.15},
}

// TestKindsOfOcean maps invented oceans of five kinds with every contender.
func TestKindsOfOcean(t *testing.T) {
	for _, kind := range oceanKinds {
		t.Run(kind.name, func(t *testing.T) { kind.hold(t, oceanBounds[kind.name]) })
	}
}

// hold maps the oceans of one kind and compares with its bounds.
func (k oceanKind) hold(t *testing.T, b bounds) {
	count, slack, least := *oceanCount, 1.1, 85.0
	if count >= 40 {
		slack, least = 1, 90
	}
	all, errs := make(standing, count), make([]error, count)
	parallel(count, 2, func(_ *work, i int) {
		all[i], errs[i] = k.number(*oceanFirst + i).contest()
	})
	var within []float64
	for i, err := range errs {
		if err != nil {
			t.Fatal(err)
		}
		within = append(within, all[i].within)
	}
	linear := slices.Index(all[0].names, string(Linear))
	got := bounds{all.overBest(0), all.ratio(0, 2), all.ratio(0, linear), all.overBest(1)}
	share := 100 * median(within)
	t.Logf("%d oceans, medians: default %.3f of the best (%.3f ocean by ocean), %.3f of the rule, %.3f of linear; "+
		"choose %.3f of the best (%.3f); within two stated errors %.1f %%", count, got.best, all.overEachBest(0),
		got.rule, got.linear, got.choose, all.overEachBest(1), share)
	var text strings.Builder
	for i, n := range all[0].names {
		fmt.Fprintf(&text, " %s %.3f", n, all.ratio(i, 2))
	}
	t.Logf("over the rule:%s", text.String())
	if got.best > b.best*slack || got.rule > b.rule*slack || got.linear > b.linear*slack ||
		got.choose > b.choose*slack {
		t.Errorf("%+v, want at most %+v", got, b)
	}
	if share < least || share > 99 {
		t.Errorf("%.1f %% of the points lie within two stated errors, want %g to 99", share, least)
	}
}
