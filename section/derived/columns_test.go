package derived

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/checkvalues"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

func parse(t testing.TB, s string) float64 {
	t.Helper()
	if s == "" {
		return math.NaN()
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func measured(name string, x []float64, flags ...metadata.Flag) section.Column {
	c := section.Column{Variable: metadata.MustVariable(name), Decimals: -1, Values: x}
	if flags != nil {
		c.Flags = flags
	}
	return c
}

func newCast(lon, lat float64, columns ...section.Column) *section.Cast {
	return &section.Cast{Expocode: "99ZZ20240501", Station: "1", Number: "1", At: orb.Point{lon, lat},
		BottomM:      math.NaN(),
		PressureDbar: columns[0].Values, Columns: columns}
}

// Source of the numbers: teos10_check_casts.csv. Tolerances: science section 13; the published ones where they are
// wider.
func TestColumnsOfCheckCasts(t *testing.T) {
	rows := checkvalues.Table(t, "teos10_check_casts.csv")
	for n := 1; n <= 3; n++ {
		var mine []map[string]string
		var p, sp, temp, o2 []float64
		for _, row := range rows {
			if row["cast"] == strconv.Itoa(n) {
				mine = append(mine, row)
				p, sp, temp = append(p, parse(t, row["p"])), append(sp, parse(t, row["SP"])),
					append(temp, parse(t, row["t"]))
				o2 = append(o2, 200)
			}
		}
		c := newCast(section.Wrap180(parse(t, mine[0]["lon"])), parse(t, mine[0]["lat"]), measured("pres", p),
			measured("temp", temp), measured("psal", sp), measured("oxy", o2))
		findings, err := Columns(c, Options{Extra: Extras()}, nil)
		if err != nil || len(findings) != 0 {
			t.Fatal(err, findings)
		}
		if err := c.Validate(); err != nil {
			t.Fatal(err)
		}
		for _, x := range []struct {
			name, column string
			tol          float64
		}{
			{"asal", "SA_from_SP", 5e-9}, {"ctemp", "CT_from_t", 6.3e-10}, {"ptemp", "pt0_from_t", 6.1e-10},
			{"sigma0", "sigma0", 2e-9},
			{"spice0", "spiciness0", 4e-9}, {"sigma2", "sigma2", 2e-9}, {"sigma4", "sigma4", 2e-9},
			{"dens", "rho", 2e-9},
			{"specvol_anom", "specvol_anom_standard", 2e-15},
		} {
			col := c.Column(x.name)
			for i, row := range mine {
				if want := parse(t, row[x.column]); !(math.Abs(col.Values[i]-want) <= x.tol) {
					t.Errorf("cast %d %s at %s dbar: %.12g, want %.12g", n, x.name, row["p"], col.Values[i], want)
				}
			}
			if !col.Derived || col.Comment == "" || col.References == "" || col.LongName == "" || col.Units == "" {
				t.Errorf("%s is not described: %+v", x.name, col.Variable)
			}
		}
		for i, row := range mine {
			sol := parse(t, row["O2sol_SP_pt"])
			if got := c.Column("oxysat").Values[i]; !(math.Abs(got-100*200/sol) <= 1e-7) {
				t.Errorf("saturation %g", got)
			}
			if got := c.Column("aou").Values[i]; !(math.Abs(got-(sol-200)) <= 1e-7) {
				t.Errorf("utilization %g", got)
			}
			if got, want := c.Column("depth").Values[i], -parse(t, row["z_from_p"]); !(math.Abs(got-want) <= 1e-7) {
				t.Errorf("depth %g, want %g", got, want)
			}
			// Exact speed of sound: science section 5, 0.15 m/s from the polynomial at most.
			if got := c.Column("sound_speed").Values[i]; !(math.Abs(got-parse(t, row["sound_speed"])) <= 0.15) {
				t.Errorf("speed of sound %g", got)
			}
		}
	}
}

// A derived value that is missing although its inputs are usable is flagged as not sampled: n2 at the ends and beside a
// gap, everything of Absolute Salinity outside the atlas of anomalies, and values outside the range of an equation. No
// flag that claims a value is beside a missing one.
func TestMissingDerivedValuesAreFlagged(t *testing.T) {
	const F = metadata.Acceptable
	flags := func(n int, f metadata.Flag) []metadata.Flag {
		out := make([]metadata.Flag, n)
		for i := range out {
			out[i] = f
		}
		return out
	}
	p := []float64{0, 100, 200, 1000, 1100, 1200, 1300} // a gap leaves two ends more
	temp, psal, oxy := []float64{10, 9, 8, 5, 4, 3, 2}, []float64{35, 35, 35, 35, 35, 35, 35},
		[]float64{200, 200, 200, 200, 200, 200, 200}
	for _, f := range []metadata.Flag{F, metadata.Interpolated, metadata.Despiked, metadata.NotEvaluated} {
		for _, lat := range []float64{40, -88} { // 88 S is outside the atlas
			ones := flags(len(p), f)
			ones[0] = F // a column is flagged when one value is
			c := newCast(-30, lat, measured("pres", p, ones...), measured("temp", temp, ones...),
				measured("psal", psal, ones...), measured("oxy", oxy, ones...))
			if _, err := Columns(c, Options{Extra: Extras()}, nil); err != nil {
				t.Fatal(err)
			}
			missing := 0
			for _, col := range c.Columns {
				for i, v := range col.Values {
					if v != v {
						missing++
					}
					if col.Derived && (v != v) != (col.Flags[i] == metadata.NotSampled) {
						t.Errorf("latitude %g, inputs flagged %d: %s at %g dbar is %g with flag %d", lat, f, col.Name,
							p[i], v, col.Flags[i])
					}
				}
			}
			if n2 := c.Column("n2"); missing == 0 || n2.Values[0] == n2.Values[0] {
				t.Errorf("latitude %g: %d missing values; n2 %v", lat, missing, n2.Values)
			}
		}
	}
}

// A value that is not usable gives none, carries its flag, and leaves the measured columns alone.
func TestFlagsAreCarried(t *testing.T) {
	const F = metadata.Acceptable
	nan := math.NaN()
	temp := []float64{10, 9, 8, 7, nan, 5}
	c := newCast(-30, 40,
		measured("pres", []float64{0, 2, 4, 6, 8, 10}, F, F, F, F, F, F),
		measured("temp", temp, F, metadata.Interpolated, F, F, metadata.NotSampled, F),
		measured("psal", []float64{35, 35, 35, 35, 35, 35}, F, metadata.Despiked, metadata.Bad, metadata.NotCalibrated,
			F, metadata.NotEvaluated),
		measured("oxy", []float64{200, 200, 200, 200, 200, 200}, F, metadata.Questionable, F, F, F, F))
	if _, err := Columns(c, Options{}, nil); err != nil {
		t.Fatal(err)
	}
	want := []metadata.Flag{F, metadata.Interpolated, metadata.Bad, metadata.NotCalibrated, metadata.NotSampled,
		metadata.NotEvaluated}
	has := []bool{true, true, false, false, false, true}
	for _, name := range []string{"asal", "ctemp", "ptemp", "sigma0", "spice0", "sound_speed"} {
		col := c.Column(name)
		for i := range want {
			if name == "asal" && (i == 4 || i == 1) { // temperature is no input of it
				if col.Flags[i] != c.Column("psal").Flags[i] || col.Values[i] != col.Values[i] {
					t.Errorf("asal where only temperature is missing: %v %g", col.Flags[i], col.Values[i])
				}
				continue
			}
			if col.Flags[i] != want[i] || (col.Values[i] == col.Values[i]) != has[i] {
				t.Errorf("%s level %d: flag %v, value %g", name, i, col.Flags[i], col.Values[i])
			}
		}
		if !strings.Contains(col.Comment, "not evaluated") {
			t.Errorf("%s does not say that unevaluated values were used: %s", name, col.Comment)
		}
	}
	if sat := c.Column("oxysat"); sat.Flags[1] != metadata.Questionable || sat.Values[1] == sat.Values[1] {
		t.Errorf("saturation from questionable oxygen: %v %g", sat.Flags[1], sat.Values[1])
	}
	if c.Column("temp").Values[3] != 7 || c.Column("psal").Flags[2] != metadata.Bad {
		t.Error("a measured column was changed")
	}
	if d := c.Column("depth"); d.Flags[2] != F {
		t.Errorf("depth carries %v", d.Flags[2])
	}
	// Declared usable, the uncalibrated level has values.
	if _, err := Columns(c, Options{NotCalibratedUsable: true}, nil); err != nil {
		t.Fatal(err)
	}
	if v := c.Column("sigma0").Values[3]; v != v {
		t.Error("declared usable, but no value")
	}
}

// Called twice, with the same workspace, the columns and their bits are the same and none is added.
func TestColumnsTwice(t *testing.T) {
	var w Workspace
	c := syntheticCast(300, 1)
	if _, err := Columns(c, Options{}, &w); err != nil {
		t.Fatal(err)
	}
	n := len(c.Columns)
	before := map[string][]float64{}
	for _, col := range c.Columns {
		before[col.Name] = append([]float64(nil), col.Values...)
	}
	if _, err := Columns(syntheticCast(100, 2), Options{}, &w); err != nil {
		t.Fatal(err)
	}
	if _, err := Columns(c, Options{}, &w); err != nil {
		t.Fatal(err)
	}
	if len(c.Columns) != n {
		t.Fatalf("%d columns, then %d", n, len(c.Columns))
	}
	for _, col := range c.Columns {
		for i, v := range col.Values {
			if math.Float64bits(v) != math.Float64bits(before[col.Name][i]) {
				t.Fatalf("%s differs at %d", col.Name, i)
			}
		}
	}
}

func TestPlacesAndInputs(t *testing.T) {
	p, temp, sp := []float64{0, 10, 20}, []float64{10, 9, 8}, []float64{0.2, 0.2, 0.2}
	base := func(lon, lat float64) *section.Cast {
		return newCast(lon, lat, measured("pres", p), measured("temp", temp), measured("psal", sp))
	}
	lake := base(20, 60) // inside the region of the Baltic line
	lake.Lake = true
	f, _ := Columns(lake, Options{}, nil)
	if len(f) != 1 || !strings.Contains(f[0].Message, "lake salts differ") {
		t.Errorf("lake: %v", f)
	}
	// Reference salinity 35.16504/35 SP (TEOS-10), not the Baltic line with its 0.087 g/kg.
	if got := lake.Column("asal").Values[0]; math.Abs(got-0.2*35.16504/35) > 1e-14 {
		t.Errorf("lake: SA %g", got)
	}
	baltic := base(20, 60)
	if f, _ := Columns(baltic, Options{}, nil); len(f) != 0 || !strings.Contains(baltic.Column("asal").Comment,
		"Baltic") {
		t.Errorf("Baltic: %v", f)
	}
	land := base(80, 45)
	if f, _ := Columns(land, Options{}, nil); len(f) != 1 || !strings.Contains(f[0].Message, "SAAR = 0") {
		t.Errorf("land: %v", f)
	}
	south := base(0, -89)
	if f, _ := Columns(south, Options{}, nil); len(f) != 1 || f[0].Severity != metadata.Warning ||
		!math.IsNaN(south.Column("asal").Values[0]) {
		t.Errorf("south of the atlas: %v", f)
	}
	if _, err := Columns(base(0, 40), Options{Extra: []string{"sigma9"}}, nil); !errors.Is(err, ErrUnknown) {
		t.Errorf("unknown name: %v", err)
	}
	bare := newCast(0, 40, measured("pres", p))
	if _, err := Columns(bare, Options{}, nil); err != nil || len(bare.Columns) != 2 {
		t.Errorf("pressure alone: %v, %d columns", err, len(bare.Columns))
	}
	// A column that was read stays as it is.
	read := newCast(0, 40, measured("pres", p), measured("temp", temp), measured("psal", sp),
		measured("ptemp", []float64{1, 2, 3}), measured("asal", []float64{4, 5, 6}))
	if _, err := Columns(read, Options{}, nil); err != nil || read.Column("ptemp").Values[1] != 2 ||
		read.Column("asal").Values[1] != 5 || read.Column("ptemp").Derived {
		t.Errorf("a column that was read was changed: %v", err)
	}
	if v := read.Column("sigma0").Values[1]; v != v {
		t.Error("no sigma0")
	}
}

// 1 ml/l of oxygen is 44.6596 umol/l (Bittig et al. 2018); per kg by the potential density.
func TestOxygenPerVolume(t *testing.T) {
	c := newCast(-30, 40, measured("pres", []float64{0, 1000}), measured("temp", []float64{20, 5}),
		measured("psal", []float64{35, 35}), measured("oxy_ml", []float64{5, 4}))
	if _, err := Columns(c, Options{}, nil); err != nil {
		t.Fatal(err)
	}
	for i, ml := range []float64{5, 4} {
		want := ml * 44.6596 * 1000 / (1000 + c.Column("sigma0").Values[i])
		if got := c.Column("oxy").Values[i]; math.Abs(got-want) > 1e-9 {
			t.Errorf("oxygen %g, want %g", got, want)
		}
		if s := c.Column("oxysat").Values[i]; !(s > 0 && s < 150) {
			t.Errorf("saturation %g", s)
		}
	}
}

// Salinity from conductivity: 4.29140 S/m at 15 degC (IPTS-68) and 0 dbar is 35 (PSS-78).
func TestSalinityFromConductivity(t *testing.T) {
	c := newCast(-30, 40, measured("pres", []float64{0, 1}), measured("temp", []float64{15 / 1.00024, 15 / 1.00024}),
		measured("cond", []float64{4.2914, 4.2914}, metadata.Acceptable, metadata.Bad))
	if _, err := Columns(c, Options{}, nil); err != nil {
		t.Fatal(err)
	}
	sp := c.Column("psal")
	if math.Abs(sp.Values[0]-35) > 1e-6 || !sp.Derived || sp.Values[1] == sp.Values[1] {
		t.Errorf("salinity %v", sp.Values)
	}
	if v := c.Column("asal").Values[0]; !(v > 35.1 && v < 35.3) {
		t.Errorf("SA %g", v)
	}
}

// N2 of a column with slopes that are the same everywhere equals the two-level formula; noise of the bins is averaged
// away.
func TestStability(t *testing.T) {
	at := seawater.PlaceOf(-30, 40)
	var p, sa, ct, noisy []float64
	for i := range 400 {
		x := 2 * float64(i)
		p, sa, ct = append(p, x), append(sa, 35+0.0004*x), append(ct, 15-0.01*x)
		noisy = append(noisy, 15-0.01*x+0.002*math.Sin(2.9*float64(i)))
	}
	n2 := BuoyancyFrequenciesSquared(make([]float64, len(p)), sa, ct, p, 40, &at)
	rough := BuoyancyFrequenciesSquared(make([]float64, len(p)), sa, noisy, p, 40, &at)
	for i := 1; i+1 < len(p); i++ {
		mid := i
		if i < 10 { // the window is cut at the top: its middle is deeper
			continue
		}
		if i >= len(p)-10 {
			continue
		}
		up, down := seawater.Level{SA: sa[mid-1], CT: ct[mid-1], P: p[mid-1]},
			seawater.Level{SA: sa[mid+1], CT: ct[mid+1], P: p[mid+1]}
		want := seawater.BuoyancyFrequencySquared(up, down, at.Gravity(p[i]))
		if math.Abs(n2[i]/want-1) > 1e-9 {
			t.Fatalf("N2 at %g dbar: %g, want %g", p[i], n2[i], want)
		}
		if math.Abs(rough[i]/want-1) > 0.03 {
			t.Fatalf("N2 with noise at %g dbar: %g, want %g", p[i], rough[i], want)
		}
	}
	for _, i := range []int{0, len(p) - 1} {
		if !(n2[i] > 0) {
			t.Errorf("no value at level %d", i)
		}
	}
	// A hole of 100 dbar is a gap: the levels beside it are fitted on their own side.
	cut := append(append([]float64(nil), p[:100]...), p[150:]...)
	jump := append(append([]float64(nil), ct[:100]...), ct[150:]...)
	for i := 100; i < len(jump); i++ {
		jump[i] -= 5
	}
	n2 = BuoyancyFrequenciesSquared(make([]float64, len(cut)), append(append([]float64(nil), sa[:100]...), sa[150:]...),
		jump, cut, 40, &at)
	for i := 95; i < 105; i++ {
		if !(n2[i] > 0 && n2[i] < 1e-4) {
			t.Errorf("beside the gap: %g", n2[i])
		}
	}
}

// syntheticCast is an invented deep cast of 1-dbar bins.
func syntheticCast(n int, seed float64) *section.Cast {
	p, temp, sp, o2 := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	good := make([]metadata.Flag, n)
	for i := range p {
		x := float64(i + 1)
		p[i] = x
		temp[i] = 2 + 18*math.Exp(-x/500) + 0.01*math.Sin(seed+x)
		sp[i] = 34.8 + 1.2*math.Exp(-x/800)
		o2[i] = 180 + 60*math.Sin(x/900)
		good[i] = metadata.Acceptable
	}
	return newCast(-30+seed, 30, measured("pres", p, good...), measured("temp", temp, good...),
		measured("psal", sp, good...), measured("oxy", o2, good...))
}

func BenchmarkColumns(b *testing.B) {
	var w Workspace
	c := syntheticCast(5500, 1)
	if _, err := Columns(c, Options{}, &w); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Columns(c, Options{}, &w); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/5500, "ns/bin")
}

// A level whose pressure is not above the largest before it is kept out of computations along the profile: what is
// derived from its values alone is there, and not flagged good; other levels are as without it.
func TestRepeatedPressureIsNotGood(t *testing.T) {
	const F = metadata.Acceptable
	p := []float64{0, 2, 4, 4, 6, 3, 8, 10}
	flags := []metadata.Flag{F, F, F, F, F, F, F, F}
	out := map[int]bool{3: true, 5: true}
	c := newCast(-30, 40, measured("pres", p, flags...),
		measured("temp", []float64{10, 9, 8, 8.1, 7, 8.5, 6, 5}, flags...),
		measured("psal", []float64{35, 35.1, 35.2, 35.2, 35.3, 35.1, 35.4, 35.5}, flags...),
		measured("oxy", []float64{200, 200, 200, 200, 200, 200, 200, 200}, flags...))
	if _, err := Columns(c, Options{Extra: Extras()}, nil); err != nil {
		t.Fatal(err)
	}
	n := 0
	for i := range c.Columns {
		col := &c.Columns[i]
		if !col.Derived {
			continue
		}
		n++
		for k, f := range col.Flags {
			switch {
			case out[k] && f.Usable(true):
				t.Errorf("%s at level %d, which is kept out: flag %v", col.Name, k, f)
			case !out[k] && f != F && col.Values[k] == col.Values[k]:
				t.Errorf("%s at level %d: flag %v", col.Name, k, f)
			}
		}
	}
	if v := c.Column("sigma0").Values[3]; v != v || n < 10 {
		t.Errorf("%d variables; density of the level that is kept out: %g", n, v)
	}
}
