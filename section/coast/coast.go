// Package coast holds the coastline of the world: outlines for maps, and whether a position is on land.
package coast

import (
	"bytes"
	_ "embed"
	"encoding/binary"
	"math"
	"sync"

	"github.com/klauspost/compress/zlib"
)

// The rings of land, made by data/make_coast.go; see NOTICE. Both together are to stay below one megabyte.
var (
	//go:embed data/coast.z
	coarse []byte
	//go:embed data/fine.z
	fine []byte
)

// Credit names the source, for captions: of the coastline that Lines returns.
func Credit(detailed bool) string {
	if detailed {
		return "Natural Earth 4.1.0, 1:10 million (public domain)"
	}
	return "Natural Earth 4.1.0, 1:50 million (public domain)"
}

// A Ring is a closed outline of land (or of a sea inside land): longitude and latitude in degrees. The longitude of a
// ring that crosses 180 degrees runs on beyond it. West to North is the extent of the ring.
type Ring struct {
	Points                   [][2]float64
	West, East, South, North float64
}

// Lines returns all outlines, in a fixed order: detailed for maps of less than some 1500 km, else simpler ones. The
// caller must not change them.
func Lines(detailed bool) []Ring {
	if detailed {
		return fineRings()
	}
	return coarseRings()
}

var (
	coarseRings = sync.OnceValue(func() []Ring { return unpack(coarse) })
	fineRings   = sync.OnceValue(func() []Ring { return unpack(fine) })
)

// unpack reads what make_coast wrote.
func unpack(packed []byte) []Ring {
	all := bytes.NewBuffer(make([]byte, 0, 2*len(packed))) // packing takes off a quarter
	z, err := zlib.NewReader(bytes.NewReader(packed))
	if err == nil {
		_, err = all.ReadFrom(z)
	}
	if err != nil {
		panic("coast: embedded coastline: " + err.Error())
	}
	raw := all.Bytes()
	var out []Ring
	for len(raw) > 0 {
		n, k := binary.Uvarint(raw)
		raw = raw[k:]
		r := Ring{Points: make([][2]float64, 0, n+2), West: math.Inf(1), East: math.Inf(-1), South: math.Inf(1),
			North: math.Inf(-1)}
		var at [2]int64 // thousandths of a degree
		shift, last := 0.0, math.NaN()
		for range n {
			var q [2]float64
			for c := range q {
				d, k := binary.Varint(raw)
				raw = raw[k:]
				at[c] += d
				q[c] = float64(at[c]) / 1000
			}
			if d := q[0] - last; math.Abs(d) > 180 {
				shift -= math.Copysign(360, d)
			}
			last = q[0]
			q[0] += shift
			r.Points = append(r.Points, q)
			r.West, r.East = min(r.West, q[0]), max(r.East, q[0])
			r.South, r.North = min(r.South, q[1]), max(r.North, q[1])
		}
		first, end := r.Points[0][0], r.Points[len(r.Points)-1][0]
		if math.Abs(first-end) > 180 { // Antarctica goes around the world: it is closed along the pole
			r.Points = append(r.Points, [2]float64{end, -90}, [2]float64{first, -90})
			r.South = -90
		}
		out = append(out, r)
	}
	return out
}

// Contains reports whether a position is on land. The coastline is drawn for maps of 1:10 million: near the shore the
// answer is uncertain by a kilometre or two, and the smallest islands are missing. Ice shelves are not land.
func Contains(lonDeg, latDeg float64) bool {
	inside := false
	rings := fineRings()
	for i := range rings {
		r := &rings[i]
		if latDeg < r.South || latDeg > r.North {
			continue
		}
		for turn := math.Ceil((r.West - lonDeg) / 360); lonDeg+360*turn <= r.East; turn++ {
			lon := lonDeg + 360*turn
			a := r.Points[len(r.Points)-1]
			for _, b := range r.Points { // even-odd rule along the parallel to the east
				if (a[1] > latDeg) != (b[1] > latDeg) && lon < a[0]+(latDeg-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
					inside = !inside
				}
				a = b
			}
		}
	}
	return inside
}
