package figure

import (
	"math"
	"slices"
	"sort"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/section"
)

// splits are the pressures at which an expanded upper panel may end.
var splits = []float64{20, 30, 50, 75, 100, 150, 200, 300, 400, 500, 750, 1000, 1500, 2000}

// splitBins is into how many parts profiles are divided to find where they change.
const splitBins = 100

// splitOf chooses where an expanded upper panel ends, from where temperature and salinity change: above it
// lie four fifths of all change with pressure. Where a quarter of the track or more is a shelf, shallower
// than a seventh of the picture, it ends half way, by factors, between there and three times the depth of the
// shelf. 0: one panel is enough.
func splitOf(casts []*section.Cast, bottomP []float64, yMax float64) float64 {
	var change [splitBins]float64
	for _, names := range [][]string{{"ctemp", "temp"}, {"asal", "psal"}} {
		var profiles [][splitBins]float64
		all := chart.NoExtent()
		for _, c := range casts {
			for _, name := range names {
				if v := columnOf(c, name); v != nil {
					p := binned(c.PressureDbar, v, yMax)
					profiles = append(profiles, p)
					for _, x := range p {
						all.Add(x)
					}
					break
				}
			}
		}
		for _, p := range profiles {
			for k := 1; k < splitBins; k++ {
				if d := math.Abs(p[k]-p[k-1]) / all.Span(); d > 0 { // not NaN
					change[k] += d
				}
			}
		}
	}
	total := 0.0
	for _, d := range change {
		total += d
	}
	sum, end := 0.0, 0
	for ; end < splitBins-1 && sum < 0.8*total; end++ {
		sum += change[end]
	}
	ends := float64(end) * yMax / splitBins
	var shelf []float64
	for _, p := range bottomP {
		if p < yMax/7 {
			shelf = append(shelf, p)
		}
	}
	if 4*len(shelf) >= len(bottomP) && len(shelf) > 0 {
		slices.Sort(shelf)
		ends = math.Sqrt(ends * 3 * shelf[len(shelf)/2])
	}
	k := sort.SearchFloat64s(splits, ends*0.999)
	if k == len(splits) || total == 0 || splits[k] > 0.45*yMax {
		return 0
	}
	return splits[k]
}

// binned returns the mean of a profile in each of equal parts of 0 to yMax; NaN where there is none.
func binned(pressure []float64, v func(k int) float64, yMax float64) (mean [splitBins]float64) {
	var n [splitBins]float64
	for k, p := range pressure {
		if at := p / yMax * splitBins; at >= 0 && at < splitBins && !math.IsNaN(v(k)) { // false where yMax is 0
			mean[int(at)] += v(k)
			n[int(at)]++
		}
	}
	for i := range n {
		mean[i] /= n[i]
	}
	return mean
}
