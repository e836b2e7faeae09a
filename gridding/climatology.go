package gridding

import (
	"fmt"
	"math"
	"slices"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// A Climatology is Absolute Salinity (g/kg) and Conservative Temperature (degC) on longitude, latitude and pressure.
// The value at (LonDeg[i], LatDeg[j]) of level k is at (k*len(LatDeg)+j)*len(LonDeg)+i; NaN is no value.
type Climatology struct {
	LonDeg, LatDeg []float64 // increasing
	// dbar, of level k at latitude j at k*len(LatDeg)+j: a depth has another pressure at each latitude
	PressureDbar []float64
	SA, CT       []float64
	SAErr, CTErr []float64 // standard errors; nil: not known
	Around       bool      // longitudes go once round the globe
	Others       []NodeValues
}

// NodeValues are a further variable of a climatology at its nodes, with standard errors; nil: not known.
type NodeValues struct {
	Name        string
	Values, Err []float64
}

func (c *Climatology) check() error {
	n := len(c.LonDeg) * len(c.PressureDbar)
	if len(c.LonDeg) < 2 || len(c.LatDeg) < 2 || len(c.SA) != n || len(c.CT) != n {
		return fmt.Errorf("%w: the climatology has %d longitudes, %d latitudes and %d values", ErrNoCommonPlace,
			len(c.LonDeg), len(c.LatDeg), len(c.CT))
	}
	return nil
}

func (c *Climatology) has(variable string) bool {
	return slices.ContainsFunc(c.Others, func(v NodeValues) bool { return v.Name == variable })
}

func (c *Climatology) before(k *section.Cast, _ *Place, _ []metadata.Variable) *Profile {
	return c.At(k.At)
}

// At returns the profile at a position: bilinear from the four nodes around it, at each level at which none of them is
// missing, and straight in pressure; nil outside the nodes, or where fewer than two levels have values.
func (c *Climatology) At(at orb.Point) *Profile {
	nx, ny := len(c.LonDeg), len(c.LatDeg)
	lon := c.LonDeg[0] + math.Mod(math.Mod(at[0]-c.LonDeg[0], 360)+360, 360)
	i, a, ok := stepOf(c.LonDeg, lon)
	east := i + 1
	if !ok && c.Around { // between the last longitude and the first
		i, east = nx-1, 0
		a, ok = (lon-c.LonDeg[nx-1])/(c.LonDeg[0]+360-c.LonDeg[nx-1]), true
	}
	j, b, inside := stepOf(c.LatDeg, at[1])
	if !ok || !inside {
		return nil
	}
	four := func(v []float64, k int) float64 {
		if v == nil {
			return 0
		}
		low, high := (k*ny+j)*nx, (k*ny+j+1)*nx
		return mixed(mixed(v[low+i], v[low+east], a), mixed(v[high+i], v[high+east], a), b)
	}
	p := &Profile{Straight: true, Others: make([]Property, len(c.Others))}
	for k := range len(c.PressureDbar) / ny {
		level := mixed(c.PressureDbar[k*ny+j], c.PressureDbar[k*ny+j+1], b)
		for n := range c.Others {
			from, to := &c.Others[n], &p.Others[n]
			to.Name = from.Name
			if v := four(from.Values, k); !math.IsNaN(v) {
				to.PressureDbar, to.Values = append(to.PressureDbar, level), append(to.Values, v)
				if from.Err != nil {
					to.Err = append(to.Err, four(from.Err, k))
				}
			}
		}
		sa, ct := four(c.SA, k), four(c.CT, k)
		if math.IsNaN(sa) || math.IsNaN(ct) {
			continue
		}
		p.PressureDbar = append(p.PressureDbar, level)
		p.SA, p.CT = append(p.SA, sa), append(p.CT, ct)
		p.SALevelErr = append(p.SALevelErr, zeroForNaN(four(c.SAErr, k)))
		p.CTLevelErr = append(p.CTLevelErr, zeroForNaN(four(c.CTErr, k)))
	}
	if len(p.PressureDbar) < 2 {
		return nil
	}
	return p
}

// mixed is straight between two values; one that has no share may be missing.
func mixed(x, y, share float64) float64 {
	switch share {
	case 0:
		return x
	case 1:
		return y
	}
	return x + float64(share*(y-x))
}

// stepOf returns the step of an increasing axis that holds a value, and how far the value is into it.
func stepOf(axis []float64, v float64) (k int, share float64, ok bool) {
	if v < axis[0] || v > axis[len(axis)-1] {
		return 0, 0, false
	}
	k, _ = slices.BinarySearch(axis, v)
	k = min(max(k-1, 0), len(axis)-2)
	return k, (v - axis[k]) / (axis[k+1] - axis[k]), true
}
