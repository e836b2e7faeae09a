package geostrophy

// The bottom triangle is the water below the deepest common level of a pair (DCL) and above the straight line joining
// the two bottoms. With a <= b the heights of the two bottoms below the DCL in metres and L the separation, its width
// at the height zeta below the DCL is L down to a, then L (b - zeta)/(b - a). Treatments compared by Thompson and
// Heywood 2008 (Deep-Sea Res. I 55, 1229).

// lowestDbar: the shear that is continued into a triangle is fitted over this much of the deepest common data.
const lowestDbar = 200

// TriangleTransport returns the transport per metre of separation, in m2/s, that a treatment adds below the DCL: a <= b
// are the heights of the two bottoms below it in m, v the velocity there in m/s, shear dv/dz (z upwards) in 1/s.
// Multiply by L in m.
func TriangleTransport(t Treatment, a, b, v, shear float64) float64 {
	byV, byShear := triangleWeights(t, a, b, 0, b)
	return float64(byV*v) + float64(byShear*shear)
}

// triangleWeights returns the factors, in m and m2, of the velocity at the DCL and of the shear in the transport per
// metre of separation between the heights from and to below the DCL.
func triangleWeights(t Treatment, a, b, from, to float64) (byV, byShear float64) {
	from, to = min(max(from, 0), b), min(max(to, 0), b)
	if !(b > 0) || !(to > from) {
		return 0, 0
	}
	w0, m0 := triangleMoments(a, b, from)
	w1, m1 := triangleMoments(a, b, to)
	width, moment := w1-w0, m1-m0
	switch t {
	case ConstantVelocity:
		return width, 0
	case ConstantShear:
		return width, -moment
	case LinearToZero:
		return width - moment/b, 0
	}
	return 0, 0
}

// triangleMoments integrates the relative width, and zeta times it, from the DCL to zeta.
func triangleMoments(a, b, zeta float64) (width, moment float64) {
	if zeta <= a {
		return zeta, 0.5 * zeta * zeta
	}
	c := b - a
	width = a + (float64(c*c)-float64((b-zeta)*(b-zeta)))/(2*c)
	moment = 0.5*a*a + (float64(0.5*b*(zeta*zeta-a*a))-(zeta*zeta*zeta-a*a*a)/3)/c
	return width, moment
}

// shearWeights returns the first of the levels from which the shear at the bottom is fitted, and for it and each deeper
// level the factor of its velocity in the least-squares slope dv/dz: over the lowest 200 dbar, nil with fewer than
// three levels.
func shearWeights(p, depth []float64) (from int, weights []float64) {
	n := len(p)
	from = n
	for from > 0 && p[from-1] >= p[n-1]-lowestDbar {
		from--
	}
	if n-from < 3 {
		return n, nil
	}
	mean := 0.0
	for _, d := range depth[from:] {
		mean += d
	}
	mean /= float64(n - from)
	square := 0.0
	weights = make([]float64, n-from)
	for i, d := range depth[from:] {
		weights[i] = mean - d // z - mean z
		square += float64(weights[i] * weights[i])
	}
	for i := range weights {
		weights[i] /= square
	}
	return from, weights
}
