//go:build !linux

package place

import (
	"errors"
	"os"
)

func renameNoReplace(from, to string) error { return renameByLook(from, to) }

func exchange(a, b string) error {
	return &os.LinkError{Op: "exchange", Old: a, New: b, Err: errors.ErrUnsupported}
}
