package export

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"syscall"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/castwright/castwright/metadata"
	"golang.org/x/sync/errgroup"
)

// Reasons for which a folder or file is not put in place. They come wrapped in a *metadata.InputError that names the path and
// says what to do.
var (
	ErrName      = errors.New("not a name for a file or folder")
	ErrExists    = errors.New("exists already")
	ErrNotFolder = errors.New("exists and is not a folder")
	ErrNotFile   = errors.New("exists and is not a regular file")
	ErrBusy      = errors.New("another run put its own in place meanwhile")
)

// A Folder is an archive folder in the making. It is built under Path and appears under its own name at Commit, whole or not at all.
//
// While it is built, a hidden sibling .NAME.partial-RANDOM holds "lock" (held by flock until the end) and "new", the folder itself, so
// that nothing but the archive is ever inside the archive. A killed run leaves that sibling; the next Begin removes it.
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

// Begin clears away what dead runs left of dir/name (see Recover) and opens a new, empty folder to build in. When dir/name exists,
// mayReplace is called with its path and says by its error why that folder must stay (it is no archive of ours, say); it is called again
// at Commit, since the folder may have changed. A nil mayReplace lets no existing folder be replaced: ErrExists. A dir/name that is not
// a folder, a symbolic link among them, is ErrNotFolder. Follow Begin by
//
//	defer f.Abort()
func Begin(ctx context.Context, dir, name string, mayReplace func(path string) error) (*Folder, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	dir, err := place(dir, name)
	if err != nil {
		return nil, err
	}
	if mayReplace == nil {
		mayReplace = func(path string) error {
			return &metadata.InputError{Position: metadata.Position{File: path}, Err: ErrExists,
				Remedy: "move it away, or choose another name"}
		}
	}
	f := &Folder{dir: dir, name: name, mayReplace: mayReplace}
	if f.Recovered, err = Recover(dir, name); err != nil {
		return nil, err
	}
	if _, err := f.judge(); err != nil {
		return nil, err
	}
	if err := f.open(); err != nil {
		return nil, err
	}
	return f, nil
}

// place checks name and gives dir as an absolute path.
func place(dir, name string) (string, error) {
	bad := func(why, remedy string) error {
		return &metadata.InputError{Position: metadata.Position{File: name}, Err: fmt.Errorf("%w: %s", ErrName, why), Remedy: remedy}
	}
	switch {
	case name == "", name == ".", name == "..", strings.ContainsRune(name, '/'), strings.ContainsRune(name, filepath.Separator):
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
		return "", &metadata.InputError{Position: metadata.Position{File: dir}, Err: fmt.Errorf("cannot put %s here: %w", name, cause(err)),
			Remedy: "make the folder first, or choose another"}
	}
	if !info.IsDir() {
		return "", &metadata.InputError{Position: metadata.Position{File: dir}, Err: fmt.Errorf("cannot put %s here: %w", name, ErrNotFolder),
			Remedy: "choose a folder"}
	}
	return abs, nil
}

// open makes the partial folder, its lock and "new".
func (f *Folder) open() error {
	// A run that recovers may find our folder in the moment before its lock is held, think it dead and remove it. Then the lock
	// cannot be had, or the file behind it is not the one at its path: begin again under other letters.
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

// Path is where the folder is built: an absolute path.
func (f *Folder) Path() string { return filepath.Join(f.partial, "new") }

// Target is where the folder will be: an absolute path.
func (f *Folder) Target() string { return filepath.Join(f.dir, f.name) }

// Commit gives every file the mode 0644 and every folder 0755, whatever the umask was, writes all to the disk and puts the folder in
// place. On error, which includes a cancelled ctx, the target is what it was before, the build is gone, and Path with it; the one
// exception is a disk that fails to confirm the last rename, and the error says so. Anything in the folder but files and folders
// is an error.
func (f *Folder) Commit(ctx context.Context) error {
	if f.over {
		return errors.New("export: Commit after Commit or Abort")
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

// Left says why the folder that was replaced could not be removed entirely: nil after an ordinary Commit. What is left lies hidden
// beside the archive and goes at the next Begin that is allowed to remove it.
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

// remove removes the partial folder and then frees its lock, but never the last copy of what stood under the target's name.
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

// giveBack puts what turned out to be someone else's back under the target's name, or at least where it is not removed.
func (f *Folder) giveBack(path string) error {
	err := renameNoReplace(path, f.Target())
	if err == nil {
		return nil
	}
	return errors.Join(cannotWrite(f.dir, f.name, err), os.Rename(path, filepath.Join(f.partial, "kept")))
}

// judge looks at what is under the target's name: nil for nothing, else a folder that may be replaced.
func (f *Folder) judge() (fs.FileInfo, error) {
	info, err := os.Lstat(f.Target())
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, nil
	case err != nil:
		return nil, cannotWrite(f.dir, f.name, err)
	case !info.IsDir():
		return nil, &metadata.InputError{Position: metadata.Position{File: f.Target()}, Err: fmt.Errorf("%w (%s)", ErrNotFolder, kind(info)),
			Remedy: "move it away, or choose another name"}
	}
	return info, f.mayReplace(f.Target())
}

// swapTries is how often a run tries to put its folder in a place that others change at the same time.
const swapTries = 50

// swap puts "new" under the target's name and what was there, if anything, into the partial folder. Whoever else changes the target
// in the meantime is noticed, and the target judged anew.
func (f *Folder) swap() error {
	target := f.Target()
	for try := range swapTries {
		time.Sleep(time.Duration(try) * time.Millisecond) // others are at the same name: give them time to finish
		was, err := f.judge()
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

// swapBySteps is swap for file systems without the exchange. A kill between the two renames leaves no target; Recover then puts
// "old" back. False without an error: the target was not the judged folder any more.
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

// A Recovery says what was found of earlier runs that made dir/name. Names are those of the hidden folders, sorted.
type Recovery struct {
	Restored bool     // a run had died between taking the old archive away and placing the new: the old one is back
	Removed  []string // of dead runs, removed
	Live     []string // of runs that are still at work, left alone
	Kept     []string // of dead runs, which could not be opened or removed (another user's, mostly) or hold someone else's folder
}

// Recover looks at each .NAME.partial-RANDOM in dir that belongs to name. One whose lock is held belongs to a live run and is left
// alone. Any other is of a dead run: if dir/name is missing and the folder holds "old", that goes back to its place; then the
// folder is removed. The error is about dir itself; a folder that resists is listed in Kept.
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

// partials lists the hidden names in dir that belong to name, sorted. The letters are looked at, so that a name which itself ends like a
// partial is not taken for one of another.
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
	// Not RemoveAll: between the moment the lock goes and the moment its folder does, another run may make the lock anew, to ask whether anyone
	// lives here, or to live here itself. The folder is then its to remove.
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

// onlyLock says whether a partial folder holds nothing but its lock.
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

// mkdir makes a folder of mode 0755 whatever the umask.
func mkdir(path string) error {
	if err := os.Mkdir(path, 0o700); err != nil {
		return err
	}
	return os.Chmod(path, 0o755)
}

// settle sets the mode of everything under root and writes it to the disk: files before the folders that name them. Several files are
// written at a time, since the disk confirms them together (measured: 300 files in 0.11 s instead of 0.85 s); the error is that of the
// first by name.
func settle(ctx context.Context, root string) error {
	var files, dirs []string
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir():
			dirs = append(dirs, path)
		case d.Type().IsRegular():
			files = append(files, path)
		default:
			info, _ := d.Info()
			return fmt.Errorf("%s: %w (%s)", path, ErrNotFile, kind(info))
		}
		return nil
	})
	if err != nil {
		return err
	}
	errs := make([]error, len(files))
	var g errgroup.Group
	g.SetLimit(8)
	for i, path := range files {
		g.Go(func() error {
			if errs[i] = ctx.Err(); errs[i] == nil {
				errs[i] = settleFile(path)
			}
			return nil
		})
	}
	_ = g.Wait() // the errors are in their slots
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	for i := len(dirs) - 1; i >= 0; i-- { // the innermost first
		if err := os.Chmod(dirs[i], 0o755); err != nil {
			return err
		}
		if err := syncDir(dirs[i]); err != nil {
			return err
		}
	}
	return ctx.Err()
}

func settleFile(path string) error {
	if err := os.Chmod(path, 0o644); err != nil {
		return err
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	err = f.Sync()
	f.Close() // opened for reading: nothing to lose
	return err
}

// syncDir writes a folder's entries to the disk. File systems that know no such thing say so, and are believed.
func syncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	err = d.Sync()
	if errors.Is(err, syscall.EINVAL) || errors.Is(err, errors.ErrUnsupported) {
		err = nil
	}
	d.Close()
	return err
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// same says whether path is the file or folder that was.
func same(was fs.FileInfo, path string) bool {
	is, err := os.Lstat(path)
	return err == nil && os.SameFile(was, is)
}

// occupied says that a rename failed because something is at its target.
func occupied(err error) bool {
	return errors.Is(err, fs.ErrExist) || errors.Is(err, syscall.ENOTEMPTY) || errors.Is(err, syscall.ENOTDIR)
}

// refused says that the system or the file system does not know this kind of rename.
func refused(err error) bool {
	return errors.Is(err, syscall.EINVAL) || errors.Is(err, errors.ErrUnsupported)
}

// renameByLook is renameNoReplace where the system has none: it looks before it renames. What comes between the two is safe all the same
// for a full folder, over which nothing can be renamed.
func renameByLook(from, to string) error {
	if _, err := os.Lstat(to); err == nil {
		return &os.LinkError{Op: "rename", Old: from, New: to, Err: fs.ErrExist}
	}
	return os.Rename(from, to)
}

// cannotWrite says where the trouble is and what a person can do; nil stays nil, and what says so already stays as it is.
func cannotWrite(dir, name string, err error) error {
	var known *metadata.InputError
	if err == nil || errors.As(err, &known) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
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
	return &metadata.InputError{Position: metadata.Position{File: filepath.Join(dir, name)},
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
