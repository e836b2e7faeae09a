package nc

import (
	"fmt"
	"math"
	"reflect"
	"slices"
)

// mostValues is the largest variable that a File takes into memory, in values (1 GiB as float64).
const mostValues = 1 << 27

// A File is a file that is read: its description and, on demand, its values.
type File struct {
	*Schema
	Reader  Reader
	numbers map[int][]float64
	texts   map[int][]string
	none    map[int][]float64 // values of each variable that mean a missing one
	whole   map[int]bool      // variables whose values were read, kept or not
}

// OpenFile opens the regular file at path, a cleaned absolute one, for reading.
func OpenFile(path string) (*File, error) {
	r, err := Open(path)
	if err != nil {
		return nil, err
	}
	return &File{Schema: r.Schema(), Reader: r, numbers: map[int][]float64{}, texts: map[int][]string{},
		none: map[int][]float64{}, whole: map[int]bool{}}, nil
}

// Close closes the file.
func (f *File) Close() error { return f.Reader.Close() }

// Values returns the numbers of a variable as they are stored, fill values among them. They are kept until Forget and
// must not be changed.
func (f *File) Values(i int) ([]float64, error) {
	if x, ok := f.numbers[i]; ok {
		return x, nil
	}
	n, err := f.few(i)
	if err != nil {
		return nil, err
	}
	x := make([]float64, n)
	if err := f.Reader.ReadFloat64(i, nil, nil, x); err != nil {
		return nil, err
	}
	f.numbers[i], f.whole[i] = x, true
	return x, nil
}

// Numbers returns a copy of the numbers of a variable with NaN where one is missing.
func (f *File) Numbers(i int) ([]float64, error) {
	x, err := f.Values(i)
	if err != nil {
		return nil, err
	}
	return f.known(i, slices.Clone(x)), nil
}

// known puts NaN for the numbers that mean a missing value of a variable, and returns x.
func (f *File) known(i int, x []float64) []float64 {
	for _, none := range f.missing(i) {
		for k := range x {
			if x[k] == none {
				x[k] = math.NaN()
			}
		}
	}
	return x
}

// partValues is how many values a part of a variable has at least.
const partValues = 1 << 16

// A Part is some values of a variable, last dimension fastest.
type Part struct {
	First       int // number of its first value
	start, size []int
}

// Parts divides a variable into parts of whole chunks. The error is for one with more values than are read.
func (f *File) Parts(i int) ([]Part, error) {
	shape := f.Shape(i)
	n, err := f.few(i)
	if err != nil {
		return nil, err
	}
	if n <= partValues {
		return []Part{{0, make([]int, len(shape)), shape}}, nil
	}
	row, rows := product(shape[1:]), 1
	if c := f.Vars[i].Chunks; c != nil {
		rows = max(1, min(c[0], shape[0]))
	}
	rows *= (partValues + rows*row - 1) / (rows * row)
	var out []Part
	for k := 0; k < shape[0]; k += rows {
		p := Part{k * row, make([]int, len(shape)), slices.Clone(shape)}
		p.start[0], p.size[0] = k, min(rows, shape[0]-k)
		out = append(out, p)
	}
	return out, nil
}

// few returns the number of values of a variable, or an error for one with more than are read.
func (f *File) few(i int) (int, error) {
	n := f.Len(i)
	if n < 0 || n > mostValues {
		return 0, fmt.Errorf("%s has more values than are read (%d)", f.Vars[i].Name, mostValues)
	}
	return n, nil
}

// NumbersIn returns Numbers of a part of a variable, in the memory of dst if that suffices.
func (f *File) NumbersIn(i int, p Part, dst []float64) ([]float64, error) {
	dst = slices.Grow(dst[:0], product(p.size))[:product(p.size)]
	if err := f.Reader.ReadFloat64(i, p.start, p.size, dst); err != nil {
		return nil, err
	}
	return f.known(i, dst), nil
}

// Words returns the strings of a char or string variable.
func (f *File) Words(i int) ([]string, error) {
	if x, ok := f.texts[i]; ok {
		return x, nil
	}
	if n := f.Len(i); n < 0 || n > mostValues {
		return nil, fmt.Errorf("%s has more text than is read", f.Vars[i].Name)
	}
	x, err := f.Reader.ReadText(i)
	if err != nil {
		return nil, err
	}
	f.texts[i] = x
	return x, nil
}

// NumbersOf returns Numbers of the variable of a name; nil when there is none or it cannot be read.
func (f *File) NumbersOf(name string) []float64 {
	if i := f.Var(name); i >= 0 && f.Vars[i].Type.Numeric() {
		x, _ := f.Numbers(i) // nil where it cannot be read
		return x
	}
	return nil
}

// WordsOf returns Words of the variable of a name; nil when there is none or it cannot be read.
func (f *File) WordsOf(name string) []string {
	if i := f.Var(name); i >= 0 && !f.Vars[i].Type.Numeric() {
		x, _ := f.Words(i) // nil where it cannot be read
		return x
	}
	return nil
}

// Try reads the values of a variable, unless they were read before, and drops them: the error says why they cannot be
// read.
func (f *File) Try(i int) (err error) {
	if f.whole[i] {
		return nil
	}
	if f.Vars[i].Type.Numeric() {
		_, err = f.Values(i)
	} else {
		_, err = f.Words(i)
	}
	f.Forget(i)
	return err
}

// Forget drops the values of a large variable, so that reading one after the other needs the memory of one.
func (f *File) Forget(i int) {
	if len(f.numbers[i]) > 1<<16 {
		delete(f.numbers, i)
	}
}

// Missing reports whether a stored value of a variable means a missing one.
func (f *File) Missing(i int, x float64) bool { return x != x || slices.Contains(f.missing(i), x) }

// missing returns the numbers that mean a missing value of a variable.
func (f *File) missing(i int) []float64 {
	none, ok := f.none[i]
	if !ok {
		none = slices.Concat(Floats(f.Vars[i].Fill), f.Vars[i].Floats("missing_value"))
		f.none[i] = none
	}
	return none
}

// DimNames returns the names of the dimensions of a variable.
func (s *Schema) DimNames(i int) []string {
	out := make([]string, len(s.Vars[i].Dims))
	for k, d := range s.Vars[i].Dims {
		out[k] = s.Dims[d].Name
	}
	return out
}

// Axes returns the dimensions of a variable without that of the length of its text.
func (v *Var) Axes() []int {
	if v.Type == Char && len(v.Dims) > 0 {
		return v.Dims[:len(v.Dims)-1]
	}
	return v.Dims
}

// IsCoordinate reports whether a variable has the name of its one dimension.
func (s *Schema) IsCoordinate(i int) bool {
	d := s.Vars[i].Axes()
	return len(d) == 1 && s.Dims[d[0]].Name == s.Vars[i].Name
}

// Numeric reports whether values of the type are numbers.
func (t Type) Numeric() bool { return t != Char && t.Size() > 0 }

// Whole reports whether values of the type are whole numbers.
func (t Type) Whole() bool { return t.Numeric() && t != Float && t != Double }

// Floats returns a numeric attribute of the variable; nil when it has none of that name or it is text.
func (v *Var) Floats(name string) []float64 { return Floats(v.Attr(name)) }

// Number returns the first number of an attribute, else the other value.
func (v *Var) Number(name string, other float64) float64 {
	if x := v.Floats(name); len(x) > 0 {
		return x[0]
	}
	return other
}

var kinds = map[reflect.Kind]Type{reflect.Int8: Byte, reflect.Uint8: UByte, reflect.Int16: Short,
	reflect.Uint16: UShort,
	reflect.Int32:  Int, reflect.Uint32: UInt, reflect.Int64: Int64, reflect.Uint64: UInt64, reflect.Float32: Float,
	reflect.Float64: Double, reflect.String: Char}

// TypeOfValue returns the external type of the value of an attribute, String for lists of strings and nil.
func TypeOfValue(value any) Type {
	if _, list := value.([]string); list || value == nil {
		return String
	}
	t := reflect.TypeOf(value)
	if t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	return kinds[t.Kind()]
}

// Floats returns the value of an attribute as numbers; nil when it is text or nil.
func Floats(value any) []float64 {
	if !TypeOfValue(value).Numeric() {
		return nil
	}
	x := reflect.ValueOf(value)
	if x.Kind() != reflect.Slice {
		return []float64{x.Convert(reflect.TypeFor[float64]()).Float()}
	}
	out := make([]float64, x.Len())
	for i := range out {
		out[i] = x.Index(i).Convert(reflect.TypeFor[float64]()).Float()
	}
	return out
}
