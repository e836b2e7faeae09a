package figure

import (
	"math"
	"slices"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/section"
)

// wideGap is how many times the median spacing of stations a distance must be to be a gap, which is left
// empty: a bridge over it would show water that nobody sampled.
const wideGap = 5

// gapsOf returns the gaps between the stations of a section, from km to km. Half a spacing beside each
// station is still shown.
func gapsOf(s *section.Section) [][2]float64 {
	var apart []float64
	for k := 1; k < len(s.DistanceKm); k++ {
		apart = append(apart, s.DistanceKm[k]-s.DistanceKm[k-1])
	}
	if len(apart) < 3 { // of two distances neither is the usual one
		return nil
	}
	sorted := slices.Sorted(slices.Values(apart))
	median := sorted[len(sorted)/2]
	var out [][2]float64
	for k, d := range apart {
		if d > wideGap*median {
			out = append(out, [2]float64{s.DistanceKm[k] + median/2, s.DistanceKm[k+1] - median/2})
		}
	}
	return out
}

// emptyGaps removes the values of a field inside gaps.
func emptyGaps(f *chart.Field, gaps [][2]float64) {
	for k := range f.Data {
		if x := f.X[k%len(f.X)]; inGap(x, gaps) {
			f.Data[k] = math.NaN()
		}
	}
}

func inGap(km float64, gaps [][2]float64) bool {
	return slices.ContainsFunc(gaps, func(g [2]float64) bool { return km > g[0] && km < g[1] })
}
