package place

import (
	"os"

	"golang.org/x/sys/unix"
)

// Tests put refusals here, as some network disks give them.
var renameat2 = unix.Renameat2

// renameNoReplace renames and fails with fs.ErrExist when to exists.
func renameNoReplace(from, to string) error {
	err := renameat2(unix.AT_FDCWD, from, unix.AT_FDCWD, to, unix.RENAME_NOREPLACE)
	if err == nil {
		return nil
	}
	if refused(err) {
		return renameByLook(from, to)
	}
	return &os.LinkError{Op: "rename", Old: from, New: to, Err: err}
}

// exchange swaps two names in one step.
func exchange(a, b string) error {
	if err := renameat2(unix.AT_FDCWD, a, unix.AT_FDCWD, b, unix.RENAME_EXCHANGE); err != nil {
		return &os.LinkError{Op: "exchange", Old: a, New: b, Err: err}
	}
	return nil
}
