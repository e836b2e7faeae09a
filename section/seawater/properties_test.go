package seawater

import (
	"bytes"
	"compress/zlib"
	"crypto/sha256"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// oceanPoints calls f with random values over the ocean's range and beyond.
func oceanPoints(n int, f func(sa, ct, p float64)) {
	rng := rand.New(rand.NewPCG(21, 34))
	for range n {
		f(1+40*rng.Float64(), -1.5+34*rng.Float64(), 8000*rng.Float64())
	}
}

// TestInverses: each pair of functions undoes the other.
func TestInverses(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 3))
	var worst [5]float64
	oceanPoints(20000, func(sa, ct, p float64) {
		lat := 180*rng.Float64() - 90
		at := PlaceOf(360*rng.Float64()-180, max(lat, -85))
		sp := 0.1 + 41*rng.Float64()
		temperature := InSituTemperature(sa, ct, p)
		for i, d := range [...]float64{
			ConservativeTemperature(sa, temperature, p) - ct,
			ConservativeFromPotential(sa, PotentialFromConservative(sa, ct)) - ct,
			PracticalSalinity(Conductivity(sp, ct, p), ct, p) - sp,
			at.PracticalSalinity(at.AbsoluteSalinity(sp, p), p) - sp,
			Pressure(Height(p, lat), lat) - p,
		} {
			worst[i] = max(worst[i], math.Abs(d))
			if !(math.Abs(d) < [...]float64{1e-11, 1e-11, 1e-12, 1e-12, 1e-8}[i]) {
				t.Fatalf("pair %d: %g at sa %g ct %g p %g sp %g lat %g", i, d, sa, ct, p, sp, lat)
			}
		}
	})
	t.Logf("round trips: t-CT %.1g K, pt-CT %.1g K, SP-C %.1g, SP-SA %.1g, p-z %.1g dbar", worst[0], worst[1], worst[2],
		worst[3], worst[4])
}

// TestSlopes: derivatives against central differences.
func TestSlopes(t *testing.T) {
	oceanPoints(5000, func(sa, ct, p float64) {
		const hs, ht, hp = 1e-3, 1e-3, 1.0
		v, bySalinity, byTemperature := SpecificVolumeSlopes(sa, ct, p)
		if v != SpecificVolume(sa, ct, p) {
			t.Fatalf("the two forms of specific volume differ at %g %g %g", sa, ct, p)
		}
		ds := (SpecificVolume(sa+hs, ct, p) - SpecificVolume(sa-hs, ct, p)) / (2 * hs)
		dt := (SpecificVolume(sa, ct+ht, p) - SpecificVolume(sa, ct-ht, p)) / (2 * ht)
		if math.Abs(ds-bySalinity) > 1e-6*math.Abs(bySalinity) ||
			math.Abs(dt-byTemperature) > 1e-14+1e-5*math.Abs(byTemperature) {
			t.Fatalf("slopes at %g %g %g: %g %g, differences %g %g", sa, ct, p, bySalinity, byTemperature, ds, dt)
		}
		// Height: dz = -v dp / g of the standard ocean.
		dz := (Height(p+hp, 30) - Height(p-hp, 30)) / (2 * hp * perDbar)
		if want := -SpecificVolume(StandardSalinity, 0, p) / Gravity(30, p); math.Abs(dz-want) > 1e-8*math.Abs(want) {
			t.Fatalf("dz/dP at %g: %g, want %g", p, dz, want)
		}
		// Conservative Temperature: cp0 dCT/dpt = -(T0+pt) g_tt > 0.
		if !(ConservativeFromPotential(sa, ct+ht) > ConservativeFromPotential(sa, ct)) {
			t.Fatal("CT does not rise with pt")
		}
	})
}

// TestOrder: density rises with pressure and salinity, height falls with pressure, solubility falls with temperature
// and salinity, conductivity rises with all three.
func TestOrder(t *testing.T) {
	oceanPoints(5000, func(sa, ct, p float64) {
		temperature := max(ct, 0)
		for name, ok := range map[string]bool{
			"density by p":       Density(sa, ct, p+1) > Density(sa, ct, p),
			"density by SA":      Density(sa+0.01, ct, p) > Density(sa, ct, p),
			"height":             Height(p+1, 45) < Height(p, 45),
			"gravity":            Gravity(45, p+1) > Gravity(45, p),
			"solubility by t":    OxygenSolubility(sa, temperature+0.1) < OxygenSolubility(sa, temperature),
			"solubility by SP":   OxygenSolubility(sa+0.1, temperature) < OxygenSolubility(sa, temperature),
			"conductivity by t":  Conductivity(sa, temperature+0.01, p) > Conductivity(sa, temperature, p),
			"conductivity by SP": Conductivity(sa+0.01, temperature, p) > Conductivity(sa, temperature, p),
			"freezing by p": FreezingConservative(sa, p+10, AirSaturated) < FreezingConservative(sa, p,
				AirSaturated),
			"freezing by air": FreezingConservative(sa, p, AirSaturated) < FreezingConservative(sa, p, AirFree),
		} {
			if !ok {
				t.Fatalf("%s at sa %g ct %g p %g", name, sa, ct, p)
			}
		}
	})
}

// TestHillLimit: no step at practical salinity 2, and the scale factors that the working specification computed:
// 0.999834 at 0,
// 1.000005 at 15, 1.000105 at 30 degC.
func TestHillLimit(t *testing.T) {
	for _, r := range []struct{ t68, q float64 }{{0, 0.999834}, {15, 1.000005}, {30, 1.000105}} {
		if q := diluteScale(temperaturePart(r.t68)); math.Abs(q-r.q) > 5e-7 {
			t.Errorf("scale at %g degC: %.7f, want %.6f", r.t68, q, r.q)
		}
		t90 := IPTS68ToITS90(r.t68)
		below, above := Conductivity(2-1e-9, t90, 0), Conductivity(2, t90, 0)
		if d := above - below; !(d > 0 && d < 1e-8) {
			t.Errorf("step of %g mS/cm at salinity 2, %g degC", d, r.t68)
		}
	}
}

func TestScales(t *testing.T) {
	// Saunders 1990: t68 = 1.00024 t90.
	if got := ITS90ToIPTS68(10); math.Abs(got-10.0024) > 1e-12 {
		t.Errorf("t90 10: t68 %.8f", got)
	}
}

// TestElementary: the portable elementary functions against the standard library.
func TestElementary(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 8))
	for range 100000 {
		a := 40*rng.Float64() - 20
		if got, want := exp(a), math.Exp(a); math.Abs(got-want) > 1e-15*want {
			t.Fatalf("exp(%g) = %.17g, want %.17g", a, got, want)
		}
		lat := 180*rng.Float64() - 90
		if got, want := sinDeg(lat), math.Sin(lat*math.Pi/180); math.Abs(got-want) > 1e-15 {
			t.Fatalf("sinDeg(%g) = %.17g, want %.17g", lat, got, want)
		}
		pt := 50*rng.Float64() - 5
		t68 := 1.00024 * pt
		if got, want := scaledTemperature(pt), math.Log((298.15-t68)/(273.15+t68)); math.Abs(got-want) > 1e-15 {
			t.Fatalf("scaledTemperature(%g) = %.17g, want %.17g", pt, got, want)
		}
	}
	for a, want := range map[float64]float64{701: math.Inf(1), -701: 0, 0: 1} {
		if got := exp(a); got != want {
			t.Errorf("exp(%g) = %g", a, got)
		}
	}
	for lat, want := range map[float64]float64{90: 1, -90: -1, 0: 0, 30: 0.5} {
		if got := sinDeg(lat); math.Abs(got-want) > 1e-16 {
			t.Errorf("sinDeg(%g) = %g", lat, got)
		}
	}
}

// TestNoLogarithm: gibbs.go leaves x^2 ln(x) (g100 + g110 y) out of Conservative Temperature because g100 = g110 T0/40.
func TestNoLogarithm(t *testing.T) {
	var a, b float64 = gS100, gS110
	if d := a - b*ZeroCelsiusK/40; math.Abs(d) > 2e-11 { // J/kg; x^2 |ln x| < 0.2, and cp0 1e-11 K is 4e-8 J/kg
		t.Errorf("g100 - g110 T0/40 = %g J/kg", d)
	}
}

func TestPlaces(t *testing.T) {
	for _, r := range []struct {
		lon, lat float64
		want     Composition
	}{
		{-30, 35, FromAtlas},
		{20, 58, FromBaltic},
		{100, 50, NoAtlasValue},
		{38, 20, NoAtlasValue}, // the Red Sea
		{0, -86.5, OutsideAtlas},
		{0, 91, OutsideAtlas},
		{math.NaN(), 10, OutsideAtlas},
		{10, math.NaN(), OutsideAtlas},
	} {
		at := PlaceOf(r.lon, r.lat)
		if at.Composition != r.want {
			t.Errorf("%g E, %g N: %v, want %v", r.lon, r.lat, at.Composition, r.want)
		}
		if sa := at.AbsoluteSalinity(35, 100); math.IsNaN(sa) != (r.want == OutsideAtlas) {
			t.Errorf("%g E, %g N: SA %g", r.lon, r.lat, sa)
		}
		lake := at.AsLake()
		if sa := lake.AbsoluteSalinity(8, 10); lake.Composition != LakeWater || sa != ReferenceSalinity(8) {
			t.Errorf("as a lake: SA %g of SP 8", sa)
		}
	}
	// Whole turns of longitude, and the cell's last edge.
	for _, lon := range []float64{-30, 330, 690, -390} {
		if got, want := AbsoluteSalinity(35, 500, lon, 35), AbsoluteSalinity(35, 500, 330, 35); got != want {
			t.Errorf("%g E: %g, want %g", lon, got, want)
		}
	}
	if got := AbsoluteSalinity(35, 10, math.Nextafter(0, -1), 0); math.IsNaN(got) {
		t.Error("just west of 0 E: NaN")
	}
}

// TestMissing: NaN in, NaN out; and what has no meaning is NaN.
func TestMissing(t *testing.T) {
	nan := math.NaN()
	at := PlaceOf(-30, 35)
	baltic := PlaceOf(20, 58)
	for name, v := range map[string]float64{
		"PracticalSalinity c": PracticalSalinity(nan, 10, 0), "PracticalSalinity t": PracticalSalinity(40, nan, 0),
		"PracticalSalinity p": PracticalSalinity(40, 10, nan), "PracticalSalinity negative": PracticalSalinity(-1, 10,
			0),
		"PracticalSalinity in air": PracticalSalinity(0.001, 10, 0),
		"Conductivity":             Conductivity(nan, 10, 0), "Conductivity negative": Conductivity(-1, 10, 0),
		"AbsoluteSalinity sp": at.AbsoluteSalinity(nan, 10), "AbsoluteSalinity p": at.AbsoluteSalinity(35, nan),
		"AbsoluteSalinity negative":        at.AbsoluteSalinity(-0.1, 10),
		"AbsoluteSalinity Baltic p":        baltic.AbsoluteSalinity(7, nan),
		"Place.PracticalSalinity":          at.PracticalSalinity(nan, 10),
		"Place.PracticalSalinity negative": baltic.PracticalSalinity(0.01, 10),
		"ReferenceSalinity":                ReferenceSalinity(nan), "ReferenceSalinity negative": ReferenceSalinity(-1),
		"PotentialTemperature": PotentialTemperature(35, nan, 0), "PotentialTemperature p": PotentialTemperature(35, 10,
			nan),
		"ConservativeTemperature":          ConservativeTemperature(nan, 10, 0),
		"ConservativeTemperature negative": ConservativeTemperature(-1, 10, 0),
		"InSituTemperature":                InSituTemperature(35, nan, 10),
		"SpecificVolume":                   SpecificVolume(nan, 10, 0), "SpecificVolume negative": SpecificVolume(-0.01,
			10, 0),
		"Sigma0": Sigma0(35, nan), "SoundSpeed": SoundSpeed(35, 10, nan), "Spiciness0": Spiciness0(35, nan),
		"Height": Height(nan, 10), "Height latitude": Height(10, 95), "Pressure": Pressure(nan, 10),
		"Gravity":                       Gravity(nan, 10),
		"OxygenSolubility":              OxygenSolubility(nan, 10),
		"FreezingInSitu":                FreezingInSitu(nan, 0, AirFree),
		"FreezingConservative negative": FreezingConservative(-1, 0, AirFree),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s: %g", name, v)
		}
	}
}

// TestProfilesAreTheFunctions: each profile version has the bits of the single function and returns its destination;
// Derive gives the same bits with all destinations, with each alone, and with a hole in the data.
func TestProfilesAreTheFunctions(t *testing.T) {
	sp, temperature, p, o2, at := benchCast()
	sp, temperature, p, o2 = sp[:300], temperature[:300], p[:300], o2[:300]
	for i := range p {
		p[i] *= 17 // to 5100 dbar
	}
	sp[7], temperature[11], o2[13], p[17] = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	n := len(p)
	d := newDerived(n)
	Derive(d, sp, temperature, p, o2, &at)
	sa, ct, pt := d.AbsoluteSalinity, d.ConservativeTemperature, d.PotentialTemperature
	level := func(i int) Level { return Level{sa[i], ct[i], p[i]} }
	dst := func(n int) []float64 { return make([]float64, n) }
	for _, c := range []struct {
		name string
		got  []float64
		one  func(i int) float64
	}{
		{"AbsoluteSalinity", sa, func(i int) float64 { return AbsoluteSalinity(sp[i], p[i], -30, 35.5) }},
		{"PotentialTemperature", pt,
			func(i int) float64 { return PotentialTemperature(sa[i], temperature[i], p[i]) }},
		{"ConservativeTemperature", ct,
			func(i int) float64 { return ConservativeTemperature(sa[i], temperature[i], p[i]) }},
		{"ConservativeFromPotential", ct, func(i int) float64 { return ConservativeFromPotential(sa[i], pt[i]) }},
		{"SpecificVolumeAnomalies", SpecificVolumeAnomalies(dst(n), sa, ct, p),
			func(i int) float64 { return SpecificVolumeAnomaly(sa[i], ct[i], p[i]) }},
		{"Densities", Densities(dst(n), sa, ct, p), func(i int) float64 { return Density(sa[i], ct[i], p[i]) }},
		{"Sigmas", Sigmas(dst(n), 0, sa, ct), func(i int) float64 { return Sigma0(sa[i], ct[i]) }},
		{"Sigma0", d.Sigma0, func(i int) float64 { return Sigma0(sa[i], ct[i]) }},
		{"SoundSpeed", d.SoundSpeed, func(i int) float64 { return SoundSpeed(sa[i], temperature[i], p[i]) }},
		{"Spiciness0", d.Spiciness0, func(i int) float64 { return Spiciness0(sa[i], ct[i]) }},
		{"Heights", Heights(dst(n), p, 35.5), func(i int) float64 { return d.Height[i] }},
		{"Height", d.Height, func(i int) float64 { return Height(p[i], 35.5) }},
		{"OxygenSolubility", d.OxygenSolubility, func(i int) float64 { return OxygenSolubility(sp[i], pt[i]) }},
		{"OxygenSaturation", d.OxygenSaturation,
			func(i int) float64 { return 100 * o2[i] / OxygenSolubility(sp[i], pt[i]) }},
		{"MidPressures", MidPressures(dst(n-1), p), func(i int) float64 { return d.MidPressure[i] }},
		{"BuoyancyFrequencySquared", d.BuoyancyFrequencySquared, func(i int) float64 {
			return BuoyancyFrequencySquared(level(i), level(i+1), 0.5*(at.Gravity(p[i])+at.Gravity(p[i+1])))
		}},
	} {
		numbers := 0
		for i, v := range c.got {
			one := c.one(i)
			if math.IsNaN(v) && math.IsNaN(one) {
				continue
			}
			numbers++
			if math.Float64bits(v) != math.Float64bits(one) {
				t.Fatalf("%s: level %d: %.17g, alone %.17g", c.name, i, v, one)
			}
		}
		if numbers < n-10 {
			t.Errorf("%s: %d numbers", c.name, numbers)
		}
	}
	all := func(x *Derived) []*[]float64 {
		return []*[]float64{&x.AbsoluteSalinity, &x.ConservativeTemperature, &x.PotentialTemperature, &x.Sigma0,
			&x.Height, &x.SoundSpeed,
			&x.Spiciness0, &x.OxygenSolubility, &x.OxygenSaturation, &x.MidPressure, &x.BuoyancyFrequencySquared}
	}
	sameBits := func(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) || a != a && b != b }
	for i, whole := range all(d) {
		var one Derived
		*all(&one)[i] = make([]float64, len(*whole))
		Derive(&one, sp, temperature, p, o2, &at)
		if !slices.EqualFunc(*whole, *all(&one)[i], sameBits) {
			t.Errorf("destination %d alone differs", i)
		}
	}
	if a := testing.AllocsPerRun(3, func() { Derive(d, sp, temperature, p, o2, &at) }); a != 0 {
		t.Errorf("Derive allocates %g times", a)
	}
	// Without a place, what does not need it is there.
	nowhere := PlaceOf(math.NaN(), math.NaN())
	lake := nowhere.AsLake()
	Derive(d, sp, temperature, p, o2, &lake)
	if !math.IsNaN(d.Height[0]) {
		t.Error("a height without latitude")
	}
	// N2 is then computed with the mean gravity (IOC, SCOR and IAPSO 2010, section 3.32: 9.7963 m/s2).
	if got, want := d.BuoyancyFrequencySquared[0], BuoyancyFrequencySquared(level(0), level(1), 9.7963); got != want {
		t.Errorf("N2 without latitude: %g, want %g", got, want)
	}
	Derive(&Derived{MidPressure: nil, BuoyancyFrequencySquared: []float64{}}, nil, nil, nil, nil, &at) // an empty cast
}

func TestPanics(t *testing.T) {
	one, two := []float64{1}, []float64{1, 2}
	at := PlaceOf(0, 0)
	for name, c := range map[string]struct {
		want string
		f    func()
	}{
		"lengths":     {differentLengths, func() { Densities(two, two, two, one) }},
		"destination": {differentLengths, func() { Heights(one, two, 0) }},
		"mid":         {midLength, func() { MidPressures(two, two) }},
		"sigma":       {noSuchReference, func() { Sigma(5, 35, 10) }},
		"derive":      {differentLengths, func() { Derive(&Derived{Sigma0: one}, two, two, two, nil, &at) }},
		"derive mid":  {midLength, func() { Derive(&Derived{MidPressure: two}, two, two, two, nil, &at) }},
		"derive oxygen": {differentLengths,
			func() { Derive(&Derived{OxygenSaturation: two}, two, two, two, nil, &at) }},
	} {
		func() {
			defer func() {
				if got := recover(); got != c.want {
					t.Errorf("%s: panic %v, want %q", name, got, c.want)
				}
			}()
			c.f()
		}()
	}
}

// TestAtlasFile: the embedded atlas is what its generator makes today, and a damaged one is refused.
func TestAtlasFile(t *testing.T) {
	out, err := exec.Command("/usr/bin/python3", "-W", "ignore", filepath.Join("atlas", "make_atlas.py"),
		"--check").CombinedOutput()
	if err != nil {
		t.Errorf("make_atlas.py --check: %v (needs Debian's python3-gsw)\n%s", err, out)
	}
	a := theAtlas()
	stored, wet := 0, 0
	for i := range a.ratio {
		for j := range a.ratio[i] {
			for _, q := range a.ratio[i][j] {
				if q != notStored {
					stored++
				}
			}
		}
	}
	for i := range a.deepest {
		for _, k := range a.deepest[i] {
			if k >= 0 {
				wet++
			}
		}
	}
	if stored != 118018 || wet != 3317 { // the counts of the working specification, section 3
		t.Errorf("%d values stored, %d wet cells", stored, wet)
	}
	notice, err := os.ReadFile(filepath.Join("..", "..", "NOTICE"))
	if err != nil {
		t.Fatal(err)
	}
	if sum := fmt.Sprintf("%x", sha256.Sum256(packedAtlas)); !strings.Contains(string(notice),
		"section/seawater/atlas/anomaly.z") || !strings.Contains(string(notice), sum) {
		t.Errorf("NOTICE has no entry for the atlas with SHA-256 %s", sum)
	}
	damaged := slices.Clone(packedAtlas)
	damaged[len(damaged)-2] ^= 1 // the checksum
	var short bytes.Buffer
	z := zlib.NewWriter(&short)
	if _, err := z.Write([]byte("short")); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	for name, packed := range map[string][]byte{"checksum": damaged, "empty": nil, "short": short.Bytes()} {
		if _, err := unpackAtlas(packed); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}
