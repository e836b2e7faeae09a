// Package filebacked holds numbers in a temporary file instead of the heap, so that the memory of a run does not grow
// with the values of a cruise. The file is mapped into memory: slices in it are read and changed like any other. The
// memory in which the system keeps their pages belongs to the file, and is given back again and again.
package filebacked

// A Number is a type of fixed size without pointers.
type Number interface {
	~int8 | ~uint8 | ~int32 | ~float64
}

// smallest is the size in bytes from which a slice is moved: a smaller one stays in the heap.
const smallest = 1 << 10

// Move moves the numbers of slices to the file and makes the slices refer to them there. A slice that is in the file
// already or is small stays where it is, as do all when f is nil or when the file cannot take them, since the disk is
// full for example. Slices that share an array share none afterwards.
func Move[T Number](f *File, slices ...*[]T) {
	if f == nil {
		return
	}
	for _, s := range slices {
		*s = move(f, *s)
	}
}
