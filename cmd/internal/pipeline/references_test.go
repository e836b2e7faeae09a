package pipeline_test

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/castwright/castwright/section/seawater"
)

// flat is four stations along 45 north over a bottom of 1000 m; R2 ends at 600 dbar.
func flat() (out []sounding) {
	for k, last := range []float64{1000, 600, 1000, 1000} {
		out = append(out, sounding{station: fmt.Sprint("R", k+1), lat: "45", lon: fmt.Sprint(-20 + 0.5*float64(k)),
			pressures: bins(10, last, 10), water: ocean(0.4 * float64(k))})
	}
	return out
}

// Every kind of reference of the cruise file through a build: the velocity at ref_pres is zero, or the known one with
// its standard error, and where the level asked for is not there the pair says what was done (science section 8,
// "Reference").
func TestReferencesOfCruiseFile(t *testing.T) {
	files := plant("sections:\n", flat()...)
	const fell = "is below the deepest common level, 600 dbar, which is used"
	depthOf500 := -seawater.Height(500, 45)
	cases := []struct {
		name, reference string
		table           string
		pressure        [3]float64 // NaN: the isopycnal's, looked up
		fallback        [3]string
		known, err      [3]float64
	}{
		{"bare", "800", "", [3]float64{600, 600, 800}, [3]string{fell, fell, ""}, [3]float64{}, [3]float64{}},
		{"pressure", "{pressure: 300}", "", [3]float64{300, 300, 300}, [3]string{}, [3]float64{}, [3]float64{}},
		{"deepest", "deepest", "", [3]float64{600, 600, 1000}, [3]string{}, [3]float64{}, [3]float64{}},
		{"density", "{sigma0: 27.0}", "", [3]float64{math.NaN(), math.NaN(), math.NaN()}, [3]string{}, [3]float64{},
			[3]float64{}},
		{"dense", "{sigma0: 27.8}", "", [3]float64{600, 600, 1000},
			[3]string{"the density 27.8 kg/m3 (referred to 0 dbar) is not crossed: the deepest common level is used",
				"is not crossed", "is not crossed"}, [3]float64{}, [3]float64{}},
		{"levels", "{levels: levels.csv}", "station_a,station_b,pressure_dbar\nR1,R2,450\nR3,R2,700\nR3,R4,905\n",
			[3]float64{450, 600, 905}, [3]string{"", fell, ""}, [3]float64{}, [3]float64{}},
		{"speeds", "{velocities: speeds.csv}",
			"# from a " +
				"mooring\nstation_a,station_b,pressure_dbar,velocity_ms,standard_error_ms\nR1,R2,450,0.05,0.01\nR2,R3,700,-0.02,0.03\nR3,R4,20,0.1,0\nR1,R4,20,9,9\n",
			[3]float64{450, 600, 20}, [3]string{"", fell + ", with the velocity given for the other level", ""},
			[3]float64{0.05, -0.02, 0.1}, [3]float64{0.01, 0.03, 0}},
		{"depths", "{velocities: depths.csv}",
			fmt.Sprintf(
				"station_a,station_b,depth_m,velocity_ms,standard_error_ms\nR1,R2,%.9f,0.05,0.01\nR2,R3,%.9f,-0.02,0.03\nR3,R4,%.9f,0.1,0.02\n",
				depthOf500, depthOf500, depthOf500),
			[3]float64{500, 500, 500}, [3]string{}, [3]float64{0.05, -0.02, 0.1}, [3]float64{0.01, 0.03, 0.02}},
	}
	for _, c := range cases {
		files["cruise.yaml"] += fmt.Sprintf("  - {name: %s, stations: R1-R4, reference: %s, grid: none}\n", c.name,
			c.reference)
		if c.table != "" {
			files[c.name+".csv"] = c.table
		}
	}
	a := build(t, files)
	findings := rowsOf(t, a, "tables/findings.csv")
	sections := map[string]ncFile{}
	for _, c := range cases {
		path := filepath.Join(a, "data/sections", c.name+"_geostrophy.nc")
		f := readAll(t, path)
		sections[c.name] = f
		ref, _ := f.of(t, "ref_pres")
		v, shape := f.of(t, "velocity")
		e, _ := f.of(t, "velocity_err")
		pres, _ := f.of(t, "pres")
		stated, _ := f.of(t, "ref_velocity")
		statedErr, _ := f.of(t, "ref_velocity_err")
		fell := make([]string, 3)
		if has(t, path, "reference_fallback") {
			fell = texts(t, path, "reference_fallback")
		}
		for i := range 3 {
			what := fmt.Sprintf("%s pair %d", c.name, i+1)
			if !strings.Contains(fell[i], c.fallback[i]) || c.fallback[i] == "" && fell[i] != "" {
				t.Errorf("%s: fallback %q, want %q", what, fell[i], c.fallback[i])
			}
			want := c.pressure[i]
			if want != want {
				want = crossing(t, filepath.Join(a, "data/sections", c.name+"_section.nc"), i, 27.0)
			}
			if !(math.Abs(ref[i]-want) <= 5e-4) { // densities are rounded by up to 8e-7 kg/m3 in the file
				t.Errorf("%s: reference %g dbar, want %g", what, ref[i], want)
			}
			if stated[i] != c.known[i] || statedErr[i] != c.err[i] {
				t.Errorf("%s: %g, %g m/s at the reference, want %g, %g", what, stated[i], statedErr[i], c.known[i],
					c.err[i])
			}
			for l, p := range pres {
				if p == math.Round(ref[i]) && math.Abs(p-ref[i]) < 1e-5 {
					// The formula has no other error at the reference itself.
					if x, y := v[i*shape[1]+l], e[i*shape[1]+l]; !(math.Abs(x-c.known[i]) <= 1e-8) ||
						!(math.Abs(y-c.err[i]) <= 1e-8+2e-5*c.err[i]) { // 15 bits are kept
						t.Errorf("%s at %g dbar: %g, %g m/s, want %g, %g", what, p, x, y, c.known[i], c.err[i])
					}
				}
			}
		}
	}
	// The shear does not hang on the reference: two references differ by one number a pair. (In the first step by up to
	// 1e-5 m/s: where the stations' dynamic height refers to 0 dbar the interpolation sees the water carried up to it.)
	v, shape := sections["pressure"].values["velocity"], sections["pressure"].shape["velocity"]
	w := sections["depths"].values["velocity"]
	for i := range 3 {
		second := w[i*shape[1]+1] - v[i*shape[1]+1]
		for l := range shape[1] {
			tol := 1e-12 +
				6e-8*(math.Abs(w[i*shape[1]+l])+math.Abs(v[i*shape[1]+l])+math.Abs(second)) // 23 bits are kept
			if l == 0 {
				tol = 1e-5
			}
			if d := w[i*shape[1]+l] - v[i*shape[1]+l]; d == d && math.Abs(d-second) > tol {
				t.Fatalf("pair %d level %d: %g, at the second level %g", i+1, l, d, second)
			}
		}
		if second != second || second == 0 {
			t.Errorf("pair %d: references differ by %g", i+1, second)
		}
	}
	// Standard errors of known velocities move the whole column down to the line that joins the two bottoms (1000 and
	// 600 dbar): its area times the error.
	speeds := sections["speeds"]
	part, _ := speeds.of(t, "transport_err_known_velocity")
	length, _ := speeds.of(t, "pair_length")
	area := length[0] * 1e3 * -0.5 * (seawater.Height(600, 45) + seawater.Height(1000, 45))
	if !(math.Abs(part[0]/(0.01*area)-1) < 1e-6) || part[2] != 0 {
		t.Errorf("error of known velocities %v, want %g first and 0 last", part, 0.01*area)
	}
	unused := 0
	for _, r := range findings {
		if r["check"] == "geostrophy.known" {
			unused++
			if r["file"] != "speeds.csv" || r["line"] != "6" ||
				r["message"] != "stations R1 and R4 do not follow each other in section speeds: the line is not used" {
				t.Errorf("finding %v", r)
			}
		}
	}
	if unused != 1 {
		t.Errorf("%d findings of lines that are not used", unused)
	}
	used := 0
	for _, x := range activities(t, a, "geostrophy") {
		if s := fmt.Sprint(x); strings.Contains(s, "speeds") {
			used++
		}
	}
	if used == 0 || !strings.Contains(contents(t, a, "data/provenance/prov.json"), "speeds.csv") {
		t.Error("the table of velocities is in no record")
	}
}

// crossing finds where the mean of two neighbouring stations' potential density, linear between levels, crosses a
// value, from the section file.
func crossing(t *testing.T, path string, pair int, value float64) float64 {
	t.Helper()
	a, at := atPressures(t, path, "sigma0", pair)
	b, bt := atPressures(t, path, "sigma0", pair+1)
	out, before, from := math.NaN(), math.NaN(), math.NaN()
	for p := 10.0; p <= 1000; p += 10 {
		x, ok1 := at(p, a)
		y, ok2 := bt(p, b)
		if !ok1 || !ok2 {
			continue
		}
		now := 0.5*(x+y) - value
		if before < 0 && now >= 0 {
			out = from + (p-from)*before/(before-now)
		}
		before, from = now, p
	}
	return out
}

// Under ice the first velocity is carried no higher than the base of the ice; where the base is not stated the pair
// says that water is counted where ice is. Metres carried stand in file and table. The spread of repeated casts is an
// error of their mean, which replaces them.
func TestSurfaceIceAndRepeats(t *testing.T) {
	for _, x := range []struct {
		ice, note string
		carried   float64 // m
	}{
		{"", "", -seawater.Height(10, 45)},
		{", ice: shelf", "the base of the ice is not stated: water is counted where ice is", -seawater.Height(10, 45)},
		{", ice: shelf, ice_base: 4", "", -seawater.Height(10, 45) - 4},
	} {
		files := plant("sections:\n  - {name: ice, stations: R1-R4, reference: 500, grid: none}\n", flat()...)
		files["cruise.yaml"] = strings.Replace(files["cruise.yaml"], "sources: [casts]", "sources: [casts]"+x.ice, 1)
		a := build(t, files)
		path := filepath.Join(a, "data/sections/ice_geostrophy.nc")
		carried, _ := read(t, path, "surface_carried")
		n := 0
		for _, r := range rowsOf(t, a, "tables/transports.csv") {
			if r["what"] == "pair" && r["kind"] == "volume" {
				n++
				if got := number(t, r["surface_carried_m"]); !(math.Abs(got-x.carried) <= 0.051) ||
					!(math.Abs(carried[0]-x.carried) < 1e-6) {
					t.Errorf("%q: %g m carried in the table, %g in the file, want %g", x.ice, got, carried[0],
						x.carried)
				}
				if (x.note != "") != strings.Contains(r["remark"], "base of the ice") ||
					!strings.Contains(r["remark"], x.note) {
					t.Errorf("%q: %q", x.ice, r["remark"])
				}
			}
			if r["what"] == "section" && (r["kind"] == "temperature") != strings.Contains(r["remark"],
				"it is a temperature transport") ||
				r["what"] == "section" && (r["kind"] == "freshwater") != strings.Contains(r["remark"],
					"reference salinity") {
				t.Errorf("%s: %q", r["kind"], r["remark"])
			}
			if r["kind"] == "heat" {
				t.Errorf("heat transport without a reference temperature: %v", r)
			}
		}
		if n != 3 {
			t.Errorf("%d pairs", n)
		}
	}

	casts := flat()[2:]
	twin := casts[0]
	twin.station, twin.water = "R30", ocean(1.2) // beside R3, 0.4 K warmer at the surface
	files := plant(
		"sections:\n  - {name: one, stations: R3-R4, reference: 500, grid: none}\n  - {name: mean, stations: \"R3, "+
			"R30, R4\", repeats: mean, reference: 500, grid: none}\n",
		append(casts, twin)...)
	a := build(t, files)
	one, _ := read(t, filepath.Join(a, "data/sections/one_geostrophy.nc"), "transport_err_per_cast")
	mean, _ := read(t, filepath.Join(a, "data/sections/mean_geostrophy.nc"), "transport_err_per_cast")
	single, _ := read(t, filepath.Join(a, "data/sections/one_geostrophy.nc"), "transport")
	both, _ := read(t, filepath.Join(a, "data/sections/mean_geostrophy.nc"), "transport")
	// Of two casts the standard error of the mean is half their difference, by which the mean differs from the first:
	// in quadrature with the rest.
	if shift := both[0] - single[0]; !(math.Abs(mean[0]/math.Hypot(one[0], shift)-1) < 0.02) {
		t.Errorf("error %g with one cast, %g with the mean of two that differ by twice %g", one[0], mean[0], shift)
	}
}
