//go:build cgo

package ncprofile

import (
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/castwright/castwright/ingest"
	"github.com/castwright/castwright/internal/nc"
)

// A profileFile is a NetCDF file in the making: its description and the values of each variable.
type profileFile struct {
	nc.Schema
	values []any
}

func text(pairs ...string) (out []nc.Attr) {
	for i := 0; i < len(pairs); i += 2 {
		out = append(out, nc.Attr{Name: pairs[i], Value: pairs[i+1]})
	}
	return out
}

func (f *profileFile) add(name string, t nc.Type, values any, dims []int, attrs ...string) {
	f.Vars = append(f.Vars, nc.Var{Name: name, Type: t, Dims: dims, Attrs: text(attrs...)})
	f.values = append(f.values, values)
}

// profileForms are the forms of a collection of two casts with two levels each: a common axis, an axis for each,
// contiguous ragged, indexed ragged, and a single cast.
const profileForms = 5

func newProfileFile(form int) *profileFile {
	f := &profileFile{}
	f.Dims = []nc.Dim{{Name: "profile", Len: 2}, {Name: "obs", Len: 4}, {Name: "pres", Len: 2}, {Name: "len", Len: 3}}
	profile, data, levels := []int{0}, []int{0, 2}, []float64{2, 4, 2, 4}
	axis := data
	switch form {
	case 0:
		axis, levels = []int{2}, []float64{2, 4}
	case 2, 3:
		data, axis = []int{1}, []int{1}
	case 4:
		profile, data, axis, levels = nil, []int{2}, []int{2}, []float64{2, 4}
	}
	one := func(v ...float64) []float64 { return v[:map[bool]int{true: 1, false: 2}[form == 4]] }
	n := len(levels)
	if form == 0 {
		n = 4
	}
	f.add("pres", nc.Double, levels, axis, "standard_name", "sea_water_pressure", "units", "dbar", "axis", "Z")
	f.add("temp", nc.Double, []float64{10, 9, 11, 10}[:n], data, "standard_name", "sea_water_temperature", "units",
		"degC",
		"ancillary_variables", "temp_qc")
	f.add("psal", nc.Double, []float64{35, 35.1, 35.2, 35.3}[:n], data, "standard_name", "sea_water_practical_salinity",
		"units", "1")
	f.add("temp_qc", nc.Byte, []int8{2, 2, 3, 2}[:n], data, "standard_name", "quality_flag", "flag_meanings",
		"acceptable questionable")
	f.Vars[3].Attrs = append(f.Vars[3].Attrs, nc.Attr{Name: "flag_values", Value: []int8{2, 3}})
	f.add("time", nc.Double, one(9000, 9001), profile, "standard_name", "time", "units", "days since 2000-01-01")
	f.add("lat", nc.Double, one(60, 61), profile, "standard_name", "latitude", "units", "degrees_north")
	f.add("lon", nc.Double, one(-30, -31), profile, "standard_name", "longitude", "units", "degrees_east")
	if profile != nil {
		f.add("station", nc.Char, []byte("001002"), []int{0, 3}, "cf_role", "profile_id")
	}
	switch form {
	case 2:
		f.add("row_size", nc.Int, []int32{2, 2}, profile, "sample_dimension", "obs")
	case 3:
		f.add("index", nc.Int, []int32{0, 0, 1, 1}, []int{1}, "instance_dimension", "profile")
	}
	f.Attrs = text("featureType", "profile", "Conventions", "CF-1.11")
	return f
}

// What a mutation puts into names, attributes and values.
var (
	someNames = []string{"temp", "pres", "depth", "time", "lat", "row_size", "x", "ctemp", "temp_flag_woce", "profile",
		"STATION", "pres_bnds", "bottom_depth", "oxy"}
	someAttrs = []string{"standard_name", "units", "axis", "positive", "sample_dimension", "instance_dimension",
		"ancillary_variables", "flag_meanings", "flag_values", "scale_factor", "add_offset", "valid_range", "calendar",
		"coordinates", "cf_role", "missing_value", "long_name", "decimals"}
	someTexts = []string{"sea_water_pressure", "depth", "m", "km", "1", "K", "umol kg-1", "days since 2000-01-01",
		"seconds since 1970-13-45", "months since 0000-00-00", "obs", "profile", "", "temp temp", "up", "noleap",
		"latitude", "sea_water_temperature", "degrees_north", "acceptable", "e+99", "\xff\x00"}
	someValues = []float64{0, -1, 1e300, math.NaN(), math.Inf(1), -9999, 3, 1e9, 91, 720, 1e-300, 2147483647}
)

// mutate changes the file as four bytes say: a name, an attribute, a type, the dimensions or the values of a variable.
func (f *profileFile) mutate(b []byte) {
	k := int(b[1]) % len(f.Vars)
	v := &f.Vars[k]
	attr := someAttrs[int(b[2])%len(someAttrs)]
	switch b[0] % 8 {
	case 0:
		if name := someNames[int(b[2])%len(someNames)]; f.Var(name) < 0 {
			v.Name = name
		}
	case 1, 2:
		v.Attrs = slices.DeleteFunc(v.Attrs, func(a nc.Attr) bool { return a.Name == attr })
		if b[0]%8 == 1 {
			v.Attrs = append(v.Attrs, nc.Attr{Name: attr, Value: someTexts[int(b[3])%len(someTexts)]})
		}
	case 3:
		v.Attrs = slices.DeleteFunc(v.Attrs, func(a nc.Attr) bool { return a.Name == attr })
		x := someValues[int(b[3])%len(someValues)]
		v.Attrs = append(v.Attrs, nc.Attr{Name: attr, Value: []float64{x, x + 1}[:1+int(b[3])%2]})
	case 4:
		f.Dims[int(b[2])%len(f.Dims)].Len = 1 + int(b[3])%5
	case 5:
		v.Dims = nil
		for n := int(b[2]) % 4; n > 0; n-- {
			if d := (int(b[3]) >> n) % len(f.Dims); !slices.Contains(v.Dims, d) {
				v.Dims = append(v.Dims, d)
			}
		}
	case 6:
		if x, ok := f.values[k].([]float64); ok && len(x) > 0 {
			x = slices.Clone(x)
			x[int(b[2])%len(x)] = someValues[int(b[3])%len(someValues)]
			f.values[k] = x
		}
		if x, ok := f.values[k].([]int32); ok && len(x) > 0 {
			x = slices.Clone(x)
			x[int(b[2])%len(x)] = []int32{-1, 0, 5, math.MaxInt32, math.MinInt32}[int(b[3])%5]
			f.values[k] = x
		}
	case 7:
		if v.Type == nc.Double {
			v.Fill = someValues[int(b[3])%len(someValues)]
		}
	}
}

// sized returns n values made of those that are there.
func sized[T any](x []T, n int) []T {
	out := make([]T, n)
	for i := range out {
		out[i] = x[i%len(x)]
	}
	return out
}

// write writes the file; false when the library does not make such a file.
func (f *profileFile) write(path string) bool {
	w, err := nc.Create(path, &f.Schema)
	if err != nil {
		return false
	}
	for i, x := range f.values {
		n := f.Len(i)
		switch y := x.(type) {
		case []float64:
			x = sized(y, n)
		case []int32:
			x = sized(y, n)
		case []int8:
			x = sized(y, n)
		case []byte:
			x = sized(y, n)
		}
		if w.Write(i, x) != nil {
			w.Close()
			return false
		}
	}
	return w.Close() == nil
}

// Whatever a file of profiles is called, shaped and described as: no panic, no cast beside an error, and every column
// as long as its cast. The five forms themselves are read without a fault.
func FuzzProfiles(f *testing.F) {
	for form := range profileForms {
		f.Add([]byte{byte(form)})
		f.Add([]byte{byte(form), 5, 1, 2, 6, 6, 0, 0, 3, 1, 7, 8, 7})
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) == 0 || len(data) > 60 {
			return
		}
		p := newProfileFile(int(data[0]) % profileForms)
		for b := data[1:]; len(b) >= 4; b = b[4:] {
			p.mutate(b)
		}
		path := filepath.Join(t.TempDir(), "x.nc")
		if !p.write(path) {
			return
		}
		casts, found, err := ReadProfiles(path, Options{Name: "x.nc", Legs: []ingest.Leg{{Expocode: "ZZSM20260504"}}})
		if err != nil && (len(casts) > 0 || err.Error() == "") {
			t.Errorf("%d casts beside %v", len(casts), err)
		}
		if len(data) == 1 && (err != nil || len(casts) != len(p.values[4].([]float64))) {
			t.Errorf("form %d: %d casts, %v", data[0]%profileForms, len(casts), err)
		}
		for i := range casts {
			for k := range casts[i].Columns {
				c := &casts[i].Columns[k]
				if n := len(casts[i].PressureDbar); c.Text == nil && len(c.Values) != n || c.Flags != nil &&
					len(c.Flags) != n {
					t.Errorf("%s has %d values and %d flags at %d levels", c.Name, len(c.Values), len(c.Flags), n)
				}
			}
		}
		for _, x := range found {
			if x.Message == "" || strings.Contains(x.Message, path) {
				t.Errorf("finding %+v", x)
			}
		}
	})
}
