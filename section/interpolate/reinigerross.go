package interpolate

import "math"

// overshoot is how far, as a part of the step between the two inner nodes, blended parabolas may leave it (ours).
const overshoot = 0.1

// reinigerRoss interpolates with four nodes, two on each side; in the first and last interval, and where the blended
// parabolas leave the two inner values by more than a tenth of their difference, linearly.
func reinigerRoss(dst, x, y, at []float64) []float64 {
	k, ok := 0, false
	for i, v := range at {
		if k, ok = walk(x, v, k); !ok {
			dst[i] = math.NaN()
			continue
		}
		straight := linearAt(x, y, k, v)
		dst[i] = straight
		if v == x[k] || k < 1 || k+2 >= len(x) {
			continue
		}
		r := blendedParabolas(x[k-1:k+3], y[k-1:k+3], v)
		low, high := min(y[k], y[k+1]), max(y[k], y[k+1])
		room := float64(overshoot * (high - low))
		if r != r || r >= low-room && r <= high+room {
			dst[i] = r
		}
	}
	return dst
}

// blendedParabolas is the value at v between the second and third of four nodes: two parabolas, weighted by the
// distance of the other one from a reference value (Reiniger and Ross 1968).
func blendedParabolas(x, y []float64, v float64) float64 {
	line := func(a, b int) float64 { return y[a] + float64((y[b]-y[a])*(v-x[a]))/(x[b]-x[a]) }
	l12, l23, l34 := line(0, 1), line(1, 2), line(2, 3)
	w1, w2 := float64((l23-l34)*(l23-l34)), float64((l12-l23)*(l12-l23))
	reference := l23
	if w1+w2 != 0 {
		reference = 0.5 * (l23 + (float64(w1*l12)+float64(w2*l34))/(w1+w2))
	}
	a, b := parabola(x[:3], y[:3], v), parabola(x[1:], y[1:], v)
	da, db := math.Abs(reference-a), math.Abs(reference-b)
	if da+db == 0 {
		return a
	}
	return (float64(da*b) + float64(db*a)) / (da + db)
}

// parabola is Lagrange's through three nodes.
func parabola(x, y []float64, v float64) float64 {
	d0, d1, d2 := v-x[0], v-x[1], v-x[2]
	return float64(y[0]*d1*d2/((x[0]-x[1])*(x[0]-x[2]))) + float64(y[1]*d0*d2/((x[1]-x[0])*(x[1]-x[2]))) +
		float64(y[2]*d0*d1/((x[2]-x[0])*(x[2]-x[1])))
}
