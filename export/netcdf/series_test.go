//go:build cgo

package netcdf

import (
	"context"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/castwright/castwright/section"
	"github.com/paulmach/orb"
)

// moored returns casts of one position, two hours apart, with the given first level, step and number of levels.
func moored(shapes ...[3]float64) *section.Series {
	s := &section.Series{Name: "tide", At: orb.Point{-12.2, 36.4}}
	for i, q := range shapes {
		c := makeCast("ZZFU20240501", "7", string(rune('1'+i)), 0, q[0], q[1], int(q[2]))
		c.At, c.Role = orb.Point{-12.2 + 0.001*float64(i), 36.4}, section.Yoyo
		c.Time = time.Date(2024, 5, 2, 3+2*i, 15, 0, 0, time.UTC)
		s.Casts = append(s.Casts, c)
	}
	return s
}

// A series is time by pressure: orthogonal where casts share their levels, else with levels of each cast.
func TestWriteSeries(t *testing.T) {
	x := common()
	for name, s := range map[string]*section.Series{
		"common levels": moored([3]float64{2, 2, 300}, [3]float64{4, 2, 280}, [3]float64{2, 2, 260}),
		"own levels":    moored([3]float64{2, 2, 50}, [3]float64{1.3, 1.7, 61}, [3]float64{0.4, 2.9, 30}),
	} {
		path := sameBytes(t, "tide_time_series.nc", func(path string, workers int) error {
			x.Workers = workers
			return WriteSeries(context.Background(), path, x, s, "Tide at the sill")
		})
		r := readBack(t, path)
		for _, n := range []string{"temp", "psal", "sigma0"} {
			valuesBack(t, r, s.Casts, n, n)
		}
		v := r.v(t, "temp")
		want := []string{"time", "pres"}
		if name == "own levels" {
			want[1] = "level"
		}
		if !slices.Equal(r.dims(v), want) {
			t.Errorf("%s: temp lies on %v", name, r.dims(v))
		}
		for _, n := range strings.Fields("time lat lon station cast series_id cast_lat cast_lon") {
			if !slices.Contains(strings.Fields(v.Text("coordinates")), n) {
				t.Errorf("%s: %s is no coordinate of temp: %s", name, n, v.Text("coordinates"))
			}
		}
		if r.s.Text("featureType") != "timeSeriesProfile" || r.v(t, "series_id").Text("cf_role") != "timeseries_id" ||
			r.v(t, "profile_id").Text("cf_role") != "profile_id" {
			t.Errorf("%s: featureType %q", name, r.s.Text("featureType"))
		}
		if len(r.number["lat"]) != 1 || r.number["lon"][0] != -12.2 ||
			math.Abs(r.number["cast_lon"][2]+12.198) > 1e-12 {
			t.Errorf("%s: nominal position %v, of the casts %v", name, r.number["lon"], r.number["cast_lon"])
		}
		opened(t, `
d = ds[0]
assert list(d.time.values.astype("M8[m]").astype(str)) == ["2024-05-02T03:15", "2024-05-02T05:15", "2024-05-02T07:15"]
assert d.temp.dims[0] == "time" and d.indexes["time"].is_monotonic_increasing
assert d.temp.sel(time="2024-05-02T05:00", method="nearest").time == d.time[1]
assert str(d.series_id.values) == "tide" and "cast_lat" in d.temp.coords
assert d.attrs["featureType"] == "timeSeriesProfile"
`, path)
	}
	s := moored([3]float64{2, 2, 9}, [3]float64{2, 2, 9})
	s.Casts[1].Time = time.Time{}
	if err := WriteSeries(context.Background(), filepath.Join(t.TempDir(), "x.nc"), x, s, ""); err == nil {
		t.Error("a cast without a time was written")
	}
}
