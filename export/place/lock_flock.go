//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package place

import (
	"errors"
	"os"
	"syscall"
)

// errHeld says that a lock is held by a live run, or was taken away before it could be ours.
var errHeld = errors.New("the lock is held by another run")

// takeLock opens path with the extra flags and takes its lock without waiting. The system frees the lock when the file
// is closed and when its holder dies. The lock is only ours if the file is still the one at path.
func takeLock(path string, flags int) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|syscall.O_NOFOLLOW|flags, 0o600)
	if err != nil {
		return nil, err
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		f.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, errHeld
		}
		return nil, &os.PathError{Op: "lock", Path: path, Err: err}
	}
	info, err := f.Stat()
	if err == nil && same(info, path) {
		return f, nil
	}
	f.Close()
	return nil, errHeld
}
