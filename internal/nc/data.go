package nc

// #include <stdlib.h>
// #include <netcdf.h>
// #include <hdf5.h>
import "C"

import (
	"context"
	"fmt"
	"unsafe"
)

// external returns the external type, number and address of numbers. []byte is Char where like is Char, else UByte.
// Type 0 means that no external type fits.
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
		return f.fail(err)
	}
	return f.fail(check(op, f.path, C.nc_put_var(f.ncid, f.ids[v], p)))
}

// WriteChunks implements Writer. Chunks are shuffled and deflated here, on workers goroutines, and handed to HDF5 as
// they are to lie in the file: inside the library that work would be done on one core, under the lock.
func (f *file) WriteChunks(ctx context.Context, workers int, fillings ...Filling) error {
	byLevel := map[int][]job{} // looked up only
	var levels []int
	for _, q := range fillings {
		x := &f.schema.Vars[q.Var]
		if f.plain || x.Deflate == 0 {
			if err := f.writePlain(ctx, q); err != nil {
				return err
			}
			continue
		}
		jobs := byLevel[x.Deflate]
		j := job{v: q.Var, x: x, grid: newGrid(f.schema.Shape(q.Var), x.Chunks), empty: fillBytes(x), fill: q.Fill}
		if len(jobs) > 0 {
			j.first = total(jobs)
		} else {
			levels = append(levels, x.Deflate)
		}
		byLevel[x.Deflate] = append(jobs, j)
	}
	for _, level := range levels {
		if err := f.writeDirect(ctx, workers, byLevel[level]); err != nil {
			return err
		}
	}
	return nil
}

// writeDirect hands chunks that are compressed already to HDF5.
func (f *file) writeDirect(ctx context.Context, workers int, jobs []job) error {
	var now *job
	var dataset C.hid_t
	var offset []C.hsize_t
	op := ""
	end := func() {
		if now != nil && !f.failed {
			defer lock()()
			C.H5Dclose(dataset)
		}
	}
	defer func() { end() }()
	return squeezeAll(ctx, jobs, workers, func(j *job, start []int, b []byte) error {
		if j != now {
			end()
			now = nil
			op = "write chunks of " + j.x.Name
			var err error
			if dataset, err = f.openDataset(op, j.v); err != nil {
				return err
			}
			now, offset = j, make([]C.hsize_t, len(start))
		}
		for i, n := range start {
			offset[i] = C.hsize_t(n)
		}
		defer lock()()
		r := C.H5Dwrite_chunk(dataset, C.H5P_DEFAULT, 0, &offset[0], C.size_t(len(b)),
			unsafe.Pointer(unsafe.SliceData(b)))
		return f.fail(hdf(op, f.path, C.long(r)))
	})
}

func (f *file) openDataset(op string, v int) (C.hid_t, error) {
	defer lock()()
	if err := f.useHDF(); err != nil {
		return -1, f.fail(err)
	}
	name := C.CString(f.schema.hdfName(v))
	defer C.free(unsafe.Pointer(name))
	dataset := C.H5Dopen2(f.h5, name, C.H5P_DEFAULT)
	return dataset, hdf(op, f.path, C.long(dataset))
}

// writePlain writes chunk by chunk through the library, which compresses where the variable asks for it.
func (f *file) writePlain(ctx context.Context, q Filling) error {
	v, fill := q.Var, q.Fill
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
		if err := ctx.Err(); err != nil {
			return err
		}
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
		return f.fail(err)
	}
	return f.fail(check(op, f.path, C.nc_put_vara(f.ncid, f.ids[v], &start[0], &count[0],
		unsafe.Pointer(unsafe.SliceData(b)))))
}

// fillBytes returns the fill value as it lies in memory; nil when there is none.
func fillBytes(v *Var) []byte {
	if v.Fill == nil {
		return nil
	}
	_, _, p := external(v.Fill, v.Type)
	return unsafe.Slice((*byte)(p), v.Type.Size())
}
