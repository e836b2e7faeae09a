package seawater

import (
	"bytes"
	"compress/zlib"
	_ "embed" // the atlas
	"io"
	"math"
	"sync"
)

// The atlas of the Absolute Salinity Anomaly Ratio: McDougall et al. 2012, Ocean Sci. 8, 1123. atlas/make_atlas.py
// makes the file and describes its layout; ratios are whole multiples of 1e-10 (2e-9 g/kg).
//
//go:embed atlas/anomaly.z
var packedAtlas []byte

const (
	atlasLons, atlasLats, atlasLevels = 91, 45, 45 // 0, 4 .. 360 E; -86, -82 .. 90 N
	atlasStepDeg, atlasSouthDeg       = 4.0, -86.0
	atlasUnit                         = 1e-10
	notStored                         = math.MinInt32
)

// atlasDbar: the levels of the atlas, in dbar.
var atlasDbar = [atlasLevels]float64{
	0, 10, 20, 30, 40, 50, 76, 101, 126, 151, 176, 202, 252, 303, 353, 404, 505, 606, 707, 808, 909, 1010, 1111, 1213,
	1314,
	1416, 1517, 1771, 2025, 2279, 2534, 2789, 3045, 3300, 3556, 3812, 4069, 4325, 4583, 4840, 5098, 5355, 5614, 5872,
	6131,
}

type anomalyAtlas struct {
	ratio   [atlasLons][atlasLats][atlasLevels]int32 // in units of 1e-10, or notStored
	deepest [atlasLons - 1][atlasLats - 1]int8       // last level used in a cell; -1: no water
}

// theAtlas unpacks the embedded file when it is first needed. The file is part of the program: a fault in it is a fault
// of the build, hence the panic.
var theAtlas = sync.OnceValue(func() *anomalyAtlas {
	a, err := unpackAtlas(packedAtlas)
	if err != nil {
		panic("seawater: the embedded atlas cannot be read: " + err.Error())
	}
	return a
})

func unpackAtlas(packed []byte) (*anomalyAtlas, error) {
	r, err := zlib.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, err
	}
	const n = atlasLons * atlasLats * atlasLevels
	const bits = (n + 7) / 8
	raw := make([]byte, 4*n+bits+(atlasLons-1)*(atlasLats-1))
	if _, err := io.ReadFull(r, raw); err != nil {
		return nil, err
	}
	if _, err := io.Copy(io.Discard, r); err != nil { // to the end: the reader compares the checksum there
		return nil, err
	}
	a := new(anomalyAtlas)
	at := 0
	for i := range a.ratio {
		for j := range a.ratio[i] {
			var sum int32
			for k := range a.ratio[i][j] {
				sum += int32(uint32(raw[at]) | uint32(raw[n+at])<<8 | uint32(raw[2*n+at])<<16 | uint32(raw[3*n+at])<<24)
				if raw[4*n+at/8]&(0x80>>(at%8)) != 0 {
					a.ratio[i][j][k] = sum
				} else {
					a.ratio[i][j][k] = notStored
				}
				at++
			}
		}
	}
	at = 4*n + bits
	for i := range a.deepest {
		for j := range a.deepest[i] {
			a.deepest[i][j] = int8(raw[at])
			at++
		}
	}
	return a, nil
}

// The line along Central America that keeps Pacific and Atlantic apart, west to east (McDougall et al. 2012).
var (
	isthmusLon = [...]float64{260, 272.59, 276.5, 278.65, 280.73, 292}
	isthmusLat = [...]float64{19.55, 13.97, 9.6, 8.1, 9.33, 3.4}
)

func nearIsthmus(lon, lat float64) bool {
	return lon >= 260 && lon <= 291.999 && lat >= 3.4 && lat <= 19.55
}

// atlanticSide reports whether a point lies on or north of the line, which is continued straight beyond its ends.
func atlanticSide(lon, lat float64) bool {
	k := 0
	for k < len(isthmusLon)-2 && lon >= isthmusLon[k+1] {
		k++
	}
	slope := (isthmusLat[k+1] - isthmusLat[k]) / (isthmusLon[k+1] - isthmusLon[k])
	return lat >= isthmusLat[k]+float64((lon-isthmusLon[k])*slope)
}

// an atlasCell is the four corners around a point, south-west, south-east, north-east and north-west.
type atlasCell struct {
	corner  [4]*[atlasLevels]int32
	across  [4]bool // on the other side of the isthmus from the point
	r, s    float64 // how far east and north the point lies in the cell, 0..1
	deepest int     // -1: no water
}

// cellOf finds the cell of a point with lon in 0..360 and lat in -86..90.
func cellOf(lon, lat float64) atlasCell {
	a := theAtlas()
	i := min(int(lon/atlasStepDeg), atlasLons-2)
	j := min(int((lat-atlasSouthDeg)/atlasStepDeg), atlasLats-2)
	c := atlasCell{
		r:       float64(lon/atlasStepDeg) - float64(i),
		s:       float64((lat-atlasSouthDeg)/atlasStepDeg) - float64(j),
		deepest: int(a.deepest[i][j]),
	}
	divided := nearIsthmus(lon, lat)
	for k, d := range [4][2]int{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
		ci, cj := i+d[0], j+d[1]
		c.corner[k] = &a.ratio[ci][cj]
		c.across[k] = divided &&
			atlanticSide(lon, lat) != atlanticSide(float64(atlasStepDeg*float64(ci)),
				float64(atlasStepDeg*float64(cj))+atlasSouthDeg)
	}
	return c
}

// ratio interpolates one level across the cell. A corner without a value takes the mean of those that have one; 0 if
// none.
func (c *atlasCell) ratio(level int) float64 {
	var v [4]float64
	var have [4]bool
	sum, n := 0.0, 0
	for k, corner := range c.corner {
		if q := corner[level]; q != notStored && !c.across[k] {
			v[k], have[k] = float64(q)*atlasUnit, true
			sum += v[k]
			n++
		}
	}
	if n == 0 {
		return 0
	}
	mean := sum / float64(n)
	for k := range v {
		if !have[k] {
			v[k] = mean
		}
	}
	south := v[0] + float64(c.r*(v[1]-v[0]))
	north := v[3] + float64(c.r*(v[2]-v[3]))
	return south + float64(c.s*(north-south))
}
