package place

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"time"
)

// swapLocked is swap, not to be interrupted by RemoveUnfinished.
func (f *Folder) swapLocked() error {
	placing.RLock()
	defer placing.RUnlock()
	err := f.swap()
	if err == nil {
		f.over, f.placed = true, true
		unfinished.Lock()
		unfinished.placed = true
		unfinished.Unlock()
	}
	return err
}

// giveBack puts what turned out to be someone else's back under the target's name, or at least where it is not removed.
func (f *Folder) giveBack(path string) error {
	err := renameNoReplace(path, f.Target())
	if err == nil {
		return nil
	}
	return errors.Join(cannotWrite(f.dir, f.name, err), os.Rename(path, filepath.Join(f.partial, "kept")))
}

// existing returns the folder under the target's name, which may be replaced; nil when there is none.
func (f *Folder) existing() (fs.FileInfo, error) {
	info, err := os.Lstat(f.Target())
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, nil
	case err != nil:
		return nil, cannotWrite(f.dir, f.name, err)
	case !info.IsDir():
		return nil, &Error{Path: f.Target(), Err: fmt.Errorf("%w (%s)", ErrNotFolder, kind(info)),
			Remedy: "move it away, or choose another name"}
	}
	return info, f.mayReplace(f.Target())
}

// swapTries is how often a run tries to put its folder in a place that others change at the same time.
const swapTries = 50

// swap puts "new" under the target's name and what was there, if anything, into the partial folder. Whoever else
// changes the target in the meantime is noticed, and the target is looked at again.
func (f *Folder) swap() error {
	target := f.Target()
	for try := range swapTries {
		time.Sleep(time.Duration(try) * time.Millisecond) // others are at the same name: give them time to finish
		was, err := f.existing()
		if err != nil {
			return err
		}
		if was == nil {
			if err = renameNoReplace(f.Path(), target); occupied(err) {
				continue
			}
			return cannotWrite(f.dir, f.name, err)
		}
		err = exchange(f.Path(), target)
		switch {
		case err == nil:
			step("exchanged")
			if same(was, f.Path()) || f.mayReplace(f.Path()) == nil {
				return nil
			}
			if exchange(f.Path(), target) != nil {
				if err := f.giveBack(f.Path()); err != nil {
					return err
				}
				return cannotWrite(f.dir, f.name, ErrBusy) // the new one has gone from its place: someone took it away
			}
		case refused(err):
			if done, err := f.swapBySteps(was); done || err != nil {
				return err
			}
		case !errors.Is(err, fs.ErrNotExist):
			return cannotWrite(f.dir, f.name, err)
		}
	}
	return cannotWrite(f.dir, f.name, ErrBusy)
}

// swapBySteps is swap for file systems without the exchange. A kill between the two renames leaves no target; Recover
// then puts "old" back. False without an error: the target is another folder by now.
func (f *Folder) swapBySteps(was fs.FileInfo) (bool, error) {
	target, old := f.Target(), filepath.Join(f.partial, "old")
	if err := os.Rename(target, old); errors.Is(err, fs.ErrNotExist) {
		return false, nil
	} else if err != nil {
		return false, cannotWrite(f.dir, f.name, err)
	}
	step("old away")
	if !same(was, old) && f.mayReplace(old) != nil {
		return false, f.giveBack(old)
	}
	err := renameNoReplace(f.Path(), target)
	if err == nil {
		step("new placed")
		return true, nil
	}
	if occupied(err) {
		// Another run found no target and put its own there. That one is newer than "old", so it stays.
		return false, cannotWrite(f.dir, f.name, ErrBusy)
	}
	return false, cannotWrite(f.dir, f.name, err) // Abort puts "old" back
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// same reports whether path is the file or folder that was.
func same(was fs.FileInfo, path string) bool {
	is, err := os.Lstat(path)
	return err == nil && os.SameFile(was, is)
}

// occupied reports whether a rename failed because something is at its target.
func occupied(err error) bool {
	return errors.Is(err, fs.ErrExist) || errors.Is(err, syscall.ENOTEMPTY) || errors.Is(err, syscall.ENOTDIR)
}

// refused reports whether the system or the file system lacks this kind of rename.
func refused(err error) bool {
	return errors.Is(err, syscall.EINVAL) || errors.Is(err, errors.ErrUnsupported)
}

// renameByLook is renameNoReplace where the system has none: it looks before it renames. What comes between the two is
// safe all the same for a full folder, over which nothing can be renamed.
func renameByLook(from, to string) error {
	if _, err := os.Lstat(to); err == nil {
		return &os.LinkError{Op: "rename", Old: from, New: to, Err: fs.ErrExist}
	}
	return os.Rename(from, to)
}
