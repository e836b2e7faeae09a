package pipeline

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"github.com/castwright/castwright/export/place"
	"github.com/castwright/castwright/metadata"
)

// ErrWrite says that the archive could not be written: the place is at fault, not the input.
var ErrWrite = errors.New("the archive cannot be written")

// OfThisMachine reports whether an error is for lack of something on this machine: disk space, open files, memory.
// It is no fault of the input that was read when it happened.
func OfThisMachine(err error) bool {
	for _, e := range []error{syscall.ENOSPC, syscall.EDQUOT, syscall.EMFILE, syscall.ENFILE, syscall.ENOMEM,
		syscall.EAGAIN, syscall.EIO} {
		if errors.Is(err, e) {
			return true
		}
	}
	return false
}

// writeFault returns an error that says why nothing can be written and what to do. An error that is about an input, or
// a cancelled run, stays as it is. When the library that wrote a file hides the reason, the disk is asked whether it is
// full. It must be called before what was written is removed.
func (w *inputs) writeFault(err error) error {
	if err == nil || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	why, remedy := "", ""
	switch {
	case errors.Is(err, syscall.ENOSPC):
		why = "the disk is full"
	case errors.Is(err, syscall.EDQUOT):
		why, remedy = "your share of the disk is used up",
			"free some space, or give another place with --out; what was there is as it was"
	case errors.Is(err, syscall.EROFS):
		why, remedy = "the disk is read-only", "give another place with --out, or have the disk mounted for writing"
	case errors.Is(err, fs.ErrPermission):
		why, remedy = "permission denied",
			"give a folder with --out that you may write to, or have its permissions changed"
	default:
		var input *metadata.InputError
		if err = inputError(err); errors.As(err, &input) {
			return err
		}
		if f, open := os.Open(os.DevNull); open != nil && OfThisMachine(open) {
			return fmt.Errorf("%w: %w", ErrWrite, open) // the library hides that no more files can be opened
		} else if open == nil {
			f.Close()
		}
		if free, ok := freeBytes(w.plan.Out); !ok || free >= 1<<20 {
			return err
		}
		why = "the disk is full"
	}
	if remedy == "" {
		remedy = "free some disk space, or give another place with --out; what was there is as it was"
	}
	return &metadata.InputError{Position: metadata.Position{File: filepath.Join(w.plan.Out, w.cruise.ID)},
		Err: fmt.Errorf("%w: %s", ErrWrite, why), Remedy: remedy}
}

// inputError returns the error of a place that a person chose as one with position and remedy, any other as it is.
func inputError(err error) error {
	var p *place.Error
	if errors.As(err, &p) {
		return &metadata.InputError{Position: metadata.Position{File: p.Path}, Err: p.Err, Remedy: p.Remedy}
	}
	return err
}
