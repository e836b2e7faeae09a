package draft

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// A station that is far from all others is proposed as other, one beside a line or on it is not.
func TestLonelyStationIsOther(t *testing.T) {
	cast := func(n int, name string, lon, lat float64) *section.Cast {
		return &section.Cast{Expocode: "ZZSM20260504", Station: name, Number: "1", At: orb.Point{lon, lat},
			Time: time.Date(2026, 5, 4, n, 0, 0, 0, time.UTC), PressureDbar: []float64{1, 2}, BottomM: math.NaN()}
	}
	var casts []*section.Cast
	for n := range 8 { // a line of stations 11 km apart
		casts = append(casts, cast(n, fmt.Sprint(n+1), -20, 60+0.1*float64(n)))
	}
	for _, x := range []struct {
		name  string
		lat   float64
		other bool
	}{{"far", 64, true}, {"near", 61.0, false}} {
		d := &drafter{casts: append(casts[:8:8], cast(9, x.name, -20, x.lat))}
		w := &writer{}
		d.roles(w, d.stops())
		if got := strings.Contains(w.String(), "- {other: '"+x.name+"'}  # on no line, "); got != x.other {
			t.Errorf("%s: roles\n%s", x.name, w.String())
		}
	}
	d := &drafter{casts: []*section.Cast{casts[0], cast(9, "far", -20, 64)}}
	w := &writer{}
	if d.roles(w, d.stops()); w.Len() > 0 {
		t.Errorf("two stations: roles\n%s", w.String())
	}
}
