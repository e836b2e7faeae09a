package seawater

import "math"

// Composition says where the composition of the salt at a place comes from, and so how practical becomes Absolute
// Salinity.
type Composition uint8

// The compositions. Those after FromBaltic deserve a note beside the data.
const (
	OutsideAtlas Composition = iota // no position, or south of 86 S: Absolute Salinity is NaN
	FromAtlas                       // the atlas holds the anomaly
	FromBaltic                      // the line of Feistel et al. 2010 for the Baltic region
	NoAtlasValue                    // land or an enclosed sea to the atlas: the anomaly is taken as 0
	LakeWater                       // declared a lake: the anomaly is 0, and PSS-78 and TEOS-10 are outside their range
)

// A Place is a position with all that depends on it alone: the anomaly ratio at each level of the atlas and the
// gravity. Make it once for a cast. It is a plain value, safe for use by several goroutines.
type Place struct {
	LonDeg, LatDeg float64 // degrees east and north, as given
	Composition    Composition

	gravity float64              // m/s2, at the sea surface
	deepest int                  // last level of ratio in use
	ratio   [atlasLevels]float64 // anomaly ratio
}

// PlaceOf returns the Place at a longitude in degrees east (-360..360, taken modulo 360) and a latitude in degrees
// north.
func PlaceOf(lon, lat float64) Place {
	pl := Place{LonDeg: lon, LatDeg: lat, gravity: SurfaceGravity(lat)}
	east := eastOf(lon)
	if !inAtlas(east, lat) {
		return pl
	}
	c := cellOf(east, lat)
	pl.deepest = max(c.deepest, 0)
	pl.Composition = NoAtlasValue
	if c.deepest >= 0 {
		for k := range max(c.deepest, 1) + 1 {
			pl.ratio[k] = c.ratio(k)
			if pl.ratio[k] != 0 {
				pl.Composition = FromAtlas
			}
		}
	}
	if inBaltic(east, lat) {
		pl.Composition = FromBaltic
	}
	return pl
}

// AsLake returns the place with the water declared a lake: neither atlas nor Baltic line is used and Absolute Salinity
// is the reference salinity. The lake's own salts differ from sea salt: say so beside the data.
func (pl Place) AsLake() Place {
	return Place{LonDeg: pl.LonDeg, LatDeg: pl.LatDeg, Composition: LakeWater, gravity: pl.gravity}
}

// eastOf returns the longitude in 0..360.
func eastOf(lon float64) float64 {
	east := math.Mod(lon, 360)
	if east < 0 {
		east += 360
	}
	return east
}

func inAtlas(east, lat float64) bool { return lat >= atlasSouthDeg && lat <= 90 && !math.IsNaN(east) }

// inBaltic: the region of the Baltic line, between a western line through (12.6E,50N) (7E,59N) (26E,69N) and an eastern
// one through (45E,50N) (26E,69N). Purely geographic: it covers the Kattegat, much of the Skagerrak, and land.
func inBaltic(east, lat float64) bool {
	if !(lat > 50 && lat < 69) {
		return false
	}
	west := 12.6 + float64((lat-50)*((7-12.6)/9))
	if lat > 59 {
		west = 7 + float64((lat-59)*((26.0-7)/10))
	}
	return east > west && east < 45+float64((lat-50)*((26.0-45)/19))
}

// findLevel returns the interval of atlasDbar that holds p, searching from k; deepest is the last level in use.
func findLevel(p float64, k, deepest int) int {
	last := max(deepest-1, 0)
	for k < last && p >= atlasDbar[k+1] {
		k++
	}
	for k > 0 && p < atlasDbar[k] {
		k--
	}
	return k
}

func (pl *Place) anomalyRatio(p float64, k int) (ratio float64, level int) {
	if pl.Composition == OutsideAtlas {
		return math.NaN(), k
	}
	k = findLevel(p, k, pl.deepest)
	return betweenLevels(min(p, atlasDbar[pl.deepest]), k, pl.ratio[k], pl.ratio[k+1]), k
}

func betweenLevels(p float64, k int, above, below float64) float64 {
	return above + float64((p-atlasDbar[k])/(atlasDbar[k+1]-atlasDbar[k])*(below-above))
}

// Baltic line of Feistel et al. 2010, Ocean Sci. 6, 3: SA = slope SP + offset, in g/kg.
const (
	balticOffset = 0.087
	balticSlope  = (35.16504 - balticOffset) / 35
)

// AbsoluteSalinity returns Absolute Salinity in g/kg from practical salinity sp and sea pressure p in dbar. NaN for a
// negative practical salinity and outside the atlas. Sources: McDougall et al. 2012; Feistel et al. 2010 for the
// Baltic.
func (pl *Place) AbsoluteSalinity(sp, p float64) float64 {
	ratio, _ := pl.anomalyRatio(p, 0)
	return pl.absolute(sp, ratio)
}

func (pl *Place) absolute(sp, ratio float64) float64 {
	switch {
	case !(sp >= 0):
		return math.NaN()
	case pl.Composition == FromBaltic && ratio == ratio:
		return horner(balticSlope, sp, balticOffset)
	}
	return ReferenceFactor * sp * (1 + ratio)
}

// Gravity returns the gravity in m/s2 at a sea pressure p in dbar.
func (pl *Place) Gravity(p float64) float64 { return gravityAt(pl.gravity, heightAt(pl.gravity, p)) }

// ReferenceSalinity returns the reference salinity in g/kg of practical salinity sp, SR = u_PS sp: Absolute Salinity of
// seawater of standard composition (Millero et al. 2008, Deep-Sea Res. I 55, 50). NaN for a negative practical
// salinity.
func ReferenceSalinity(sp float64) float64 {
	if !(sp >= 0) {
		return math.NaN()
	}
	return ReferenceFactor * sp
}
