package section

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"github.com/paulmach/orb"
)

// The Python package of GeographicLib answers: distance, azimuths, and for every third pair the midpoint, for pairs
// read from its input as float64.
const askGeographicLib = `
import sys, struct
from geographiclib.geodesic import Geodesic
g = Geodesic.WGS84
data = sys.stdin.buffer.read()
out = []
for i, (lat1, lon1, lat2, lon2) in enumerate(struct.iter_unpack('<4d', data)):
    inv = g.Inverse(lat1, lon1, lat2, lon2)
    mid = g.Direct(lat1, lon1, inv['azi1'], inv['s12'] / 2) if i % 3 == 0 else {'lat2': 0, 'lon2': 0, 'azi2': 0}
    out.append(struct.pack('<6d', inv['s12'], inv['azi1'], inv['azi2'], mid['lat2'], mid['lon2'], mid['azi2']))
sys.stdout.buffer.write(b''.join(out))
`

// hardPairs makes pairs of points of every trouble: anywhere, neighbours, nearly antipodal, on the equator, at the
// poles, on one meridian.
func hardPairs(n int) [][4]float64 {
	r := rand.New(rand.NewPCG(20, 26))
	pairs := make([][4]float64, n)
	for i := range pairs {
		lat1, lon1 := 180*r.Float64()-90, 720*r.Float64()-360
		lat2, lon2 := 180*r.Float64()-90, 720*r.Float64()-360
		scale := math.Pow(10, -6*r.Float64())
		switch i % 10 {
		case 0, 1, 2: // casts of a line
			lat2, lon2 = lat1+scale*(r.Float64()-0.5), lon1+scale*(r.Float64()-0.5)
		case 3: // nearly antipodal
			lat2, lon2 = -lat1+2*scale*(r.Float64()-0.5), lon1+180+2*scale*(r.Float64()-0.5)
		case 4: // nearly antipodal on the equator
			lat1, lat2, lon2 = scale*(r.Float64()-0.5), scale*(r.Float64()-0.5), lon1+180+2*scale*(r.Float64()-0.5)
		case 5: // degrees that people write
			lat1, lon1, lat2, lon2 = math.Round(lat1), math.Round(lon1), math.Round(lat2), math.Round(lon2)
		case 6: // along a parallel or a meridian
			if i%20 == 6 {
				lat2 = lat1
			} else {
				lon2 = lon1
			}
		}
		pairs[i] = [4]float64{min(90, max(-90, lat1)), lon1, min(90, max(-90, lat2)), lon2}
	}
	// Round numbers that meet every branch.
	k := 0
	for _, lat1 := range []float64{-90, -30, 0, 30, 90} {
		for _, lat2 := range []float64{-90, -30, -1e-9, 0, 30, 90} {
			for _, lon := range []float64{0, 1e-9, 90, 179, 179.5, 180 - 1e-9, 180, -180, 270, 360} {
				pairs[k] = [4]float64{lat1, 10, lat2, 10 + lon}
				k++
			}
		}
	}
	return pairs
}

// Distance, and where the two ends of the answer lie, against Debian's python3-geographiclib on 100 000 pairs. Bar:
// 1e-6 m.
func TestGeodesicAgainstGeographicLib(t *testing.T) {
	pairs := hardPairs(100000)
	var in bytes.Buffer
	if err := binary.Write(&in, binary.LittleEndian, pairs); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-c", askGeographicLib)
	cmd.Stdin = &in
	var errs strings.Builder
	cmd.Stderr = &errs
	answer, err := cmd.Output()
	if err != nil {
		t.Fatalf("python3-geographiclib is needed for this test: %v\n%s", err, errs.String())
	}
	want := make([][6]float64, len(pairs))
	if err := binary.Read(bytes.NewReader(answer), binary.LittleEndian, want); err != nil {
		t.Fatal(err)
	}
	var worst, worstMid, worstAzimuth, worstEnd float64
	for i, p := range pairs {
		a, b := orb.Point{p[1], p[0]}, orb.Point{p[3], p[2]}
		w := want[i]
		s, azi1, azi2 := Geodesic(a, b)
		off := math.Abs(s - w[0])
		worst = max(worst, off)
		if !(off <= 1e-6) {
			t.Errorf("%v: %v m, want %v", p, s, w[0])
		}
		// Our own line must end where it should: this also holds where several shortest lines exist.
		end, aziEnd := Along(a, azi1, s)
		gap, _, _ := Geodesic(end, b)
		worstEnd = max(worstEnd, gap)
		if !(gap <= 1e-6) {
			t.Errorf("%v: the line from %v ends %v m away", p, azi1, gap)
		}
		if s == 0 || math.Abs(p[0]) == 90 || math.Abs(p[2]) == 90 {
			continue // azimuths are conventions there
		}
		if s > 1 && angleOff(aziEnd, azi2)*math.Pi/180*min(s, 1e6) > 1e-5 {
			t.Errorf("%v: azimuth at the end %v, along the line %v", p, azi2, aziEnd)
		}
		if s > 1.9e7 {
			continue // near the antipode the azimuth hangs on the last bits; ends are tested above
		}
		// An azimuth error matters as the offset it makes over the line.
		side := max(angleOff(azi1, w[1]), angleOff(azi2, w[2])) * math.Pi / 180 * min(s, 6e6)
		worstAzimuth = max(worstAzimuth, side)
		if i%3 != 0 { // midpoints were asked for every third pair, which meets each kind
			if !(side <= 1e-6) {
				t.Errorf("%v: azimuths %v %v, want %v", p, azi1, azi2, w)
			}
			continue
		}
		mid, aziMid := Midpoint(a, b)
		away, _, _ := Geodesic(mid, orb.Point{w[4], w[3]})
		worstMid = max(worstMid, away)
		if !(side <= 1e-6) || !(away <= 1e-6) {
			t.Errorf("%v: azimuths %v %v, midpoint %v; want %v", p, azi1, azi2, mid, w)
		}
		if math.Abs(mid[1]) < 89.99 && angleOff(aziMid, w[5])*math.Pi/180*min(s,
			6e6)*math.Cos(mid[1]*math.Pi/180) > 1e-6 {
			t.Errorf("%v: azimuth at the midpoint %v, want %v", p, aziMid, w[5])
		}
	}
	t.Logf("largest differences: distance %.2g m, end of our line %.2g m, azimuth %.2g m sideways, midpoint %.2g m",
		worst, worstEnd, worstAzimuth, worstMid)
}

func TestGeodesicNotAPosition(t *testing.T) {
	for _, p := range [][2]orb.Point{{{0, 91}, {0, 0}}, {{0, 0}, {0, -91}}, {{math.NaN(), 0}, {0, 0}},
		{{0, math.NaN()}, {0, 0}}, {{math.Inf(1), 0}, {0, 0}}} {
		if s, a, b := Geodesic(p[0], p[1]); !math.IsNaN(s) || !math.IsNaN(a) || !math.IsNaN(b) {
			t.Errorf("%v: %v %v %v", p, s, a, b)
		}
	}
	if km := TrackKm([]orb.Point{{0, 0}, {0, 1}, {0, math.NaN()}}, WGS84); !math.IsNaN(km[2]) || math.IsNaN(km[1]) {
		t.Error(km)
	}
}

func BenchmarkGeodesic(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		Geodesic(orb.Point{-20, 40}, orb.Point{-19.3, 40.4})
	}
}
