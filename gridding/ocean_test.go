package gridding

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/seawater"
	"github.com/paulmach/orb"
)

// An ocean is an invented sea with a known answer: stratified water, a front across the section, eddies that heave the
// surfaces, an intrusion along density, and a little noise in what is sampled. Everything follows from its number.
type ocean struct {
	pmax, length    float64 // dbar, km
	front, width    float64 // km
	step            float64 // degC across the front
	scale           float64 // dbar, of the thermocline
	surface, deep   float64 // degC
	eddies          [][4]float64
	intrusion       [3]float64
	noise, saltStep float64
}

// newOcean invents ocean number n. A shelf is 180 dbar deep and 120 km long, the open sea 2500 dbar and 600 km.
func newOcean(n int, shelf bool) *ocean {
	r := rand.New(rand.NewPCG(uint64(n), 20261125))
	o := &ocean{pmax: 2500, length: 600, surface: 8 + 8*r.Float64(), deep: 1 + 2*r.Float64(), noise: 0.002}
	if shelf {
		o.pmax, o.length, o.deep = 180, 120, 5+2*r.Float64()
	}
	o.scale = o.pmax * (0.12 + 0.12*r.Float64())
	o.front, o.width = o.length*(0.3+0.4*r.Float64()), o.length*(0.04+0.06*r.Float64())
	o.step = (0.25 + 0.25*r.Float64()) * (o.surface - o.deep)
	for range 4 {
		o.eddies = append(o.eddies, [4]float64{o.length * r.Float64(), o.length * (0.06 + 0.08*r.Float64()),
			o.pmax * 0.04 * r.NormFloat64(), o.pmax * (0.15 + 0.3*r.Float64())})
	}
	o.intrusion = [3]float64{o.length * r.Float64(), o.length * (0.1 + 0.1*r.Float64()), 0.4 * r.NormFloat64()}
	o.saltStep = 0.2 + 0.3*r.Float64()
	return o
}

// at returns Conservative Temperature and Absolute Salinity.
func (o *ocean) at(x, p float64) (ct, sa float64) {
	q := p
	for _, e := range o.eddies {
		d := (x - e[0]) / e[1]
		q += e[2] * math.Exp(-d*d) * (p / e[3]) * math.Exp(1-p/e[3])
	}
	q = math.Max(q, 0)
	side := 0.5 * (1 + math.Tanh((x-o.front)/o.width))
	decay := math.Exp(-q / o.scale)
	warm := o.surface - o.step*side
	mixed := 1 / (1 + math.Exp(-(q-0.08*o.scale)/(0.03*o.scale))) // near 0 in a mixed layer
	ct = o.deep + (warm-o.deep)*(1-mixed+mixed*decay)
	sa = 34.9 + 0.35*(1-decay) - o.saltStep*side*decay
	d := (x - o.intrusion[0]) / o.intrusion[1]
	z := (q - 1.5*o.scale) / (0.5 * o.scale)
	bump := o.intrusion[2] * math.Exp(-d*d-z*z)
	return ct + bump, sa + 0.18*bump
}

// bottom is the water depth in dbar: a slope at the beginning, then level, with a ridge.
func (o *ocean) bottom(x float64) float64 {
	slope := math.Min(1, 0.15+0.85*x/(0.35*o.length))
	d := (x - 0.7*o.length) / (0.05 * o.length)
	return o.pmax * slope * (1 - 0.2*math.Exp(-d*d))
}

// sample lowers casts along the section: closer together on the slope, as the demo cruise does, or evenly, as a shelf
// line.
func (o *ocean) sample(n int, stations int, shelf bool) *section.Section {
	r := rand.New(rand.NewPCG(uint64(n), 777))
	sec := &section.Section{Name: fmt.Sprintf("ocean-%d", n)}
	bin := 2.0
	if shelf {
		bin = 1
	}
	for k := range stations {
		u := float64(k) / float64(stations-1)
		x := o.length * u
		if !shelf {
			x = o.length * (0.45*u + 0.55*u*u)
		}
		wave, bottom := r.Float64()*6, o.bottom(x)
		lower(sec, r, x, bottom, bin, bottom-5, o.noise, func(p float64) (ct, sa float64) {
			return o.at(x, p+2e-3*o.pmax*math.Sin(wave+p/(0.02*o.pmax)))
		})
	}
	return sec
}

// lower adds a cast at x km: bins of the water that at returns and of noise, down to a pressure above the bottom.
func lower(sec *section.Section, r *rand.Rand, x, bottomDbar, bin, deepest, noise float64,
	at func(p float64) (ct, sa float64)) {
	c := &section.Cast{Expocode: "INVENTED", Station: fmt.Sprint(len(sec.Casts) + 1), Number: "1",
		At: orb.Point{-30 + x/80, 45}, BottomM: -seawater.Height(bottomDbar, 45)}
	ct := section.Column{Variable: variable("ctemp"), Decimals: -1}
	sa := section.Column{Variable: variable("asal"), Decimals: -1}
	pres := section.Column{Variable: variable("pres"), Decimals: -1}
	for p := bin; p <= deepest; p += bin {
		t, s := at(p)
		pres.Values = append(pres.Values, p)
		ct.Values = append(ct.Values, t+noise*r.NormFloat64())
		sa.Values = append(sa.Values, s+0.3*noise*r.NormFloat64())
	}
	c.PressureDbar = pres.Values
	c.Columns = []section.Column{pres, ct, sa}
	sec.Casts = append(sec.Casts, c)
	sec.DistanceKm = append(sec.DistanceKm, x)
}

// surveyOf makes a section ready for mapping with settings, whose defaults it fills in.
func surveyOf(t testing.TB, sec *section.Section, o *Options) *survey {
	t.Helper()
	if err := o.fill(); err != nil {
		t.Fatal(err)
	}
	vars, _ := variablesOf(sec.Casts, o)
	s := newSurvey(sec.Casts, sec.DistanceKm, vars, o)
	if err := s.places(); err != nil {
		t.Fatal(err)
	}
	return s
}

// trueError compares a field with the true ocean at unmasked points between the ends: rms, number, and the share within
// two stated errors.
func (o *ocean) trueError(g *Grid, name string) (rms float64, n int, within float64) {
	f, e := g.field(name), g.field(name+"_err")
	nc := len(g.Axes[1].Values)
	sum, in := 0.0, 0
	for i, v := range f.Data {
		x, p := g.Axes[1].Values[i%nc], g.Axes[0].Values[i/nc]
		if math.IsNaN(v) || x <= 0 || x >= o.length {
			continue
		}
		ct, sa := o.at(x, p)
		want := map[string]float64{"ctemp": ct, "asal": sa}[name]
		sum += (v - want) * (v - want)
		n++
		if e != nil && math.Abs(v-want) <= 2*e.Data[i] {
			in++
		}
	}
	return math.Sqrt(sum / float64(n)), n, float64(in) / float64(n)
}

func flagged(n int, f metadata.Flag) []metadata.Flag {
	out := make([]metadata.Flag, n)
	for k := range out {
		out[k] = f
	}
	return out
}
