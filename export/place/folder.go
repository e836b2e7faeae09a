// Package place puts a folder or a file in place whole or not at all, and clears away what runs that were killed left.
//
//	f, err := place.Begin(ctx, dir, "saltmarten-2026-05", nil) // not there until Commit
//	defer f.Abort()
//	...                                                       // fill f.Path()
//	err = f.Commit(ctx)
package place

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// A Folder is an archive folder in the making. It is built under Path and appears under its own name at Commit, whole
// or not at all.
//
// While it is built, a hidden sibling .NAME.partial-RANDOM holds "lock" (held by flock until the end) and "new", the
// folder itself, so that nothing but the archive is ever inside the archive. A killed run leaves that sibling; the next
// Begin removes it.
type Folder struct {
	Recovered Recovery // what Begin found of earlier runs

	dir, name  string // the folder will be dir/name; dir is absolute
	partial    string // .NAME.partial-RANDOM, absolute
	lock       *os.File
	mayReplace func(path string) error
	left       error
	over       bool   // Commit or Abort has been called
	placed     bool   // the target is ours now
	done       func() // takes back the note for RemoveUnfinished
}

// step is called by name after each step that a kill may follow; tests kill there.
var step = func(string) {}

// Begin clears away what dead runs left of dir/name (see Recover) and opens a new, empty folder to build in. When
// dir/name exists, mayReplace is called with its path and returns an error when that folder must stay (it is not an
// archive, for example); it is called again at Commit, since the folder may have changed. A nil mayReplace lets no
// existing folder be replaced: ErrExists. A dir/name that is not a folder, a symbolic link among them, is ErrNotFolder.
// Follow Begin by
//
//	defer f.Abort()
func Begin(ctx context.Context, dir, name string, mayReplace func(path string) error) (*Folder, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	dir, err := target(dir, name)
	if err != nil {
		return nil, err
	}
	if mayReplace == nil {
		mayReplace = func(path string) error {
			return &Error{Path: path, Err: ErrExists,
				Remedy: "move it away, or choose another name"}
		}
	}
	f := &Folder{dir: dir, name: name, mayReplace: mayReplace}
	if f.Recovered, err = Recover(dir, name); err != nil {
		return nil, err
	}
	if _, err := f.existing(); err != nil {
		return nil, err
	}
	if err := f.open(); err != nil {
		return nil, err
	}
	return f, nil
}

// target checks name and returns dir as an absolute path.
func target(dir, name string) (string, error) {
	bad := func(why, remedy string) error {
		return &Error{Path: name, Err: fmt.Errorf("%w: %s", ErrName, why), Remedy: remedy}
	}
	switch {
	case name == "", name == ".", name == "..", strings.ContainsRune(name, '/'),
		strings.ContainsRune(name, filepath.Separator):
		return "", bad("must be one plain name", "give the folder that it goes into apart from the name")
	case !utf8.ValidString(name), strings.ContainsFunc(name, unicode.IsControl):
		return "", bad("control characters or invalid UTF-8", "use letters, digits, - and _")
	case len(partialPrefix(name))+randomLetters > 255: // the limit of Linux file systems for one name, bytes
		return "", bad(fmt.Sprintf("%d bytes are too long", len(name)), "use a shorter name")
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	info, err := os.Stat(abs)
	if err != nil {
		return "", &Error{Path: dir, Err: fmt.Errorf("cannot put %s here: %w", name, cause(err)),
			Remedy: "make the folder first, or choose another"}
	}
	if !info.IsDir() {
		return "", &Error{Path: dir, Err: fmt.Errorf("cannot put %s here: %w", name, ErrNotFolder),
			Remedy: "choose a folder"}
	}
	return abs, nil
}

// open makes the partial folder, its lock and "new".
func (f *Folder) open() error {
	// A run that recovers may find our folder in the moment before its lock is held, think it dead and remove it. Then
	// the lock cannot be had, or the file behind it is not the one at its path: begin again under other letters.
	for range 20 {
		partial := filepath.Join(f.dir, partialPrefix(f.name)+random())
		if err := os.Mkdir(partial, 0o700); errors.Is(err, fs.ErrExist) {
			continue
		} else if err != nil {
			return cannotWrite(f.dir, f.name, err)
		}
		step("partial")
		lock, err := takeLock(filepath.Join(partial, "lock"), os.O_CREATE|os.O_EXCL)
		step("locked")
		if err == nil {
			f.partial, f.lock = partial, lock
			f.done = whenStopped(func() {
				for range 20 { // others may still be writing into it; Recover removes what this leaves
					if f.remove() == nil {
						return
					}
					time.Sleep(5 * time.Millisecond)
				}
			})
			if err = mkdir(f.Path()); err == nil {
				step("new")
				return nil
			}
			f.Abort()
			return cannotWrite(f.dir, f.name, err)
		}
		if !errors.Is(err, errHeld) && !errors.Is(err, fs.ErrNotExist) && !errors.Is(err, fs.ErrExist) {
			_ = os.RemoveAll(partial)
			return cannotWrite(f.dir, f.name, err)
		}
	}
	return cannotWrite(f.dir, f.name, ErrBusy)
}

// Path returns where the folder is built: an absolute path.
func (f *Folder) Path() string { return filepath.Join(f.partial, "new") }

// Target returns where the folder will be: an absolute path.
func (f *Folder) Target() string { return filepath.Join(f.dir, f.name) }

// Commit gives every file the mode 0644 and every folder 0755, whatever the umask was, writes all to the disk and puts
// the folder in place. On error, which includes a cancelled ctx, the target is what it was before, the build is gone,
// and Path with it; the one exception is a disk that fails to confirm the last rename, and the error says so. Anything
// in the folder but files and folders is an error.
func (f *Folder) Commit(ctx context.Context) error {
	if f.over {
		return errors.New("place: Commit after Commit or Abort")
	}
	step("built")
	if err := settle(ctx, f.Path()); err != nil {
		return f.fail(cannotWrite(f.dir, f.name, err))
	}
	if err := syncDir(f.partial); err != nil {
		return f.fail(cannotWrite(f.dir, f.name, err))
	}
	step("synced")
	if err := ctx.Err(); err != nil {
		return f.fail(err)
	}
	if err := f.swapLocked(); err != nil {
		return f.fail(err)
	}
	defer f.done()
	err := errors.Join(syncDir(f.dir), syncDir(f.partial))
	if err != nil {
		err = fmt.Errorf("%s is in place, but the disk did not confirm it: %w", f.Target(), err)
	}
	step("placed")
	f.left = f.remove()
	return err
}

// Left returns why the folder that was replaced could not be removed entirely: nil after an ordinary Commit. What is
// left lies hidden beside the archive and goes at the next Begin that is allowed to remove it.
func (f *Folder) Left() error { return f.left }

// Abort removes the build. After Commit or another Abort it does nothing.
func (f *Folder) Abort() error {
	if f.over {
		return nil
	}
	f.over = true
	defer f.done()
	return f.remove()
}

func (f *Folder) fail(err error) error {
	if also := f.Abort(); also != nil {
		return errors.Join(err, also)
	}
	return err
}

// remove removes the partial folder and then frees its lock, but never the last copy of what stood under the target's
// name.
func (f *Folder) remove() error {
	defer f.lock.Close() // its error cannot matter: nothing was written
	if old := filepath.Join(f.partial, "old"); !f.placed && exists(old) {
		if err := renameNoReplace(old, f.Target()); err != nil && !occupied(err) {
			return fmt.Errorf("the former %s lies in %s and goes back at the next run: %w", f.name, old, cause(err))
		}
	}
	if kept := filepath.Join(f.partial, "kept"); exists(kept) {
		return fmt.Errorf("what stood in the place of %s lies in %s", f.Target(), kept)
	}
	return removePartial(f.partial)
}
