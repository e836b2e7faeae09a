package section

import "github.com/paulmach/orb"

// A Section is casts in drawing order; DistanceKm runs along the track from Casts[0].
type Section struct {
	Name       string
	Casts      []*Cast
	DistanceKm []float64
}

// A Pair is two neighbouring stations of a section. Midpoint and AzimuthDeg (true bearing from A to B, at the midpoint) are geodesic.
type Pair struct {
	A, B       int // indices into Section.Casts
	DistanceKm float64
	Midpoint   orb.Point
	AzimuthDeg float64
}
