package contour

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/paulmach/orb"
)

// holed makes a field of a few waves with noise, rounded to quarter units when coarse (so that nodes equal levels), and
// with holes.
func holed(r *rand.Rand, nx, ny int, coarse bool) (x, y, f []float64) {
	x, y, f = make([]float64, nx), make([]float64, ny), make([]float64, nx*ny)
	for j := range x {
		x[j] = 3*float64(j) + r.Float64()
	}
	for i := range y {
		y[i] = 10*float64(i) + 4*r.Float64()
	}
	a, b, c := r.Float64(), r.Float64(), r.Float64()
	for k := range f {
		i, j := k/nx, k%nx
		v := 3*math.Sin(a*float64(j)+b) + 2*math.Cos(c*float64(i)) + r.NormFloat64()
		if coarse {
			v = math.Round(v)
		}
		if r.Float64() < 0.12 {
			v = math.NaN()
		}
		f[k] = v
	}
	return x, y, f
}

// areaOf returns the area of polygons, and holds them to their form: the first ring runs counter-clockwise, the others
// clockwise, all are closed.
func areaOf(t *testing.T, polygons orb.MultiPolygon) float64 {
	t.Helper()
	sum := 0.0
	for _, p := range polygons {
		for k, ring := range p {
			area := ringArea(ring)
			if (area > 0) != (k == 0) || ring[0] != ring[len(ring)-1] {
				t.Fatalf("ring %d of a polygon has area %g, from %v to %v", k, area, ring[0], ring[len(ring)-1])
			}
			sum += area
		}
	}
	return sum
}

// What lies above no level at all is every whole mesh and every triangle with good corners, to 1e-9 relative; what lies
// above a higher level is less.
func TestAboveCoversTheUnmaskedArea(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	for n := range 200 {
		x, y, f := holed(r, 5+r.IntN(30), 5+r.IntN(30), n%2 == 0)
		levels := []float64{math.Inf(-1), -4, -2, -1, 0, 0.5, 1, 3}
		m := newMesh(x, y, f, nil)
		want := 0.0
		for c, kind := range m.kind {
			if kind == meshEmpty {
				continue
			}
			i, j := c/m.nx, c%m.nx
			area := (x[j+1] - x[j]) * (y[i+1] - y[i])
			if kind != meshWhole {
				area /= 2
			}
			want += area
		}
		last := math.Inf(1)
		for k, polygons := range Above(x, y, f, levels) {
			area := areaOf(t, polygons)
			if k == 0 && math.Abs(area-want) > 1e-9*want || area > last*(1+1e-12) {
				t.Fatalf("field %d: %.12g above %g, the field is %.12g", n, area, levels[k], want)
			}
			last = area
		}
	}
}

// A random point of the unmasked area lies above those levels that its mesh lies wholly above and not above those that
// its mesh lies wholly below; in between, above all levels up to one. Elsewhere it lies above none.
func TestAboveHoldsTheRightValues(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	levels := []float64{math.Inf(-1), -2, -1, 0, 1, 2}
	for n := range 40 {
		x, y, f := holed(r, 12, 14, n%2 == 0)
		above := Above(x, y, f, levels)
		m := newMesh(x, y, f, levels)
		for range 300 {
			j, i := r.IntN(11), r.IntN(13)
			u, v := 0.01+0.98*r.Float64(), 0.01+0.98*r.Float64()
			p := orb.Point{x[j] + u*(x[j+1]-x[j]), y[i] + v*(y[i+1]-y[i])}
			c := i*12 + j
			covered := map[uint8]bool{meshWhole: true, 0: u+v > 1, 1: v > u, 2: u+v < 1, 3: u > v}[m.kind[c]]
			before := covered
			for k, polygons := range above {
				in := false
				for _, poly := range polygons {
					inside := within(poly[0], p)
					for _, h := range poly[1:] {
						inside = inside && !within(h, p)
					}
					if in && inside {
						t.Fatalf("field %d: point %v lies in two polygons", n, p)
					}
					in = in || inside
				}
				if in && (!before || m.hi[c] < levels[k]) || !in && covered && m.lo[c] >= levels[k] {
					t.Fatalf("field %d: point %v of a mesh of %g to %g, above %g: %v", n, p, m.lo[c], m.hi[c],
						levels[k], in)
				}
				before = in
			}
		}
	}
}

// Every line separates: just left of the middle of each part the surface of a plane field is higher, just right of it
// lower; and on a random field each part has on its left a node of its mesh that is above, on its right one that is
// below.
func TestLinesSeparateValues(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 9))
	total := 0
	for n := range 60 {
		x, y, f := holed(r, 15, 17, false)
		for _, level := range []float64{-1.5, 0, 1} {
			for _, c := range Lines(x, y, f, []float64{level}) {
				parts := 0
				for _, line := range c.Lines {
					for k := 1; k < len(line); k++ {
						parts++
						a, b := line[k-1], line[k]
						mid := orb.Point{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2}
						j, i := index(x, mid[0]), index(y, mid[1])
						above, below := false, false
						for di := range 2 {
							for dj := range 2 {
								v := f[(i+di)*15+j+dj]
								side := (b[0]-a[0])*(y[i+di]-a[1]) - (b[1]-a[1])*(x[j+dj]-a[0])
								above = above || side >= -1e-9 && v >= level
								below = below || side <= 1e-9 && v < level
							}
						}
						if !above || !below {
							t.Fatalf("field %d level %g: nothing to separate at %v", n, level, mid)
						}
					}
				}
				total += parts
			}
		}
	}
	if total < 5000 {
		t.Errorf("only %d parts of lines were looked at", total)
	}
	// A plane: exact.
	x, y := []float64{0, 1, 2, 3}, []float64{0, 2, 5}
	f := make([]float64, 12)
	for k := range f {
		f[k] = x[k%4] + y[k/4]
	}
	for _, c := range Lines(x, y, f, []float64{1.5, 4.25}) {
		if len(c.Lines) != 1 {
			t.Fatalf("level %g: %d lines, want 1", c.Value, len(c.Lines))
		}
		for _, p := range c.Lines[0] {
			if math.Abs(p[0]+p[1]-c.Value) > 1e-14 {
				t.Errorf("level %g passes %v", c.Value, p)
			}
		}
	}
}

func index(a []float64, v float64) int {
	k := 0
	for k+2 < len(a) && a[k+1] <= v {
		k++
	}
	return k
}

// A ring around a hill gives a polygon with a hole, and the hill inside the hole a polygon of its own.
func TestHolesBelongToTheirPolygon(t *testing.T) {
	const n = 41
	x, f := make([]float64, n), make([]float64, n*n)
	for k := range x {
		x[k] = float64(k - n/2)
	}
	for k := range f {
		d := math.Hypot(x[k%n], x[k/n])
		f[k] = math.Cos(d / 4)
	}
	above := Above(x, x, f, []float64{-0.3, 0.3})
	holes := []int{0, 0}
	for k, polygons := range above {
		for _, p := range polygons {
			holes[k] += len(p) - 1
		}
	}
	// cos(d/4) over 20 steps: high to 5, above -0.3 to 7.5, low to 17.6, then high again towards the four corners.
	if len(above[0]) != 2 || holes[0] != 1 || len(above[1]) != 5 || holes[1] != 0 {
		t.Errorf("polygons %d %d, holes %v", len(above[0]), len(above[1]), holes)
	}
	if !reflect.DeepEqual(above, Above(x, x, f, []float64{-0.3, 0.3})) {
		t.Error("two runs differ")
	}
}

func TestLinesRefuseWrongArguments(t *testing.T) {
	for _, c := range []struct {
		x, y, f, l []float64
		want       string
	}{
		{[]float64{0, 1}, []float64{0, 1}, make([]float64, 3), nil, wrongLength},
		{[]float64{1, 0}, []float64{0, 1}, make([]float64, 4), nil, notIncreasing},
		{[]float64{0, 1}, []float64{0, 1}, make([]float64, 4), []float64{1, 1}, notIncreasing},
	} {
		func() {
			defer func() {
				if got := recover(); got != c.want {
					t.Errorf("panic %v, want %v", got, c.want)
				}
			}()
			Lines(c.x, c.y, c.f, c.l)
		}()
	}
}

// within reports whether a point lies inside a closed ring (crossings of a ray to the right are counted).
func within(r orb.Ring, p orb.Point) bool {
	in := false
	for k := 1; k < len(r); k++ {
		a, b := r[k-1], r[k]
		if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			in = !in
		}
	}
	return in
}
