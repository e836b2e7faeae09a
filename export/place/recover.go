package place

import (
	"crypto/rand"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"
)

// A Recovery lists what was found of earlier runs that made dir/name. Names are those of the hidden folders, sorted.
type Recovery struct {
	Restored bool     // a run had died between taking the old archive away and placing the new: the old one is back
	Removed  []string // of dead runs, removed
	Live     []string // of runs that are still at work, left alone
	// of dead runs, which could not be opened or removed (another user's, mostly) or hold someone else's folder
	Kept []string
}

// Recover looks at each .NAME.partial-RANDOM in dir that belongs to name. One whose lock is held belongs to a live run
// and is left alone. Any other is of a dead run: if dir/name is missing and the folder holds "old", that goes back to
// its place; then the folder is removed. The error is about dir itself; a folder that resists is listed in Kept.
func Recover(dir, name string) (Recovery, error) {
	var r Recovery
	found, err := partials(dir, name)
	if err != nil {
		return r, cannotWrite(dir, name, err)
	}
	target := filepath.Join(dir, name)
	for _, base := range found {
		partial := filepath.Join(dir, base)
		if info, err := os.Lstat(partial); err != nil || !info.IsDir() {
			continue // gone by now, or the temporary file of WriteFile
		}
		lock, err := takeLock(filepath.Join(partial, "lock"), os.O_CREATE)
		if errors.Is(err, errHeld) {
			r.Live = append(r.Live, base)
			continue
		}
		if errors.Is(err, fs.ErrNotExist) {
			continue // another run removed it
		}
		if err != nil {
			r.Kept = append(r.Kept, base)
			continue
		}
		old := filepath.Join(partial, "old")
		if exists(old) {
			// Fails, as it should, when the target is there.
			if err := renameNoReplace(old, target); err == nil {
				r.Restored = true
				step("restored")
			} else if !occupied(err) {
				r.Kept = append(r.Kept, base)
				lock.Close()
				continue
			}
		}
		if exists(filepath.Join(partial, "kept")) {
			r.Kept = append(r.Kept, base)
		} else if err := removePartial(partial); err != nil {
			r.Kept = append(r.Kept, base)
		} else {
			r.Removed = append(r.Removed, base)
		}
		lock.Close()
	}
	if r.Restored {
		err = syncDir(dir)
	}
	return r, err
}

// randomLetters is the number of random letters in a hidden name: 60 bits.
const randomLetters = 12

func random() string { return strings.ToLower(rand.Text()[:randomLetters]) }

func partialPrefix(name string) string { return "." + name + ".partial-" }

// partials lists the hidden names in dir that belong to name, sorted. The letters are looked at, so that a name which
// itself ends like a partial is not taken for one of another.
func partials(dir, name string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var found []string
	for _, e := range entries {
		letters, ok := strings.CutPrefix(e.Name(), partialPrefix(name))
		if ok && len(letters) == randomLetters && strings.Trim(letters, "abcdefghijklmnopqrstuvwxyz234567") == "" {
			found = append(found, e.Name())
		}
	}
	sort.Strings(found)
	return found, nil
}

// removePartial removes the lock last: as long as anything else is there, a lock can be asked whether its run lives.
func removePartial(partial string) error {
	err := errors.Join(removeAll(filepath.Join(partial, "new")), removeAll(filepath.Join(partial, "old")))
	if err != nil {
		return err
	}
	step("emptied")
	// Not RemoveAll: between the moment the lock goes and the moment its folder does, another run may make the lock
	// anew, to ask whether anyone lives here, or to live here itself. The folder is then its to remove.
	if err := os.Remove(filepath.Join(partial, "lock")); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	for range 20 {
		if err = os.Remove(partial); !errors.Is(err, fs.ErrExist) {
			break
		}
		time.Sleep(time.Millisecond)
	}
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrExist) && onlyLock(partial) {
		return nil
	}
	return err
}

// onlyLock reports whether a partial folder holds nothing but its lock.
func onlyLock(partial string) bool {
	entries, err := os.ReadDir(partial)
	return err == nil && len(entries) == 1 && entries[0].Name() == "lock" || errors.Is(err, fs.ErrNotExist)
}

// removeAll is os.RemoveAll that also gets rid of folders which someone has made read-only.
func removeAll(path string) error {
	err := os.RemoveAll(path)
	if !errors.Is(err, fs.ErrPermission) {
		return err
	}
	_ = filepath.WalkDir(path, func(p string, d fs.DirEntry, err error) error {
		if err == nil && d.IsDir() {
			_ = os.Chmod(p, 0o700)
		}
		return nil
	})
	return os.RemoveAll(path)
}
