package verify

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/castwright/castwright/internal/nc"
	"github.com/castwright/castwright/metadata/units"
)

// most is the largest variable that is taken into memory, in values (1 GiB as float64).
const most = 1 << 27

// A ncFile is one NetCDF file: its description and, on demand, its values.
type ncFile struct {
	r       nc.Reader
	s       *nc.Schema
	numbers map[int][]float64
	texts   map[int][]string
	none    map[int][]float64 // values that stand for none, of each variable
}

func openNC(path string) (*ncFile, error) {
	r, err := nc.Open(path)
	if err != nil {
		return nil, err
	}
	return &ncFile{r: r, s: r.Schema(), numbers: map[int][]float64{}, texts: map[int][]string{},
		none: map[int][]float64{}}, nil
}

func (f *ncFile) close() { _ = f.r.Close() } // of a file only read

// values gives the numbers of a variable as they are stored: fill values stand as written.
func (f *ncFile) values(i int) ([]float64, error) {
	if x, ok := f.numbers[i]; ok {
		return x, nil
	}
	n := f.s.Len(i)
	if n < 0 || n > most {
		return nil, fmt.Errorf("%s has more values than are looked at (%d)", f.s.Vars[i].Name, most)
	}
	x := make([]float64, n)
	if err := f.r.ReadFloat64(i, nil, nil, x); err != nil {
		return nil, err
	}
	f.numbers[i] = x
	return x, nil
}

// words gives the strings of a char or string variable.
func (f *ncFile) words(i int) ([]string, error) {
	if x, ok := f.texts[i]; ok {
		return x, nil
	}
	if n := f.s.Len(i); n < 0 || n > most {
		return nil, fmt.Errorf("%s has more text than is looked at", f.s.Vars[i].Name)
	}
	x, err := f.r.ReadText(i)
	if err != nil {
		return nil, err
	}
	f.texts[i] = x
	return x, nil
}

// named gives values or words by name; nil when there is no such variable or it cannot be read.
func (f *ncFile) named(name string) []float64 {
	i := f.s.Var(name)
	if i < 0 || !numeric(f.s.Vars[i].Type) {
		return nil
	}
	x, err := f.values(i)
	if err != nil {
		return nil
	}
	return x
}

func (f *ncFile) namedWords(name string) []string {
	i := f.s.Var(name)
	if i < 0 || numeric(f.s.Vars[i].Type) {
		return nil
	}
	x, err := f.words(i)
	if err != nil {
		return nil
	}
	return x
}

// read reads the values of a variable and drops them.
func (f *ncFile) read(i int) error {
	var err error
	if numeric(f.s.Vars[i].Type) {
		_, err = f.values(i)
	} else {
		_, err = f.words(i)
	}
	f.forget(i)
	return err
}

// forget drops the values of large variables, so that a check of one after the other needs the memory of one.
func (f *ncFile) forget(i int) {
	if len(f.numbers[i]) > 1<<16 {
		delete(f.numbers, i)
	}
}

func numeric(t nc.Type) bool { return t != nc.Char && t != nc.String && t.Size() > 0 }

// dims gives the names of a variable's dimensions.
func (f *ncFile) dims(i int) []string {
	out := make([]string, len(f.s.Vars[i].Dims))
	for k, d := range f.s.Vars[i].Dims {
		out[k] = f.s.Dims[d].Name
	}
	return out
}

// shape gives the dimensions of a variable without that of the length of its text.
func (f *ncFile) shape(i int) []int {
	v := &f.s.Vars[i]
	if v.Type == nc.Char && len(v.Dims) > 0 {
		return v.Dims[:len(v.Dims)-1]
	}
	return v.Dims
}

// isCoordinate says whether a variable is the coordinate variable of a dimension.
func (f *ncFile) isCoordinate(i int) bool {
	v := &f.s.Vars[i]
	d := f.shape(i)
	return len(d) == 1 && f.s.Dims[d[0]].Name == v.Name
}

// floats gives a numeric attribute as float64; nil when it is text or absent.
func floats(v any) []float64 {
	switch v := v.(type) {
	case int8:
		return []float64{float64(v)}
	case uint8:
		return []float64{float64(v)}
	case int16:
		return []float64{float64(v)}
	case uint16:
		return []float64{float64(v)}
	case int32:
		return []float64{float64(v)}
	case uint32:
		return []float64{float64(v)}
	case int64:
		return []float64{float64(v)}
	case uint64:
		return []float64{float64(v)}
	case float32:
		return []float64{float64(v)}
	case float64:
		return []float64{v}
	case []int8:
		return convert(v)
	case []uint8:
		return convert(v)
	case []int16:
		return convert(v)
	case []uint16:
		return convert(v)
	case []int32:
		return convert(v)
	case []uint32:
		return convert(v)
	case []int64:
		return convert(v)
	case []uint64:
		return convert(v)
	case []float32:
		return convert(v)
	case []float64:
		return v
	}
	return nil
}

func convert[T int8 | uint8 | int16 | uint16 | int32 | uint32 | int64 | uint64 | float32](v []T) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = float64(x)
	}
	return out
}

// typeOfAttr gives the external type of an attribute's value.
func typeOfAttr(v any) nc.Type {
	switch v.(type) {
	case int8, []int8:
		return nc.Byte
	case uint8, []uint8:
		return nc.UByte
	case int16, []int16:
		return nc.Short
	case uint16, []uint16:
		return nc.UShort
	case int32, []int32:
		return nc.Int
	case uint32, []uint32:
		return nc.UInt
	case int64, []int64:
		return nc.Int64
	case uint64, []uint64:
		return nc.UInt64
	case float32, []float32:
		return nc.Float
	case float64, []float64:
		return nc.Double
	case string:
		return nc.Char
	}
	return nc.String
}

var latitudeUnits = []string{"degrees_north", "degree_north", "degree_N", "degrees_N", "degreeN", "degreesN"}
var longitudeUnits = []string{"degrees_east", "degree_east", "degree_E", "degrees_E", "degreeE", "degreesE"}

func (f *ncFile) isLat(i int) bool {
	v := &f.s.Vars[i]
	return numeric(v.Type) && (v.Text("standard_name") == "latitude" || slices.Contains(latitudeUnits, v.Text("units")))
}

func (f *ncFile) isLon(i int) bool {
	v := &f.s.Vars[i]
	return numeric(v.Type) && (v.Text("standard_name") == "longitude" ||
		slices.Contains(longitudeUnits, v.Text("units")))
}

func (f *ncFile) isTime(i int) bool {
	v := &f.s.Vars[i]
	return numeric(v.Type) && (v.Text("standard_name") == "time" || strings.Contains(v.Text("units"), " since "))
}

// vertical standard names of this trade: CF appendix B of the standard name table is open, these are those that
// profiles use.
var verticalNames = []string{"sea_water_pressure", "sea_water_pressure_due_to_sea_water", "depth", "height", "altitude",
	"air_pressure",
	"depth_below_geoid", "height_above_geoid", "height_above_geopotential_datum", "height_above_mean_sea_level",
	"height_above_reference_ellipsoid",
	"depth_below_sea_floor", "height_above_sea_floor"}

// isVertical says whether a variable can be the vertical coordinate: by axis, positive or standard name.
func (f *ncFile) isVertical(i int) bool {
	v := &f.s.Vars[i]
	if !numeric(v.Type) || v.Text("standard_name") == "reference_pressure" {
		return false
	}
	return v.Text("axis") == "Z" || v.Attr("positive") != nil || v.Attr("formula_terms") != nil ||
		slices.Contains(verticalNames, v.Text("standard_name"))
}

// parsed gives the units of a variable; false when there are none or they do not parse.
func (f *ncFile) parsed(i int) (units.Unit, bool) {
	s := f.s.Vars[i].Text("units")
	if s == "" {
		return units.Unit{}, false
	}
	u, err := units.Parse(s)
	return u, err == nil
}

func sameUnits(u units.Unit, as string) bool {
	w, err := units.Parse(as)
	return err == nil && u.Compatible(w)
}

// missing says whether a stored value stands for none.
func (f *ncFile) missing(i int, x float64) bool {
	none, ok := f.none[i]
	if !ok {
		v := &f.s.Vars[i]
		none = slices.Concat(floats(v.Fill), floats(v.Attr("missing_value")))
		f.none[i] = none
	}
	for _, y := range none {
		if x == y {
			return true
		}
	}
	return math.IsNaN(x)
}
