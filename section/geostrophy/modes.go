package geostrophy

import (
	"math"

	"github.com/castwright/castwright/section/seawater"
)

// Modes of error of one cast: what an error that is the same at every level does to its dynamic height, and to its
// position.
const (
	ofSalinity = iota
	ofTemperature
	ofPressure
	ofSpread // of the casts that a mean station is made of: standard errors of their mean, the same sign at every level
	ofNorth  // displacement of the cast, km
	ofEast
	modeCount
)

// waterModes are those that change the dynamic height.
const waterModes = ofSpread + 1

// modes holds, at nodes about 10 dbar apart, the integrals from the top of the column of the change of specific volume
// with each error: m2/s2 per g/kg, per K and per dbar.
type modes struct {
	p [][1 + waterModes]float64 // pressure, then the integrals of salinity, temperature, pressure, spread
	// Mean change of Absolute Salinity computed from conductivity with temperature (g/kg per K) and pressure (g/kg per
	// dbar); 0 where salinity has been adjusted to bottles.
	saltByT, saltByP float64
}

// modeStepDbar: the derivatives of specific volume bend little over this.
const modeStepDbar = 10

// slopeEvery: the change of practical salinity with temperature and pressure is taken at every fifth node, and in
// between linearly.
const slopeEvery = 5

// setModes computes the error integrals. A salinity error e adds e v_SA; a temperature error e v_CT, and where salinity
// was computed from conductivity with that temperature also v_SA u_PS dSP/dt; a pressure reading e too high puts the
// water of p - e at p, and makes the salinity computed from conductivity too low: -(v_SA dSA/dp + v_CT dCT/dp) + v_SA
// u_PS dSP/dp. The derivatives of practical salinity are at constant conductivity (PSS-78).
func (c *column) setModes(fromConductivity bool, pr *Profile) {
	n := len(c.p)
	var nodes []int
	last := negInf
	for i, p := range c.p {
		if i == 0 || i == n-1 || p-last >= modeStepDbar {
			nodes = append(nodes, i)
			last = p
		}
	}
	m := &modes{p: make([][1 + waterModes]float64, len(nodes))}
	byT, byP := make([]float64, len(nodes)), make([]float64, len(nodes))
	if fromConductivity {
		c.salinitySlopes(nodes, byT, byP)
	}
	var before, now [2]float64 // v_SA, v_CT
	deep := math.Max(c.p[n-1]-c.p[0], 1e-9)
	for k, i := range nodes {
		_, now[0], now[1] = seawater.SpecificVolumeSlopes(c.sa[i], c.ct[i], c.p[i])
		m.p[k][0] = c.p[i]
		if k > 0 {
			j := nodes[k-1]
			dp := c.p[i] - c.p[j]
			m.saltByT += 0.5 * seawater.ReferenceFactor * (byT[k-1] + byT[k]) * dp / deep
			m.saltByP += 0.5 * seawater.ReferenceFactor * (byP[k-1] + byP[k]) * dp / deep
			vs, vt := 0.5*(before[0]+now[0]), 0.5*(before[1]+now[1])
			const u = seawater.ReferenceFactor
			salt := vs * dp
			heat := float64(vt*dp) + float64(0.5*u*dp*(float64(before[0]*byT[k-1])+float64(now[0]*byT[k])))
			shift := -(float64(vs*(c.sa[i]-c.sa[j])) + float64(vt*(c.ct[i]-c.ct[j]))) + float64(
				0.5*u*dp*(float64(before[0]*byP[k-1])+float64(now[0]*byP[k])))
			m.p[k][1] = m.p[k-1][1] + float64(pascal*salt)
			m.p[k][2] = m.p[k-1][2] + float64(pascal*heat)
			m.p[k][3] = m.p[k-1][3] + float64(pascal*shift)
			if pr.spread != nil {
				spread := func(p float64) float64 {
					return between(pr.PressureDbar, func(l int) float64 { return pr.spread[l] }, p)
				}
				m.p[k][4] = m.p[k-1][4] + float64(0.5*pascal*dp*(spread(c.p[j])+spread(c.p[i])))
			}
		}
		before = now
	}
	c.modes = m
}

// salinitySlopes fills dSP/dt (1/K) and dSP/dp (1/dbar) at constant conductivity at the nodes.
func (c *column) salinitySlopes(nodes []int, byT, byP []float64) {
	prev := -1
	for k := range nodes {
		if k%slopeEvery != 0 && k != len(nodes)-1 {
			continue
		}
		i := nodes[k]
		byT[k], byP[k] = conductivitySlopes(c.sa[i], c.ct[i], c.p[i])
		if prev >= 0 {
			for j := prev + 1; j < k; j++ {
				t := (c.p[nodes[j]] - c.p[nodes[prev]]) / (c.p[i] - c.p[nodes[prev]])
				byT[j] = byT[prev] + float64(t*(byT[k]-byT[prev]))
				byP[j] = byP[prev] + float64(t*(byP[k]-byP[prev]))
			}
		}
		prev = k
	}
}

// conductivitySlopes returns the change of practical salinity per kelvin and per dbar at constant conductivity, by
// differences over 1e-3 K and 1 dbar. The salinity anomaly of the atlas moves them by less than 1e-3 and is left out.
func conductivitySlopes(sa, ct, p float64) (byT, byP float64) {
	sp := sa / seawater.ReferenceFactor
	t := seawater.InSituTemperature(sa, ct, p)
	cond := seawater.Conductivity(sp, t, p)
	byT = (seawater.PracticalSalinity(cond, t+1e-3, p) - seawater.PracticalSalinity(cond, t, p)) / 1e-3
	byP = seawater.PracticalSalinity(cond, t, p+1) - seawater.PracticalSalinity(cond, t, p)
	if byT != byT {
		byT = 0 // outside PSS-78: no conductivity to speak of
	}
	if byP != byP {
		byP = 0
	}
	return byT, byP
}

// at fills out with the integrals at pressure p, searching upwards from node k, and returns the node.
func (m *modes) at(p float64, k int, out *[waterModes]float64) int {
	for k+2 < len(m.p) && m.p[k+1][0] < p {
		k++
	}
	if len(m.p) < 2 {
		*out = [waterModes]float64{}
		return 0
	}
	a, b := &m.p[k], &m.p[k+1]
	t := math.Min(1, (p-a[0])/(b[0]-a[0]))
	for q := range out {
		out[q] = a[q+1] + float64(t*(b[q+1]-a[q+1]))
	}
	return k
}

// fill sets dst to the integrals between each of p (increasing) and the reference. Above the first node the water is
// the same: the integrals there go on with its slope.
func (m *modes) fill(dst *[waterModes][]float64, p []float64, reference float64) {
	var at, x [waterModes]float64
	m.at(reference, 0, &at)
	k := 0
	for l := range p {
		k = m.at(p[l], k, &x)
		for q := range x {
			dst[q][l] = at[q] - x[q]
		}
	}
}
