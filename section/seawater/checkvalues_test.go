package seawater

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/checkvalues"
)

// number parses a field; an empty one is NaN (no value).
func number(t *testing.T, s string) float64 {
	t.Helper()
	if s == "" {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestPublishedCasts: the three check casts of TEOS-10, each quantity within its published tolerance. Absolute Salinity
// may differ by the quantum of the packed atlas (the working specification allows 5e-9 g/kg).
func TestPublishedCasts(t *testing.T) {
	const source = "TEOS-10 check casts"
	tolerance := map[string]float64{}
	for _, r := range checkvalues.Table(t, "teos10_check_tolerances.csv") {
		tolerance[r["quantity"]] = number(t, r["published_tolerance_ca"])
	}
	tolerance["SA_from_SP"], tolerance["SP_from_SA"] = 5e-9, 5e-9
	largest := map[string]float64{}
	rows := checkvalues.Table(t, "teos10_check_casts.csv")
	compare := func(r map[string]string, name string, got float64) {
		t.Helper()
		want := number(t, r[name])
		d := math.Abs(got - want)
		if !(d < tolerance[name]) && !(math.IsNaN(want) && math.IsNaN(got)) {
			t.Errorf("cast %s p %s: %s: got %.15g, want %.15g (%s), tolerance %g", r["cast"], r["p"], name, got, want,
				source, tolerance[name])
		}
		largest[name] = max(largest[name], d)
	}
	for _, r := range rows {
		sp, tt, p := number(t, r["SP"]), number(t, r["t"]), number(t, r["p"])
		at := PlaceOf(number(t, r["lon"]), number(t, r["lat"]))
		sa, ct := number(t, r["SA_from_SP"]), number(t, r["CT_from_t"])
		pt := number(t, r["pt0_from_t"])
		compare(r, "SA_from_SP", at.AbsoluteSalinity(sp, p))
		compare(r, "SP_from_SA", at.PracticalSalinity(sa, p))
		compare(r, "SR_from_SP", ReferenceSalinity(sp))
		compare(r, "C_from_SP", Conductivity(sp, tt, p))
		compare(r, "CT_from_t", ConservativeTemperature(sa, tt, p))
		compare(r, "pt0_from_t", PotentialTemperature(sa, tt, p))
		compare(r, "pt_from_CT", PotentialFromConservative(sa, ct))
		compare(r, "t_from_CT", InSituTemperature(sa, ct, p))
		compare(r, "t90_from_t68", IPTS68ToITS90(tt))
		compare(r, "specvol", SpecificVolume(sa, ct, p))
		compare(r, "specvol_anom_standard", SpecificVolumeAnomaly(sa, ct, p))
		compare(r, "rho", Density(sa, ct, p))
		compare(r, "sigma0", Sigma0(sa, ct))
		for n, name := range []string{"sigma0", "sigma1", "sigma2", "sigma3", "sigma4"} {
			compare(r, name, Sigma(n, sa, ct))
		}
		compare(r, "alpha", ThermalExpansion(sa, ct, p))
		compare(r, "beta", HalineContraction(sa, ct, p))
		compare(r, "spiciness0", Spiciness0(sa, ct))
		compare(r, "z_from_p", Height(p, at.LatDeg))
		compare(r, "p_from_z", Pressure(number(t, r["z_from_p"]), at.LatDeg))
		compare(r, "grav", at.Gravity(p))
		compare(r, "O2sol_SP_pt", OxygenSolubility(sp, pt))
	}
	// N2 between neighbouring levels of a cast.
	mids := checkvalues.Table(t, "teos10_check_mid.csv")
	tolerance["N2"] = tolerance["n2"]
	matched := 0
	for i := range len(rows) - 1 {
		a, b := rows[i], rows[i+1]
		if a["cast"] != b["cast"] {
			continue
		}
		upper := Level{number(t, a["SA_from_SP"]), number(t, a["CT_from_t"]), number(t, a["p"])}
		lower := Level{number(t, b["SA_from_SP"]), number(t, b["CT_from_t"]), number(t, b["p"])}
		for _, m := range mids {
			if m["cast"] == a["cast"] && number(t, m["p_mid"]) == 0.5*(upper.P+lower.P) {
				lat := number(t, a["lat"])
				m["p"] = m["p_mid"]
				compare(m, "N2", BuoyancyFrequencySquared(upper, lower,
					0.5*(Gravity(lat, upper.P)+Gravity(lat, lower.P))))
				matched++
			}
		}
	}
	if matched != len(mids) {
		t.Errorf("compared %d of %d mid-pressure rows", matched, len(mids))
	}
	for _, name := range []string{"SA_from_SP", "CT_from_t", "pt0_from_t", "specvol", "rho", "sigma0", "alpha", "beta",
		"spiciness0", "z_from_p", "grav", "O2sol_SP_pt", "C_from_SP", "N2"} {
		t.Logf("%-22s %s  largest difference %.2g (published tolerance %.2g)", name, source, largest[name],
			tolerance[name])
	}
}

// TestAtlasPoints: 150 random ocean points and 28 hard ones; the table was computed with python3-gsw 3.6.16.
func TestAtlasPoints(t *testing.T) {
	const tol = 5e-9 // g/kg, the working specification's bar for the packed atlas
	worst := 0.0
	for _, r := range checkvalues.Table(t, "saar_checks.csv") {
		lon, lat, p := number(t, r["lon"]), number(t, r["lat"]), number(t, r["p"])
		at := PlaceOf(lon, lat)
		for _, c := range []struct {
			name      string
			got, want float64
		}{
			{"SAAR", anomalyRatio(&at, p), number(t, r["SAAR"])},
			{"SA_for_SP35", at.AbsoluteSalinity(35, p), number(t, r["SA_for_SP35"])},
			{"SA_for_SP8", AbsoluteSalinity(8, p, lon, lat), number(t, r["SA_for_SP8"])},
		} {
			if math.IsNaN(c.want) != math.IsNaN(c.got) || math.Abs(c.got-c.want) > tol {
				t.Errorf("%s (%g E, %g N, %g dbar): %s: got %g, want %g", r["why"], lon, lat, p, c.name, c.got, c.want)
			}
			if c.name != "SAAR" && !math.IsNaN(c.want) {
				worst = max(worst, math.Abs(c.got-c.want))
			}
		}
	}
	t.Logf("AbsoluteSalinity at 178 chosen points: largest difference %.2g g/kg", worst)
}

func TestFreezingTable(t *testing.T) {
	const tol = 1e-12 // K, the working specification; rows of the polynomial
	for _, r := range checkvalues.Table(t, "freezing_checks.csv") {
		sa, p, air := number(t, r["SA"]), number(t, r["p"]), AirContent(number(t, r["air_saturation"]))
		if got, want := FreezingConservative(sa, p, air),
			number(t, r["CT_freezing_poly"]); !(math.Abs(got-want) <= tol) {
			t.Errorf("CT at freezing, SA %g p %g air %g: got %.15g want %.15g", sa, p, air, got, want)
		}
		if got, want := FreezingInSitu(sa, p, air), number(t, r["t_freezing_poly"]); !(math.Abs(got-want) <= tol) {
			t.Errorf("t at freezing, SA %g p %g air %g: got %.15g want %.15g", sa, p, air, got, want)
		}
		// The polynomial keeps within its stated 8e-4 K of the equality of chemical potentials.
		if got, want := FreezingInSitu(sa, p, air), number(t, r["t_freezing_exact"]); !(math.Abs(got-want) <= 8e-4) {
			t.Errorf("t at freezing, SA %g p %g air %g: got %g, exact %g", sa, p, air, got, want)
		}
	}
}

func TestOxygenTable(t *testing.T) {
	seen := map[string]int{}
	for _, r := range checkvalues.Table(t, "o2sol_checks.csv") {
		sp, temperature, want, tol := number(t, r["SP"]), number(t, r["t_or_pt"]), number(t, r["value"]),
			number(t, r["tolerance"])
		var got float64
		seen[r["kind"]]++
		switch {
		case r["kind"] == "ml/l to umol/kg":
			v := map[string]float64{}
			for _, word := range strings.Fields(r["scale_or_setting"]) {
				if name, value, ok := strings.Cut(word, "="); ok {
					v[name] = number(t, value)
				}
			}
			at := PlaceOf(v["lon"], v["lat"])
			sa := at.AbsoluteSalinity(sp, v["p"])
			got = OxygenPerMass(v["ml/l"], 1000+Sigma0(sa, ConservativeTemperature(sa, temperature, v["p"])))
		case r["scale_or_setting"] == "ITS-90":
			got = OxygenSolubility(sp, temperature)
		default:
			got = OxygenSolubility(sp, IPTS68ToITS90(temperature))
		}
		if !(math.Abs(got-want) <= tol) {
			t.Errorf("%s SP %g t %g %s: got %.12g, want %.12g, tolerance %g", r["kind"], sp, temperature,
				r["scale_or_setting"], got, want, tol)
		}
	}
	if seen["published_check"] != 1 || seen["ml/l to umol/kg"] != 3 {
		t.Errorf("rows: %v", seen)
	}
}

// TestOxygenFormula evaluates the fit of Garcia and Gordon 1992 as it is printed, from coefficients.csv, over the
// whole range: the check values are at one temperature, where most terms are small.
func TestOxygenFormula(t *testing.T) {
	set := map[string][]float64{}
	for _, r := range checkvalues.Table(t, "coefficients.csv") {
		if strings.HasPrefix(r["set"], "o2sol_") {
			set[r["set"]] = append(set[r["set"]], number(t, r["value"]))
		}
	}
	printed := func(unit string, sp, pt float64) float64 {
		t68 := 1.00024 * pt
		ts := math.Log((298.15 - t68) / (273.15 + t68))
		sum := set["o2sol_C_"+unit][0] * sp * sp
		for i, a := range set["o2sol_A_"+unit] {
			sum += a * math.Pow(ts, float64(i))
		}
		for i, b := range set["o2sol_B_"+unit] {
			sum += sp * b * math.Pow(ts, float64(i))
		}
		return math.Exp(sum)
	}
	for sp := 0.0; sp <= 42; sp += 3 {
		for pt := -2.0; pt <= 40; pt += 0.5 {
			got := OxygenSolubility(sp, pt)
			if want := printed("umolkg", sp, pt); !(math.Abs(got-want) <= 1e-13*want) {
				t.Fatalf("SP %g pt %g: %.15g, want %.15g", sp, pt, got, want)
			}
		}
	}
}

func TestSoundSpeedTable(t *testing.T) {
	n := 0
	for _, r := range checkvalues.Table(t, "sound_speed_checks.csv") {
		tt, p, want, tol := number(t, r["t"]), number(t, r["p"]), number(t, r["c_ms"]), number(t, r["tolerance"])
		sa := ReferenceSalinity(number(t, r["SP"]))
		if r["formula"] != "TEOS-10 exact Gibbs" { // the others are not offered
			continue
		}
		n++
		got := SoundSpeed(sa, tt, p)
		if !(math.Abs(got-want) <= tol) {
			t.Errorf("%s SP %s t %g p %g: got %.10f want %.10f", r["formula"], r["SP"], tt, p, got, want)
		}
	}
	if n < 9 {
		t.Errorf("%d rows compared", n)
	}
}

// TestPracticalSalinityTable: the published values of Unesco 37 and 44, which give conductivity as the ratio to
// C(35,15,0) and temperature in IPTS-68.
func TestPracticalSalinityTable(t *testing.T) {
	n := 0
	for _, r := range checkvalues.Table(t, "eos80_pss78_checks.csv") {
		if r["quantity"] != "salinity PSS-78" {
			continue
		}
		v := map[string]float64{}
		for _, word := range strings.Fields(r["arguments"]) {
			name, value, _ := strings.Cut(word, "=")
			v[name] = number(t, value)
		}
		n++
		got := PracticalSalinity(v["R"]*StandardConductivity, IPTS68ToITS90(v["t68"]), v["p"])
		if want, tol := number(t, r["published"]), number(t, r["tolerance"]); !(math.Abs(got-want) <= tol) {
			t.Errorf("%s: got %.8f, want %.8f (%s)", r["arguments"], got, want, r["where"])
		}
	}
	if n != 4 {
		t.Errorf("%d rows compared", n)
	}
}
