package gridding

import (
	"math"
	"testing"

	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/interpolate"
	"github.com/paulmach/orb"
)

// Means that the local mean profile is made of lie on their level, whatever the bins (a straight line stays one, also
// at its ends), and take the noise of single bins out below 200 dbar, where data levels are 50 dbar apart.
func TestSmoothedProfiles(t *testing.T) {
	for _, noise := range []float64{0, 1} {
		var casts []*section.Cast
		for k := range 3 {
			c := &section.Cast{Station: string(rune('1' + k)), Number: "1", At: orb.Point{float64(k), 50}}
			pres := section.Column{Variable: variable("pres")}
			heat := section.Column{Variable: variable("ctemp")}
			for p := 3.0; p <= 991; p += 2 {
				pres.Values = append(pres.Values, p)
				heat.Values = append(heat.Values, 20-0.02*p+noise*(float64(len(pres.Values)%2)-0.5))
			}
			c.PressureDbar, c.Columns = pres.Values, []section.Column{pres, heat}
			casts = append(casts, c)
		}
		o := &Options{Workers: 1, StepDbar: 10, Variables: []string{"ctemp"}}
		s := surveyOf(t, &section.Section{Casts: casts, DistanceKm: []float64{0, 50, 100}}, o)
		levels := make([]float64, 100)
		for i := range levels {
			levels[i] = 10 * float64(i)
		}
		var w interpolate.Workspace
		m, windows := s.windows(levels)
		got := s.smoothed(&s.sites[0], levels, m, windows, &w)[0]
		for i, p := range levels {
			want, within := 20-0.02*math.Max(p, 3), 1e-12 // constant above the first bin
			if noise > 0 {
				if p <= 200 || p > 970 {
					continue
				}
				within = 0.1
			}
			if !(math.Abs(got[i]-want) <= within) {
				t.Errorf("noise %g: %g dbar: %v, want %v", noise, p, got[i], want)
			}
		}
	}
}
