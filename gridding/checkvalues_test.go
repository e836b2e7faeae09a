package gridding

import (
	"encoding/csv"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
)

func readTable(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../testdata/checkvalues/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range all[1:] {
		m := map[string]string{}
		for k, v := range row {
			m[all[0][k]] = v
		}
		out = append(out, m)
	}
	return out
}

func parse(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// points makes a cloud of one variable with one site for each datum.
func points(x, p, v []float64) *cloud {
	o := &Options{}
	if err := o.fill(); err != nil {
		panic(err)
	}
	s := &survey{opt: o, vars: []metadata.Variable{{Name: "v"}}}
	for k := range x {
		s.sites = append(s.sites, site{cast: &section.Cast{}, xKm: x[k], group: k, profiles: []profile{{p: p[k : k+1], v: v[k : k+1]}}})
	}
	if err := s.places(); err != nil {
		panic(err)
	}
	levels := slices.Clone(p)
	slices.Sort(levels)
	levels = slices.Compact(levels)
	down := oneLength(120)
	t := table{vars: []int{0}, levels: levels, down: &down}
	for k := range x {
		row := make([]float64, len(levels))
		for i := range row {
			row[i] = math.NaN()
			if levels[i] == p[k] {
				row[i] = v[k]
			}
		}
		t.values = append(t.values, [][]float64{row})
	}
	return s.clouds(t, nil)[0]
}

// Science notes, section 13: small cases of optimal interpolation and successive correction to 1e-9 (source: gridding_checks.csv, computed with numpy).
func TestGriddingChecks(t *testing.T) {
	var x, p, anomaly []float64
	back := func(p float64) float64 { return 16 - 0.02*p }
	rows := readTable(t, "gridding_checks.csv")
	for _, r := range rows {
		if r["kind"] == "input" {
			x, p = append(x, parse(t, r["x_km"])), append(p, parse(t, r["p_dbar"]))
			anomaly = append(anomaly, parse(t, r["value"])-back(p[len(p)-1]))
		}
	}
	c := points(x, p, anomaly)
	worst, seen := 0.0, 0
	for _, r := range rows {
		if r["kind"] == "input" {
			continue
		}
		at, q := parse(t, r["x_km"]), parse(t, r["p_dbar"])
		col := &column{xKm: at, lengthKm: 40}
		for k := range c.s.sites {
			col.h = append(col.h, math.Abs(at-c.s.sites[k].xKm))
		}
		est, rel := newEstimates(1, 1), make([]float64, 1)
		var w work
		switch {
		case strings.HasPrefix(r["kind"], "oi_"):
			set := oiSettings{noise: 0.05, neighbours: 60, cut: 100, plain: true, knownMean: r["kind"] == "oi_known_mean"}
			newOptimal(c, set, nil, nil).predict(&w, col, []float64{q}, est, rel)
			worst = math.Max(worst, math.Abs(rel[0]-parse(t, r["second_value"])))
		default:
			n := int(parse(t, strings.TrimSuffix(strings.TrimPrefix(r["kind"], "barnes_"), "_pass")))
			newSuccessiveWith(c, &verticalScale{length: []float64{120}}, 40*40, n, nil, nil).predict(&w, col, []float64{q}, est, rel)
		}
		worst = math.Max(worst, math.Abs(est[0][0]+back(q)-parse(t, r["value"])))
		seen++
	}
	if seen != 26 || worst > 1e-9 {
		t.Errorf("%d rows, largest difference %g", seen, worst)
	}
	t.Logf("largest difference %.2g", worst)
}

// Science notes, section 13: natural neighbours to 1e-12 (exact fractions).
func TestNaturalNeighbourChecks(t *testing.T) {
	fraction := func(s string) float64 {
		a, b, ok := strings.Cut(s, "/")
		if !ok {
			return parse(t, s)
		}
		return parse(t, a) / parse(t, b)
	}
	worst := 0.0
	rows := readTable(t, "natural_neighbour_checks.csv")
	for _, r := range rows {
		var x, y, v []float64
		for k, s := range strings.Split(r["points_xy"], "; ") {
			f := strings.Fields(s)
			x, y, v = append(x, parse(t, f[0])), append(y, parse(t, f[1])), append(v, float64(k*k+1))
		}
		tri := newTriangulation(x, y)
		q := strings.Fields(r["query_xy"])
		var w triWork
		if !tri.natural(&w, fraction(q[0]), fraction(q[1])) {
			t.Fatalf("%s %v: no value", r["set"], q)
		}
		got := make([]float64, len(x))
		for i, k := range w.vertex {
			got[k] += w.weight[i]
		}
		sum := 0.0
		for k, s := range strings.Fields(r["weights_exact"]) {
			if d := math.Abs(got[k] - fraction(s)); d > 1e-12 {
				t.Errorf("%s %v: weight %d is %.15g, want %s", r["set"], q, k, got[k], s)
			}
			worst = math.Max(worst, math.Abs(got[k]-fraction(s)))
			sum += got[k] * v[k]
		}
		if d := math.Abs(sum - fraction(r["estimate_exact"])); d > 1e-12*30 {
			t.Errorf("%s %v: estimate %.15g, want %s", r["set"], q, sum, r["estimate_exact"])
		}
	}
	if len(rows) != 7 {
		t.Errorf("%d rows", len(rows))
	}
	t.Logf("largest difference of a weight %.2g", worst)
}

// Every triangulation is Delaunay and covers its hull; natural neighbours and triangles are exact for planes inside it.
func TestTriangulations(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 4))
	for n := range 60 {
		var x, y []float64
		size := 3 + r.IntN(120)
		for range size {
			switch n % 3 {
			case 0: // scattered
				x, y = append(x, 10*r.Float64()), append(y, 10*r.Float64())
			case 1: // rows and columns, some missing, some twice
				x, y = append(x, float64(r.IntN(9))), append(y, float64(r.IntN(9)))
			default: // stations of uneven depth
				x, y = append(x, math.Floor(12*r.Float64())*0.37), append(y, math.Floor(20*r.Float64())*0.15)
			}
		}
		tri := newTriangulation(x, y)
		if tri.flat {
			continue
		}
		used := map[int32]bool{}
		area := 0.0
		for k := range tri.tri {
			v := tri.tri[k].v
			for i := range 3 {
				nb := tri.tri[k].nb[i]
				found := false
				for j := range 3 {
					found = found || tri.tri[nb].nb[j] == int32(k)
				}
				if !found {
					t.Fatalf("set %d: neighbours disagree", n)
				}
			}
			if tri.ghost(int32(k)) {
				continue
			}
			s := tri.side(v[0], v[1], v[2])
			if s <= 0 {
				t.Fatalf("set %d: a triangle runs clockwise or is flat", n)
			}
			area += float64(s) / 2
			for i := range 3 {
				used[v[i]] = true
			}
			for p := range tri.x {
				if tri.inCircle(v[0], v[1], v[2], int32(p)) > 0 {
					t.Fatalf("set %d: a point lies inside a circle", n)
				}
			}
		}
		if len(used) != len(tri.x) {
			t.Fatalf("set %d: %d of %d points are corners", n, len(used), len(tri.x))
		}
		s := &survey{}
		for k := range tri.x {
			s.sites = append(s.sites, site{plane: [2]float64{float64(tri.x[k]), float64(tri.y[k])}})
		}
		hull := s.hull(nil)
		want := 0.0
		for k := range hull {
			a, b := hull[k], hull[(k+1)%len(hull)]
			want += ((a[0]-hull[0][0])*(b[1]-hull[0][1]) - (a[1]-hull[0][1])*(b[0]-hull[0][0])) / 2
		}
		if math.Abs(area-want) > 1e-9*want {
			t.Fatalf("set %d: triangles cover %g, the hull is %g", n, area, want)
		}
		var w triWork
		inside := 0
		for range 200 {
			qx, qy := 10*r.Float64(), 10*r.Float64()
			ix, iy := (qx-tri.x0)/tri.unit, (qy-tri.y0)/tri.unit
			in := beyondHull(hull, [2]float64{ix, iy}) == 0
			for _, natural := range []bool{false, true} {
				ok := tri.weights(&w, natural, qx, qy)
				if ok != in {
					t.Fatalf("set %d: %g %g inside %v, value %v", n, qx, qy, in, ok)
				}
				if !ok {
					continue
				}
				inside++
				var one, sx, sy float64
				for i, k := range w.vertex {
					if w.weight[i] < -1e-9 {
						t.Errorf("set %d: weight %g", n, w.weight[i])
					}
					one += w.weight[i]
					sx += w.weight[i] * float64(tri.x[k])
					sy += w.weight[i] * float64(tri.y[k])
				}
				size := math.Ldexp(1, extentBits)
				if math.Abs(one-1) > 1e-12 || math.Abs(sx-ix) > 1e-7*size || math.Abs(sy-iy) > 1e-7*size {
					t.Errorf("set %d natural %v: weights sum to %.15g, place off by %g %g", n, natural, one, (sx-ix)/size, (sy-iy)/size)
				}
			}
		}
		if inside == 0 && n%3 == 0 && size > 20 {
			t.Errorf("set %d: no point inside", n)
		}
	}
}
