//go:build !linux

package filebacked

// A File holds nothing where the mapping of Linux is not available: numbers stay in the heap.
type File struct{}

// New returns nil.
func New() *File { return nil }

// Close does nothing.
func (f *File) Close() {}

func move[T Number](_ *File, x []T) []T { return x }
