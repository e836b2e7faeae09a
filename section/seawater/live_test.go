package seawater

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

const livePoints = 120_000

// liveInput makes the random points that testdata/reference.py reads; the column order is its IN_NAMES.
type liveInput struct{ cond, t, p, sp, lon, lat, sa, ct, pt, tany, o2, dp, dsa, dct, condLow []float64 }

func (in *liveInput) columns() []*[]float64 {
	return []*[]float64{&in.cond, &in.t, &in.p, &in.sp, &in.lon, &in.lat, &in.sa, &in.ct, &in.pt, &in.tany, &in.o2,
		&in.dp,
		&in.dsa, &in.dct, &in.condLow}
}

func newLiveInput() *liveInput {
	in := new(liveInput)
	for _, c := range in.columns() {
		*c = make([]float64, livePoints)
	}
	rng := rand.New(rand.NewPCG(7, 11))
	within := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	for i := range livePoints {
		in.cond[i], in.condLow[i] = within(1, 80), within(0.01, 4)
		in.t[i], in.pt[i], in.ct[i] = within(-1.8, 35), within(-1.8, 35), within(-1.8, 35)
		in.p[i] = within(0, 8000)
		in.sp[i], in.sa[i] = within(0.05, 42), within(0.01, 42)
		in.lon[i] = within(-180, 360)
		in.lat[i] = math.Asin(within(-0.997, 1)) * 180 / math.Pi
		in.tany[i], in.o2[i] = within(-20, 20), within(0, 400)
		in.dp[i] = within(1, 300)
		in.dsa[i], in.dct[i] = within(-0.5, 0.5)*in.sa[i]/42, within(-2, 2)
	}
	return in
}

// reference runs the Python script; a missing interpreter or package fails the test.
func (in *liveInput) reference(t *testing.T) map[string][]float64 {
	t.Helper()
	var raw bytes.Buffer
	for _, c := range in.columns() {
		if err := binary.Write(&raw, binary.LittleEndian, *c); err != nil {
			t.Fatal(err)
		}
	}
	dir := t.TempDir()
	from, to := filepath.Join(dir, "in"), filepath.Join(dir, "out")
	if err := os.WriteFile(from, raw.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-W", "ignore", filepath.Join("testdata", "reference.py"), from, to)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	names, err := cmd.Output()
	if err != nil {
		t.Fatalf("reference: %v (needs Debian's python3-gsw)\n%s", err, stderr.String())
	}
	out, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	values := make([]float64, len(out)/8)
	if _, err := binary.Decode(out, binary.LittleEndian, values); err != nil {
		t.Fatal(err)
	}
	m := map[string][]float64{}
	for i, name := range strings.Split(strings.TrimSpace(string(names)), "\n") {
		m[name] = values[i*livePoints : (i+1)*livePoints]
	}
	return m
}

// TestLiveAgainstReference compares each quantity with Debian's python3-gsw on random points that cover more than the
// ocean. tol is the bar of the working specification.
func TestLiveAgainstReference(t *testing.T) {
	in := newLiveInput()
	want := in.reference(t)
	at := func(i int) *Place { pl := PlaceOf(in.lon[i], in.lat[i]); return &pl }
	upper := func(i int) Level { return Level{in.sa[i], in.ct[i], in.p[i]} }
	lower := func(i int) Level {
		return Level{in.sa[i] + in.dsa[i], in.ct[i] + in.dct[i], in.p[i] + in.dp[i]}
	}
	meanGravity := func(i int) float64 {
		return 0.5 * (Gravity(in.lat[i], in.p[i]) + Gravity(in.lat[i], in.p[i]+in.dp[i]))
	}
	sigma := func(n int) func(int) float64 {
		return func(i int) float64 { return Sigma(n, in.sa[i], in.ct[i]) }
	}
	checks := []struct {
		name string
		got  func(i int) float64
		tol  float64
	}{
		{"PracticalSalinity", func(i int) float64 { return PracticalSalinity(in.cond[i], in.t[i], in.p[i]) }, 1e-12},
		{"PracticalSalinity, dilute", func(i int) float64 { return PracticalSalinity(in.condLow[i], in.t[i], in.p[i]) },
			1e-12},
		{"Conductivity", func(i int) float64 { return Conductivity(in.sp[i], in.t[i], in.p[i]) }, 1e-10},
		{"AbsoluteSalinity", func(i int) float64 { return AbsoluteSalinity(in.sp[i], in.p[i], in.lon[i], in.lat[i]) },
			5e-9},
		{"Place.PracticalSalinity", func(i int) float64 { return at(i).PracticalSalinity(in.sa[i], in.p[i]) }, 5e-9},
		{"Place.AnomalyRatio", func(i int) float64 { return anomalyRatio(at(i), in.p[i]) }, 1e-10},
		{"ReferenceSalinity", func(i int) float64 { return ReferenceSalinity(in.sp[i]) }, 1e-13},
		{"PotentialTemperature",
			func(i int) float64 { return PotentialTemperature(in.sa[i], in.t[i], in.p[i]) }, 1e-11},
		{"ConservativeTemperature", func(i int) float64 { return ConservativeTemperature(in.sa[i], in.t[i], in.p[i]) },
			1e-11},
		{"ConservativeFromPotential", func(i int) float64 { return ConservativeFromPotential(in.sa[i], in.pt[i]) },
			1e-11},
		{"PotentialFromConservative", func(i int) float64 { return PotentialFromConservative(in.sa[i], in.ct[i]) },
			1e-11},
		{"InSituTemperature", func(i int) float64 { return InSituTemperature(in.sa[i], in.ct[i], in.p[i]) }, 1e-11},
		{"SpecificVolume", func(i int) float64 { return SpecificVolume(in.sa[i], in.ct[i], in.p[i]) }, 1e-17},
		{"SpecificVolumeAnomaly", func(i int) float64 { return SpecificVolumeAnomaly(in.sa[i], in.ct[i], in.p[i]) },
			1e-17},
		{"Density", func(i int) float64 { return Density(in.sa[i], in.ct[i], in.p[i]) }, 1e-11},
		{"Sigma0", func(i int) float64 { return Sigma0(in.sa[i], in.ct[i]) }, 1e-11},
		{"Sigma(1)", sigma(1), 1e-11},
		{"Sigma(2)", sigma(2), 1e-11},
		{"Sigma(3)", sigma(3), 1e-11},
		{"Sigma(4)", sigma(4), 1e-11},
		{"ThermalExpansion", func(i int) float64 { return ThermalExpansion(in.sa[i], in.ct[i], in.p[i]) }, 1e-15},
		{"HalineContraction", func(i int) float64 { return HalineContraction(in.sa[i], in.ct[i], in.p[i]) }, 1e-15},
		{"SpecificVolumeSlopes, by SA", func(i int) float64 {
			_, s, _ := SpecificVolumeSlopes(in.sa[i], in.ct[i],
				in.p[i])
			return s
		}, 1e-18},
		{"SpecificVolumeSlopes, by CT", func(i int) float64 {
			_, _, s := SpecificVolumeSlopes(in.sa[i], in.ct[i],
				in.p[i])
			return s
		}, 1e-18},
		{"SoundSpeed", func(i int) float64 { return SoundSpeed(in.sa[i], in.t[i], in.p[i]) }, 1e-10},
		{"Spiciness0", func(i int) float64 { return Spiciness0(in.sa[i], in.ct[i]) }, 1e-11},
		{"Height", func(i int) float64 { return Height(in.p[i], in.lat[i]) }, 1e-7},
		{"Pressure", func(i int) float64 { return Pressure(-in.p[i], in.lat[i]) }, 1e-7},
		{"Gravity", func(i int) float64 { return Gravity(in.lat[i], in.p[i]) }, 1e-12},
		{"Coriolis", func(i int) float64 { return Coriolis(in.lat[i]) }, 1e-18},
		{"OxygenSolubility", func(i int) float64 { return OxygenSolubility(in.sp[i], in.pt[i]) }, 1e-9},
		{"FreezingConservative, air-free",
			func(i int) float64 { return FreezingConservative(in.sa[i], in.p[i], AirFree) }, 1e-12},
		{"FreezingConservative, air-saturated",
			func(i int) float64 { return FreezingConservative(in.sa[i], in.p[i], AirSaturated) }, 1e-12},
		{"FreezingInSitu, air-saturated",
			func(i int) float64 { return FreezingInSitu(in.sa[i], in.p[i], AirSaturated) }, 1e-12},
		{"IPTS68ToITS90", func(i int) float64 { return IPTS68ToITS90(in.t[i]) }, 1e-14},
		{"BuoyancyFrequencySquared", func(i int) float64 {
			return BuoyancyFrequencySquared(upper(i), lower(i),
				meanGravity(i))
		}, 1e-16},
	}
	if len(checks) != len(want) {
		t.Errorf("%d checks for %d reference quantities", len(checks), len(want))
	}
	for _, c := range checks {
		ref, ok := want[c.name]
		if !ok {
			t.Errorf("%s: not in reference.py", c.name)
			continue
		}
		largest, where, compared := 0.0, -1, 0
		for i := range ref {
			got := c.got(i)
			if math.IsNaN(ref[i]) != math.IsNaN(got) {
				t.Fatalf("%s: point %d: got %g, reference %g (sa %g ct %g t %g p %g sp %g lon %g lat %g)", c.name, i,
					got, ref[i],
					in.sa[i], in.ct[i], in.t[i], in.p[i], in.sp[i], in.lon[i], in.lat[i])
			}
			if math.IsNaN(got) {
				continue
			}
			compared++
			d := math.Abs(got - ref[i])
			if d > largest {
				largest, where = d, i
			}
		}
		t.Logf("%-36s python3-gsw 3.6.16  %6d points  largest difference %.2g (bar %.0e)", c.name, compared,
			largest, c.tol)
		if largest > c.tol {
			i := where
			t.Errorf("%s: difference %g over %g at sa %g ct %g t %g p %g sp %g lon %g lat %g: got %.17g want %.17g",
				c.name, largest, c.tol,
				in.sa[i], in.ct[i], in.t[i], in.p[i], in.sp[i], in.lon[i], in.lat[i], c.got(i), ref[i])
		}
		if compared < 100_000 {
			t.Errorf("%s: only %d points compared", c.name, compared)
		}
	}
}
