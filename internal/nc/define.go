package nc

// #include <stdlib.h>
// #include <netcdf.h>
import "C"

import (
	"fmt"
	"unsafe"
)

// define returns the new file all that the schema says. The lock is held.
func (f *file) define() error {
	s := f.schema
	for i, d := range s.Dims {
		if d.Len <= 0 {
			return fmt.Errorf("%w: dimension %s of length %d", ErrLength, d.Name, d.Len)
		}
		name := C.CString(d.Name)
		defer C.free(unsafe.Pointer(name))
		var id C.int
		if err := check("dimension "+d.Name, f.path, C.nc_def_dim(f.ncid, name, C.size_t(d.Len), &id)); err != nil {
			return err
		}
		if int(id) != i {
			return fmt.Errorf("nc: %s: dimension %s has id %d, not %d", f.path, d.Name, id, i)
		}
	}
	f.ids = make([]C.int, len(s.Vars))
	for i := range s.Vars {
		if err := f.defineVar(i); err != nil {
			return err
		}
	}
	for i := range s.Attrs {
		if err := f.putAttr(C.NC_GLOBAL, "", &s.Attrs[i]); err != nil {
			return err
		}
	}
	return check("end of definitions", f.path, C.nc_enddef(f.ncid))
}

func (f *file) defineVar(i int) error {
	v := &f.schema.Vars[i]
	op := "variable " + v.Name
	if v.Type.Size() == 0 {
		return fmt.Errorf("%w: %s of %s is not written", ErrType, op, v.Type)
	}
	dims := make([]C.int, len(v.Dims)+1) // never empty, so that a scalar has something to point at
	for k, d := range v.Dims {
		if d < 0 || d >= len(f.schema.Dims) {
			return fmt.Errorf("%w: %s: no dimension %d", ErrLength, op, d)
		}
		dims[k] = C.int(d)
	}
	name := C.CString(v.Name)
	defer C.free(unsafe.Pointer(name))
	if err := check(op, f.path, C.nc_def_var(f.ncid, name, C.nc_type(v.Type), C.int(len(v.Dims)), &dims[0],
		&f.ids[i])); err != nil {
		return err
	}
	id := f.ids[i]
	if v.Chunks != nil {
		if len(v.Chunks) != len(v.Dims) || len(v.Dims) == 0 {
			return fmt.Errorf("%w: %s: %d chunk lengths for %d dimensions", ErrLength, op, len(v.Chunks), len(v.Dims))
		}
		sizes := make([]C.size_t, len(v.Chunks))
		for k, n := range v.Chunks {
			if n <= 0 || n > f.schema.Dims[v.Dims[k]].Len {
				return fmt.Errorf("%w: %s: chunk of %d along %s", ErrLength, op, n, f.schema.Dims[v.Dims[k]].Name)
			}
			sizes[k] = C.size_t(n)
		}
		if err := check(op+": chunks", f.path, C.nc_def_var_chunking(f.ncid, id, C.NC_CHUNKED, &sizes[0])); err != nil {
			return err
		}
	}
	if v.Deflate != 0 {
		if v.Deflate < 0 || v.Deflate > 9 || v.Chunks == nil {
			return fmt.Errorf("nc: %s: %s: deflate %d wants a level of 1..9 and chunks", f.path, op, v.Deflate)
		}
		shuffled := C.int(0)
		if v.Shuffle {
			shuffled = 1
		}
		if err := check(op+": deflate", f.path, C.nc_def_var_deflate(f.ncid, id, shuffled, 1,
			C.int(v.Deflate))); err != nil {
			return err
		}
	}
	if v.Fill != nil {
		t, n, _ := external(v.Fill, v.Type)
		if t != v.Type || n != 1 {
			return fmt.Errorf("%w: %s: _FillValue %v (%T) for %s", ErrType, op, v.Fill, v.Fill, v.Type)
		}
		if err := f.putAttr(id, v.Name, &Attr{"_FillValue", v.Fill}); err != nil {
			return err
		}
	}
	for k := range v.Attrs {
		if err := f.putAttr(id, v.Name, &v.Attrs[k]); err != nil {
			return err
		}
	}
	return nil
}

func (f *file) putAttr(id C.int, of string, a *Attr) error {
	op := "attribute " + of + ":" + a.Name
	name := C.CString(a.Name)
	defer C.free(unsafe.Pointer(name))
	if s, ok := a.Value.(string); ok {
		value := C.CString(s)
		defer C.free(unsafe.Pointer(value))
		return check(op, f.path, C.nc_put_att_text(f.ncid, id, name, C.size_t(len(s)), value))
	}
	t, n, p := external(a.Value, 0)
	if t == 0 || n == 0 {
		return fmt.Errorf("%w: %s: %T of %d values", ErrType, op, a.Value, n)
	}
	return check(op, f.path, C.nc_put_att(f.ncid, id, name, C.nc_type(t), C.size_t(n), p))
}
