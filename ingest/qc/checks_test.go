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

// Each check proposes just outside its limit and nothing just inside it.
func TestEachCheckOnBothSidesOfItsLimit(t *testing.T) {
	set := func(name string, level int, v float64) func(*section.Cast) {
		return func(c *section.Cast) { c.Column(name).Values[level] = v }
	}
	add := func(name string, level int, v float64) func(*section.Cast) {
		return func(c *section.Cast) { c.Column(name).Values[level] += v }
	}
	both := func(fs ...func(*section.Cast)) func(*section.Cast) {
		return func(c *section.Cast) {
			for _, f := range fs {
				f(c)
			}
		}
	}
	spikes := func(c *section.Cast) { // water without noise, so that the floor decides
		for _, name := range []string{"temp", "psal", "oxy"} {
			for k, p := range c.PressureDbar {
				c.Column(name).Values[k] = map[string]float64{"temp": 10, "psal": 35, "oxy": 200}[name] - 0.002*p
			}
		}
	}
	atPoint := func(lon, lat float64) func(*section.Cast) {
		return func(c *section.Cast) { c.At = orb.Point{lon, lat} }
	}
	cold := func(v float64) func(*section.Cast) {
		return func(c *section.Cast) {
			for k := range c.PressureDbar {
				c.Column("temp").Values[k], c.Column("psal").Values[k] = 1, 34+0.001*float64(k)
			}
			c.Column("temp").Values[10] = v
		}
	}
	const levelDbar = 22 // of level 10
	frozen := seawater.FreezingInSitu(seawater.AbsoluteSalinity(34.01, levelDbar, -30, 40), levelDbar,
		seawater.AirSaturated)
	cases := []struct {
		check, variable string
		inside, outside func(*section.Cast)
		flag            metadata.Flag
		level           int
	}{
		{"range.global", "temp", set("temp", 50, 39.99), set("temp", 50, 40.01), metadata.Bad, 50},
		{"range.global", "psal", set("psal", 50, 40.99), set("psal", 50, 41.01), metadata.Bad, 50},
		{"range.global", "psal", both(set("psal", 50, 1.5), func(c *section.Cast) { c.BottomM = 199 }), set("psal",
			50, 1.99), metadata.Bad, 50},
		{"range.global", "oxy", set("oxy", 50, 599), set("oxy", 50, 601), metadata.Bad, 50},
		{"range.regional", "psal", both(atPoint(15, 38), set("psal", 50, 39.99)), both(atPoint(15, 38), set("psal",
			50, 40.01)), metadata.Questionable, 50},
		{"freezing", "temp", cold(frozen - 0.019), cold(frozen - 0.021), metadata.Questionable, 10},
		{"pressure.order", "pres", set("pres", 20, 41), set("pres", 20, 40), metadata.Bad, 20},
		{"spike", "temp", add("temp", 100, 5.9), add("temp", 100, 6.1), metadata.Questionable, 100},
		{"gradient", "psal", add("psal", 100, 1.45), add("psal", 100, 1.55), metadata.Questionable, 100},
		{"spike.bin", "temp", both(spikes, add("temp", 100, 0.098)), both(spikes, add("temp", 100, 0.102)),
			metadata.Questionable, 100},
		{"spike.bin", "psal", both(spikes, add("psal", 100, -0.0195)), both(spikes, add("psal", 100, -0.0205)),
			metadata.Questionable, 100},
		{"spike.bin", "psal", both(spikes, add("psal", 900, 0.0048)), both(spikes, add("psal", 900, 0.0052)),
			metadata.Questionable, 900},
		{"spike.bin", "oxy", both(spikes, add("oxy", 900, 1.9)), both(spikes, add("oxy", 900, 2.1)),
			metadata.Questionable, 900},
		{"surface", "psal", add("psal", 0, 0.045), add("psal", 0, 0.06), metadata.Questionable, 0},
		{"oxygen.lag", "oxy", set("oxy", 60, 0), set("oxy", 60, -0.5), metadata.Questionable, 60},
		{"counts", "temp", set("nobs", 60, 15), set("nobs", 60, 14), metadata.Questionable, 60},
		{"dual", "psal", shift("psal2", 850, 950, 0.0022), shift("psal2", 850, 950, 0.0026), metadata.Questionable,
			900},
		{"dual", "temp", shift("temp2", 300, 420, 0.0054), shift("temp2", 300, 420, 0.0058), metadata.Questionable,
			360},
		{"inversion", "psal", tip(300, 0.005), tip(300, 0.02), metadata.Questionable, 300},
		{"inversion", "psal", tip(50, 0.02), tip(50, 0.06), metadata.Bad, 50},
		{"stuck", "temp", hold("temp", 200, 209), hold("temp", 200, 210), metadata.Questionable, 205},
	}
	checks := newChecks(t, nil)
	for _, c := range cases {
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

// Every rule has an identifier of its own, words and a source, and the checks ask for no threshold that is not in
// the table.
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
	}
}
