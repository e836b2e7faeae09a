package delaunay

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/castwright/castwright/internal/checkvalues"
)

func parse(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Source: natural_neighbour_checks.csv (exact fractions); 1e-12.
func TestNaturalNeighbourChecks(t *testing.T) {
	fraction := func(s string) float64 {
		a, b, ok := strings.Cut(s, "/")
		if !ok {
			return parse(t, s)
		}
		return parse(t, a) / parse(t, b)
	}
	worst := 0.0
	rows := checkvalues.Table(t, "natural_neighbour_checks.csv")
	for _, r := range rows {
		var x, y, v []float64
		for k, s := range strings.Split(r["points_xy"], "; ") {
			f := strings.Fields(s)
			x, y, v = append(x, parse(t, f[0])), append(y, parse(t, f[1])), append(v, float64(k*k+1))
		}
		tri := New(x, y)
		q := strings.Fields(r["query_xy"])
		var w Search
		if !tri.Find(&w, true, fraction(q[0]), fraction(q[1])) {
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

// hullOf returns the corners of the convex hull, counter-clockwise (Andrew 1979, Inf. Proc. Letters 9, 216).
func hullOf(tri *Triangulation) [][2]float64 {
	var p [][2]float64
	for k := range tri.x {
		p = append(p, [2]float64{float64(tri.x[k]), float64(tri.y[k])})
	}
	slices.SortFunc(p, func(a, b [2]float64) int { return slices.Compare(a[:], b[:]) })
	half := func() (out [][2]float64) {
		for _, q := range p {
			for len(out) > 1 && turn(out[len(out)-2], out[len(out)-1], q) <= 0 {
				out = out[:len(out)-1]
			}
			out = append(out, q)
		}
		return out[:len(out)-1]
	}
	lower := half()
	slices.Reverse(p)
	return append(lower, half()...)
}

func turn(a, b, q [2]float64) float64 { return (b[0]-a[0])*(q[1]-a[1]) - (b[1]-a[1])*(q[0]-a[0]) }

func holds(hull [][2]float64, x, y float64) bool {
	for k := range hull {
		if turn(hull[k], hull[(k+1)%len(hull)], [2]float64{x, y}) < 0 {
			return false
		}
	}
	return true
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
		tri := New(x, y)
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
		hull := hullOf(tri)
		want := 0.0
		for k := range hull {
			a, b := hull[k], hull[(k+1)%len(hull)]
			want += ((a[0]-hull[0][0])*(b[1]-hull[0][1]) - (a[1]-hull[0][1])*(b[0]-hull[0][0])) / 2
		}
		if math.Abs(area-want) > 1e-9*want {
			t.Fatalf("set %d: triangles cover %g, the hull is %g", n, area, want)
		}
		var w Search
		inside := 0
		for range 200 {
			qx, qy := 10*r.Float64(), 10*r.Float64()
			ix, iy := (qx-tri.x0)/tri.unit, (qy-tri.y0)/tri.unit
			in := holds(hull, ix, iy)
			for _, natural := range []bool{false, true} {
				ok := tri.Find(&w, natural, qx, qy)
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
					t.Errorf("set %d natural %v: weights sum to %.15g, place off by %g %g", n, natural, one,
						(sx-ix)/size, (sy-iy)/size)
				}
			}
		}
		if inside == 0 && n%3 == 0 && size > 20 {
			t.Errorf("set %d: no point inside", n)
		}
	}
}
