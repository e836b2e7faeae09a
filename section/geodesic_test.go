package section

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/paulmach/orb"
)

// checkTable reads a table of testdata/checkvalues as rows by column name.
func checkTable(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("../testdata/checkvalues/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, v := range r {
			m[rows[0][i]] = v
		}
		out = append(out, m)
	}
	return out
}

func numbers(t *testing.T, row map[string]string, names ...string) []float64 {
	t.Helper()
	out := make([]float64, len(names))
	for i, n := range names {
		v, err := strconv.ParseFloat(row[n], 64)
		if err != nil {
			t.Fatalf("%s: %v", n, err)
		}
		out[i] = v
	}
	return out
}

func angleOff(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 360)) }

// Source: testdata/checkvalues/geodesic_checks.csv, computed with GeographicLib (see its README).
func TestGeodesicTable(t *testing.T) {
	worst := 0.0
	for _, row := range checkTable(t, "geodesic_checks.csv") {
		v := numbers(t, row, "lat1", "lon1", "lat2", "lon2", "s12_wgs84_m", "azi1_deg", "azi2_deg", "mid_lat",
			"mid_lon", "s12_sphere6371_m")
		a, b := orb.Point{v[1], v[0]}, orb.Point{v[3], v[2]}
		s, azi1, azi2 := Geodesic(a, b)
		worst = max(worst, math.Abs(s-v[4]))
		if math.Abs(s-v[4]) > 1e-6 {
			t.Errorf("%s: %.9f m, want %.9f", row["why"], s, v[4])
		}
		if d := math.Abs(Sphere.DistanceM(a, b) - v[9]); d > 1e-6 {
			t.Errorf("%s: sphere off by %g m", row["why"], d)
		}
		mid, _ := Midpoint(a, b)
		tol := 1e-9
		if v[4] == 0 {
			continue // the azimuth of a line without length is a convention
		}
		if angleOff(azi1, v[5]) > 1e-7 || angleOff(azi2, v[6]) > 1e-7 {
			t.Errorf("%s: azimuths %v %v, want %v %v", row["why"], azi1, azi2, v[5], v[6])
		}
		if math.Abs(mid[1]-v[7]) > tol || mid[1] < 89.999 && angleOff(mid[0], v[8]) > tol {
			t.Errorf("%s: midpoint %v, want %v %v", row["why"], mid, v[8], v[7])
		}
	}
	t.Logf("largest difference %.2g m", worst)
}
