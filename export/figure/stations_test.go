package figure

import (
	"fmt"
	"strings"
	"testing"

	"github.com/castwright/castwright/export/figure/chart"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

func TestNamesOfStations(t *testing.T) {
	cases := []struct {
		in, out string
		note    string
	}{
		{"001 012 T1", "1 12 T1", ""},
		{"NORTH_LINE_08_REPEATED NORTH_LINE_10_REPEATED NORTH_LINE_11_REPEATED", "8 10 11",
			"written without NORTH_LINE_ before them, without _REPEATED after them"},
		{"STATION_100 STATION_101", "100 101", "written without STATION_ before them"},
		{"A_VERY_LONG_NAME another-long-name", "…NG_NAME …ng-name", "written long ones by their ends"},
		{"WESTERN_1 WESTERN_", "WESTERN_1 WESTERN_", ""},
	}
	for _, c := range cases {
		var casts []*section.Cast
		for _, s := range strings.Fields(c.in) {
			casts = append(casts, &section.Cast{Station: s})
		}
		n := namesOfStations(casts)
		var got []string
		for _, k := range casts {
			got = append(got, n.of(k))
		}
		if c.in == "WESTERN_1 WESTERN_" { // nothing would be left of the second: both keep their ends
			if got[0] == "" || got[1] == "" {
				t.Errorf("%q", got)
			}
			continue
		}
		if strings.Join(got, " ") != c.out || n.note() != c.note {
			t.Errorf("%s: %q, %q", c.in, got, n.note())
		}
	}
	s, g := invent(layout{stations: 12, lengthKm: 200, depthM: 1200, from: orb.Point{-30, 40},
		to: orb.Point{-27, 39.8}, stepKm: 5, stepDbar: 10, first: 1})
	for k, c := range s.Casts {
		c.Station = fmt.Sprintf("NORTH_LINE_STATION_%02d_REPEATED", k)
	}
	for _, f := range []Figure{&Section{Name: "long names section", Section: s, Grid: g, Field: "ctemp"},
		&StationMap{Name: "long names map", Casts: s.Casts, Sections: []*section.Section{s}},
		&Profiles{Name: "long names profiles", Casts: s.Casts}, &Velocity{Name: "long names velocity",
			Result: currents(s)}} {
		both(t, f)
		for _, w := range []chart.Width{chart.TwoColumns, chart.OneColumn} {
			p, err := f.draw(w)
			if err != nil {
				t.Fatal(err)
			}
			for _, name := range []string{"0", "4", "11"} {
				if !p.Has(name) {
					t.Errorf("%s %v: station %s has no name: %v", f.Stem(), w, name, p.Words)
				}
			}
		}
	}
}
