package verify

import (
	"math"
	"slices"

	"github.com/castwright/castwright/ingest/cruisefile"
	"github.com/castwright/castwright/ingest/ncprofile"
	"github.com/castwright/castwright/section"
)

// seriesEnd is how the name of the file of a time series ends.
const seriesEnd = "_time_series.nc"

// seriesAgain chooses the casts of each time series again, and compares them and their mean position with its file. It
// returns how many there were.
func (a *archive) seriesAgain(c *cruisefile.Cruise, all *ncprofile.Collection) (n int) {
	var asked []section.SeriesOptions
	for i := range c.TimeSeries {
		asked = append(asked, c.TimeSeries[i].SeriesOptions)
	}
	if c.TimeSeries == nil {
		asked = section.UsualSeries(all.Casts)
	}
	for _, o := range asked {
		rel := sectionFile(o.Name, seriesEnd)
		f := a.open(rel)
		if f == nil {
			continue
		}
		n++
		o.Underway = true // what is not there was refused when the archive was made
		s, _, err := section.BuildSeries(all.Casts, o)
		if err != nil {
			a.fault("recompute.series", rel, "", "cannot be made of the casts: %v", err)
			continue
		}
		var ids []string
		for _, k := range s.Casts {
			ids = append(ids, all.IDs[slices.Index(all.Casts, k)])
		}
		if stored := f.WordsOf("profile_id"); !slices.Equal(stored, ids) {
			a.fault("recompute.series", rel, "profile_id", "casts %v, chosen again %v", stored, ids)
			continue
		}
		if got := f.WordsOf("series_id"); !slices.Equal(got, []string{o.Name}) {
			a.fault("recompute.series", rel, "series_id", "%q, in the cruise file %q", got, o.Name)
		}
		for i, name := range []string{"lon", "lat"} {
			if x := f.NumbersOf(name); len(x) != 1 || !(math.Abs(x[0]-s.At[i]) <= 1e-9) {
				a.fault("recompute.series", rel, name, "%v, computed again %v", x, s.At[i])
			}
		}
	}
	return n
}
