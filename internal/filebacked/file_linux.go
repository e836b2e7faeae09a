package filebacked

import (
	"os"
	"sync"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// segment is how many bytes of the file are mapped at a time, and align where a slice may begin.
const (
	segment = 64 << 20
	align   = 64
)

// giveBack is how often the pages of the file are given back. They stay in the cache of the system, from which reading
// them again takes little time.
const giveBack = 20 * time.Millisecond

// A File holds numbers until it is closed.
type File struct {
	file *os.File
	stop chan struct{}
	done sync.WaitGroup

	mu       sync.Mutex
	segments [][]byte
	begin    int64 // of the last segment in the file
	used     int   // bytes of the last segment
}

// New makes a file in the folder of temporary files and removes its name, so that it is gone when the process ends,
// however it ends. It returns nil where no file can be made.
func New() *File {
	file, err := os.CreateTemp("", "castwright-values-")
	if err != nil {
		return nil
	}
	if err := os.Remove(file.Name()); err != nil {
		file.Close()
		return nil
	}
	f := &File{file: file, stop: make(chan struct{})}
	f.done.Go(f.giveBack)
	return f
}

// giveBack gives pages back until the file is closed.
func (f *File) giveBack() {
	tick := time.NewTicker(giveBack)
	defer tick.Stop()
	for {
		select {
		case <-f.stop:
			return
		case <-tick.C:
		}
		f.mu.Lock()
		segments := f.segments
		f.mu.Unlock()
		for _, b := range segments {
			unix.Madvise(b, unix.MADV_DONTNEED) //nolint:errcheck // pages that stay do no harm
		}
	}
}

// Close gives the file back. No slice that was moved to it may be used any more.
func (f *File) Close() {
	if f == nil {
		return
	}
	close(f.stop)
	f.done.Wait()
	for _, b := range f.segments {
		unix.Munmap(b) //nolint:errcheck // nothing can be done
	}
	f.file.Close()
}

// move returns x in the file, or x itself where it stays.
func move[T Number](f *File, x []T) []T {
	var z T
	n := len(x) * int(unsafe.Sizeof(z))
	if n < smallest {
		return x
	}
	from := unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(x))), n)
	to, offset := f.reserve(from)
	if to == nil {
		return x
	}
	if _, err := f.file.WriteAt(from, offset); err != nil { // writing to the mapping would end the process
		return x
	}
	return unsafe.Slice((*T)(unsafe.Pointer(unsafe.SliceData(to))), len(x))
}

// reserve returns a place for bytes in the mapping and in the file; nil where they are in the file already or no more
// of it can be mapped.
func (f *File) reserve(from []byte) (to []byte, offset int64) {
	f.mu.Lock()
	defer f.mu.Unlock()
	at := uintptr(unsafe.Pointer(unsafe.SliceData(from)))
	for _, b := range f.segments {
		if begin := uintptr(unsafe.Pointer(unsafe.SliceData(b))); at >= begin && at < begin+uintptr(len(b)) {
			return nil, 0
		}
	}
	n := len(from)
	last := len(f.segments) - 1
	if last < 0 || f.used+n > len(f.segments[last]) {
		begin, size := int64(0), max(segment, (n+segment-1)/segment*segment)
		if last >= 0 {
			begin = f.begin + int64(len(f.segments[last]))
		}
		b, err := unix.Mmap(int(f.file.Fd()), begin, size, unix.PROT_READ|unix.PROT_WRITE, unix.MAP_SHARED)
		if err != nil {
			return nil, 0
		}
		f.segments, f.begin, f.used = append(f.segments, b), begin, 0
		last++
	}
	to, offset = f.segments[last][f.used:f.used+n:f.used+n], f.begin+int64(f.used)
	f.used += (n + align - 1) / align * align
	return to, offset
}
