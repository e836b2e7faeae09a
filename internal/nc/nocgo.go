//go:build !cgo

package nc

// Available says whether this program can write and read NetCDF-4.
func Available() bool { return false }

// Create gives ErrNoCgo.
func Create(string, *Schema) (Writer, error) { return nil, ErrNoCgo }

// Open gives ErrNoCgo.
func Open(string) (Reader, error) { return nil, ErrNoCgo }

// LibraryVersion gives "".
func LibraryVersion() string { return "" }
