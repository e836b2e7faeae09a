package nc

// #include <stdlib.h>
// #include <netcdf.h>
import "C"

import (
	"fmt"
	"strings"
	"unsafe"
)

// maxAttr is the most values of one attribute that are read: a length found in a strange file is not yet a reason to
// ask for memory.
const maxAttr = 1 << 24

// describe reads the schema of the root group. The lock is held.
func (r *reader) describe() error {
	var ndims, nvars, natts, unlimited C.int
	if err := check("describe", r.path, C.nc_inq(r.ncid, &ndims, &nvars, &natts, &unlimited)); err != nil {
		return err
	}
	if err := r.describeDims(int(ndims)); err != nil {
		return err
	}
	for i := range int(nvars) {
		if err := r.describeVar(C.int(i)); err != nil {
			return err
		}
	}
	var err error
	if r.schema.Attrs, err = r.attrs(C.NC_GLOBAL, int(natts)); err != nil {
		return err
	}
	var groups C.int
	if err := check("groups", r.path, C.nc_inq_grps(r.ncid, &groups, nil)); err != nil {
		return err
	}
	r.groups = int(groups)
	return nil
}

func (r *reader) describeDims(n int) error {
	var name [C.NC_MAX_NAME + 1]C.char
	for i := range n {
		var length C.size_t
		if err := check("dimension", r.path, C.nc_inq_dim(r.ncid, C.int(i), &name[0], &length)); err != nil {
			return err
		}
		r.schema.Dims = append(r.schema.Dims, Dim{C.GoString(&name[0]), int(length)})
	}
	var unlimited C.int
	if err := check("unlimited dimensions", r.path, C.nc_inq_unlimdims(r.ncid, &unlimited, nil)); err != nil ||
		unlimited <= 0 {
		return err
	}
	ids := make([]C.int, int(unlimited))
	if err := check("unlimited dimensions", r.path, C.nc_inq_unlimdims(r.ncid, &unlimited, &ids[0])); err != nil {
		return err
	}
	for _, id := range ids {
		r.schema.Unlimited = append(r.schema.Unlimited, int(id))
	}
	return nil
}

func (r *reader) describeVar(id C.int) error {
	var name [C.NC_MAX_NAME + 1]C.char
	var typ C.nc_type
	var ndims, natts C.int
	var dims [C.NC_MAX_VAR_DIMS]C.int
	if err := check("variable", r.path, C.nc_inq_var(r.ncid, id, &name[0], &typ, &ndims, &dims[0],
		&natts)); err != nil {
		return err
	}
	v := Var{Name: C.GoString(&name[0]), Type: typeOf(typ)}
	op := "variable " + v.Name
	for _, d := range dims[:ndims] {
		if int(d) < 0 || int(d) >= len(r.schema.Dims) {
			return fmt.Errorf("nc: %s: %s: dimension %d is not one of the root group", r.path, op, d)
		}
		v.Dims = append(v.Dims, int(d))
	}
	all, err := r.attrs(id, int(natts))
	if err != nil {
		return err
	}
	for _, a := range all {
		if a.Name == "_FillValue" {
			v.Fill = first(a.Value)
			continue
		}
		v.Attrs = append(v.Attrs, a)
	}
	if len(v.Dims) > 0 {
		if err := r.describeStorage(op, id, &v); err != nil {
			return err
		}
	}
	r.schema.Vars = append(r.schema.Vars, v)
	r.types = append(r.types, C.int(typ))
	return nil
}

func (r *reader) describeStorage(op string, id C.int, v *Var) error {
	var storage, shuffled, deflated, level C.int
	sizes := make([]C.size_t, len(v.Dims))
	if err := check(op+": chunks", r.path, C.nc_inq_var_chunking(r.ncid, id, &storage, &sizes[0])); err != nil {
		return err
	}
	if storage == C.NC_CHUNKED {
		for _, n := range sizes {
			v.Chunks = append(v.Chunks, int(n))
		}
	}
	if err := check(op+": deflate", r.path, C.nc_inq_var_deflate(r.ncid, id, &shuffled, &deflated,
		&level)); err != nil {
		return err
	}
	v.Shuffle = shuffled != 0
	if deflated != 0 {
		v.Deflate = int(level)
	}
	return nil
}

// typeOf returns the type of the format; those that a file defines are 255.
func typeOf(t C.nc_type) Type {
	if t >= C.NC_BYTE && t <= C.NC_STRING {
		return Type(t)
	}
	return 255
}

func first(values any) any {
	switch v := values.(type) {
	case []int8:
		return v[0]
	case []uint8:
		return v[0]
	case []int16:
		return v[0]
	case []uint16:
		return v[0]
	case []int32:
		return v[0]
	case []uint32:
		return v[0]
	case []int64:
		return v[0]
	case []uint64:
		return v[0]
	case []float32:
		return v[0]
	case []float64:
		return v[0]
	case string:
		if v != "" {
			return v[0]
		}
	}
	return nil
}

func (r *reader) attrs(id C.int, n int) ([]Attr, error) {
	var out []Attr
	var name [C.NC_MAX_NAME + 1]C.char
	for i := range n {
		if err := check("attribute", r.path, C.nc_inq_attname(r.ncid, id, C.int(i), &name[0])); err != nil {
			return nil, err
		}
		a := Attr{Name: C.GoString(&name[0])}
		op := "attribute " + a.Name
		var typ C.nc_type
		var length C.size_t
		if err := check(op, r.path, C.nc_inq_att(r.ncid, id, &name[0], &typ, &length)); err != nil {
			return nil, err
		}
		if length > maxAttr {
			return nil, fmt.Errorf("%w: %s: %s has %d values", ErrLength, r.path, op, length)
		}
		switch t := typeOf(typ); {
		case t == Char:
			b := make([]byte, int(length)+1)
			if err := check(op, r.path, C.nc_get_att_text(r.ncid, id, &name[0],
				(*C.char)(unsafe.Pointer(&b[0])))); err != nil {
				return nil, err
			}
			a.Value = string(b[:length])
		case t == String:
			s, err := r.attrStrings(op, id, &name[0], int(length))
			if err != nil {
				return nil, err
			}
			a.Value = s
		case t.Size() > 0 && length > 0:
			a.Value = makeValues(t, int(length))
			_, _, p := external(a.Value, t)
			if err := check(op, r.path, C.nc_get_att(r.ncid, id, &name[0], p)); err != nil {
				return nil, err
			}
		default:
			continue // of a type that the file defines, or empty: says nothing that we could take
		}
		out = append(out, a)
	}
	return out, nil
}

func (r *reader) attrStrings(op string, id C.int, name *C.char, n int) ([]string, error) {
	if n == 0 {
		return nil, nil
	}
	p := (**C.char)(C.calloc(C.size_t(n), C.size_t(unsafe.Sizeof(uintptr(0)))))
	defer C.free(unsafe.Pointer(p))
	if err := check(op, r.path, C.nc_get_att_string(r.ncid, id, name, p)); err != nil {
		return nil, err
	}
	defer C.nc_free_string(C.size_t(n), p)
	return goStrings(p, n), nil
}

func goStrings(p **C.char, n int) []string {
	out := make([]string, n)
	for i, s := range unsafe.Slice(p, n) {
		if s != nil {
			out[i] = C.GoString(s)
		}
	}
	return out
}

func makeValues(t Type, n int) any {
	switch t {
	case Byte:
		return make([]int8, n)
	case Char, UByte:
		return make([]uint8, n)
	case Short:
		return make([]int16, n)
	case UShort:
		return make([]uint16, n)
	case Int:
		return make([]int32, n)
	case UInt:
		return make([]uint32, n)
	case Int64:
		return make([]int64, n)
	case UInt64:
		return make([]uint64, n)
	case Float:
		return make([]float32, n)
	}
	return make([]float64, n)
}

// window checks start and count against variable v, or fills them for the whole of it, and gives the number of values.
func (r *reader) window(op string, v int, start, count []int) (s, c []C.size_t, n int, err error) {
	shape := r.schema.Shape(v)
	if start == nil && count == nil {
		start, count = make([]int, len(shape)), shape
	}
	if len(start) != len(shape) || len(count) != len(shape) {
		return nil, nil, 0, fmt.Errorf("%w: %s: window of %d and %d dimensions on %d", ErrLength, op, len(start),
			len(count), len(shape))
	}
	s, c = make([]C.size_t, len(shape)+1), make([]C.size_t, len(shape)+1)
	for i := range shape {
		if start[i] < 0 || count[i] < 0 || start[i] > shape[i]-count[i] {
			return nil, nil, 0, fmt.Errorf("%w: %s: %d from %d on of %d", ErrLength, op, count[i], start[i], shape[i])
		}
		s[i], c[i] = C.size_t(start[i]), C.size_t(count[i])
	}
	return s, c, product(count), nil
}

// Read implements Reader.
func (r *reader) Read(v int, start, count []int, values any) error {
	x := &r.schema.Vars[v]
	op := "read " + x.Name
	s, c, n, err := r.window(op, v, start, count)
	if err != nil {
		return err
	}
	if out, ok := values.([]string); ok && x.Type == String {
		if len(out) != n {
			return fmt.Errorf("%w: %s: %d, not %d", ErrLength, op, len(out), n)
		}
		return r.readStrings(op, v, s, c, out)
	}
	p, err := fit(op, x, n, values)
	if err != nil || n == 0 {
		return err
	}
	defer lock()()
	return check(op, r.path, C.nc_get_vara(r.ncid, C.int(v), &s[0], &c[0], p))
}

func (r *reader) readStrings(op string, v int, s, c []C.size_t, out []string) error {
	if len(out) == 0 {
		return nil
	}
	defer lock()()
	p := (**C.char)(C.calloc(C.size_t(len(out)), C.size_t(unsafe.Sizeof(uintptr(0)))))
	defer C.free(unsafe.Pointer(p))
	if err := check(op, r.path, C.nc_get_vara_string(r.ncid, C.int(v), &s[0], &c[0], p)); err != nil {
		return err
	}
	defer C.nc_free_string(C.size_t(len(out)), p)
	copy(out, goStrings(p, len(out)))
	return nil
}

// ReadFloat64 implements Reader.
func (r *reader) ReadFloat64(v int, start, count []int, values []float64) error {
	x := &r.schema.Vars[v]
	op := "read " + x.Name
	s, c, n, err := r.window(op, v, start, count)
	switch {
	case err != nil:
		return err
	case x.Type.Size() == 0 || x.Type == Char:
		return fmt.Errorf("%w: %s: numbers of %s", ErrType, op, x.Type)
	case n != len(values):
		return fmt.Errorf("%w: %s: %d, not %d", ErrLength, op, len(values), n)
	case n == 0:
		return nil
	}
	defer lock()()
	return check(op, r.path, C.nc_get_vara_double(r.ncid, C.int(v), &s[0], &c[0],
		(*C.double)(unsafe.Pointer(&values[0]))))
}

// ReadText implements Reader.
func (r *reader) ReadText(v int) ([]string, error) {
	x := &r.schema.Vars[v]
	n := r.schema.Len(v)
	if n < 0 {
		return nil, fmt.Errorf("%w: read %s: too many values", ErrLength, x.Name)
	}
	var out []string
	switch x.Type {
	case String:
		out = make([]string, n)
		if err := r.Read(v, nil, nil, out); err != nil {
			return nil, err
		}
	case Char:
		b := make([]byte, n)
		if err := r.Read(v, nil, nil, b); err != nil {
			return nil, err
		}
		width := 1
		if len(x.Dims) > 0 {
			width = max(1, r.schema.Dims[x.Dims[len(x.Dims)-1]].Len)
		}
		for ; len(b) > 0; b = b[width:] {
			out = append(out, string(b[:width]))
		}
	default:
		return nil, fmt.Errorf("%w: read %s: text of %s", ErrType, x.Name, x.Type)
	}
	for i := range out {
		out[i] = strings.TrimRight(out[i], "\x00 ")
	}
	return out, nil
}
