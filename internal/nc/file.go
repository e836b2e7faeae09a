package nc

// #include <stdlib.h>
// #include <netcdf.h>
// #include <hdf5.h>
import "C"

import (
	"errors"
	"os"
	"slices"
	"unsafe"
)

// file is a file being written. It is open in NetCDF-C or, for chunks that we compressed, in HDF5, never in both.
type file struct {
	path   string
	schema *Schema
	ids    []C.int // variable ids of NetCDF-C; dimension ids are the indices of the schema
	plain  bool    // leave compression to the library
	ncid   C.int
	ncOpen bool
	h5     C.hid_t
	h5Open bool
	closed bool
	failed bool // the library refused something, see fail
}

// fail notes an error of the library. After one (the disk is full, mostly) no call may follow: NetCDF-C 4.9.0 with HDF5
// 1.10.8 crashes in nc_abort and nc_close of a file that it could not write. What it holds of the file is lost until
// the program ends, and whoever asked for the file removes it.
func (f *file) fail(err error) error {
	if err != nil {
		f.failed = true
	}
	return err
}

// Create makes the file at path, which must be a cleaned absolute one at which nothing lies, with everything that s
// says. s is kept and must not be changed until the file is closed.
func Create(path string, s *Schema) (Writer, error) {
	f, err := create(path, s, false)
	if err != nil {
		return nil, err
	}
	return f, nil
}

func create(path string, s *Schema, plain bool) (*file, error) {
	if err := checkPath(path, false); err != nil {
		return nil, err
	}
	f := &file{path: path, schema: s, plain: plain}
	defer lock()()
	cpath := C.CString(path)
	defer C.free(unsafe.Pointer(cpath))
	if err := check("create", path, C.nc_create(cpath, C.NC_NETCDF4|C.NC_NOCLOBBER, &f.ncid)); err != nil {
		return nil, err
	}
	f.ncOpen = true
	if err := f.define(); err != nil {
		var e *Error
		if errors.As(err, &e) && e.Status == int(C.NC_EHDFERR) { // see fail
			os.Remove(path)
		} else {
			C.nc_abort(f.ncid)
		}
		return nil, err
	}
	return f, nil
}

// useNetCDF has the file open in NetCDF-C, useHDF in HDF5. Both want the lock held.
func (f *file) useNetCDF() error {
	if f.ncOpen {
		return nil
	}
	if err := f.closeHDF(); err != nil {
		return err
	}
	cpath := C.CString(f.path)
	defer C.free(unsafe.Pointer(cpath))
	if err := check("open", f.path, C.nc_open(cpath, C.NC_WRITE, &f.ncid)); err != nil {
		return err
	}
	f.ncOpen = true
	return nil
}

func (f *file) useHDF() error {
	if f.h5Open {
		return nil
	}
	if err := f.closeNetCDF(); err != nil {
		return err
	}
	// The bounds are those with which NetCDF-C makes files, so that older readers still understand them.
	fapl := C.H5Pcreate(C.H5P_CLS_FILE_ACCESS_ID_g)
	if err := hdf("access list", f.path, C.long(fapl)); err != nil {
		return err
	}
	defer C.H5Pclose(fapl)
	if err := hdf("version bounds", f.path,
		C.long(C.H5Pset_libver_bounds(fapl, C.H5F_LIBVER_EARLIEST, C.H5F_LIBVER_V18))); err != nil {
		return err
	}
	cpath := C.CString(f.path)
	defer C.free(unsafe.Pointer(cpath))
	f.h5 = C.H5Fopen(cpath, C.H5F_ACC_RDWR, fapl)
	if err := hdf("open for chunks", f.path, C.long(f.h5)); err != nil {
		return err
	}
	f.h5Open = true
	return nil
}

func (f *file) closeNetCDF() error {
	if !f.ncOpen {
		return nil
	}
	f.ncOpen = false
	return check("close", f.path, C.nc_close(f.ncid))
}

func (f *file) closeHDF() error {
	if !f.h5Open {
		return nil
	}
	f.h5Open = false
	return hdf("close after chunks", f.path, C.long(C.H5Fclose(f.h5)))
}

// Close implements Writer. A second Close does nothing.
func (f *file) Close() error {
	if f.closed {
		return nil
	}
	f.closed = true
	if f.failed {
		return nil
	}
	defer lock()()
	if err := f.closeNetCDF(); err != nil {
		return err
	}
	return f.closeHDF()
}

// reader is a file being read.
type reader struct {
	path   string
	ncid   C.int
	schema Schema
	types  []C.int // NetCDF-C's type of each variable
	groups int
	closed bool
}

// The library keeps unpacked chunks of each variable until the file is closed: of the files read next up to chunkCache
// bytes each, of all that it read by default. Variables are read whole or in whole chunks, once.
const (
	chunkCache      = 1 << 18
	chunkSlots      = 1009 // a prime
	chunkPreemption = 0.75 // the default
)

// Open opens the regular file at path, a cleaned absolute one, for reading. No name is ever taken for that of a remote
// host.
func Open(path string) (Reader, error) {
	if err := checkPath(path, true); err != nil {
		return nil, err
	}
	r := &reader{path: path}
	defer lock()()
	C.nc_set_chunk_cache(chunkCache, chunkSlots, chunkPreemption)
	cpath := C.CString(path)
	defer C.free(unsafe.Pointer(cpath))
	if err := check("open", path, C.nc_open(cpath, C.NC_NOWRITE, &r.ncid)); err != nil {
		return nil, err
	}
	if err := r.describe(); err != nil {
		C.nc_close(r.ncid)
		return nil, err
	}
	return r, nil
}

// Schema implements Reader.
func (r *reader) Schema() *Schema { return &r.schema }

// Groups implements Reader.
func (r *reader) Groups() int { return r.groups }

// Close implements Reader. A second Close does nothing.
func (r *reader) Close() error {
	if r.closed {
		return nil
	}
	r.closed = true
	defer lock()()
	return check("close", r.path, C.nc_close(r.ncid))
}

// hdfName returns the name under which NetCDF-C keeps variable v: one that is named as a dimension without being its
// coordinate variable goes by another.
func (s *Schema) hdfName(v int) string {
	x := &s.Vars[v]
	if d := s.Dim(x.Name); d >= 0 && slices.Index(x.Dims, d) != 0 {
		return "_nc4_non_coord_" + x.Name
	}
	return x.Name
}
