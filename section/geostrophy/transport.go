package geostrophy

import (
	"math"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/seawater"
)

// The four transports that the others are linear in.
const (
	baseVolume = iota
	baseMass
	baseTemperature
	baseSalt // of the salinity above that of the standard ocean: freshwater is a small difference of large numbers
	baseKinds
)

// factors are what one cubic metre a second carries at each level of a pair, from the means of the two stations: 1,
// density (kg/m3), density cp0 CT (J/m3) and density (SA - SSO)/1000 (kg/m3).
type factors [baseKinds][]float64

func newFactors(n int) *factors {
	f := new(factors)
	for k := range f {
		f[k] = make([]float64, n)
	}
	return f
}

// set fills level i from the two stations' Absolute Salinity, Conservative Temperature and specific volume.
func (f *factors) set(i int, saA, ctA, vA, saB, ctB, vB float64) {
	rho := 0.5 * (1/vA + 1/vB)
	f[baseVolume][i] = 1
	f[baseMass][i] = rho
	f[baseTemperature][i] = rho * seawater.HeatCapacity * (0.5 * (ctA + ctB))
	f[baseSalt][i] = rho * (0.5*(saA+saB) - seawater.StandardSalinity) * 1e-3
}

// kindsOf turns the four into the six kinds: freshwater is -density (SA - Sm)/Sm, heat is temperature less
// that of the mass at the reference temperature.
func kindsOf(base *[baseKinds]float64, referenceSalinity, referenceTemperature float64) [Kinds]float64 {
	return [Kinds]float64{
		Volume:      base[baseVolume],
		Mass:        base[baseMass],
		Temperature: base[baseTemperature],
		Salt:        base[baseSalt] + float64(1e-3*seawater.StandardSalinity*base[baseMass]),
		Freshwater: -(base[baseSalt]*1e3 + float64((seawater.StandardSalinity-referenceSalinity)*base[baseMass])) /
			referenceSalinity,
		Heat: base[baseTemperature] - float64(seawater.HeatCapacity*referenceTemperature*base[baseMass]),
	}
}

// parts is one transport of one pair, linear in the dynamic heights of its stations: for each base kind its value
// without the known velocity, the water that the known velocity moves (per m/s), and the change with each mode of error
// of A and of B.
type parts struct {
	value, byKnown [baseKinds]float64
	a, b           [modeCount][baseKinds]float64
}

// linear sums T = sum over levels of c_l (Psi_B - Psi_A), where c_l is the weight w_l (m) times the factor times
// sign/f, and its changes with the modes of error; science: every transport of a pair is linear in the dynamic heights
// of its stations. The triangle's weights are those of the deepest levels with the factors of the deepest common level.
func (g *pairWork) linear(out *parts, w weights, last []float64) {
	scale := g.sign / g.f
	n := len(g.depth)
	for i, x := range w.w {
		l := w.from + i
		for k := range baseKinds {
			g.add(out, k, l, x*g.factors[k][l], scale)
		}
	}
	for i, x := range last {
		l := n - len(last) + i
		for k := range baseKinds {
			g.add(out, k, l, x*g.factors[k][n-1], scale)
		}
	}
}

func (g *pairWork) add(out *parts, k, l int, x, scale float64) {
	c := x * scale
	out.value[k] += float64(c * (g.heightB[l] - g.heightA[l]))
	out.byKnown[k] += x * g.length
	for q := range g.water {
		out.a[q][k] -= float64(c * g.modesA[q][l])
		out.b[q][k] += float64(c * g.modesB[q][l])
	}
}

// setFactors adds the change with the errors of what the water carries: of its salinity and temperature, each station's
// counting half, and, for an error of pressure, of the place in the station's own profile. The small change of density
// is left out.
func (g *pairWork) setFactors(out *parts, w weights, last []float64) {
	n := len(g.depth)
	a, b := g.colA, g.colB
	var mass, saltA, saltB, heatA, heatB float64 // kg/s; kg/s times g/kg and K per dbar
	// add counts the water that moves with the velocity of level l and carries what level c does.
	add := func(l, c int, x float64) {
		q := x * (g.sign/g.f*(g.heightB[l]-g.heightA[l]) + g.known*g.length) * g.factors[baseMass][c]
		mass += q
		i, j := max(c-1, 0), min(c+1, n-1)
		q /= g.p[j] - g.p[i]
		saltA += float64(q * (a.sa[g.iA[j]] - a.sa[g.iA[i]]))
		saltB += float64(q * (b.sa[g.iB[j]] - b.sa[g.iB[i]]))
		heatA += float64(q * (a.ct[g.iA[j]] - a.ct[g.iA[i]]))
		heatB += float64(q * (b.ct[g.iB[j]] - b.ct[g.iB[i]]))
	}
	for i, x := range w.w {
		add(w.from+i, w.from+i, x)
	}
	for i, x := range last {
		add(n-len(last)+i, n-1, x)
	}
	for _, side := range [...]struct {
		by         *[modeCount][baseKinds]float64
		m          *modes
		salt, heat float64
	}{{&out.a, a.modes, saltA, heatA}, {&out.b, b.modes, saltB, heatB}} {
		salt := 0.5e-3 * mass
		side.by[ofSalinity][baseSalt] += salt
		side.by[ofTemperature][baseSalt] += float64(salt * side.m.saltByT)
		side.by[ofTemperature][baseTemperature] += 0.5 * seawater.HeatCapacity * mass
		side.by[ofPressure][baseSalt] += float64(salt*side.m.saltByP) - 0.5e-3*side.salt
		side.by[ofPressure][baseTemperature] -= 0.5 * seawater.HeatCapacity * side.heat
	}
}

// setPosition adds the change with the positions, per km: of the Coriolis parameter with the middle latitude, and of
// the water that a known velocity moves with the separation.
func (g *pairWork) setPosition(out *parts) {
	cosAz, sinAz := math.Cos(g.azimuth), math.Sin(g.azimuth)
	for k := range baseKinds {
		byLat := -out.value[k] * g.cotLat / (2 * earthRadiusKm)
		known := g.known * out.byKnown[k] / g.length * 1e3 // per km of separation
		out.a[ofNorth][k] = byLat - float64(known*cosAz)
		out.b[ofNorth][k] = byLat + float64(known*cosAz)
		out.a[ofEast][k] = -float64(known * sinAz)
		out.b[ofEast][k] = float64(known * sinAz)
	}
}

// A tally sums one transport over pairs in section order and keeps what each station contributes to its error, so that
// what neighbouring pairs share cancels as it does in the water.
type tally struct {
	value   [Kinds]float64
	known   [Kinds]float64            // sum of squares of the known velocities' errors
	station int                       // the station still open
	open    [modeCount][Kinds]float64 // what it has contributed so far, in units of the transport per standard error
	first   [modeCount][Kinds]float64 // of a closed line: contribution of its first station, which its last adds to
	square  [groups][Kinds]float64    // stations that are done: sums of squares of their errors
	common  [][3][Kinds]float64       // by system: signed sums
	scale   *errorScale
}

// errorScale is the standard error of each mode at each station: as an error of the single cast and as one common to
// its system.
type errorScale struct {
	perCast, common [][modeCount]float64 // by station
	system          []int                // of each station
	systems         int
	// by system, of salinity, temperature and pressure: the accuracy is divided into a common and a single part
	split    [][3]bool
	labels   []string
	stages   []metadata.Stage // of each station
	sm, tref float64
	ring     int // of a closed line: its last station, which is the first again; else 0
}

func newTally(s *errorScale) *tally {
	return &tally{station: -1, common: make([][3][Kinds]float64, s.systems), scale: s}
}

// add counts one pair of the stations a and b.
func (t *tally) add(p *parts, a, b int, known, knownErr float64) {
	s := t.scale
	value := kindsOf(withKnown(p, known), s.sm, s.tref)
	by := kindsOf(&p.byKnown, s.sm, s.tref)
	for k := range Kinds {
		t.value[k] += value[k]
		t.known[k] += float64(by[k] * knownErr * by[k] * knownErr)
	}
	if t.station != a {
		t.close()
	}
	for q := range modeCount {
		inA, inB := kindsOf(&p.a[q], s.sm, s.tref), kindsOf(&p.b[q], s.sm, s.tref)
		for k := range Kinds {
			open := 0.0
			if t.station == a {
				open = t.open[q][k]
			}
			whole := open + float64(s.perCast[a][q]*inA[k])
			if s.ring > 0 && a == 0 {
				t.first[q][k] = whole
			} else {
				t.square[s.groupOf(q, a)][k] += float64(whole * whole)
			}
			t.open[q][k] = s.perCast[b][q] * inB[k]
			if q <= ofPressure {
				t.common[s.system[a]][q][k] += float64(s.common[a][q] * inA[k])
				t.common[s.system[b]][q][k] += float64(s.common[b][q] * inB[k])
			}
		}
	}
	t.station = b
}

// Groups of errors of a station. Undivided are those of its sensors that could also be common to its system,
// perCastOnly those that could not: the spread between the casts of a mean, and what a division of the accuracy leaves
// to the single cast.
const (
	undivided = iota
	perCastOnly
	ofPlace
	groups
)

func (s *errorScale) groupOf(q, station int) int {
	switch {
	case q >= waterModes:
		return ofPlace
	case q == ofSpread || s.split[s.system[station]][q]:
		return perCastOnly
	}
	return undivided
}

func (t *tally) close() {
	if t.station < 0 {
		return
	}
	for q := range modeCount {
		for k := range Kinds {
			t.square[t.scale.groupOf(q, t.station)][k] += float64(t.open[q][k] * t.open[q][k])
			t.open[q][k] = 0
		}
	}
	t.station = -1
}

// sums returns the transport so far with its errors.
func (t *tally) sums() Sums {
	var out Sums
	for k := range Kinds {
		var square [groups]float64
		for g := range square {
			square[g] = t.square[g][k]
		}
		for q := range modeCount {
			open, first := t.open[q][k], t.first[q][k]
			if t.scale.ring > 0 {
				if t.station == t.scale.ring {
					open, first = 0, first+open
				}
				square[t.scale.groupOf(q, 0)] += float64(first * first)
			}
			if t.station >= 0 {
				square[t.scale.groupOf(q, t.station)] += float64(open * open)
			}
		}
		sensors, place := square[undivided]+square[perCastOnly], square[ofPlace]
		common, instead := 0.0, nan
		for s := range t.common {
			for q := range t.common[s] {
				x := float64(t.common[s][q][k] * t.common[s][q][k])
				if t.scale.split[s][q] {
					common += x
					continue
				}
				if instead != instead {
					instead = square[perCastOnly]
				}
				instead += x
			}
		}
		out[k] = Sum{
			Value: t.value[k], PerCast: math.Sqrt(sensors), Common: math.Sqrt(common), IfCommon: math.Sqrt(instead),
			Position:      math.Sqrt(place),
			KnownVelocity: math.Sqrt(t.known[k]), Stated: math.Sqrt(sensors + common + place + t.known[k]),
			MonteCarlo: nan, Low: nan, High: nan,
		}
	}
	return out
}
