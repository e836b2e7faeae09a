package place

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
)

// Reasons for which a folder or file is not put in place. They come wrapped in a *Error that names the path and
// says what to do.
var (
	ErrName      = errors.New("not a name for a file or folder")
	ErrExists    = errors.New("exists already")
	ErrNotFolder = errors.New("exists and is not a folder")
	ErrNotFile   = errors.New("exists and is not a regular file")
	ErrBusy      = errors.New("another run put its own in place meanwhile")
)

// An Error says why a folder or file is not put in place. It gives the path and the cause on one line; Remedy says what
// to do about it.
type Error struct {
	Path   string
	Err    error
	Remedy string
}

// Error implements error.
func (e *Error) Error() string { return e.Path + ": " + e.Err.Error() }

// Unwrap returns the cause without the path.
func (e *Error) Unwrap() error { return e.Err }

// cannotWrite says where the trouble is and what a person can do; nil stays nil, and what says so already stays as it
// is.
func cannotWrite(dir, name string, err error) error {
	var known *Error
	if err == nil || errors.As(err, &known) || errors.Is(err, context.Canceled) ||
		errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	remedy := "see that the disk can be written, then run again"
	switch {
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		remedy = "choose a folder that you may write to, or have its permissions changed"
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		remedy = "free some disk space, then run again"
	case errors.Is(err, ErrBusy):
		remedy = "wait for the other run to end, then run again"
	case errors.Is(err, errors.ErrUnsupported):
		remedy = "write to a disk of this machine"
	}
	return &Error{Path: filepath.Join(dir, name),
		Err: fmt.Errorf("cannot be written: %w", cause(err)), Remedy: remedy}
}

// cause takes the operation and path off an error of package os, which our message names in its own way.
func cause(err error) error {
	switch e := err.(type) {
	case *fs.PathError:
		return e.Err
	case *os.LinkError:
		return e.Err
	}
	return err
}

// kind names what is not a folder.
func kind(info fs.FileInfo) string {
	if info == nil {
		return "unknown"
	}
	switch m := info.Mode(); {
	case m.IsRegular():
		return "a file"
	case m&fs.ModeSymlink != 0:
		return "a symbolic link"
	case m&fs.ModeNamedPipe != 0:
		return "a pipe"
	case m&fs.ModeSocket != 0:
		return "a socket"
	case m&fs.ModeDevice != 0:
		return "a device"
	}
	return "neither file nor folder"
}
