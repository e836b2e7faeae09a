package gridding_test

import (
	"fmt"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// Two casts 20 km apart, mapped straight in distance at constant pressure.
func ExampleMap() {
	pres, _ := metadata.ByName("pres")
	oxy, _ := metadata.ByName("oxy")
	cast := func(station string, lon, top float64) *section.Cast {
		p := []float64{10, 20, 30, 40, 50}
		v := make([]float64, len(p))
		for i := range p {
			v[i] = top - p[i]
		}
		return &section.Cast{Station: station, At: orb.Point{lon, 60}, BottomM: 60, PressureDbar: p,
			Columns: []section.Column{{Variable: pres, Values: p}, {Variable: oxy, Values: v}}}
	}
	sec := &section.Section{Name: "line", Casts: []*section.Cast{cast("1", 5, 300), cast("2", 5.36, 280)},
		DistanceKm: []float64{0, 20}}
	g, _, err := gridding.Map(sec, gridding.Options{Method: gridding.Linear, StepKm: 10, StepDbar: 10})
	if err != nil {
		fmt.Println(err)
		return
	}
	n := len(g.Axes[1].Values)
	fmt.Println(g.Fields[0].Name, "at", g.Axes[1].Values, "km and", g.Axes[0].Values[3], "dbar:",
		g.Fields[0].Data[3*n:4*n])
	// Output: oxy at [0 10 20] km and 30 dbar: [270 260 250]
}
