package qc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// line returns n deep casts along a parallel, 30 km and 6 hours apart, of calm water without noise: what is planted is
// what there is.
func line(n int) []*section.Cast {
	var out []*section.Cast
	for i := range n {
		c := calm(1600, 2)
		c.Station, c.Source.Name = fmt.Sprint(i+1), fmt.Sprintf("%d.csv", i+1)
		c.At = orb.Point{-30 + 0.35*float64(i), 40}
		c.BottomM = 3220
		c.Time = time.Date(2026, 1, 2, 0, 0, 0, 0, time.UTC).Add(time.Duration(i) * 6 * time.Hour)
		rng := rand.New(rand.NewPCG(1, uint64(i)))
		for _, name := range []string{"psal", "psal2"} {
			add(c, name, 0, 1e9, 0.00005*rng.NormFloat64()) // waters differ a little
		}
		out = append(out, c)
	}
	return out
}

// add adds v to a variable between two pressures.
func add(c *section.Cast, name string, from, to, v float64) {
	col := c.Column(name)
	for k, p := range c.PressureDbar {
		if p >= from && p <= to {
			col.Values[k] += v
		}
	}
}

func drop(c *section.Cast, name string) {
	c.Columns = slices.DeleteFunc(c.Columns, func(col section.Column) bool { return col.Name == name })
}

// both adds v to the salinity of both sensors.
func both(c *section.Cast, v float64) {
	add(c, "psal", 0, 1e9, v)
	add(c, "psal2", 0, 1e9, v)
}

// What plants something in a cruise.

func plantRepeats(perDay float64) func(*Cruise) {
	return func(c *Cruise) {
		for i := range 5 {
			k := line(1)[0]
			k.Station, k.Number, k.Role = "R", fmt.Sprint(i+1), section.Repeat
			k.Time = k.Time.Add(time.Duration(i) * 48 * time.Hour)
			both(k, perDay*2*float64(i))
			c.Casts = append(c.Casts, k)
		}
	}
}

func plantUp(name string, from, v float64) func(*Cruise) {
	return func(c *Cruise) {
		k := line(1)[0]
		k.Number, k.Direction = "2", section.Up
		add(k, name, from, 1e9, v)
		c.Casts = append(c.Casts, k)
	}
}

func plantCast(i int, f func(*section.Cast)) func(*Cruise) { return func(c *Cruise) { f(c.Casts[i]) } }

func plantSystems(v float64) func(*Cruise) {
	return func(c *Cruise) {
		for _, k := range c.Casts[10:] {
			k.System = "B"
			both(k, v)
		}
	}
}

func plantSecond(from int, v float64) func(*Cruise) {
	return func(c *Cruise) {
		for _, k := range c.Casts[from:] {
			add(k, "psal2", 0, 1e9, v)
		}
	}
}

func plantFlat(swing float64) func(*section.Cast) {
	return func(k *section.Cast) {
		for i := range k.PressureDbar {
			k.Column("oxy").Values[i] = 200 + swing/0.9*(float64(i)/float64(k.Levels())-0.5)
		}
	}
}

func plantTimes(v float64) func(*section.Cast) {
	return func(k *section.Cast) {
		for i := range k.PressureDbar {
			k.Column("oxy").Values[i] *= v
		}
	}
}

func plantClocks(n int, d time.Duration) func(*Cruise) {
	return func(c *Cruise) {
		for i, k := range c.Casts {
			l := Clock{Cast: k, File: k.Time, Log: k.Time}
			if i < n {
				l.Log = l.Log.Add(d)
			}
			c.Clocks = append(c.Clocks, l)
		}
	}
}

func plantAltimeter(m float64) func(*section.Cast) {
	return func(k *section.Cast) {
		col := section.Column{Variable: metadata.MustVariable("hab"), Decimals: 0}
		_, z := deepest(k)
		for range k.PressureDbar {
			col.Values = append(col.Values, k.BottomM-z+m)
		}
		k.Columns = append(k.Columns, col)
	}
}

func plantAgain(m float64) func(*Cruise) {
	return func(c *Cruise) {
		k := line(1)[0]
		k.Number, k.Role, k.BottomM = "2", section.Repeat, k.BottomM+m
		c.Casts = append(c.Casts, k)
	}
}

func plantGrid(m float64) func(*Cruise) {
	return func(c *Cruise) { c.DepthM = func(orb.Point) float64 { return c.Casts[0].BottomM + m } }
}

func plantTook(hours float64) func(*section.Cast) {
	return func(k *section.Cast) {
		col := section.Column{Variable: metadata.MustVariable("etime"), Decimals: 0}
		for i := range k.PressureDbar {
			col.Values = append(col.Values, hours*3600*float64(i)/float64(k.Levels()-1))
		}
		k.Columns = append(k.Columns, col)
	}
}

// cruiseCases are what is just inside and just outside the limit of each check of the cruise.
var cruiseCases = []struct {
	check, cast, variable string
	inside, outside       func(*Cruise)
}{
	{"deep.salinity", "10", "psal", plantCast(9, func(k *section.Cast) { both(k, 0.0028) }), plantCast(9,
		func(k *section.Cast) { both(k, 0.0032) })},
	{"deep.step", "11", "psal", plantSystems(0.0018), plantSystems(0.0023)},
	{"deep.drift", "", "psal", plantRepeats(0.0018 / 8), plantRepeats(0.0022 / 8)},
	{"updown", "1", "psal", plantUp("psal", 1990, 0.0028), plantUp("psal", 0, 0.0045)},
	{"updown", "1", "temp", plantUp("temp", 1990, 0.0028), plantUp("temp", 1990, 0.0032)},
	{"updown", "1", "oxy", plantUp("oxy", 0, 4.2), plantUp("oxy", 0, 5.1)}, // 2 % of about 227
	{"pair.offset", "", "psal", plantSecond(0, 0.0023), plantSecond(0, 0.0026)},
	{"pair.step", "11", "psal", plantSecond(10, 0.0014), plantSecond(10, 0.0016)},
	{"channel.dead", "10", "oxy", plantCast(9, plantFlat(3.1)), plantCast(9, plantFlat(2.9))},
	{"channel.dead", "10", "oxy", plantCast(9, plantTimes(0.52)), plantCast(9, plantTimes(0.48))},
	{"channel.dead", "10", "oxy", plantCast(9, plantTimes(1.29)), plantCast(9, plantTimes(1.31))},
	{"channel.missing", "1", "oxy", func(c *Cruise) {
		for _, k := range c.Casts[:5] { // three quarters have it
			drop(k, "oxy")
		}
	}, plantCast(0, func(k *section.Cast) { drop(k, "oxy") })},
	{"time.zone", "", "", plantClocks(15, 2*time.Hour), plantClocks(16, 2*time.Hour)},
	{"time.zone", "", "", plantClocks(20, 124*time.Minute), plantClocks(20, 122*time.Minute)},
	{"depth", "3", "bottom_depth", plantCast(2, plantAltimeter(31)), plantCast(2, plantAltimeter(34))}, // 1 % of 3220 m
	{"depth", "1", "bottom_depth", plantAgain(31), plantAgain(34)},
	{"depth", "1", "bottom_depth", plantGrid(160), plantGrid(163)},
	{"duration", "2", "etime", plantCast(1, plantTook(11.9)), plantCast(1, plantTook(12.1))},
	{"bottom", "5", "bottom_depth", plantCast(4, func(k *section.Cast) { k.BottomM = 3161 }), plantCast(4,
		func(k *section.Cast) { k.BottomM = 3140 })},
	{"bottom", "5", "pres", plantCast(4, cut(3000)), plantCast(4, cut(2900))},
	{"stations.gap", "", "", func(c *Cruise) { c.Casts = append(c.Casts[:4], c.Casts[9:]...) }, // a quarter is missing
		func(c *Cruise) { c.Casts = append(c.Casts[:4], c.Casts[5:]...) }},
	{"position", "5", "", func(c *Cruise) { c.OnLand = func(at orb.Point) bool { return false } },
		func(c *Cruise) { c.OnLand = func(at orb.Point) bool { return at == c.Casts[4].At } }},
}

// Each check of the cruise finds what is just outside its limit and nothing that is just inside.
func TestEachCheckOfTheCruiseOnBothSidesOfItsLimit(t *testing.T) {
	checks := newChecks(t, nil)
	found := func(change func(*Cruise)) (hit []metadata.Finding) {
		c := &Cruise{Casts: line(20)}
		change(c)
		all := checks.Cruise(c).Findings
		for _, k := range c.Casts {
			all = append(all, checks.Cast(k, Settings{})...)
		}
		return all
	}
	is := func(f metadata.Finding, check, station, variable string) bool {
		want := ""
		if station != "" {
			want = (&section.Cast{Expocode: "ZZQC20260101", Station: station, Number: f.Cast[max(0,
				len(f.Cast)-1):]}).ID()
		}
		return f.Check == check && f.Variable == variable && f.Cast == want
	}
	notes := []string{"depth", "stations.gap"} // some of their findings are notes
	for _, c := range cruiseCases {
		name := c.check + " " + c.variable
		for _, f := range found(c.inside) {
			if is(f, c.check, c.cast, c.variable) &&
				(f.Severity >= metadata.Warning || slices.Contains(notes, c.check)) {
				t.Errorf("%s inside: %+v", name, f)
			}
		}
		i := slices.IndexFunc(found(c.outside), func(f metadata.Finding) bool {
			return is(f, c.check, c.cast, c.variable) &&
				(f.Severity >= metadata.Warning || slices.Contains(notes, c.check))
		})
		if i < 0 {
			t.Errorf("%s outside: not found", name)
		}
	}
	if all := found(func(*Cruise) {}); len(all) > 0 {
		t.Errorf("a calm line: %+v", all)
	}
}

// cut ends a cast at a pressure.
func cut(last float64) func(*section.Cast) {
	return func(k *section.Cast) {
		n := slices.IndexFunc(k.PressureDbar, func(p float64) bool { return p > last })
		for i := range k.Columns {
			col := &k.Columns[i]
			col.Values = col.Values[:n]
			if col.Flags != nil {
				col.Flags = col.Flags[:n]
			}
		}
		k.PressureDbar = k.Column("pres").Values
	}
}

// withBottles returns bottles of every cast, every 200 dbar from 1000 dbar on; sample gives salinity and oxygen of the
// water where the CTD reads sp and o2 at p.
func withBottles(casts []*section.Cast, sample func(i int, p, sp, o2 float64) (float64, float64)) []*section.Bottles {
	b := &section.Bottles{Flagged: true, Source: metadata.Digest{Name: "b.csv"}}
	cols := map[string]*section.BottleColumn{}
	for _, name := range []string{"pres", "temp", "psal", "oxy", "salt_bottle", "oxy_bottle"} {
		b.Columns = append(b.Columns, section.BottleColumn{Variable: metadata.MustVariable(name), Decimals: 4})
	}
	for i := range b.Columns {
		cols[b.Columns[i].Name] = &b.Columns[i]
	}
	for i, c := range casts {
		rng := rand.New(rand.NewPCG(5, uint64(i)))
		for p := 1000.0; p <= 3200; p += 200 {
			k := int(p/2) - 1
			put := func(name string, v float64) { cols[name].Values = append(cols[name].Values, v) }
			sp, o2 := c.Column("psal").Values[k], c.Column("oxy").Values[k]
			put("pres", p)
			put("temp", c.Column("temp").Values[k])
			put("psal", sp)
			put("oxy", o2)
			s, o := sample(i, p, sp, o2)
			put("salt_bottle", s+0.0006*rng.NormFloat64())
			put("oxy_bottle", o+0.4*rng.NormFloat64())
			b.Rows = append(b.Rows, section.Bottle{Expocode: c.Expocode, Station: c.Station, Cast: c.Number,
				Sample: fmt.Sprint(k), Bottle: fmt.Sprint(k),
				Flag: metadata.BottleNoProblem})
		}
	}
	return []*section.Bottles{b}
}

// A salinity offset of 0.004 in one system and an oxygen error of 0.9 % in 1000 dbar are found within three of their
// stated errors, at closure and in the downcast; the clean twin has no finding.
func TestBottlesFindOffsetAndSlope(t *testing.T) {
	cruise := func(offset, slope float64) (*Result, []metadata.Finding) {
		casts := line(24)
		for i, c := range casts {
			c.System = "A"
			if i >= 12 {
				c.System = "B"
				both(c, offset)
			}
			for k, p := range c.PressureDbar {
				c.Column("oxy").Values[k] *= 1 + slope*p/1000
			}
		}
		r := newChecks(t, nil).Cruise(&Cruise{Casts: casts, Bottles: withBottles(casts, func(i int, p, sp,
			o2 float64) (float64, float64) {
			if i >= 12 {
				sp -= offset
			}
			return sp, o2 / (1 + slope*p/1000)
		})})
		return r, slices.DeleteFunc(slices.Clone(r.Findings), func(f metadata.Finding) bool {
			return !strings.HasPrefix(f.Check, "bottles.")
		})
	}
	r, found := cruise(0.004, -0.009)
	near := func(of, variable, system, term string, want float64) {
		t.Helper()
		for _, f := range r.Fits {
			if f.Of != of || f.Variable != variable || f.System != system {
				continue
			}
			for _, m := range f.Terms {
				if m.Name == term {
					if !(math.Abs(m.Value-want) <= 3*m.Error) || m.Error > math.Abs(want)/4 {
						t.Errorf("%s %s %s %s: %g ± %g, want %g", of, variable, system, term, m.Value, m.Error, want)
					}
					return
				}
			}
		}
		t.Errorf("no %s of %s of %s in system %q", term, of, variable, system)
	}
	for _, of := range []string{"bottle minus CTD at closure", "bottle minus downcast"} {
		near(of, "psal", "B", "offset", -0.004)
		near(of, "psal", "", "system B", -0.004)
		near(of, "oxy", "A", "pressure", 0.009*229) // of about 229 umol/kg
	}
	var words []string
	for _, f := range found {
		if f.Severity >= metadata.Warning {
			words = append(words, f.Variable)
		}
	}
	if !slices.Contains(words, "psal") || !slices.Contains(words, "oxy") {
		t.Errorf("%+v", found)
	}
	if _, found = cruise(0, 0); len(found) > 0 {
		t.Errorf("clean twin: %s %s %s", found[0].Severity, found[0].Check, found[0].Message)
	}
}

// The salinity of the bottle itself must not say which level of the downcast it is compared with: an offset of 0.0040
// would be found as 0.0056.
func TestMatchUsesTheClosureOfTheCTD(t *testing.T) {
	c := line(1)[0]
	s := &survey{Checks: newChecks(t, nil), Cruise: &Cruise{}, levels: map[levelKey][]int{}}
	d := s.downcast(c)
	for _, p := range []float64{300, 700, 1200, 1900, 2500} {
		k := int(p/2) - 1
		got, how := d.match(p, c.Column("temp").Values[k], c.Column("psal").Values[k])
		if math.Abs(got-p) > 0.01 || (how == ByDensity) != (p < byPressureDbar) {
			t.Errorf("%g dbar: %g by %v", p, got, how)
		}
	}
	if _, how := d.match(700, math.NaN(), 35); how != Unmatched {
		t.Error("a closure without temperature is matched")
	}
	if _, how := d.match(700, 15, 35); how != Unmatched {
		t.Error("water of another depth is matched")
	}
}

// The sensor that agrees better is named only when the offsets differ by more than twice their error.
func TestAgreement(t *testing.T) {
	for _, c := range []struct {
		first, second, e float64
		want             string
	}{{0.0002, 0.0040, 0.0005, "psal"}, {-0.0040, 0.0002, 0.0005, "psal2"}, {0.0002, 0.0012, 0.0005, ""}, {0.001,
		-0.001, 0.0001, ""}} {
		if got := agreement("psal", "", Term{Value: c.first, Error: c.e}, Term{Value: c.second,
			Error: c.e}).Better; got != c.want {
			t.Errorf("%+v: %q", c, got)
		}
	}
}

// Each term of a fit is a finding just outside its target and none just inside.
func TestTermsOfFitsOnBothSidesOfTheirTargets(t *testing.T) {
	casts := line(24)
	for i, c := range casts { // two casts a day, by turns out and back, so that station and time can be told apart
		c.Time = casts[0].Time.Add(time.Duration((i*7)%24) * 12 * time.Hour)
	}
	const target = 0.002
	for _, c := range []struct {
		term            string
		y               func(d *datum) float64
		oxygen, systems bool
		target          float64
	}{
		{"offset", func(*datum) float64 { return 1 }, false, false, target},
		{"pressure", func(d *datum) float64 { return (d.pDbar - 2000) / 1000 }, false, false, target},
		{"station", func(d *datum) float64 { return float64(d.station) / 30 }, false, false, target},
		{"time", func(d *datum) float64 { return days(casts[0], d.cast) / 11.5 }, false, false, target},
		{"oxygen", func(d *datum) float64 { return d.oxygen / 100 }, true, false, 1},
		{"system B", func(d *datum) float64 { return map[string]float64{"B": 1}[d.cast.System] }, false, true, target},
	} {
		for _, part := range []float64{0.95, 1.05} {
			s := &survey{Checks: newChecks(t, nil), Cruise: &Cruise{}}
			rng := rand.New(rand.NewPCG(3, 4))
			var data []datum
			for i, k := range casts {
				k.System = "A"
				if c.systems && i%2 == 1 {
					k.System = "B"
				}
				for p := 1000.0; p <= 3000; p += 500 {
					d := datum{pDbar: p, oxygen: 200 + 40*rng.NormFloat64(), cast: k, station: i}
					d.y = part*c.target*c.y(&d) + 0.02*c.target*rng.NormFloat64()
					data = append(data, d)
				}
			}
			f, ok := fit(data, columns(data, target, c.systems, c.oxygen), 1e-4, 0.001)
			if !ok {
				t.Fatal("no fit")
			}
			name, _, _ := strings.Cut(c.term, " ")
			f.Terms = slices.DeleteFunc(f.Terms, func(m Term) bool { return m.Name != c.term })
			f.Variable = "psal"
			s.judge("bottles", []Fitting{f}, "", "")
			found := s.result.Findings
			if outside := part > 1; (len(found) == 1) != outside || outside && (found[0].Check != "bottles."+name ||
				found[0].Severity != metadata.Warning) {
				t.Errorf("%s at %g of its target: %+v", c.term, part, found)
			}
		}
	}
}
