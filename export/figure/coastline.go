package figure

import (
	"bytes"
	"compress/zlib"
	_ "embed"
	"encoding/binary"
	"io"
	"math"
	"sync"
)

// coastFile holds the rings of land, made by coast/make_coast.go; see NOTICE.
//
//go:embed coast/coast.z
var coastFile []byte

// coastCredit names the source in captions.
const coastCredit = "Natural Earth 4.1.0, 1:50 million (public domain)"

// A ring is a closed outline of land: longitude and latitude in degrees, running on over 180 degrees, with its extent.
type ring struct {
	p                      [][2]float64
	west, east, south, nor float64
}

var coastRings = sync.OnceValue(func() []ring {
	z, err := zlib.NewReader(bytes.NewReader(coastFile))
	if err != nil {
		panic("figure: embedded coastline: " + err.Error())
	}
	raw, err := io.ReadAll(z)
	if err != nil {
		panic("figure: embedded coastline: " + err.Error())
	}
	var out []ring
	for len(raw) > 0 {
		n, k := binary.Uvarint(raw)
		raw = raw[k:]
		r := ring{west: math.Inf(1), east: math.Inf(-1), south: math.Inf(1), nor: math.Inf(-1)}
		var at [2]int64
		shift, last := 0.0, math.NaN()
		for range n {
			var q [2]float64
			for c := range q {
				d, k := binary.Varint(raw)
				raw = raw[k:]
				at[c] += d
				q[c] = float64(at[c]) / 1000
			}
			// A ring that goes over 180 degrees runs on there, so that it stays in one piece.
			if d := q[0] - last; math.Abs(d) > 180 {
				shift -= math.Copysign(360, d)
			}
			last = q[0]
			q[0] += shift
			r.p = append(r.p, q)
			r.west, r.east = min(r.west, q[0]), max(r.east, q[0])
			r.south, r.nor = min(r.south, q[1]), max(r.nor, q[1])
		}
		if math.Abs(r.p[0][0]-r.p[len(r.p)-1][0]) > 180 { // once around: Antarctica, closed at the pole
			first, end := r.p[0][0], r.p[len(r.p)-1][0]
			r.p = append(r.p, [2]float64{end, -90}, [2]float64{first, -90})
			r.south = -90
		}
		out = append(out, r)
	}
	return out
})
