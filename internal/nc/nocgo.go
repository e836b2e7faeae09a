//go:build !cgo

package nc

// Available reports whether this program can write and read NetCDF-4.
func Available() bool { return false }

// Create returns ErrNoCgo.
func Create(string, *Schema) (Writer, error) { return nil, ErrNoCgo }

// Open returns ErrNoCgo.
func Open(string) (Reader, error) { return nil, ErrNoCgo }

// LibraryVersion returns "".
func LibraryVersion() string { return "" }
