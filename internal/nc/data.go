package nc

// #include <stdlib.h>
// #include <netcdf.h>
// #include <hdf5.h>
import "C"

import (
	"fmt"
	"unsafe"
)

// external gives the external type, number and address of numbers. []byte is Char where like is Char, else UByte. Type 0 means that
// no external type fits.
func external(values any, like Type) (Type, int, unsafe.Pointer) {
	switch v := values.(type) {
	case int8:
		return Byte, 1, unsafe.Pointer(&[]int8{v}[0])
	case uint8:
		return bytesAs(like), 1, unsafe.Pointer(&[]uint8{v}[0])
	case int16:
		return Short, 1, unsafe.Pointer(&[]int16{v}[0])
	case uint16:
		return UShort, 1, unsafe.Pointer(&[]uint16{v}[0])
	case int32:
		return Int, 1, unsafe.Pointer(&[]int32{v}[0])
	case uint32:
		return UInt, 1, unsafe.Pointer(&[]uint32{v}[0])
	case int64:
		return Int64, 1, unsafe.Pointer(&[]int64{v}[0])
	case uint64:
		return UInt64, 1, unsafe.Pointer(&[]uint64{v}[0])
	case float32:
		return Float, 1, unsafe.Pointer(&[]float32{v}[0])
	case float64:
		return Double, 1, unsafe.Pointer(&[]float64{v}[0])
	case []int8:
		return Byte, len(v), unsafe.Pointer(unsafe.SliceData(v))
	case []uint8:
		return bytesAs(like), len(v), unsafe.Pointer(unsafe.SliceData(v))
	case []int16:
		return Short, len(v), unsafe.Pointer(unsafe.SliceData(v))
	case []uint16:
		return UShort, len(v), unsafe.Pointer(unsafe.SliceData(v))
	case []int32:
		return Int, len(v), unsafe.Pointer(unsafe.SliceData(v))
	case []uint32:
		return UInt, len(v), unsafe.Pointer(unsafe.SliceData(v))
	case []int64:
		return Int64, len(v), unsafe.Pointer(unsafe.SliceData(v))
	case []uint64:
		return UInt64, len(v), unsafe.Pointer(unsafe.SliceData(v))
	case []float32:
		return Float, len(v), unsafe.Pointer(unsafe.SliceData(v))
	case []float64:
		return Double, len(v), unsafe.Pointer(unsafe.SliceData(v))
	}
	return 0, 0, nil
}

func bytesAs(like Type) Type {
	if like == Char {
		return Char
	}
	return UByte
}

// fit checks values against variable v of s and gives their address.
func fit(op string, v *Var, want int, values any) (unsafe.Pointer, error) {
	t, n, p := external(values, v.Type)
	if t != v.Type {
		return nil, fmt.Errorf("%w: %s: %T for %s", ErrType, op, values, v.Type)
	}
	if n != want {
		return nil, fmt.Errorf("%w: %s: %d, not %d", ErrLength, op, n, want)
	}
	return p, nil
}

// Write implements Writer.
func (f *file) Write(v int, values any) error {
	x := &f.schema.Vars[v]
	op := "write " + x.Name
	p, err := fit(op, x, f.schema.Len(v), values)
	if err != nil {
		return err
	}
	defer lock()()
	if err := f.useNetCDF(); err != nil {
		return err
	}
	return check(op, f.path, C.nc_put_var(f.ncid, f.ids[v], p))
}

// WriteChunks implements Writer. Chunks are shuffled and deflated here, on workers goroutines, and handed to HDF5 as they are to lie
// in the file: inside the library that work would be done on one core, under the lock.
func (f *file) WriteChunks(v, workers int, fill func(*Chunk)) error {
	x := &f.schema.Vars[v]
	if f.plain || x.Deflate == 0 {
		return f.writePlain(v, fill)
	}
	op := "write chunks of " + x.Name
	g := newGrid(f.schema.Shape(v), x.Chunks)
	dataset, err := f.openDataset(op, v)
	if err != nil {
		return err
	}
	defer func() {
		defer lock()()
		C.H5Dclose(dataset)
	}()
	offset := make([]C.hsize_t, len(g.shape))
	return squeezeAll(x.Type, x.Deflate, x.Shuffle, fillBytes(x), &g, workers, fill, func(c *Chunk, b []byte) error {
		for i, n := range c.Start {
			offset[i] = C.hsize_t(n)
		}
		defer lock()()
		r := C.H5Dwrite_chunk(dataset, C.H5P_DEFAULT, 0, &offset[0], C.size_t(len(b)), unsafe.Pointer(unsafe.SliceData(b)))
		return hdf(op, f.path, C.long(r))
	})
}

func (f *file) openDataset(op string, v int) (C.hid_t, error) {
	defer lock()()
	if err := f.useHDF(); err != nil {
		return -1, err
	}
	name := C.CString(f.schema.hdfName(v))
	defer C.free(unsafe.Pointer(name))
	dataset := C.H5Dopen2(f.h5, name, C.H5P_DEFAULT)
	return dataset, hdf(op, f.path, C.long(dataset))
}

// writePlain writes chunk by chunk through the library, which compresses where the variable asks for it.
func (f *file) writePlain(v int, fill func(*Chunk)) error {
	x := &f.schema.Vars[v]
	op := "write " + x.Name
	shape := f.schema.Shape(v)
	chunk := x.Chunks
	if chunk == nil {
		chunk = shape
	}
	g := newGrid(shape, chunk)
	s := getSqueezer(1)
	defer s.release()
	s.reset(x.Type, &g)
	c := &s.chunk
	start, count := make([]C.size_t, len(shape)+1), make([]C.size_t, len(shape)+1)
	for i := range g.total {
		g.place(c, i)
		prefill(c.bytes(), fillBytes(x))
		fill(c)
		b := s.compact()
		for d := range shape {
			start[d], count[d] = C.size_t(c.Start[d]), C.size_t(c.Count[d])
		}
		if err := f.putSlab(op, v, start, count, b); err != nil {
			return err
		}
	}
	return nil
}

func (f *file) putSlab(op string, v int, start, count []C.size_t, b []byte) error {
	defer lock()()
	if err := f.useNetCDF(); err != nil {
		return err
	}
	return check(op, f.path, C.nc_put_vara(f.ncid, f.ids[v], &start[0], &count[0], unsafe.Pointer(unsafe.SliceData(b))))
}

// fillBytes gives the fill value as it lies in memory; nil when there is none.
func fillBytes(v *Var) []byte {
	if v.Fill == nil {
		return nil
	}
	_, _, p := external(v.Fill, v.Type)
	return unsafe.Slice((*byte)(p), v.Type.Size())
}
