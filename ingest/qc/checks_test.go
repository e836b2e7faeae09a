package qc

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// calm returns a cast of n bins without a fault: stratified, noise below every limit.
func calm(n int, step float64) *section.Cast {
	c := &section.Cast{Expocode: "ZZQC20260101", Station: "1", Number: "1", At: orb.Point{-30, 40}, BottomM: 4000}
	cols := map[string][]float64{}
	for k := range n {
		p := step * float64(k+1)
		wiggle := math.Sin(1.7*float64(k)) * 0.3
		t := 3 + 12*math.Exp(-p/500) + 0.0008*wiggle
		s := 34.8 + 0.6*math.Exp(-p/600) + 0.0004*wiggle
		for name, v := range map[string]float64{"pres": p, "temp": t, "temp2": t + 0.0004, "psal": s,
			"psal2": s + 0.0006, "oxy": 230 - 20*math.Exp(-p/300) + 0.2*wiggle,
			"nobs": 24 * step} {
			cols[name] = append(cols[name], v)
		}
	}
	for _, name := range []string{"pres", "temp", "psal", "oxy", "temp2", "psal2", "nobs"} {
		col := section.Column{Variable: metadata.MustVariable(name), Decimals: 6, Values: cols[name]}
		if name != "nobs" {
			col.Flags = slices.Repeat([]metadata.Flag{metadata.Acceptable}, n)
		}
		c.Columns = append(c.Columns, col)
	}
	c.PressureDbar = c.Columns[0].Values
	return c
}

// Changes of a cast.

func setAt(name string, level int, v float64) func(*section.Cast) {
	return func(c *section.Cast) { c.Column(name).Values[level] = v }
}

func addAt(name string, level int, v float64) func(*section.Cast) {
	return func(c *section.Cast) { c.Column(name).Values[level] += v }
}

func allOf(fs ...func(*section.Cast)) func(*section.Cast) {
	return func(c *section.Cast) {
		for _, f := range fs {
			f(c)
		}
	}
}

// noNoise makes water without noise, so that the floor decides.
func noNoise(c *section.Cast) {
	for _, name := range []string{"temp", "psal", "oxy"} {
		for k, p := range c.PressureDbar {
			c.Column(name).Values[k] = map[string]float64{"temp": 10, "psal": 35, "oxy": 200}[name] - 0.002*p
		}
	}
}

func atPoint(lon, lat float64) func(*section.Cast) {
	return func(c *section.Cast) { c.At = orb.Point{lon, lat} }
}

// cold makes water of 1 degC but for level 10.
func cold(v float64) func(*section.Cast) {
	return func(c *section.Cast) {
		for k := range c.PressureDbar {
			c.Column("temp").Values[k], c.Column("psal").Values[k] = 1, 34+0.001*float64(k)
		}
		c.Column("temp").Values[10] = v
	}
}

// warm makes water of one temperature.
func warm(v float64) func(*section.Cast) {
	return func(c *section.Cast) {
		for k := range c.PressureDbar {
			c.Column("temp").Values[k] = v
		}
	}
}

// absolute returns the Absolute Salinity at 30 W 40 N.
func absolute(sp, p float64) float64 {
	at := seawater.PlaceOf(-30, 40)
	return at.AbsoluteSalinity(sp, p)
}

// frozen is the freezing point of level 10 of cold water, saturated the oxygen that water of level 60 of calm holds in
// solution.
var (
	frozen    = seawater.FreezingInSitu(absolute(34.01, 22), 22, seawater.AirSaturated)
	saturated = func() float64 {
		c := calm(100, 2)
		sp, t, p := c.Column("psal").Values[60], c.Column("temp").Values[60], c.PressureDbar[60]
		return seawater.OxygenSolubility(sp, seawater.PotentialTemperature(absolute(sp, p), t, p))
	}()
)

// castCases are what is just inside and just outside the limit of each check of a cast.
var castCases = []struct {
	check, variable string
	inside, outside func(*section.Cast)
	flag            metadata.Flag
	level           int
}{
	{"range.global", "temp", setAt("temp", 50, 39.99), setAt("temp", 50, 40.01), metadata.Bad, 50},
	{"range.global", "psal", setAt("psal", 50, 40.99), setAt("psal", 50, 41.01), metadata.Bad, 50},
	{"range.global", "psal", allOf(setAt("psal", 50, 1.5), func(c *section.Cast) { c.BottomM = 199 }), setAt("psal",
		50, 1.99), metadata.Bad, 50},
	{"range.global", "oxy", setAt("oxy", 50, 599), setAt("oxy", 50, 601), metadata.Bad, 50},
	{"range.regional", "psal", allOf(atPoint(15, 38), setAt("psal", 50, 39.99)), allOf(atPoint(15, 38), setAt("psal",
		50, 40.01)), metadata.Questionable, 50},
	{"freezing", "temp", cold(frozen - 0.019), cold(frozen - 0.021), metadata.Questionable, 10},
	{"pressure.order", "pres", setAt("pres", 20, 41), setAt("pres", 20, 40), metadata.Bad, 20},
	{"spike", "temp", addAt("temp", 100, 5.9), addAt("temp", 100, 6.1), metadata.Questionable, 100},
	{"spike", "psal", addAt("psal", 100, 0.87), addAt("psal", 100, 0.93), metadata.Questionable, 100},
	{"spike", "temp", addAt("temp", 500, -1.97), addAt("temp", 500, -2.03), metadata.Questionable, 500},
	{"gradient", "temp", addAt("temp", 100, -8.9), addAt("temp", 100, -9.1), metadata.Questionable, 100},
	{"gradient", "psal", addAt("psal", 100, 1.45), addAt("psal", 100, 1.55), metadata.Questionable, 100},
	{"spike.bin", "temp", allOf(noNoise, addAt("temp", 100, 0.098)), allOf(noNoise, addAt("temp", 100, 0.102)),
		metadata.Questionable, 100},
	{"spike.bin", "psal", allOf(noNoise, addAt("psal", 100, -0.0195)), allOf(noNoise, addAt("psal", 100, -0.0205)),
		metadata.Questionable, 100},
	{"spike.bin", "psal", allOf(noNoise, addAt("psal", 900, 0.0048)), allOf(noNoise, addAt("psal", 900, 0.0052)),
		metadata.Questionable, 900},
	{"spike.bin", "oxy", allOf(noNoise, addAt("oxy", 900, 1.9)), allOf(noNoise, addAt("oxy", 900, 2.1)),
		metadata.Questionable, 900},
	{"surface", "psal", addAt("psal", 0, 0.045), addAt("psal", 0, 0.06), metadata.Questionable, 0},
	{"oxygen.lag", "oxy", setAt("oxy", 60, 0), setAt("oxy", 60, -0.5), metadata.Questionable, 60},
	{"oxygen.lag", "oxy", setAt("oxy", 60, saturated*1.49), setAt("oxy", 60, saturated*1.51), metadata.Questionable,
		60},
	{"range.global", "pres", setAt("pres", 0, -4.9), setAt("pres", 0, -5.1), metadata.Bad, 0},
	{"range.regional", "temp", allOf(atPoint(38, 20), warm(21.8)), allOf(atPoint(38, 20), warm(21.6)),
		metadata.Questionable, 50},
	{"counts", "temp", setAt("nobs", 60, 15), setAt("nobs", 60, 14), metadata.Questionable, 60},
	{"dual", "psal", shift("psal2", 850, 950, 0.0022), shift("psal2", 850, 950, 0.0026), metadata.Questionable,
		900},
	{"dual", "temp", shift("temp2", 300, 420, 0.0054), shift("temp2", 300, 420, 0.0058), metadata.Questionable,
		360},
	{"inversion", "psal", tip(300, 0.005), tip(300, 0.02), metadata.Questionable, 300},
	{"inversion", "psal", tip(50, 0.02), tip(50, 0.06), metadata.Bad, 50},
	{"stuck", "psal", hold("psal", 300, 300), hold("psal", 300, 990), metadata.Questionable, 500}, // most of the cast
	{"stuck", "temp", hold("temp", 200, 209), hold("temp", 200, 210), metadata.Questionable, 205},
}

// Each check proposes just outside its limit and nothing just inside it.
func TestEachCheckOnBothSidesOfItsLimit(t *testing.T) {
	checks := newChecks(t, nil)
	for _, c := range castCases {
		t.Run(c.check+" "+c.variable+fmt.Sprint(" ", c.level), func(t *testing.T) {
			in, out := calm(1000, 2), calm(1000, 2)
			c.inside(in)
			c.outside(out)
			for _, f := range checks.Cast(in, Settings{}) {
				if f.Check == c.check && f.Variable == c.variable {
					t.Errorf("inside: %+v", f)
				}
			}
			i := slices.IndexFunc(checks.Cast(out, Settings{}),
				func(f metadata.Finding) bool { return f.Check == c.check && f.Variable == c.variable })
			if i < 0 {
				t.Fatal("outside: no finding")
			}
			if got := out.Column(c.variable).Proposed[c.level]; got != c.flag &&
				!(c.flag == metadata.Questionable && got == metadata.Bad) {
				t.Errorf("proposed %v, want %v", got, c.flag)
			}
		})
	}
}

// shift adds v to a column from one level to another.
func shift(name string, from, to int, v float64) func(*section.Cast) {
	return func(c *section.Cast) {
		for k := from; k <= to; k++ {
			c.Column(name).Values[k] += v
		}
	}
}

// tip makes all water above a level saltier, so that density falls downward there by about v kg/m3 more than the
// stratification.
func tip(level int, v float64) func(*section.Cast) {
	return func(c *section.Cast) {
		for k := range c.PressureDbar {
			c.Column("temp").Values[k], c.Column("psal").Values[k] = 5-0.0003*float64(k), 35+0.0002*float64(k)
			if k < level {
				c.Column("psal").Values[k] += v / 0.78
			}
		}
		c.Column("psal2").Values, c.Column("temp2").Values = c.Column("psal").Values, c.Column("temp").Values
	}
}

// hold repeats a value from one level up to, not with, another.
func hold(name string, from, to int) func(*section.Cast) {
	return func(c *section.Cast) {
		for k := from; k < to; k++ {
			c.Column(name).Values[k] = c.Column(name).Values[from]
		}
		for k := from; k < to; k++ {
			c.Column(name).Decimals = 6
		}
	}
}

func TestCalmCastHasNoFinding(t *testing.T) {
	if f := newChecks(t, nil).Cast(calm(1500, 2), Settings{}); len(f) > 0 {
		t.Errorf("%+v", f)
	}
}

// Values of the originator are left as they are, flagged ones get no proposal, and a proposal is never better than
// the flag.
func TestNothingIsAltered(t *testing.T) {
	c := calm(300, 2)
	for k := 100; k < 104; k++ {
		c.Column("psal").Values[k] += 3
		c.Column("psal").Flags[k] = metadata.Bad
	}
	c.Column("temp").Values[150] = 55
	want := calm(300, 2)
	for k := 100; k < 104; k++ {
		want.Column("psal").Values[k] += 3
	}
	want.Column("temp").Values[150] = 55
	for _, f := range newChecks(t, nil).Cast(c, Settings{}) {
		if f.Variable == "psal" && f.First <= 208 && f.Last >= 202 {
			t.Errorf("a flagged value has a proposal: %+v", f)
		}
	}
	for i := range c.Columns {
		if !slices.Equal(c.Columns[i].Values, want.Columns[i].Values) {
			t.Errorf("%s changed", c.Columns[i].Name)
		}
	}
	if c.Column("temp").Flags[150] != metadata.Acceptable || c.Column("temp").Proposed[150] != metadata.Bad {
		t.Error("flag changed, or no proposal")
	}
}

func newChecks(t *testing.T, thresholds map[string]float64) *Checks {
	t.Helper()
	c, err := New(thresholds)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestThresholdsCanBeReplaced(t *testing.T) {
	of := func(thresholds map[string]float64) bool {
		c := calm(300, 2)
		c.Column("temp").Values[100] += 0.4
		return slices.ContainsFunc(newChecks(t, thresholds).Cast(c, Settings{}), func(f metadata.Finding) bool {
			return f.Check == "spike.bin" && f.Variable == "temp"
		})
	}
	if !of(nil) || of(map[string]float64{"spike.bin.temp_upper": 0.5}) {
		t.Error("a threshold does not replace the default")
	}
	if _, err := New(map[string]float64{"spike.bin.temp_uper": 1}); err == nil || !strings.Contains(err.Error(),
		"did you mean spike.bin.temp_upper") {
		t.Error("an unknown threshold:", err)
	}
}

// Every rule has an identifier of its own, words and a source, every threshold has words, and the checks ask for no
// threshold that is not in the table.
func TestTableOfRules(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range Rules() {
		if r.ID == "" || r.Does == "" || r.Source == "" || seen[r.ID] {
			t.Errorf("%+v", r)
		}
		seen[r.ID] = true
		if s := r.String(); !strings.HasPrefix(s, r.ID+": ") || !strings.HasSuffix(s, ")") {
			t.Error(s)
		}
		for _, l := range r.Thresholds {
			if l.Does == "" {
				t.Errorf("%s.%s has no words", r.ID, l.Name)
			}
		}
	}
}
