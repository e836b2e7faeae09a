// Package regular opens files that are regular and refuses all else at once: to open a named pipe, or to read a device,
// may take for ever.
package regular

import (
	"context"
	"crypto/sha256"
	"errors"
	"io"
	"io/fs"
	"os"
	"syscall"
)

// ErrNotRegular is the cause of an error for a folder, a pipe, a device or a socket.
var ErrNotRegular = errors.New("not a regular file")

// Open opens the regular file name for reading; symbolic links are followed. The error for anything else is an
// *fs.PathError of ErrNotRegular.
func Open(name string) (*os.File, error) {
	f, err := os.OpenFile(name, os.O_RDONLY|syscall.O_NONBLOCK, 0) // without waiting for the other end of a pipe
	if err != nil {
		if info, also := os.Stat(name); also == nil && !info.Mode().IsRegular() { // a socket cannot be opened
			err = &fs.PathError{Op: "open", Path: name, Err: ErrNotRegular}
		}
		return nil, err
	}
	info, err := f.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = &fs.PathError{Op: "open", Path: name, Err: ErrNotRegular}
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	return f, nil
}

// ReadFile reads the regular file name whole. Errors are those of Open and of reading.
func ReadFile(name string) ([]byte, error) {
	f, err := Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	b := make([]byte, 0, info.Size()+1) // one more, so that the end is seen without growing
	for {
		n, err := f.Read(b[len(b):cap(b)])
		b = b[:len(b)+n]
		if err == io.EOF {
			return b, nil
		}
		if err != nil {
			return b, err
		}
		if len(b) == cap(b) {
			b = append(b, 0)[:len(b)]
		}
	}
}

// Sum returns the SHA-256 and the length of the regular file name. Errors are those of Open and of reading, and that of
// ctx, which ends it early.
func Sum(ctx context.Context, name string) (sum [sha256.Size]byte, n int64, err error) {
	f, err := Open(name)
	if err != nil {
		return sum, 0, err
	}
	defer f.Close()
	h := sha256.New()
	if n, err = io.Copy(h, reader{ctx, f}); err != nil {
		return sum, 0, err
	}
	return [sha256.Size]byte(h.Sum(nil)), n, nil
}

// reader reads until ctx ends.
type reader struct {
	ctx context.Context
	r   io.Reader
}

func (r reader) Read(b []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	return r.r.Read(b)
}
