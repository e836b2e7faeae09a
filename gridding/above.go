package gridding

import (
	"math"

	"github.com/paulmach/orb"
)

// Above gives, for each level, the part of the plane where value >= level, as polygons like those of Bands; a level of -Inf gives all
// that is covered. A picture painted from the lowest level up has no seams between its bands. Arguments are those of Contours.
func Above(x, y, data, levels []float64) []orb.MultiPolygon {
	m := newMesh(x, y, data, levels)
	out := make([]orb.MultiPolygon, len(levels))
	for k, level := range levels {
		out[k] = m.band(level, math.Inf(1))
	}
	return out
}
