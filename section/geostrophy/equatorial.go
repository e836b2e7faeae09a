package geostrophy

import (
	"fmt"
	"math"

	"github.com/castwright/castwright/section"
)

// betaEquator is the change of the Coriolis parameter with distance northward at the equator, 1/(m s) (Picaut and
// Tournier 1991).
const betaEquator = 2.28e-11

// equatorialEstimates returns u = -(1/beta) d2Psi/dy2 at each inner station within 3 degrees of the equator, from the
// dynamic heights of it and its two neighbours by unequal second differences in latitude: an estimate for meridional
// lines only, of zonal velocity relative to the reference pressure of the section, or, where its reference is no
// pressure, to the deepest level of the three stations (Picaut and Tournier 1991; Lagerloef et al. 1999).
func equatorialEstimates(r *Result, stations []*stationWork, opts *Options) []Equatorial {
	var out []Equatorial
	for i := 1; i+1 < len(stations); i++ {
		lat := stations[i].cast.At[1]
		if !(math.Abs(lat) < withheldLatDeg) {
			continue
		}
		e := Equatorial{Station: i, ReferenceDbar: r.Stations[i].ReferenceDbar}
		below := measure(section.WGS84, stations[i-1].cast.At, stations[i].cast.At)
		above := measure(section.WGS84, stations[i].cast.At, stations[i+1].cast.At)
		y1 := below.lengthM * math.Cos(below.azimuthDeg*(math.Pi/180))
		y2 := above.lengthM * math.Cos(above.azimuthDeg*(math.Pi/180))
		along := func(m separation) bool {
			return math.Abs(math.Cos(m.azimuthDeg*(math.Pi/180))) >= math.Cos(math.Pi/6)
		}
		switch {
		case !along(below) || !along(above) || y1*y2 <= 0:
			e.Reason = "the line does not run within 30 degrees of the meridian through three stations"
		case math.Abs(y1) < tooCloseKm*1e3 || math.Abs(y2) < tooCloseKm*1e3:
			e.Reason = fmt.Sprintf("stations less than %d km apart", tooCloseKm)
		default:
			e.fill(r, i, y1, y2)
			switch n := len(e.Eastward); {
			case n == 0:
				e.Reason = "no level has a dynamic height at all three stations"
			case opts.Reference.Kind != AtPressure:
				deepest := e.Eastward[n-1]
				for l := range e.Eastward {
					e.Eastward[l] -= deepest
				}
				e.ReferenceDbar = e.PressureDbar[n-1]
			}
		}
		out = append(out, e)
	}
	return out
}

func (e *Equatorial) fill(r *Result, i int, y1, y2 float64) {
	x := r.Stations[i].PressureDbar
	before := Spread(make([]float64, len(x)), x, r.Stations[i-1].PressureDbar, r.Stations[i-1].DynamicHeight)
	after := Spread(make([]float64, len(x)), x, r.Stations[i+1].PressureDbar, r.Stations[i+1].DynamicHeight)
	for l, p := range x {
		here := r.Stations[i].DynamicHeight[l]
		second := 2 * ((after[l]-here)/y2 - (here-before[l])/y1) / (y1 + y2)
		if u := -second / betaEquator; u == u {
			e.PressureDbar = append(e.PressureDbar, p)
			e.Eastward = append(e.Eastward, u)
		}
	}
}
