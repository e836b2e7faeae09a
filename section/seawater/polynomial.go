package seawater

// Polynomials in x by Horner's rule, coefficients from the constant term up. Every step is rounded by itself.

// horner is one step of Horner's rule, r x + c. The conversion keeps a compiler from fusing the two operations, which
// would give other bits on other processors.
func horner(r, x, c float64) float64 { return float64(r*x) + float64(c) }

func quadratic(x, c0, c1, c2 float64) float64 { return horner(horner(c2, x, c1), x, c0) }

func cubic(x, c0, c1, c2, c3 float64) float64 { return horner(quadratic(x, c1, c2, c3), x, c0) }

func quartic(x, c0, c1, c2, c3, c4 float64) float64 {
	return quadratic(x, c0, c1, quadratic(x, c2, c3, c4))
}
