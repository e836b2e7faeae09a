package gridding

import "math"

// cholesky factors the symmetric positive definite n x n matrix whose lower triangle is in a (row after row, n apart)
// in place: A = L L'. inv gets the reciprocals of L's diagonal. It returns false when A is not positive definite to
// rounding. Four rows are made at once so that each row above is read once for all four.
func cholesky(a, inv []float64, n int) bool {
	i := 0
	for ; i+4 <= n; i += 4 {
		r0, r1, r2, r3 := a[i*n:i*n+n], a[(i+1)*n:(i+1)*n+n], a[(i+2)*n:(i+2)*n+n], a[(i+3)*n:(i+3)*n+n]
		for j := range i {
			row := a[j*n : j*n+j]
			x0, x1, x2, x3 := r0[:len(row)], r1[:len(row)], r2[:len(row)], r3[:len(row)]
			s0, s1, s2, s3 := 0.0, 0.0, 0.0, 0.0
			for k, v := range row {
				s0 += float64(v * x0[k])
				s1 += float64(v * x1[k])
				s2 += float64(v * x2[k])
				s3 += float64(v * x3[k])
			}
			d := inv[j]
			r0[j] = (r0[j] - s0) * d
			r1[j] = (r1[j] - s1) * d
			r2[j] = (r2[j] - s2) * d
			r3[j] = (r3[j] - s3) * d
		}
		for m := i; m < i+4; m++ {
			if !finishRow(a, inv, n, m, i) {
				return false
			}
		}
	}
	for ; i < n; i++ {
		if !finishRow(a, inv, n, i, 0) {
			return false
		}
	}
	return true
}

// finishRow makes row m of L from column first on; the columns before are done.
func finishRow(a, inv []float64, n, m, first int) bool {
	r := a[m*n : m*n+n]
	for j := first; j < m; j++ {
		r[j] = (r[j] - dot(r[:j], a[j*n:j*n+j])) * inv[j]
	}
	d := r[m] - dot(r[:m], r[:m])
	if !(d > 1e-13*r[m]) {
		return false
	}
	r[m] = math.Sqrt(d)
	inv[m] = 1 / r[m]
	return true
}

func dot(x, y []float64) float64 {
	y = y[:len(x)]
	s, t := 0.0, 0.0
	k := 0
	for ; k+2 <= len(x); k += 2 {
		s += float64(x[k] * y[k])
		t += float64(x[k+1] * y[k+1])
	}
	if k < len(x) {
		s += float64(x[k] * y[k])
	}
	return s + t
}

// forward solves L y = b in place.
func forward(a, inv, b []float64, n int) {
	for i := range n {
		b[i] = (b[i] - dot(a[i*n:i*n+i], b[:i])) * inv[i]
	}
}

// backward solves L' x = b in place.
func backward(a, inv, b []float64, n int) {
	for i := n - 1; i >= 0; i-- {
		x := b[i] * inv[i]
		b[i] = x
		row := a[i*n : i*n+i]
		c := b[:len(row)]
		for k, v := range row {
			c[k] -= float64(x * v)
		}
	}
}
