package gridding

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// scattered lowers casts at random places within a distance of a middle, into a field that has only directions on the
// sphere, so that it has no seam.
func scattered(n int, middle orb.Point, radiusKm float64, number uint64) []*section.Cast {
	r := rand.New(rand.NewPCG(number, 99))
	var casts []*section.Cast
	for k := range n {
		at, _ := section.Along(middle, 360*r.Float64(), 1000*radiusKm*math.Sqrt(r.Float64()))
		c := &section.Cast{Expocode: "INVENTED", Station: fmt.Sprint(k + 1), Number: "1", At: at, BottomM: math.NaN()}
		ct := section.Column{Variable: variable("ctemp"), Decimals: -1}
		sa := section.Column{Variable: variable("asal"), Decimals: -1}
		pres := section.Column{Variable: variable("pres"), Decimals: -1}
		for p := 2.0; p <= 500; p += 2 {
			pres.Values = append(pres.Values, p)
			t, s := roundField(middle, at, p)
			ct.Values, sa.Values = append(ct.Values, t), append(sa.Values, s)
		}
		c.PressureDbar = pres.Values
		c.Columns = []section.Column{pres, ct, sa}
		casts = append(casts, c)
	}
	return casts
}

// roundField is smooth on the sphere: waves along three fixed axes of space, with the size of some hundred km.
func roundField(middle, at orb.Point, p float64) (ct, sa float64) {
	v := direction(at)
	d := 6371 * (2*v[0] - v[1] + 0.5*v[2]) / 300
	e := 6371 * (v[1] + 0.3*v[2] - v[0]) / 400
	q := math.Exp(-p / 200)
	return 2 + (4+math.Sin(d)+0.7*math.Cos(e))*q, 34.5 - 0.3*q + 0.05*math.Sin(e)*q
}

func direction(p orb.Point) [3]float64 {
	sinLat, cosLat := math.Sincos(p[1] * math.Pi / 180)
	sinLon, cosLon := math.Sincos(p[0] * math.Pi / 180)
	return [3]float64{cosLat * cosLon, cosLat * sinLon, sinLat}
}

// A scattered survey across the antimeridian and one at 80 N grid without a seam: the fields are
// those of the same casts with every longitude turned by the same angle, to rounding, and no step from column to column
// is larger at 180 than elsewhere.
func TestFieldsWithoutSeam(t *testing.T) {
	for _, c := range []struct {
		name   string
		middle orb.Point
		radius float64
		step   float64
	}{
		{"antimeridian", orb.Point{180, -35}, 500, 0.5},
		{"80 N", orb.Point{20, 80}, 500, 2},
		{"across the pole", orb.Point{20, 88}, 600, 10},
	} {
		casts := scattered(60, c.middle, c.radius, 4)
		area := AnyArea()
		area.Levels = []float64{0, 45, 200, 450}
		area.StepLatDeg, area.StepLonDeg = 0.5, c.step
		g, findings, err := MapField(c.name, casts, area,
			Options{Workers: 2, Levels: []float64{0, 20, 45, 80, 130, 200, 300, 450}})
		if err != nil {
			t.Fatal(err)
		}
		if len(g.Axes) != 3 || len(g.Skill) != 2 || g.Skill[0].N == 0 || len(findings) == 0 {
			t.Fatalf("%s: %d axes, skill %v", c.name, len(g.Axes), g.Skill)
		}
		lon, lat := g.Axes[2].Values, g.Axes[1].Values
		for j := 1; j < len(lon); j++ {
			if lon[j] <= lon[j-1] {
				t.Fatalf("%s: longitudes do not increase", c.name)
			}
		}
		f, e := g.field("ctemp"), g.field("ctemp_err")
		level := 1
		nc := len(lon) * len(lat)
		sum, filled := 0.0, 0
		steps, seam := 0.0, 0.0
		for i := range lat {
			for j := range lon {
				at := level*nc + i*len(lon) + j
				v := f.Data[at]
				if math.IsNaN(v) != math.IsNaN(e.Data[at]) {
					t.Fatalf("%s: value and error are not masked together", c.name)
				}
				if math.IsNaN(v) {
					continue
				}
				want, _ := roundField(c.middle, orb.Point{lon[j], lat[i]}, g.Axes[0].Values[level])
				sum += (v - want) * (v - want)
				filled++
				next := j + 1
				if next == len(lon) {
					if lon[j]+lon[1]-lon[0] < lon[0]+360-1e-9 {
						continue
					}
					next = 0 // once round
				}
				to := f.Data[level*nc+i*len(lon)+next]
				if math.IsNaN(to) {
					continue
				}
				km := distanceKm(orb.Point{lon[j], lat[i]}, orb.Point{lon[next], lat[i]})
				slope := math.Abs(to-v) / math.Max(km, 1)
				a, b := section.Wrap180(lon[j]), section.Wrap180(lon[next])
				if a > b || a == 180 || b == 180 {
					seam = math.Max(seam, slope)
				} else {
					steps = math.Max(steps, slope)
				}
			}
		}
		rms := math.Sqrt(sum / float64(filled))
		t.Logf(
			"%s: %d x %d columns, %d filled, rms %.3f degC of a field of 0.7 rms, slopes %.4f and across 180 %.4f degC/km, skill %.3f",
			c.name, len(lon), len(lat), filled, rms, steps, seam, g.Skill[0].RMS)
		if rms > 0.15 || filled < nc/5 {
			t.Errorf("%s: rms %.3f degC, %d of %d filled", c.name, rms, filled, nc)
		}
		if c.name != "80 N" && (seam == 0 || seam > 1.2*steps) {
			t.Errorf("%s: slope across 180 %.4f, elsewhere %.4f", c.name, seam, steps)
		}
	}
}

// Turning every longitude by the same angle turns the field and changes nothing else.
func TestFieldsTurn(t *testing.T) {
	at := func(turn float64, method Method) *Grid {
		casts := scattered(25, orb.Point{20, 80}, 400, 8)
		for _, c := range casts {
			c.At[0] = section.Wrap180(math.Round(c.At[0]*256)/256 + turn)
		}
		area := Area{LonMin: turn, LonMax: 40 + turn, LatMin: 77, LatMax: 83, StepLonDeg: 2, StepLatDeg: 0.5,
			Levels: []float64{0, 50, 120, 400}}
		g, _, err := MapField("turned", casts, area, Options{Method: method, Workers: 2,
			Levels: []float64{0, 30, 60, 120, 250, 450}})
		if err != nil {
			t.Fatal(err)
		}
		return g
	}
	for _, method := range []Method{Optimal, Successive, Triangles, Natural, Linear} {
		a := at(0, method)
		b := at(160, method) // across the antimeridian
		if b.Axes[2].Values[20]-a.Axes[2].Values[20] != 160 {
			t.Fatalf("longitudes %v and %v", a.Axes[2].Values[20], b.Axes[2].Values[20])
		}
		filled, differ := 0, 0
		for k := range a.Fields {
			for i, v := range a.Fields[k].Data {
				w := b.Fields[k].Data[i]
				if math.IsNaN(v) != math.IsNaN(w) {
					differ++
					continue
				}
				if !math.IsNaN(v) {
					filled++
					if math.Abs(v-w) > 1e-4 {
						t.Fatalf("%s: %s differs by %g at %d", method, a.Fields[k].Name, v-w, i)
					}
				}
			}
		}
		if filled == 0 || differ > filled/500 {
			t.Errorf("%s: %d filled, %d masked otherwise", method, filled, differ)
		}
	}
}
