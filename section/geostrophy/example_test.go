package geostrophy_test

import (
	"fmt"
	"math"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/castwright/castwright/section/interpolate"
	"github.com/paulmach/orb"
)

// The dynamic height of a short invented cast relative to 400 dbar.
func ExampleDynamicHeight() {
	p := []float64{0, 100, 200, 400}
	sa := []float64{35.4, 35.3, 35.1, 34.9} // g/kg
	ct := []float64{20, 15, 11, 8}          // degC
	height, err := geostrophy.DynamicHeight(make([]float64, len(p)), sa, ct, p, 400, interpolate.Pchip)
	if err != nil {
		fmt.Println(err)
		return
	}
	for i := range p {
		fmt.Printf("%3.0f dbar %6.3f m2/s2\n", p[i], height[i])
	}
	// Output:
	//   0 dbar  6.363 m2/s2
	// 100 dbar  3.924 m2/s2
	// 200 dbar  2.311 m2/s2
	// 400 dbar  0.000 m2/s2
}

// Two invented casts on an eastward line in the north, the warmer one in the east: the water flows north.
func ExampleCompute() {
	cast := func(station string, lon, surface float64) *section.Cast {
		c := &section.Cast{Station: station, Number: "1", At: orb.Point{lon, 36}, BottomM: math.NaN()}
		var sa, ct []float64
		for p := 0.0; p <= 1000; p += 20 {
			c.PressureDbar = append(c.PressureDbar, p)
			sa, ct = append(sa, 35), append(ct, 4+(surface-4)*math.Exp(-p/300))
		}
		for name, x := range map[string][]float64{"pres": c.PressureDbar, "asal": sa, "ctemp": ct} {
			c.Columns = append(c.Columns, section.Column{Variable: metadata.MustVariable(name), Decimals: -1,
				Values: x})
		}
		return c
	}
	line := &section.Section{Name: "LINE", Casts: []*section.Cast{cast("1", -40, 14), cast("2", -39.5, 15)},
		DistanceKm: []float64{0, 45}}
	opts := geostrophy.DefaultOptions()
	opts.Reference = geostrophy.Reference{Kind: geostrophy.AtPressure, PressureDbar: 1000}
	opts.Positive = "north"
	r, err := geostrophy.Compute(line, opts)
	if err != nil {
		fmt.Println(err)
		return
	}
	pair := &r.Pairs[0]
	fmt.Printf("%.3f m/s at %g dbar, positive towards %.0f degrees\n", pair.Velocity[0], pair.PressureDbar[0],
		pair.PositiveDeg)
	fmt.Printf("%.2fe6 m3/s, %s\n", r.Total[geostrophy.Volume].Value/1e6, r.Partial.Statement)
	// Output:
	// 0.121 m/s at 0 dbar, positive towards 0 degrees
	// 1.25e6 m3/s, all of 1 pair, 45.1 km
}
