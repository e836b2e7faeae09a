// Package nc writes and reads NetCDF-4 files. It is the one place of the project where C is called (the Unidata library
// and HDF5 under it), and says nothing about CF: names and meanings live in export/netcdf and ingest/ncprofile.
//
// A file is described whole before it is made, as plain values, so that another writer (of the classic format, say,
// which needs its header complete) can stand behind the same Schema and Writer:
//
//	s := &nc.Schema{Dims: []nc.Dim{{Name: "pres", Len: 3}}}
//	s.Vars = append(s.Vars, nc.Var{Name: "temp", Type: nc.Double, Dims: []int{0}, Fill: -9999.0})
//	w, err := nc.Create("/abs/path/x.nc", s)
//	err = w.Write(0, []float64{1, 2, 3})
//	err = w.Close()
//
// Built without cgo the package has the same names; Create and Open then give ErrNoCgo.
package nc

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
)

// ErrNoCgo is given by Create and Open in a program built without cgo.
var ErrNoCgo = errors.New("nc: this program was built without cgo and can neither write nor read NetCDF-4")

// ErrPath is given for a path that is not a cleaned absolute one, holds a backslash or does not lead to a regular file.
// The library takes some other names for addresses of remote hosts, and a backslash for a slash.
var ErrPath = errors.New("nc: not the cleaned absolute path of a regular file")

// ErrType is given when Go values do not fit the type of the variable or attribute.
var ErrType = errors.New("nc: values do not fit the type")

// ErrLength is given when the number of values is not that of the variable.
var ErrLength = errors.New("nc: wrong number of values")

// An Error is a failed call of the library.
type Error struct {
	Op     string // what was being done, with the name of the variable or attribute
	Path   string
	Status int    // the library's status; see its documentation
	Text   string // the library's words for it
}

// Error implements error.
func (e *Error) Error() string {
	return fmt.Sprintf("nc: %s: %s: %s (status %d)", e.Path, e.Op, e.Text, e.Status)
}

// Type is an external type. The numbers are those of the NetCDF format.
type Type uint8

// External types. String can be read only: its values are not compressed and the classic format has none.
const (
	Byte Type = 1 + iota
	Char
	Short
	Int
	Float
	Double
	UByte
	UShort
	UInt
	Int64
	UInt64
	String
)

var typeNames = [...]string{"none", "byte", "char", "short", "int", "float", "double", "ubyte", "ushort", "uint",
	"int64", "uint64", "string"}
var typeSizes = [...]int{0, 1, 1, 2, 4, 4, 8, 1, 2, 4, 8, 8, 0}

// String returns the name used in CDL.
func (t Type) String() string {
	if int(t) < len(typeNames) {
		return typeNames[t]
	}
	return "user-defined"
}

// Size returns the bytes of one value; 0 for strings and for types that the package does not know.
func (t Type) Size() int {
	if int(t) < len(typeSizes) {
		return typeSizes[t]
	}
	return 0
}

// A Dim is a dimension. Unlimited dimensions are read with the length they have; none is written.
type Dim struct {
	Name string
	Len  int
}

// An Attr is an attribute. Value is a string, a number, or a slice of numbers, of a Go type that an external type has
// (int8 int16 int32 int64, their unsigned kin, float32 float64). What is read is a string, a slice of numbers, or
// []string.
type Attr struct {
	Name  string
	Value any
}

// A Var is a variable and how it is stored.
type Var struct {
	Name    string
	Type    Type
	Dims    []int // indices into Schema.Dims, slowest first; none for a scalar
	Attrs   []Attr
	Fill    any   // _FillValue, one value of the variable's type; nil: none
	Chunks  []int // lengths of a chunk, one for each dimension; nil: contiguous
	Deflate int   // 1..9; 0: not compressed
	Shuffle bool
}

// A Schema is all of a file but its values.
type Schema struct {
	Dims  []Dim
	Vars  []Var
	Attrs []Attr // global

	Unlimited []int // indices of unlimited dimensions, of a file that was read
}

// Var finds a variable by name; -1 when there is none.
func (s *Schema) Var(name string) int {
	for i := range s.Vars {
		if s.Vars[i].Name == name {
			return i
		}
	}
	return -1
}

// Dim finds a dimension by name; -1 when there is none.
func (s *Schema) Dim(name string) int {
	for i := range s.Dims {
		if s.Dims[i].Name == name {
			return i
		}
	}
	return -1
}

// Shape returns the lengths of the dimensions of variable v.
func (s *Schema) Shape(v int) []int {
	shape := make([]int, len(s.Vars[v].Dims))
	for i, d := range s.Vars[v].Dims {
		shape[i] = s.Dims[d].Len
	}
	return shape
}

// Len returns the number of values of variable v: 1 for a scalar; -1 when the product leaves int.
func (s *Schema) Len(v int) int { return product(s.Shape(v)) }

func product(shape []int) int {
	n := 1
	for _, m := range shape {
		if m < 0 || (m > 0 && n > math.MaxInt/m) {
			return -1
		}
		n *= m
	}
	return n
}

// Attr returns the value of an attribute of the variable; nil when it has none. "_FillValue" is answered from Fill.
func (v *Var) Attr(name string) any {
	if name == "_FillValue" {
		return v.Fill
	}
	return find(v.Attrs, name)
}

// Text returns a text attribute of the variable without trailing NULs; "" when there is none.
func (v *Var) Text(name string) string { return text(find(v.Attrs, name)) }

// Attr returns the value of a global attribute; nil when there is none.
func (s *Schema) Attr(name string) any { return find(s.Attrs, name) }

// Text returns a global text attribute without trailing NULs; "" when there is none.
func (s *Schema) Text(name string) string { return text(find(s.Attrs, name)) }

func find(attrs []Attr, name string) any {
	for i := range attrs {
		if attrs[i].Name == name {
			return attrs[i].Value
		}
	}
	return nil
}

func text(v any) string {
	switch v := v.(type) {
	case string:
		return strings.TrimRight(v, "\x00")
	case []string:
		if len(v) == 1 {
			return v[0]
		}
	}
	return ""
}

// A Filling says how the chunks of one variable get their values.
type Filling struct {
	Var  int
	Fill func(*Chunk)
}

// A Writer fills a file that was described by a Schema. It is used by one goroutine.
type Writer interface {
	// Write writes all values of variable v, last dimension fastest: []int8 for Byte, []byte for Char and UByte,
	// []int16, []uint16, []int32, []uint32, []int64, []uint64, []float32, []float64 for the others.
	Write(v int, values any) error
	// WriteChunks writes all values of some variables chunk by chunk, without ever holding all of them. Each Fill is
	// called once for each chunk, from as many goroutines as workers says, of several variables at a time; the bytes of
	// the file do not depend on it. A contiguous variable is one chunk.
	WriteChunks(ctx context.Context, workers int, fillings ...Filling) error
	// Close completes the file. A file whose Close failed is not whole.
	Close() error
}

// A Reader reads a file.
type Reader interface {
	// Schema describes the file: dimensions, variables and attributes of its root group. Variables of types that the
	// file itself defines have a Type for which Size is 0.
	Schema() *Schema
	// Groups returns the number of groups below the root group, which are not read.
	Groups() int
	// Read reads count values from start on along each dimension of variable v into values, a slice as in Writer.Write
	// or []string for String. Nil start and count mean the whole variable.
	Read(v int, start, count []int, values any) error
	// ReadFloat64 is Read with conversion from any numeric type.
	ReadFloat64(v int, start, count []int, values []float64) error
	// ReadText reads a Char variable as one string for each row of its last dimension, or a String variable, without
	// trailing NULs and blanks.
	ReadText(v int) ([]string, error)
	Close() error
}

// checkPath holds a path to the rule of ErrPath. With exists, a regular file must be there; else nothing may be.
func checkPath(path string, exists bool) error {
	if !filepath.IsAbs(path) || filepath.Clean(path) != path || strings.ContainsAny(path, "\x00\\") {
		return fmt.Errorf("%w: %q", ErrPath, path)
	}
	fi, err := os.Lstat(path)
	switch {
	case exists && err != nil:
		return err
	case exists && !fi.Mode().IsRegular():
		return fmt.Errorf("%w: %q is %s", ErrPath, path, fi.Mode().Type())
	case !exists && err == nil:
		return &os.PathError{Op: "create", Path: path, Err: os.ErrExist}
	}
	return nil
}
