package nc

/*
#cgo pkg-config: netcdf hdf5
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <unistd.h>
#include <netcdf.h>
#include <hdf5.h>

// A program that may use little address space ends before its own code begins, with words that help nobody. What is
// needed is measured.
__attribute__((constructor)) static void castwright_memory(void) {
	struct rlimit l;
	if (getrlimit(RLIMIT_AS, &l) == 0 && l.rlim_cur != RLIM_INFINITY && l.rlim_cur < ((rlim_t)4 << 30)) {
		fprintf(stderr, "castwright: error: the limit of address space is %llu bytes; 4 GiB are needed\n"
			"  hint: raise it: ulimit -v unlimited\n", (unsigned long long)l.rlim_cur);
		_exit(1);
	}
}

// Without this HDF5 prints to stderr whatever goes wrong, and much that does not.
static void castwright_quiet(void) { H5Eset_auto2(H5E_DEFAULT, NULL, NULL); }
*/
import "C"

import (
	"errors"
	"os"
	"runtime"
	"sync"
	"unsafe"
)

// HDF5 locks the files it opens. A child process that is started meanwhile inherits the open file and with it the lock,
// and the next opening here fails; on some network disks locking fails altogether. Nobody else writes the files that
// are written here.
func init() {
	name, value := C.CString("HDF5_USE_FILE_LOCKING"), C.CString("FALSE")
	C.setenv(name, value, 1)
	C.free(unsafe.Pointer(name))
	C.free(unsafe.Pointer(value))
}

// mu is held during each call of the library: NetCDF-C may not be entered twice, nor may every build of HDF5.
var mu sync.Mutex

// lock takes the library for one call or a few. Use: defer lock()(). The goroutine stays on its thread meanwhile, since
// a build of HDF5 made for threads keeps for each of them whether it prints.
func lock() func() {
	mu.Lock()
	runtime.LockOSThread()
	C.castwright_quiet()
	return unlock
}

func unlock() {
	runtime.UnlockOSThread()
	mu.Unlock()
}

// Available reports whether this program can write and read NetCDF-4.
func Available() bool { return true }

// LibraryVersion returns the version of the library in its own words.
func LibraryVersion() string {
	defer lock()()
	return C.GoString(C.nc_inq_libvers())
}

// check turns a status of the library into an error. Where no file can be opened any more the library says "permission
// denied"; the error is then that of the system.
func check(op, path string, status C.int) error {
	if status == C.NC_NOERR {
		return nil
	}
	for range 3 { // files that the library has open at a time
		f, err := os.Open(os.DevNull)
		if err != nil {
			return &os.PathError{Op: op, Path: path, Err: errors.Unwrap(err)}
		}
		defer f.Close()
	}
	return &Error{Op: op, Path: path, Status: int(status), Text: C.GoString(C.nc_strerror(status))}
}

// hdf turns the result of an HDF5 call, negative on failure, into an error.
func hdf(op, path string, result C.long) error {
	if result >= 0 {
		return nil
	}
	return &Error{Op: op, Path: path, Status: int(C.NC_EHDFERR), Text: C.GoString(C.nc_strerror(C.NC_EHDFERR))}
}
