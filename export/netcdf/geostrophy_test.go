//go:build cgo

package netcdf

import (
	"context"
	"errors"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"github.com/castwright/castwright/metadata"
	"github.com/castwright/castwright/section/geostrophy"
	"github.com/paulmach/orb"
)

// invented returns a result of five stations; the third pair is withheld. The numbers mean nothing.
func invented(members bool) *geostrophy.Result {
	r := &geostrophy.Result{
		Section: "A13", Layers: []geostrophy.Band{{Lower: math.Inf(-1), Upper: 500}, {Lower: 500, Upper: math.Inf(1)}},
		Classes: []geostrophy.Band{{Lower: 26, Upper: 27}}, ClassSigmaDbar: 2000, SecondLabel: "500 dbar",
		Partial: geostrophy.Partial{Statement: "partial: 3 of 4 pairs, 150 of 200 km"}, ReferenceSalinity: 35,
		ReferenceTemperature: nan, HeatWhy: "net mass is not zero",
		Params: []metadata.Param{{Name: "reference", Value: "deepest"}}, Notes: []string{"casts are not simultaneous"},
	}
	for i, c := range fiveCasts() {
		r.Stations = append(r.Stations, geostrophy.Station{Cast: c, DistanceKm: 50 * float64(i)})
	}
	r.LeftOut = []geostrophy.LeftOut{{Cast: r.Stations[0].Cast, Reason: "repeat"}}
	sum := func(v float64) geostrophy.Sum {
		s := geostrophy.Sum{Value: v, PerCast: 0.1, Common: 0.2, Position: nan, KnownVelocity: 0, Stated: 0.3,
			MonteCarlo: nan, Low: nan, High: nan}
		if members {
			s.MonteCarlo, s.Low, s.High = 0.31, v-0.6, v+0.6
		}
		return s
	}
	sums := func(v float64) (s geostrophy.Sums) {
		for k := range s {
			s[k] = sum(v + float64(k))
		}
		s[geostrophy.Heat] = geostrophy.Sum{Value: nan, Stated: nan, PerCast: nan, Common: nan, Position: nan,
			KnownVelocity: nan, MonteCarlo: nan, Low: nan, High: nan}
		return s
	}
	r.Total, r.LayerTotal, r.ClassTotal = sums(100), []geostrophy.Sums{sums(40), sums(60)}, []geostrophy.Sums{sums(7)}
	r.SecondTotal[geostrophy.Heat] = nan
	for t := range r.ByTreatment {
		r.ByTreatment[t][geostrophy.Heat] = nan
	}
	for i := range 4 {
		p := geostrophy.Pair{
			ID: "A13_" + r.Stations[i].Cast.Station + "_" + r.Stations[i+1].Cast.Station, A: i, B: i + 1,
			Midpoint: orb.Point{-44.75 + float64(i)/2, 30},
			Time:     time.Date(2024, 5, 2+i, 15, 0, 0, 0, time.UTC), LengthKm: 50, FromKm: 50 * float64(i),
			ToKm: 50 * float64(i+1), AzimuthDeg: 90, PositiveDeg: 0,
			CoriolisPerSec: 7e-5, DeepestCommonDbar: 90, ReferenceDbar: 90, LevelRule: "common bins",
			TriangleSampled: true, BottomAM: 12, BottomBM: 15,
		}
		if i == 2 {
			p.Status, p.Reason = geostrophy.WithheldNoLevels, "no two common levels"
		} else {
			for k := range 30 + 10*i {
				p.PressureDbar = append(p.PressureDbar, float64(2+2*k))
				p.Velocity = append(p.Velocity, 0.1*math.Sin(float64(k)))
				p.HeightA, p.HeightB = append(p.HeightA, float64(k)), append(p.HeightB, float64(2*k))
				p.Shear, p.VelocityErr = append(p.Shear, 1e-5*float64(k)), append(p.VelocityErr, 0.01)
				p.PerCastErr, p.CommonErr, p.IfCommonErr = append(p.PerCastErr, 0.02), append(p.CommonErr, 0.03),
					append(p.IfCommonErr, 0.04)
				if members {
					p.MonteCarlo = append(p.MonteCarlo, 0.04)
				}
			}
			p.Velocity[3] = nan
			p.Transport, p.Cumulative = sums(float64(i)), sums(float64(10*i))
			p.Layers, p.Classes = []geostrophy.Sums{sums(1), sums(2)}, []geostrophy.Sums{sums(3)}
			for t := range p.Triangle {
				p.Triangle[t][geostrophy.Volume] = float64(t)
			}
			p.Notes = []geostrophy.Note{{Kind: geostrophy.NoteTop, Text: "top 10 m carried"}}
		}
		r.Pairs = append(r.Pairs, p)
	}
	return r
}

func TestWriteGeostrophy(t *testing.T) {
	for _, ragged := range []bool{false, true} {
		r := invented(ragged)
		if ragged {
			for k := range r.Pairs[1].PressureDbar {
				r.Pairs[1].PressureDbar[k] += 0.7
			}
		}
		x := common()
		const title = "Strait"
		path := sameBytes(t, "A13_geostrophy.nc", func(path string, workers int) error {
			x.Workers = workers
			return WriteGeostrophy(context.Background(), path, x, r, title)
		})
		f := conform(t, path)
		if got := f.s.Var("row_size") >= 0; got != ragged {
			t.Fatalf("ragged %v, want %v", got, ragged)
		}
		at, pres := 0, f.number["pres"]
		for i := range r.Pairs {
			p := &r.Pairs[i]
			for k, dbar := range p.PressureDbar {
				j := at + k
				if !ragged {
					j = i*len(pres) + slices.Index(pres, dbar)
				} else if pres[j] != dbar {
					t.Fatalf("pair %d level %d at %g, not %g", i, k, pres[j], dbar)
				}
				for name, values := range map[string][]float64{"velocity": p.Velocity, "velocity_err": p.VelocityErr,
					"velocity_shear": p.Shear, "dynamic_height_a": p.HeightA,
					"dynamic_height_b": p.HeightB, "velocity_err_common": p.CommonErr,
					"velocity_err_per_cast": p.PerCastErr} {
					want := Round(values[k], bitsOf(name))
					if math.IsNaN(want) {
						want = fillValue
					}
					if got := f.number[name][j]; got != want {
						t.Fatalf("%s of pair %d level %d: %v, want %v", name, i, k, got, want)
					}
				}
			}
			at += len(p.PressureDbar)
		}
		if got := f.number["transport"]; !slices.Equal(got, []float64{0, 1, fillValue, 3}) {
			t.Errorf("transport %v", got)
		}
		if got := f.number["transport_layer"]; !slices.Equal(got, []float64{1, 2, 1, 2, fillValue, fillValue, 1, 2}) {
			t.Errorf("transport_layer %v", got)
		}
		if got := f.number["transport_triangle"]; !slices.Equal(got[:4], []float64{0, 1, 2, 3}) || got[8] != fillValue {
			t.Errorf("transport_triangle %v", got)
		}
		if l, u := f.number["layer_lower"], f.number["layer_upper"]; !slices.Equal(l, []float64{fillValue, 500}) ||
			!slices.Equal(u, []float64{500, fillValue}) {
			t.Errorf("layers %v %v", l, u)
		}
		if f.s.Var("transport_heat") >= 0 || f.s.Var("transport_err_position") >= 0 ||
			(f.s.Var("transport_err_members") >= 0) != ragged || (f.s.Var("velocity_err_members") >= 0) != ragged {
			t.Error("a quantity that nobody computed is in the file, or one is missing")
		}
		v := f.v(t, "transport")
		for name, want := range map[string]any{"total": []float64{100}, "total_standard_error": []float64{0.3},
			"total_statement": "partial: 3 of 4 pairs, 150 of 200 km",
			"standard_name":   "ocean_volume_transport_across_line", "units": "m3 s-1"} {
			if got := v.Attr(name); !reflect.DeepEqual(got, want) {
				t.Errorf("transport:%s = %v, want %v", name, got, want)
			}
		}
		if got := f.v(t, "transport_layer").Attr("total"); !reflect.DeepEqual(got, []float64{40, 60}) {
			t.Errorf("totals of layers %v", got)
		}
		if !slices.Equal(f.number["pair_status"], []float64{0, 0, float64(geostrophy.WithheldNoLevels), 0}) ||
			f.words["pair_reason"][2] != "no two common levels" {
			t.Errorf("status %v, reason %q", f.number["pair_status"], f.words["pair_reason"])
		}
		if f.words["cast_b"][0] != "ZZFU20240501_00002_00001" || f.words["pair_id"][1] != "A13_2_3A" ||
			!slices.Equal(f.number["distance"], []float64{25, 75, 125, 175}) {
			t.Errorf("cast_b %q, pair_id %q, distance %v", f.words["cast_b"], f.words["pair_id"], f.number["distance"])
		}
		opened(t, `
d = ds[0]
assert d.transport.dims == ("pair",) and np.isnan(d.transport.values[2]) and "station_a" in d.transport.coords
assert d.velocity.dims == (("obs",) if "row_size" in d else ("pair", "pres"))
`, path)
	}
}

func TestGeostrophyWithoutNumbers(t *testing.T) {
	r := invented(false)
	r.Pairs = r.Pairs[2:3] // the withheld one
	path := filepath.Join(t.TempDir(), "x.nc")
	if err := WriteGeostrophy(context.Background(), path, common(), r, ""); err != nil {
		t.Fatal(err)
	}
	f := conform(t, path)
	if f.number["transport"][0] != fillValue || slices.ContainsFunc(f.number["velocity"],
		func(x float64) bool { return x != fillValue }) {
		t.Error("numbers of a withheld pair")
	}
	// A profile has a vertical coordinate, even where nothing is known on it (CF 1.11, chapter 9).
	opened(t, `
d = ds[0]
assert d.attrs["featureType"] == "profile" and d.pres.attrs["axis"] == "Z"
assert d.velocity.dims == ("pair", "pres") and bool(np.isnan(d.velocity).all())
`, path)

	r.Pairs[0].Time = time.Time{}
	if err := WriteGeostrophy(context.Background(), filepath.Join(t.TempDir(), "x.nc"), common(), r,
		""); !errors.Is(err, ErrNoTime) {
		t.Errorf("pair without a time: %v", err)
	}
	r.Pairs = nil
	if err := WriteGeostrophy(context.Background(), filepath.Join(t.TempDir(), "x.nc"), common(), r,
		""); !errors.Is(err, ErrNoPairs) {
		t.Errorf("no pairs: %v", err)
	}
}
