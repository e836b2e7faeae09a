//go:build cgo

package nc

import (
	"math"
	"path/filepath"
	"slices"
	"testing"
)

// The type and numbers of every kind of attribute value that is read or written.
func TestValuesOfAttributes(t *testing.T) {
	for _, c := range []struct {
		value any
		typ   Type
		want  []float64
	}{
		{int8(-3), Byte, []float64{-3}}, {[]uint8{1, 255}, UByte, []float64{1, 255}}, {int16(7), Short, []float64{7}},
		{[]uint16{65535}, UShort, []float64{65535}}, {int32(-1), Int, []float64{-1}},
		{[]uint32{4294967295}, UInt, []float64{4294967295}}, {[]int64{5}, Int64, []float64{5}},
		{uint64(6), UInt64, []float64{6}}, {float32(0.5), Float, []float64{0.5}},
		{[]float64{1.25, 2}, Double, []float64{1.25, 2}}, {"12", Char, nil}, {[]string{"1"}, String, nil},
		{nil, String, nil},
	} {
		if got := TypeOfValue(c.value); got != c.typ {
			t.Errorf("%T is %s, want %s", c.value, got, c.typ)
		}
		if got := Floats(c.value); !slices.Equal(got, c.want) {
			t.Errorf("%T: %v, want %v", c.value, got, c.want)
		}
	}
}

// Values are as stored, Numbers have NaN for _FillValue and missing_value, and names without a variable give nil.
func TestFileValues(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.nc")
	w, err := Create(path, &Schema{Dims: []Dim{{"x", 3}, {"len", 2}}, Vars: []Var{
		{Name: "x", Type: Double, Dims: []int{0}, Fill: -9999.0, Attrs: []Attr{{"missing_value", -1.0}}},
		{Name: "name", Type: Char, Dims: []int{0, 1}}}})
	if err != nil {
		t.Fatal(err)
	}
	for i, values := range []any{[]float64{-9999, -1, 2}, []byte("a b\x00cd")} {
		if err := w.Write(i, values); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	f, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	raw, err := f.Values(0)
	if err != nil || !slices.Equal(raw, []float64{-9999, -1, 2}) {
		t.Errorf("values %v, %v", raw, err)
	}
	if x := f.NumbersOf("x"); len(x) != 3 || !math.IsNaN(x[0]) || !math.IsNaN(x[1]) || x[2] != 2 {
		t.Errorf("numbers %v", x)
	}
	if got := f.WordsOf("name"); !slices.Equal(got, []string{"a", "b", "cd"}) {
		t.Errorf("words %q", got)
	}
	if f.NumbersOf("name") != nil || f.NumbersOf("y") != nil || f.WordsOf("x") != nil {
		t.Error("a variable of another type or name has values")
	}
	if !f.IsCoordinate(0) || f.IsCoordinate(1) || len(f.Vars[1].Axes()) != 1 {
		t.Error("x is the coordinate variable, name is not and lies along x alone")
	}
}

// The parts of a variable together are its numbers.
func TestParts(t *testing.T) {
	const rows, row = 41, 5000
	path := filepath.Join(t.TempDir(), "a.nc")
	w, err := Create(path, &Schema{Dims: []Dim{{"y", rows}, {"x", row}}, Vars: []Var{
		{Name: "chunked", Type: Double, Dims: []int{0, 1}, Fill: -9999.0, Chunks: []int{3, row}, Deflate: 1},
		{Name: "whole", Type: Double, Dims: []int{0, 1}, Fill: -9999.0},
		{Name: "small", Type: Double, Dims: []int{1}, Fill: -9999.0}, {Name: "scalar", Type: Double, Fill: -9999.0}}})
	if err != nil {
		t.Fatal(err)
	}
	values := make([]float64, rows*row)
	for i := range values {
		if values[i] = float64(i); i%7 == 0 {
			values[i] = -9999
		}
	}
	for i, n := range []int{rows * row, rows * row, row, 1} {
		if err := w.Write(i, values[:n]); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	f, err := OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for i, want := range []int{3, 3, 1, 1} {
		parts, err := f.Parts(i)
		if err != nil || len(parts) != want {
			t.Errorf("%s: %d parts, want %d, %v", f.Vars[i].Name, len(parts), want, err)
		}
		var x, memory []float64
		for _, p := range parts {
			if p.First != len(x) {
				t.Errorf("%s: a part begins at %d, not %d", f.Vars[i].Name, p.First, len(x))
			}
			if memory, err = f.NumbersIn(i, p, memory); err != nil {
				t.Fatal(err)
			}
			x = append(x, memory...)
		}
		all, err := f.Numbers(i)
		if err != nil || !slices.EqualFunc(x, all, func(p, q float64) bool { return p == q || p != p && q != q }) {
			t.Errorf("%s: the parts are not the whole, %v", f.Vars[i].Name, err)
		}
	}
}
