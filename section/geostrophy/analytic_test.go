package geostrophy

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// An invented ocean whose velocity is known in closed form: v(z) = v0 + s z to the left of the line, everywhere along
// it. Each station's specific volume anomaly differs from the one before by f L s v_std/g, so that the thermal wind has
// the shear s; Conservative Temperature is solved for it at constant salinity. The transport over a bottom that slopes
// linearly between stations is then L (v0 (D1+D2)/2 - s (D1^2 + D1 D2 + D2^2)/6).
type analyticOcean struct {
	v0, s  float64
	points []orb.Point
	depth  []float64 // of the bottom, m
	above  float64   // m between the deepest bin and the bottom
	first  []float64 // first bin of each station, dbar
	step   float64
}

// temperatureFor solves for the Conservative Temperature with the given specific volume anomaly at 35 g/kg.
func temperatureFor(t testing.TB, anomaly, p, guess float64) float64 {
	t.Helper()
	ct := guess
	for range 50 {
		_, _, slope := seawater.SpecificVolumeSlopes(35, ct, p)
		d := (anomaly - seawater.SpecificVolumeAnomaly(35, ct, p)) / slope
		ct += d
		if math.Abs(d) < 1e-10 {
			return ct
		}
	}
	t.Fatalf("no temperature for anomaly %g at %g dbar", anomaly, p)
	return 0
}

func (o *analyticOcean) section(t testing.TB) (*section.Section, []Known) {
	t.Helper()
	var casts []*section.Cast
	var known []Known
	offset := make([]float64, len(o.points)) // integral of f L along the line
	for k := 1; k < len(o.points); k++ {
		lat := 0.5 * (o.points[k-1][1] + o.points[k][1])
		l, _, _ := section.Geodesic(o.points[k-1], o.points[k])
		offset[k] = offset[k-1] + seawater.Coriolis(lat)*l
		const p0 = 200
		known = append(known, Known{StationA: fmt.Sprint(k), StationB: fmt.Sprint(k + 1), PressureDbar: p0,
			Velocity: o.v0 + o.s*seawater.Height(p0, lat)})
	}
	for k, at := range o.points {
		var p, sa, ct []float64
		guess, place := 10.0, seawater.PlaceOf(at[0], at[1])
		for x := o.first[k%len(o.first)]; -seawater.Height(x, at[1]) <= o.depth[k]-o.above; x += o.step {
			base := seawater.SpecificVolumeAnomaly(35, 4+10*math.Exp(-x/700), x)
			wind := (offset[k] - 0.5*offset[len(offset)-1]) * o.s * seawater.SpecificVolume(seawater.StandardSalinity,
				0, x) / place.Gravity(x)
			guess = temperatureFor(t, base+wind, x, guess)
			p, sa, ct = append(p, x), append(sa, 35), append(ct, guess)
		}
		c := castOf(fmt.Sprint(k+1), at[1], at[0], p, sa, ct)
		c.BottomM = o.depth[k]
		casts = append(casts, c)
	}
	return sectionOf("ANALYTIC", casts...), known
}

// transport is the closed form for the pair from station k to k+1.
func (o *analyticOcean) transport(k int) float64 {
	l, _, _ := section.Geodesic(o.points[k], o.points[k+1])
	a, b := o.depth[k], o.depth[k+1]
	return l * (o.v0*(a+b)/2 - o.s*(a*a+a*b+b*b)/6)
}

func straight(lon, lat, dlon, dlat float64, n int) []orb.Point {
	out := make([]orb.Point, n)
	for i := range out {
		out[i] = orb.Point{section.Wrap180(lon + dlon*float64(i)), lat + dlat*float64(i)}
	}
	return out
}

var slope = []float64{900, 1200, 1600, 2100, 1900, 1400}

// Closed-form velocity and transport, 1e-3 relative (issue: an analytic ocean), in both hemispheres, on lines in every
// direction, across the antimeridian, with casts that reach the bottom, that stop above it, and with staggered bins.
func TestAnalyticOcean(t *testing.T) {
	for _, x := range []struct {
		name   string
		points []orb.Point
		above  float64
		first  []float64
		step   float64
		union  bool
	}{
		{"eastward north", straight(-40, 35, 0.5, 0, 6), 0.01, []float64{0}, 1, false},
		{"eastward south", straight(-40, -35, 0.5, 0, 6), 0.01, []float64{0}, 1, false},
		{"northward north", straight(-40, 35, 0, 0.5, 6), 0.01, []float64{0}, 2, false},
		{"northward south", straight(-40, -35, 0, 0.5, 6), 0.01, []float64{0}, 1, false},
		{"westward north", straight(-40, 35, -0.5, 0.1, 6), 0.01, []float64{0}, 1, false},
		{"westward south", straight(-40, -35, -0.5, -0.1, 6), 0.01, []float64{0}, 2, false},
		{"southward north", straight(-40, 45, 0.1, -0.4, 6), 0.01, []float64{0}, 1, false},
		{"antimeridian", straight(178.6, 40, 0.5, 0.1, 6), 0.01, []float64{0}, 1, false},
		{"antimeridian westward south", straight(-178.6, -40, -0.5, 0.1, 6), 0.01, []float64{0}, 1, false},
		{"stops 30 m above the bottom", straight(-40, 35, 0.5, 0, 6), 30, []float64{0}, 1, false},
		{"staggered bins", straight(-40, 35, 0.4, 0.2, 6), 20, []float64{1, 2}, 2, true},
		{"staggered bins south", straight(-40, -45, -0.4, 0.2, 6), 20, []float64{2, 1}, 2, true},
		{"surface carried", straight(-40, 35, 0.4, 0.2, 6), 20, []float64{6}, 2, false},
	} {
		o := &analyticOcean{v0: 0.25, s: 9e-5, points: x.points, depth: slope, above: x.above, first: x.first,
			step: x.step}
		sec, known := o.section(t)
		opts := DefaultOptions()
		opts.Reference = Reference{Kind: AtVelocities, Known: known}
		opts.Triangle = ConstantShear
		r := mustCompute(t, sec, opts)
		sum := 0.0
		for k := range r.Pairs {
			pr := &r.Pairs[k]
			if !pr.Status.HasVelocity() || !pr.TriangleSampled {
				t.Fatalf("%s: pair %d: %s %v", x.name, k, pr.Reason, pr.Notes)
			}
			if (pr.LevelRule == "union of bins") != x.union {
				t.Errorf("%s: %s", x.name, pr.LevelRule)
			}
			lat := 0.5 * (x.points[k][1] + x.points[k+1][1])
			for l, p := range pr.PressureDbar {
				z := seawater.Height(p, lat)
				if want := o.v0 + o.s*z; math.Abs(pr.Velocity[l]-want) > 1e-3*o.v0 {
					t.Fatalf("%s pair %d at %g dbar: v %g, want %g", x.name, k, p, pr.Velocity[l], want)
				}
				if math.Abs(pr.Shear[l]-o.s) > 0.02*o.s {
					t.Fatalf("%s pair %d at %g dbar: shear %g, want %g", x.name, k, p, pr.Shear[l], o.s)
				}
			}
			want := o.transport(k)
			sum += want
			within(t, x.name+" transport of pair "+pr.ID, pr.Transport[Volume].Value, want, 1e-3*math.Abs(want))
			within(t, x.name+" positive direction", math.Mod(pr.PositiveDeg-pr.AzimuthDeg+810, 360), 0, 1e-9)
		}
		within(t, x.name+" total", r.Total[Volume].Value, sum, 1e-3*math.Abs(sum))
		within(t, x.name+" cumulative", r.Pairs[len(r.Pairs)-1].Cumulative[Volume].Value, r.Total[Volume].Value, 0)
	}
}

// Which way water flows: with the high pressure (warm water) on its right in the north, on its left in the south.
// Positive is left of the line, and every compass word means itself.
func TestSigns(t *testing.T) {
	column := func(warm float64) (p, sa, ct []float64) {
		for x := 0.0; x <= 1000; x += 10 {
			p, sa, ct = append(p, x), append(sa, 35), append(ct, 4+(10+warm)*math.Exp(-x/300))
		}
		return p, sa, ct
	}
	for _, x := range []struct {
		name       string
		a, b       orb.Point
		warmAtB    bool
		flow       float64 // bearing of the surface flow relative to 1000 dbar
		left       float64 // sign with positive: left
		east       float64 // sign with positive: east; 0 not legal
		north      float64
		legalWords string
	}{
		{"eastward north, warm in the east", orb.Point{-40, 35}, orb.Point{-39.5, 35}, true, 0, 1, 0, 1,
			"left, right, north"},
		{"eastward south, warm in the east", orb.Point{-40, -35}, orb.Point{-39.5, -35}, true, 180, -1, 0, -1,
			"left, right, north"},
		{"westward north, warm in the west", orb.Point{-40, 35}, orb.Point{-40.5, 35}, true, 180, 1, 0, -1,
			"left, right, north"},
		{"westward south, warm in the east", orb.Point{-40, -35}, orb.Point{-40.5, -35}, false, 180, 1, 0, -1,
			"left, right, north"},
		{"northward north, warm in the south", orb.Point{-40, 35}, orb.Point{-40, 35.5}, false, 90, -1, 1, 0,
			"left, right, east"},
		{"northward south, warm in the north", orb.Point{-40, -35.5}, orb.Point{-40, -35}, true, 90, -1, 1, 0,
			"left, right, east"},
		{"across 180, eastward north, warm in the east", orb.Point{179.8, 35}, orb.Point{-179.8, 35}, true, 0, 1, 0, 1,
			"left, right, north"},
	} {
		wa, wb := 0.0, 2.0
		if !x.warmAtB {
			wa, wb = wb, wa
		}
		pa, sa, ca := column(wa)
		pb, sb, cb := column(wb)
		sec := sectionOf("S", castOf("1", x.a[1], x.a[0], pa, sa, ca), castOf("2", x.b[1], x.b[0], pb, sb, cb))
		for word, sign := range map[string]float64{"left": x.left, "right": -x.left, "east": x.east, "north": x.north} {
			opts := DefaultOptions()
			opts.Positive = Direction(word)
			r, err := Compute(sec, opts)
			if sign == 0 {
				if err == nil {
					t.Errorf("%s: positive %s is accepted", x.name, word)
				} else if want := "use one of " + x.legalWords; !strings.Contains(err.Error(), want) {
					t.Errorf("%s: %v, want %q", x.name, err, want)
				}
				continue
			}
			if err != nil {
				t.Errorf("%s: %v", x.name, err)
				continue
			}
			pr := &r.Pairs[0]
			if v := pr.Velocity[0]; v*sign <= 0 {
				t.Errorf("%s positive %s: velocity %g", x.name, word, v)
			}
			// The bearing that the sign and the stated direction make is the flow's.
			bearing := pr.PositiveDeg
			if pr.Velocity[0] < 0 {
				bearing += 180
			}
			if d := math.Abs(math.Remainder(bearing-x.flow, 360)); d > 1 {
				t.Errorf("%s positive %s: flow towards %g, want %g", x.name, word, bearing, x.flow)
			}
		}
	}
}
