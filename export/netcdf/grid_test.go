//go:build cgo

package netcdf

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/gridding"
	"github.com/castwright/castwright/metadata"
	"github.com/paulmach/orb"
)

func axis(name string, first, step float64, n int, cells bool) gridding.Axis {
	a := gridding.Axis{Variable: metadata.MustVariable(name)}
	for i := range n {
		a.Values = append(a.Values, first+step*float64(i))
		if cells {
			a.Bounds = append(a.Bounds, [2]float64{first + step*(float64(i)-0.5), first + step*(float64(i)+0.5)})
		}
	}
	return a
}

// sectionGrid is an invented gridded section of n pressures by m distances, across the antimeridian.
func sectionGrid(n, m int) *gridding.Grid {
	g := &gridding.Grid{Name: "A13", Axes: []gridding.Axis{axis("pres", 10, 10, n, true),
		axis("distance", 0, 5, m, true)},
		Params: []metadata.Param{{Name: "method", Value: "optimal"}, {Name: "length_km", Value: "60"}},
		Skill: []gridding.Skill{{Variable: "ctemp", RMS: 0.11, Bias: -0.01, N: 120, SkillLinear: nan, EndRMS: 0.4,
			EndN: 22,
			SignalBands: []gridding.Band{{TopDbar: 0, BottomDbar: 200, Variance: 2.5},
				{TopDbar: 200, BottomDbar: 800, Variance: 1.5}}}}}
	for i := range m {
		lon := 178 + 0.05*float64(i)
		if lon > 180 {
			lon -= 360
		}
		g.Track = append(g.Track, orb.Point{lon, 30 + 0.01*float64(i)})
		g.BottomM = append(g.BottomM, 4000+float64(i))
	}
	field := func(v metadata.Variable, kind gridding.FieldKind, of string, at func(i int) float64) {
		f := gridding.Field{Variable: v, Kind: kind, Of: of, Data: make([]float64, n*m)}
		for i := range f.Data {
			f.Data[i] = at(i)
		}
		g.Fields = append(g.Fields, f)
	}
	hole := func(i int, x float64) float64 {
		if i%13 == 5 {
			return nan
		}
		return x
	}
	for _, name := range []string{"ctemp", "asal", "sigma0"} {
		v := metadata.MustVariable(name)
		field(v, gridding.Value, "", func(i int) float64 { return hole(i, 10+math.Sin(float64(i)/50)) })
		field(metadata.Variable{Name: name + "_whatever"}, gridding.StandardError, name,
			func(i int) float64 { return hole(i, 0.1) })
	}
	field(metadata.Variable{}, gridding.RelativeError, "ctemp", func(i int) float64 { return hole(i, 0.2) })
	field(metadata.Variable{}, gridding.MaskReason, "ctemp", func(i int) float64 {
		if i%13 == 5 {
			return gridding.BelowBottom
		}
		return gridding.NotMasked
	})
	field(metadata.Variable{}, gridding.CountField, "ctemp", func(i int) float64 { return float64(i % 60) })
	field(metadata.Variable{}, gridding.Extrapolated, "ctemp", func(i int) float64 { return float64(i % 2 * 6) })
	return g
}

func TestWriteGridSection(t *testing.T) {
	for _, size := range [][2]int{{1, 2}, {40, 25}, {760, 700}} { // below 1 kB, whole, more than one chunk of 4 MiB
		g := sectionGrid(size[0], size[1])
		if size[0] > 100 { // the rest would only take time
			g.Fields = g.Fields[:2]
		}
		x := common()
		from := GridSource{Casts: fiveCasts(), Section: "A13", Title: "Strait"}
		path := sameBytes(t, "A13_grid.nc", func(path string, workers int) error {
			x.Workers = workers
			return WriteGrid(context.Background(), path, x, g, from)
		})
		r := conform(t, path)
		for i := range g.Fields {
			name := FieldName(&g.Fields[i])
			for k, want := range g.Fields[i].Data {
				if math.IsNaN(want) {
					want = fillValue
				}
				if name != "ctemp" && name != "asal" && r.v(t, name).Attr("flag_values") == nil {
					want = Round(want, bitsOf(name))
				}
				if math.Float64bits(r.number[name][k]) != math.Float64bits(want) {
					t.Fatalf("%s[%d] = %v, want %v", name, k, r.number[name][k], want)
				}
			}
		}
		v := r.v(t, "ctemp")
		if len(g.Fields) == 2 {
			if !slices.Equal(v.Chunks, []int{748, 700}) { // 4 MiB of doubles
				t.Errorf("chunks %v", v.Chunks)
			}
			continue
		}
		for name, want := range map[string]any{
			"ancillary_variables": "ctemp_err ctemp_relerr ctemp_mask ctemp_count ctemp_extrapolated",
			"cell_methods":        "pres: distance: point",
			"coordinates":         "lat lon time section_id", "skill_rms": []float64{0.11},
			"skill_bias":        []float64{-0.01},
			"skill_count":       []int32{120},
			"skill_over_linear": nil, "skill_end_rms": []float64{0.4}, "signal_variance": []float64{2.5, 1.5},
			"signal_variance_bottom_dbar": []float64{200, 800},
		} {
			if got := v.Attr(name); !reflect.DeepEqual(got, want) {
				t.Errorf("ctemp:%s = %v, want %v", name, got, want)
			}
		}
		if v := r.v(t, "ctemp_err"); v.Text("standard_name") != "sea_water_conservative_temperature standard_error" ||
			v.Text("units_metadata") != "temperature: difference" {
			t.Errorf("ctemp_err: %v", v.Attrs)
		}
		if v := r.v(t, "sigma0"); v.Text("coordinates") != "lat lon time section_id ref_pres_0" {
			t.Errorf("sigma0: %v", v.Attrs)
		}
		if got := r.number["time_bnds"]; !slices.Equal(got, []float64{1714619720.5, 1714965320.5}) { // four days
			t.Errorf("time_bnds %v", got)
		}
		opened(t, `
d = ds[0]
assert d.ctemp.dims == ("pres", "distance") and float(d.lon.min()) >= -180 and d.ctemp_mask.dtype == np.int8
assert np.isnan(d.ctemp.values.ravel()[5::13]).all()
`, path)
	}
}

// mapGrid is an invented map across the antimeridian.
func mapGrid() *gridding.Grid {
	g := &gridding.Grid{Name: "basin", Axes: []gridding.Axis{axis("pres", 10, 90, 3, true), axis("lat", 30, 1, 4, true),
		axis("lon", 178, 1, 5, true)}}
	f := gridding.Field{Variable: metadata.MustVariable("asal"), Data: make([]float64, 60)}
	for i := range f.Data {
		f.Data[i] = 35 + float64(i)/100
	}
	g.Fields = append(g.Fields, f)
	g.BottomM = make([]float64, 20)
	return g
}

func TestWriteGridMap(t *testing.T) {
	g := mapGrid()
	f := &g.Fields[0]
	path := filepath.Join(t.TempDir(), "basin.nc")
	if err := WriteGrid(context.Background(), path, common(), g, GridSource{Casts: fiveCasts()}); err != nil {
		t.Fatal(err)
	}
	r := conform(t, path)
	if v := r.v(t, "asal"); v.Text("cell_methods") != "pres: lat: lon: point" || v.Text("coordinates") != "time" ||
		!slices.Equal(r.number["asal"], f.Data) {
		t.Errorf("asal: %v", v.Attrs)
	}
	if r.s.Text("grid_skill") != "not computed" || r.s.Var("section_id") >= 0 {
		t.Errorf("globals %v", r.s.Attrs)
	}
	opened(t, `assert ds[0].asal.dims == ("pres", "lat", "lon") and float(ds[0].lon[-1]) == 182`, path)
}

// Density may stand for pressure.
func TestWriteGridOnDensity(t *testing.T) {
	g := &gridding.Grid{Name: "A13", Axes: []gridding.Axis{axis("sigma2", 36, 0.1, 5, false),
		axis("distance", 0, 5, 3, false)},
		Track:  []orb.Point{{1, 1}, {2, 2}, {3, 3}},
		Fields: []gridding.Field{{Variable: metadata.MustVariable("ctemp"), Data: make([]float64, 15)}}}
	path := filepath.Join(t.TempDir(), "d.nc")
	if err := WriteGrid(context.Background(), path, common(), g, GridSource{Casts: fiveCasts()}); err != nil {
		t.Fatal(err)
	}
	r := conform(t, path)
	if v := r.v(t, "ctemp"); v.Text("coordinates") != "lat lon time section_id ref_pres_2000" ||
		r.number["ref_pres_2000"][0] != 2000 {
		t.Errorf("ctemp: %v", v.Attrs)
	}
	opened(t, ``, path)
}

func TestGridsThatCannotBeWritten(t *testing.T) {
	for want, spoil := range map[string]func(g *gridding.Grid){
		"does not increase": func(g *gridding.Grid) { g.Axes[0].Values[2] = g.Axes[0].Values[1] },
		"cells for":         func(g *gridding.Grid) { g.Axes[0].Bounds = g.Axes[0].Bounds[1:] },
		"axes pres":         func(g *gridding.Grid) { g.Axes = g.Axes[:1] },
		"track of":          func(g *gridding.Grid) { g.Track = nil },
		"values for":        func(g *gridding.Grid) { g.Fields[0].Data = nil },
		"two fields":        func(g *gridding.Grid) { g.Fields = append(g.Fields, g.Fields[0]) },
		"belongs to":        func(g *gridding.Grid) { g.Fields[1].Of = "psal" },
		"water depths":      func(g *gridding.Grid) { g.BottomM = g.BottomM[1:] },
		"no points":         func(g *gridding.Grid) { g.Axes[0].Values, g.Axes[0].Bounds = nil, nil },
	} {
		g := sectionGrid(4, 3)
		spoil(g)
		path := filepath.Join(t.TempDir(), "x.nc")
		err := WriteGrid(context.Background(), path, common(), g, GridSource{Casts: fiveCasts()})
		if !errors.Is(err, ErrGrid) || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
		if _, err := os.Lstat(path); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%s: a file is there", want)
		}
	}
	if err := WriteGrid(context.Background(), filepath.Join(t.TempDir(), "x.nc"), common(), sectionGrid(4, 3),
		GridSource{}); !errors.Is(err, ErrNoCasts) {
		t.Errorf("no casts: %v", err)
	}
}
