package gridding

import (
	"math"
	"math/rand/v2"

	"github.com/castwright/castwright/section"
)

// An invented is an invented sea with a known answer and the line of stations across it. Layers of an undisturbed
// profile are heaved by a front, by eddies and by a random field of known covariance; a second random field and
// intrusions change temperature and salinity along the layers.
type invented struct {
	kind          string
	pmax          float64   // dbar
	stations      []float64 // km
	bottom        func(x float64) float64
	surface, deep float64 // degC
	scale, mixed  float64 // dbar, of the thermocline and the mixed layer
	saltRange     float64 // g/kg
	heave, spice  modes
	frontAt       float64 // km
	frontWidth    float64 // km
	frontHeave    float64 // dbar
	frontSpice    float64 // degC
	eddies        [][4]float64
	blobs         [][5]float64
	noise         float64
	wave          float64 // dbar, of what each cast meets by itself
	seed          uint64
}

// Modes are waves in distance and scaled pressure whose sum is a random field: of wave numbers drawn from the spectrum
// of its covariance.
type modes struct {
	amplitude float64
	kx, kz    []float64
	phase     []float64
}

const waves = 40

// randomField draws a field of variance amplitude^2 with covariance exp(-r^2), or (1 + sqrt3 r) exp(-sqrt3 r) when
// rough, r^2 = (dx/lx)^2 + (dz/lz)^2. The spectrum of the latter is that of Student's distribution with 3 degrees of
// freedom (Rasmussen and Williams 2006, Gaussian Processes for Machine Learning, 4.2.1).
func randomField(r *rand.Rand, amplitude, lx, lz float64, rough bool) modes {
	m := modes{amplitude: amplitude * math.Sqrt(2.0/waves)}
	for range waves {
		scale := math.Sqrt2
		if rough {
			chi := 0.0
			for range 3 {
				g := r.NormFloat64()
				chi += g * g
			}
			scale = math.Sqrt(3 / chi)
		}
		m.kx = append(m.kx, r.NormFloat64()*scale/lx)
		m.kz = append(m.kz, r.NormFloat64()*scale/lz)
		m.phase = append(m.phase, 2*math.Pi*r.Float64())
	}
	return m
}

func (m *modes) at(x, z float64) float64 {
	sum := 0.0
	for i, k := range m.kx {
		sum += math.Cos(k*x + m.kz[i]*z + m.phase[i])
	}
	return m.amplitude * sum
}

// at returns Conservative Temperature and Absolute Salinity.
func (o *invented) at(x, p float64) (ct, sa float64) {
	z := p / (p + o.scale) * 2 // vertical coordinate that follows the stratification: 0 to 2
	fade := p / (p + 0.3*o.scale)
	side := 0.0
	if o.frontWidth > 0 {
		side = math.Tanh((x - o.frontAt) / o.frontWidth)
	}
	q := p + fade*(o.heave.at(x, z)+o.frontHeave*side)
	for _, e := range o.eddies {
		d := (x - e[0]) / e[1]
		q += e[2] * math.Exp(-d*d) * (p / e[3]) * math.Exp(1-p/e[3])
	}
	q = math.Max(q, 0)
	decay := math.Exp(-q / o.scale)
	stratified := 1 / (1 + math.Exp(-(q-o.mixed)/(0.35*o.mixed)))
	profile := 1 - stratified + stratified*decay
	bump := decay*o.spice.at(x, z) + decay*o.frontSpice*side
	for _, b := range o.blobs {
		d, e := (x-b[0])/b[1], (q-b[2])/b[3]
		bump += b[4] * math.Exp(-d*d-e*e)
	}
	return o.deep + (o.surface-o.deep)*profile + bump, 34.9 + o.saltRange*profile + 0.2*bump
}

// sample lowers a cast at each station.
func (o *invented) sample() *section.Section {
	r := rand.New(rand.NewPCG(o.seed, 777))
	sec := &section.Section{Name: o.kind}
	bin := 1.0
	for _, b := range []float64{2, 5, 10} {
		if o.pmax/bin > 300 {
			bin = b
		}
	}
	for _, x := range o.stations {
		phase, bottom := 6*r.Float64(), o.bottom(x)
		lower(sec, r, x, bottom, bin, bottom-math.Max(2, bottom/100), o.noise, func(p float64) (ct, sa float64) {
			return o.at(x, math.Max(0, p+o.wave*math.Sin(phase+p/(0.03*o.pmax))))
		})
	}
	return sec
}

// A draw is the random numbers of one ocean.
type draw struct{ *rand.Rand }

func (r draw) between(a, b float64) float64 { return a + (b-a)*r.Float64() }

// line lays stations a step apart, more or less.
func (r draw) line(count int, step, uneven float64) (km []float64) {
	x := 0.0
	for range count {
		km = append(km, x)
		x += step * r.between(1-uneven, 1+uneven)
	}
	return km
}

// An oceanKind is a kind of section: how wide its features are for the spacing of its stations.
type oceanKind struct {
	name   string
	invent func(o *invented, r draw)
}

var oceanKinds = []oceanKind{{"open", (*invented).open}, {"front", (*invented).front}, {"strait", (*invented).strait},
	{"shelf", (*invented).shelf}, {"sparse", (*invented).sparse}}

// number makes ocean number n of a kind.
func (k oceanKind) number(n int) *invented {
	o := &invented{kind: k.name, seed: uint64(n)}
	code := uint64(0)
	for _, c := range k.name {
		code = code*31 + uint64(c)
	}
	r := draw{rand.New(rand.NewPCG(uint64(n), code))}
	o.noise = r.between(0.001, 0.004)
	o.surface, o.deep = r.between(8, 22), r.between(1, 4)
	k.invent(o, r)
	return o
}

// open is a deep section whose eddies are 1 to 2.6 station spacings wide; half of the oceans have separate eddies in
// place of a random field.
func (o *invented) open(r draw) {
	o.pmax = r.between(1500, 5000)
	step := r.between(25, 60)
	o.stations = r.line(16+r.IntN(20), step, r.between(0, 0.4))
	o.scale, o.mixed = r.between(300, 800), r.between(30, 120)
	o.saltRange = r.between(0.5, 1.5)
	o.heave = randomField(r.Rand, r.between(20, 60), step*r.between(1, 2.6), r.between(1, 2.5), r.IntN(4) == 0)
	o.spice = randomField(r.Rand, r.between(0.05, 0.3), step*r.between(0.9, 2.4), r.between(0.3, 1), r.IntN(4) == 0)
	o.wave = r.between(0, 4)
	o.openBottom(r.Rand)
	o.separateEddies(r)
}

// front is a section across a front of 0.8 to 2.2 spacings, with eddies as in open sea.
func (o *invented) front(r draw) {
	o.pmax = r.between(800, 3000)
	step := r.between(8, 25)
	o.stations = r.line(14+r.IntN(16), step, r.between(0, 0.5))
	o.scale, o.mixed = r.between(200, 600), r.between(20, 80)
	o.saltRange = r.between(-1, 1)
	o.frontAt = o.long() * r.between(0.3, 0.7)
	o.frontWidth = step * r.between(0.8, 2.2)
	o.frontHeave, o.frontSpice = r.between(0.15, 0.5)*o.scale, r.between(0.2, 1.5)
	o.heave = randomField(r.Rand, r.between(8, 25), step*r.between(1, 2.6), r.between(0.8, 2), r.IntN(4) == 0)
	o.spice = randomField(r.Rand, r.between(0.05, 0.2), step*r.between(0.9, 2.4), r.between(0.3, 0.8), r.IntN(4) == 0)
	o.wave = r.between(0, 3)
	o.openBottom(r.Rand)
	o.separateEddies(r)
}

// strait is a few stations across a channel whose middle is deep.
func (o *invented) strait(r draw) {
	o.pmax = r.between(250, 1000)
	step := r.between(3, 9)
	o.stations = r.line(7+r.IntN(9), step, r.between(0, 0.3))
	o.surface = r.between(6, 16)
	o.scale, o.mixed = o.pmax*r.between(0.15, 0.3), o.pmax*r.between(0.06, 0.2)
	o.saltRange = r.between(-2, -0.3)
	o.frontAt = o.long() * r.between(0.2, 0.8)
	o.frontWidth = o.long() * r.between(0.2, 0.5)
	o.frontHeave, o.frontSpice = r.between(-0.25, 0.25)*o.scale, r.between(-0.3, 0.3)
	o.heave = randomField(r.Rand, o.scale*r.between(0.05, 0.12), step*r.between(1, 2.5), r.between(0.6, 1.5),
		r.IntN(3) == 0)
	o.spice = randomField(r.Rand, r.between(0.05, 0.2), step*r.between(0.9, 2.2), r.between(0.3, 0.8), r.IntN(3) == 0)
	o.wave = r.between(0, 2)
	middle, long, depth := o.long()*r.between(0.4, 0.6), o.long(), o.pmax
	o.bottom = func(x float64) float64 {
		d := (x - middle) / (0.62 * long)
		return depth * math.Max(0.2, 1-d*d)
	}
}

// shelf is a line of at most 200 dbar with a front; the stations of one in eight are 100 km apart.
func (o *invented) shelf(r draw) {
	o.pmax = r.between(50, 200)
	step := r.between(8, 30)
	if o.seed%8 == 0 {
		step = 100
	}
	o.stations = r.line(8+r.IntN(7), step, r.between(0, 0.3))
	o.surface, o.deep = r.between(12, 20), r.between(5, 9)
	o.scale, o.mixed = o.pmax*r.between(0.15, 0.3), o.pmax*r.between(0.08, 0.2)
	o.saltRange = r.between(-1.5, -0.1)
	o.frontAt = o.long() * r.between(0.2, 0.8)
	o.frontWidth = step * r.between(0.7, 2)
	o.frontHeave, o.frontSpice = r.between(-0.4, 0.4)*o.scale, r.between(-1, 1)
	o.heave = randomField(r.Rand, o.scale*r.between(0.05, 0.15), step*r.between(0.7, 1.8), r.between(0.6, 1.5),
		r.IntN(2) == 0)
	o.spice = randomField(r.Rand, r.between(0.05, 0.3), step*r.between(0.6, 1.8), r.between(0.3, 0.8), r.IntN(2) == 0)
	o.wave = r.between(0, 1)
	long, depth, rise := o.long(), o.pmax, r.between(0.3, 0.9)
	o.bottom = func(x float64) float64 { return depth * (rise + (1-rise)*x/long) }
}

// sparse is a deep section whose eddies are narrower than the spacing.
func (o *invented) sparse(r draw) {
	o.pmax = r.between(1500, 5000)
	step := r.between(80, 250)
	o.stations = r.line(7+r.IntN(7), step, r.between(0, 0.3))
	o.scale, o.mixed = r.between(300, 800), r.between(30, 120)
	o.saltRange = r.between(0.5, 1.5)
	o.frontAt, o.frontWidth = o.long()*r.between(0.2, 0.8), o.long()*r.between(0.1, 0.4)
	o.frontHeave, o.frontSpice = r.between(-0.3, 0.3)*o.scale, r.between(-0.5, 0.5)
	o.heave = randomField(r.Rand, r.between(15, 45), step*r.between(0.4, 1), r.between(1, 2.5), r.IntN(2) == 0)
	o.spice = randomField(r.Rand, r.between(0.05, 0.3), step*r.between(0.4, 1), r.between(0.3, 1), r.IntN(2) == 0)
	o.wave = r.between(0, 4)
	o.openBottom(r.Rand)
}

// separateEddies puts eddies and intrusions in the place of the random heave of every other ocean.
func (o *invented) separateEddies(r draw) {
	if r.IntN(2) != 0 {
		return
	}
	amplitude := 2 * o.heave.amplitude * math.Sqrt(waves/2.0)
	step := o.long() / float64(len(o.stations)-1)
	o.heave = modes{}
	for range 2 + len(o.stations)/5 {
		o.eddies = append(o.eddies, [4]float64{o.long() * r.Float64(), step * r.between(0.9, 2.2),
			amplitude * r.NormFloat64(), o.scale * r.between(0.6, 2)})
	}
	o.spice.amplitude /= 3
	for range 3 {
		o.blobs = append(o.blobs, [5]float64{o.long() * r.Float64(), step * r.between(1, 2.5),
			o.scale * r.between(0.3, 2), o.scale * r.between(0.2, 0.6), 0.3 * r.NormFloat64()})
	}
}

func (o *invented) long() float64 { return o.stations[len(o.stations)-1] }

// openBottom is a slope at the beginning, then level with a ridge; level throughout in some oceans.
func (o *invented) openBottom(r *rand.Rand) {
	long, depth := o.long(), o.pmax
	if r.IntN(3) == 0 {
		o.bottom = func(float64) float64 { return depth }
		return
	}
	at := 0.4 + 0.4*r.Float64()
	o.bottom = func(x float64) float64 {
		d := (x/long - at) / 0.06
		return depth * math.Min(1, 0.3+0.7*x/(0.3*long)) * (1 - 0.25*math.Exp(-d*d))
	}
}
