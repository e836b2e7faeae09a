package gridding

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/paulmach/orb"
)

// holed makes a field of a few waves with noise, rounded to quarter units when coarse (so that nodes equal levels), and with holes.
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

// Issue 4, done when 4: areas of the bands sum to the unmasked area to 1e-9 relative.
func TestBandsCoverTheUnmaskedArea(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	for n := range 200 {
		x, y, f := holed(r, 5+r.IntN(30), 5+r.IntN(30), n%2 == 0)
		levels := []float64{-4, -2, -1, 0, 0.5, 1, 3}
		sum := 0.0
		for _, b := range Bands(x, y, f, levels) {
			for _, p := range b.Polygons {
				for k, ring := range p {
					area := ringArea(ring)
					if (area > 0) != (k == 0) {
						t.Fatalf("field %d: ring %d of a polygon has area %g", n, k, area)
					}
					if ring[0] != ring[len(ring)-1] {
						t.Fatalf("field %d: a ring is open", n)
					}
					sum += area
				}
			}
		}
		want := CoveredArea(x, y, f)
		if math.Abs(sum-want) > 1e-9*want {
			t.Fatalf("field %d: bands cover %.12g, the field is %.12g", n, sum, want)
		}
	}
}

// Each random point of the unmasked area lies in exactly one band, and it is a band that its mesh reaches; where the mesh lies wholly in one band,
// in that one.
func TestBandsHoldTheRightValues(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	levels := []float64{-2, -1, 0, 1, 2}
	for n := range 40 {
		x, y, f := holed(r, 12, 14, n%2 == 0)
		bands := Bands(x, y, f, levels)
		m := newMesh(x, y, f, levels)
		for range 300 {
			j, i := r.IntN(11), r.IntN(13)
			u, v := 0.01+0.98*r.Float64(), 0.01+0.98*r.Float64()
			p := orb.Point{x[j] + u*(x[j+1]-x[j]), y[i] + v*(y[i+1]-y[i])}
			c := i*12 + j
			covered := false
			switch m.kind[c] {
			case meshWhole:
				covered = true
			case 0:
				covered = u+v > 1
			case 1:
				covered = v > u
			case 2:
				covered = u+v < 1
			case 3:
				covered = u > v
			}
			found := 0
			for _, b := range bands {
				for _, poly := range b.Polygons {
					in := within(poly[0], p)
					for _, h := range poly[1:] {
						in = in && !within(h, p)
					}
					if in {
						found++
						if m.hi[c] < b.From || m.lo[c] >= b.To {
							t.Fatalf("field %d: a mesh of %g to %g in the band %g to %g", n, m.lo[c], m.hi[c], b.From, b.To)
						}
					}
				}
			}
			if want := map[bool]int{true: 1}[covered]; found != want {
				t.Fatalf("field %d: point %v lies in %d bands, want %d", n, p, found, want)
			}
		}
	}
}

// Every line separates: just left of the middle of each part the surface of a plane field is higher, just right of it lower; and on a random
// field each part has on its left a node of its mesh that is above, on its right one that is below.
func TestLinesSeparateValues(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 9))
	total := 0
	for n := range 60 {
		x, y, f := holed(r, 15, 17, false)
		for _, level := range []float64{-1.5, 0, 1} {
			for _, c := range Contours(x, y, f, []float64{level}) {
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
	for _, c := range Contours(x, y, f, []float64{1.5, 4.25}) {
		if len(c.Lines) != 1 {
			t.Fatalf("level %g: %d lines, want 1", c.Level, len(c.Lines))
		}
		for _, p := range c.Lines[0] {
			if math.Abs(p[0]+p[1]-c.Level) > 1e-14 {
				t.Errorf("level %g passes %v", c.Level, p)
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

// A hill in a plain gives a band with a hole, and a hill inside the hole a polygon of its own.
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
	bands := Bands(x, x, f, []float64{-0.3, 0.3})
	rings := []int{0, 0, 0}
	for k, b := range bands {
		for _, p := range b.Polygons {
			rings[k] += len(p) - 1
		}
	}
	// cos(d/4) over 20 steps: a high disc (radius 5), a middle ring, a low ring (7.5 to 17.6), a middle ring, then high towards the corners.
	if len(bands[2].Polygons) != 5 || len(bands[1].Polygons) != 2 || len(bands[0].Polygons) != 1 || rings[0] != 1 || rings[1] != 2 || rings[2] != 0 {
		t.Errorf("polygons %d %d %d, holes %v", len(bands[0].Polygons), len(bands[1].Polygons), len(bands[2].Polygons), rings)
	}
	if !reflect.DeepEqual(bands, Bands(x, x, f, []float64{-0.3, 0.3})) {
		t.Error("two runs differ")
	}
}

func TestContoursRefuseWrongArguments(t *testing.T) {
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
			Contours(c.x, c.y, c.f, c.l)
		}()
	}
}

// within says whether a point lies inside a closed ring (crossings of a ray to the right are counted).
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
