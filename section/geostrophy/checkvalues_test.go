package geostrophy

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/checkvalues"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
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

// checkCast is one of the published TEOS-10 check casts.
type checkCast struct {
	lat, lon          float64
	p, sa, ct         []float64
	linear, pch, rota []float64
}

func checkCasts(t testing.TB) []checkCast {
	t.Helper()
	out := make([]checkCast, 3)
	for _, row := range checkvalues.Table(t, "teos10_check_casts.csv") {
		c := &out[int(parse(t, row["cast"]))-1]
		c.lat, c.lon = parse(t, row["lat"]), parse(t, row["lon"])
		c.p = append(c.p, parse(t, row["p"]))
		c.sa = append(c.sa, parse(t, row["SA_from_SP"]))
		c.ct = append(c.ct, parse(t, row["CT_from_t"]))
		c.rota = append(c.rota, parse(t, row["dyn_height_mrst"]))
		c.pch = append(c.pch, parse(t, row["dyn_height_pchip"]))
		c.linear = append(c.linear, parse(t, row["dyn_height_linear"]))
	}
	return out
}

// castOf makes a cast with derived columns.
func castOf(station string, lat, lon float64, p, sa, ct []float64) *section.Cast {
	column := func(name string, x []float64) section.Column {
		return section.Column{Variable: metadata.MustVariable(name), Decimals: -1, Values: x, Derived: name != "pres"}
	}
	return &section.Cast{Expocode: "99ZZ20240501", Station: station, Number: "1", Role: section.Primary,
		At:      orb.Point{lon, lat},
		BottomM: math.NaN(), PressureDbar: p, Columns: []section.Column{column("pres", p), column("asal", sa),
			column("ctemp", ct)}}
}

func sectionOf(name string, casts ...*section.Cast) *section.Section {
	s := &section.Section{Name: name, Casts: casts}
	points := make([]orb.Point, len(casts))
	for i, c := range casts {
		points[i] = c.At
	}
	s.DistanceKm = section.TrackKm(points, section.WGS84)
	return s
}

func mustCompute(t testing.TB, s *section.Section, opts Options) *Result {
	t.Helper()
	r, err := Compute(s, opts)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func within(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.12g, want %.12g within %g (difference %.3g)", what, got, want, tol, got-want)
	}
}

var methods = []interpolate.Method{interpolate.Linear, interpolate.Pchip, interpolate.Rotated}

func (c *checkCast) height(m interpolate.Method) []float64 {
	switch m {
	case interpolate.Linear:
		return c.linear
	case interpolate.Pchip:
		return c.pch
	}
	return c.rota
}

// Source: teos10_check_casts.csv; tolerance: science section 13.
func TestDynamicHeightOfCheckCasts(t *testing.T) {
	for i, c := range checkCasts(t) {
		for _, m := range methods {
			got, err := DynamicHeight(make([]float64, len(c.p)), c.sa, c.ct, c.p, 0, m)
			if err != nil {
				t.Fatal(err)
			}
			largest := 0.0
			for l, want := range c.height(m) {
				d := math.Abs(got[l] - want)
				if !(d <= 1e-8) {
					t.Errorf("cast %d %s at %g dbar: %.12g, want %.12g", i+1, m, c.p[l], got[l], want)
				}
				largest = math.Max(largest, d)
			}
			t.Logf("cast %d %s: largest difference %.2g m2/s2", i+1, m, largest)
		}
	}
}

// Source: teos10_check_velocity.csv: the published column is rotated, radius 6371 km + z(p); the others on the sphere.
// The casts cross no equator; cast 3 lies in another ocean, which the sums do not mind.
func TestVelocityOfCheckCasts(t *testing.T) {
	casts := checkCasts(t)
	var list []*section.Cast
	for i, c := range casts {
		list = append(list, castOf(strconv.Itoa(i+1), c.lat, c.lon, c.p, c.sa, c.ct))
	}
	rows := checkvalues.Table(t, "teos10_check_velocity.csv")
	for _, x := range []struct {
		m        interpolate.Method
		distance section.Method
		column   string
	}{{interpolate.Rotated, section.SphereAtLevel, "v_mrst_distance_at_p"}, {interpolate.Pchip, section.Sphere,
		"v_pchip_distance_p0"}, {interpolate.Linear, section.Sphere, "v_linear_distance_p0"}} {
		opts := DefaultOptions()
		opts.Interpolation, opts.Distance = x.m, x.distance
		opts.Reference = Reference{Kind: AtPressure, PressureDbar: 0}
		r := mustCompute(t, sectionOf("CHECK", list...), opts)
		largest, count := 0.0, 0
		for _, row := range rows {
			pr := &r.Pairs[int(parse(t, row["cast_a"]))-1]
			p, want := parse(t, row["p"]), parse(t, row[x.column])
			v := math.NaN()
			for l := range pr.PressureDbar {
				if pr.PressureDbar[l] == p {
					v = pr.Velocity[l]
				}
			}
			d := math.Abs(v - want)
			if !(d <= 1e-9) {
				t.Errorf("%s, pair %s at %g dbar: %.12g, want %.12g", x.column, pr.ID, p, v, want)
			}
			largest = math.Max(largest, d)
			count++
			if x.m == interpolate.Pchip {
				within(t, "distance", pr.LengthKm*1e3, parse(t, row["distance_sphere_p0_m"]), 1e-6)
			}
		}
		t.Logf("%s: %d values, largest difference %.2g m/s", x.column, count, largest)
	}
}

// Source: dynamic_height_worked_example*.csv; tolerances are those of its description.
func TestWorkedExample(t *testing.T) {
	type column struct{ p, sa, ct, linear, pch []float64 }
	read := map[string]*column{"61": {}, "64": {}}
	for _, row := range checkvalues.Table(t, "dynamic_height_worked_example.csv") {
		c := read[row["station"]]
		c.p = append(c.p, parse(t, row["p_dbar"]))
		c.sa = append(c.sa, parse(t, row["SA_used"]))
		c.ct = append(c.ct, parse(t, row["CT_used"]))
		c.linear = append(c.linear, parse(t, row["dynheight_teos10_linear_m2s2"]))
		c.pch = append(c.pch, parse(t, row["dynheight_teos10_pchip_m2s2"]))
	}
	// 36 deg 40.03' N 70 deg 59.59' W and 37 deg 39.93' N 71 deg 0.00' W (Stewart, table 10.2 and 10.3).
	a := castOf("61", 36+40.03/60, -(70 + 59.59/60), read["61"].p, read["61"].sa, read["61"].ct)
	b := castOf("64", 37+39.93/60, -71, read["64"].p, read["64"].sa, read["64"].ct)
	for _, m := range []interpolate.Method{interpolate.Linear, interpolate.Pchip} {
		opts := DefaultOptions()
		opts.Interpolation = m
		opts.Reference = Reference{Kind: AtPressure, PressureDbar: 2000}
		r := mustCompute(t, sectionOf("GULF", a, b), opts)
		pr := &r.Pairs[0]
		for l, row := range checkvalues.Table(t, "dynamic_height_worked_example_velocity.csv") {
			if pr.PressureDbar[l] != parse(t, row["p_dbar"]) {
				t.Fatalf("level %d is %g dbar", l, pr.PressureDbar[l])
			}
			within(t, m.String()+" own column at "+row["p_dbar"], pr.Velocity[l],
				parse(t, row["v_left_positive_teos10_"+m.String()+"_wgs84_fmid"]), 1e-6)
			// Printed V is positive to the right of the line.
			within(t, m.String()+" printed V at "+row["p_dbar"], -pr.Velocity[l], parse(t, row["V_printed_ms"]), 0.010)
		}
		for k, s := range []string{"61", "64"} {
			want := read[s].linear
			if m == interpolate.Pchip {
				want = read[s].pch
			}
			for l := range want {
				within(t, m.String()+" dynamic height of "+s, r.Stations[k].DynamicHeight[l], want[l], 1e-5)
			}
		}
	}
}

// Source: triangle_checks.csv; tolerance: science section 13.
func TestTriangleClosedForms(t *testing.T) {
	for _, row := range checkvalues.Table(t, "triangle_checks.csv") {
		a, b, v, s := parse(t, row["a_m"]), parse(t, row["b_m"]), parse(t, row["v_c_ms"]), parse(t, row["shear_1s"])
		within(t, "none", TriangleTransport(NoFlow, a, b, v, s), 0, 0)
		for treatment, column := range map[Treatment]string{ConstantVelocity: "constant_velocity_m2s",
			ConstantShear: "constant_shear_m2s", LinearToZero: "linear_to_zero_m2s"} {
			want := parse(t, row[column])
			within(t, column, TriangleTransport(treatment, a, b, v, s), want, 1e-9)
			// Cut in three the parts sum to the whole.
			sum := 0.0
			for _, cut := range [][2]float64{{-5, 0.3 * b}, {0.3 * b, 0.8 * b}, {0.8 * b, 2 * b}} {
				byV, byS := triangleWeights(treatment, a, b, cut[0], cut[1])
				sum += byV*v + byS*s
			}
			within(t, column+" in three parts", sum, want, 1e-9)
		}
	}
	for _, treatment := range []Treatment{ConstantVelocity, ConstantShear, LinearToZero} {
		within(t, "no triangle", TriangleTransport(treatment, 0, 0, 1, 1), 0, 0)
	}
}

// Source: uncertainty_checks.csv, its formula columns, and the direct change where salinity comes from conductivity;
// 1e-3 relative (science section 13), 5e-3 for the one with conductivity, whose direct change is of the in-situ
// temperature (2 % for temperature alone).
func TestErrorIntegrals(t *testing.T) {
	casts := checkCasts(t)
	std := newStandard(6200)
	for _, row := range checkvalues.Table(t, "uncertainty_checks.csv") {
		c := &casts[int(parse(t, row["check_cast"]))-1]
		ref := parse(t, row["p_ref"])
		at := func(fromConductivity bool) [waterModes]float64 {
			col := newColumn(c.p, c.sa, c.ct, []float64{ref}, interpolate.Pchip, std, new(interpolate.Workspace))
			col.setModes(fromConductivity, &Profile{})
			var m [waterModes]float64
			col.modes.at(ref, 0, &m)
			return m
		}
		plain, cond := at(false), at(true)
		relative := func(what string, got float64, column string, tol float64) {
			want := parse(t, row[column])
			within(t, "cast "+row["check_cast"]+" re "+row["p_ref"]+" "+what, math.Abs(got), want, tol*want)
		}
		relative("salinity", 2e-3*plain[0], "S_0.002_formula", 1e-3)
		relative("temperature", 1e-3*plain[1], "T_1mK_formula", 1e-3)
		relative("pressure", 3*plain[2], "p_3dbar_formula", 1e-3)
		relative("temperature with salinity from conductivity", 1e-3*cond[1], "T_1mK_direct_salinity_from_conductivity",
			5e-3)
		// "Psi a further 12-13 %" (science section 8), for pressure with salinity from conductivity.
		if more := cond[2]/plain[2] - 1; ref == 2000 && !(more > 0.11 && more < 0.14) {
			t.Errorf("pressure through conductivity adds %.3f, want 0.12 to 0.13", more)
		}
	}
}

// Source: leftover_checks.csv. A salinity offset of one inner station of a flat-bottom line leaves the difference of
// the 1/f.
func TestLeftovers(t *testing.T) {
	rows := checkvalues.Table(t, "leftover_checks.csv")
	for len(rows) > 0 {
		n := 1
		for n < len(rows) && rows[n]["line"] == rows[0]["line"] {
			n++
		}
		line := rows[:n]
		rows = rows[n:]
		zonal := strings.HasPrefix(line[0]["line"], "zonal")
		var p, sa, ct []float64
		for x := 0.0; x <= 2000; x += 10 {
			p, sa, ct = append(p, x), append(sa, 35), append(ct, 4+16*math.Exp(-x/600))
		}
		var casts []*section.Cast
		for i, row := range line {
			lon := -40.0
			if zonal {
				lon += 0.5 * float64(i)
			}
			casts = append(casts, castOf(row["station"], parse(t, row["lat"]), lon, p, sa, ct))
		}
		opts := DefaultOptions()
		opts.Reference = Reference{Kind: AtPressure, PressureDbar: 2000}
		for k := range casts {
			r := mustCompute(t, sectionOf("LINE", casts...), opts)
			changed := append([]float64(nil), sa...)
			for i := range changed {
				changed[i] += 0.002
			}
			moved := append([]*section.Cast(nil), casts...)
			moved[k] = castOf(line[k]["station"], casts[k].At[1], casts[k].At[0], p, changed, ct)
			q := mustCompute(t, sectionOf("LINE", moved...), opts)
			// Double integral of the change of one cast: its transport at f = 1.
			pr, qr := &r.Pairs[max(k-1, 0)], &q.Pairs[max(k-1, 0)]
			side := func(x *Pair) []float64 {
				if k == 0 {
					return x.HeightA
				}
				return x.HeightB
			}
			sum, lat := 0.0, 0.5*(casts[pr.A].At[1]+casts[pr.B].At[1])
			for l := 1; l < len(p); l++ {
				dz := seawater.Height(p[l-1], lat) - seawater.Height(p[l], lat)
				sum += 0.5 * dz * (side(qr)[l] - side(pr)[l] + side(qr)[l-1] - side(pr)[l-1])
			}
			got := (q.Total[Volume].Value - r.Total[Volume].Value) / sum
			want := parse(t, line[k]["c_k_s"])
			// Depths of the same pressure differ from pair to pair by 1e-4 of themselves on a meridional line.
			tol := 2e-4 * math.Abs(parse(t, line[0]["c_k_s"]))
			if zonal {
				tol = 1e-9 * math.Abs(parse(t, line[0]["c_k_s"]))
			}
			within(t, line[0]["line"]+" station "+line[k]["station"], got, want, tol)
		}
		// The propagated error of a total says the same: with an error of salinity at one station alone it is |c_k| of
		// that station.
		first := 0.0
		for k := range casts {
			opts.Accuracies = []Accuracy{{System: "exact", Stage: metadata.StageAdjusted, CommonFraction: nan},
				{System: "one", Salinity: 0.002, Stage: metadata.StageAdjusted, CommonFraction: nan}}
			for i := range casts {
				casts[i].System = "exact"
			}
			casts[k].System = "one"
			got := mustCompute(t, sectionOf("LINE", casts...), opts).Total[Volume].PerCast
			if k == 0 {
				first = got
			}
			tol := 5e-4 // over 5 degrees gravity changes the depth of a pressure by 4e-4 of itself
			if zonal {
				tol = 1e-9
			}
			within(t, line[0]["line"]+" propagated at station "+line[k]["station"], got/first,
				parse(t, line[k]["relative_to_first"]), tol)
		}
	}
}

// Source: transport_checks.csv, computed apart with the reference toolbox: trapezoid in z at the mean latitude over the
// common levels, no bottom triangle, SA, CT and density each the mean of the two stations. Tolerance 1e-9 relative.
func TestTransportOfCheckCasts(t *testing.T) {
	casts := checkCasts(t)
	a := castOf("1", casts[0].lat, casts[0].lon, casts[0].p, casts[0].sa, casts[0].ct)
	b := castOf("2", casts[1].lat, casts[1].lon, casts[1].p, casts[1].sa, casts[1].ct)
	rows := checkvalues.Table(t, "transport_checks.csv")
	for _, row := range rows {
		opts := DefaultOptions()
		if row["interpolation"] == "linear" {
			opts.Interpolation = interpolate.Linear
		}
		opts.Reference = Reference{Kind: AtPressure, PressureDbar: parse(t, row["p_ref"])}
		opts.Triangle, opts.ReferenceSalinity = NoFlow, 35
		none := math.Inf(1)
		opts.MaxGapDbar = &none
		p := &mustCompute(t, sectionOf("CHECK", a, b), opts).Pairs[0]
		name := row["interpolation"] + " re " + row["p_ref"] + " dbar, "
		within(t, name+"length", p.LengthKm*1e3, parse(t, row["L_m"]), 1e-4)
		for kind, column := range map[Kind]string{Volume: "volume_m3s", Mass: "mass_kgs", Temperature: "temperature_W",
			Salt:       "salt_kgs",
			Freshwater: "freshwater_re_35_kgs"} {
			want := parse(t, row[column])
			within(t, name+column, p.AboveTriangle[kind], want, 1e-9*math.Abs(want))
		}
	}
	if len(rows) != 4 {
		t.Errorf("%d rows", len(rows))
	}
}
