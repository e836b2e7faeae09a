package interpolate_test

import (
	"fmt"

	"github.com/castwright/castwright/section/interpolate"
)

func ExampleWorkspace_Values() {
	p := []float64{0, 10, 20, 30, 50, 75, 100} // dbar
	t := []float64{27.96, 27.93, 27.91, 27.36, 24.2, 21.6, 20.1}
	levels := []float64{5, 25, 40, 120}
	var w interpolate.Workspace
	dst := make([]float64, len(levels))
	fmt.Printf("%.3f\n", w.Values(dst, interpolate.Linear, p, t, levels))
	fmt.Printf("%.3f\n", w.Values(dst, interpolate.Pchip, p, t, levels))
	// Output:
	// [27.945 27.635 25.780 NaN]
	// [27.944 27.727 25.902 NaN]
}

func ExampleWorkspace_Pair() {
	p := []float64{0, 50, 100, 200}
	sa := []float64{34.4, 34.6, 35.1, 34.9} // g/kg
	ct := []float64{28, 26, 21, 14}         // degC
	levels := []float64{75, 150}
	var w interpolate.Workspace
	sa2, ct2 := w.Pair(make([]float64, 2), make([]float64, 2), interpolate.Rotated, p, sa, ct, levels)
	fmt.Printf("%.3f %.3f\n", sa2, ct2)
	// Output: [34.893 35.047] [23.547 16.921]
}
