package gridding

import (
	"slices"
)

// A verticalScale is the vertical length by pressure: band k, with length length[k], reaches down to to[k], the last
// for ever. Distances are in lengths; between two bands they add up, so that no estimate jumps where the length
// changes.
type verticalScale struct {
	to     []float64 // dbar, increasing; one less than length
	length []float64 // dbar
}

func oneLength(dbar float64) verticalScale { return verticalScale{length: []float64{dbar}} }

func (s *verticalScale) equal(o *verticalScale) bool {
	return s == o || o != nil && slices.Equal(s.to, o.to) && slices.Equal(s.length, o.length)
}

func (s *verticalScale) band(p float64) int {
	k := 0
	for k < len(s.to) && p > s.to[k] {
		k++
	}
	return k
}

// apart is the scaled distance from q down to p, negative upwards. Within a band it is (p-q)/length to the last bit, so
// that equally near data are found so.
func (s *verticalScale) apart(p, q float64) float64 {
	a, b := s.band(q), s.band(p)
	if a == b {
		return (p - q) / s.length[a]
	}
	if a > b {
		return -s.apart(q, p)
	}
	sum := (s.to[a] - q) / s.length[a]
	for k := a + 1; k < b; k++ {
		sum += (s.to[k] - s.to[k-1]) / s.length[k]
	}
	return sum + (p-s.to[b-1])/s.length[b]
}

// above is the pressure that lies r lengths above q.
func (s *verticalScale) above(q, r float64) float64 {
	for k := s.band(q); k > 0; k-- {
		if own := (q - s.to[k-1]) / s.length[k]; own < r {
			q, r = s.to[k-1], r-own
			continue
		}
		return q - r*s.length[k]
	}
	return q - r*s.length[0]
}

// times returns the scale with lengths that are a factor as long.
func (s *verticalScale) times(factor float64) verticalScale {
	out := verticalScale{to: s.to, length: slices.Clone(s.length)}
	for k := range out.length {
		out.length[k] *= factor
	}
	return out
}

// covariance tabulates between levels what the covariance of a shape needs of them: see Covariance.part.
func (s *verticalScale) covariance(levels []float64, shape Covariance) []float64 {
	out := make([]float64, len(levels)*len(levels))
	for i, p := range levels {
		for j, q := range levels {
			r := s.apart(p, q)
			out[i*len(levels)+j] = shape.part(r * r)
		}
	}
	return out
}

// text is the lengths in words.
func (s *verticalScale) text() string {
	out := ""
	for k, to := range s.to {
		out += number(s.length[k]) + " dbar down to " + number(to) + " dbar, "
	}
	out += number(s.length[len(s.to)]) + " dbar"
	if len(s.to) > 0 {
		out += " below"
	}
	return out
}
