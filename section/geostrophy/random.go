package geostrophy

import "math"

// mix is one round of a 64-bit finaliser (the splitmix64 generator of Steele, Lea and Flood 2014).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// keyOf is the key of a name (FNV-1a).
func keyOf(name string) uint64 {
	h := uint64(14695981039346656037)
	for i := range len(name) {
		h = (h ^ uint64(name[i])) * 1099511628211
	}
	return h
}

// A stream is a row of random numbers of its own.
type stream uint64

func streamOf(seed int64, member, kind int, key uint64) stream {
	return stream(mix(mix(mix(mix(uint64(seed))^uint64(member))^uint64(kind)) ^ key))
}

// uniform is in (-1, 1).
func (s *stream) uniform() float64 {
	*s = stream(mix(uint64(*s)))
	return float64(int64(*s)>>11) / (1 << 52)
}

// normal is a standard normal number, by the polar method (Marsaglia and Bray 1964).
func (s *stream) normal() float64 {
	for {
		u, v := s.uniform(), s.uniform()
		if r := float64(u*u) + float64(v*v); r > 0 && r < 1 {
			return u * math.Sqrt(-2*logOf(r)/r)
		}
	}
}

// logOf is the natural logarithm of 0 < x < 1, by the series of the inverse hyperbolic tangent; the standard library's
// has other last bits on other processors.
func logOf(x float64) float64 {
	m, e := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m, e = 2*m, e-1
	}
	t := (m - 1) / (m + 1)
	q := t * t
	sum := 0.0
	for k := 21; k >= 1; k -= 2 {
		sum = float64(sum*q) + 1/float64(k)
	}
	return float64(float64(e)*math.Ln2) + 2*t*sum
}
