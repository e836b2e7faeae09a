package contour_test

import (
	"fmt"

	"github.com/castwright/castwright/gridding/contour"
)

// Level lines of a field given at the nodes of two axes.
func ExampleLines() {
	x, y := []float64{0, 1, 2}, []float64{0, 10}
	for _, c := range contour.Lines(x, y, []float64{0, 1, 2, 0, 1, 2}, []float64{0.5, 1.5}) {
		fmt.Println(c.Value, c.Lines)
	}
	// Output:
	// 0.5 [[[0.5 10] [0.5 0]]]
	// 1.5 [[[1.5 10] [1.5 0]]]
}
